// Septa and walls that the chosen pressures would overload, by the site's allowed stress.
#include <fmt/format.h>

#include "analyse/reader.h"

namespace cutface::analyse {
namespace {

constexpr double kMuchSag = 0.5;  // of the thickness: the small-deflection figures end there

void FindOver(const Reader& reader, const Names& of, std::string_view kind, std::string_view best,
              std::string_view next, std::string_view solid, std::vector<Finding>& out) {
  const Measurement* stress = reader.Find(of, best);
  if (stress == nullptr) stress = reader.Find(of, next);
  if (stress == nullptr || reader.design == nullptr) return;
  const auto body = reader.design->materials.find("body");
  const std::optional<double> allowed =
      body != reader.design->materials.end() ? body->second.strength_mpa : std::nullopt;
  const Measurement* thickness = reader.Find(of, solid);
  const Measurement* sag = reader.Find(of, "ligament_sag");
  const bool deep =
      sag != nullptr && thickness != nullptr && sag->value > kMuchSag * thickness->value;
  const double limit = allowed.value_or(0);
  const bool over = limit > 0 && stress->hi > limit;
  if (!over && !deep) return;
  Finding f;
  f.kind = kind;
  f.where = of;
  f.severity = limit > 0 && stress->lo > limit ? Severity::kHigh : Severity::kMedium;
  f.evidence = {{stress->quantity + "_mpa", stress->value},
                {stress->quantity + "_lo_mpa", stress->lo},
                {stress->quantity + "_hi_mpa", stress->hi}};
  if (limit > 0) f.evidence["allowed_mpa"] = limit;
  if (thickness != nullptr) f.evidence[std::string(solid) + "_um"] = thickness->value;
  if (sag != nullptr) f.evidence["ligament_sag_um"] = sag->value;
  f.at = stress->at;
  const std::string between = of.size() == 2 ? fmt::format("{} and {}", of[0], of[1])
                                             : fmt::format("{} and the outside", of[0]);
  f.text = fmt::format(
      "Under the pressures asked for, the {} between {} bears {:.2f} MPa ({:.2f} to {:.2f})", solid,
      between, stress->value, stress->lo, stress->hi);
  if (over) {
    f.text +=
        fmt::format(", and the site allows {:.2f} MPa{}", limit,
                    f.severity == Severity::kHigh ? "" : "; not proven within the uncertainty");
  }
  if (deep) {
    f.text += fmt::format(
        "; it would sag by {}, more than half of its thickness, where these figures end",
        reader.Length(sag->value));
  }
  f.text += ". For screening; a burst or leak test decides.";
  out.push_back(std::move(f));
}

}  // namespace

void FindPressure(const Reader& reader, std::vector<Finding>& out) {
  for (const Names& pair : MeasuredPairs(reader))
    FindOver(reader, pair, "overloaded septum", "ligament_stress", "strip_stress", "septum", out);
  for (const LumenTrace& lumen : reader.section.lumens) {
    for (const std::string& name : lumen.names)
      FindOver(reader, {name}, "overloaded wall", "wall_stress", "hoop_stress", "wall", out);
  }
}

}  // namespace cutface::analyse
