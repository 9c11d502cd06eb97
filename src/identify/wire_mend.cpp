#include "identify/wire_mend.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <utility>

namespace cutface {
namespace {

constexpr double kBesideWire_px = 1.5;  // beyond the halo: edges there are the wire's
constexpr double kGlow_px = 8;        // beyond the halo: edges there may be pushed off by its glow
constexpr double kDrawnLonger = 2.5;  // than the chord: another stretch of the drawing
constexpr double kExposed_px = 0.4;   // by which metal must reach over an edge
constexpr double kClearlyOver = 1.5;  // times that: over an edge as drawn
constexpr double kExposedShare = 0.08;  // of its short axis, likewise: what bridging may be off
constexpr double kStraight = 20;        // radii per chord: flatter arcs are no circles
constexpr std::size_t kShoulder = 3;    // vertices beyond a flagged stretch

struct Metal {
  ContourUm edge;
  PointUm middle;
  double reach = 0, halo = 0;
  WireTrace* wire = nullptr;
};

// Signed distance to the metal's edge, negative inside; far off: the distance to a circle.
double DistanceTo(const Metal& metal, PointUm p) {
  const double away = Distance(p, metal.middle) - metal.reach;
  if (away > metal.halo + 20) return away;
  const double d = LeastDistance(p, metal.edge).distance;
  return Contains(metal.edge, p) ? -d : d;
}

// By how much metal reaches over a closed edge: out of it, or into it.
double Over(const Metal& metal, const ContourUm& edge, bool outwards) {
  double most = -1e9;
  for (PointUm p : metal.edge) {
    const double d = LeastDistance(p, edge).distance;
    const bool beyond = Contains(edge, p) != outwards;
    most = std::max(most, beyond ? d : -d);
  }
  return most;
}

// Vertices nearer than `beside` to a wire's halo.
void FlagNear(const Metal& metal, double beside, const TracedContour& contour,
              std::vector<char>& flagged) {
  const double near = std::max(0.0, metal.halo) + beside;
  for (std::size_t i = 0; i < flagged.size(); ++i) {
    const PointUm p = contour.vertices[i].at;
    if (Distance(p, metal.middle) > metal.reach + near) continue;
    if (DistanceTo(metal, p) < near) flagged[i] = 1;
  }
}

bool AnyOf(const std::vector<char>& flagged) {
  return std::find(flagged.begin(), flagged.end(), char{1}) != flagged.end();
}

double ExposedFrom(const Metal& metal, double pitch) {
  // A hole's place is told less sharply than a wire's.
  return metal.wire->state == WireState::kPulledOut
             ? 0.25 * metal.wire->short_um
             : std::max(kExposed_px * pitch, kExposedShare * metal.wire->short_um);
}

void MendContour(const std::vector<Metal>& metals, double pitch, const ContourUm* nominal,
                 bool outwards, TracedContour& contour) {
  if (contour.vertices.size() < 12) return;
  std::vector<char> flagged(contour.vertices.size(), 0), wide(contour.vertices.size(), 0);
  for (const Metal& metal : metals) {
    std::vector<char> own(flagged.size(), 0);
    FlagNear(metal, kGlow_px * pitch, contour, own);
    if (!AnyOf(own)) continue;
    FlagNear(metal, kBesideWire_px * pitch, contour, flagged);
    TracedContour drawn = contour;
    if (nominal == nullptr || !BridgeAsDrawn(own, *nominal, drawn)) continue;
    if (Over(metal, drawn.Points(), outwards) < kClearlyOver * ExposedFrom(metal, pitch)) continue;
    for (std::size_t i = 0; i < wide.size(); ++i) wide[i] = wide[i] || own[i];
  }
  if (AnyOf(wide) && BridgeAsDrawn(wide, *nominal, contour)) {
    for (std::size_t i = 0; i < wide.size(); ++i) flagged[i] = flagged[i] && !wide[i];
  }
  if (AnyOf(flagged)) BridgeContour(flagged, contour);
}

bool Near(const Metal& metal, const ContourUm& edge, double within) {
  return LeastDistance(metal.middle, edge).distance < metal.reach + within ||
         Contains(edge, metal.middle);
}

// A doubtful outline that leaves wires wholly outside is not the part's edge there: it does not
// say that they, or their neighbours, are exposed.
bool OutlineLost(const std::vector<Metal>& metals, const ContourUm& points,
                 TracedContour& outline) {
  if (outline.doubt.empty() || points.size() <= 5) return false;
  const auto left_out = std::count_if(metals.begin(), metals.end(), [&](const Metal& metal) {
    return metal.wire->state == WireState::kWire && !Contains(points, metal.middle) &&
           LeastDistance(metal.middle, points).distance > metal.reach;
  });
  if (left_out > 0)
    outline.doubt += fmt::format("; wires that lie wholly outside it: {}", left_out);
  return left_out > 0;
}

void TellExposed(const std::vector<Metal>& metals, double pitch, Section& section) {
  ContourUm outline;
  if (section.outline) outline = section.outline->Points();
  if (section.outline && OutlineLost(metals, outline, *section.outline)) outline.clear();
  for (const Metal& metal : metals) {
    const double least = ExposedFrom(metal, pitch);
    if (outline.size() > 5 && (!Contains(outline, metal.middle) ||
                               LeastDistance(metal.middle, outline).distance < metal.reach)) {
      if (Over(metal, outline, true) > least) metal.wire->exposed_to = "outside";
    }
    for (const LumenTrace& lumen : section.lumens) {
      const ContourUm bore = lumen.bore.Points();
      if (bore.size() < 6 || !Near(metal, bore, 1)) continue;
      if (Over(metal, bore, false) > least) metal.wire->exposed_to = lumen.names.front();
    }
  }
}

double ShareIn(const ContourUm& contour, const Metal& metal, double grown) {
  std::size_t within = 0;
  for (PointUm p : contour) within += DistanceTo(metal, p) < grown ? 1 : 0;
  return contour.empty() ? 0 : static_cast<double>(within) / static_cast<double>(contour.size());
}

void NameVoids(const std::vector<Metal>& metals, double pitch, Section& section) {
  for (const Metal& metal : metals) {
    const bool hole = metal.wire->state == WireState::kPulledOut;
    const double grown = std::max(0.0, metal.halo) + 2 * pitch;
    bool named = false;
    for (Void& v : section.voids) {
      if (v.contour.vertices.empty() || Distance(v.centroid, metal.middle) > 2 * metal.reach + 20)
        continue;
      if (ShareIn(v.contour.Points(), metal, grown) < 0.6) continue;
      if (hole && !named) {
        v.kind = VoidClass::kPulledOutWire;
        v.evidence = "a hole of a wire's size in an empty slot of " + metal.wire->layer;
        named = true;
      } else {
        v.contour.vertices.clear();  // it is the wire, or its halo
      }
    }
    if (hole && !named) {
      Void v;
      v.kind = VoidClass::kPulledOutWire;
      v.contour = metal.wire->contour;
      v.contour.doubt = "drawn with the shape of the layer's wires";
      v.centroid = metal.middle;
      v.area_um2 = Area(metal.edge);
      v.u_area_um2 = 0.15 * v.area_um2;
      v.evidence = "a hole of a wire's size in an empty slot of " + metal.wire->layer;
      section.voids.push_back(std::move(v));
    }
  }
  std::erase_if(section.voids, [](const Void& v) { return v.contour.vertices.empty(); });
  int no = 0;
  for (Void& v : section.voids) v.no = ++no;
}

// y = c0 + c1 x + c2 x^2 in the frame of the chord from `a` to `b`, through the shoulders.
struct Chord {
  PointUm a, x, y;
  Eigen::Vector3d c = Eigen::Vector3d::Zero();
  PointUm At(double along) const {
    return a + along * x + (c(0) + c(1) * along + c(2) * along * along) * y;
  }
};

Chord Parabola(const std::vector<PointUm>& shoulders, PointUm a, PointUm b) {
  Chord chord;
  chord.a = a;
  const double length = std::max(1e-9, Distance(a, b));
  chord.x = (1 / length) * (b - a);
  chord.y = {-chord.x.y, chord.x.x};
  Eigen::Matrix3d normal = Eigen::Matrix3d::Identity() * 1e-9;
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  for (PointUm p : shoulders) {
    const double u = Dot(p - a, chord.x) / length, v = Dot(p - a, chord.y);
    const Eigen::Vector3d row(1, u, u * u);
    normal += row * row.transpose();
    right += v * row;
  }
  const Eigen::Vector3d c = normal.ldlt().solve(right);
  chord.c = {c(0), c(1) / length, c(2) / (length * length)};
  return chord;
}

// Stretches of a closed contour whose vertices are flagged: first vertex and count.
// REQUIRES: not all are.
std::vector<std::pair<std::size_t, std::size_t>> RunsOf(const std::vector<char>& flagged) {
  const std::size_t n = flagged.size();
  std::vector<std::pair<std::size_t, std::size_t>> runs;
  std::size_t start = 0;
  while (flagged[start]) ++start;
  bool inside = false;
  for (std::size_t k = 0; k < n; ++k) {
    const std::size_t at = (start + k) % n;
    if (!flagged[at]) {
      inside = false;
    } else if (inside) {
      ++runs.back().second;
    } else {
      runs.emplace_back(at, 1);
      inside = true;
    }
  }
  return runs;
}

}  // namespace

bool BridgeContour(const std::vector<char>& given, TracedContour& contour) {
  const std::size_t n = contour.vertices.size();
  std::vector<char> flagged = given;
  for (std::size_t i = 0; i < n; ++i) {
    if (!given[i]) continue;
    for (std::size_t k = 0; k <= kShoulder; ++k)
      flagged[(i + k) % n] = flagged[(i + n - k) % n] = 1;
  }
  const auto count = static_cast<std::size_t>(std::count(flagged.begin(), flagged.end(), char{1}));
  if (count == 0 || static_cast<double>(count) > kBridgedMost * static_cast<double>(n))
    return false;
  for (const auto& [first, length] : RunsOf(flagged)) {
    const std::size_t arm = std::clamp<std::size_t>(length, 6, 60);
    std::vector<PointUm> shoulders;
    for (std::size_t i = 1; i <= arm; ++i) {
      for (const std::size_t at : {(first + n - i) % n, (first + length - 1 + i) % n}) {
        if (!flagged[at]) shoulders.push_back(contour.vertices[at].at);
      }
    }
    const PointUm a = contour.vertices[(first + n - 1) % n].at;
    const PointUm b = contour.vertices[(first + length) % n].at;
    const Chord chord = Parabola(shoulders, a, b);
    const auto circle = FitCircle(shoulders);
    for (std::size_t i = 0; i < length; ++i) {
      ContourVertex& v = contour.vertices[(first + i) % n];
      const double share = static_cast<double>(i + 1) / static_cast<double>(length + 1);
      v.at = chord.At(share * Distance(a, b));
      // A long arc is rounder than a parabola.
      if (circle && circle->radius < kStraight * Distance(a, b)) {
        const PointUm d = v.at - circle->centre;
        v.at = circle->centre + (circle->radius / std::max(1e-9, Norm(d))) * d;
      }
      v.state = VertexState::kBridged;
    }
  }
  const ContourUm normals = OutwardNormals(contour.Points());
  for (std::size_t i = 0; i < n; ++i) contour.vertices[i].normal = normals[i];
  return true;
}

bool BridgeAsDrawn(const std::vector<char>& flagged, const ContourUm& nominal,
                   TracedContour& contour, double most) {
  const std::size_t n = contour.vertices.size();
  const auto count = static_cast<std::size_t>(std::count(flagged.begin(), flagged.end(), char{1}));
  if (count == 0 || static_cast<double>(count) > most * static_cast<double>(n) ||
      nominal.size() < 8)
    return false;
  const double total = Perimeter(nominal);
  std::vector<double> along(nominal.size() + 1, 0);  // arc length up to each vertex
  for (std::size_t i = 0; i < nominal.size(); ++i)
    along[i + 1] = along[i] + Distance(nominal[i], nominal[(i + 1) % nominal.size()]);
  const auto nearest = [&](PointUm p) {
    double least = 1e18, at = 0;
    for (std::size_t i = 0; i < nominal.size(); ++i) {
      const PointUm a = nominal[i], d = nominal[(i + 1) % nominal.size()] - a;
      const double t = std::clamp(Dot(p - a, d) / std::max(1e-12, Dot(d, d)), 0.0, 1.0);
      const double away = Distance(p, a + t * d);
      if (away < least) least = away, at = along[i] + t * Norm(d);
    }
    return at;
  };
  const auto place = [&](double s) {
    s = std::fmod(std::fmod(s, total) + total, total);
    const auto up = std::upper_bound(along.begin(), along.end() - 1, s);
    const auto i = static_cast<std::size_t>(std::max<std::ptrdiff_t>(0, up - along.begin() - 1));
    const PointUm a = nominal[i], d = nominal[(i + 1) % nominal.size()] - a;
    return a + ((s - along[i]) / std::max(1e-12, Norm(d))) * d;
  };
  std::vector<ContourVertex> out = contour.vertices;
  for (const auto& [first, length] : RunsOf(flagged)) {
    const PointUm a = contour.vertices[(first + n - 1) % n].at;
    const PointUm b = contour.vertices[(first + length) % n].at;
    const double from = nearest(a);
    const double arc = std::fmod(nearest(b) - from + total, total);
    if (arc > kDrawnLonger * Distance(a, b) + 1 || arc > 0.5 * total) return false;
    const PointUm off_a = a - place(from), off_b = b - place(from + arc);
    for (std::size_t i = 0; i < length; ++i) {
      const double share = static_cast<double>(i + 1) / static_cast<double>(length + 1);
      ContourVertex& v = out[(first + i) % n];
      v.at = place(from + share * arc) + (1 - share) * off_a + share * off_b;
      v.state = VertexState::kBridged;
    }
  }
  contour.vertices = std::move(out);
  const ContourUm normals = OutwardNormals(contour.Points());
  for (std::size_t i = 0; i < n; ++i) contour.vertices[i].normal = normals[i];
  return true;
}

void MendAtWires(const Scale& scale, const NominalEdges& nominal, Section& section) {
  const double pitch = scale.mean_pitch_um();
  std::vector<Metal> metals;
  for (WireTrace& wire : section.wires) {
    if (wire.contour.vertices.size() < 6) continue;
    Metal metal;
    metal.edge = wire.contour.Points();
    metal.middle = wire.centroid;
    for (PointUm p : metal.edge) metal.reach = std::max(metal.reach, Distance(p, metal.middle));
    for (const WireLayerTrace& layer : section.wire_layers) {
      if (layer.name == wire.layer) metal.halo = layer.halo_um;
    }
    metal.wire = &wire;
    metals.push_back(std::move(metal));
  }
  std::vector<Metal> solid;
  for (const Metal& metal : metals) {
    if (metal.wire->state != WireState::kPulledOut) solid.push_back(metal);
  }
  if (section.outline) MendContour(solid, pitch, &nominal.outline, true, *section.outline);
  for (LumenTrace& lumen : section.lumens) {
    const auto drawn = nominal.lumens.find(lumen.Key());
    MendContour(solid, pitch, drawn == nominal.lumens.end() ? nullptr : &drawn->second, false,
                lumen.bore);
  }
  TellExposed(metals, pitch, section);
  NameVoids(metals, pitch, section);
}

}  // namespace cutface
