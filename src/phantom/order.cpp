// Faces to order: any section of a design file, with the faults that the caller chooses.
#include "phantom/order.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/as_built.h"
#include "phantom/dress.h"
#include "phantom/inserts_dress.h"
#include "phantom/shapes.h"
#include "phantom/truth.h"

namespace cutface {
namespace {

using namespace phantom;

NominalShape ShapeInPx(const Shape& shape, double pitch_um) {
  NominalShape out;
  for (const PointUm p : shape.contour) out.contour.push_back({p.x / pitch_um, p.y / pitch_um});
  if (AreaOf(out.contour) < 0) std::reverse(out.contour.begin(), out.contour.end());
  return out;
}

// Index of a lumen by name; an empty name is no lumen.
Result<std::optional<std::size_t>> Find(const Nominal& nominal, const std::string& name) {
  if (name.empty()) return std::optional<std::size_t>{};
  for (std::size_t i = 0; i < nominal.lumens.size(); ++i) {
    if (nominal.lumens[i].name == name) return std::optional<std::size_t>{i};
  }
  return Fail(Code::kNotFound, fmt::format("phantom: the section has no lumen \"{}\"", name));
}

InsertRecipe InsertsOf(const PhantomOrder& order) {
  InsertRecipe r;
  r.missing = order.missing_wires;
  r.pulled_out = order.pulled_out_wires;
  r.extra = order.extra_wires;
  r.displaced = order.displaced_wires;
  r.touching = order.touching_pairs;
  r.exposed_lumen = order.wires_exposed_to_lumen;
  r.exposed_outside = order.wires_exposed_outside;
  r.liner_gap_deg = order.liner_gap_deg;
  r.comb_turn_rad = order.comb_turn_deg * std::numbers::pi / 180;
  r.bond_gaps_deg = order.bond_gaps_deg;
  r.bond_offset_px = order.bond_offset_um / order.pitch_um;
  r.delaminated = order.delaminated;
  r.shrinkage = order.shrinkage_voids;
  r.mandrel = order.mandrel;
  return r;
}

Result<BuildRecipe> RecipeOf(const PhantomOrder& order, const Nominal& nominal) {
  BuildRecipe r;
  r.scale = 0.003;
  r.lobing = 0.003;
  r.lumen_scale = 0.005;
  r.lumen_lobing = 0.004;
  r.group_shift = 0.003;
  r.group_turn_deg = 0.5;
  r.lumen_shift_px = 1.0;
  r.corner_px = 2.5;
  r.roughness_px = 0.1;
  r.roughness_length_px = 35;
  r.thin_septum_px = order.thin_septum_um / order.pitch_um;
  r.breach_px = order.breach_um / order.pitch_um;
  r.void_chain = order.void_chain;
  r.collapse = order.collapse;
  r.kidney = order.kidney;
  r.voids = order.voids;
  r.least_void_px = order.least_void_px;
  r.greatest_void_px = order.greatest_void_px;
  r.filled = !order.filled.empty();
  r.missing = !order.missing.empty();
  const auto first = Find(nominal, order.first), second = Find(nominal, order.second);
  const auto collapsed = Find(nominal, order.collapsed);
  const auto filled = Find(nominal, order.filled), missing = Find(nominal, order.missing);
  const auto mandrel = Find(nominal, order.mandrel);
  for (const auto* found : {&first, &second, &collapsed, &filled, &missing, &mandrel}) {
    if (!*found) return tl::unexpected<Error>(found->error());
  }
  if (*first && *second) r.septum = std::pair{**first, **second};
  r.collapsed = *collapsed;
  r.filled_one = *filled;
  r.missing_one = *missing;
  return r;
}

Pose PoseOf(const PhantomOrder& order) {
  constexpr double kDegree = std::numbers::pi / 180;
  Pose pose;
  pose.centre = {0.5 * (order.width_px - 1) + order.shift_px.x,
                 0.5 * (order.height_px - 1) + order.shift_px.y};
  pose.rotation_rad = order.rotation_deg * kDegree;
  pose.mirrored = order.mirrored;
  pose.oblique_rad = order.oblique_deg * kDegree;
  pose.oblique_axis_rad = order.oblique_axis_deg * kDegree;
  return pose;
}

}  // namespace

namespace phantom {

Nominal NominalOf(const SectionDesign& section, const std::string& family, double pitch_um) {
  Nominal nominal;
  nominal.family = family;
  nominal.outline = ShapeInPx(CoreOf(section), pitch_um);
  for (const LumenDesign& lumen : section.lumens) {
    nominal.lumens.push_back(
        {lumen.name, ShapeInPx(lumen.shape, pitch_um), lumen.shape.kind == Shape::Kind::kCircle});
  }
  return nominal;
}

bool IsBuiltUp(const SectionDesign& section, const InsertRecipe& inserts) {
  const bool lined =
      std::any_of(section.lumens.begin(), section.lumens.end(),
                  [](const LumenDesign& lumen) { return lumen.liner_thickness_um.has_value(); });
  return lined || !section.rings.empty() || !section.wires.empty() || !section.fibres.empty() ||
         !inserts.mandrel.empty() || inserts.shrinkage > 0;
}

std::optional<BuiltPart> BuildSection(const SectionDesign& section, const Nominal& core,
                                      const BuildRecipe& recipe, const InsertRecipe& inserts,
                                      double pitch_um, Random& random) {
  if (!IsBuiltUp(section, inserts)) return Build(core, recipe, random);
  constexpr int kTries = 12;
  for (int tries = 0; tries < kTries; ++tries) {
    std::optional<BuiltPart> part = Build(core, recipe, random);
    if (part && AddInserts(*part, section, inserts, pitch_um, random)) return part;
  }
  return std::nullopt;
}

}  // namespace phantom

Result<PhantomFace> DrawPhantomOfDesign(const Design& design, const std::string& section,
                                        const PhantomOrder& order, std::uint64_t seed) {
  const SectionDesign* drawn = design.FindSection(section);
  if (drawn == nullptr) {
    return Fail(Code::kNotFound, fmt::format("phantom: the design has no section \"{}\"", section));
  }
  if (!(order.pitch_um > 0) || order.width_px < 16 || order.height_px < 16) {
    return Fail(Code::kUsage, "phantom: pitch and picture size must be positive (16 px at least)");
  }
  const Nominal nominal = NominalOf(*drawn, design.part_number, order.pitch_um);
  const auto recipe = RecipeOf(order, nominal);
  if (!recipe) return tl::unexpected<Error>(recipe.error());

  Random random(seed);
  std::optional<BuiltPart> part =
      BuildSection(*drawn, nominal, *recipe, InsertsOf(order), order.pitch_um, random);
  if (!part) return Fail(Code::kUsage, "phantom: the faults ordered do not fit into the part");
  FaceFacts facts;
  facts.set = "ordered";
  facts.seed = seed;
  facts.name = order.name;
  facts.family = design.part_number;
  facts.section = section;
  facts.design_file = order.design_file;
  facts.calibration_file = order.calibration_file;
  facts.pitch_um = order.pitch_um;
  facts.record_pitch_um = order.record_pitch_um;
  facts.pose = PoseOf(order);
  PlacePart(*part, facts.pose);

  PhantomFace face;
  face.name = order.name;
  face.scene.light = order.light;
  face.scene.width_px = order.width_px;
  face.scene.height_px = order.height_px;
  Dress(face.scene, *part, order.dirt ? PhantomSet::kHard : PhantomSet::kPlain,
        order.record_pitch_um, random, order.look);
  DressInserts(face.scene, *part, order.dirt, random);
  face.scene.blur_px = order.blur_px;
  face.scene.noise = order.noise;
  face.scene.gamma = order.gamma;
  face.scene.bits = 8;
  const std::vector<TrueQuantity> quantities = QuantitiesOf(*part);
  face.truth_json = TruthText(facts, *part, face.scene, quantities,
                              BrokenRows(RowsOf(*drawn), *part, quantities, facts.pitch_um));
  face.picture_seed = random.Next();
  return face;
}

}  // namespace cutface
