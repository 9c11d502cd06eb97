// TIFF and BigTIFF through libtiff, from memory: strips row by row, tiles band by band. The first
// picture of a file is read that is not marked as a reduced version of another.
#include <fmt/format.h>
#include <tiffio.h>

#include <algorithm>
#include <bit>
#include <cstdarg>
#include <cstdio>
#include <cstring>
#include <memory>
#include <vector>

#include "micrograph/readers.h"
#include "micrograph/rows.h"
#include "micrograph/tags.h"
#include "micrograph/tone_sink.h"

namespace cutface {
namespace {

constexpr tmsize_t kMaxSingleAllocation = tmsize_t{1} << 29;
constexpr int kMaxSamples = 16;
constexpr int kMaxDirectories = 16;

struct MemoryFile {
  Bytes bytes;
  std::uint64_t at = 0;
  std::string first_error;
};

MemoryFile& FileOf(thandle_t handle) { return *static_cast<MemoryFile*>(handle); }

tmsize_t OnRead(thandle_t handle, void* out, tmsize_t wanted) {
  MemoryFile& file = FileOf(handle);
  if (wanted <= 0 || file.at >= file.bytes.size()) return 0;
  const auto count = std::min<std::uint64_t>(wanted, file.bytes.size() - file.at);
  std::memcpy(out, file.bytes.data() + file.at, count);
  file.at += count;
  return static_cast<tmsize_t>(count);
}
tmsize_t OnWrite(thandle_t, void*, tmsize_t) { return 0; }
toff_t OnSeek(thandle_t handle, toff_t offset, int whence) {
  MemoryFile& file = FileOf(handle);
  const std::uint64_t base = whence == SEEK_CUR   ? file.at
                             : whence == SEEK_END ? file.bytes.size()
                                                  : 0;
  return file.at = base + offset;
}
int OnClose(thandle_t) { return 0; }
toff_t OnSize(thandle_t handle) { return FileOf(handle).bytes.size(); }
// The library then decodes straight from our bytes. It takes them as its own but does not write:
// where it must swap or mirror bits it copies first.
int OnMap(thandle_t handle, void** base, toff_t* size) {
  *base = const_cast<std::byte*>(FileOf(handle).bytes.data());
  *size = FileOf(handle).bytes.size();
  return 1;
}
void OnUnmap(thandle_t, void*, toff_t) {}
int OnError(TIFF*, void* user, const char*, const char* format, va_list arguments) {
  auto& file = *static_cast<MemoryFile*>(user);
  if (!file.first_error.empty()) return 1;
  char text[200];
  std::vsnprintf(text, sizeof text, format, arguments);
  file.first_error = text;
  for (char& c : file.first_error) {
    if (static_cast<unsigned char>(c) < ' ' || static_cast<unsigned char>(c) > '~') c = '?';
  }
  return 1;
}
// The JPEG inside a TIFF goes on after damage with grey filled in and only warns; a measurement
// must not go on.
int OnWarning(TIFF* tiff, void* user, const char* module, const char* format, va_list arguments) {
  if (module != nullptr && std::strcmp(module, "JPEGLib") == 0)
    return OnError(tiff, user, module, format, arguments);
  return 1;
}

using Tiff = std::unique_ptr<TIFF, void (*)(TIFF*)>;

Tiff Open(MemoryFile& file) {
  const std::unique_ptr<TIFFOpenOptions, void (*)(TIFFOpenOptions*)> options(TIFFOpenOptionsAlloc(),
                                                                             TIFFOpenOptionsFree);
  TIFFOpenOptionsSetMaxSingleMemAlloc(options.get(), kMaxSingleAllocation);
  TIFFOpenOptionsSetErrorHandlerExtR(options.get(), OnError, &file);
  TIFFOpenOptionsSetWarningHandlerExtR(options.get(), OnWarning, &file);
  return Tiff(TIFFClientOpenExt("", "r", &file, OnRead, OnWrite, OnSeek, OnClose, OnSize, OnMap,
                                OnUnmap, options.get()),
              TIFFClose);
}

std::uint64_t Number(Bytes bytes, std::size_t at, std::size_t size, bool big_endian) {
  std::uint64_t value = 0;
  for (std::size_t i = 0; i < size; ++i) {
    value = value << 8 | static_cast<std::uint8_t>(bytes[at + (big_endian ? i : size - 1 - i)]);
  }
  return value;
}

// Does the file end before its first directory of tags does?
bool DirectoryIsCutOff(Bytes bytes) {
  if (bytes.size() < 8) return true;
  const bool big_endian = bytes[0] == std::byte{'M'};
  const bool big = Number(bytes, 2, 2, big_endian) == 43;
  if (big && bytes.size() < 16) return true;
  const std::uint64_t at = big ? Number(bytes, 8, 8, big_endian) : Number(bytes, 4, 4, big_endian);
  const std::size_t count_size = big ? 8 : 2, entry_size = big ? 20 : 12, end_size = big ? 8 : 4;
  if (at >= bytes.size() || bytes.size() - at < count_size) return true;
  const std::uint64_t count = Number(bytes, at, count_size, big_endian);
  const std::uint64_t rest = bytes.size() - at - count_size;
  return count <= 0xffff && rest < count * entry_size + end_size;
}

template <class T>
T Field(TIFF* tiff, ttag_t tag, T otherwise) {
  T value{};
  return TIFFGetField(tiff, tag, &value) == 1 ? value : otherwise;
}

std::string Text(TIFF* tiff, ttag_t tag) {
  const char* text = nullptr;
  return TIFFGetField(tiff, tag, &text) == 1 && text != nullptr ? text : "";
}

// Is a strip or tile beyond the end of the file?
bool PixelsAreCutOff(TIFF* tiff, std::uint64_t file_size) {
  const std::uint32_t count =
      TIFFIsTiled(tiff) ? TIFFNumberOfTiles(tiff) : TIFFNumberOfStrips(tiff);
  for (std::uint32_t i = 0; i < count; ++i) {
    const std::uint64_t offset = TIFFGetStrileOffset(tiff, i);
    const std::uint64_t bytes = TIFFGetStrileByteCount(tiff, i);
    if (bytes > file_size || offset > file_size - bytes) return true;
  }
  return false;
}

struct TiffKind {
  std::uint32_t width = 0, height = 0;
  std::uint16_t bits = 1, samples = 1, photometric = PHOTOMETRIC_MINISBLACK;
  bool planar = false;
  bool colour = false;
  bool jpeg = false;
};

// Goes to the picture `directory`; JPEG's luminance and chroma come out as RGB from then on.
bool GoTo(TIFF* tiff, tdir_t directory, const TiffKind& kind) {
  if (TIFFSetDirectory(tiff, directory) != 1) return false;
  return !kind.jpeg || !kind.colour ||
         TIFFSetField(tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB) == 1;
}

Status CheckKind(TIFF* tiff, const std::string& name, TiffKind& kind) {
  kind.width = Field<std::uint32_t>(tiff, TIFFTAG_IMAGEWIDTH, 0);
  kind.height = Field<std::uint32_t>(tiff, TIFFTAG_IMAGELENGTH, 0);
  kind.bits = Field<std::uint16_t>(tiff, TIFFTAG_BITSPERSAMPLE, 1);
  kind.samples = Field<std::uint16_t>(tiff, TIFFTAG_SAMPLESPERPIXEL, 1);
  kind.planar = Field<std::uint16_t>(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG) ==
                    PLANARCONFIG_SEPARATE &&
                kind.samples > 1;
  kind.photometric = Field<std::uint16_t>(
      tiff, TIFFTAG_PHOTOMETRIC, kind.samples < 3 ? PHOTOMETRIC_MINISBLACK : PHOTOMETRIC_RGB);
  const auto packing = Field<std::uint16_t>(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
  kind.jpeg = packing == COMPRESSION_JPEG;
  // The decoder turns these colours into RGB (GoTo).
  if (kind.jpeg && kind.photometric == PHOTOMETRIC_YCBCR && kind.samples == 3 && !kind.planar)
    kind.photometric = PHOTOMETRIC_RGB;
  kind.colour = kind.photometric == PHOTOMETRIC_RGB;
  switch (packing) {
    case COMPRESSION_NONE:
    case COMPRESSION_LZW:
    case COMPRESSION_ADOBE_DEFLATE:
    case COMPRESSION_DEFLATE:
    case COMPRESSION_PACKBITS:
      break;
    case COMPRESSION_JPEG:
      if (kind.bits == 8) break;
      return FailFormat(name, fmt::format("is a TIFF with JPEG of {} bits", kind.bits));
    default:
      return FailFormat(name,
                        "is a TIFF packed otherwise than none, LZW, deflate, PackBits or JPEG");
  }
  const auto format = Field<std::uint16_t>(tiff, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_UINT);
  if (format != SAMPLEFORMAT_UINT && format != SAMPLEFORMAT_VOID) {
    return FailFormat(name, "is a TIFF of floating-point or signed numbers");
  }
  const bool bits_read = kind.bits == 1 || kind.bits == 2 || kind.bits == 4 || kind.bits == 8 ||
                         kind.bits == 12 || kind.bits == 16;
  if (!bits_read || kind.samples < 1 || kind.samples > kMaxSamples) {
    return FailFormat(name,
                      fmt::format("is a TIFF of {} samples of {} bits", kind.samples, kind.bits));
  }
  switch (kind.photometric) {
    case PHOTOMETRIC_MINISBLACK:
    case PHOTOMETRIC_MINISWHITE:
      return {};
    case PHOTOMETRIC_RGB:
      if (kind.samples >= 3) return {};
      return FailDamaged(name, "TIFF: RGB with fewer than three samples");
    case PHOTOMETRIC_PALETTE:
      if (kind.samples == 1 && kind.bits <= 8) return {};
      return FailFormat(name, "is a TIFF with a palette of more than 8 bits");
    default:
      return FailFormat(name, "is a TIFF neither grey nor RGB");
  }
}

Status AddPalette(TIFF* tiff, const std::string& name, Channel channel, RowLayout& layout,
                  bool& colour) {
  std::uint16_t *red = nullptr, *green = nullptr, *blue = nullptr;
  if (TIFFGetField(tiff, TIFFTAG_COLORMAP, &red, &green, &blue) != 1) {
    return FailDamaged(name, "TIFF: the palette is missing");
  }
  const int count = 1 << layout.bits;
  // Palettes have 16 bits; some old writers left 8-bit numbers there.
  std::uint16_t greatest = 0;
  for (int i = 0; i < count; ++i) greatest = std::max({greatest, red[i], green[i], blue[i]});
  const int shift = greatest > 255 ? 8 : 0;
  layout.lookup.assign(256, 0);
  for (int i = 0; i < count; ++i) {
    layout.lookup[static_cast<std::size_t>(i)] = ToneOf(
        static_cast<std::uint8_t>(red[i] >> shift), static_cast<std::uint8_t>(green[i] >> shift),
        static_cast<std::uint8_t>(blue[i] >> shift), channel);
    colour = colour || red[i] != green[i] || green[i] != blue[i];
  }
  return {};
}

// How many of 16 bits mean something: a declared greatest value of 2^n - 1, or OME-XML's word.
int SignificantBits(TIFF* tiff, const TiffKind& kind, const OmeTags& ome) {
  if (kind.bits != 16 || kind.photometric == PHOTOMETRIC_MINISWHITE) return kind.bits;
  const auto greatest = Field<std::uint16_t>(tiff, TIFFTAG_MAXSAMPLEVALUE, 0xffff);
  if (greatest > 0xff && std::has_single_bit(greatest + 1u) && greatest < 0xffff) {
    return std::bit_width(greatest);
  }
  return ome.significant_bits > 8 && ome.significant_bits < 16 ? ome.significant_bits : 16;
}

void AddTags(TIFF* tiff, const OmeTags& ome, Micrograph& out) {
  const auto unit = Field<std::uint16_t>(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_NONE);
  if (ome.scale) {
    out.embedded = ome.scale;
  } else if (unit == RESUNIT_INCH || unit == RESUNIT_CENTIMETER) {
    out.embedded = ScaleFromDensity(Field<float>(tiff, TIFFTAG_XRESOLUTION, 0),
                                    Field<float>(tiff, TIFFTAG_YRESOLUTION, 0),
                                    unit == RESUNIT_INCH ? 25400.0 : 10000.0, "TIFF resolution");
  }
  const auto orientation = Field<std::uint16_t>(tiff, TIFFTAG_ORIENTATION, 1);
  if (orientation >= 1 && orientation <= 8) out.exif_orientation = orientation;
  // TIFF 6.0: date and time of image creation; the EXIF time of capture goes before it.
  out.taken = IsoFromExifTime(Text(tiff, TIFFTAG_DATETIME));
  toff_t exif = 0;
  if (TIFFGetField(tiff, TIFFTAG_EXIFIFD, &exif) == 1 && TIFFReadEXIFDirectory(tiff, exif) == 1) {
    const std::string taken = IsoFromExifTime(Text(tiff, EXIFTAG_DATETIMEORIGINAL),
                                              Text(tiff, EXIFTAG_OFFSETTIMEORIGINAL));
    if (!taken.empty()) out.taken = taken;
  }
}

// One plane of samples: a handle of its own, because each must be read in sequence, and the sample.
struct Plane {
  MemoryFile file;
  Tiff tiff{nullptr, TIFFClose};
  std::uint16_t sample = 0;
  std::vector<std::byte> band;  // picked tones of the rows in work; unused when there is one plane
};

class TiffDecoder {
 public:
  TiffDecoder(std::vector<Plane>& planes, const RowPicker& picker, ToneSink& sink)
      : planes_(planes), picker_(picker), sink_(sink), tone_bytes_(sink.deep() ? 2 : 1) {}

  // False when the library could not go on; its words are in the plane's file.
  bool Run() {
    TIFF* first = planes_.front().tiff.get();
    const bool tiled = TIFFIsTiled(first) != 0;
    const auto tile_height = Field<std::uint32_t>(first, TIFFTAG_TILELENGTH, 1);
    const int band =
        tiled ? static_cast<int>(std::min<std::uint32_t>(tile_height, sink_.height())) : 1;
    if (band < 1) return false;
    for (int y = 0; y < sink_.height(); y += band) {
      const int rows = std::min(band, sink_.height() - y);
      for (Plane& plane : planes_) {
        if (!(tiled ? ReadTiles(plane, y, rows) : ReadRow(plane, y))) return false;
      }
      for (int row = 0; row < rows; ++row) {
        if (planes_.size() == 3) Combine(row, y + row);
        sink_.RowDone(y + row);
      }
    }
    return true;
  }

 private:
  // Where the tones of row `row` of the present band go.
  std::byte* Place(Plane& plane, int row, int y) {
    if (planes_.size() == 1) return static_cast<std::byte*>(sink_.Row(y + row));
    const std::size_t row_bytes = static_cast<std::size_t>(sink_.width()) * tone_bytes_;
    const std::size_t end = row_bytes * (static_cast<std::size_t>(row) + 1);
    if (plane.band.size() < end) plane.band.resize(end);
    return plane.band.data() + (end - row_bytes);
  }

  bool ReadRow(Plane& plane, int y) {
    TIFF* tiff = plane.tiff.get();
    if (buffer_.empty()) {
      buffer_.resize(std::max<std::size_t>(static_cast<std::size_t>(TIFFScanlineSize64(tiff)),
                                           picker_.RowBytes(sink_.width())));
    }
    std::byte* place = Place(plane, 0, y);
    const bool straight =
        picker_.plain() &&
        TIFFScanlineSize64(tiff) == static_cast<std::uint64_t>(sink_.width()) * tone_bytes_;
    void* to = straight ? place : buffer_.data();
    if (TIFFReadScanline(tiff, to, static_cast<std::uint32_t>(y), plane.sample) != 1) return false;
    if (!straight) picker_.Pick(buffer_.data(), sink_.width(), place);
    return true;
  }

  bool ReadTiles(Plane& plane, int y, int rows) {
    TIFF* tiff = plane.tiff.get();
    const auto tile_width = Field<std::uint32_t>(tiff, TIFFTAG_TILEWIDTH, 0);
    const auto row_bytes = static_cast<std::size_t>(TIFFTileRowSize64(tiff));
    const auto tile_bytes = static_cast<std::uint64_t>(TIFFTileSize64(tiff));
    if (tile_width == 0 || tile_bytes > static_cast<std::uint64_t>(kMaxSingleAllocation) ||
        tile_bytes < row_bytes * static_cast<std::size_t>(rows)) {
      plane.file.first_error = "tiles of an impossible size";
      return false;
    }
    buffer_.resize(tile_bytes);
    const auto width = static_cast<std::uint32_t>(sink_.width());
    for (std::uint32_t x = 0; x < width; x += std::min(tile_width, width - x)) {
      const std::uint32_t count = std::min(tile_width, width - x);
      if (row_bytes < picker_.RowBytes(static_cast<int>(count))) return false;
      if (TIFFReadTile(tiff, buffer_.data(), x, static_cast<std::uint32_t>(y), 0, plane.sample) <
          0) {
        return false;
      }
      for (int row = 0; row < rows; ++row) {
        picker_.Pick(buffer_.data() + static_cast<std::size_t>(row) * row_bytes,
                     static_cast<int>(count), Place(plane, row, y) + x * tone_bytes_);
      }
    }
    return true;
  }

  // Luminance out of three planes' rows.
  void Combine(int row, int y) {
    RowLayout layout;
    layout.bits = sink_.deep() ? 16 : 8;
    layout.samples = 3;
    layout.rgb = {0, 1, 2};
    const RowPicker weigh(std::move(layout), Channel::kLuminance);
    const auto width = static_cast<std::size_t>(sink_.width());
    interleaved_.resize(3 * width * tone_bytes_);
    for (std::size_t p = 0; p < 3; ++p) {
      const std::byte* tones = Place(planes_[p], row, y);
      for (std::size_t x = 0; x < width; ++x) {
        std::memcpy(interleaved_.data() + (3 * x + p) * tone_bytes_, tones + x * tone_bytes_,
                    tone_bytes_);
      }
    }
    weigh.Pick(interleaved_.data(), sink_.width(), sink_.Row(y));
  }

  std::vector<Plane>& planes_;
  const RowPicker& picker_;
  ToneSink& sink_;
  std::size_t tone_bytes_;
  std::vector<std::byte> buffer_, interleaved_;
};

// Goes to the first directory that is no reduced version (pyramids, thumbnails); `directory` is its
// number.
bool FindPicture(TIFF* tiff, tdir_t& directory) {
  for (directory = 0; directory < kMaxDirectories; ++directory) {
    if ((Field<std::uint32_t>(tiff, TIFFTAG_SUBFILETYPE, 0) & FILETYPE_REDUCEDIMAGE) == 0)
      return true;
    if (TIFFReadDirectory(tiff) != 1) break;
  }
  directory = 0;
  return TIFFSetDirectory(tiff, 0) == 1;
}

RowLayout LayoutOf(const TiffKind& kind) {
  RowLayout layout;
  layout.bits = kind.bits;
  layout.samples = kind.planar ? 1 : kind.samples;
  if (kind.colour && !kind.planar) layout.rgb = {0, 1, 2};
  layout.invert = kind.photometric == PHOTOMETRIC_MINISWHITE;
  return layout;
}

// Which planes of a file with separate planes are wanted.
std::vector<std::uint16_t> WantedSamples(const TiffKind& kind, Channel channel) {
  if (!kind.planar || !kind.colour) return {0};
  switch (channel) {
    case Channel::kRed:
      return {0};
    case Channel::kGreen:
      return {1};
    case Channel::kBlue:
      return {2};
    case Channel::kLuminance:
      break;
  }
  return {0, 1, 2};
}

}  // namespace

Status ReadTiff(Bytes bytes, const std::string& name, const ReadOptions& options, Micrograph& out) {
  MemoryFile file{bytes, 0, {}};
  const Tiff tiff = Open(file);
  tdir_t directory = 0;
  if (!tiff || !FindPicture(tiff.get(), directory)) {
    if (DirectoryIsCutOff(bytes)) return FailTruncated(name, "TIFF: " + file.first_error);
    return FailDamaged(name, "TIFF: " + file.first_error);
  }
  TiffKind kind;
  if (auto status = CheckKind(tiff.get(), name, kind); !status) return status;
  if (auto status = CheckImageSize(name, kind.width, kind.height, options); !status) return status;
  if (PixelsAreCutOff(tiff.get(), bytes.size())) {
    return FailTruncated(name, "TIFF: a strip or tile lies beyond the end");
  }
  RowLayout layout = LayoutOf(kind);
  out.colour = kind.colour;
  if (kind.photometric == PHOTOMETRIC_PALETTE) {
    auto status = AddPalette(tiff.get(), name, options.channel, layout, out.colour);
    if (!status) return status;
  }
  const OmeTags ome = ReadOmeXml(Text(tiff.get(), TIFFTAG_IMAGEDESCRIPTION));
  const int bits = SignificantBits(tiff.get(), kind, ome);
  const std::vector<std::uint16_t> samples = WantedSamples(kind, options.channel);
  std::vector<Plane> planes(samples.size());
  for (std::size_t i = 0; i < planes.size(); ++i) {
    planes[i].file.bytes = bytes;
    planes[i].tiff = Open(planes[i].file);
    planes[i].sample = samples[i];
    if (!planes[i].tiff || !GoTo(planes[i].tiff.get(), directory, kind)) {
      return FailDamaged(name, "TIFF: " + planes[i].file.first_error);
    }
  }
  const RowPicker picker(std::move(layout), options.channel);
  ToneSink sink(static_cast<int>(kind.width), static_cast<int>(kind.height), bits,
                options.reduced_pixels);
  const bool whole = TiffDecoder(planes, picker, sink).Run();
  const auto warned = [](const Plane& plane) { return !plane.file.first_error.empty(); };
  const auto trouble = std::find_if(planes.begin(), planes.end(), warned);
  if (!whole || (kind.jpeg && trouble != planes.end())) {
    const std::string detail =
        trouble != planes.end() ? trouble->file.first_error : "pixels cannot be unpacked";
    return FailDamaged(name, "TIFF: " + detail);
  }
  AddTags(tiff.get(), ome, out);
  sink.Finish(out);
  return {};
}

}  // namespace cutface
