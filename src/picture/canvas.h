// Cairo and Pango behind a few words. Coordinates are pixels of the finished picture, corner of the
// first pixel at (0, 0), y down.
#pragma once

#include <memory>
#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/picture.h"

typedef struct _cairo cairo_t;
typedef struct _cairo_surface cairo_surface_t;

namespace cutface {

struct Place {  // of the finished picture
  double x = 0;
  double y = 0;
};

struct Rect {
  double x = 0, y = 0, w = 0, h = 0;
  bool Overlaps(const Rect& o, double gap = 0) const {
    return x < o.x + o.w + gap && o.x < x + w + gap && y < o.y + o.h + gap && o.y < y + h + gap;
  }
  bool Within(const Rect& o) const {
    return x >= o.x && y >= o.y && x + w <= o.x + o.w && y + h <= o.y + o.h;
  }
};

struct Rgb {
  double r = 0, g = 0, b = 0;
};

struct Font {
  double px = 12;  // height of the em
  bool bold = false;
  double width_px = 0;  // wrap at this width; 0: never
};

class Canvas {
 public:
  static Result<Canvas> Make(int width, int height, Rgb ground);
  ~Canvas();
  Canvas(Canvas&&) noexcept;
  Canvas& operator=(Canvas&&) noexcept;

  // A grey photo (CV_8UC1) of exactly its size, upper left corner at (x, y), both whole.
  void Photo(const cv::Mat& grey, int x, int y);
  // Everything drawn until Unclip stays inside.
  void Clip(const Rect& rect);
  void Unclip();

  struct Pen {
    Rgb colour;
    double width = 1;
    LineStyle style = LineStyle::kSolid;
    double alpha = 1;
  };
  void Line(const std::vector<Place>& points, bool closed, const Pen& pen);
  void Fill(const std::vector<Place>& points, Rgb colour, double alpha = 1);
  void Fill(const Rect& rect, Rgb colour, double alpha = 1);

  // Width and height that Text will take.
  Rect Measure(const std::string& text, const Font& font) const;
  // Upper left corner at (x, y). Bytes that are no UTF-8 and control characters are replaced.
  void Text(const std::string& text, const Font& font, double x, double y, Rgb colour);

  cv::Mat Pixels() const;  // CV_8UC3, RGB order

 private:
  Canvas() = default;
  struct Free {
    void operator()(cairo_t* cairo) const;
    void operator()(cairo_surface_t* surface) const;
  };
  std::unique_ptr<cairo_surface_t, Free> surface_;
  std::unique_ptr<cairo_t, Free> cairo_;
  int width_ = 0, height_ = 0;
};

}  // namespace cutface
