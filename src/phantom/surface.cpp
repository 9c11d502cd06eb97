#include "phantom/surface.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "phantom/coverage.h"

namespace cutface::phantom {
namespace {

// Distances beyond this leave the body as it is.
float BandReach(const PhantomEffects& e) {
  const double band = e.band_depth > 0 ? e.band_offset_px + 3 * e.band_px : 0;
  return static_cast<float>(std::max(e.rim_depth != 0 ? e.rim_px : 0.0, band) + 2);
}

}  // namespace

cv::Mat Grain(int width_px, int height_px, int factor, double deviation, double sigma_px,
              Random& random) {
  cv::Mat grain(height_px * factor, width_px * factor, CV_32FC1, cv::Scalar(1));
  if (deviation <= 0) return grain;
  // Broad grain is drawn on a coarse grid: what it leaves out is smoother than its cells.
  const int coarse = std::max(1, static_cast<int>(sigma_px / 2));
  cv::Mat white(height_px / coarse + 2, width_px / coarse + 2, CV_32FC1), smooth;
  for (int y = 0; y < white.rows; ++y) {
    auto* row = white.ptr<float>(y);
    // Smoothing makes it normal.
    for (int x = 0; x < white.cols; ++x) row[x] = static_cast<float>(random.Uniform() - 0.5);
  }
  const double sigma = sigma_px / coarse;
  cv::GaussianBlur(white, smooth, cv::Size(0, 0), sigma, sigma, cv::BORDER_REFLECT);
  cv::Scalar mean, spread;
  cv::meanStdDev(smooth, mean, spread);
  smooth = (smooth - mean[0]) * (deviation / std::max(spread[0], 1e-12));
  cv::resize(smooth, grain, grain.size(), 0, 0, coarse > 1 ? cv::INTER_CUBIC : cv::INTER_LINEAR);
  grain = cv::max(grain + 1.0, 0.05);
  return grain;
}

void ShadeEdges(cv::Mat& body, const cv::Mat& polymer, const std::vector<ContourPx>& edges,
                int width_px, int height_px, int factor, const PhantomEffects& e) {
  const float reach = BandReach(e);
  cv::Mat distance = EdgeDistance(edges, width_px, height_px, reach), inside;
  cv::resize(polymer, inside, distance.size(), 0, 0, cv::INTER_AREA);
  for (int y = 0; y < height_px; ++y) {
    auto* d = distance.ptr<float>(y);
    const auto* in = inside.ptr<float>(y);
    for (int x = 0; x < width_px; ++x) {
      if (in[x] < 0.5f) d[x] = -d[x];
    }
  }
  cv::Mat fine;
  cv::resize(distance, fine, cv::Size(width_px * factor, height_px * factor), 0, 0,
             cv::INTER_LINEAR);
  for (int y = 0; y < fine.rows; ++y) {
    const auto* d = fine.ptr<float>(y);
    auto* out = body.ptr<float>(y);
    for (int x = 0; x < fine.cols; ++x) {
      if (d[x] >= reach || d[x] < -1.5f) continue;
      const double at = std::max(0.0, static_cast<double>(d[x]));
      double share = 1;
      if (e.rim_depth != 0 && at < e.rim_px) {
        // A rounded edge: its slope, and with it the light lost, grows evenly towards the edge.
        const double u = 1 - at / e.rim_px;
        share -= e.rim_depth * u * u;
      }
      if (e.band_depth > 0) {
        const double u = (at - e.band_offset_px) / e.band_px;
        share *= 1 - e.band_depth * std::exp(-0.5 * u * u);
      }
      out[x] *= static_cast<float>(share);
    }
  }
}

void AddScratches(cv::Mat& light, const cv::Mat& solid, const PhantomScene& scene, int factor) {
  constexpr double kPiece = 40;  // px: short pieces keep the tiles of slanting lines small
  for (const PhantomScratch& scratch : scene.effects.scratches) {
    const PointPx along = scratch.to - scratch.from;
    const double length = std::max(Norm(along), 1e-9);
    const PointPx side{-along.y / length * 0.5 * scratch.width_px,
                       along.x / length * 0.5 * scratch.width_px};
    const auto strength = static_cast<float>(scratch.strength);
    const int pieces = static_cast<int>(std::ceil(length / kPiece));
    for (int k = 0; k < pieces; ++k) {
      const PointPx a = scratch.from + (static_cast<double>(k) / pieces) * along;
      const PointPx b = scratch.from + (static_cast<double>(k + 1) / pieces) * along;
      const Tile tile = CoverageOf({a - side, b - side, b + side, a + side}, scene.width_px,
                                   scene.height_px, factor);
      for (int y = 0; y < tile.cells.height; ++y) {
        auto* out = light.ptr<float>(y + tile.cells.y) + tile.cells.x;
        const auto* s = solid.ptr<float>(y + tile.cells.y) + tile.cells.x;
        const auto* c = tile.coverage.ptr<float>(y);
        for (int x = 0; x < tile.cells.width; ++x) out[x] *= 1 + strength * c[x] * s[x];
      }
    }
  }
}

cv::Mat Blurred(const cv::Mat& light, const PhantomScene& scene, int factor) {
  const PhantomEffects& e = scene.effects;
  const auto blur = [&](double sigma_px) {
    cv::Mat out;
    const double sigma = sigma_px * factor;
    const int size = 2 * static_cast<int>(std::ceil(4 * sigma)) + 1;
    cv::GaussianBlur(light, out, cv::Size(size, size), sigma, sigma, cv::BORDER_REPLICATE);
    return out;
  };
  if (e.blur_slope == 0) return blur(scene.blur_px);
  // sigma(x, y) = blur (1 + slope u), u from -1 to 1 across the frame.
  constexpr int kLevels = 4;
  const double least = scene.blur_px * (1 - std::abs(e.blur_slope));
  const double greatest = scene.blur_px * (1 + std::abs(e.blur_slope));
  std::vector<cv::Mat> levels;
  for (int k = 0; k < kLevels; ++k) {
    levels.push_back(blur(least + (greatest - least) * k / (kLevels - 1)));
  }
  const double c = std::cos(e.blur_slope_rad), s = std::sin(e.blur_slope_rad);
  const double half = 0.5 * (std::abs(c) * light.cols + std::abs(s) * light.rows);
  cv::Mat out(light.rows, light.cols, CV_32FC1);
  for (int y = 0; y < light.rows; ++y) {
    auto* row = out.ptr<float>(y);
    for (int x = 0; x < light.cols; ++x) {
      const double u = ((x - 0.5 * light.cols) * c + (y - 0.5 * light.rows) * s) / half;
      const double at = std::clamp(0.5 * (1 + u), 0.0, 1.0) * (kLevels - 1);
      const int k = std::min(static_cast<int>(at), kLevels - 2);
      const auto t = static_cast<float>(at - k);
      row[x] = (1 - t) * levels[static_cast<std::size_t>(k)].ptr<float>(y)[x] +
               t * levels[static_cast<std::size_t>(k) + 1].ptr<float>(y)[x];
    }
  }
  return out;
}

void AddDust(cv::Mat& pixels, const PhantomScene& scene) {
  for (const PhantomDust& dust : scene.effects.dust) {
    const int reach = static_cast<int>(std::ceil(2.5 * dust.radius_px));
    const int x0 = static_cast<int>(dust.centre.x), y0 = static_cast<int>(dust.centre.y);
    for (int y = std::max(0, y0 - reach); y <= std::min(pixels.rows - 1, y0 + reach); ++y) {
      for (int x = std::max(0, x0 - reach); x <= std::min(pixels.cols - 1, x0 + reach); ++x) {
        const double d = std::hypot(x - dust.centre.x, y - dust.centre.y) / dust.radius_px;
        pixels.at<float>(y, x) +=
            static_cast<float>(dust.strength * std::exp(-0.5 * d * d * d * d));
      }
    }
  }
}

void Illuminate(cv::Mat& pixels, const PhantomScene& scene) {
  const PhantomEffects& e = scene.effects;
  if (e.slope == 0 && e.bowl == 0 && e.vignette == 0 && e.exposure == 1) return;
  const double c = std::cos(e.slope_rad), s = std::sin(e.slope_rad);
  const double w = 0.5 * pixels.cols, h = 0.5 * pixels.rows;
  const double half = std::abs(c) * w + std::abs(s) * h, corner2 = w * w + h * h;
  for (int y = 0; y < pixels.rows; ++y) {
    auto* row = pixels.ptr<float>(y);
    for (int x = 0; x < pixels.cols; ++x) {
      const double dx = x - w, dy = y - h;
      const double r2 = (dx * dx + dy * dy) / corner2;
      const double u = (dx * c + dy * s) / half;
      row[x] *= static_cast<float>(e.exposure * (1 - 0.5 * e.slope * u) * (1 - e.bowl * r2) *
                                   (1 - e.vignette * r2 * r2));
    }
  }
}

void BurnIn(cv::Mat& stored, const PhantomScene& scene) {
  const PhantomEffects& e = scene.effects;
  if (!e.scale_bar) return;
  const double full = static_cast<double>((1 << scene.bits) - 1);
  const bool right = e.scale_bar_corner == 1 || e.scale_bar_corner == 2;
  const bool low = e.scale_bar_corner >= 2;
  const int x0 = right ? stored.cols - 20 - e.scale_bar_px : 20;
  const int y1 = low ? stored.rows - 16 : 46;
  cv::rectangle(stored, cv::Point(x0, y1 - 5), cv::Point(x0 + e.scale_bar_px, y1), cv::Scalar(full),
                cv::FILLED);
  cv::putText(stored, e.scale_bar_text, cv::Point(x0, y1 - 12), cv::FONT_HERSHEY_SIMPLEX, 0.55,
              cv::Scalar(full), 1, cv::LINE_8);
}

}  // namespace cutface::phantom
