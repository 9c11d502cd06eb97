#include "picture/svg_canvas.h"

#include <fmt/format.h>
#include <glib.h>

#include <cmath>

#include "cutface/micrograph.h"

namespace cutface {
namespace {

std::string Escaped(const std::string& text) {
  const std::string clean = Printable(text);
  char* escaped = g_markup_escape_text(clean.data(), static_cast<gssize>(clean.size()));
  std::string out(escaped);
  g_free(escaped);
  return out;
}

std::string Hex(Rgb c) {
  const auto byte = [](double v) { return static_cast<int>(std::lround(255 * v)); };
  return fmt::format("#{:02x}{:02x}{:02x}", byte(c.r), byte(c.g), byte(c.b));
}

std::string Opacity(const char* what, double alpha) {
  return alpha < 1 ? fmt::format(" {}=\"{:.3g}\"", what, alpha) : "";
}

// Hundredths of a pixel: a tenth of what a printer shows at this size.
std::string PathData(const std::vector<Place>& points, bool closed) {
  std::string data;
  for (const Place& p : points) {
    data += data.empty() ? "M" : " L";
    fmt::format_to(std::back_inserter(data), "{:.2f},{:.2f}", p.x, p.y);
  }
  return data + (closed ? " Z" : "");
}

}  // namespace

Result<SvgCanvas> SvgCanvas::Make(int width, int height, Rgb ground, const std::string& software,
                                  const std::string& title, int jpeg_quality) {
  auto ruler = PixelCanvas::Make(1, 1, ground);
  if (!ruler) return tl::unexpected(ruler.error());
  SvgCanvas canvas(std::move(*ruler));
  canvas.jpeg_quality_ = jpeg_quality;
  canvas.text_ = fmt::format(
      "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!-- Software: cutface {} -->\n"
      "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" "
      "version=\"1.1\" width=\"{}\" height=\"{}\" viewBox=\"0 0 {} {}\" "
      "font-family=\"DejaVu Sans, sans-serif\">\n<title>{}</title>\n",
      Escaped(software), width, height, width, height, Escaped(title));
  canvas.Fill(Rect{0, 0, static_cast<double>(width), static_cast<double>(height)}, ground);
  return canvas;
}

void SvgCanvas::Photo(const cv::Mat& grey, int x, int y, std::span<const std::byte> jpeg) {
  CF_CHECK(grey.type() == CV_8UC1);
  std::vector<std::byte> made;
  if (jpeg_quality_ == 0 || jpeg.empty()) {
    auto file = jpeg_quality_ > 0 ? EncodeJpeg(grey, jpeg_quality_) : EncodePng(grey);
    if (!file) {
      status_ = tl::unexpected(file.error());
      return;
    }
    made = std::move(*file);
    jpeg = made;
  }
  char* base64 = g_base64_encode(reinterpret_cast<const guchar*>(jpeg.data()), jpeg.size());
  text_ += fmt::format(
      "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" "
      "xlink:href=\"data:image/{};base64,{}\"/>\n",
      x, y, grey.cols, grey.rows, jpeg_quality_ > 0 ? "jpeg" : "png", base64);
  g_free(base64);
}

// Names hold for a whole page of HTML, where several plots stand: the name tells the frame, so that
// two plots that share one share its frame too.
void SvgCanvas::Clip(const Rect& r) {
  ++open_;
  const std::string name = fmt::format("clip-{:.2f}-{:.2f}-{:.2f}-{:.2f}", r.x, r.y, r.w, r.h);
  text_ += fmt::format(
      "<clipPath id=\"{0}\"><rect x=\"{1:.2f}\" y=\"{2:.2f}\" width=\"{3:.2f}\" "
      "height=\"{4:.2f}\"/></clipPath>\n<g clip-path=\"url(#{0})\">\n",
      name, r.x, r.y, r.w, r.h);
}

void SvgCanvas::Unclip() { Close(); }

void SvgCanvas::Open(const std::string& feature, const std::string& kind, Ink ink) {
  ++open_;
  text_ += fmt::format("<g class=\"{}\"", Escaped(kind));
  if (!feature.empty()) text_ += fmt::format(" data-feature=\"{}\"", Escaped(feature));
  text_ += fmt::format(" data-ink=\"{}\">", InkName(ink));
  if (!feature.empty()) text_ += fmt::format("<title>{}</title>", Escaped(feature));
  text_ += "\n";
}

void SvgCanvas::Close() {
  CF_CHECK(open_ > 0);
  --open_;
  text_ += "</g>\n";
}

void SvgCanvas::Line(const std::vector<Place>& points, bool closed, const Pen& pen) {
  if (points.size() < 2) return;
  std::string dashes;
  for (const double d : Dashes(pen.style, pen.width))
    dashes += fmt::format("{}{:.2f}", dashes.empty() ? " stroke-dasharray=\"" : ",", d);
  if (!dashes.empty()) dashes += "\"";
  text_ += fmt::format(
      "<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{:.2f}\" "
      "stroke-linejoin=\"round\" stroke-linecap=\"round\"{}{}/>\n",
      PathData(points, closed), Hex(pen.colour), pen.width, dashes,
      Opacity("stroke-opacity", pen.alpha));
}

void SvgCanvas::Fill(const std::vector<Place>& points, Rgb colour, double alpha) {
  text_ += fmt::format("<path d=\"{}\" fill=\"{}\"{}/>\n", PathData(points, true), Hex(colour),
                       Opacity("fill-opacity", alpha));
}

Rect SvgCanvas::Measure(const std::string& text, const Font& font) const {
  return ruler_.Measure(text, font);
}

// One element a line, held to the measured width: another viewer may lack the font.
void SvgCanvas::Text(const std::string& text, const Font& font, double x, double y, Rgb colour) {
  for (const TextLine& line : ruler_.LinesOf(text, font)) {
    if (line.text.empty()) continue;
    text_ += fmt::format(
        "<text x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\"{} fill=\"{}\" "
        "textLength=\"{:.2f}\" lengthAdjust=\"spacingAndGlyphs\">{}</text>\n",
        x + line.x, y + line.baseline, font.px, font.bold ? " font-weight=\"bold\"" : "",
        Hex(colour), line.width, Escaped(line.text));
  }
}

std::string SvgCanvas::File() const {
  CF_CHECK(open_ == 0);
  return text_ + "</svg>\n";
}

}  // namespace cutface
