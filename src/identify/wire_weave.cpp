#include "identify/wire_weave.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kClearWeave = 3;       // log-likelihood between two ways of parting the hands
constexpr double kMostHeightCost = 5;   // of a wire far off its height: less than an empty slot
constexpr int kTurns = 4;               // of matching and fitting
constexpr double kUsualSigma_px = 1.2;  // of wires' heights, before it is told
constexpr double kUsualWeight = 6;      // wires that this counts for
constexpr double kLeastSigma_px = 0.6;
constexpr double kNearHands = 5;   // scatters between combs: the heights may part them
constexpr double kCloseStart = 8;  // log-likelihood by which places alone may prefer other combs
// Braids of 16 carriers and more mostly run one over two, so that the hands lie over by turns where
// they cross; a machine with half its carriers makes one over one, and one hand lies over the other
// everywhere (common practice). It decides where nothing else does, and proves nothing.
constexpr int kHalfLoaded = 8;  // carriers of one hand: from here on one over two
constexpr double kUsualWeave = kClearWeave;
// What layers are off their centre and out of round by, at least and of the radius.
constexpr double kOffCentre_px = 3, kOffCentre = 0.012;
constexpr double kOval_px = 1.5, kOval = 0.008;

using Terms = Eigen::Matrix<double, 9, 1>;

Terms TermsOf(double angle, const CombSlot& slot) {
  Terms t = Terms::Zero();
  t.head<5>() << 1, std::cos(angle), std::sin(angle), std::cos(2 * angle), std::sin(2 * angle);
  t(5 + 2 * slot.family + slot.odd) = 1;
  return t;
}

double RobustCost(double z) { return 1.4 * std::log1p(0.36 * z * z); }

class Weaver {
 public:
  Weaver(const std::vector<double>& angles, const std::vector<double>& heights,
         const std::vector<double>& odd, const WeavePlan& plan)
      : angles_(angles), heights_(heights), odd_(odd), plan_(plan) {}

  struct End {
    WeaveFit fit;
    double cost = std::numeric_limits<double>::infinity();
  };

  // `pattern` 0: heights are told from the combs; 1 to 4: one hand over the other everywhere, or by
  // turns.
  End From(const CombFit& start, int pattern) {
    End end;
    end.fit.combs = start;
    WeaveHeights& h = end.fit.heights;
    h.trend[0] = Median(heights_);
    for (int f = 0; f < 2; ++f) {
      for (int q = 0; q < 2; ++q) {
        const bool high = (pattern % 2 == f) != (pattern > 2 && q == 1);
        h.above[f][q] = pattern == 0 ? 0 : high ? plan_.rise : -plan_.rise;
      }
    }
    h.sigma =
        pattern == 0 ? plan_.rise + kUsualSigma_px : std::max(kUsualSigma_px, 0.5 * plan_.rise);
    scatter_ = plan_.combs.scatter_rad;
    Match(end);
    for (int turn = 0; turn < kTurns; ++turn) {
      const std::vector<CombSlot> before = end.fit.combs.slots;
      ShiftCombs(plan_.combs, angles_, end.fit.combs);
      TellScatter(end.fit.combs);
      FitHeights(end.fit);
      Match(end);
      const bool same =
          std::equal(before.begin(), before.end(), end.fit.combs.slots.begin(),
                     [](const CombSlot& a, const CombSlot& b) { return a.wire == b.wire; });
      if (same && turn > 0) break;
    }
    const double n = static_cast<double>(angles_.size());
    end.cost = end.fit.combs.cost + n * (std::log(h.sigma) + std::log(scatter_));
    return end;
  }

 private:
  void Match(End& end) {
    CombPlan plan = plan_.combs;
    plan.scatter_rad = scatter_;
    const WeaveHeights& h = end.fit.heights;
    MatchCombs(
        angles_, plan,
        [&](const CombSlot& slot, std::size_t wire) {
          const double z = (heights_[wire] - h.At(slot)) / h.sigma;
          return std::max(odd_.empty() ? 0.0 : odd_[wire],
                          std::min(kMostHeightCost, RobustCost(z)));
        },
        end.fit.combs);
  }

  void TellScatter(const CombFit& combs) {
    const double least = 0.35 * plan_.combs.scatter_rad;
    const double n = static_cast<double>(angles_.size());
    const double mixed =
        (n * combs.scatter_rad + kUsualWeight * 0.6 * plan_.combs.scatter_rad) / (n + kUsualWeight);
    scatter_ = std::clamp(mixed, least, plan_.combs.scatter_rad);
  }

  // By least squares that far ones leave alone, held to what layers are usually like.
  void FitHeights(WeaveFit& fit) const {
    WeaveHeights& h = fit.heights;
    std::vector<std::pair<Terms, double>> rows;
    for (const CombSlot& slot : fit.combs.slots) {
      if (slot.wire < 0) continue;
      const auto wire = static_cast<std::size_t>(slot.wire);
      rows.emplace_back(TermsOf(angles_[wire], slot), heights_[wire] - plan_.radius);
    }
    if (rows.size() < 4) return;
    Terms x;
    x << h.trend[0] - plan_.radius, h.trend[1], h.trend[2], h.trend[3], h.trend[4], h.above[0][0],
        h.above[0][1], h.above[1][0], h.above[1][1];
    const double centre = std::max(kOffCentre_px, kOffCentre * plan_.radius);
    const double oval = std::max(kOval_px, kOval * plan_.radius), rise = plan_.rise + 1;
    Terms usual;
    usual << 0.05 * plan_.radius + 4, centre, centre, oval, oval, rise, rise, rise, rise;
    double sigma = h.sigma;
    std::vector<double> off(rows.size());
    for (int round = 0; round < 4; ++round) {
      Eigen::Matrix<double, 9, 9> normal = Eigen::Matrix<double, 9, 9>::Zero();
      for (int k = 0; k < 9; ++k) normal(k, k) = 1 / (usual(k) * usual(k));
      Terms right = Terms::Zero();
      for (const auto& [terms, height] : rows) {
        const double z = (height - terms.dot(x)) / (2 * sigma);
        const double w = 1 / ((1 + z * z) * sigma * sigma);
        normal += w * terms * terms.transpose();
        right += w * height * terms;
      }
      x = normal.ldlt().solve(right);
      for (std::size_t k = 0; k < rows.size(); ++k)
        off[k] = std::abs(rows[k].second - rows[k].first.dot(x));
      const double seen = 1.4826 * Median(off),
                   n = std::max(0.0, static_cast<double>(rows.size()) - 6);
      sigma =
          std::max(kLeastSigma_px,
                   std::sqrt((n * seen * seen + kUsualWeight * kUsualSigma_px * kUsualSigma_px) /
                             (n + kUsualWeight)));
    }
    h.trend[0] = x(0) + plan_.radius;
    for (int k = 1; k < 5; ++k) h.trend[k] = x(k);
    for (int f = 0; f < 2; ++f) {
      for (int q = 0; q < 2; ++q) h.above[f][q] = x(5 + 2 * f + q);
    }
    h.sigma = sigma;
  }

  const std::vector<double>&angles_, &heights_, &odd_;
  const WeavePlan& plan_;
  double scatter_ = 0.01;
};

// Whether the hands lie over by turns: heights of even and odd groups differ the other way round.
bool ByTurns(const WeaveHeights& h) {
  return (h.above[0][0] > h.above[1][0]) != (h.above[0][1] > h.above[1][1]);
}

// Wires that two fits give to different hands, the hands named either way.
int Disagreeing(const CombFit& a, const CombFit& b, std::size_t wires) {
  std::vector<int> hand(wires, -1);
  for (const CombSlot& slot : a.slots) {
    if (slot.wire >= 0) hand[static_cast<std::size_t>(slot.wire)] = slot.family;
  }
  int differ[2] = {0, 0};
  for (const CombSlot& slot : b.slots) {
    if (slot.wire < 0 || hand[static_cast<std::size_t>(slot.wire)] < 0) continue;
    const bool same = hand[static_cast<std::size_t>(slot.wire)] == slot.family;
    ++differ[same ? 1 : 0];
  }
  return std::min(differ[0], differ[1]);
}

}  // namespace

double WeaveHeights::Trend(double angle) const {
  return trend[0] + trend[1] * std::cos(angle) + trend[2] * std::sin(angle) +
         trend[3] * std::cos(2 * angle) + trend[4] * std::sin(2 * angle);
}

WeaveFit FitWeave(const std::vector<double>& angles, const std::vector<double>& heights,
                  const std::vector<double>& odd, const WeavePlan& plan) {
  if (angles.empty()) return {};
  const std::vector<CombFit> starts = FindCombs(angles, plan.combs, odd);
  const double step = 2 * M_PI / plan.combs.groups;
  Weaver weaver(angles, heights, odd, plan);
  std::vector<Weaver::End> ends;
  std::vector<double> usual;  // what is to be paid for a weave that is not the usual one
  for (const CombFit& start : starts) {
    if (start.cost > starts.front().cost + kCloseStart) continue;
    const double apart = std::abs(std::remainder(start.phase[0] - start.phase[1], step));
    const double scatter = std::max(start.scatter_rad, 0.2 * plan.combs.scatter_rad);
    const bool near = plan.combs.families == 2 && apart < kNearHands * scatter;
    const int patterns = !near ? 1 : plan.combs.groups % 2 == 0 ? 5 : 3;
    for (int pattern = 0; pattern < patterns; ++pattern) {
      ends.push_back(weaver.From(start, pattern));
      const bool by_turns = plan.combs.groups >= kHalfLoaded && plan.combs.groups % 2 == 0;
      usual.push_back(near && ByTurns(ends.back().fit.heights) != by_turns ? kUsualWeave : 0);
    }
  }
  std::size_t first = 0;
  for (std::size_t k = 1; k < ends.size(); ++k) {
    if (ends[k].cost + usual[k] < ends[first].cost + usual[first]) first = k;
  }
  const auto best = ends.begin() + static_cast<std::ptrdiff_t>(first);
  WeaveFit fit = best->fit;
  TellCrossed(plan.combs, fit.combs);
  const auto few = static_cast<int>(angles.size() / 8);
  double other = std::numeric_limits<double>::infinity();
  for (const Weaver::End& end : ends) {
    if (Disagreeing(fit.combs, end.fit.combs, angles.size()) > few)
      other = std::min(other, end.cost);
  }
  if (ends.size() > 1 && other > best->cost + kClearWeave) fit.combs.crossed = false;
  fit.combs.rival = fit.combs.cost + (other - best->cost);
  return fit;
}

LayerCircle CircleOfMost(const std::vector<PointPx>& middles) {
  constexpr int kRounds = 12;
  LayerCircle circle;
  std::vector<double> radii;
  for (PointPx p : middles) radii.push_back(Norm(p));
  circle.radius = Median(std::move(radii));
  for (int round = 0; round < kRounds; ++round) {
    std::vector<double> off;
    for (PointPx p : middles) off.push_back(std::abs(Distance(p, circle.centre) - circle.radius));
    const double sigma = std::max(kUsualSigma_px, 1.4826 * Median(std::move(off)));
    // Held to where layers usually lie: a few wires may not tell more than their heights.
    const double usual = std::max(kOffCentre_px, kOffCentre * circle.radius);
    const double held = 1 / (usual * usual);
    Eigen::Matrix3d normal = Eigen::Vector3d(1e-6, held, held).asDiagonal();
    Eigen::Vector3d right(0, -held * circle.centre.x, -held * circle.centre.y);
    for (PointPx p : middles) {
      const PointPx d = p - circle.centre;
      const double r = std::max(1e-6, Norm(d)), z = (r - circle.radius) / (2 * sigma);
      const Eigen::Vector3d terms(1, d.x / r, d.y / r);
      const double w = 1 / ((1 + z * z) * sigma * sigma);
      normal += w * terms * terms.transpose();
      right += w * (r - circle.radius) * terms;
    }
    const Eigen::Vector3d step = normal.ldlt().solve(right);
    circle.radius += step(0);
    circle.centre = circle.centre + PointPx{step(1), step(2)};
    if (step.norm() < 1e-3) break;
  }
  return circle;
}

}  // namespace cutface
