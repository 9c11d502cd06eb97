#include "identify/gaps.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/core.hpp>

#include "cutface/stats.h"
#include "identify/dark_arcs.h"
#include "identify/gap_clock.h"
#include "identify/harmonics.h"
#include "identify/tone_reader.h"

namespace cutface {
namespace {

constexpr double kLineRoom_px = 2.0;      // beside a seam: its line is no gap
constexpr double kBesideGap_px = 6;       // beside an edge: where a layer comes away
constexpr double kWithin_px = 5;          // of a liner's outer edge: the liner itself, or its gap
constexpr std::size_t kLeastWalls = 24;   // places that tell a liner's wall
constexpr double kLeastGap_px = 0.8;      // of a gap that is told
constexpr double kLeastShare = 0.15;      // of the thickness between two seams
constexpr double kLeastShareDrawn = 0.5;  // where a seam is taken as drawn
constexpr double kGapStep = 0.5;          // px across an edge
constexpr double kJoin_px = 3;            // gaps nearer to each other are one
constexpr double kMetalRoom_px = 3;       // beside a drawn wire
constexpr std::size_t kMostLinerGaps = 3;
constexpr double kAtFrame = 1.5;              // px: nearer to it a gap may go on
constexpr std::size_t kMostBondGaps = 8;      // more pieces are noise or texture
constexpr int kSmooth = 1, kSmoothNoise = 8;  // places to both sides
constexpr double kLeastLinerGap_deg = 5;
constexpr double kShared = 0.3;         // of an area, by which two places are one
constexpr double kLonger = 1.05;        // of a gap round about: more of it is seen
constexpr double kEndSigma_px = 0.5;    // of a gap's edges
constexpr std::size_t kLeastDark = 12;  // samples

// Open width by the clock, and where it lies.
struct Open {
  std::vector<double> width, middle;  // px; middle: radius
};

// Runs [first, last] of places with width above `least`, cyclic (last may exceed the size).
std::vector<std::pair<int, int>> Runs(const std::vector<double>& width, double least, int join) {
  const int n = static_cast<int>(width.size());
  std::vector<std::pair<int, int>> runs;
  int start = -1;
  for (int k = 0; k < n; ++k) {
    if (width[static_cast<std::size_t>(k)] <= least) start = k;
  }
  if (start < 0) return {{0, n - 1}};  // open all around
  for (int k = start + 1; k <= start + n; ++k) {
    if (width[static_cast<std::size_t>(k % n)] <= least) continue;
    if (!runs.empty() && k - runs.back().second <= join) {
      runs.back().second = k;
    } else {
      runs.emplace_back(k, k);
    }
  }
  if (runs.size() > 1 && runs.front().first + n - runs.back().second <= join) {
    runs.back().second = runs.front().second + n;
    runs.erase(runs.begin());
  }
  return runs;
}

// Where the width falls to `level`, from inside a run towards its end, in places.
double CrossingFrom(const std::vector<double>& width, int from, int step, double level) {
  const int n = static_cast<int>(width.size());
  for (int k = 0; k < n; ++k) {
    const double here = Cyclic(width, from + step * k), next = Cyclic(width, from + step * (k + 1));
    if (next <= level) {
      const double f = here > next ? std::clamp((here - level) / (here - next), 0.0, 1.0) : 0.0;
      return from + step * (k + f);
    }
  }
  return from + step * n;
}

Void AsVoid(const GapFound& gap, VoidClass kind, std::string evidence, const Scale& scale) {
  Void v;
  v.kind = kind;
  ContourPx contour = gap.contour;
  if (SignedArea(std::span<const PointPx>(contour)) < 0)
    std::reverse(contour.begin(), contour.end());
  ContourUm points;
  for (PointPx p : contour) points.push_back(scale.ToUm(p));
  const ContourUm normals = OutwardNormals(std::span<const PointUm>(points));
  const double pitch = scale.mean_pitch_um();
  for (std::size_t i = 0; i < points.size(); ++i)
    v.contour.vertices.push_back({points[i], normals[i], kEndSigma_px * pitch});
  v.contour.noise_length_um = 4 * pitch;
  v.contour.u_common_um = 0.3 * pitch;
  v.contour.edge_model = "step";
  v.centroid = Centroid(std::span<const PointUm>(points));
  v.area_um2 = Area(std::span<const PointUm>(points));
  v.u_area_um2 = Perimeter(std::span<const PointUm>(points)) * v.contour.u_common_um;
  v.evidence = std::move(evidence);
  return v;
}

std::vector<double> SmoothedRound(const std::vector<double>& values, int half) {
  std::vector<double> out(values.size(), 0);
  for (std::size_t k = 0; k < values.size(); ++k) {
    for (int j = -half; j <= half; ++j) out[k] += Cyclic(values, static_cast<int>(k) + j);
    out[k] /= 2 * half + 1;
  }
  return out;
}

// Missing adhesive, between the shaft's edge and the sleeve's. `half`: places to both sides over
// which tones are averaged.
std::vector<GapFound> GapsBetween(const ToneReader& tone, const ContourPx& inner,
                                  const ContourPx& outer, double least_px, double least_share,
                                  int half) {
  const PointPx centre = Centroid(std::span<const PointPx>(inner));
  const int n = std::max(360, static_cast<int>(Perimeter(std::span<const PointPx>(inner))));
  const Polar low = PolarOf(inner, centre, n), high = PolarOf(outer, centre, n);
  std::vector<std::vector<double>> tones(static_cast<std::size_t>(n));
  std::vector<double> all;
  for (int k = 0; k < n; ++k) {
    const auto at = static_cast<std::size_t>(k);
    const double thick = high.radius[at] - low.radius[at];
    const double room = std::min(kLineRoom_px, 0.3 * thick);
    for (double s = room; s <= thick - room + 1e-9; s += 0.5) {
      tones[at].push_back(tone(centre + (low.radius[at] + s) * low.Way(k)));
      all.push_back(tones[at].back());
    }
  }
  if (all.empty()) return {};
  // Up to half of a bond may be missing: its tone is that of the brighter part.
  const double solid = Quantile(all, 0.75);
  std::vector<double> dark;
  for (double t : all) {
    if (t < kOpenShare * solid) dark.push_back(t);
  }
  if (dark.size() < kLeastDark) return {};
  const double hole = Quantile(dark, 0.25);
  std::vector<double> open(static_cast<std::size_t>(n), 0), width(open);
  for (int k = 0; k < n; ++k) {
    const auto at = static_cast<std::size_t>(k);
    for (double t : tones[at]) open[at] += std::clamp((solid - t) / (solid - hole), 0.0, 1.0);
    open[at] /= std::max<double>(1, static_cast<double>(tones[at].size()));
    width[at] = open[at] * (high.radius[at] - low.radius[at]);
  }
  const std::vector<double> smooth = SmoothedRound(open, half),
                            smooth_width = SmoothedRound(width, half);
  std::vector<GapFound> gaps;
  for (const auto& [first, last] :
       Runs(smooth_width, std::max(least_px, kLeastGap_px), static_cast<int>(kJoin_px))) {
    std::vector<double> inside;
    for (int k = first; k <= last; ++k) inside.push_back(Cyclic(smooth, k));
    const double share = Quantile(inside, 0.7);
    if (share < least_share) continue;
    int peak = first;
    for (int k = first; k <= last; ++k) {
      if (Cyclic(smooth, k) > Cyclic(smooth, peak)) peak = k;
    }
    GapFound gap;
    int left = first, right = last;
    while (left < peak && Cyclic(smooth, left) < 0.5 * share) ++left;
    while (right > peak && Cyclic(smooth, right) < 0.5 * share) --right;
    gap.from = CrossingFrom(smooth, left, -1, 0.5 * share);
    gap.to = CrossingFrom(smooth, right, 1, 0.5 * share);
    if (last - first + 1 >= n) gap.from = first, gap.to = last;
    if (!LongEnough(gap.from, gap.to, low, low.radius[0])) continue;
    gap.contour = ArcOutline(
        low, gap.from, gap.to, [&](double p) { return Between(low.radius, p); },
        [&](double p) { return Between(high.radius, p); });
    gap.width_px = share * Between(high.radius, 0.5 * (gap.from + gap.to)) -
                   share * Between(low.radius, 0.5 * (gap.from + gap.to));
    gaps.push_back(std::move(gap));
  }
  return gaps;
}

// The open width beside an edge, between `from` and `to` px outside it (by place).
Open OpenBeside(const ToneReader& tone, const Polar& base, double from,
                const std::vector<double>& to) {
  const int n = base.size();
  constexpr double kOpenStep = 0.5;
  const int columns = static_cast<int>((kBesideGap_px - from) / kOpenStep) + 1;
  cv::Mat1f tones(n, columns, NAN);
  for (int k = 0; k < n; ++k) {
    for (int j = 0; j < columns; ++j) {
      const double s = from + kOpenStep * j;
      if (s > to[static_cast<std::size_t>(k)]) break;
      tones(k, j) = static_cast<float>(
          tone(base.centre + (base.radius[static_cast<std::size_t>(k)] + s) * base.Way(k)));
    }
  }
  std::vector<double> usual(static_cast<std::size_t>(columns), NAN), dark;
  for (int j = 0; j < columns; ++j) {
    std::vector<double> column;
    for (int k = 0; k < n; ++k) {
      if (std::isfinite(tones(k, j))) column.push_back(tones(k, j));
    }
    // Not along most of the way: nothing is usual there.
    if (2 * column.size() < static_cast<std::size_t>(n)) continue;
    usual[static_cast<std::size_t>(j)] = Median(column);
    for (double t : column) {
      if (t < kOpenShare * usual[static_cast<std::size_t>(j)]) dark.push_back(t);
    }
  }
  Open open{std::vector<double>(static_cast<std::size_t>(n), 0), base.radius};
  if (dark.size() < kLeastDark) return open;
  const double hole = Quantile(dark, 0.1);
  for (int k = 0; k < n; ++k) {
    double sum = 0, moment = 0;
    for (int j = 0; j < columns; ++j) {
      const double u = usual[static_cast<std::size_t>(j)];
      if (!std::isfinite(tones(k, j)) || !std::isfinite(u) || u - hole < 0.1) continue;
      const double share = std::clamp((u - tones(k, j)) / (u - hole), 0.0, 1.0);
      if (share < 0.08) continue;
      sum += share * kGapStep;
      moment += share * kGapStep * (from + kGapStep * j);
    }
    open.width[static_cast<std::size_t>(k)] = sum;
    if (sum > 0) open.middle[static_cast<std::size_t>(k)] += moment / sum;
  }
  return open;
}

std::vector<GapFound> GapsAlong(const Polar& base, const Open& open) {
  std::vector<double> width(open.width.size());
  for (int k = 0; k < base.size(); ++k) {
    double sum = 0;
    for (int j = -3; j <= 3; ++j) sum += Cyclic(open.width, k + j);
    width[static_cast<std::size_t>(k)] = sum / 7;
  }
  std::vector<GapFound> gaps;
  for (const auto& run : Runs(width, kLeastGap_px, static_cast<int>(2 * kJoin_px))) {
    const int first = run.first, last = run.second;  // a lambda cannot take parts of a pair
    std::vector<double> inside;
    for (int k = first; k <= last; ++k) inside.push_back(Cyclic(width, k));
    const double full = Quantile(inside, 0.8);
    int left = first, right = last;
    const auto taper = [&](int end, int step) {
      // From where it is 0.8 of full to where it is 0.35, and straight on to nothing.
      int k = end;
      const int most = last - first + 1;
      for (int i = 0; i < most && Cyclic(width, k) < 0.8 * full; ++i) k -= step;
      const double high = CrossingFrom(width, k, step, 0.8 * full),
                   low = CrossingFrom(width, k, step, 0.35 * full);
      const double beyond = 0.35 / 0.45 * std::abs(low - high);
      return low + step * std::min(beyond, 0.2 * most);
    };
    GapFound gap;
    gap.from = taper(left, -1);
    gap.to = taper(right, 1);
    if (last - first + 1 >= base.size()) gap.from = first, gap.to = last;
    if (!LongEnough(gap.from, gap.to, base, base.radius[0])) continue;
    if ((gap.to - gap.from) * 360 < kLeastLinerGap_deg * base.size()) continue;
    const auto half = [&](double p) { return 0.5 * std::max(0.05, Between(width, p)); };
    gap.contour = ArcOutline(
        base, gap.from, gap.to, [&](double p) { return Between(open.middle, p) - half(p); },
        [&](double p) { return Between(open.middle, p) + half(p); });
    gap.width_px = full;
    gaps.push_back(std::move(gap));
  }
  return gaps;
}

// How far outside each place of `base` may be looked before drawn wires come.
std::vector<double> RoomBeside(const Polar& base, const SectionDesign& plane,
                               const ContourPx& outline, double um_per_px) {
  std::vector<double> room(base.radius.size(), kBesideGap_px);
  if (plane.wires.empty()) return room;
  const PointPx middle = Centroid(std::span<const PointPx>(outline));
  double inner = 1e9;
  for (const WireLayerDesign& layer : plane.wires) {
    const double metal = layer.round_um  ? *layer.round_um
                         : layer.flat_um ? layer.flat_um->first
                                         : 0;
    for (double d : layer.on_diameters_um)
      inner = std::min(inner, 0.5 * (d - metal) / um_per_px - kMetalRoom_px);
  }
  for (int k = 0; k < base.size(); ++k) {
    const auto at = static_cast<std::size_t>(k);
    const PointPx p = base.centre + base.radius[at] * base.Way(k);
    room[at] = std::min(kBesideGap_px, inner - Distance(p, middle));
  }
  return room;
}

class Finder {
 public:
  Finder(const Micrograph& micrograph, const FaceTones& tones, const Scale& scale,
         const SectionDesign& plane, const std::vector<RingPath>& rings, Section& section)
      : tone_(micrograph, tones.light),
        scale_(scale),
        plane_(plane),
        rings_(rings),
        section_(section) {}

  void Run() {
    if (!section_.outline || section_.outline->vertices.empty()) return;
    outline_ = InPx(*section_.outline, scale_);
    if (plane_.bond) Bond();
    for (LinerTrace& liner : section_.liners) Liner(liner);
    for (Void& gap : found_) CutByFrame(gap);
    if (!found_.empty()) Merge();
  }

 private:
  // What reaches the frame may go on beyond it.
  void CutByFrame(Void& gap) const {
    for (ContourVertex& v : gap.contour.vertices) {
      const PointPx p = scale_.ToPx(v.at), room{kAtFrame, kAtFrame};
      if (tone_.Inside(p - room) && tone_.Inside(p + room)) continue;
      v.state = VertexState::kCutOff;
      gap.contour.whole = false;
    }
  }

  // A seam as told, else as drawn; empty when the drawing has none of that name.
  ContourPx SeamOf(const std::string& name, bool& told) const {
    for (const RingTrace& ring : section_.rings) {
      if (ring.name == name && !ring.inner.vertices.empty() && ring.inner.doubt.empty())
        return InPx(ring.inner, scale_);
    }
    told = false;
    return DrawnSeam(name);
  }

  void Bond() {
    bool told = true;
    const ContourPx sleeve = SeamOf(plane_.bond->sleeve, told),
                    shaft = SeamOf(plane_.bond->adhesive, told);
    if (sleeve.size() < 12 || shaft.size() < 12) return;
    const double pitch = scale_.mean_pitch_um();
    const auto between = [&](int half) {
      return GapsBetween(tone_, shaft, sleeve, plane_.bond->gap_um / pitch,
                         told ? kLeastShare : kLeastShareDrawn, half);
    };
    std::vector<GapFound> gaps = between(kSmooth);
    if (gaps.size() > kMostBondGaps) gaps = between(kSmoothNoise);
    if (gaps.size() > kMostBondGaps) {
      // Neither that it is whole nor where it is missing can be told then.
      gaps.clear();
      for (RingTrace& ring : section_.rings) {
        if (ring.name == plane_.bond->adhesive && ring.inner.doubt.empty())
          ring.inner.doubt = "its tones vary as gaps would: where it is missing is not told";
      }
    }
    for (GapFound& gap : gaps) {
      found_.push_back(AsVoid(gap, VoidClass::kBondGap,
                              fmt::format("{} is missing over {:.1f} px of its thickness",
                                          plane_.bond->adhesive, gap.width_px),
                              scale_));
      if (!told) {
        found_.back().evidence += "; its seams were not told and were taken as drawn";
        found_.back().contour.doubt = "the seams beside it were not told";
      }
      found_.back().of = plane_.bond->adhesive;
    }
    Arcs(told);
  }

  // Gaps that are seen as such, where no seam led to them or one led to a part of them.
  void Arcs(bool told) {
    const ContourPx inner = DrawnSeam(plane_.bond->adhesive),
                    outer = DrawnSeam(plane_.bond->sleeve);
    if (inner.size() < 12 || outer.size() < 12) return;
    std::vector<ContourPx> bores;
    for (const LumenTrace& lumen : section_.lumens) {
      if (lumen.bore.vertices.size() > 5) bores.push_back(InPx(lumen.bore, scale_));
    }
    const std::vector<GapFound> arcs = DarkArcs(tone_, inner, outer, bores);
    if (arcs.size() > kMostBondGaps) return;
    for (const GapFound& arc : arcs) {
      Void gap = AsVoid(arc, VoidClass::kBondGap,
                        fmt::format("{} is missing: a hole {:.1f} px wide lies along it",
                                    plane_.bond->adhesive, arc.width_px),
                        scale_);
      gap.of = plane_.bond->adhesive;
      if (!told) gap.contour.doubt = "the seams beside it were not told";
      const double length = Perimeter(std::span<const PointUm>(gap.contour.Points()));
      const auto same = std::find_if(found_.begin(), found_.end(), [&](const Void& v) {
        return Shared(v, gap) > kShared * std::min(v.area_um2, gap.area_um2);
      });
      if (same == found_.end()) {
        found_.push_back(std::move(gap));
      } else if (length > kLonger * Perimeter(std::span<const PointUm>(same->contour.Points()))) {
        *same = std::move(gap);
      }
    }
  }

  ContourPx DrawnSeam(const std::string& name) const {
    for (const RingPath& path : rings_) {
      if (path.ring < plane_.rings.size() && plane_.rings[path.ring].name == name)
        return path.drawn;
    }
    return {};
  }

  static double Shared(const Void& a, const Void& b) {
    const ContourUm mine = a.contour.Points(), other = b.contour.Points();
    return IntersectionArea(std::span<const PointUm>(mine), std::span<const PointUm>(other));
  }

  void Liner(LinerTrace& liner) {
    const LumenTrace* lumen = section_.FindLumen(liner.lumen);
    if (lumen == nullptr || lumen->names.size() != 1 || lumen->bore.vertices.size() < 12) return;
    if (!lumen->bore.whole) return;
    const LumenDesign* drawn = plane_.FindLumen(liner.lumen);
    const bool lost = liner.outer.vertices.size() < 12;
    if (lost && (drawn == nullptr || !drawn->liner_thickness_um)) return;
    // Beside an edge that is not its own everything looks like a gap.
    if (!lost && (!liner.outer.whole || !liner.outer.doubt.empty())) return;
    const bool unsure = lost || !lumen->bore.doubt.empty();
    const ContourPx bore = InPx(lumen->bore, scale_);
    // An edge that was lost may have been lost to the gap: it is taken where it is drawn.
    const double wall_px = lost ? *drawn->liner_thickness_um / scale_.mean_pitch_um() : 0;
    const ContourPx outer =
        lost ? Offset(std::span<const PointPx>(bore), wall_px) : InPx(liner.outer, scale_);
    if (outer.size() < 12) return;
    const PointPx centre = Centroid(std::span<const PointPx>(bore));
    const int n =
        std::clamp(static_cast<int>(Perimeter(std::span<const PointPx>(outer))), 180, 2400);
    const Polar inner = PolarOf(bore, centre, n);
    Polar base = PolarOf(outer, centre, n);
    // Where a hole lies just within the edge, that is the gap's far side and not the liner's.
    std::vector<double> within;
    for (int k = 0; k < n; ++k) {
      const auto at = static_cast<std::size_t>(k);
      const double deepest = std::min(kWithin_px, 0.5 * (base.radius[at] - inner.radius[at]));
      double least = 1e9;
      for (double s = kLineRoom_px; s <= std::max(kLineRoom_px, deepest); s += 1)
        least = std::min(least, tone_(base.centre + (base.radius[at] - s) * base.Way(k)));
      within.push_back(least);
    }
    const double solid = Median(within);
    std::vector<HarmonicSample> samples;
    for (int k = 0; k < n; k += 2) {
      const auto at = static_cast<std::size_t>(k);
      if (!lost && within[at] < kOpenShare * solid) continue;
      samples.push_back({static_cast<double>(k) / n, base.radius[at] - inner.radius[at], 0.25});
    }
    if (samples.size() < kLeastWalls) return;
    const int orders[] = {1, 2, 3};
    const Harmonics wall = BestHarmonics(samples, orders);
    for (int k = 0; k < n; ++k) {
      const auto at = static_cast<std::size_t>(k);
      base.radius[at] = inner.radius[at] + wall.At(static_cast<double>(k) / n);
    }
    const std::vector<double> room = RoomBeside(base, plane_, outline_, scale_.mean_pitch_um());
    const Open open = OpenBeside(tone_, base, lost ? -0.4 * wall_px : -0.5, room);
    std::vector<GapFound> gaps = GapsAlong(base, open);
    // A liner comes away in one or two places; more are texture, metal or a wrong edge.
    if (gaps.size() > (unsure ? 1 : kMostLinerGaps)) return;
    for (GapFound& gap : gaps) {
      if (!lost) PassUnder(base, gap, liner.outer);
      found_.push_back(AsVoid(
          gap, VoidClass::kLinerGap,
          fmt::format("lies along the liner of {}, {:.1f} px wide", liner.lumen, gap.width_px),
          scale_));
      found_.back().of = liner.lumen;
    }
  }

  // What the edge room settled in the gap is the gap's far side, or between: the liner ends before.
  void PassUnder(const Polar& base, const GapFound& gap, TracedContour& outer) const {
    for (ContourVertex& v : outer.vertices) {
      const PointPx d = scale_.ToPx(v.at) - base.centre;
      double place = std::atan2(d.y, d.x) / kWholeTurn * base.size();
      while (place < gap.from - 3) place += base.size();
      if (place > gap.to + 3) continue;
      v.at = scale_.ToUm(base.centre + (Between(base.radius, place) / Norm(d)) * d);
      v.sigma_um = std::max(v.sigma_um, kEndSigma_px * scale_.mean_pitch_um());
      v.state = VertexState::kBridged;
    }
  }

  // The gaps in place of voids on the same places. A gap of which much is a part of a larger void
  // is that void: what lies beside a layer looks like a gap of it.
  void Merge() {
    std::erase_if(found_, [&](const Void& gap) {
      return std::any_of(section_.voids.begin(), section_.voids.end(), [&](const Void& v) {
        return v.area_um2 > gap.area_um2 && Shared(v, gap) > kShared * gap.area_um2 &&
               Shared(v, gap) < kShared * v.area_um2;
      });
    });
    std::erase_if(section_.voids, [&](const Void& v) {
      return std::any_of(found_.begin(), found_.end(), [&](const Void& gap) {
        return Shared(v, gap) > kShared * std::min(v.area_um2, gap.area_um2);
      });
    });
    for (Void& gap : found_) section_.voids.push_back(std::move(gap));
    int no = 0;
    for (Void& v : section_.voids) v.no = ++no;
  }

  ToneReader tone_;
  const Scale& scale_;
  const SectionDesign& plane_;
  const std::vector<RingPath>& rings_;
  Section& section_;
  ContourPx outline_;
  std::vector<Void> found_;
};

}  // namespace

void FindLayerGaps(const Micrograph& micrograph, const FaceTones& tones, const Scale& scale,
                   const SectionDesign& plane, const std::vector<RingPath>& rings,
                   Section& section) {
  if (plane.bond || !section.liners.empty())
    Finder(micrograph, tones, scale, plane, rings, section).Run();
}

}  // namespace cutface
