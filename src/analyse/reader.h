// Looks things up for the findings: measurements by name and word, limits and nominals of the
// drawing.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/design.h"
#include "cutface/section.h"

namespace cutface::analyse {

using Names = std::vector<std::string>;

class Reader {
 public:
  Reader(const Section& face, const Design* drawing, const SectionDesign* drawn_plane,
         std::span<const Measurement> measurements)
      : section(face), design(drawing), plane(drawn_plane), all_(measurements) {}

  const Section& section;
  const Design* design;        // null in a survey
  const SectionDesign* plane;  // null in a survey

  // Only if it was measured; names of a pair in either order.
  const Measurement* Find(const Names& of, std::string_view word) const;
  // The drawing's lower limit of a row on this quantity, in um.
  std::optional<double> LowerLimit(const Names& of, std::string_view word) const;
  // Least distance between two lumens, or a lumen and the outline (other = "outline"), as drawn.
  std::optional<double> NominalSolid(const std::string& lumen, const std::string& other) const;
  // A length in the drawing's unit; micrometres in a survey.
  std::string Length(double um) const;
  std::span<const Measurement> all() const { return all_; }

 private:
  std::span<const Measurement> all_;
};

// Names of pairs that were measured: "septum" of two lumens.
std::vector<Names> MeasuredPairs(const Reader& reader);

// Groups of findings; each appends what it sees.
void FindCollapse(const Reader& reader, std::vector<Finding>& out);
void FindSolids(const Reader& reader, std::vector<Finding>& out);    // septa, walls, crosstalk
void FindPressure(const Reader& reader, std::vector<Finding>& out);  // overloaded ligaments
void FindWires(const Reader& reader, std::vector<Finding>& out);     // of braids and coils
void FindVoids(const Reader& reader, std::vector<Finding>& out);
void FindLayers(const Reader& reader, std::vector<Finding>& out);   // liners, bonds
void FindPattern(const Reader& reader, std::vector<Finding>& out);  // off-centre lumens
void FindPicture(const Reader& reader, std::vector<Finding>& out);  // cut, frame, part, image
// Whether drawing, scale and picture belong together.
void FindMismatch(const Reader& reader, std::vector<Finding>& out);

}  // namespace cutface::analyse
