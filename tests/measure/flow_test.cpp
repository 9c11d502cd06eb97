// K of ducts against Shah & London, Laminar Flow Forced Convection in Ducts (1978), and White,
// Viscous Fluid Flow, ch. 3 (tables from memory; the digits here come from the exact solutions:
// closed forms for circle, ellipse and equilateral triangle, series for rectangles and sectors;
// triangles of other angles from finite elements to 1e-5).
#include "measure/flow.h"

#include <gtest/gtest.h>

#include "measure/faces.h"

namespace cutface::measure {
namespace {

using faces::CirclePoints;
using faces::EllipsePoints;
using faces::RectanglePoints;
using faces::Subdivided;

// What the design of the flow figure promises.
constexpr double kRelative = 0.002;

void ExpectFlow(const ContourUm& contour, double k, const char* what) {
  const FlowFigure figure = SolveFlow(contour);
  EXPECT_NEAR(figure.k / k, 1, kRelative) << what;
  ASSERT_EQ(figure.slope_squared.size(), contour.size());
}

TEST(Flow, CircleIsPoiseuille) {
  ExpectFlow(CirclePoints({300, -200}, 400, 1200), kPi * std::pow(400, 4) / 8, "circle");
}

TEST(Flow, EllipseHasItsClosedForm) {
  const double k_over_a4[] = {0.2451975, 0.0785398, 0.0115500};
  const double ratios[] = {0.8, 0.5, 0.25};
  for (int i = 0; i < 3; ++i) {
    ExpectFlow(EllipsePoints({0, 0}, 500, 500 * ratios[i], 1200), k_over_a4[i] * std::pow(500, 4),
               "ellipse");
  }
}

TEST(Flow, RectangleHasItsSeries) {
  const double alpha[] = {1, 0.5, 0.25, 0.1};
  const double k_over_wh3[] = {0.035144, 0.057170, 0.070203, 0.078081};
  for (int i = 0; i < 4; ++i) {
    const double w = 800, h = w * alpha[i];
    ExpectFlow(RectanglePoints({10, 20}, w, h, 2.0), k_over_wh3[i] * w * h * h * h, "rectangle");
  }
}

TEST(Flow, TrianglesHaveTheirFigures) {
  const double side = 600, height = side * std::sqrt(3) / 2;
  ExpectFlow(Subdivided({{0, 0}, {side, 0}, {side / 2, height}}, 2.0),
             std::sqrt(3) * std::pow(side, 4) / 320, "equilateral");
  // Isosceles, apex 30 and 90 degrees, height 1.
  const double apex[] = {30, 90}, k_over_h4[] = {1.733906e-3, 2.6089652e-2};
  for (int i = 0; i < 2; ++i) {
    const double h = 500, half = h * std::tan(apex[i] / 2 * kPi / 180);
    ExpectFlow(Subdivided({{-half, 0}, {half, 0}, {0, h}}, 2.0), k_over_h4[i] * std::pow(h, 4),
               "isosceles");
  }
}

TEST(Flow, SectorsHaveTheirSeries) {
  const double angle[] = {60, 90, 180, 240};
  const double k_over_r4[] = {8.7273015e-3, 2.0581894e-2, 7.4389196e-2, 0.11912937};
  for (int i = 0; i < 4; ++i) {
    const double r = 450, beta = angle[i] * kPi / 180;
    ContourUm corners{{0, 0}};
    const int steps = static_cast<int>(std::ceil(beta * r / 2));
    for (int k = 0; k <= steps; ++k) {
      corners.push_back(r * PointUm{std::cos(beta * k / steps), std::sin(beta * k / steps)});
    }
    ExpectFlow(Subdivided(corners, 2.0), k_over_r4[i] * std::pow(r, 4), "sector");
  }
}

// Saint-Venant: no bore of that area lets more through than the circle.
TEST(Flow, NoShapeBeatsTheCircleOfItsArea) {
  Random random(3);
  for (int trial = 0; trial < 20; ++trial) {
    ContourUm blob = CirclePoints({0, 0}, 1, 720);
    const double a = random.Uniform(0, 60), b = random.Uniform(0, 40), phase = random.Uniform(0, 6);
    for (std::size_t i = 0; i < blob.size(); ++i) {
      const double t = 2 * kPi * static_cast<double>(i) / 720;
      blob[i] = (300 + a * std::cos(2 * t) + b * std::cos(3 * t + phase)) * blob[i];
    }
    const double area = Area<FrameUm>(blob);
    EXPECT_LT(SolveFlow(blob).k, area * area / (8 * kPi) * (1 + 1e-4)) << "trial " << trial;
  }
}

// The shape derivative that draws use: K of a slightly larger bore.
TEST(Flow, SlopePredictsTheChangeOfK) {
  const ContourUm small = EllipsePoints({0, 0}, 400, 250, 1000);
  const FlowFigure figure = SolveFlow(small);
  const ContourUm normals = OutwardNormals<FrameUm>(small);
  ContourUm grown = small;
  double predicted = 0;
  for (std::size_t i = 0; i < small.size(); ++i) {
    const double shift = 0.5 + 0.3 * std::cos(2 * kPi * static_cast<double>(i) / 500);
    grown[i] = grown[i] + shift * normals[i];
    const double share = 0.5 * (Distance(small[(i + 999) % 1000], small[i]) +
                                Distance(small[i], small[(i + 1) % 1000]));
    predicted += figure.slope_squared[i] * shift * share;
  }
  EXPECT_NEAR(predicted, SolveFlow(grown).k - figure.k, 0.02 * predicted);
}

}  // namespace
}  // namespace cutface::measure
