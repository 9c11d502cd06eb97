#include "identify/edge_marks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "cutface/in_parallel.h"
#include "cutface/stats.h"
#include "identify/edge_strip.h"
#include "identify/tone_reader.h"

namespace cutface {
namespace {

constexpr double kRoom_blur = 1.3;    // beside the edge: its own blur is no mark
constexpr double kLeastTone = 0.05;   // relative: what texture does
constexpr double kLeastNoises = 4.5;  // of the smoothed strip
constexpr double kLeastWidth_px = 0.9;
constexpr double kShortGap_px = 16, kShortSmear_px = 10, kShortChip_px = 5, kLongChip_px = 45;
constexpr std::size_t kMostRegions = 6;  // along one edge: more are texture
constexpr double kFarShare = 0.45;       // at the strip's far end, of its strongest: goes on
constexpr double kFillingShows = 0.3;    // relative tone of what fills a lumen or lies outside
constexpr double kLeastContrast = 0.1;
constexpr double kLipTone = 0.9, kGapTone = 0.65;  // of the body's
constexpr double kEdgeSigma_px = 0.7;

constexpr double kLeastParted_deg = 10;  // of a layer that has come away
constexpr std::size_t kMostParted = 2;
constexpr double kPartedDepth = 0.2, kPartedWidest_px = 1.5;

enum class Side { kVoid, kSolid };

constexpr int kColumns = EdgeStrip::kColumns;
constexpr double kReachVoid_px = EdgeStrip::kReachVoid_px, kStep = EdgeStrip::kStep,
                 kReachLayers_px = EdgeStrip::kReachLayers_px;
constexpr double kReachSolid_px = 9;

int Wrapped(int k, int n) { return ((k % n) + n) % n; }

struct Found {
  int first = 0, last = 0;    // places, last >= first, may exceed the size
  std::vector<double> width;  // px, by place of the run
  double depth = 0;           // mean relative tone in it, signed
};

// Open width by place: of columns s in [from, to] whose tone differs the way of `sign` (0: either
// way) by enough, contiguous from the edge's side.
std::vector<double> Widths(const EdgeStrip& strip, double from, double to, int sign) {
  std::vector<double> width(strip.at.size(), 0);
  const int step = to > from ? 1 : -1;
  const int begin = strip.Column(from), end = strip.Column(to);
  for (int k = 0; k < strip.size(); ++k) {
    int missed = 0;
    for (int j = begin; j != end + step; j += step) {
      const double left = strip.left(k, j), noise = strip.noise[static_cast<std::size_t>(j)];
      if (!std::isfinite(left)) break;
      const double least = std::max(kLeastTone, kLeastNoises * noise);
      const bool differs = sign == 0 ? std::abs(left) > least : sign * left > least;
      if (differs) {
        width[static_cast<std::size_t>(k)] += kStep;
      } else if (++missed > 2) {
        break;  // what does not begin at the edge is no mark of it
      }
    }
  }
  return width;
}

std::vector<Found> RunsOf(const EdgeStrip& strip, const std::vector<double>& width, double from,
                          double to, double shortest) {
  const int n = strip.size();
  std::vector<Found> runs;
  int start = -1;
  for (int k = 0; k < n && start < 0; ++k) {
    if (width[static_cast<std::size_t>(k)] < kLeastWidth_px) start = k;
  }
  if (start < 0) return runs;
  constexpr int kJoin = 4;
  for (int k = start + 1; k <= start + n; ++k) {
    if (width[static_cast<std::size_t>(k % n)] < kLeastWidth_px) continue;
    if (!runs.empty() && k - runs.back().last <= kJoin) {
      runs.back().last = k;
    } else {
      runs.push_back({k, k, {}, 0});
    }
  }
  std::erase_if(runs, [&](const Found& f) { return f.last - f.first + 1 < shortest; });
  const int a = strip.Column(std::min(from, to)), b = strip.Column(std::max(from, to));
  for (Found& run : runs) {
    double sum = 0;
    int count = 0;
    for (int k = run.first; k <= run.last; ++k) {
      run.width.push_back(width[static_cast<std::size_t>(k % n)]);
      double strongest = 0;
      for (int j = a; j <= b; ++j) {
        const double left = strip.left(k % n, j);
        if (std::isfinite(left) && std::abs(left) > std::abs(strongest)) strongest = left;
      }
      sum += strongest;
      ++count;
    }
    run.depth = sum / std::max(1, count);
  }
  return runs;
}

// A chip lies at the edge; a scratch, dust or an overlooked void goes on.
bool GoesOn(const EdgeStrip& strip, const Found& run, Side side) {
  double far = 0, near = 0;
  int n_far = 0, n_near = 0;
  for (int k = run.first; k <= run.last; ++k) {
    for (int j = 0; j < kColumns; ++j) {
      const double s = side == Side::kSolid ? strip.S(j) : -strip.S(j);
      const double reach = side == Side::kSolid ? kReachSolid_px : kReachVoid_px;
      const double left = strip.left(k % strip.size(), j);
      if (!std::isfinite(left)) continue;
      if (s > reach - 1.6 && s <= reach) far += left, ++n_far;
      if (s > 1 && s < 3.5) near += left, ++n_near;
    }
  }
  if (n_far == 0 || n_near == 0) return false;
  return std::abs(far / n_far) > kFarShare * std::abs(near / n_near);
}

// Where a layer has come away: dark within [from, to] px of an edge, over a long arc. Wires hide
// parts of it.
struct DarkRun {
  int first = 0, last = 0;  // places, last may exceed the size
  std::vector<double> low, high;
  double depth = 0, widest = 0;
};

class DarkRuns {
 public:
  DarkRuns(const EdgeStrip& strip, double from, double to) : strip_(strip) {
    const int a = strip.Column(from), b = strip.Column(to);
    for (int k = 0; k < strip.size(); ++k) Look(k, a, b);
  }

  std::vector<DarkRun> Find(double shortest) const {
    const int n = strip_.size();
    int start = -1;
    for (int k = 0; k < n && start < 0; ++k) {
      if (state_[static_cast<std::size_t>(k)] == State::kShut) start = k;
    }
    std::vector<DarkRun> runs;
    if (start < 0) return runs;
    int shut = 0, hidden = 0, open = 0, known = 0;
    const auto close = [&] {
      if (runs.empty() || open == 0) return;
      const bool good =
          runs.back().last - runs.back().first + 1 >= shortest && open > kMostlyOpen * known;
      if (!good) runs.pop_back();
      open = known = 0;
    };
    for (int k = start + 1; k <= start + n; ++k) {
      const State state = state_[static_cast<std::size_t>(k % n)];
      if (state == State::kOpen) {
        if (open > 0 && shut <= kBridgeShut && hidden <= kBridgeHidden) {
          runs.back().last = k;
          known += shut;
        } else {
          close();
          runs.push_back({k, k, {}, {}, 0, 0});
        }
        ++open, ++known;
        shut = hidden = 0;
      } else {
        ++(state == State::kShut ? shut : hidden);
      }
    }
    close();
    for (DarkRun& run : runs) Fill(run);
    return runs;
  }

 private:
  enum class State { kShut, kOpen, kHidden };
  static constexpr int kBridgeShut = 5, kBridgeHidden = 40;
  static constexpr double kMostlyOpen = 0.7;
  static constexpr double kPartedTone = 0.12, kPartedWidth_px = 0.9;

  void Look(int k, int a, int b) {
    int seen = 0, dark = 0;
    double low = 1e9, high = -1e9, deepest = 0;
    for (int j = a; j <= b; ++j) {
      const double left = strip_.left(k, j);
      if (!std::isfinite(left)) continue;
      ++seen;
      const double noise = strip_.noise[static_cast<std::size_t>(j)];
      deepest = std::min(deepest, left);
      if (left > -std::max(kPartedTone, kLeastNoises * noise)) continue;
      ++dark;
      low = std::min(low, strip_.S(j));
      high = std::max(high, strip_.S(j) + kStep);
    }
    const bool open = kStep * dark >= kPartedWidth_px;
    state_.push_back(open ? State::kOpen : 2 * seen < b - a + 1 ? State::kHidden : State::kShut);
    low_.push_back(low);
    high_.push_back(high);
    depth_.push_back(deepest);
    width_.push_back(kStep * dark);
  }

  void Fill(DarkRun& run) const {
    const int n = strip_.size();
    double low = 0, high = 0, depth = 0;
    int open = 0;
    for (int k = run.first; k <= run.last; ++k) {
      const auto at = static_cast<std::size_t>(k % n);
      if (state_[at] == State::kOpen) {
        low = low_[at];
        high = high_[at];
        depth += depth_[at];
        run.widest = std::max(run.widest, width_[at]);
        ++open;
      }
      run.low.push_back(low);
      run.high.push_back(high);
    }
    run.depth = depth / std::max(1, open);
    Taper(run);
  }

  // The ends of what tapers are too thin to be seen: on in a straight line from 0.8 of its width
  // over 0.35 to nothing.
  void Taper(DarkRun& run) const {
    const int n = strip_.size();
    const auto width = [&](int k) {
      double sum = 0;
      for (int i = -3; i <= 3; ++i) sum += width_[static_cast<std::size_t>(Wrapped(k + i, n))];
      return sum / 7;
    };
    std::vector<double> all;
    for (int k = run.first; k <= run.last; ++k) all.push_back(width(k));
    const double full = Quantile(all, 0.8);
    const int most = run.last - run.first + 1;
    const auto beyond = [&](int end, int step) {
      int high = end, low = end;
      while (std::abs(high - end) < most / 2 && width(high) < 0.8 * full) high -= step;
      while (std::abs(low - end) < most / 4 && width(low) > 0.35 * full) low += step;
      while (std::abs(low - end) < most / 2 && width(low) < 0.35 * full) low -= step;
      const int slope = std::abs(low - high);
      const int reach = (low - end) * step + static_cast<int>(std::lround(0.35 / 0.45 * slope));
      return std::clamp(reach, 0, most / 5);
    };
    const int before = beyond(run.first, -1), after = beyond(run.last, 1);
    const auto middle = [&](std::size_t at) { return 0.5 * (run.low[at] + run.high[at]); };
    const double left = middle(0), right = middle(run.low.size() - 1);
    run.low.insert(run.low.begin(), static_cast<std::size_t>(before), left - 0.1);
    run.high.insert(run.high.begin(), static_cast<std::size_t>(before), left + 0.1);
    run.low.insert(run.low.end(), static_cast<std::size_t>(after), right - 0.1);
    run.high.insert(run.high.end(), static_cast<std::size_t>(after), right + 0.1);
    run.first -= before;
    run.last += after;
  }

  const EdgeStrip& strip_;
  std::vector<State> state_;
  std::vector<double> low_, high_, depth_, width_;
};

// Looks along one edge.
class Marker {
 public:
  Marker(const Micrograph& micrograph, const FaceTones& tones, const Scale& scale,
         const SectionDesign& plane, const Section& section, const OtherEdges& others)
      : tone_(micrograph, tones.light),
        scale_(scale),
        plane_(plane),
        section_(section),
        others_(others),
        reduction_(micrograph.reduction) {}

  std::vector<Void>& found() { return found_; }

  void Along(const TracedContour& contour, const std::string& of, bool bore) {
    const ContourPx places = InPx(contour, scale_);
    if (Perimeter(std::span<const PointPx>(places)) < 60) return;
    const EdgeStrip strip = StripAlong(tone_, places, bore, others_.Without(contour), reduction_);
    const double room = kRoom_blur * std::max(contour.edge_blur_px, 0.6) + 0.5;
    const double open = Usual(strip, -kReachVoid_px, -kReachVoid_px + 3),
                 solid = Usual(strip, kReachSolid_px - 3, kReachSolid_px);
    if (!std::isfinite(open) || !std::isfinite(solid)) return;
    VoidSide(strip, of, bore, room, open, solid);
    Chips(strip, of, room, solid - open, open > kFillingShows, bore);
  }

  // Crescents beside a ring's inner edge.
  void AlongRing(const RingTrace& ring) {
    if (ring.inner.vertices.size() < 12) return;
    const ContourPx places = InPx(ring.inner, scale_);
    const EdgeStrip strip =
        StripAlong(tone_, places, true, others_.Without(ring.inner, true), reduction_);
    Parted(strip, -3, 7, VoidClass::kDelamination, ring.name, ring.name);
  }

  // Beyond a liner whose outer edge was not told, or whose gap was not followed along it.
  void AlongLiner(const LinerTrace& liner) {
    const LumenDesign* drawn = plane_.FindLumen(liner.lumen);
    const LumenTrace* lumen = section_.FindLumen(liner.lumen);
    if (drawn == nullptr || !drawn->liner_thickness_um || lumen == nullptr ||
        lumen->bore.vertices.size() < 12 || lumen->names.size() != 1)
      return;
    for (const Void& v : section_.voids) {
      if (v.kind == VoidClass::kLinerGap && v.of == liner.lumen) return;
    }
    const double wall = *drawn->liner_thickness_um / scale_.mean_pitch_um();
    const double room = kRoom_blur * std::max(lumen->bore.edge_blur_px, 0.6) + 0.5;
    const double from = std::max(room, 0.5 * wall), to = std::min(wall + 6, kReachLayers_px);
    if (to - from < 3) return;
    const EdgeStrip strip = StripAlong(tone_, InPx(lumen->bore, scale_), true,
                                       others_.Without(lumen->bore, true), reduction_);
    Parted(strip, from, to, VoidClass::kLinerGap, liner.lumen, "the liner of " + liner.lumen);
  }

 private:
  void Parted(const EdgeStrip& strip, double from, double to, VoidClass kind, const std::string& of,
              const std::string& what) {
    const double shortest = kLeastParted_deg / 360 * strip.size();
    const std::vector<DarkRun> runs = DarkRuns(strip, from, to).Find(shortest);
    if (runs.size() > kMostParted) return;
    for (const DarkRun& run : runs) {
      if (run.depth > -kPartedDepth || run.widest < kPartedWidest_px) continue;
      ContourPx near, far;
      for (int k = run.first; k <= run.last; ++k) {
        const auto at = static_cast<std::size_t>(Wrapped(k, strip.size()));
        const auto i = static_cast<std::size_t>(k - run.first);
        near.push_back(strip.at[at] + run.low[i] * strip.normal[at]);
        far.push_back(strip.at[at] + run.high[i] * strip.normal[at]);
      }
      near.insert(near.end(), far.rbegin(), far.rend());
      const double span = 360.0 * (run.last - run.first + 1) / strip.size();
      // What is seen without the liner's own edge may be a lip, dirt or a band of the light as
      // well.
      const bool sure = kind != VoidClass::kLinerGap;
      Void v = Region(near, sure ? kind : VoidClass::kDoubtful, of);
      v.numbers = {{"span_deg", span},
                   {"width_um", run.widest * scale_.mean_pitch_um()},
                   {"step_percent", 100 * run.depth}};
      v.evidence = fmt::format(
          "dark along {} over about {:.0f} degrees, {:.1f} px wide, {:.0f} % darker than usual "
          "there",
          what, span, run.widest, -100 * run.depth);
      found_.push_back(std::move(v));
    }
  }

  Void Region(ContourPx contour, VoidClass kind, const std::string& of) const {
    if (SignedArea(std::span<const PointPx>(contour)) < 0)
      std::reverse(contour.begin(), contour.end());
    Void v;
    v.kind = kind;
    v.of = of;
    const double pitch = scale_.mean_pitch_um();
    ContourUm points;
    for (PointPx p : contour) points.push_back(scale_.ToUm(p));
    const ContourUm normals = OutwardNormals(std::span<const PointUm>(points));
    for (std::size_t i = 0; i < points.size(); ++i)
      v.contour.vertices.push_back({points[i], normals[i], kEdgeSigma_px * pitch});
    v.contour.u_common_um = kEdgeSigma_px * pitch;
    v.contour.noise_length_um = 4 * pitch;
    v.contour.edge_model = "step";
    v.centroid = Centroid(std::span<const PointUm>(points));
    v.area_um2 = Area(std::span<const PointUm>(points));
    v.u_area_um2 = Perimeter(std::span<const PointUm>(points)) * v.contour.u_common_um;
    return v;
  }

  static double Usual(const EdgeStrip& strip, double from, double to) {
    double sum = 0;
    int n = 0;
    for (int j = strip.Column(from); j <= strip.Column(to); ++j) {
      const double u = strip.usual[static_cast<std::size_t>(j)];
      if (std::isfinite(u)) sum += u, ++n;
    }
    return n > 0 ? sum / n : NAN;
  }

  // Resin drawn back is darker than both sides; a lip brings the lumen's tone towards the body's.
  void VoidSide(const EdgeStrip& strip, const std::string& of, bool bore, double room, double open,
                double solid) {
    const double contrast = solid - open;
    const auto tell = [&](int sign, double shortest, VoidClass kind) {
      std::vector<Found> runs = RunsOf(strip, Widths(strip, -room, -kReachVoid_px + 2, sign), -room,
                                       -kReachVoid_px + 2, shortest);
      if (runs.size() > kMostRegions) return;
      for (const Found& run : runs) {
        if (GoesOn(strip, run, Side::kVoid)) continue;
        VoidClass told = kind;
        if (kind == VoidClass::kPottingGap && bore && contrast < -kLeastContrast) {
          // A bright filling: a lip of the darker body is dark too, but no darker than the body.
          const double tone = open + run.depth;
          if (tone > kLipTone * solid)
            told = VoidClass::kSmear;
          else if (tone > kGapTone * solid)
            told = VoidClass::kDoubtful;
        }
        Tell(strip, run, -room, -1, told, of, std::abs(contrast));
      }
    };
    // In an empty, dark lumen nothing darker shows.
    if (open > kFillingShows) tell(-1, kShortGap_px, VoidClass::kPottingGap);
    if (bore && contrast > kLeastContrast) tell(1, kShortSmear_px, VoidClass::kSmear);
  }

  void Chips(const EdgeStrip& strip, const std::string& of, double room, double contrast,
             bool filled, bool bore) {
    std::vector<Found> runs = RunsOf(strip, Widths(strip, room, kReachSolid_px - 1, 0), room,
                                     kReachSolid_px - 1, kShortChip_px);
    std::erase_if(runs, [](const Found& f) { return f.last - f.first + 1 > kLongChip_px; });
    if (runs.size() > kMostRegions) return;
    for (const Found& run : runs) {
      if (GoesOn(strip, run, Side::kSolid)) continue;
      // Beside a filling the edge may have been settled at the far side of a gap.
      // Towards a lumen's tone it may be what shows behind a lip.
      const bool either = (filled && run.depth < 0) || (bore && run.depth * contrast < 0);
      Tell(strip, run, room, 1, either ? VoidClass::kDoubtful : VoidClass::kChip, of,
           std::abs(contrast));
    }
  }

  void Tell(const EdgeStrip& strip, const Found& run, double room, int way, VoidClass kind,
            const std::string& of, double contrast) {
    ContourPx near, far;
    double widest = 0;
    for (int k = run.first; k <= run.last; ++k) {
      const auto at = static_cast<std::size_t>(k % strip.size());
      const double w = std::abs(room) + run.width[static_cast<std::size_t>(k - run.first)];
      widest = std::max(widest, w);
      near.push_back(strip.at[at]);
      far.push_back(strip.at[at] + way * w * strip.normal[at]);
    }
    near.insert(near.end(), far.rbegin(), far.rend());
    if (near.size() < 6) return;
    Void v = Region(near, kind, of);
    const double pitch = scale_.mean_pitch_um();
    const double length = run.last - run.first + 1;
    v.numbers["length_um"] = length * pitch;
    v.numbers["width_um"] = widest * pitch;
    v.numbers["step_percent"] = 100 * run.depth;
    v.numbers["step_of_contrast_percent"] = 100 * std::abs(run.depth) / std::max(0.01, contrast);
    if (way < 0) v.numbers["beyond_edge"] = 1;
    const char* what = kind == VoidClass::kDoubtful
                           ? (way < 0 ? "a gap of the potting or a lip of the body, at"
                                      : "a chip of the cut, a lip or a gap of the potting, at")
                       : kind == VoidClass::kPottingGap ? "darker than the filling beside"
                       : kind == VoidClass::kSmear      ? "of a tone towards the body's over"
                                                        : "of another tone than the body at";
    v.evidence = fmt::format(
        "a strip {:.0f} px long and {:.1f} px wide, {} {}, {:.0f} % of the "
        "edge's contrast",
        length, widest, what, of, v.numbers["step_of_contrast_percent"]);
    found_.push_back(std::move(v));
  }

  ToneReader tone_;
  const Scale& scale_;
  const SectionDesign& plane_;
  const Section& section_;
  const OtherEdges& others_;
  int reduction_;
  std::vector<Void> found_;
};

}  // namespace

void FindEdgeMarks(const Micrograph& micrograph, const FaceTones& tones, const Scale& scale,
                   const SectionDesign& plane, Section& section) {
  if (plane.kind == "lengthwise") return;
  if (!section.outline || section.outline->vertices.size() < 12) return;
  const OtherEdges others(section, scale, micrograph.reduction, micrograph.reduced_mean.size());
  std::vector<std::function<void(Marker&)>> looks;
  looks.push_back([&](Marker& marker) { marker.Along(*section.outline, "outline", false); });
  for (const LumenTrace& lumen : section.lumens) {
    if (lumen.bore.vertices.size() < 12) continue;
    looks.push_back([&](Marker& marker) { marker.Along(lumen.bore, lumen.Key(), true); });
  }
  if (!plane.bond) {
    for (const RingTrace& ring : section.rings)
      looks.push_back([&](Marker& marker) { marker.AlongRing(ring); });
  }
  for (const LinerTrace& liner : section.liners)
    looks.push_back([&](Marker& marker) { marker.AlongLiner(liner); });

  std::vector<Marker> markers(looks.size(),
                              Marker(micrograph, tones, scale, plane, section, others));
  InParallel(looks.size(), [&](std::size_t i) { looks[i](markers[i]); });
  for (Marker& marker : markers) {
    for (Void& v : marker.found()) {
      v.no = static_cast<int>(section.voids.size()) + 1;
      section.voids.push_back(std::move(v));
    }
  }
}

}  // namespace cutface
