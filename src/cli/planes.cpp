// The command planes: result files in, a table or JSON out.
#include "cli/planes.h"

#include <fmt/format.h>

#include <ostream>

#include "cli/exits.h"
#include "cutface/planes.h"
#include "cutface/quantity.h"
#include "cutface/record.h"

namespace cutface {
namespace {

std::string Um(double um) { return fmt::format("{:.1f} um", um); }

std::string Table(const PlaneStack& stack) {
  std::string text =
      Escaped(stack.part) + (stack.section.empty() ? "" : ", " + Escaped(stack.section)) + "\n\n";
  std::vector<std::vector<std::string>> rows = {
      {"plane", "image", "station", "voids", "smallest void seen"}};
  for (std::size_t i = 0; i < stack.planes.size(); ++i) {
    const PlaneOfStack& p = stack.planes[i];
    rows.push_back({std::to_string(i + 1), Escaped(p.file),
                    fmt::format("{:.3f} mm", p.station_um / 1000), std::to_string(p.voids),
                    Um(p.smallest_void_um)});
  }
  text += Columns(rows) + "\n";
  for (const VoidChain& chain : stack.chains) {
    text += "voids that overlap:";
    for (const auto& m : chain.members) text += fmt::format(" plane {} no. {},", m.plane + 1, m.no);
    text += fmt::format(" over {:.3f} mm\n", chain.length_um / 1000);
  }
  if (!stack.chains.empty()) text += "\n";
  rows = {{"between", "barrier of the stack", "95 % interval", "strongest ligament", "one plane",
           "way"}};
  for (const StackBarrier& b : stack.barriers) {
    const std::string pair = Escaped(b.first) + ", " + Escaped(b.second);
    if (!b.told) {
      rows.push_back({pair, "not measured", "", "", "", Escaped(b.reason)});
      continue;
    }
    std::string way;
    for (const std::string& step : b.steps) way += (way.empty() ? "" : " - ") + Escaped(step);
    if (!b.reason.empty()) way += " (" + Escaped(b.reason) + ")";
    rows.push_back({pair, Um(b.value_um), fmt::format("{:.1f} to {:.1f}", b.lo_um, b.hi_um),
                    Um(b.weakest_um), Um(b.single_um), way});
  }
  if (rows.size() > 1) text += Columns(rows) + "\n";
  rows = {{"round void of", "chance that no plane shows it"}};
  for (const MissChance& m : stack.misses)
    rows.push_back({Um(m.diameter_um), FormatProbability(m.chance)});
  text += Columns(rows) + "\n";
  for (const PlanePairFigure& f : stack.braids) {
    text += fmt::format("{}, planes {} and {}: ", Escaped(f.of), f.first + 1, f.second + 1);
    text += f.told
                ? fmt::format("braid angle {:.2f} deg (u {:.2f}), {:.3f} picks per mm (u {:.3f})\n",
                              f.angle_deg, f.u_angle_deg, f.picks_per_mm, f.u_picks_per_mm)
                : "not measured: " + Escaped(f.reason) + "\n";
  }
  for (const PlanePairFigure& f : stack.tilts) {
    text += fmt::format(
        "bond, planes {} and {}: tilt {:.3f} deg (u {:.3f}) towards {:.0f} deg by the clock{}\n",
        f.first + 1, f.second + 1, f.angle_deg, f.u_angle_deg, f.direction_deg,
        f.reason.empty() ? "" : "; " + Escaped(f.reason));
  }
  return text +
         "Whether voids join between planes is not seen: a barrier is no proof of a leak or of "
         "tightness.\n";
}

}  // namespace

int RunPlanes(const Call& call, const Terminal& terminal) {
  std::vector<SectionResult> results;
  for (const std::string& path : call.images) {
    auto result = ReadResult(path);
    if (!result) {
      PrintError(terminal, result.error(), path);
      return kExitWrongCall;
    }
    results.push_back(std::move(*result));
  }
  PlaneOptions options;
  if (call.planes.spacing_um > 0) options.spacing_um = call.planes.spacing_um;
  options.u_station_um = call.planes.u_station_um;
  options.align_um = call.planes.align_um;
  options.carriers = call.planes.carriers;
  if (!call.planes.void_sizes_um.empty()) options.void_sizes_um = call.planes.void_sizes_um;
  const auto stack = StackPlanes(results, options);
  if (!stack) {
    PrintError(terminal, stack.error());
    return kExitWrongCall;
  }
  for (const std::string& warning : stack->warnings) PrintWarning(terminal, warning, "");
  const std::string json = PlanesToJson(*stack);
  if (!call.planes.out.empty()) {
    if (ReadFile(call.planes.out)) {
      PrintError(
          terminal,
          Error{Code::kUsage, call.planes.out + ": is there already; name a new file with --out"});
      return kExitWrongCall;
    }
    if (auto status = WriteWhole(call.planes.out, json); !status) {
      PrintError(terminal, status.error());
      return kExitWrongCall;
    }
  }
  terminal.out << (call.json ? json : Table(*stack)) << std::flush;
  return kExitFine;
}

}  // namespace cutface
