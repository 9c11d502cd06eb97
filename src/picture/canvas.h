// Cairo and Pango behind a few words. Coordinates are pixels of the finished picture, corner of the
// first pixel at (0, 0), y down.
#pragma once

#include <cstddef>
#include <memory>
#include <opencv2/core/mat.hpp>
#include <span>
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

// A line of laid out text: where its baseline starts, from the text's upper left corner.
struct TextLine {
  std::string text;
  double x = 0, baseline = 0, width = 0;
};

// What the painter draws on: pixels for a PNG file, or elements of an SVG file.
class Canvas {
 public:
  virtual ~Canvas() = default;

  // A grey photo (CV_8UC1) of exactly its size, upper left corner at (x, y), both whole; `jpeg`:
  // the same as a JPEG file's bytes where it was made before, else empty.
  virtual void Photo(const cv::Mat& grey, int x, int y, std::span<const std::byte> jpeg) = 0;
  // Everything drawn until Unclip stays inside.
  virtual void Clip(const Rect& rect) = 0;
  virtual void Unclip() = 0;
  // What is drawn until Close belongs to this feature ("scope", "scope|wash"), is of this kind
  // ("contour", "label" ...) and in this role. Pixels do not tell; an SVG file does.
  virtual void Open(const std::string& /*feature*/, const std::string& /*kind*/, Ink /*ink*/) {}
  virtual void Close() {}

  struct Pen {
    Rgb colour;
    double width = 1;
    LineStyle style = LineStyle::kSolid;
    double alpha = 1;
  };
  virtual void Line(const std::vector<Place>& points, bool closed, const Pen& pen) = 0;
  virtual void Fill(const std::vector<Place>& points, Rgb colour, double alpha = 1) = 0;
  void Fill(const Rect& rect, Rgb colour, double alpha = 1);

  // Width and height that Text will take.
  virtual Rect Measure(const std::string& text, const Font& font) const = 0;
  // Upper left corner at (x, y). Bytes that are no UTF-8 and control characters are replaced.
  virtual void Text(const std::string& text, const Font& font, double x, double y, Rgb colour) = 0;
};

// Lengths of dash and gap of a line style at a pen width; none for a solid line.
std::vector<double> Dashes(LineStyle style, double width);
// Bytes that are no UTF-8 and control characters replaced.
std::string Printable(const std::string& text);

// Lines and text on a cairo context; who owns that is left to the classes below.
class CairoCanvas : public Canvas {
 public:
  void Clip(const Rect& rect) override;
  void Unclip() override;
  using Canvas::Fill;
  void Line(const std::vector<Place>& points, bool closed, const Pen& pen) override;
  void Fill(const std::vector<Place>& points, Rgb colour, double alpha = 1) override;
  Rect Measure(const std::string& text, const Font& font) const override;
  void Text(const std::string& text, const Font& font, double x, double y, Rgb colour) override;
  std::vector<TextLine> LinesOf(const std::string& text, const Font& font) const;

 protected:
  explicit CairoCanvas(cairo_t* cairo) : cairo_(cairo) {}
  cairo_t* cairo_;
};

// A page of somebody else's, already turned to the picture's coordinates. The photo is handed over
// as JPEG besides its pixels, so that a file which can hold one does.
class PageCanvas final : public CairoCanvas {
 public:
  PageCanvas(cairo_t* cairo, int jpeg_quality) : CairoCanvas(cairo), jpeg_quality_(jpeg_quality) {}
  void Photo(const cv::Mat& grey, int x, int y, std::span<const std::byte> jpeg) override;
  const Status& status() const { return status_; }

 private:
  int jpeg_quality_;
  Status status_;
};

// A JPEG file's bytes of grey (CV_8UC1) or RGB (CV_8UC3) pixels. Errors: kInternal.
Result<std::vector<std::byte>> EncodeJpeg(const cv::Mat& image, int quality);

class PixelCanvas final : public CairoCanvas {
 public:
  // Errors: kInternal (the drawing library fails, no memory).
  static Result<PixelCanvas> Make(int width, int height, Rgb ground);
  ~PixelCanvas() override;
  PixelCanvas(PixelCanvas&&) noexcept;
  PixelCanvas& operator=(PixelCanvas&&) noexcept;

  void Photo(const cv::Mat& grey, int x, int y, std::span<const std::byte> jpeg) override;
  cv::Mat Pixels() const;                      // CV_8UC3, RGB order
  Result<std::vector<std::byte>> Png() const;  // the same as a file's bytes, without a copy of all

 private:
  PixelCanvas() : CairoCanvas(nullptr) {}
  cv::Mat Surface() const;  // CV_8UC4, the surface itself
  struct Free {
    void operator()(cairo_t* cairo) const;
    void operator()(cairo_surface_t* surface) const;
  };
  std::unique_ptr<cairo_surface_t, Free> surface_;
  std::unique_ptr<cairo_t, Free> owned_;
  int width_ = 0, height_ = 0;
};

}  // namespace cutface
