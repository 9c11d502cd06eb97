#include "identify/gap_clock.h"

namespace cutface {
namespace {

constexpr double kLeastArc_px = 5;
constexpr double kLeastArc_deg = 1.5;

}  // namespace

Polar PolarOf(const ContourPx& contour, PointPx centre, int size) {
  Polar polar{centre, std::vector<double>(static_cast<std::size_t>(size), 0)};
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const PointPx a = contour[i] - centre, b = contour[(i + 1) % contour.size()] - centre;
    const double from = std::atan2(a.y, a.x) / kWholeTurn * size;
    double turn = std::atan2(Cross(a, b), Dot(a, b)) / kWholeTurn * size;
    const double low = std::min(from, from + turn), high = std::max(from, from + turn);
    for (int k = static_cast<int>(std::ceil(low)); k <= high; ++k) {
      const double angle = kWholeTurn * k / size;
      const PointPx d{std::cos(angle), std::sin(angle)};
      const double across = Cross(d, b - a);
      if (std::abs(across) < 1e-12) continue;
      const double r = Cross(a, b - a) / across;
      double& out = polar.radius[static_cast<std::size_t>(((k % size) + size) % size)];
      out = std::max(out, r);
    }
  }
  return polar;
}

double Cyclic(const std::vector<double>& v, int k) {
  const int n = static_cast<int>(v.size());
  return v[static_cast<std::size_t>(((k % n) + n) % n)];
}

double Between(const std::vector<double>& v, double place) {
  const int k = static_cast<int>(std::floor(place));
  return (1 - (place - k)) * Cyclic(v, k) + (place - k) * Cyclic(v, k + 1);
}

bool LongEnough(double from, double to, const Polar& polar, double radius) {
  const double turns = (to - from) / polar.size();
  return turns * 360 >= kLeastArc_deg && turns * kWholeTurn * radius >= kLeastArc_px;
}

}  // namespace cutface
