#include "phantom/coverage.h"

#include <algorithm>
#include <cmath>

namespace cutface::phantom {

namespace {

// Accumulates signed edge pieces; a running sum along each row then is the coverage.
class Accumulator {
 public:
  Accumulator(int width, int height)
      : width_(width), height_(height), sums_(cv::Mat::zeros(height, width + 2, CV_32FC1)) {}
  void AddEdge(double x0, double y0, double x1, double y1);
  cv::Mat Sum() const;

 private:
  void AddRow(int row, double x0, double x1, double dy);

  int width_, height_;
  cv::Mat sums_;
};

// Splits an edge into rows of cells; each piece adds its height times the share of the row that
// lies to its right. Pieces left of the grid count at its left border, pieces right of it not at
// all.
void Accumulator::AddEdge(double x0, double y0, double x1, double y1) {
  if (y0 == y1) return;
  const double sign =
      y0 < y1 ? -1.0 : 1.0;  // a contour that turns +x towards +y goes up on its left
  if (y0 > y1) {
    std::swap(x0, x1);
    std::swap(y0, y1);
  }
  if (y1 <= 0 || y0 >= height_) return;
  const double slope = (x1 - x0) / (y1 - y0);
  const int first = std::max(0, static_cast<int>(std::floor(y0)));
  const int last = std::min(height_ - 1, static_cast<int>(std::ceil(y1)) - 1);
  for (int row = first; row <= last; ++row) {
    const double ya = std::max(y0, static_cast<double>(row));
    const double yb = std::min(y1, static_cast<double>(row + 1));
    if (yb <= ya) continue;
    AddRow(row, x0 + slope * (ya - y0), x0 + slope * (yb - y0), sign * (yb - ya));
  }
}

void Accumulator::AddRow(int row, double x0, double x1, double dy) {
  auto* sums = sums_.ptr<float>(row);
  if (x0 > x1) std::swap(x0, x1);
  const double width = width_;
  if (x1 <= 0) {
    sums[0] += static_cast<float>(dy);
    return;
  }
  if (x0 >= width) return;
  const double span = x1 - x0;
  if (x0 < 0 || x1 > width) {
    // Rare: cut the piece at the border of the grid.
    const double left = x0 < 0 ? -x0 / span : 0.0;
    const double right = x1 > width ? (x1 - width) / span : 0.0;
    sums[0] += static_cast<float>(dy * left);
    dy *= 1 - left - right;
    x0 = std::max(x0, 0.0);
    x1 = std::min(x1, width);
  }
  const int first = std::min(static_cast<int>(x0), width_ - 1);
  const int last = std::min(static_cast<int>(x1), width_ - 1);
  if (first == last) {
    const double right_share = 1 - (0.5 * (x0 + x1) - first);
    sums[first] += static_cast<float>(dy * right_share);
    sums[first + 1] += static_cast<float>(dy * (1 - right_share));
    return;
  }
  // The piece crosses several cells: coverage right of it, cell by cell, as differences.
  const double per_x = dy / (x1 - x0);
  double before = 0;
  for (int cell = first; cell <= last; ++cell) {
    const double xa = std::max(x0, static_cast<double>(cell));
    const double xb = std::min(x1, static_cast<double>(cell + 1));
    const double height = per_x * (xb - xa);  // of the part inside this cell
    const double done = per_x * (xa - x0);    // of the part already left of it
    const double covered = done + height * (cell + 1 - 0.5 * (xa + xb));
    sums[cell] += static_cast<float>(covered - before);
    before = covered;
  }
  sums[last + 1] += static_cast<float>(dy - before);
}

cv::Mat Accumulator::Sum() const {
  cv::Mat coverage(height_, width_, CV_32FC1);
  for (int y = 0; y < height_; ++y) {
    const auto* sums = sums_.ptr<float>(y);
    auto* out = coverage.ptr<float>(y);
    double total = 0;
    for (int x = 0; x < width_; ++x) {
      total += static_cast<double>(sums[x]);
      out[x] = static_cast<float>(std::clamp(total, 0.0, 1.0));
    }
  }
  return coverage;
}

}  // namespace

Tile CoverageOf(const ContourPx& contour, int width_px, int height_px, int factor) {
  const double f = factor;
  double x0 = 1e30, y0 = 1e30, x1 = -1e30, y1 = -1e30;
  for (const PointPx p : contour) {
    x0 = std::min(x0, (p.x + 0.5) * f);
    y0 = std::min(y0, (p.y + 0.5) * f);
    x1 = std::max(x1, (p.x + 0.5) * f);
    y1 = std::max(y1, (p.y + 0.5) * f);
  }
  const int left = std::max(0, static_cast<int>(std::floor(x0)));
  const int top = std::max(0, static_cast<int>(std::floor(y0)));
  const int right = std::min(width_px * factor, static_cast<int>(std::floor(x1)) + 1);
  const int bottom = std::min(height_px * factor, static_cast<int>(std::floor(y1)) + 1);
  if (contour.empty() || right <= left || bottom <= top) return {};
  Accumulator sums(right - left, bottom - top);
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const PointPx a = contour[i], b = contour[(i + 1) % contour.size()];
    sums.AddEdge((a.x + 0.5) * f - left, (a.y + 0.5) * f - top, (b.x + 0.5) * f - left,
                 (b.y + 0.5) * f - top);
  }
  return {cv::Rect(left, top, right - left, bottom - top), sums.Sum()};
}

cv::Mat EdgeDistance(const std::vector<ContourPx>& contours, int width_px, int height_px,
                     float band) {
  cv::Mat squared(height_px, width_px, CV_32FC1, cv::Scalar(static_cast<double>(band * band)));
  const double reach = static_cast<double>(band);
  for (const ContourPx& contour : contours) {
    for (std::size_t i = 0; i < contour.size(); ++i) {
      const PointPx a = contour[i], ab = contour[(i + 1) % contour.size()] - a;
      const PointPx b = a + ab;
      const int x0 = std::max(0, static_cast<int>(std::ceil(std::min(a.x, b.x) - reach)));
      const int x1 =
          std::min(width_px - 1, static_cast<int>(std::floor(std::max(a.x, b.x) + reach)));
      const int y0 = std::max(0, static_cast<int>(std::ceil(std::min(a.y, b.y) - reach)));
      const int y1 =
          std::min(height_px - 1, static_cast<int>(std::floor(std::max(a.y, b.y) + reach)));
      const auto inverse = static_cast<float>(1.0 / std::max(Dot(ab, ab), 1e-12));
      const auto ex = static_cast<float>(ab.x), ey = static_cast<float>(ab.y);
      for (int y = y0; y <= y1; ++y) {
        auto* row = squared.ptr<float>(y);
        const auto py = static_cast<float>(y - a.y);
        for (int x = x0; x <= x1; ++x) {
          const auto px = static_cast<float>(x - a.x);
          const float t = std::clamp((px * ex + py * ey) * inverse, 0.0f, 1.0f);
          const float dx = px - t * ex, dy = py - t * ey;
          row[x] = std::min(row[x], dx * dx + dy * dy);
        }
      }
    }
  }
  cv::sqrt(squared, squared);
  return squared;
}

}  // namespace cutface::phantom
