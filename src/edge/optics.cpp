#include "edge/optics.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <iterator>
#include <map>
#include <utility>

#include "cutface/in_parallel.h"
#include "edge/line.h"
#include "edge/optics_fit.h"
#include "edge/shapes.h"

namespace cutface {
namespace {

constexpr double kGammaMean = 1.5, kGammaDeviation = 0.6;
// A plain step is the first guess, less so where the gamma is guessed too and evidence counts less.
constexpr double kRimCost = 6, kLooseRimCost = 2;
constexpr double kBandCost = 30;  // refraction bands belong to light that comes through the part
constexpr double kKnownGamma = 0.03;  // of a record, as its uncertainty
constexpr double kDoubtTemperature = 2;
// A picture tells its gamma less surely than its profiles' misfits say: guesses a little behind
// count, within the share of their kind of rim (from rendered faces of other seeds than those that
// the bench reports).
constexpr double kGammaTemperature = 8;
constexpr int kRounds = 14, kWarmRounds = 6;

struct Valley {
  RimKind kind;
  double width, offset;
};
// A rim as narrow as the blur and one much wider are separate valleys, and so are bands on the edge
// and off it.
constexpr Valley kValleys[] = {{RimKind::kStep, 0, 0},     {RimKind::kRim, 1.8, 0},
                               {RimKind::kRim, 4.5, 0},    {RimKind::kGlow, 0.9, 0},
                               {RimKind::kGlow, 3, 0},     {RimKind::kBand, 1.3, 0.8},
                               {RimKind::kBand, 1.6, 2.2}, {RimKind::kBand, 1.6, 3.6}};

constexpr double kMostSpoilt = 0.85;  // share of all trust
constexpr double kSpoilt = 0.02;      // trust in a stretch with a line
// In light that comes through, a line is easily a band that was not quite told: what lies beside it
// keeps some trust.
constexpr double kMostThrough = 0.5, kBesideBand = 0.35;

class Finder {
 public:
  Finder(const std::vector<OpticsProfile>& profiles, const GammaChoice& gamma, double through)
      : profiles_(profiles), gamma_(gamma), through_(through) {
    for (const OpticsProfile& p : profiles) trust_.push_back(p.trust);
    for (std::size_t g = 0; g < gamma.gammas.size(); ++g) weighted_.push_back(ProfilesAt(g));
  }

  std::vector<OpticsFit> All() const {
    std::vector<std::vector<OpticsFit>> by_valley(std::size(kValleys));
    std::vector<OpticsFit> fits;
    // The plain step comes first: it tells the others what blur to begin with.
    by_valley[0] = Down(kValleys[0], 1.3);
    Keep(by_valley[0], fits);
    const double blur = fits[fits.size() / 2].state.blur;
    InParallel(std::size(kValleys) - 1,
               [&](std::size_t v) { by_valley[v + 1] = Down(kValleys[v + 1], blur); });
    for (std::size_t v = 1; v < by_valley.size(); ++v) Keep(by_valley[v], fits);
    return fits;
  }

  // Takes the trust from stretches that bear a line under the optics that explain most, lines
  // included. True when there are some.
  bool LeaveOutLines(const std::vector<OpticsFit>& fits) {
    double best = 1e300;
    std::vector<char> lines;
    for (RimKind kind : {RimKind::kStep, RimKind::kRim, RimKind::kGlow, RimKind::kBand}) {
      const OpticsFit* first = nullptr;
      for (const OpticsFit& fit : fits) {
        if (fit.state.kind == kind && (!first || fit.score < first->score)) first = &fit;
      }
      if (!first) continue;
      const EdgeShapes shapes(first->state);
      double score = first->score;
      std::vector<char> here(profiles_.size(), 0);
      for (std::size_t i = 0; i < profiles_.size(); ++i) {
        const auto line =
            LineBeside(weighted_[first->gamma][i], shapes.At(profiles_[i].blur_factor, false),
                       first->contours[i], profiles_[i].bore,
                       {&shapes, profiles_[i].blur_factor, profiles_[i].u_blur});
        if (!line || line->gain <= 0) continue;
        here[i] = 1;
        score -= profiles_[i].trust * line->gain;
      }
      if (score >= best) continue;
      best = score;
      lines = here;
    }
    // Lines everywhere are no lines: the optics are not among those tried (far out of focus, say).
    double spoilt = 0, all_trust = 0;
    for (std::size_t i = 0; i < lines.size(); ++i) {
      spoilt += lines[i] ? profiles_[i].trust : 0;
      all_trust += profiles_[i].trust;
    }
    if (spoilt > kMostSpoilt * all_trust) return false;
    // Where half of a contour bears a line, the rest of it is not trusted either, unless it is all
    // that is left.
    std::map<int, std::pair<int, int>> count;
    for (std::size_t i = 0; i < lines.size(); ++i) {
      auto& [with, all] = count[profiles_[i].contour];
      with += lines[i] ? 1 : 0;
      ++all;
    }
    const bool others = std::any_of(count.begin(), count.end(), [](const auto& c) {
      return 2 * c.second.first < c.second.second;
    });
    const double rest = through_ > kMostThrough ? kBesideBand : kSpoilt;
    bool any = false;
    for (std::size_t i = 0; i < lines.size(); ++i) {
      const auto& [with, all] = count[profiles_[i].contour];
      if (lines[i])
        trust_[i] = kSpoilt * profiles_[i].trust;
      else if (others && 2 * with >= all)
        trust_[i] = rest * profiles_[i].trust;
      any = any || lines[i];
    }
    return any;
  }

  const std::vector<double>& trust() const { return trust_; }

 private:
  double Cost(const Valley& valley) const {
    return (valley.kind == RimKind::kStep ? 0
            : gamma_.recorded             ? kRimCost
                                          : kLooseRimCost) +
           (valley.kind == RimKind::kBand ? kBandCost * (1 - through_) : 0);
  }

  // The best fit near a valley's start, under each gamma.
  std::vector<OpticsFit> Down(const Valley& valley, double blur) const {
    std::vector<OpticsFit> fits;
    const double cost = Cost(valley);
    if (cost > 2 * kRimCost && valley.offset > 1) return fits;
    OpticsState start{valley.kind, valley.width, 0.3, 0.95 * blur, valley.offset};
    std::vector<double> places(profiles_.size(), 0);
    for (std::size_t g = 0; g < gamma_.gammas.size(); ++g) {
      OpticsFit fit =
          FitOptics(weighted_[g], trust_, start, places, g == 0 ? kRounds : kWarmRounds);
      fit.gamma = g;
      start = fit.state;
      for (std::size_t c = 0; c < places.size(); ++c) places[c] = fit.contours[c].x0;
      fit.apart = gamma_.costs[g];
      if (!gamma_.recorded)
        fit.apart += std::pow((gamma_.gammas[g] - kGammaMean) / kGammaDeviation, 2);
      fit.score += cost + fit.apart;
      fits.push_back(std::move(fit));
    }
    return fits;
  }

  static void Keep(std::vector<OpticsFit>& from, std::vector<OpticsFit>& fits) {
    for (OpticsFit& fit : from) {
      if (!Known(fits, fit)) fits.push_back(std::move(fit));
    }
  }

  // Two starts that end in one valley are one guess, not two.
  static bool Known(const std::vector<OpticsFit>& fits, const OpticsFit& fit) {
    return std::any_of(fits.begin(), fits.end(), [&](const OpticsFit& other) {
      return other.gamma == fit.gamma && other.state.kind == fit.state.kind &&
             std::abs(other.score - fit.score) < 0.5 &&
             std::abs(std::log(other.state.width / fit.state.width)) < 0.25 &&
             std::abs(other.state.depth - fit.state.depth) < 0.1;
    });
  }

  std::vector<LinearProfile> ProfilesAt(std::size_t g) const {
    std::vector<LinearProfile> out;
    for (const OpticsProfile& p : profiles_) {
      ProfileOptions options;
      options.noise = p.noise[g];
      out.push_back(Weighted(p.bins, g, options));
      out.back().blur_factor = p.blur_factor;
    }
    return out;
  }

  const std::vector<OpticsProfile>& profiles_;
  const GammaChoice& gamma_;
  std::vector<double> trust_;
  std::vector<std::vector<LinearProfile>> weighted_;
  double through_ = 0;
};

// Mean over a contour's profiles, by trust, of each profile's `value`.
std::vector<double> ByContour(const std::vector<OpticsProfile>& profiles,
                              const std::vector<double>& trust, int contours,
                              const std::function<double(std::size_t)>& value) {
  std::vector<double> sum(static_cast<std::size_t>(contours), 0), weight(sum);
  for (std::size_t i = 0; i < profiles.size(); ++i) {
    const std::size_t c = static_cast<std::size_t>(profiles[i].contour);
    sum[c] += trust[i] * value(i);
    weight[c] += trust[i];
  }
  for (std::size_t c = 0; c < sum.size(); ++c) sum[c] = weight[c] > 0 ? sum[c] / weight[c] : 0;
  return sum;
}

struct Temperatures {
  double kind, gamma;
};

// What each fit counts for: kinds of rim by their evidence, and among a kind's guesses of an
// unknown gamma the profiles' evidence by its own share. What else is known of the gamma counts in
// full.
std::vector<double> WeightsOf(const std::vector<OpticsFit>& fits, const OpticsFit& best,
                              const Temperatures& temperatures) {
  const auto tempered = [&](const OpticsFit& fit, double temperature) {
    const double apart = fit.apart - best.apart;
    const double profiles = fit.score - best.score - apart;
    return std::exp(-0.5 * std::min(80.0, profiles / temperature + apart));
  };
  std::map<RimKind, std::pair<double, double>> of_kind;  // sums by either temperature
  for (const OpticsFit& fit : fits) {
    auto& [kind, gamma] = of_kind[fit.state.kind];
    kind += tempered(fit, temperatures.kind);
    gamma += tempered(fit, temperatures.gamma);
  }
  std::vector<double> weights;
  for (const OpticsFit& fit : fits) {
    const auto& [kind, gamma] = of_kind[fit.state.kind];
    weights.push_back(kind / gamma * tempered(fit, temperatures.gamma));
  }
  return weights;
}

}  // namespace

Optics FindOptics(const std::vector<OpticsProfile>& profiles, int contours,
                  const GammaChoice& gamma, double through) {
  Optics optics;
  optics.gamma = gamma.recorded ? gamma.gammas[gamma.gammas.size() / 2] : 1.4;
  optics.u_contour.assign(static_cast<std::size_t>(contours), 0.3);
  optics.offset.assign(static_cast<std::size_t>(contours), 0);
  if (profiles.empty()) return optics;
  Finder finder(profiles, gamma, through);
  std::vector<OpticsFit> fits = finder.All();
  if (finder.LeaveOutLines(fits)) fits = finder.All();
  const OpticsFit& best =
      *std::min_element(fits.begin(), fits.end(),
                        [](const OpticsFit& a, const OpticsFit& b) { return a.score < b.score; });
  optics.state = best.state;
  optics.score = best.score;
  optics.gamma = gamma.gammas[best.gamma];
  // No real edge is any of these models: for the doubt, those a little behind count too.
  const auto at = [&](double kind) {
    return Temperatures{kind, gamma.recorded ? kind : std::max(kind, kGammaTemperature)};
  };
  const std::vector<double> weights = WeightsOf(fits, best, at(1)),
                            wide_weights = WeightsOf(fits, best, at(kDoubtTemperature));
  double sum = 0, wide_sum = 0, mean = 0, square = 0;
  std::vector<double> place(static_cast<std::size_t>(contours), 0), place_square(place),
      wide_place(place);
  for (std::size_t i = 0; i < fits.size(); ++i) {
    const OpticsFit& fit = fits[i];
    const double w = weights[i], wide = wide_weights[i];
    if (wide < 1e-3 && w < 1e-3) continue;
    wide_sum += wide;
    const double g = gamma.gammas[fit.gamma];
    sum += w;
    mean += w * g;
    square += w * g * g;
    const auto off = ByContour(profiles, finder.trust(), contours, [&](std::size_t p) {
      return fit.contours[p].x0 - best.contours[p].x0;
    });
    const auto doubt = ByContour(profiles, finder.trust(), contours,
                                 [&](std::size_t p) { return fit.u_shared[p]; });
    for (std::size_t c = 0; c < place.size(); ++c) {
      place[c] += w * off[c];
      wide_place[c] += wide * off[c];
      place_square[c] += wide * (off[c] * off[c] + doubt[c] * doubt[c]);
    }
  }
  optics.u_gamma = gamma.gammas.size() == 1
                       ? kKnownGamma
                       : std::sqrt(std::max(gamma.recorded ? kKnownGamma * kKnownGamma : 0.0036,
                                            square / sum - std::pow(mean / sum, 2)));
  for (std::size_t c = 0; c < place.size(); ++c) {
    optics.offset[c] = place[c] / sum;
    const double away = wide_place[c] / wide_sum - optics.offset[c];
    optics.u_contour[c] = std::sqrt(std::max(
        0.0, place_square[c] / wide_sum - std::pow(wide_place[c] / wide_sum, 2) + away * away));
  }
  return optics;
}

}  // namespace cutface
