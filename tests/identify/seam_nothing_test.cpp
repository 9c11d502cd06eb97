// Seams that run where nothing is: hand-made strips of known content.
#include <gtest/gtest.h>

#include <cmath>

#include "cutface/stats.h"
#include "identify/seam_strip.h"

namespace cutface {
namespace {

constexpr int kPlaces = 240, kColumns = 61;
constexpr double kStep = 0.5, kFrom = -15;

// The seam lies between columns, here and there.
double At(int place) { return 0.1 * (place % 5); }

// A dark line along the seam over the first `share` of the way, in noise; a hole over `hole` of it.
Strip WithLine(double share, double depth, double noise, double hole = 0) {
  Random random(7);
  Strip s;
  s.ribbon.step = kStep;
  s.ribbon.from = kFrom;
  s.ribbon.tone = cv::Mat1f(kPlaces, kColumns);
  for (int i = 0; i < kPlaces; ++i) {
    for (int j = 0; j < kColumns; ++j) {
      const double u = kFrom + kStep * j - At(i);
      const double line = i < share * kPlaces ? depth * std::exp(-0.5 * u * u / 1.5) : 0;
      const bool open = i >= (1 - hole) * kPlaces && u > 0 && u < 4;
      s.ribbon.tone(i, j) = static_cast<float>((open ? 0.1 : 1 - line) + noise * random.Normal());
    }
  }
  return s;
}

double Nothing(const Strip& s) {
  std::vector<double> path;
  for (int i = 0; i < kPlaces; ++i) path.push_back(At(i));
  return NothingShare(s, Pooled(s, path), path);
}

TEST(SeamNothing, IsTheShareOfTheWayWhereNoLineIs) {
  EXPECT_EQ(Nothing(WithLine(1, 0.06, 0.02)), 0);
  EXPECT_NEAR(Nothing(WithLine(0.7, 0.06, 0.02)), 0.3, 0.05);
}

TEST(SeamNothing, AHoleBesideTheSeamIsNotNothing) {
  EXPECT_EQ(Nothing(WithLine(0.7, 0.06, 0.02, 0.3)), 0);
}

TEST(SeamNothing, WhatNoiseHidesIsNotSaidToBeNothing) {
  EXPECT_EQ(Nothing(WithLine(0.7, 0.01, 0.1)), 0);
}

}  // namespace
}  // namespace cutface
