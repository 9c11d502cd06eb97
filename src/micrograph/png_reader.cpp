#include <fmt/format.h>
#include <spng.h>

#include <memory>
#include <string_view>
#include <vector>

#include "micrograph/readers.h"
#include "micrograph/rows.h"
#include "micrograph/tags.h"
#include "micrograph/tone_sink.h"

namespace cutface {
namespace {

// Text, profiles and EXIF blocks that unpack to more than this are attacks, not descriptions.
constexpr std::size_t kChunkLimit = std::size_t{32} << 20;
// Deflate cannot pack better than 1032 : 1 (RFC 1951: 258 bytes in two bits).
constexpr double kGreatestPacking = 1032.0;

struct Pass {
  std::uint32_t x0, dx;
};
// Adam7 (PNG specification, section 8): first column and column step of each pass.
constexpr Pass kAdam7[7] = {{0, 8}, {4, 8}, {0, 4}, {2, 4}, {0, 2}, {1, 2}, {0, 1}};

using Png = std::unique_ptr<spng_ctx, void (*)(spng_ctx*)>;

Status FailPng(int error, const std::string& name) {
  const std::string detail = fmt::format("PNG: {}", spng_strerror(error));
  switch (error) {
    case SPNG_IO_EOF:
    case SPNG_EOF:
    case SPNG_EIDAT_TOO_SHORT:
      return FailTruncated(name, detail);
    case SPNG_EMEM:
      return Fail(Code::kImageTooLarge, fmt::format("{}: {}", name, detail));
    default:
      return FailDamaged(name, detail);
  }
}

RowLayout LayoutOf(const spng_ihdr& header) {
  RowLayout layout;
  layout.bits = header.bit_depth;
  switch (header.color_type) {
    case SPNG_COLOR_TYPE_GRAYSCALE_ALPHA:
      layout.samples = 2;
      break;
    case SPNG_COLOR_TYPE_TRUECOLOR:
      layout.samples = 3;
      break;
    case SPNG_COLOR_TYPE_TRUECOLOR_ALPHA:
      layout.samples = 4;
      break;
    default:
      break;
  }
  if (layout.samples >= 3) layout.rgb = {0, 1, 2};
  return layout;
}

Status AddPalette(spng_ctx* png, const std::string& name, Channel channel, RowLayout& layout,
                  bool& colour) {
  spng_plte palette{};
  if (const int error = spng_get_plte(png, &palette); error != 0) return FailPng(error, name);
  layout.lookup.assign(256, 0);
  for (std::uint32_t i = 0; i < palette.n_entries; ++i) {
    const auto& entry = palette.entries[i];
    layout.lookup[i] = ToneOf(entry.red, entry.green, entry.blue, channel);
    colour = colour || entry.red != entry.green || entry.green != entry.blue;
  }
  return {};
}

void AddTags(spng_ctx* png, Micrograph& out) {
  spng_phys density{};
  if (spng_get_phys(png, &density) == 0 && density.unit_specifier == 1) {
    out.embedded = ScaleFromDensity(density.ppu_x, density.ppu_y, 1e6, "PNG pHYs");
  }
  spng_exif exif{};
  if (spng_get_exif(png, &exif) == 0) {
    ReadExif({reinterpret_cast<const std::byte*>(exif.data), exif.length}, out);
  }
}

// Row after row as decoded; interlaced files come in seven passes of thinned rows.
int DecodeRows(spng_ctx* png, const spng_ihdr& header, const RowPicker& picker, ToneSink& sink) {
  int error = spng_decode_image(png, nullptr, 0, SPNG_FMT_PNG, SPNG_DECODE_PROGRESSIVE);
  if (error != 0) return error;
  const bool interlaced = header.interlace_method == SPNG_INTERLACE_ADAM7;
  const int width = sink.width();
  const std::size_t row_bytes = picker.RowBytes(width);
  std::vector<std::byte> row(row_bytes);
  std::vector<std::uint16_t> thinned(interlaced ? static_cast<std::size_t>(width) : 0);
  for (;;) {
    spng_row_info info{};
    error = spng_get_row_info(png, &info);
    if (error != 0) return error == SPNG_EOI ? 0 : error;
    const auto y = static_cast<int>(info.row_num);
    const bool straight = picker.plain() && !interlaced;
    error = spng_decode_scanline(png, straight ? sink.Row(y) : row.data(), row_bytes);
    if (error != 0 && error != SPNG_EOI) return error;
    if (!interlaced) {
      if (!straight) picker.Pick(row.data(), width, sink.Row(y));
      sink.RowDone(y);
    } else {
      const Pass pass = kAdam7[info.pass];
      const auto count = (header.width - pass.x0 + pass.dx - 1) / pass.dx;
      picker.Pick(row.data(), static_cast<int>(count), thinned.data());
      for (std::uint32_t i = 0; i < count; ++i) {
        const std::uint32_t x = pass.x0 + i * pass.dx;
        if (sink.deep())
          static_cast<std::uint16_t*>(sink.Row(y))[x] = thinned[i];
        else
          static_cast<std::uint8_t*>(sink.Row(y))[x] =
              reinterpret_cast<const std::uint8_t*>(thinned.data())[i];
      }
    }
    if (error == SPNG_EOI) return 0;
  }
}

}  // namespace

Status ReadPng(Bytes bytes, const std::string& name, const ReadOptions& options, Micrograph& out) {
  const Png png(spng_ctx_new(0), spng_ctx_free);
  if (!png) return Fail(Code::kInternal, fmt::format("{}: no memory for the PNG decoder", name));
  spng_set_image_limits(png.get(), 0x7fffffff, 0x7fffffff);
  spng_set_chunk_limits(png.get(), kChunkLimit, 2 * kChunkLimit);
  int error = spng_set_png_buffer(png.get(), bytes.data(), bytes.size());
  spng_ihdr header{};
  if (error == 0) error = spng_get_ihdr(png.get(), &header);
  if (error != 0) return FailPng(error, name);
  auto status = CheckImageSize(name, header.width, header.height, options);
  if (!status) return status;

  RowLayout layout = LayoutOf(header);
  const double unpacked = 1.0 * header.width * header.height * layout.samples * layout.bits / 8.0;
  if (unpacked > kGreatestPacking * static_cast<double>(bytes.size())) {
    return FailTruncated(name, fmt::format("PNG: {} bytes cannot hold {} x {} px", bytes.size(),
                                           header.width, header.height));
  }
  out.colour = layout.samples >= 3;
  if (header.color_type == SPNG_COLOR_TYPE_INDEXED) {
    status = AddPalette(png.get(), name, options.channel, layout, out.colour);
    if (!status) return status;
  }
  const RowPicker picker(std::move(layout), options.channel);
  ToneSink sink(static_cast<int>(header.width), static_cast<int>(header.height),
                header.bit_depth <= 8 ? 8 : 16, options.reduced_pixels);
  error = DecodeRows(png.get(), header, picker, sink);
  // Up to the end mark: a file cut off behind the last pixel is cut off all the same, and EXIF may
  // stand there.
  if (error == 0) error = spng_decode_chunks(png.get());
  if (error != 0) return FailPng(error, name);
  // The library does not look at the checksum behind the end mark.
  const std::string_view text(reinterpret_cast<const char*>(bytes.data()), bytes.size());
  if (text.size() - text.rfind("IEND") < 8) return FailTruncated(name, "PNG: end mark");
  if (header.interlace_method == SPNG_INTERLACE_ADAM7) {
    for (int y = 0; y < sink.height(); ++y) sink.RowDone(y);
  }
  AddTags(png.get(), out);
  sink.Finish(out);
  return {};
}

}  // namespace cutface
