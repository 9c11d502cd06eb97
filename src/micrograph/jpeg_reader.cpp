// JPEG through libjpeg-turbo, scanline by scanline. The library reports errors by a jump, so the
// functions that call it hold no object with a destructor: those live in JpegFile, outside the
// jump.
#include <fmt/format.h>
#include <jerror.h>
#include <jpeglib.h>

#include <csetjmp>
#include <cstdio>
#include <vector>

#include "micrograph/readers.h"
#include "micrograph/rows.h"
#include "micrograph/tags.h"
#include "micrograph/tone_sink.h"

namespace cutface {
namespace {

// Progressive files of more scans than this exist only to keep a decoder busy.
constexpr int kMaxScans = 200;

struct JpegFile {
  jpeg_decompress_struct decoder{};
  jpeg_error_mgr errors{};
  jpeg_progress_mgr progress{};
  std::jmp_buf jump{};
  int failed_code = 0;
  bool created = false;
  char detail[JMSG_LENGTH_MAX] = "";

  JpegFile() = default;
  JpegFile(const JpegFile&) = delete;
  JpegFile& operator=(const JpegFile&) = delete;
  ~JpegFile() {
    if (created) jpeg_destroy_decompress(&decoder);
  }
};

JpegFile& FileOf(j_common_ptr common) { return *static_cast<JpegFile*>(common->client_data); }

[[noreturn]] void StopDecoding(j_common_ptr common) {
  JpegFile& file = FileOf(common);
  file.failed_code = common->err->msg_code;
  common->err->format_message(common, file.detail);
  std::longjmp(file.jump, 1);
}

// The library goes on after damage with grey filled in; a measurement must not.
void OnMessage(j_common_ptr common, int level) {
  if (level >= 0) return;
  switch (common->err->msg_code) {
    case JWRN_EXTRANEOUS_DATA:
    case JWRN_ADOBE_XFORM:
    case JWRN_TOO_MUCH_DATA:
      return;  // pixels are not touched
    default:
      StopDecoding(common);
  }
}

void OnProgress(j_common_ptr common) {
  const auto* decoder = reinterpret_cast<j_decompress_ptr>(common);
  if (decoder->input_scan_number > kMaxScans) {
    common->err->msg_code = JERR_BAD_PROGRESSION;
    StopDecoding(common);
  }
}

bool ReadHeader(JpegFile& file, Bytes bytes) {
  file.decoder.err = jpeg_std_error(&file.errors);
  file.errors.error_exit = StopDecoding;
  file.errors.emit_message = OnMessage;
  file.decoder.client_data = &file;
  if (setjmp(file.jump) != 0) return false;
  jpeg_create_decompress(&file.decoder);
  file.created = true;
  file.progress.progress_monitor = OnProgress;
  file.decoder.progress = &file.progress;
  jpeg_mem_src(&file.decoder, reinterpret_cast<const unsigned char*>(bytes.data()),
               static_cast<unsigned long>(bytes.size()));
  jpeg_save_markers(&file.decoder, JPEG_APP0 + 1, 0xffff);
  jpeg_read_header(&file.decoder, TRUE);
  return true;
}

// Decodes all rows; `row` is room for one when the picker has work to do.
bool ReadRows(JpegFile& file, const RowPicker& picker, std::byte* row, ToneSink& sink) {
  if (setjmp(file.jump) != 0) return false;
  jpeg_start_decompress(&file.decoder);
  for (int y = 0; y < sink.height(); ++y) {
    auto* place = static_cast<JSAMPLE*>(picker.plain() ? sink.Row(y) : row);
    jpeg_read_scanlines(&file.decoder, &place, 1);
    if (!picker.plain()) picker.Pick(row, sink.width(), sink.Row(y));
    sink.RowDone(y);
  }
  // Reads on to the end mark: a file cut off in its last row says so here.
  jpeg_finish_decompress(&file.decoder);
  return true;
}

Status FailJpeg(const JpegFile& file, const std::string& name) {
  const std::string detail = fmt::format("JPEG: {}", file.detail);
  switch (file.failed_code) {
    case JWRN_JPEG_EOF:
    case JERR_INPUT_EOF:
    case JERR_INPUT_EMPTY:
      return FailTruncated(name, detail);
    case JERR_BAD_PRECISION:
    case JERR_SOF_UNSUPPORTED:
    case JERR_ARITH_NOTIMPL:
    case JERR_CONVERSION_NOTIMPL:
    case JERR_NOT_COMPILED:
      return FailFormat(name, "is a kind of " + detail);
    case JERR_OUT_OF_MEMORY:
    case JERR_IMAGE_TOO_BIG:
    case JERR_WIDTH_OVERFLOW:
      return Fail(Code::kImageTooLarge, fmt::format("{}: {}", name, detail));
    default:
      return FailDamaged(name, detail);
  }
}

void AddTags(const jpeg_decompress_struct& decoder, Micrograph& out) {
  if (decoder.saw_JFIF_marker && (decoder.density_unit == 1 || decoder.density_unit == 2)) {
    out.embedded = ScaleFromDensity(decoder.X_density, decoder.Y_density,
                                    decoder.density_unit == 1 ? 25400.0 : 10000.0, "JFIF density");
  }
  for (auto marker = decoder.marker_list; marker != nullptr; marker = marker->next) {
    const Bytes block(reinterpret_cast<const std::byte*>(marker->data), marker->data_length);
    const std::string_view text(reinterpret_cast<const char*>(marker->data), marker->data_length);
    if (text.starts_with("Exif")) return ReadExif(block, out);
  }
}

}  // namespace

Status ReadJpeg(Bytes bytes, const std::string& name, const ReadOptions& options, Micrograph& out) {
  JpegFile file;
  if (!ReadHeader(file, bytes)) return FailJpeg(file, name);
  auto status = CheckImageSize(name, file.decoder.image_width, file.decoder.image_height, options);
  if (!status) return status;

  RowLayout layout;
  switch (file.decoder.jpeg_color_space) {
    case JCS_GRAYSCALE:
      break;
    case JCS_YCbCr:
    case JCS_RGB:
      out.colour = true;
      // Y is the luminance already; its chroma need not be decoded.
      if (options.channel == Channel::kLuminance && file.decoder.jpeg_color_space == JCS_YCbCr) {
        file.decoder.out_color_space = JCS_GRAYSCALE;
      } else {
        file.decoder.out_color_space = JCS_RGB;
        layout.samples = 3;
        layout.rgb = {0, 1, 2};
      }
      break;
    default:
      return FailFormat(name, "is a JPEG neither grey nor RGB (print colours?)");
  }
  // Pinned, so that the same file gives the same tones in each release.
  file.decoder.dct_method = JDCT_ISLOW;
  const RowPicker picker(std::move(layout), options.channel);
  std::vector<std::byte> row(picker.RowBytes(static_cast<int>(file.decoder.image_width)));
  ToneSink sink(static_cast<int>(file.decoder.image_width),
                static_cast<int>(file.decoder.image_height), 8, options.reduced_pixels);
  AddTags(file.decoder, out);  // before the rows: finishing them frees the markers
  if (!ReadRows(file, picker, row.data(), sink)) return FailJpeg(file, name);
  sink.Finish(out);
  return {};
}

}  // namespace cutface
