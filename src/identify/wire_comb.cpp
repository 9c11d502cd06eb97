#include "identify/wire_comb.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "cutface/stats.h"

namespace cutface {
namespace {

constexpr double kLoose = 5.0;      // cost of a slot without a wire, or a wire without a slot
constexpr double kAstray = 8.0;     // of a wire far from its slot: less than slot and wire alone
constexpr double kMostOff = 9.5;    // of one that is far in height as well, likewise
constexpr std::size_t kPeaks = 14;  // phases that are tried
constexpr double kCrossed = 3;  // scatters between combs: nearer ones mix up wires here and there

double Turned(double a) { return std::remainder(a, 2 * M_PI); }

// Grows like a square near the slot and slowly far from it.
double OffCost(double off, const CombPlan& plan) {
  if (std::abs(off) > plan.gate_rad) {
    // Farther ones a little dearer, so that the nearest is taken.
    if (std::abs(off) > plan.reach_rad) return 4 * kLoose;
    return kAstray + std::abs(off) / plan.reach_rad;
  }
  const double z = off / plan.scatter_rad;
  return std::min(kAstray, 1.4 * std::log1p(0.36 * z * z));
}

std::vector<CombSlot> SlotsAt(const CombPlan& plan, const double phase[2]) {
  std::vector<CombSlot> slots;
  const double step = 2 * M_PI / plan.groups;
  for (int family = 0; family < plan.families; ++family) {
    for (int i = 0; i < plan.groups; ++i) {
      for (int e = 0; e < plan.ends; ++e) {
        const double aside = (e - 0.5 * (plan.ends - 1)) * plan.apart_rad;
        slots.push_back({Turned(phase[family] + i * step + aside), family, -1, i % 2});
      }
    }
  }
  return slots;
}

// A quick bound: every wire to its nearest slot, slots that nobody wants are empty.
double QuickCost(const std::vector<double>& angles, const CombPlan& plan, const double phase[2]) {
  const std::vector<CombSlot> slots = SlotsAt(plan, phase);
  std::vector<int> wanted(slots.size(), 0);
  double sum = 0;
  for (double a : angles) {
    double least = 2 * kLoose;
    std::size_t nearest = 0;
    for (std::size_t i = 0; i < slots.size(); ++i) {
      const double c = OffCost(Turned(a - slots[i].angle), plan);
      // Crossing combs: the second wire takes the other slot.
      const double busy = wanted[i] > 0 ? kLoose : 0.0;
      if (c + busy < least) least = c + busy, nearest = i;
    }
    sum += std::min(least, kLoose);
    if (least < kLoose) ++wanted[nearest];
  }
  for (int w : wanted) sum += w == 0 ? kLoose : 0;
  return sum;
}

// Where wires crowd modulo the spacing.
std::vector<double> PeaksOf(const std::vector<double>& angles, const CombPlan& plan) {
  const double step = 2 * M_PI / plan.groups;
  constexpr int kPlaces = 180;
  std::vector<std::pair<double, double>> density;  // height, phase
  std::vector<double> height(kPlaces, 0);
  for (int k = 0; k < kPlaces; ++k) {
    const double phase = step * k / kPlaces;
    for (double a : angles) {
      for (int e = 0; e < plan.ends; ++e) {
        const double aside = (e - 0.5 * (plan.ends - 1)) * plan.apart_rad;
        const double z = std::remainder(a - phase - aside, step) / plan.scatter_rad;
        height[static_cast<std::size_t>(k)] += 1 / (1 + z * z);
      }
    }
  }
  for (int k = 0; k < kPlaces; ++k) {
    const double h = height[static_cast<std::size_t>(k)];
    if (h >= height[static_cast<std::size_t>((k + 1) % kPlaces)] &&
        h > height[static_cast<std::size_t>((k + kPlaces - 1) % kPlaces)])
      density.emplace_back(h, step * k / kPlaces);
  }
  std::sort(density.rbegin(), density.rend());
  std::vector<double> peaks;
  for (const auto& [h, phase] : density) {
    if (peaks.size() < kPeaks) peaks.push_back(phase);
  }
  return peaks;
}

void Refine(const std::vector<double>& angles, const CombPlan& plan, const std::vector<double>& odd,
            CombFit& fit) {
  const SlotCost beyond = [&](const CombSlot&, std::size_t wire) {
    return odd.empty() ? 0.0 : odd[wire];
  };
  MatchCombs(angles, plan, beyond, fit);
  for (int round = 0; round < 3; ++round) {
    ShiftCombs(plan, angles, fit);
    MatchCombs(angles, plan, beyond, fit);
  }
}

}  // namespace

void MatchCombs(const std::vector<double>& angles, const CombPlan& plan, const SlotCost& beyond,
                CombFit& fit) {
  fit.slots = SlotsAt(plan, fit.phase);
  fit.spare.clear();
  const std::size_t n = fit.slots.size(), m = angles.size();
  // Each slot may stay empty: one column of its own beyond the wires.
  std::vector<std::vector<double>> cost(n, std::vector<double>(m + n, 8 * kLoose));
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < m; ++j) {
      const double off = OffCost(Turned(angles[j] - fit.slots[i].angle), plan);
      const double all = off + beyond(fit.slots[i], j);
      cost[i][j] = (off < kMostOff ? std::min(all, kMostOff) : all) - kLoose;
    }
    cost[i][m + i] = kLoose;
  }
  const std::vector<int> column = LeastCostMatching(cost);
  std::vector<char> used(m, 0);
  fit.cost = kLoose * static_cast<double>(m);
  for (std::size_t i = 0; i < n; ++i) {
    const auto c = static_cast<std::size_t>(column[i]);
    fit.cost += cost[i][c];
    if (c >= m) continue;
    fit.slots[i].wire = column[i];
    used[c] = 1;
  }
  for (std::size_t j = 0; j < m; ++j) {
    if (!used[j]) fit.spare.push_back(static_cast<int>(j));
  }
}

void ShiftCombs(const CombPlan& plan, const std::vector<double>& angles, CombFit& fit) {
  std::vector<double> off[2], all;
  for (const CombSlot& s : fit.slots) {
    if (s.wire < 0) continue;
    off[s.family].push_back(Turned(angles[static_cast<std::size_t>(s.wire)] - s.angle));
  }
  for (int f = 0; f < plan.families; ++f) {
    if (off[f].empty()) continue;
    const double shift = Median(off[f]);
    fit.phase[f] += shift;
    for (double d : off[f]) all.push_back(std::abs(d - shift));
  }
  fit.scatter_rad = all.empty() ? plan.scatter_rad : 1.4826 * Median(std::move(all));
  for (int f = 0; f < plan.families; ++f) {
    fit.u_phase[f] =
        1.25 * fit.scatter_rad / std::sqrt(std::max(1.0, static_cast<double>(off[f].size())));
  }
}

void TellCrossed(const CombPlan& plan, CombFit& fit) {
  fit.crossed = false;
  if (plan.families != 2) return;
  const double step = 2 * M_PI / plan.groups;
  const double apart = std::abs(std::remainder(fit.phase[0] - fit.phase[1], step));
  fit.crossed = apart < kCrossed * std::max(fit.scatter_rad, 0.2 * plan.scatter_rad);
}

std::vector<int> LeastCostMatching(const std::vector<std::vector<double>>& cost) {
  const std::size_t n = cost.size(), m = n == 0 ? 0 : cost.front().size();
  std::vector<double> u(n + 1, 0), v(m + 1, 0);
  std::vector<std::size_t> match(m + 1, 0), way(m + 1, 0);
  for (std::size_t i = 1; i <= n; ++i) {
    match[0] = i;
    std::size_t j0 = 0;
    std::vector<double> least(m + 1, std::numeric_limits<double>::infinity());
    std::vector<char> used(m + 1, 0);
    do {
      used[j0] = 1;
      const std::size_t i0 = match[j0];
      double delta = std::numeric_limits<double>::infinity();
      std::size_t j1 = 0;
      for (std::size_t j = 1; j <= m; ++j) {
        if (used[j]) continue;
        const double c = cost[i0 - 1][j - 1] - u[i0] - v[j];
        if (c < least[j]) least[j] = c, way[j] = j0;
        if (least[j] < delta) delta = least[j], j1 = j;
      }
      for (std::size_t j = 0; j <= m; ++j) {
        if (used[j]) {
          u[match[j]] += delta;
          v[j] -= delta;
        } else {
          least[j] -= delta;
        }
      }
      j0 = j1;
    } while (match[j0] != 0);
    do {
      const std::size_t j1 = way[j0];
      match[j0] = match[j1];
      j0 = j1;
    } while (j0 != 0);
  }
  std::vector<int> column(n, -1);
  for (std::size_t j = 1; j <= m; ++j) {
    if (match[j] > 0) column[match[j] - 1] = static_cast<int>(j - 1);
  }
  return column;
}

std::vector<CombFit> FindCombs(const std::vector<double>& angles, const CombPlan& plan,
                               const std::vector<double>& odd) {
  const double step = 2 * M_PI / plan.groups;
  struct Start {
    double cost;
    double phase[2];
  };
  std::vector<Start> starts;
  const std::vector<double> peaks = PeaksOf(angles, plan);
  for (std::size_t a = 0; a < peaks.size(); ++a) {
    if (plan.families == 1) {
      const double phase[2] = {peaks[a], 0};
      starts.push_back({QuickCost(angles, plan, phase), {phase[0], 0}});
      continue;
    }
    for (std::size_t b = a; b < peaks.size(); ++b) {
      // Combs that nearly lie on one another show one peak.
      const double apart = a == b ? 0.5 * plan.scatter_rad : 0.0;
      const double phase[2] = {peaks[a] - apart, peaks[b] + apart};
      starts.push_back({QuickCost(angles, plan, phase), {phase[0], phase[1]}});
    }
  }
  std::sort(starts.begin(), starts.end(),
            [](const Start& a, const Start& b) { return a.cost < b.cost; });
  std::vector<CombFit> fits;
  for (std::size_t k = 0; k < std::min<std::size_t>(starts.size(), 6); ++k) {
    CombFit fit;
    std::copy(starts[k].phase, starts[k].phase + 2, fit.phase);
    Refine(angles, plan, odd, fit);
    fits.push_back(std::move(fit));
  }
  if (fits.empty()) fits.emplace_back();
  std::stable_sort(fits.begin(), fits.end(),
                   [](const CombFit& a, const CombFit& b) { return a.cost < b.cost; });
  CombFit& best = fits.front();
  best.rival = std::numeric_limits<double>::infinity();
  for (const CombFit& fit : fits) {
    double away = 0;
    for (int f = 0; f < plan.families; ++f) {
      double nearest = 1e9;
      for (int g = 0; g < plan.families; ++g)
        nearest = std::min(nearest, std::abs(std::remainder(fit.phase[f] - best.phase[g], step)));
      away = std::max(away, nearest);
    }
    if (away > 2 * plan.scatter_rad) best.rival = std::min(best.rival, fit.cost);
  }
  TellCrossed(plan, best);
  return fits;
}

CombFit FitCombs(const std::vector<double>& angles, const CombPlan& plan,
                 const std::vector<double>& odd) {
  return FindCombs(angles, plan, odd).front();
}

}  // namespace cutface
