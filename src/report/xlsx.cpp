// The workbook, by libxlsxwriter. Text is written as text and never as a formula or link; values
// are numbers with a format, so that a reader can go on computing.
#include <fmt/format.h>
#include <unistd.h>
#include <xlsxwriter.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <filesystem>

#include "report/internal.h"

namespace cutface {
namespace {

constexpr std::size_t kMostText = 32000;  // a cell holds 32 767 characters
constexpr std::size_t kMostColumns = 16000;

struct Formats {
  lxw_format *head, *text, *wrap, *bold, *bad, *faint, *title, *group;
  std::map<std::string, lxw_format*> numbers;
};

lxw_format* Base(lxw_workbook* book) {
  lxw_format* format = workbook_add_format(book);
  format_set_font_name(format, "DejaVu Sans");
  format_set_font_size(format, 9);
  format_set_align(format, LXW_ALIGN_VERTICAL_TOP);
  return format;
}

// Digits as the faces print them: millimetres with 4 decimals, inches with 5, micrometres with 1.
std::string NumberFormat(const SheetRow& row) {
  if (row.count) return "0";
  if (row.unit == "mm" || row.unit == "in2" || row.unit == "mm2")
    return row.unit == "mm" ? "0.0000" : row.unit == "mm2" ? "0.00000" : "0.00000000";
  if (row.unit == "in") return "0.00000";
  if (row.unit == "um" || row.unit == "deg" || row.unit == "%") return "0.0";
  if (row.unit == "um2") return "0";
  return "0.000";
}

class Book {
 public:
  Book(const std::string& path, const std::string& scratch) : scratch_(scratch) {
    lxw_workbook_options options = {};
    options.tmpdir = scratch_.data();
    book_ = workbook_new_opt(path.c_str(), &options);
    if (book_ == nullptr) return;
    f_.head = Base(book_);
    format_set_bold(f_.head);
    format_set_bottom(f_.head, LXW_BORDER_MEDIUM);
    format_set_text_wrap(f_.head);
    f_.text = Base(book_);
    format_set_num_format(f_.text, "@");
    f_.wrap = Base(book_);
    format_set_num_format(f_.wrap, "@");
    format_set_text_wrap(f_.wrap);
    f_.bold = Base(book_);
    format_set_bold(f_.bold);
    f_.bad = Base(book_);
    format_set_bold(f_.bad);
    format_set_bg_color(f_.bad, 0xF3E6DC);
    format_set_left(f_.bad, LXW_BORDER_THICK);
    format_set_left_color(f_.bad, 0x9E3608);
    f_.faint = Base(book_);
    format_set_font_color(f_.faint, 0x5F6167);
    f_.title = Base(book_);
    format_set_bold(f_.title);
    format_set_font_size(f_.title, 15);
    f_.group = Base(book_);
    format_set_bold(f_.group);
    format_set_font_color(f_.group, 0x005C8F);
  }
  bool open() const { return book_ != nullptr; }
  lxw_workbook* get() { return book_; }
  const Formats& f() const { return f_; }

  lxw_format* Number(const std::string& digits, bool bad = false) {
    auto& format = f_.numbers[digits + (bad ? "!" : "")];
    if (format == nullptr) {
      format = Base(book_);
      format_set_num_format(format, digits.c_str());
      if (bad) {
        format_set_bold(format);
        format_set_bg_color(format, 0xF3E6DC);
      }
    }
    return format;
  }
  lxw_error Close() {
    const lxw_error error = workbook_close(book_);
    book_ = nullptr;
    return error;
  }
  ~Book() {
    if (book_ != nullptr) lxw_workbook_free(book_);
  }
  Book(const Book&) = delete;
  Book& operator=(const Book&) = delete;

 private:
  std::string scratch_;
  lxw_workbook* book_ = nullptr;
  Formats f_ = {};
};

// A sheet that is filled line by line.
class Grid {
 public:
  Grid(Book& book, const char* name)
      : book_(book), sheet_(workbook_add_worksheet(book.get(), name)) {
    worksheet_set_landscape(sheet_);
    worksheet_set_paper(sheet_, 9);  // A4
    worksheet_fit_to_pages(sheet_, 1, 0);
    worksheet_set_footer(sheet_, "&L&A&Rpage &P of &N");
  }
  void Widths(const std::vector<double>& widths) {
    for (std::size_t i = 0; i < widths.size(); ++i)
      worksheet_set_column(sheet_, Column(i), Column(i), widths[i], nullptr);
  }
  void Text(const std::string& text, lxw_format* format = nullptr) {
    if (!text.empty()) {
      worksheet_write_string(sheet_, row_, Column(column_), text.substr(0, kMostText).c_str(),
                             format != nullptr ? format : book_.f().text);
    }
    ++column_;
  }
  void Number(const std::optional<double>& value, lxw_format* format) {
    if (value && std::isfinite(*value))
      worksheet_write_number(sheet_, row_, Column(column_), *value, format);
    ++column_;
  }
  void Verdict(cutface::Verdict verdict) {
    Text(std::string(VerdictName(verdict)), NeedsDisposition(verdict) ? book_.f().bad : nullptr);
  }
  void Next() {
    ++row_;
    widest_ = std::max(widest_, column_);
    column_ = 0;
  }
  // Column titles: they stay in sight, repeat in print and carry the filters.
  void Head(const std::vector<std::string>& titles, std::size_t frozen) {
    head_ = row_;
    for (const std::string& title : titles) Text(title, book_.f().head);
    Next();
    worksheet_freeze_panes(sheet_, row_, Column(frozen));
    worksheet_repeat_rows(sheet_, head_, head_);
  }
  void Filter() {
    if (row_ > head_ + 1)
      worksheet_autofilter(sheet_, head_, 0, row_ - 1, Column(widest_ == 0 ? 0 : widest_ - 1));
  }
  Book& book() { return book_; }

 private:
  static lxw_col_t Column(std::size_t i) {
    return static_cast<lxw_col_t>(std::min(i, kMostColumns));
  }
  Book& book_;
  lxw_worksheet* sheet_;
  lxw_row_t row_ = 0, head_ = 0;
  std::size_t column_ = 0, widest_ = 0;
};

// One line a row of the drawing, one column a face; merged nowhere, so that it can be sorted.
void FirstArticle(Book& book, const Sheet& sheet) {
  Grid grid(book, "First article");
  std::vector<double> widths = {7, 13, 34, 20, 10, 10, 10, 7, 9, 34, 22, 18, 30};
  std::vector<std::string> titles = {"No.",   "Plane",   "Characteristic", "Requirement", "Min",
                                     "Max",   "Nominal", "Unit",           "Class",       "Method",
                                     "Gauge", "Verdict", "Remark"};
  for (const SheetFace& face : sheet.faces) {
    titles.push_back(face.label + " " + face.name);
    widths.push_back(13);
  }
  grid.Widths(widths);
  grid.Text(fmt::format("{}  revision {}  {}", sheet.part, sheet.revision, sheet.Standing()),
            book.f().title);
  grid.Next();
  grid.Text(sheet.counts_line, book.f().faint);
  grid.Next();
  grid.Head(titles, 3);
  for (const SheetRow& row : sheet.rows) {
    const std::string digits = NumberFormat(row);
    lxw_format* number = book.Number(digits);
    lxw_format* limit = book.Number("General");
    grid.Text(row.no), grid.Text(row.plane), grid.Text(row.subject), grid.Text(row.requirement);
    grid.Number(row.min, limit), grid.Number(row.max, limit), grid.Number(row.nominal, limit);
    grid.Text(row.unit), grid.Text(row.criticality), grid.Text(row.method), grid.Text(row.gauge);
    grid.Verdict(row.verdict);
    grid.Text(row.remark, book.f().wrap);
    for (std::size_t f = 0; f < sheet.faces.size(); ++f) {
      const auto cell = std::find_if(row.cells.begin(), row.cells.end(),
                                     [&](const SheetCell& c) { return c.face == f; });
      if (cell == row.cells.end()) {
        grid.Text("");
      } else if (cell->value) {
        grid.Number(cell->value,
                    cell->verdict == Verdict::kDoesNotConform ? book.Number(digits, true) : number);
      } else {
        grid.Text(std::string(VerdictName(cell->verdict)), book.f().faint);
      }
    }
    grid.Next();
  }
  grid.Filter();
}

void Statistics(Book& book, const Sheet& sheet) {
  Grid grid(book, "Statistics");
  grid.Widths({7, 13, 34, 20, 7, 10, 10, 12, 12, 12, 18});
  grid.Head({"No.", "Plane", "Characteristic", "Requirement", "Unit", "n parts", "faces", "Least",
             "Mean", "Greatest", "Verdict"},
            3);
  for (const SheetRow& row : sheet.rows) {
    lxw_format* number = book.Number(NumberFormat(row));
    lxw_format* mean = row.count ? book.Number("0.00") : number;
    grid.Text(row.no), grid.Text(row.plane), grid.Text(row.subject), grid.Text(row.requirement);
    grid.Text(row.unit);
    if (row.n) {
      grid.Number(*row.n, book.Number("0"));
    } else {
      grid.Text("unknown", book.f().faint);
    }
    grid.Number(row.measured, book.Number("0"));
    grid.Number(row.least, number), grid.Number(row.mean, mean), grid.Number(row.greatest, number);
    grid.Verdict(row.verdict);
    grid.Next();
  }
  grid.Filter();
}

void Values(Book& book, const Sheet& sheet) {
  Grid grid(book, "Values");
  grid.Widths({7, 34, 6, 12, 12, 13, 14, 14, 12, 12, 12, 12, 7, 18, 10, 34, 30, 26, 26});
  grid.Head({"No.", "Characteristic", "Face", "Serial", "Lot", "Plane", "Repeat", "Operator",
             "Actual", "Lo", "Hi", "u", "Unit", "Verdict", "p conform", "Reason", "Disposition",
             "Picture", "Result"},
            3);
  for (const SheetRow& row : sheet.rows) {
    lxw_format* number = book.Number(NumberFormat(row));
    for (const SheetCell& cell : row.cells) {
      const SheetFace& face = sheet.faces[cell.face];
      for (const std::string* t : {&row.no, &row.subject, &face.label, &face.serial, &face.lot,
                                   &row.plane, &face.repeat, &face.operator_name})
        grid.Text(*t);
      grid.Number(cell.value, number), grid.Number(cell.lo, number), grid.Number(cell.hi, number);
      grid.Number(cell.u, book.Number("0.00E+00"));
      grid.Text(row.unit), grid.Verdict(cell.verdict);
      grid.Number(cell.p, book.Number("0.000"));
      grid.Text(cell.reason), grid.Text(cell.disposition), grid.Text(face.image);
      grid.Text(face.result_file);
      grid.Next();
    }
  }
  grid.Filter();
}

void Findings(Book& book, const Sheet& sheet) {
  Grid grid(book, "Findings");
  grid.Widths({6, 24, 20, 20, 10, 60, 60, 34});
  grid.Head({"Face", "Sample", "Finding", "Where", "Severity", "Text", "Hints", "Disposition"}, 2);
  for (const SheetFace& face : sheet.faces) {
    for (const SheetFinding& f : face.findings) {
      std::vector<std::string> hints;
      for (const Hint& h : f.hints)
        hints.push_back(h.cause + ": " + h.check + " (" + h.basis + ")");
      grid.Text(face.label), grid.Text(face.name), grid.Text(f.kind), grid.Text(f.where);
      grid.Text(f.severity), grid.Text(f.text, book.f().wrap);
      grid.Text(JoinTexts(hints, "; "), book.f().wrap), grid.Text(f.disposition, book.f().wrap);
      grid.Next();
    }
  }
  grid.Filter();
}

void Open(Book& book, const Sheet& sheet) {
  Grid grid(book, "Open");
  grid.Widths({40, 110});
  grid.Head({"Open before signing", "What"}, 0);
  for (const SheetLine& line : sheet.open) {
    grid.Text(line.label, book.f().wrap), grid.Text(line.text, book.f().wrap);
    grid.Next();
  }
  if (sheet.open.empty()) grid.Text("nothing"), grid.Next();
}

// What people decided and signed, with the entry in the store of records.
void DecisionLines(Book& book, const Sheet& sheet) {
  Grid grid(book, "Decisions");
  grid.Widths({14, 40, 16, 110});
  grid.Head({"Kind", "Where", "Record", "Decision"}, 0);
  for (const SheetLine& line : sheet.settled) {
    grid.Text("disposition"), grid.Text(line.label, book.f().wrap);
    const auto face = std::find_if(sheet.faces.begin(), sheet.faces.end(), [&](const SheetFace& f) {
      return f.result_sha256 == line.result_sha256;
    });
    grid.Text(face == sheet.faces.end() ? "" : RecordText(*face));
    grid.Text(line.text, book.f().wrap);
    grid.Next();
  }
  for (const SheetFace& face : sheet.faces) {
    for (const auto& [meaning, who] : face.signatures) {
      grid.Text("signature"), grid.Text(face.label + " " + face.name, book.f().wrap);
      grid.Text(RecordText(face)), grid.Text(meaning + ": " + who, book.f().wrap);
      grid.Next();
    }
  }
  if (sheet.settled.empty() && sheet.signatures.empty()) grid.Text("nothing"), grid.Next();
  grid.Filter();
}

void Budgets(Book& book, const ReportInput& input, const Sheet& sheet) {
  Grid grid(book, "Uncertainty");
  grid.Widths({7, 34, 6, 24, 12, 7});
  grid.Head({"No.", "Characteristic", "Face", "Source", "u", "Unit"}, 2);
  lxw_format* number = book.Number("0.00E+00");
  for (const BudgetOfRow& b : BudgetsOf(input, sheet)) {
    const auto line = [&](const std::string& source, double u) {
      grid.Text(b.no), grid.Text(b.subject), grid.Text(b.face), grid.Text(source);
      grid.Number(u, number), grid.Text(b.unit);
      grid.Next();
    };
    line("together", b.u);
    for (const auto& [source, u] : b.lines) line(source, u);
  }
  grid.Filter();
}

void About(Book& book, const Sheet& sheet) {
  Grid grid(book, "About");
  grid.Widths({24, 120});
  grid.Head({"What", "Text"}, 0);
  const auto line = [&](const std::string& label, const std::string& text) {
    if (text.empty()) return;
    grid.Text(label), grid.Text(text, book.f().wrap);
    grid.Next();
  };
  line("part", sheet.part), line("revision", sheet.revision), line("title", sheet.title);
  line("lot", sheet.lots), line("counts", sheet.counts_line);
  line("drawing", JoinTexts({sheet.design_file, sheet.design_sha256}));
  line("decision rule", sheet.decision_rule), line("uncertainty covers", sheet.u_scope);
  for (const SheetBench& b : sheet.benches)
    line("calibration", fmt::format("{}: certificate {}; due {}; {}; SHA-256 {}", b.id,
                                    b.certificate, b.due, b.pitch, b.sha256));
  line("inspector", sheet.inspectors);
  line("program", JoinTexts({"cutface " + sheet.software, sheet.program_sha256}));
  line("run", sheet.run_sha256), line("made", sheet.made);
  line("records", sheet.records), line("standing", sheet.Standing());
  for (const SheetLine& s : sheet.signatures) line(s.label, s.text);
  for (const SheetLine& u : sheet.unmeasured) line("without a result", u.label + ": " + u.text);
  for (const std::string& note : sheet.notes) line("to be noted", note);
  for (const std::string& text : sheet.can_show) line("sections can show", text);
  for (const std::string& text : sheet.cannot_show) line("sections cannot show", text);
  for (const std::string& text : sheet.cautions) line("caution", text);
}

void Properties(Book& book, const Sheet& sheet) {
  lxw_doc_properties properties = {};
  std::string title = fmt::format("Section report {} rev. {}", sheet.part, sheet.revision);
  std::string author = sheet.inspectors, program = "cutface " + sheet.software;
  properties.title = title.data();
  properties.author = author.data();
  properties.comments = program.data();
  std::tm time = {};
  if (strptime(sheet.made.c_str(), "%Y-%m-%dT%H:%M:%S", &time) != nullptr)
    properties.created = timegm(&time);
  workbook_set_properties(book.get(), &properties);
}

}  // namespace

Result<std::vector<std::byte>> RenderXlsx(const ReportInput& input, const Sheet& sheet,
                                          const std::string& scratch) {
  const auto unwritable = [&](std::string_view why) {
    return Fail(Code::kFileUnwritable,
                fmt::format("{}: the workbook cannot be written there ({}); make room or name "
                            "another folder",
                            scratch, why));
  };
  std::string folder = (std::filesystem::path(scratch) / ".report-XXXXXX").string();
  if (mkdtemp(folder.data()) == nullptr) return unwritable("no folder can be made");
  const std::string path = folder + "/report.xlsx";
  lxw_error error = LXW_ERROR_CREATING_TMPFILE;
  {
    Book book(path, folder);
    if (book.open()) {
      Properties(book, sheet);
      FirstArticle(book, sheet);
      Statistics(book, sheet);
      Values(book, sheet);
      Findings(book, sheet);
      Open(book, sheet);
      DecisionLines(book, sheet);
      Budgets(book, input, sheet);
      About(book, sheet);
      error = book.Close();
    }
  }
  auto bytes = ReadFile(path);
  std::error_code ignored;
  std::filesystem::remove_all(folder, ignored);
  if (error != LXW_NO_ERROR) return unwritable(lxw_strerror(error));
  if (!bytes) return unwritable(bytes.error().message);
  return bytes;
}

}  // namespace cutface
