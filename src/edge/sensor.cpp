#include "edge/sensor.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr int kNoiseBlock = 16;                        // px
constexpr int kMostBlocks = 4000;                      // that are looked at
constexpr int kTones = 24;                             // bins
constexpr double kLeastTone = 0.02, kMostTone = 0.96;  // beyond, the sensor clips
constexpr double kBlockError = 0.2;  // relative, of one block's variance and its tone's spread
constexpr double kTexture = 0.05;    // relative: what texture adds to one tone and not to another
constexpr double kWhite = 0.7;       // share of row noise that white noise shows at the corner
constexpr double kMostCost = 30;     // no picture's noise is that certain

struct BlockNoise {
  double tone, corner, row;
};

// Second differences along both axes (corner of the frequency plane) and along one.
BlockNoise LookAt(const Micrograph& m, int x0, int y0) {
  double sum = 0, corner = 0, row = 0;
  std::array<std::array<double, kNoiseBlock>, kNoiseBlock> t;
  for (int y = 0; y < kNoiseBlock; ++y) {
    for (int x = 0; x < kNoiseBlock; ++x) sum += t[y][x] = m.At(x0 + x, y0 + y);
  }
  constexpr int kInner = kNoiseBlock - 2;
  for (int y = 1; y <= kInner; ++y) {
    for (int x = 1; x <= kInner; ++x) {
      const double above = t[y - 1][x - 1] - 2 * t[y - 1][x] + t[y - 1][x + 1];
      const double here = t[y][x - 1] - 2 * t[y][x] + t[y][x + 1];
      const double below = t[y + 1][x - 1] - 2 * t[y + 1][x] + t[y + 1][x + 1];
      const double both = above - 2 * here + below;
      corner += both * both;
      row += here * here;
    }
  }
  return {sum / (kNoiseBlock * kNoiseBlock), corner / (36 * kInner * kInner),
          row / (6 * kInner * kInner)};
}

double StoredShare(double tone, double gamma) {  // (d stored / d light)^2
  return std::pow(std::pow(tone, 1 - gamma) / gamma, 2);
}

}  // namespace

SensorNoise::SensorNoise(const Micrograph& micrograph) {
  const int across = micrograph.width() / kNoiseBlock, down = micrograph.height() / kNoiseBlock;
  if (across < 1 || down < 1) return;
  const int stride =
      std::max(1, static_cast<int>(std::sqrt(static_cast<double>(across) * down / kMostBlocks)));
  std::array<std::vector<BlockNoise>, kTones> by_tone;
  std::vector<double> whiteness;
  for (int by = 0; by < down; by += stride) {
    for (int bx = 0; bx < across; bx += stride) {
      const BlockNoise block = LookAt(micrograph, bx * kNoiseBlock, by * kNoiseBlock);
      if (block.tone < kLeastTone || block.tone > kMostTone) continue;
      by_tone[static_cast<std::size_t>(block.tone * kTones)].push_back(block);
      if (block.row > 0) whiteness.push_back(block.corner / block.row);
    }
  }
  if (whiteness.size() < 30) return;
  // Texture and edges lower the share; a tenth of the blocks are plain.
  if (Quantile(whiteness, 0.9) < kWhite) return;
  const double rounding = 1 / (12 * std::pow(micrograph.full_scale(), 2));
  for (const auto& blocks : by_tone) {
    if (blocks.size() < 6) continue;
    std::vector<double> corner, tone;
    for (const BlockNoise& block : blocks) {
      corner.push_back(block.corner);
      tone.push_back(block.tone);
    }
    const double variance = Median(corner) - rounding;
    const double at = Median(tone);
    // Where the noise reaches down to black the law of small errors ends.
    if (variance <= 0.2 * rounding || std::sqrt(variance) > 0.22 * at) continue;
    samples_.push_back({at, variance, static_cast<double>(blocks.size())});
  }
}

SensorLaw SensorNoise::LawFor(double gamma) const {
  SensorLaw best;
  if (!known()) return best;
  // Errors are relative, so the weights follow from the law itself: a few rounds settle them.
  std::vector<double> model(samples_.size());
  for (std::size_t i = 0; i < samples_.size(); ++i) model[i] = samples_[i].variance;
  const auto fit = [&](bool with_a, bool with_b) {
    SensorLaw law;
    std::vector<double> expected = model;
    for (int round = 0; round < 4; ++round) {
      double aa = 0, ab = 0, bb = 0, ra = 0, rb = 0;
      for (std::size_t i = 0; i < samples_.size(); ++i) {
        const NoiseSample& s = samples_[i];
        const double share = StoredShare(s.tone, gamma);
        const double error = std::hypot(kBlockError / std::sqrt(s.blocks), kTexture) * expected[i];
        const double w = 1 / (error * error);
        const double pa = share, pb = share * std::pow(s.tone, gamma);
        aa += w * pa * pa;
        ab += w * pa * pb;
        bb += w * pb * pb;
        ra += w * pa * s.variance;
        rb += w * pb * s.variance;
      }
      if (with_a && with_b) {
        const double det = aa * bb - ab * ab;
        if (det <= 1e-12 * aa * bb) break;
        law.a = (ra * bb - rb * ab) / det;
        law.b = (rb * aa - ra * ab) / det;
      } else {
        law.a = with_a ? ra / aa : 0;
        law.b = with_b ? rb / bb : 0;
      }
      for (std::size_t i = 0; i < samples_.size(); ++i) {
        const NoiseSample& s = samples_[i];
        const double now = StoredShare(s.tone, gamma) * (law.a + law.b * std::pow(s.tone, gamma));
        expected[i] = std::clamp(now, 0.3 * s.variance, 3 * s.variance);
      }
    }
    law.cost = 0;
    for (const NoiseSample& s : samples_) {
      const double now = StoredShare(s.tone, gamma) * (law.a + law.b * std::pow(s.tone, gamma));
      const double error = std::hypot(kBlockError / std::sqrt(s.blocks), kTexture);
      law.cost += std::pow(std::log(std::max(1e-12, now) / s.variance) / error, 2);
    }
    return law;
  };
  best = fit(true, true);
  if (!(best.a >= 0) || !(best.b >= 0) || best.a + best.b <= 0) {
    const SensorLaw read = fit(true, false), shot = fit(false, true);
    best = read.cost < shot.cost ? read : shot;
  }
  return best;
}

std::vector<double> SensorNoise::GammaCosts(const std::vector<double>& gammas) const {
  std::vector<double> costs(gammas.size(), 0);
  if (!known() || gammas.empty()) return costs;
  for (std::size_t i = 0; i < gammas.size(); ++i) costs[i] = LawFor(gammas[i]).cost;
  const double least = *std::min_element(costs.begin(), costs.end());
  const double freedom = std::max(1.0, static_cast<double>(samples_.size()) - 2);
  const double inflation = std::max(1.0, least / freedom);
  for (double& cost : costs) cost = std::min((cost - least) / inflation, kMostCost);
  return costs;
}

}  // namespace cutface
