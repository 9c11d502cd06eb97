// What is true of a face: sizes from its polygons, the design and calibration files that go with
// it, and the truth file. Keywords: phantom, truth, quantities, limits broken, design JSON,
// calibration JSON.
#pragma once

#include <string>
#include <vector>

#include "cutface/phantom.h"
#include "phantom/as_built.h"
#include "phantom/shapes.h"

namespace cutface::phantom {

double Round(double value, double step);
// Numbers as they are meant: 3 decimals of a pixel without binary tails.
std::string ContourText(const ContourPx& contour);

struct Pose {
  PointPx centre;
  double rotation_rad = 0;
  bool mirrored = false;
  double oblique_rad = 0, oblique_axis_rad = 0;
  // picture = centre + stretch * R(rotation) * M * design
  Affine Map() const;
};

struct TrueQuantity {
  std::vector<std::string> of;
  std::string word;
  double value_px = 0;  // px2 for areas
  bool breach = false;
};

// One row of the drawing, limits in um (areas um2).
struct Row {
  std::string no;
  std::vector<std::string> of;
  std::string word;
  std::optional<double> nominal, plus, minus, least, greatest;
  std::string criticality;
};

struct FaceFacts {
  std::string set;  // "plain", "hard", "ordered"
  std::uint64_t seed = 0;
  std::string name, family, section = "face";
  std::string design_file, calibration_file;
  double pitch_um = 1, record_pitch_um = 1, record_u_um = 0;
  std::optional<double> record_gamma;
  Pose pose;
  std::vector<Breach> breaches;
};

// Moves the part into the picture: contours rounded as the truth file writes them, winding kept
// positive.
void PlacePart(BuiltPart& part, const Pose& pose);

// Sizes of the part as it lies in the picture. `part` is in the picture's frame.
std::vector<TrueQuantity> QuantitiesOf(const BuiltPart& part);
// Of every ring and liner, from its inner edge; part of QuantitiesOf.
void AddThickness(const BuiltPart& part, std::vector<TrueQuantity>& out);

// Rows that a drawing of this part would have, numbered from 1.
std::vector<Row> DrawRows(const Nominal& nominal, double um_per_px, Random& random);
std::vector<std::string> BrokenRows(const std::vector<Row>& rows, const BuiltPart& part,
                                    const std::vector<TrueQuantity>& quantities, double pitch_um);

// The same rows of a design file.
std::vector<Row> RowsOf(const SectionDesign& section);

std::string DesignText(const Nominal& nominal, const std::vector<Row>& rows,
                       const std::string& number);
std::string CalibrationText(const FaceFacts& facts, int width_px, int height_px);
std::string TruthText(const FaceFacts& facts, const BuiltPart& part, const PhantomScene& scene,
                      const std::vector<TrueQuantity>& quantities,
                      const std::vector<std::string>& broken);

}  // namespace cutface::phantom
