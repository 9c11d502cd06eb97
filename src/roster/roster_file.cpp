// run.json: writing and reading.
#include <fmt/format.h>

#include <type_traits>

#include "cutface/roster.h"
#include "roster/fields.h"

namespace cutface {
namespace {

using roster::Fields;
using roster::Json;
using roster::Reading;

constexpr std::string_view kRosterFormat = "cutface/run";

template <class Enum>
std::optional<Enum> EnumOfWord(std::string_view word, std::string_view (*name)(Enum), Enum last) {
  for (int i = 0; i <= static_cast<int>(last); ++i) {
    if (name(static_cast<Enum>(i)) == word) return static_cast<Enum>(i);
  }
  return std::nullopt;
}

Json Sample(const SampleIdentity& s) {
  Json out = Json::object();
  VisitFields(s, [&](const char* key, const auto& field) {
    if constexpr (std::is_same_v<decltype(field), const std::optional<double>&>)
      out[key] = field ? Json(*field) : Json(nullptr);
    else
      out[key] = field;
  });
  return out;
}

Json Face(const FaceEntry& f) {
  Json out = Json::object();
  out["image"] = f.image;
  out["image_sha256"] = f.image_sha256;
  out["part"] = f.part;
  out["revision"] = f.revision;
  out["plane"] = f.plane;
  out["sample"] = Sample(f.sample);
  out["factors"] = Json::object();
  for (const auto& [name, level] : f.factors) out["factors"][name] = level;
  out["operator"] = f.operator_name;
  out["trial"] = f.trial;
  out["state"] = FaceStateName(f.state);
  if (!f.code.empty()) out["code"] = f.code;
  if (!f.reason.empty()) out["reason"] = f.reason;
  if (!f.proposed_planes.empty()) out["proposed_planes"] = f.proposed_planes;
  out["result_file"] = f.result_file;
  out["result_sha256"] = f.result_sha256;
  out["design_sha256"] = f.design_sha256;
  out["calibration_sha256"] = f.calibration_sha256;
  out["verdict"] = VerdictName(f.verdict);
  if (f.repeat != RepeatKind::kNone)
    out["repeats"] = Json{{"kind", RepeatKindName(f.repeat)}, {"image", f.repeat_of}};
  return out;
}

Json Files(const std::vector<RosterFile>& files) {
  Json out = Json::array();
  for (const RosterFile& f : files)
    out.push_back(Json{{"file", f.file}, {"sha256", f.sha256}, {"id", f.id}});
  return out;
}

SampleIdentity ReadSample(const Fields& face, Reading& reading) {
  SampleIdentity s;
  const Json* found = face.Find("sample");
  if (found == nullptr) return s;
  std::vector<std::string_view> known;
  VisitFields(s, [&](const char* key, const auto&) { known.emplace_back(key); });
  const Fields in(*found, face.Path("sample"), known, reading);
  VisitFields(s, [&](const char* key, auto& field) {
    if constexpr (std::is_same_v<decltype(field), std::string&>)
      field = in.Text(key);
    else if constexpr (std::is_same_v<decltype(field), bool&>)
      field = in.Flag(key);
    else
      field = in.Number(key);
  });
  return s;
}

void ReadRepeat(const Fields& face, FaceEntry& f, Reading& reading) {
  const Json* found = face.Find("repeats");
  if (found == nullptr) return;
  const Fields in(*found, face.Path("repeats"), {"kind", "image"}, reading);
  const auto kind = EnumOfWord(in.Needed("kind"), RepeatKindName, RepeatKind::kRecut);
  if (!kind) in.Wrong("kind", "must be \"re-image\" or \"recut\"");
  f.repeat = kind.value_or(RepeatKind::kNone);
  f.repeat_of = in.Text("image");
}

FaceEntry ReadFace(const Json& json, const std::string& path, Reading& reading) {
  const Fields in(json, path,
                  {"image", "image_sha256", "part", "revision", "plane", "sample", "factors",
                   "operator", "trial", "state", "code", "reason", "proposed_planes", "result_file",
                   "result_sha256", "design_sha256", "calibration_sha256", "verdict", "repeats"},
                  reading);
  FaceEntry f;
  f.image = in.Needed("image");
  f.image_sha256 = in.Text("image_sha256");
  f.part = in.Text("part");
  f.revision = in.Text("revision");
  f.plane = in.Text("plane");
  f.sample = ReadSample(in, reading);
  if (const Json* factors = in.Find("factors")) {
    if (!factors->is_object()) in.Wrong("factors", "must be an object {...}");
    for (const auto& item : factors->items()) {
      if (item.value().is_string()) {
        f.factors[item.key()] = item.value().get<std::string>();
      } else {
        in.Wrong("factors", "must hold text in quotes");
      }
    }
  }
  f.operator_name = in.Text("operator");
  f.trial = in.Text("trial");
  const auto state = EnumOfWord(in.Needed("state"), FaceStateName, FaceState::kWaiting);
  if (!state) in.Wrong("state", "must be \"measured\", \"rejected\" or \"waiting\"");
  f.state = state.value_or(FaceState::kWaiting);
  f.code = in.Text("code");
  f.reason = in.Text("reason");
  f.proposed_planes = in.Texts("proposed_planes");
  f.result_file = in.Text("result_file");
  f.result_sha256 = in.Text("result_sha256");
  f.design_sha256 = in.Text("design_sha256");
  f.calibration_sha256 = in.Text("calibration_sha256");
  const auto verdict = EnumOfWord(in.Needed("verdict"), VerdictName, Verdict::kNotJudged);
  if (!verdict) in.Wrong("verdict", "is no verdict of this format");
  f.verdict = verdict.value_or(Verdict::kNotJudged);
  ReadRepeat(in, f, reading);
  if (f.state == FaceState::kMeasured && f.result_sha256.empty())
    in.Wrong("result_sha256", "a measured face must name its result");
  return f;
}

std::vector<RosterFile> ReadFiles(const Fields& in, std::string_view key, Reading& reading) {
  std::vector<RosterFile> files;
  for (const auto& [element, path] : in.List(key)) {
    const Fields one(*element, path, {"file", "sha256", "id"}, reading);
    files.push_back({one.Text("file"), one.Text("sha256"), one.Text("id")});
  }
  return files;
}

}  // namespace

std::string_view FaceStateName(FaceState state) {
  switch (state) {
    case FaceState::kMeasured:
      return "measured";
    case FaceState::kRejected:
      return "rejected";
    case FaceState::kWaiting:
      return "waiting";
  }
  return "waiting";
}

std::string_view RepeatKindName(RepeatKind kind) {
  switch (kind) {
    case RepeatKind::kNone:
      return "none";
    case RepeatKind::kReimage:
      return "re-image";
    case RepeatKind::kRecut:
      return "recut";
  }
  return "none";
}

std::string FaceToJson(const FaceEntry& face) {
  return Face(face).dump(-1, ' ', false, Json::error_handler_t::replace);
}

std::string RosterToJson(const Roster& roster) {
  Json out = Json::object();
  out["format"] = kRosterFormat;
  out["version"] = 1;
  out["software"] = roster.software;
  out["started"] = roster.started;
  out["finished"] = roster.finished.empty() ? Json(nullptr) : Json(roster.finished);
  out["folder"] = roster.folder;
  out["inspector"] = roster.inspector;
  out["designs"] = Files(roster.designs);
  out["calibrations"] = Files(roster.calibrations);
  out["faces"] = Json::array();
  for (const FaceEntry& face : roster.faces) out["faces"].push_back(Face(face));
  out["warnings"] = roster.warnings;
  return roster::Dump(out);
}

Result<Roster> ParseRoster(std::string_view text, const std::string& name) {
  auto json = roster::ParseFormat(text, name, kRosterFormat);
  if (!json) return tl::unexpected(json.error());
  Reading reading;
  const Fields in(*json, "",
                  {"format", "version", "software", "started", "finished", "folder", "inspector",
                   "designs", "calibrations", "faces", "warnings"},
                  reading);
  Roster roster;
  roster.software = in.Text("software");
  roster.started = in.Text("started");
  roster.finished = in.Text("finished");
  roster.folder = in.Text("folder");
  roster.inspector = in.Text("inspector");
  roster.designs = ReadFiles(in, "designs", reading);
  roster.calibrations = ReadFiles(in, "calibrations", reading);
  if (in.Find("faces") == nullptr)
    reading.Add(Code::kJsonMissingKey, "", "key \"faces\" is missing");
  for (const auto& [element, path] : in.List("faces"))
    roster.faces.push_back(ReadFace(*element, path, reading));
  roster.warnings = in.Texts("warnings");
  if (reading.first) return Fail(reading.first->code, name + ": " + reading.first->message);
  roster.warnings.insert(roster.warnings.end(), reading.warnings.begin(), reading.warnings.end());
  return roster;
}

Result<Roster> ReadRoster(const std::string& path) {
  auto text = ReadTextFile(path, std::uint64_t{1} << 30);
  if (!text) return tl::unexpected(text.error());
  return ParseRoster(*text, path);
}

Status WriteRoster(const std::string& path, const Roster& roster) {
  return WriteWhole(path, RosterToJson(roster));
}

}  // namespace cutface
