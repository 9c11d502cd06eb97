// Where the picture lies on the screen: the only bridge between picture pixels and screen points.
// Keywords: zoom, pan, turn, fit, pointer.
#pragma once

#include <array>
#include <vector>

#include "cutface/geometry.h"

namespace cutface::window {

struct ScreenPoint {
  float x = 0, y = 0;
};
struct ScreenRect {
  float x = 0, y = 0, w = 0, h = 0;
  bool Holds(ScreenPoint p) const { return p.x >= x && p.y >= y && p.x < x + w && p.y < y + h; }
  bool Overlaps(const ScreenRect& o, float gap = 0) const {
    return x < o.x + o.w + gap && o.x < x + w + gap && y < o.y + o.h + gap && o.y < y + h + gap;
  }
  bool Within(const ScreenRect& o) const {
    return x >= o.x && y >= o.y && x + w <= o.x + o.w && y + h <= o.y + o.h;
  }
};

class CanvasTransform {
 public:
  ScreenPoint ToScreen(PointPx p) const;
  PointPx ToImage(ScreenPoint s) const;

  void SetView(ScreenRect view) { view_ = view; }
  const ScreenRect& view() const { return view_; }
  double zoom() const { return zoom_; }  // screen points a picture pixel
  double turn() const { return turn_; }
  PointPx centre() const { return centre_; }

  // Shows this box whole, with a margin as a share of the view.
  void Fit(const Box<FramePx>& box, double margin = 0.06);
  // What lies under `at` stays under it.
  void ZoomAbout(ScreenPoint at, double factor);
  void PanBy(float dx, float dy);
  void CentreOn(PointPx p, double zoom);
  // Turns the picture on the screen about the middle of the view.
  void TurnTo(double radians) { turn_ = radians; }

  // Corners of the part of the picture that the view shows.
  std::array<PointPx, 4> Shown() const;

  static constexpr double kLeastZoom = 1.0 / 256, kGreatestZoom = 64;

 private:
  ScreenRect view_{0, 0, 100, 100};
  PointPx centre_;
  double zoom_ = 1, turn_ = 0;
};

bool operator==(const ScreenRect& a, const ScreenRect& b);
bool SameView(const CanvasTransform& a, const CanvasTransform& b);

}  // namespace cutface::window
