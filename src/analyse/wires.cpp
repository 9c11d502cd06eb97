// What is wrong with wires: missing, too many, out of place, bare.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "analyse/reader.h"

namespace cutface::analyse {
namespace {

std::string Numbered(const WireTrace& wire) {
  return wire.no > 0 ? fmt::format("{}/{}", wire.layer, wire.no) : wire.layer;
}

Finding About(const WireTrace& wire, const char* kind, Severity severity) {
  Finding f;
  f.kind = kind;
  f.where = {wire.layer};
  if (wire.no > 0) f.where.push_back(Numbered(wire));
  f.severity = severity;
  f.at = {wire.centroid};
  if (wire.no > 0) f.evidence["no"] = wire.no;
  if (wire.family > 0) f.evidence["family"] = wire.family;
  return f;
}

void FindLost(const WireTrace& wire, std::vector<Finding>& out) {
  if (wire.state == WireState::kMissing) {
    Finding f = About(wire, "missing wire", Severity::kHigh);
    f.text =
        fmt::format("No wire in slot {}: solid body where the drawing has it.", Numbered(wire));
    out.push_back(std::move(f));
  }
  if (wire.state == WireState::kPulledOut) {
    // The hole says that it was there when the part was built.
    Finding f = About(wire, "missing wire", Severity::kMedium);
    f.evidence["pulled_out"] = 1;
    f.text = fmt::format(
        "Slot {} holds a hole of a wire's size: the wire was pulled out, in cutting or before.",
        Numbered(wire));
    out.push_back(std::move(f));
  }
}

// A drawn layer of which no wire was told: the drawing's wires are not proven to be there at all.
// Where a row of the drawing is on it, that row says so too.
void FindUntold(const Reader& reader, std::vector<Finding>& out) {
  if (reader.plane == nullptr) return;
  for (const WireLayerTrace& layer : reader.section.wire_layers) {
    const bool any = std::any_of(
        reader.section.wires.begin(), reader.section.wires.end(), [&](const WireTrace& wire) {
          return wire.layer == layer.name && wire.state != WireState::kMissing;
        });
    if (any || layer.expected < 1) continue;
    const bool asked =
        std::any_of(reader.plane->characteristics.begin(), reader.plane->characteristics.end(),
                    [&](const Characteristic& c) {
                      return std::find(c.of.begin(), c.of.end(), layer.name) != c.of.end();
                    });
    Finding f;
    f.kind = "missing wire";
    f.where = {layer.name};
    f.severity = asked ? Severity::kMedium : Severity::kHigh;
    f.evidence = {{"drawn", static_cast<double>(layer.expected)}, {"counted", 0}};
    f.text = fmt::format(
        "No wire of {} was told, {} are drawn{}. Left out, another number of wires than drawn, or "
        "a light in which they do not show.",
        layer.name, layer.expected, layer.doubt.empty() ? "" : ": " + layer.doubt);
    out.push_back(std::move(f));
  }
}

}  // namespace

void FindWires(const Reader& reader, std::vector<Finding>& out) {
  FindUntold(reader, out);
  for (const WireTrace& wire : reader.section.wires) {
    FindLost(wire, out);
    if (wire.state == WireState::kExtra) {
      Finding f = About(wire, "extra wire", Severity::kMedium);
      f.text = fmt::format("A wire of {} beyond those that the drawing has there.", wire.layer);
      out.push_back(std::move(f));
    }
    if (wire.displaced) {
      Finding f = About(wire, "displaced wire", Severity::kMedium);
      f.evidence["off_um"] = wire.off_um;
      const bool rows =
          std::any_of(reader.section.wire_layers.begin(), reader.section.wire_layers.end(),
                      [&](const WireLayerTrace& t) { return t.name == wire.layer && t.turns > 0; });
      if (rows) {
        f.text = fmt::format("Wire {} lies off its place in its row, {} of it along the tube.",
                             Numbered(wire), reader.Length(std::abs(wire.off_um)));
      } else {
        f.text = fmt::format("Wire {} lies {} {} of its place among the wires of its hand.",
                             Numbered(wire), reader.Length(std::abs(wire.off_um)),
                             wire.off_um > 0 ? "clockwise" : "anticlockwise");
      }
      out.push_back(std::move(f));
    }
    if (!wire.exposed_to.empty() && wire.state != WireState::kMissing) {
      const bool hole = wire.state == WireState::kPulledOut;
      Finding f = About(wire, "exposed wire", hole ? Severity::kMedium : Severity::kHigh);
      f.where.push_back(wire.exposed_to == "outside" ? "outline" : wire.exposed_to);
      f.text =
          fmt::format("{} {} reaches {}.", hole ? "The hole of wire" : "Wire", Numbered(wire),
                      wire.exposed_to == "outside" ? "the outside" : "into " + wire.exposed_to);
      out.push_back(std::move(f));
    }
  }
}

}  // namespace cutface::analyse
