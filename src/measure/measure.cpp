#include "cutface/measure.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>
#include <numbers>

#include "cutface/asked.h"
#include "cutface/in_parallel.h"
#include "cutface/quantity.h"
#include "cutface/stats.h"
#include "measure/draws.h"
#include "measure/face.h"
#include "measure/interval.h"
#include "measure/lengthwise.h"
#include "measure/pressure.h"
#include "measure/snapshot.h"
#include "measure/wires.h"
#include "measure/words.h"

namespace cutface {
namespace {

using namespace measure;

constexpr std::string_view kGapsAllowed =
    "an upper bound: gaps along liners, rings and wires are not told surely by this version; the "
    "lower limit allows for those along liners and rings";

constexpr std::size_t kDrawsAtOnce = 16;
constexpr int kRippleDraws = 12;  // to tell how bias grows with noise, and noise from waviness
// The bias that noise causes is known to about this share of itself: simulated faces, from round
// bores to flat septa, were corrected with errors of -12 to +8 %.
constexpr double kBiasDoubt = 0.15;
const double kTripled = std::sqrt(3.0);

// One seed per face: faces measured with the same option must not share their luck.
std::uint64_t FaceSeed(const Face& face, std::uint64_t seed) {
  std::uint64_t hash = 0xcbf29ce484222325u ^ seed;
  const auto mix = [&](double x) {
    hash = (hash ^ std::bit_cast<std::uint64_t>(x)) * 0x100000001b3u;
    hash ^= hash >> 29;
  };
  for (const Feature& feature : face.features) {
    for (std::size_t i = 0; i < feature.full.size(); i += 17) {
      mix(feature.full[i].x);
      mix(feature.full[i].y);
    }
  }
  return hash;
}

bool SameNames(const std::vector<std::string>& of, const std::string& a, const std::string& b) {
  return of.size() == 2 && ((of[0] == a && of[1] == b) || (of[0] == b && of[1] == a));
}

struct Asked {
  const SectionDesign* plane;
  bool Pair(const std::string& a, const std::string& b) const {
    if (plane == nullptr) return false;
    return std::any_of(plane->characteristics.begin(), plane->characteristics.end(),
                       [&](const Characteristic& c) { return SameNames(c.of, a, b); });
  }
  bool Word(const Target& target, std::string_view word) const {
    if (plane == nullptr) return false;
    return std::any_of(plane->characteristics.begin(), plane->characteristics.end(),
                       [&](const Characteristic& c) {
                         if (c.quantity != word) return false;
                         return target.of.size() == 2 ? SameNames(c.of, target.of[0], target.of[1])
                                                      : c.of == target.of;
                       });
  }
};

std::vector<Target> Targets(const Bench& bench, const Asked& asked) {
  const Face& face = bench.face();
  std::vector<Target> targets;
  targets.push_back({{"outline"}, QuantityOf::kOutline, face.outline, -1});
  const auto feature = [&](int f) -> const Feature& {
    return face.features[static_cast<std::size_t>(f)];
  };
  for (int lumen : face.lumens) {
    targets.push_back({{feature(lumen).name}, QuantityOf::kLumen, lumen, -1});
  }
  for (std::size_t i = 0; i < face.lumens.size(); ++i) {
    for (std::size_t j = i + 1; j < face.lumens.size(); ++j) {
      const int a = face.lumens[i], b = face.lumens[j];
      const int g = bench.FindGap(a, b);
      const bool neighbours = g >= 0 && !bench.gaps()[static_cast<std::size_t>(g)].blocked;
      const bool merged = feature(a).lumen == feature(b).lumen;
      if (neighbours || merged || asked.Pair(feature(a).name, feature(b).name)) {
        targets.push_back({{feature(a).name, feature(b).name}, QuantityOf::kLumenPair, a, b});
      }
    }
  }
  targets.push_back({{"voids"}, QuantityOf::kVoids, -1, -1});
  for (std::size_t k = 0; k < face.layers.size(); ++k) {
    const Layer& layer = face.layers[k];
    if (layer.inner < 0 || layer.outer < 0) continue;
    targets.push_back(
        {{layer.name}, QuantityOf::kRing, layer.inner, layer.outer, static_cast<int>(k)});
  }
  if (asked.plane != nullptr && asked.plane->bond) {
    const int sleeve = face.FindLayer(asked.plane->bond->sleeve);
    const int adhesive = face.FindLayer(asked.plane->bond->adhesive);
    if (sleeve >= 0 && adhesive >= 0) {
      targets.push_back({{"bond"},
                         QuantityOf::kBond,
                         face.layers[static_cast<std::size_t>(sleeve)].inner,
                         face.layers[static_cast<std::size_t>(adhesive)].inner});
    }
  }
  return targets;
}

// All drawn snapshots of a face, and those that tell the parts of the budget apart.
struct DrawnFace {
  Snapshot rest;
  std::vector<Snapshot> all;
  struct Part {
    std::string source;
    std::vector<Snapshot> steps;  // one standard uncertainty each: root of the sum of squares
  };
  std::vector<Part> parts;
  std::vector<Snapshot> single,
      tripled;                       // noise and waviness once, and at three times the variance
  std::vector<Snapshot> noise_only;  // empty unless there is waviness too
};

// Draws one after the other, since they share their luck, and evaluates them side by side. `draw`
// fills the contours of draw d.
template <class Draw>
void EvaluateDraws(const Bench& bench, const Draw& draw, std::vector<Snapshot>& out) {
  std::vector<std::vector<ContourUm>> moved(std::min(kDrawsAtOnce, out.size()));
  for (std::size_t first = 0; first < out.size(); first += moved.size()) {
    const std::size_t count = std::min(moved.size(), out.size() - first);
    for (std::size_t k = 0; k < count; ++k) draw(static_cast<int>(first + k), moved[k]);
    InParallel(count, [&](std::size_t k) { bench.Evaluate(moved[k], out[first + k]); });
  }
}

DrawnFace DrawFace(const Bench& bench, const Scale& scale, const MeasureOptions& options) {
  DrawnFace drawn;
  if (options.draws <= 0) return drawn;
  const Face& face = bench.face();
  DrawMachine machine(face, scale.u_relative_x(), scale.u_relative_y(), options.draws,
                      FaceSeed(face, options.seed));
  std::vector<ContourUm> moved;
  machine.Displace({}, -1, moved);
  bench.Evaluate(moved, drawn.rest);
  drawn.all.resize(static_cast<std::size_t>(options.draws));
  EvaluateDraws(
      bench, [&](int d, std::vector<ContourUm>& to) { machine.Draw(d, Parts::All(), to); },
      drawn.all);
  const auto step = [&](DrawnFace::Part& part, const Parts& parts, int feature) {
    machine.Displace(parts, feature, moved);
    bench.Evaluate(moved, part.steps.emplace_back());
  };
  DrawnFace::Part scale_part{"scale", {}}, edge_part{"edge model", {}};
  if (scale.u_relative_x() > 0) step(scale_part, {true, false, false, false, false}, -1);
  if (scale.u_relative_y() > 0) step(scale_part, {false, true, false, false, false}, -1);
  const Parts common{false, false, true, false, false};
  for (std::size_t f = 0; f < face.features.size(); ++f) {
    const Feature& feature = face.features[f];
    const bool together =
        feature.kind == Feature::Kind::kVoid || feature.kind == Feature::Kind::kWire;
    if (together || !feature.Measurable()) continue;
    if (feature.traced->u_common_um > 0) step(edge_part, common, static_cast<int>(f));
  }
  if (!face.voids.empty()) step(edge_part, common, DrawMachine::kAllVoids);
  if (!face.wires.empty()) step(edge_part, common, DrawMachine::kAllWires);
  step(edge_part, common, DrawMachine::kShared);
  drawn.parts = {std::move(scale_part), std::move(edge_part)};
  const auto draw_ripple = [&](std::vector<Snapshot>& out, const Parts& parts, double ripple) {
    machine.Restart(1);
    out.resize(kRippleDraws);
    EvaluateDraws(
        bench, [&](int d, std::vector<ContourUm>& to) { machine.Draw(d, parts, to, ripple); }, out);
  };
  const Parts ripple{false, false, false, true, true};
  if (machine.has_arc() || machine.has_noise()) {
    draw_ripple(drawn.single, ripple, 1);
    draw_ripple(drawn.tripled, ripple, kTripled);
  }
  if (machine.has_arc() && machine.has_noise()) {
    draw_ripple(drawn.noise_only, {false, false, false, false, true}, 1);
  }
  return drawn;
}

class Worker {
 public:
  Worker(const Section& section, const Design* design, const SectionDesign* plane,
         const Scale& scale, const MeasureOptions& options, Face& face)
      : section_(section),
        scale_(scale),
        options_(options),
        asked_{plane},
        pins_(design != nullptr ? design->pins : PinSeries{}),
        bench_(face, section, plane,
               {options.brute_force, options.draws > 0, scale.mean_pitch_um(),
                scale.ToUm(section.placement.centre_px)}),
        loads_(PrepareLoads(bench_, section, design, plane,
                            options.loads ? &*options.loads : nullptr)),
        drawn_(DrawFace(bench_, scale, options)) {}

  std::vector<Measurement> All() {
    std::vector<Measurement> out;
    for (const Target& target : Targets(bench_, asked_)) {
      for (const Word& word : Words()) {
        if (word.of == target.kind) Add(target, word, out);
      }
    }
    return out;
  }

 private:
  void Add(const Target& target, const Word& word, std::vector<Measurement>& out) {
    Measurement m;
    const QuantityRow* row = FindQuantity(word.word, word.of);
    CF_CHECK(row != nullptr);
    m.of = target.of;
    m.quantity = word.word;
    m.unit = row->unit;
    const bool no_outline = target.kind == QuantityOf::kOutline && target.first < 0;
    Refusal refusal =
        no_outline ? Refusal{true, "the outline was not found"} : Refuse(bench_, target, word);
    const bool loaded = (word.needs & kNeedsLoad) != 0;
    if (loaded &&
        (refusal.reason.empty() || loads_.pressure_mpa.empty() || loads_.Difference(target) == 0)) {
      refusal = RefuseLoad(bench_, loads_, target, word);
    }
    if (!refusal.reason.empty()) {
      if (!refusal.applies && !asked_.Word(target, word.word)) return;
      m.state =
          refusal.applies ? Measurement::State::kNotMeasured : Measurement::State::kNotApplicable;
      m.reason = refusal.reason;
      out.push_back(std::move(m));
      return;
    }
    const Reader raw{bench_, bench_.raw(), pins_, &loads_};
    m.raw = word.value(raw, target);
    if (word.places != nullptr) m.at = word.places(raw, target);
    SetGrade(target, word, m);
    if (loaded) DoubtLoad(word, m);
    if (word.word == "go_pin") {
      SetPin(target, word, out, m);
    } else {
      SetUncertainty(target, word, *row, m);
      WidenForDoubtful(target, word, m);
    }
    out.push_back(std::move(m));
  }

  // The pin that passes for certain: from the lower limit of the inscribed circle.
  void SetPin(const Target& target, const Word& word, const std::vector<Measurement>& earlier,
              Measurement& m) const {
    Snapshot sure = bench_.raw();
    for (const Measurement& other : earlier) {
      if (other.quantity == "inscribed_diameter" && other.of == m.of) {
        sure.shapes[static_cast<std::size_t>(target.first)].inscribed = other.lo;
      }
    }
    m.value = m.lo = m.hi = word.value(Reader{bench_, sure, pins_, &loads_}, target);
  }

  void SetUncertainty(const Target& target, const Word& word, const QuantityRow& row,
                      Measurement& m) const {
    m.value = m.lo = m.hi = m.raw;
    if (target.kind == QuantityOf::kVoids && word.word == "void_count") m.hi += Unsure().count;
    if (row.kind == QuantityKind::kCount || options_.draws <= 0) return;
    const double rest = word.value(Reader{bench_, drawn_.rest, pins_, &loads_}, target);
    const auto difference = [&](const Snapshot& snapshot) {
      double d = word.value(Reader{bench_, snapshot, pins_, &loads_}, target) - rest;
      if (row.circular) d -= 360 * std::round(d / 360);
      return d;
    };
    const auto differences = [&](const std::vector<Snapshot>& snapshots) {
      std::vector<double> values;
      values.reserve(snapshots.size());
      for (const Snapshot& snapshot : snapshots) values.push_back(difference(snapshot));
      return values;
    };
    Spread spread = SpreadOf(differences(drawn_.all));
    const std::vector<double> single = differences(drawn_.single);
    IntervalRules rules;
    rules.row = &row;
    if (row.kind == QuantityKind::kLeast || row.kind == QuantityKind::kGreatest) {
      rules.correct_bias = true;
      spread.bias *= BiasFactor(single, differences(drawn_.tripled));
    } else if ((word.needs & kLengthened) != 0) {
      rules.correct_bias = true;
      spread.bias *= bench_.face().features[static_cast<std::size_t>(target.first)].excess_ratio;
    }
    rules.floor = row.unit == "um" ? options_.u_floor_um : 0.0;
    rules.over_reading = OverReading(target, row, m.raw);
    // The other half of a squash shortens.
    if (section_.placement.stretch_kind == StretchKind::kSquashed && row.unit == "um")
      rules.unseen = m.raw * std::sqrt(section_.placement.stretch);
    VoidRules(target, word, rules);
    GapRules(target, word, rules);
    if (word.word.ends_with("_harmonic_clock")) rules.extra_u = DirectionFloor(target, word);
    const double void_u = rules.extra_u;
    const double seam_u = SeamU(target, row, m.raw);
    const double bias_u = rules.correct_bias ? kBiasDoubt * std::abs(spread.bias) : 0.0;
    rules.extra_u = std::hypot(void_u, bias_u, seam_u);
    SetInterval(m, spread, rules);
    if (word.word == "bonded_arc") m.hi = std::min(m.hi, 360.0);
    if (word.word == "wall_range" || word.word == "eccentricity_sum") {
      for (double* x : {&m.value, &m.lo, &m.hi}) *x = std::min(*x, 100.0);  // no wall is below none
    }
    if (row.circular)
      m.value = m.value >= 360 ? m.value - 360 : m.value < 0 ? m.value + 360 : m.value;

    double known = 0;
    for (const DrawnFace::Part& part : drawn_.parts) {
      double sum = 0;
      for (const double d : differences(part.steps)) sum += d * d;
      known += sum;
      if (sum > 0) m.budget.push_back({part.source, std::sqrt(sum)});
    }
    const double rest_u = std::sqrt(std::max(0.0, spread.u * spread.u - known));
    AddRipple(rest_u, single, differences(drawn_.noise_only), m);
    if (void_u > 0) m.budget.push_back({"void edge", void_u});
    if (seam_u > 0) m.budget.push_back({"seam of the stitched picture", seam_u});
    if (bias_u > 0) m.budget.push_back({"bias correction", bias_u});
    if (m.u > std::hypot(spread.u, rules.extra_u) && rules.floor > 0) {
      m.budget.push_back({"floor", m.u});
    }
    if (rules.over_reading > 0) {
      const bool gap = (word.needs & kNeedsClockGaps) != 0;
      m.budget.push_back(
          {gap ? "gaps too short to be seen (lower limit only)" : "stretched face (limits only)",
           rules.over_reading / std::sqrt(3.0)});
    }
    if (row.kind == QuantityKind::kLeast && m.value > m.raw) {
      m.budget.push_back({"bias correction (lower limit only)", m.value - m.raw});
    }
  }

  // What the scalars do not explain, split between noise and waviness as their own draws say.
  void AddRipple(double rest_u, const std::vector<double>& both, const std::vector<double>& noise,
                 Measurement& m) const {
    if (!(rest_u > 0)) return;
    if (noise.empty()) {
      m.budget.push_back({AnyNoise() ? "noise" : "edge waviness", rest_u});
      return;
    }
    const double both_u = SpreadOf(both).u;
    const double share = both_u > 0 ? std::min(1.0, SpreadOf(noise).u / both_u) : 1.0;
    m.budget.push_back({"noise", rest_u * share});
    m.budget.push_back({"edge waviness", rest_u * std::sqrt(1 - share * share)});
  }
  bool AnyNoise() const {
    for (const Feature& feature : bench_.face().features) {
      for (double sigma : feature.sigma) {
        if (sigma > 0) return true;
      }
    }
    return false;
  }

  // A tilt that was not corrected stretches lengths along one direction by up to 1 / cos.
  double OverReading(const Target& target, const QuantityRow& row, double raw) const {
    const Placement& placement = section_.placement;
    const bool squashed = placement.stretch_kind == StretchKind::kSquashed;
    const double tilt = placement.oblique_rad;
    if ((!(tilt > 0) && !squashed) || (row.unit != "um" && row.unit != "um2")) return 0;
    if (squashed && row.unit == "um2") return 0;  // a squash keeps areas
    double length = raw;
    if (row.word == "ovality" || row.word == "roundness") {
      // Not the value itself: a round feature seems oval by its own width.
      length = bench_.raw().shapes[static_cast<std::size_t>(target.first)].width_max;
    }
    if (!squashed) return (1 - std::cos(tilt)) * length;
    // Half of a squash lengthens one direction; an oval shows both halves.
    const bool shape = row.word == "ovality" || row.word == "roundness";
    return (1 - 1 / (shape ? placement.stretch : std::sqrt(placement.stretch))) * length;
  }

  // A seam shifts what lies beyond it: a length by the shift, an area by the shift times the width
  // across, the direction of a lumen by the shift over its distance from the datum.
  double SeamU(const Target& target, const QuantityRow& row, double raw) const {
    const double seam = options_.seam_u_um;
    if (!(seam > 0)) return 0;
    if (row.unit == "um") return seam;
    if (target.first < 0) return 0;
    const ShapeValues& shape = bench_.raw().shapes[static_cast<std::size_t>(target.first)];
    if (row.unit == "um2") return seam * shape.width_max;
    if (row.word == "clock") {
      const double away = Distance(shape.centroid, bench_.raw().datum_centre);
      return away > 0 ? std::min(180.0, seam / away * 180 / std::numbers::pi) : 0;
    }
    // Ratios to nominal: two lengths, or one and a half for the width alone.
    if (row.word == "area_ratio" || row.word == "inscribed_ratio" || row.word == "flow_ratio")
      return raw * 4 * seam / std::max(1.0, shape.width_min);
    return 0;
  }

  // Places that may be voids and are not counted: upper limits allow for them.
  struct UnsureVoids {
    int count = 0;
    double largest_um = 0, longest_um = 0, area_um2 = 0;
  };
  UnsureVoids Unsure() const {
    UnsureVoids out;
    for (int index : bench_.face().voids) {
      const Feature& feature = bench_.face().features[static_cast<std::size_t>(index)];
      if (!feature.Measurable() || IsSureVoid(feature.hole->kind)) continue;
      ++out.count;
      out.area_um2 += feature.hole->area_um2;
      out.largest_um =
          std::max(out.largest_um, std::sqrt(4 * feature.hole->area_um2 / std::numbers::pi));
      out.longest_um =
          std::max(out.longest_um, bench_.raw().shapes[static_cast<std::size_t>(index)].width_max);
    }
    return out;
  }
  double SureArea() const {
    double area = 0;
    for (int index : bench_.face().voids) {
      const Feature& feature = bench_.face().features[static_cast<std::size_t>(index)];
      if (feature.Measurable() && IsSureVoid(feature.hole->kind)) area += feature.hole->area_um2;
    }
    return area;
  }

  void VoidRules(const Target& target, const Word& word, IntervalRules& rules) const {
    if (target.kind != QuantityOf::kVoids) return;
    const double seen = section_.picture.smallest_void_px * scale_.mean_pitch_um();
    const bool fraction = word.word == "area_fraction";
    const UnsureVoids unsure = Unsure();
    if (word.word == "largest") rules.unseen = std::max({rules.unseen, seen, unsure.largest_um});
    if (word.word == "longest") rules.unseen = std::max({rules.unseen, seen, unsure.longest_um});
    if (word.word != "largest" && !fraction) return;
    double greatest = 0, squares = 0, u_largest = 0;
    for (int hole : bench_.face().voids) {
      const Void& v = *bench_.face().features[static_cast<std::size_t>(hole)].hole;
      if (!IsSureVoid(v.kind)) continue;
      squares += v.u_area_um2 * v.u_area_um2;
      if (v.area_um2 > greatest) greatest = v.area_um2, u_largest = v.u_area_um2;
    }
    if (!fraction && greatest > 0) {
      rules.extra_u = u_largest / std::sqrt(std::numbers::pi * greatest);
    }
    if (fraction) {
      double body = bench_.raw().shapes[static_cast<std::size_t>(bench_.face().outline)].area;
      for (int lumen : bench_.face().lumens) {
        body -= bench_.raw().shapes[static_cast<std::size_t>(lumen)].area;
      }
      rules.extra_u = std::sqrt(squares) / body;
      rules.unseen = std::numbers::pi / 4 * seen * seen / body;
      if (unsure.count > 0)
        rules.unseen = std::max(rules.unseen, (SureArea() + unsure.area_um2) / body);
    }
  }

  // Ends of gaps by the clock; short ones may have been overlooked.
  void GapRules(const Target& target, const Word& word, IntervalRules& rules) const {
    if ((word.needs & kNeedsClockGaps) == 0) return;
    const ClockGaps& gaps = target.kind == QuantityOf::kBond
                                ? bench_.bond_gaps()
                                : bench_.layer_gaps()[static_cast<std::size_t>(target.layer)];
    if (word.word == "longest_gap") {
      rules.extra_u = gaps.count > 0 ? std::sqrt(2.0) * gaps.u_end_deg : 0;
      rules.unseen = gaps.unseen_deg;
    } else {
      rules.extra_u = std::sqrt(2.0 * gaps.count) * gaps.u_end_deg;
      rules.over_reading = gaps.unseen_deg;
    }
  }

  // What the floor of lengths is as a direction of a wave: floor / amplitude, over its order.
  double DirectionFloor(const Target& target, const Word& word) const {
    const Thickness& now = bench_.raw().layers[static_cast<std::size_t>(target.layer)];
    const std::size_t k = word.word.starts_with("first")    ? 0
                          : word.word.starts_with("second") ? 1
                                                            : 2;
    const double amplitude = std::hypot(now.wave_cos[k], now.wave_sin[k]);
    const double turn = amplitude > 0 ? options_.u_floor_um / amplitude : 1;
    return std::min(1.0, turn) / static_cast<double>(k + 1) * 180 / std::numbers::pi;
  }

  // Doubtful voids are no stepping stones, and liners and rings are taken to hold where no gap is
  // seen; the lower limit must not bet on either.
  void WidenForDoubtful(const Target& target, const Word& word, Measurement& m) const {
    if ((word.needs & kNeedsPath) == 0) return;
    const int end = target.kind == QuantityOf::kLumen ? bench_.face().outline : target.second;
    const double below = m.value - m.lo;
    Stepping stepping = SteppingOf(word.word);
    stepping.doubtful = true;
    const auto allow = [&](const std::string& why) {
      const Way way = FindWay(bench_, bench_.raw(), target.first, end, stepping, false);
      const double with = word.word == "barrier_weakest" ? way.weakest : way.sum;
      if (!(with < m.raw - 1e-9)) return;
      m.lo = std::max(0.0, std::min(m.lo, with - below));
      if (!why.empty()) Doubt(m, why);
    };
    allow(std::string(kDoubtfulWay) + "; the lower limit allows for it");
    if (!bench_.nominals().layered) return;
    stepping.seams = true;
    allow("");
    Doubt(m, std::string(kGapsAllowed));
  }

  void SetGrade(const Target& target, const Word& word, Measurement& m) const {
    constexpr double kBridgedMuch = 0.1;
    const auto look = [&](int f) {
      if (f < 0) return;
      const Feature& feature = bench_.face().features[static_cast<std::size_t>(f)];
      if (feature.traced == nullptr) return;
      const bool bridged = (word.needs & kNeedsWhole) != 0 && feature.BridgedShare() > kBridgedMuch;
      if (!feature.traced->doubt.empty()) Doubt(m, feature.traced->doubt);
      if (bridged)
        Doubt(m, fmt::format("{:.0f} % of its edge was not seen", 100 * feature.BridgedShare()));
    };
    look(target.first);
    look(target.second);
    if (target.kind == QuantityOf::kLumen && (word.needs & kNeedsOutline) != 0) {
      look(bench_.face().outline);
    }
    const PictureQuality& picture = section_.picture;
    if (picture.grade == "clean") return;
    for (const std::string& reason : picture.reasons) Doubt(m, "picture: " + reason);
    m.grade = picture.grade;
  }
  void DoubtLoad(const Word& word, Measurement& m) const {
    if (word.word == "hoop_stress" && loads_.open_lumens > 1)
      Doubt(m, "an upper bound: there are other lumens; finite elements tell more");
    if (word.word == "strip_stress" && !(loads_.modulus_mpa > 0))
      Doubt(m, "whether the sag stays below half of the thickness is not known without a modulus");
    if (bench_.nominals().layered)
      Doubt(m, "gaps along liners, rings and wires are not told by this version");
  }
  static void Doubt(Measurement& m, const std::string& why) {
    if (m.grade == "clean") m.grade = "doubtful";
    if (m.grade_reason.find(why) != std::string::npos) return;
    m.grade_reason += (m.grade_reason.empty() ? "" : "; ") + why;
  }

  const Section& section_;
  const Scale& scale_;
  const MeasureOptions& options_;
  Asked asked_;
  PinSeries pins_;
  Bench bench_;
  Loads loads_;
  DrawnFace drawn_;
};

}  // namespace

std::vector<Measurement> MeasureSection(const Section& section, const Design* design,
                                        const SectionDesign* plane, const Scale& scale,
                                        const MeasureOptions& options) {
  CF_CHECK(options.draws == 0 || options.draws >= 16);
  Face face = PrepareFace(section);
  Worker worker(section, design, plane, scale, options, face);
  std::vector<Measurement> all = worker.All();
  if (plane != nullptr && plane->kind == "lengthwise") {
    for (Measurement& m : MeasureLengthwise(section, *plane, scale, options))
      all.push_back(std::move(m));
  } else {
    MeasureWires(section, plane, scale, options, all);
  }
  return all;
}

std::vector<std::pair<std::string, int>> MeasuredWords() {
  std::vector<std::pair<std::string, int>> words;
  for (const Word& word : Words()) words.emplace_back(word.word, static_cast<int>(word.of));
  for (const std::string_view word : ElementWords()) {
    const QuantityOf of = word == "wall_stress" ? QuantityOf::kLumen : QuantityOf::kLumenPair;
    words.emplace_back(word, static_cast<int>(of));
  }
  std::vector<std::string_view> of_wires = LengthwiseWords();
  for (const std::string_view word : WireWords()) of_wires.push_back(word);
  for (const std::string_view word : of_wires)
    words.emplace_back(word, static_cast<int>(QuantityOf::kWireLayer));
  for (const std::string_view word : AskedWords())
    words.emplace_back(word, static_cast<int>(QuantityOf::kAsked));
  return words;
}

}  // namespace cutface
