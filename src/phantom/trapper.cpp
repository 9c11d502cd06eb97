#include "phantom/trapper.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "phantom/built_families.h"
#include "phantom/shapes.h"

namespace cutface::phantom {
namespace {

double SizeOf(const ContourPx& contour) { return 2 * std::sqrt(std::abs(AreaOf(contour)) / kPi); }

}  // namespace

Trapper::Trapper(PhantomFace& face, std::uint64_t seed)
    : face_(face),
      scene_(face.scene),
      truth_(TrapJson::parse(face.truth_json)),
      design_(TrapJson::parse(face.design_json)),
      record_(TrapJson::parse(face.calibration_json)),
      random_(seed ^ 0x9e3779b97f4a7c15u) {}

void Trapper::TakeBuilt(const Altered& altered) {
  built_ = true;
  altered_ = altered;
  if (altered.Any()) {
    truth_["lacks"] = {
        {"lumen", altered.lumen}, {"liner", altered.liner}, {"layer", altered.layer}};
  }
  if (!altered.lumen.empty()) {
    truth_["lumens"][altered.lumen] = {
        {"state", "not found"}, {"merged_with", TrapJson::array()}, {"whole", true}};
  }
}

bool Trapper::Spring(std::string_view trap) {
  truth_["trap"] = trap;
  if (trap == "decoy holes") return AddDecoys();
  if (trap == "second part") return AddSecondPart();
  if (trap == "body-toned resin") return FillUnseen();
  if (trap == "missing lumen") return altered_.Any() || DropLumen();
  if (trap == "swapped lumens") return SwapLumens() || (!built_ && ReviseDesign());
  if (trap == "wrong plane") return TakeOtherDesign();
  if (trap == "wrong revision") return ReviseDesign();
  if (trap == "mirrored") return Mirror();
  if (trap == "wrong scale") return TakeOtherScale();
  if (trap == "wire layer left out" || trap == "liner left out") return altered_.Any();
  if (trap == "other number of wires") return CountOtherWires();
  return false;
}

// Rows of what the part lacks have no true value and stay as drawn.
bool Trapper::OfTheLacking(const TrapJson& of) const {
  return std::any_of(of.begin(), of.end(), [&](const TrapJson& name) {
    const std::string word = name;
    const bool lumen =
        !altered_.lumen.empty() && (word == altered_.lumen || word == altered_.lumen + "/liner");
    return lumen || (!altered_.liner.empty() && word == altered_.liner + "/liner");
  });
}

void Trapper::MakeRowsFit() {
  const double um_per_px = truth_["pitch_um"], units_per_um = 1e-3;  // these drawings are in mm
  TrapJson rows = TrapJson::array();
  for (TrapJson row : Plane()["characteristics"]) {
    if (!row.contains("of") || !row.contains("quantity")) continue;
    const TrapJson of = row["of"].is_array() ? row["of"] : TrapJson::array({row["of"]});
    if (OfTheLacking(of)) rows.push_back(row);
    for (const TrapJson& q : truth_["quantities"]) {
      if (q["quantity"] != row["quantity"] || q["of"] != of || !q.contains("value_px")) continue;
      if (!q["value_px"].is_number() || row["quantity"] == "area") continue;
      const double value = q["value_px"].get<double>() * um_per_px * units_per_um;
      const auto rounded = [](double v) { return std::round(v * 1e4) / 1e4; };
      if (row.contains("nominal")) row["nominal"] = rounded(value);
      if (row.contains("min")) row["min"] = rounded(0.85 * value);
      if (row.contains("max")) row["max"] = rounded(1.15 * value);
      rows.push_back(row);
      break;
    }
  }
  Plane()["characteristics"] = rows;
  truth_["limits_broken"] = TrapJson::array();
}

void Trapper::Finish(const std::string& set, std::uint64_t seed) {
  const std::string name = fmt::format("{}-{}", set, seed);
  truth_["set"] = set;
  truth_["seed"] = seed;
  truth_["image"] = name + ".png";
  truth_["design"] = name + ".design.json";
  truth_["calibration"] = name + ".calibration.json";
  record_["id"] = name;
  face_.name = name;
  face_.truth_json = truth_.dump(1) + "\n";
  face_.design_json = design_.dump(1) + "\n";
  face_.calibration_json = record_.dump(1) + "\n";
}

std::size_t Trapper::SomeLumen() {
  return static_cast<std::size_t>(random_.Integer(0, static_cast<int>(scene_.lumens.size()) - 1));
}

// The last of the body's tones that holds the bore.
double Trapper::ToneAround(const PhantomLumen& lumen) const {
  double tone = scene_.body_tone;
  for (const PhantomPatch& inlay : scene_.inlays) {
    if (Inside(inlay.contour, lumen.contour[0])) tone = inlay.tone;
  }
  return tone;
}

// Dark (or bright) round holes in the potting, like lumens.
bool Trapper::AddDecoys() {
  const int wanted = random_.Integer(2, 6);
  int made = 0;
  for (int tries = 0; tries < 400 && made < wanted && !scene_.lumens.empty(); ++tries) {
    const int at = random_.Integer(0, static_cast<int>(scene_.lumens.size()) - 1);
    const PhantomLumen& like = scene_.lumens[static_cast<std::size_t>(at)];
    const double size = SizeOf(like.contour) * random_.Uniform(0.5, 1.1);
    const PointPx middle{random_.Uniform(0.6 * size, scene_.width_px - 1 - 0.6 * size),
                         random_.Uniform(0.6 * size, scene_.height_px - 1 - 0.6 * size)};
    const std::span<const PointPx> outline(scene_.outline);
    const bool apart =
        !Contains(outline, middle) && LeastDistance(middle, outline).distance > 0.55 * size + 6;
    const bool free = std::none_of(
        scene_.effects.specks.begin(), scene_.effects.specks.end(), [&](const PhantomPatch& p) {
          return Distance(middle, Centroid(std::span<const PointPx>(p.contour))) <
                 0.6 * (size + p.size_px) + 6;
        });
    if (!apart || !free) continue;
    PhantomPatch hole;
    hole.size_px = size;
    hole.tone = like.tone;
    const double longer = random_.Uniform(1, 1.08);
    for (int i = 0; i < 360; ++i) {
      const double t = 2 * kPi * i / 360;
      hole.contour.push_back({middle.x + 0.5 * size * longer * std::cos(t),
                              middle.y + 0.5 * size / longer * std::sin(t)});
    }
    scene_.effects.specks.push_back(hole);
    ++made;
  }
  truth_["decoys"] = made;
  return made > 0;
}

// A second part of the same drawing beside the first, smaller or as large, often cut by the
// frame.
bool Trapper::AddSecondPart() {
  const PointPx middle = Centroid(std::span<const PointPx>(scene_.outline));
  const double radius = 0.5 * SizeOf(scene_.outline);
  double best = -1, angle = 0, scale = 0.5;
  for (int i = 0; i < 200; ++i) {
    const double a = random_.Uniform(0, 2 * kPi), s = random_.Uniform(0.5, 1.0);
    const double away = radius * (1 + s) + random_.Uniform(12, 60);
    const double x = middle.x + away * std::cos(a), y = middle.y + away * std::sin(a);
    const double inside = std::min({x, y, scene_.width_px - 1 - x, scene_.height_px - 1 - y});
    if (inside / (s * radius) > best) {
      best = inside / (s * radius);
      angle = a;
      scale = s;
    }
  }
  const double turn = random_.Uniform(0, 2 * kPi);
  const double away = radius * (1 + scale) + 40;
  const PointPx to{middle.x + away * std::cos(angle), middle.y + away * std::sin(angle)};
  const auto moved = [&](const ContourPx& contour) {
    ContourPx out;
    for (const PointPx& p : contour) {
      out.push_back(to + scale * Rotated(PointPx{p.x - middle.x, p.y - middle.y}, turn));
    }
    return out;
  };
  PhantomPatch body;
  body.contour = moved(scene_.outline);
  body.tone = scene_.body_tone;
  body.size_px = 2 * radius * scale;
  scene_.effects.specks.push_back(body);
  const auto add = [&](const ContourPx& contour, double tone, double opacity) {
    PhantomPatch patch;
    patch.contour = moved(contour);
    patch.tone = tone;
    patch.opacity = opacity;
    patch.size_px = SizeOf(patch.contour);
    scene_.effects.specks.push_back(patch);
  };
  for (const PhantomPatch& inlay : scene_.inlays) add(inlay.contour, inlay.tone, inlay.opacity);
  for (const PhantomLumen& lumen : scene_.lumens) add(lumen.contour, lumen.tone, 1);
  for (const PhantomMetal& metal : scene_.metals) {
    add(metal.contour, std::pow(std::clamp(metal.light, 0.0, 1.0), 1 / scene_.gamma), 1);
  }
  truth_["second_part"] = {{"scale", scale}, {"middle_inside", best}};
  return true;
}

// Resin of the tone that lies around the bore: nothing but a polished rim tells it.
bool Trapper::FillUnseen() {
  if (scene_.lumens.empty()) return false;
  const bool all = random_.Chance(0.3);
  const std::size_t one = SomeLumen();
  for (std::size_t i = 0; i < scene_.lumens.size(); ++i) {
    if (!all && i != one) continue;
    PhantomLumen& lumen = scene_.lumens[i];
    lumen.tone = ToneAround(lumen) * random_.Uniform(0.99, 1.01);
    lumen.filled = true;
    for (const std::string& name : lumen.names) {
      TrapJson& told = truth_["lumens"][name];
      if (told["state"] == "open") told["state"] = "filled";
    }
  }
  return true;
}

bool Trapper::DropLumen() {
  if (scene_.lumens.size() < 2) return false;
  const int at = static_cast<int>(SomeLumen());
  const std::vector<std::string> names = scene_.lumens[static_cast<std::size_t>(at)].names;
  scene_.lumens.erase(scene_.lumens.begin() + at);
  for (auto* patches : {&scene_.effects.gaps, &scene_.effects.lips, &scene_.effects.bubbles}) {
    std::erase_if(*patches, [&](const PhantomPatch& p) { return p.lumen == at; });
    for (PhantomPatch& p : *patches) p.lumen -= p.lumen > at;
  }
  TrapJson kept = TrapJson::array();
  for (const TrapJson& q : truth_["quantities"]) {
    bool of_it = false;
    for (const TrapJson& of : q["of"]) {
      for (const std::string& name : names) of_it = of_it || of == name;
    }
    // A barrier may have led past it, the area of voids counts it.
    const std::string word = q["quantity"];
    if (!of_it && word.rfind("barrier", 0) != 0 && word != "area_fraction") kept.push_back(q);
  }
  truth_["quantities"] = kept;
  for (const std::string& name : names) {
    truth_["lumens"][name] = {
        {"state", "not found"}, {"merged_with", TrapJson::array()}, {"whole", true}};
  }
  return true;
}

// Two round lumens change places on the drawing.
bool Trapper::SwapLumens() {
  TrapJson& lumens = Plane()["lumens"];
  const auto drawn = ParseDesign(design_.dump(), "hostile");
  std::vector<std::string> round;
  for (const auto& [name, shape] : lumens.items()) {
    if (shape.contains("circle") && shape["circle"].contains("center")) round.push_back(name);
  }
  for (const std::string& a : round) {
    for (const std::string& b : round) {
      const double da = lumens[a]["circle"]["diameter"], db = lumens[b]["circle"]["diameter"];
      if (a >= b || std::abs(da - db) < 0.06 * std::max(da, db)) continue;
      std::swap(lumens[a]["circle"]["center"], lumens[b]["circle"]["center"]);
      const auto swapped = ParseDesign(design_.dump(), "hostile");
      if (swapped && drawn && !SamePlaneTurned(drawn->sections[0], swapped->sections[0], true)) {
        truth_["swapped"] = {a, b};
        return true;
      }
      std::swap(lumens[a]["circle"]["center"], lumens[b]["circle"]["center"]);
    }
  }
  return false;
}

// The drawing of another plane with an outline about as large.
nlohmann::ordered_json Trapper::OtherPlane() {
  const auto diameter = [](const TrapJson& design) -> double {
    const TrapJson& outline = design["sections"]["face"]["outline"];
    return outline.contains("circle") ? outline["circle"]["diameter"].get<double>() : 0.0;
  };
  const double own = diameter(design_);
  double best = 1e9;
  TrapJson taken;
  for (int i = 0; i < 60; ++i) {
    const TrapJson other =
        TrapJson::parse(DrawPhantomFace(PhantomSet::kPlain, random_.Next() % 1000000).design_json);
    if (other["part"]["title"] == design_["part"]["title"]) continue;
    const double off = own > 0 ? std::abs(diameter(other) / own - 1) : random_.Uniform();
    if (off < best) {
      best = off;
      taken = other;
    }
  }
  return taken;
}

// Another family with an outline as wide: what the same part is a little further along.
nlohmann::ordered_json Trapper::OtherBuiltPlane() {
  const TrapJson& outline = Plane()["outline"];
  const double width = outline.contains("circle") ? outline["circle"]["diameter"].get<double>()
                                                  : outline["rectangle"]["size"][0].get<double>();
  const double mm_per_px = truth_["pitch_um"].get<double>() / 1000;
  const std::string own = truth_["family"];
  for (int tries = 0; tries < 400; ++tries) {
    const BuiltDrawing drawing =
        DrawBuiltDrawing(random_.Integer(0, kBuiltFamilies - 1), width / mm_per_px, mm_per_px,
                         random_.Chance(0.5), design_["part"]["number"], random_);
    if (drawing.json.empty() || drawing.family == own) continue;
    if (ParseDesign(drawing.json, "hostile")) return TrapJson::parse(drawing.json);
  }
  return nullptr;
}

bool Trapper::TakeOtherDesign() {
  const TrapJson taken = built_ ? OtherBuiltPlane() : OtherPlane();
  if (taken.is_null()) return false;
  design_ = taken;
  // What the picture holds is none of that drawing's.
  TrapJson lumens = TrapJson::object(), quantities = TrapJson::array();
  for (const auto& [name, lumen] : truth_["lumens"].items()) {
    TrapJson renamed = lumen;
    for (TrapJson& with : renamed["merged_with"]) with = "other " + with.get<std::string>();
    lumens["other " + name] = renamed;
  }
  for (const TrapJson& q : truth_["quantities"]) {
    if (q["of"] == TrapJson::array({"outline"}) || q["of"] == TrapJson::array({"voids"}))
      quantities.push_back(q);
  }
  truth_["lumens"] = lumens;
  truth_["quantities"] = quantities;
  truth_["limits_broken"] = TrapJson::array();
  return true;
}

// A later revision changed one lumen: its size or, where it is drawn as a path, its limits only.
bool Trapper::ReviseDesign() {
  std::vector<std::string> names;
  for (const auto& [name, shape] : Plane()["lumens"].items()) names.push_back(name);
  for (int tries = 0; tries < 20; ++tries) {
    const std::string name =
        names[static_cast<std::size_t>(random_.Integer(0, static_cast<int>(names.size()) - 1))];
    const double factor =
        random_.Chance(0.5) ? random_.Uniform(1.08, 1.2) : random_.Uniform(0.8, 0.92);
    const TrapJson before = design_;
    TrapJson& shape = Plane()["lumens"][name];
    if (shape.contains("circle")) {
      shape["circle"]["diameter"] = shape["circle"]["diameter"].get<double>() * factor;
    }
    bool row = false;
    for (TrapJson& r : Plane()["characteristics"]) {
      const bool of_it = r.contains("of") && r["of"] == name && r.contains("nominal");
      if (!of_it) continue;
      const std::string word = r["quantity"];
      if (word != "equivalent_diameter" && word != "diameter") continue;
      r["nominal"] = r["nominal"].get<double>() * factor;
      row = true;
    }
    if (row && ParseDesign(design_.dump(), "hostile")) {
      design_["part"]["revision"] = "B";
      truth_["revised"] = {{"lumen", name}, {"factor", factor}};
      return true;
    }
    design_ = before;
  }
  return false;
}

// Turns over what the truth says of places: its contours, points, angles and pose.
bool Trapper::Mirror() {
  face_.flipped = !face_.flipped;
  const double last = scene_.width_px - 1;
  const auto turn = [&](TrapJson& point) { point[0] = last - point[0].get<double>(); };
  const auto flip = [&](auto&& self, TrapJson& node) -> void {
    if (node.is_object()) {
      for (auto& [key, value] : node.items()) {
        if (!key.ends_with("_px") || !value.is_array() || value.empty()) {
          self(self, value);
        } else if (value[0].is_array()) {
          for (TrapJson& p : value) turn(p);
        } else if (key == "centre_px" || key == "about_px") {
          turn(value);
        }
      }
      if (node.contains("from_deg")) {
        const double from = node["from_deg"], to = node["to_deg"];
        node["from_deg"] = 180 - to;
        node["to_deg"] = 180 - from;
      }
      for (const char* axis : {"axis_deg", "oblique_axis_deg"}) {
        if (node.contains(axis)) node[axis] = 180 - node[axis].get<double>();
      }
    } else if (node.is_array()) {
      for (TrapJson& value : node) self(self, value);
    }
  };
  flip(flip, truth_);
  TrapJson& pose = truth_["pose"];
  pose["rotation_deg"] = -pose["rotation_deg"].get<double>();
  pose["mirrored"] = !pose["mirrored"].get<bool>();
  const auto drawn = ParseDesign(design_.dump(), "hostile");
  const SectionDesign* plane = drawn ? drawn->FindSection("face") : nullptr;
  truth_["mirror_shows"] = pose["mirrored"].get<bool>() && plane != nullptr &&
                           !SamePlaneTurned(*plane, TurnedOver(*plane), false);
  return true;
}

bool Trapper::TakeOtherScale() {
  static constexpr std::array kFactors = {0.5, 0.8, 0.93, 1.07, 1.25, 2.0};
  const double factor = kFactors[static_cast<std::size_t>(random_.Integer(0, 5))];
  for (TrapJson& pitch : record_["pixel_pitch_um"]) pitch = pitch.get<double>() * factor;
  truth_["record_pitch_um"] = truth_["record_pitch_um"].get<double>() * factor;
  truth_["scale_factor"] = factor;
  return true;
}

// A layer of the drawing gets another number of wires; the part keeps its own.
bool Trapper::CountOtherWires() {
  if (!Plane().contains("wires")) return false;
  std::vector<std::string> names;
  for (const auto& [name, layer] : Plane()["wires"].items()) names.push_back(name);
  const std::string name =
      names[static_cast<std::size_t>(random_.Integer(0, static_cast<int>(names.size()) - 1))];
  TrapJson& layer = Plane()["wires"][name];
  const char* key = layer.contains("carriers") ? "carriers" : "count";
  const int own = layer[key];
  if (std::string(key) == "carriers") {
    static constexpr std::array kCarriers = {8, 12, 16, 24, 32, 48};
    std::vector<int> others;
    for (const int n : kCarriers) {
      if (n != own && n >= own / 2 && n <= 2 * own) others.push_back(n);
    }
    layer[key] =
        others[static_cast<std::size_t>(random_.Integer(0, static_cast<int>(others.size()) - 1))];
  } else {  // turns of a coil, two wires each
    const int turns = own / 2;
    const int step = std::max(1, static_cast<int>(std::lround(turns * random_.Uniform(0.1, 0.3))));
    layer[key] = 2 * (turns + (random_.Chance(0.5) ? step : -step));
  }
  if (!ParseDesign(design_.dump(), "hostile")) return false;
  design_["part"]["revision"] = "B";
  truth_["recounted"] = {{"layer", name}, {"built", own}, {"drawn", layer[key]}};
  return true;
}

}  // namespace cutface::phantom
