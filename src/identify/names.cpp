#include "identify/names.h"

#include <opencv2/imgproc.hpp>

#include "identify/name_score.h"
#include "identify/search.h"
#include "identify/spread.h"
#include "identify/symmetry.h"

namespace cutface {
namespace {

constexpr double kTurnStep = 3.0 * M_PI / 180;
constexpr double kOutlineTolerance = 0.035;  // of its radius
constexpr double kSeenRound = 0.4;           // of an outline, from which its circle is told
constexpr std::size_t kPolished = 12;
constexpr double kSwitch = 1.0;                      // log-likelihood worth another registration
constexpr double kFineRadius = 130, kBlur_px = 0.7;  // of the copy for the last climb, px

// The circle along what the frame shows of a round outline; nothing where that is too little.
std::optional<Circle<FramePx>> SeenCircle(const Pose& pose) {
  ContourPx seen;
  for (std::size_t i = 0; i < pose.outline.size(); ++i) {
    if (pose.outline_visible[i] != 0) seen.push_back(pose.outline[i]);
  }
  if (static_cast<double>(seen.size()) < kSeenRound * static_cast<double>(pose.outline.size()))
    return std::nullopt;
  const auto circle = FitCircle(seen);
  return circle ? std::optional(*circle) : std::nullopt;
}

// Registrations by the traced outline: a round one turns freely, and its traced shape tells the
// stretch (one that the frame cuts tells place and size); any other turns as far as it fits itself.
std::vector<Warp> OutlineWarps(const Pose& pose, const SectionDesign& plane) {
  const std::span<const PointUm> nominal(plane.outline.contour);
  const PointUm about = Centroid(nominal);
  std::vector<Warp> bases = {pose.warp};
  const auto lay = [&](const Eigen::Matrix2d& linear, PointPx centre) {
    Warp warp;
    warp.linear = linear;
    warp.shift = Eigen::Vector2d(centre.x, centre.y) - linear * Eigen::Vector2d(about.x, about.y);
    return warp;
  };
  if (plane.outline.kind == Shape::Kind::kCircle && pose.outline.size() > 8) {
    const double radius = std::sqrt(Area(nominal) / M_PI);
    const bool whole = std::all_of(pose.outline_visible.begin(), pose.outline_visible.end(),
                                   [](char seen) { return seen != 0; });
    if (whole) {
      const Ellipse<FramePx> traced = MomentEllipse(std::span<const PointPx>(pose.outline));
      bases = {lay(RootOf(Spread(traced)) / radius, traced.centre)};
    } else if (const auto circle = SeenCircle(pose)) {
      bases.push_back(lay(Eigen::Matrix2d::Identity() * (circle->radius / radius), circle->centre));
    }
  }
  std::vector<Warp> warps;
  for (const Turn& turn : OutlineTurns(plane, kTurnStep, kOutlineTolerance)) {
    for (const Warp& base : bases) warps.push_back(Turned(base, turn, about));
  }
  return warps;
}

void SortBest(std::vector<Naming>& namings) {
  std::sort(namings.begin(), namings.end(),
            [](const Naming& a, const Naming& b) { return a.value > b.value; });
}

// The best turn nearby, for each of the best namings.
void Polish(const NameScore& score, PointUm about, std::vector<Naming>& namings) {
  SortBest(namings);
  std::vector<Naming> kept;
  for (const Naming& n : namings) {
    const auto same = [&](const Naming& k) { return k.lumens == n.lumens && k.pool == n.pool; };
    if (std::any_of(kept.begin(), kept.end(), same)) continue;
    kept.push_back(n);
    if (kept.size() == kPolished) break;
  }
  for (Naming& n : kept) {
    for (double step : {1.5, 0.75}) {
      for (double way : {step, -step}) {
        const Warp turned = Turned(n.placed, {way * M_PI / 180, false}, about);
        const Naming next = score.Evaluate(turned, n.pool);
        if (next.value > n.value) n = next;
      }
    }
  }
  for (Naming& n : kept) n = score.WithShapes(std::move(n));
  namings = std::move(kept);
  SortBest(namings);
}

// The naming's own registration, settled by the tones without leaving it.
Warp Settled(const NameScore& score, const LabelScore& labels, const Naming& best,
             const FaceTones& tones, int reduction, double um_per_px, const SectionDesign& plane) {
  const double px_per_um = 1.0 / (um_per_px * reduction);
  const double radius = labels.radius_um() * px_per_um;
  const SearchPlane search{labels, Centroid(std::span<const PointUm>(plane.outline.contour)),
                           px_per_um, radius};
  const Level level = MakeLevel(tones.fine, kFineRadius / radius, kBlur_px);
  const Level squeezed = Squeezed(level, labels, Rescaled(best.warp, 1.0 / reduction));
  Warp settled = best.warp;
  double most = -1;
  // With the lumens' common shift, and with the outline where it is: the tones choose.
  for (const Warp& start : {best.warp, best.placed}) {
    Hypothesis h{Rescaled(start, 1.0 / reduction), 0};
    Refine(squeezed, search, {0.02, 7, 1}, h);
    const Warp warp = Rescaled(h.warp, reduction);
    if (h.explained <= most || !score.NamesAll(warp, best)) continue;
    most = h.explained;
    settled = warp;
  }
  return settled;
}

}  // namespace

NameChoice ChooseNames(const Pose& pose, const FaceTones& tones, int reduction, double um_per_px,
                       const SectionDesign& plane) {
  NameChoice choice;
  if (plane.lumens.size() < 2) return choice;
  const std::vector<RegionPool> pools = FindRegionPools(tones, reduction, pose);
  if (pools.empty()) return choice;
  const LabelScore labels(plane);
  const NameScore score(plane, labels, pools, pose);
  std::vector<Warp> warps = OutlineWarps(pose, plane);
  warps.push_back(pose.warp);
  warps.insert(warps.end(), pose.others.begin(), pose.others.end());
  std::vector<Naming> namings;
  for (std::size_t pool = 0; pool < pools.size(); ++pool) {
    for (const Warp& warp : warps) namings.push_back(score.Evaluate(warp, pool));
  }
  Polish(score, Centroid(std::span<const PointUm>(plane.outline.contour)), namings);
  const Naming& best = namings.front();
  for (const Naming& n : namings) {
    if (n.pool != best.pool || score.SameNames(n, best)) continue;
    choice.margin = best.value - n.value;
    choice.others = score.Renamed(best, n);
    break;
  }
  if (score.NamesAll(pose.warp, best)) return choice;
  // Where the regions hardly prefer other names, the tones' word stands.
  for (const Naming& n : namings) {
    if (n.value < best.value - kSwitch) break;
    if (n.pool != best.pool || !score.NamesAll(pose.warp, n)) continue;
    choice.margin = n.value - best.value;
    choice.others = score.Renamed(n, best);
    return choice;
  }
  for (const Warp& other : pose.others) {
    // A small lumen far off its place bears its name from many of them.
    if (!score.NamesAll(other, best)) continue;
    if (score.Evaluate(other, best.pool).value < best.value - kSwitch) continue;
    choice.warp = other;
    return choice;
  }
  choice.warp = Settled(score, labels, best, tones, reduction, um_per_px, plane);
  return choice;
}

}  // namespace cutface
