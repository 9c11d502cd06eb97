// The drawing: *.design.json, one part with its section planes (design.md section 3).
//
// Everything is parsed and checked here, also keys that only later rooms use. Lengths become
// micrometres, angles radians; the drawing's own unit is kept for display. The design frame has x
// right and y down like the picture (SVG's frame); positive angles turn +x towards +y.
// Keywords: drawing, nominal, characteristic, tolerance, SVG path, lumens, rings, wires.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/geometry.h"

namespace cutface {

// The words for findings that a row of a drawing may speak of.
std::span<const std::string_view> RowFindings();

// A closed nominal shape. `contour` is the shape flattened to within 0.02 um with at most about two
// degrees of turn per edge; positive signed area, no vertex twice. Straight edges stay one edge.
struct Shape {
  enum class Kind { kCircle, kEllipse, kRectangle, kPath };
  Kind kind = Kind::kCircle;
  PointUm centre;          // circle, ellipse, rectangle
  double diameter_um = 0;  // circle
  double size_x_um = 0;    // ellipse (full axes) and rectangle (edges)
  double size_y_um = 0;
  double angle_rad = 0;  // ellipse, rectangle
  double corner_radius_um = 0;
  std::string path;  // SVG path data as written, in the drawing's unit
  ContourUm contour;
};

struct LumenDesign {
  std::string name;
  Shape shape;  // the open bore inside the liner
  std::optional<double> liner_thickness_um;
  std::string opens_to;  // "outside" or ""
  std::string filled;    // "mandrel" ... or ""
};

struct RingDesign {
  std::string name;
  Shape inner;
};

struct WireLayerDesign {
  std::string name;
  std::optional<int> carriers, ends, count;
  std::optional<double> round_um;
  std::optional<std::pair<double, double>> flat_um;  // thickness, width
  std::vector<double> on_diameters_um;
  std::optional<double> braid_angle_deg;
};

struct FibreDesign {
  std::string name;
  PointUm centre;
  int filaments = 0;
  double filament_diameter_um = 0;
};

struct BondDesign {
  std::string adhesive, sleeve;  // ring names
  double gap_um = 5;
};

enum class CharacteristicClass { kCritical, kMajor, kMinor };

// One numbered row of the drawing. Limits are in the quantity's result unit (um, um2, deg, 1, %).
struct Characteristic {
  std::string no;
  std::vector<std::string> of;  // one name, two for a pair; "outline", "voids", "scope/liner" ...
  std::string quantity;         // word, or "" when finding/text
  std::optional<double> nominal, plus, minus;  // as drawn
  std::optional<double> lower, upper;          // the limits that follow (nominal - minus, min ...)
  CharacteristicClass criticality = CharacteristicClass::kMinor;
  std::string finding;  // "crosstalk" ...: a row on a finding
  int allowed = 0;
  std::string text;                         // free text row
  bool elsewhere = false;                   // measured by other means
  bool is_length = false, is_area = false;  // shown in the drawing's unit (squared)
};

struct DatumDesign {
  std::string centre = "outline";  // or a lumen
  std::string clock;               // lumen whose nominal direction fixes the rotation; "" = pose
};

struct SectionDesign {
  std::string name;
  std::string kind = "shaft";  // shaft, hub, bond, lengthwise
  std::optional<double> station_mm;
  std::string seen_from;  // "proximal", "distal" or ""
  DatumDesign datum;
  Shape outline;
  std::vector<RingDesign> rings;    // from the outline inwards
  std::vector<LumenDesign> lumens;  // in the file's order
  std::vector<WireLayerDesign> wires;
  std::vector<FibreDesign> fibres;
  std::optional<BondDesign> bond;
  std::vector<Characteristic> characteristics;

  const LumenDesign* FindLumen(std::string_view lumen) const;
};

struct DecisionRule {
  enum class Kind { kGuarded, kSimple };
  Kind kind = Kind::kGuarded;
  double conformance = 0.95;
};

struct PreparationU {
  double um = 0;
  std::string study;
};

struct MaterialDesign {
  std::optional<double> modulus_mpa, poisson;
  std::optional<double> strength_mpa;  // stress that the site allows; findings compare with it
};

// Site limits that trigger findings. DEFAULTS are common practice and editable in the design.
struct FindingLimits {
  double flow_ratio_least = 0.80;  // collapsed lumen
  double inscribed_ratio_least = 0.80;
  double area_ratio_least = 0.85;
  double thin_share = 0.60;        // septum or wall below this share of nominal (no limit given)
  double off_centre_share = 0.10;  // lumen pattern off the outline centre, of mean wall
};

struct PinSeries {        // for go_pin
  double step_um = 12.7;  // 0.0005 in, common practice
  double clearance_um = 0;
  std::string grade;    // tolerance class of the pins: XX, X, Y, Z, ZZ, or "" = exact
  bool is_plus = true;  // plus pins are up to the tolerance larger than their size, minus smaller
};
// Tolerance of a pin in um (ASME B89.1.5, from memory; sizes to 0.825 in and to 1.510 in, beyond
// that the larger's). 0 for a class that is not known.
double PinToleranceUm(std::string_view grade, double diameter_um);

struct Design {
  LengthUnit units = LengthUnit::kMillimetre;
  std::string part_number, revision, title;
  DecisionRule decision_rule;
  double edge_cutoff_um = 10;
  std::map<std::string, PreparationU> preparation_u;  // by quantity word
  std::map<std::string, MaterialDesign> materials;
  bool method_locked = false;
  std::string image_kind = "single";
  FindingLimits limits;
  PinSeries pins;
  // `like` is already resolved: each own key replaced the inherited one as a whole, null took it
  // away.
  std::vector<SectionDesign> sections;
  std::string sha256;
  std::string file_name;

  const SectionDesign* FindSection(std::string_view name) const;
};

// Errors: kFileMissing, kJsonSyntax, kJsonUnknownKey (nearest known key named), kJsonMissingKey,
// kJsonValue (where: a path like sections.shaft-mid.lumens.scope), kDesignInvalid (lumen outside
// the outline, lumens overlap, number twice, min above max, unknown name or word ...). The first
// mistake is told. src/data/design.schema.json describes every key.
Result<Design> ReadDesign(const std::string& path);
Result<Design> ParseDesign(std::string_view text, const std::string& name);

// A design file's text (survey drafts one). Shapes are written in `units`, rounded as given, with
// as few digits as read back to the same number; `contour` is not written.
std::string DesignToJson(const Design& design);

// SVG path data (SVG 1.1, section 8.3: M L H V A C Q Z, absolute and lower-case relative) to a
// closed contour; `um_per_unit` scales. One closed contour; a missing Z is added. Whether it
// crosses itself is checked with the section. Errors: kJsonValue with the character position,
// counted from 1.
Result<ContourUm> FlattenSvgPath(std::string_view path, double um_per_unit,
                                 double tolerance_um = 0.02);
// Fills shape.contour from the other fields. Errors: kJsonValue (sizes that are none, beyond 1 m).
Status FlattenShape(Shape& shape, double um_per_unit);

}  // namespace cutface
