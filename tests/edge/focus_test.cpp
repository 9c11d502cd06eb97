// A face that stands aslant under the lens: blur that changes over the picture.
#include "edge/focus.h"

#include <gtest/gtest.h>

#include <cmath>

#include "edge/pictures.h"

namespace cutface {
namespace {

using namespace pictures;

constexpr double kBore_px = 40, kMiddleBlur = 1.6, kHalf_px = 160;
const PointPx kBores[] = {{70.3, 70.1}, {189.8, 69.7}, {309.9, 70.4}};

// Three filled bores brighter than the polymer; the blur's logarithm grows by `tilt` over half of
// the picture. Discs of unlike blur are told exactly, between them it is interpolated.
SettledFace Aslant(double tilt, std::uint64_t seed) {
  constexpr double kLeast = 0.8, kStep = 0.1;
  std::vector<BlurredDisc> discs;
  for (double blur = kLeast; blur < 3.2; blur += kStep) discs.emplace_back(kBore_px, blur);
  const auto light = [&](double x, double y) {
    const double blur = kMiddleBlur * std::exp(tilt * (x - kBores[1].x) / kHalf_px);
    const double at = (blur - kLeast) / kStep;
    const auto k = static_cast<std::size_t>(at);
    const double f = at - static_cast<double>(k);
    double share = 0;
    for (const PointPx bore : kBores) {
      const double r = Distance({x, y}, bore);
      share += (1 - f) * discs[k](r) + f * discs[k + 1](r);
    }
    return 0.15 + 0.6 * share;
  };
  std::vector<EdgeInput> inputs;
  for (const PointPx bore : kBores) {
    EdgeInput input;
    input.start = CirclePoints(bore, kBore_px + 0.6, 200);
    input.expected_step = 1 - 0.75 / 0.15;
    inputs.push_back(input);
  }
  EdgeOptions options;
  options.gamma = 1;
  return SettleEdges(Taken(380, 140, light, {1, 0.004, seed}), EvenLight(0.15), inputs, options);
}

// Where the face is softer than elsewhere, an edge must not pass for one with a lip of a tone
// between: that would put it a pixel off.
TEST(SettledFocus, SoftEdgesOfAFaceAslantAreNoLips) {
  for (const double tilt : {-0.35, 0.0, 0.35}) {
    for (const std::uint64_t seed : {1u, 2u, 3u}) {
      const SettledFace face = Aslant(tilt, seed);
      for (const SettledContour& bore : face.contours)
        EXPECT_NEAR(EqualAreaRadius(bore), kBore_px, 0.1) << tilt << " " << seed;
      EXPECT_NEAR(face.contours[0].blur_px, kMiddleBlur * std::exp(-0.75 * tilt), 0.12) << tilt;
      EXPECT_NEAR(face.contours[2].blur_px, kMiddleBlur * std::exp(0.75 * tilt), 0.12) << tilt;
    }
  }
}

// Evidence that each stretch's blur follows `plane`, as parabolas.
std::vector<FocusStretch> OnPlane(const FocusPlane& plane) {
  std::vector<FocusStretch> stretches;
  for (int k = 0; k < 24; ++k) {
    FocusStretch s;
    s.at = {500 + 300 * std::cos(k * 0.7), 400 + 250 * std::sin(k * 1.3)};
    const double logarithm =
        plane.level + plane.x * (s.at.x - plane.middle.x) + plane.y * (s.at.y - plane.middle.y);
    for (std::size_t f = 0; f < kWeighedBlurs; ++f)
      s.evidence[f] = 7 + std::pow((std::log(WeighedBlur(f)) - logarithm) / 0.06, 2);
    stretches.push_back(s);
  }
  return stretches;
}

TEST(Focus, APlaneIsToldFromItsStretchesAndNoneFromEvenBlur) {
  const FocusPlane plane{{500, 400}, 0.05, 0.0006, -0.0008};
  const auto told = TellFocus(OnPlane(plane));
  ASSERT_TRUE(told);
  for (const PointPx p : {PointPx{250, 300}, {500, 400}, {760, 560}}) {
    const double want = std::exp(0.05 + 0.0006 * (p.x - 500) - 0.0008 * (p.y - 400));
    EXPECT_NEAR(std::log(told->FactorAt(p)), std::log(want), 0.06);
  }
  EXPECT_FALSE(TellFocus(OnPlane({{500, 400}, 0.05, 0, 0})));
  std::vector<FocusStretch> few = OnPlane(plane);
  few.resize(5);
  EXPECT_FALSE(TellFocus(few));
}

}  // namespace
}  // namespace cutface
