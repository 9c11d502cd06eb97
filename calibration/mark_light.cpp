#include "calibration/mark_light.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <limits>
#include <optional>

#include "cutface/stats.h"

namespace cutface::calibration {
namespace {

constexpr double kBinWidth_px = 0.25;
constexpr double kLeastPixels = 4;  // in a bin
constexpr double kClipped = 0.002;  // of full scale: a tone this near an end may be cut off
constexpr std::size_t kLeastMarks = 4, kLeastBins = 10, kMany = 60;
constexpr std::size_t kStarters = 4;
constexpr int kPasses = 40;
constexpr double kNear_px = 3, kFar_px = 9;  // from the edge
constexpr double kBadFit = 4;                // times the usual misfit
constexpr double kLeastSwing = 0.05;         // of full scale between mark and ground
constexpr double kTold = 0.12;               // relative: gamma less certain than this is not told
constexpr double kGammaFloor = 0.01;         // relative: no camera follows one power law better
constexpr std::array<double, 3> kStarts = {1.0, 1.5, 2.2};

// An edge blurred by the optics: share of light at distance x (px) inside of it.
enum class Tails { kGaussian, kShort };

// Share of an edge's light at distance x (px) inside of it, and its derivative by x. Both shapes
// depend on x / sigma alone.
struct EdgeShare {
  double value = 0, by_x = 0;
};

double Density(double x, double sigma) {
  return std::exp(-0.5 * x * x / (sigma * sigma)) / (sigma * std::sqrt(2 * M_PI));
}

// Short tails: a box whose variance is half of the blur's, blurred by a Gaussian with the other
// half. (The light of a defocused point is a disc with a sharp rim.)
EdgeShare Edge(double x, double sigma, Tails tails) {
  if (std::abs(x) > 6 * sigma) return {x > 0 ? 1.0 : 0.0, 0.0};
  if (tails == Tails::kGaussian) return {NormalCdf(x / sigma), Density(x, sigma)};
  const double s = sigma * std::sqrt(0.5), half = std::sqrt(3.0) * s;
  const double upper = NormalCdf((x + half) / s), lower = NormalCdf((x - half) / s);
  const auto integral = [&](double y, double cdf) { return y * cdf + s * s * Density(y, s); };
  return {(integral(x + half, upper) - integral(x - half, lower)) / (2 * half),
          (upper - lower) / (2 * half)};
}

// Light of the mark that reaches a place, and its derivatives.
struct Share {
  double value = 0, by_d = 0, by_width = 0, by_sigma = 0;
};

Share OfBars(double d, double width, double period, double sigma, Tails tails) {
  Share out;
  const int side = period > 0 ? 1 : 0;
  for (int k = -side; k <= side; ++k) {
    const double x = d - k * period;
    const EdgeShare a = Edge(x + width / 2, sigma, tails), b = Edge(x - width / 2, sigma, tails);
    out.value += a.value - b.value;
    out.by_d += a.by_x - b.by_x;
    out.by_width += 0.5 * (a.by_x + b.by_x);
    out.by_sigma -= ((x + width / 2) * a.by_x - (x - width / 2) * b.by_x) / sigma;
  }
  return out;
}

// Chords of the disc at height y = R sin t, each blurred along itself, summed by the blur across.
Share OfDisc(double r, double width, double sigma, Tails tails) {
  const double radius = width / 2;
  const double top = std::asin(std::min(1.0, 4.5 * sigma / radius));
  using Rule = boost::math::quadrature::gauss<double, 20>;
  Share out;
  const auto add = [&](double t, double weight) {
    const double half = radius * std::cos(t), y = radius * std::sin(t);
    const double share = 2 * weight * Density(y, sigma);
    const EdgeShare a = Edge(half - r, sigma, tails), b = Edge(-half - r, sigma, tails);
    out.value += share * half * (a.value - b.value);
    out.by_d += share * half * (b.by_x - a.by_x);
    out.by_width += 0.5 * share * radius * (a.by_x + b.by_x);  // dR: half moves by R / half
  };
  for (std::size_t k = 0; k < Rule::abscissa().size(); ++k) {
    const double x = Rule::abscissa()[k], w = Rule::weights()[k] * top / 2;
    add(top / 2 * (1 + x), w);
    if (x != 0) add(top / 2 * (1 - x), w);
  }
  out.by_sigma = -(r * out.by_d + width * out.by_width) / sigma;
  return out;
}

constexpr int kCommon = 2, kOwn = 5;  // log gamma, log sigma; ground, mark, slope, shift, width
using Own = Eigen::Matrix<double, kOwn, 1>;
using Common = Eigen::Vector2d;

struct State {
  Common common;
  std::vector<Own> own;
  double cost = 0;
};

// Tone at a bin and its derivatives; nullopt where the light would be negative.
struct Tone {
  double tone = 0;
  Common by_common;
  Own by_own;
};
std::optional<Tone> ToneAt(const MarkProfile& mark, const Common& common, const Own& own, double d,
                           Tails tails) {
  const double gamma = std::exp(common(0)), sigma = std::exp(common(1));
  if (!(own(4) > 0.3)) return std::nullopt;
  const Share share = mark.disc ? OfDisc(d, own(4), sigma, tails)
                                : OfBars(d - own(3), own(4), mark.period, sigma, tails);
  const double swing = own(1) - own(0);
  const double light = own(0) * (1 + own(2) * d) + swing * share.value;
  if (!(light > 1e-6)) return std::nullopt;
  Tone out;
  out.tone = std::pow(light, 1 / gamma);
  const double slope = out.tone / (gamma * light);
  out.by_common(0) = -out.tone * std::log(light) / gamma;
  out.by_common(1) = slope * swing * share.by_sigma * sigma;
  out.by_own(0) = slope * (1 + own(2) * d - share.value);
  out.by_own(1) = slope * share.value;
  out.by_own(2) = mark.disc ? 0 : slope * own(0) * d;
  out.by_own(3) = mark.disc ? 0 : -slope * swing * share.by_d;
  out.by_own(4) = slope * swing * share.by_width;
  return out;
}

double CostOf(const MarkProfile& mark, const Common& common, const Own& own, Tails tails) {
  double cost = 0;
  for (const auto& bin : mark.bins) {
    const auto tone = ToneAt(mark, common, own, bin.d, tails);
    if (!tone) return std::numeric_limits<double>::infinity();
    cost += std::pow(bin.tone - tone->tone, 2) / bin.variance;
  }
  return cost;
}

double CostOf(const std::vector<MarkProfile>& marks, const State& s, Tails tails) {
  double cost = 0;
  for (std::size_t k = 0; k < marks.size(); ++k)
    cost += CostOf(marks[k], s.common, s.own[k], tails);
  return cost;
}

// One Gauss-Newton step; `left` receives the normal matrix of what all marks share.
State Step(const std::vector<MarkProfile>& marks, const State& s, Tails tails, double damping,
           Eigen::Matrix2d& left) {
  struct Part {
    Eigen::Matrix<double, kOwn, kOwn> inverse;
    Eigen::Matrix<double, kOwn, kCommon> cross;
    Own rest;
  };
  std::vector<Part> parts(marks.size());
  left.setZero();
  Common right = Common::Zero();
  for (std::size_t k = 0; k < marks.size(); ++k) {
    Eigen::Matrix<double, kOwn, kOwn> own = Eigen::Matrix<double, kOwn, kOwn>::Zero();
    Eigen::Matrix<double, kOwn, kCommon> cross = Eigen::Matrix<double, kOwn, kCommon>::Zero();
    Eigen::Matrix2d common = Eigen::Matrix2d::Zero();
    Own rest = Own::Zero();
    for (const auto& bin : marks[k].bins) {
      const auto tone = ToneAt(marks[k], s.common, s.own[k], bin.d, tails);
      if (!tone) continue;
      const double w = 1 / bin.variance, miss = bin.tone - tone->tone;
      own += w * tone->by_own * tone->by_own.transpose();
      cross += w * tone->by_own * tone->by_common.transpose();
      common += w * tone->by_common * tone->by_common.transpose();
      rest += w * miss * tone->by_own;
      right += w * miss * tone->by_common;
    }
    for (int i = 0; i < kOwn; ++i) own(i, i) = own(i, i) * (1 + damping) + 1e-12;
    if (marks[k].disc) own(2, 2) = own(3, 3) = 1;
    parts[k] = {own.inverse(), cross, rest};
    left += common - cross.transpose() * parts[k].inverse * cross;
    right -= cross.transpose() * parts[k].inverse * rest;
  }
  Eigen::Matrix2d damped = left;
  damped.diagonal() *= 1 + damping;
  State next = s;
  Common by = damped.ldlt().solve(right);
  by = by.cwiseMax(-0.3).cwiseMin(0.3);
  next.common += by;
  for (std::size_t k = 0; k < marks.size(); ++k)
    next.own[k] += parts[k].inverse * (parts[k].rest - parts[k].cross * by);
  return next;
}

// Tones of mark and ground and the width between the half levels: roughly, to start from.
Own StartOf(const MarkProfile& mark, double gamma) {
  std::vector<MarkProfile::Bin> near = mark.bins;
  std::sort(near.begin(), near.end(),
            [](const auto& a, const auto& b) { return std::abs(a.d) < std::abs(b.d); });
  const double middle = (near[0].tone + near[1].tone + near[2].tone) / 3;
  std::vector<double> tones;
  for (const auto& bin : mark.bins) tones.push_back(bin.tone);
  const double low = Quantile(tones, 0.05), high = Quantile(tones, 0.95);
  const double ground = high - middle > middle - low ? high : low;
  // Bins may lie a whole pixel apart: where a line follows the pixels' own rows.
  double width = 0;
  for (std::size_t k = 0; k < mark.bins.size(); ++k) {
    const auto& bin = mark.bins[k];
    if (std::abs(bin.tone - middle) >= std::abs(bin.tone - ground)) continue;
    const double below = mark.bins[k > 0 ? k - 1 : k].d,
                 above = mark.bins[std::min(k + 1, mark.bins.size() - 1)].d;
    width += 0.5 * (above - below);
  }
  Own own;
  own << std::pow(ground, gamma), std::pow(middle, gamma), 0, 0,
      std::max(0.6, mark.disc ? 2 * width : width);
  return own;
}

// Far from the edges the ground tells nothing more; every second bin is enough a little nearer.
void Prune(MarkProfile& mark) {
  const double half = StartOf(mark, 1)(4) / 2;
  std::vector<MarkProfile::Bin> kept;
  for (std::size_t k = 0; k < mark.bins.size(); ++k) {
    const double away = std::abs(std::abs(mark.bins[k].d) - half);
    if (away > kFar_px || (away > kNear_px && mark.bins.size() > kMany && k % 2 == 1)) continue;
    kept.push_back(mark.bins[k]);
  }
  mark.bins = std::move(kept);
}

State Start(const std::vector<MarkProfile>& marks, double gamma, double sigma) {
  State s;
  s.common = {std::log(gamma), std::log(sigma)};
  for (const MarkProfile& mark : marks) s.own.push_back(StartOf(mark, gamma));
  return s;
}

struct Settled {
  State state;
  Eigen::Matrix2d normal;
};

Settled Settle(const std::vector<MarkProfile>& marks, State state, Tails tails) {
  Settled out;
  state.cost = CostOf(marks, state, tails);
  double damping = 1e-2;
  for (int pass = 0; pass < kPasses; ++pass) {
    State next = Step(marks, state, tails, damping, out.normal);
    next.cost = CostOf(marks, next, tails);
    if (next.cost <= state.cost) {
      const double gain = state.cost - next.cost;
      state = std::move(next);
      damping = std::max(1e-7, damping / 8);
      if (gain < std::max(0.02, 1e-5 * state.cost) && pass > 2) break;
    } else {
      damping *= 10;
      if (damping > 1e4) break;
    }
  }
  Step(marks, state, tails, 0, out.normal);
  out.state = std::move(state);
  return out;
}

double FreedomOf(const std::vector<MarkProfile>& marks) {
  double n = -kCommon;
  for (const MarkProfile& mark : marks)
    n += static_cast<double>(mark.bins.size()) - (mark.disc ? kOwn - 2 : kOwn);
  return std::max(1.0, n);
}

// Takes out marks that dirt or damage makes unlike the others; true when any was.
bool DropBad(std::vector<MarkProfile>& marks, State& state) {
  std::vector<double> misfit;
  for (std::size_t k = 0; k < marks.size(); ++k) {
    misfit.push_back(CostOf(marks[k], state.common, state.own[k], Tails::kGaussian) /
                     static_cast<double>(marks[k].bins.size()));
  }
  const double limit = kBadFit * Median(misfit);
  std::vector<MarkProfile> kept;
  std::vector<Own> own;
  for (std::size_t k = 0; k < marks.size(); ++k) {
    if (!(misfit[k] <= limit)) continue;
    kept.push_back(std::move(marks[k]));
    own.push_back(state.own[k]);
  }
  const bool any = kept.size() < misfit.size();
  marks = std::move(kept);
  state.own = std::move(own);
  return any;
}

}  // namespace

ProfileBins::ProfileBins(double reach, bool folded)
    : reach_(reach),
      folded_(folded),
      sums_(static_cast<std::size_t>(std::ceil((folded ? 1 : 2) * reach / kBinWidth_px)) + 1) {}

void ProfileBins::Add(double d, double tone) {
  if (folded_) d = std::abs(d);
  if (!(std::abs(d) <= reach_)) return;
  Sum& sum = sums_[static_cast<std::size_t>((folded_ ? d : d + reach_) / kBinWidth_px)];
  sum.n += 1;
  sum.d += d;
  sum.t += tone;
  sum.t2 += tone * tone;
  sum.d2 += d * d;
  sum.dt += d * tone;
  all_ += 1;
  if (tone < kClipped || tone > 1 - kClipped) clipped_ += 1;
}

void ProfileBins::AddPixels(const Micrograph& picture, PointPx centre, double reach) {
  const int x0 = std::max(0, static_cast<int>(std::floor(centre.x - reach)));
  const int y0 = std::max(0, static_cast<int>(std::floor(centre.y - reach)));
  const int x1 = std::min(picture.width() - 1, static_cast<int>(std::ceil(centre.x + reach)));
  const int y1 = std::min(picture.height() - 1, static_cast<int>(std::ceil(centre.y + reach)));
  for (int y = y0; y <= y1; ++y) {
    for (int x = x0; x <= x1; ++x) {
      Add(std::hypot(x - centre.x, y - centre.y), picture.At(x, y));
    }
  }
}

std::vector<MarkProfile::Bin> ProfileBins::Bins() const {
  std::vector<MarkProfile::Bin> bins;
  // Scatter about the bin's own slope: on an edge the tone changes within a bin.
  const auto scatter = [](const Sum& s) {
    const double tt = s.t2 - s.t * s.t / s.n, dd = s.d2 - s.d * s.d / s.n,
                 dt = s.dt - s.d * s.t / s.n;
    return std::max(0.0, tt - (dd > 1e-9 * s.n ? dt * dt / dd : 0));
  };
  double square = 0, freedom = 0;
  for (const Sum& s : sums_) {
    if (s.n < kLeastPixels) continue;
    square += scatter(s);
    freedom += s.n - 2;
  }
  const double usual = freedom > 0 ? square / freedom : 1e-6;
  for (const Sum& s : sums_) {
    if (s.n < kLeastPixels) continue;
    // Few pixels tell their own scatter badly: drawn towards what all bins have.
    const double own = (scatter(s) + 4 * usual) / (s.n + 2);
    bins.push_back({s.d / s.n, s.t / s.n, std::max(own, 1e-7) / s.n});
  }
  return bins;
}

tl::expected<LightFit, std::string> FitLight(std::vector<MarkProfile> marks) {
  const auto untold = [](std::string why) { return tl::unexpected<std::string>(std::move(why)); };
  std::erase_if(marks, [](const MarkProfile& m) {
    if (m.bins.size() < kLeastBins) return true;
    const auto [low, high] = std::minmax_element(
        m.bins.begin(), m.bins.end(), [](const auto& a, const auto& b) { return a.tone < b.tone; });
    return high->tone - low->tone < kLeastSwing;
  });
  if (marks.size() < kLeastMarks)
    return untold(fmt::format("only {} marks are fit for it", marks.size()));
  for (MarkProfile& mark : marks) Prune(mark);
  // A few marks choose among the starts, all of them follow.
  std::vector<MarkProfile> few;
  for (std::size_t k = 0; k < kStarters; ++k) few.push_back(marks[k * marks.size() / kStarters]);
  std::optional<Settled> best;
  for (double gamma : kStarts) {
    Settled settled = Settle(few, Start(few, gamma, 1.2), Tails::kGaussian);
    if (!best || settled.state.cost < best->state.cost) best = std::move(settled);
  }
  best =
      Settle(marks, Start(marks, std::exp(best->state.common(0)), std::exp(best->state.common(1))),
             Tails::kGaussian);
  if (!std::isfinite(best->state.cost)) return untold("no blurred edge fits the marks");
  if (DropBad(marks, best->state)) {
    if (marks.size() < kLeastMarks) return untold("the marks are too unlike one another");
    best = Settle(marks, best->state, Tails::kGaussian);
  }
  const Settled other = Settle(marks, best->state, Tails::kShort);
  const double freedom = FreedomOf(marks);
  const double birge = std::max(1.0, std::sqrt(best->state.cost / freedom));
  const Eigen::Matrix2d cov = best->normal.inverse() * birge * birge;
  // The mean of both shapes of the blur, weighed by how well each fits.
  const double gap = (other.state.cost - best->state.cost) / (birge * birge);
  const double share = 1 / (1 + std::exp(std::clamp(gap / 2, -50.0, 50.0)));
  const Common between = other.state.common - best->state.common;
  const Common mean = best->state.common + share * between;
  const auto u_of = [&](int i) {
    return std::sqrt(std::max(0.0, cov(i, i)) + std::pow(between(i), 2) / 12);
  };
  LightFit out;
  out.gamma = std::exp(mean(0));
  out.u_gamma = out.gamma * std::hypot(u_of(0), kGammaFloor);
  out.blur_px = std::exp(mean(1));
  out.u_blur_px = out.blur_px * u_of(1);
  out.marks = static_cast<int>(marks.size());
  if (!std::isfinite(out.u_gamma) || !(out.blur_px > 0.2 && out.blur_px < 20))
    return untold("no blurred edge fits the marks");
  if (out.u_gamma > kTold * out.gamma || out.gamma < 0.4 || out.gamma > 4) {
    return untold(fmt::format("its edges leave {:.1f} within {:.1f}", out.gamma, 2 * out.u_gamma));
  }
  return out;
}

}  // namespace cutface::calibration
