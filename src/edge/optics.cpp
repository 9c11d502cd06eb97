#include "edge/optics.h"

#include <cmath>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kGammas[] = {1.0, 1.4, 1.8, 2.2};
// Bins are not independent and no model is exact: evidence counts by this share.
constexpr double kEvidenceShare = 0.35;

struct Trial {
  OpticsState state;
  double gamma = 1;
  double score = 0;
  std::vector<double> place;  // mean x0 by contour
};

class Finder {
 public:
  Finder(const std::vector<OpticsArc>& arcs, int contours) : arcs_(arcs), contours_(contours) {
    for (const OpticsArc& arc : arcs)
      bright_share_ += (arc.bright_void ? 1.0 : 0.0) / static_cast<double>(arcs.size());
  }

  Trial Best(RimKind kind, double gamma, const OpticsState& start) {
    profiles_.clear();
    for (const OpticsArc& arc : arcs_) {
      ProfileOptions options;
      options.noise = arc.noise;
      profiles_.push_back(Linearised(arc.bins, gamma, options));
    }
    starts_.clear();
    for (const OpticsArc& arc : arcs_) starts_.push_back(arc.start);
    Trial trial;
    trial.gamma = gamma;
    trial.state = start;
    trial.state.kind = kind;
    trial.score = Score(trial.state);
    double step = 0.35;
    const int parameters = kind == RimKind::kStep ? 1 : 3;
    for (int round = 0; round < 6; ++round) {
      for (int k = 0; k < parameters; ++k) {
        for (double way : {1.0, -1.0}) {
          bool gained = false;
          for (int tries = 0; tries < 3; ++tries) {
            const OpticsState next = Moved(trial.state, k, way * step);
            const double value = Score(next);
            if (value >= trial.score - 1e-6) break;
            trial.score = value;
            trial.state = next;
            gained = true;
          }
          if (gained) break;
        }
      }
      step *= 0.55;
    }
    trial.place = Places(trial.state);
    trial.score += Prior(trial.state, gamma);
    // Refraction bands belong to light that comes through the part.
    if (kind == RimKind::kBand) trial.score += 30 * (1 - bright_share_);
    return trial;
  }

 private:
  static OpticsState Moved(OpticsState s, int parameter, double amount) {
    if (parameter == 0) s.blur = std::clamp(s.blur * std::exp(0.6 * amount), 0.4, 5.0);
    if (parameter == 1) s.width = std::clamp(s.width * std::exp(amount), 0.5, 9.0);
    if (parameter == 2) s.depth = std::clamp(s.depth + 0.5 * amount, 0.02, 0.9);
    return s;
  }

  // Student-like sum: an arc that no optics explains (lip, chip, gap) must not rule the rest.
  double Score(const OpticsState& state) {
    const EdgeShape shape(state);
    double total = 0;
    for (std::size_t i = 0; i < arcs_.size(); ++i) {
      const LinearProfile& d = profiles_[i];
      if (d.s.size() < 20) continue;
      const ArcFit fit = FitArc(d, shape, starts_[i], 0.25, 4);
      starts_[i] = fit.x0;
      const double n = static_cast<double>(d.s.size());
      total += n * std::log1p(std::max(0.0, fit.chi2) / n);
    }
    return kEvidenceShare * total;
  }

  std::vector<double> Places(const OpticsState& state) {
    const EdgeShape shape(state);
    std::vector<double> sum(static_cast<std::size_t>(contours_), 0), weight(sum.size(), 0);
    for (std::size_t i = 0; i < arcs_.size(); ++i) {
      if (profiles_[i].s.size() < 20) continue;
      const ArcFit fit = FitArc(profiles_[i], shape, starts_[i]);
      const std::size_t c = static_cast<std::size_t>(arcs_[i].contour);
      sum[c] += fit.x0;
      weight[c] += 1;
    }
    for (std::size_t c = 0; c < sum.size(); ++c) sum[c] = weight[c] > 0 ? sum[c] / weight[c] : 0;
    return sum;
  }

  static double Prior(const OpticsState& state, double gamma) {
    double cost = std::pow((gamma - 1.5) / 0.6, 2);
    cost += std::pow(std::log(state.blur / 1.4) / 0.5, 2);
    if (state.kind != RimKind::kStep) {
      cost += 5 + std::pow(std::log(state.width / 2.5) / 0.8, 2) +
              std::pow((state.depth - 0.3) / 0.4, 2);
    }
    return cost;
  }

  const std::vector<OpticsArc>& arcs_;
  int contours_;
  double bright_share_ = 0;
  std::vector<LinearProfile> profiles_;
  std::vector<double> starts_;
};

}  // namespace

Optics FindOptics(const std::vector<OpticsArc>& arcs, int contours, std::optional<double> gamma) {
  Optics optics;
  optics.gamma = gamma.value_or(1.4);
  optics.u_contour.assign(static_cast<std::size_t>(contours), 0.3);
  optics.offset.assign(static_cast<std::size_t>(contours), 0);
  if (arcs.empty()) return optics;
  Finder finder(arcs, contours);
  std::vector<double> gammas;
  if (gamma)
    gammas = {*gamma};
  else
    gammas.assign(std::begin(kGammas), std::end(kGammas));
  std::vector<Trial> trials;
  double step_blur = 1.3;
  for (RimKind kind : {RimKind::kStep, RimKind::kRim, RimKind::kGlow, RimKind::kBand}) {
    // Two starts: a rim as narrow as the blur and one much wider are separate valleys.
    for (const double width : {1.2, 4.0}) {
      if (kind == RimKind::kStep && width > 2) continue;
      OpticsState start;
      start.width = width;
      start.blur = kind == RimKind::kStep ? step_blur : 0.95 * step_blur;
      for (double g : gammas) {
        trials.push_back(finder.Best(kind, g, start));
        start = trials.back().state;
      }
    }
    if (kind == RimKind::kStep) step_blur = trials.back().state.blur;
  }
  const Trial* best = &trials.front();
  for (const Trial& t : trials) {
    if (t.score < best->score) best = &t;
  }
  optics.state = best->state;
  optics.score = best->score;
  double weight_sum = 0, mean = 0, square = 0;
  std::vector<double> place(static_cast<std::size_t>(contours), 0), place_square(place);
  for (const Trial& t : trials) {
    const double w = std::exp(-0.5 * std::min(80.0, t.score - best->score));
    weight_sum += w;
    mean += w * t.gamma;
    square += w * t.gamma * t.gamma;
    for (std::size_t c = 0; c < place.size(); ++c) {
      const double off = t.place[c] - best->place[c];
      place[c] += w * off;
      place_square[c] += w * off * off;
    }
  }
  optics.gamma = gamma ? *gamma : best->gamma;
  optics.u_gamma =
      gamma ? 0.03
            : std::sqrt(std::max(0.0144, square / weight_sum - std::pow(mean / weight_sum, 2)));
  for (std::size_t c = 0; c < place.size(); ++c) {
    optics.offset[c] = place[c] / weight_sum;
    optics.u_contour[c] =
        std::sqrt(std::max(0.0, place_square[c] / weight_sum - std::pow(optics.offset[c], 2)));
  }
  return optics;
}

}  // namespace cutface
