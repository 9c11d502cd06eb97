#include "edge/line.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace cutface {
namespace {

constexpr double kEvidenceShare = 0.4;  // bins are not independent and no model is exact
constexpr double kLineGain = 4.5;       // evidence that a line beside the edge must bring
constexpr double kStayCost = 2.5;       // where it only goes on: its width and its level
constexpr double kAlikeTone = 0.15;  // by which a line's tone varies along it, of the edge's step
constexpr double kWidths[] = {0.8, 1.1, 1.5, 2.1, 2.9, 4.0, 5.6, 8.0};  // px
constexpr double kDarkest = -0.03;  // of the body: no light is less than none
constexpr double kNothing = 1e-6;

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

// So does one of the polymer's own tone, but for the rim or band that shows where the polymer
// begins.
bool Marked(const ArcFit& fit, const EdgeShape& shape) {
  const double level = fit.v + fit.line, range = std::abs(fit.p - fit.v);
  const OpticsState& optics = shape.state();
  const double mark = optics.kind == RimKind::kStep ? 0 : optics.depth * fit.p;
  return std::max(std::abs(level - fit.p) / 0.06, mark / 0.1) > range;
}

}  // namespace

std::optional<Line> LineBeside(const LinearProfile& profile, const EdgeShape& shape,
                               const ArcFit& plain, bool bore) {
  if (profile.s.size() < 20) return std::nullopt;
  const double n = static_cast<double>(profile.s.size());
  const double before = kEvidenceShare * n * std::log1p(std::max(0.0, plain.chi2) / n);
  if (before < kStayCost) return std::nullopt;
  const ArcFit line = FitArcWithLine(profile, shape, plain.x0);
  const double after = kEvidenceShare * n * std::log1p(std::max(0.0, line.chi2) / n);
  // The further it moves the edge, the more it must explain: texture makes small gains anywhere.
  const double cost = kLineGain * (1 + 0.5 * std::abs(line.x0 - plain.x0));
  if (!Plausible(line, shape, bore)) return std::nullopt;
  const double stay = kStayCost * (1 + 0.25 * std::abs(line.x0 - plain.x0));
  return Line{line, before - after, cost, stay, before - after - cost, Marked(line, shape)};
}

LineSpread OverWidths(const LinearProfile& profile, const EdgeShape& shape, const ArcFit& line,
                      bool bore) {
  const double n = static_cast<double>(profile.s.size());
  double sum = 0, mean = 0, square = 0;
  std::vector<ArcFit> fits{line};
  for (const double width : kWidths) {
    const double middle = line.x0 - 0.5 * line.line_width;
    const ArcFit fit = FitArcWithLineOf(profile, shape, middle + 0.5 * width, width);
    if (Plausible(fit, shape, bore) && Marked(fit, shape) && fit.v + fit.line > kDarkest)
      fits.push_back(fit);
  }
  // The best one is a guess among the others, not one more.
  for (std::size_t k = fits.size() > 1 ? 1 : 0; k < fits.size(); ++k) {
    const double behind =
        kEvidenceShare * n *
        (std::log1p(std::max(0.0, fits[k].chi2) / n) - std::log1p(std::max(0.0, line.chi2) / n));
    const double w = std::exp(-0.5 * behind);
    sum += w;
    mean += w * fits[k].x0;
    square += w * fits[k].x0 * fits[k].x0;
  }
  if (!(sum > kNothing)) return {line, 0};
  mean /= sum;
  const auto nearest =
      std::min_element(fits.begin(), fits.end(), [&](const ArcFit& a, const ArcFit& b) {
        return std::abs(a.x0 - mean) < std::abs(b.x0 - mean);
      });
  return {*nearest, std::sqrt(std::max(0.0, square / sum - mean * mean))};
}

namespace {

// Weights of a ring of stretches, each without (0) or with a line (1).
struct Ring {
  const std::vector<StretchEvidence>& stretches;

  std::size_t size() const { return stretches.size(); }
  // Beginning costs what a line by itself must bring, less what staying in it does.
  double Begin(std::size_t i) const { return std::max(0.0, stretches[i].cost - stretches[i].stay); }
  double Weight(std::size_t i, int state) const {
    if (state == 0) return 1;
    const StretchEvidence& s = stretches[i];
    return s.possible ? std::exp(0.5 * std::clamp(s.evidence - s.stay, -200.0, 200.0)) : 0;
  }
  // From the stretch before to this one; another tone is another line.
  double Step(std::size_t to, int from_state, int to_state) const {
    if (to_state == 0) return 1;
    if (from_state == 0) return std::exp(-0.5 * Begin(to));
    const StretchEvidence& before = stretches[(to + size() - 1) % size()];
    const double unlike = std::pow((stretches[to].tone - before.tone) / kAlikeTone, 2);
    return std::exp(-0.5 * std::min(unlike, Begin(to)));
  }
};

using States = std::array<double, 2>;

void Scale(States& v, double& log_scale) {
  const double most = std::max(v[0], v[1]);
  if (!(most > 0)) return;
  log_scale += std::log(most);
  v = {v[0] / most, v[1] / most};
}

// Chances of a line in each stretch where the first one is in state `first`; `log_sum` becomes the
// logarithm of the weight of all that is possible then.
std::vector<double> ChancesGiven(const Ring& ring, int first, double& log_sum) {
  const std::size_t n = ring.size();
  std::vector<States> forward(n), backward(n);
  double log_scale = 0, unused = 0;
  forward[0] = {first == 0 ? ring.Weight(0, 0) : 0.0, first == 1 ? ring.Weight(0, 1) : 0.0};
  for (std::size_t i = 1; i < n; ++i) {
    for (const int to : {0, 1}) {
      forward[i][static_cast<std::size_t>(to)] =
          ring.Weight(i, to) *
          (forward[i - 1][0] * ring.Step(i, 0, to) + forward[i - 1][1] * ring.Step(i, 1, to));
    }
    Scale(forward[i], log_scale);
  }
  backward[n - 1] = {ring.Step(0, 0, first), ring.Step(0, 1, first)};
  if (n == 1) backward[0] = {1, std::exp(-0.5 * ring.Begin(0))};
  for (std::size_t i = n - 1; i-- > 0;) {
    for (const int from : {0, 1}) {
      backward[i][static_cast<std::size_t>(from)] =
          ring.Step(i + 1, from, 0) * ring.Weight(i + 1, 0) * backward[i + 1][0] +
          ring.Step(i + 1, from, 1) * ring.Weight(i + 1, 1) * backward[i + 1][1];
    }
    Scale(backward[i], unused);
  }
  const double all =
      forward[n - 1][0] * backward[n - 1][0] + forward[n - 1][1] * backward[n - 1][1];
  log_sum = all > 0 ? log_scale + std::log(all) : -1e300;
  std::vector<double> chances;
  for (std::size_t i = 0; i < n; ++i) {
    const double none = forward[i][0] * backward[i][0], line = forward[i][1] * backward[i][1];
    chances.push_back(none + line > 0 ? line / (none + line) : 0);
  }
  return chances;
}

// A line all around begins somewhere too, which no step between two stretches has paid.
void PayAllAround(const Ring& ring, std::vector<double>& chances, double& log_sum) {
  double around = 0, least = 1e300;
  for (std::size_t i = 0; i < ring.size(); ++i) {
    if (!ring.stretches[i].possible) return;
    around += std::log(ring.Weight(i, 1) * ring.Step(i, 1, 1));
    least = std::min(least, ring.Begin(i));
  }
  const double less = std::min(1.0, std::exp(around - log_sum)) * -std::expm1(-0.5 * least);
  const double left = 1 - less;
  if (!(left > 0)) return;
  log_sum += std::log(left);
  for (double& chance : chances) chance = std::clamp((chance - less) / left, 0.0, 1.0);
}

}  // namespace

std::vector<double> LineChances(const std::vector<StretchEvidence>& stretches) {
  if (stretches.empty()) return {};
  const Ring ring{stretches};
  double without = 0, with = 0;
  const std::vector<double> given_none = ChancesGiven(ring, 0, without);
  std::vector<double> chances = ChancesGiven(ring, 1, with);
  if (stretches.size() > 1) PayAllAround(ring, chances, with);
  const double share = 1 / (1 + std::exp(std::clamp(without - with, -700.0, 700.0)));
  for (std::size_t i = 0; i < chances.size(); ++i)
    chances[i] = (1 - share) * given_none[i] + share * chances[i];
  return chances;
}

}  // namespace cutface
