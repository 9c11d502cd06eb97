// From a SectionResult to marks: a display list first, then cairo. Window and files draw the same list.
// Keywords: annotated picture, overlay, display list, scale bar, PNG, SVG.
#pragma once

#include <string>
#include <vector>

#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

enum class Ink { kOutline, kLumen, kRing, kVoid, kLeast, kFinding, kNeutral };  // roles, not colours
enum class LineStyle { kSolid, kDashed, kDotted, kDashDot };

struct DisplayItem {
  enum class Kind { kContour, kSegment, kText, kDot };
  Kind kind = Kind::kContour;
  Ink ink = Ink::kNeutral;
  LineStyle style = LineStyle::kSolid;
  ContourUm points;        // closed for contours; two for segments; one anchor for text and dots
  std::string text;
  std::string feature;     // what a click on it means: "scope", "scope|wash" ...
  double weight = 1;       // relative stroke width
};

struct DisplayList {
  std::vector<DisplayItem> items;
  std::vector<std::string> caption;  // lines for the panel: identities, verdict, cautions
  Verdict verdict = Verdict::kNotJudged;
};

DisplayList BuildDisplayList(const SectionResult& result);

struct PictureOptions {
  int longest_edge_px = 2400;
  bool with_caption = true;
};
// The picture with its marks as a PNG file's bytes.
Result<std::vector<std::byte>> RenderPng(const Micrograph& micrograph, const Scale& scale,
                                         const SectionResult& result, const PictureOptions& options = {});

}  // namespace cutface
