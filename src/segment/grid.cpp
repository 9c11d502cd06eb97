#include "segment/grid.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface::segment {
namespace {

constexpr double kFrameMargin = 2.5;
constexpr double kClearShareOfStep = 0.35;

bool OnFrame(const cv::Mat1f& image, PointPx p, double margin) {
  return p.x < margin || p.y < margin || p.x > image.cols - 1 - margin ||
         p.y > image.rows - 1 - margin;
}

// Sliding mean over `half` places to either side, weights falling linearly.
template <class T>
std::vector<T> Averaged(const std::vector<T>& values, int half) {
  const int n = static_cast<int>(values.size());
  std::vector<T> out(values.size());
  for (int i = 0; i < n; ++i) {
    T sum{};
    double weight = 0;
    for (int k = -half; k <= half; ++k) {
      const double w = half + 1 - std::abs(k);
      sum = sum + w * values[static_cast<std::size_t>(((i + k) % n + n) % n)];
      weight += w;
    }
    out[static_cast<std::size_t>(i)] = (1 / weight) * sum;
  }
  return out;
}

}  // namespace

float SampleAt(const cv::Mat1f& image, double x, double y) {
  x = std::clamp(x, 0.0, image.cols - 1.001);
  y = std::clamp(y, 0.0, image.rows - 1.001);
  const int xi = static_cast<int>(x), yi = static_cast<int>(y);
  const float fx = static_cast<float>(x - xi), fy = static_cast<float>(y - yi);
  const float* top = image.ptr<float>(yi) + xi;
  const float* bottom = image.ptr<float>(std::min(yi + 1, image.rows - 1)) + xi;
  const int right = xi + 1 < image.cols ? 1 : 0;
  return (1 - fy) * ((1 - fx) * top[0] + fx * top[right]) +
         fy * ((1 - fx) * bottom[0] + fx * bottom[right]);
}

void Fill(cv::Mat1b& mask, const ContourPx& contour, int value) {
  std::vector<cv::Point> points;
  points.reserve(contour.size());
  for (const PointPx p : contour) {  // sixteenths of a pixel: finer than any edge here
    points.emplace_back(static_cast<int>(std::lround(p.x * 16)),
                        static_cast<int>(std::lround(p.y * 16)));
  }
  const std::vector<std::vector<cv::Point>> all{points};
  cv::fillPoly(mask, all, cv::Scalar(value), cv::LINE_8, 4);
}

ContourPx FromChain(const std::vector<cv::Point>& chain, cv::Point origin) {
  ContourPx contour;
  contour.reserve(chain.size());
  for (const cv::Point p : chain) {
    contour.push_back({static_cast<double>(p.x + origin.x), static_cast<double>(p.y + origin.y)});
  }
  if (contour.size() < 6) return {};
  if (SignedArea(contour) < 0) std::reverse(contour.begin(), contour.end());
  const int half = contour.size() < 24 ? 1 : 3;
  ContourPx smooth = Averaged(contour, half);
  const ContourPx normals = OutwardNormals(smooth);
  for (std::size_t i = 0; i < smooth.size(); ++i) smooth[i] = smooth[i] + 0.5 * normals[i];
  return smooth;
}

ContourPx Shrunk(const ContourPx& contour, double factor) {
  ContourPx out;
  out.reserve(contour.size());
  for (const PointPx p : contour) {
    out.push_back({(p.x + 0.5) / factor - 0.5, (p.y + 0.5) / factor - 0.5});
  }
  return out;
}

ContourPx Enlarged(const ContourPx& contour, double factor) { return Shrunk(contour, 1 / factor); }

EdgeLook LookAlong(const cv::Mat1f& image, const ContourPx& contour, int way) {
  EdgeLook look;
  if (contour.size() < 6) return look;
  const ContourPx normals = OutwardNormals(contour);
  const std::size_t stride = std::max<std::size_t>(1, contour.size() / 240);
  std::vector<double> steps, inside, outside;
  int places = 0, on_frame = 0;
  for (std::size_t i = 0; i < contour.size(); i += stride) {
    ++places;
    const PointPx p = contour[i], n = normals[i];
    if (OnFrame(image, p, kFrameMargin)) {
      ++on_frame;
      continue;
    }
    const auto at = [&](double offset) {
      const PointPx q = p + offset * n;
      return static_cast<double>(SampleAt(image, q.x, q.y));
    };
    // A wall may be two pixels thick: the most different of three depths stands for it.
    double in = at(-1.5);
    for (const double depth : {-1.0, -2.5}) {
      if (way * (at(depth) - in) < 0) in = at(depth);
    }
    const double out = (at(2) + at(3) + at(4)) / 3;
    steps.push_back(out - in);
    inside.push_back(in);
    outside.push_back(out);
  }
  look.contact = static_cast<double>(on_frame) / std::max(1, places);
  if (steps.size() < 6) return look;
  look.step = Median(steps);
  look.inside = Median(inside);
  look.outside = Median(outside);
  const double sign = look.step >= 0 ? 1 : -1;
  const auto clear = std::count_if(steps.begin(), steps.end(), [&](double s) {
    return sign * s > kClearShareOfStep * std::abs(look.step);
  });
  look.clear_share = static_cast<double>(clear) / static_cast<double>(steps.size());
  return look;
}

ContourPx AtHalfLevel(const cv::Mat1f& image, const ContourPx& contour, double inside,
                      double outside, double reach) {
  if (contour.size() < 6) return contour;
  const ContourPx normals = OutwardNormals(contour);
  const double level = 0.5 * (inside + outside), sign = outside > inside ? 1 : -1;
  std::vector<double> offsets(contour.size(), 0);
  constexpr double kStep = 0.25;
  const int steps = static_cast<int>(reach / kStep);
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const auto above = [&](int k) {
      const PointPx q = contour[i] + (k * kStep) * normals[i];
      return sign * (SampleAt(image, q.x, q.y) - level);
    };
    double best = reach + 1;
    for (int k = -steps; k < steps; ++k) {
      const double a = above(k), b = above(k + 1);
      if (a > 0 || b <= 0) continue;
      const double at = (k + a / (a - b)) * kStep;
      if (std::abs(at) < std::abs(best)) best = at;
    }
    offsets[i] = std::abs(best) <= reach ? best : 0;
  }
  const std::vector<double> calm = Averaged(offsets, 2);
  ContourPx moved(contour.size());
  for (std::size_t i = 0; i < contour.size(); ++i) moved[i] = contour[i] + calm[i] * normals[i];
  return IsSimple(moved) ? moved : contour;
}

}  // namespace cutface::segment
