// The finished picture: photo, marks, labels in free seats, scale bar, panel.
#include <cairo.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/picture.h"
#include "picture/canvas.h"
#include "picture/panel.h"
#include "picture/seats.h"
#include "picture/svg_canvas.h"
#include "picture/theme.h"

namespace cutface {
namespace {

using Kind = DisplayItem::Kind;

// Below this the labels would hide the part; smaller photos are enlarged to it.
constexpr int kLeastPhotoEdge = 1200;
constexpr double kPanelBeside = 0.36;  // of the photo's width
constexpr double kPanelBelow = 0.42;   // of the photo's height
constexpr double kWideAspect = 1.65;   // wider photos have their panel below

struct Layout {
  int width = 0, height = 0;  // of the finished picture
  int photo_w = 0, photo_h = 0;
  double scale = 1;  // finished pixels per photo pixel
  Rect panel;
  Measures sizes;
};

Layout Arrange(int photo_width, int photo_height, const PictureOptions& options) {
  const double w = photo_width, h = photo_height;
  const bool below = w > kWideAspect * h;
  const double beside_share = options.with_caption && !below ? kPanelBeside : 0;
  // A tall photo's panel is measured by its height, or it would become a narrow strip.
  const double panel_w = beside_share * std::max(w, 1.2 * h);
  const double panel_h = options.with_caption && below ? kPanelBelow * std::max(h, 0.4 * w) : 0;
  const double all_w = w + panel_w, all_h = h + panel_h;
  Layout layout;
  const double most = options.longest_edge_px / std::max(all_w, all_h);
  layout.scale = std::min(most, std::max(1.0, kLeastPhotoEdge / std::max(w, h)));
  layout.photo_w = std::max(1, static_cast<int>(std::floor(w * layout.scale)));
  layout.photo_h = std::max(1, static_cast<int>(std::floor(h * layout.scale)));
  layout.width =
      std::min(options.longest_edge_px, static_cast<int>(std::floor(all_w * layout.scale)));
  layout.height =
      std::min(options.longest_edge_px, static_cast<int>(std::floor(all_h * layout.scale)));
  layout.width = std::max(layout.width, layout.photo_w);
  layout.height = std::max(layout.height, layout.photo_h);
  if (below) {
    layout.panel = {0, static_cast<double>(layout.photo_h), static_cast<double>(layout.width),
                    static_cast<double>(layout.height - layout.photo_h)};
  } else {
    layout.panel = {static_cast<double>(layout.photo_w), 0,
                    static_cast<double>(layout.width - layout.photo_w),
                    static_cast<double>(layout.height)};
  }
  const double longest = std::max(layout.photo_w, layout.photo_h);
  layout.sizes.em = std::max(10.0, longest / 88) * options.label_scale;
  layout.sizes.stroke = std::max(1.0, longest / 850);
  layout.sizes.panel_em = std::max(9.0, layout.panel.w / (below ? 105 : 30));
  return layout;
}

// 8-bit grey of the finished size. Sets `stretched` when tones had to be widened.
cv::Mat Photo(const Micrograph& micrograph, const Layout& layout, bool& stretched) {
  double least = 0, greatest = 1;
  if (!micrograph.reduced_mean.empty()) {
    cv::minMaxLoc(micrograph.reduced_mean, &least, &greatest);
  }
  stretched = greatest < 0.5 && greatest > least;
  const double full = micrograph.full_scale();
  const double gain = stretched ? 255 / (greatest * full) : 255 / full;
  cv::Mat grey, sized;
  const bool smaller = layout.scale < 1;
  const cv::Size size(layout.photo_w, layout.photo_h);
  cv::resize(micrograph.tone, sized, size, 0, 0, smaller ? cv::INTER_AREA : cv::INTER_CUBIC);
  sized.convertTo(grey, CV_8U, gain);
  return grey;
}

const char* KindName(Kind kind) {
  switch (kind) {
    case Kind::kContour:
      return "contour";
    case Kind::kPath:
      return "stretch";
    case Kind::kSegment:
      return "distance";
    case Kind::kText:
      return "label";
    case Kind::kDot:
      return "place";
  }
  return "";
}

class Painter {
 public:
  Painter(Canvas& canvas, const Layout& layout, const Scale& scale, LengthUnit units,
          bool with_labels)
      : canvas_(canvas),
        layout_(layout),
        scale_(scale),
        units_(units),
        with_labels_(with_labels),
        frame_{0, 0, static_cast<double>(layout.photo_w), static_cast<double>(layout.photo_h)},
        seats_(Inset(frame_, 0.4 * layout.sizes.em)) {}

  void Draw(const DisplayList& list) {
    canvas_.Clip(frame_);
    for (const DisplayItem& item : list.items) Mark(item);
    seats_.Seal();
    if (with_labels_) {
      canvas_.Open("scale bar", "scale", Ink::kNeutral);
      DrawScaleBar();
      canvas_.Close();
    }
    for (const DisplayItem& item : list.items) {
      if (item.kind == Kind::kText) continue;
      canvas_.Open(item.feature, KindName(item.kind), item.ink);
      Shape(item);
      canvas_.Close();
    }
    std::vector<const DisplayItem*> texts;
    for (const DisplayItem& item : list.items) {
      if (item.kind == Kind::kText && with_labels_) texts.push_back(&item);
    }
    std::stable_sort(texts.begin(), texts.end(),
                     [](const DisplayItem* a, const DisplayItem* b) { return a->rank < b->rank; });
    for (const DisplayItem* item : texts) {
      canvas_.Open(item->feature, KindName(item->kind), item->ink);
      Label(*item);
      canvas_.Close();
    }
    canvas_.Unclip();
  }

 private:
  static Rect Inset(const Rect& r, double by) {
    return {r.x + by, r.y + by, r.w - 2 * by, r.h - 2 * by};
  }

  // Pixel centres are on whole numbers in the photo, pixel corners in the canvas.
  Place At(PointUm p) const {
    const PointPx px = scale_.ToPx(p);
    return {(px.x + 0.5) * layout_.scale, (px.y + 0.5) * layout_.scale};
  }
  // Vertices that a straight line between others passes within a twentieth of a pixel are left out:
  // the strokes are the same, and files and time are a part.
  std::vector<Place> At(const ContourUm& points, bool closed) const {
    constexpr double kSame = 0.05;  // px of the finished picture
    std::vector<Place> places;
    if (points.size() <= 8) {
      for (const PointUm& p : points) places.push_back(At(p));
      return places;
    }
    std::vector<cv::Point2f> all, kept;
    all.reserve(points.size());
    for (const PointUm& p : points) {
      const Place place = At(p);
      all.emplace_back(static_cast<float>(place.x), static_cast<float>(place.y));
    }
    cv::approxPolyDP(all, kept, kSame, closed);
    for (const cv::Point2f& p : kept) places.push_back({p.x, p.y});
    return places;
  }
  double Px(double um) const { return um / scale_.mean_pitch_um() * layout_.scale; }
  double em() const { return layout_.sizes.em; }
  double Stroke(const DisplayItem& item) const { return layout_.sizes.stroke * item.weight; }

  double DotRadius(const DisplayItem& item) const {
    return std::max(Px(item.radius_um) * 1.25 + 0.35 * em(),
                    (item.ink == Ink::kFinding ? 1.0 : 0.5) * em());
  }
  std::vector<Place> DotSquare(const DisplayItem& item) const {
    const Place c = At(item.points.front());
    const double r = DotRadius(item);
    return {{c.x - r, c.y - r}, {c.x + r, c.y - r}, {c.x + r, c.y + r}, {c.x - r, c.y + r}};
  }

  void Mark(const DisplayItem& item) {
    switch (item.kind) {
      case Kind::kContour:
        return seats_.AddMark(At(item.points, true), true, 3 * Stroke(item), 1);
      case Kind::kPath:
        return seats_.AddMark(At(item.points, false), false, 3 * Stroke(item), 1);
      case Kind::kSegment:
        return seats_.AddMark(At(item.points, false), false, 0.8 * em(), 5);
      case Kind::kDot:
        return seats_.AddMark(DotSquare(item), true, 0.3 * em(), 4);
      case Kind::kText:
        return;
    }
  }

  void Cased(const std::vector<Place>& line, bool closed, const DisplayItem& item,
             LineStyle style) {
    const double width = Stroke(item);
    canvas_.Line(line, closed, {kCasing, width * 2.2 + 0.8, LineStyle::kSolid, 0.75});
    canvas_.Line(line, closed,
                 {Colour(item.ink), width * (style == LineStyle::kDotted ? 1.5 : 1.05), style, 1});
  }

  void Shape(const DisplayItem& item) {
    switch (item.kind) {
      case Kind::kContour:
        return Cased(At(item.points, true), true, item, item.style);
      case Kind::kPath:
        return Cased(At(item.points, false), false, item, item.style);
      case Kind::kSegment:
        return Ligament(item);
      case Kind::kDot:
        return Corners(item);
      case Kind::kText:
        return;
    }
  }

  // Arrow heads from both sides: inside a long ligament, outside a short one.
  void Ligament(const DisplayItem& item) {
    const Place a = At(item.points[0]), b = At(item.points[1]);
    const double length = std::hypot(b.x - a.x, b.y - a.y);
    const double head = 0.62 * em();
    double ux = 1, uy = 0;
    if (length > 0) {
      ux = (b.x - a.x) / length;
      uy = (b.y - a.y) / length;
    }
    const bool outside = length < 2.6 * head;
    const double tail = 1.9 * head;
    if (outside) {
      Cased({a, {a.x - tail * ux, a.y - tail * uy}}, false, item, LineStyle::kSolid);
      Cased({b, {b.x + tail * ux, b.y + tail * uy}}, false, item, LineStyle::kSolid);
    }
    Cased({a, b}, false, item, LineStyle::kSolid);
    const double sign = outside ? -1 : 1;
    Head(a, sign * ux, sign * uy, head, item);
    Head(b, -sign * ux, -sign * uy, head, item);
  }

  void Head(Place tip, double ux, double uy, double head, const DisplayItem& item) {
    const auto wedge = [&](double grow) {
      const double l = head + 2 * grow, half = 0.27 * head + grow;
      const Place t{tip.x - grow * ux, tip.y - grow * uy};
      return std::vector<Place>{t,
                                {t.x + l * ux - half * uy, t.y + l * uy + half * ux},
                                {t.x + l * ux + half * uy, t.y + l * uy - half * ux}};
    };
    canvas_.Fill(wedge(0.07 * em()), kCasing, 0.8);
    canvas_.Fill(wedge(0), Colour(item.ink));
  }

  void Corners(const DisplayItem& item) {
    const Place c = At(item.points.front());
    const double r = DotRadius(item), leg = std::max(0.35 * r, 0.22 * em());
    for (const double sx : {-1.0, 1.0}) {
      for (const double sy : {-1.0, 1.0}) {
        Cased({{c.x + sx * r, c.y + sy * (r - leg)},
               {c.x + sx * r, c.y + sy * r},
               {c.x + sx * (r - leg), c.y + sy * r}},
              false, item, LineStyle::kSolid);
      }
    }
  }

  struct Lines {
    std::vector<std::string> texts;
    std::vector<Font> fonts;
    std::vector<Rect> sizes;
    double w = 0, h = 0;
  };
  Lines Measured(const DisplayItem& item) const {
    Lines lines;
    std::size_t from = 0;
    while (from <= item.text.size()) {
      const std::size_t to = std::min(item.text.find('\n', from), item.text.size());
      lines.texts.push_back(item.text.substr(from, to - from));
      const bool first = lines.fonts.empty();
      lines.fonts.push_back({first ? em() : 0.82 * em(), first && item.feature != "clock", 0});
      lines.sizes.push_back(canvas_.Measure(lines.texts.back(), lines.fonts.back()));
      lines.w = std::max(lines.w, lines.sizes.back().w);
      lines.h += lines.sizes.back().h;
      from = to + 1;
    }
    return lines;
  }

  void Label(const DisplayItem& item) {
    const Lines lines = Measured(item);
    const double pad_x = 0.4 * em(), pad_y = 0.16 * em();
    Seats::Wish wish;
    wish.anchors = Anchors(item);
    std::erase_if(wish.anchors, [&](const Place& p) { return !Inside(p); });
    if (wish.anchors.empty()) return;
    wish.w = lines.w + 2 * pad_x;
    wish.h = lines.h + 2 * pad_y;
    const double free = Px(item.radius_um);
    const bool roomy = free <= 0 || free > 0.5 * std::hypot(wish.w, wish.h);
    wish.on_anchor = item.seat == DisplayItem::Seat::kOn && roomy;
    wish.gap = free > 0 ? free + 0.5 * em() : 0.9 * em();
    wish.reach = wish.gap + (item.feature == "clock" ? 0.2 : 13) * em();
    const std::optional<Seats::Seat> found = seats_.Find(wish);
    if (!found) return;
    const Rect* seat = &found->rect;
    const Place end = NearestOn(*seat, found->anchor);
    if (!Holds(*seat, found->anchor) &&
        std::hypot(end.x - found->anchor.x, end.y - found->anchor.y) > 1.0 * em()) {
      DisplayItem tie = item;
      tie.weight = 0.7;
      Cased({found->anchor, end}, false, tie, LineStyle::kSolid);
    }
    canvas_.Fill(*seat, kPlate, item.feature == "clock" ? 0.35 : 0.72);
    const bool stripe = item.seat == DisplayItem::Seat::kBeside;
    if (stripe) canvas_.Fill(Rect{seat->x, seat->y, 0.18 * em(), seat->h}, Colour(item.ink));
    double y = seat->y + pad_y;
    for (std::size_t i = 0; i < lines.texts.size(); ++i) {
      canvas_.Text(lines.texts[i], lines.fonts[i], seat->x + (seat->w - lines.sizes[i].w) / 2, y,
                   kWhite);
      y += lines.sizes[i].h;
    }
  }

  static bool Holds(const Rect& r, const Place& p) {
    return p.x >= r.x && p.y >= r.y && p.x <= r.x + r.w && p.y <= r.y + r.h;
  }
  bool Inside(const Place& p) const { return Holds(frame_, p); }

  // A ligament's label may hang on any place along it; the middle is tried first.
  std::vector<Place> Anchors(const DisplayItem& item) const {
    std::vector<Place> ends = At(item.points, false);
    if (ends.size() < 2) return ends;
    std::vector<Place> anchors;
    for (const double t : {0.5, 0.3, 0.7}) {
      anchors.push_back(
          {ends[0].x + t * (ends[1].x - ends[0].x), ends[0].y + t * (ends[1].y - ends[0].y)});
    }
    return anchors;
  }

  // In the corner that hides least. The bar is true along x at the picture's middle.
  void DrawScaleBar() {
    const double px_um = scale_.pitch_x_um() / layout_.scale;
    const RoundLength bar = RoundLengthBelow(0.2 * frame_.w * px_um, units_);
    const double length = bar.um / px_um;
    const Font font{em(), true, 0};
    const Rect text = canvas_.Measure(bar.text, font);
    const double w = std::max(length, text.w) + 1.6 * em(), h = text.h + 1.5 * em();
    const double margin = 0.9 * em();
    Rect best;
    double least = 2e9;
    for (const double x : {margin, frame_.w - margin - w}) {
      for (const double y : {frame_.h - margin - h, margin}) {
        const double hidden = seats_.HiddenShare({x, y, w, h});
        if (hidden < least) {
          least = hidden;
          best = {x, y, w, h};
        }
      }
    }
    seats_.Reserve(best);
    canvas_.Fill(best, kPlate, 0.72);
    const double x = best.x + (best.w - length) / 2, y = best.y + best.h - 0.65 * em();
    canvas_.Fill(Rect{x, y - 0.16 * em(), length, 0.32 * em()}, kWhite);
    for (const double end : {x, x + length}) {
      canvas_.Fill(Rect{end - 0.06 * em(), y - 0.4 * em(), 0.12 * em(), 0.8 * em()}, kWhite);
    }
    canvas_.Text(bar.text, font, best.x + (best.w - text.w) / 2, best.y + 0.18 * em(), kWhite);
  }

  Canvas& canvas_;
  const Layout& layout_;
  const Scale& scale_;
  LengthUnit units_;
  bool with_labels_;
  Rect frame_;
  Seats seats_;
};

}  // namespace

std::string_view InkName(Ink ink) {
  switch (ink) {
    case Ink::kOutline:
      return "outline";
    case Ink::kLumen:
      return "lumen";
    case Ink::kRing:
      return "ring";
    case Ink::kLiner:
      return "liner";
    case Ink::kWire:
      return "wire";
    case Ink::kVoid:
      return "void";
    case Ink::kLeast:
      return "least";
    case Ink::kFinding:
      return "finding";
    case Ink::kNeutral:
      return "neutral";
  }
  return "";
}

RoundLength RoundLengthBelow(double longest_um, LengthUnit unit) {
  CF_CHECK(longest_um > 0);
  // Millimetre drawings of small parts read better with a bar in micrometres.
  const LengthUnit shown =
      unit == LengthUnit::kMillimetre && longest_um < 100 ? LengthUnit::kMicrometre : unit;
  const double longest = longest_um / UmPer(shown);
  const double decade = std::pow(10, std::floor(std::log10(longest)));
  double length = decade;
  for (const double step : {2.0, 5.0}) {
    if (step * decade <= longest) length = step * decade;
  }
  return {length * UmPer(shown), fmt::format("{:.6g} {}", length, UnitName(shown))};
}

namespace {

// Whether its tones were stretched.
bool DrawPhoto(Canvas& canvas, const Micrograph& micrograph, const Layout& layout,
               const PictureOptions& options) {
  const SharedFace* ready = options.ready;
  if (ready == nullptr || ready->photo.cols < layout.photo_w) {
    bool stretched = false;
    canvas.Photo(Photo(micrograph, layout, stretched), 0, 0, {});
    return stretched;
  }
  if (ready->photo.cols == layout.photo_w && ready->photo.rows == layout.photo_h) {
    canvas.Photo(ready->photo, 0, 0, ready->jpeg);
    return ready->stretched;
  }
  cv::Mat smaller;
  cv::resize(ready->photo, smaller, cv::Size(layout.photo_w, layout.photo_h), 0, 0, cv::INTER_AREA);
  canvas.Photo(smaller, 0, 0, {});
  return ready->stretched;
}

DisplayList Marks(const SectionResult& result, const PictureOptions& options) {
  return options.ready != nullptr ? options.ready->marks : BuildDisplayList(result);
}

// Photo, marks and panel on a canvas of the layout's size.
Status DrawOn(Canvas& canvas, const Layout& layout, const Micrograph& micrograph,
              const Scale& scale, const SectionResult& result, const PictureOptions& options) {
  const bool stretched = DrawPhoto(canvas, micrograph, layout, options);
  DisplayList list = options.pressure_map ? BuildPressureMap(result)
                     : options.edge_map   ? BuildEdgeMap(result)
                                          : Marks(result, options);
  if (stretched)
    list.caption.insert(list.caption.begin() + 2, "Tones\tstretched for this picture only");
  Painter(canvas, layout, scale, result.units, options.with_labels).Draw(list);
  if (!options.with_caption) return {};
  return DrawPanel(canvas, layout.panel, list, layout.sizes.panel_em);
}

tl::unexpected<Error> NotDrawn(const SectionResult& result, const std::exception& e) {
  return Fail(Code::kInternal,
              fmt::format("{}: the picture could not be drawn: {}", result.image_file, e.what()));
}

}  // namespace

Result<SharedFace> MakeShared(const Micrograph& micrograph, const SectionResult& result,
                              int longest_edge_px, int jpeg_quality) {
  CF_CHECK(longest_edge_px >= 400 && !micrograph.tone.empty());
  PictureOptions options;
  options.longest_edge_px = longest_edge_px;
  options.with_caption = false;
  SharedFace ready;
  const Layout layout = Arrange(micrograph.width(), micrograph.height(), options);
  ready.photo = Photo(micrograph, layout, ready.stretched);
  auto jpeg = EncodeJpeg(ready.photo, jpeg_quality);
  if (!jpeg) return tl::unexpected(jpeg.error());
  ready.jpeg = std::move(*jpeg);
  ready.marks = BuildDisplayList(result);
  return ready;
}

Result<std::vector<std::byte>> RenderPng(const Micrograph& micrograph, const Scale& scale,
                                         const SectionResult& result,
                                         const PictureOptions& options) {
  CF_CHECK(options.longest_edge_px >= 400 && !micrograph.tone.empty());
  const Layout layout = Arrange(micrograph.width(), micrograph.height(), options);
  auto canvas = PixelCanvas::Make(layout.width, layout.height, kPaper);
  if (!canvas) return tl::unexpected(canvas.error());
  try {
    if (auto status = DrawOn(*canvas, layout, micrograph, scale, result, options); !status)
      return tl::unexpected(status.error());
    return canvas->Png();
  } catch (const std::exception& e) {
    return NotDrawn(result, e);
  }
}

Result<std::vector<std::byte>> RenderJpeg(const Micrograph& micrograph, const Scale& scale,
                                          const SectionResult& result, int quality,
                                          const PictureOptions& options) {
  CF_CHECK(options.longest_edge_px >= 400 && !micrograph.tone.empty());
  Layout layout = Arrange(micrograph.width(), micrograph.height(), options);
  auto canvas = PixelCanvas::Make(layout.width, layout.height, kPaper);
  if (!canvas) return tl::unexpected(canvas.error());
  try {
    if (auto status = DrawOn(*canvas, layout, micrograph, scale, result, options); !status)
      return tl::unexpected(status.error());
    return EncodeJpeg(canvas->Pixels(), quality);
  } catch (const std::exception& e) {
    return NotDrawn(result, e);
  }
}

Result<PageBox> DrawFace(cairo_t* cairo, const PageBox& box, const Micrograph& micrograph,
                         const Scale& scale, const SectionResult& result,
                         const PictureOptions& options) {
  CF_CHECK(options.longest_edge_px >= 400 && !micrograph.tone.empty() && box.w > 0 && box.h > 0);
  PictureOptions photo_only = options;
  photo_only.with_caption = false;
  const Layout layout = Arrange(micrograph.width(), micrograph.height(), photo_only);
  const int quality = options.jpeg_quality > 0 ? options.jpeg_quality : 85;
  try {
    PageCanvas canvas(cairo, quality);
    const double w = layout.photo_w, em = layout.sizes.em;
    const DisplayList list = Marks(result, options);
    const double key_h = KeyHeight(canvas, list, w, em) + 0.8 * em;
    const double share = std::min(box.w / w, box.h / (layout.photo_h + key_h));
    const PageBox used{box.x + (box.w - w * share) / 2, box.y, w * share,
                       (layout.photo_h + key_h) * share};
    cairo_save(cairo);
    cairo_translate(cairo, used.x, used.y);
    cairo_scale(cairo, share, share);
    DrawPhoto(canvas, micrograph, layout, options);
    Painter(canvas, layout, scale, result.units, options.with_labels).Draw(list);
    DrawKey(canvas, list, {0, 0, w, 0}, layout.photo_h + key_h, em);
    cairo_restore(cairo);
    if (!canvas.status()) return tl::unexpected(canvas.status().error());
    return used;
  } catch (const std::exception& e) {
    return NotDrawn(result, e);
  }
}

Result<std::string> RenderSvg(const Micrograph& micrograph, const Scale& scale,
                              const SectionResult& result, const PictureOptions& options) {
  CF_CHECK(options.longest_edge_px >= 400 && !micrograph.tone.empty());
  const Layout layout = Arrange(micrograph.width(), micrograph.height(), options);
  const std::string title = fmt::format("{} {} {}: {}", result.part, result.section_name,
                                        result.sample.serial, VerdictName(result.verdict));
  auto canvas = SvgCanvas::Make(layout.width, layout.height, kPaper, result.software, title,
                                options.jpeg_quality);
  if (!canvas) return tl::unexpected(canvas.error());
  try {
    if (auto status = DrawOn(*canvas, layout, micrograph, scale, result, options); !status)
      return tl::unexpected(status.error());
    if (!canvas->status()) return tl::unexpected(canvas->status().error());
    return canvas->File();
  } catch (const std::exception& e) {
    return NotDrawn(result, e);
  }
}

}  // namespace cutface
