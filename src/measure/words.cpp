#include "measure/words.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "measure/pressure.h"

namespace cutface::measure {
namespace {

using Of = QuantityOf;

const ShapeValues& ShapeOf(const Reader& r, const Target& t) {
  return r.now.shapes[static_cast<std::size_t>(t.first)];
}
const ShapePlaces& PlacesOf(const Reader& r, const Target& t) {
  return r.bench.places()[static_cast<std::size_t>(t.first)];
}
const NominalLumen& NominalOf(const Reader& r, const Target& t) {
  return *r.bench.nominals().lumens[static_cast<std::size_t>(t.first)];
}

// --- shapes --------------------------------------------------------------------------------------

double Diameter(const Reader& r, const Target& t) { return ShapeOf(r, t).diameter; }
double EquivalentDiameter(const Reader& r, const Target& t) {
  return std::sqrt(4 * ShapeOf(r, t).area / kPi);
}
double WidthMin(const Reader& r, const Target& t) { return ShapeOf(r, t).width_min; }
double WidthMax(const Reader& r, const Target& t) { return ShapeOf(r, t).width_max; }
double Roundness(const Reader& r, const Target& t) { return ShapeOf(r, t).roundness; }
double Ovality(const Reader& r, const Target& t) {
  return ShapeOf(r, t).width_max - ShapeOf(r, t).width_min;
}
double AreaOf(const Reader& r, const Target& t) { return ShapeOf(r, t).area; }
double PerimeterOf(const Reader& r, const Target& t) { return ShapeOf(r, t).perimeter; }
double InscribedDiameter(const Reader& r, const Target& t) { return ShapeOf(r, t).inscribed; }
double GoPin(const Reader& r, const Target& t) {
  // A pin is a step of the series; the last digits of a division must not cost a whole step.
  const double room = ShapeOf(r, t).inscribed - r.pins.clearance_um;
  // A plus pin may be larger than its size says.
  const double larger = r.pins.is_plus ? PinToleranceUm(r.pins.grade, room) : 0;
  return std::max(0.0, r.pins.step_um * std::floor((room - larger) / r.pins.step_um + 1e-9));
}
double EnclosingDiameter(const Reader& r, const Target& t) { return ShapeOf(r, t).enclosing; }
double HydraulicDiameter(const Reader& r, const Target& t) {
  return 4 * ShapeOf(r, t).area / ShapeOf(r, t).perimeter;
}
double AreaRatio(const Reader& r, const Target& t) {
  return ShapeOf(r, t).area / NominalOf(r, t).area;
}
double InscribedRatio(const Reader& r, const Target& t) {
  return ShapeOf(r, t).inscribed / NominalOf(r, t).inscribed;
}
double PerimeterRatio(const Reader& r, const Target& t) {
  return ShapeOf(r, t).perimeter / NominalOf(r, t).perimeter;
}
double FlowRatio(const Reader& r, const Target& t) {
  return ShapeOf(r, t).flow_k / NominalOf(r, t).flow_k;
}

std::vector<PointUm> AtCircle(const Reader& r, const Target& t) {
  return {ShapeOf(r, t).circle_centre};
}
std::vector<PointUm> AtCentroid(const Reader& r, const Target& t) {
  return {ShapeOf(r, t).centroid};
}
std::vector<PointUm> AtWidthMin(const Reader& r, const Target& t) {
  return {PlacesOf(r, t).widths.least_at.a, PlacesOf(r, t).widths.least_at.b};
}
std::vector<PointUm> AtWidthMax(const Reader& r, const Target& t) {
  return {PlacesOf(r, t).widths.greatest_at.a, PlacesOf(r, t).widths.greatest_at.b};
}
std::vector<PointUm> AtBothWidths(const Reader& r, const Target& t) {
  std::vector<PointUm> both = AtWidthMin(r, t), most = AtWidthMax(r, t);
  both.insert(both.end(), most.begin(), most.end());
  return both;
}
std::vector<PointUm> AtZone(const Reader& r, const Target& t) {
  return {PlacesOf(r, t).zone_centre};
}
std::vector<PointUm> AtInscribed(const Reader& r, const Target& t) {
  return {PlacesOf(r, t).inscribed_centre};
}
std::vector<PointUm> AtEnclosing(const Reader& r, const Target& t) {
  return {PlacesOf(r, t).enclosing_centre};
}

// --- datum frame ---------------------------------------------------------------------------------

// The lumen's centroid in the design's frame, from the datum centre.
PointUm InDatumFrame(const Reader& r, const Target& t) {
  PointUm d = Rotated(ShapeOf(r, t).centroid - r.now.datum_centre, -r.now.rotation);
  if (r.bench.nominals().mirrored) d.x = -d.x;
  return d;
}
double Offset(const Reader& r, const Target& t) { return Norm(InDatumFrame(r, t)); }
double Position(const Reader& r, const Target& t) {
  return 2 * Distance(InDatumFrame(r, t), NominalOf(r, t).true_position);
}
double Clock(const Reader& r, const Target& t) {
  const PointUm d = InDatumFrame(r, t);
  // From 12 o'clock, the drawing's -y, clockwise as the drawing is seen.
  const double degrees = std::atan2(d.x, -d.y) * 180 / kPi;
  return degrees < 0 ? degrees + 360 : degrees;
}
// Degrees by the clock of a direction in the picture.
double ClockOf(const Reader& r, double direction) {
  double angle = direction - r.now.rotation;
  PointUm d{std::cos(angle), std::sin(angle)};
  if (r.bench.nominals().mirrored) d.x = -d.x;
  const double degrees = std::atan2(d.x, -d.y) * 180 / kPi;
  return degrees < 0 ? degrees + 360 : degrees;
}
// Of the several directions, a part of a turn apart, the one nearest the raw one: draws must not
// jump.
double FoldedClock(double degrees, double raw, int fold) {
  const double part = 360.0 / fold;
  return degrees - part * std::round((degrees - raw) / part);
}
double MinorAxis(const ShapeValues& s) {
  return 0.5 * std::atan2(s.axis_sin, s.axis_cos) + kPi / 2;
}
double NarrowClock(const Reader& r, const Target& t) {
  const Reader raw{r.bench, r.bench.raw(), r.pins};
  const double first = std::fmod(ClockOf(raw, MinorAxis(ShapeOf(raw, t))), 180.0);
  return FoldedClock(ClockOf(r, MinorAxis(ShapeOf(r, t))), first, 2);
}

std::vector<PointUm> AtOffset(const Reader& r, const Target& t) {
  return {ShapeOf(r, t).centroid, r.now.datum_centre};
}

// --- solid between contours ----------------------------------------------------------------------

int GapOf(const Bench& bench, const Target& t) {
  return bench.FindGap(t.first, t.kind == Of::kLumen ? bench.face().outline : t.second);
}
double LeastGap(const Reader& r, const Target& t) {
  return std::max(0.0, r.now.gaps[static_cast<std::size_t>(GapOf(r.bench, t))]);
}
std::vector<PointUm> EndsOf(const Gap& gap, int first) {
  if (gap.first == first) return {gap.raw.on_first, gap.raw.on_second};
  return {gap.raw.on_second, gap.raw.on_first};
}
std::vector<PointUm> AtGap(const Reader& r, const Target& t) {
  return EndsOf(r.bench.gaps()[static_cast<std::size_t>(GapOf(r.bench, t))], t.first);
}
int WayEnd(const Bench& bench, const Target& t) {
  return t.kind == Of::kLumen ? bench.face().outline : t.second;
}
double Barrier(const Reader& r, const Target& t) {
  return FindWay(r.bench, r.now, t.first, WayEnd(r.bench, t), {}, false).sum;
}
double BarrierConducting(const Reader& r, const Target& t) {
  const Stepping stepping = SteppingOf("barrier_conducting");
  return FindWay(r.bench, r.now, t.first, WayEnd(r.bench, t), stepping, false).sum;
}
double BarrierWeakest(const Reader& r, const Target& t) {
  return FindWay(r.bench, r.now, t.first, WayEnd(r.bench, t), {}, false).weakest;
}
std::vector<PointUm> WayPoints(const Bench& bench, const std::vector<int>& gaps, int start) {
  std::vector<PointUm> points;
  int at = start;
  for (int g : gaps) {
    const Gap& gap = bench.gaps()[static_cast<std::size_t>(g)];
    const std::vector<PointUm> ends = EndsOf(gap, at);
    points.insert(points.end(), ends.begin(), ends.end());
    at = gap.first == at ? gap.second : gap.first;
  }
  return points;
}
std::vector<PointUm> AtBarrier(const Reader& r, const Target& t) {
  const Way way = FindWay(r.bench, r.now, t.first, WayEnd(r.bench, t), {}, true);
  return WayPoints(r.bench, way.sum_gaps, t.first);
}
std::vector<PointUm> AtBarrierConducting(const Reader& r, const Target& t) {
  const Stepping stepping = SteppingOf("barrier_conducting");
  const Way way = FindWay(r.bench, r.now, t.first, WayEnd(r.bench, t), stepping, true);
  return WayPoints(r.bench, way.sum_gaps, t.first);
}
std::vector<PointUm> AtBarrierWeakest(const Reader& r, const Target& t) {
  const Way way = FindWay(r.bench, r.now, t.first, WayEnd(r.bench, t), {}, true);
  return WayPoints(r.bench, way.weakest_gaps, t.first);
}

// --- voids ---------------------------------------------------------------------------------------

template <class Function>
void ForVoids(const Bench& bench, Function function) {
  for (int hole : bench.face().voids) {
    const auto f = static_cast<std::size_t>(hole);
    const Feature& feature = bench.face().features[f];
    if (feature.Measurable() && IsSureVoid(feature.hole->kind)) function(f);
  }
}
template <class Measure>
int GreatestVoid(const Reader& r, Measure measure) {
  int greatest = -1;
  double most = -1;
  ForVoids(r.bench, [&](std::size_t f) {
    const double m = measure(r.now.shapes[f]);
    if (m > most) most = m, greatest = static_cast<int>(f);
  });
  return greatest;
}
double VoidArea(const ShapeValues& s) { return s.area; }
double VoidWidth(const ShapeValues& s) { return s.width_max; }

double LargestVoid(const Reader& r, const Target&) {
  const int f = GreatestVoid(r, VoidArea);
  return f < 0 ? 0.0 : std::sqrt(4 * r.now.shapes[static_cast<std::size_t>(f)].area / kPi);
}
double LongestVoid(const Reader& r, const Target&) {
  const int f = GreatestVoid(r, VoidWidth);
  return f < 0 ? 0.0 : r.now.shapes[static_cast<std::size_t>(f)].width_max;
}
std::vector<PointUm> AtLargestVoid(const Reader& r, const Target&) {
  const int f = GreatestVoid(r, VoidArea);
  if (f < 0) return {};
  return {r.now.shapes[static_cast<std::size_t>(f)].centroid};
}
std::vector<PointUm> AtLongestVoid(const Reader& r, const Target&) {
  const int f = GreatestVoid(r, VoidWidth);
  if (f < 0) return {};
  const Segment<FrameUm>& at = r.bench.places()[static_cast<std::size_t>(f)].widths.greatest_at;
  return {at.a, at.b};
}
double VoidCount(const Reader& r, const Target&) {
  int count = 0;
  ForVoids(r.bench, [&](std::size_t) { ++count; });
  return count;
}
double AreaFraction(const Reader& r, const Target&) {
  double voids = 0;
  ForVoids(r.bench, [&](std::size_t f) { voids += r.now.shapes[f].area; });
  double body = r.now.shapes[static_cast<std::size_t>(r.bench.face().outline)].area;
  for (int lumen : r.bench.face().lumens) {
    body -= r.now.shapes[static_cast<std::size_t>(lumen)].area;
  }
  return voids / body;
}
// Gap of a void to `others` with the least solid; -1 without any.
int LeastVoidGap(const Reader& r, const std::vector<int>& others) {
  int least = -1;
  ForVoids(r.bench, [&](std::size_t f) {
    for (int other : others) {
      const int g = r.bench.FindGap(static_cast<int>(f), other);
      if (g >= 0 && (least < 0 || r.now.gaps[static_cast<std::size_t>(g)] <
                                      r.now.gaps[static_cast<std::size_t>(least)])) {
        least = g;
      }
    }
  });
  return least;
}
double ToLumen(const Reader& r, const Target&) {
  const int g = LeastVoidGap(r, r.bench.face().lumens);
  return g < 0 ? 0.0 : std::max(0.0, r.now.gaps[static_cast<std::size_t>(g)]);
}
double ToOutside(const Reader& r, const Target&) {
  const int g = LeastVoidGap(r, {r.bench.face().outline});
  return g < 0 ? 0.0 : std::max(0.0, r.now.gaps[static_cast<std::size_t>(g)]);
}
std::vector<PointUm> AtVoidGap(const Reader& r, int g) {
  if (g < 0) return {};
  const Gap& gap = r.bench.gaps()[static_cast<std::size_t>(g)];
  return {gap.raw.on_first, gap.raw.on_second};
}
std::vector<PointUm> AtToLumen(const Reader& r, const Target&) {
  return AtVoidGap(r, LeastVoidGap(r, r.bench.face().lumens));
}
std::vector<PointUm> AtToOutside(const Reader& r, const Target&) {
  return AtVoidGap(r, LeastVoidGap(r, {r.bench.face().outline}));
}

// --- layers --------------------------------------------------------------------------------------

const Thickness& ThicknessOf(const Reader& r, const Target& t) {
  return r.now.layers[static_cast<std::size_t>(t.layer)];
}
const ThicknessPlaces& ThicknessPlacesOf(const Reader& r, const Target& t) {
  return r.bench.layers()[static_cast<std::size_t>(t.layer)].places();
}
double ThicknessMin(const Reader& r, const Target& t) { return ThicknessOf(r, t).least; }
double ThicknessMean(const Reader& r, const Target& t) { return ThicknessOf(r, t).mean; }
double ThicknessMax(const Reader& r, const Target& t) { return ThicknessOf(r, t).greatest; }
double Concentricity(const Reader& r, const Target& t) {
  const Thickness& now = ThicknessOf(r, t);
  return now.greatest > 0 ? 100 * now.least / now.greatest : 0;
}
double Eccentricity(const Reader& r, const Target& t) {
  return 0.5 * (ThicknessOf(r, t).greatest - ThicknessOf(r, t).least);
}
double WallVariation(const Reader& r, const Target& t) {
  return ThicknessOf(r, t).greatest - ThicknessOf(r, t).least;
}
double WallRange(const Reader& r, const Target& t) {
  const double most = ThicknessOf(r, t).greatest;
  return most > 0 ? 100 * WallVariation(r, t) / most : 0;
}
double EccentricitySum(const Reader& r, const Target& t) {
  const double sum = ThicknessOf(r, t).greatest + ThicknessOf(r, t).least;
  return sum > 0 ? 100 * WallVariation(r, t) / sum : 0;
}
double EccentricityMean(const Reader& r, const Target& t) {
  const double mean = ThicknessOf(r, t).mean;
  return mean > 0 ? 100 * WallVariation(r, t) / mean : 0;
}
template <int K>
double Harmonic(const Reader& r, const Target& t) {
  const Thickness& now = ThicknessOf(r, t);
  return std::hypot(now.wave_cos[K - 1], now.wave_sin[K - 1]);
}
template <int K>
double HarmonicClock(const Reader& r, const Target& t) {
  const auto direction = [&](const Thickness& now) {
    return std::atan2(now.wave_sin[K - 1], now.wave_cos[K - 1]) / K;
  };
  const Reader raw{r.bench, r.bench.raw(), r.pins};
  const double first = std::fmod(ClockOf(raw, direction(ThicknessOf(raw, t))), 360.0 / K);
  return FoldedClock(ClockOf(r, direction(ThicknessOf(r, t))), first, K);
}
double CentresApart(const Reader& r, const Target& t) {
  return Distance(r.now.shapes[static_cast<std::size_t>(t.first)].circle_centre,
                  r.now.shapes[static_cast<std::size_t>(t.second)].circle_centre);
}
double Runout(const Reader& r, const Target& t) { return 2 * CentresApart(r, t); }
std::vector<PointUm> AtThinnest(const Reader& r, const Target& t) {
  return {ThicknessPlacesOf(r, t).least.a, ThicknessPlacesOf(r, t).least.b};
}
std::vector<PointUm> AtThickest(const Reader& r, const Target& t) {
  return {ThicknessPlacesOf(r, t).greatest.a, ThicknessPlacesOf(r, t).greatest.b};
}
std::vector<PointUm> AtBothThicknesses(const Reader& r, const Target& t) {
  std::vector<PointUm> both = AtThinnest(r, t), most = AtThickest(r, t);
  both.insert(both.end(), most.begin(), most.end());
  return both;
}
std::vector<PointUm> AtCentres(const Reader& r, const Target& t) {
  return {r.now.shapes[static_cast<std::size_t>(t.first)].circle_centre,
          r.now.shapes[static_cast<std::size_t>(t.second)].circle_centre};
}

const ClockGaps& GapsOf(const Reader& r, const Target& t) {
  return t.kind == Of::kBond ? r.bench.bond_gaps()
                             : r.bench.layer_gaps()[static_cast<std::size_t>(t.layer)];
}
double LongestGap(const Reader& r, const Target& t) { return GapsOf(r, t).longest_deg; }
double BondedArc(const Reader& r, const Target& t) { return 360 - GapsOf(r, t).total_deg; }
std::vector<PointUm> AtLongestGap(const Reader& r, const Target& t) { return GapsOf(r, t).ends; }

double LeastPolymer(const Reader& r, const Target& t) {
  const int g = r.bench.FindPolymerGap(t.first, t.second);
  return std::max(0.0, r.now.gaps[static_cast<std::size_t>(g)]);
}
std::vector<PointUm> AtPolymer(const Reader& r, const Target& t) {
  const Gap& gap =
      r.bench.gaps()[static_cast<std::size_t>(r.bench.FindPolymerGap(t.first, t.second))];
  return {gap.raw.on_first, gap.raw.on_second};
}

// --- the table -----------------------------------------------------------------------------------

constexpr unsigned kFlow = kNeedsWhole | kNeedsNominal;
constexpr std::array kWords = {
    Word{"diameter", Of::kOutline, kNeedsWhole, Diameter, AtCircle},
    Word{"equivalent_diameter", Of::kOutline, kNeedsWhole, EquivalentDiameter, AtCentroid},
    Word{"width_min", Of::kOutline, kNeedsWhole, WidthMin, AtWidthMin},
    Word{"width_max", Of::kOutline, kNeedsWhole, WidthMax, AtWidthMax},
    Word{"roundness", Of::kOutline, kNeedsWhole, Roundness, AtZone},
    Word{"ovality", Of::kOutline, kNeedsWhole, Ovality, AtBothWidths},
    Word{"area", Of::kOutline, kNeedsWhole, AreaOf, AtCentroid},
    Word{"perimeter", Of::kOutline, kNeedsWhole | kLengthened, PerimeterOf, AtCentroid},

    Word{"diameter", Of::kLumen, kNeedsWhole, Diameter, AtCircle},
    Word{"equivalent_diameter", Of::kLumen, kNeedsWhole, EquivalentDiameter, AtCentroid},
    Word{"width_min", Of::kLumen, kNeedsWhole, WidthMin, AtWidthMin},
    Word{"width_max", Of::kLumen, kNeedsWhole, WidthMax, AtWidthMax},
    Word{"roundness", Of::kLumen, kNeedsWhole, Roundness, AtZone},
    Word{"ovality", Of::kLumen, kNeedsWhole, Ovality, AtBothWidths},
    Word{"area", Of::kLumen, kNeedsWhole, AreaOf, AtCentroid},
    Word{"perimeter", Of::kLumen, kNeedsWhole | kLengthened, PerimeterOf, AtCentroid},
    Word{"inscribed_diameter", Of::kLumen, kNeedsWhole, InscribedDiameter, AtInscribed},
    Word{"go_pin", Of::kLumen, kNeedsWhole, GoPin, AtInscribed},
    Word{"enclosing_diameter", Of::kLumen, kNeedsWhole, EnclosingDiameter, AtEnclosing},
    Word{"hydraulic_diameter", Of::kLumen, kNeedsWhole | kLengthened, HydraulicDiameter,
         AtCentroid},
    Word{"area_ratio", Of::kLumen, kFlow, AreaRatio, AtCentroid},
    Word{"inscribed_ratio", Of::kLumen, kFlow, InscribedRatio, AtInscribed},
    Word{"flow_ratio", Of::kLumen, kFlow, FlowRatio, AtCentroid},
    Word{"perimeter_ratio", Of::kLumen, kFlow | kLengthened, PerimeterRatio, AtCentroid},
    Word{"narrow_clock", Of::kLumen, kNeedsWhole | kNeedsDatum, NarrowClock, AtWidthMin},
    Word{"offset", Of::kLumen, kNeedsWhole | kNeedsDatum, Offset, AtOffset},
    Word{"position", Of::kLumen, kNeedsWhole | kNeedsDatum | kNeedsNominal, Position, AtCentroid},
    Word{"clock", Of::kLumen, kNeedsWhole | kNeedsDatum, Clock, AtOffset},
    Word{"wall", Of::kLumen, kNeedsGap | kNeedsOutline, LeastGap, AtGap},
    Word{"barrier", Of::kLumen, kNeedsPath | kNeedsOutline, Barrier, AtBarrier},
    Word{"barrier_conducting", Of::kLumen, kNeedsPath | kNeedsOutline | kNeedsWires,
         BarrierConducting, AtBarrierConducting},

    Word{"septum", Of::kLumenPair, kNeedsGap, LeastGap, AtGap},
    Word{"septum_polymer", Of::kLumenPair, kNeedsGap, LeastPolymer, AtPolymer},
    Word{"barrier", Of::kLumenPair, kNeedsPath, Barrier, AtBarrier},
    Word{"barrier_weakest", Of::kLumenPair, kNeedsPath, BarrierWeakest, AtBarrierWeakest},
    Word{"barrier_conducting", Of::kLumenPair, kNeedsPath | kNeedsWires, BarrierConducting,
         AtBarrierConducting},

    Word{"strip_span", Of::kLumenPair, kNeedsGap | kNeedsLoad, StripSpan, AtStrip},
    Word{"strip_stress", Of::kLumenPair, kNeedsGap | kNeedsLoad, StripStress, AtGap},
    Word{"strip_sag", Of::kLumenPair, kNeedsGap | kNeedsLoad, StripSag, AtGap},
    Word{"hoop_stress", Of::kLumen, kNeedsWhole | kNeedsGap | kNeedsOutline | kNeedsLoad,
         HoopStress, AtGap},

    Word{"largest", Of::kVoids, kNeedsOutline, LargestVoid, AtLargestVoid},
    Word{"longest", Of::kVoids, kNeedsOutline, LongestVoid, AtLongestVoid},
    Word{"void_count", Of::kVoids, kNeedsOutline, VoidCount, nullptr},
    Word{"area_fraction", Of::kVoids, kNeedsAll, AreaFraction, nullptr},
    Word{"void_to_lumen", Of::kVoids, kNeedsVoid, ToLumen, AtToLumen},
    Word{"void_to_outside", Of::kVoids, kNeedsVoid | kNeedsOutline, ToOutside, AtToOutside},

    Word{"thickness_min", Of::kRing, kNeedsWhole | kNeedsLeastPlace, ThicknessMin, AtThinnest},
    Word{"thickness_mean", Of::kRing, kNeedsWhole, ThicknessMean, nullptr},
    Word{"thickness_max", Of::kRing, kNeedsWhole | kNeedsGreatestPlace, ThicknessMax, AtThickest},
    Word{"concentricity", Of::kRing, kNeedsWhole | kNeedsLeastPlace | kNeedsGreatestPlace,
         Concentricity, AtBothThicknesses},
    Word{"eccentricity", Of::kRing, kNeedsWhole | kNeedsLeastPlace | kNeedsGreatestPlace,
         Eccentricity, AtBothThicknesses},
    Word{"wall_variation", Of::kRing, kNeedsWhole | kNeedsLeastPlace | kNeedsGreatestPlace,
         WallVariation, AtBothThicknesses},
    Word{"wall_range", Of::kRing, kNeedsWhole | kNeedsLeastPlace | kNeedsGreatestPlace, WallRange,
         AtBothThicknesses},
    Word{"eccentricity_sum", Of::kRing, kNeedsWhole | kNeedsLeastPlace | kNeedsGreatestPlace,
         EccentricitySum, AtBothThicknesses},
    Word{"eccentricity_mean", Of::kRing, kNeedsWhole | kNeedsLeastPlace | kNeedsGreatestPlace,
         EccentricityMean, AtBothThicknesses},
    Word{"centre_offset", Of::kRing, kNeedsWhole, CentresApart, AtCentres},
    Word{"first_harmonic", Of::kRing, kNeedsWhole, Harmonic<1>, nullptr},
    Word{"first_harmonic_clock", Of::kRing, kNeedsWhole | kNeedsDatum, HarmonicClock<1>, nullptr},
    Word{"second_harmonic", Of::kRing, kNeedsWhole, Harmonic<2>, nullptr},
    Word{"second_harmonic_clock", Of::kRing, kNeedsWhole | kNeedsDatum, HarmonicClock<2>, nullptr},
    Word{"third_harmonic", Of::kRing, kNeedsWhole, Harmonic<3>, nullptr},
    Word{"third_harmonic_clock", Of::kRing, kNeedsWhole | kNeedsDatum, HarmonicClock<3>, nullptr},
    Word{"runout", Of::kRing, kNeedsWhole, Runout, AtCentres},
    Word{"longest_gap", Of::kRing, kNeedsClockGaps, LongestGap, AtLongestGap},

    Word{"offset", Of::kBond, kNeedsWhole, CentresApart, AtCentres},
    Word{"runout", Of::kBond, kNeedsWhole, Runout, AtCentres},
    Word{"bonded_arc", Of::kBond, kNeedsClockGaps, BondedArc, nullptr},
    Word{"longest_gap", Of::kBond, kNeedsClockGaps, LongestGap, AtLongestGap},
};

}  // namespace

std::span<const Word> Words() { return kWords; }

}  // namespace cutface::measure
