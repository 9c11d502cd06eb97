#include "gui/state/canvas_transform.h"

#include <algorithm>
#include <cmath>

namespace cutface::window {

ScreenPoint CanvasTransform::ToScreen(PointPx p) const {
  const PointPx d = Rotated(p - centre_, turn_);
  return {static_cast<float>(view_.x + 0.5 * view_.w + zoom_ * d.x),
          static_cast<float>(view_.y + 0.5 * view_.h + zoom_ * d.y)};
}

PointPx CanvasTransform::ToImage(ScreenPoint s) const {
  const PointPx d{(s.x - view_.x - 0.5 * view_.w) / zoom_, (s.y - view_.y - 0.5 * view_.h) / zoom_};
  return centre_ + Rotated(d, -turn_);
}

void CanvasTransform::Fit(const Box<FramePx>& box, double margin) {
  const PointPx size = box.greatest - box.least;
  const double c = std::abs(std::cos(turn_)), s = std::abs(std::sin(turn_));
  const double w = std::max(1.0, c * size.x + s * size.y);
  const double h = std::max(1.0, s * size.x + c * size.y);
  const double room = 1 - 2 * margin;
  zoom_ = std::clamp(std::min(room * view_.w / w, room * view_.h / h), kLeastZoom, kGreatestZoom);
  centre_ = box.least + 0.5 * size;
}

void CanvasTransform::ZoomAbout(ScreenPoint at, double factor) {
  const PointPx under = ToImage(at);
  zoom_ = std::clamp(zoom_ * factor, kLeastZoom, kGreatestZoom);
  const PointPx now = ToImage(at);
  centre_ = centre_ + (under - now);
}

void CanvasTransform::PanBy(float dx, float dy) {
  centre_ = centre_ - Rotated(PointPx{dx / zoom_, dy / zoom_}, -turn_);
}

void CanvasTransform::CentreOn(PointPx p, double zoom) {
  centre_ = p;
  zoom_ = std::clamp(zoom, kLeastZoom, kGreatestZoom);
}

std::array<PointPx, 4> CanvasTransform::Shown() const {
  const float right = view_.x + view_.w, bottom = view_.y + view_.h;
  return {ToImage({view_.x, view_.y}), ToImage({right, view_.y}), ToImage({right, bottom}),
          ToImage({view_.x, bottom})};
}

bool operator==(const ScreenRect& a, const ScreenRect& b) {
  return a.x == b.x && a.y == b.y && a.w == b.w && a.h == b.h;
}

bool SameView(const CanvasTransform& a, const CanvasTransform& b) {
  return a.view() == b.view() && a.zoom() == b.zoom() && a.turn() == b.turn() &&
         a.centre() == b.centre();
}

}  // namespace cutface::window
