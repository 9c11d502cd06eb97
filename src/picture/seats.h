// Finds seats for labels: no two overlap, none leaves the frame, and marks stay visible where
// possible.
#pragma once

#include <opencv2/core/mat.hpp>
#include <optional>
#include <vector>

#include "picture/canvas.h"

namespace cutface {

class Seats {
 public:
  // `frame`: where labels may stand. Working memory: an eighth of the frame's pixels.
  explicit Seats(const Rect& frame);

  // Marks that labels should not hide; `cost` of hiding one pixel of it (contours 1, ligaments
  // more).
  void AddMark(const std::vector<Place>& points, bool closed, double width, int cost);
  // Ground that no label may touch.
  void Reserve(const Rect& rect);
  // To be called after the last AddMark and before the first search.
  void Seal();

  struct Wish {
    std::vector<Place>
        anchors;  // REQUIRES: at least one; a tie line would start at the best of them
    double w = 0, h = 0;
    bool on_anchor = false;  // centred on the first anchor when that is free
    double gap = 0;          // least distance from the anchor to the label otherwise
    double reach = 0;        // and the greatest
  };
  struct Seat {
    Rect rect;
    Place anchor;  // the anchor that it belongs to
  };
  // The best free rectangle, reserved at once; nullopt when there is none within reach.
  std::optional<Seat> Find(const Wish& wish);

  // Sum of mark costs under a rectangle, per pixel.
  double HiddenShare(const Rect& rect) const;

 private:
  bool Free(const Rect& rect) const;
  // What standing there would cost, in label heights of distance; nullopt when it cannot.
  std::optional<double> Cost(const Rect& rect, const Place& anchor) const;

  Rect frame_;
  cv::Mat marks_;  // CV_8U, reduced
  cv::Mat sums_;   // integral of marks_
  std::vector<Rect> taken_;
  struct Tie {
    Place from, to;
  };
  std::vector<Tie> ties_;
};

// Where a line from `to` meets the rectangle: its nearest point.
Place NearestOn(const Rect& rect, const Place& to);

}  // namespace cutface
