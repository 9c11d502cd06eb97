#include "micrograph/tags.h"

#include <libexif/exif-data.h>

#include <array>
#include <chrono>
#include <cmath>
#include <cstring>
#include <memory>
#include <pugixml.hpp>
#include <vector>

namespace cutface {
namespace {

constexpr double kUmPerInch = 25400.0;

// Densities, per inch, that cameras, screens and printers write without knowing a scale.
constexpr std::array<double, 6> kDefaultsPerInch = {72, 96, 150, 300, 600, 1200};
// pHYs holds 72 per inch as 2835 per metre, 0.013 % off.
constexpr double kDefaultTolerance = 5e-4;

bool IsDefault(double per_unit, double unit_um) {
  const double per_inch = per_unit * kUmPerInch / unit_um;
  for (double known : kDefaultsPerInch) {
    if (std::abs(per_inch / known - 1.0) <= kDefaultTolerance) return true;
    // The same as a whole number of pixels per centimetre (28 is 72 per inch).
    if (unit_um == 10000.0 &&
        (per_unit == std::floor(known / 2.54) || per_unit == std::round(known / 2.54)))
      return true;
  }
  return false;
}

double UmOfOmeUnit(std::string_view unit) {
  if (unit.empty() || unit == "\xC2\xB5m" || unit == "\xCE\xBCm" || unit == "um") return 1.0;
  if (unit == "nm") return 1e-3;
  if (unit == "mm") return 1e3;
  if (unit == "cm") return 1e4;
  if (unit == "m") return 1e6;
  if (unit == "in") return kUmPerInch;
  return 0.0;  // "pixel", "reference frame": no length
}

bool IsPlausible(double pitch_um) { return std::isfinite(pitch_um) && pitch_um > 0; }

std::string EntryText(ExifData* data, ExifTag tag) {
  const ExifEntry* entry = exif_content_get_entry(data->ifd[EXIF_IFD_EXIF], tag);
  if (entry == nullptr || entry->data == nullptr || entry->format != EXIF_FORMAT_ASCII) return "";
  const auto* text = reinterpret_cast<const char*>(entry->data);
  return std::string(text, strnlen(text, entry->size));
}

}  // namespace

std::optional<EmbeddedScale> ScaleFromDensity(double per_unit_x, double per_unit_y, double unit_um,
                                              std::string source) {
  EmbeddedScale scale{unit_um / per_unit_x, unit_um / per_unit_y, std::move(source)};
  if (!IsPlausible(scale.pitch_x_um) || !IsPlausible(scale.pitch_y_um)) return std::nullopt;
  if (per_unit_x == 1.0 && per_unit_y == 1.0) return std::nullopt;
  if (IsDefault(per_unit_x, unit_um) && IsDefault(per_unit_y, unit_um)) return std::nullopt;
  return scale;
}

OmeTags ReadOmeXml(std::string_view description) {
  OmeTags tags;
  if (description.find("<OME") == std::string_view::npos) return tags;
  pugi::xml_document xml;
  if (!xml.load_buffer(description.data(), description.size())) return tags;
  const pugi::xml_node pixels = xml.child("OME").child("Image").child("Pixels");
  const double x = pixels.attribute("PhysicalSizeX").as_double() *
                   UmOfOmeUnit(pixels.attribute("PhysicalSizeXUnit").as_string());
  const double y = pixels.attribute("PhysicalSizeY").as_double() *
                   UmOfOmeUnit(pixels.attribute("PhysicalSizeYUnit").as_string());
  if (IsPlausible(x) && IsPlausible(y)) tags.scale = EmbeddedScale{x, y, "OME-XML"};
  tags.significant_bits = pixels.attribute("SignificantBits").as_int();
  return tags;
}

std::string IsoFromExifTime(std::string_view time, std::string_view offset) {
  constexpr std::string_view kPattern = "dddd:dd:dd dd:dd:dd";
  if (time.size() < kPattern.size()) return "";
  std::array<int, 6> parts{};  // year, month, day, hour, minute, second
  std::size_t part = 0;
  for (std::size_t i = 0; i < kPattern.size(); ++i) {
    if (kPattern[i] != 'd') {
      if (time[i] != kPattern[i]) return "";
      ++part;
    } else {
      if (time[i] < '0' || time[i] > '9') return "";
      parts[part] = 10 * parts[part] + (time[i] - '0');
    }
  }
  const std::chrono::year_month_day day{std::chrono::year{parts[0]},
                                        std::chrono::month{static_cast<unsigned>(parts[1])},
                                        std::chrono::day{static_cast<unsigned>(parts[2])}};
  if (!day.ok() || parts[0] == 0 || parts[3] > 23 || parts[4] > 59 || parts[5] > 60) return "";
  std::string iso(time.substr(0, kPattern.size()));
  iso[4] = iso[7] = '-';
  iso[10] = 'T';
  const bool is_offset = offset.size() == 6 && (offset[0] == '+' || offset[0] == '-') &&
                         offset[3] == ':' &&
                         offset.find_first_not_of("0123456789:", 1) == std::string_view::npos;
  return is_offset ? iso + std::string(offset) : iso;
}

void ReadExif(std::span<const std::byte> block, Micrograph& out) {
  constexpr std::array<char, 6> kHead = {'E', 'x', 'i', 'f', 0, 0};
  std::vector<std::byte> whole;
  const bool has_head =
      block.size() >= kHead.size() && std::memcmp(block.data(), kHead.data(), kHead.size()) == 0;
  if (!has_head) {
    const auto* head = reinterpret_cast<const std::byte*>(kHead.data());
    whole.assign(head, head + kHead.size());
  }
  whole.insert(whole.end(), block.begin(), block.end());
  const std::unique_ptr<ExifData, void (*)(ExifData*)> data(exif_data_new(), exif_data_unref);
  if (!data) return;
  // As stored, without the library's own completions.
  exif_data_unset_option(data.get(), EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
  exif_data_load_data(data.get(), reinterpret_cast<const unsigned char*>(whole.data()),
                      static_cast<unsigned int>(whole.size()));
  const ExifEntry* entry = exif_content_get_entry(data->ifd[EXIF_IFD_0], EXIF_TAG_ORIENTATION);
  if (entry != nullptr && entry->format == EXIF_FORMAT_SHORT && entry->size >= 2) {
    const int orientation = exif_get_short(entry->data, exif_data_get_byte_order(data.get()));
    if (orientation >= 1 && orientation <= 8) out.exif_orientation = orientation;
  }
  std::string taken = IsoFromExifTime(EntryText(data.get(), EXIF_TAG_DATE_TIME_ORIGINAL),
                                      EntryText(data.get(), EXIF_TAG_OFFSET_TIME_ORIGINAL));
  if (taken.empty()) {
    taken = IsoFromExifTime(EntryText(data.get(), EXIF_TAG_DATE_TIME_DIGITIZED),
                            EntryText(data.get(), EXIF_TAG_OFFSET_TIME_DIGITIZED));
  }
  if (!taken.empty()) out.taken = taken;
}

}  // namespace cutface
