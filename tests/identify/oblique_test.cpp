#include "identify/oblique.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <numbers>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kDegree = kPi / 180;
constexpr double kPitchUm = 2.4;
constexpr double kPartSize = 0.01;  // limits of +-2 % on the outside diameter

ContourUm Ellipse(PointUm centre, double a, double b, double turn = 0) {
  ContourUm out;
  for (int i = 0; i < 360; ++i) {
    const double t = i * kDegree;
    out.push_back(centre + Rotated(PointUm{a * std::cos(t), b * std::sin(t)}, turn));
  }
  return out;
}

// Lengths along `axis` times `along`, across it times `across`, about a centre.
ContourUm Stretched(const ContourUm& contour, double along, double across, double axis,
                    PointUm about = {0, 0}) {
  ContourUm out;
  for (const PointUm& p : contour) {
    const PointUm q = Rotated(p - about, -axis);
    out.push_back(about + Rotated(PointUm{along * q.x, across * q.y}, axis));
  }
  return out;
}

// A round shaft with four round lumens, as drawn and as made: every feature oval on its own by up
// to `oval` (long against short - 1), sizes and places off by what is usual.
std::vector<FeaturePair> Part(double oval, Random& random) {
  std::vector<FeaturePair> part;
  const double size = 1 + 0.005 * random.Normal();
  const auto add = [&](FeatureKind kind, PointUm at, double r, PointUm off, double own) {
    const double k = 0.5 * random.Uniform(0, oval);
    const ContourUm nominal = Ellipse(at, r, r);
    const PointUm place = size * at + off;
    const double grown = size * own * r;
    part.push_back(
        {kind, Ellipse(place, grown * (1 + k), grown * (1 - k), random.Uniform(0, kPi)), nominal});
  };
  add(FeatureKind::kOutline, {0, 0}, 1250, {0, 0}, 1);
  const double r[] = {475, 220, 240, 120};
  const PointUm at[] = {{0, 470}, {-430, -480}, {430, -460}, {0, -820}};
  for (int k = 0; k < 4; ++k) {
    add(FeatureKind::kLumen, at[k], r[k], {4 * random.Normal(), 4 * random.Normal()},
        1 + 0.01 * random.Normal());
  }
  return part;
}

std::vector<FeaturePair> Cut(std::vector<FeaturePair> part, double along, double across,
                             double axis) {
  for (FeaturePair& f : part) f.measured = Stretched(f.measured, along, across, axis);
  return part;
}

CommonStretch Find(const std::vector<FeaturePair>& part) {
  return FindCommonStretch(0, false, kPitchUm, part, kPartSize);
}

TEST(CommonStretch, OfAnExactTiltIsTheTilt) {
  Random random(1);
  for (const double tilt : {12.0, 20.0, 30.0}) {
    std::vector<FeaturePair> part = Part(0, random);
    for (FeaturePair& f : part) f.measured = f.nominal;
    const double axis = random.Uniform(0, kPi);
    const CommonStretch found = Find(Cut(part, 1 / std::cos(tilt * kDegree), 1, axis));
    EXPECT_NEAR(found.tilt_rad / kDegree, tilt, 0.02);
    EXPECT_NEAR(std::cos(2 * (found.axis_rad - axis)), 1, 1e-4);
    EXPECT_NE(found.kind, StretchKind::kSquashed);
  }
}

// Goal: tilts above 10 degrees to 1.5 degrees. The parts' own ovality of up to 2 % limits it.
TEST(CommonStretch, TiltsOfOvalPartsAreToldWithTheirUncertainty) {
  Random random(20);
  int within = 0, held = 0, told = 0, squashed = 0;
  constexpr int kParts = 300;
  for (int i = 0; i < kParts; ++i) {
    const double tilt = random.Uniform(12, 30);
    const auto part =
        Cut(Part(0.02, random), 1 / std::cos(tilt * kDegree), 1, random.Uniform(0, kPi));
    const CommonStretch found = Find(part);
    squashed += found.kind == StretchKind::kSquashed ? 1 : 0;
    if (!(found.tilt_rad > 0)) continue;
    ++told;
    const double error = found.tilt_rad / kDegree - tilt;
    within += std::abs(error) < 1.5 ? 1 : 0;
    held += std::abs(error) < 2 * found.u_tilt_rad / kDegree ? 1 : 0;
    EXPECT_LT(tilt * kDegree, found.most_rad + 2.5 * kDegree);
  }
  EXPECT_GT(told, 0.97 * kParts);
  EXPECT_GT(within, 0.93 * kParts);
  EXPECT_GT(held, 0.90 * kParts);
  EXPECT_LT(squashed, 0.02 * kParts);
}

TEST(CommonStretch, OvalPartsCutSquareRaiseFewAlarms) {
  Random random(30);
  int alarms = 0;
  constexpr int kParts = 400;
  for (int i = 0; i < kParts; ++i)
    alarms += Find(Part(0.02, random)).kind != StretchKind::kNone ? 1 : 0;
  EXPECT_LT(alarms, 0.05 * kParts);
}

TEST(CommonStretch, AnOvalOutlineAloneIsNoTilt) {
  Random random(40);
  std::vector<FeaturePair> part = Part(0.0, random);
  part.front().measured = Stretched(part.front().measured, 1.0642, 1.0, 0.3);
  EXPECT_EQ(Find(part).kind, StretchKind::kNone);
}

// One collapsed lumen does not speak for the cut.
TEST(CommonStretch, ACollapsedLumenIsNoTilt) {
  Random random(50);
  std::vector<FeaturePair> part = Part(0.005, random);
  FeaturePair& scope = part[1];
  scope.measured = Stretched(scope.measured, 1.1, 0.6, 0.7, Centroid<FrameUm>(scope.measured));
  EXPECT_EQ(Find(part).kind, StretchKind::kNone);
}

TEST(CommonStretch, ASquashKeepsAreasAndIsToldFromATilt) {
  Random random(60);
  int squashed = 0, oblique = 0;
  constexpr int kParts = 200;
  for (int i = 0; i < kParts; ++i) {
    const double half = random.Uniform(0.045, 0.08);
    const CommonStretch found =
        Find(Cut(Part(0.01, random), 1 + half, 1 / (1 + half), random.Uniform(0, kPi)));
    squashed += found.kind == StretchKind::kSquashed ? 1 : 0;
    oblique += found.kind == StretchKind::kOblique ? 1 : 0;
    if (found.kind == StretchKind::kSquashed) {
      EXPECT_EQ(found.tilt_rad, 0);
      EXPECT_NEAR(found.stretch, (1 + half) * (1 + half), 0.012);
    }
  }
  EXPECT_GT(squashed, 0.85 * kParts);
  EXPECT_LE(oblique, 0.01 * kParts);
}

// Continued from a part of it an outline is not known as well; the tilt is told with less
// certainty.
TEST(CommonStretch, AnOutlineThatIsSeenInPartTellsTheTiltLessSurely) {
  Random random(11);
  std::vector<FeaturePair> part = Cut(Part(0.002, random), 1 / std::cos(20 * kDegree), 1, 0.7);
  const CommonStretch whole = Find(part);
  part.front().kind = FeatureKind::kPartOutline;
  const CommonStretch cut = Find(part);
  EXPECT_NEAR(cut.tilt_rad / kDegree, 20, 2.5);
  EXPECT_GT(cut.u_tilt_rad, whole.u_tilt_rad);
  EXPECT_NEAR(std::remainder(cut.axis_rad - 0.7, kPi) / kDegree, 0, 3);
}

// A contour that runs there and back encloses nothing.
TEST(CommonStretch, AContourWithoutAreaIsLeftOut) {
  Random random(5);
  std::vector<FeaturePair> part = Cut(Part(0, random), 1.1, 1, 0.3);
  const CommonStretch without = Find(part);
  FeaturePair flat{FeatureKind::kLumen, {}, part.back().nominal};
  for (int k = 0; k < 20; ++k) flat.measured.push_back({100.0 + std::min(k, 20 - k), 50});
  part.push_back(flat);
  const CommonStretch with = Find(part);
  EXPECT_EQ(with.stretch, without.stretch);
  EXPECT_EQ(with.axis_rad, without.axis_rad);
}

TEST(CommonStretch, OneFeatureTellsNothing) {
  Random random(70);
  std::vector<FeaturePair> part = Cut(Part(0, random), 1.1, 1, 0);
  part.resize(1);
  const CommonStretch found = Find(part);
  EXPECT_EQ(found.kind, StretchKind::kNone);
  EXPECT_EQ(found.most_rad, 0);
}

TEST(CommonStretch, TurnedAndMirroredFacesReadAlike) {
  Random random(80);
  std::vector<FeaturePair> part = Cut(Part(0.01, random), 1.06, 1, 0.4);
  const CommonStretch upright = Find(part);
  const double turn = 1.1;
  for (FeaturePair& f : part) {
    for (PointUm& p : f.measured) p = Rotated(PointUm{-p.x, p.y}, turn);
    std::reverse(f.measured.begin(), f.measured.end());
  }
  const CommonStretch turned = FindCommonStretch(turn, true, kPitchUm, part, kPartSize);
  EXPECT_NEAR(turned.tilt_rad, upright.tilt_rad, 2e-4);  // where the descent stops
  // A mirrored axis turns the other way.
  EXPECT_NEAR(std::cos(2 * (turned.axis_rad - (turn - upright.axis_rad))), 1, 1e-5);
}

}  // namespace
}  // namespace cutface
