// Zip files by libzip: written as a stream, whole or not at all; read with a hard limit.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/archive.h"

namespace cutface {

// The next piece of a file, "" at its end. Asked for while the zip is written, so that nothing is
// held whole.
using NextPiece = std::function<Result<std::string>()>;

class ZipWriter {
 public:
  // Errors: kUsage (there is such a file), kFileUnwritable.
  static Result<ZipWriter> Create(const std::string& path);
  ZipWriter(ZipWriter&&) noexcept;
  ~ZipWriter();  // unless finished, nothing is left

  // `name` inside the zip: '/' between folders. REQUIRES: from SafeName or fixed.
  Status Add(const std::string& name, std::string text);
  // `pack` false: pictures are packed already.
  Status Add(const std::string& name, std::function<NextPiece()> start, bool pack);
  Status Finish();

 private:
  struct Impl;
  explicit ZipWriter(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

class ZipReader {
 public:
  // Errors: kFileMissing, kRecordsDamaged (no zip).
  static Result<ZipReader> Open(const std::string& path);
  ZipReader(ZipReader&&) noexcept;
  ~ZipReader();
  std::vector<std::string> Names() const;
  bool Has(const std::string& name) const;
  // Errors: kNotFound, kRecordsDamaged (checksum, longer than `limit`).
  Result<std::vector<std::byte>> Read(const std::string& name, std::size_t limit) const;
  // Calls `take` with each line without its end. Errors: those of `take`, kRecordsDamaged (a line
  // longer than `limit`, or one that is cut off).
  Status Lines(const std::string& name, std::size_t limit,
               const std::function<Status(std::string_view)>& take) const;

 private:
  struct Impl;
  explicit ZipReader(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

// A name that is harmless as a file's on any system: letters, digits, '.', '-', '_'; others become
// '_'; never empty, hidden or longer than 80; its ending is kept.
std::string SafeName(std::string_view name);

}  // namespace cutface
