// Potting drawn back from a part of a bore: a dark line beside a part of its edge. The edge is
// where the polymer ends, all around, and the line is no reason to think the picture sharper there.
#include <gtest/gtest.h>

#include <cmath>

#include "edge/line.h"
#include "edge/pictures.h"

namespace cutface {
namespace {

using namespace pictures;

constexpr double kBlur = 1.15, kRadius = 90, kBody = 0.65, kResin = 0.4;

// Share of a gap's depth at `angle`: 1 over the middle of `extent` radians about 0, fading over the
// last tenth of it on either side.
double GapShare(double angle, double extent) {
  const double away = std::abs(std::remainder(angle, 2 * kPi)), half = extent / 2;
  if (away >= half) return 0;
  return std::min(1.0, (half - away) / (0.1 * extent));
}

// A row of filled bores; the first has a gap of `width` px over `extent` radians.
SettledFace FilledBores(double width, double extent) {
  const BlurredDisc bore(kRadius, kBlur), core(kRadius - width, kBlur);
  const PointPx centres[] = {{120, 120}, {330, 120}, {540, 120}};
  const auto light = [&](double x, double y) {
    double value = kBody;
    for (const PointPx centre : centres) {
      const PointPx at = PointPx{x, y} - centre;
      const double r = Norm(at);
      if (r > kRadius + 12) continue;
      const double inside = bore(r);
      value += (kResin - kBody) * inside;
      if (centre.x == centres[0].x)
        value += (0.14 - kResin) * (inside - core(r)) * GapShare(std::atan2(at.y, at.x), extent);
    }
    return value;
  };
  std::vector<EdgeInput> inputs;
  for (const PointPx centre : centres) {
    EdgeInput input;
    input.start = CirclePoints(centre, kRadius + 0.4, 200);
    input.expected_step = 1 - kResin / kBody;
    inputs.push_back(input);
  }
  EdgeOptions options;
  options.gamma = 1.2;
  const Micrograph picture = Taken(660, 240, light, {1.2, 0.008, 7});
  return SettleEdges(picture, EvenLight(std::pow(kBody, 1 / 1.2)), inputs, options);
}

TEST(SettledGap, AGapAlongMoreThanHalfOfABoreLeavesItsEdgeWhereThePolymerEnds) {
  for (const double extent : {1.2 * kPi, 1.6 * kPi}) {
    const SettledFace face = FilledBores(1.9, extent);
    EXPECT_NEAR(EqualAreaRadius(face.contours[0]), kRadius, 0.1) << extent;
    EXPECT_NEAR(EqualAreaRadius(face.contours[1]), kRadius, 0.05) << extent;
  }
}

TEST(SettledGap, AGapMakesNoEdgeSharper) {
  const SettledFace face = FilledBores(1.9, 1.6 * kPi);
  for (const SettledContour& contour : face.contours) EXPECT_NEAR(contour.blur_px, kBlur, 0.06);
}

// A part in potting brighter than it, with an open bore that a liner forms; the potting has drawn
// back along `extent` radians of the outline.
SettledFace PottedPart(double width, double extent) {
  constexpr double kOuter = 110, kBore = 45, kPotting = 0.82, kPart = 0.6, kGap = 0.3;
  const PointPx centre{150, 150};
  const BlurredDisc part(kOuter, kBlur), gap(kOuter + width, kBlur), bore(kBore, kBlur);
  const auto light = [&](double x, double y) {
    const PointPx at = PointPx{x, y} - centre;
    const double r = Norm(at);
    const double drawn_back = (gap(r) - part(r)) * GapShare(std::atan2(at.y, at.x), extent);
    return kPotting + (kPart - kPotting) * part(r) + (kGap - kPotting) * drawn_back +
           (0.02 - kPart) * bore(r);
  };
  EdgeInput outline, lumen;
  outline.start = CirclePoints(centre, kOuter + 0.6 * width, 300);
  outline.polymer_outside = false;
  outline.expected_step = 1 - kPotting / kPart;
  lumen.start = CirclePoints(centre, kBore + 0.4, 200);
  lumen.expected_step = 1;
  lumen.layered = true;
  EdgeOptions options;
  options.gamma = 1.2;
  const Micrograph picture = Taken(300, 300, light, {1.2, 0.008, 7});
  return SettleEdges(picture, EvenLight(std::pow(kPart, 1 / 1.2)), {outline, lumen}, options);
}

// Light that comes through would make such a line all around; a dark bore says that none does.
TEST(SettledGap, AGapAlongMostOfTheOutlineLeavesItWhereThePartEnds) {
  for (const double width : {2.5, 4.0}) {
    const SettledFace face = PottedPart(width, 1.5 * kPi);
    const SettledContour& outline = face.contours[0];
    EXPECT_NEAR(EqualAreaRadius(outline), 110, 0.3) << width;
    // But for where the gap fades: 15 % of the outline.
    double off = 0;
    for (const SettledPlace& place : outline.places)
      off += std::abs(Distance(place.at, {150, 150}) - 110) > 0.5 ? 1 : 0;
    EXPECT_LT(off, 0.15 * static_cast<double>(outline.places.size())) << width;
  }
}

// In light that comes through: a bright bore, a gap that is wide and goes nearly all around. One
// stretch alone would not say that the edge lies so far in; many do.
TEST(SettledGap, AWideGapAlongNearlyAllOfTheOutlineIsToldFromManyStretches) {
  constexpr double kOuter = 180, kBore = 60, kPotting = 0.85, kPart = 0.45, kGap = 0.05;
  constexpr double kBright = 0.95, kWidth = 4.2, kBand = 2.0, kDepth = 0.6;
  const PointPx centre{220, 220};
  const BlurredDisc part(kOuter, kBlur), gap(kOuter + kWidth, kBlur), bore(kBore, kBlur);
  // A refraction band just inside every edge of the polymer, 1.5 px wide.
  const BlurredDisc out_near(kOuter - kBand + 0.75, kBlur), out_far(kOuter - kBand - 0.75, kBlur);
  const BlurredDisc in_far(kBore + kBand + 0.75, kBlur), in_near(kBore + kBand - 0.75, kBlur);
  const auto light = [&](double x, double y) {
    const PointPx at = PointPx{x, y} - centre;
    const double r = Norm(at);
    const double drawn_back = (gap(r) - part(r)) * GapShare(std::atan2(at.y, at.x), 1.85 * kPi);
    const double band = out_near(r) - out_far(r) + in_far(r) - in_near(r);
    return kPotting + (kPart - kPotting) * part(r) + (kGap - kPotting) * drawn_back +
           (kBright - kPart) * bore(r) - kDepth * kPart * band;
  };
  EdgeInput outline, lumen;
  outline.start = CirclePoints(centre, kOuter + kWidth, 300);
  outline.polymer_outside = false;
  outline.expected_step = 1 - kPotting / kPart;
  lumen.start = CirclePoints(centre, kBore + 0.4, 200);
  lumen.expected_step = 1 - kBright / kPart;
  EdgeOptions options;
  options.gamma = 1.2;
  const Micrograph picture = Taken(440, 440, light, {1.2, 0.008, 7});
  const SettledFace face =
      SettleEdges(picture, EvenLight(std::pow(kPart, 1 / 1.2)), {outline, lumen}, options);
  EXPECT_NEAR(EqualAreaRadius(face.contours[0]), kOuter, 0.6);
  EXPECT_NEAR(EqualAreaRadius(face.contours[1]), kBore, 0.2);
}

// Twenty stretches whose edges begin at 0; refraction's dark line lies 3 px inside the part, and a
// gap of the potting moves the edge that is seen 1.5 px outwards in some of them.
TEST(SettledGap, ADarkLineThatLiesFurtherInsideTellsOfAGap) {
  const auto stretch = [](double line_at) {
    LinearProfile profile;
    for (double s = -9; s < 10; s += 0.25) {
      const double dip = std::exp(-0.5 * std::pow((s - line_at) / 0.8, 2));
      profile.s.push_back(s);
      profile.y.push_back(s < 0 ? 0.9 : 0.5 - 0.3 * dip);
      profile.w.push_back(1);
    }
    return profile;
  };
  ArcFit edge;
  edge.v = 0.9;
  edge.p = 0.5;
  const std::vector<ArcFit> fits(20, edge);
  std::vector<LinearProfile> profiles(20, stretch(3));
  EXPECT_EQ(BeyondNearest(profiles, fits), std::vector<double>(20, 0.0));
  for (std::size_t k = 4; k < 16; ++k) profiles[k] = stretch(4.5);
  const std::vector<double> beyond = BeyondNearest(profiles, fits);
  for (std::size_t k = 0; k < 20; ++k) EXPECT_NEAR(beyond[k], k >= 4 && k < 16 ? 1.5 : 0, 0.1) << k;
  // A stretch that has its gap already says nothing more.
  std::vector<ArcFit> told = fits;
  told[5].line = -0.2;
  EXPECT_EQ(BeyondNearest(profiles, told)[5], 0);
}

// Forty stretches: how many of them must tell of a line, and what it must do.
TEST(SettledGap, ManyStretchesAreBelievedWhereTheyTellTheSameStory) {
  const auto told = [](int voters, double vote, double moved) {
    std::vector<std::optional<Line>> lines(40);
    for (int k = 0; k < voters; ++k) {
      lines[static_cast<std::size_t>(k)] = Line{};
      lines[static_cast<std::size_t>(k)]->vote = vote;
      lines[static_cast<std::size_t>(k)]->fit.x0 = moved;
    }
    return ManyLines(lines, std::vector<double>(40, 0.0));
  };
  EXPECT_TRUE(told(14, 4, 3));
  EXPECT_FALSE(told(8, 4, 3));     // too few
  EXPECT_FALSE(told(14, 0.5, 3));  // each says next to nothing
  EXPECT_FALSE(told(14, 2, 3));    // together not enough
  EXPECT_FALSE(told(14, 4, 0.3));  // the edge stays where it is
  EXPECT_FALSE(told(14, 4, -3));   // away from the polymer: no gap does that
}

}  // namespace
}  // namespace cutface
