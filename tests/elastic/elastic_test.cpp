// The pressurised section against closed forms: Lame, the eccentric cylinder, the thick plate.
#include "cutface/elastic.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <chrono>
#include <numbers>

namespace cutface {
namespace {

constexpr double kAsked = 0.02;  // of stress and sag against closed forms

ContourUm Circle(PointUm centre, double radius, int count = 720) {
  ContourUm points;
  for (int i = 0; i < count; ++i) {
    const double a = 2 * kPi * i / count;
    points.push_back(centre + radius * PointUm{std::cos(a), std::sin(a)});
  }
  return points;
}

ElasticSolution Solved(const ElasticProblem& problem) {
  auto solution = SolveElastic(problem);
  EXPECT_TRUE(solution.has_value()) << (solution ? "" : solution.error().message);
  CF_CHECK(solution.has_value());
  return *solution;
}

ElasticProblem Cylinder(double a, double b, double e, double poisson) {
  ElasticProblem problem;
  problem.outer = Circle({0, 0}, b);
  problem.holes = {{Circle({e, 0}, a), 1.0}};
  problem.materials = {{50, poisson}};
  return problem;
}

// Largest stress along the wall on the line of centres, at the bore (inner) and outside.
struct Wall {
  double inner, outer;
};
Wall OnLine(const ElasticSolution& s, double from, double to) {
  const auto at = [&](double x) {
    const auto stress = s.StressAt({x, 0});
    EXPECT_TRUE(stress.has_value()) << x;
    return stress ? stress->yy : 0;
  };
  // Chords lie inside their circle: a little within the wall, and carried on to the edge.
  const double step = 0.01 * (to - from);
  return {2 * at(from + step) - at(from + 2 * step), 2 * at(to - step) - at(to - 2 * step)};
}

// check-values 8.1 (Lame): hoop stress at the bore and outside, in units of the pressure.
TEST(Elastic, LamesCylinderThickAndThinAndNearIncompressible) {
  struct Row {
    double k, inner, outer;
  };
  for (const Row row : {Row{1.1, 10.523810, 9.523810}, Row{1.2, 5.545455, 4.545455},
                        Row{1.5, 2.6, 1.6}, Row{2, 1.666667, 0.666667}, Row{3, 1.25, 0.25}}) {
    for (const double poisson : {0.3, 0.48, 0.499}) {
      const Wall wall = OnLine(Solved(Cylinder(500, 500 * row.k, 0, poisson)), 500, 500 * row.k);
      EXPECT_NEAR(wall.inner, row.inner, kAsked * row.inner) << row.k << " " << poisson;
      EXPECT_NEAR(wall.outer, row.outer, kAsked * row.inner) << row.k << " " << poisson;
    }
  }
}

// Lame's radial displacement of the bore in plane strain:
// u = p a (1 + nu) / E * (b^2 + (1 - 2 nu) a^2) / (b^2 - a^2).
TEST(Elastic, LamesCylinderOpensByTheClosedForm) {
  for (const double nu : {0.3, 0.499}) {
    const double a = 500, b = 1000, e = 50;
    const double u = a * (1 + nu) / e * (b * b + (1 - 2 * nu) * a * a) / (b * b - a * a);
    const ElasticSolution s = Solved(Cylinder(a, b, 0, nu));
    const auto at = s.DisplacementAt({0, a + 0.2});
    ASSERT_TRUE(at.has_value());
    EXPECT_NEAR(at->y, u, kAsked * u);
    EXPECT_NEAR(at->x, 0, kAsked * u);
  }
}

// check-values 8.2 (Timoshenko & Goodier, art. 66): peak at the thinnest place; the outer surface
// from the finite elements of that table.
TEST(Elastic, EccentricCylinder) {
  struct Row {
    double a, b, e, inner, outer;
  };
  for (const Row row : {Row{1, 2, 0.3, 1.98528, 1.29357}, Row{1, 2, 0.5, 2.42857, 2.16160},
                        Row{1, 2, 0.7, 3.48288, 4.24474}, Row{0.8, 1, 0.05, 5.84465, 5.16698},
                        Row{0.8, 1, 0.1, 8.43517, 8.40584}, Row{0.9, 1, 0.05, 18.46451, 0}}) {
    const ElasticSolution s = Solved(Cylinder(1000 * row.a, 1000 * row.b, 1000 * row.e, 0.3));
    const Wall wall = OnLine(s, 1000 * (row.e + row.a), 1000 * row.b);
    EXPECT_NEAR(wall.inner, row.inner, kAsked * row.inner) << row.a << " " << row.e;
    if (row.outer > 0) {
      EXPECT_NEAR(wall.outer, row.outer, kAsked * row.outer) << row.a << " " << row.e;
    }
  }
}

// A strip held at both ends under pressure. Edge stress p w^2 / (2 t^2), middle p w^2 / (4 t^2)
// (check-values 8.3), sag p w^4 (1 - nu^2) / (32 E t^3), to which shear adds p w^2 / (8 k G t): the
// thick plate's limit. k = 10 (1 + nu') / (12 + 11 nu') (Cowper 1966, J. Appl. Mech. 33,
// rectangular section, from memory), nu' = nu / (1 - nu) for plane strain.
TEST(Elastic, HeldStripThinAndThick) {
  for (const double slender : {20.0, 10.0, 6.0}) {
    const double t = 100, w = slender * t, nu = 0.3, modulus = 50, p = 1e-3;
    ElasticProblem problem;
    problem.outer = {{0, 0}, {w, 0}, {w, t}, {0, t}};
    problem.outer_pressure_mpa = {p, 0, 0, 0};
    problem.outer_held = {0, 1, 0, 1};
    problem.materials = {{modulus, nu}};
    problem.coarsest = 0.3 * t / w;
    const ElasticSolution s = Solved(problem);
    const double shear = modulus / (2 * (1 + nu));
    const double plane = nu / (1 - nu), k = 10 * (1 + plane) / (12 + 11 * plane);
    const double sag = p * std::pow(w, 4) * (1 - nu * nu) / (32 * modulus * std::pow(t, 3)) +
                       p * w * w / (8 * k * shear * t);
    const auto at = s.DisplacementAt({w / 2, t / 2});
    ASSERT_TRUE(at.has_value());
    EXPECT_NEAR(at->y, sag, kAsked * sag) << slender;
    const auto middle = s.Linearised({w / 2, t}, {w / 2, 0});
    ASSERT_TRUE(middle.has_value());
    // The far side of the pressure is in tension in the middle.
    EXPECT_NEAR(middle->bending_mpa, p * w * w / (4 * t * t), kAsked * p * w * w / (4 * t * t))
        << slender;
  }
}

// Two materials: a stiff liner carries what its stiffness says (compound cylinder, Lame's
// equations with equal radial stress and displacement at the interface, plane strain).
TEST(Elastic, CompoundCylinder) {
  const double a = 500, c = 600, b = 1000, p = 1;
  const ElasticMaterial soft{10, 0.4}, stiff{400, 0.3};
  ElasticProblem problem;
  problem.outer = Circle({0, 0}, b);
  problem.holes = {{Circle({0, 0}, a), p}};
  problem.regions = {{Circle({0, 0}, c), 1}};
  problem.materials = {soft, stiff};
  const ElasticSolution s = Solved(problem);
  const auto opening = [](const ElasticMaterial& m, double in, double out, double r, double pi,
                          double po) {
    const double d = out * out - in * in, n = m.poisson;
    const double x = (pi * in * in - po * out * out) / d, y = (pi - po) * in * in * out * out / d;
    return (1 + n) / m.modulus_mpa * ((1 - 2 * n) * x * r + y / r);
  };
  // Interface pressure q from equal openings; both are linear in q.
  const double s0 = opening(stiff, a, c, c, p, 0), s1 = opening(stiff, a, c, c, p, 1) - s0;
  const double q = s0 / (opening(soft, c, b, c, 1, 0) - s1);
  const double hoop_soft = q * (b * b + c * c) / (b * b - c * c);
  const double hoop_stiff = (p * (a * a + c * c) - 2 * q * c * c) / (c * c - a * a);
  const auto inner = s.StressAt({a + 1, 0}), outer = s.StressAt({c + 1, 0});
  ASSERT_TRUE(inner && outer);
  EXPECT_NEAR(inner->yy, hoop_stiff, kAsked * hoop_stiff);
  EXPECT_NEAR(outer->yy, hoop_soft, kAsked * hoop_soft);
}

TEST(Elastic, CatheterFaceInUnderThreeSeconds) {
  ElasticProblem problem;
  problem.outer = Circle({0, 0}, 1250);
  problem.holes = {{Circle({0, -470}, 475), 0.3},
                   {Circle({-560, 330}, 300), 0},
                   {Circle({560, 330}, 300), 0},
                   {Circle({0, 640}, 120), 0},
                   {Circle({0, 40}, 14), 0}};
  problem.materials = {{50, 0.48}};
  const auto start = std::chrono::steady_clock::now();
  const ElasticSolution s = Solved(problem);
  const double seconds =
      std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  EXPECT_LT(seconds, 3.0);
  RecordProperty("seconds", std::to_string(seconds));
  RecordProperty("elements", std::to_string(s.elements().size()));
}

TEST(Elastic, WhatCannotBeMeshedIsSaid) {
  ElasticProblem problem = Cylinder(500, 1000, 0, 0.3);
  problem.holes.push_back({Circle({1000, 0}, 100), 0});  // crosses the outline
  EXPECT_EQ(SolveElastic(problem).error().code, Code::kInvalidContour);
  problem = Cylinder(500, 1000, 0, 0.6);
  EXPECT_EQ(SolveElastic(problem).error().code, Code::kUsage);
}

}  // namespace
}  // namespace cutface
