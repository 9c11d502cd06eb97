// By the clock: every formula of eccentricity on one ring, harmonics with their direction, the
// direction of a flattened lumen, pins with class and sign.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/measure.h"
#include "measure/faces.h"

namespace cutface {
namespace {

using faces::CirclePoints;
using faces::CircleShape;
using faces::EllipsePoints;
using faces::Find;
using faces::Lumen;
using faces::LumenOf;
using faces::Traced;

// A ring "jacket" between the outline and its inner edge, lumen "l" inside.
struct Ringed {
  Section section;
  Design design;
  SectionDesign plane;

  Ringed(double outer, double inner, PointUm off) {
    section.outline = Traced(CirclePoints({0, 0}, outer, 2880));
    section.rings = {{"jacket", Traced(CirclePoints(off, inner, 2880))}};
    section.lumens = {Lumen("l", CirclePoints({0, 0}, 0.5 * inner, 720))};
    plane.outline = CircleShape({0, 0}, 2 * outer);
    plane.rings = {{"jacket", CircleShape({0, 0}, 2 * inner)}};
    plane.lumens = {LumenOf("l", CircleShape({0, 0}, inner))};
  }
  double Of(const std::string& word, double rotation = 0, bool mirrored = false) {
    section.placement.rotation_rad = rotation;
    section.placement.mirrored = mirrored;
    MeasureOptions options;
    options.draws = 0;
    options.u_floor_um = 0;
    const auto all = MeasureSection(section, &design, &plane, Scale::Isotropic(1), options);
    const Measurement* m = Find(all, {"jacket"}, word);
    EXPECT_NE(m, nullptr) << word;
    return m != nullptr ? m->value : -1;
  }
};

// check-values 9: outer radius 1.0, inner 0.8, e 0.05.
TEST(Clock, OneRingHasEveryFormulaOfEccentricity) {
  Ringed ring(1000, 800, {50, 0});
  EXPECT_NEAR(ring.Of("concentricity"), 60.0, 0.01);
  EXPECT_NEAR(ring.Of("eccentricity"), 50, 0.01);
  EXPECT_NEAR(ring.Of("wall_variation"), 100, 0.01);
  EXPECT_NEAR(ring.Of("eccentricity_sum"), 25.0, 0.01);
  EXPECT_NEAR(ring.Of("wall_range"), 40.0, 0.01);
  EXPECT_NEAR(ring.Of("centre_offset"), 50, 0.01);
  EXPECT_NEAR(ring.Of("runout"), 100, 0.02);
  EXPECT_NEAR(ring.Of("eccentricity_mean"), 100 * 100 / ring.Of("thickness_mean"), 0.01);
}

// Nearest distance from the inner edge: t = b - |p|, p = (e + a cos, a sin); its waves by
// quadrature.
TEST(Clock, HarmonicsOfAnEccentricRing) {
  const double a = 800, b = 1000, e = 50;
  double wave[3] = {0, 0, 0};
  const int n = 100000;
  for (int i = 0; i < n; ++i) {
    const double x = 2 * kPi * (i + 0.5) / n;
    const double t = b - std::hypot(e + a * std::cos(x), a * std::sin(x));
    for (int k = 0; k < 3; ++k) wave[k] += 2 * t * std::cos((k + 1) * x) / n;
  }
  Ringed ring(b, a, {e, 0});
  EXPECT_NEAR(ring.Of("first_harmonic"), std::abs(wave[0]), 0.02);
  EXPECT_NEAR(ring.Of("second_harmonic"), std::abs(wave[1]), 0.02);
  EXPECT_NEAR(ring.Of("third_harmonic"), std::abs(wave[2]), 0.02);
  // Off centre towards +x, 3 o'clock: thickest at 9 o'clock.
  EXPECT_NEAR(ring.Of("first_harmonic_clock"), 270, 0.05);
  // The drawing turned by 30 degrees in the picture: an hour earlier; mirrored: 3 and 9 swap.
  EXPECT_NEAR(ring.Of("first_harmonic_clock", kPi / 6), 240, 0.05);
  EXPECT_NEAR(ring.Of("first_harmonic_clock", 0, true), 90, 0.05);
}

// An amplitude of 50 um that is known to 0.5 um at best is a direction known to 0.01 rad at best.
TEST(Clock, DirectionIsNoBetterKnownThanTheFloorOfLengths) {
  Ringed ring(1000, 800, {50, 0});
  const auto all = MeasureSection(ring.section, &ring.design, &ring.plane, Scale::Isotropic(1), {});
  const double amplitude = Find(all, {"jacket"}, "first_harmonic")->value;
  EXPECT_NEAR(Find(all, {"jacket"}, "first_harmonic_clock")->u, 0.5 / amplitude * 180 / kPi, 0.02);
}

TEST(Clock, OvalRingIsTheSecondHarmonic) {
  Ringed ring(1000, 800, {0, 0});
  ring.section.rings[0].inner = Traced(EllipsePoints({0, 0}, 820, 780, 2880));
  // Thickness about 200 - 20 cos 2x: thickest at 12 and 6 o'clock.
  EXPECT_NEAR(ring.Of("second_harmonic"), 20, 0.5);
  EXPECT_NEAR(ring.Of("first_harmonic"), 0, 0.05);
  const double clock = ring.Of("second_harmonic_clock");
  EXPECT_NEAR(std::abs(std::remainder(clock, 180)), 0, 0.05);
}

TEST(Clock, FlattenedLumenTellsItsDirectionAndItsPerimeter) {
  Ringed face(1000, 800, {0, 0});
  // As an ellipse with 0.5 of its width, same perimeter as the drawn circle of 400: perimeter / a =
  // 4.8442241 (check-values 3.1), turned so that it is narrow from 2 to 8 o'clock.
  const double a = 2 * kPi * 400 / 4.8442241;
  ContourUm points;
  for (const PointUm p : EllipsePoints({0, 0}, a / 2, a, 2880))
    points.push_back(Rotated(p, -kPi / 6));
  face.section.lumens = {Lumen("l", points)};
  MeasureOptions options;
  options.u_floor_um = 0;
  const auto all =
      MeasureSection(face.section, &face.design, &face.plane, Scale::Isotropic(1), options);
  // Narrow along x turned by -30 degrees (towards -y): from 3 o'clock to 2 o'clock.
  EXPECT_NEAR(Find(all, {"l"}, "narrow_clock")->value, 60, 0.05);
  EXPECT_NEAR(Find(all, {"l"}, "perimeter_ratio")->value, 1, 1e-4);
  // trade.md 10: b/a 0.5 at the same perimeter: area 84 %, flow 57 %.
  EXPECT_NEAR(Find(all, {"l"}, "area_ratio")->value, 0.84, 0.005);
  EXPECT_NEAR(Find(all, {"l"}, "flow_ratio")->value, 0.57, 0.005);
}

TEST(Clock, PlusPinsCostTheirTolerance) {
  EXPECT_NEAR(PinToleranceUm("ZZ", 1000), 5.08, 1e-9);
  EXPECT_NEAR(PinToleranceUm("X", 30000), 1.524, 1e-9);
  EXPECT_EQ(PinToleranceUm("", 1000), 0);
  Ringed face(1000, 800, {0, 0});
  face.section.lumens = {Lumen("l", CirclePoints({0, 0}, 383, 2880))};  // 766 um
  MeasureOptions options;
  options.draws = 0;
  options.u_floor_um = 0;
  const auto pin = [&] {
    const auto all =
        MeasureSection(face.section, &face.design, &face.plane, Scale::Isotropic(1), options);
    return Find(all, {"l"}, "go_pin")->value;
  };
  EXPECT_NEAR(pin(), 762, 1e-6);  // 0.030 in
  face.design.pins.grade = "ZZ";  // may be 767.08: one step less
  EXPECT_NEAR(pin(), 749.3, 1e-6);
  face.design.pins.is_plus = false;
  EXPECT_NEAR(pin(), 762, 1e-6);
  face.design.pins.clearance_um = 5;
  EXPECT_NEAR(pin(), 749.3, 1e-6);
}

}  // namespace
}  // namespace cutface
