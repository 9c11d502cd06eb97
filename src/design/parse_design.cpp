// The drawing file as a whole: head, site settings, sections and what they take over by `like`.
#include <fmt/format.h>

#include <algorithm>

#include "cutface/quantity.h"
#include "design/parse.h"

namespace cutface {
namespace {

constexpr std::uint64_t kMostBytes = std::uint64_t{4} << 20;
constexpr std::size_t kMostSections = 200;
constexpr int kMostLikeSteps = 16;

void ReadHead(JsonObject& top, Design& design, JsonTrouble& trouble) {
  const std::string format = top.NeedText("format");
  if (!trouble.any() && format != "cutface/design") {
    trouble.Add(
        Code::kJsonValue, "format",
        fmt::format("must be \"cutface/design\", is {}; is this a drawing?", Quoted(format)));
  }
  if (top.Need("version") != nullptr) {
    const std::optional<double> version = top.Number("version");
    if (version && *version != 1) {
      trouble.Add(Code::kJsonValue, "version",
                  fmt::format("must be 1, is {}; this file needs a newer program", *version));
    }
  }
  top.Need("units");
  const std::string units = top.Word("units", {"mm", "in", "um"}, "mm");
  design.units = ParseLengthUnit(units).value_or(LengthUnit::kMillimetre);
  JsonObject part(top.Need("part"), "part", {"number", "revision", "title"}, trouble);
  if (part.value() != nullptr) {
    design.part_number = part.NeedText("number");
    design.revision = part.Text("revision");
    design.title = part.Text("title");
  }
}

void ReadPreparation(JsonObject& top, Design& design, JsonTrouble& trouble) {
  JsonObject map(top.Find("preparation_u"), "preparation_u", {}, trouble);
  if (map.value() == nullptr) return;
  std::vector<std::string_view> lengths;
  for (const QuantityRow& row : QuantityTable()) {
    if (row.unit == "um" && std::find(lengths.begin(), lengths.end(), row.word) == lengths.end()) {
      lengths.push_back(row.word);
    }
  }
  for (const auto& item : map.value()->items()) {
    if (std::find(lengths.begin(), lengths.end(), item.key()) == lengths.end()) {
      trouble.Add(Code::kJsonValue, map.path(),
                  fmt::format("{} is no length that is measured{}", Quoted(item.key()),
                              Suggestion(item.key(), lengths)));
    }
    JsonObject entry(&item.value(), map.Path(item.key()), {"um", "study"}, trouble);
    PreparationU read;
    if (entry.value() != nullptr && entry.Need("um") != nullptr) {
      read.um = entry.Within("um", 0, 1e4).value_or(0);
    }
    read.study = entry.Text("study");
    design.preparation_u[item.key()] = read;
  }
}

void ReadMaterials(JsonObject& top, Design& design, JsonTrouble& trouble) {
  JsonObject map(top.Find("materials"), "materials", {}, trouble);
  if (map.value() == nullptr) return;
  for (const auto& item : map.value()->items()) {
    JsonObject entry(&item.value(), map.Path(item.key()),
                     {"modulus_mpa", "poisson", "strength_mpa"}, trouble);
    MaterialDesign read;
    read.modulus_mpa = entry.Positive("modulus_mpa");
    read.strength_mpa = entry.Positive("strength_mpa");
    read.poisson = entry.Within("poisson", 0, 0.5);
    design.materials[item.key()] = read;
  }
}

void ReadLimits(JsonObject& top, Design& design, JsonTrouble& trouble) {
  JsonObject object(
      top.Find("limits"), "limits",
      {"flow_ratio", "inscribed_ratio", "area_ratio", "thin_share", "off_centre_share"}, trouble);
  FindingLimits& limits = design.limits;
  const auto share = [&object](const char* key, double& value) {
    value = object.Within(key, 0, 1).value_or(value);
  };
  share("flow_ratio", limits.flow_ratio_least);
  share("inscribed_ratio", limits.inscribed_ratio_least);
  share("area_ratio", limits.area_ratio_least);
  share("thin_share", limits.thin_share);
  share("off_centre_share", limits.off_centre_share);
}

void ReadSettings(JsonObject& top, Design& design, const ParseContext& context) {
  JsonTrouble& trouble = context.trouble;
  if (top.Has("decision_rule")) {
    JsonObject rule(top.Find("decision_rule"), "decision_rule", {"kind", "conformance"}, trouble);
    const bool simple = rule.Word("kind", {"guarded", "simple"}, "guarded") == "simple";
    design.decision_rule.kind = simple ? DecisionRule::Kind::kSimple : DecisionRule::Kind::kGuarded;
    design.decision_rule.conformance = rule.Within("conformance", 0.5, 0.9999).value_or(0.95);
  }
  design.edge_cutoff_um = top.Within("edge_cutoff_um", 0, 1000).value_or(design.edge_cutoff_um);
  ReadPreparation(top, design, trouble);
  ReadMaterials(top, design, trouble);
  if (top.Has("method")) {
    JsonObject method(top.Find("method"), "method", {"locked", "image_kind"}, trouble);
    design.method_locked = method.Flag("locked", false);
    design.image_kind =
        method.Word("image_kind", {"single", "stitched", "stacked", "crop"}, design.image_kind);
  }
  if (top.Has("limits")) ReadLimits(top, design, trouble);
  if (top.Has("pins")) {
    JsonObject pins(top.Find("pins"), "pins", {"step", "clearance", "class", "sign"}, trouble);
    if (const auto step = pins.Positive("step")) design.pins.step_um = context.Um(*step);
    if (const auto gap = pins.Within("clearance", 0, 1e6)) {
      design.pins.clearance_um = context.Um(*gap);
    }
    if (pins.Has("class")) design.pins.grade = pins.Word("class", {"XX", "X", "Y", "Z", "ZZ"}, "");
    if (pins.Has("sign"))
      design.pins.is_plus = pins.Word("sign", {"plus", "minus"}, "plus") == "plus";
  }
}

// Takes over what the section that `like` names has: every key of its own replaces the inherited
// one as a whole, null takes an inherited key away.
class LikeResolver {
 public:
  LikeResolver(const Json& sections, JsonTrouble& trouble)
      : sections_(sections), trouble_(trouble) {}

  Json Resolve(const std::string& name, int steps = 0) {
    const Json& own = sections_.at(name);
    if (!own.is_object()) return own;
    Json merged = Json::object();
    if (own.contains("like")) merged = Base(own, name, steps);
    if (!merged.is_object()) return merged;
    for (const auto& item : own.items()) {
      if (item.key() == "like") continue;
      if (item.value().is_null() && IsKey(item.key())) {
        merged.erase(item.key());
      } else {
        merged[item.key()] = item.value();
      }
    }
    return merged;
  }

 private:
  // A mistyped key must not vanish because its value is null.
  static bool IsKey(std::string_view key) {
    const std::vector<std::string_view> keys = SectionKeys();
    return std::find(keys.begin(), keys.end(), key) != keys.end();
  }

  Json Base(const Json& own, const std::string& name, int steps) {
    const std::string path = PathJoin(PathJoin("sections", name), "like");
    const std::optional<std::string> base_name = AsText(own.at("like"), path, trouble_);
    if (!base_name) return own;
    if (!sections_.contains(*base_name)) {
      std::vector<std::string_view> known;
      for (const auto& item : sections_.items()) known.push_back(item.key());
      trouble_.Add(
          Code::kDesignInvalid, path,
          fmt::format("no section {}{}", Quoted(*base_name), Suggestion(*base_name, known)));
      return own;
    }
    if (*base_name == name || steps >= kMostLikeSteps) {
      trouble_.Add(Code::kDesignInvalid, path,
                   fmt::format("sections refer to each other in a ring, or over more than {} steps",
                               kMostLikeSteps));
      return own;
    }
    return Resolve(*base_name, steps + 1);
  }

  const Json& sections_;
  JsonTrouble& trouble_;
};

void ReadSections(JsonObject& top, Design& design, const ParseContext& context) {
  JsonTrouble& trouble = context.trouble;
  JsonObject map(top.Need("sections"), "sections", {}, trouble);
  if (map.value() == nullptr) return;
  if (map.value()->empty() || map.value()->size() > kMostSections) {
    return trouble.Add(
        Code::kJsonValue, "sections",
        fmt::format("must hold 1 to {} sections, holds {}", kMostSections, map.value()->size()));
  }
  LikeResolver resolver(*map.value(), trouble);
  for (const auto& item : map.value()->items()) {
    if (item.key().empty()) trouble.Add(Code::kDesignInvalid, "sections", "a name is empty");
    // The section's own keys first: their spelling is judged where it stands.
    const Json resolved = resolver.Resolve(item.key());
    if (trouble.any()) return;
    design.sections.push_back(
        ReadSection(item.key(), resolved, PathJoin("sections", item.key()), context));
    if (trouble.any()) return;
  }
}

}  // namespace

const LumenDesign* SectionDesign::FindLumen(std::string_view lumen) const {
  for (const LumenDesign& candidate : lumens) {
    if (candidate.name == lumen) return &candidate;
  }
  return nullptr;
}

double PinToleranceUm(std::string_view grade, double diameter_um) {
  constexpr double kInch = 25400;
  struct Row {
    std::string_view grade;
    double small_in, large_in;
  };
  constexpr Row kRows[] = {{"XX", 0.00002, 0.00003},
                           {"X", 0.00004, 0.00006},
                           {"Y", 0.00007, 0.00009},
                           {"Z", 0.0001, 0.00012},
                           {"ZZ", 0.0002, 0.00024}};
  for (const Row& row : kRows) {
    if (row.grade == grade)
      return kInch * (diameter_um <= 0.825 * kInch ? row.small_in : row.large_in);
  }
  return 0;
}

const SectionDesign* Design::FindSection(std::string_view name) const {
  for (const SectionDesign& section : sections) {
    if (section.name == name) return &section;
  }
  return nullptr;
}

Result<Design> ParseDesign(std::string_view text, const std::string& name) {
  const auto json = ParseJsonText(text, name);
  if (!json) return tl::unexpected(json.error());
  JsonTrouble trouble;
  JsonObject top(&*json, "",
                 {"format", "version", "units", "part", "decision_rule", "edge_cutoff_um",
                  "preparation_u", "materials", "method", "limits", "pins", "sections"},
                 trouble);
  Design design;
  ReadHead(top, design, trouble);
  const ParseContext context{UmPer(design.units), trouble};
  if (!trouble.any()) ReadSettings(top, design, context);
  if (!trouble.any()) ReadSections(top, design, context);
  if (trouble.any()) return tl::unexpected(trouble.FirstIn(name));
  design.sha256 = Sha256Hex(text);
  design.file_name = name;
  return design;
}

Result<Design> ReadDesign(const std::string& path) {
  const auto text = ReadTextFile(path, kMostBytes);
  if (!text) return tl::unexpected(text.error());
  return ParseDesign(*text, path.substr(path.find_last_of('/') + 1));
}

}  // namespace cutface
