// A result that uses every field of the format, and the plainest one.
#pragma once

#include <cmath>
#include <numbers>
#include <string>

#include "cutface/correction.h"
#include "cutface/section.h"

namespace cutface {

// A circle of `n` vertices with uneven noise and a bridged stretch.
inline TracedContour Ring(PointUm centre, double radius_um, int n) {
  TracedContour contour;
  for (int i = 0; i < n; ++i) {
    const double angle = 2 * std::numbers::pi * i / n;
    ContourVertex vertex;
    vertex.normal = {std::cos(angle), std::sin(angle)};
    vertex.at = centre + radius_um * vertex.normal;
    vertex.sigma_um = 0.1 + 0.01 * std::sin(3 * angle) / 7;
    if (i >= 5 && i < 9) vertex.state = VertexState::kBridged;
    contour.vertices.push_back(vertex);
  }
  contour.u_common_um = 0.25;
  contour.u_arc_um = 0.125;
  contour.arc_length_um = 200;
  contour.noise_length_um = 5.5;
  contour.bias_um = -0.03;
  contour.edge_model = "rim";
  contour.edge_blur_px = 1.375;
  contour.contrast = 0.4;
  return contour;
}

inline void FillSection(Section& section) {
  section.placement.centre_px = {812.3456, 590.25};
  section.placement.rotation_rad = 0.6;
  section.placement.mirrored = true;
  section.placement.oblique_rad = 0.1;
  section.placement.oblique_axis_rad = -1.2;
  section.placement.interchangeable = {{"wash", "return"}, {"a", "b", "c"}};
  section.placement.names_proven = false;
  section.picture = {0.0125, 1.5, 0.45, 1.8, 0.1, 0.002, "doubtful", {"gamma guessed"}, 6.5};
  section.outline = Ring({2000, 1500}, 1250, 90);
  section.outline->whole = false;
  section.outline->vertices[0].state = VertexState::kCutOff;
  section.outline->vertices[40].state = VertexState::kEdited;
  section.rings.push_back({"jacket", Ring({2000, 1500}, 1040, 60)});
  LumenTrace merged;
  merged.names = {"scope", "wash"};
  merged.state = LumenState::kMerged;
  merged.bore = Ring({2000, 1700}, 300, 48);
  merged.bore.doubt = "one side has no edge";
  merged.breach = Segment<FrameUm>{{1900.5, 1650.25}, {1910.125, 1655}};
  LumenTrace lost;
  lost.names = {"return"};
  lost.state = LumenState::kNotFound;
  LumenTrace cuff;
  cuff.names = {"cuff"};
  cuff.state = LumenState::kFilled;
  cuff.bore = Ring({2500, 1500}, 150, 36);
  section.lumens = {merged, lost, cuff};
  Void hole;
  hole.no = 1;
  hole.kind = VoidClass::kBondGap;
  hole.contour = Ring({1200, 1500}, 20, 12);
  hole.centroid = {1200.0625, 1500};
  hole.area_um2 = 1234.56789;
  hole.u_area_um2 = 60.5;
  hole.evidence = "dark, sharp rim";
  section.voids.push_back(hole);
  WireLayerTrace layer;
  layer.name = "braid";
  layer.centre = {2000.5, 1500.25};
  layer.expected = 16;
  layer.turns = 8;
  layer.phase_rad[0] = 0.25;
  layer.phase_rad[1] = -0.125;
  layer.u_phase_rad[0] = layer.u_phase_rad[1] = 0.01;
  layer.halo_um = 2.5;
  layer.u_halo_um = 0.75;
  layer.doubt = "families doubtful";
  section.wire_layers.push_back(layer);
  WireTrace wire;
  wire.layer = "braid";
  wire.no = 3;
  wire.family = 2;
  wire.state = WireState::kExtra;
  wire.centroid = {3000.5, 1500};
  wire.u_centroid_um = 0.125;
  wire.long_um = 75.5;
  wire.short_um = 50.25;
  wire.axis_rad = 0.5;
  wire.contour = Ring({3000.5, 1500}, 30, 24);
  wire.exposed_to = "outside";
  WireTrace gone;
  gone.layer = "braid";
  gone.no = 4;
  gone.state = WireState::kMissing;
  gone.centroid = {1000.5, 1500};
  section.wires = {wire, gone};
  section.fibres.push_back(
      {"axial-1", {2000, 600.5}, 2, 35.5, {{1990.5, 600.5}, {2010.5, 600.5}}, "crowded"});
}

inline void FillRows(SectionResult& r) {
  Measurement septum;
  septum.of = {"scope", "cuff"};
  septum.quantity = "septum";
  septum.value = 112.4123456;
  septum.u = 0.9;
  septum.lo = 110.5;
  septum.hi = 114.1;
  septum.raw = 111.9;
  septum.unit = "um";
  septum.at = {{2300.5, 1600}, {2400, 1550.25}};
  septum.budget = {{"scale", 0.3}, {"edge model", 0.7}};
  septum.grade = "doubtful";
  Measurement lost;
  lost.of = {"return"};
  lost.quantity = "diameter";
  lost.state = Measurement::State::kNotMeasured;
  lost.reason = "lumen not found";
  lost.unit = "um";
  Measurement other = lost;
  other.quantity = "position";
  other.state = Measurement::State::kNotApplicable;
  other.reason = "the datum is the lumen itself";
  r.measurements = {septum, lost, other};

  CharacteristicResult row;
  row.no = "8";
  row.of = {"scope", "cuff"};
  row.quantity = "septum";
  row.criticality = "critical";
  row.actual = 112.4123456 / 25400;
  row.lo = 110.5 / 25400;
  row.hi = 114.1 / 25400;
  row.min = 0.0035;
  row.nominal = 0.005;
  row.max = 0.006;
  row.unit = "in";
  row.verdict = Verdict::kConforms;
  row.p_conform = 0.9991;
  row.u_scope = "image and preparation";
  row.at = septum.at;
  CharacteristicResult finding_row;
  finding_row.no = "20";
  finding_row.finding = "crosstalk";
  finding_row.criticality = "critical";
  finding_row.verdict = Verdict::kNotMeasured;
  finding_row.reason = "lumen not found";
  finding_row.unit = "1";
  CharacteristicResult text_row;
  text_row.no = "21";
  text_row.text = "length 1100";
  text_row.verdict = Verdict::kElsewhere;
  r.characteristics = {row, finding_row, text_row};

  Finding finding;
  finding.kind = "broken septum";
  finding.where = {"scope", "wash"};
  finding.severity = Severity::kHigh;
  finding.evidence = {{"breach_um", 10.75}, {"share", 0.2}};
  finding.text = "scope and wash are one opening";
  finding.at = {{1905, 1652}};
  finding.disposed_by = "shift lead";
  finding.disposition = "known scrap sample";
  r.findings = {finding};
}

inline SectionResult FullResult() {
  SectionResult r;
  r.software = "0.1.0";
  r.time = "2026-03-02T09:15:00Z";
  r.inspector = "station 2";
  r.sample = {"S-17", "A", "B4", "distal", "bench 1", "2026-03-01", 400.5, 30, true};
  r.image_file = "A-03.png";
  r.image_sha256 = std::string(64, 'a');
  r.image_width_px = 1600;
  r.image_height_px = 1200;
  r.calibration_id = "bench2-5x-2026-03";
  r.calibration_sha256 = std::string(64, 'b');
  r.calibration_certified = true;
  r.part = "LV-7504";
  r.revision = "C";
  r.section_name = "extrusion";
  r.design_sha256 = std::string(64, 'c');
  r.units = LengthUnit::kInch;
  r.mean_pitch_um = 2.40375;
  FillSection(r.section);
  FillRows(r);
  Correction redrawn;
  redrawn.kind = Correction::Kind::kRedraw;
  redrawn.of = "cuff";
  redrawn.points = {{2650, 1500}, {2600, 1550.5}};
  redrawn.who = "station 2";
  redrawn.when = "2026-03-02T09:20:00Z";
  redrawn.why = "dust on the edge";
  redrawn.before = "area 0.0707 mm2";
  redrawn.after = "area 0.0709 mm2";
  r.edits = {"cuff: 3 vertices moved", CorrectionText(redrawn)};
  AskedFigure asked;
  asked.edges = {{"scope", {{2650, 1500}, {2600, 1550.5}}, true}, {"outline"}};
  asked.figure.of = {"scope", "outline"};
  asked.figure.quantity = "distance";
  asked.figure.value = asked.figure.raw = 120.5;
  asked.figure.u = 0.5;
  asked.figure.lo = 119.5;
  asked.figure.hi = 121.5;
  asked.figure.unit = "um";
  asked.figure.at = {{2650, 1500}, {2700, 1500}};
  asked.who = "station 2";
  asked.when = "2026-03-02T09:30:00Z";
  r.asked = {asked};
  r.overrules = {"overdue calibration accepted"};
  r.warnings = {"time of taking unknown"};
  r.verdict = Verdict::kDoesNotConform;
  return r;
}

}  // namespace cutface
