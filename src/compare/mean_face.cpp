// All contours of a plane in the datum frame, against the drawing's.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "compare/internal.h"
#include "cutface/quantity.h"

namespace cutface {
namespace {

constexpr double kNothing = std::numeric_limits<double>::quiet_NaN();
constexpr double kDegreesPerRadian = 180 / kPi;

void AddNominal(const std::string& name, const std::string& lumen, const ContourUm& contour,
                NominalFace& face) {
  if (contour.size() < 3) return;
  NominalFeature feature;
  feature.name = name;
  feature.lumen = lumen;
  constexpr double kStations = 144;
  feature.stations = Resampled(contour, Perimeter(contour) / kStations);
  feature.normals = OutwardNormals(std::span<const PointUm>(feature.stations));
  feature.centroid = Centroid(contour);
  // As far as a contour may lie off: a lumen that is squashed flat loses its half radius.
  feature.limit_um = 0.75 * std::sqrt(Area(contour) / kPi);
  face.features.push_back(std::move(feature));
}

double DirectionOf(PointUm d) { return std::atan2(d.y, d.x); }

// Where the measured contour crosses the normal at a station, nearest to it; NaN where it does not.
double AlongNormal(PointUm at, PointUm normal, double limit, const ContourUm& contour,
                   const std::vector<bool>& seen) {
  double best = kNothing;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const std::size_t j = i + 1 == contour.size() ? 0 : i + 1;
    const PointUm a = contour[i] - at, b = contour[j] - at;
    const double ca = Cross(normal, a), cb = Cross(normal, b);
    if ((ca > 0) == (cb > 0) || ca == cb) continue;
    const double t = Dot(normal, a + (ca / (ca - cb)) * (b - a));
    if (std::abs(t) > limit || !seen[i] || !seen[j]) continue;
    if (std::isnan(best) || std::abs(t) < std::abs(best)) best = t;
  }
  return best;
}

const TracedContour* TraceOf(const Section& section, const std::string& name) {
  if (name == "outline") return section.outline ? &*section.outline : nullptr;
  for (const RingTrace& ring : section.rings) {
    if (ring.name == name) return &ring.inner;
  }
  for (const LinerTrace& liner : section.liners) {
    if (liner.lumen + "/liner" == name) return &liner.outer;
  }
  for (const LumenTrace& lumen : section.lumens) {
    if (lumen.names.size() == 1 && lumen.names[0] == name) return &lumen.bore;
  }
  return nullptr;
}

}  // namespace

NominalFace PrepareNominalFace(const SectionDesign& design) {
  NominalFace face;
  face.plane = design.name;
  AddNominal("outline", "", design.outline.contour, face);
  for (const RingDesign& ring : design.rings) AddNominal(ring.name, "", ring.inner.contour, face);
  for (const LumenDesign& lumen : design.lumens) {
    AddNominal(lumen.name, lumen.name, lumen.shape.contour, face);
    if (lumen.liner_thickness_um)
      AddNominal(lumen.name + "/liner", "", Offset(lumen.shape.contour, *lumen.liner_thickness_um),
                 face);
  }
  face.datum_lumen = design.datum.centre == "outline" ? "" : design.datum.centre;
  face.clock_lumen = design.datum.clock;
  const LumenDesign* centre = design.FindLumen(face.datum_lumen);
  face.centre = Centroid(centre != nullptr ? centre->shape.contour : design.outline.contour);
  if (const LumenDesign* clock = design.FindLumen(face.clock_lumen))
    face.clock_direction = DirectionOf(Centroid(clock->shape.contour) - face.centre);
  return face;
}

std::optional<FaceShape> ShapeOf(const SectionResult& result, const NominalFace& nominal) {
  const Section& section = result.section;
  const bool mirrored = section.placement.mirrored;
  const TracedContour* outline = TraceOf(section, "outline");
  const TracedContour* centre =
      nominal.datum_lumen.empty() ? outline : TraceOf(section, nominal.datum_lumen);
  if (centre == nullptr || centre->vertices.size() < 3 || !centre->whole) return std::nullopt;
  PointUm origin = Centroid(centre->Points());
  if (nominal.datum_lumen.empty()) {
    // A circle's own centre does not follow a flat or a dent as the centroid does.
    if (const auto circle = FitCircle(centre->Points())) origin = circle->centre;
  }
  double rotation = section.placement.rotation_rad;
  if (!nominal.clock_lumen.empty()) {
    const TracedContour* clock = TraceOf(section, nominal.clock_lumen);
    if (clock == nullptr || clock->vertices.size() < 3) return std::nullopt;
    const double wanted = mirrored ? kPi - nominal.clock_direction : nominal.clock_direction;
    rotation = DirectionOf(Centroid(clock->Points()) - origin) - wanted;
  }
  FaceShape shape;
  for (const NominalFeature& feature : nominal.features) {
    shape.off_um.emplace_back();
    shape.shift.emplace_back();
    const TracedContour* trace = TraceOf(section, feature.name);
    if (trace == nullptr || trace->vertices.size() < 3) continue;
    ContourUm contour;
    std::vector<bool> seen;
    for (const ContourVertex& v : trace->vertices) {
      PointUm p = Rotated(v.at - origin, -rotation);
      if (mirrored) p.x = -p.x;
      contour.push_back(nominal.centre + p);
      seen.push_back(v.state != VertexState::kCutOff);
    }
    std::vector<float>& off = shape.off_um.back();
    for (std::size_t i = 0; i < feature.stations.size(); ++i)
      off.push_back(static_cast<float>(
          AlongNormal(feature.stations[i], feature.normals[i], feature.limit_um, contour, seen)));
    if (trace->whole) shape.shift.back() = Centroid(contour) - feature.centroid;
  }
  return shape;
}

namespace {

// A part's own mean where it has several faces.
struct PartShape {
  std::vector<std::vector<double>> off;  // per feature and station
  std::vector<std::optional<PointUm>> shift;
};

PartShape MeanOf(const Run& run, const std::vector<std::size_t>& faces,
                 const NominalFace& nominal) {
  PartShape part;
  for (std::size_t f = 0; f < nominal.features.size(); ++f) {
    const std::size_t stations = nominal.features[f].stations.size();
    std::vector<double> sum(stations), count(stations);
    PointUm shift;
    int shifts = 0;
    for (const std::size_t at : faces) {
      const auto& shape = run.faces[at].shape;
      if (!shape || shape->off_um[f].size() != stations) continue;
      for (std::size_t i = 0; i < stations; ++i) {
        if (std::isnan(shape->off_um[f][i])) continue;
        sum[i] += static_cast<double>(shape->off_um[f][i]);
        ++count[i];
      }
      if (shape->shift[f]) shift = shift + *shape->shift[f], ++shifts;
    }
    for (std::size_t i = 0; i < stations; ++i) sum[i] = count[i] > 0 ? sum[i] / count[i] : kNothing;
    part.off.push_back(std::move(sum));
    part.shift.push_back(shifts > 0 ? std::optional((1.0 / shifts) * shift) : std::nullopt);
  }
  return part;
}

MeanFeature FeatureOf(const NominalFeature& nominal, const std::vector<PartShape>& parts,
                      std::size_t at) {
  MeanFeature feature;
  feature.name = nominal.name;
  feature.nominal = nominal.stations;
  feature.normals = nominal.normals;
  for (std::size_t i = 0; i < nominal.stations.size(); ++i) {
    std::vector<double> values;
    for (const PartShape& part : parts) {
      if (!std::isnan(part.off[at][i])) values.push_back(part.off[at][i]);
    }
    MeanPlace place;
    place.n = static_cast<int>(values.size());
    feature.parts = std::max(feature.parts, place.n);
    if (!values.empty()) place.mean_um = Mean(values);
    if (values.size() >= 3) {
      // Where a further part would lie with 95 %: pointwise, normal.
      const auto n = static_cast<double>(values.size());
      const double half =
          StudentQuantile(0.975, n - 1) * StandardDeviation(values) * std::sqrt(1 + 1 / n);
      place.band = Interval{place.mean_um - half, place.mean_um + half};
    }
    feature.places.push_back(place);
  }
  return feature;
}

double ClockOf(PointUm from, PointUm at) {
  const double degrees = std::atan2(at.x - from.x, -(at.y - from.y)) * kDegreesPerRadian;
  return degrees < 0 ? degrees + 360 : degrees;
}

void FindWorst(const NominalFace& nominal, MeanFace& face) {
  for (std::size_t f = 0; f < face.features.size(); ++f) {
    const MeanFeature& feature = face.features[f];
    std::size_t worst = feature.places.size();
    for (std::size_t i = 0; i < feature.places.size(); ++i) {
      if (feature.places[i].n == 0) continue;
      if (worst == feature.places.size() ||
          std::abs(feature.places[i].mean_um) > std::abs(feature.places[worst].mean_um))
        worst = i;
    }
    if (worst == feature.places.size()) continue;
    face.worst.push_back({f, worst, feature.places[worst].mean_um, feature.places[worst].band,
                          ClockOf(nominal.centre, feature.nominal[worst])});
  }
  std::stable_sort(face.worst.begin(), face.worst.end(),
                   [](const WorstPlace& a, const WorstPlace& b) {
                     return std::abs(a.mean_um) > std::abs(b.mean_um);
                   });
}

std::string UmText(double um, LengthUnit units) { return Format(um, "um", units); }

std::string MeanSentence(const MeanFace& face, LengthUnit units) {
  if (face.worst.empty()) return "No contour of this plane could be laid over the drawing.";
  const WorstPlace& w = face.worst.front();
  std::string text =
      fmt::format("On average the {} lies farthest off the drawing: {} {} it at {}, over {}",
                  face.features[w.feature].name, UmText(std::abs(w.mean_um), units),
                  w.mean_um < 0 ? "inside" : "outside", ClockText(w.clock_deg),
                  CountedWord(static_cast<std::size_t>(face.features[w.feature].places[w.place].n),
                              "part", "parts"));
  if (w.band)
    text += fmt::format("; a further part would lie from {} to {} there (95 %)",
                        UmText(w.band->lo, units), UmText(w.band->hi, units));
  return text + ".";
}

FeatureDirections DirectionsOf(const NominalFeature& feature, const std::vector<PartShape>& parts,
                               std::size_t at, LengthUnit units) {
  // A shift below some uncertainties of a centre has no direction.
  constexpr double kNoDirectionUm = 2;
  constexpr std::size_t kFewest = 5;
  FeatureDirections d;
  d.name = feature.name;
  std::vector<double> angles;
  PointUm sum;
  for (const PartShape& part : parts) {
    if (!part.shift[at]) continue;
    ++d.n;
    sum = sum + *part.shift[at];
    if (Norm(*part.shift[at]) < kNoDirectionUm) continue;
    angles.push_back(std::atan2(part.shift[at]->x, -part.shift[at]->y));
  }
  if (d.n == 0) return d;
  d.mean_shift_um = Norm((1.0 / d.n) * sum);
  d.without = d.n - static_cast<int>(angles.size());
  if (!angles.empty()) d.circular = SummariseDirections(angles);
  if (angles.size() < kFewest) {
    d.sentence =
        fmt::format("{}: {} off by {} or more, too few to tell a common direction.", d.name,
                    CountedWord(angles.size(), "part", "parts"), UmText(kNoDirectionUm, units));
  } else if (d.circular->rayleigh_p < 0.05) {
    d.sentence = fmt::format(
        "{}: off its place towards {} in a common direction (Rayleigh p {}, {} of {} parts, mean "
        "shift {}): constant, as tooling gives it.",
        d.name, ClockText(d.circular->mean * kDegreesPerRadian),
        ProbabilityText(d.circular->rayleigh_p), angles.size(), d.n,
        UmText(d.mean_shift_um, units));
  } else {
    d.sentence = fmt::format(
        "{}: no common direction shown (Rayleigh p {}, {} of {} parts): as handling gives it, or "
        "too few parts.",
        d.name, ProbabilityText(d.circular->rayleigh_p), angles.size(), d.n);
  }
  return d;
}

}  // namespace

std::string ClockText(double degrees) {
  // Every five minutes are 2.5 degrees of the hour hand.
  int minutes = 5 * static_cast<int>(std::lround(degrees * 2 / 5)) % 720;
  if (minutes < 0) minutes += 720;
  return fmt::format("{}:{:02} o'clock", minutes / 60 == 0 ? 12 : minutes / 60, minutes % 60);
}

std::vector<MeanFace> MeanFaces(const Run& run, const std::vector<NominalFace>& nominals) {
  std::vector<MeanFace> faces;
  for (const NominalFace& nominal : nominals) {
    const PartOrder order = OrderParts(run, nominal.plane);
    // Planes that were cut at several stations have a face for each.
    std::map<std::optional<double>, std::vector<PartShape>> at_station;
    std::map<std::optional<double>, int> without;
    for (const auto& of_part : order.faces) {
      std::map<std::optional<double>, std::vector<std::size_t>> split;
      for (const std::size_t f : of_part) {
        const auto station = run.roster.faces[run.faces[f].entry].sample.station_mm;
        if (run.faces[f].shape) {
          split[station].push_back(f);
        } else if (run.faces[f].shape_wanted) {
          ++without[station];
        }
      }
      for (const auto& [station, own] : split)
        at_station[station].push_back(MeanOf(run, own, nominal));
    }
    for (const auto& [station, parts] : at_station) {
      MeanFace face;
      face.plane = nominal.plane;
      face.station_mm = station;
      face.parts = static_cast<int>(parts.size());
      face.parts_of_run = static_cast<int>(order.faces.size());
      face.not_laid = without[station];
      for (std::size_t f = 0; f < nominal.features.size(); ++f) {
        face.features.push_back(FeatureOf(nominal.features[f], parts, f));
        if (nominal.features[f].lumen.empty() || nominal.features[f].name == nominal.clock_lumen ||
            nominal.features[f].name == nominal.datum_lumen)
          continue;
        face.directions.push_back(DirectionsOf(nominal.features[f], parts, f, run.units));
      }
      FindWorst(nominal, face);
      face.sentence = MeanSentence(face, run.units);
      faces.push_back(std::move(face));
    }
  }
  return faces;
}

}  // namespace cutface
