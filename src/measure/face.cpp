#include "measure/face.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "cutface/in_parallel.h"
#include "cutface/stats.h"
#include "measure/calm.h"

namespace cutface::measure {
namespace {

// Draws only need differences, so the thinned contour may be coarse where the noise allows.
constexpr std::size_t kThinMost = 720, kThinLeast = 240;
constexpr double kThinToleranceUm = 0.05;

bool Counts(VoidClass kind) {
  return IsSureVoid(kind) || kind == VoidClass::kDoubtful || kind == VoidClass::kChip ||
         kind == VoidClass::kPulledOutWire || kind == VoidClass::kDelamination;
}

std::string WhyMissing(const LumenTrace& lumen) {
  if (lumen.state == LumenState::kNotFound) return "not found";
  if (lumen.state == LumenState::kMerged || lumen.names.size() > 1) {
    std::string text = fmt::format("lies in the merged bore {}", lumen.Key());
    if (lumen.breach) {
      text += fmt::format(" (breach of {:.1f} um)", Distance(lumen.breach->a, lumen.breach->b));
    }
    return text;
  }
  return "";
}

// Expected excess of the polygon's length: an edge of length h between ends with correlated noise
// is longer by (difference of the two shifts)^2 / (2 h).
double ExcessLength(const Feature& feature, const std::vector<std::uint32_t>& vertices) {
  const TracedContour& traced = *feature.traced;
  const auto apart = [](double h, double length) {
    return length > 0 ? -std::expm1(-(h / length) * (h / length)) : 1.0;
  };
  double excess = 0;
  for (std::size_t k = 0; k < vertices.size(); ++k) {
    const std::uint32_t i = vertices[k], j = vertices[(k + 1) % vertices.size()];
    const double h = Distance(feature.full[i], feature.full[j]);
    if (!(h > 0)) continue;
    const double sigma = 0.5 * (feature.sigma[i] + feature.sigma[j]);
    const double arc = 0.5 * (feature.waver[i] + feature.waver[j]);
    excess += (sigma * sigma * apart(h, traced.noise_length_um) +
               arc * arc * apart(h, traced.arc_length_um)) /
              h;
  }
  return excess;
}

void CopyContour(Feature& feature) {
  const std::vector<ContourVertex>& vertices = feature.traced->vertices;
  if (vertices.size() < 3) {
    feature.missing = "not found: no contour";
    return;
  }
  for (const ContourVertex& v : vertices) {
    feature.full.push_back(v.at);
    feature.normals.push_back(v.normal);
    feature.sigma.push_back(std::max(v.sigma_um, 0.0));
    feature.waver.push_back(std::hypot(feature.traced->u_arc_um, v.doubt_um));
    feature.states.push_back(v.state);
    if (!std::isfinite(v.at.x) || !std::isfinite(v.at.y)) feature.missing = "contour not finite";
  }
  const double area = SignedArea<FrameUm>(feature.full);
  if (!(std::abs(area) > 0)) feature.missing = "contour without area";
  if (!feature.Measurable()) return;
  feature.reversed = area < 0;
  if (feature.reversed) {
    std::reverse(feature.full.begin(), feature.full.end());
    std::reverse(feature.normals.begin(), feature.normals.end());
    std::reverse(feature.sigma.begin(), feature.sigma.end());
    std::reverse(feature.waver.begin(), feature.waver.end());
    std::reverse(feature.states.begin(), feature.states.end());
  }
  // Contours made by hand may come without normals.
  const ContourUm own = OutwardNormals<FrameUm>(feature.full);
  for (std::size_t i = 0; i < own.size(); ++i) {
    if (std::abs(Norm(feature.normals[i]) - 1) > 1e-3) feature.normals[i] = own[i];
  }
  double s = 0;
  for (std::size_t i = 0; i < feature.full.size(); ++i) {
    feature.arc.push_back(s);
    s += Distance(feature.full[i], feature.full[(i + 1) % feature.full.size()]);
  }
  feature.perimeter = s;
  const double spacing =
      std::clamp(feature.traced->noise_length_um, s / static_cast<double>(kThinMost),
                 s / static_cast<double>(kThinLeast));
  feature.calm = Calmed(feature.full, feature.normals, feature.arc, feature.sigma, s,
                        feature.traced->noise_length_um);
  // Ripple below the noise is no shape.
  feature.used = Thinned(feature.calm, feature.arc, s, spacing,
                         kThinToleranceUm + 0.5 * Median(feature.sigma));
  std::vector<std::uint32_t> every(feature.full.size());
  std::iota(every.begin(), every.end(), 0u);
  const double thinned = ExcessLength(feature, feature.used);
  if (thinned > 0) feature.excess_ratio = ExcessLength(feature, every) / thinned;
}

}  // namespace

double Feature::BridgedShare() const {
  if (states.empty()) return 0;
  const auto bridged = std::count(states.begin(), states.end(), VertexState::kBridged);
  return static_cast<double>(bridged) / static_cast<double>(states.size());
}

int Face::FindLumen(std::string_view name) const {
  for (int lumen : lumens) {
    if (features[static_cast<std::size_t>(lumen)].name == name) return lumen;
  }
  return -1;
}

std::vector<std::uint32_t> Thinned(const ContourUm& contour, const std::vector<double>& arc,
                                   double perimeter, double spacing, double tolerance) {
  std::vector<std::uint32_t> kept;
  const std::size_t n = contour.size();
  const auto at = [&](std::size_t i) { return contour[i % n]; };
  const auto along = [&](std::size_t i) { return i < n ? arc[i] : perimeter; };
  for (std::size_t i = 0; i < n;) {
    kept.push_back(static_cast<std::uint32_t>(i));
    std::size_t next = i + 1;
    for (std::size_t j = i + 2; j <= n && along(j) - along(i) <= spacing; ++j) {
      const PointUm chord = at(j) - at(i);
      const double length = Norm(chord);
      bool close = length > 0;
      for (std::size_t k = i + 1; close && k < j; ++k) {
        close = std::abs(Cross(chord, at(k) - at(i))) <= tolerance * length;
      }
      if (!close) break;
      next = j;
    }
    i = next;
  }
  return kept;
}

int Face::FindLayer(std::string_view name) const {
  for (std::size_t k = 0; k < layers.size(); ++k) {
    if (layers[k].name == name) return static_cast<int>(k);
  }
  return -1;
}

namespace {

template <class Add>
void AddLayers(const Section& section, const Add& add, Face& face) {
  const auto edge = [&](std::string name, const TracedContour& contour) {
    Feature feature;
    feature.kind = Feature::Kind::kLayer;
    feature.name = std::move(name);
    feature.traced = &contour;
    if (contour.vertices.empty())
      feature.missing = contour.doubt.empty() ? "not found" : "not found: " + contour.doubt;
    return add(std::move(feature));
  };
  int outer = face.outline;
  for (const RingTrace& ring : section.rings) {
    const int inner = edge(ring.name, ring.inner);
    face.layers.push_back({ring.name, inner, outer});
    outer = inner;
  }
  face.polymer = face.lumens;
  for (const LinerTrace& liner : section.liners) {
    const std::string name = liner.lumen + "/liner";
    const int index = edge(name, liner.outer), bore = face.FindLumen(liner.lumen);
    face.layers.push_back({name, bore, index});
    for (std::size_t k = 0; k < face.lumens.size(); ++k) {
      if (face.lumens[k] == bore) face.polymer[k] = index;
    }
  }
  // Around an only lumen the wall is a ring as well.
  if (face.lumens.size() == 1 && face.outline >= 0) {
    const int bore = face.lumens.front();
    const std::string& name = face.features[static_cast<std::size_t>(bore)].name;
    face.layers.push_back({name + "/wall", bore, face.outline});
  }
}

template <class Add>
void AddWires(const Section& section, const Add& add, Face& face) {
  for (const WireTrace& wire : section.wires) {
    const bool metal = wire.state == WireState::kWire || wire.state == WireState::kExtra;
    if (!metal || wire.contour.vertices.size() < 3) continue;
    Feature feature;
    feature.kind = Feature::Kind::kWire;
    feature.name = fmt::format("{}/{}", wire.layer, wire.no);
    feature.traced = &wire.contour;
    face.wires.push_back(add(std::move(feature)));
  }
}

}  // namespace

Face PrepareFace(const Section& section) {
  Face face;
  const auto add = [&](Feature feature) {
    if (feature.traced != nullptr && feature.Measurable()) {
      feature.whole = feature.traced->whole;
    }
    face.features.push_back(std::move(feature));
    return static_cast<int>(face.features.size()) - 1;
  };
  if (section.outline) {
    Feature feature;
    feature.kind = Feature::Kind::kOutline;
    feature.name = "outline";
    feature.traced = &*section.outline;
    face.outline = add(std::move(feature));
  }
  for (const LumenTrace& lumen : section.lumens) {
    for (const std::string& name : lumen.names) {
      Feature feature;
      feature.name = name;
      feature.lumen = &lumen;
      feature.traced = &lumen.bore;
      feature.missing = WhyMissing(lumen);
      const int index = add(std::move(feature));
      if (lumen.state == LumenState::kCutOff) face.features.back().whole = false;
      face.lumens.push_back(index);
    }
  }
  for (const Void& hole : section.voids) {
    const bool elsewhere = hole.of == "outside" || hole.numbers.count("beyond_edge") > 0;
    if (!Counts(hole.kind) || elsewhere) continue;
    Feature feature;
    feature.kind = Feature::Kind::kVoid;
    feature.name = fmt::format("void {}", hole.no);
    feature.hole = &hole;
    feature.traced = &hole.contour;
    face.voids.push_back(add(std::move(feature)));
  }
  AddLayers(section, add, face);
  AddWires(section, add, face);
  InParallel(face.features.size(), [&](std::size_t i) {
    Feature& feature = face.features[i];
    if (feature.traced != nullptr && feature.Measurable()) CopyContour(feature);
  });
  return face;
}

}  // namespace cutface::measure
