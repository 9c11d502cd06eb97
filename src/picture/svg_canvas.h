// The canvas as an SVG file (W3C SVG 1.1).
//
// Written by hand although cairo can write SVG too: cairo turns letters into outlines and knows no
// features, so nothing in its file can be searched, read aloud or picked. Here text is text, and
// every mark stands in a group that names its feature. Cairo and Pango still measure the text.
#pragma once

#include "picture/canvas.h"

namespace cutface {

class SvgCanvas final : public Canvas {
 public:
  // Errors: kInternal (the drawing library fails).
  static Result<SvgCanvas> Make(int width, int height, Rgb ground, const std::string& software,
                                const std::string& title, int jpeg_quality);

  // The photo is embedded as a PNG file, or as a JPEG file of that quality where one is given.
  void Photo(const cv::Mat& grey, int x, int y, std::span<const std::byte> jpeg) override;
  void Clip(const Rect& rect) override;
  void Unclip() override;
  void Open(const std::string& feature, const std::string& kind, Ink ink) override;
  void Close() override;
  using Canvas::Fill;
  void Line(const std::vector<Place>& points, bool closed, const Pen& pen) override;
  void Fill(const std::vector<Place>& points, Rgb colour, double alpha = 1) override;
  Rect Measure(const std::string& text, const Font& font) const override;
  void Text(const std::string& text, const Font& font, double x, double y, Rgb colour) override;

  // The whole file. REQUIRES: every Clip and Open is closed.
  std::string File() const;
  const Status& status() const { return status_; }

 private:
  explicit SvgCanvas(PixelCanvas ruler) : ruler_(std::move(ruler)) {}

  PixelCanvas ruler_;  // only measures
  std::string text_;
  Status status_;
  int open_ = 0, jpeg_quality_ = 0;
};

}  // namespace cutface
