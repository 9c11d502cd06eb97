// Draws a face of the built sets: drawing, part with the faults of built-up parts, picture, truth.
#include <algorithm>
#include <cmath>

#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/built_families.h"
#include "phantom/draw.h"
#include "phantom/dress.h"
#include "phantom/inserts_dress.h"
#include "phantom/order.h"
#include "phantom/shapes.h"
#include "phantom/truth.h"

namespace cutface::phantom {
namespace {

// Faults of the core as in the plain sets, but smaller: a lumen in a braid is held by it.
BuildRecipe CoreRecipe(const SectionDesign& section, double pitch_um, bool hard, Random& random) {
  BuildRecipe r = DrawRecipe(hard, random);
  double liner = 0;
  for (const LumenDesign& lumen : section.lumens) {
    liner = std::max(liner, lumen.liner_thickness_um.value_or(0) / pitch_um);
  }
  r.least_wall_px = std::max(r.least_wall_px, 1.3 * liner + 4);
  r.thin_septum_px = 0;
  r.filled = r.missing = false;
  if (liner > 0 || !section.rings.empty()) {
    r.breach_px = 0;
    r.scale *= 0.3;
    r.lobing *= 0.4;
    r.lumen_scale *= 0.5;
    r.lumen_lobing *= 0.5;
    r.group_shift = std::min(r.group_shift, 0.008);
    r.lumen_shift_px = std::min(r.lumen_shift_px, 1.5);
    r.collapse *= 0.4;
  }
  if (section.kind == "lengthwise") {
    r.collapse = r.breach_px = 0;
    r.group_turn_deg = 0;
  }
  if (section.kind == "hub" && hard && random.Chance(0.2)) r.thin_septum_px = random.Uniform(2, 10);
  r.greatest_void_px = std::min(r.greatest_void_px, 30.0);
  return r;
}

InsertRecipe DrawInserts(const SectionDesign& section, bool hard, Random& random) {
  InsertRecipe r;
  r.ring_scale = hard ? 0.008 : 0.004;
  r.ring_lobing = hard ? random.Uniform(0, 0.008) : random.Uniform(0, 0.004);
  r.ring_shift_share = hard ? random.Uniform(0, 0.006) : random.Uniform(0, 0.003);
  r.liner_uneven = hard ? random.Uniform(0.02, 0.2) : random.Uniform(0.01, 0.1);
  r.wire_jitter_px = hard ? random.Uniform(0.2, 1.2) : random.Uniform(0.1, 0.5);
  r.wire_jitter_deg = hard ? random.Uniform(0.1, 0.9) : random.Uniform(0.1, 0.4);
  if (!section.wires.empty() && section.kind != "lengthwise") {
    const double often = hard ? 0.16 : 0.07;
    if (random.Chance(often)) r.missing = random.Integer(1, 2);
    if (random.Chance(often)) r.pulled_out = random.Integer(1, 2);
    if (random.Chance(often)) r.extra = 1;
    if (random.Chance(often)) r.displaced = 1;
    if (random.Chance(often)) r.touching = random.Integer(1, 2);
    if (random.Chance(0.7 * often)) r.exposed_lumen = 1;
    if (random.Chance(0.7 * often)) r.exposed_outside = 1;
  }
  if (!section.wires.empty() && section.kind == "lengthwise") {
    const double often = hard ? 0.16 : 0.07;
    if (random.Chance(often)) r.missing = random.Integer(1, 2);
    if (random.Chance(often)) r.pulled_out = 1;
    if (random.Chance(often)) r.displaced = 1;
  }
  if (random.Chance(hard ? 0.2 : 0.1)) r.liner_gap_deg = random.Uniform(15, 90);
  if (section.bond) {
    r.bond_offset_px = random.Uniform(0, hard ? 8 : 5);
    if (random.Chance(hard ? 0.6 : 0.4)) {
      const int n = random.Integer(1, 3);
      for (int i = 0; i < n; ++i) r.bond_gaps_deg.push_back(5 * std::pow(12.0, random.Uniform()));
    }
  } else if (random.Chance(hard ? 0.15 : 0.05)) {
    r.delaminated = true;
  }
  if (section.kind == "hub") r.shrinkage = random.Integer(0, hard ? 5 : 3);
  const bool mandrel = random.Chance(hard ? 0.06 : 0.03);
  if (mandrel && !section.lumens.empty()) r.mandrel = section.lumens.front().name;
  return r;
}

struct Attempt {
  BuiltDrawing drawing;
  SectionDesign section;
  std::optional<BuiltPart> part;
};

Attempt DrawPart(int family, double diameter_px, double pitch_um, bool hard,
                 const std::string& number, const BuildOtherwise& otherwise, Random& random) {
  Attempt attempt;
  for (int tries = 0; tries < 200 && !attempt.part; ++tries) {
    attempt.drawing = DrawBuiltDrawing(family, diameter_px, pitch_um / 1000, hard, number, random);
    if (attempt.drawing.json.empty()) continue;
    const auto design = ParseDesign(attempt.drawing.json, "phantom");
    if (!design) continue;
    attempt.section = design->sections.front();
    if (otherwise && !otherwise(attempt.section)) continue;
    const Nominal core = NominalOf(attempt.section, attempt.drawing.family, pitch_um);
    const BuildRecipe recipe = CoreRecipe(attempt.section, pitch_um, hard, random);
    attempt.part = BuildSection(attempt.section, core, recipe,
                                DrawInserts(attempt.section, hard, random), pitch_um, random);
  }
  return attempt;
}

}  // namespace

std::optional<PhantomFace> DrawBuiltOtherwise(PhantomSet set, std::uint64_t seed,
                                              const BuildOtherwise& otherwise) {
  const bool hard = set == PhantomSet::kBuiltHard;
  // Apart from the seeds of the other sets.
  Random random((std::uint64_t{1} << 40) + seed * 2 + (hard ? 1 : 0));
  FaceFacts facts;
  PhantomFace face = StartFace(set, seed, facts, random);
  const int family = random.Integer(0, kBuiltFamilies - 1);
  const double diameter = random.Uniform(520, 1020);
  std::tie(face.scene.width_px, face.scene.height_px) = DrawFrame(diameter, hard, random);
  Attempt made =
      DrawPart(family, diameter, facts.pitch_um, hard, "PH-" + facts.name, otherwise, random);
  if (!made.part) return std::nullopt;
  BuiltPart& part = *made.part;
  facts.family = made.drawing.family;
  facts.pose = DrawPose(hard, face.scene.width_px, face.scene.height_px, part.outline, random);
  facts.breaches = part.breaches;
  PlacePart(part, facts.pose);
  Dress(face.scene, part, hard ? PhantomSet::kHard : PhantomSet::kPlain, facts.record_pitch_um,
        random);
  DressInserts(face.scene, part, hard, random);
  if (!hard || random.Chance(0.5)) facts.record_gamma = face.scene.gamma;
  const std::vector<TrueQuantity> quantities = QuantitiesOf(part);
  face.design_json = made.drawing.json;
  face.calibration_json = CalibrationText(facts, face.scene.width_px, face.scene.height_px);
  face.truth_json = TruthText(facts, part, face.scene, quantities,
                              BrokenRows(RowsOf(made.section), part, quantities, facts.pitch_um));
  face.picture_seed = random.Next();
  return face;
}

PhantomFace DrawBuiltFace(PhantomSet set, std::uint64_t seed) {
  std::optional<PhantomFace> face = DrawBuiltOtherwise(set, seed, {});
  CF_CHECK(face.has_value());
  return std::move(*face);
}

}  // namespace cutface::phantom
