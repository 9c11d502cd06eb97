// What is known of one cut face: traced contours with names, measurements, findings, verdicts.
// Plain data, no computation; rooms above fill it in, design.md section 3 fixes its file form.
// Keywords: SectionResult, TracedContour, Measurement, Finding, verdict, placement.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "cutface/geometry.h"

namespace cutface {

enum class VertexState { kMeasured, kBridged, kCutOff, kEdited };

// One place on a contour. `sigma_um` is the standard uncertainty of its position along `normal`
// from noise alone (what differs from place to place); doubt that moves the whole contour together
// (edge model, gamma) is TracedContour::u_common_um.
struct ContourVertex {
  PointUm at;
  PointUm normal;  // unit, out of the enclosed area
  double sigma_um = 0;
  VertexState state = VertexState::kMeasured;
  double doubt_um = 0;  // that this stretch has besides u_arc_um, correlated along like it
};

struct TracedContour {
  std::vector<ContourVertex> vertices;  // closed, positive signed area
  double u_common_um = 0;   // standard uncertainty of a shift of all vertices along the normals
  double common_share = 0;  // share of u_common_um's variance that all contours of the picture have
                            // in common, towards the polymer's side: one camera, one polish
  double u_arc_um = 0;      // slowly varying part along the arc (roughness of the edge effects)
  double arc_length_um = 0;    // correlation length of u_arc_um
  double noise_length_um = 0;  // correlation length of sigma_um along the contour
  double bias_um = 0;          // correction already applied (for the budget)
  std::string edge_model;      // the word of the chosen profile model: "step", "rim", "band" ...
  double edge_blur_px = 0;     // fitted blur of the edge
  double contrast = 0;         // tone step / full scale
  bool whole = true;           // false when part is cut off by the frame
  std::string doubt;           // "" or why it is doubtful, in words

  ContourUm Points() const {
    ContourUm points;
    points.reserve(vertices.size());
    for (const ContourVertex& v : vertices) points.push_back(v.at);
    return points;
  }
};

enum class LumenState { kOpen, kFilled, kMerged, kCutOff, kNotFound };
std::string_view LumenStateName(
    LumenState state);  // "open", "filled", "merged", "cut off", "not found"

// A mandrel (core wire) left in a bore, told by tone and shape; its size is rough, for no halo is
// taken off.
struct LeftMandrel {
  PointUm centre;
  double long_um = 0, short_um = 0;  // diameters
};

struct LumenTrace {
  std::vector<std::string> names;  // one; two or more when merged: key "scope+wash"
  LumenState state = LumenState::kOpen;
  TracedContour bore;  // empty when not found
  // When merged: the breach, its two lips, and its width.
  std::optional<Segment<FrameUm>> breach;
  std::optional<LeftMandrel> mandrel;  // the bore was measured around it, if it was measured
  std::string Key() const {
    std::string key;
    for (const std::string& name : names) key += (key.empty() ? "" : "+") + name;
    return key;
  }
};

struct RingTrace {
  std::string name;
  TracedContour inner;  // empty when not found
};

// The liner of a lumen: its outer edge. Its inner edge is the lumen's bore.
struct LinerTrace {
  std::string lumen;
  TracedContour outer;  // empty when not found
};

// What stands at a place where the drawing has a wire, or where a wire was found without one.
enum class WireState { kWire, kPulledOut, kMissing, kExtra };
std::string_view WireStateName(WireState s);  // "wire", "pulled out", "missing", "extra"

struct WireTrace {
  std::string layer;
  int no = 0;      // within the layer: family by family, clockwise as drawn from 12 o'clock
  int family = 0;  // 1 or 2 (the two hands of a braid); 0 where there is only one comb
  WireState state = WireState::kWire;
  PointUm centroid;  // of a missing wire: where the comb expects it
  double u_centroid_um = 0;
  double long_um = 0, short_um = 0;  // axes of the cut wire; 0 when missing
  double axis_rad = 0;               // direction of the long axis in the picture
  TracedContour contour;             // of the metal, halo taken off; empty when missing
  std::string exposed_to;            // "", "outside" or a lumen's name
  double off_um = 0;                 // along the layer from its slot, clockwise as drawn
  bool displaced = false;            // far off its slot, against its own size and the others
};

struct WireLayerTrace {
  std::string name;
  PointUm centre;    // of the layer's own circle or ellipse
  int expected = 0;  // wires that the drawing promises
  int turns = 0;     // lengthwise: places in a row; wires 1 .. turns stand in the first, then the
                     // second. 0: the wires could not be numbered
  double phase_rad[2] = {0, 0};  // of the two combs, in the picture
  double u_phase_rad[2] = {0, 0};
  double halo_um = 0, u_halo_um = 0;  // by which every wire looks larger all around
  // Of a wire of the layer, halo and tilt taken off; 0 when not told.
  double long_um = 0, short_um = 0, u_long_um = 0;
  bool counted = true;        // false: some of its wires may have been overlooked or are none
  bool families_told = true;  // false: which wire is of which hand is not told
  std::string doubt;          // "" or why numbering or families are doubtful
};

// A bundle of axial fibres: filaments cut square.
struct FibreTrace {
  std::string name;
  PointUm centre;
  int filaments = 0;     // seen
  double radius_um = 0;  // of the circle that holds them
  std::vector<PointUm> at;
  std::string doubt;
};

enum class VoidClass {
  kVoid,
  kBondGap,
  kLinerGap,
  kDebris,
  kPulledOutWire,
  kChip,
  kOutsideBubble,
  kSmear,
  kPottingGap,
  kDelamination,
  kDoubtful
};
std::string_view VoidClassName(VoidClass c);

struct Void {
  int no = 0;
  VoidClass kind = VoidClass::kVoid;
  std::string of;  // the edge or layer that it belongs to: "outline", a lumen, a ring; "" none
  TracedContour contour;
  PointUm centroid;
  double area_um2 = 0;
  double u_area_um2 = 0;
  std::string evidence;
  std::map<std::string, double> numbers;  // of the evidence, unit in the name
};

// What stretches the whole face along one direction. Either: too small to tell which.
enum class StretchKind { kNone, kOblique, kSquashed, kEither };
std::string_view StretchKindName(
    StretchKind k);  // "none", "oblique", "squashed", "oblique or squashed"

struct Placement {
  PointPx centre_px;        // of the design origin in the picture
  double rotation_rad = 0;  // picture = centre + R(rotation) * M * design, M flips x when mirrored
  bool mirrored = false;
  double oblique_rad = 0;       // tilt of the cut as far as it can be told
  double oblique_axis_rad = 0;  // direction of the stretch in the picture
  double u_oblique_rad = 0;     // standard uncertainty of oblique_rad; 0 where none is told
  double oblique_most_rad = 0;  // one-sided 95 % upper bound, told or not; 0: nothing can be said
  StretchKind stretch_kind = StretchKind::kNone;
  double stretch = 1;              // of the whole face, long against short
  bool oblique_corrected = false;  // the measurements are corrected for oblique_rad
  std::vector<std::vector<std::string>> interchangeable;  // groups of names that symmetry swaps
  bool names_proven = true;
};

// What the picture itself is like; measured once from all contours.
struct PictureQuality {
  double noise = 0;     // standard deviation / full scale in the body
  double blur_px = 0;   // Gaussian sigma of the sharpest whole contour
  double contrast = 0;  // body against lumens / full scale
  double gamma = 1;
  double u_gamma = 0;
  double saturated_share = 0;
  std::string grade = "clean";  // clean, doubtful, unusable
  std::vector<std::string> reasons;
  double smallest_void_px = 6;  // equal-area diameter that would be seen
};

struct Section {
  Placement placement;
  PictureQuality picture;
  std::optional<TracedContour> outline;
  std::vector<RingTrace> rings;  // from the outline inwards, every ring of the design once
  std::vector<LinerTrace> liners;
  std::vector<WireLayerTrace> wire_layers;
  std::vector<WireTrace> wires;
  std::vector<FibreTrace> fibres;
  std::vector<LumenTrace> lumens;  // every name of the design exactly once, or survey's own names
  std::vector<Void> voids;

  // The lumen that carries `name`, merged ones included; nullptr when the design has no such name.
  const LumenTrace* FindLumen(std::string_view name) const;
};

struct BudgetLine {
  std::string source;  // "scale", "edge model", "noise", "floor" ...
  double u = 0;        // standard uncertainty, in the measurement's unit
};

struct Measurement {
  enum class State { kMeasured, kNotMeasured, kNotApplicable };
  std::vector<std::string> of;
  std::string quantity;
  State state = State::kMeasured;
  std::string reason;  // when not measured / not applicable
  double value = 0, u = 0, lo = 0, hi = 0;
  double raw = 0;                     // before bias correction
  std::optional<double> uncorrected;  // as seen, where value is corrected for an oblique cut
  std::string unit;
  std::vector<PointUm> at;  // place on the face: ends of a distance, centre of a circle
  std::vector<BudgetLine> budget;
  std::string grade = "clean";  // clean, doubtful, unusable
  std::string grade_reason;     // "" when clean
};

// What chosen pressures in lumens would do to this section; for screening, never in place of burst
// and leak tests.
struct PressureBlock {
  std::map<std::string, double> lumens_mpa;  // as asked for; the others and the outside: none
  bool wires_free = false;                   // wires carry nothing; else they are part of the body
  double modulus_mpa = 0, poisson = 0;       // of the body; 0: not told by the drawing
  std::vector<Measurement> figures;          // of the formulas and of the finite elements
  std::string reason;                        // why the section was not solved; "" when it was
  int elements = 0;
  double greatest_displacement_um = 0;
  struct Displaced {
    std::string name;
    ContourUm contour;  // displaced by `times` as much as it really is
  };
  double times = 1;
  std::vector<Displaced> displaced;
};

enum class Verdict { kConforms, kDoesNotConform, kNotProven, kNotMeasured, kElsewhere, kNotJudged };
std::string_view VerdictName(Verdict v);  // "conforms", "does not conform", "not proven", ...

struct CharacteristicResult {
  std::string no;
  std::vector<std::string> of;
  std::string quantity, finding, text, criticality;
  std::optional<double> actual, lo, hi, min, max, nominal;  // in `unit`, the drawing's unit
  std::string unit;
  Verdict verdict = Verdict::kNotMeasured;
  std::string reason;
  std::optional<double> p_conform;
  std::string u_scope = "image only";
  std::vector<PointUm> at;
};

enum class Severity { kHigh, kMedium, kLow };
std::string_view SeverityName(Severity s);

// What usually causes a finding, and what to check; a suggestion, never a diagnosis.
struct Hint {
  std::string cause, check;
  std::string basis;  // "common practice", or what the site's file says
};

struct Finding {
  std::string kind;  // the words of design.md: "crosstalk", "thin septum" ...
  std::vector<std::string> where;
  Severity severity = Severity::kMedium;
  std::map<std::string, double> evidence;  // named numbers, unit in the name
  std::string text;
  std::vector<PointUm> at;
  std::vector<Hint> hints;               // most usual first
  std::string disposed_by, disposition;  // a named person's reason, or ""
};

struct SampleIdentity {
  std::string serial, lot, block, face, prepared_by, taken;
  std::optional<double> station_mm, cut_direction_deg;
  bool dyed = false;
};
// Calls visit(key, field) for every field by the name that files give it, in their order: one list
// for results and runs. Fields are texts, optional numbers and a flag.
template <class Sample, class Visit>
void VisitFields(Sample& sample, Visit&& visit) {
  visit("serial", sample.serial);
  visit("lot", sample.lot);
  visit("block", sample.block);
  visit("station_mm", sample.station_mm);
  visit("face", sample.face);
  visit("prepared_by", sample.prepared_by);
  visit("cut_direction_deg", sample.cut_direction_deg);
  visit("dyed", sample.dyed);
  visit("taken", sample.taken);
}

// An edge that a person points at: the whole of it, or the stretch between two places near it.
struct AskedEdge {
  std::string feature;  // "outline", a lumen, a ring (its inner edge), "scope/liner", "void 3"
  std::vector<PointUm> ends = {};  // none: the whole edge; two: the stretch between them,
  bool longer = false;             // the shorter of the two ways round, or the longer one
};
// A figure asked of the face by hand: kept, and judged by nobody.
struct AskedFigure {
  std::vector<AskedEdge> edges;  // one or two
  Measurement figure;            // words of QuantityOf::kAsked
  std::string who, when;
};

struct SectionResult {
  std::string software, time, inspector;
  SampleIdentity sample;
  std::string image_file, image_sha256, image_kind = "single";
  int image_width_px = 0, image_height_px = 0;
  std::string calibration_id, calibration_sha256;
  bool calibration_certified = false;
  std::string flat_field_sha256;  // of the blank that evened out the light; "" when none did
  std::string part, revision, section_name, design_sha256;
  LengthUnit units = LengthUnit::kMillimetre;
  double mean_pitch_um = 1;
  Section section;
  std::vector<Measurement> measurements;
  std::optional<PressureBlock> pressure;
  std::vector<CharacteristicResult> characteristics;
  std::vector<Finding> findings;
  std::vector<AskedFigure> asked;
  std::vector<std::string> edits, overrules, warnings;
  Verdict verdict = Verdict::kNotJudged;
};

}  // namespace cutface
