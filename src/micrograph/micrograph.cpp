#include "cutface/micrograph.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <new>
#include <opencv2/core.hpp>

#include "micrograph/readers.h"
#include "micrograph/tone_sink.h"

namespace cutface {
namespace {

using Reader = Status (*)(Bytes, const std::string&, const ReadOptions&, Micrograph&);
struct Format {
  std::string_view magic;
  Reader read;
};
using namespace std::string_view_literals;
constexpr std::array<Format, 7> kFormats = {{{"\x89PNG\r\n\x1a\n"sv, ReadPng},
                                             {"\xff\xd8\xff"sv, ReadJpeg},
                                             {"BM"sv, ReadBmp},
                                             {"II*\0"sv, ReadTiff},
                                             {"MM\0*"sv, ReadTiff},
                                             {"II+\0"sv, ReadTiff},
                                             {"MM\0+"sv, ReadTiff}}};

std::string WithoutFolder(const std::string& path) { return path.substr(path.rfind('/') + 1); }

}  // namespace

Status FailTruncated(const std::string& name, const std::string& detail) {
  return Fail(Code::kImageTruncated,
              fmt::format("{}: ends before its pixels do ({}); copy the file again", name, detail));
}

Status FailDamaged(const std::string& name, const std::string& detail) {
  return Fail(Code::kImageDamaged,
              fmt::format("{}: is damaged ({}); copy or save the picture again", name, detail));
}

Status FailFormat(const std::string& name, const std::string& what) {
  return Fail(Code::kImageFormat,
              fmt::format("{}: {}; save it as PNG, JPEG, BMP or TIFF, grey or RGB, 8 or 16 bit",
                          name, what));
}

Result<Micrograph> DecodeMicrograph(std::span<const std::byte> bytes, const std::string& name,
                                    const ReadOptions& options) {
  if (bytes.empty()) {
    return Fail(Code::kImageEmpty, fmt::format("{}: is empty; copy the file again", name));
  }
  const std::string_view text(reinterpret_cast<const char*>(bytes.data()), bytes.size());
  const auto format = std::find_if(kFormats.begin(), kFormats.end(), [&](const Format& candidate) {
    return text.substr(0, candidate.magic.size()) == candidate.magic;
  });
  if (format == kFormats.end()) {
    // The first bytes of a picture and then nothing: cut off rather than something else.
    for (const Format& candidate : kFormats) {
      if (text == candidate.magic.substr(0, text.size())) {
        return tl::unexpected(FailTruncated(name, fmt::format("{} bytes", text.size())).error());
      }
    }
    return tl::unexpected(FailFormat(name, "is no picture that is read here").error());
  }
  try {
    Micrograph out;
    if (auto status = format->read(bytes, name, options, out); !status) {
      return tl::unexpected(status.error());
    }
    out.file_name = WithoutFolder(name);
    out.sha256 = Sha256Hex(bytes);
    return out;
  } catch (const cv::Exception&) {  // of cv::Mat, when it cannot allocate
  } catch (const std::bad_alloc&) {
  }
  return Fail(Code::kImageTooLarge, fmt::format("{}: not enough memory for its pixels", name));
}

Result<Micrograph> ReadMicrograph(const std::string& path, const ReadOptions& options) {
  const auto bytes = ReadFile(path);
  if (!bytes) return tl::unexpected(bytes.error());
  return DecodeMicrograph(*bytes, path, options);
}

Micrograph MicrographFromPixels(cv::Mat tone, int bits, const std::string& name,
                                const ReadOptions& options) {
  CF_CHECK(!tone.empty() && (tone.type() == CV_8UC1 || tone.type() == CV_16UC1));
  if (!tone.isContinuous()) tone = tone.clone();
  Micrograph out;
  out.file_name = name;
  out.sha256 = Sha256Hex(std::as_bytes(std::span(tone.data, tone.total() * tone.elemSize())));
  ToneSink sink(std::move(tone), bits, options.reduced_pixels);
  for (int y = 0; y < sink.height(); ++y) sink.RowDone(y);
  sink.Finish(out);
  return out;
}

}  // namespace cutface
