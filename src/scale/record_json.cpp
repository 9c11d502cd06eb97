// The calibration record's JSON: strict in, complete out.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>
#include <tuple>

#include "cutface/scale.h"
#include "cutface/texts.h"
#include "scale/dates.h"

namespace cutface {
namespace {

using Json = nlohmann::json;

// Bounds that only a typing error leaves.
constexpr int kMaxSidePx = 200'000;
constexpr double kMinPitchUm = 1e-4, kMaxPitchUm = 1e4;
constexpr double kMaxShear = 0.2;
// |k1| * (corner distance)^2: far from the fold at 4/27, where the inverse ends.
constexpr double kMaxCornerDistortion = 0.1;
constexpr double kMinGamma = 0.2, kMaxGamma = 5.0;
constexpr double kMaxBlurPx = 1000.0;

constexpr std::array<std::string_view, 3> kArtefactKinds = {"stage micrometer", "dot grid",
                                                            "check standard"};
constexpr std::array<std::string_view, 25> kKeys = {
    "format",         "version",    "id",       "objective",
    "microscope",     "zoom_stop",  "binning",  "image_size_px",
    "pixel_pitch_um", "pitch_u_um", "shear",    "shear_u",
    "distortion",     "gamma",      "gamma_u",  "blur_px",
    "blur_u_px",      "made",       "due",      "by",
    "supersedes",     "artefact",   "evidence", "flat_field",
    "budget"};
constexpr std::array<std::string_view, 3> kDistortionKeys = {"k1_per_px2", "k1_u_per_px2",
                                                             "centre_px"};
constexpr std::array<std::string_view, 7> kArtefactKeys = {
    "kind", "serial", "certificate", "certificate_due", "u_um", "division_um", "temperature_c"};
constexpr std::array<std::string_view, 4> kEvidenceKeys = {"image_sha256", "images", "lines",
                                                           "residual_rms_um"};
constexpr std::array<std::string_view, 2> kEvidenceImageKeys = {"file", "sha256"};
constexpr std::size_t kMaxEvidenceImages = 1000;
constexpr std::array<std::string_view, 2> kFlatFieldKeys = {"image", "sha256"};
constexpr std::array<std::string_view, 3> kBudgetKeys = {"axis", "source", "u_relative"};
constexpr std::size_t kMaxBudgetRows = 100;

// One JSON object under reading. The first thing wrong is kept; later getters then return defaults,
// so that a record is read top to bottom without a branch a line.
class ObjectReader {
 public:
  ObjectReader(const Json& object, std::string where, std::span<const std::string_view> keys,
               Status& status)
      : object_(object), where_(std::move(where)), status_(status) {
    if (!object.is_object()) {
      Wrong(Code::kJsonValue, "", "is no object { }");
      return;
    }
    for (const auto& item : object.items()) {
      if (std::find(keys.begin(), keys.end(), item.key()) != keys.end()) continue;
      const std::string near = NearestWord(item.key(), keys);
      Wrong(Code::kJsonUnknownKey, item.key(),
            near.empty() ? fmt::format("unknown key; known are {}", fmt::join(keys, ", "))
                         : fmt::format("unknown key; did you mean \"{}\"?", near));
    }
  }

  // nullptr when the key is missing or null.
  const Json* Find(const char* key) const {
    if (!object_.is_object()) return nullptr;
    const auto found = object_.find(key);
    return found == object_.end() || found->is_null() ? nullptr : &*found;
  }
  const Json* Need(const char* key) {
    const Json* value = Find(key);
    if (value == nullptr && object_.is_object()) {
      if (object_.contains(key))
        Wrong(Code::kJsonValue, key, "is null; this key needs a value");
      else
        Wrong(Code::kJsonMissingKey, key, "missing key; add it");
    }
    return value;
  }
  std::string Text(const char* key) {
    const Json* value = Find(key);
    if (value == nullptr) return "";
    if (!value->is_string()) {
      Wrong(Code::kJsonValue, key, "is no text; write it in quotes");
      return "";
    }
    return value->get<std::string>();
  }
  std::string Date(const char* key) {
    std::string text = Text(key);
    if (!text.empty() && !IsIsoDate(text)) {
      Wrong(Code::kJsonValue, key, fmt::format("\"{}\" is no date; write it as 2026-03-02", text));
    }
    return text;
  }
  std::optional<double> Number(const char* key, double least, double greatest) {
    const Json* value = Find(key);
    if (value == nullptr) return std::nullopt;
    return Number(*value, key, least, greatest);
  }
  std::optional<double> Number(const Json& value, const std::string& key, double least,
                               double greatest) {
    if (!value.is_number()) {
      Wrong(Code::kJsonValue, key, "is no number");
      return std::nullopt;
    }
    const double number = value.get<double>();
    if (!(number >= least && number <= greatest)) {
      Wrong(Code::kJsonValue, key,
            fmt::format("{} lies outside {} to {}", number, least, greatest));
      return std::nullopt;
    }
    return number;
  }
  std::optional<int> Integer(const Json& value, const std::string& key, int least, int greatest) {
    const auto number = Number(value, key, least, greatest);
    if (!number) return std::nullopt;
    if (*number != std::floor(*number)) {
      Wrong(Code::kJsonValue, key, fmt::format("{} is no whole number", *number));
      return std::nullopt;
    }
    return static_cast<int>(*number);
  }
  // Two entries, each a number or (where allowed) null.
  std::pair<std::optional<double>, std::optional<double>> Pair(const Json& value,
                                                               const std::string& key, double least,
                                                               double greatest, bool null_allowed) {
    if (!value.is_array() || value.size() != 2) {
      Wrong(Code::kJsonValue, key, "needs two entries, [x, y]");
      return {};
    }
    const auto entry = [&](std::size_t i) -> std::optional<double> {
      if (value[i].is_null() && null_allowed) return std::nullopt;
      return Number(value[i], fmt::format("{}[{}]", key, i), least, greatest);
    };
    auto first = entry(0);
    return {first, entry(1)};
  }

  void Wrong(Code code, const std::string& key, const std::string& what) {
    if (!status_) return;
    // where_ is "file" or "file: outer"; a key inside an object is named outer.key.
    const bool nested = where_.find(": ") != std::string::npos;
    const char* joint = key.empty() ? "" : nested ? "." : ": ";
    status_ = Fail(code, fmt::format("{}{}{}: {}", where_, joint, PlainText(key, 60), what));
  }

 private:
  const Json& object_;
  std::string where_;
  Status& status_;
};

// Line and column of a byte, counted from 1.
std::pair<std::size_t, std::size_t> Place(std::string_view text, std::size_t byte) {
  const std::string_view before = text.substr(0, std::min(byte, text.size()));
  const std::size_t line =
      1 + static_cast<std::size_t>(std::count(before.begin(), before.end(), '\n'));
  const std::size_t start = before.rfind('\n');
  return {line, before.size() - (start == std::string_view::npos ? 0 : start + 1)};
}

Result<Json> ParseJson(std::string_view text, const std::string& name) {
  // JSON lets a key stand twice and the last one win; in a hand-written record that hides a slip.
  std::vector<std::set<std::string>> seen;
  std::string twice;
  const auto watch = [&](int, Json::parse_event_t event, Json& parsed) {
    if (event == Json::parse_event_t::object_start) seen.emplace_back();
    if (event == Json::parse_event_t::object_end && !seen.empty()) seen.pop_back();
    if (event == Json::parse_event_t::key && !seen.empty() &&
        !seen.back().insert(parsed.get<std::string>()).second && twice.empty()) {
      twice = parsed.get<std::string>();
    }
    return true;
  };
  try {
    Json json = Json::parse(text, watch);
    if (!twice.empty()) {
      return Fail(Code::kJsonSyntax,
                  fmt::format("{}: key \"{}\" stands twice; keep one", name, twice));
    }
    return json;
  } catch (const Json::parse_error& error) {
    const auto place = Place(text, error.byte);
    return Fail(Code::kJsonSyntax,
                fmt::format("{}: line {}, column {}: not JSON; check commas, quotes "
                            "and brackets there",
                            name, place.first, place.second));
  } catch (const Json::exception&) {
    return Fail(Code::kJsonSyntax,
                fmt::format("{}: holds a number that is too large; check the digits", name));
  }
}

void ReadPitches(ObjectReader& top, CalibrationRecord& record) {
  if (const Json* size = top.Need("image_size_px")) {
    if (!size->is_array() || size->size() != 2) {
      top.Wrong(Code::kJsonValue, "image_size_px", "needs two entries, [width, height]");
    } else {
      record.image_width_px =
          top.Integer((*size)[0], "image_size_px[0]", 1, kMaxSidePx).value_or(0);
      record.image_height_px =
          top.Integer((*size)[1], "image_size_px[1]", 1, kMaxSidePx).value_or(0);
    }
  }
  if (const Json* pitch = top.Need("pixel_pitch_um")) {
    std::tie(record.pitch_x_um, record.pitch_y_um) =
        top.Pair(*pitch, "pixel_pitch_um", kMinPitchUm, kMaxPitchUm, true);
  }
  if (const Json* u = top.Find("pitch_u_um")) {
    std::tie(record.pitch_u_x_um, record.pitch_u_y_um) =
        top.Pair(*u, "pitch_u_um", 0.0, kMaxPitchUm, true);
  }
  record.shear = top.Number("shear", -kMaxShear, kMaxShear).value_or(0.0);
  record.shear_u = top.Number("shear_u", 0.0, kMaxShear);
  record.gamma = top.Number("gamma", kMinGamma, kMaxGamma);
  record.gamma_u = top.Number("gamma_u", 0.0, kMaxGamma);
  record.blur_px = top.Number("blur_px", 0.0, kMaxBlurPx);
  record.blur_u_px = top.Number("blur_u_px", 0.0, kMaxBlurPx);
}

void ReadEvidenceImages(ObjectReader& evidence, const std::string& name, CalibrationRecord& record,
                        Status& status) {
  const Json* images = evidence.Find("images");
  if (images == nullptr) return;
  if (!images->is_array() || images->size() > kMaxEvidenceImages) {
    evidence.Wrong(Code::kJsonValue, "images",
                   fmt::format("is no list of up to {}", kMaxEvidenceImages));
    return;
  }
  for (std::size_t i = 0; i < images->size(); ++i) {
    ObjectReader reader((*images)[i], fmt::format("{}: evidence.images[{}]", name, i),
                        kEvidenceImageKeys, status);
    reader.Need("sha256");
    record.evidence_images.push_back({reader.Text("file"), reader.Text("sha256")});
  }
}

void ReadParts(ObjectReader& top, const std::string& name, CalibrationRecord& record,
               Status& status) {
  record.distortion_centre = {0.5 * (record.image_width_px - 1),
                              0.5 * (record.image_height_px - 1)};
  if (const Json* part = top.Find("distortion")) {
    ObjectReader reader(*part, name + ": distortion", kDistortionKeys, status);
    record.k1_per_px2 = reader.Number("k1_per_px2", -1.0, 1.0).value_or(0.0);
    record.k1_u_per_px2 = reader.Number("k1_u_per_px2", 0.0, 1.0);
    if (const Json* centre = reader.Find("centre_px")) {
      const auto at = reader.Pair(*centre, "centre_px", -1.0 * kMaxSidePx, kMaxSidePx, false);
      record.distortion_centre = {at.first.value_or(0.0), at.second.value_or(0.0)};
    }
  }
  if (const Json* part = top.Find("artefact")) {
    ObjectReader reader(*part, name + ": artefact", kArtefactKeys, status);
    record.artefact_kind = reader.Text("kind");
    record.artefact_serial = reader.Text("serial");
    record.artefact_certificate = reader.Text("certificate");
    record.artefact_certificate_due = reader.Date("certificate_due");
    record.artefact_u_um = reader.Number("u_um", 0.0, 1e6);
    record.artefact_division_um = reader.Number("division_um", 0.0, 1e6);
    record.artefact_temperature_c = reader.Number("temperature_c", -50.0, 150.0);
    if (!record.artefact_kind.empty() && std::find(kArtefactKinds.begin(), kArtefactKinds.end(),
                                                   record.artefact_kind) == kArtefactKinds.end()) {
      reader.Wrong(Code::kJsonValue, "kind",
                   fmt::format("\"{}\" is no kind of artefact; use {}", record.artefact_kind,
                               fmt::join(kArtefactKinds, ", ")));
    }
  }
  if (const Json* part = top.Find("evidence")) {
    ObjectReader reader(*part, name + ": evidence", kEvidenceKeys, status);
    record.evidence_image_sha256 = reader.Text("image_sha256");
    if (const Json* lines = reader.Find("lines")) {
      record.evidence_lines = reader.Integer(*lines, "lines", 0, 1'000'000);
    }
    record.evidence_residual_rms_um = reader.Number("residual_rms_um", 0.0, 1e6);
    ReadEvidenceImages(reader, name, record, status);
  }
}

void ReadExtras(ObjectReader& top, const std::string& name, CalibrationRecord& record,
                Status& status) {
  if (const Json* part = top.Find("flat_field")) {
    ObjectReader reader(*part, name + ": flat_field", kFlatFieldKeys, status);
    reader.Need("image");
    reader.Need("sha256");
    record.flat_field_image = reader.Text("image");
    record.flat_field_sha256 = reader.Text("sha256");
    const std::string& hash = record.flat_field_sha256;
    if (hash.size() != 64 || hash.find_first_not_of("0123456789abcdef") != std::string::npos) {
      reader.Wrong(Code::kJsonValue, "sha256", "is no SHA-256 of 64 lower-case hexadecimal digits");
    }
    // A record travels in a folder with its files; a path could name anything.
    const std::string& image = record.flat_field_image;
    if (image.empty() || image.find('/') != std::string::npos || image == "." || image == ".." ||
        image.find('\0') != std::string::npos) {
      reader.Wrong(Code::kJsonValue, "image",
                   "is no plain file name; name a file beside the record");
    }
  }
  const Json* rows = top.Find("budget");
  if (rows == nullptr) return;
  if (!rows->is_array() || rows->size() > kMaxBudgetRows) {
    top.Wrong(Code::kJsonValue, "budget", fmt::format("is no list of up to {}", kMaxBudgetRows));
    return;
  }
  for (std::size_t i = 0; i < rows->size(); ++i) {
    ObjectReader reader((*rows)[i], fmt::format("{}: budget[{}]", name, i), kBudgetKeys, status);
    reader.Need("source");
    CalibrationRecord::BudgetRow row;
    row.axis = reader.Text("axis");
    row.source = reader.Text("source");
    if (row.axis != "x" && row.axis != "y")
      reader.Wrong(Code::kJsonValue, "axis", "is neither \"x\" nor \"y\"");
    reader.Need("u_relative");
    row.u_relative = reader.Number("u_relative", 0.0, 1.0).value_or(0.0);
    record.budget.push_back(row);
  }
}

// Rules between keys.
Status CheckConsistent(const CalibrationRecord& record, const std::string& name) {
  const auto invalid = [&](const std::string& what) {
    return Fail(Code::kCalibrationInvalid, fmt::format("{}: {}", name, what));
  };
  if (!record.pitch_x_um && !record.pitch_y_um) {
    return invalid("pixel_pitch_um: both entries are null; a record needs at least one pitch");
  }
  const auto exceeds = [](const std::optional<double>& u, const std::optional<double>& pitch) {
    return u && pitch && *u >= *pitch;
  };
  if (!record.artefact_certificate_due.empty() && !record.made.empty() &&
      record.artefact_certificate_due < record.made) {
    return invalid("artefact.certificate_due: lies before the record was made");
  }
  if (exceeds(record.pitch_u_x_um, record.pitch_x_um) ||
      exceeds(record.pitch_u_y_um, record.pitch_y_um)) {
    return invalid("pitch_u_um: as large as the pitch itself; give it in micrometres per pixel");
  }
  if (!record.made.empty() && !record.due.empty() && record.due < record.made) {
    return invalid(fmt::format("due: {} lies before made, {}", record.due, record.made));
  }
  double corner = 0;
  for (double x : {-0.5, record.image_width_px - 0.5}) {
    for (double y : {-0.5, record.image_height_px - 0.5}) {
      corner = std::max(corner, Distance(PointPx{x, y}, record.distortion_centre));
    }
  }
  const double share = std::abs(record.k1_per_px2) * corner * corner;
  if (share > kMaxCornerDistortion) {
    return invalid(
        fmt::format("distortion.k1_per_px2: shifts an image corner by {:.3g} %, more than the "
                    "{:.3g} % that a microscope could show; check the power of ten",
                    100 * share, 100 * kMaxCornerDistortion));
  }
  return {};
}

}  // namespace

Result<CalibrationRecord> ParseCalibration(std::string_view text, const std::string& name) {
  auto json = ParseJson(text, name);
  if (!json) return tl::unexpected(json.error());
  Status status;
  CalibrationRecord record;
  ObjectReader top(*json, name, kKeys, status);
  if (const Json* format = top.Need("format")) {
    if (*format != "cutface/calibration") {
      top.Wrong(Code::kJsonValue, "format",
                "is not \"cutface/calibration\"; name a calibration record");
    }
  }
  if (const Json* version = top.Need("version")) {
    if (*version != 1)
      top.Wrong(Code::kJsonValue, "version", "is not 1, the version that is read here");
  }
  top.Need("id");
  record.id = top.Text("id");
  if (record.id.empty()) top.Wrong(Code::kJsonValue, "id", "is empty; a record needs an id");
  record.objective = top.Text("objective");
  record.microscope = top.Text("microscope");
  record.zoom_stop = top.Text("zoom_stop");
  record.binning = top.Text("binning");
  ReadPitches(top, record);
  ReadParts(top, name, record, status);
  ReadExtras(top, name, record, status);
  record.made = top.Date("made");
  record.due = top.Date("due");
  record.by = top.Text("by");
  record.supersedes = top.Text("supersedes");
  if (status) status = CheckConsistent(record, name);
  if (!status) return tl::unexpected(status.error());
  record.sha256 = Sha256Hex(text);
  record.file_name = name;
  return record;
}

Result<CalibrationRecord> ReadCalibration(const std::string& path) {
  auto text = ReadTextFile(path);
  if (!text) return tl::unexpected(text.error());
  return ParseCalibration(*text, path.substr(path.rfind('/') + 1));
}

std::string CalibrationToJson(const CalibrationRecord& record) {
  using Ordered = nlohmann::ordered_json;
  const auto number = [](const std::optional<double>& value) {
    return value ? Ordered(*value) : Ordered(nullptr);
  };
  const auto text = [](const std::string& value) {
    return value.empty() ? Ordered(nullptr) : Ordered(value);
  };
  Ordered json;
  json["format"] = "cutface/calibration";
  json["version"] = 1;
  json["id"] = record.id;
  json["objective"] = text(record.objective);
  const auto if_text = [](Ordered& into, const char* key, const std::string& value) {
    if (!value.empty()) into[key] = value;
  };
  const auto if_number = [](Ordered& into, const char* key, const std::optional<double>& value) {
    if (value) into[key] = *value;
  };
  if_text(json, "microscope", record.microscope);
  if_text(json, "zoom_stop", record.zoom_stop);
  if_text(json, "binning", record.binning);
  json["image_size_px"] = {record.image_width_px, record.image_height_px};
  json["pixel_pitch_um"] = {number(record.pitch_x_um), number(record.pitch_y_um)};
  json["pitch_u_um"] = {number(record.pitch_u_x_um), number(record.pitch_u_y_um)};
  json["shear"] = record.shear;
  if_number(json, "shear_u", record.shear_u);
  json["distortion"]["k1_per_px2"] = record.k1_per_px2;
  if_number(json["distortion"], "k1_u_per_px2", record.k1_u_per_px2);
  json["distortion"]["centre_px"] = {record.distortion_centre.x, record.distortion_centre.y};
  json["gamma"] = number(record.gamma);
  if_number(json, "gamma_u", record.gamma_u);
  if_number(json, "blur_px", record.blur_px);
  if_number(json, "blur_u_px", record.blur_u_px);
  json["made"] = text(record.made);
  json["due"] = text(record.due);
  json["by"] = text(record.by);
  json["supersedes"] = text(record.supersedes);
  json["artefact"]["kind"] = text(record.artefact_kind);
  json["artefact"]["serial"] = text(record.artefact_serial);
  json["artefact"]["certificate"] = text(record.artefact_certificate);
  if (!record.artefact_certificate_due.empty())
    json["artefact"]["certificate_due"] = record.artefact_certificate_due;
  json["artefact"]["u_um"] = number(record.artefact_u_um);
  if_number(json["artefact"], "division_um", record.artefact_division_um);
  if_number(json["artefact"], "temperature_c", record.artefact_temperature_c);
  json["evidence"]["image_sha256"] = text(record.evidence_image_sha256);
  json["evidence"]["lines"] =
      record.evidence_lines ? Ordered(*record.evidence_lines) : Ordered(nullptr);
  json["evidence"]["residual_rms_um"] = number(record.evidence_residual_rms_um);
  for (const CalibrationRecord::EvidenceImage& image : record.evidence_images) {
    Ordered entry;
    entry["file"] = image.file;
    entry["sha256"] = image.sha256;
    json["evidence"]["images"].push_back(entry);
  }
  if (!record.flat_field_image.empty()) {
    json["flat_field"]["image"] = record.flat_field_image;
    json["flat_field"]["sha256"] = record.flat_field_sha256;
  }
  for (const CalibrationRecord::BudgetRow& row : record.budget) {
    Ordered entry;
    entry["axis"] = row.axis;
    entry["source"] = row.source;
    entry["u_relative"] = row.u_relative;
    json["budget"].push_back(entry);
  }
  return json.dump(2, ' ', false, Ordered::error_handler_t::replace) + "\n";
}

}  // namespace cutface
