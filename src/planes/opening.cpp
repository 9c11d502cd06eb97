#include "cutface/opening.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>
#include <numeric>

#include "cutface/texts.h"
#include "planes/frame.h"

namespace cutface {
namespace {

// Stretch at which the curve bears `stress`; nothing beyond its end.
std::optional<double> StretchAt(const StiffnessCurve& curve, double stress) {
  for (std::size_t i = 1; i < curve.stretch.size(); ++i) {
    if (stress > curve.stress_mpa[i]) continue;
    const double t =
        (stress - curve.stress_mpa[i - 1]) / (curve.stress_mpa[i] - curve.stress_mpa[i - 1]);
    return curve.stretch[i - 1] + t * (curve.stretch[i] - curve.stretch[i - 1]);
  }
  return std::nullopt;
}

OpeningStep StepTo(double times, const SleeveOpening& sleeve, const StiffnessCurve& curve) {
  OpeningStep step;
  step.times = times;
  // Tension by bisection: the mean stretch grows with it.
  const auto mean = [&](double tension) -> std::optional<double> {
    double sum = 0;
    for (std::size_t h = 0; h < 12; ++h) {
      const auto stretch = StretchAt(curve, tension / sleeve.thickness_um[h]);
      if (!stretch) return std::nullopt;
      step.stretch[h] = *stretch;
      sum += *stretch;
    }
    return sum / 12;
  };
  const double thinnest = *std::min_element(sleeve.thickness_um.begin(), sleeve.thickness_um.end());
  double low = 0, high = curve.stress_mpa.back() * thinnest;
  const auto most = mean(high);
  if (!most || *most < times) {
    step.reason = fmt::format(
        "the stiffness curve ends at a stretch of {:.3g} on the thin side, at {:.2f} times "
        "the starting diameter",
        curve.stretch.back(), most.value_or(1));
    return step;
  }
  for (int i = 0; i < 200; ++i) {
    const double middle = 0.5 * (low + high);
    (*mean(middle) < times ? low : high) = middle;
  }
  mean(high);
  step.told = true;
  step.pressure_mpa = high / (times * sleeve.radius_um);
  return step;
}

}  // namespace

Result<StiffnessCurve> ParseStiffness(std::string_view text, const std::string& name) {
  const nlohmann::json json = nlohmann::json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (json.is_discarded()) return Fail(Code::kJsonSyntax, name + ": not JSON");
  if (!json.is_object() || json.value("format", nlohmann::json()) != "cutface/stiffness")
    return Fail(Code::kJsonValue, name + ": format: must be \"cutface/stiffness\"");
  StiffnessCurve curve;
  for (const char* key : {"source", "stretch", "stress_mpa"}) {
    if (!json.contains(key))
      return Fail(Code::kJsonMissingKey, fmt::format("{}: {}: is missing", name, key));
  }
  for (const auto& item : json.items()) {
    const std::string& key = item.key();
    if (key != "format" && key != "version" && key != "source" && key != "stretch" &&
        key != "stress_mpa")
      return Fail(Code::kJsonUnknownKey, fmt::format("{}: {}: unknown key", name, PlainText(key)));
  }
  if (!json["source"].is_string()) return Fail(Code::kJsonValue, name + ": source: must be a text");
  curve.source = json["source"].get<std::string>();
  for (const auto& [key, out] :
       {std::pair{"stretch", &curve.stretch}, std::pair{"stress_mpa", &curve.stress_mpa}}) {
    if (!json[key].is_array())
      return Fail(Code::kJsonValue, fmt::format("{}: {}: must be a list of numbers", name, key));
    for (const auto& value : json[key]) {
      if (!value.is_number())
        return Fail(Code::kJsonValue, fmt::format("{}: {}: must be a list of numbers", name, key));
      out->push_back(value.get<double>());
    }
  }
  const auto rises = [](const std::vector<double>& v) {
    return std::adjacent_find(v.begin(), v.end(), [](double a, double b) { return !(b > a); }) ==
           v.end();
  };
  if (curve.stretch.size() != curve.stress_mpa.size() || curve.stretch.size() < 2 ||
      curve.stretch.front() != 1 || curve.stress_mpa.front() != 0 || !rises(curve.stretch) ||
      !rises(curve.stress_mpa)) {
    return Fail(
        Code::kJsonValue,
        name +
            ": stretch and stress_mpa: must be lists of one length that begin with 1 and 0 and "
            "rise: where stress does not rise a sleeve runs away, and no figure holds");
  }
  return curve;
}

Result<StiffnessCurve> ReadStiffness(const std::string& path) {
  const auto text = ReadTextFile(path, std::uint64_t{1} << 20);
  if (!text) return tl::unexpected(text.error());
  return ParseStiffness(*text, path.substr(path.find_last_of('/') + 1));
}

Result<SleeveOpening> OpenSleeve(const SectionResult& result, const std::string& sleeve,
                                 const std::optional<StiffnessCurve>& curve,
                                 const std::vector<double>& times) {
  const Section& section = result.section;
  const TracedContour *inner = nullptr, *outer = section.outline ? &*section.outline : nullptr;
  for (const RingTrace& ring : section.rings) {
    inner = &ring.inner;
    if (ring.name == sleeve) break;
    outer = inner;
    inner = nullptr;
  }
  const auto usable = [](const TracedContour* c) {
    return c != nullptr && c->vertices.size() >= 3 && c->whole;
  };
  if (!usable(inner) || !usable(outer))
    return Fail(Code::kNotFound, fmt::format("{}: has no ring \"{}\" with both edges whole",
                                             result.image_file, sleeve));
  SleeveOpening out;
  out.sleeve = sleeve;
  const planes::PlaneFace face = planes::InDrawing(result, 0);
  const ContourUm in = inner->Points(), around = outer->Points();
  const PointUm centre = Centroid<FrameUm>(in);
  const ContourIndex<FrameUm> index{std::span<const PointUm>(around)};
  const auto near = index.NearestToEach(std::span<const PointUm>(in));
  std::array<double, 12> turn{};
  double wave_c = 0, wave_s = 0, all = 0, mean_radius = 0;
  const std::size_t n = in.size();
  for (std::size_t i = 0; i < n; ++i) {
    const PointUm a = in[(i + n - 1) % n] - centre, b = in[(i + 1) % n] - centre;
    const double share = 0.5 * std::abs(std::atan2(Cross(a, b), Dot(a, b)));
    const double clock = planes::ClockDeg(face.Vector(in[i] - centre));
    const auto hour = static_cast<std::size_t>(std::lround(clock / 30)) % 12;
    const double t = near[i].distance;
    out.thickness_um[hour] += share * t;
    turn[hour] += share;
    wave_c += share * t * std::cos(clock * kPi / 180);
    wave_s += share * t * std::sin(clock * kPi / 180);
    mean_radius += share * (Distance(in[i], centre) + 0.5 * t);
    all += share;
  }
  for (std::size_t h = 0; h < 12; ++h) {
    if (!(turn[h] > 0))
      return Fail(Code::kNotFound,
                  result.image_file + ": the sleeve's inner edge does not go round");
    out.thickness_um[h] /= turn[h];
  }
  out.radius_um = mean_radius / all;
  out.direction_deg = std::fmod(std::atan2(-wave_s, -wave_c) * 180 / kPi + 360, 360);
  std::iota(out.order.begin(), out.order.end(), 0);
  std::stable_sort(out.order.begin(), out.order.end(), [&](int a, int b) {
    return out.thickness_um[static_cast<std::size_t>(a)] <
           out.thickness_um[static_cast<std::size_t>(b)];
  });
  const double thin = out.thickness_um[static_cast<std::size_t>(out.order.front())];
  const double thick = out.thickness_um[static_cast<std::size_t>(out.order.back())];
  const double mean = std::accumulate(out.thickness_um.begin(), out.thickness_um.end(), 0.0) / 12;
  for (int& h : out.order) h = h == 0 ? 12 : h;
  out.unevenness = (thick - thin) / mean;
  // What differs from hour to hour: waviness of both edges (common shifts move all hours alike).
  out.doubt_um = 2 * std::hypot(inner->u_arc_um, outer->u_arc_um);
  out.told_apart = thick - thin > out.doubt_um;
  if (curve) {
    for (const double x : times) out.steps.push_back(StepTo(x, out, *curve));
  }
  return out;
}

}  // namespace cutface
