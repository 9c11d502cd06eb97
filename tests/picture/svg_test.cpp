#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdio>

#include "cutface/picture.h"
#include "picture/sample.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using ::testing::HasSubstr;
using ::testing::Not;
using ::testing::StartsWith;

constexpr int kWidth = 1600, kHeight = 1200;
constexpr double kHundredth = 0.0051;  // coordinates are written with two decimals

std::string Drawn(const SectionResult& result, PictureOptions options = {}) {
  const Micrograph photo =
      MicrographFromPixels(sample::Paint(result, {}, kWidth, kHeight), 8, "photo.png");
  auto svg = RenderSvg(photo, Scale::Isotropic(sample::kPitchUm), result, options);
  EXPECT_THAT(svg, IsOk());
  return svg ? *svg : std::string();
}

// Places of the first path in the group of this feature and kind.
std::vector<PointPx> PathOf(const std::string& svg, const std::string& feature,
                            const std::string& kind) {
  std::vector<PointPx> places;
  std::size_t at = svg.find("<g class=\"" + kind + "\" data-feature=\"" + feature + "\"");
  if (at == std::string::npos) return places;
  at = svg.find(" d=\"M", at) + 5;
  double x = 0, y = 0;
  while (std::sscanf(svg.c_str() + at, "%lf,%lf", &x, &y) == 2) {
    places.push_back({x, y});
    at = svg.find_first_of("LZ\"", at);
    if (svg[at] != 'L') break;
    ++at;
  }
  return places;
}

TEST(RenderSvg, ContoursLieWhereTheResultSays) {
  const SectionResult result = sample::FourLumens();
  PictureOptions options;
  options.with_caption = false;
  for (const auto& [longest, scale] : {std::pair{2400, 1.0}, std::pair{800, 0.5}}) {
    options.longest_edge_px = longest;
    const std::string svg = Drawn(result, options);
    const auto holds = [&, enlarged = scale](const std::string& feature,
                                             const TracedContour& traced) {
      const std::vector<PointPx> places = PathOf(svg, feature, "contour");
      ASSERT_GT(places.size(), 20u) << feature;
      const ContourUm contour = traced.Points();
      for (const PointPx& p : places) {
        // The nearest vertex that was given: thinning leaves vertices out but makes none up.
        double nearest = 1e9;
        for (const PointUm& q : contour) {
          const double x = (q.x / sample::kPitchUm + 0.5) * enlarged;
          const double y = (q.y / sample::kPitchUm + 0.5) * enlarged;
          nearest = std::min(nearest, std::hypot(x - p.x, y - p.y));
        }
        EXPECT_LT(nearest, 1.5 * kHundredth) << feature;
      }
    };
    holds("outline", *result.section.outline);
    for (const LumenTrace& lumen : result.section.lumens) holds(lumen.Key(), lumen.bore);
  }
}

TEST(RenderSvg, TextIsTextAndFeaturesHaveTheirNames) {
  const SectionResult result = sample::FourLumens();
  const std::string svg = Drawn(result);
  EXPECT_THAT(svg, StartsWith("<?xml"));
  EXPECT_THAT(svg, HasSubstr("<!-- Software: cutface "));
  EXPECT_THAT(svg, HasSubstr("data:image/png;base64,iVBOR"));
  for (const LumenTrace& lumen : result.section.lumens) {
    EXPECT_THAT(svg, HasSubstr("data-feature=\"" + lumen.Key() + "\"")) << lumen.Key();
    EXPECT_THAT(svg, HasSubstr(">" + lumen.Key() + "</text>")) << lumen.Key();
  }
  EXPECT_THAT(svg, HasSubstr(std::string(VerdictName(result.verdict)) + "</text>"));
}

TEST(RenderSvg, WhatWouldBreakTheFileIsWrittenSafely) {
  SectionResult result = sample::FourLumens();
  result.sample.serial = "A<b> & \"c\" \x01\xff";
  const std::string svg = Drawn(result);
  EXPECT_THAT(svg, HasSubstr("A&lt;b&gt; &amp; &quot;c&quot;"));
  EXPECT_THAT(svg, Not(HasSubstr("A<b>")));
  EXPECT_EQ(svg.find('\x01'), std::string::npos);
  EXPECT_EQ(svg.find('\xff'), std::string::npos);
}

}  // namespace
}  // namespace cutface
