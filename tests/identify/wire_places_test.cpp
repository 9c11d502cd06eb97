// Wires far from where they belong, and wires beside solids of other tones.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "cutface/identify.h"
#include "cutface/phantom.h"
#include "support/matchers.h"

namespace cutface {
namespace {

constexpr double kPitch_um = 2.4;

const char* kJacketed = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "T-8"}, "sections": {"face": {"kind": "shaft",
    "outline": {"circle": {"diameter": 2.0}},
    "rings": [{"name": "jacket", "inner": {"circle": {"diameter": 1.36}}}],
    "wires": {"braid": {"carriers": 16, "round": 0.05, "on_diameters": [1.50, 1.60],
                        "braid_angle_deg": 35}},
    "lumens": {"scope": {"circle": {"diameter": 1.0}}}}}})";

// `retouch` may change the scene before it is rendered.
Section LookAt(const std::function<void(PhantomScene&)>& retouch) {
  const auto design = ParseDesign(kJacketed, "test");
  EXPECT_THAT(design, IsOk());
  PhantomOrder order;
  order.width_px = order.height_px = 1000;
  order.pitch_um = order.record_pitch_um = kPitch_um;
  auto face = DrawPhantomOfDesign(*design, "face", order, 3);
  EXPECT_THAT(face, IsOk());
  retouch(face->scene);
  const auto section = IdentifySection(
      MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed), 8, "face"),
      Scale::Isotropic(kPitch_um), design->sections[0]);
  EXPECT_THAT(section, IsOk());
  return section ? *section : Section{};
}

int CountOf(const Section& section, WireState state) {
  return static_cast<int>(std::count_if(section.wires.begin(), section.wires.end(),
                                        [&](const WireTrace& w) { return w.state == state; }));
}

// Pushed against a wire three places on, its own place holds body: one wire displaced, not one
// missing and one too many.
TEST(WirePlaces, AWireBunchedAgainstAFarOneIsDisplaced) {
  const Section section = LookAt([](PhantomScene& scene) {
    const PointPx centre = Centroid(scene.outline);
    const auto clock = [&](const PhantomMetal& m) {
      const PointPx d = Centroid(m.contour) - centre;
      return std::atan2(d.y, d.x);
    };
    std::sort(scene.metals.begin(), scene.metals.end(),
              [&](const PhantomMetal& a, const PhantomMetal& b) { return clock(a) < clock(b); });
    ASSERT_EQ(scene.metals.size(), 16u);
    const PhantomMetal& other = scene.metals[7];
    PhantomMetal moved = other;
    const PointPx out = Centroid(other.contour) - centre;
    const PointPx along{-out.y / Norm(out), out.x / Norm(out)};
    double least = 1e9, most = -1e9;
    for (PointPx p : other.contour) {
      least = std::min(least, Dot(p, along));
      most = std::max(most, Dot(p, along));
    }
    // Away from the next wire on that side.
    const double next = Dot(Centroid(scene.metals[8].contour) - Centroid(other.contour), along);
    const double before = Dot(Centroid(scene.metals[6].contour) - Centroid(other.contour), along);
    const double side =
        std::abs(next) > std::abs(before) ? (next > 0 ? 1 : -1) : (before > 0 ? 1 : -1);
    for (PointPx& p : moved.contour) p = p + (side * (most - least + 0.4)) * along;
    scene.metals[3] = moved;
  });
  EXPECT_EQ(CountOf(section, WireState::kWire), 16);
  EXPECT_EQ(CountOf(section, WireState::kMissing), 0);
  EXPECT_EQ(CountOf(section, WireState::kExtra), 0);
  EXPECT_EQ(std::count_if(section.wires.begin(), section.wires.end(),
                          [](const WireTrace& w) { return w.displaced; }),
            1);
}

// The core differs from its jacket by as much as the metal does.
TEST(WirePlaces, WiresBesideACoreMuchBrighterThanItsJacketAreFound) {
  const Section section = LookAt([](PhantomScene& scene) {
    ASSERT_FALSE(scene.inlays.empty());
    scene.body_tone = 0.5;
    for (PhantomPatch& inlay : scene.inlays) inlay.tone = 0.74;
    for (PhantomMetal& metal : scene.metals) metal.light = 1.05;
    scene.effects.halo_share = 0;
    scene.gamma = 1.2;
  });
  ASSERT_EQ(section.wire_layers.size(), 1u);
  EXPECT_TRUE(section.wire_layers[0].counted) << section.wire_layers[0].doubt;
  EXPECT_EQ(CountOf(section, WireState::kWire), 16);
}

}  // namespace
}  // namespace cutface
