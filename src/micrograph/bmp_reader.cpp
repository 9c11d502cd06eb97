// Windows bitmaps, row by row. Written by hand although stb_image is at hand (the tests hold this
// reader against it): stb decodes the whole picture to RGB before anything can be kept of it, and
// fills what is missing at the end of a cut-off file with zeros instead of saying so. Uncompressed
// bitmaps are rows of plain samples; run lengths (rare) are refused, as in stb.
#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cstdlib>
#include <cstring>
#include <vector>

#include "micrograph/readers.h"
#include "micrograph/rows.h"
#include "micrograph/tags.h"
#include "micrograph/tone_sink.h"

namespace cutface {
namespace {

constexpr std::size_t kFileHeader = 14;
constexpr std::uint32_t kOldHeader = 12, kHeader = 40, kHeaderWithMasks = 52;
constexpr std::uint32_t kPlain = 0, kBitFields = 3, kAlphaBitFields = 6;

// Numbers are little-endian in every bitmap.
template <class T>
T Number(Bytes bytes, std::size_t at) {
  T value{};
  for (std::size_t i = 0; i < sizeof(T); ++i) {
    value = static_cast<T>(value | static_cast<T>(static_cast<T>(bytes[at + i]) << (8 * i)));
  }
  return value;
}

struct BmpHeader {
  std::uint32_t size = 0;  // of the information header
  std::int64_t width = 0, height = 0;
  bool top_down = false;
  int bits = 0;  // per pixel
  std::uint32_t compression = kPlain;
  std::uint32_t colours = 0;  // palette entries; 0 is all
  std::int32_t per_metre_x = 0, per_metre_y = 0;
  std::uint32_t masks[3] = {0, 0, 0};
  std::size_t pixels_at = 0, palette_at = 0, palette_entry = 4;
};

Status ParseHeader(Bytes bytes, const std::string& name, BmpHeader& header) {
  if (bytes.size() < kFileHeader + 4) return FailTruncated(name, "BMP header");
  header.pixels_at = Number<std::uint32_t>(bytes, 10);
  header.size = Number<std::uint32_t>(bytes, kFileHeader);
  if (header.size != kOldHeader && (header.size < kHeader || header.size > 256)) {
    return FailDamaged(name, fmt::format("BMP: header of {} bytes", header.size));
  }
  if (bytes.size() < kFileHeader + header.size) return FailTruncated(name, "BMP header");
  if (header.size == kOldHeader) {
    header.width = Number<std::uint16_t>(bytes, 18);
    header.height = Number<std::uint16_t>(bytes, 20);
    header.bits = Number<std::uint16_t>(bytes, 24);
    header.palette_entry = 3;
  } else {
    header.width = Number<std::int32_t>(bytes, 18);
    header.height = Number<std::int32_t>(bytes, 22);
    header.top_down = header.height < 0;
    header.height = std::abs(header.height);
    header.bits = Number<std::uint16_t>(bytes, 28);
    header.compression = Number<std::uint32_t>(bytes, 30);
    header.per_metre_x = Number<std::int32_t>(bytes, 38);
    header.per_metre_y = Number<std::int32_t>(bytes, 42);
    header.colours = Number<std::uint32_t>(bytes, 46);
  }
  header.palette_at = kFileHeader + header.size;
  const bool fields = header.compression == kBitFields || header.compression == kAlphaBitFields;
  if (header.compression != kPlain && !fields) return FailFormat(name, "is a compressed BMP");
  if (fields) {
    // The masks are the header's next words, or follow a short header.
    const std::size_t masks_at = kFileHeader + kHeader;
    if (bytes.size() < masks_at + 12) return FailTruncated(name, "BMP colour masks");
    for (std::size_t i = 0; i < 3; ++i) {
      header.masks[i] = Number<std::uint32_t>(bytes, masks_at + 4 * i);
    }
    if (header.size < kHeaderWithMasks) {
      header.palette_at += header.compression == kBitFields ? 12 : 16;
    }
  } else if (header.bits == 16) {
    header.masks[0] = 0x7c00, header.masks[1] = 0x03e0, header.masks[2] = 0x001f;
  }
  return {};
}

// Byte of a 32-bit pixel that a mask covers whole, or -1.
int ByteOf(std::uint32_t mask) {
  for (int i = 0; i < 4; ++i) {
    if (mask == 0xffu << (8 * i)) return i;
  }
  return -1;
}

Result<RowLayout> LayoutOf(const BmpHeader& header, const std::string& name) {
  RowLayout layout;
  const bool fields = header.compression != kPlain;
  switch (header.bits) {
    case 1:
    case 4:
    case 8:
      layout.bits = header.bits;
      break;
    case 16:
      break;
    case 24:
      layout.samples = 3;
      layout.rgb = {2, 1, 0};
      break;
    case 32:
      layout.samples = 4;
      layout.rgb = {2, 1, 0};
      if (fields) {
        layout.rgb = {ByteOf(header.masks[0]), ByteOf(header.masks[1]), ByteOf(header.masks[2])};
        for (int at : layout.rgb) {
          if (at < 0) {
            return tl::unexpected(FailFormat(name, "is a BMP with unusual colour masks").error());
          }
        }
      }
      break;
    default:
      return tl::unexpected(
          FailDamaged(name, fmt::format("BMP: {} bits a pixel", header.bits)).error());
  }
  return layout;
}

Status AddPalette(Bytes bytes, const BmpHeader& header, const std::string& name, Channel channel,
                  RowLayout& layout, bool& colour) {
  const std::uint32_t all = 1u << header.bits;
  const std::uint32_t count = header.colours == 0 ? all : std::min(header.colours, all);
  if (bytes.size() < header.palette_at + count * header.palette_entry) {
    return FailTruncated(name, "BMP palette");
  }
  layout.lookup.assign(256, 0);
  for (std::uint32_t i = 0; i < count; ++i) {
    const std::size_t at = header.palette_at + i * header.palette_entry;
    const auto blue = static_cast<std::uint8_t>(bytes[at]);
    const auto green = static_cast<std::uint8_t>(bytes[at + 1]);
    const auto red = static_cast<std::uint8_t>(bytes[at + 2]);
    layout.lookup[i] = ToneOf(red, green, blue, channel);
    colour = colour || red != green || green != blue;
  }
  return {};
}

// 16-bit pixels with a few bits a colour, stretched to 0..255.
void Expand16(Bytes row, int count, const BmpHeader& header, std::vector<std::byte>& out) {
  for (int x = 0; x < count; ++x) {
    const std::uint32_t pixel = Number<std::uint16_t>(row, static_cast<std::size_t>(x) * 2);
    for (std::size_t i = 0; i < 3; ++i) {
      const std::uint32_t mask = header.masks[i] & 0xffffu;
      if (mask == 0) continue;
      const int shift = std::countr_zero(mask);
      const std::uint32_t greatest = mask >> shift;
      const std::uint32_t value = (pixel & mask) >> shift;
      out[static_cast<std::size_t>(x) * 3 + i] =
          static_cast<std::byte>((value * 255u + greatest / 2) / greatest);
    }
  }
}

}  // namespace

Status ReadBmp(Bytes bytes, const std::string& name, const ReadOptions& options, Micrograph& out) {
  BmpHeader header;
  if (auto status = ParseHeader(bytes, name, header); !status) return status;
  if (auto status = CheckImageSize(name, header.width, header.height, options); !status)
    return status;
  auto layout = LayoutOf(header, name);
  if (!layout) return tl::unexpected(layout.error());
  out.colour = header.bits >= 16;
  if (header.bits <= 8) {
    auto status = AddPalette(bytes, header, name, options.channel, *layout, out.colour);
    if (!status) return status;
  }
  const bool narrow = header.bits == 16;
  if (narrow) {
    layout->samples = 3;
    layout->rgb = {0, 1, 2};
  }
  // Rows end on four bytes.
  const std::size_t stride = (static_cast<std::size_t>(header.width) * header.bits + 31) / 32 * 4;
  const std::size_t needed = stride * static_cast<std::size_t>(header.height);
  if (header.pixels_at > bytes.size() || bytes.size() - header.pixels_at < needed) {
    return FailTruncated(name, fmt::format("BMP: {} bytes of pixels are missing",
                                           header.pixels_at + needed - bytes.size()));
  }
  const int width = static_cast<int>(header.width), height = static_cast<int>(header.height);
  const RowPicker picker(std::move(*layout), options.channel);
  ToneSink sink(width, height, 8, options.reduced_pixels);
  std::vector<std::byte> expanded(narrow ? picker.RowBytes(width) : 0);
  for (int y = 0; y < height; ++y) {
    const auto stored = static_cast<std::size_t>(header.top_down ? y : height - 1 - y);
    const Bytes row = bytes.subspan(header.pixels_at + stored * stride, stride);
    if (narrow) Expand16(row, width, header, expanded);
    picker.Pick(narrow ? expanded.data() : row.data(), width, sink.Row(y));
    sink.RowDone(y);
  }
  out.embedded = ScaleFromDensity(header.per_metre_x, header.per_metre_y, 1e6, "BMP resolution");
  sink.Finish(out);
  return {};
}

}  // namespace cutface
