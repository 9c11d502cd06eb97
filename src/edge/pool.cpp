#include <algorithm>
#include <cmath>
#include <limits>

#include "edge/work.h"

namespace cutface {
namespace {

constexpr double kGuessedNoise = 0.015;     // of the body, where the camera's noise cannot be told
constexpr double kFar = 5, kFarthest = 10;  // px: where an edge changes nothing any more
constexpr double kMostClump = 60;
constexpr double kEnough = 0.35;  // of a contour

}  // namespace

NoiseLaw LawAt(const SensorNoise& sensor, double gamma, double field, double scale) {
  NoiseLaw law;
  law.scale = scale;
  if (sensor.known()) {
    const SensorLaw absolute = sensor.LawFor(gamma);
    const double body = std::pow(std::max(0.002, field), gamma);
    law.read = absolute.a / (body * body);
    law.shot = absolute.b / body;
    if (law.read + law.shot > 1e-8) return law;
  }
  // Even noise as stored grows with the slope of the decoding: between even and in proportion.
  const double variance = std::pow(kGuessedNoise * gamma, 2);
  const double share = std::clamp(2 - 2 / gamma, 0.0, 1.0);
  law.read = (1 - share) * variance + 1e-6;
  law.shot = share * variance;
  return law;
}

void Linearise(Band& band, double gamma) {
  const float g = static_cast<float>(gamma);
  for (BandPixel& pixel : band.pixels) {
    pixel.linear = std::isfinite(pixel.tone) ? std::pow(std::max(0.0f, pixel.tone), g) - pixel.less
                                             : std::numeric_limits<float>::quiet_NaN();
  }
}

ProfileBins Pool(const Work& w, std::size_t begin, std::size_t end,
                 const std::vector<double>& gammas, double from_gamma, double reach) {
  std::size_t lonely = 0;
  for (std::size_t i = begin; i < end; ++i) lonely += w.neighbour[i].gap >= reach ? 1 : 0;
  const bool lonely_only = static_cast<double>(lonely) > kEnough * static_cast<double>(end - begin);
  ProfileBins bins;
  bins.linear.assign(gammas.size(), std::vector<double>(ProfileBins::kCount, 0));
  for (std::size_t i = begin; i < end; ++i) {
    if (w.band.outside_frame[i]) continue;
    if (lonely_only && w.neighbour[i].gap < reach) continue;
    for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
      const BandPixel& pixel = w.band.pixels[k];
      if (!std::isfinite(pixel.tone)) continue;
      const double at = (pixel.s - ProfileBins::kFrom) / ProfileBins::kStep;
      if (at < 0 || at >= static_cast<double>(ProfileBins::kCount)) continue;
      const std::size_t bin = static_cast<std::size_t>(at);
      bins.weight[bin] += 1;
      for (std::size_t g = 0; g < gammas.size(); ++g) {
        const float power = static_cast<float>(gammas[g]);
        float linear = pixel.linear;
        if (gammas[g] != from_gamma) {
          linear = pixel.less == 0 ? std::pow(std::max(0.0f, pixel.tone), power)
                                   : std::pow(std::max(0.0f, pixel.linear),
                                              power / static_cast<float>(from_gamma));
        }
        bins.linear[g][bin] += linear;
      }
    }
  }
  for (std::vector<double>& linear : bins.linear) {
    for (std::size_t k = 0; k < linear.size(); ++k) {
      if (bins.weight[k] > 0) linear[k] /= bins.weight[k];
    }
  }
  return bins;
}

void TellClumps(const std::vector<Arc>& arcs, NoiseLaw& law) {
  for (const bool polymer : {false, true}) {
    double sum = 0, freedom = 0;
    for (const Arc& arc : arcs) {
      if (arc.bins.linear.empty()) continue;
      const std::vector<double>& linear = arc.bins.linear[0];
      std::vector<double> tone, weight;
      double mean = 0, total = 0;
      for (std::size_t k = 0; k < linear.size(); ++k) {
        const double s = ProfileBins::Centre(k);
        if ((polymer ? s : -s) < kFar || std::abs(s) > kFarthest || arc.bins.weight[k] < 4)
          continue;
        tone.push_back(linear[k]);
        weight.push_back(arc.bins.weight[k]);
        mean += weight.back() * linear[k];
        total += weight.back();
      }
      if (tone.size() < 6) continue;
      mean /= total;
      for (std::size_t k = 0; k < tone.size(); ++k)
        sum += weight[k] * std::pow(tone[k] - mean, 2) / law.Variance(mean);
      freedom += static_cast<double>(tone.size()) - 1;
    }
    const double clump = freedom > 0 ? std::clamp(sum / freedom, 1.0, kMostClump) : 1.0;
    (polymer ? law.polymer_clump : law.void_clump) = clump;
  }
}

}  // namespace cutface
