// Tones, edges and dirt of a site's picture; what is varied together; wires and rings scored.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "cutface/stats.h"
#include "qualify/internal.h"
#include "support/matchers.h"

namespace cutface {
namespace {

constexpr std::string_view kPlainShaft = R"json({
 "format": "cutface/design", "version": 1, "units": "mm", "part": {"number": "T-2", "revision": "A"},
 "sections": {"face": {"kind": "shaft", "outline": {"circle": {"diameter": 0.70}},
  "lumens": {
   "a": {"circle": {"center": [0.0, 0.14], "diameter": 0.26}},
   "b": {"circle": {"center": [0.12, -0.15], "diameter": 0.12}}}},
  "tube": {"kind": "shaft", "outline": {"circle": {"diameter": 0.70}},
   "lumens": {"bore": {"circle": {"center": [0, 0], "diameter": 0.672}}}},
  "ringed": {"kind": "shaft", "outline": {"circle": {"diameter": 0.72}},
   "rings": [{"name": "jacket", "inner": {"circle": {"diameter": 0.56}}}],
   "lumens": {"bore": {"circle": {"center": [0, 0], "diameter": 0.30}}}}}})json";

CalibrationRecord LookRecord() {
  CalibrationRecord record;
  record.id = "bench";
  record.image_width_px = 480;
  record.image_height_px = 400;
  record.pitch_x_um = record.pitch_y_um = 2.0;
  record.pitch_u_x_um = record.pitch_u_y_um = 0.002;
  record.gamma = 1.0;
  return record;
}

// A face without drawn dirt; `scratches` go across it, `dust` lies on it.
Result<SiteLook> LookOfPhantom(const PhantomLook& look, int scratches, int dust,
                               std::uint64_t seed) {
  const Design design = *ParseDesign(kPlainShaft, "shaft");
  PhantomOrder order;
  order.width_px = 480;
  order.height_px = 400;
  order.pitch_um = order.record_pitch_um = 2.0;
  order.blur_px = 1.0;
  order.look = look;
  auto face = DrawPhantomOfDesign(design, "face", order, seed);
  if (!face) return tl::unexpected(face.error());
  PhantomEffects& e = face->scene.effects;
  e.gaps.clear(), e.lips.clear(), e.chips.clear(), e.bubbles.clear(), e.specks.clear();
  e.scratches.clear(), e.dust.clear();
  Random random(seed);
  for (int i = 0; i < scratches; ++i)
    e.scratches.push_back(
        {{0, random.Uniform(20, 380)}, {479, random.Uniform(20, 380)}, 1.5, -0.2});
  for (int i = 0; i < dust; ++i)
    e.dust.push_back({{random.Uniform(20, 460), random.Uniform(20, 380)}, 3, -0.2});
  const Micrograph picture = MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed),
                                                  face->scene.bits, "site.png");
  const auto camera = CameraOfImage(picture, LookRecord(), *Scale::FromRecord(LookRecord()), design,
                                    *design.FindSection("face"));
  if (!camera) return tl::unexpected(camera.error());
  return *camera->look;
}

// Light falls by up to a tenth over a rendered face, so tones at the outline come back within 0.06.
// A bright rim pulls the traced edge outwards by some part of a pixel and looks wider and flatter
// from there: it comes back coarser.
TEST(SiteLook, TonesAndRimsOfARenderedPictureComeBack) {
  for (const auto& [rim_px, depth] : {std::pair{0.0, 0.0}, {5.0, 0.35}, {5.0, -0.3}}) {
    SCOPED_TRACE(depth);
    PhantomLook asked;
    asked.body_tone = 0.55;
    asked.resin_tone = 0.25;
    asked.lumen_tone = 0.07;
    asked.rim_px = rim_px;
    asked.rim_depth = depth;
    const auto look = LookOfPhantom(asked, 0, 0, 5);
    ASSERT_TRUE(look) << look.error().message;
    ASSERT_TRUE(look->body_tone && look->surround_tone && look->lumen_tone);
    EXPECT_NEAR(*look->body_tone, 0.55, 0.06);
    EXPECT_NEAR(*look->surround_tone, 0.25, 0.06);
    EXPECT_NEAR(*look->lumen_tone, 0.07, 0.03);
    if (depth == 0) {
      EXPECT_EQ(look->rim_px, 0);
    } else {
      EXPECT_NEAR(look->rim_px, rim_px, depth > 0 ? 1.5 : 2.5);
      EXPECT_NEAR(look->rim_depth, depth, depth > 0 ? 0.12 : 0.2);
    }
  }
}

TEST(SiteLook, ScratchesAndDustAreToldFromCleanFaces) {
  double most_clean = 0, least_dirty = 1;
  for (std::uint64_t seed = 21; seed <= 25; ++seed) {
    const auto plain = LookOfPhantom({}, 0, 0, seed), dirt = LookOfPhantom({}, 5, 60, seed);
    ASSERT_TRUE(plain && dirt);
    EXPECT_FALSE(plain->dirt) << seed;
    EXPECT_TRUE(dirt->dirt) << seed;
    most_clean = std::max(most_clean, plain->odd_share);
    least_dirty = std::min(least_dirty, dirt->odd_share);
  }
  std::printf("places that stand out: clean up to %.4f, dirty from %.4f on\n", most_clean,
              least_dirty);
}

// Halton (1960): 1/3, 2/3, 1/9, 4/9, 7/9, 2/9 in base 3.
TEST(Plan, HaltonPointsAreThePublishedOnes) {
  const double points[] = {1.0 / 3, 2.0 / 3, 1.0 / 9, 4.0 / 9, 7.0 / 9, 2.0 / 9};
  for (int i = 0; i < 6; ++i) EXPECT_NEAR(HaltonPoint(i + 1, 3, 0), points[i], 1e-15);
  EXPECT_NEAR(HaltonPoint(2, 3, 0.5), 1.0 / 6, 1e-15);
}

// Errors that grow with the tilt alone: tilt is named, the others are not.
TEST(Plan, NamesWhatErrorsChangeWith) {
  std::vector<FaceScore> scores;
  Random random(2);
  for (int i = 1; i <= 60; ++i) {
    FaceScore score;
    score.measured = true;
    score.plan = {1 + 0.4 * HaltonPoint(i, 3, 0), 0.01 * (1 + HaltonPoint(i, 7, 0)),
                  1 + 0.1 * HaltonPoint(i, 11, 0), 3 * HaltonPoint(i, 13, 0)};
    for (int k = 0; k < 5; ++k)
      score.pairs.push_back(
          {"wall", true, 100, 100 + 0.3 * random.Normal() + 0.5 * score.plan.tilt_deg, 0, 0});
    scores.push_back(score);
  }
  const auto factors = FactorsOf(scores);
  ASSERT_EQ(factors.size(), 4U);
  for (const FactorFigure& f : factors) {
    if (f.name == "tilt") {
      EXPECT_LT(f.p_all, 1e-6);
      EXPECT_GT(f.rms_um[2], f.rms_um[0]);
      EXPECT_THAT(f.sentence, testing::HasSubstr("errors grow with it"));
    } else {
      EXPECT_GT(f.p_all, 0.05) << f.name;
    }
    EXPECT_EQ(f.faces[0] + f.faces[1] + f.faces[2], 60U);
  }
}

// A tube with a wall of 7 px has no room for voids of 3 to 30 px that keep 3 px from its edges:
// what was not tried, and why, is said of each face.
TEST(Qualify, AFaultThatDoesNotFitIsNotCalledTried) {
  const Design design = *ParseDesign(kPlainShaft, "shaft");
  QualifyOrder order;
  order.camera = CameraOfRecord(LookRecord(), *Scale::FromRecord(LookRecord()));
  order.faces = 4;
  order.known_answers = false;
  const auto done = Qualify(design, *design.FindSection("tube"), LookRecord(), order);
  ASSERT_TRUE(done) << done.error().message;
  ASSERT_EQ(done->not_tried.size(), 2U);  // every second face has voids
  EXPECT_THAT(done->not_tried[0], testing::HasSubstr("not tried: "));
  std::size_t voids = 0;
  for (const SizeClass& c : done->voids.classes) voids += c.of;
  EXPECT_LT(voids, 12U);
  EXPECT_THAT(QualificationText(*done), testing::HasSubstr("no room for them"));
}

TEST(Qualify, ScoresRingsAsTheOtherLengths) {
  const Design design = *ParseDesign(kPlainShaft, "shaft");
  QualifyOrder order;
  order.camera = CameraOfRecord(LookRecord(), *Scale::FromRecord(LookRecord()));
  order.faces = 3;
  order.known_answers = false;
  order.limits.error_um["thickness_mean"] = 20;
  const auto done = Qualify(design, *design.FindSection("ringed"), LookRecord(), order);
  ASSERT_TRUE(done) << done.error().message;
  bool seen = false;
  for (const WordErrors& word : done->words) {
    if (word.word != "thickness_mean") continue;
    seen = true;
    EXPECT_GE(word.n + word.not_measured, 3U);
  }
  EXPECT_TRUE(seen);
}

// Truth: three wires of one layer and a pulled-out one; told: two at their places, one 30 um off
// (more than half of its 40 um), the pulled-out one as such.
TEST(ScoreFace, HoldsWiresAgainstTheTruth) {
  const std::string truth = R"json({"quantities": [], "voids": [], "wires": [
    {"layer": "braid", "no": 1, "state": "wire", "centre_px": [100, 0], "axes_px": [20, 20]},
    {"layer": "braid", "no": 2, "state": "wire", "centre_px": [0, 100], "axes_px": [20, 20]},
    {"layer": "braid", "no": 3, "state": "wire", "centre_px": [-100, 0], "axes_px": [20, 20]},
    {"layer": "braid", "no": 4, "state": "pulled out", "centre_px": [0, -100], "axes_px": [20, 20]}]})json";
  SectionResult result;
  const auto tell = [&](double x, double y, WireState state) {
    WireTrace wire;
    wire.layer = "braid";
    wire.state = state;
    wire.centroid = {x, y};
    result.section.wires.push_back(wire);
  };
  tell(203, 0, WireState::kWire);
  tell(0, 196, WireState::kWire);
  tell(-230, 0, WireState::kWire);
  tell(10, -200, WireState::kPulledOut);
  const auto score = ScoreFace(result, truth, truth, 2.0);
  ASSERT_TRUE(score);
  EXPECT_EQ(score->wires.of, 3U);
  EXPECT_EQ(score->wires.found, 2U);
  EXPECT_EQ(score->wires.invented, 1U);
  EXPECT_EQ(score->wires.missing, 1U);
  EXPECT_EQ(score->wires.missing_told, 1U);
  EXPECT_NEAR(score->wires.rms_off_um, 9 + 16, 1e-12);
}

// The last check with a pin counts: one that held once and holds no longer completes nothing.
TEST(Qualify, TheLastPinCheckCounts) {
  const Design design = *ParseDesign(kPlainShaft, "shaft");
  QualifyOrder order;
  order.camera = CameraOfRecord(LookRecord(), *Scale::FromRecord(LookRecord()));
  order.faces = 3;
  order.known_answers = false;
  order.checks = {{"pin", "P-1", "monday", "bench", 500, 0.1, 0.5, true, true},
                  {"pin", "P-1", "friday", "bench", 500, 9, 0.5, false, true}};
  const auto done = Qualify(design, *design.FindSection("face"), LookRecord(), order);
  ASSERT_TRUE(done);
  EXPECT_FALSE(done->evidence_complete);
  EXPECT_THAT(done->evidence, testing::HasSubstr("of friday"));
  EXPECT_THAT(done->answer, testing::HasSubstr("did not hold"));
}

}  // namespace
}  // namespace cutface
