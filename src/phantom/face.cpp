// Draws a face: family, part, pose, light, calibration, and what is true of it.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/as_built.h"
#include "phantom/draw.h"
#include "phantom/dress.h"
#include "phantom/families.h"
#include "phantom/shapes.h"
#include "phantom/traps.h"
#include "phantom/truth.h"

namespace cutface {

std::string_view PhantomLightName(PhantomLight light) {
  switch (light) {
    case PhantomLight::kReflected:
      return "reflected";
    case PhantomLight::kFilled:
      return "filled";
    case PhantomLight::kWeak:
      return "weak";
    case PhantomLight::kTransmitted:
      return "transmitted";
  }
  CheckFailed("an unknown light", __FILE__, __LINE__);
}

std::string_view PhantomSetName(PhantomSet set) {
  switch (set) {
    case PhantomSet::kPlain:
      return "plain";
    case PhantomSet::kHard:
      return "hard";
    case PhantomSet::kHarsh:
      return "harsh";
    case PhantomSet::kBuiltPlain:
      return "built-plain";
    case PhantomSet::kBuiltHard:
      return "built-hard";
    case PhantomSet::kHostile:
      return "hostile";
    case PhantomSet::kHostileBuilt:
      return "hostile-built";
  }
  return "plain";
}

Result<PhantomSet> ParsePhantomSet(std::string_view name) {
  if (name == "plain") return PhantomSet::kPlain;
  if (name == "hard") return PhantomSet::kHard;
  if (name == "harsh") return PhantomSet::kHarsh;
  if (name == "built-plain") return PhantomSet::kBuiltPlain;
  if (name == "built-hard") return PhantomSet::kBuiltHard;
  if (name == "hostile") return PhantomSet::kHostile;
  if (name == "hostile-built") return PhantomSet::kHostileBuilt;
  return Fail(Code::kUsage,
              fmt::format("set \"{}\" does not exist: use plain, hard, harsh, built-plain, "
                          "built-hard, hostile or hostile-built",
                          name));
}

namespace phantom {

BuildRecipe DrawRecipe(bool hard, Random& random) {
  BuildRecipe r;
  r.scale = hard ? 0.02 : 0.01;
  r.lobing = hard ? random.Uniform(0, 0.02) : random.Uniform(0, 0.008);
  r.lumen_scale = hard ? 0.03 : 0.015;
  r.lumen_lobing = hard ? random.Uniform(0, 0.04) : random.Uniform(0, 0.015);
  r.group_shift = hard && random.Chance(0.4) ? 0.025 : 0.006;
  r.group_turn_deg = hard ? 2.5 : 1;
  r.lumen_shift_px = hard ? 4 : 1.5;
  r.corner_px = random.Uniform(1.2, hard ? 7 : 5);
  r.roughness_px = hard ? random.Uniform(0, 0.5) : random.Uniform(0, 0.2);
  r.roughness_length_px = random.Uniform(18, 90);
  r.least_septum_px = hard ? 1.5 : 3.5;
  r.least_wall_px = hard ? 3 : 5;
  if (random.Chance(hard ? 0.25 : 0.05)) {
    r.collapse = hard ? random.Uniform(0.12, 0.55) : random.Uniform(0.05, 0.2);
    r.kidney = random.Chance(0.4);
  }
  const double fault = random.Uniform();
  if (fault < (hard ? 0.35 : 0.15)) {
    r.thin_septum_px = hard ? 1.5 * std::pow(8.0, random.Uniform()) : random.Uniform(4, 10);
  } else if (fault < (hard ? 0.50 : 0.21)) {
    r.breach_px = hard ? random.Uniform(4, 40) : random.Uniform(8, 30);
  }
  if (random.Chance(hard ? 0.45 : 0.2)) {
    r.voids = random.Integer(1, hard ? 8 : 3);
    r.greatest_void_px = hard ? 60 : 30;
    if (!hard) r.least_void_px = 8;
  }
  r.void_chain = random.Chance(hard ? 0.12 : 0.03);
  r.filled = random.Chance(hard ? 0.08 : 0.02);
  r.missing = hard && random.Chance(0.03);
  return r;
}

Pose DrawPose(bool hard, int width, int height, const ContourPx& outline, Random& random) {
  Pose pose;
  pose.rotation_rad = random.Uniform(-kPi, kPi);
  pose.mirrored = random.Chance(hard ? 0.06 : 0.02);
  if (random.Chance(hard ? 0.4 : 0.15)) {
    const double stretch = hard ? random.Uniform(1.0, 1.15) : random.Uniform(1.0, 1.01);
    pose.oblique_rad = std::acos(1 / stretch);
    pose.oblique_axis_rad = random.Uniform(0, kPi);
  }
  const auto [least, greatest] = BoundsOf(Mapped(outline, pose.Map()));
  const double room_x = width - 1 - (greatest.x - least.x);
  const double room_y = height - 1 - (greatest.y - least.y);
  const double edge = 8;
  pose.centre = {-least.x + edge + random.Uniform() * std::max(0.0, room_x - 2 * edge),
                 -least.y + edge + random.Uniform() * std::max(0.0, room_y - 2 * edge)};
  if (hard && random.Chance(0.06)) {  // partly outside the frame
    const double out = random.Uniform(0.03, 0.15) * (greatest.x - least.x);
    if (random.Chance(0.5)) {
      pose.centre.x = random.Chance(0.5) ? -least.x - out : width - 1 - greatest.x + out;
    } else {
      pose.centre.y = random.Chance(0.5) ? -least.y - out : height - 1 - greatest.y + out;
    }
  }
  pose.centre = {std::round(pose.centre.x * 1000) / 1000, std::round(pose.centre.y * 1000) / 1000};
  return pose;
}

std::pair<int, int> DrawFrame(double diameter_px, bool hard, Random& random) {
  static constexpr std::array<std::pair<int, int>, 5> kFrames = {
      {{800, 600}, {1024, 768}, {1280, 960}, {1280, 1024}, {1600, 1200}}};
  const double need = diameter_px * (hard ? 1.16 : 1.05) * 1.03 + 20;
  std::vector<std::pair<int, int>> fitting;
  for (const auto& frame : kFrames) {
    if (frame.second >= need) fitting.push_back(frame);
  }
  if (fitting.empty()) return kFrames.back();
  return fitting[static_cast<std::size_t>(random.Integer(0, static_cast<int>(fitting.size()) - 1))];
}

void DrawScale(FaceFacts& facts, Random& random) {
  facts.record_pitch_um = std::round(0.8 * std::pow(5.0, random.Uniform()) * 1e4) / 1e4;
  const double u_relative = 0.0002 * std::pow(10.0, random.Uniform());
  facts.record_u_um = std::max(1e-5, std::round(u_relative * facts.record_pitch_um * 1e5) / 1e5);
  facts.pitch_um = facts.record_pitch_um + facts.record_u_um * random.Normal();
}

PhantomFace StartFace(PhantomSet set, std::uint64_t seed, FaceFacts& facts, Random& random) {
  facts.set = PhantomSetName(set);
  facts.seed = seed;
  facts.name = fmt::format("{}-{}", PhantomSetName(set), seed);
  facts.design_file = facts.name + ".design.json";
  facts.calibration_file = facts.name + ".calibration.json";
  DrawScale(facts, random);
  PhantomFace face;
  face.name = facts.name;
  face.scene.light = static_cast<PhantomLight>(random.Integer(0, 3));
  return face;
}

}  // namespace phantom

PhantomFace DrawPhantomFace(PhantomSet set, std::uint64_t seed) {
  using namespace phantom;
  if (set == PhantomSet::kBuiltPlain || set == PhantomSet::kBuiltHard) {
    return DrawBuiltFace(set, seed);
  }
  if (set == PhantomSet::kHostile) return DrawHostileFace(seed);
  if (set == PhantomSet::kHostileBuilt) return DrawHostileBuiltFace(seed);
  const bool hard = set != PhantomSet::kPlain;
  Random random(seed * 2 + (hard ? 1 : 0));
  FaceFacts facts;
  PhantomFace face = StartFace(set, seed, facts, random);
  const int family = random.Integer(0, kFamilies - 1);
  NominalLimits limits;
  limits.diameter_px = 350 + 700 * random.Uniform();
  limits.mm_per_px = facts.pitch_um / 1000;
  limits.least_septum_px = hard ? 2.5 : 5;
  limits.least_wall_px = hard ? 6 : 9;
  std::tie(face.scene.width_px, face.scene.height_px) = DrawFrame(limits.diameter_px, hard, random);

  Nominal nominal;
  std::optional<BuiltPart> part;
  for (int tries = 0; tries < 50 && !part; ++tries) {
    nominal = DrawNominal(family, limits, random);
    part = Build(nominal, DrawRecipe(hard, random), random);
  }
  CF_CHECK(part.has_value());
  facts.family = nominal.family;
  facts.pose = DrawPose(hard, face.scene.width_px, face.scene.height_px, part->outline, random);
  facts.breaches = part->breaches;
  PlacePart(*part, facts.pose);
  Dress(face.scene, *part, set, facts.record_pitch_um, random);
  if (!hard || random.Chance(0.5)) facts.record_gamma = face.scene.gamma;

  const std::vector<Row> rows = DrawRows(nominal, facts.pitch_um, random);
  const std::vector<TrueQuantity> quantities = QuantitiesOf(*part);
  const std::vector<std::string> broken = BrokenRows(rows, *part, quantities, facts.pitch_um);
  face.design_json = DesignText(nominal, rows, "PH-" + facts.name);
  face.calibration_json = CalibrationText(facts, face.scene.width_px, face.scene.height_px);
  face.truth_json = TruthText(facts, *part, face.scene, quantities, broken);
  face.picture_seed = random.Next();
  return face;
}

cv::Mat RenderFace(const PhantomFace& face) {
  cv::Mat picture = RenderPhantom(face.scene, face.picture_seed);
  if (!face.flipped) return picture;
  cv::Mat turned;
  cv::flip(picture, turned, 1);
  return turned;
}

}  // namespace cutface
