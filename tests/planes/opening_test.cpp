// An uneven sleeve against closed forms of a neo-Hookean ring, to ten times its diameter.
#include "cutface/opening.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <numbers>

namespace cutface {
namespace {

TracedContour Circle(PointUm centre, double radius) {
  TracedContour contour;
  for (int i = 0; i < 1440; ++i) {
    const double a = 2 * kPi * i / 1440;
    const PointUm n{std::cos(a), std::sin(a)};
    contour.vertices.push_back({centre + radius * n, n, 0, VertexState::kMeasured});
  }
  return contour;
}

SectionResult Sleeve(PointUm bore_off) {
  SectionResult r;
  r.section.outline = Circle({0, 0}, 1100);
  r.section.rings = {{"sleeve", Circle(bore_off, 1000)}, {"adhesive", Circle({0, 0}, 900)}};
  return r;
}

// Plane strain, incompressible, neo-Hookean of modulus mu: nominal stress mu (l - l^-3).
StiffnessCurve NeoHooke(double mu, double to) {
  StiffnessCurve curve;
  curve.source = "closed form";
  for (int i = 0; i <= 20000; ++i) {
    const double l = 1 + (to - 1) * i / 20000;
    curve.stretch.push_back(l);
    curve.stress_mpa.push_back(mu * (l - std::pow(l, -3)));
  }
  return curve;
}

TEST(Opening, EvenSleeveIsTheClosedFormToTenTimes) {
  const auto out = OpenSleeve(Sleeve({0, 0}), "sleeve", NeoHooke(0.5, 11));
  ASSERT_TRUE(out.has_value());
  EXPECT_FALSE(out->told_apart && out->unevenness > 1e-3);
  EXPECT_NEAR(out->radius_um, 1050, 0.01);
  for (const OpeningStep& step : out->steps) {
    ASSERT_TRUE(step.told) << step.reason;
    const double l = step.times, wanted = 0.5 * (l - std::pow(l, -3)) * 100 / (l * 1050);
    EXPECT_NEAR(step.pressure_mpa, wanted, 1e-3 * wanted) << l;
    EXPECT_NEAR(step.stretch[0], l, 1e-3 * l);
  }
}

TEST(Opening, ThinSideOpensFirstAndMost) {
  // Bore 5 um towards 3 o'clock: thin there.
  const auto out = OpenSleeve(Sleeve({5, 0}), "sleeve", NeoHooke(0.5, 11), {1.1, 4});
  ASSERT_TRUE(out.has_value());
  EXPECT_EQ(out->order.front(), 3);
  EXPECT_EQ(out->order.back(), 9);
  EXPECT_NEAR(out->direction_deg, 90, 0.1);
  EXPECT_TRUE(out->told_apart);
  // To first order stretch differs by -s / s' dt / t.
  for (const OpeningStep& step : out->steps) {
    const double l = step.times, s = l - std::pow(l, -3), slope = 1 + 3 * std::pow(l, -4);
    const double wanted = s / slope * (out->thickness_um[9] - out->thickness_um[3]) / 100;
    EXPECT_NEAR(step.stretch[3] - step.stretch[9], wanted, 0.05 * wanted) << l;
  }
}

TEST(Opening, WithoutACurveOnlyTheOrder) {
  SectionResult face = Sleeve({0, 8});
  face.section.placement.rotation_rad = kPi / 2;  // 6 o'clock in the picture is 3 o'clock drawn
  const auto out = OpenSleeve(face, "sleeve", std::nullopt);
  ASSERT_TRUE(out.has_value());
  EXPECT_TRUE(out->steps.empty());
  EXPECT_NEAR(out->direction_deg, 90, 0.1);
  EXPECT_EQ(OpenSleeve(face, "balloon", std::nullopt).error().code, Code::kNotFound);
}

TEST(Opening, BeyondTheCurveNothingIsTold) {
  const auto out = OpenSleeve(Sleeve({0, 0}), "sleeve", NeoHooke(0.5, 3), {2, 4});
  EXPECT_TRUE(out->steps[0].told);
  EXPECT_FALSE(out->steps[1].told);
  EXPECT_THAT(out->steps[1].reason, testing::HasSubstr("ends at a stretch of 3"));
}

TEST(Opening, ACurveThatDoesNotRiseIsRefused) {
  const std::string path = testing::TempDir() + "/soft.stiffness.json";
  std::ofstream(path)
      << R"({"format":"cutface/stiffness","version":1,"source":"x","stretch":[1,2,3],"stress_mpa":[0,1,0.9]})";
  EXPECT_EQ(ReadStiffness(path).error().code, Code::kJsonValue);
  std::ofstream(path)
      << R"({"format":"cutface/stiffness","version":1,"source":"x","stretch":[1,2,3],"stress_mpa":[0,1,1.9]})";
  EXPECT_TRUE(ReadStiffness(path).has_value());
}

TEST(Opening, AFormatThatIsNoTextIsAnErrorAndNoCrash) {
  for (const char* format : {"5", "null", "[]", "{}", "\"cutface/design\""}) {
    const auto curve = ParseStiffness(std::string(R"({"format":)") + format +
                                          R"(,"source":"x","stretch":[1,2],"stress_mpa":[0,1]})",
                                      "x");
    ASSERT_FALSE(curve.has_value()) << format;
    EXPECT_EQ(curve.error().code, Code::kJsonValue);
  }
  EXPECT_EQ(ParseStiffness(R"({"format":"cutface/stiffness","version":1,"source":"x",
                               "stretch":[1,2],"stress_mpa":[0,1],"a\nb":1})",
                           "x")
                .error()
                .message,
            "x: a\\x0ab: unknown key");
}

}  // namespace
}  // namespace cutface
