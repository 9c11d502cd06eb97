// Drawn contours: the error model of a section, realised again and again for all contours together.
//
// vertex' = S (vertex + normal * (z_c u_common + z_a(s) w + z_n(s) sigma)), w = hypot(u_arc,
// doubt), S = diag(1 + z_x u_x, 1 + z_y u_y). z_c is one standard normal per contour and draw, of
// which TracedContour::common_share is one that all contours share (towards the polymer); z_a(s)
// and z_n(s) are periodic Gaussian processes along the arc s with correlation exp(-(d / length)^2),
// that is white noise at knots half a length apart, smoothed with exp(-2 (d / length)^2) and scaled
// to unit variance at every vertex. The scalars (z_x, z_y, z_c) are balanced over the draws: mean
// 0, variance 1, uncorrelated with each other, so that the spread they cause is exact in the linear
// case however few the draws.
// Keywords: Monte Carlo, JCGM 101, Gaussian process, correlation length, scale.
#pragma once

#include <cstdint>
#include <vector>

#include "cutface/stats.h"
#include "measure/face.h"

namespace cutface::measure {

// Which parts of the error model a set of draws contains.
struct Parts {
  bool scale_x = false, scale_y = false, common = false, arc = false, noise = false;
  static Parts All() { return {true, true, true, true, true}; }
};

// A periodic Gaussian process on chosen places along a closed arc.
class ArcProcess {
 public:
  // length <= 0 or short against the spacing of the places: independent values.
  ArcProcess(const std::vector<double>& places, double perimeter, double length);
  // One realisation; standard normal at every place.
  void Draw(Random& random, std::vector<double>& out) const;

 private:
  std::size_t places_ = 0;
  std::size_t knots_ = 0;
  std::size_t reach_ = 0;  // knots that one place sees; 0: independent
  std::vector<std::uint32_t> first_;
  std::vector<double> weights_;
  mutable std::vector<double> knot_values_;
};

class DrawMachine {
 public:
  DrawMachine(const Face& face, double u_scale_x, double u_scale_y, int draws, std::uint64_t seed);

  static constexpr int kAllVoids = -2;
  static constexpr int kAllWires = -4;
  static constexpr int kShared = -3;  // the part of the common shift that all contours share

  // Contour positions of the used vertices of every feature for draw `draw`. The scalars of a draw
  // are fixed; its noise and waviness are fresh with every call.
  // `ripple` multiplies noise and waviness.
  void Draw(int draw, const Parts& parts, std::vector<ContourUm>& out, double ripple = 1);
  // The noise and waviness to come depend on `stream` alone: sets of draws can share their luck.
  void Restart(std::uint64_t stream) { random_ = Random(seed_ + 0x9e3779b97f4a7c15u * stream); }
  // One part at one standard uncertainty, the rest at rest: for budgets. The common
  // shift moves `feature` alone, all voids or all wires together (kAllVoids, kAllWires: one halo)
  // or everything (-1).
  void Displace(const Parts& parts, int feature, std::vector<ContourUm>& out) const;

  bool has_arc() const { return has_arc_; }
  bool has_noise() const { return has_noise_; }

 private:
  static double Side(const Feature& feature);
  void Scale(double zx, double zy, std::vector<ContourUm>& out) const;

  const Face& face_;
  double u_x_, u_y_;
  int draws_;
  std::uint64_t seed_;
  Random random_;
  std::vector<std::vector<double>>
      scalars_;  // [column][draw]; columns: x, y, shared, one per feature
  std::vector<ArcProcess> arc_, noise_;
  std::vector<double> z_;
  std::vector<double> shift_;
  bool has_arc_ = false, has_noise_ = false;
};

// `columns` columns of `draws` standard normal numbers with mean 0 and variance 1; the first ones
// (as many as a third of the draws) also mutually uncorrelated.
std::vector<std::vector<double>> BalancedNormals(Random& random, int columns, int draws);

}  // namespace cutface::measure
