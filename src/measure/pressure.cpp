#include "measure/pressure.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

namespace cutface::measure {
namespace {

constexpr double kLookTo = 3.0;       // thickness up to which a strip is followed, of the least
constexpr double kLeastSlender = 10;  // span over thickness: shear adds 14 % of sag there
constexpr double kMostRise = 0.5;     // of the thickness: more is an arch
constexpr double kMostSag = 0.5;      // of the thickness: more and the middle stretches
constexpr double kMostOval = 0.1;     // of a bore or outline that is taken for a circle
constexpr double kLeastUm = 1e-3;

std::size_t GapIndex(const Bench& bench, const Target& t) {
  const int g =
      bench.FindGap(t.first, t.kind == QuantityOf::kLumen ? bench.face().outline : t.second);
  CF_CHECK(g >= 0);
  return static_cast<std::size_t>(g);
}

double Least(const Reader& r, const Target& t) {
  return std::max(kLeastUm, r.now.gaps[GapIndex(r.bench, t)]);
}

// The threshold of the ends follows the drawn thickness: 2 t of a strip that is thicker by t -
// least everywhere.
double Threshold(const Strip& strip, double now) {
  return std::max(strip.least, strip.least + now);
}

bool Round(const ShapeValues& shape) {
  return shape.width_max - shape.width_min <= kMostOval * shape.diameter;
}

}  // namespace

bool Strip::Held(double threshold) const {
  return std::all_of(std::begin(side), std::end(side), [&](const std::vector<Sample>& s) {
    return std::any_of(s.begin(), s.end(),
                       [&](const Sample& x) { return x.thickness >= threshold; });
  });
}

PointUm Strip::End(int which, double threshold) const {
  const std::vector<Sample>& s = side[which];
  for (std::size_t i = 1; i < s.size(); ++i) {
    if (s[i].thickness < threshold) continue;
    const double step = s[i].thickness - s[i - 1].thickness;
    const double t = step > 0 ? std::clamp((threshold - s[i - 1].thickness) / step, 0.0, 1.0) : 1.0;
    return s[i - 1].Middle() + t * (s[i].Middle() - s[i - 1].Middle());
  }
  return s.back().Middle();
}

double Strip::Rise(double threshold) const {
  const PointUm a = End(0, threshold), b = End(1, threshold);
  const double length = Distance(a, b);
  double rise = 0;
  for (const Sample& s : Within(threshold, 1000)) {
    if (length > 0) rise = std::max(rise, std::abs(Cross(b - a, s.Middle() - a)) / length);
  }
  return rise;
}

std::vector<Strip::Sample> Strip::Within(double threshold, std::size_t most) const {
  std::vector<Sample> all;
  for (std::size_t i = side[0].size(); i-- > 1;) all.push_back(side[0][i]);
  all.insert(all.end(), side[1].begin(), side[1].end());
  // From the least place outwards to the first that is thick enough, to either side.
  std::size_t from = side[0].size() - 1, to = from;
  while (from > 0 && all[from - 1].thickness < threshold) --from;
  while (to + 1 < all.size() && all[to + 1].thickness < threshold) ++to;
  std::vector<Sample> within;
  const std::size_t count = to - from + 1, kept = std::min(count, most);
  for (std::size_t k = 0; k < kept; ++k)
    within.push_back(all[from + (kept > 1 ? k * (count - 1) / (kept - 1) : count / 2)]);
  return within;
}

Strip MakeStrip(const ContourUm& first, const ContourUm& second) {
  Strip strip;
  const ContourIndex<FrameUm> index{std::span<const PointUm>(second)};
  const auto near = index.NearestToEach(std::span<const PointUm>(first));
  const std::size_t n = first.size();
  const auto least = std::min_element(near.begin(), near.end(), [](const auto& a, const auto& b) {
    return a.distance < b.distance;
  });
  const auto start = static_cast<std::size_t>(least - near.begin());
  strip.least = least->distance;
  for (int which = 0; which < 2; ++which) {
    for (std::size_t k = 0; k < n / 2; ++k) {
      const std::size_t i = which == 0 ? (start + n - k) % n : (start + k) % n;
      strip.side[which].push_back({near[i].distance, first[i], near[i].on_second});
      if (near[i].distance > kLookTo * strip.least && k > 0) break;
    }
  }
  return strip;
}

double Loads::Difference(const Target& target) const {
  if (pressure_mpa.empty()) return 0;
  const double a = pressure_mpa[static_cast<std::size_t>(target.first)];
  if (target.kind == QuantityOf::kLumen) return a;
  return std::abs(a - pressure_mpa[static_cast<std::size_t>(target.second)]);
}

Loads PrepareLoads(const Bench& bench, const Section& section, const Design* design,
                   const SectionDesign* plane, const PressureLoads* loads) {
  Loads out;
  if (loads == nullptr || loads->lumens_mpa.empty()) return out;
  const Face& face = bench.face();
  out.pressure_mpa.assign(face.features.size(), 0.0);
  for (int lumen : face.lumens) {
    const Feature& feature = face.features[static_cast<std::size_t>(lumen)];
    const auto own = loads->lumens_mpa.find(feature.name);
    if (own != loads->lumens_mpa.end())
      out.pressure_mpa[static_cast<std::size_t>(lumen)] = own->second;
    if (feature.Measurable()) ++out.open_lumens;
  }
  if (design != nullptr) {
    const auto body = design->materials.find("body");
    if (body != design->materials.end()) {
      out.modulus_mpa = body->second.modulus_mpa.value_or(0);
      out.poisson = body->second.poisson.value_or(-1);
    }
  }
  if (loads->wires_free && plane != nullptr) {
    for (const WireLayerDesign& layer : plane->wires) {
      double thick = layer.round_um ? *layer.round_um : layer.flat_um ? layer.flat_um->first : 0;
      for (const WireLayerTrace& seen : section.wire_layers) {
        if (seen.name == layer.name) thick = std::max(thick, seen.short_um);
      }
      out.wires_um += thick;
    }
  }
  out.strips.resize(bench.gaps().size());
  for (std::size_t g = 0; g < bench.gaps().size(); ++g) {
    const Gap& gap = bench.gaps()[g];
    const auto first = static_cast<std::size_t>(gap.first),
               second = static_cast<std::size_t>(gap.second);
    const bool lumens = face.features[first].kind == Feature::Kind::kLumen &&
                        face.features[second].kind == Feature::Kind::kLumen;
    if (!lumens || out.pressure_mpa[first] == out.pressure_mpa[second]) continue;
    out.strips[g] = MakeStrip(face.features[first].full, face.features[second].full);
  }
  return out;
}

double StripSpan(const Reader& r, const Target& t) {
  const Strip& strip = r.loads->strips[GapIndex(r.bench, t)];
  return strip.Span(Threshold(strip, Least(r, t)));
}
double StripStress(const Reader& r, const Target& t) {
  const double w = StripSpan(r, t), thick = Least(r, t);
  return r.loads->Difference(t) * w * w / (2 * thick * thick);
}
double StripSag(const Reader& r, const Target& t) {
  const double w = StripSpan(r, t), thick = Least(r, t), nu = r.loads->poisson;
  return r.loads->Difference(t) * std::pow(w, 4) * (1 - nu * nu) /
         (32 * r.loads->modulus_mpa * std::pow(thick, 3));
}
std::vector<PointUm> AtStrip(const Reader& r, const Target& t) {
  const Strip& strip = r.loads->strips[GapIndex(r.bench, t)];
  const double threshold = Threshold(strip, Least(r, t));
  return {strip.End(0, threshold), strip.End(1, threshold)};
}

double HoopStress(const Reader& r, const Target& t) {
  const ShapeValues& bore = r.now.shapes[static_cast<std::size_t>(t.first)];
  const ShapeValues& outline = r.now.shapes[static_cast<std::size_t>(r.bench.face().outline)];
  const double p = r.loads->Difference(t), a = std::sqrt(bore.area / kPi);
  const double wall = std::max(kLeastUm, Least(r, t) - r.loads->wires_um);
  if (r.loads->open_lumens > 1) {
    // The wall as thin all round (Lame), or the edge of a half plane (Jeffery): the greater.
    const double b = a + wall;
    const double ring = (b * b + a * a) / (b * b - a * a), edge = 4 * a * a / (b * b - a * a);
    return p * std::max(ring, edge);
  }
  const double b = std::sqrt(outline.area / kPi);
  // A wall that is thinner than the circles say counts as thin as it is.
  const double e = std::max(Distance(bore.circle_centre, outline.circle_centre), b - a - wall);
  const double shared = -2 * a * e - e * e;
  return p *
         (2 * b * b * (b * b + a * a + shared) / ((a * a + b * b) * (b * b - a * a + shared)) - 1);
}

namespace {

Refusal RefuseStrip(const Bench& bench, const Loads& loads, const Target& target,
                    const Word& word) {
  const Strip& strip = loads.strips[GapIndex(bench, target)];
  if (strip.side[0].size() < 2 || strip.side[1].size() < 2) return {true, "no septum to speak of"};
  const double t = bench.raw().gaps[GapIndex(bench, target)];
  const double threshold = Threshold(strip, t);
  if (!(t > kLeastUm)) return {true, "no solid is left at its thinnest place"};
  if (!strip.Held(threshold))
    return {true,
            "the thickness does not double to both sides of the thinnest place: no held ends"};
  if (word.word == "strip_span") return {};
  if (!bench.nominals().layered) {
    const Way way = FindWay(bench, bench.raw(), target.first, target.second, {}, false);
    if (way.weakest < t)
      return {true,
              "a void lies in the septum: the ligaments beside it are thinner than the strip"};
  }
  const double w = strip.Span(threshold), rise = strip.Rise(threshold);
  if (w < kLeastSlender * t) {
    return {true,
            fmt::format("outside the formula: the span is {:.1f} thicknesses, below {:.0f}, where "
                        "shear counts; finite elements tell",
                        w / t, kLeastSlender)};
  }
  if (rise > kMostRise * t) {
    return {true,
            fmt::format("outside the formula: curved by {:.1f} um over its span, an arch and no "
                        "strip; finite elements tell",
                        rise)};
  }
  const bool elastic = loads.modulus_mpa > 0 && loads.poisson >= 0;
  if (!elastic && word.word == "strip_sag")
    return {true, "the drawing gives no modulus and Poisson's ratio of the material body"};
  if (elastic) {
    const double sag = StripSag(Reader{bench, bench.raw(), {}, &loads}, target);
    if (sag > kMostSag * t) {
      return {true,
              fmt::format("outside the formula: it would sag by {:.1f} um, more than half of its "
                          "thickness",
                          sag)};
    }
  }
  return {};
}

Refusal RefuseHoop(const Bench& bench, const Loads& loads, const Target& target) {
  const ShapeValues& bore = bench.raw().shapes[static_cast<std::size_t>(target.first)];
  const ShapeValues& outline = bench.raw().shapes[static_cast<std::size_t>(bench.face().outline)];
  if (!Round(bore))
    return {true, "outside the formula: the bore is not round within 10 %; finite elements tell"};
  const double wall = bench.raw().gaps[GapIndex(bench, target)] - loads.wires_um;
  if (!(wall > kLeastUm)) return {true, "no solid that carries is left in the wall"};
  if (loads.open_lumens > 1) return {};
  if (!Round(outline))
    return {true,
            "outside the formula: the outline is not round within 10 %; finite elements tell"};
  const double a = std::sqrt(bore.area / kPi), b = std::sqrt(outline.area / kPi);
  const double e = std::max(Distance(bore.circle_centre, outline.circle_centre), b - a - wall);
  if (e >= a / 2) {
    return {
        true,
        "outside the formula: the bore is off centre by more than half of its radius, where the "
        "outer surface bears most; finite elements tell"};
  }
  return {};
}

}  // namespace

Refusal RefuseLoad(const Bench& bench, const Loads& loads, const Target& target, const Word& word) {
  if (loads.pressure_mpa.empty() || loads.Difference(target) == 0)
    return {false, "no difference of pressure was put on it"};
  if (word.word == "hoop_stress") return RefuseHoop(bench, loads, target);
  return RefuseStrip(bench, loads, target, word);
}

}  // namespace cutface::measure
