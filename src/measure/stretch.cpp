#include "measure/stretch.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace cutface::measure {
namespace {

constexpr std::size_t kFollow = 4;  // edges to each side of a hint; draws move far less

Facing OnEdge(PointUm p, const ContourUm& line, std::size_t edge) {
  const PointUm a = line[edge], b = line[edge + 1], along = b - a;
  const double length2 = Dot(along, along);
  const double t = length2 > 0 ? Dot(along, p - a) / length2 : 0;
  const double share = std::clamp(t, 0.0, 1.0);
  const PointUm on = a + share * along;
  const bool before = edge == 0 && t < 0, beyond = edge + 2 == line.size() && t > 1;
  const bool closed = Distance(line.front(), line.back()) == 0;
  return {edge, Distance(p, on), on, closed || !(before || beyond)};
}

Facing Best(PointUm p, const ContourUm& line, std::size_t from, std::size_t to) {
  Facing best{from, std::numeric_limits<double>::infinity(), {}, false};
  for (std::size_t e = from; e < to; ++e) {
    const Facing one = OnEdge(p, line, e);
    if (one.distance < best.distance) best = one;
  }
  return best;
}

}  // namespace

std::vector<Facing> FacingOf(const ContourUm& line, const ContourUm& other) {
  std::vector<Facing> out;
  out.reserve(line.size());
  for (const PointUm p : line) out.push_back(Best(p, other, 0, other.size() - 1));
  return out;
}

Facing FacingNear(PointUm p, const ContourUm& other, std::size_t hint) {
  const std::size_t last = other.size() - 1;
  return Best(p, other, hint > kFollow ? hint - kFollow : 0, std::min(last, hint + kFollow + 1));
}

FittedLine FitLine(const ContourUm& places) {
  FittedLine line;
  const double n = static_cast<double>(places.size());
  for (const PointUm p : places) line.through = line.through + (1 / n) * p;
  double xx = 0, xy = 0, yy = 0;
  for (const PointUm p : places) {
    const PointUm d = p - line.through;
    xx += d.x * d.x;
    xy += d.x * d.y;
    yy += d.y * d.y;
  }
  const double angle = 0.5 * std::atan2(2 * xy, xx - yy);
  line.direction = {std::cos(angle), std::sin(angle)};
  double least = 0, greatest = 0;
  for (const PointUm p : places) {
    const PointUm d = p - line.through;
    line.departure = std::max(line.departure, std::abs(Cross(line.direction, d)));
    least = std::min(least, Dot(line.direction, d));
    greatest = std::max(greatest, Dot(line.direction, d));
  }
  line.length = greatest - least;
  return line;
}

double LineLength(const ContourUm& line) {
  double length = 0;
  for (std::size_t i = 0; i + 1 < line.size(); ++i) length += Distance(line[i], line[i + 1]);
  return length;
}

std::optional<double> MeanThickness(const ContourUm& line, const std::vector<Facing>& facing,
                                    double* share) {
  double sum = 0, faced = 0, all = 0;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const double before = i > 0 ? Distance(line[i - 1], line[i]) : 0;
    const double after = i + 1 < line.size() ? Distance(line[i], line[i + 1]) : 0;
    const double weight = 0.5 * (before + after);
    all += weight;
    if (!facing[i].within) continue;
    faced += weight;
    sum += weight * facing[i].distance;
  }
  if (share != nullptr) *share = all > 0 ? faced / all : 0;
  if (!(faced > 0)) return std::nullopt;
  return sum / faced;
}

}  // namespace cutface::measure
