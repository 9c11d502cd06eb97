#include "batch/fields.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "batch/table.h"

namespace cutface {
namespace {

constexpr std::string_view kFactor = "factor:";

std::string SetStation(ManifestRow& row, const std::string& value) {
  double station = 0;
  const char* end = value.data() + value.size();
  const auto read = std::from_chars(value.data(), end, station);
  if (read.ec != std::errc() || read.ptr != end || !std::isfinite(station))
    return "must be a number of mm with a decimal point, as 400.5";
  row.sample.station_mm = station;
  return "";
}

// 2026-03-02 or 2026-03-02T09:15[:30][Z], a blank for the T allowed as spreadsheets write it.
std::string SetTaken(ManifestRow& row, std::string value) {
  if (value.size() > 10 && value[10] == ' ') value[10] = 'T';
  constexpr std::array<std::string_view, 5> kPatterns = {"0000-00-00", "0000-00-00T00:00",
                                                         "0000-00-00T00:00Z", "0000-00-00T00:00:00",
                                                         "0000-00-00T00:00:00Z"};
  const auto fits = [&](std::string_view pattern) {
    return pattern.size() == value.size() &&
           std::equal(pattern.begin(), pattern.end(), value.begin(),
                      [](char p, char c) { return p == '0' ? c >= '0' && c <= '9' : p == c; });
  };
  const bool known = std::any_of(kPatterns.begin(), kPatterns.end(), fits);
  const auto two = [&](std::size_t at) { return 10 * (value[at] - '0') + (value[at + 1] - '0'); };
  if (!known || two(5) < 1 || two(5) > 12 || two(8) < 1 || two(8) > 31 ||
      (value.size() > 10 && (two(11) > 23 || two(14) > 59)))
    return "must be a time as 2026-03-02 or 2026-03-02T09:15";
  row.sample.taken = value;
  return "";
}

}  // namespace

const std::vector<std::string_view>& ManifestColumns() {
  static const std::vector<std::string_view> kColumns = {
      "image",     "part",        "revision",    "serial",     "lot",      "block",
      "plane",     "station",     "face",        "taken",      "operator", "trial",
      "objective", "calibration", "prepared by", "reimage of", "recut of", "remark"};
  return kColumns;
}

std::string ColumnWord(std::string_view head) {
  std::string word = Trimmed(head);
  std::string small = word;
  for (char& c : small) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  if (small.starts_with(kFactor)) {
    const std::string name = Trimmed(word.substr(kFactor.size()));
    return name.empty() ? "" : std::string(kFactor) + name;
  }
  std::replace(small.begin(), small.end(), '_', ' ');
  if (small == "re-image of") small = "reimage of";
  if (small == "re-cut of") small = "recut of";
  const auto& known = ManifestColumns();
  return std::find(known.begin(), known.end(), small) == known.end() ? "" : small;
}

std::string SetField(ManifestRow& row, std::string_view word, const std::string& value) {
  if (word.starts_with(kFactor)) {
    row.factors[std::string(word.substr(kFactor.size()))] = value;
    return "";
  }
  if (value.empty()) return "";
  if (word == "station") return SetStation(row, value);
  if (word == "taken") return SetTaken(row, value);
  if (word == "face") {
    row.sample.face = value;
    return value == "proximal" || value == "distal" ? "" : "must be proximal or distal";
  }
  const std::array<std::pair<std::string_view, std::string*>, 14> places = {
      {{"image", &row.image},
       {"part", &row.part},
       {"revision", &row.revision},
       {"serial", &row.sample.serial},
       {"lot", &row.sample.lot},
       {"block", &row.sample.block},
       {"plane", &row.plane},
       {"operator", &row.operator_name},
       {"trial", &row.trial},
       {"objective", &row.objective},
       {"calibration", &row.calibration},
       {"prepared by", &row.sample.prepared_by},
       {"reimage of", &row.reimage_of},
       {"recut of", &row.recut_of}}};
  for (const auto& [name, place] : places) {
    if (name == word) *place = value;
  }
  return "";
}

}  // namespace cutface
