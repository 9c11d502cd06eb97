#include "identify/seam.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <optional>

#include "cutface/stats.h"
#include "identify/closed_path.h"
#include "identify/harmonics.h"
#include "identify/seam_strip.h"

namespace cutface {
namespace {

constexpr double kMostResponse = 15;  // deviations: what one place may say
constexpr std::size_t kCandidates = 6;
constexpr double kLeastScore = 40;  // square of standard deviations, greatest of thousands of tries
constexpr double kLeastSeen = 0.25;    // of a seam's places
constexpr double kPath_px = 4;         // of the path about the best circle
constexpr double kMiddle_px = 1.5;     // about the seam
constexpr double kLeastShown = 0.45;   // of a stretch's surroundings
constexpr double kMisfitPrice = 3;     // of what is left against what is explained
constexpr std::size_t kRough = 40;     // placings that are looked at closely
constexpr int kBlock = 4;              // places matched together
constexpr double kMostShift_px = 1.5;  // of one match
constexpr double kSeenSigma_px = 1.2;  // of a stretch that was seen
constexpr double kModelDoubt_px =
    0.08;  // of the place in a pooled profile: it follows no model quite
constexpr double kSampling_px2 = 0.2;   // variance
constexpr double kProfileFloor = 0.01;  // of step and line
constexpr double kBeside_px = 3.5;      // of a seam: blur and line that are its own
constexpr std::size_t kSeamsTried = 5;  // candidates that are settled where two seams lie near
constexpr double kStraight_px = 0.25;   // of a seam's wandering: real ones stay below
constexpr double kShared_px = 3;        // nearer than this two seams follow one line
constexpr int kOrders[] = {3, 5, 8, 12, 18, 26};

struct Placing {
  double size = 0, x = 0, y = 0;  // px: offset along the normal is size + (x, y) . normal
  double score = 0;
  double At(const Strip& s, int i) const {
    const PointPx n = s.ribbon.normal[static_cast<std::size_t>(i)];
    return size + x * n.x + y * n.y;
  }
};

// Responses summed along a circle; each place is clipped, so that no wire speaks for the others.
struct Along {
  double line = 0, step = 0;
  int seen = 0;
};
Along SumAlong(const Strip& s, const Placing& c, int every) {
  Along a;
  const double most_line = kMostResponse * s.u_line, most_step = kMostResponse * s.u_step;
  for (int i = 0; i < s.places(); i += every) {
    const int j = static_cast<int>(std::lround((c.At(s, i) - s.ribbon.from) / s.ribbon.step));
    if (j < 0 || j >= s.line.cols || !std::isfinite(s.line(i, j)) || !std::isfinite(s.step(i, j)))
      continue;
    a.line += std::clamp<double>(s.line(i, j), -most_line, most_line);
    a.step += std::clamp<double>(s.step(i, j), -most_step, most_step);
    ++a.seen;
  }
  return a;
}

// That a seam lies so far off its drawn place.
double Belief(const Strip& s, const Placing& c) {
  const double off = std::pow(c.size / (0.7 * s.size_reach), 2) +
                     std::pow(std::hypot(c.x, c.y) / (0.8 * s.shift_reach), 2);
  return std::exp(-0.5 * off);
}

double ScoreOf(const Strip& s, const Placing& c, const Along& a, int every) {
  if (a.seen == 0 || a.seen * every < kLeastSeen * s.places()) return 0;
  // Places share what lies within kSeamAlong of both: fewer of them speak for themselves.
  const double own = std::max(1.0, (2.0 * kSeamAlong + 1) / every);
  const double z2 =
      (std::pow(std::max(0.0, a.line) / s.u_line, 2) + std::pow(a.step / s.u_step, 2)) /
      (a.seen * own);
  return z2 * Belief(s, c);
}

// The best ones, none nearer than `px` to a better one.
std::vector<Placing> Apart(std::vector<Placing> all, double px, std::size_t most) {
  std::stable_sort(all.begin(), all.end(),
                   [](const Placing& a, const Placing& b) { return a.score > b.score; });
  std::vector<Placing> best;
  for (const Placing& c : all) {
    const bool apart = std::all_of(best.begin(), best.end(), [&](const Placing& b) {
      return std::abs(b.size - c.size) + std::hypot(b.x - c.x, b.y - c.y) > px;
    });
    if (!apart) continue;
    best.push_back(c);
    if (best.size() == most) break;
  }
  return best;
}

// Moves a placing uphill in the sum of the responses that it found, by half pixels.
void ClimbStrip(const Strip& s, Placing& c) {
  const Along start = SumAlong(s, c, 1);
  if (start.seen == 0) return;
  const double line = std::max(0.0, start.line) / (s.u_line * s.u_line),
               step = start.step / (s.u_step * s.u_step);
  const auto height = [&](const Placing& p) {
    const Along a = SumAlong(s, p, 1);
    return a.seen < kLeastSeen * s.places() ? -1e300 : (line * a.line + step * a.step) / a.seen;
  };
  double best = height(c);
  for (int round = 0; round < 12; ++round) {
    Placing next = c;
    for (const auto& [size, x, y] :
         {std::array{0.5, 0.0, 0.0}, std::array{0.0, 0.5, 0.0}, std::array{0.0, 0.0, 0.5}}) {
      for (const double way : {-1.0, 1.0}) {
        const Placing p{c.size + way * size, c.x + way * x, c.y + way * y, 0};
        const double h = height(p);
        if (h > best) best = h, next = p;
      }
    }
    if (next.size == c.size && next.x == c.x && next.y == c.y) return;
    c = next;
  }
}

// The best placings of a seam as a whole, apart from each other.
std::vector<Placing> Candidates(const Strip& s) {
  std::vector<Placing> all;
  constexpr int kEvery = 3;
  for (double size = -s.size_reach; size <= s.size_reach; size += 1) {
    for (double x = -s.shift_reach; x <= s.shift_reach; x += 1) {
      for (double y = -s.shift_reach; y <= s.shift_reach; y += 1) {
        if (std::hypot(x, y) > s.shift_reach) continue;
        Placing c{size, x, y, 0};
        c.score = ScoreOf(s, c, SumAlong(s, c, kEvery), kEvery);
        if (std::isfinite(c.score) && c.score > kLeastScore) all.push_back(c);
      }
    }
  }
  std::vector<Placing> rough = Apart(std::move(all), 2.5, kRough);
  for (Placing& c : rough) {
    ClimbStrip(s, c);
    // The flank of a line passes for a step: only a whole profile tells them apart.
    std::vector<double> path;
    for (int i = 0; i < s.places(); ++i) path.push_back(c.At(s, i));
    if (SumAlong(s, c, 1).seen < kLeastSeen * s.places()) {
      c.score = 0;
      continue;
    }
    const Template t = Pooled(s, path);
    const Middle middle = MiddleOf(t, s.places() * kBin_px / s.ribbon.step);
    c.size += middle.at;
    const double price = middle.gain - kMisfitPrice * middle.rest;
    c.score = middle.told
                  ? s.places() / (2 * kSeamAlong + 1.0) * price / (t.noise * t.noise) * Belief(s, c)
                  : 0;
  }
  std::erase_if(rough, [](const Placing& c) { return c.score < kLeastScore; });
  return Apart(std::move(rough), 2.5, kCandidates);
}

// Two neighbours as they must lie: one inside the other, about as far apart as drawn.
bool Nested(const Placing& outer, const Placing& inner, double drawn_px) {
  const double mean = drawn_px + outer.size - inner.size;
  const double least = mean - std::hypot(outer.x - inner.x, outer.y - inner.y);
  return mean > 0.55 * drawn_px && mean < 1.6 * drawn_px && least > 2;
}

// One placing for each seam (or none: -1), the greatest sum of scores in which neighbours nest.
std::vector<std::optional<Placing>> ChooseTogether(
    const std::vector<std::vector<Placing>>& candidates, const std::vector<SeamInput>& inputs) {
  std::vector<int> best(candidates.size(), -1), now(candidates.size(), -1);
  double best_sum = 0;
  const auto walk = [&](const auto& self, std::size_t k, double sum) -> void {
    if (k == candidates.size()) {
      if (sum > best_sum) best_sum = sum, best = now;
      return;
    }
    now[k] = -1;
    self(self, k + 1, sum);
    for (std::size_t c = 0; c < candidates[k].size(); ++c) {
      const Placing& mine = candidates[k][c];
      if (k > 0 && now[k - 1] >= 0 &&
          !Nested(candidates[k - 1][static_cast<std::size_t>(now[k - 1])], mine,
                  inputs[k].outwards_px))
        continue;
      now[k] = static_cast<int>(c);
      self(self, k + 1, sum + mine.score);
    }
    now[k] = -1;
  };
  walk(walk, 0, 0);
  std::vector<std::optional<Placing>> placings(candidates.size());
  for (std::size_t k = 0; k < best.size(); ++k) {
    if (best[k] >= 0) placings[k] = candidates[k][static_cast<std::size_t>(best[k])];
  }
  return placings;
}

// Path about a circle along the strongest joint response; not a number where nothing was seen.
std::vector<double> PathNear(const Strip& s, const Placing& circle) {
  const Along mean = SumAlong(s, circle, 1);
  const double line = mean.line / std::max(1, mean.seen), step = mean.step / std::max(1, mean.seen);
  const double wl = line / (s.u_line * s.u_line), ws = step / (s.u_step * s.u_step);
  const double full = std::max(1e-12, wl * line + ws * step);
  const int half = static_cast<int>(std::lround(kPath_px / s.ribbon.step));
  cv::Mat1f cost(s.places(), 2 * half + 1, 0.7f);
  std::vector<int> middle;
  for (int i = 0; i < s.places(); ++i) {
    middle.push_back(
        static_cast<int>(std::lround((circle.At(s, i) - s.ribbon.from) / s.ribbon.step)));
    for (int k = 0; k < cost.cols; ++k) {
      const int j = middle.back() + k - half;
      if (j < 0 || j >= s.line.cols) continue;
      const double agree = (wl * s.line(i, j) + ws * s.step(i, j)) / full;
      if (std::isfinite(agree)) cost(i, k) = static_cast<float>(1 - std::clamp(agree, -0.5, 2.0));
    }
  }
  const std::vector<int> path = CheapestClosedPath(cost, {1, 0.08f});
  std::vector<double> at;
  for (int i = 0; i < s.places(); ++i) {
    const int j = middle[static_cast<std::size_t>(i)] + path[static_cast<std::size_t>(i)] - half;
    const bool seen =
        j >= 0 && j < s.line.cols && std::isfinite(s.line(i, j)) && std::isfinite(s.step(i, j));
    at.push_back(seen ? s.ribbon.Offset(j) : std::numeric_limits<double>::quiet_NaN());
  }
  return at;
}

// Shift of a few places against the template: level, slant and shift by least squares.
struct Shift {
  double px = 0, sigma = 1e9;
};
Shift ShiftOf(const Strip& s, const Template& t, const std::vector<double>& path, int first,
              int last) {
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  int count = 0, middle = 0;
  for (int i = first; i < last; ++i) {
    for (int j = 0; j < s.ribbon.tone.cols; ++j) {
      const double tone = s.ribbon.tone(i, j);
      const double u = s.ribbon.Offset(j) - path[static_cast<std::size_t>(i)];
      if (!std::isfinite(tone) || std::abs(u) > kTemplate_px - 0.5) continue;
      const auto [value, slope] = t.Look(u);
      if (!std::isfinite(slope)) continue;
      const Eigen::Vector3d row(1, u / kTemplate_px, -slope);
      const double off = std::clamp(tone - value, -5 * t.noise - 0.1, 5 * t.noise + 0.1);
      normal += row * row.transpose();
      right += off * row;
      ++count;
      middle += std::abs(u) < kMiddle_px ? 1 : 0;
    }
  }
  // What shows the surroundings only says nothing of the seam.
  const double full = 2 * (last - first) / s.ribbon.step;
  if (count < kLeastShown * full * (kTemplate_px - 0.5) || middle < 0.7 * full * kMiddle_px)
    return {};
  normal += 1e-9 * Eigen::Matrix3d::Identity();
  const Eigen::Matrix3d inverse = normal.inverse();
  Shift shift;
  shift.px = (inverse * right)(2);
  // Samples half a pixel apart share their pixels.
  shift.sigma = t.noise * std::sqrt(2 * std::max(0.0, inverse(2, 2)));
  if (!std::isfinite(shift.px) || std::abs(shift.px) > 2 * kMostShift_px) return {};
  shift.px = std::clamp(shift.px, -kMostShift_px, kMostShift_px);
  return shift;
}

// Root mean square of a line about its own first harmonics.
double Wander(const Harmonics& fit, std::vector<HarmonicSample> samples) {
  const Harmonics plain(samples, 4);
  constexpr int kPlaces = 360;
  double square = 0;
  for (int i = 0; i < kPlaces; ++i) {
    const double turn = static_cast<double>(i) / kPlaces;
    square += std::pow(fit.At(turn) - plain.At(turn), 2) / kPlaces;
  }
  return std::sqrt(square);
}

// From a placing as a whole to the settled seam.
Seam Settled(const Strip& s, const Placing& circle) {
  const int n = s.places();
  std::vector<double> path = PathNear(s, circle);
  {
    std::vector<HarmonicSample> samples;
    for (int i = 0; i < n; ++i) {
      const double at = path[static_cast<std::size_t>(i)];
      if (std::isfinite(at)) samples.push_back({static_cast<double>(i) / n, at, 0.7});
    }
    if (samples.size() < 12) {
      Seam none;
      none.why = "hidden along most of it";
      return none;
    }
    const Harmonics fit(samples, 4);
    for (int i = 0; i < n; ++i)
      path[static_cast<std::size_t>(i)] = fit.At(static_cast<double>(i) / n);
  }
  const int blocks = n / kBlock;
  Seam seam;
  Template t;
  std::vector<HarmonicSample> samples;
  Harmonics fit;
  for (int round = 0; round < 6; ++round) {
    t = Pooled(s, path);
    if (round < 3) {
      // Every stretch may be off alike: the template itself is centred first.
      const Middle middle = MiddleOf(t, n * kBin_px / s.ribbon.step);
      for (double& at : path) at += middle.at;
      t = Pooled(s, path);
    }
    samples.clear();
    for (int b = 0; b < blocks; ++b) {
      const int first = b * n / blocks, last = (b + 1) * n / blocks;
      const Shift shift = ShiftOf(s, t, path, first, last);
      if (shift.sigma > 4) continue;
      const double at = path[static_cast<std::size_t>((first + last) / 2)];
      samples.push_back({0.5 * (first + last - 1) / n, at + shift.px, shift.sigma});
    }
    if (samples.size() < 12) break;
    fit = round < 2 ? Harmonics(samples, 5) : BestHarmonics(samples, kOrders);
    for (int i = 0; i < n; ++i)
      path[static_cast<std::size_t>(i)] = fit.At(static_cast<double>(i) / n);
  }
  if (samples.size() < 12 || !fit.known()) {
    seam.why = "hidden along most of it";
    return seam;
  }
  const Middle middle = MiddleOf(t, n * kBin_px / s.ribbon.step);
  seam.profile = t.tone;
  seam.profile_noise = t.noise;
  seam.samples_per_bin = n * kBin_px / s.ribbon.step;
  seam.profile_at = middle.at;
  seam.step = middle.step;
  seam.line = middle.line;
  seam.blur_px = middle.blur;
  seam.u_common_px = std::hypot(kModelDoubt_px, middle.u);
  std::vector<char> seen(static_cast<std::size_t>(n), 0);
  for (const HarmonicSample& x : samples) {
    if (x.sigma * fit.excess() > kSeenSigma_px || x.weight < 0.2) continue;
    const int at = static_cast<int>(std::lround(x.turn * n));
    for (int k = -kBlock; k <= kBlock; ++k) seen[static_cast<std::size_t>((at + k + n) % n)] = 1;
  }
  for (int i = 0; i < n; ++i) {
    SeamPlace p;
    const auto at = static_cast<std::size_t>(i);
    p.at = s.ribbon.At(i, path[at] + middle.at);
    p.normal = s.ribbon.normal[at];
    p.sigma_px = fit.Sigma(static_cast<double>(i) / n);
    p.seen = seen[at] != 0;
    seam.places.push_back(p);
  }
  seam.wander_px = Wander(fit, samples);
  seam.nothing_share = NothingShare(s, t, path);
  seam.length_px = Perimeter(std::span<const PointPx>(s.ribbon.base)) / (2 * fit.order() + 1);
  return seam;
}

// Two seams so near that one may take the other's line, and far enough for both to have their own.
bool Near(const Strip& s, double drawn_px) {
  return drawn_px < s.reach + kTemplate_px && drawn_px > 2 * kBeside_px + 2;
}

struct Option {
  Placing placing;
  Seam seam;
  // A seam that takes part of another's line bends to get there, or runs where nothing is.
  double Score() const {
    return placing.score * std::pow(1 - seam.nothing_share, 2) /
           (1 + std::pow(seam.wander_px / kStraight_px, 2));
  }
};

// Share of the inner seam's places that lie on the outer one's line; 1 where they cross.
double SharedWith(const Seam& outer, const Seam& inner) {
  const ContourPx line = outer.Points();
  const ContourIndex<FramePx> index{std::span<const PointPx>(line)};
  constexpr std::size_t kEvery = 4;
  int places = 0, shared = 0, beyond = 0;
  for (std::size_t i = 0; i < inner.places.size(); i += kEvery) {
    const double inside = -index.SignedDistance(inner.places[i].at, 4 * kShared_px);
    ++places;
    shared += inside < kShared_px ? 1 : 0;
    beyond += inside < -1 ? 1 : 0;
  }
  if (places == 0 || beyond > 0.02 * places) return 1;
  return static_cast<double>(shared) / places;
}

// One of each seam's options (or none), the greatest sum of scores. What two of them share counts
// for one only, and it is the stronger line.
std::vector<int> ChooseSettled(const std::vector<std::vector<Option>>& options,
                               const std::vector<SeamInput>& inputs,
                               const std::vector<Strip>& strips) {
  std::vector<int> best(options.size(), -1), now(options.size(), -1);
  double best_sum = 0;
  const auto walk = [&](const auto& self, std::size_t k, double sum) -> void {
    if (k == options.size()) {
      if (sum > best_sum) best_sum = sum, best = now;
      return;
    }
    now[k] = -1;
    self(self, k + 1, sum);
    for (std::size_t c = 0; c < options[k].size(); ++c) {
      const Option& mine = options[k][c];
      double own = 1;
      if (k > 0 && now[k - 1] >= 0) {
        const Option& outer = options[k - 1][static_cast<std::size_t>(now[k - 1])];
        if (!Near(strips[k], inputs[k].outwards_px)) {
          if (!Nested(outer.placing, mine.placing, inputs[k].outwards_px)) continue;
        } else {
          own = 1 - 2 * SharedWith(outer.seam, mine.seam);
          if (own <= 0) continue;
        }
      }
      now[k] = static_cast<int>(c);
      self(self, k + 1, sum + own * mine.Score());
    }
    now[k] = -1;
  };
  walk(walk, 0, 0);
  return best;
}

// A seam once more, without what its neighbours explain. One that wandered is looked for anew in
// what they leave.
Option SettledBeside(const std::vector<Seam>& seams, const std::vector<SeamInput>& inputs,
                     std::size_t k, const Strip& whole, const Option& chosen) {
  Strip left = whole;
  left.ribbon.tone = whole.ribbon.tone.clone();
  bool masked = false;
  const auto mask = [&](std::size_t other, double drawn_px) {
    const bool straight = seams[other].wander_px < std::max(kStraight_px, seams[k].wander_px);
    if (seams[other].places.empty() || !Near(whole, drawn_px) || !straight) return;
    MaskBeside(seams[other].Points(), kBeside_px, left);
    masked = true;
  };
  if (k > 0) mask(k - 1, inputs[k].outwards_px);
  if (k + 1 < inputs.size()) mask(k + 1, inputs[k + 1].outwards_px);
  if (!masked) return chosen;
  Option best{chosen.placing, Settled(left, chosen.placing)};
  if (best.seam.wander_px < kStraight_px && best.seam.why.empty()) return best;
  const std::vector<Placing> anew = Candidates(left);
  for (std::size_t c = 0; c < std::min(kSeamsTried, anew.size()); ++c) {
    Option option{anew[c], Settled(left, anew[c])};
    const bool crosses = (k > 0 && SharedWith(seams[k - 1], option.seam) > 0.5) ||
                         (k + 1 < seams.size() && Near(whole, inputs[k + 1].outwards_px) &&
                          SharedWith(option.seam, seams[k + 1]) > 0.5);
    if (crosses || !option.seam.why.empty()) continue;
    if (option.Score() > best.Score() || !best.seam.why.empty()) best = std::move(option);
  }
  return best;
}

}  // namespace

void Recentre(double blur_px, Seam& seam) {
  if (seam.places.empty() || seam.profile.empty()) return;
  Template t;
  t.tone = seam.profile;
  t.noise = seam.profile_noise;
  // Sampling between pixels (1/6 px^2) and the pooling soften the profile; so does what is left of
  // the path's own error.
  const double least = std::sqrt(blur_px * blur_px + kSampling_px2);
  std::vector<double> blurs;
  for (double more : {0.96, 1.0, 1.05, 1.11, 1.18}) blurs.push_back(more * least);
  const Middle step = MiddleWith(t, seam.samples_per_bin, blurs, false),
               both = MiddleWith(t, seam.samples_per_bin, blurs, true);
  if (!step.told || !both.told) return;
  // Bins were smoothed: half of them speak. No real profile is nearer to a model than the floor.
  const double bins = 0.5 * static_cast<double>(seam.profile.size());
  const double floor = std::pow(kProfileFloor * (std::abs(both.step) + std::abs(both.line)), 2) +
                       t.noise * t.noise / std::max(1.0, seam.samples_per_bin);
  const auto cost = [&](const Middle& m) { return bins * std::log(m.rest + 2 * bins * floor); };
  const double gain = cost(step) - cost(both) - std::log(bins);
  const double chance = both.line > 0 ? 1 / (1 + std::exp(-0.5 * gain)) : 0;
  const Middle& better = chance > 0.5 ? both : step;
  const double doubt = std::sqrt(chance * (1 - chance)) * std::abs(both.at - step.at);
  const double move = better.at - seam.profile_at;
  for (SeamPlace& p : seam.places) p.at = p.at + move * p.normal;
  seam.profile_at = better.at;
  seam.step = better.step;
  seam.line = chance > 0.5 ? both.line : 0;
  seam.blur_px = better.blur;
  seam.u_common_px = std::hypot(kModelDoubt_px, better.u, doubt);
}

std::vector<Seam> TraceSeams(const Micrograph& micrograph, const FaceTones& tones,
                             const ContourPx& outline, const cv::Mat1b& hidden,
                             const std::vector<SeamInput>& inputs) {
  std::vector<Strip> strips;
  std::vector<std::vector<Placing>> candidates;
  for (const SeamInput& input : inputs) {
    strips.push_back(MakeStrip(micrograph, tones, outline, hidden, input));
    candidates.push_back(Candidates(strips.back()));
  }
  const std::vector<std::optional<Placing>> rigid = ChooseTogether(candidates, inputs);
  std::vector<std::vector<Option>> options(inputs.size());
  for (std::size_t k = 0; k < inputs.size(); ++k) {
    const bool near = (k > 0 && Near(strips[k], inputs[k].outwards_px)) ||
                      (k + 1 < inputs.size() && Near(strips[k + 1], inputs[k + 1].outwards_px));
    if (!near) {
      if (rigid[k]) options[k].push_back({*rigid[k], Settled(strips[k], *rigid[k])});
      continue;
    }
    for (std::size_t c = 0; c < std::min(kSeamsTried, candidates[k].size()); ++c)
      options[k].push_back({candidates[k][c], Settled(strips[k], candidates[k][c])});
  }
  const std::vector<int> chosen = ChooseSettled(options, inputs, strips);
  std::vector<Seam> seams(inputs.size());
  std::vector<std::size_t> order;  // the straightest first
  for (std::size_t k = 0; k < inputs.size(); ++k) {
    if (chosen[k] < 0) {
      seams[k].why = fmt::format("neither a step nor a line to be seen along {}", inputs[k].name);
      continue;
    }
    seams[k] = options[k][static_cast<std::size_t>(chosen[k])].seam;
    order.push_back(k);
  }
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return seams[a].wander_px < seams[b].wander_px;
  });
  for (const std::size_t k : order) {
    const Option& option = options[k][static_cast<std::size_t>(chosen[k])];
    seams[k] = SettledBeside(seams, inputs, k, strips[k], option).seam;
    if (!seams[k].why.empty()) seams[k].why = inputs[k].name + ": " + seams[k].why;
  }
  return seams;
}

}  // namespace cutface
