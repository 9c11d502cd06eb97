#include "edge/focus.h"

#include <algorithm>
#include <cmath>

#include "edge/line.h"

namespace cutface {
namespace {

constexpr double kFocusEvidenceShare = 0.35;     // bins are not independent and no model is exact
constexpr double kFlat = 0.03, kVarying = 0.12;  // deviation of the blur's logarithm over a field
constexpr std::size_t kFactors = std::size(kBlurFactors);

// Chance of each factor in a picture whose blur varies by `deviation`.
std::array<double, kFactors> ChancesAt(double deviation) {
  std::array<double, kFactors> chance{};
  double sum = 0;
  for (std::size_t f = 0; f < kFactors; ++f)
    sum += chance[f] = std::exp(-0.5 * std::pow(std::log(kBlurFactors[f]) / deviation, 2));
  for (double& c : chance) c /= sum;
  return chance;
}

}  // namespace

BlurEvidence WeighBlurs(const std::vector<BlurArc>& arcs, bool bore, const EdgeShapes& shapes) {
  BlurEvidence evidence{};
  const EdgeShape& usual = shapes.At(1, false);
  for (const BlurArc& arc : arcs) {
    const LinearProfile& profile = arc.profile;
    const double n = std::max<double>(1, static_cast<double>(profile.s.size()));
    const auto gain = [&](const EdgeShape& shape, const ArcFit& plain) {
      const auto line = LineBeside(profile, shape, plain, bore);
      return line ? std::max(0.0, line->gain) : 0.0;
    };
    const bool may_bear_line = arc.lonely && gain(usual, FitArc(profile, usual, 0, 0.4, 4)) > 0;
    for (std::size_t f = 0; f < kFactors; ++f) {
      const EdgeShape& shape = shapes.At(kBlurFactors[f], false);
      const ArcFit plain = FitArc(profile, shape, 0, 0.4, 4);
      evidence[f] += kFocusEvidenceShare * n * std::log1p(std::max(0.0, plain.chi2) / n);
      if (may_bear_line) evidence[f] -= gain(shape, plain);
    }
  }
  return evidence;
}

std::vector<double> LikeliestBlurs(const std::vector<BlurEvidence>& contours) {
  double best = 1e300;
  std::vector<double> factors;
  for (const double deviation : {kFlat, kVarying}) {
    const std::array<double, kFactors> chance = ChancesAt(deviation);
    double score = 0;
    std::vector<double> likeliest;
    for (const BlurEvidence& evidence : contours) {
      const double least = *std::min_element(evidence.begin(), evidence.end());
      double likelihood = 0, most = -1;
      std::size_t at = 0;
      for (std::size_t f = 0; f < kFactors; ++f) {
        const double weight = chance[f] * std::exp(-0.5 * (evidence[f] - least));
        likelihood += weight;
        if (weight > most) {
          most = weight;
          at = f;
        }
      }
      score -= 2 * std::log(std::max(1e-300, likelihood));
      likeliest.push_back(kBlurFactors[at]);
    }
    if (score < best) {
      best = score;
      factors = likeliest;
    }
  }
  return factors;
}

}  // namespace cutface
