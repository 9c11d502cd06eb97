#include "edge/line.h"

#include <algorithm>
#include <cmath>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kEvidenceShare = 0.4;  // bins are not independent and no model is exact
constexpr double kSeenLine = 0.12;      // of the edge's step, to either side
constexpr double kWide_px = 7.5;
constexpr double kLineGain = 4.5;  // evidence that a line beside the edge must bring

// Of many stretches together.
constexpr double kMovesEdge_px = 0.7;  // towards the polymer: the gap's far side was followed
constexpr double kLeastVote = 1, kManyVotes = 0.3, kVotesSum = 30;

// A gap is darker than what is beside it; a lip lies between the void's tone and the polymer's.
// Where light comes through the part, a dark line at an open bore is refraction.
bool Plausible(const ArcFit& fit, const EdgeShape& shape, bool bore) {
  const double level = fit.v + fit.line;
  const double low = std::min(fit.v, fit.p), high = std::max(fit.v, fit.p), range = high - low;
  // A narrow line may be fitted a little narrower and darker than black.
  if (level > high + 0.02 * range || level < -std::max(0.1, 0.2 * range)) return false;
  const bool through = shape.state().kind == RimKind::kBand && bore;
  if (through && fit.v > fit.p && level < low + 0.1 * range) return false;
  // A line that hardly differs from the void moves the edge without being seen.
  return std::abs(fit.line) > kSeenLine * range;
}

// As wide as any that is looked for, and hardly other than the polymer: its own shading or texture.
// What light comes through leaves such lines for real.
bool Faint(const ArcFit& fit, const EdgeShape& shape) {
  return shape.state().kind != RimKind::kBand && fit.line_width > kWide_px &&
         std::abs(fit.v + fit.line - fit.p) < kSeenLine * std::abs(fit.v - fit.p);
}

}  // namespace

namespace {

// The least that an edge of another blur leaves unexplained, its unlikelihood counted.
double WithOtherBlur(const LinearProfile& profile, const OtherBlurs& others, double start) {
  double least = 1e300;
  const double n = static_cast<double>(profile.s.size());
  for (const double factor : kBlurFactors) {
    const double off = std::log(factor / others.factor) / others.deviation;
    if (std::abs(off) > 2.5 || factor == others.factor) continue;
    const ArcFit fit = FitArc(profile, others.shapes->At(factor, false), start, 0.4, 5);
    least =
        std::min(least, kEvidenceShare * n * std::log1p(std::max(0.0, fit.chi2) / n) + off * off);
  }
  return least;
}

}  // namespace

std::optional<Line> LineBeside(const LinearProfile& profile, const EdgeShape& shape,
                               const ArcFit& plain, bool bore, const OtherBlurs& others) {
  if (profile.s.size() < 20) return std::nullopt;
  const double n = static_cast<double>(profile.s.size());
  const double before = kEvidenceShare * n * std::log1p(std::max(0.0, plain.chi2) / n);
  if (before < kLineGain) return std::nullopt;
  const ArcFit line = FitArcWithLine(profile, shape, plain.x0);
  const double after = kEvidenceShare * n * std::log1p(std::max(0.0, line.chi2) / n);
  // The further it moves the edge, the more it must explain: texture makes small gains anywhere.
  double vote = before - after - kLineGain;
  if (others.shapes && vote > 0)
    vote = std::min(vote, WithOtherBlur(profile, others, plain.x0) - after - kLineGain);
  const double gain = vote - kLineGain * 0.5 * std::abs(line.x0 - plain.x0);
  if (!Plausible(line, shape, bore) || Faint(line, shape)) return std::nullopt;
  return Line{line, gain, vote};
}

namespace {

constexpr double kLineDeepest_px = 8;  // inside the edge
constexpr double kDarkLine = 0.06;     // of the step from potting to polymer, below the polymer
constexpr double kNearestShare = 0.1;  // of the stretches: the nearest lines
constexpr double kLeastBeyond_px = 0.6;

// From where the light has fallen half way down to the darkest place inside, to that place.
std::optional<double> DarkLine(const LinearProfile& profile, const ArcFit& fit) {
  const std::size_t n = profile.s.size();
  if (fit.line != 0 || n < 20) return std::nullopt;
  const auto level = [&](std::size_t k) {
    return (profile.y[k - 1] + profile.y[k] + profile.y[k + 1]) / 3;
  };
  std::size_t darkest = 0;
  for (std::size_t k = 1; k + 1 < n; ++k) {
    const double depth = profile.s[k] - fit.x0;
    if (depth < -2 || depth > kLineDeepest_px) continue;
    if (darkest == 0 || level(k) < level(darkest)) darkest = k;
  }
  if (darkest == 0 || level(darkest) > fit.p - kDarkLine * std::abs(fit.v - fit.p))
    return std::nullopt;
  if (!(fit.v > level(darkest))) return std::nullopt;
  const double half = 0.5 * (fit.v + level(darkest));
  for (std::size_t k = darkest; k-- > 1;) {
    if (level(k) < half) continue;
    const double share = (level(k) - half) / std::max(1e-9, level(k) - level(k + 1));
    return profile.s[darkest] - profile.s[k] - share * (profile.s[k + 1] - profile.s[k]);
  }
  return std::nullopt;
}

}  // namespace

std::vector<double> BeyondNearest(const std::vector<LinearProfile>& profiles,
                                  const std::vector<ArcFit>& fits) {
  std::vector<double> beyond(fits.size(), 0), all;
  std::vector<std::optional<double>> depths;
  for (std::size_t k = 0; k < fits.size(); ++k) {
    depths.push_back(DarkLine(profiles[k], fits[k]));
    if (depths.back()) all.push_back(*depths.back());
  }
  if (all.size() < 8) return beyond;
  const double nearest = Quantile(std::move(all), kNearestShare);
  for (std::size_t k = 0; k < fits.size(); ++k) {
    if (depths[k] && *depths[k] > nearest + kLeastBeyond_px) beyond[k] = *depths[k] - nearest;
  }
  return beyond;
}

bool ManyLines(const std::vector<std::optional<Line>>& lines, const std::vector<double>& plain_x0) {
  double votes = 0, sum = 0;
  for (std::size_t k = 0; k < lines.size(); ++k) {
    if (!lines[k] || lines[k]->fit.x0 - plain_x0[k] < kMovesEdge_px || lines[k]->vote < kLeastVote)
      continue;
    ++votes;
    sum += lines[k]->vote;
  }
  return votes >= kManyVotes * static_cast<double>(lines.size()) && sum > kVotesSum;
}

}  // namespace cutface
