#include "segment/body.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "segment/grid.h"
#include "segment/light.h"

namespace cutface::segment {
namespace {

constexpr double kTolerance = 0.45;  // of the outline's step: what may still be body

bool InFrame(const cv::Mat1f& image, PointPx p) {
  return p.x >= 1 && p.y >= 1 && p.x <= image.cols - 2 && p.y <= image.rows - 2;
}

// Tones just within the outline: body is there all around, however thin the wall.
std::vector<LightSample> RimSamples(const cv::Mat1f& image, const OutlineFound& outline,
                                    const LightField& frame) {
  std::vector<LightSample> samples;
  const ContourPx normals = OutwardNormals(outline.contour);
  const std::size_t stride = std::max<std::size_t>(1, outline.contour.size() / 720);
  for (std::size_t i = 0; i < outline.contour.size(); i += stride) {
    if (!InFrame(image, outline.contour[i])) continue;
    for (const double depth : {1.5, 2.5}) {
      const PointPx p = outline.contour[i] - depth * normals[i];
      samples.push_back({(p.x - frame.middle.x) / frame.size, (p.y - frame.middle.y) / frame.size,
                         SampleAt(image, p.x, p.y)});
    }
  }
  return samples;
}

void SetLight(LightField& light, const std::array<double, 6>& c) {
  for (std::size_t k = 0; k < 6; ++k) light.c[k] = c[k];
}

// Samples over the whole inside that agree with the field so far.
std::vector<LightSample> AgreeingSamples(const cv::Mat1f& image, const Body& body,
                                         double tolerance) {
  std::vector<LightSample> samples;
  const int stride = image.total() > 400'000 ? 3 : 2;
  for (int y = 0; y < image.rows; y += stride) {
    for (int x = 0; x < image.cols; x += stride) {
      if (body.depth(y, x) < 2) continue;
      if (std::abs(image(y, x) - body.light.At(x, y)) > tolerance) continue;
      samples.push_back({(x - body.light.middle.x) / body.light.size,
                         (y - body.light.middle.y) / body.light.size, image(y, x)});
    }
  }
  return samples;
}

double NoiseWithin(const cv::Mat1f& relative, const Body& body, double tolerance) {
  std::vector<double> values;
  for (int y = 0; y < relative.rows; y += 2) {
    for (int x = 0; x < relative.cols; x += 2) {
      if (body.depth(y, x) > 2.5 && std::abs(relative(y, x) - 1) < tolerance) {
        values.push_back(relative(y, x));
      }
    }
  }
  return values.size() < 20 ? 0.05 : std::max(1e-3, RobustSigma(std::move(values)));
}

}  // namespace

Body FindBody(const cv::Mat1f& work, const OutlineFound& outline) {
  Body body;
  body.inside = cv::Mat1b(work.size(), uchar{0});
  Fill(body.inside, outline.contour, 255);
  cv::distanceTransform(body.inside, body.depth, cv::DIST_L2, 3);
  body.light.middle = Centroid(outline.contour);
  body.light.size = std::sqrt(Area(outline.contour) / M_PI);

  cv::Mat1f smooth;
  cv::GaussianBlur(work, smooth, cv::Size(), 1.0);
  const double step = std::abs(outline.outside - outline.inside);
  const auto rim = RimSamples(smooth, outline, body.light);
  if (rim.size() > 30) {
    SetLight(body.light, FitLight(rim));
  } else {
    body.light.c[0] = outline.inside;
  }
  for (int round = 0; round < 3; ++round) {
    const auto samples = AgreeingSamples(smooth, body, kTolerance * step);
    if (samples.size() < 200) break;
    SetLight(body.light, FitLight(samples));
  }

  cv::Mat1f plain(work.size());
  for (int y = 0; y < work.rows; ++y) {
    for (int x = 0; x < work.cols; ++x) {
      plain(y, x) = static_cast<float>(work(y, x) / body.light.At(x, y));
    }
  }
  const double relative_step = step / std::max(0.002, body.light.c[0]);
  cv::GaussianBlur(plain, body.fine, cv::Size(), 0.7);
  for (const double sigma : {0.7, 1.2, 1.8}) {
    cv::GaussianBlur(plain, body.relative, cv::Size(), sigma);
    body.noise = NoiseWithin(body.relative, body, kTolerance * relative_step);
    if (body.noise < 0.1 * relative_step) break;
  }
  const EdgeLook look = LookAlong(body.fine, outline.contour, outline.way);
  body.outside = look.outside;
  return body;
}

}  // namespace cutface::segment
