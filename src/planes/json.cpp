// The stack as JSON (src/data/planes.schema.json).
#include <cmath>
#include <nlohmann/json.hpp>

#include "cutface/planes.h"

namespace cutface {
namespace {

using Json = nlohmann::ordered_json;

double Short(double value) {
  return std::isfinite(value) ? std::stod(Json(std::round(value * 1e6) / 1e6).dump()) : 0;
}

Json PairFigure(const PlanePairFigure& f, bool braid) {
  Json out = Json::object();
  out["of"] = f.of;
  out["planes"] = Json::array({f.first + 1, f.second + 1});
  out["state"] = f.told ? "measured" : "not measured";
  if (!f.reason.empty()) out["reason"] = f.reason;
  if (braid) {
    Json candidates = Json::array();
    for (const double c : f.candidates_deg) candidates.push_back(Short(c));
    out["candidates_deg"] = std::move(candidates);
  }
  if (!f.told) return out;
  out[braid ? "braid_angle_deg" : "tilt_deg"] = Short(f.angle_deg);
  out[braid ? "u_braid_angle_deg" : "u_tilt_deg"] = Short(f.u_angle_deg);
  if (braid) {
    out["picks_per_mm"] = Short(f.picks_per_mm);
    out["u_picks_per_mm"] = Short(f.u_picks_per_mm);
  } else {
    out["direction_deg"] = Short(f.direction_deg);
  }
  return out;
}

}  // namespace

std::string PlanesToJson(const PlaneStack& stack) {
  Json out = Json::object();
  out["format"] = "cutface/planes";
  out["version"] = 1;
  out["part"] = stack.part;
  out["section"] = stack.section;
  out["planes"] = Json::array();
  for (const PlaneOfStack& p : stack.planes) {
    out["planes"].push_back(Json{{"image", p.file},
                                 {"station_um", Short(p.station_um)},
                                 {"smallest_void_um", Short(p.smallest_void_um)},
                                 {"voids", p.voids}});
  }
  out["void_chains"] = Json::array();
  for (const VoidChain& chain : stack.chains) {
    Json members = Json::array();
    for (const auto& m : chain.members)
      members.push_back(Json{{"plane", m.plane + 1}, {"no", m.no}});
    out["void_chains"].push_back(Json{{"members", members}, {"length_um", Short(chain.length_um)}});
  }
  out["barriers"] = Json::array();
  for (const StackBarrier& b : stack.barriers) {
    Json entry = Json{{"of", Json::array({b.first, b.second})},
                      {"state", b.told ? "measured" : "not measured"}};
    if (!b.reason.empty()) entry["reason"] = b.reason;
    if (b.told) {
      entry["value_um"] = Short(b.value_um);
      entry["u_um"] = Short(b.u_um);
      entry["lo_um"] = Short(b.lo_um);
      entry["hi_um"] = Short(b.hi_um);
      entry["weakest_um"] = Short(b.weakest_um);
      entry["single_plane_um"] = Short(b.single_um);
      entry["way"] = b.steps;
    }
    out["barriers"].push_back(std::move(entry));
  }
  out["missed_voids"] = Json::array();
  for (const MissChance& m : stack.misses)
    out["missed_voids"].push_back(
        Json{{"diameter_um", m.diameter_um}, {"chance", Short(m.chance)}});
  out["braids"] = Json::array();
  for (const PlanePairFigure& f : stack.braids) out["braids"].push_back(PairFigure(f, true));
  out["bond_tilts"] = Json::array();
  for (const PlanePairFigure& f : stack.tilts) out["bond_tilts"].push_back(PairFigure(f, false));
  out["warnings"] = stack.warnings;
  return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace cutface
