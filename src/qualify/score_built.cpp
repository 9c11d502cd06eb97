// Wires of a rendered face against those that were told.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "cutface/geometry.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

struct TrueWire {
  std::string layer;
  PointUm centre;
  double size_um = 0;
  bool there = true;  // false: missing or pulled out
};

bool IsWire(const WireTrace& wire) {
  return wire.state == WireState::kWire || wire.state == WireState::kExtra;
}

}  // namespace

void ScoreWires(const SectionResult& result, const std::string& truth_json, double pitch_um,
                FaceScore& score) {
  using Json = nlohmann::ordered_json;
  const Json truth = Json::parse(truth_json);
  if (!truth.contains("wires")) return;
  std::vector<TrueWire> wires;
  for (const Json& one : truth.at("wires")) {
    if (!one.value("whole", true)) continue;  // beyond the frame
    TrueWire wire;
    wire.layer = one.at("layer").get<std::string>();
    wire.centre = {one.at("centre_px").at(0).get<double>() * pitch_um,
                   one.at("centre_px").at(1).get<double>() * pitch_um};
    wire.size_um = one.at("axes_px").at(0).get<double>() * pitch_um;
    const std::string state = one.at("state").get<std::string>();
    wire.there = state != "missing" && state != "pulled out";
    wires.push_back(wire);
  }
  std::vector<bool> taken(result.section.wires.size(), false);
  const auto nearest = [&](const TrueWire& wire, bool metal) -> std::optional<std::size_t> {
    std::optional<std::size_t> best;
    double least = wire.size_um / 2;
    for (std::size_t i = 0; i < taken.size(); ++i) {
      const WireTrace& told = result.section.wires[i];
      if (taken[i] || told.layer != wire.layer || IsWire(told) != metal) continue;
      const double off =
          std::hypot(told.centroid.x - wire.centre.x, told.centroid.y - wire.centre.y);
      // Where a wire is missing only the layer's comb tells the place: a whole size off is near.
      if (off < (metal ? 1 : 2) * least) least = metal ? off : off / 2, best = i;
    }
    return best;
  };
  for (const TrueWire& wire : wires) {
    ++(wire.there ? score.wires.of : score.wires.missing);
    const auto told = nearest(wire, wire.there);
    if (!told) continue;
    taken[*told] = true;
    ++(wire.there ? score.wires.found : score.wires.missing_told);
    if (!wire.there) continue;
    const PointUm at = result.section.wires[*told].centroid;
    const double off = std::hypot(at.x - wire.centre.x, at.y - wire.centre.y);
    score.wires.rms_off_um += off * off;
  }
  for (std::size_t i = 0; i < taken.size(); ++i)
    score.wires.invented += !taken[i] && IsWire(result.section.wires[i]) ? 1 : 0;
}

}  // namespace cutface
