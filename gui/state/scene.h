// What is drawn over the picture, ready for the screen: strokes and labels of the picture room's
// display list at the present view, the selection, the scale bar, and the hand that points at a
// clock position. Drawing code only walks over these lists.
// Keywords: overlay, dash, label, scale bar, hand, hit.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "cutface/picture.h"
#include "cutface/profile.h"
#include "cutface/scale.h"
#include "gui/state/canvas_transform.h"

namespace cutface::window {

// The display list in pixels of the picture.
struct Mark {
  DisplayItem::Kind kind = DisplayItem::Kind::kContour;
  Ink ink = Ink::kNeutral;
  LineStyle style = LineStyle::kSolid;
  std::vector<PointPx> points;
  std::string text, feature;
  double weight = 1, radius_px = 0;
  DisplayItem::Seat seat = DisplayItem::Seat::kOn;
  int rank = 0;
};
std::vector<Mark> MarksOf(const DisplayList& list, const Scale& scale);

// Roles that the theme has a colour for: the picture's inks, and what only the window has.
enum class Paint {
  kOutline,
  kLumen,
  kRing,
  kLiner,
  kWire,
  kVoid,
  kLeast,
  kFinding,
  kNeutral,
  kChosen,  // the chosen feature or place
  kHand,    // the clock position pointed at
  kDrawn,   // a line that is being drawn
  kCount
};
Paint PaintOf(Ink ink);

struct Stroke {
  std::vector<ScreenPoint> points;
  Paint paint = Paint::kNeutral;
  float width = 1;      // relative to the theme's stroke
  bool arrows = false;  // a head at each end
};
struct Tag {
  std::string text;  // first line strong, the others quiet
  ScreenRect plate;
  Paint paint = Paint::kNeutral;
  std::string feature;
};
struct Scene {
  std::vector<Stroke> strokes;
  std::vector<Tag> tags;
  struct Bar {
    ScreenPoint left, right;
    std::string text;
  };
  std::optional<Bar> bar;
};

struct TextSize {
  float w = 0, h = 0;
};
using MeasureText = std::function<TextSize(const std::string&)>;

// What is chosen: features by name ("scope", "outline", "void 3") and places on the face.
struct Chosen {
  std::vector<std::string> features;
  std::vector<PointPx> places;
  std::string label;                            // of the places
  std::vector<std::vector<PointPx>> stretches;  // of edges, open lines
};

struct SceneInput {
  const std::vector<Mark>* marks = nullptr;
  bool show_marks = true, show_names = true;
  Chosen chosen;
  std::vector<PointPx> hand;   // from inner to outer edge, or empty
  std::vector<PointPx> drawn;  // the line in hand
  double px_per_um = 1;
  LengthUnit units = LengthUnit::kMillimetre;
};
Scene BuildScene(const SceneInput& input, const CanvasTransform& transform,
                 const MeasureText& measure, float stroke);

// The line cut into dashes; a solid style gives the parts of it near the view. Exposed for tests.
std::vector<std::vector<ScreenPoint>> Dashed(const std::vector<ScreenPoint>& line, bool closed,
                                             LineStyle style, float width, const ScreenRect& view);

// The feature whose line passes within `reach` screen points of `at`, the nearest one; else the
// smallest closed one around it; "" when there is none.
std::string FeatureAt(const std::vector<Mark>& marks, const CanvasTransform& transform,
                      ScreenPoint at, float reach);

}  // namespace cutface::window
