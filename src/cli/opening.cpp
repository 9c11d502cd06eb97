// The command opening: a sleeve's thickness by the clock and what follows when it is inflated.
#include "cutface/opening.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "cli/exits.h"
#include "cli/planes.h"
#include "cutface/record.h"

namespace cutface {
namespace {

std::string Table(const SleeveOpening& out) {
  std::string text = fmt::format(
      "{}: opens first towards {:.0f} deg by the clock{}\n\n", Escaped(out.sleeve),
      out.direction_deg, out.told_apart ? "" : "; the hours differ by less than their doubt");
  std::vector<std::vector<std::string>> rows = {{"hour", "thickness"}};
  for (const int hour : out.order)
    rows.push_back(
        {std::to_string(hour),
         fmt::format("{:.1f} um", out.thickness_um[static_cast<std::size_t>(hour % 12)])});
  for (const OpeningStep& step : out.steps) {
    rows[0].push_back(fmt::format("stretch at {:.3g} x", step.times));
    for (std::size_t i = 0; i < out.order.size(); ++i) {
      rows[i + 1].push_back(
          step.told
              ? fmt::format("{:.3f}", step.stretch[static_cast<std::size_t>(out.order[i] % 12)])
              : "-");
    }
  }
  text += Columns(rows) + "\n";
  for (const OpeningStep& step : out.steps) {
    text +=
        step.told
            ? fmt::format("at {:.3g} x the diameter: {:.4f} MPa\n", step.times, step.pressure_mpa)
            : fmt::format("at {:.3g} x the diameter: not told: {}\n", step.times, step.reason);
  }
  if (out.steps.empty())
    text += "Stretch and pressure: not told without the site's stiffness data (--stiffness).\n";
  return text + "For screening: inflation tests decide.\n";
}

std::string Json(const SleeveOpening& out, const std::string& source) {
  nlohmann::ordered_json json;
  json["format"] = "cutface/opening";
  json["version"] = 1;
  json["sleeve"] = out.sleeve;
  json["direction_deg"] = out.direction_deg;
  json["told_apart"] = out.told_apart;
  json["unevenness"] = out.unevenness;
  json["order_hours"] = out.order;
  json["thickness_um_by_hour"] = out.thickness_um;
  json["stiffness_source"] = source;
  json["steps"] = nlohmann::ordered_json::array();
  for (const OpeningStep& step : out.steps) {
    nlohmann::ordered_json entry = {{"times", step.times},
                                    {"state", step.told ? "measured" : "not measured"}};
    if (step.told) {
      entry["pressure_mpa"] = step.pressure_mpa;
      entry["stretch_by_hour"] = step.stretch;
    } else {
      entry["reason"] = step.reason;
    }
    json["steps"].push_back(std::move(entry));
  }
  return json.dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace

int RunOpening(const Call& call, const Terminal& terminal) {
  const auto wrong = [&](const Error& error) {
    PrintError(terminal, error);
    return kExitWrongCall;
  };
  const auto result = ReadResult(call.images.front());
  if (!result) return wrong(result.error());
  std::optional<StiffnessCurve> curve;
  if (!call.stiffness.empty()) {
    auto read = ReadStiffness(call.stiffness);
    if (!read) return wrong(read.error());
    curve = std::move(*read);
  }
  const auto out = OpenSleeve(*result, call.sleeve, curve);
  if (!out) return wrong(out.error());
  terminal.out << (call.json ? Json(*out, curve ? curve->source : "") : Table(*out)) << std::flush;
  return kExitFine;
}

}  // namespace cutface
