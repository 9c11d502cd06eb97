// Pages of a PDF file by cairo and pango: text, tables, boxes, bookmarks. Lengths are points (1/72
// inch); A4 (ISO 216), upright. Pages are laid out twice: once to count them, once to write.
#pragma once

#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

#include "cutface/base.h"
#include "cutface/picture.h"
#include "cutface/plot.h"
#include "cutface/section.h"

typedef struct _cairo cairo_t;
typedef struct _cairo_surface cairo_surface_t;

namespace cutface {

struct Tone {
  double r = 0, g = 0, b = 0;
};
constexpr Tone kInk{0.10, 0.11, 0.13}, kFaint{0.40, 0.41, 0.43}, kRule{0.78, 0.77, 0.74};
constexpr Tone kWash{0.965, 0.957, 0.935}, kBlue{0.0, 0.36, 0.56}, kRust{0.62, 0.21, 0.03};
constexpr Tone kPaperWhite{1, 1, 1};

struct TextStyle {
  double size = 8.5;
  bool bold = false;
  Tone colour = kInk;
  enum class Align { kLeft, kRight, kCentre } align = Align::kLeft;
  bool one_line = false;  // what does not fit ends in three dots
};

struct Column {
  std::string title;
  double share = 1;  // of the width
  bool right = false;
};

struct TableCell {
  std::string text;
  bool bold = false;
  bool faint = false;
};
struct TableRow {
  std::vector<TableCell> cells;
  bool washed = false;  // a ground that catches the eye
  bool group = false;   // one cell over the whole width: a heading within the table
};

struct PdfHead {
  std::string title, author, subject, keywords, creator, created;
};

class Pages {
 public:
  static constexpr double kWidth = 595.28, kHeight = 841.89;
  static constexpr double kLeft = 44, kRight = kWidth - 44, kTop = 64, kBottom = kHeight - 56;

  // Heights of texts, worked out once for both rounds.
  class Heights;
  // `total` is 0 while pages are counted: nothing is drawn then. `running` stands at the foot of
  // every page. `heights` outlives the pages.
  Pages(std::string running, int total, Heights& heights);
  ~Pages();
  Pages(const Pages&) = delete;
  Pages& operator=(const Pages&) = delete;

  void SetHead(const PdfHead& head);
  void NewPage(const std::string& head);  // what the page is about, at its upper edge
  // A new page with the same head when less than `height` is left.
  void Need(double height);
  double y() const { return y_; }
  void MoveTo(double y) { y_ = y; }
  void Skip(double by) { y_ += by; }
  double Left() const { return kBottom - y_; }
  int page() const { return page_; }
  bool counting() const { return total_ == 0; }
  cairo_t* cairo() { return cairo_; }

  // Heights in points; Draw draws with its upper left corner at (x, y).
  double Measure(const std::string& text, double width, const TextStyle& style) const;
  double Draw(double x, double y, double width, const std::string& text, const TextStyle& style);
  // At the current place, full width, moving on.
  void Paragraph(const std::string& text, const TextStyle& style = {}, double after = 4);
  void Heading(const std::string& text);
  void Bullets(const std::vector<std::string>& texts);
  // "label   value" lines in two columns.
  void Pairs(const std::vector<std::pair<std::string, std::string>>& pairs, double label_width);
  void Table(const std::vector<Column>& columns, const std::vector<TableRow>& rows);
  // Its question, `answer` (none where empty) and the plot, together on one page, at full width.
  // Errors: kInternal (the drawing library fails).
  Status Plot(const Graph& graph, const std::string& answer);
  void Line(double x0, double y0, double x1, double y1, double width, Tone colour);
  void Box(double x, double y, double w, double h, Tone fill);
  // A frame of its own for each verdict, so that a grey print tells them apart.
  void VerdictBox(double x, double y, double w, double h, Verdict verdict);

  // A bookmark to the present page; returns its number, for bookmarks below it.
  int Bookmark(const std::string& name, int below = 0);
  // Ends the file. Errors: kInternal.
  Result<std::vector<std::byte>> Finish();

 private:
  void Foot();
  void TableHead(const std::vector<Column>& columns);
  double RowHeight(const std::vector<Column>& columns, const TableRow& row) const;

  std::vector<std::byte> bytes_;
  Heights& heights_;
  cairo_surface_t* surface_ = nullptr;
  cairo_t* cairo_ = nullptr;
  std::string running_, head_;
  int page_ = 0, total_ = 0;
  double y_ = kTop;
};

// By text, width and style: shaping a text again would give the same.
class Pages::Heights {
 public:
  // Where a height is kept, nullopt while unknown.
  std::optional<double>& At(const std::string& text, double width, const TextStyle& style);

 private:
  std::unordered_map<std::string, std::optional<double>> known_;
};

}  // namespace cutface
