// What cutting and potting leave, on rendered faces where it was put by hand.
#include "identify/edge_marks.h"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

#include "cutface/identify.h"
#include "cutface/phantom.h"
#include "identify/drawings.h"

namespace cutface {
namespace {

constexpr double kPitch = 3.2;  // um per px
constexpr double kShare = 0.5;  // of a told region that must lie where the mark was put

const char* kShaft = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "T-9"}, "sections": {"face": {"kind": "shaft",
    "outline": {"circle": {"diameter": 1.5}},
    "lumens": {"scope": {"circle": {"center": [0.0, 0.2], "diameter": 0.6}},
               "wash": {"circle": {"center": [0.1, -0.4], "diameter": 0.3}}}}}})";

class EdgeMarks : public testing::Test {
 protected:
  EdgeMarks() : design_(*ParseDesign(kShaft, "test")) {
    PhantomOrder order;
    order.width_px = 700;
    order.height_px = 640;
    order.pitch_um = order.record_pitch_um = kPitch;
    scene_ = DrawPhantomOfDesign(design_, "face", order, 5)->scene;
    scene_.body_tone = 0.6;
    scene_.resin_tone = 0.4;
    for (PhantomLumen& lumen : scene_.lumens) lumen.tone = 0.08;
    scene_.effects = {};
  }

  const ContourPx& Scope() const { return scene_.lumens.front().contour; }

  // From `from` to `to` degrees about the contour's middle, `width` outside it (inside: negative).
  static ContourPx Strip(const ContourPx& contour, double from, double to, double width) {
    const PointPx middle = Centroid(contour);
    ContourPx near, far;
    for (int i = 0; i <= 120; ++i) {
      const double t = (from + (to - from) * i / 120) * std::numbers::pi / 180;
      const PointPx way{std::cos(t), std::sin(t)};
      double best = 0;
      for (const PointPx p : contour) {
        const PointPx d = p - middle;
        if (Dot(d, way) > 0 && std::abs(Cross(d, way)) < 1.5) best = std::max(best, Dot(d, way));
      }
      near.push_back(middle + best * way);
      far.push_back(middle + (best + width) * way);
    }
    near.insert(near.end(), far.rbegin(), far.rend());
    if (SignedArea(std::span<const PointPx>(near)) < 0) std::reverse(near.begin(), near.end());
    return near;
  }

  static PhantomPatch Patch(ContourPx contour, double tone, int lumen = -1) {
    PhantomPatch patch;
    patch.contour = std::move(contour);
    patch.tone = tone;
    patch.opacity = 1;
    patch.lumen = lumen;
    return patch;
  }

  static ContourPx Disc(PointPx centre, double radius) {
    ContourPx out;
    for (int i = 0; i < 90; ++i) {
      const double t = 2 * std::numbers::pi * i / 90;
      out.push_back(centre + radius * PointPx{std::cos(t), std::sin(t)});
    }
    return out;
  }

  Section Face() {
    IdentifyOptions options;
    options.gamma = 1;
    auto section = IdentifySection(MicrographFromPixels(RenderPhantom(scene_, 3), 8, "face"),
                                   Scale::Isotropic(kPitch), design_.sections[0], options);
    EXPECT_THAT(section, IsOk());
    return section ? std::move(*section) : Section{};
  }

  std::vector<Void> Look() { return Face().voids; }

  // The one told region that lies where the mark is.
  static const Void* On(const std::vector<Void>& told, const ContourPx& mark) {
    for (const Void& v : told) {
      ContourPx contour;
      for (const ContourVertex& p : v.contour.vertices)
        contour.push_back({p.at.x / kPitch, p.at.y / kPitch});
      const double area = Area(std::span<const PointPx>(contour));
      if (IntersectionArea(std::span<const PointPx>(contour), std::span<const PointPx>(mark)) >
          kShare * area)
        return &v;
    }
    return nullptr;
  }

  Design design_;
  PhantomScene scene_;
};

TEST_F(EdgeMarks, ACleanFaceHasNone) { EXPECT_TRUE(Look().empty()); }

TEST_F(EdgeMarks, MaterialDrawnOverABoreIsASmear) {
  const ContourPx lip = Strip(Scope(), 20, 70, -6);
  scene_.effects.lips = {Patch(lip, 0.45, 0)};
  const auto told = Look();
  const Void* v = On(told, lip);
  ASSERT_NE(v, nullptr);
  EXPECT_EQ(v->kind, VoidClass::kSmear);
  EXPECT_EQ(v->of, "scope");
  EXPECT_GT(v->numbers.at("length_um"), 0);
  EXPECT_GT(v->numbers.at("step_of_contrast_percent"), 30);
}

TEST_F(EdgeMarks, ResinDrawnBackFromTheOutsideIsAPottingGap) {
  const ContourPx gap = Strip(scene_.outline, 100, 170, 4.5);
  scene_.effects.gaps = {Patch(gap, 0.08)};
  const auto told = Look();
  const Void* v = On(told, gap);
  ASSERT_NE(v, nullptr);
  // Where the edge was settled at the gap's far side the strip lies inside: then it is doubtful.
  EXPECT_TRUE(v->kind == VoidClass::kPottingGap || v->kind == VoidClass::kDoubtful);
  EXPECT_EQ(v->of, "outline");
}

// A gap in the tone of the body beside a bright potting: one around a filled bore would not show.
TEST_F(EdgeMarks, GapsOfTheBodysToneCastDoubtOnBoresThatHoldThePotting) {
  scene_.body_tone = 0.4;
  scene_.resin_tone = 0.6;
  for (PhantomLumen& lumen : scene_.lumens) lumen.tone = 0.6;
  for (const LumenTrace& lumen : Face().lumens) EXPECT_EQ(lumen.bore.doubt, "");
  // Away from the outline: there it is told as a gap whichever edge is taken.
  const ContourPx gap = Strip(scene_.outline, 100, 170, 4.5);
  scene_.effects.gaps = {Patch(gap, 0.41)};
  const Section face = Face();
  const Void* v = On(face.voids, gap);
  ASSERT_NE(v, nullptr);
  ASSERT_EQ(v->kind, VoidClass::kPottingGap);
  for (const LumenTrace& lumen : face.lumens) {
    EXPECT_NE(lumen.bore.doubt.find("would not show"), std::string::npos) << lumen.Key();
    EXPECT_GT(lumen.bore.u_common_um, kPitch);
  }
  // Open bores are dark: no potting, no gap in it.
  for (PhantomLumen& lumen : scene_.lumens) lumen.tone = 0.08;
  for (const LumenTrace& lumen : Face().lumens) EXPECT_EQ(lumen.bore.doubt, "");
}

TEST_F(EdgeMarks, ABiteOfLighterGroundAtTheOutlineIsAChip) {
  const ContourPx chip = Strip(scene_.outline, 200, 204.5, -6);  // about 18 px long
  scene_.effects.chips = {Patch(chip, 0.8)};
  const auto told = Look();
  const Void* v = On(told, chip);
  ASSERT_NE(v, nullptr);
  EXPECT_EQ(v->kind, VoidClass::kChip);
}

TEST_F(EdgeMarks, ADarkRingAroundALighterMiddleOutsideIsABubble) {
  const PointPx at{70, 80};
  scene_.effects.bubbles = {Patch(Disc(at, 20), 0.1), Patch(Disc(at, 15), 0.38)};
  const auto told = Look();
  const Void* v = On(told, Disc(at, 24));
  ASSERT_NE(v, nullptr);
  EXPECT_EQ(v->kind, VoidClass::kOutsideBubble);
  EXPECT_EQ(v->of, "outside");
}

TEST_F(EdgeMarks, ARaggedBlotOutsideIsDebris) {
  ContourPx star;
  for (int i = 0; i < 120; ++i) {
    const double t = 2 * std::numbers::pi * i / 120;
    star.push_back(PointPx{620, 70} +
                   (14 + 6 * std::cos(5 * t)) * PointPx{std::cos(t), std::sin(t)});
  }
  scene_.effects.specks = {Patch(star, 0.75)};
  const auto told = Look();
  const Void* v = On(told, Disc({620, 70}, 24));
  ASSERT_NE(v, nullptr);
  EXPECT_EQ(v->kind, VoidClass::kDebris);
}

// A void in the body near its edge is no mark of the edge.
TEST_F(EdgeMarks, AVoidBesideTheOutlineStaysAVoid) {
  const PointPx at = Centroid(scene_.outline) + PointPx{-205, 0};
  scene_.voids = {Patch(Disc(at, 9), 0.06)};
  const auto told = Look();
  ASSERT_EQ(told.size(), 1u);
  EXPECT_EQ(told[0].kind, VoidClass::kVoid);
}

}  // namespace
}  // namespace cutface
