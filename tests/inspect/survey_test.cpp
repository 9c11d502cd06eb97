// Surveys of rendered faces with known geometry, and measuring with the drawing that a survey
// drafts.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "cutface/inspect.h"
#include "cutface/phantom.h"

namespace cutface {
namespace {

constexpr double kPitchUm = 2.5;

ContourPx Moved(ContourPx contour, PointPx by) {
  for (PointPx& p : contour) p = p + by;
  return contour;
}

ContourPx Oval(double a, double b, double angle = 0) {
  ContourPx contour;
  for (int k = 0; k < 720; ++k) {
    const double t = k * M_PI / 360;
    contour.push_back(Rotated(PointPx{a * std::cos(t), b * std::sin(t)}, angle));
  }
  return contour;
}

// A stadium: a slot with round ends.
ContourPx Slot(double half_length, double radius, double angle) {
  ContourPx contour;
  for (int k = 0; k < 720; ++k) {
    const double t = k * M_PI / 360;
    const double x = std::cos(t) >= 0 ? half_length : -half_length;
    contour.push_back(Rotated(PointPx{x + radius * std::cos(t), radius * std::sin(t)}, angle));
  }
  return contour;
}

// A round part with a round, an oval, a slot-shaped and a kidney-like lumen: no two alike.
PhantomScene Face(PhantomLight light) {
  PhantomScene scene;
  scene.width_px = 1000;
  scene.height_px = 800;
  scene.light = light;
  scene.blur_px = 1.1;
  scene.noise = 0.008;
  const PointPx middle{490, 410};
  scene.outline = Moved(Oval(300, 300), middle);
  ContourPx kidney = Oval(70, 45);
  for (PointPx& p : kidney) p.y += 0.006 * p.x * p.x;
  const ContourPx shapes[] = {Oval(95, 95), Oval(60, 42, 0.5), Slot(45, 30, 1.1), kidney};
  const PointPx places[] = {{-120, -90}, {120, -120}, {150, 80}, {-60, 140}};
  for (int k = 0; k < 4; ++k) {
    PhantomLumen lumen;
    lumen.names = {"lumen"};
    lumen.contour = Moved(shapes[k], middle + places[k]);
    lumen.tone = light == PhantomLight::kReflected     ? 0.06
                 : light == PhantomLight::kTransmitted ? 0.88
                                                       : 0.3;
    if (light == PhantomLight::kWeak) lumen.tone = 0.44;
    scene.lumens.push_back(std::move(lumen));
  }
  if (light == PhantomLight::kTransmitted) scene.resin_tone = 0.9;
  if (light == PhantomLight::kWeak) scene.resin_tone = 0.44;
  return scene;
}

struct Bench {
  Micrograph micrograph;
  CalibrationRecord calibration;
  Scale scale = Scale::Isotropic(kPitchUm);
};

Bench BenchFor(const PhantomScene& scene) {
  Bench bench;
  bench.micrograph = MicrographFromPixels(RenderPhantom(scene, 7), scene.bits, "face");
  bench.calibration.id = "test";
  bench.calibration.gamma = 1.0;
  return bench;
}

InspectOptions Plain() {
  InspectOptions options;
  options.measure.draws = 0;
  return options;
}

std::map<std::string, double> DiametersPx(const SectionResult& result) {
  std::map<std::string, double> diameters;
  for (const Measurement& m : result.measurements) {
    if (m.quantity == "equivalent_diameter" && m.state == Measurement::State::kMeasured) {
      diameters[m.of.front()] = m.value / kPitchUm;
    }
  }
  return diameters;
}

class InEveryLight : public testing::TestWithParam<PhantomLight> {};

TEST_P(InEveryLight, EveryLumenIsFoundNamedByClockAndMeasured) {
  const PhantomScene scene = Face(GetParam());
  const Bench bench = BenchFor(scene);
  const auto survey = SurveySection(bench.micrograph, bench.calibration, bench.scale, Plain());
  ASSERT_TRUE(survey) << survey.error().message;
  const auto diameters = DiametersPx(survey->result);
  ASSERT_EQ(survey->result.section.lumens.size(), 4u);
  EXPECT_TRUE(survey->result.section.voids.empty());
  EXPECT_EQ(survey->result.verdict, Verdict::kNotJudged);
  // By clock from the largest, +x towards +y: the picture's lumens in the order they were placed.
  for (std::size_t k = 0; k < 4; ++k) {
    const std::string name = "l" + std::to_string(k + 1);
    EXPECT_EQ(survey->result.section.lumens[k].Key(), name);
    ASSERT_TRUE(diameters.count(name));
    EXPECT_NEAR(diameters.at(name), 2 * std::sqrt(Area(scene.lumens[k].contour) / M_PI), 1.0);
  }
  EXPECT_NEAR(diameters.at("outline"), 600, 1.0);
}

TEST_P(InEveryLight, TheDraftedDrawingMeasuresTheSameFaceAlike) {
  const Bench bench = BenchFor(Face(GetParam()));
  const auto survey = SurveySection(bench.micrograph, bench.calibration, bench.scale, Plain());
  ASSERT_TRUE(survey) << survey.error().message;
  const auto design = ParseDesign(DesignToJson(survey->draft), "draft.design.json");
  ASSERT_TRUE(design) << design.error().message;
  const SectionDesign* plane = design->FindSection("draft");
  ASSERT_NE(plane, nullptr);
  EXPECT_EQ(plane->datum.clock, "l1");
  EXPECT_TRUE(plane->characteristics.empty());
  ASSERT_EQ(plane->lumens.size(), 4u);

  const auto again =
      Inspect(bench.micrograph, bench.calibration, bench.scale, *design, *plane, Plain());
  ASSERT_TRUE(again) << again.error().message;
  const auto first = DiametersPx(survey->result), second = DiametersPx(*again);
  ASSERT_EQ(first.size(), 5u);
  for (const auto& [name, diameter] : first) {
    ASSERT_TRUE(second.count(name)) << name;
    EXPECT_NEAR(second.at(name), diameter, 0.2) << name;
  }
}

INSTANTIATE_TEST_SUITE_P(Lights, InEveryLight,
                         testing::Values(PhantomLight::kReflected, PhantomLight::kFilled,
                                         PhantomLight::kWeak, PhantomLight::kTransmitted),
                         [](const auto& light) {
                           return std::string(PhantomLightName(light.param));
                         });

TEST(Survey, ADraftUsesTheSimplestShapeThatFits) {
  const Bench bench = BenchFor(Face(PhantomLight::kReflected));
  const auto survey = SurveySection(bench.micrograph, bench.calibration, bench.scale, Plain());
  ASSERT_TRUE(survey) << survey.error().message;
  const SectionDesign& plane = survey->draft.sections.front();
  ASSERT_EQ(plane.lumens.size(), 4u);
  EXPECT_EQ(plane.outline.kind, Shape::Kind::kCircle);
  EXPECT_EQ(plane.lumens[0].shape.kind, Shape::Kind::kCircle);
  EXPECT_EQ(plane.lumens[1].shape.kind, Shape::Kind::kEllipse);
  EXPECT_EQ(plane.lumens[2].shape.kind, Shape::Kind::kRectangle);
  EXPECT_EQ(plane.lumens[3].shape.kind, Shape::Kind::kPath);
  EXPECT_EQ(survey->draft.units, LengthUnit::kMillimetre);
  // The part's centre is the drawing's origin.
  EXPECT_EQ(plane.outline.centre, PointUm{});
  EXPECT_NEAR(plane.lumens[0].shape.centre.x, -120 * kPitchUm, 1);
  EXPECT_NEAR(plane.lumens[0].shape.centre.y, -90 * kPitchUm, 1);
}

TEST(Survey, SmallHolesAreVoids) {
  PhantomScene scene = Face(PhantomLight::kReflected);
  PhantomPatch spot;
  spot.contour = Moved(Oval(6, 6), {490, 390});
  spot.tone = 0.06;
  scene.voids.push_back(spot);
  const Bench bench = BenchFor(scene);
  const auto survey = SurveySection(bench.micrograph, bench.calibration, bench.scale, Plain());
  ASSERT_TRUE(survey) << survey.error().message;
  EXPECT_EQ(survey->result.section.lumens.size(), 4u);
  ASSERT_EQ(survey->result.section.voids.size(), 1u);
  const double diameter = 2 * std::sqrt(survey->result.section.voids[0].area_um2 / M_PI) / kPitchUm;
  EXPECT_NEAR(diameter, 12, 1);
}

TEST(Survey, StopsWhenAsked) {
  const Bench bench = BenchFor(Face(PhantomLight::kReflected));
  InspectOptions options = Plain();
  options.progress = [](double share, std::string_view) { return share < 0.4; };
  const auto survey = SurveySection(bench.micrograph, bench.calibration, bench.scale, options);
  ASSERT_FALSE(survey);
  EXPECT_EQ(survey.error().code, Code::kCancelled);
}

}  // namespace
}  // namespace cutface
