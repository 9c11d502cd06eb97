// Faces to order: any section of a design file, with the faults that the caller chooses.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/as_built.h"
#include "phantom/dress.h"
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
  for (const auto* found : {&first, &second, &collapsed, &filled, &missing}) {
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

Result<PhantomFace> DrawPhantomOfDesign(const Design& design, const std::string& section,
                                        const PhantomOrder& order, std::uint64_t seed) {
  const SectionDesign* drawn = design.FindSection(section);
  if (drawn == nullptr) {
    return Fail(Code::kNotFound, fmt::format("phantom: the design has no section \"{}\"", section));
  }
  if (!(order.pitch_um > 0) || order.width_px < 16 || order.height_px < 16) {
    return Fail(Code::kUsage, "phantom: pitch and picture size must be positive (16 px at least)");
  }
  Nominal nominal;
  nominal.family = design.part_number;
  nominal.outline = ShapeInPx(drawn->outline, order.pitch_um);
  for (const LumenDesign& lumen : drawn->lumens) {
    nominal.lumens.push_back({lumen.name, ShapeInPx(lumen.shape, order.pitch_um),
                              lumen.shape.kind == Shape::Kind::kCircle});
  }
  const auto recipe = RecipeOf(order, nominal);
  if (!recipe) return tl::unexpected<Error>(recipe.error());

  Random random(seed);
  std::optional<BuiltPart> part = Build(nominal, *recipe, random);
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
        order.record_pitch_um, random);
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
