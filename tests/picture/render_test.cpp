#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <fstream>
#include <opencv2/imgproc.hpp>
#include <set>

#include "cutface/picture.h"
#include "picture/sample.h"
#include "picture/seats.h"
#include "picture/theme.h"
#include "support/matchers.h"

namespace cutface {
namespace {

Micrograph Photo(const SectionResult& result, int width, int height) {
  return MicrographFromPixels(sample::Paint(result, {}, width, height), 8, "photo.png");
}

// The PNG back as pixels, through the project's reader: one channel of it.
Micrograph Decoded(const std::vector<std::byte>& png, Channel channel) {
  ReadOptions options;
  options.channel = channel;
  auto micrograph = DecodeMicrograph(png, "picture.png", options);
  EXPECT_THAT(micrograph, IsOk());
  return micrograph ? *micrograph : Micrograph{};
}

// Keeps the picture of a failing test in the build folder.
void Keep(const std::vector<std::byte>& png, const std::string& name) {
  std::ofstream(std::string(CUTFACE_BINARY_DIR) + "/" + name + ".png", std::ios::binary)
      .write(reinterpret_cast<const char*>(png.data()), static_cast<std::streamsize>(png.size()));
}

TEST(RenderPng, StaysWithinTheLongestEdgeForAnyShapeOfPhoto) {
  const SectionResult result = sample::FourLumens();
  const std::array<std::pair<int, int>, 6> sizes = {
      {{1600, 1200}, {6000, 4000}, {300, 2600}, {4200, 300}, {64, 48}, {1200, 1200}}};
  for (const auto& [width, height] : sizes) {
    for (const int longest : {2400, 900}) {
      PictureOptions options;
      options.longest_edge_px = longest;
      auto png = RenderPng(Photo(result, width, height), Scale::Isotropic(sample::kPitchUm), result,
                           options);
      ASSERT_THAT(png, IsOk());
      const Micrograph picture = Decoded(*png, Channel::kGreen);
      EXPECT_LE(std::max(picture.width(), picture.height()), longest) << width << " x " << height;
      EXPECT_GE(std::max(picture.width(), picture.height()), std::min(longest, 1000));
    }
  }
}

// The outline's yellow is the only strong yellow: its pixels must lie on the circle that was drawn,
// to the width of the line. A half-pixel or scale mistake between photo and marks would show here.
TEST(RenderPng, MarksLieWhereTheResultSays) {
  SectionResult result = sample::FourLumens();
  const SectionResult full = result;
  result.section.outline = sample::Traced(sample::Round({0, 0}, 1200));
  result.section.rings.clear();
  result.section.voids.clear();
  result.measurements.clear();
  result.findings.clear();
  result.characteristics.clear();
  PictureOptions options;
  options.with_caption = false;
  for (const auto& [longest, scale] : {std::pair{2400, 1.0}, std::pair{800, 0.5}}) {
    options.longest_edge_px = longest;
    auto png =
        RenderPng(Photo(full, 1600, 1200), Scale::Isotropic(sample::kPitchUm), result, options);
    ASSERT_THAT(png, IsOk());
    const Micrograph red = Decoded(*png, Channel::kRed), blue = Decoded(*png, Channel::kBlue);
    double sum_x = 0, sum_y = 0, sum_r = 0;
    int n = 0;
    const double cx = (sample::kCentre.x / sample::kPitchUm + 0.5) * scale - 0.5;
    const double cy = (sample::kCentre.y / sample::kPitchUm + 0.5) * scale - 0.5;
    for (int y = 0; y < red.height(); ++y) {
      for (int x = 0; x < red.width(); ++x) {
        if (red.At(x, y) - blue.At(x, y) < 0.35f) continue;
        sum_x += x - cx;
        sum_y += y - cy;
        sum_r += std::hypot(x - cx, y - cy);
        ++n;
      }
    }
    if (HasFailure()) Keep(*png, "marks_lie_where_the_result_says");
    ASSERT_GT(n, 1000);
    const double radius = 1200 / sample::kPitchUm * scale;
    EXPECT_NEAR(sum_r / n, radius, 0.25);
    // Labels cover a part of the ring, which pulls the mean of the rest; hence not 0.
    EXPECT_NEAR(sum_x / n, 0, 0.05 * radius);
    EXPECT_NEAR(sum_y / n, 0, 0.05 * radius);
  }
}

TEST(RenderPng, TheSameResultGivesTheSameBytes) {
  const SectionResult result = sample::FourLumens();
  const Micrograph photo = Photo(result, 800, 600);
  auto first = RenderPng(photo, Scale::Isotropic(sample::kPitchUm), result);
  auto second = RenderPng(photo, Scale::Isotropic(sample::kPitchUm), result);
  ASSERT_THAT(first, IsOk());
  ASSERT_THAT(second, IsOk());
  EXPECT_EQ(*first, *second);
}

TEST(RenderPng, DarkSixteenBitPhotosAreStretchedAndTheCaptionSaysSo) {
  const SectionResult result = sample::FourLumens();
  cv::Mat dark;
  sample::Paint(result, {}, 800, 600).convertTo(dark, CV_16U, 10);  // 2 % of the range
  const Micrograph photo = MicrographFromPixels(dark, 16, "dark.tif");
  PictureOptions options;
  options.with_caption = false;
  auto png = RenderPng(photo, Scale::Isotropic(2 * sample::kPitchUm), result, options);
  ASSERT_THAT(png, IsOk());
  const Micrograph picture = Decoded(*png, Channel::kGreen);
  double greatest = 0;
  cv::minMaxLoc(picture.reduced_mean, nullptr, &greatest);
  EXPECT_GT(greatest, 0.8);
}

TEST(RenderPng, HostileTextsDoNotStopTheDrawing) {
  SectionResult result = sample::FourLumens();
  result.image_file = std::string("\xff\xfe\x00<b>&amp;\x1b[31m", 16) + std::string(3000, 'w');
  result.part = "";
  result.section.lumens[0].names[0] = std::string(400, 'n');
  result.warnings.assign(200, "one of many");
  EXPECT_THAT(RenderPng(Photo(result, 800, 600), Scale::Isotropic(sample::kPitchUm), result),
              IsOk());
}

TEST(RenderPng, AResultWithoutAnyContourStillShowsPhotoAndPanel) {
  SectionResult result;
  result.image_file = "empty.png";
  const Micrograph photo =
      MicrographFromPixels(cv::Mat(300, 400, CV_8U, cv::Scalar(90)), 8, "empty.png");
  EXPECT_THAT(RenderPng(photo, Scale::Isotropic(1), result), IsOk());
}

bool Inside(const Rect& rect, const Rect& frame) { return rect.Within(frame); }

TEST(Seats, NoTwoLabelsOverlapAndNoneLeavesTheFrame) {
  const Rect frame{10, 10, 780, 580};
  for (unsigned seed = 1; seed <= 40; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    cv::RNG random(seed);
    Seats seats(frame);
    for (int i = 0; i < 6; ++i) {
      seats.AddMark({{random.uniform(0.0, 800.0), random.uniform(0.0, 600.0)},
                     {random.uniform(0.0, 800.0), random.uniform(0.0, 600.0)}},
                    false, 4, 1);
    }
    seats.Seal();
    std::vector<Rect> placed;
    for (int i = 0; i < 60; ++i) {
      Seats::Wish wish;
      wish.anchors = {{random.uniform(0.0, 800.0), random.uniform(0.0, 600.0)}};
      wish.w = random.uniform(20.0, 150.0);
      wish.h = random.uniform(15.0, 50.0);
      wish.on_anchor = i % 3 == 0;
      wish.gap = 10;
      wish.reach = 200;
      const auto seat = seats.Find(wish);
      if (!seat) continue;
      EXPECT_TRUE(Inside(seat->rect, frame));
      for (const Rect& other : placed) EXPECT_FALSE(seat->rect.Overlaps(other));
      placed.push_back(seat->rect);
    }
    EXPECT_GT(placed.size(), 20u);  // guards against a search that never finds anything
  }
}

TEST(Seats, ALabelPrefersGroundWithoutMarks) {
  Seats seats({0, 0, 400, 400});
  std::vector<Place> comb;
  for (int x = 0; x < 200; x += 6) {
    comb.push_back({static_cast<double>(x), 0});
    comb.push_back({static_cast<double>(x), 400});
  }
  seats.AddMark(comb, false, 3, 1);  // the left half is full of lines
  seats.Seal();
  Seats::Wish wish;
  wish.anchors = {{200, 200}};
  wish.w = 60;
  wish.h = 20;
  wish.gap = 10;
  wish.reach = 120;
  const auto seat = seats.Find(wish);
  ASSERT_TRUE(seat);
  EXPECT_GE(seat->rect.x, 195);
}

// Relative luminance after IEC 61966-2-1 (sRGB).
double Luminance(Rgb c) {
  const auto linear = [](double v) {
    return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * linear(c.r) + 0.7152 * linear(c.g) + 0.0722 * linear(c.b);
}

// WCAG 2.1 asks 3:1 for graphics: on the casing that every stroke has, whatever the photo's tone.
TEST(Theme, EveryRoleStandsOutAgainstItsCasing) {
  for (const Ink ink : {Ink::kOutline, Ink::kLumen, Ink::kRing, Ink::kLiner, Ink::kWire, Ink::kVoid,
                        Ink::kLeast, Ink::kFinding, Ink::kNeutral}) {
    EXPECT_GT((Luminance(Colour(ink)) + 0.05) / (Luminance(kCasing) + 0.05), 3.0)
        << static_cast<int>(ink);
  }
}

TEST(Theme, ClassesOfContoursDifferInStyleOrGrey) {
  SectionResult result = sample::FourLumens();
  std::set<std::pair<LineStyle, int>> seen;
  std::set<Ink> inks;
  for (const DisplayItem& item : BuildDisplayList(result).items) {
    if (item.kind != DisplayItem::Kind::kContour || !inks.insert(item.ink).second) continue;
    seen.emplace(item.style, static_cast<int>(Luminance(Colour(item.ink)) * 6));
  }
  EXPECT_GE(inks.size(), 5u);
  EXPECT_EQ(seen.size(), inks.size());
}

}  // namespace
}  // namespace cutface
