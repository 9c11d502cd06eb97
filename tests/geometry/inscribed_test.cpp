#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "geometry/shapes.h"
#include "reference/reference.h"
#include "support/matchers.h"

namespace cutface {
namespace {

// JTS and GEOS test suites; published answers with 4 to 15 digits.
TEST(InscribedCircle, GivesThePublishedCases) {
  const auto rows = ReadReference("jts-circle-tests/inscribed.txt");
  int cases = 0;
  for (std::size_t i = 0; i < rows.size(); ++cases) {
    ASSERT_EQ(rows[i].word, "case");
    const auto expected = rows[i++].values;
    ContourUm contour;
    for (; i < rows.size() && rows[i].word == "point"; ++i) {
      contour.push_back({rows[i].values[0], rows[i].values[1]});
    }
    SCOPED_TRACE(testing::Message() << "case " << cases + 1);
    const auto circle = InscribedCircle(contour);
    ASSERT_THAT(circle, IsOk());
    EXPECT_NEAR(circle->centre.x, expected[0], 1e-6);
    EXPECT_NEAR(circle->centre.y, expected[1], 1e-6);
    EXPECT_NEAR(circle->radius, expected[2], 1e-6);
  }
  EXPECT_EQ(cases, 9);
}

// Closed forms (check-values 2.1 and 2.2). Curved sides are polygons of chords of angle a, which
// lie up to rho a^2 / 8 inside.
TEST(InscribedCircle, MatchesClosedForms) {
  struct Row {
    const char* name;
    ContourUm contour;
    double radius, slack;
  };
  const auto triangle = [](double a, double b, double c) {
    const double x = (b * b + c * c - a * a) / (2 * c);
    return ContourUm{{0, 0}, {c, 0}, {x, std::sqrt(b * b - x * x)}};
  };
  const auto side_one = [](int n) { return RegularPolygon(n, 0.5 / std::sin(kPi / n)); };
  constexpr int kChords = 2000;
  const double chord = kPi / kChords, sag = chord * chord / 8;
  ContourUm stadium;
  for (int i = 0; i <= kChords; ++i) {
    stadium.push_back({3 + std::sin(chord * i), -std::cos(chord * i)});
  }
  for (int i = 0; i <= kChords; ++i) {
    stadium.push_back({-3 - std::sin(chord * i), std::cos(chord * i)});
  }
  const std::vector<Row> rows = {
      {"3-4-5", triangle(3, 4, 5), 1, 0},
      {"13-14-15", triangle(13, 14, 15), 4, 0},
      {"5-5-8", triangle(5, 5, 8), 1.3333333333, 0},
      {"2-3-4", triangle(2, 3, 4), 0.6454972244, 0},
      {"7-8-9", triangle(7, 8, 9), 2.2360679775, 0},
      {"equilateral", triangle(1, 1, 1), 0.2886751346, 0},
      {"pentagon", side_one(5), 0.6881909602, 0},
      {"hexagon", side_one(6), 0.8660254038, 0},
      {"octagon", side_one(8), 1.2071067812, 0},
      {"80-gon", RegularPolygon(80, 100), 99.9229036241, 0},
      {"rectangle", {{0, 0}, {10, 0}, {10, 3}, {0, 3}}, 1.5, 0},
      {"sector 30", CircularSector(1, kPi / 6, kChords), 0.2056046498, sag},
      {"sector 45", CircularSector(1, kPi / 4, kChords), 0.2767686539, sag},
      {"sector 60", CircularSector(1, kPi / 3, kChords), 0.3333333333, sag},
      {"sector 90", CircularSector(1, kPi / 2, kChords), 0.4142135624, sag},
      {"sector 120", CircularSector(1, 2 * kPi / 3, kChords), 0.4641016151, sag},
      {"sector 180", CircularSector(1, kPi, kChords), 0.5, sag},
      {"segment 0.25", CircularSegment(1, 0.25, kChords), 0.125, sag},
      {"segment 0.5", CircularSegment(1, 0.5, kChords), 0.25, sag},
      {"segment 0.75", CircularSegment(1, 0.75, kChords), 0.375, sag},
      {"segment 1", CircularSegment(1, 1, kChords), 0.5, sag},
      {"stadium", stadium, 1, sag},
      {"ellipse", EllipsePolygon(kChords, {{5, 5}, 3, 1, 0.3}), 1, 36 * sag},
  };
  for (const Row& row : rows) {
    SCOPED_TRACE(row.name);
    const auto circle = InscribedCircle(row.contour);
    ASSERT_THAT(circle, IsOk());
    EXPECT_NEAR(circle->radius, row.radius, row.slack + 6e-10);
    EXPECT_LE(circle->radius, row.radius + 6e-10);  // a polygon of chords is never wider
    EXPECT_TRUE(Contains(row.contour, circle->centre));
    EXPECT_NEAR(LeastDistance(circle->centre, row.contour).distance, circle->radius, 1e-12);
  }
}

// Inscribed circle of a bored-out sector of an annulus, inner radius 1, outer 2, half angle beyond
// asin((2 - 1) / (2 + 1)): half the gap (check-values 2.1); a whole arc of centres is as good.
TEST(InscribedCircle, OfAnAnnularSectorIsHalfTheGap) {
  ContourUm sector;
  constexpr int kChords = 500;
  for (int i = 0; i <= kChords; ++i) {
    const double a = 1.5 * i / kChords;
    sector.push_back({2 * std::cos(a), 2 * std::sin(a)});
  }
  for (int i = kChords; i >= 0; --i) {
    const double a = 1.5 * i / kChords;
    sector.push_back({std::cos(a), std::sin(a)});
  }
  const auto circle = InscribedCircle(sector, 1e-6);
  ASSERT_THAT(circle, IsOk());
  EXPECT_NEAR(circle->radius, 0.5, 1e-6 + 2 * 1.5 * 1.5 / (8.0 * kChords * kChords));
}

// The slow way: distances on a fine grid, then a pattern search from the best of its places.
double SearchedRadius(const ContourUm& contour) {
  const auto box = BoundingBox(contour);
  const auto value = [&](PointUm p) {
    return Contains(contour, p) ? LeastDistance(p, contour).distance : 0.0;
  };
  constexpr int kGrid = 60;
  std::vector<std::pair<double, PointUm>> places;
  for (int i = 1; i < kGrid; ++i) {
    for (int j = 1; j < kGrid; ++j) {
      const PointUm p{box.least.x + (box.greatest.x - box.least.x) * i / kGrid,
                      box.least.y + (box.greatest.y - box.least.y) * j / kGrid};
      places.push_back({value(p), p});
    }
  }
  std::sort(places.begin(), places.end(),
            [](const auto& a, const auto& b) { return a.first > b.first; });
  double best = 0;
  for (std::size_t k = 0; k < 30; ++k) {
    auto [radius, p] = places[k];
    double step = (box.greatest.x - box.least.x) / kGrid;
    while (step > 1e-9) {
      bool better = false;
      for (int direction = 0; direction < 32; ++direction) {
        const double a = 2 * kPi * direction / 32;
        const PointUm q = p + step * PointUm{std::cos(a), std::sin(a)};
        if (const double there = value(q); there > radius) {
          radius = there;
          p = q;
          better = true;
        }
      }
      if (!better) step /= 2;
    }
    best = std::max(best, radius);
  }
  return best;
}

// Property: nothing found by a patient search is larger, and the circle itself lies inside.
TEST(InscribedCircle, IsNotBeatenByAPatientSearch) {
  for (std::uint64_t seed = 1; seed <= 25; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    const ContourUm contour = RandomBlob(seed, random.Integer(5, 60), 100, {}, seed % 2 ? 8 : 0);
    const auto circle = InscribedCircle(contour);
    ASSERT_THAT(circle, IsOk());
    EXPECT_NEAR(LeastDistance(circle->centre, contour).distance, circle->radius, 1e-11);
    EXPECT_TRUE(Contains(contour, circle->centre));
    EXPECT_GE(circle->radius, SearchedRadius(contour) - 2e-9);
  }
}

TEST(InscribedCircleNear, FindsTheGlobalCircleAgainAfterASmallMove) {
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    SCOPED_TRACE(testing::Message() << "seed " << seed);
    Random random(seed);
    ContourUm contour = RandomBlob(seed, 500, 400);
    const auto before = InscribedCircle(contour, 1e-6);
    ASSERT_THAT(before, IsOk());
    for (PointUm& p : contour) p = p + PointUm{0.3 * random.Normal(), 0.3 * random.Normal()};
    const auto global = InscribedCircle(contour, 1e-6);
    const auto near = InscribedCircleNear(contour, before->centre);
    ASSERT_THAT(near, IsOk());
    EXPECT_LE(near->radius, global->radius + 2e-6);
    if (Distance(global->centre, before->centre) < 10) {
      EXPECT_NEAR(near->radius, global->radius, 2e-6);
    }
  }
}

TEST(InscribedCircleNear, WalksToTheBestCentreAndFallsBackFromOutside) {
  const ContourUm hexagon = RegularPolygon(6, 10);
  for (const PointUm& start : {PointUm{5, 0}, PointUm{-3, 6}, PointUm{100, 100}}) {
    const auto circle = InscribedCircleNear(hexagon, start);
    ASSERT_THAT(circle, IsOk());
    EXPECT_NEAR(circle->radius, 10 * std::sqrt(0.75), 2e-6);
  }
}

TEST(InscribedCircle, RefusesContoursWithoutInside) {
  EXPECT_THAT(InscribedCircle(ContourUm{}), FailsWith(Code::kInvalidContour));
  EXPECT_THAT(InscribedCircle(ContourUm{{0, 0}, {1, 1}}), FailsWith(Code::kInvalidContour));
  EXPECT_THAT(InscribedCircle(ContourUm{{0, 0}, {1, 1}, {3, 3}}), FailsWith(Code::kInvalidContour));
  // Collapsed (JTS): must end, not loop.
  EXPECT_THAT(InscribedCircle(ContourUm(4, PointUm{100, 100})), FailsWith(Code::kInvalidContour));
  EXPECT_THAT(InscribedCircle(ContourUm{{0, 0}, {1, 0}, {0, NAN}}),
              FailsWith(Code::kInvalidContour));
}

}  // namespace
}  // namespace cutface
