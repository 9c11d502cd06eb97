#include "edge/line.h"

#include <algorithm>
#include <cmath>

namespace cutface {
namespace {

constexpr double kEvidenceShare = 0.4;  // bins are not independent and no model is exact
constexpr double kLineGain = 4.5;       // evidence that a line beside the edge must bring

// A gap is darker than what is beside it; a lip lies between the void's tone and the polymer's.
// Where light comes through the part, a dark line at an open bore is refraction.
bool Plausible(const ArcFit& fit, const EdgeShape& shape, bool bore) {
  const double level = fit.v + fit.line;
  const double low = std::min(fit.v, fit.p), high = std::max(fit.v, fit.p), range = high - low;
  if (level > high + 0.02 * range || level < -0.1) return false;
  const bool through = shape.state().kind == RimKind::kBand && bore;
  if (through && fit.v > fit.p && level < low + 0.1 * range) return false;
  // A line that hardly differs from the void moves the edge without being seen.
  return std::abs(fit.line) > 0.12 * range;
}

}  // namespace

std::optional<Line> LineBeside(const LinearProfile& profile, const EdgeShape& shape,
                               const ArcFit& plain, bool bore) {
  if (profile.s.size() < 20) return std::nullopt;
  const double n = static_cast<double>(profile.s.size());
  const double before = kEvidenceShare * n * std::log1p(std::max(0.0, plain.chi2) / n);
  if (before < kLineGain) return std::nullopt;
  const ArcFit line = FitArcWithLine(profile, shape, plain.x0);
  const double after = kEvidenceShare * n * std::log1p(std::max(0.0, line.chi2) / n);
  // The further it moves the edge, the more it must explain: texture makes small gains anywhere.
  const double gain = before - after - kLineGain * (1 + 0.5 * std::abs(line.x0 - plain.x0));
  if (!Plausible(line, shape, bore)) return std::nullopt;
  return Line{line, gain};
}

}  // namespace cutface
