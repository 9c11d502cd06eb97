// A mandrel left in a bore: its own edge is never taken for the bore's.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>

#include "cutface/inspect.h"
#include "cutface/phantom.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using ::testing::HasSubstr;

const Measurement* DiameterOf(const SectionResult& result, const std::string& lumen) {
  for (const Measurement& m : result.measurements) {
    if (m.quantity == "equivalent_diameter" && m.of == std::vector<std::string>{lumen}) return &m;
  }
  return nullptr;
}

// A face in transmitted light with something opaque in its scope lumen, `half_um` across or less
// by the clock, and potting about it of the body's tone and `over_body`.
class Transmitted : public ::testing::Test {
 protected:
  void SetUp() override {
    auto design =
        ReadDesign(std::string(CUTFACE_SOURCE_DIR) + "/sample-images/LV-7504.design.json");
    ASSERT_THAT(design, IsOk());
    design_ = std::move(*design);
    order_.light = light_;
    auto face = DrawPhantomOfDesign(design_, "extrusion", order_, 3);
    ASSERT_THAT(face, IsOk());
    face_ = std::move(*face);
    for (PhantomLumen& lumen : face_.scene.lumens) {
      if (lumen.names.front() == "scope") scope_ = &lumen;
    }
    ASSERT_NE(scope_, nullptr);
  }

  template <class Radius>
  Result<SectionResult> With(double over_body, const Radius& share_of_radius) {
    scope_->tone = face_.scene.body_tone + over_body;
    const PointPx centre = Centroid<FramePx>(scope_->contour);
    const double radius = TrueDiameter_px() / 2;
    PhantomMetal plug{{}, metal_};
    for (int k = 0; k < 360; ++k) {
      const double angle = k * M_PI / 180;
      plug.contour.push_back(
          centre + share_of_radius(angle) * radius * PointPx{std::cos(angle), std::sin(angle)} +
          PointPx{4, -3});
    }
    face_.scene.metals.push_back(plug);
    CalibrationRecord record;
    record.id = "test";
    const SectionDesign* plane = design_.FindSection("extrusion");
    return Inspect(MicrographFromPixels(RenderPhantom(face_.scene, face_.picture_seed),
                                        face_.scene.bits, "m.png"),
                   record, Scale::Isotropic(order_.pitch_um), design_, *plane, {});
  }

  double TrueDiameter_px() const { return 2 * std::sqrt(Area<FramePx>(scope_->contour) / M_PI); }

  PhantomLight light_ = PhantomLight::kTransmitted;
  double metal_ = 0.01;  // tone
  Design design_;
  PhantomOrder order_;
  PhantomFace face_;
  PhantomLumen* scope_ = nullptr;
};

// Within a pixel: the mandrel alone is 16 % (some 30 px) smaller.
constexpr double kBore_px = 1.0;

TEST_F(Transmitted, ABoreIsMeasuredAroundItsMandrel) {
  const auto result = With(0.15, [](double) { return 0.84; });
  ASSERT_THAT(result, IsOk());
  const Measurement* scope = DiameterOf(*result, "scope");
  ASSERT_NE(scope, nullptr);
  ASSERT_EQ(scope->state, Measurement::State::kMeasured) << scope->reason;
  EXPECT_NEAR(scope->value / order_.pitch_um, TrueDiameter_px(), kBore_px);
  const LumenTrace* lumen = result->section.FindLumen("scope");
  ASSERT_NE(lumen, nullptr);
  EXPECT_EQ(lumen->state, LumenState::kFilled);
  ASSERT_TRUE(lumen->mandrel.has_value());
  EXPECT_NEAR(lumen->mandrel->long_um / order_.pitch_um, 0.84 * TrueDiameter_px(), 2);
  int told = 0;
  for (const Finding& f : result->findings) {
    told += f.kind == "mandrel left in" && f.where == std::vector<std::string>{"scope"} ? 1 : 0;
  }
  EXPECT_EQ(told, 1);
}

// A plug that is no disc: whatever it is, its edge is not the bore's.
TEST_F(Transmitted, TheEdgeOfSomethingElseInABoreIsNotMeasuredAsTheBore) {
  const auto result = With(0.15, [](double a) { return 0.84 + 0.06 * std::cos(3 * a); });
  ASSERT_THAT(result, IsOk());
  int looked = 0;
  for (const std::string lumen : {"scope", "wash", "return", "cuff"}) {
    const Measurement* m = DiameterOf(*result, lumen);
    ASSERT_NE(m, nullptr) << lumen;
    ++looked;
    if (lumen == "scope") {
      if (m->state == Measurement::State::kMeasured) {
        EXPECT_NEAR(m->value / order_.pitch_um, TrueDiameter_px(), kBore_px);
      } else {
        EXPECT_THAT(m->reason, HasSubstr("something in the bore"));
      }
    } else {
      EXPECT_EQ(m->state, Measurement::State::kMeasured) << lumen;
    }
  }
  EXPECT_EQ(looked, 4);
}

// The same with bright metal in bores that potting fills.
class Filled : public Transmitted {
 protected:
  Filled() {
    light_ = PhantomLight::kFilled;
    metal_ = 1.2;
  }
};

// The filling's tone is so near the body's that the bore's edge is hardly seen.
TEST_F(Filled, AMandrelInAFaintFillingIsNotTakenForTheBore) {
  for (const double over_body : {0.03, 0.0}) {
    const auto result = With(over_body, [](double) { return 0.84; });
    face_.scene.metals.clear();
    ASSERT_THAT(result, IsOk());
    const LumenTrace* lumen = result->section.FindLumen("scope");
    ASSERT_NE(lumen, nullptr);
    EXPECT_EQ(lumen->state, LumenState::kFilled) << over_body;
    const Measurement* scope = DiameterOf(*result, "scope");
    ASSERT_NE(scope, nullptr);
    const bool clean = scope->state == Measurement::State::kMeasured && scope->grade == "clean";
    if (clean) {
      EXPECT_NEAR(scope->value / order_.pitch_um, TrueDiameter_px(), kBore_px) << over_body;
    } else {
      EXPECT_FALSE(lumen->bore.doubt.empty()) << over_body;
    }
  }
}

// An empty bore is as dark as metal in reflected light: it stays the bore.
TEST(Mandrel, AnEmptyBoreIsNoMandrel) {
  auto design = ReadDesign(std::string(CUTFACE_SOURCE_DIR) + "/sample-images/LV-7504.design.json");
  ASSERT_THAT(design, IsOk());
  PhantomOrder order;
  auto face = DrawPhantomOfDesign(*design, "shaft-mid", order, 5);
  ASSERT_THAT(face, IsOk());
  for (PhantomLumen& lumen : face->scene.lumens) lumen.tone = 0.02;
  face->scene.resin_tone = face->scene.body_tone + 0.25;  // light potting
  CalibrationRecord record;
  record.id = "test";
  const auto result = Inspect(MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed),
                                                   face->scene.bits, "m.png"),
                              record, Scale::Isotropic(order.pitch_um), *design,
                              *design->FindSection("shaft-mid"), {});
  ASSERT_THAT(result, IsOk());
  ASSERT_FALSE(result->section.lumens.empty());
  for (const LumenTrace& lumen : result->section.lumens) {
    EXPECT_FALSE(lumen.mandrel.has_value()) << lumen.Key();
    EXPECT_EQ(lumen.state, LumenState::kOpen) << lumen.Key();
  }
}

}  // namespace
}  // namespace cutface
