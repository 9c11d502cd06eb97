// One function per file format. Each fills tones, bits, reduced copy, colour, embedded scale, time
// and orientation; DecodeMicrograph() fills the rest.
#pragma once

#include <cstddef>
#include <span>
#include <string>

#include "cutface/micrograph.h"

namespace cutface {

using Bytes = std::span<const std::byte>;

Status ReadPng(Bytes bytes, const std::string& name, const ReadOptions& options, Micrograph& out);
Status ReadJpeg(Bytes bytes, const std::string& name, const ReadOptions& options, Micrograph& out);
Status ReadBmp(Bytes bytes, const std::string& name, const ReadOptions& options, Micrograph& out);
Status ReadTiff(Bytes bytes, const std::string& name, const ReadOptions& options, Micrograph& out);

// The two ways in which the inside of a file fails, in one wording.
Status FailTruncated(const std::string& name, const std::string& detail);
Status FailDamaged(const std::string& name, const std::string& detail);
Status FailFormat(const std::string& name, const std::string& what);

}  // namespace cutface
