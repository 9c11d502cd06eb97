#include "measure/snapshot.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <utility>

#include "cutface/in_parallel.h"
#include "cutface/stats.h"
#include "measure/flow.h"

namespace cutface::measure {
namespace {

// Places within so many standard deviations of the least distance may become the least in a draw.
constexpr double kMarginSigmas = 6;
constexpr double kMarginLeastUm = 0.25;
// Two relinearisations carry a draw's small step to far below 0.01 um.
constexpr Effort kDrawEffort{2, 1e-3};
constexpr Effort kRawEffort{30, 1e-6};

double MedianSigma(const Feature& feature) {
  return feature.sigma.empty() ? 0 : Median(feature.sigma);
}

// Local spread of a contour against its own common shift.
double LocalSigma(const Feature& feature) {
  const double waver =
      feature.waver.empty() ? 0.0 : *std::max_element(feature.waver.begin(), feature.waver.end());
  return std::hypot(MedianSigma(feature), waver);
}

}  // namespace

namespace {

// The drawn contours of a face that the frame cuts off, where the pose puts them.
void PlaceNominals(const Face& face, const SectionDesign& plane, PointUm origin,
                   Nominals& nominals) {
  nominals.radius_um = std::sqrt(Area<FrameUm>(plane.outline.contour) / kPi);
  const auto cut = [](const Feature& f) { return !f.whole; };
  if (std::none_of(face.features.begin(), face.features.end(), cut)) return;
  nominals.placed.resize(face.features.size());
  const auto place = [&](int feature, const ContourUm& drawn) {
    const double step = std::max(1.0, nominals.radius_um / 100);
    for (const PointUm p : Resampled(std::span<const PointUm>(drawn), step)) {
      const PointUm q{nominals.mirrored ? -p.x : p.x, p.y};
      nominals.placed[static_cast<std::size_t>(feature)].push_back(origin +
                                                                   Rotated(q, nominals.rotation));
    }
  };
  if (face.outline >= 0) place(face.outline, plane.outline.contour);
  for (int index : face.lumens) {
    const Feature& feature = face.features[static_cast<std::size_t>(index)];
    if (const LumenDesign* lumen = plane.FindLumen(feature.name))
      place(index, lumen->shape.contour);
  }
}

}  // namespace

namespace {

std::string WiresUntold(const Section& section, const SectionDesign& plane) {
  for (const WireLayerDesign& design : plane.wires) {
    const auto told = std::find_if(section.wire_layers.begin(), section.wire_layers.end(),
                                   [&](const auto& layer) { return layer.name == design.name; });
    if (told == section.wire_layers.end()) return "the wires of " + design.name + " were not told";
    if (!told->counted)
      return design.name + ": " +
             (told->doubt.empty() ? "its wires were not all told" : told->doubt);
  }
  return "";
}

}  // namespace

Nominals PrepareNominals(const Face& face, const Section& section, const SectionDesign* plane,
                         PointUm origin) {
  Nominals nominals;
  nominals.lumens.resize(face.features.size());
  if (plane == nullptr) {
    nominals.no_datum = face.outline < 0 ? "the outline was not found" : "";
    return nominals;
  }
  nominals.known = true;
  nominals.wired = !plane->wires.empty() || !plane->fibres.empty();
  nominals.braided = !plane->wires.empty();
  nominals.wires_untold = WiresUntold(section, *plane);
  nominals.layered = nominals.wired || (!plane->rings.empty() && !plane->bond);
  nominals.rotation = section.placement.rotation_rad;
  nominals.mirrored = section.placement.mirrored;
  if (plane->outline.contour.size() >= 3) PlaceNominals(face, *plane, origin, nominals);
  const auto centroid = [](const Shape& shape) { return Centroid<FrameUm>(shape.contour); };

  PointUm centre;
  if (plane->datum.centre != "outline" && !plane->datum.centre.empty()) {
    nominals.datum_lumen = face.FindLumen(plane->datum.centre);
    if (const LumenDesign* lumen = plane->FindLumen(plane->datum.centre)) {
      centre = centroid(lumen->shape);
    }
    if (nominals.datum_lumen < 0) {
      nominals.no_datum = "the datum lumen " + plane->datum.centre + " is not on this face";
    }
  } else if (plane->outline.contour.size() >= 3) {
    const ContourUm& outline = plane->outline.contour;
    centre = FitArcCircle(outline,
                          {centroid(plane->outline), Perimeter<FrameUm>(outline) / (2 * kPi)}, 50)
                 .centre;
  }
  for (int index : face.lumens) {
    const auto f = static_cast<std::size_t>(index);
    const LumenDesign* lumen = plane->FindLumen(face.features[f].name);
    if (lumen == nullptr || lumen->shape.contour.size() < 3) continue;
    NominalLumen nominal;
    nominal.area = Area<FrameUm>(lumen->shape.contour);
    nominal.perimeter = Perimeter<FrameUm>(lumen->shape.contour);
    if (lumen->shape.kind == Shape::Kind::kCircle) {
      nominal.inscribed = lumen->shape.diameter_um;
    } else if (const auto circle = InscribedCircle<FrameUm>(lumen->shape.contour, 1e-3)) {
      nominal.inscribed = 2 * circle->radius;
    }
    nominal.flow_k = NominalFlow(lumen->shape);
    nominal.true_position = centroid(lumen->shape) - centre;
    nominal.lined = lumen->liner_thickness_um.has_value();
    nominal.opens_outside = lumen->opens_to == "outside";
    nominals.lumens[f] = nominal;
  }
  if (!plane->datum.clock.empty()) {
    nominals.clock_lumen = face.FindLumen(plane->datum.clock);
    if (const LumenDesign* lumen = plane->FindLumen(plane->datum.clock)) {
      PointUm direction = centroid(lumen->shape) - centre;
      if (nominals.mirrored) direction.x = -direction.x;
      nominals.clock_direction = std::atan2(direction.y, direction.x);
    }
    if (nominals.clock_lumen < 0) {
      nominals.no_datum = "the clock lumen " + plane->datum.clock + " is not on this face";
    }
  }
  return nominals;
}

Bench::Bench(Face& face, const Section& section, const SectionDesign* plane,
             const BenchOptions& options)
    : face_(face),
      pitch_um_(options.pitch_um),
      nominals_(PrepareNominals(face, section, plane, options.origin)) {
  SearchGaps(options.brute_force, options.draws);
  MapUsed();
  RawShapes(options.brute_force);
  if (options.draws) WarmUp();
  raw_.gaps.reserve(gaps_.size());
  for (const Gap& gap : gaps_) raw_.gaps.push_back(gap.raw.distance);
  for (const Layer& layer : face_.layers) {
    layers_.emplace_back(face_, layer);
    if (options.draws) layers_.back().Prepare(face_);
    raw_.layers.push_back(layers_.back().raw());
  }
  for (const Layer& layer : face_.layers) {
    layer_gaps_.push_back(plane != nullptr ? LayerGaps(face_, layer, *plane, options.pitch_um)
                                           : ClockGaps{});
  }
  if (plane != nullptr) bond_gaps_ = BondGaps(face_, *plane, options.pitch_um);
  SetDatum(raw_);
}

int Bench::FindPolymerGap(int first, int second) const {
  const auto polymer = [&](int lumen) {
    for (std::size_t k = 0; k < face_.lumens.size(); ++k) {
      if (face_.lumens[k] == lumen) return face_.polymer[k];
    }
    return lumen;
  };
  return FindGap(polymer(first), polymer(second));
}

int Bench::FindGap(int first, int second) const {
  if (first < 0 || second < 0) return -1;
  return gap_table_[static_cast<std::size_t>(first)][static_cast<std::size_t>(second)];
}

namespace {

// Looks for the gaps between pairs of features.
class GapSearch {
 public:
  GapSearch(const Face& face, bool brute_force, bool draws)
      : face_(face), brute_force_(brute_force), draws_(draws) {
    for (const Feature& feature : face.features) {
      full_.emplace_back(feature.full);
      calm_.emplace_back(feature.calm);
    }
  }

  std::optional<Gap> Find(int first, int second, double limit) const {
    const auto i = static_cast<std::size_t>(first), j = static_cast<std::size_t>(second);
    const Feature &a = face_.features[i], &b = face_.features[j];
    if (!a.Measurable() || !b.Measurable()) return std::nullopt;
    Gap gap;
    gap.first = first;
    gap.second = second;
    gap.raw = measure::FindGap(full_[i], full_[j], 0, limit);
    if (brute_force_) {
      const auto nearest = LeastDistance<FrameUm>(a.full, b.full, true);
      gap.raw = {nearest.distance,   nearest.on_first,    nearest.on_second,
                 nearest.edge_first, nearest.edge_second, {}};
    }
    if (!(gap.raw.distance < limit)) return std::nullopt;
    for (std::size_t k = 0; k < face_.features.size() && !gap.blocked; ++k) {
      const Feature& other = face_.features[k];
      const bool solid = other.kind == Feature::Kind::kVoid ||
                         other.kind == Feature::Kind::kLayer || other.kind == Feature::Kind::kWire;
      if (k == i || k == j || solid || !other.Measurable()) continue;
      gap.blocked = full_[k].Crosses(gap.raw.on_first, gap.raw.on_second);
    }
    if (draws_) {
      const double margin =
          std::max(kMarginLeastUm, kMarginSigmas * std::hypot(LocalSigma(a), LocalSigma(b)));
      gap.near = measure::FindGap(calm_[i], calm_[j], margin, limit + margin).near;
    }
    return gap;
  }

 private:
  const Face& face_;
  bool brute_force_, draws_;
  std::vector<EdgeBlocks> full_, calm_;
};

}  // namespace

void Bench::SearchGaps(bool brute_force, bool draws) {
  const std::size_t n = face_.features.size();
  gap_table_.assign(n, std::vector<int>(n, -1));
  const GapSearch finder(face_, brute_force, draws);
  const auto search = [&](const std::vector<std::pair<int, int>>& pairs, double limit) {
    std::vector<std::optional<Gap>> found(pairs.size());
    InParallel(pairs.size(), [&](std::size_t k) {
      found[k] = finder.Find(pairs[k].first, pairs[k].second, limit);
    });
    for (std::optional<Gap>& gap : found) {
      if (!gap) continue;
      const auto i = static_cast<std::size_t>(gap->first),
                 j = static_cast<std::size_t>(gap->second);
      gap_table_[i][j] = gap_table_[j][i] = static_cast<int>(gaps_.size());
      gaps_.push_back(std::move(*gap));
    }
  };
  constexpr double kAny = std::numeric_limits<double>::infinity();
  std::vector<std::pair<int, int>> direct, between, of_voids, void_pairs;
  for (std::size_t l = 0; l < face_.lumens.size(); ++l) {
    for (std::size_t m = l + 1; m < face_.lumens.size(); ++m) {
      direct.emplace_back(face_.lumens[l], face_.lumens[m]);
      const int a = face_.polymer[l], b = face_.polymer[m];
      if (a >= 0 && b >= 0 && (a != face_.lumens[l] || b != face_.lumens[m]))
        between.emplace_back(a, b);
    }
    if (face_.outline >= 0) direct.emplace_back(face_.lumens[l], face_.outline);
  }
  search(direct, kAny);
  double widest = 0;  // no void further away than the widest direct gap can shorten a barrier
  for (const Gap& gap : gaps_) widest = std::max(widest, gap.raw.distance);
  search(between, kAny);
  for (std::size_t v = 0; v < face_.voids.size(); ++v) {
    const int hole = face_.voids[v];
    if (face_.outline >= 0) of_voids.emplace_back(hole, face_.outline);
    for (int lumen : face_.lumens) of_voids.emplace_back(hole, lumen);
    for (std::size_t w = v + 1; w < face_.voids.size(); ++w)
      void_pairs.emplace_back(hole, face_.voids[w]);
  }
  search(of_voids, kAny);
  search(void_pairs, widest);
  search(Steps(), widest);
}

// Wires and, where gaps along them are not told, the edges of liners and rings: stones that a way
// may step on. To be looked for as far as the widest direct gap: none further away can shorten a
// way.
std::vector<std::pair<int, int>> Bench::Steps() const {
  std::vector<int> stones = face_.wires;
  for (std::size_t f = 0; f < face_.features.size() && nominals_.layered; ++f) {
    if (face_.features[f].kind == Feature::Kind::kLayer) stones.push_back(static_cast<int>(f));
  }
  std::vector<std::pair<int, int>> steps;
  const auto reach = [&](int a, int b) {
    if (FindGap(a, b) < 0) steps.emplace_back(a, b);
  };
  for (std::size_t s = 0; s < stones.size(); ++s) {
    for (int lumen : face_.lumens) reach(stones[s], lumen);
    for (int hole : face_.voids) reach(stones[s], hole);
    if (face_.outline >= 0) reach(stones[s], face_.outline);
    for (std::size_t other = s + 1; other < stones.size(); ++other) reach(stones[s], stones[other]);
  }
  return steps;
}

void Bench::MapUsed() {
  std::vector<std::vector<std::uint32_t>> extra(face_.features.size());
  for (const Gap& gap : gaps_) {
    const auto first = static_cast<std::size_t>(gap.first);
    const auto second = static_cast<std::size_t>(gap.second);
    for (const Near& near : gap.near) {
      auto& vertices = extra[near.vertex_on_first ? first : second];
      auto& edges = extra[near.vertex_on_first ? second : first];
      const std::size_t count = face_.features[near.vertex_on_first ? second : first].full.size();
      vertices.push_back(near.vertex);
      edges.push_back(near.edge);
      edges.push_back(static_cast<std::uint32_t>((near.edge + 1) % count));
    }
  }
  std::vector<std::vector<std::uint32_t>> place(face_.features.size());
  for (std::size_t f = 0; f < face_.features.size(); ++f) {
    Feature& feature = face_.features[f];
    const std::vector<std::uint32_t> thin = feature.used;  // PrepareFace left the thinned ones
    feature.used.insert(feature.used.end(), extra[f].begin(), extra[f].end());
    std::sort(feature.used.begin(), feature.used.end());
    feature.used.erase(std::unique(feature.used.begin(), feature.used.end()), feature.used.end());
    place[f].assign(feature.full.size(), 0);
    for (std::size_t u = 0; u < feature.used.size(); ++u) {
      place[f][feature.used[u]] = static_cast<std::uint32_t>(u);
    }
    feature.thin.clear();
    for (std::uint32_t v : thin) feature.thin.push_back(place[f][v]);
  }
  for (Gap& gap : gaps_) {
    const auto first = static_cast<std::size_t>(gap.first);
    const auto second = static_cast<std::size_t>(gap.second);
    for (Near& near : gap.near) {
      near.vertex = place[near.vertex_on_first ? first : second][near.vertex];
      near.edge = place[near.vertex_on_first ? second : first][near.edge];
    }
  }
}

namespace {

// Second moments of area about the centroid, by Green's theorem on the polygon.
void SetAxis(std::span<const PointUm> contour, ShapeValues& values) {
  double cosine = 0, sine = 0;
  PointUm a = contour.back() - values.centroid;
  for (const PointUm& vertex : contour) {
    const PointUm b = vertex - values.centroid;
    const double cross = Cross(a, b);
    cosine += cross * (a.x * a.x + a.x * b.x + b.x * b.x - a.y * a.y - a.y * b.y - b.y * b.y) / 12;
    sine += cross * (a.x * b.y + 2 * a.x * a.y + 2 * b.x * b.y + b.x * a.y) / 12;
    a = b;
  }
  values.axis_cos = cosine;
  values.axis_sin = sine;
}

}  // namespace

void Bench::RawShapes(bool brute_force) {
  const std::size_t n = face_.features.size();
  raw_.shapes.assign(n, {});
  places_.assign(n, {});
  flow_weight_.assign(n, {});
  for (std::size_t f = 0; f < n; ++f) {
    const Feature& feature = face_.features[f];
    if (!feature.Measurable() || feature.kind == Feature::Kind::kWire) continue;
    const ContourUm& contour = feature.full;
    ShapeValues& values = raw_.shapes[f];
    ShapePlaces& places = places_[f];
    values.area = Area<FrameUm>(contour);
    values.perimeter = feature.perimeter;
    values.centroid = Centroid<FrameUm>(contour);
    SetAxis(contour, values);
    const Circle<FrameUm> circle =
        FitArcCircle(contour, {values.centroid, std::sqrt(values.area / kPi)}, 50);
    values.diameter = 2 * circle.radius;
    values.circle_centre = circle.centre;
    places.widths = WidthExtremes<FrameUm>(contour);
    values.width_min = places.widths.least;
    values.width_max = places.widths.greatest;
    if (feature.kind == Feature::Kind::kVoid) continue;
    if (brute_force) {
      if (const auto zone = MinimumZone<FrameUm>(contour)) {
        values.roundness = zone->Width();
        places.zone_centre = zone->centre;
      }
    } else {
      Contacts contacts;
      const ZoneFit zone = FitZone(contour, circle.centre, kRawEffort, contacts);
      values.roundness = zone.width;
      places.zone_centre = zone.centre;
    }
    if (feature.kind != Feature::Kind::kLumen) continue;
    if (const auto inscribed = InscribedCircle<FrameUm>(contour, 1e-4)) {
      values.inscribed = 2 * inscribed->radius;
      places.inscribed_centre = inscribed->centre;
    }
    if (const auto enclosing = EnclosingCircle<FrameUm>(contour)) {
      values.enclosing = 2 * enclosing->radius;
      places.enclosing_centre = enclosing->centre;
    }
    const FlowFigure flow = SolveFlow(contour);
    values.flow_k = flow.k;
    // Shape derivative of K: the integral of (du/dn)^2 times the shift along the normal.
    std::vector<double>& weight = flow_weight_[f];
    const std::size_t m = feature.thin.size();
    for (std::size_t i = 0; i < m; ++i) {
      const std::uint32_t v = feature.used[feature.thin[i]];
      const PointUm before = feature.full[feature.used[feature.thin[(i + m - 1) % m]]];
      const PointUm after = feature.full[feature.used[feature.thin[(i + 1) % m]]];
      const double share =
          0.5 * (Distance(before, feature.full[v]) + Distance(feature.full[v], after));
      weight.push_back(flow.slope_squared[v] * share);
    }
  }
}

void Bench::WarmUp() {
  warm_.assign(face_.features.size(), {});
  for (std::size_t f = 0; f < face_.features.size(); ++f) {
    const Feature& feature = face_.features[f];
    if (!feature.Measurable() || feature.kind == Feature::Kind::kVoid ||
        feature.kind == Feature::Kind::kWire)
      continue;
    ContourUm thin;
    for (std::uint32_t u : feature.thin) thin.push_back(feature.calm[feature.used[u]]);
    FitZone(thin, places_[f].zone_centre, kRawEffort, warm_[f].zone);
    if (feature.kind == Feature::Kind::kLumen) {
      FitInscribed(thin, places_[f].inscribed_centre, kRawEffort, warm_[f].inscribed);
    }
  }
}

ShapeValues Bench::ThinShape(std::size_t f, const ContourUm& moved, Scratch& scratch) const {
  const Feature& feature = face_.features[f];
  const ShapeValues& raw = raw_.shapes[f];
  ShapeValues values;
  ContourUm &thin = scratch.thin, &hull = scratch.hull;
  const std::size_t n = feature.thin.size();
  thin.resize(n);
  for (std::size_t i = 0; i < n; ++i) thin[i] = moved[feature.thin[i]];

  // About the raw centroid, so that products stay small.
  double twice_area = 0, perimeter = 0, sum_x = 0, sum_y = 0;
  PointUm previous = thin[n - 1] - raw.centroid;
  for (std::size_t i = 0; i < n; ++i) {
    const PointUm p = thin[i] - raw.centroid;
    const double cross = Cross(previous, p);
    twice_area += cross;
    sum_x += cross * (previous.x + p.x);
    sum_y += cross * (previous.y + p.y);
    const PointUm e = p - previous;
    perimeter += std::sqrt(Dot(e, e));
    previous = p;
  }
  values.area = 0.5 * std::abs(twice_area);
  values.perimeter = perimeter;
  if (twice_area != 0) {
    values.centroid = raw.centroid + (1 / (3 * twice_area)) * PointUm{sum_x, sum_y};
  }
  SetAxis(thin, values);
  const Circle<FrameUm> circle = FitArcCircle(thin, {raw.circle_centre, raw.diameter / 2}, 2);
  values.diameter = 2 * circle.radius;
  values.circle_centre = circle.centre;
  OrderedHull(thin, hull);
  const WidthPair widths = HullWidths(hull);
  values.width_min = widths.least;
  values.width_max = widths.greatest;
  if (feature.kind == Feature::Kind::kVoid) return values;
  Warm warm = warm_[f];
  values.roundness = FitZone(thin, places_[f].zone_centre, kDrawEffort, warm.zone).width;
  if (feature.kind != Feature::Kind::kLumen) return values;
  const Circle<FrameUm> inscribed =
      FitInscribed(thin, places_[f].inscribed_centre, kDrawEffort, warm.inscribed);
  values.inscribed = 2 * inscribed.radius;
  values.enclosing = 2 * FitEnclosing(hull, places_[f].enclosing_centre).radius;
  values.flow_k = raw.flow_k;
  for (std::size_t i = 0; i < n; ++i) {
    const std::uint32_t v = feature.used[feature.thin[i]];
    values.flow_k += flow_weight_[f][i] * Dot(thin[i] - feature.calm[v], feature.normals[v]);
  }
  return values;
}

void Bench::Evaluate(const std::vector<ContourUm>& moved, Snapshot& out) const {
  thread_local Scratch scratch;
  out.shapes.assign(face_.features.size(), {});
  for (std::size_t f = 0; f < face_.features.size(); ++f) {
    const Feature& feature = face_.features[f];
    if (feature.Measurable() && feature.kind != Feature::Kind::kWire)
      out.shapes[f] = ThinShape(f, moved[f], scratch);
  }
  out.gaps.assign(gaps_.size(), 0.0);
  for (std::size_t g = 0; g < gaps_.size(); ++g) {
    const Gap& gap = gaps_[g];
    const ContourUm& first = moved[static_cast<std::size_t>(gap.first)];
    const ContourUm& second = moved[static_cast<std::size_t>(gap.second)];
    double least = std::numeric_limits<double>::infinity();
    for (const Near& near : gap.near) {
      const ContourUm& from = near.vertex_on_first ? first : second;
      const ContourUm& to = near.vertex_on_first ? second : first;
      const PointUm p = from[near.vertex], a = to[near.edge];
      // The edge's end is the next used vertex: both ends were asked for.
      const PointUm e = to[near.edge + 1 < to.size() ? near.edge + 1 : 0] - a;
      const double square = Dot(e, e);
      const double t = square > 0 ? std::clamp(Dot(p - a, e) / square, 0.0, 1.0) : 0.0;
      const PointUm d = a + t * e - p;
      const double distance = std::sqrt(Dot(d, d));
      least = std::min(least, Dot(d, near.direction) < 0 ? -distance : distance);
    }
    out.gaps[g] = least;
  }
  out.layers.clear();
  for (const LayerGauge& layer : layers_) out.layers.push_back(layer.Evaluate(face_, moved));
  SetDatum(out);
}

void Bench::SetDatum(Snapshot& snapshot) const {
  if (!nominals_.no_datum.empty()) return;
  if (nominals_.datum_lumen >= 0) {
    snapshot.datum_centre =
        snapshot.shapes[static_cast<std::size_t>(nominals_.datum_lumen)].centroid;
  } else if (face_.outline >= 0) {
    snapshot.datum_centre = snapshot.shapes[static_cast<std::size_t>(face_.outline)].circle_centre;
  }
  snapshot.rotation = nominals_.rotation;
  if (nominals_.clock_lumen >= 0) {
    const PointUm direction =
        snapshot.shapes[static_cast<std::size_t>(nominals_.clock_lumen)].centroid -
        snapshot.datum_centre;
    snapshot.rotation = std::atan2(direction.y, direction.x) - nominals_.clock_direction;
  }
}

}  // namespace cutface::measure
