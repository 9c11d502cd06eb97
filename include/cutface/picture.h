// From a SectionResult to marks: a display list first, then cairo. Window and files draw the same
// list.
//
// The list says what is marked and where on the face (micrometres, the result's frame); where a
// label finds room is decided while drawing, because it depends on the size of the picture. Meaning
// is never colour alone: roles differ in line style too, verdicts and findings are words. Keywords:
// annotated picture, overlay, display list, scale bar, caption, PNG.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

typedef struct _cairo cairo_t;

namespace cutface {

enum class Ink {
  kOutline,
  kLumen,
  kRing,
  kLiner,
  kWire,  // wires and fibres
  kVoid,
  kLeast,
  kFinding,
  kNeutral
};  // roles, not colours
std::string_view InkName(
    Ink ink);  // "outline", "lumen", "ring", "liner", "wire", "void", "least" ...
enum class LineStyle { kSolid, kDashed, kDotted, kDashDot, kShortDash, kDashDotDot };

struct DisplayItem {
  enum class Kind {
    kContour,  // closed
    kPath,     // open: a stretch of a contour, a tick
    kSegment,  // two points, an arrow head at each: a ligament
    kText,     // one anchor, or a line to hang on; lines after the first are set smaller
    kDot       // a place to look at: corners around it, `radius_um` or larger to be seen
  };
  enum class Seat { kOn, kBeside };  // text: on the anchor where it fits, or always beside it

  Kind kind = Kind::kContour;
  Ink ink = Ink::kNeutral;
  LineStyle style = LineStyle::kSolid;
  ContourUm points;
  std::string text;
  std::string feature;  // what a click on it means: "scope", "scope|wash" ...
  std::string key;      // what the legend calls its stroke: "lumen", "liner gap" ...; "" not in it
  double weight = 1;    // relative stroke width
  Seat seat = Seat::kOn;
  int rank = 0;          // text: the lower finds its seat first; what finds none is left out
  double radius_um = 0;  // dots: size of the place; text on a lumen: free radius about the anchor
};

struct DisplayList {
  std::vector<DisplayItem> items;  // in drawing order
  // Lines for the panel: identities, rows, findings, cautions. "label\tvalue" where it has a label;
  // an empty line parts blocks, and the line after it that ends in ':' is that block's heading.
  std::vector<std::string> caption;
  Verdict verdict = Verdict::kNotJudged;
};

DisplayList BuildDisplayList(const SectionResult& result);
// How well every edge is known: contours alone, in stretches by the standard uncertainty of their
// place (noise, waviness, common and own doubt together), or not seen, or edited. Width, style and
// colour all tell the class, so that a grey print does too; the caption says how long each class
// is.
DisplayList BuildEdgeMap(const SectionResult& result);

// The section under pressure: contours as they are and (dashed, overdone) as they would be, and the
// stress of every loaded septum and wall. Without a pressure block: contours alone.
DisplayList BuildPressureMap(const SectionResult& result);

// A face made ready for several pictures: its photo at one size and as a JPEG file, and its marks,
// each worked out once. A picture of the same size takes them as they are; a smaller one reduces
// the photo.
struct SharedFace {
  cv::Mat photo;           // 8-bit grey, as large as a picture without caption has it
  bool stretched = false;  // its tones were widened
  std::vector<std::byte> jpeg;
  DisplayList marks;
};

struct PictureOptions {
  int longest_edge_px = 2400;  // of picture and caption together. REQUIRES: >= 400
  bool with_caption = true;
  bool edge_map = false;      // BuildEdgeMap in place of BuildDisplayList
  bool pressure_map = false;  // BuildPressureMap in its place
  bool with_labels = true;    // false: strokes alone, for a picture too small for words
  double label_scale = 1;     // size of the labels, for a picture that is printed small
  int jpeg_quality = 0;       // SVG: the photo as JPEG of this quality (1 to 100); 0: as PNG
  // Of the same micrograph and result, outliving the call; nullptr: worked out for this picture.
  const SharedFace* ready = nullptr;
};
// `longest_edge_px` (>= 400) of the photo, and the quality of its JPEG file (1 to 100). Errors:
// kInternal (the JPEG library fails).
Result<SharedFace> MakeShared(const Micrograph& micrograph, const SectionResult& result,
                              int longest_edge_px, int jpeg_quality);

// The picture with its marks as a PNG file's bytes. A small photo is enlarged and a large one
// reduced to the size at which labels can be read; tones are stretched (and the caption says so)
// when the photo uses less than half of its range. Errors: kInternal (the drawing library fails, no
// memory).
Result<std::vector<std::byte>> RenderPng(const Micrograph& micrograph, const Scale& scale,
                                         const SectionResult& result,
                                         const PictureOptions& options = {});
// The same picture as an SVG file (W3C SVG 1.1): the photo embedded as PNG at the size RenderPng
// would give it, contours as paths in groups that carry the feature's name (data-feature), text as
// text. A comment in the second line says which program wrote it. Errors: kInternal.
Result<std::string> RenderSvg(const Micrograph& micrograph, const Scale& scale,
                              const SectionResult& result, const PictureOptions& options = {});

// The same picture as a JPEG file's bytes, with `quality` 1 to 100. Errors: kInternal.
Result<std::vector<std::byte>> RenderJpeg(const Micrograph& micrograph, const Scale& scale,
                                          const SectionResult& result, int quality,
                                          const PictureOptions& options = {});

// Where a picture stands on a page of the caller's, in the page's units.
struct PageBox {
  double x = 0, y = 0, w = 0, h = 0;
};
// Photo, marks and below them the key of their strokes on a cairo context, as large as `box` holds
// and centred in x; the caption is left to the page. The photo goes in as JPEG where the context
// writes files that can hold one; strokes and text stay vectors. `options.longest_edge_px` is the
// photo's. Returns the box that was used. Errors: kInternal.
Result<PageBox> DrawFace(cairo_t* cairo, const PageBox& box, const Micrograph& micrograph,
                         const Scale& scale, const SectionResult& result,
                         const PictureOptions& options = {});

// A round length (1, 2 or 5 times a power of ten of the unit) of at most `longest_um`, and its
// text: "0.5 mm", "200 um", "0.02 in".
struct RoundLength {
  double um = 0;
  std::string text;
};
RoundLength RoundLengthBelow(double longest_um, LengthUnit unit);

// A value of a drawing's row ("mm", "in2", "deg" ...) with the digits that Format gives results.
std::string FormatRowValue(double value, const std::string& row_unit, bool with_unit = true);
// What a row's value reads as; counts without decimals, "" without a value.
std::string ActualText(const CharacteristicResult& row);
// "0.1105 to 0.1141" of a row, "" without an interval.
std::string IntervalText(const CharacteristicResult& row);
// A measured value; counts without decimals.
std::string FormatValue(const Measurement& measurement, LengthUnit display, bool with_unit = true);
std::string IntervalText(const Measurement& measurement, LengthUnit display);
// The requirement of a row in words: "at least 0.1 mm", "2.45 to 2.55 mm", "0 allowed", "".
std::string RequirementText(const CharacteristicResult& row);
// What a row is about: "septum, scope and wash", "crosstalk", or its own text.
std::string SubjectText(const CharacteristicResult& row);

}  // namespace cutface
