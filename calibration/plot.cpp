// Two plots, one question each, the answer as a sentence above. One drawing goes to PNG and SVG.
#include <cairo-svg.h>
#include <cairo.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <memory>

#include "cutface/calibration_keeping.h"

namespace cutface {
namespace {

constexpr int kWidth = 960, kHeight = 540;
constexpr double kLeft = 90, kRight = 930, kTop = 96, kBottom = 470;

struct Tint {
  double r, g, b;
};
// Ink on paper; good and bad differ in shape too.
constexpr Tint kPaper{0.985, 0.98, 0.965}, kInk{0.10, 0.11, 0.13}, kQuiet{0.55, 0.56, 0.58};
constexpr Tint kGood{0.00, 0.35, 0.55}, kBad{0.80, 0.33, 0.00}, kBand{0.90, 0.90, 0.86};

class Sheet {
 public:
  explicit Sheet(cairo_t* cairo) : cairo_(cairo) {
    Set(kPaper);
    cairo_paint(cairo_);
    cairo_select_font_face(cairo_, "sans", CAIRO_FONT_SLANT_NORMAL, CAIRO_FONT_WEIGHT_NORMAL);
  }
  void Set(Tint c) { cairo_set_source_rgb(cairo_, c.r, c.g, c.b); }
  // `seat`: 0 left, 0.5 middle, 1 right of x.
  void Text(const std::string& text, double x, double y, double size, Tint c, double seat = 0) {
    cairo_set_font_size(cairo_, size);
    cairo_text_extents_t box;
    cairo_text_extents(cairo_, text.c_str(), &box);
    Set(c);
    cairo_move_to(cairo_, x - seat * box.x_advance, y);
    cairo_show_text(cairo_, text.c_str());
  }
  // Made smaller until it fits between the margins.
  void Heading(const std::string& text) {
    double size = 21;
    cairo_text_extents_t box;
    do {
      cairo_set_font_size(cairo_, size);
      cairo_text_extents(cairo_, text.c_str(), &box);
    } while (box.x_advance > kWidth - 60 && (size -= 0.5) > 9);
    Text(text, 30, 42, size, kInk);
  }
  void Line(double x0, double y0, double x1, double y1, double width, Tint c, bool dashed = false) {
    const double dashes[] = {6, 5};
    cairo_set_dash(cairo_, dashes, dashed ? 2 : 0, 0);
    cairo_set_line_width(cairo_, width);
    Set(c);
    cairo_move_to(cairo_, x0, y0);
    cairo_line_to(cairo_, x1, y1);
    cairo_stroke(cairo_);
    cairo_set_dash(cairo_, dashes, 0, 0);
  }
  void Rect(double x, double y, double w, double h, Tint c) {
    Set(c);
    cairo_rectangle(cairo_, x, y, w, h);
    cairo_fill(cairo_);
  }
  void Dot(double x, double y, double radius, Tint c) {
    Set(c);
    cairo_arc(cairo_, x, y, radius, 0, 2 * 3.14159265358979);
    cairo_fill(cairo_);
  }
  void Cross(double x, double y, double half, Tint c) {
    Line(x - half, y - half, x + half, y + half, 2.5, c);
    Line(x - half, y + half, x + half, y - half, 2.5, c);
  }

 private:
  cairo_t* cairo_;
};

// A linear axis and its round marks.
struct Axis {
  double low = 0, high = 1, from = 0, to = 1;
  double At(double value) const { return from + (value - low) / (high - low) * (to - from); }
  std::vector<double> Marks() const {
    const double raw = (high - low) / 6, ten = std::pow(10, std::floor(std::log10(raw)));
    const double step = raw / ten < 1.5   ? ten
                        : raw / ten < 3.5 ? 2 * ten
                        : raw / ten < 7.5 ? 5 * ten
                                          : 10 * ten;
    std::vector<double> marks;
    for (double v = std::ceil(low / step); v * step <= high + 1e-9 * step; ++v)
      marks.push_back(v * step == 0 ? 0.0 : v * step);
    return marks;
  }
};

void DrawY(Sheet& sheet, const Axis& y, const std::string& name) {
  sheet.Text(name, 30, 78, 14, kQuiet);
  for (const double v : y.Marks()) {
    sheet.Line(kLeft, y.At(v), kRight, y.At(v), v == 0 ? 1.4 : 0.5, v == 0 ? kInk : kQuiet);
    sheet.Text(fmt::format("{:.4g}", v), kLeft - 8, y.At(v) + 5, 13, kInk, 1);
  }
}

struct FreeCairo {
  void operator()(cairo_t* c) const { cairo_destroy(c); }
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
};
using Surface = std::unique_ptr<cairo_surface_t, FreeCairo>;
using Context = std::unique_ptr<cairo_t, FreeCairo>;

cairo_status_t Append(void* into, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(into)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

Result<Plot> Drawn(const std::function<void(Sheet&)>& draw) {
  Plot plot;
  Surface image(cairo_image_surface_create(CAIRO_FORMAT_RGB24, kWidth, kHeight));
  {
    Context context(cairo_create(image.get()));
    Sheet sheet(context.get());
    draw(sheet);
    if (cairo_status(context.get()) != CAIRO_STATUS_SUCCESS)
      return Fail(Code::kInternal, "the plot could not be drawn");
  }
  cairo_surface_flush(image.get());
  cv::Mat rgb(kHeight, kWidth, CV_8UC3);
  const int stride = cairo_image_surface_get_stride(image.get());
  const unsigned char* data = cairo_image_surface_get_data(image.get());
  for (int y = 0; y < kHeight; ++y) {
    auto* to = rgb.ptr<std::uint8_t>(y);
    for (int x = 0; x < kWidth; ++x) {
      std::uint32_t pixel = 0;  // native order, x RGB
      std::copy_n(data + y * stride + 4 * x, 4, reinterpret_cast<unsigned char*>(&pixel));
      to[3 * x] = static_cast<std::uint8_t>(pixel >> 16);
      to[3 * x + 1] = static_cast<std::uint8_t>(pixel >> 8);
      to[3 * x + 2] = static_cast<std::uint8_t>(pixel);
    }
  }
  auto png = EncodePng(rgb);
  if (!png) return tl::unexpected(png.error());
  plot.png = std::move(*png);

  Surface svg(cairo_svg_surface_create_for_stream(Append, &plot.svg, kWidth, kHeight));
  {
    Context context(cairo_create(svg.get()));
    Sheet sheet(context.get());
    draw(sheet);
  }
  cairo_surface_finish(svg.get());
  if (cairo_surface_status(svg.get()) != CAIRO_STATUS_SUCCESS || plot.svg.empty())
    return Fail(Code::kInternal, "the plot could not be drawn as SVG");
  return plot;
}

// Least-squares cubic of residual against place explains how much of the variance; F at 4 and n - 4
// degrees of freedom is above 5 for scatter alone in fewer than one of a thousand (n > 20).
constexpr double kFSure = 5.0;

struct Residual {
  double place = 0, um = 0;
};

bool HasTrend(const std::vector<Residual>& residuals) {
  // Orthogonal polynomials by Gram-Schmidt over the places: exact enough for three terms.
  const std::size_t n = residuals.size();
  if (n < 12) return false;
  double least = residuals.front().place, greatest = least, mean = 0;
  for (const Residual& r : residuals) {
    least = std::min(least, r.place);
    greatest = std::max(greatest, r.place);
    mean += r.um / static_cast<double>(n);
  }
  if (!(greatest > least)) return false;
  std::vector<std::vector<double>> basis;
  double explained = 0, total = 0;
  for (const Residual& r : residuals) total += (r.um - mean) * (r.um - mean);
  for (int power = 0; power <= 3; ++power) {
    std::vector<double> column;
    for (const Residual& r : residuals)
      column.push_back(std::pow(2 * (r.place - least) / (greatest - least) - 1, power));
    for (const auto& other : basis) {
      double dot = 0;
      for (std::size_t k = 0; k < n; ++k) dot += column[k] * other[k];
      for (std::size_t k = 0; k < n; ++k) column[k] -= dot * other[k];
    }
    double norm = 0;
    for (double c : column) norm += c * c;
    if (!(norm > 1e-12)) continue;
    double along = 0;
    for (std::size_t k = 0; k < n; ++k) {
      column[k] /= std::sqrt(norm);
      along += column[k] * (residuals[k].um - mean);
    }
    basis.push_back(column);
    if (power > 0) explained += along * along;
  }
  const double left = total - explained;
  return left > 0 && (explained / 3) / (left / static_cast<double>(n - 4)) > kFSure;
}

}  // namespace

Result<Plot> PlotResiduals(std::span<const TargetFit> fits, double pitch_um) {
  std::vector<std::vector<Residual>> sets;
  double square = 0, most = 0, far = 0;
  std::size_t count = 0;
  bool trend = false;
  for (const TargetFit& fit : fits) {
    std::vector<Residual> residuals;
    const PointPx middle{0.5 * (fit.width_px - 1), 0.5 * (fit.height_px - 1)};
    const double q = std::hypot(fit.qx_per_px, fit.qy_per_px);
    for (const TargetMark& mark : fit.marks) {
      const PointPx off = mark.at - middle;
      // Along the scale; of a grid the distance from the middle.
      const double place = q > 0 ? (off.x * fit.qx_per_px + off.y * fit.qy_per_px) / q : Norm(off);
      residuals.push_back({place, mark.residual_px * pitch_um});
      square += residuals.back().um * residuals.back().um;
      most = std::max(most, std::abs(residuals.back().um));
      far = std::max(far, std::abs(place));
      ++count;
    }
    trend = trend || HasTrend(residuals);
    sets.push_back(std::move(residuals));
  }
  if (count == 0) return Fail(Code::kUsage, "no marks to plot; the target shows none");
  const double rms = std::sqrt(square / static_cast<double>(count));
  const std::string answer =
      trend ? fmt::format("The marks do not only scatter: a bend is left over (rms {:.3g} um)", rms)
            : fmt::format("The {} marks lie where they belong, with a scatter of {:.3g} um", count,
                          rms);
  return Drawn([&](Sheet& sheet) {
    const double high = std::max(1.15 * most, 1e-3);
    const Axis y{-high, high, kBottom, kTop}, x{-1.03 * far - 1, 1.03 * far + 1, kLeft, kRight};
    sheet.Heading(answer);
    sheet.Rect(kLeft, y.At(rms), kRight - kLeft, y.At(-rms) - y.At(rms), kBand);
    DrawY(sheet, y, "off its place, um; shaded: one standard deviation");
    for (const double v : x.Marks())
      sheet.Text(fmt::format("{:.5g}", v), x.At(v), 492, 13, kInk, 0.5);
    sheet.Text("place from the middle of the picture, px", kRight, 518, 14, kQuiet, 1);
    for (std::size_t s = 0; s < sets.size(); ++s) {
      for (const Residual& r : sets[s]) {
        if (s % 2 == 0)
          sheet.Dot(x.At(r.place), y.At(r.um), count > 400 ? 1.6 : 3, kGood);
        else
          sheet.Cross(x.At(r.place), y.At(r.um), count > 400 ? 1.6 : 3, kInk);
      }
    }
  });
}

Result<Plot> PlotDrift(std::span<const BenchCheck> log, const std::string& calibration_id) {
  struct Row {
    double day = 0, error = 0, doubt = 0, limit = 0;
    bool passed = false;
    std::string taken;
  };
  std::vector<Row> rows;
  for (const BenchCheck& check : log) {
    const auto at = ParseClockTime(check.taken);
    if (check.calibration_id != calibration_id || !at) continue;
    // In per mille of the standard, so that different standards share one axis.
    const double unit = 1000 / check.certified_um;
    const double doubt = 2 * std::hypot(check.measured_u_um, check.certified_u_um);
    rows.push_back({at->seconds / 86400, check.ErrorUm() * unit, doubt * unit,
                    check.limit_um.value_or(doubt) * unit, check.passed, check.taken});
  }
  if (rows.empty()) return Fail(Code::kUsage, "no check of this record to plot; run cutface check");
  std::stable_sort(rows.begin(), rows.end(),
                   [](const Row& a, const Row& b) { return a.day < b.day; });
  const auto failed =
      std::count_if(rows.begin(), rows.end(), [](const Row& r) { return !r.passed; });
  const Row& last = rows.back();
  const std::string answer =
      fmt::format("{} {}: off by {:+.2f} per mille on {}; {} of {} checks passed", calibration_id,
                  last.passed ? "holds" : "does not hold", last.error, last.taken.substr(0, 10),
                  rows.size() - static_cast<std::size_t>(failed), rows.size());
  return Drawn([&](Sheet& sheet) {
    double high = 0;
    for (const Row& r : rows)
      high = std::max({high, std::abs(r.error) + r.doubt, std::min(r.limit, 1e4)});
    high = std::max(1.1 * high, 1e-3);
    const double span = std::max(rows.back().day - rows.front().day, 1.0 / 24);
    const Axis y{-high, high, kBottom, kTop};
    const Axis x{rows.front().day - 0.04 * span, rows.back().day + 0.04 * span, kLeft, kRight};
    sheet.Heading(answer);
    DrawY(sheet, y, "error, per mille of the standard; bars: 95 %; dashes: what is allowed");
    for (std::size_t k = 0; k < rows.size(); ++k) {
      const Row& r = rows[k];
      const double at = x.At(r.day);
      for (const double side : {-1.0, 1.0})
        sheet.Line(at - 9, y.At(side * r.limit), at + 9, y.At(side * r.limit), 1.2, kQuiet, true);
      const Tint tint = r.passed ? kGood : kBad;
      sheet.Line(at, y.At(r.error - r.doubt), at, y.At(r.error + r.doubt), 1.6, tint);
      if (r.passed)
        sheet.Dot(at, y.At(r.error), 4.5, tint);
      else
        sheet.Cross(at, y.At(r.error), 6, tint);
    }
    sheet.Text(rows.front().taken.substr(0, 10), kLeft, 492, 13, kInk);
    if (rows.size() > 1) sheet.Text(last.taken.substr(0, 10), kRight, 492, 13, kInk, 1);
    sheet.Text("dot: passed   cross: failed", kRight, 518, 14, kQuiet, 1);
  });
}

}  // namespace cutface
