#include "phantom/dress.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "phantom/dirt.h"
#include "phantom/shapes.h"

namespace cutface::phantom {
namespace {

constexpr double kHardBlur = 1.8, kHardRims = 0.5, kHardRim_px = 4, kHardRimDepth = 0.4;

struct Tones {
  double lumen = 0, filled = 0, hole = 0;  // hole: voids
};

Tones DrawTones(PhantomScene& scene, PhantomSet set, Random& random) {
  const bool hard = set != PhantomSet::kPlain;

  Tones t;
  switch (scene.light) {
    case PhantomLight::kReflected:
      scene.body_tone = random.Uniform(0.45, 0.72);
      scene.resin_tone = random.Chance(0.7) ? random.Uniform(0.18, scene.body_tone - 0.15)
                                            : random.Uniform(scene.body_tone + 0.1, 0.88);
      t.lumen = random.Uniform(0.03, 0.11);
      if (set == PhantomSet::kHard) t.lumen *= 2;
      t.hole = random.Uniform(0.03, 0.14);
      t.filled = scene.resin_tone;
      break;
    case PhantomLight::kFilled: {
      const double step = random.Uniform(hard ? 0.14 : 0.2, 0.4);
      const double middle = random.Uniform(0.35, 0.6);
      const double sign = random.Chance(0.5) ? 1 : -1;
      scene.body_tone = middle + 0.5 * sign * step;
      scene.resin_tone = middle - 0.5 * sign * step;
      t.lumen = scene.resin_tone;
      t.hole = random.Uniform(0.03, 0.12);
      t.filled = scene.body_tone - sign * random.Uniform(0.07, 0.11);
      break;
    }
    case PhantomLight::kWeak: {
      const double step = random.Uniform(0.08, 0.15) * (random.Chance(0.5) ? 1 : -1);
      scene.body_tone = random.Uniform(0.4, 0.65);
      scene.resin_tone = scene.body_tone + step;
      t.lumen = random.Chance(0.5) ? scene.resin_tone : random.Uniform(0.05, 0.15);
      t.hole = random.Uniform(0.04, 0.15);
      t.filled = scene.resin_tone;
      break;
    }
    case PhantomLight::kTransmitted:
      scene.body_tone = random.Uniform(0.35, 0.6);
      scene.resin_tone = random.Uniform(0.78, 0.93);
      t.lumen = std::clamp(scene.resin_tone + random.Uniform(-0.03, 0.05), 0.0, 0.96);
      t.hole = random.Chance(0.5) ? t.lumen : random.Uniform(0.1, 0.2);
      t.filled = std::min(scene.body_tone + random.Uniform(0.08, 0.15), 0.9);
      break;
  }
  return t;
}

void TakeTones(PhantomScene& scene, const PhantomLook& look, Tones& tones) {
  if (look.body_tone) scene.body_tone = *look.body_tone;
  if (look.resin_tone) scene.resin_tone = tones.filled = *look.resin_tone;
  if (look.lumen_tone) tones.lumen = *look.lumen_tone;
}

void TakeEdges(PhantomEffects& effects, const PhantomLook& look) {
  if (!look.rim_px) return;
  effects.rim_px = *look.rim_px;
  effects.rim_depth = *look.rim_px > 0 ? look.rim_depth : 0;
}

void PlaceLumens(PhantomScene& scene, const BuiltPart& part, const Tones& tones, Random& random) {
  for (const BuiltLumen& lumen : part.lumens) {
    if (lumen.contour.empty()) continue;
    bool there = false;
    for (PhantomLumen& other : scene.lumens) {
      const auto& with = lumen.merged_with;
      if (std::find(with.begin(), with.end(), other.names[0]) != with.end()) {
        other.names.push_back(lumen.name);
        there = true;
      }
    }
    if (there) continue;
    PhantomLumen out{{lumen.name}, lumen.contour, tones.lumen, false};
    if (lumen.state == BuiltState::kFilled) {
      out.tone = tones.filled;
      out.filled = true;
    }
    out.tone = std::clamp(out.tone + 0.006 * random.Normal(), 0.01, 0.98);
    scene.lumens.push_back(out);
  }
  for (const ContourPx& v : part.voids) {
    scene.voids.push_back(
        {v, std::clamp(tones.hole + 0.01 * random.Normal(), 0.01, 0.98), 1.0, 0, -1});
  }
}

void DrawOptics(PhantomScene& scene, PhantomSet set, Random& random) {
  const bool hard = set != PhantomSet::kPlain;
  const double most_blur = set == PhantomSet::kHarsh ? 2.5 : kHardBlur;
  scene.blur_px = hard ? random.Uniform(0.8, most_blur) : random.Uniform(0.7, 1.5);
  scene.noise = hard ? 0.005 * std::pow(8.0, random.Uniform()) : random.Uniform(0.005, 0.015);
  scene.shot_share = random.Uniform(0.3, 0.9);
  scene.gamma = hard ? random.Uniform(1.0, 2.2) : random.Uniform(1.0, 1.3);
  if (random.Chance(hard ? 0.12 : 0.05)) scene.bits = random.Chance(0.5) ? 12 : 16;
}

void DrawLightField(PhantomEffects& e, bool hard, Random& random) {
  e.slope = random.Uniform(0, hard ? 0.30 : 0.10);
  e.slope_rad = random.Uniform(0, 2 * kPi);
  e.bowl = random.Uniform(0, hard ? 0.20 : 0.05);
  if (hard && random.Chance(0.25)) e.vignette = random.Uniform(0.1, 0.45);
  if (hard && random.Chance(0.35)) {
    e.blur_slope = random.Uniform(0.1, 0.4);
    e.blur_slope_rad = random.Uniform(0, 2 * kPi);
  }
}

// Hard: an edge taken at its steepest slope, even started from the truth, has 40 to 70 % of the
// lumen diameters within half a pixel, by light. Harsh: 30 to 60 %.
void DrawEdges(PhantomScene& scene, PhantomSet set, Random& random) {
  PhantomEffects& e = scene.effects;
  const bool hard = set != PhantomSet::kPlain, harsh = set == PhantomSet::kHarsh;
  const bool transmitted = scene.light == PhantomLight::kTransmitted;
  if (transmitted) {
    e.band_px = random.Uniform(0.8, hard ? 2.5 : 1.8);
    e.band_offset_px = random.Uniform(0.5, hard ? 3.5 : 2.5);
    e.band_depth = hard ? random.Uniform(0.15, 0.75) : random.Uniform(0.1, 0.45);
  } else if (random.Chance(harsh ? 0.6 : hard ? kHardRims : 0.25)) {
    e.rim_px = hard ? random.Uniform(1, harsh ? 6 : kHardRim_px) : random.Uniform(1, 3);
    const double deepest = harsh ? 0.6 : kHardRimDepth;
    const double most = scene.light == PhantomLight::kWeak ? 0.5 * deepest : deepest;
    e.rim_depth = hard ? random.Uniform(0.1, most) : random.Uniform(0.05, 0.2);
  }
  if (random.Chance(hard ? 0.7 : 0.4)) {
    e.body_grain = random.Uniform(0.003, hard ? 0.03 : 0.01);
    e.resin_grain = random.Uniform(0.003, hard ? 0.03 : 0.01);
    e.grain_px = random.Uniform(1.2, 5);
  }
}

}  // namespace

void Dress(PhantomScene& scene, const BuiltPart& part, PhantomSet set, double pitch_um,
           Random& random, const PhantomLook& look) {
  const bool hard = set != PhantomSet::kPlain;
  scene.outline = part.outline;
  Tones tones = DrawTones(scene, set, random);
  TakeTones(scene, look, tones);
  PlaceLumens(scene, part, tones, random);
  DrawOptics(scene, set, random);
  DrawLightField(scene.effects, hard, random);
  DrawEdges(scene, set, random);
  TakeEdges(scene.effects, look);
  AddDirt(scene, hard, pitch_um, random);
}

}  // namespace cutface::phantom
