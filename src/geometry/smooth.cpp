#include <numbers>

#include "geometry/vec.h"

namespace cutface {
namespace {

// Applied twice as 2 S - S S, a Gaussian that passes the share H of a wavelength passes
// 1 - (1 - H)^2. For one half at the cut-off, S itself must pass 1 - sqrt(1/2) there, which the ISO
// 16610-21 Gaussian exp(-ln 2 (cutoff / wavelength)^2) does with this longer cut-off of its own.
const double kWidening = std::sqrt(-std::log2(1 - std::numbers::sqrt2 / 2));
// alpha of ISO 16610-21: weights 1 / (alpha c) exp(-pi (x / (alpha c))^2).
const double kAlpha = std::sqrt(std::numbers::ln2 / std::numbers::pi);
// Weights beyond this many alpha c are below 1e-7 of the middle one and are left out.
constexpr double kReach = 2.3;

// The weights of each vertex's neighbours along the arc, rows one after another.
struct Rows {
  std::vector<double> weights;
  std::vector<std::size_t> first;  // vertex of the row's first weight
  std::vector<std::size_t> begin;  // of each row in `weights`, and the end
};

template <class F>
Rows GaussianRows(std::span<const Point<F>> contour, double width) {
  const std::size_t n = contour.size();
  std::vector<double> edge(n), share(n);
  for (std::size_t i = 0; i < n; ++i) edge[i] = Length(contour[Next(i, n)] - contour[i]);
  for (std::size_t i = 0; i < n; ++i) share[Next(i, n)] = 0.5 * (edge[i] + edge[Next(i, n)]);
  Rows rows;
  rows.begin.push_back(0);
  const double reach = kReach * width, scale = std::numbers::pi / (width * width);
  for (std::size_t i = 0; i < n; ++i) {
    // Backwards to the first vertex within reach (around the contour when it is short), then
    // forwards.
    double x = 0;
    std::size_t j = i;
    while (true) {
      const std::size_t before = j == 0 ? n - 1 : j - 1;
      if (x + edge[before] > reach) break;
      x += edge[before];
      j = before;
    }
    rows.first.push_back(j);
    double sum = 0;
    for (double at = -x; at <= reach; at += edge[j], j = Next(j, n)) {
      const double weight = share[j] * std::exp(-scale * at * at);
      rows.weights.push_back(weight);
      sum += weight;
    }
    for (std::size_t k = rows.begin.back(); k < rows.weights.size(); ++k) rows.weights[k] /= sum;
    rows.begin.push_back(rows.weights.size());
  }
  return rows;
}

template <class F>
Polygon<F> Filtered(const Rows& rows, const Polygon<F>& contour) {
  const std::size_t n = contour.size();
  Polygon<F> result(n);
  for (std::size_t i = 0; i < n; ++i) {
    Point<F> sum;
    std::size_t j = rows.first[i];
    for (std::size_t k = rows.begin[i]; k < rows.begin[i + 1]; ++k, j = Next(j, n)) {
      sum = sum + rows.weights[k] * contour[j];
    }
    result[i] = sum;
  }
  return result;
}

}  // namespace

template <class F>
Polygon<F> Smoothed(std::span<const Point<F>> contour, double cutoff) {
  Polygon<F> raw(contour.begin(), contour.end());
  const double width = kAlpha * kWidening * cutoff;
  const double length = Perimeter(contour);
  // A contour shorter than a cut-off has no form left to keep apart from its roughness.
  if (!(cutoff > 0) || contour.size() < 3 || length <= cutoff) return raw;
  const Rows rows = GaussianRows(contour, width);
  const Polygon<F> once = Filtered(rows, raw);
  const Polygon<F> twice = Filtered(rows, once);
  for (std::size_t i = 0; i < raw.size(); ++i) raw[i] = 2.0 * once[i] - twice[i];
  return raw;
}

#define CF_DECLARE(F) template Polygon<F> Smoothed<F>(std::span<const Point<F>>, double);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
