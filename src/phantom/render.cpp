// From a scene to a picture: linear light by exact coverage, optics, sensor.
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "phantom/coverage.h"
#include "phantom/surface.h"

namespace cutface {
namespace {

// Cells per pixel. Coverage is exact at any factor; two cells keep the sampled blur (sigma >= 0.7
// px = 1.4 cells) free of aliasing: exp(-2 pi^2 1.4^2 0.65^2) < 1e-7 at the first folded frequency.
constexpr int kFactor = 2;

float ToLinear(double tone, double gamma) {
  return static_cast<float>(std::pow(std::clamp(tone, 0.0, 1.0), gamma));
}

// light += coverage * opacity * (to - from), exact where several regions share a cell as long as
// they are disjoint and each replaces the same `from`.
void Replace(cv::Mat& light, const phantom::Tile& tile, const cv::Mat& from, float to,
             float opacity = 1) {
  for (int y = 0; y < tile.cells.height; ++y) {
    const auto* c = tile.coverage.ptr<float>(y);
    auto* out = light.ptr<float>(y + tile.cells.y) + tile.cells.x;
    const auto* f = from.ptr<float>(y + tile.cells.y) + tile.cells.x;
    for (int x = 0; x < tile.cells.width; ++x) out[x] += opacity * c[x] * (to - f[x]);
  }
}

void Subtract(cv::Mat& sum, const phantom::Tile& tile) {
  if (tile.cells.empty()) return;
  cv::Mat part = sum(tile.cells);
  part -= tile.coverage;
}

class Painter {
 public:
  Painter(const PhantomScene& scene, Random& random) : scene_(scene), random_(random) {}

  // Linear light before the optics, kFactor cells per pixel. The true edges are those of outline,
  // lumens and voids; everything else lies beside them or on top.
  cv::Mat Paint() {
    const phantom::Tile outline = Coverage(scene_.outline);
    cv::Mat polymer =
        cv::Mat::zeros(scene_.height_px * kFactor, scene_.width_px * kFactor, CV_32FC1);
    if (!outline.cells.empty()) outline.coverage.copyTo(polymer(outline.cells));
    std::vector<phantom::Tile> lumens;
    for (const PhantomLumen& lumen : scene_.lumens) {
      lumens.push_back(Coverage(lumen.contour));
      Subtract(polymer, lumens.back());
    }
    for (const PhantomPatch& v : scene_.voids) {
      Subtract(polymer, Coverage(v.contour));
    }
    const cv::Mat resin = PaintResin();
    cv::Mat body = PaintBody(polymer);
    if (!scene_.inlays.empty()) PaintInlays(body);
    cv::Mat light = resin.clone();
    for (int y = 0; y < outline.cells.height; ++y) {
      const auto* c = outline.coverage.ptr<float>(y);
      const std::ptrdiff_t at = outline.cells.x;
      auto* out = light.ptr<float>(y + outline.cells.y) + at;
      const auto* b = body.ptr<float>(y + outline.cells.y) + at;
      for (int x = 0; x < outline.cells.width; ++x) out[x] += c[x] * (b[x] - out[x]);
    }
    const PhantomEffects& effects = scene_.effects;
    for (const PhantomPatch& gap : effects.gaps) {
      if (gap.lumen < 0) Put(light, gap, resin);
    }
    floor_ = PaintFloor();
    for (std::size_t i = 0; i < lumens.size(); ++i) {
      PutInto(light, lumens[i], body, i);
    }
    for (const PhantomPatch& v : scene_.voids) Put(light, v, body);
    for (const PhantomPatch& gap : effects.gaps) PutInLumen(light, gap);
    for (const PhantomPatch& bubble : effects.bubbles) {
      if (bubble.lumen >= 0) Over(light, bubble);
    }
    for (const PhantomPatch& lip : effects.lips) PutInLumen(light, lip);
    for (const PhantomPatch& chip : effects.chips) Put(light, chip, body);
    if (!effects.scratches.empty()) {
      cv::Mat solid(light.size(), CV_32FC1, cv::Scalar(1));
      for (std::size_t i = 0; i < lumens.size(); ++i) {
        if (!HoldsResin(i)) Subtract(solid, lumens[i]);
      }
      phantom::AddScratches(light, solid, scene_, kFactor);
    }
    PaintMetals(light);
    for (const PhantomPatch& holder : effects.holders) Over(light, holder);
    return light;
  }

 private:
  float Linear(double tone) const { return ToLinear(tone, scene_.gamma); }

  phantom::Tile Coverage(const ContourPx& contour) const {
    return phantom::CoverageOf(contour, scene_.width_px, scene_.height_px, kFactor);
  }

  // In place of `from`, which is what lies there: exact in cells that the patch shares with an
  // edge.
  void Put(cv::Mat& light, const PhantomPatch& patch, const cv::Mat& from) const {
    Replace(light, Coverage(patch.contour), from, Linear(patch.tone),
            static_cast<float>(patch.opacity));
  }

  void PutInLumen(cv::Mat& light, const PhantomPatch& patch) const {
    if (patch.lumen < 0) return;
    const phantom::Tile tile = Coverage(patch.contour);
    if (tile.cells.empty()) return;
    const auto lumen = static_cast<std::size_t>(patch.lumen);
    const cv::Mat there = Linear(scene_.lumens[lumen].tone) * FieldIn(lumen)(tile.cells);
    cv::Mat part = light(tile.cells);
    part += patch.opacity * tile.coverage.mul(cv::Mat(Linear(patch.tone) - there));
  }

  // A lumen in place of the body.
  void PutInto(cv::Mat& light, const phantom::Tile& tile, const cv::Mat& body,
               std::size_t lumen) const {
    if (tile.cells.empty()) return;
    const cv::Mat there = Linear(scene_.lumens[lumen].tone) * FieldIn(lumen)(tile.cells);
    cv::Mat part = light(tile.cells);
    part += tile.coverage.mul(cv::Mat(there - body(tile.cells)));
  }

  bool HoldsResin(std::size_t lumen) const {
    const PhantomLumen& l = scene_.lumens[lumen];
    return l.filled || (scene_.light != PhantomLight::kTransmitted &&
                        std::abs(l.tone - scene_.resin_tone) < 0.03);
  }
  const cv::Mat& FieldIn(std::size_t lumen) const { return HoldsResin(lumen) ? grain_ : floor_; }

  // Mean 1: an empty lumen's floor is far below the focus, only its broad shades are seen.
  cv::Mat PaintFloor() {
    constexpr double kFloorPx = 32;
    return phantom::Grain(scene_.width_px, scene_.height_px, kFactor, scene_.effects.floor,
                          kFloorPx, random_);
  }

  // On top of what is there.
  void Over(cv::Mat& light, const PhantomPatch& patch) const {
    Replace(light, Coverage(patch.contour), light, Linear(patch.tone),
            static_cast<float>(patch.opacity));
  }

  cv::Mat PaintResin() {
    grain_ = phantom::Grain(scene_.width_px, scene_.height_px, kFactor, scene_.effects.resin_grain,
                            scene_.effects.grain_px, random_);
    cv::Mat resin = grain_ * Linear(scene_.resin_tone);
    for (const PhantomPatch& bubble : scene_.effects.bubbles) {
      if (bubble.lumen < 0) Over(resin, bubble);
    }
    for (const PhantomPatch& speck : scene_.effects.specks) Over(resin, speck);
    return resin;
  }

  // Other tones of the body keep its grain and its shaded edges.
  void PaintInlays(cv::Mat& body) const {
    cv::Mat share(body.size(), CV_32FC1, cv::Scalar(1));
    const float own = std::max(Linear(scene_.body_tone), 1e-4f);
    for (const PhantomPatch& inlay : scene_.inlays) {
      Replace(share, Coverage(inlay.contour), share, Linear(inlay.tone) / own,
              static_cast<float>(inlay.opacity));
    }
    body = body.mul(share);
  }

  void PaintMetals(cv::Mat& light) const {
    for (const PhantomMetal& metal : scene_.metals) {
      Replace(light, Coverage(metal.contour), light, static_cast<float>(metal.light));
    }
    const PhantomEffects& e = scene_.effects;
    if (scene_.metals.empty() || e.halo_share <= 0 || e.halo_px <= 0) return;
    cv::Mat metal = cv::Mat::zeros(light.size(), CV_32FC1), halo;
    for (const PhantomMetal& m : scene_.metals) {
      Replace(metal, Coverage(m.contour), metal, static_cast<float>(m.light));
    }
    const double sigma = e.halo_px * kFactor;
    cv::GaussianBlur(metal, halo, cv::Size(0, 0), sigma, sigma, cv::BORDER_REPLICATE);
    light += e.halo_share * halo;
  }

  cv::Mat PaintBody(const cv::Mat& polymer) {
    const PhantomEffects& effects = scene_.effects;
    cv::Mat body = phantom::Grain(scene_.width_px, scene_.height_px, kFactor, effects.body_grain,
                                  effects.grain_px, random_);
    body *= Linear(scene_.body_tone);
    if (effects.rim_depth != 0 || effects.band_depth > 0) {
      std::vector<ContourPx> edges{scene_.outline};
      for (const PhantomLumen& lumen : scene_.lumens) edges.push_back(lumen.contour);
      for (const PhantomPatch& v : scene_.voids) edges.push_back(v.contour);
      phantom::ShadeEdges(body, polymer, edges, scene_.width_px, scene_.height_px, kFactor,
                          effects);
    }
    return body;
  }

  const PhantomScene& scene_;
  Random& random_;
  cv::Mat grain_;  // of the resin, mean 1
  cv::Mat floor_;  // of empty lumens, mean 1
};

cv::Mat Sensor(const cv::Mat& light, const PhantomScene& scene, Random& random) {
  // Noise is stated as it appears in the body; d(stored)/d(light) there turns it into light.
  const double body = std::max(0.02, std::pow(scene.body_tone, scene.gamma));
  const double slope = std::pow(body, 1.0 / scene.gamma - 1.0) / scene.gamma;
  const double variance = std::pow(scene.noise / slope, 2);
  const double shot = scene.shot_share * variance / body;
  const double read = (1 - scene.shot_share) * variance;
  const double full = static_cast<double>((1 << scene.bits) - 1);
  cv::Mat stored(light.rows, light.cols, scene.bits == 8 ? CV_8UC1 : CV_16UC1);
  for (int y = 0; y < light.rows; ++y) {
    const auto* in = light.ptr<float>(y);
    for (int x = 0; x < light.cols; ++x) {
      const double l = std::max(0.0, static_cast<double>(in[x]));
      const double noisy = l + std::sqrt(shot * l + read) * random.Normal();
      const double value = std::pow(std::clamp(noisy, 0.0, 1.0), 1.0 / scene.gamma);
      const auto count = static_cast<int>(std::lround(value * full));
      if (scene.bits == 8) {
        stored.at<std::uint8_t>(y, x) = static_cast<std::uint8_t>(count);
      } else {
        stored.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(count);
      }
    }
  }
  return stored;
}

}  // namespace

cv::Mat RenderPhantom(const PhantomScene& scene, std::uint64_t seed) {
  Random random(seed);
  cv::Mat light = Painter(scene, random).Paint();
  light = phantom::Blurred(light, scene, kFactor);
  cv::Mat pixels;
  cv::resize(light, pixels, cv::Size(scene.width_px, scene.height_px), 0, 0, cv::INTER_AREA);
  phantom::AddDust(pixels, scene);
  phantom::Illuminate(pixels, scene);
  cv::Mat stored = Sensor(pixels, scene, random);
  phantom::BurnIn(stored, scene);
  if (scene.effects.jpeg_quality > 0 && scene.bits == 8) {
    stored = phantom::Recompressed(stored, scene.effects.jpeg_quality);
  }
  return stored;
}

}  // namespace cutface
