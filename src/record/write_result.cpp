// A result as a file: key order, rounding, and the refusal of numbers that are none.
#include <fmt/format.h>

#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>
#include <type_traits>

#include "cutface/correction.h"
#include "cutface/record.h"
#include "record/node.h"
#include "record/words.h"

namespace cutface {
namespace {

// Coordinates: a nanometre, far below any edge. Values: what no interval in this trade reaches.
constexpr double kCoordinateStepUm = 1e-3;
constexpr double kPixelStep = 1e-4;
constexpr int kValueDigits = 9;
constexpr int kSigmaDigits = 4;
constexpr double kDegPerRad = 180 / std::numbers::pi;
constexpr std::size_t kMostColumns = 100;
constexpr int kMostExpanded = 3;

double Rounded(double value, double step) {
  if (!(std::abs(value / step) < 1e15)) return value;  // no digits left to round
  const double whole = std::round(value / step);
  // Division by the inverse gives the double nearest to the decimal; 0.0 folds minus zero.
  return whole / std::round(1 / step) + 0.0;
}

double Significant(double value, int digits) {
  std::array<char, 40> text;
  const auto end = std::to_chars(text.data(), text.data() + text.size(), value,
                                 std::chars_format::general, digits);
  double rounded = 0;
  std::from_chars(text.data(), end.ptr, rounded);
  return rounded + 0.0;
}

class Writer {
 public:
  // The first place with a number that is not finite, or "".
  const std::string& bad() const { return bad_; }

  Json Result(const SectionResult& r) {
    Json out = Json::object();
    out["format"] = "cutface/result";
    out["version"] = 1;
    out["software"] = r.software;
    out["time"] = r.time;
    out["inspector"] = r.inspector;
    out["units"] = UnitName(r.units);
    out["sample"] = Sample(r.sample);
    out["image"] = Json{{"file", r.image_file},
                        {"sha256", r.image_sha256},
                        {"size_px", Json::array({r.image_width_px, r.image_height_px})},
                        {"kind", r.image_kind}};
    out["calibration"] = Json{{"id", r.calibration_id},
                              {"sha256", r.calibration_sha256},
                              {"certified", r.calibration_certified},
                              {"mean_pitch_um", Value(r.mean_pitch_um, "mean_pitch_um")}};
    if (!r.flat_field_sha256.empty()) out["calibration"]["flat_field_sha256"] = r.flat_field_sha256;
    out["design"] = Drawing(r);
    out["placement"] = Place(r.section.placement);
    out["picture"] = Picture(r.section.picture);
    out["picture"]["smallest_void_um"] =
        Value(r.section.picture.smallest_void_px * r.mean_pitch_um, "picture.smallest_void_um");
    out["features"] = Features(r.section);
    out["measurements"] = Json::array();
    for (const Measurement& m : r.measurements) out["measurements"].push_back(Measured(m));
    if (r.pressure) out["pressure"] = Pressure(*r.pressure);
    out["characteristics"] = Json::array();
    for (const CharacteristicResult& c : r.characteristics) {
      out["characteristics"].push_back(Row(c));
    }
    out["findings"] = Json::array();
    for (const Finding& f : r.findings) out["findings"].push_back(FindingOf(f));
    if (!r.asked.empty()) {
      out["asked"] = Json::array();
      for (const AskedFigure& asked : r.asked) out["asked"].push_back(Asked(asked));
    }
    out["edits"] = Edits(r);
    out["overrules"] = r.overrules;
    out["warnings"] = r.warnings;
    out["verdict"] = VerdictName(r.verdict);
    return out;
  }

 private:
  // A correction is written with its parts.
  Json Edits(const SectionResult& r) {
    Json edits = Json::array();
    for (const std::string& text : r.edits) {
      const auto correction = ParseCorrection(text);
      edits.push_back(correction ? CorrectionOf(*correction) : Json(text));
    }
    return edits;
  }
  Json CorrectionOf(const Correction& c) {
    Json out{{"kind", CorrectionName(c.kind)}, {"of", c.of}};
    if (!c.to.empty()) out["to"] = c.to;
    if (!c.points.empty()) out["points_um"] = Points(c.points, "edits");
    out["who"] = c.who;
    out["when"] = c.when;
    out["old"] = c.before;
    out["new"] = c.after;
    out["why"] = c.why;
    return out;
  }
  double Finite(double value, std::string_view where) {
    if (std::isfinite(value)) return value;
    if (bad_.empty()) bad_ = std::string(where);
    return 0;
  }
  double Value(double value, std::string_view where) {
    return Significant(Finite(value, where), kValueDigits);
  }
  Json Maybe(const std::optional<double>& value, std::string_view where) {
    return value ? Json(Value(*value, where)) : Json(nullptr);
  }
  double Degrees(double rad, std::string_view where) {
    return Significant(Finite(rad, where) * kDegPerRad, kValueDigits);
  }
  Json Point(PointUm at, std::string_view where) {
    return Json::array({Rounded(Finite(at.x, where), kCoordinateStepUm),
                        Rounded(Finite(at.y, where), kCoordinateStepUm)});
  }
  Json Points(const std::vector<PointUm>& points, std::string_view where) {
    Json out = Json::array();
    for (const PointUm point : points) out.push_back(Point(point, where));
    return out;
  }
  static Json Of(const std::vector<std::string>& of) {
    return of.size() == 1 ? Json(of[0]) : Json(of);
  }

  Json Sample(const SampleIdentity& s) {
    Json out = Json::object();
    VisitFields(s, [&](const char* key, const auto& field) {
      if constexpr (std::is_same_v<decltype(field), const std::optional<double>&>)
        out[key] = Maybe(field, std::string("sample.") + key);
      else
        out[key] = field;
    });
    return out;
  }

  static Json Drawing(const SectionResult& r) {
    if (r.part.empty() && r.revision.empty() && r.section_name.empty() && r.design_sha256.empty()) {
      return nullptr;  // surveyed without a drawing
    }
    return Json{{"part", r.part},
                {"revision", r.revision},
                {"section", r.section_name},
                {"sha256", r.design_sha256}};
  }

  Json Place(const Placement& p) {
    Json out = Json::object();
    out["centre_px"] =
        Json::array({Rounded(Finite(p.centre_px.x, "placement.centre_px"), kPixelStep),
                     Rounded(Finite(p.centre_px.y, "placement.centre_px"), kPixelStep)});
    out["rotation_deg"] = Degrees(p.rotation_rad, "placement.rotation_deg");
    out["mirrored"] = p.mirrored;
    out["oblique_deg"] = Degrees(p.oblique_rad, "placement.oblique_deg");
    out["oblique_axis_deg"] = Degrees(p.oblique_axis_rad, "placement.oblique_axis_deg");
    if (p.u_oblique_rad > 0) out["u_oblique_deg"] = Degrees(p.u_oblique_rad, "placement.u_oblique");
    if (p.oblique_most_rad > 0)
      out["oblique_most_deg"] = Degrees(p.oblique_most_rad, "placement.oblique_most_deg");
    out["stretched"] = StretchKindName(p.stretch_kind);
    out["stretch"] = Value(p.stretch, "placement.stretch");
    if (p.oblique_corrected) out["oblique_corrected"] = true;
    out["interchangeable"] = p.interchangeable;
    out["names"] = p.names_proven ? "proven" : "not proven";
    return out;
  }

  Json Picture(const PictureQuality& q) {
    Json out = Json::object();
    out["noise"] = Value(q.noise, "picture.noise");
    out["blur_px"] = Value(q.blur_px, "picture.blur_px");
    out["contrast"] = Value(q.contrast, "picture.contrast");
    out["gamma"] = Value(q.gamma, "picture.gamma");
    out["u_gamma"] = Value(q.u_gamma, "picture.u_gamma");
    out["saturated_share"] = Value(q.saturated_share, "picture.saturated_share");
    out["smallest_void_px"] = Value(q.smallest_void_px, "picture.smallest_void_px");
    out["grade"] = q.grade;
    out["reasons"] = q.reasons;
    return out;
  }

  void PutContour(const TracedContour& contour, const std::string& where, Json& out) {
    Json points = Json::array(), sigmas = Json::array(), states = Json::array();
    for (const ContourVertex& vertex : contour.vertices) {
      points.push_back(Point(vertex.at, where + ".contour_um"));
      sigmas.push_back(Significant(Finite(vertex.sigma_um, where + ".sigma_um"), kSigmaDigits));
      const std::string_view state = VertexStateName(vertex.state);
      if (!states.empty() && states.back()[0] == state) {
        states.back()[1] = states.back()[1].get<int>() + 1;
      } else {
        states.push_back(Json::array({state, 1}));
      }
    }
    Json doubts = Json::array();
    for (const ContourVertex& vertex : contour.vertices)
      doubts.push_back(Significant(Finite(vertex.doubt_um, where + ".doubt_um"), kSigmaDigits));
    const bool doubtful = std::any_of(contour.vertices.begin(), contour.vertices.end(),
                                      [](const ContourVertex& v) { return v.doubt_um > 0; });
    out["contour_um"] = std::move(points);
    out["sigma_um"] = std::move(sigmas);
    if (doubtful) out["doubt_um"] = std::move(doubts);
    out["whole"] = contour.whole;
    out["states"] = std::move(states);
    const auto put = [&](const char* key, double value) {
      out[key] = Value(value, where + "." + key);
    };
    put("u_common_um", contour.u_common_um);
    put("u_arc_um", contour.u_arc_um);
    put("arc_length_um", contour.arc_length_um);
    put("noise_length_um", contour.noise_length_um);
    put("bias_um", contour.bias_um);
    out["edge_model"] = contour.edge_model;
    put("edge_blur_px", contour.edge_blur_px);
    put("contrast", contour.contrast);
    if (!contour.doubt.empty()) out["doubt"] = contour.doubt;
  }

  static bool IsTraced(const TracedContour& contour) { return contour.vertices.size() >= 3; }
  Json ContourOrNull(const TracedContour& contour, const std::string& where) {
    if (!IsTraced(contour)) return nullptr;
    Json out = Json::object();
    PutContour(contour, where, out);
    return out;
  }

  Json Lumen(const LumenTrace& lumen) {
    const std::string where = "features.lumens." + lumen.Key();
    Json out = Json::object();
    out["state"] = LumenStateName(lumen.state);
    if (lumen.names.size() != 1) out["of"] = lumen.names;
    if (lumen.breach) {
      out["breach_um"] = Json::array(
          {Point(lumen.breach->a, where + ".breach_um"), Point(lumen.breach->b, where)});
    }
    if (lumen.mandrel) {
      const std::string at = where + ".mandrel";
      Json& mandrel = out["mandrel"];
      mandrel["centre_um"] = Point(lumen.mandrel->centre, at + ".centre_um");
      mandrel["axes_um"] = Json::array({Value(lumen.mandrel->long_um, at + ".axes_um"),
                                        Value(lumen.mandrel->short_um, at + ".axes_um")});
    }
    if (!IsTraced(lumen.bore)) return out;
    const ContourUm points = lumen.bore.Points();
    out["centroid_um"] = Point(Centroid(std::span<const PointUm>(points)), where + ".centroid_um");
    PutContour(lumen.bore, where, out);
    return out;
  }

  Json VoidOf(const Void& v) {
    const std::string where = fmt::format("features.voids[no {}]", v.no);
    Json out = Json::object();
    out["no"] = v.no;
    out["class"] = VoidClassName(v.kind);
    if (!v.of.empty()) out["of"] = v.of;
    out["centroid_um"] = Point(v.centroid, where + ".centroid_um");
    out["area_um2"] = Value(v.area_um2, where + ".area_um2");
    out["u_area_um2"] = Value(v.u_area_um2, where + ".u_area_um2");
    if (!v.evidence.empty()) out["evidence"] = v.evidence;
    for (const auto& [name, value] : v.numbers)
      out["numbers"][name] = Value(value, "features.voids." + std::to_string(v.no));
    if (IsTraced(v.contour)) PutContour(v.contour, where, out);
    return out;
  }

  Json Wire(const WireTrace& wire) {
    const std::string where = fmt::format("features.wires[{}/{}]", wire.layer, wire.no);
    Json out = Json::object();
    out["layer"] = wire.layer;
    out["no"] = wire.no;
    out["family"] = wire.family;
    out["state"] = WireStateName(wire.state);
    out["centroid_um"] = Point(wire.centroid, where + ".centroid_um");
    out["u_centroid_um"] = Value(wire.u_centroid_um, where + ".u_centroid_um");
    if (wire.long_um > 0) {
      out["axes_um"] = Json::array(
          {Value(wire.long_um, where + ".axes_um"), Value(wire.short_um, where + ".axes_um")});
      out["axis_deg"] = Value(wire.axis_rad * kDegPerRad, where + ".axis_deg");
    }
    if (!wire.exposed_to.empty()) out["exposed_to"] = wire.exposed_to;
    if (wire.off_um != 0) out["off_um"] = Value(wire.off_um, where + ".off_um");
    if (wire.displaced) out["displaced"] = true;
    if (IsTraced(wire.contour)) PutContour(wire.contour, where, out);
    return out;
  }

  Json WireLayer(const WireLayerTrace& layer) {
    const std::string where = "features.wire_layers." + layer.name;
    const auto degrees = [&](const double(&rad)[2], const std::string& key) {
      return Json::array({Value(rad[0] * kDegPerRad, key), Value(rad[1] * kDegPerRad, key)});
    };
    Json out = Json::object();
    out["centre_um"] = Point(layer.centre, where + ".centre_um");
    out["expected"] = layer.expected;
    if (layer.turns > 0) out["turns"] = layer.turns;
    out["phase_deg"] = degrees(layer.phase_rad, where + ".phase_deg");
    out["u_phase_deg"] = degrees(layer.u_phase_rad, where + ".u_phase_deg");
    out["halo_um"] = Value(layer.halo_um, where + ".halo_um");
    out["u_halo_um"] = Value(layer.u_halo_um, where + ".u_halo_um");
    if (layer.long_um > 0) {
      out["axes_um"] = Json::array(
          {Value(layer.long_um, where + ".axes_um"), Value(layer.short_um, where + ".axes_um")});
      out["u_long_um"] = Value(layer.u_long_um, where + ".u_long_um");
    }
    out["counted"] = layer.counted;
    out["families_told"] = layer.families_told;
    if (!layer.doubt.empty()) out["doubt"] = layer.doubt;
    return out;
  }

  Json Fibre(const FibreTrace& fibre) {
    const std::string where = "features.fibres." + fibre.name;
    Json out = Json::object();
    out["name"] = fibre.name;
    out["centre_um"] = Point(fibre.centre, where + ".centre_um");
    out["filaments"] = fibre.filaments;
    out["radius_um"] = Value(fibre.radius_um, where + ".radius_um");
    out["at_um"] = Points(fibre.at, where + ".at_um");
    if (!fibre.doubt.empty()) out["doubt"] = fibre.doubt;
    return out;
  }

  Json Features(const Section& section) {
    Json out = Json::object();
    out["outline"] =
        section.outline ? ContourOrNull(*section.outline, "features.outline") : Json(nullptr);
    out["rings"] = Json::object();
    for (const RingTrace& ring : section.rings) {
      out["rings"][ring.name] = Json::object();
      out["rings"][ring.name]["inner"] = ContourOrNull(ring.inner, "features.rings." + ring.name);
    }
    out["lumens"] = Json::object();
    for (const LumenTrace& lumen : section.lumens) out["lumens"][lumen.Key()] = Lumen(lumen);
    out["liners"] = Json::object();
    for (const LinerTrace& liner : section.liners) {
      out["liners"][liner.lumen] = Json::object();
      out["liners"][liner.lumen]["outer"] =
          ContourOrNull(liner.outer, "features.liners." + liner.lumen);
    }
    out["wire_layers"] = Json::object();
    for (const WireLayerTrace& layer : section.wire_layers)
      out["wire_layers"][layer.name] = WireLayer(layer);
    out["wires"] = Json::array();
    for (const WireTrace& wire : section.wires) out["wires"].push_back(Wire(wire));
    out["fibres"] = Json::array();
    for (const FibreTrace& fibre : section.fibres) out["fibres"].push_back(Fibre(fibre));
    out["voids"] = Json::array();
    for (const Void& v : section.voids) out["voids"].push_back(VoidOf(v));
    return out;
  }

  Json Measured(const Measurement& m) {
    const std::string where =
        fmt::format("measurement {} of {}", m.quantity, fmt::join(m.of, ", "));
    const bool measured = m.state == Measurement::State::kMeasured;
    Json out = Json::object();
    out["of"] = Of(m.of);
    out["quantity"] = m.quantity;
    const auto put = [&](const char* key, double value) {
      out[key] = measured ? Json(Value(value, where)) : Json(nullptr);
    };
    put("value", m.value);
    put("u", m.u);
    put("lo", m.lo);
    put("hi", m.hi);
    out["unit"] = m.unit;
    out["state"] = MeasurementStateName(m.state);
    if (!m.reason.empty()) out["reason"] = m.reason;
    if (!m.at.empty()) out["at_um"] = Points(m.at, where);
    if (measured) out["raw"] = Value(m.raw, where);
    if (measured && m.uncorrected) out["uncorrected"] = Value(*m.uncorrected, where);
    out["grade"] = m.grade;
    if (!m.grade_reason.empty()) out["grade_reason"] = m.grade_reason;
    if (!m.budget.empty()) {
      Json budget = Json::array();
      for (const BudgetLine& line : m.budget) {
        budget.push_back(Json{{"source", line.source}, {"u", Value(line.u, where)}});
      }
      out["budget"] = std::move(budget);
    }
    return out;
  }

  Json Asked(const AskedFigure& asked) {
    Json out = Json::object();
    out["edges"] = Json::array();
    for (const AskedEdge& edge : asked.edges) {
      Json one{{"feature", edge.feature}};
      if (!edge.ends.empty()) {
        one["ends_um"] = Points(edge.ends, "asked");
        one["way"] = edge.longer ? "longer" : "shorter";
      }
      out["edges"].push_back(std::move(one));
    }
    out["figure"] = Measured(asked.figure);
    out["who"] = asked.who;
    out["when"] = asked.when;
    return out;
  }

  Json Pressure(const PressureBlock& b) {
    Json out = Json::object();
    out["lumens_mpa"] = b.lumens_mpa;
    out["wires"] = b.wires_free ? "free" : "bonded";
    if (b.modulus_mpa > 0) {
      out["modulus_mpa"] = Value(b.modulus_mpa, "pressure.modulus_mpa");
      out["poisson"] = Value(b.poisson, "pressure.poisson");
    }
    out["figures"] = Json::array();
    for (const Measurement& m : b.figures) out["figures"].push_back(Measured(m));
    if (!b.reason.empty()) out["reason"] = b.reason;
    if (b.elements == 0) return out;
    out["elements"] = b.elements;
    out["greatest_displacement_um"] = Value(b.greatest_displacement_um, "pressure");
    out["displaced_times"] = Value(b.times, "pressure.displaced_times");
    for (const PressureBlock::Displaced& d : b.displaced)
      out["displaced_um"][d.name] = Points(d.contour, "pressure.displaced_um");
    return out;
  }

  Json Row(const CharacteristicResult& c) {
    const std::string where = fmt::format("characteristic {}", c.no);
    Json out = Json::object();
    out["no"] = c.no;
    if (!c.of.empty()) out["of"] = Of(c.of);
    const auto text = [&out](const char* key, const std::string& value) {
      if (!value.empty()) out[key] = value;
    };
    text("quantity", c.quantity);
    text("finding", c.finding);
    text("text", c.text);
    text("class", c.criticality);
    out["actual"] = Maybe(c.actual, where);
    const auto number = [&](const char* key, const std::optional<double>& value) {
      if (value) out[key] = Value(*value, where);
    };
    number("lo", c.lo);
    number("hi", c.hi);
    number("nominal", c.nominal);
    number("min", c.min);
    number("max", c.max);
    out["unit"] = c.unit;
    out["verdict"] = VerdictName(c.verdict);
    text("reason", c.reason);
    number("p_conform", c.p_conform);
    out["u_scope"] = c.u_scope;
    if (!c.at.empty()) out["at_um"] = Points(c.at, where);
    return out;
  }

  Json FindingOf(const Finding& f) {
    Json out = Json::object();
    out["kind"] = f.kind;
    out["where"] = f.where;
    out["severity"] = SeverityName(f.severity);
    out["evidence"] = Json::object();
    for (const auto& [name, value] : f.evidence) {
      out["evidence"][name] = Value(value, "finding " + f.kind);
    }
    out["text"] = f.text;
    if (!f.at.empty()) out["at_um"] = Points(f.at, "finding " + f.kind);
    for (const Hint& hint : f.hints) {
      out["hints"].push_back(
          Json{{"cause", hint.cause}, {"check", hint.check}, {"basis", hint.basis}});
    }
    if (!f.disposed_by.empty()) out["disposed_by"] = f.disposed_by;
    if (!f.disposition.empty()) out["disposition"] = f.disposition;
    return out;
  }

  std::string bad_;
};

// Text that is not UTF-8 (a file name from elsewhere) must not stop a result from being written.
std::string Flat(const Json& value) {
  return value.dump(-1, ' ', false, Json::error_handler_t::replace);
}

// Does the text of `value` fit into `room` characters? Looks at no more of it than that.
bool Fits(const Json& value, std::size_t& room) {
  std::size_t own = 2;
  if (value.is_string()) own += value.get_ref<const std::string&>().size();
  if (value.is_number()) own = value.dump().size();
  if (own > room) return false;
  room -= own;
  for (const auto& item : value.items()) {
    if (!value.is_structured()) break;
    const std::size_t extra = value.is_object() ? item.key().size() + 4 : 1;
    if (extra > room) return false;
    room -= extra;
    if (!Fits(item.value(), room)) return false;
  }
  return true;
}

// One row, feature or finding per line; contours stay on the line of their feature.
void AppendPretty(const Json& value, int depth, std::string& out) {
  const bool rows = value.is_array() && !value.empty() && value.front().is_structured();
  const bool expandable = (value.is_object() || rows) && !value.empty() && depth < kMostExpanded &&
                          !(depth > 1 && value.contains("contour_um"));
  std::size_t room = kMostColumns;
  if (!expandable || (depth > 0 && Fits(value, room))) {
    out += Flat(value);
    return;
  }
  const bool object = value.is_object();
  const std::string indent(static_cast<std::size_t>(depth + 1), ' ');
  out += object ? '{' : '[';
  bool first = true;
  for (const auto& item : value.items()) {
    out += (first ? "\n" : ",\n") + indent;
    first = false;
    if (object) out += Flat(Json(item.key())) + ": ";
    AppendPretty(item.value(), rows ? kMostExpanded : depth + 1, out);
  }
  out += '\n' + indent.substr(1) + (object ? '}' : ']');
}

}  // namespace

Result<std::string> TryResultToJson(const SectionResult& result) {
  Writer writer;
  const Json json = writer.Result(result);
  if (!writer.bad().empty()) {
    return Fail(
        Code::kInternal,
        fmt::format("result of {}: {} is not a finite number; this is a defect of the program, "
                    "nothing was written",
                    result.image_file, writer.bad()));
  }
  std::string text;
  AppendPretty(json, 0, text);
  text += '\n';
  return text;
}

std::string ResultToJson(const SectionResult& result) {
  auto text = TryResultToJson(result);
  CF_CHECK(text.has_value());
  return std::move(*text);
}

Status WriteResult(const std::string& path, const SectionResult& result) {
  const auto text = TryResultToJson(result);
  if (!text) return tl::unexpected(text.error());
  return WriteWhole(path, *text);
}

}  // namespace cutface
