// A file back to a result.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <type_traits>

#include "cutface/correction.h"
#include "cutface/record.h"
#include "record/by_hand.h"
#include "record/node.h"
#include "record/words.h"

namespace cutface {
namespace {

constexpr std::uint64_t kMostBytes = std::uint64_t{256} << 20;
constexpr double kRadPerDeg = std::numbers::pi / 180;

// The keys of a contour, which outline, rings, lumens and voids share, after keys of their own.
std::vector<std::string_view> ContourKeys(std::vector<std::string_view> keys = {}) {
  for (const std::string_view key :
       {"contour_um", "sigma_um", "doubt_um", "whole", "states", "u_common_um", "u_arc_um",
        "arc_length_um", "noise_length_um", "bias_um", "edge_model", "edge_blur_px", "contrast",
        "doubt"}) {
    keys.push_back(key);
  }
  return keys;
}

// Run lengths back to one state per vertex.
void ReadStates(const Node& node, TracedContour& contour) {
  if (node.Find("states") == nullptr) return;
  std::size_t at = 0;
  for (const auto& [run, path] : node.List("states")) {
    const bool pair = run->is_array() && run->size() == 2 && (*run)[0].is_string() &&
                      (*run)[1].is_number_unsigned();
    const std::optional<VertexState> state =
        pair ? ParseVertexState((*run)[0].get_ref<const std::string&>()) : std::nullopt;
    const std::uint64_t count = pair ? (*run)[1].get<std::uint64_t>() : 0;
    if (!state || count > contour.vertices.size() - at) {
      return node.Wrong("states", "must be runs [word, count] that add up to the vertices");
    }
    for (std::uint64_t i = 0; i < count; ++i) contour.vertices[at++].state = *state;
  }
  if (at != contour.vertices.size()) {
    node.Wrong("states", "must be runs [word, count] that add up to the vertices");
  }
}

TracedContour ReadContour(const Node& node) {
  TracedContour contour;
  if (!node) return contour;
  node.Need("contour_um");
  const ContourUm points = node.Points("contour_um");
  if (points.size() < 3) {
    node.Wrong("contour_um", fmt::format("must hold at least 3 points, holds {}", points.size()));
    return contour;
  }
  const std::vector<double> sigmas = node.Numbers("sigma_um");
  if (!sigmas.empty() && sigmas.size() != points.size()) {
    node.Wrong("sigma_um", fmt::format("must hold one number per point ({}), holds {}",
                                       points.size(), sigmas.size()));
    return contour;
  }
  const std::vector<double> doubts = node.Numbers("doubt_um");
  if (!doubts.empty() && doubts.size() != points.size()) {
    node.Wrong("doubt_um", fmt::format("must hold one number per point ({}), holds {}",
                                       points.size(), doubts.size()));
    return contour;
  }
  const ContourUm normals = OutwardNormals(std::span<const PointUm>(points));
  contour.vertices.resize(points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    contour.vertices[i].at = points[i];
    contour.vertices[i].normal = normals[i];
    if (!sigmas.empty()) contour.vertices[i].sigma_um = sigmas[i];
    if (!doubts.empty()) contour.vertices[i].doubt_um = doubts[i];
  }
  ReadStates(node, contour);
  contour.whole = node.Flag("whole", true);
  contour.u_common_um = node.Number("u_common_um");
  contour.u_arc_um = node.Number("u_arc_um");
  contour.arc_length_um = node.Number("arc_length_um");
  contour.noise_length_um = node.Number("noise_length_um");
  contour.bias_um = node.Number("bias_um");
  contour.edge_model = node.Text("edge_model");
  contour.edge_blur_px = node.Number("edge_blur_px");
  contour.contrast = node.Number("contrast");
  contour.doubt = node.Text("doubt");
  return contour;
}

PointUm PointOf(const std::optional<std::pair<double, double>>& pair) {
  return pair ? PointUm{pair->first, pair->second} : PointUm{};
}

class Reader {
 public:
  explicit Reader(Reading& reading) : reading_(reading) {}

  SectionResult Read(const Json& json) {
    SectionResult r;
    const Node top(
        &json, "",
        {"format",   "version",      "software",        "time",     "inspector", "units",
         "sample",   "image",        "calibration",     "design",   "placement", "picture",
         "features", "measurements", "characteristics", "findings", "edits",     "overrules",
         "warnings", "verdict",      "pressure",        "asked"},
        reading_);
    if (!Head(top, r)) return r;
    Sample(top, r.sample);
    Sources(top, r);
    Place(top, r.section.placement);
    Picture(top, r.section.picture);
    Features(top, r.section);
    for (const auto& [value, path] : top.List("measurements")) {
      r.measurements.push_back(Measured(*value, path));
    }
    if (top.Find("pressure") != nullptr) r.pressure = Pressed(top);
    for (const auto& [value, path] : top.List("characteristics")) {
      r.characteristics.push_back(Row(*value, path));
    }
    for (const auto& [value, path] : top.List("findings")) {
      r.findings.push_back(FindingOf(*value, path));
    }
    for (const auto& [value, path] : top.List("asked")) {
      const Node node(value, path, {"edges", "figure", "who", "when"}, reading_);
      AskedFigure asked{ReadAskedEdges(node, reading_), {}, node.Text("who"), node.Text("when")};
      if (const Json* figure = node.Need("figure"); figure != nullptr)
        asked.figure = Measured(*figure, node.Path("figure"));
      r.asked.push_back(std::move(asked));
    }
    ReadEdits(top, r);
    r.overrules = top.Texts("overrules");
    r.warnings = top.Texts("warnings");
    r.verdict = top.Word("verdict", &ParseVerdict, Verdict::kNotJudged);
    return r;
  }

 private:
  void ReadEdits(const Node& top, SectionResult& r) {
    for (const auto& [value, path] : top.List("edits")) {
      if (value->is_string()) {
        r.edits.push_back(value->get<std::string>());
        continue;
      }
      r.edits.push_back(CorrectionText(ReadCorrection(*value, path, reading_)));
    }
  }

  bool Head(const Node& top, SectionResult& r) {
    for (const char* key : {"format", "version", "image", "features", "measurements",
                            "characteristics", "findings", "verdict"}) {
      top.Need(key);
    }
    if (reading_.first) return false;
    if (top.Text("format") != "cutface/result") {
      top.Wrong("format", "must be \"cutface/result\"; is this a result file?");
    } else if (top.Number("version") != 1) {
      top.Wrong("version", "must be 1; this file needs a newer program");
    }
    r.software = top.Text("software");
    r.time = top.Text("time");
    r.inspector = top.Text("inspector");
    if (const auto units = ParseLengthUnit(top.Text("units", "mm"))) {
      r.units = *units;
    } else {
      top.Wrong("units", "must be mm, in or um");
    }
    return !reading_.first;
  }

  void Sample(const Node& top, SampleIdentity& s) {
    std::vector<std::string_view> known;
    VisitFields(s, [&](const char* key, const auto&) { known.emplace_back(key); });
    const Node node(top.Find("sample"), "sample", std::move(known), reading_);
    VisitFields(s, [&](const char* key, auto& field) {
      if constexpr (std::is_same_v<decltype(field), std::string&>)
        field = node.Text(key);
      else if constexpr (std::is_same_v<decltype(field), bool&>)
        field = node.Flag(key, false);
      else
        field = node.MaybeNumber(key);
    });
  }

  void Sources(const Node& top, SectionResult& r) {
    const Node image(top.Find("image"), "image", {"file", "sha256", "size_px", "kind"}, reading_);
    r.image_file = image.Text("file");
    r.image_sha256 = image.Text("sha256");
    r.image_kind = image.Text("kind", "single");
    if (const auto size = image.Pair("size_px")) {
      const auto whole = [](double x) { return x >= 0 && x <= 1e6 && x == std::floor(x); };
      if (!whole(size->first) || !whole(size->second)) {
        image.Wrong("size_px", "must be two whole numbers of pixels");
      } else {
        r.image_width_px = static_cast<int>(size->first);
        r.image_height_px = static_cast<int>(size->second);
      }
    }
    const Node calibration(top.Find("calibration"), "calibration",
                           {"id", "sha256", "certified", "mean_pitch_um", "flat_field_sha256"},
                           reading_);
    r.calibration_id = calibration.Text("id");
    r.calibration_sha256 = calibration.Text("sha256");
    r.calibration_certified = calibration.Flag("certified", false);
    r.flat_field_sha256 = calibration.Text("flat_field_sha256");
    r.mean_pitch_um = calibration.Number("mean_pitch_um", 1);
    const Node design(top.Find("design"), "design", {"part", "revision", "section", "sha256"},
                      reading_);
    r.part = design.Text("part");
    r.revision = design.Text("revision");
    r.section_name = design.Text("section");
    r.design_sha256 = design.Text("sha256");
  }

  void Place(const Node& top, Placement& p) {
    const Node node(top.Find("placement"), "placement",
                    {"centre_px", "rotation_deg", "mirrored", "oblique_deg", "oblique_axis_deg",
                     "u_oblique_deg", "oblique_most_deg", "stretched", "stretch",
                     "oblique_corrected", "interchangeable", "names"},
                    reading_);
    if (const auto centre = node.Pair("centre_px")) p.centre_px = {centre->first, centre->second};
    p.rotation_rad = node.Number("rotation_deg") * kRadPerDeg;
    p.mirrored = node.Flag("mirrored", false);
    p.oblique_rad = node.Number("oblique_deg") * kRadPerDeg;
    p.oblique_axis_rad = node.Number("oblique_axis_deg") * kRadPerDeg;
    p.u_oblique_rad = node.Number("u_oblique_deg") * kRadPerDeg;
    p.oblique_most_rad = node.Number("oblique_most_deg") * kRadPerDeg;
    p.stretch = node.Number("stretch", 1);
    p.oblique_corrected = node.Flag("oblique_corrected", false);
    if (const auto kind = ParseStretchKind(node.Text("stretched", "none"))) {
      p.stretch_kind = *kind;
    } else {
      node.Wrong("stretched", "must be none, oblique, squashed or oblique or squashed");
    }
    for (const auto& [group, path] : node.List("interchangeable")) {
      p.interchangeable.emplace_back();
      for (const Json& name : *group) {
        if (group->is_array() && name.is_string()) {
          p.interchangeable.back().push_back(name.get<std::string>());
        } else {
          reading_.Add(Code::kJsonValue, path, "must be a list of names");
        }
      }
    }
    const std::string names = node.Text("names", "proven");
    if (names != "proven" && names != "not proven")
      node.Wrong("names", "must be proven or not proven");
    p.names_proven = names == "proven";
  }

  void Picture(const Node& top, PictureQuality& q) {
    const Node node(top.Find("picture"), "picture",
                    {"noise", "blur_px", "contrast", "gamma", "u_gamma", "saturated_share",
                     "smallest_void_px", "smallest_void_um", "grade", "reasons"},
                    reading_);
    q.noise = node.Number("noise");
    q.blur_px = node.Number("blur_px");
    q.contrast = node.Number("contrast");
    q.gamma = node.Number("gamma", q.gamma);
    q.u_gamma = node.Number("u_gamma");
    q.saturated_share = node.Number("saturated_share");
    q.smallest_void_px = node.Number("smallest_void_px", q.smallest_void_px);
    q.grade = node.Text("grade", q.grade);
    q.reasons = node.Texts("reasons");
  }

  void Lumens(const Node& features, Section& section) {
    const Node map(features.Find("lumens"), features.Path("lumens"), {}, reading_);
    if (!map) return;
    for (const auto& item : map.value()->items()) {
      const Node node(&item.value(), map.Path(item.key()),
                      ContourKeys({"state", "of", "breach_um", "mandrel", "centroid_um"}),
                      reading_);
      LumenTrace lumen;
      lumen.names = node.Has("of") ? node.Texts("of") : std::vector<std::string>{item.key()};
      node.Need("state");
      lumen.state = node.Word("state", &ParseLumenState, LumenState::kNotFound);
      const ContourUm breach = node.Points("breach_um");
      if (breach.size() == 2) {
        lumen.breach = Segment<FrameUm>{breach[0], breach[1]};
      } else if (!breach.empty()) {
        node.Wrong("breach_um", "must hold two points");
      }
      const Node disc(node.Find("mandrel"), node.Path("mandrel"), {"centre_um", "axes_um"},
                      reading_);
      if (disc) {
        const auto axes = disc.Pair("axes_um").value_or(std::pair<double, double>{0, 0});
        lumen.mandrel = LeftMandrel{PointOf(disc.Pair("centre_um")), axes.first, axes.second};
      }
      if (node.Has("contour_um")) lumen.bore = ReadContour(node);
      section.lumens.push_back(std::move(lumen));
    }
  }

  void Voids(const Node& features, Section& section) {
    for (const auto& [value, path] : features.List("voids")) {
      const Node node(value, path,
                      ContourKeys({"no", "class", "of", "centroid_um", "area_um2", "u_area_um2",
                                   "evidence", "numbers"}),
                      reading_);
      Void v;
      v.no = node.Whole("no");
      v.kind = node.Word("class", &ParseVoidClass, VoidClass::kDoubtful);
      if (node.Has("of")) v.of = node.Text("of");
      if (node.Has("contour_um")) v.contour = ReadContour(node);
      v.centroid = PointOf(node.Pair("centroid_um"));
      v.area_um2 = node.Number("area_um2");
      v.u_area_um2 = node.Number("u_area_um2");
      v.evidence = node.Text("evidence");
      if (const Json* numbers = node.Find("numbers"); numbers != nullptr && numbers->is_object()) {
        for (const auto& [name, number] : numbers->items()) {
          if (number.is_number()) v.numbers[name] = number.get<double>();
        }
      }
      section.voids.push_back(std::move(v));
    }
  }

  void Wires(const Node& features, Section& section) {
    for (const auto& [value, path] : features.List("wires")) {
      const Node node(value, path,
                      ContourKeys({"layer", "no", "family", "state", "centroid_um", "u_centroid_um",
                                   "axes_um", "axis_deg", "exposed_to", "off_um", "displaced"}),
                      reading_);
      WireTrace wire;
      wire.layer = node.Text("layer");
      wire.no = node.Whole("no");
      wire.family = node.Whole("family");
      wire.state = node.Word("state", &ParseWireState, WireState::kWire);
      wire.centroid = PointOf(node.Pair("centroid_um"));
      wire.u_centroid_um = node.Number("u_centroid_um");
      if (const auto axes = node.Pair("axes_um")) {
        wire.long_um = axes->first;
        wire.short_um = axes->second;
      }
      wire.axis_rad = node.Number("axis_deg") * kRadPerDeg;
      wire.exposed_to = node.Text("exposed_to");
      wire.off_um = node.Number("off_um");
      wire.displaced = node.Flag("displaced", false);
      if (node.Has("contour_um")) wire.contour = ReadContour(node);
      section.wires.push_back(std::move(wire));
    }
    const Node layers(features.Find("wire_layers"), features.Path("wire_layers"), {}, reading_);
    if (!layers) return;
    for (const auto& item : layers.value()->items()) {
      const Node node(&item.value(), layers.Path(item.key()),
                      {"centre_um", "expected", "turns", "phase_deg", "u_phase_deg", "halo_um",
                       "u_halo_um", "axes_um", "u_long_um", "counted", "families_told", "doubt"},
                      reading_);
      WireLayerTrace layer;
      layer.name = item.key();
      layer.centre = PointOf(node.Pair("centre_um"));
      layer.expected = node.Whole("expected");
      layer.turns = node.Whole("turns");
      const auto degrees = [&](const char* key, double(&rad)[2]) {
        const auto pair = node.Pair(key).value_or(std::pair<double, double>{0, 0});
        rad[0] = pair.first * kRadPerDeg;
        rad[1] = pair.second * kRadPerDeg;
      };
      degrees("phase_deg", layer.phase_rad);
      degrees("u_phase_deg", layer.u_phase_rad);
      layer.halo_um = node.Number("halo_um");
      layer.u_halo_um = node.Number("u_halo_um");
      if (const auto axes = node.Pair("axes_um")) {
        layer.long_um = axes->first;
        layer.short_um = axes->second;
      }
      layer.u_long_um = node.Number("u_long_um");
      layer.counted = node.Flag("counted", true);
      layer.families_told = node.Flag("families_told", true);
      layer.doubt = node.Text("doubt");
      section.wire_layers.push_back(std::move(layer));
    }
  }

  void Fibres(const Node& features, Section& section) {
    for (const auto& [value, path] : features.List("fibres")) {
      const Node node(value, path,
                      {"name", "centre_um", "filaments", "radius_um", "at_um", "doubt"}, reading_);
      FibreTrace fibre;
      fibre.name = node.Text("name");
      fibre.centre = PointOf(node.Pair("centre_um"));
      fibre.filaments = node.Whole("filaments");
      fibre.radius_um = node.Number("radius_um");
      fibre.at = node.Points("at_um");
      fibre.doubt = node.Text("doubt");
      section.fibres.push_back(std::move(fibre));
    }
  }

  void Features(const Node& top, Section& section) {
    const Node node(
        top.Find("features"), "features",
        {"outline", "rings", "lumens", "liners", "wire_layers", "wires", "fibres", "voids"},
        reading_);
    if (node.Find("outline") != nullptr) {
      section.outline =
          ReadContour(Node(node.Find("outline"), node.Path("outline"), ContourKeys(), reading_));
    }
    const Node rings(node.Find("rings"), node.Path("rings"), {}, reading_);
    if (rings) {
      for (const auto& item : rings.value()->items()) {
        const Node ring(&item.value(), rings.Path(item.key()), {"inner"}, reading_);
        ring.Need("inner");
        const Node inner(ring.Find("inner"), ring.Path("inner"), ContourKeys(), reading_);
        section.rings.push_back({item.key(), ReadContour(inner)});
      }
    }
    const Node liners(node.Find("liners"), node.Path("liners"), {}, reading_);
    if (liners) {
      for (const auto& item : liners.value()->items()) {
        const Node liner(&item.value(), liners.Path(item.key()), {"outer"}, reading_);
        liner.Need("outer");
        const Node outer(liner.Find("outer"), liner.Path("outer"), ContourKeys(), reading_);
        section.liners.push_back({item.key(), ReadContour(outer)});
      }
    }
    Lumens(node, section);
    Voids(node, section);
    Wires(node, section);
    Fibres(node, section);
  }

  Measurement Measured(const Json& value, const std::string& path) {
    const Node node(&value, path,
                    {"of", "quantity", "value", "u", "lo", "hi", "unit", "state", "reason", "at_um",
                     "raw", "uncorrected", "grade", "grade_reason", "budget"},
                    reading_);
    for (const char* key : {"of", "quantity", "value", "unit"}) node.Need(key);
    Measurement m;
    m.of = node.Texts("of");
    m.quantity = node.Text("quantity");
    const auto measured = node.MaybeNumber("value");
    m.state =
        node.Word("state", &ParseMeasurementState,
                  measured ? Measurement::State::kMeasured : Measurement::State::kNotMeasured);
    if ((m.state == Measurement::State::kMeasured) != measured.has_value()) {
      node.Wrong("value", "must be a number where state is measured, else null");
    }
    m.reason = node.Text("reason");
    m.value = measured.value_or(0);
    m.u = node.Number("u");
    m.lo = node.Number("lo", m.value);
    m.hi = node.Number("hi", m.value);
    m.raw = node.Number("raw", m.value);
    if (node.Find("uncorrected") != nullptr) m.uncorrected = node.Number("uncorrected");
    m.unit = node.Text("unit");
    m.at = node.Points("at_um");
    m.grade = node.Text("grade", m.grade);
    m.grade_reason = node.Text("grade_reason");
    for (const auto& [line, line_path] : node.List("budget")) {
      const Node entry(line, line_path, {"source", "u"}, reading_);
      m.budget.push_back({entry.Text("source"), entry.Number("u")});
    }
    return m;
  }

  PressureBlock Pressed(const Node& top) {
    const Node node(top.Find("pressure"), "pressure",
                    {"lumens_mpa", "wires", "modulus_mpa", "poisson", "figures", "reason",
                     "elements", "greatest_displacement_um", "displaced_times", "displaced_um"},
                    reading_);
    PressureBlock block;
    const Node lumens(node.Find("lumens_mpa"), node.Path("lumens_mpa"), {}, reading_);
    if (lumens) {
      for (const auto& item : lumens.value()->items())
        block.lumens_mpa[item.key()] = lumens.Number(item.key());
    }
    block.wires_free = node.Text("wires") == "free";
    block.modulus_mpa = node.Number("modulus_mpa");
    block.poisson = node.Number("poisson");
    for (const auto& [value, path] : node.List("figures"))
      block.figures.push_back(Measured(*value, path));
    block.reason = node.Text("reason");
    block.elements = node.Whole("elements");
    block.greatest_displacement_um = node.Number("greatest_displacement_um");
    block.times = node.Number("displaced_times", 1);
    const Node displaced(node.Find("displaced_um"), node.Path("displaced_um"), {}, reading_);
    if (displaced) {
      for (const auto& item : displaced.value()->items())
        block.displaced.push_back({item.key(), displaced.Points(item.key())});
    }
    return block;
  }

  CharacteristicResult Row(const Json& value, const std::string& path) {
    const Node node(
        &value, path,
        {"no", "of", "quantity", "finding", "text", "class", "actual", "lo", "hi", "nominal", "min",
         "max", "unit", "verdict", "reason", "p_conform", "u_scope", "at_um"},
        reading_);
    for (const char* key : {"no", "verdict"}) node.Need(key);
    CharacteristicResult c;
    c.no = node.Text("no");
    c.of = node.Texts("of");
    c.quantity = node.Text("quantity");
    c.finding = node.Text("finding");
    c.text = node.Text("text");
    c.criticality = node.Text("class");
    c.actual = node.MaybeNumber("actual");
    c.lo = node.MaybeNumber("lo");
    c.hi = node.MaybeNumber("hi");
    c.nominal = node.MaybeNumber("nominal");
    c.min = node.MaybeNumber("min");
    c.max = node.MaybeNumber("max");
    c.unit = node.Text("unit");
    c.verdict = node.Word("verdict", &ParseVerdict, Verdict::kNotMeasured);
    c.reason = node.Text("reason");
    c.p_conform = node.MaybeNumber("p_conform");
    c.u_scope = node.Text("u_scope", c.u_scope);
    c.at = node.Points("at_um");
    return c;
  }

  Finding FindingOf(const Json& value, const std::string& path) {
    const Node node(&value, path,
                    {"kind", "where", "severity", "evidence", "text", "at_um", "hints",
                     "disposed_by", "disposition"},
                    reading_);
    for (const char* key : {"kind", "severity"}) node.Need(key);
    Finding f;
    f.kind = node.Text("kind");
    f.where = node.Texts("where");
    f.severity = node.Word("severity", &ParseSeverity, Severity::kMedium);
    const Node evidence(node.Find("evidence"), node.Path("evidence"), {}, reading_);
    if (evidence) {
      for (const auto& item : evidence.value()->items()) {
        f.evidence[item.key()] = evidence.Number(item.key());
      }
    }
    f.text = node.Text("text");
    f.at = node.Points("at_um");
    for (const auto& [hint, hint_path] : node.List("hints")) {
      const Node entry(hint, hint_path, {"cause", "check", "basis"}, reading_);
      f.hints.push_back({entry.Text("cause"), entry.Text("check"), entry.Text("basis")});
    }
    f.disposed_by = node.Text("disposed_by");
    f.disposition = node.Text("disposition");
    return f;
  }

  Reading& reading_;
};

// The library's reason behind `mark`, on one line.
std::string ShortReason(std::string_view what, std::string_view mark) {
  const std::size_t at = what.find(mark);
  if (at != std::string_view::npos) what.remove_prefix(at + mark.size());
  std::string line(what);
  for (char& c : line) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = ' ';
  }
  return line;
}

}  // namespace

Result<SectionResult> ParseResult(std::string_view text, const std::string& name) {
  Json json;
  try {
    json = Json::parse(text.begin(), text.end());
  } catch (const Json::parse_error& error) {
    return Fail(Code::kJsonSyntax, fmt::format("{}: byte {}: not JSON: {}", name, error.byte,
                                               ShortReason(error.what(), " - ")));
  } catch (const Json::exception& error) {  // a number that no double holds
    return Fail(Code::kJsonValue, fmt::format("{}: the number {} is too large", name,
                                              ShortReason(error.what(), "parsing ")));
  }
  Reading reading;
  SectionResult result = Reader(reading).Read(json);
  if (!json.is_object()) reading.Add(Code::kJsonValue, "", "must be an object {...}");
  if (reading.first) {
    return Fail(reading.first->code, fmt::format("{}: {}", name, reading.first->message));
  }
  for (const std::string& warning : reading.warnings) {
    result.warnings.push_back(fmt::format("{}: {}", name, warning));
  }
  return result;
}

Result<SectionResult> ReadResult(const std::string& path) {
  const auto text = ReadTextFile(path, kMostBytes);
  if (!text) return tl::unexpected(text.error());
  return ParseResult(*text, path.substr(path.find_last_of('/') + 1));
}

}  // namespace cutface
