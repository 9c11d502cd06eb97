// SVG path data against the standard's own examples and closed forms.
//
// Source: Scalable Vector Graphics (SVG) 1.1 (Second Edition), W3C Recommendation 16 August 2011,
// section 8.3 (grammar, examples) and F.6 (arc notes). Areas are closed forms of the shapes there.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cutface/design.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::HasSubstr;

constexpr double kToleranceUm = 0.02;
constexpr double kMostTurnDeg = 2.0;

ContourUm Flat(std::string_view path, double tolerance = kToleranceUm) {
  auto contour = FlattenSvgPath(path, 1.0, tolerance);
  EXPECT_THAT(contour, IsOk()) << path;
  return contour ? *contour : ContourUm{};
}
double AreaOf(const ContourUm& contour) { return Area(std::span<const PointUm>(contour)); }
PointUm CentroidOf(const ContourUm& contour) { return Centroid(std::span<const PointUm>(contour)); }

// A polygon inscribed with chord error t loses at most t per unit of length.
double AreaSlack(const ContourUm& contour) {
  return kToleranceUm * Perimeter(std::span<const PointUm>(contour));
}

// Section 8.3.8, figure arcs01: a three-quarter pie of radius 150 and the quarter beside it.
TEST(SvgPath, TheStandardsPieSlicesHaveTheirAreas) {
  const ContourUm three_quarters = Flat("M300,200 h-150 a150,150 0 1,0 150,-150 z");
  const ContourUm quarter = Flat("M275,175 v-150 a150,150 0 0,0 -150,150 z");
  EXPECT_NEAR(AreaOf(three_quarters), 0.75 * kPi * 150 * 150, AreaSlack(three_quarters));
  EXPECT_NEAR(AreaOf(quarter), 0.25 * kPi * 150 * 150, AreaSlack(quarter));
}

// Section 8.3.8, figure arcs02: the four arcs of one ellipse (100, 50) between the same two ends.
// In units of the radii the ends are sqrt(2) apart: a chord of 90 degrees about (225,75) or
// (125,125).
TEST(SvgPath, TheFourArcsBetweenTwoPointsDifferByTheirFlags) {
  const double small = 100 * 50 * (kPi / 4 - 0.5);
  const double large = 100 * 50 * (3 * kPi / 4 + 0.5);
  const PointUm start{125, 75}, end{225, 125};
  for (const bool big : {false, true}) {
    for (const bool sweep : {false, true}) {
      const std::string path = std::string("M125,75 a100,50 0 ") + (big ? "1," : "0,") +
                               (sweep ? "1 " : "0 ") + "100,50 z";
      SCOPED_TRACE(path);
      const ContourUm contour = Flat(path);
      EXPECT_NEAR(AreaOf(contour), big ? large : small, AreaSlack(contour));
      // Sweep 1 runs towards positive angles (+x to +y): the arc then lies to the right of the
      // chord seen from start to end on a screen, at the side of (225,75).
      const double side = Cross(end - start, CentroidOf(contour) - start);
      EXPECT_EQ(side < 0, sweep);
    }
  }
}

// F.6.6: radii that cannot reach are scaled up; here to a half circle of radius 50.
TEST(SvgPath, RadiiThatCannotReachGrowToAHalfCircle) {
  const ContourUm contour = Flat("M0,0 A1,1 0 0 1 100,0 Z");
  EXPECT_NEAR(AreaOf(contour), kPi * 50 * 50 / 2, AreaSlack(contour));
  EXPECT_LT(CentroidOf(contour).y, 0);  // positive angles from the left end run over the top
}

// F.6.2: zero radius is a line, negative radii lose their sign.
TEST(SvgPath, ArcsOfZeroOrNegativeRadiusFollowTheStandard) {
  EXPECT_EQ(Flat("M0,0 A0,5 0 0 1 100,0 L100,100 Z"), Flat("M0,0 L100,0 L100,100 Z"));
  EXPECT_EQ(Flat("M0,0 A-50,-50 0 0 1 100,0 Z"), Flat("M0,0 A50,50 0 0 1 100,0 Z"));
}

TEST(SvgPath, ATurnedEllipseKeepsItsAxes) {
  // Two halves of an ellipse 300 x 100 turned by 30 degrees about the origin.
  const double c = std::cos(kPi / 6), s = std::sin(kPi / 6);
  const std::string path = "M" + std::to_string(150 * c) + "," + std::to_string(150 * s) +
                           " A150,50 30 1 1 " + std::to_string(-150 * c) + "," +
                           std::to_string(-150 * s) + " A150,50 30 1 1 " + std::to_string(150 * c) +
                           "," + std::to_string(150 * s) + " Z";
  const ContourUm contour = Flat(path);
  EXPECT_NEAR(AreaOf(contour), kPi * 150 * 50, AreaSlack(contour));
  for (const PointUm p : contour) {
    const PointUm own = Rotated(p, -kPi / 6);
    EXPECT_NEAR(std::hypot(own.x / 150, own.y / 50), 1, 1e-6);
  }
}

// Green's theorem on the Bernstein form with Gauss-Legendre would be exact; so is a fine midpoint
// sum to far below the tolerance.
PointUm Bezier(const PointUm (&p)[4], double t) {
  const double u = 1 - t;
  return u * u * u * p[0] + 3 * u * u * t * p[1] + 3 * u * t * t * p[2] + t * t * t * p[3];
}

TEST(SvgPath, ACubicStaysWithinTheToleranceEverywhere) {
  const PointUm points[4] = {{0, 0}, {900, -400}, {-500, -700}, {400, 100}};
  for (const double tolerance : {0.02, 0.5, 5.0}) {
    const ContourUm contour = Flat("M0,0 C900,-400 -500,-700 400,100 L400,900 L0,900 Z", tolerance);
    double worst = 0;
    for (int i = 0; i <= 20'000; ++i) {
      const auto nearest =
          LeastDistance(Bezier(points, i / 20'000.0), std::span<const PointUm>(contour));
      worst = std::max(worst, nearest.distance);
    }
    EXPECT_LE(worst, tolerance);
  }
}

TEST(SvgPath, AQuadraticIsItsParabola) {
  // y = 100 - x^2 / 100 over the chord from -100 to 100: area 4/3 * 100 * 100 (Archimedes).
  const ContourUm contour = Flat("M-100,0 Q0,200 100,0 Z");
  EXPECT_NEAR(AreaOf(contour), 4.0 / 3 * 100 * 100, AreaSlack(contour));
  for (const PointUm p : contour) EXPECT_NEAR(p.y, 100 - p.x * p.x / 100, 1e-9);
  EXPECT_EQ(Flat("M-100,0 q100,200 200,0 z"), contour);
}

TEST(SvgPath, CurvesTurnByNoMoreThanTwoDegreesPerEdge) {
  const ContourUm contours[] = {
      Flat("M-5,0 A5,5 0 1 1 5,0 A5,5 0 1 1 -5,0 Z"),
      Flat("M-1000,0 A1000,1000 0 1 1 1000,0 A1000,1000 0 1 1 -1000,0 Z"),
      Flat("M-100,0 A100,40 0 1 1 100,0 A100,40 0 1 1 -100,0 Z"),
      Flat("M0,-100 C55.2285,-100 100,-55.2285 100,0 C100,55.2285 55.2285,100 0,100 "
           "C-55.2285,100 -100,55.2285 -100,0 C-100,-55.2285 -55.2285,-100 0,-100 Z")};
  for (const ContourUm& contour : contours) {
    const std::size_t n = contour.size();
    EXPECT_LT(n, 5000u);
    for (std::size_t i = 0; i < n; ++i) {
      const PointUm a = contour[i] - contour[(i + n - 1) % n];
      const PointUm b = contour[(i + 1) % n] - contour[i];
      EXPECT_LE(std::abs(std::atan2(Cross(a, b), Dot(a, b))) * 180 / kPi, kMostTurnDeg + 1e-6);
    }
  }
}

// Section 8.3.9 (grammar): superfluous blanks may go, numbers end where the next begins.
TEST(SvgPath, AllSpellingsOfOneSquareGiveTheSameContour) {
  const ContourUm square = Flat("M 0 0 L 10 0 L 10 10 L 0 10 Z");
  ASSERT_EQ(square.size(), 4u);
  for (const char* path :
       {"M0,0L10,0L10,10L0,10Z", "M0 0 10 0 10 10 0 10z", "m0,0 10,0 0,10-10,0z", "M0,0H10V10H0Z",
        "m0 0h10v10h-10z", "M0,0h10v10H0z", "M.0.0L1e1,0 10,1E+1,0,10Z", "M0-0L10-0 10 10-0 10Z",
        "M+0+0L+10+0+10+10+0+10Z", "M0,0,10,0,10,10,0,10Z",
        "\n\tM 0 , 0 L 10 , 0 , 10\r\n10 0 10 Z  ", "M0,0 h5 5 v10 h-10 v-10", "M0 0H10V10H0",
        "M0,0L10,0L10,10L0,10L0,0Z", "M0,0l0,0 10,0 0,10 0,0-10,0z", "M0. 0.L10. 0 10 10 0 10Z"}) {
    SCOPED_TRACE(path);
    ContourUm contour = Flat(path);
    // Points half-way along an edge change nothing of the shape.
    if (contour.size() == 5) contour.erase(contour.begin() + 1);
    EXPECT_EQ(contour, square);
  }
}

TEST(SvgPath, ArcFlagsMayStandWithoutBlanks) {
  const ContourUm plain = Flat("M0,0 a25,25 -30 0,1 50,-25 Z");
  EXPECT_EQ(Flat("M0 0a25 25-30 0150-25Z"), plain);
  EXPECT_EQ(Flat("M0 0a25 25-30 01 50-25Z"), plain);
  EXPECT_EQ(Flat("M0 0a25 25-30 0 1 5e1-25Z"), plain);
  // Two arcs after one letter.
  EXPECT_EQ(Flat("M0 0a5 5 0 0110 0 5 5 0 01-10 0z"),
            Flat("M0 0 a5 5 0 0 1 10 0 a5 5 0 0 1 -10 0 z"));
}

TEST(SvgPath, EitherDirectionGivesPositiveAreaAndTheFirstVertexStaysFirst) {
  const ContourUm one = Flat("M3,4 L13,4 L13,14 Z"), other = Flat("M3,4 L13,14 L13,4 Z");
  EXPECT_GT(SignedArea(std::span<const PointUm>(one)), 0);
  EXPECT_EQ(one, other);
  EXPECT_EQ(one.front(), (PointUm{3, 4}));
}

TEST(SvgPath, TheScaleTurnsUnitsIntoMicrometres) {
  const auto contour = FlattenSvgPath("M0,0H0.1V0.1H0Z", 25400.0);
  ASSERT_THAT(contour, IsOk());
  EXPECT_NEAR(AreaOf(*contour), 2540.0 * 2540.0, 1e-6);
}

struct BadPath {
  const char* path;
  int character;  // 1-based, as an editor counts
  const char* words;
};

TEST(SvgPath, EachMistakeIsNamedWithItsPlace) {
  const BadPath cases[] = {
      {"", 1, "must begin with M"},
      {"L0,0 1,1", 1, "must begin with M"},
      {"M0,0 L1,1 X", 11, "unexpected \"X\""},
      {"M0,0 10,0 S1,1 2,2 Z", 11, "write it as C"},
      {"M0,0 10,0 T2,2 Z", 11, "write it as Q"},
      {"M0,0 L10", 9, "a number is missing"},
      {"M0,0 L10,,3", 10, "a number is missing"},
      {"M0,0 L10,3,", 12, "a number is missing"},
      {"M0,0 H Z", 8, "a number is missing"},
      {"M0,0 L1,0 L1,1 Z L3,3", 18, "text after Z"},
      {"M0,0 L1,0 L1,1 Z M3,3", 18, "text after Z"},
      {"M0,0 L1,0 L1,1 M3,3", 16, "a second M"},
      {"M0,0 A5,5 0 2 0 3,3 Z", 13, "large flag"},
      {"M0,0 A5,5 0 1 x 3,3 Z", 15, "sweep flag"},
      {"M0,0 A5,5 0 1", 14, "sweep flag"},
      {"M0,0 L1e9,0 Z", 7, "more than 1 m"},
      {"M0,0 L1e999,0 Z", 7, "not a number"},
      {"M0,0 L.,0 Z", 7, "not a number"},
      {"M0,0 L10,0 Z", 12, "encloses no area"},
      {"M0,0 L10,0 L5,0 Z", 17, "encloses no area"},
      {"M1,1 Z", 6, "encloses no area"},
  };
  for (const BadPath& bad : cases) {
    SCOPED_TRACE(bad.path);
    const auto contour = FlattenSvgPath(bad.path, 1.0);
    ASSERT_THAT(contour, FailsWith(Code::kJsonValue));
    EXPECT_THAT(contour.error().message,
                HasSubstr("character " + std::to_string(bad.character) + ":"));
    EXPECT_THAT(contour.error().message, HasSubstr(bad.words));
  }
}

TEST(SvgPath, AHugePathIsRefusedBeforeItFillsTheMemory) {
  std::string path = "M0,0";
  for (int i = 0; i < 60'000; ++i) path += " l1,0 0,1";
  EXPECT_THAT(FlattenSvgPath(path + " z", 1.0), FailsWith(Code::kJsonValue));
}

}  // namespace
}  // namespace cutface
