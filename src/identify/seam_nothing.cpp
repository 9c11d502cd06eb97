// Whether a seam's own profile shows all along it.
#include <Eigen/Dense>
#include <algorithm>

#include "identify/seam_strip.h"

namespace cutface {
namespace {

constexpr int kStretches = 24;
constexpr double kTellable = 0.2;      // of the whole profile: a stretch's uncertainty, to be asked
constexpr double kNoneOfIt = 0.35;     // of the profile: less is nothing
constexpr double kPlainNoises = 1.25;  // scatter about plain tone against the picture's

double MeanOf(const Template& t) {
  double sum = 0, count = 0;
  for (const double v : t.tone) {
    if (std::isfinite(v)) sum += v, ++count;
  }
  return sum / std::max(1.0, count);
}

// How much of the profile a stretch shows: level, slant and that share by least squares.
struct Shown {
  double share = 1, u = 1e9, rest = 0;  // rest: scatter about level and slant alone
};
Shown ShownIn(const Strip& s, const Template& t, double mean, const std::vector<double>& path,
              int first, int last) {
  Eigen::Matrix3d normal = 1e-9 * Eigen::Matrix3d::Identity();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  double square = 0, count = 0;
  for (int i = first; i < last; ++i) {
    for (int j = 0; j < s.ribbon.tone.cols; ++j) {
      const double tone = s.ribbon.tone(i, j);
      const double u = s.ribbon.Offset(j) - path[static_cast<std::size_t>(i)];
      if (!std::isfinite(tone) || std::abs(u) > kTemplate_px - 0.5) continue;
      const double value = t.Look(u).first;
      if (!std::isfinite(value)) continue;
      const Eigen::Vector3d row(1, u / kTemplate_px, value - mean);
      normal += row * row.transpose();
      right += tone * row;
      square += tone * tone;
      ++count;
    }
  }
  if (count < 30) return {};
  const Eigen::Matrix2d plain = normal.topLeftCorner<2, 2>();
  const Eigen::Vector2d plain_right = right.head<2>();
  const double left = std::max(0.0, square - plain_right.dot(plain.ldlt().solve(plain_right)));
  Shown shown;
  shown.share = normal.ldlt().solve(right)(2);
  // Samples half a pixel apart share their pixels.
  shown.u = t.noise * std::sqrt(2 * std::max(0.0, normal.inverse()(2, 2)));
  shown.rest = std::sqrt(left / count);
  return shown;
}

}  // namespace

double NothingShare(const Strip& s, const Template& t, const std::vector<double>& path) {
  const double mean = MeanOf(t);
  int asked = 0, nothing = 0;
  for (int k = 0; k < kStretches; ++k) {
    const Shown shown =
        ShownIn(s, t, mean, path, k * s.places() / kStretches, (k + 1) * s.places() / kStretches);
    if (!(shown.u < kTellable)) continue;
    ++asked;
    nothing += shown.share + shown.u < kNoneOfIt && shown.rest < kPlainNoises * t.noise ? 1 : 0;
  }
  return 2 * asked < kStretches ? 0 : static_cast<double>(nothing) / asked;
}

}  // namespace cutface
