#include "report/pages.h"

#include <cairo-pdf.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

#include <algorithm>

#include "report/internal.h"

namespace cutface {
namespace {

constexpr double kCellPad = 3.5;
constexpr double kTableSize = 7.2;
constexpr double kTableLine = 0.5;

struct Unref {
  void operator()(void* object) const { g_object_unref(object); }
};
using Layout = std::unique_ptr<PangoLayout, Unref>;

Layout MakeLayout(cairo_t* cairo, const std::string& text, double width, const TextStyle& style) {
  Layout layout(pango_cairo_create_layout(cairo));
  PangoFontDescription* font = pango_font_description_new();
  pango_font_description_set_family(font, "DejaVu Sans, Sans");
  pango_font_description_set_absolute_size(font, style.size * PANGO_SCALE);
  pango_font_description_set_weight(font, style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_layout_set_font_description(layout.get(), font);
  pango_font_description_free(font);
  if (width > 0) {
    pango_layout_set_width(layout.get(), static_cast<int>(width * PANGO_SCALE));
    pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
  }
  if (style.one_line) {
    pango_layout_set_single_paragraph_mode(layout.get(), TRUE);
    pango_layout_set_ellipsize(layout.get(), PANGO_ELLIPSIZE_END);
  }
  // A hyphen where a long name is broken would be read as one of its letters.
  PangoAttrList* attributes = pango_attr_list_new();
  pango_attr_list_insert(attributes, pango_attr_insert_hyphens_new(FALSE));
  pango_layout_set_attributes(layout.get(), attributes);
  pango_attr_list_unref(attributes);
  // A name in a script of the other direction must not move the numbers beside it.
  pango_layout_set_auto_dir(layout.get(), FALSE);
  if (style.align == TextStyle::Align::kRight)
    pango_layout_set_alignment(layout.get(), PANGO_ALIGN_RIGHT);
  if (style.align == TextStyle::Align::kCentre)
    pango_layout_set_alignment(layout.get(), PANGO_ALIGN_CENTER);
  pango_layout_set_text(layout.get(), text.data(), static_cast<int>(text.size()));
  return layout;
}

void SetTone(cairo_t* cairo, Tone colour) {
  cairo_set_source_rgb(cairo, colour.r, colour.g, colour.b);
}

cairo_status_t Append(void* to, const unsigned char* data, unsigned int size) {
  auto* bytes = static_cast<std::vector<std::byte>*>(to);
  const auto* from = reinterpret_cast<const std::byte*>(data);
  try {
    bytes->insert(bytes->end(), from, from + size);
  } catch (const std::exception&) {
    return CAIRO_STATUS_NO_MEMORY;
  }
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::optional<double>& Pages::Heights::At(const std::string& text, double width,
                                          const TextStyle& style) {
  std::string key = fmt::format("{} {} {} {} ", width, style.size, style.bold, style.one_line);
  key += text;
  return known_[std::move(key)];
}

Pages::Pages(std::string running, int total, Heights& heights)
    : heights_(heights), running_(std::move(running)), total_(total) {
  surface_ = cairo_pdf_surface_create_for_stream(Append, &bytes_, kWidth, kHeight);
  cairo_ = cairo_create(surface_);
}

Pages::~Pages() {
  cairo_destroy(cairo_);
  cairo_surface_destroy(surface_);
}

void Pages::SetHead(const PdfHead& head) {
  const auto set = [&](cairo_pdf_metadata_t what, const std::string& text) {
    if (!text.empty()) cairo_pdf_surface_set_metadata(surface_, what, text.c_str());
  };
  set(CAIRO_PDF_METADATA_TITLE, head.title);
  set(CAIRO_PDF_METADATA_AUTHOR, head.author);
  set(CAIRO_PDF_METADATA_SUBJECT, head.subject);
  set(CAIRO_PDF_METADATA_KEYWORDS, head.keywords);
  set(CAIRO_PDF_METADATA_CREATOR, head.creator);
  set(CAIRO_PDF_METADATA_CREATE_DATE, head.created);
}

void Pages::NewPage(const std::string& head) {
  if (page_ > 0) {
    Foot();
    if (!counting()) cairo_show_page(cairo_);
  }
  ++page_;
  head_ = head;
  y_ = kTop;
  if (head.empty()) return;
  Draw(kLeft, 34, kRight - kLeft, head, {7.6, false, kFaint, TextStyle::Align::kLeft, true});
  Line(kLeft, 48, kRight, 48, 0.6, kRule);
}

void Pages::Foot() {
  const std::string number =
      total_ > 0 ? fmt::format("page {} of {}", page_, total_) : fmt::format("page {}", page_);
  Line(kLeft, kHeight - 44, kRight, kHeight - 44, 0.6, kRule);
  Draw(kLeft, kHeight - 39, 380, running_, {6.8, false, kFaint, TextStyle::Align::kLeft, true});
  Draw(kRight - 110, kHeight - 39, 110, number, {6.8, false, kFaint, TextStyle::Align::kRight});
}

void Pages::Need(double height) {
  if (Left() < height && y_ > kTop) NewPage(head_);
}

double Pages::Measure(const std::string& text, double width, const TextStyle& style) const {
  if (text.empty()) return 0;
  std::optional<double>& height = heights_.At(text, width, style);
  if (!height) {
    const Layout layout = MakeLayout(cairo_, text, width, style);
    PangoRectangle box;
    pango_layout_get_extents(layout.get(), nullptr, &box);
    height = static_cast<double>(box.height) / PANGO_SCALE;
  }
  return *height;
}

double Pages::Draw(double x, double y, double width, const std::string& text,
                   const TextStyle& style) {
  if (text.empty()) return 0;
  if (!counting()) {
    const Layout layout = MakeLayout(cairo_, text, width, style);
    SetTone(cairo_, style.colour);
    cairo_move_to(cairo_, x, y);
    pango_cairo_show_layout(cairo_, layout.get());
  }
  return Measure(text, width, style);
}

void Pages::Paragraph(const std::string& text, const TextStyle& style, double after) {
  Need(Measure(text, kRight - kLeft, style));
  y_ += Draw(kLeft, y_, kRight - kLeft, text, style) + after;
}

void Pages::Heading(const std::string& text) {
  Need(64);
  if (y_ > kTop) y_ += 10;
  y_ += Draw(kLeft, y_, kRight - kLeft, text, {12.5, true, kInk}) + 5;
}

void Pages::Bullets(const std::vector<std::string>& texts) {
  const TextStyle style;
  for (const std::string& text : texts) {
    const double width = kRight - kLeft - 12;
    Need(Measure(text, width, style));
    Box(kLeft + 1, y_ + 4.2, 3, 3, kFaint);
    y_ += Draw(kLeft + 12, y_, width, text, style) + 3.5;
  }
}

void Pages::Pairs(const std::vector<std::pair<std::string, std::string>>& pairs,
                  double label_width) {
  const TextStyle label{8.2, false, kFaint}, value{8.2, false, kInk};
  const double width = kRight - kLeft - label_width;
  for (const auto& [name, text] : pairs) {
    if (text.empty()) continue;
    const double height =
        std::max(Measure(text, width, value), Measure(name, label_width - 8, label));
    Need(height);
    Draw(kLeft, y_, label_width - 8, name, label);
    Draw(kLeft + label_width, y_, width, text, value);
    y_ += height + 3;
  }
}

Status Pages::Plot(const Graph& graph, const std::string& answer) {
  const double width = kRight - kLeft, height = width * graph.aspect;
  const TextStyle style{8.2, true};
  Need(height + 24 + Measure(answer, width, style));
  Paragraph(graph.question, {7.4, false, kFaint}, 1);
  if (!answer.empty()) Paragraph(answer, style, 3);
  if (!counting()) {
    if (auto status = DrawPlot(cairo_, {kLeft, y_, width, height}, graph); !status) return status;
  }
  Skip(height + 9);
  return {};
}

void Pages::Line(double x0, double y0, double x1, double y1, double width, Tone colour) {
  if (counting()) return;
  SetTone(cairo_, colour);
  cairo_set_line_width(cairo_, width);
  cairo_move_to(cairo_, x0, y0);
  cairo_line_to(cairo_, x1, y1);
  cairo_stroke(cairo_);
}

void Pages::Box(double x, double y, double w, double h, Tone fill) {
  if (counting()) return;
  SetTone(cairo_, fill);
  cairo_rectangle(cairo_, x, y, w, h);
  cairo_fill(cairo_);
}

void Pages::VerdictBox(double x, double y, double w, double h, Verdict verdict) {
  const bool solid = verdict == Verdict::kDoesNotConform;
  if (solid) Box(x, y, w, h, kRust);
  if (!solid) {
    cairo_save(cairo_);
    const double dashed[] = {4, 2.5}, dotted[] = {1, 2.2};
    if (verdict == Verdict::kNotProven) cairo_set_dash(cairo_, dashed, 2, 0);
    if (verdict == Verdict::kNotMeasured) cairo_set_dash(cairo_, dotted, 2, 0);
    SetTone(cairo_, kInk);
    cairo_set_line_width(cairo_, 1.1);
    cairo_rectangle(cairo_, x + 0.55, y + 0.55, w - 1.1, h - 1.1);
    cairo_stroke(cairo_);
    cairo_restore(cairo_);
    if (verdict == Verdict::kConforms) Box(x, y, 5, h, kBlue);
  }
  const std::string text = fmt::format("{} {}", VerdictSign(verdict), VerdictName(verdict));
  TextStyle style{std::min(11.0, h * 0.48), true, solid ? kPaperWhite : kInk,
                  TextStyle::Align::kCentre};
  while (style.size > 5 && Measure(text, w - 12, style) > h - 2) style.size -= 0.5;
  Draw(x + 6, y + (h - Measure(text, w - 12, style)) / 2, w - 12, text, style);
}

double Pages::RowHeight(const std::vector<Column>& columns, const TableRow& row) const {
  const double width = kRight - kLeft;
  if (row.group) return Measure(row.cells.front().text, width, {kTableSize, true}) + 2 * kCellPad;
  double height = 0;
  for (std::size_t i = 0; i < row.cells.size(); ++i) {
    const TextStyle style{kTableSize, row.cells[i].bold};
    height = std::max(height,
                      Measure(row.cells[i].text, columns[i].share * width - 2 * kCellPad, style));
  }
  return height + 2 * kCellPad;
}

void Pages::TableHead(const std::vector<Column>& columns) {
  const double width = kRight - kLeft;
  double x = kLeft, height = 0;
  TextStyle style{6.8, true, kFaint};
  for (const Column& column : columns) {
    style.align = column.right ? TextStyle::Align::kRight : TextStyle::Align::kLeft;
    const double w = column.share * width;
    height = std::max(height, Draw(x + kCellPad, y_ + 2, w - 2 * kCellPad, column.title, style));
    x += w;
  }
  y_ += height + 5;
  Line(kLeft, y_, kRight, y_, 0.9, kInk);
}

void Pages::Table(const std::vector<Column>& given, const std::vector<TableRow>& rows) {
  std::vector<Column> columns = given;
  double sum = 0;
  for (const Column& column : columns) sum += column.share;
  for (Column& column : columns) column.share /= sum;
  const double width = kRight - kLeft;
  Need(60);
  TableHead(columns);
  for (std::size_t r = 0; r < rows.size(); ++r) {
    const TableRow& row = rows[r];
    const double height = RowHeight(columns, row);
    // A heading is not left alone at the foot of a page.
    const double wanted =
        row.group && r + 1 < rows.size() ? height + RowHeight(columns, rows[r + 1]) : height;
    if (Left() < wanted && y_ > kTop + 40) {
      NewPage(head_);
      TableHead(columns);
    }
    if (row.group) {
      Draw(kLeft + kCellPad, y_ + kCellPad, width, row.cells.front().text,
           {kTableSize, true, kBlue});
    } else {
      if (row.washed) Box(kLeft, y_, width, height, kWash);
      double x = kLeft;
      for (std::size_t i = 0; i < row.cells.size(); ++i) {
        const double w = columns[i].share * width;
        TextStyle style{kTableSize, row.cells[i].bold, row.cells[i].faint ? kFaint : kInk};
        style.align = columns[i].right ? TextStyle::Align::kRight : TextStyle::Align::kLeft;
        Draw(x + kCellPad, y_ + kCellPad, w - 2 * kCellPad, row.cells[i].text, style);
        x += w;
      }
    }
    y_ += height;
    Line(kLeft, y_, kRight, y_, kTableLine, kRule);
  }
  y_ += 8;
}

int Pages::Bookmark(const std::string& name, int below) {
  if (counting()) return 1;
  const std::string link = fmt::format("page={} pos=[{:.0f} 0]", std::max(1, page_), 0.0);
  return cairo_pdf_surface_add_outline(
      surface_, below == 0 ? CAIRO_PDF_OUTLINE_ROOT : below, name.c_str(), link.c_str(),
      below == 0 ? CAIRO_PDF_OUTLINE_FLAG_OPEN : static_cast<cairo_pdf_outline_flags_t>(0));
}

Result<std::vector<std::byte>> Pages::Finish() {
  Foot();
  cairo_show_page(cairo_);
  cairo_surface_finish(surface_);
  for (const cairo_status_t status : {cairo_status(cairo_), cairo_surface_status(surface_)}) {
    if (status != CAIRO_STATUS_SUCCESS && status != CAIRO_STATUS_SURFACE_FINISHED) {
      return Fail(Code::kInternal, fmt::format("report.pdf: {}; nothing was written",
                                               cairo_status_to_string(status)));
    }
  }
  return std::move(bytes_);
}

}  // namespace cutface
