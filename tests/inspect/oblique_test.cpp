// Oblique cuts through the whole pipeline: the same part cut square and at an angle.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <numbers>

#include "cutface/inspect.h"
#include "cutface/phantom.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using ::testing::HasSubstr;

constexpr double kTiltDeg = 19, kAxisDeg = 35;
constexpr double kTiltNeeded_deg = 1.5;

PhantomOrder Order(double tilt_deg) {
  PhantomOrder order;
  order.oblique_deg = tilt_deg;
  order.oblique_axis_deg = kAxisDeg;
  order.rotation_deg = 20;
  return order;
}

class ObliqueCut : public ::testing::Test {
 protected:
  void SetUp() override {
    auto design =
        ReadDesign(std::string(CUTFACE_SOURCE_DIR) + "/sample-images/LV-7504.design.json");
    ASSERT_THAT(design, IsOk());
    design_ = *design;
    plane_ = design_.FindSection("extrusion");
    ASSERT_NE(plane_, nullptr);
  }
  PhantomFace Face(double tilt_deg) {
    auto face = DrawPhantomOfDesign(design_, "extrusion", Order(tilt_deg), 5);
    EXPECT_THAT(face, IsOk());
    return *face;
  }
  SectionResult Inspected(double tilt_deg, bool correct) {
    const PhantomFace face = Face(tilt_deg);
    const Micrograph micrograph = MicrographFromPixels(RenderPhantom(face.scene, face.picture_seed),
                                                       face.scene.bits, "face.png");
    CalibrationRecord record;
    record.id = "test";
    const Scale scale = Scale::Isotropic(Order(0).pitch_um);
    InspectOptions options;
    options.correct_oblique = correct;
    auto result = Inspect(micrograph, record, scale, design_, *plane_, options);
    EXPECT_THAT(result, IsOk());
    return *result;
  }
  // The part cut square: the same seed builds the same part.
  std::map<std::string, double> TrueSepta() {
    const PhantomFace face = Face(0);
    std::map<std::string, double> septa;
    const std::vector<PhantomLumen>& lumens = face.scene.lumens;
    for (std::size_t i = 0; i < lumens.size(); ++i) {
      for (std::size_t j = i + 1; j < lumens.size(); ++j) {
        septa[lumens[i].names[0] + "|" + lumens[j].names[0]] =
            Order(0).pitch_um *
            LeastDistance<FramePx>(lumens[i].contour, lumens[j].contour).distance;
      }
    }
    return septa;
  }

  Design design_;
  const SectionDesign* plane_ = nullptr;
};

const Measurement* Septum(const SectionResult& result, const std::string& pair) {
  for (const Measurement& m : result.measurements) {
    if (m.quantity != "septum" || m.of.size() != 2) continue;
    if (m.of[0] + "|" + m.of[1] == pair || m.of[1] + "|" + m.of[0] == pair) return &m;
  }
  return nullptr;
}

bool Has(const SectionResult& result, const std::string& finding) {
  return std::any_of(result.findings.begin(), result.findings.end(),
                     [&](const Finding& f) { return f.kind == finding; });
}

TEST_F(ObliqueCut, IsToldWithItsAngle) {
  const Placement& p = Inspected(kTiltDeg, false).section.placement;
  EXPECT_NEAR(p.oblique_rad * 180 / std::numbers::pi, kTiltDeg, kTiltNeeded_deg);
  EXPECT_NEAR(std::cos(2 * (p.oblique_axis_rad - kAxisDeg * std::numbers::pi / 180)), 1, 0.01);
  EXPECT_GT(p.u_oblique_rad, 0);
}

TEST_F(ObliqueCut, UncorrectedLowerLimitsHoldTheTrueSepta) {
  const SectionResult result = Inspected(kTiltDeg, false);
  EXPECT_TRUE(Has(result, "oblique cut"));
  for (const auto& [pair, um] : TrueSepta()) {
    const Measurement* m = Septum(result, pair);
    if (m == nullptr || m->state != Measurement::State::kMeasured) continue;
    EXPECT_LT(m->lo, um + 0.5) << pair;
    EXPECT_FALSE(m->uncorrected) << pair;
  }
}

TEST_F(ObliqueCut, CorrectedSeptaAreThoseOfASquareCut) {
  const SectionResult as_seen = Inspected(kTiltDeg, false), result = Inspected(kTiltDeg, true);
  ASSERT_EQ(result.edits.size(), 1u);
  EXPECT_THAT(result.edits[0], HasSubstr("corrected for an oblique cut of"));
  EXPECT_TRUE(result.section.placement.oblique_corrected);
  EXPECT_TRUE(Has(result, "oblique cut"));
  int checked = 0;
  double before = 0, after = 0;
  for (const auto& [pair, um] : TrueSepta()) {
    const Measurement *m = Septum(result, pair), *seen = Septum(as_seen, pair);
    if (m == nullptr || seen == nullptr || m->state != Measurement::State::kMeasured) continue;
    ++checked;
    before = std::max(before, std::abs(seen->value - um));
    after = std::max(after, std::abs(m->value - um));
    EXPECT_LT(m->lo, um + 0.5) << pair;
    EXPECT_GT(m->hi, um - 0.5) << pair;
    EXPECT_GE(m->u, 0.95 * seen->u) << pair;  // the cosine shrinks what the edges leave open
    ASSERT_TRUE(m->uncorrected) << pair;
    EXPECT_NEAR(*m->uncorrected, seen->value, 0.6) << pair;
    EXPECT_TRUE(std::any_of(m->budget.begin(), m->budget.end(), [](const BudgetLine& line) {
      return line.source == "correction of the tilt";
    })) << pair;
  }
  EXPECT_GE(checked, 3);
  EXPECT_GT(before, 4.0);
  EXPECT_LT(after, 0.4 * before);
}

TEST_F(ObliqueCut, NothingIsCorrectedWhereNoTiltIsShown) {
  const SectionResult result = Inspected(0, true);
  EXPECT_TRUE(result.edits.empty());
  ASSERT_FALSE(result.warnings.empty());
  EXPECT_THAT(result.warnings.back(), HasSubstr("not made: no tilt is shown"));
  EXPECT_FALSE(Has(result, "oblique cut"));
}

}  // namespace
}  // namespace cutface
