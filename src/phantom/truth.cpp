#include "phantom/truth.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

namespace cutface::phantom {

double Round(double value, double step) { return std::round(value / step) * step; }

std::string ContourText(const ContourPx& contour) {
  std::string text = "[";
  for (std::size_t i = 0; i < contour.size(); ++i) {
    text += fmt::format("{}[{:.3f},{:.3f}]", i ? "," : "", contour[i].x, contour[i].y);
  }
  return text + "]";
}

namespace {

using Json = nlohmann::ordered_json;

std::string BuiltStateWord(const BuiltLumen& lumen, int width, int height) {
  switch (lumen.state) {
    case BuiltState::kFilled:
      return "filled";
    case BuiltState::kMerged:
      return "merged";
    case BuiltState::kNotFound:
      return "not found";
    case BuiltState::kOpen:
      break;
  }
  const auto [least, greatest] = BoundsOf(lumen.contour);
  const bool whole =
      least.x > 0 && least.y > 0 && greatest.x < width - 1 && greatest.y < height - 1;
  return whole ? "open" : "cut off";
}

void AddShapeQuantities(const std::vector<std::string>& of, const ContourPx& contour, bool outline,
                        std::vector<TrueQuantity>& out) {
  const double area = std::abs(AreaOf(contour));
  const WidthPair widths = WidthsOf(contour);
  out.push_back({of, "equivalent_diameter", 2 * std::sqrt(area / kPi), false});
  out.push_back({of, "area", area, false});
  out.push_back({of, "width_min", widths.least, false});
  out.push_back({of, "width_max", widths.greatest, false});
  out.push_back({of, "ovality", widths.greatest - widths.least, false});
  // Far from round (a crescent) the fit has several minima and is nobody's diameter.
  constexpr double kRoundEnough = 0.15;
  const Disc disc = LeastSquaresDisc(contour);
  if (disc.rms < kRoundEnough * disc.radius) {
    out.push_back({of, "diameter", 2 * disc.radius, false});
  }
  if (!outline) out.push_back({of, "inscribed_diameter", 2 * InscribedDisc(contour).radius, false});
}

std::vector<std::string> KeyOf(const BuiltLumen& lumen, const BuiltPart& part) {
  if (lumen.merged_with.empty()) return {lumen.name};
  std::vector<std::string> names;
  for (const BuiltLumen& other : part.lumens) {
    const auto& with = lumen.merged_with;
    if (other.name == lumen.name || std::find(with.begin(), with.end(), other.name) != with.end()) {
      names.push_back(other.name);
    }
  }
  return names;
}

double MmOf(double um) { return Round(um, 0.1) / 1000; }

}  // namespace

Affine Pose::Map() const {
  const Affine mirror{mirrored ? -1.0 : 1.0, 0, 0, 1, 0, 0};
  Affine map = Compose(RotationMap(rotation_rad), mirror);
  map = Compose(StretchMap(1 / std::cos(oblique_rad), oblique_axis_rad), map);
  map.tx += centre.x;
  map.ty += centre.y;
  return map;
}

void PlacePart(BuiltPart& part, const Pose& pose) {
  const Affine map = pose.Map();
  const auto place = [&](ContourPx& contour) {
    if (contour.empty()) return;
    contour = Rounded(Mapped(contour, map));
    if (AreaOf(contour) < 0) std::reverse(contour.begin(), contour.end());
  };
  place(part.outline);
  for (BuiltLumen& lumen : part.lumens) place(lumen.contour);
  for (ContourPx& v : part.voids) place(v);
  PlaceInserts(part.inserts, map);
  TellExposed(part);
}

void AddThickness(const BuiltPart& part, std::vector<TrueQuantity>& out) {
  const auto add = [&](const std::string& of, const ContourPx& inner, const ContourPx& outer) {
    const ThicknessPx t = ThicknessBetween(inner, outer);
    out.push_back({{of}, "thickness_min", t.least, false});
    out.push_back({{of}, "thickness_mean", t.mean, false});
    out.push_back({{of}, "thickness_max", t.greatest, false});
  };
  const ContourPx* outer = &part.outline;
  for (const BuiltRing& ring : part.inserts.rings) {
    add(ring.name, ring.inner, *outer);
    outer = &ring.inner;
  }
  for (const BuiltLiner& liner : part.inserts.liners) {
    for (const BuiltLumen& lumen : part.lumens) {
      if (lumen.name == liner.lumen) add(liner.lumen + "/liner", lumen.contour, liner.outer);
    }
  }
}

std::vector<TrueQuantity> QuantitiesOf(const BuiltPart& part) {
  std::vector<TrueQuantity> out;
  AddShapeQuantities({"outline"}, part.outline, true, out);
  std::vector<ContourPx> bores;
  std::vector<std::vector<std::string>> keys;
  for (const BuiltLumen& lumen : part.lumens) {
    if (lumen.contour.empty()) continue;
    const std::vector<std::string> key = KeyOf(lumen, part);
    if (std::find(keys.begin(), keys.end(), key) != keys.end()) continue;
    keys.push_back(key);
    bores.push_back(lumen.contour);
  }
  for (std::size_t i = 0; i < bores.size(); ++i) {
    AddShapeQuantities(keys[i], bores[i], false, out);
    out.push_back({keys[i], "wall", LeastGap(bores[i], part.outline).distance, false});
  }
  for (const auto& [i, j] : FacingPairs(bores)) {
    // Of a merged bore the nearest of its names cannot be told: all are given, split by "+".
    const auto join = [](const std::vector<std::string>& names) {
      std::string text;
      for (const std::string& name : names) text += (text.empty() ? "" : "+") + name;
      return text;
    };
    out.push_back(
        {{join(keys[i]), join(keys[j])}, "septum", LeastGap(bores[i], bores[j]).distance, false});
  }
  for (const Breach& breach : part.breaches) {
    out.push_back({{breach.first, breach.second}, "septum", 0, true});
  }
  AddThickness(part, out);
  return out;
}

std::vector<Row> DrawRows(const Nominal& nominal, double um_per_px, Random& random) {
  std::vector<Row> rows;
  const auto number = [&] { return std::to_string(rows.size() + 1); };
  const double tolerance = random.Uniform(0.012, 0.035);  // share of size
  const auto two_sided = [&](std::vector<std::string> of, const char* word, double px,
                             const char* criticality) {
    Row row{number(), std::move(of), word, {}, {}, {}, {}, {}, criticality};
    row.nominal = Round(px * um_per_px, 1);
    row.plus = row.minus = std::max(1.0, Round(tolerance * px * um_per_px, 1));
    rows.push_back(row);
  };
  const auto least = [&](std::vector<std::string> of, const char* word, double px) {
    Row row{number(), std::move(of), word, {}, {}, {}, {}, {}, "critical"};
    row.least = std::max(1.0, Round(px * random.Uniform(0.70, 0.95) * um_per_px, 1));
    rows.push_back(row);
  };
  const double outline_d = 2 * std::sqrt(std::abs(AreaOf(nominal.outline.contour)) / kPi);
  two_sided({"outline"}, nominal.outline_round ? "diameter" : "equivalent_diameter", outline_d,
            "major");
  std::vector<ContourPx> lumens;
  for (const NominalLumen& lumen : nominal.lumens) {
    const ContourPx& c = lumen.shape.contour;
    two_sided({lumen.name}, "equivalent_diameter", 2 * std::sqrt(std::abs(AreaOf(c)) / kPi),
              "major");
    least({lumen.name}, "wall", LeastGap(c, nominal.outline.contour).distance);
    lumens.push_back(c);
  }
  for (const auto& [i, j] : FacingPairs(lumens)) {
    least({nominal.lumens[i].name, nominal.lumens[j].name}, "septum",
          LeastGap(lumens[i], lumens[j]).distance);
  }
  Row voids{number(), {"voids"}, "longest", {}, {}, {}, {}, {}, "minor"};
  voids.greatest = Round(random.Uniform(8, 40) * um_per_px, 1);
  rows.push_back(voids);
  return rows;
}

std::vector<Row> RowsOf(const SectionDesign& section) {
  std::vector<Row> rows;
  for (const Characteristic& c : section.characteristics) {
    if (c.quantity.empty()) continue;
    Row row{c.no, c.of, c.quantity, {}, {}, {}, c.lower, c.upper, ""};
    rows.push_back(row);
  }
  return rows;
}

std::vector<std::string> BrokenRows(const std::vector<Row>& rows, const BuiltPart& part,
                                    const std::vector<TrueQuantity>& quantities, double pitch_um) {
  std::vector<std::string> broken;
  for (const Row& row : rows) {
    std::optional<double> um;
    if (row.word == "longest") {
      um = 0;
      for (const ContourPx& v : part.voids) um = std::max(*um, WidthsOf(v).greatest * pitch_um);
    }
    for (const TrueQuantity& q : quantities) {
      const double unit = q.word == "area" ? pitch_um * pitch_um : pitch_um;
      const auto has = [&](const std::string& name) {
        return std::find(q.of.begin(), q.of.end(), name) != q.of.end();
      };
      const bool same =
          q.of.size() == row.of.size() && std::all_of(row.of.begin(), row.of.end(), has);
      if (q.word == row.word && same) um = q.value_px * unit;
    }
    if (!um) continue;  // merged or missing: nothing true can be said of this row
    const bool low = (row.least && *um < *row.least) ||
                     (row.nominal && row.minus && *um < *row.nominal - *row.minus);
    const bool high = (row.greatest && *um > *row.greatest) ||
                      (row.nominal && row.plus && *um > *row.nominal + *row.plus);
    if (low || high) broken.push_back(row.no);
  }
  return broken;
}

std::string DesignText(const Nominal& nominal, const std::vector<Row>& rows,
                       const std::string& number) {
  Json section;
  section["kind"] = "shaft";
  section["outline"] = Json::parse(nominal.outline.json);
  for (const NominalLumen& lumen : nominal.lumens) {
    section["lumens"][lumen.name] = Json::parse(lumen.shape.json);
  }
  section["characteristics"] = Json::array();
  for (const Row& row : rows) {
    Json out;
    out["no"] = row.no;
    if (row.of.size() == 1) {
      out["of"] = row.of[0];
    } else {
      out["of"] = row.of;
    }
    out["quantity"] = row.word;
    if (row.nominal) {
      out["nominal"] = MmOf(*row.nominal);
      out["plus"] = MmOf(*row.plus);
      out["minus"] = MmOf(*row.minus);
    }
    if (row.least) out["min"] = MmOf(*row.least);
    if (row.greatest) out["max"] = MmOf(*row.greatest);
    out["class"] = row.criticality;
    section["characteristics"].push_back(out);
  }
  Json design;
  design["format"] = "cutface/design";
  design["version"] = 1;
  design["units"] = "mm";
  design["part"] = {{"number", number}, {"revision", "A"}, {"title", nominal.family + " phantom"}};
  design["edge_cutoff_um"] = 10;
  design["sections"]["face"] = section;
  return design.dump(1) + "\n";
}

std::string CalibrationText(const FaceFacts& facts, int width_px, int height_px) {
  Json record;
  record["format"] = "cutface/calibration";
  record["version"] = 1;
  record["id"] = facts.name;
  record["objective"] = "phantom";
  record["image_size_px"] = {width_px, height_px};
  record["pixel_pitch_um"] = {facts.record_pitch_um, facts.record_pitch_um};
  record["pitch_u_um"] = {facts.record_u_um, facts.record_u_um};
  record["shear"] = 0.0;
  record["distortion"] = {{"k1_per_px2", 0.0},
                          {"centre_px", {0.5 * (width_px - 1), 0.5 * (height_px - 1)}}};
  record["gamma"] = facts.record_gamma ? Json(*facts.record_gamma) : Json(nullptr);
  record["made"] = "2026-03-02";
  record["due"] = "2036-03-02";
  record["by"] = "phantom room";
  record["artefact"] = {{"kind", "stage micrometer"},
                        {"serial", "phantom"},
                        {"certificate", "phantom: pitch drawn from its stated uncertainty"},
                        {"u_um", 0.1}};
  return record.dump(1) + "\n";
}

namespace {

// [x, y, size_px, tone, opacity] of each, at its middle vertex.
Json PatchesJson(const std::vector<PhantomPatch>& patches) {
  Json out = Json::array();
  for (const PhantomPatch& p : patches) {
    const PointPx at = p.contour[p.contour.size() / 4];
    out.push_back({Round(at.x, 0.1), Round(at.y, 0.1), Round(p.size_px, 1e-3), Round(p.tone, 1e-4),
                   Round(p.opacity, 1e-3)});
  }
  return out;
}

double Strongest(const std::vector<PhantomPatch>& patches) {
  double most = 0;
  for (const PhantomPatch& p : patches) most = std::max(most, p.size_px);
  return most;
}

Json EffectsJson(const PhantomScene& scene) {
  const PhantomEffects& e = scene.effects;
  Json out;
  out["rim_px"] = e.rim_px;
  out["rim_depth"] = e.rim_depth;
  out["band_px"] = e.band_px;
  out["band_offset_px"] = e.band_offset_px;
  out["band_depth"] = e.band_depth;
  out["body_grain"] = e.body_grain;
  out["resin_grain"] = e.resin_grain;
  out["grain_px"] = e.grain_px;
  out["floor"] = e.floor;
  out["gaps"] = PatchesJson(e.gaps);
  out["lips"] = PatchesJson(e.lips);
  out["chips"] = PatchesJson(e.chips);
  out["bubbles"] = PatchesJson(e.bubbles);
  out["specks"] = PatchesJson(e.specks);
  out["gap_px"] = Strongest(e.gaps);
  out["lip_px"] = Strongest(e.lips);
  out["chip_px"] = Strongest(e.chips);
  out["scratches"] = e.scratches.size();
  out["dust"] = e.dust.size();
  out["slope"] = e.slope;
  out["bowl"] = e.bowl;
  out["vignette"] = e.vignette;
  out["blur_slope"] = e.blur_slope;
  out["blur_slope_deg"] = e.blur_slope_rad * 180 / kPi;
  out["slope_deg"] = e.slope_rad * 180 / kPi;
  out["holder"] = !e.holders.empty();
  out["exposure"] = e.exposure;
  out["scale_bar"] = e.scale_bar;
  out["jpeg_quality"] = e.jpeg_quality;
  out["body_tone"] = scene.body_tone;
  out["resin_tone"] = scene.resin_tone;
  out["shot_share"] = scene.shot_share;
  out["bits"] = scene.bits;
  return out;
}

Json PoseJson(const Pose& pose) {
  Json out;
  out["centre_px"] = {Round(pose.centre.x, 1e-3), Round(pose.centre.y, 1e-3)};
  out["rotation_deg"] = pose.rotation_rad * 180 / kPi;
  out["mirrored"] = pose.mirrored;
  out["oblique_deg"] = pose.oblique_rad * 180 / kPi;
  out["oblique_axis_deg"] = pose.oblique_axis_rad * 180 / kPi;
  return out;
}

Json QuantitiesJson(const std::vector<TrueQuantity>& quantities, const BuiltPart& part) {
  Json out = Json::array();
  for (const TrueQuantity& q : quantities) {
    Json row;
    row["of"] = q.of;
    row["quantity"] = q.word;
    row["value_px"] = Round(q.value_px, 1e-5);
    if (q.word == "septum") row["breach"] = q.breach;
    for (const Breach& b : part.breaches) {
      if (q.breach && q.of[0] == b.first && q.of[1] == b.second)
        row["breach_px"] = Round(b.width_px, 1e-3);
    }
    out.push_back(row);
  }
  return out;
}

}  // namespace

std::string TruthText(const FaceFacts& facts, const BuiltPart& part, const PhantomScene& scene,
                      const std::vector<TrueQuantity>& quantities,
                      const std::vector<std::string>& broken) {
  Json head;
  head["format"] = "cutface/truth";
  head["version"] = 1;
  head["seed"] = facts.seed;
  head["set"] = facts.set;
  head["family"] = facts.family;
  head["light"] = PhantomLightName(scene.light);
  head["image"] = facts.name + ".png";
  head["design"] = facts.design_file;
  head["section"] = facts.section;
  head["calibration"] = facts.calibration_file;
  head["pitch_um"] = facts.pitch_um;
  head["record_pitch_um"] = facts.record_pitch_um;
  head["blur_px"] = scene.blur_px;
  head["noise"] = scene.noise;
  head["gamma"] = scene.gamma;
  head["pose"] = PoseJson(facts.pose);
  head["quantities"] = QuantitiesJson(quantities, part);
  head["limits_broken"] = broken;
  head["effects"] = EffectsJson(scene);
  // Contours are written by hand to keep 3 decimals and one line each.
  const auto whole = [&](const ContourPx& contour) {
    const auto [least, greatest] = BoundsOf(contour);
    return least.x > 0 && least.y > 0 && greatest.x < scene.width_px - 1 &&
           greatest.y < scene.height_px - 1;
  };
  std::string text = head.dump(1);
  text.resize(text.size() - 2);  // without "\n}"
  text += fmt::format(",\n \"outline\": {{\"whole\": {}, \"contour_px\": {}}},\n \"lumens\": {{",
                      whole(part.outline), ContourText(part.outline));
  bool first = true;
  for (const BuiltLumen& lumen : part.lumens) {
    const std::string state = BuiltStateWord(lumen, scene.width_px, scene.height_px);
    text += fmt::format(
        "{}\n  \"{}\": {{\"state\": \"{}\", \"merged_with\": {}, \"whole\": {}, "
        "\"contour_px\": {}}}",
        first ? "" : ",", lumen.name, state, Json(lumen.merged_with).dump(),
        !lumen.contour.empty() && whole(lumen.contour), ContourText(lumen.contour));
    first = false;
  }
  text += "},\n \"voids\": [";
  for (std::size_t i = 0; i < part.voids.size(); ++i) {
    const double diameter = 2 * std::sqrt(std::abs(AreaOf(part.voids[i])) / kPi);
    text += fmt::format("{}\n  {{\"diameter_px\": {:.4f}, \"contour_px\": {}}}", i ? "," : "",
                        diameter, ContourText(part.voids[i]));
  }
  return text + "]" + InsertsText(part, scene) + "}\n";
}

}  // namespace cutface::phantom
