// The parts under the settled edge: shape tables against direct convolution, bands of pixels.
#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "edge/band.h"
#include "edge/pictures.h"
#include "edge/shape.h"

namespace cutface {
namespace {

using namespace pictures;

// The darkening of shape.h, spelled out once more from its comment.
double Dark(const OpticsState& state, double s) {
  const double u = s / state.width, from_middle = (s - state.offset) / state.width;
  switch (state.kind) {
    case RimKind::kStep:
      return 0;
    case RimKind::kRim:
      return u < 1 ? (1 - u) * (1 - u) : 0;
    case RimKind::kGlow:
      return std::exp(-u);
    case RimKind::kBand:
      return std::exp(-0.5 * from_middle * from_middle);
  }
  return 0;
}

// Polymer share at s: the unblurred share convolved with the Gaussian, midpoint rule at blur / 200.
double Convolved(const OpticsState& state, double s) {
  const double h = state.blur / 200;
  double sum = 0;
  for (double t = -8 * state.blur + h / 2; t < 8 * state.blur; t += h) {
    const double at = s - t;
    if (at <= 0) continue;
    sum += std::exp(-0.5 * t * t / (state.blur * state.blur)) * (1 - state.depth * Dark(state, at));
  }
  return sum * h / (state.blur * std::sqrt(2 * kPi));
}

double WorstDifference(const OpticsState& state) {
  const EdgeShape shape(state);
  double worst = 0;
  for (double s = -8; s <= 12; s += 0.173)
    worst = std::max(worst, std::abs(shape.Polymer(s) - Convolved(state, s)));
  return worst;
}

// Linear interpolation at 0.1 px misses by spacing^2 / 8 * max|f''|, and a blurred step has
// max|f''| = 0.242 / blur^2.
double InterpolationError(double blur) { return 0.1 * 0.1 / 8 * 0.242 / (blur * blur); }

TEST(EdgeShape, AStepIsTheNormalDistribution) {
  for (const double blur : {0.7, 1.3, 3.0}) {
    const EdgeShape shape({RimKind::kStep, 3, 0.3, blur});
    for (double s = -10; s <= 10; s += 0.0973) {
      EXPECT_NEAR(shape.Step(s), Phi(s / blur), InterpolationError(blur) + 1e-6) << s;
      EXPECT_NEAR(shape.Polymer(s), Phi(s / blur), InterpolationError(blur) + 1e-6) << s;
    }
  }
}

// Profiles are weighed as if no real edge followed a model closer than 0.006 of the contrast
// (ProfileOptions::misfit_floor), so the tables must not be the coarser of the two.
constexpr double kTableError = 0.006;

void ExpectTables(RimKind kind, std::initializer_list<double> widths,
                  std::initializer_list<double> blurs) {
  for (const double width : widths) {
    for (const double blur : blurs) {
      EXPECT_LE(WorstDifference({kind, width, 0.5, blur}), kTableError)
          << "kind " << static_cast<int>(kind) << " width " << width << " blur " << blur;
    }
  }
}

TEST(EdgeShape, RimsAgreeWithDirectConvolution) {
  ExpectTables(RimKind::kRim, {0.8, 2.0, 4.0, 9.0}, {0.8, 1.3, 2.5});
}

TEST(EdgeShape, BandsAgreeWithDirectConvolution) {
  ExpectTables(RimKind::kBand, {0.8, 2.0, 4.0}, {0.8, 1.3, 2.5});
}

TEST(EdgeShape, NarrowGlowsAgreeWithDirectConvolution) {
  ExpectTables(RimKind::kGlow, {0.5, 0.8}, {0.8, 1.3, 2.5});
}

// Disabled, a known gap: ten layers over five lengths are too coarse where a layer is thicker than
// the blur. Found 0.021 at length 4 and blur 0.8, 0.032 at length 9 and blur 1.3.
TEST(EdgeShape, WideGlowsAgreeWithDirectConvolution) {
  ExpectTables(RimKind::kGlow, {1.5, 4.0, 9.0}, {0.8, 1.3, 2.5});
}

TEST(EdgeShape, ARimOfNoDepthIsAStep) {
  const EdgeShape rim({RimKind::kRim, 4, 0.0, 1.1});
  for (double s = -6; s < 6; s += 0.31) EXPECT_EQ(rim.Polymer(s), rim.Step(s));
}

constexpr double kReach = 7;
constexpr double kEdgeOfReach = 0.1;  // a pixel this close to the limit may fall on either side

Micrograph Flat(int width, int height) {
  return Taken(width, height, [](double, double) { return 0.5; });
}

TEST(Band, EachPixelWithinReachOfACircleAppearsOnceAtItsDistance) {
  const Micrograph picture = Flat(140, 130);
  const PointPx centre{68.3, 62.7};
  // Distance from the chord polygon and its local parabola: sagitta 1 / (8 R) and less.
  constexpr double kDistanceError = 0.02;
  for (const double radius : {15.0, 30.0, 45.0}) {
    for (const bool outside : {true, false}) {
      const Track track = MakeTrack(CirclePoints(centre, radius, 400), outside, 1.0);
      const Band band = CollectBand(picture, EvenLight(0.5), track, kReach, kReach);
      std::map<std::pair<int, int>, double> seen;
      for (const BandPixel& pixel : band.pixels) {
        EXPECT_TRUE(seen.emplace(std::pair{pixel.x, pixel.y}, pixel.s).second)
            << "twice: " << pixel.x << ", " << pixel.y << " radius " << radius;
        EXPECT_NEAR(pixel.tone, 1, 1e-4);
      }
      for (int y = 0; y < picture.height(); ++y) {
        for (int x = 0; x < picture.width(); ++x) {
          const double d = std::hypot(x - centre.x, y - centre.y) - radius;
          const auto at = seen.find({x, y});
          if (at != seen.end()) {
            EXPECT_NEAR(at->second, outside ? d : -d, kDistanceError);
            EXPECT_LE(std::abs(d), kReach + kEdgeOfReach);
          } else {
            EXPECT_GE(std::abs(d), kReach - kEdgeOfReach)
                << "missed: " << x << ", " << y << " radius " << radius;
          }
        }
      }
    }
  }
}

TEST(Band, PlacesBeyondTheFrameAreMarkedAndHaveNoPixels) {
  const Micrograph picture = Flat(100, 100);
  const Track track = MakeTrack(CirclePoints({0, 50}, 30, 200), true, 1.0);
  const Band band = CollectBand(picture, EvenLight(0.5), track, kReach, kReach);
  ASSERT_EQ(band.first.size(), track.at.size() + 1);
  for (std::size_t i = 0; i < track.at.size(); ++i) {
    if (track.at[i].x < 0) {
      EXPECT_TRUE(band.outside_frame[i]);
    }
    if (track.at[i].x > 2) {
      EXPECT_FALSE(band.outside_frame[i]);
    }
    if (track.at[i].x < -kReach - 1) {
      EXPECT_EQ(band.first[i], band.first[i + 1]);
    }
  }
  for (const BandPixel& pixel : band.pixels) EXPECT_GE(pixel.x, 0);
}

TEST(Track, ACircleHasItsCurvatureAndOutwardNormalsWhateverItsWinding) {
  ContourPx circle = CirclePoints({50, 50}, 20, 130);
  for (const bool reversed : {false, true}) {
    if (reversed) std::reverse(circle.begin(), circle.end());
    const Track track = MakeTrack(circle, true, 1.0);
    for (std::size_t i = 0; i < track.at.size(); ++i) {
      EXPECT_NEAR(track.curvature[i], 1.0 / 20, 0.01 / 20 * 3);
      const PointPx out = (1.0 / 20) * (track.at[i] - PointPx{50, 50});
      EXPECT_NEAR(Dot(out, track.normal[i]), 1, 0.01);
    }
  }
}

}  // namespace
}  // namespace cutface
