#include "picture/canvas.h"

#include <cairo.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

#include <array>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <opencv2/imgproc.hpp>

#include "cutface/png_rows.h"

namespace cutface {
namespace {

struct Unref {
  void operator()(void* object) const { g_object_unref(object); }
};
using Layout = std::unique_ptr<PangoLayout, Unref>;

Layout MakeLayout(cairo_t* cairo, const std::string& text, const Font& font) {
  Layout layout(pango_cairo_create_layout(cairo));
  PangoFontDescription* description = pango_font_description_new();
  pango_font_description_set_family(description, "DejaVu Sans, Sans");
  pango_font_description_set_absolute_size(description, font.px * PANGO_SCALE);
  pango_font_description_set_weight(description,
                                    font.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_layout_set_font_description(layout.get(), description);
  pango_font_description_free(description);
  if (font.width_px > 0) {
    pango_layout_set_width(layout.get(), static_cast<int>(font.width_px * PANGO_SCALE));
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
  }
  const std::string clean = Printable(text);
  pango_layout_set_text(layout.get(), clean.data(), static_cast<int>(clean.size()));
  return layout;
}

void Trace(cairo_t* cairo, const std::vector<Place>& points, bool closed) {
  cairo_new_path(cairo);
  for (const Place& p : points) cairo_line_to(cairo, p.x, p.y);
  if (closed) cairo_close_path(cairo);
}

}  // namespace

std::string Printable(const std::string& text) {
  char* valid = g_utf8_make_valid(text.data(), static_cast<gssize>(text.size()));
  std::string clean(valid);
  g_free(valid);
  for (char& c : clean) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = ' ';
  }
  return clean;
}

std::vector<double> Dashes(LineStyle style, double width) {
  const double w = width;
  switch (style) {
    case LineStyle::kSolid:
      return {};
    case LineStyle::kDashed:
      return {6 * w, 3.5 * w};
    case LineStyle::kDotted:
      return {0.01 * w, 2.6 * w};  // round caps make dots of these
    case LineStyle::kDashDot:
      return {6 * w, 2.8 * w, 0.01 * w, 2.8 * w};
    case LineStyle::kShortDash:
      return {2.2 * w, 2.6 * w};
    case LineStyle::kDashDotDot:
      return {6 * w, 2.8 * w, 0.01 * w, 2.8 * w, 0.01 * w, 2.8 * w};
  }
  return {};
}

void PixelCanvas::Free::operator()(cairo_t* cairo) const { cairo_destroy(cairo); }
void PixelCanvas::Free::operator()(cairo_surface_t* surface) const {
  cairo_surface_destroy(surface);
}

PixelCanvas::~PixelCanvas() = default;
PixelCanvas::PixelCanvas(PixelCanvas&&) noexcept = default;
PixelCanvas& PixelCanvas::operator=(PixelCanvas&&) noexcept = default;

Result<PixelCanvas> PixelCanvas::Make(int width, int height, Rgb ground) {
  PixelCanvas canvas;
  canvas.width_ = width;
  canvas.height_ = height;
  canvas.surface_.reset(cairo_image_surface_create(CAIRO_FORMAT_RGB24, width, height));
  canvas.owned_.reset(cairo_create(canvas.surface_.get()));
  canvas.cairo_ = canvas.owned_.get();
  const cairo_status_t status = cairo_status(canvas.cairo_);
  if (status != CAIRO_STATUS_SUCCESS) {
    return Fail(Code::kInternal, fmt::format("picture of {} x {} px: {}; nothing was drawn", width,
                                             height, cairo_status_to_string(status)));
  }
  canvas.Fill(Rect{0, 0, static_cast<double>(width), static_cast<double>(height)}, ground);
  return canvas;
}

void PixelCanvas::Photo(const cv::Mat& grey, int x, int y, std::span<const std::byte>) {
  CF_CHECK(grey.type() == CV_8UC1 && x >= 0 && y >= 0 && x + grey.cols <= width_ &&
           y + grey.rows <= height_);
  cairo_surface_flush(surface_.get());
  cv::Mat pixels(height_, width_, CV_8UC4, cairo_image_surface_get_data(surface_.get()),
                 static_cast<std::size_t>(cairo_image_surface_get_stride(surface_.get())));
  cv::Mat target = pixels(cv::Rect(x, y, grey.cols, grey.rows));
  cv::cvtColor(grey, target, cv::COLOR_GRAY2BGRA);
  cairo_surface_mark_dirty(surface_.get());
}

void PageCanvas::Photo(const cv::Mat& grey, int x, int y, std::span<const std::byte> jpeg) {
  CF_CHECK(grey.type() == CV_8UC1);
  cv::Mat pixels;
  cv::cvtColor(grey, pixels, cv::COLOR_GRAY2BGRA);
  cairo_surface_t* surface = cairo_image_surface_create_for_data(
      pixels.data, CAIRO_FORMAT_RGB24, pixels.cols, pixels.rows, static_cast<int>(pixels.step));
  std::vector<std::byte> made;
  if (jpeg.empty()) {
    auto file = EncodeJpeg(grey, jpeg_quality_);
    if (!file) {
      status_ = tl::unexpected(file.error());
      return cairo_surface_destroy(surface);
    }
    made = std::move(*file);
    jpeg = made;
  }
  auto* data = static_cast<unsigned char*>(std::malloc(jpeg.size()));
  CF_CHECK(data != nullptr);
  std::memcpy(data, jpeg.data(), jpeg.size());
  cairo_surface_set_mime_data(surface, CAIRO_MIME_TYPE_JPEG, data, jpeg.size(), std::free, data);
  cairo_set_source_surface(cairo_, surface, x, y);
  cairo_paint(cairo_);
  // The pixels go with this function; the page must not look at them later.
  cairo_set_source_rgb(cairo_, 0, 0, 0);
  cairo_surface_finish(surface);
  cairo_surface_destroy(surface);
}

void CairoCanvas::Clip(const Rect& rect) {
  cairo_save(cairo_);
  cairo_rectangle(cairo_, rect.x, rect.y, rect.w, rect.h);
  cairo_clip(cairo_);
}

void CairoCanvas::Unclip() { cairo_restore(cairo_); }

void CairoCanvas::Line(const std::vector<Place>& points, bool closed, const Pen& pen) {
  if (points.size() < 2) return;
  cairo_t* cairo = cairo_;
  Trace(cairo, points, closed);
  cairo_set_source_rgba(cairo, pen.colour.r, pen.colour.g, pen.colour.b, pen.alpha);
  cairo_set_line_width(cairo, pen.width);
  cairo_set_line_join(cairo, CAIRO_LINE_JOIN_ROUND);
  cairo_set_line_cap(cairo, CAIRO_LINE_CAP_ROUND);
  const std::vector<double> dashes = Dashes(pen.style, pen.width);
  cairo_set_dash(cairo, dashes.data(), static_cast<int>(dashes.size()), 0);
  cairo_stroke(cairo);
}

void CairoCanvas::Fill(const std::vector<Place>& points, Rgb colour, double alpha) {
  cairo_t* cairo = cairo_;
  Trace(cairo, points, true);
  cairo_set_source_rgba(cairo, colour.r, colour.g, colour.b, alpha);
  cairo_fill(cairo);
}

void Canvas::Fill(const Rect& rect, Rgb colour, double alpha) {
  Fill({{rect.x, rect.y},
        {rect.x + rect.w, rect.y},
        {rect.x + rect.w, rect.y + rect.h},
        {rect.x, rect.y + rect.h}},
       colour, alpha);
}

Rect CairoCanvas::Measure(const std::string& text, const Font& font) const {
  const Layout layout = MakeLayout(cairo_, text, font);
  int width = 0, height = 0;
  pango_layout_get_pixel_size(layout.get(), &width, &height);
  return {0, 0, static_cast<double>(width), static_cast<double>(height)};
}

void CairoCanvas::Text(const std::string& text, const Font& font, double x, double y, Rgb colour) {
  const Layout layout = MakeLayout(cairo_, text, font);
  cairo_move_to(cairo_, x, y);
  cairo_set_source_rgb(cairo_, colour.r, colour.g, colour.b);
  pango_cairo_show_layout(cairo_, layout.get());
}

std::vector<TextLine> CairoCanvas::LinesOf(const std::string& text, const Font& font) const {
  const Layout layout = MakeLayout(cairo_, text, font);
  const std::string all = pango_layout_get_text(layout.get());
  std::vector<TextLine> lines;
  PangoLayoutIter* at = pango_layout_get_iter(layout.get());
  do {
    const PangoLayoutLine* line = pango_layout_iter_get_line_readonly(at);
    PangoRectangle box;
    pango_layout_iter_get_line_extents(at, nullptr, &box);
    TextLine out;
    out.text = all.substr(static_cast<std::size_t>(line->start_index),
                          static_cast<std::size_t>(line->length));
    out.x = static_cast<double>(box.x) / PANGO_SCALE;
    out.width = static_cast<double>(box.width) / PANGO_SCALE;
    out.baseline = static_cast<double>(pango_layout_iter_get_baseline(at)) / PANGO_SCALE;
    lines.push_back(std::move(out));
  } while (pango_layout_iter_next_line(at));
  pango_layout_iter_free(at);
  return lines;
}

cv::Mat PixelCanvas::Surface() const {
  cairo_surface_flush(surface_.get());
  return {height_, width_, CV_8UC4, cairo_image_surface_get_data(surface_.get()),
          static_cast<std::size_t>(cairo_image_surface_get_stride(surface_.get()))};
}

cv::Mat PixelCanvas::Pixels() const {
  cv::Mat rgb;
  cv::cvtColor(Surface(), rgb, cv::COLOR_BGRA2RGB);
  return rgb;
}

Result<std::vector<std::byte>> PixelCanvas::Png() const {
  const cv::Mat pixels = Surface();
  cv::Mat row;
  return EncodePngRows(pixels.size(), CV_8UC3, [&](int y) {
    cv::cvtColor(pixels.row(y), row, cv::COLOR_BGRA2RGB);
    return row.ptr();
  });
}

}  // namespace cutface
