// Placing what is built in, and the lines of the truth file about it.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "phantom/as_built.h"
#include "phantom/inserts.h"
#include "phantom/truth.h"

namespace cutface::phantom {
namespace {

using Json = nlohmann::ordered_json;

Json At(PointPx p) { return {Round(p.x, 1e-3), Round(p.y, 1e-3)}; }

// Axes of the ellipse with the contour's second moments of area.
void TakeAxes(BuiltWire& wire) {
  const ContourPx& contour = wire.contour;
  const PointPx c = CentroidOf(contour);
  double area = 0, xx = 0, yy = 0, xy = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const PointPx a = contour[i] - c, b = contour[(i + 1) % contour.size()] - c;
    const double cross = Cross(a, b);
    area += cross / 2;
    xx += cross * (a.x * a.x + a.x * b.x + b.x * b.x) / 12;
    yy += cross * (a.y * a.y + a.y * b.y + b.y * b.y) / 12;
    xy += cross * (a.x * b.y + 2 * a.x * a.y + 2 * b.x * b.y + b.x * a.y) / 24;
  }
  const double mean = 0.5 * (xx + yy), half = std::hypot(0.5 * (xx - yy), xy);
  wire.centre = c;
  wire.long_px = 4 * std::sqrt((mean + half) / area);
  wire.short_px = 4 * std::sqrt(std::max(0.0, mean - half) / area);
  wire.axis_rad = 0.5 * std::atan2(2 * xy, xx - yy);
}

bool Within(const ContourPx& contour, int width, int height) {
  const auto [least, greatest] = BoundsOf(contour);
  return least.x > 0 && least.y > 0 && greatest.x < width - 1 && greatest.y < height - 1;
}

std::string RingsText(const BuiltPart& part) {
  std::string text = ",\n \"rings\": {";
  const char* comma = "";
  for (const BuiltRing& ring : part.inserts.rings) {
    text += fmt::format("{}\n  \"{}\": {{\"inner_px\": {}}}", comma, ring.name,
                        ContourText(ring.inner));
    comma = ",";
  }
  text += "},\n \"liners\": {";
  comma = "";
  for (const BuiltLiner& liner : part.inserts.liners) {
    text += fmt::format("{}\n  \"{}\": {{\"nominal_px\": {:.4f}, \"outer_px\": {}}}", comma,
                        liner.lumen, liner.nominal_px, ContourText(liner.outer));
    comma = ",";
  }
  return text + "}";
}

std::string LayersText(const BuiltPart& part) {
  Json layers = Json::array();
  for (const BuiltLayer& layer : part.inserts.layers) {
    Json out;
    out["name"] = layer.name;
    out["centre_px"] = At(layer.centre);
    out["expected"] = layer.expected;
    out["families"] = layer.families;
    out["radius_px"] = Round(layer.radius_px, 1e-3);
    out["wire_px"] = Round(layer.wire_px, 1e-3);
    if (layer.angle_rad) out["braid_angle_deg"] = Round(*layer.angle_rad * 180 / kPi, 1e-3);
    if (layer.pitch_px > 0) {
      out["pitch_px"] = Round(layer.pitch_px, 1e-3);
      out["cover"] = Round(layer.cover, 1e-5);
    }
    layers.push_back(out);
  }
  return ",\n \"wire_layers\": " + layers.dump();
}

std::string WiresText(const BuiltPart& part, int width, int height) {
  std::string text = ",\n \"wires\": [";
  const char* comma = "";
  for (const BuiltWire& wire : part.inserts.wires) {
    Json out;
    out["layer"] = wire.layer;
    out["no"] = wire.no;
    out["family"] = wire.family;
    out["state"] = BuiltWireStateName(wire.state);
    out["centre_px"] = At(wire.centre);
    out["axes_px"] = {Round(wire.long_px, 1e-3), Round(wire.short_px, 1e-3)};
    out["axis_deg"] = Round(wire.axis_rad * 180 / kPi, 1e-2);
    out["shape"] = wire.flat ? "flat" : "round";
    out["displaced"] = wire.displaced;
    out["touching"] = wire.touching;
    out["exposed_to"] = wire.exposed_to;
    out["whole"] = Within(wire.contour, width, height);
    std::string line = out.dump();
    line.pop_back();
    text += fmt::format("{}\n  {}, \"contour_px\": {}}}", comma, line, ContourText(wire.contour));
    comma = ",";
  }
  return text + "]";
}

std::string FibresText(const BuiltPart& part) {
  Json fibres = Json::array();
  for (const BuiltFibre& fibre : part.inserts.fibres) {
    Json out;
    out["name"] = fibre.name;
    out["centre_px"] = At(fibre.centre);
    out["filament_px"] = Round(fibre.filament_px, 1e-3);
    out["filaments"] = fibre.filaments.size();
    out["at_px"] = Json::array();
    for (const ContourPx& filament : fibre.filaments) {
      out["at_px"].push_back(At(CentroidOf(filament)));
    }
    fibres.push_back(out);
  }
  return ",\n \"fibres\": " + fibres.dump();
}

struct Span {
  double from = 0, to = 0;  // degrees, to > from
};

// Angles under which a contour is seen from a point outside it.
Span SpanSeen(const ContourPx& contour, PointPx about) {
  const PointPx middle = CentroidOf(contour) - about;
  double least = 0, greatest = 0;
  for (const PointPx p : contour) {
    const PointPx d = p - about;
    const double off = std::atan2(Cross(middle, d), Dot(middle, d));
    least = std::min(least, off);
    greatest = std::max(greatest, off);
  }
  const double at = std::atan2(middle.y, middle.x);
  return {(at + least) * 180 / kPi, (at + greatest) * 180 / kPi};
}

std::string PatchesText(const std::vector<PhantomPatch>& patches, const char* kind,
                        const char*& comma) {
  std::string text;
  for (const PhantomPatch& patch : patches) {
    text += fmt::format(
        "{}\n  {{\"class\": \"{}\", \"of\": \"\", \"size_px\": {:.3f}, \"contour_px\": {}}}", comma,
        kind, patch.size_px, ContourText(patch.contour));
    comma = ",";
  }
  return text;
}

std::string ArtefactsText(const BuiltPart& part, const PhantomEffects& effects) {
  std::string text = ",\n \"artefacts\": [";
  const char* comma = "";
  for (const BuiltArtefact& artefact : part.inserts.artefacts) {
    Json out;
    out["class"] = artefact.kind;
    out["of"] = artefact.of;
    if (artefact.about) {
      const Span span = SpanSeen(artefact.contour, *artefact.about);
      out["about_px"] = At(*artefact.about);
      out["from_deg"] = Round(span.from, 1e-3);
      out["to_deg"] = Round(span.to, 1e-3);
      out["width_px"] = Round(artefact.width_px, 1e-3);
    }
    std::string line = out.dump();
    line.pop_back();
    text +=
        fmt::format("{}\n  {}, \"contour_px\": {}}}", comma, line, ContourText(artefact.contour));
    comma = ",";
  }
  // A bubble is drawn twice, its ring and its middle: the ring comes first and is the larger.
  std::vector<PhantomPatch> outside, inside;
  for (std::size_t i = 0; i + 1 < effects.bubbles.size(); i += 2) {
    (effects.bubbles[i].lumen < 0 ? outside : inside).push_back(effects.bubbles[i]);
  }
  text += PatchesText(effects.chips, "chip", comma);
  text += PatchesText(effects.lips, "smear", comma);
  text += PatchesText(effects.specks, "debris", comma);
  text += PatchesText(effects.gaps, "potting gap", comma);
  text += PatchesText(outside, "outside bubble", comma);
  text += PatchesText(inside, "bubble in a lumen", comma);
  return text + "]";
}

std::string BondText(const BuiltPart& part) {
  const ContourPx *shaft = nullptr, *around = nullptr;
  for (const BuiltRing& ring : part.inserts.rings) {
    if (ring.name == part.inserts.adhesive) shaft = &ring.inner;
    if (ring.name == part.inserts.sleeve) around = &ring.inner;
  }
  if (shaft == nullptr || around == nullptr) return "";
  double bare = 0, longest = 0;
  for (const BuiltArtefact& artefact : part.inserts.artefacts) {
    if (artefact.kind != "bond gap") continue;
    const Span span = SpanSeen(artefact.contour, *artefact.about);
    bare += span.to - span.from;
    longest = std::max(longest, span.to - span.from);
  }
  const PointPx inner = LeastSquaresDisc(*shaft).centre, outer = LeastSquaresDisc(*around).centre;
  Json bond;
  bond["adhesive"] = part.inserts.adhesive;
  bond["sleeve"] = part.inserts.sleeve;
  bond["bonded_arc_deg"] = Round(360 - bare, 1e-3);
  bond["longest_gap_deg"] = Round(longest, 1e-3);
  bond["offset_px"] = Round(Distance(inner, outer), 1e-4);
  return ",\n \"bond\": " + bond.dump();
}

}  // namespace

void PlaceInserts(Inserts& inserts, const Affine& map) {
  const auto place = [&](ContourPx& contour) {
    if (contour.empty()) return;
    contour = Rounded(Mapped(contour, map));
    if (AreaOf(contour) < 0) std::reverse(contour.begin(), contour.end());
  };
  for (BuiltRing& ring : inserts.rings) place(ring.inner);
  for (BuiltLiner& liner : inserts.liners) place(liner.outer);
  for (BuiltLayer& layer : inserts.layers) layer.centre = map(layer.centre);
  for (BuiltWire& wire : inserts.wires) {
    place(wire.contour);
    TakeAxes(wire);
  }
  for (BuiltFibre& fibre : inserts.fibres) {
    fibre.centre = map(fibre.centre);
    for (ContourPx& filament : fibre.filaments) place(filament);
  }
  for (BuiltArtefact& artefact : inserts.artefacts) {
    place(artefact.contour);
    if (artefact.about) artefact.about = map(*artefact.about);
  }
}

void TellExposed(BuiltPart& part) {
  for (BuiltWire& wire : part.inserts.wires) {
    if (wire.state == BuiltWireState::kMissing) continue;
    if (!Inside(part.outline, wire.centre) || LeastGap(wire.contour, part.outline).distance == 0) {
      wire.exposed_to = "outside";
    }
    for (const BuiltLumen& lumen : part.lumens) {
      if (lumen.contour.empty()) continue;
      if (Inside(lumen.contour, wire.centre) ||
          LeastGap(wire.contour, lumen.contour).distance == 0) {
        wire.exposed_to = lumen.name;
      }
    }
  }
}

std::string InsertsText(const BuiltPart& part, const PhantomScene& scene) {
  if (!part.inserts.Any()) return ArtefactsText(part, scene.effects);
  return RingsText(part) + LayersText(part) + WiresText(part, scene.width_px, scene.height_px) +
         FibresText(part) + ArtefactsText(part, scene.effects) + BondText(part);
}

}  // namespace cutface::phantom
