#include "gui/state/scene.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace cutface::window {
namespace {

constexpr ScreenRect kView{0, 0, 800, 600};

double LengthOf(const std::vector<std::vector<ScreenPoint>>& parts) {
  double sum = 0;
  for (const auto& part : parts)
    for (std::size_t i = 0; i + 1 < part.size(); ++i)
      sum += std::hypot(part[i + 1].x - part[i].x, part[i + 1].y - part[i].y);
  return sum;
}

Mark RoundMark(PointPx centre, double radius, const std::string& feature) {
  Mark mark;
  for (int i = 0; i < 200; ++i) {
    const double a = 2 * std::numbers::pi * i / 200;
    mark.points.push_back(centre + radius * PointPx{std::cos(a), std::sin(a)});
  }
  mark.feature = feature;
  return mark;
}

CanvasTransform OneToOne() {
  CanvasTransform t;
  t.SetView(kView);
  t.CentreOn({400, 300}, 1);
  return t;
}

TEST(Dashed, ASolidLineKeepsItsLength) {
  EXPECT_NEAR(
      LengthOf(Dashed({{10, 10}, {110, 10}, {110, 60}}, false, LineStyle::kSolid, 1, kView)), 150,
      1e-3);
  EXPECT_NEAR(LengthOf(Dashed({{10, 10}, {110, 10}, {110, 60}, {10, 60}}, true, LineStyle::kSolid,
                              1, kView)),
              300, 1e-3);
}

TEST(Dashed, ADashedLineInksItsShare) {
  // Seven of eleven.
  const auto parts = Dashed({{10, 10}, {450, 10}}, false, LineStyle::kDashed, 1, kView);
  EXPECT_EQ(parts.size(), 40u);
  EXPECT_NEAR(LengthOf(parts), 440.0 * 7 / 11, 0.05);
}

TEST(Dashed, EveryStyleLooksDifferent) {
  std::vector<double> shares;
  for (const LineStyle style :
       {LineStyle::kSolid, LineStyle::kDashed, LineStyle::kDotted, LineStyle::kDashDot,
        LineStyle::kShortDash, LineStyle::kDashDotDot}) {
    const auto parts = Dashed({{10, 10}, {790, 10}}, false, style, 1, kView);
    const double mark = LengthOf(parts) * 1000 + static_cast<double>(parts.size());
    for (const double other : shares) EXPECT_GT(std::abs(mark - other), 1);
    shares.push_back(mark);
  }
}

TEST(Dashed, WhatIsFarOutsideTheViewIsNotDrawn) {
  EXPECT_TRUE(Dashed({{5000, 10}, {9000, 10}}, false, LineStyle::kDashed, 1, kView).empty());
}

TEST(FeatureAt, TheNearestLineWinsThenTheSmallestAround) {
  const std::vector<Mark> marks = {RoundMark({400, 300}, 250, "outline"),
                                   RoundMark({400, 300}, 80, "scope")};
  EXPECT_EQ(FeatureAt(marks, OneToOne(), {650, 300}, 6), "outline");
  EXPECT_EQ(FeatureAt(marks, OneToOne(), {483, 300}, 6), "scope");
  EXPECT_EQ(FeatureAt(marks, OneToOne(), {400, 300}, 6), "scope");
  EXPECT_EQ(FeatureAt(marks, OneToOne(), {400, 120}, 6), "outline");
  EXPECT_EQ(FeatureAt(marks, OneToOne(), {20, 20}, 6), "");
}

TEST(BuildScene, LabelsNeverOverlapAndTheFirstRankFindsItsSeat) {
  std::vector<Mark> marks;
  for (int i = 0; i < 60; ++i) {
    Mark text;
    text.kind = DisplayItem::Kind::kText;
    text.text = "name " + std::to_string(i);
    text.points = {{400.0 + i % 5, 300.0}};
    text.rank = i;
    marks.push_back(text);
  }
  SceneInput in;
  in.marks = &marks;
  const Scene scene = BuildScene(
      in, OneToOne(),
      [](const std::string& s) {
        return TextSize{7.f * static_cast<float>(s.size()), 14};
      },
      1.4f);
  ASSERT_GT(scene.tags.size(), 3u);
  EXPECT_LT(scene.tags.size(), 60u);
  EXPECT_EQ(scene.tags.front().text, "name 0");
  for (std::size_t i = 0; i < scene.tags.size(); ++i) {
    EXPECT_TRUE(scene.tags[i].plate.Within(kView));
    for (std::size_t j = i + 1; j < scene.tags.size(); ++j)
      EXPECT_FALSE(scene.tags[i].plate.Overlaps(scene.tags[j].plate));
  }
}

TEST(BuildScene, TheScaleBarIsARoundLengthOfItsText) {
  SceneInput in;
  in.px_per_um = 0.5;
  const Scene scene = BuildScene(
      in, OneToOne(),
      [](const std::string&) {
        return TextSize{20, 14};
      },
      1.4f);
  ASSERT_TRUE(scene.bar);
  EXPECT_EQ(scene.bar->text, "0.2 mm");  // 176 points hold 352 um at most
  EXPECT_NEAR(scene.bar->right.x - scene.bar->left.x, 100, 1e-3);
}

TEST(BuildScene, AChosenPlaceIsMarkedWithItsLabel) {
  SceneInput in;
  in.chosen.places = {{300, 300}, {340, 300}};
  in.chosen.label = "0.1124 mm";
  const Scene scene = BuildScene(
      in, OneToOne(),
      [](const std::string&) {
        return TextSize{60, 14};
      },
      1.4f);
  ASSERT_EQ(scene.strokes.size(), 1u);
  EXPECT_TRUE(scene.strokes[0].arrows);
  ASSERT_EQ(scene.tags.size(), 1u);
  EXPECT_EQ(scene.tags[0].text, "0.1124 mm");
}

}  // namespace
}  // namespace cutface::window
