#include "edge/focus.h"

#include <algorithm>
#include <cmath>
#include <iterator>

#include "edge/line.h"

namespace cutface {
namespace {

constexpr double kFocusEvidenceShare = 0.35;     // bins are not independent and no model is exact
constexpr double kFlat = 0.03, kVarying = 0.12;  // deviation of the blur's logarithm over a field
constexpr double kMostAlone = 0.25;  // of that logarithm, of a contour that is not on a plane
constexpr std::size_t kLeastStretches = 8;
constexpr double kUsualTilt = 0.25;   // deviation, of the logarithm at the part's far end
constexpr double kSureLine = 6;       // that a line must explain beyond an edge of any blur
constexpr double kMostEvidence = 12;  // no stretch alone rules the plane
constexpr double kPlaneGain = 12;     // that a plane must explain beyond one blur for all

// Chance of each factor in a picture whose blur varies by `deviation`.
std::array<double, kWeighedBlurs> ChancesAt(double deviation) {
  std::array<double, kWeighedBlurs> chance{};
  double sum = 0;
  for (std::size_t f = 0; f < kWeighedBlurs; ++f) {
    const double logarithm = std::log(WeighedBlur(f));
    if (std::abs(logarithm) > kMostAlone) continue;
    sum += chance[f] = std::exp(-0.5 * std::pow(logarithm / deviation, 2));
  }
  for (double& c : chance) c /= sum;
  return chance;
}

// What a plane leaves unexplained.
class PlaneScore {
 public:
  explicit PlaneScore(const std::vector<FocusStretch>& stretches) : stretches_(stretches) {
    Box<FramePx> box{stretches.front().at, stretches.front().at};
    for (const FocusStretch& s : stretches) {
      box.least = {std::min(box.least.x, s.at.x), std::min(box.least.y, s.at.y)};
      box.greatest = {std::max(box.greatest.x, s.at.x), std::max(box.greatest.y, s.at.y)};
      least_.push_back(*std::min_element(s.evidence.begin(), s.evidence.end()));
    }
    middle_ = 0.5 * (box.least + box.greatest);
    half_ =
        std::max(1.0, 0.5 * std::max(box.greatest.x - box.least.x, box.greatest.y - box.least.y));
  }

  // `tilt`: change of the logarithm from the middle to the far end of the part.
  double At(double level, PointPx tilt) const {
    double score = (level * level + Dot(tilt, tilt)) / (kUsualTilt * kUsualTilt);
    for (std::size_t i = 0; i < stretches_.size(); ++i) {
      const PointPx d = (1 / half_) * (stretches_[i].at - middle_);
      const double evidence = Interpolated(stretches_[i].evidence, level + Dot(tilt, d));
      score += std::min(kMostEvidence, evidence - least_[i]);
    }
    return score;
  }
  FocusPlane Plane(double level, PointPx tilt) const {
    return {middle_, level, tilt.x / half_, tilt.y / half_, Norm(tilt)};
  }

 private:
  static double Interpolated(const BlurEvidence& evidence, double logarithm) {
    const double factor = std::exp(logarithm);
    std::size_t f = 0;
    while (f + 2 < kWeighedBlurs && WeighedBlur(f + 1) < factor) ++f;
    const double low = std::log(WeighedBlur(f)), high = std::log(WeighedBlur(f + 1));
    const double share = std::clamp((logarithm - low) / (high - low), 0.0, 1.0);
    return (1 - share) * evidence[f] + share * evidence[f + 1];
  }

  const std::vector<FocusStretch>& stretches_;
  std::vector<double> least_;
  PointPx middle_;
  double half_ = 1;
};

}  // namespace

BlurWeights WeighBlur(const BlurArc& arc, bool bore, const EdgeShapes& shapes) {
  BlurWeights weights;
  BlurEvidence with_line{};
  const EdgeShape& usual = shapes.At(1, false);
  const LinearProfile& profile = arc.profile;
  const double n = std::max<double>(1, static_cast<double>(profile.s.size()));
  const auto gain = [&](const EdgeShape& shape, const ArcFit& plain) {
    const auto line = LineBeside(profile, shape, plain, bore);
    return line ? std::max(0.0, line->gain) : 0.0;
  };
  const bool may_bear_line = arc.lonely && gain(usual, FitArc(profile, usual, 0, 0.4, 4)) > 0;
  for (std::size_t f = 0; f < kWeighedBlurs; ++f) {
    const EdgeShape& shape = shapes.At(WeighedBlur(f), false);
    const ArcFit plain = FitArc(profile, shape, 0, 0.4, 4);
    const double alone = kFocusEvidenceShare * n * std::log1p(std::max(0.0, plain.chi2) / n);
    weights.evidence[f] = alone;
    with_line[f] = alone - (may_bear_line ? gain(shape, plain) : 0);
  }
  const auto least = [](const BlurEvidence& e) { return *std::min_element(e.begin(), e.end()); };
  weights.bears_line = least(weights.evidence) - least(with_line) > kSureLine;
  if (weights.bears_line) weights.evidence = with_line;
  return weights;
}

std::vector<double> LikeliestBlurs(const std::vector<BlurEvidence>& contours) {
  double best = 1e300;
  std::vector<double> factors;
  for (const double deviation : {kFlat, kVarying}) {
    const std::array<double, kWeighedBlurs> chance = ChancesAt(deviation);
    double score = 0;
    std::vector<double> likeliest;
    for (const BlurEvidence& evidence : contours) {
      const double least = *std::min_element(evidence.begin(), evidence.end());
      double likelihood = 0, most = -1;
      std::size_t at = 0;
      for (std::size_t f = 0; f < kWeighedBlurs; ++f) {
        const double weight = chance[f] * std::exp(-0.5 * (evidence[f] - least));
        likelihood += weight;
        if (weight > most) {
          most = weight;
          at = f;
        }
      }
      score -= 2 * std::log(std::max(1e-300, likelihood));
      likeliest.push_back(WeighedBlur(at));
    }
    if (score < best) {
      best = score;
      factors = likeliest;
    }
  }
  return factors;
}

std::optional<FocusPlane> TellFocus(const std::vector<FocusStretch>& stretches) {
  if (stretches.size() < kLeastStretches) return std::nullopt;
  const PlaneScore score(stretches);
  double flat = 1e300, best = 1e300, level = 0;
  PointPx tilt{0, 0};
  const auto look = [&](double l, PointPx t) {
    const double s = score.At(l, t);
    if (s >= best) return;
    best = s;
    level = l;
    tilt = t;
  };
  for (double l = -0.3; l < 0.31; l += 0.05) flat = std::min(flat, score.At(l, {0, 0}));
  for (double l = -0.3; l < 0.31; l += 0.1) {
    for (double x = -0.5; x < 0.51; x += 0.1) {
      for (double y = -0.5; y < 0.51; y += 0.1) look(l, {x, y});
    }
  }
  for (const double step : {0.05, 0.025}) {
    const double l0 = level;
    const PointPx t0 = tilt;
    for (int l = -1; l <= 1; ++l) {
      for (int x = -1; x <= 1; ++x) {
        for (int y = -1; y <= 1; ++y) look(l0 + l * step, {t0.x + x * step, t0.y + y * step});
      }
    }
  }
  if (flat - best < kPlaneGain) return std::nullopt;
  return score.Plane(level, tilt);
}

}  // namespace cutface
