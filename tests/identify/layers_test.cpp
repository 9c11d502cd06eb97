// Rings, bonds and liners of rendered faces whose contours are known exactly.
#include <gtest/gtest.h>

#include <functional>
#include <opencv2/core.hpp>

#include "cutface/identify.h"
#include "cutface/phantom.h"
#include "identify/drawings.h"

namespace cutface {
namespace {

constexpr double kPitch = 3.2;  // um per px

const char* kBond = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "T-2"}, "sections": {"face": {"kind": "bond",
    "outline": {"circle": {"diameter": 1.7}},
    "rings": [{"name": "sleeve", "inner": {"circle": {"diameter": 1.42}}},
              {"name": "adhesive", "inner": {"circle": {"diameter": 1.32}}}],
    "bond": {"adhesive": "adhesive", "sleeve": "sleeve", "gap_um": 5},
    "lumens": {"scope": {"circle": {"center": [0.0, 0.28], "diameter": 0.5}},
               "wash": {"circle": {"center": [-0.2, -0.3], "diameter": 0.4}}}}}})";

const char* kBraid = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "T-3"}, "sections": {"face": {"kind": "shaft",
    "outline": {"circle": {"diameter": 1.7}},
    "rings": [{"name": "jacket", "inner": {"circle": {"diameter": 1.26}}}],
    "wires": {"braid": {"carriers": 16, "ends": 1, "round": 0.045, "on_diameters": [1.34, 1.42],
                        "braid_angle_deg": 40}},
    "lumens": {"scope": {"circle": {"center": [0.0, 0.2], "diameter": 0.55}},
               "wash": {"circle": {"center": [0.1, -0.35], "diameter": 0.3}}}}}})";

const char* kLined = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "T-4"}, "sections": {"face": {"kind": "shaft",
    "outline": {"circle": {"diameter": 1.7}},
    "lumens": {"scope": {"circle": {"center": [0.0, 0.2], "diameter": 0.7},
                         "liner": {"thickness": 0.045}},
               "wash": {"circle": {"center": [0.1, -0.45], "diameter": 0.3}}}}}})";

const char* kTube = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "T-6"}, "sections": {"face": {"kind": "shaft",
    "outline": {"circle": {"diameter": 1.7}},
    "lumens": {"scope": {"circle": {"center": [0.0, 0.2], "diameter": 0.7},
                         "liner": {"thickness": 0.016}},
               "wash": {"circle": {"center": [0.1, -0.45], "diameter": 0.3}}}}}})";

const char* kJacketed = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "T-5"}, "sections": {"face": {"kind": "shaft",
    "outline": {"circle": {"diameter": 1.7}},
    "rings": [{"name": "jacket", "inner": {"circle": {"diameter": 1.3}}}],
    "lumens": {"scope": {"circle": {"center": [0.0, 0.2], "diameter": 0.6}},
               "wash": {"circle": {"center": [0.1, -0.35], "diameter": 0.3}}}}}})";

struct Looked {
  PhantomScene scene;
  Result<Section> section = Fail(Code::kInternal, "not run");
};

// `retouch` may change the scene before it is rendered.
Looked LookAt(
    const char* drawing, const PhantomOrder& order, std::uint64_t seed,
    const std::function<void(PhantomScene&)>& retouch = [](PhantomScene&) {}) {
  Looked looked;
  const auto design = ParseDesign(drawing, "test");
  EXPECT_THAT(design, IsOk());
  if (!design) return looked;
  const auto face = DrawPhantomOfDesign(*design, "face", order, seed);
  EXPECT_THAT(face, IsOk());
  if (!face) return looked;
  looked.scene = face->scene;
  retouch(looked.scene);
  IdentifyOptions options;
  options.gamma = 1;
  looked.section = IdentifySection(
      MicrographFromPixels(RenderPhantom(looked.scene, face->picture_seed), 8, "face"),
      Scale::Isotropic(kPitch), design->sections[0], options);
  return looked;
}

PhantomOrder Order(PhantomLight light) {
  PhantomOrder order;
  order.width_px = 760;
  order.height_px = 660;
  order.pitch_um = order.record_pitch_um = kPitch;
  order.light = light;
  order.rotation_deg = 23;
  return order;
}

ContourPx InPx(const TracedContour& contour) {
  ContourPx px;
  for (const ContourVertex& v : contour.vertices) px.push_back({v.at.x / kPitch, v.at.y / kPitch});
  return px;
}

// Greatest distance of a traced edge from a true one.
double FarthestOff(const ContourPx& traced, const ContourPx& truth) {
  const ContourIndex<FramePx> index{std::span<const PointPx>(truth)};
  double most = 0;
  for (const auto& near : index.NearestToEach(std::span<const PointPx>(traced)))
    most = std::max(most, near.distance);
  return most;
}

// A ring's edge with a line along it is painted as two borders, half the line to either side.
ContourPx Between(const ContourPx& a, const ContourPx& b) {
  ContourPx middle;
  for (std::size_t i = 0; i < a.size(); ++i) middle.push_back(0.5 * (a[i] + b[i]));
  return middle;
}

constexpr double kSeamError_px = 0.5;  // at the worst place of a whole seam

class LayersInLight : public testing::TestWithParam<PhantomLight> {};

TEST_P(LayersInLight, SleeveAndAdhesiveAreFoundBesideEachOther) {
  PhantomOrder order = Order(GetParam());
  order.bond_offset_um = 12;
  const Looked looked = LookAt(kBond, order, 11);
  ASSERT_THAT(looked.section, IsOk());
  ASSERT_EQ(looked.section->rings.size(), 2u);
  ASSERT_GE(looked.scene.inlays.size(), 4u);
  for (std::size_t k = 0; k < 2; ++k) {
    const RingTrace& ring = looked.section->rings[k];
    SCOPED_TRACE(ring.name);
    ASSERT_FALSE(ring.inner.vertices.empty()) << ring.inner.doubt;
    const ContourPx truth =
        Between(looked.scene.inlays[2 * k].contour, looked.scene.inlays[2 * k + 1].contour);
    EXPECT_LT(FarthestOff(InPx(ring.inner), truth), kSeamError_px);
  }
}

// Degrees under which a contour is seen from a place outside it.
double SpanSeen(const ContourPx& contour, PointPx about) {
  const PointPx middle = Centroid(contour) - about;
  double low = 0, high = 0;
  for (PointPx p : contour) {
    const double off = std::atan2(Cross(middle, p - about), Dot(middle, p - about));
    low = std::min(low, off);
    high = std::max(high, off);
  }
  return (high - low) * 180 / kPi;
}

constexpr double kGapError_deg = 0.5;

TEST_P(LayersInLight, StarvedArcsOfABondAreBondGaps) {
  PhantomOrder order = Order(GetParam());
  order.bond_gaps_deg = {34, 12, 6};
  const Looked looked = LookAt(kBond, order, 14);
  ASSERT_THAT(looked.section, IsOk());
  std::vector<double> spans;
  ContourPx shaft = InPx(looked.section->rings[1].inner);
  for (const Void& v : looked.section->voids) {
    if (v.kind == VoidClass::kBondGap) spans.push_back(SpanSeen(InPx(v.contour), Centroid(shaft)));
  }
  std::sort(spans.rbegin(), spans.rend());
  ASSERT_EQ(spans.size(), 3u);
  for (std::size_t k = 0; k < 3; ++k) EXPECT_NEAR(spans[k], order.bond_gaps_deg[k], kGapError_deg);
}

// Sleeve, adhesive and shaft of one tone, without a line between: only the gaps are to be seen.
TEST_P(LayersInLight, GapsOfABondWithoutSeamsAreToldAllTheSame) {
  PhantomOrder order = Order(GetParam());
  order.bond_gaps_deg = {34, 12};
  const Looked looked = LookAt(kBond, order, 14, [](PhantomScene& scene) {
    ASSERT_GE(scene.inlays.size(), 6u);
    for (std::size_t k = 0; k < 4; ++k) scene.inlays[k].tone = scene.body_tone;
  });
  ASSERT_THAT(looked.section, IsOk());
  std::vector<double> spans;
  for (const Void& v : looked.section->voids) {
    if (v.kind != VoidClass::kBondGap) continue;
    EXPECT_NE(v.evidence.find("as drawn"), std::string::npos) << v.evidence;
    spans.push_back(SpanSeen(InPx(v.contour), Centroid(looked.scene.outline)));
  }
  std::sort(spans.rbegin(), spans.rend());
  ASSERT_EQ(spans.size(), 2u);
  for (std::size_t k = 0; k < 2; ++k) EXPECT_NEAR(spans[k], order.bond_gaps_deg[k], 1.0);
}

// Dark solids in a noisy picture: single tones fall to a gap's, but no gap is made of many pieces.
TEST(NoisyBond, NoiseIsNoRowOfGaps) {
  PhantomOrder order = Order(PhantomLight::kFilled);
  order.look.body_tone = 0.2;
  order.noise = 0.09;
  const Looked looked = LookAt(kBond, order, 15);
  ASSERT_THAT(looked.section, IsOk());
  EXPECT_LE(std::count_if(looked.section->voids.begin(), looked.section->voids.end(),
                          [](const Void& v) { return v.kind == VoidClass::kBondGap; }),
            1);
}

TEST_P(LayersInLight, AWholeBondHasNoGap) {
  const Looked looked = LookAt(kBond, Order(GetParam()), 15);
  ASSERT_THAT(looked.section, IsOk());
  for (const Void& v : looked.section->voids) EXPECT_NE(v.kind, VoidClass::kBondGap) << v.evidence;
}

// The painter's crescent is the last inlay; it tapers to nothing at its ends.
constexpr double kTaperedError_deg = 2;

TEST_P(LayersInLight, ALinerThatCameAwayIsALinerGapOfItsSize) {
  PhantomOrder order = Order(GetParam());
  order.liner_gap_deg = 40;
  const Looked looked = LookAt(kLined, order, 16);
  ASSERT_THAT(looked.section, IsOk());
  ASSERT_FALSE(looked.scene.inlays.empty());
  const ContourPx& truth = looked.scene.inlays.back().contour;
  const PointPx about = Centroid(looked.scene.lumens.front().contour);
  std::vector<double> spans;
  for (const Void& v : looked.section->voids) {
    if (v.kind == VoidClass::kLinerGap) spans.push_back(SpanSeen(InPx(v.contour), about));
  }
  ASSERT_EQ(spans.size(), 1u);
  EXPECT_NEAR(spans[0], SpanSeen(truth, about), kTaperedError_deg);
}

TEST_P(LayersInLight, ALinerThatHoldsHasNoGap) {
  const Looked looked = LookAt(kLined, Order(GetParam()), 17);
  ASSERT_THAT(looked.section, IsOk());
  for (const Void& v : looked.section->voids) EXPECT_NE(v.kind, VoidClass::kLinerGap) << v.evidence;
}

// A wall of 5 px that is darker or brighter than both the potting in the lumen and the body, which
// are nearly alike: taken for the lumen it would make it 10 px too large.
class FaintTubes : public testing::TestWithParam<double> {};

TEST_P(FaintTubes, AThinWallBetweenAlikeTonesIsToldFromTheLumen) {
  const Looked looked = LookAt(kTube, Order(PhantomLight::kWeak), 21, [](PhantomScene& scene) {
    ASSERT_FALSE(scene.inlays.empty());
    scene.inlays.front().tone = scene.body_tone + GetParam();
  });
  ASSERT_THAT(looked.section, IsOk());
  ASSERT_EQ(looked.section->liners.size(), 1u);
  ASSERT_FALSE(looked.section->liners[0].outer.vertices.empty()) << looked.section->liners[0].lumen;
  const LumenTrace* scope = looked.section->FindLumen("scope");
  ASSERT_NE(scope, nullptr);
  EXPECT_LT(FarthestOff(InPx(scope->bore), looked.scene.lumens[0].contour), 0.6);
  EXPECT_LT(FarthestOff(InPx(looked.section->liners[0].outer), looked.scene.inlays[0].contour),
            0.6);
}

INSTANTIATE_TEST_SUITE_P(DarkAndBright, FaintTubes, testing::Values(-0.1, 0.2));

// Which of 30 to 80 degrees and how wide, the seed says: the place is what is held against it.
// What lies beside a liner looks like a gap of it from there: the void is not lost to that.
TEST_P(LayersInLight, AVoidBesideALinerStaysAVoidOfItsSize) {
  constexpr double kRadius_px = 12, kAway_px = 4;
  const Looked looked = LookAt(kLined, Order(GetParam()), 16, [](PhantomScene& scene) {
    const PointPx centre = Centroid(scene.lumens.front().contour);
    const double liner = (350 + 45) / kPitch;
    PhantomPatch hole;
    hole.tone = scene.light == PhantomLight::kTransmitted ? 0.9 : 0.05;
    for (int k = 0; k < 180; ++k) {
      const double a = 2 * kPi * k / 180;
      hole.contour.push_back(centre + PointPx{-(liner + kAway_px + kRadius_px), 0} +
                             kRadius_px * PointPx{std::cos(a), std::sin(a)});
    }
    scene.voids.push_back(hole);
  });
  ASSERT_THAT(looked.section, IsOk());
  double area_px2 = 0;
  for (const Void& v : looked.section->voids) {
    if (v.kind == VoidClass::kVoid || v.kind == VoidClass::kLinerGap ||
        v.kind == VoidClass::kDoubtful)
      area_px2 = std::max(area_px2, v.area_um2 / (kPitch * kPitch));
  }
  EXPECT_NEAR(area_px2, kPi * kRadius_px * kRadius_px, 0.15 * kPi * kRadius_px * kRadius_px);
}

TEST_P(LayersInLight, AJacketThatPartedIsADelaminationWhereItIs) {
  PhantomOrder order = Order(GetParam());
  order.delaminated = true;
  const Looked looked = LookAt(kJacketed, order, 18);
  ASSERT_THAT(looked.section, IsOk());
  const ContourPx& truth = looked.scene.inlays.back().contour;
  double common = 0;
  for (const Void& v : looked.section->voids) {
    if (v.kind != VoidClass::kDelamination) continue;
    EXPECT_EQ(v.of, "jacket");
    EXPECT_GT(v.numbers.at("span_deg"), 0);
    const ContourPx told = InPx(v.contour);
    common += IntersectionArea(std::span<const PointPx>(told), std::span<const PointPx>(truth));
  }
  constexpr double kLeastShare = 0.5;
  EXPECT_GT(common, kLeastShare * Area(std::span<const PointPx>(truth)));
}

TEST_P(LayersInLight, AJacketThatHoldsHasNoDelamination) {
  const Looked looked = LookAt(kJacketed, Order(GetParam()), 19);
  ASSERT_THAT(looked.section, IsOk());
  for (const Void& v : looked.section->voids)
    EXPECT_NE(v.kind, VoidClass::kDelamination) << v.evidence;
}

TEST_P(LayersInLight, TheJacketsEdgeDoesNotFollowTheWiresBesideIt) {
  const Looked looked = LookAt(kBraid, Order(GetParam()), 12);
  ASSERT_THAT(looked.section, IsOk());
  ASSERT_EQ(looked.section->rings.size(), 1u);
  const RingTrace& ring = looked.section->rings[0];
  ASSERT_FALSE(ring.inner.vertices.empty()) << ring.inner.doubt;
  ASSERT_FALSE(looked.scene.inlays.empty());
  // With or without a line along it.
  const bool line = looked.scene.inlays.size() > 1;
  const ContourPx truth =
      line ? Between(looked.scene.inlays[0].contour, looked.scene.inlays[1].contour)
           : looked.scene.inlays[0].contour;
  EXPECT_LT(FarthestOff(InPx(ring.inner), truth), kSeamError_px);
}

// Metal has edges of its own: they must not tell what the polymer's edges look like.
TEST_P(LayersInLight, OutlineAndBoresBesideABraidAreAsTrueAsWithoutOne) {
  const Looked looked = LookAt(kBraid, Order(GetParam()), 13);
  ASSERT_THAT(looked.section, IsOk());
  constexpr double kMost_px = 0.5;
  ASSERT_TRUE(looked.section->outline.has_value());
  EXPECT_NEAR(std::sqrt(Area(looked.section->outline->Points())) / kPitch,
              std::sqrt(Area(looked.scene.outline)), kMost_px);
  for (const PhantomLumen& built : looked.scene.lumens) {
    const LumenTrace* found = looked.section->FindLumen(built.names.front());
    ASSERT_NE(found, nullptr);
    EXPECT_NEAR(std::sqrt(Area(found->bore.Points())) / kPitch, std::sqrt(Area(built.contour)),
                kMost_px);
  }
}

INSTANTIATE_TEST_SUITE_P(AllLights, LayersInLight,
                         testing::Values(PhantomLight::kReflected, PhantomLight::kFilled,
                                         PhantomLight::kWeak, PhantomLight::kTransmitted),
                         [](const auto& tested) {
                           return std::string(PhantomLightName(tested.param));
                         });

}  // namespace
}  // namespace cutface
