#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/picture.h"
#include "picture/sample.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using Kind = DisplayItem::Kind;
using ::testing::HasSubstr;

// Stretches of one feature that carry this class's word.
std::vector<DisplayItem> Stretches(const DisplayList& list, const std::string& feature,
                                   const std::string& word) {
  std::vector<DisplayItem> found;
  for (const DisplayItem& item : list.items) {
    if (item.kind == Kind::kPath && item.feature == feature && item.text == word)
      found.push_back(item);
  }
  return found;
}

// A round outline of 360 places, a degree each: a quarter known to a tenth of a pixel, a quarter to
// a third, a quarter badly, a quarter not seen.
SectionResult Quarters() {
  SectionResult result = sample::FourLumens();
  result.mean_pitch_um = sample::kPitchUm;
  result.section.outline = sample::Traced(sample::Round({0, 0}, 1200));
  const double px[] = {0.1, 0.33, 0.8, 0.1};
  std::vector<ContourVertex>& v = result.section.outline->vertices;
  for (std::size_t i = 0; i < v.size(); ++i) {
    v[i].sigma_um = px[i / 90] * sample::kPitchUm;
    if (i >= 270) v[i].state = VertexState::kBridged;
  }
  return result;
}

TEST(EdgeMap, ParsesAContourIntoClassesByItsUncertainty) {
  const DisplayList list = BuildEdgeMap(Quarters());
  for (const char* word :
       {"u below 0.15 px", "u 0.15 to 0.5 px", "u above 0.5 px", "not seen, bridged"}) {
    const std::vector<DisplayItem> runs = Stretches(list, "outline", word);
    ASSERT_EQ(runs.size(), 1u) << word;
    EXPECT_EQ(runs[0].points.size(), 91u) << word;  // the seam is closed
  }
}

// Classes differ in more than colour.
TEST(EdgeMap, ClassesDifferInWidthOrStyle) {
  const DisplayList list = BuildEdgeMap(Quarters());
  const DisplayItem sharp = Stretches(list, "outline", "u below 0.15 px").front();
  const DisplayItem fair = Stretches(list, "outline", "u 0.15 to 0.5 px").front();
  const DisplayItem poor = Stretches(list, "outline", "u above 0.5 px").front();
  EXPECT_LT(sharp.weight, fair.weight);
  EXPECT_LT(fair.weight, poor.weight);
  EXPECT_NE(sharp.style, fair.style);
  EXPECT_NE(fair.style, poor.style);
}

TEST(EdgeMap, WhatMovesTheWholeContourCountsToo) {
  SectionResult result = Quarters();
  for (ContourVertex& v : result.section.outline->vertices) {
    v.sigma_um = 0;
    v.state = VertexState::kMeasured;
  }
  result.section.outline->u_common_um = 0.7 * sample::kPitchUm;
  EXPECT_EQ(Stretches(BuildEdgeMap(result), "outline", "u above 0.5 px").size(), 1u);
}

TEST(EdgeMap, WhatTheFrameCutOffIsNotDrawn) {
  SectionResult result = Quarters();
  for (ContourVertex& v : result.section.outline->vertices) v.state = VertexState::kCutOff;
  for (const DisplayItem& item : BuildEdgeMap(result).items) {
    EXPECT_FALSE(item.feature == "outline" && item.kind == Kind::kPath);
  }
}

TEST(EdgeMap, TheCaptionSaysHowLongEachClassIs) {
  const std::vector<std::string> caption = BuildEdgeMap(Quarters()).caption;
  const auto line = std::find_if(caption.begin(), caption.end(),
                                 [](const std::string& l) { return l.starts_with("outline\t"); });
  ASSERT_NE(line, caption.end());
  EXPECT_THAT(*line, HasSubstr("25 % u below 0.15 px"));
  EXPECT_THAT(*line, HasSubstr("25 % not seen, bridged"));
}

TEST(EdgeMap, IsDrawnAsAPicture) {
  const SectionResult result = Quarters();
  const Micrograph photo =
      MicrographFromPixels(sample::Paint(result, {}, 1600, 1200), 8, "photo.png");
  PictureOptions options;
  options.edge_map = true;
  const Scale scale = Scale::Isotropic(sample::kPitchUm);
  const auto map = RenderPng(photo, scale, result, options),
             plain = RenderPng(photo, scale, result);
  ASSERT_THAT(map, IsOk());
  ASSERT_THAT(plain, IsOk());
  EXPECT_NE(*map, *plain);
  const auto svg = RenderSvg(photo, scale, result, options);
  ASSERT_THAT(svg, IsOk());
  EXPECT_THAT(*svg, HasSubstr("not seen, bridged"));
}

}  // namespace
}  // namespace cutface
