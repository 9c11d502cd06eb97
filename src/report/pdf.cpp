// The PDF report: cover, summary, a page a face, what sections show, appendices.
#include "report/pdf.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "cutface/picture.h"
#include "report/pages.h"

namespace cutface {
namespace {

using Pairs = std::vector<std::pair<std::string, std::string>>;

std::string Short(const std::string& sha) { return sha.empty() ? "" : sha.substr(0, 16); }

std::string VerdictText(Verdict verdict) {
  return fmt::format("{} {}", VerdictSign(verdict), VerdictName(verdict));
}

class Writer {
 public:
  Writer(Pages& pages, const ReportInput& input, const Sheet& sheet, const FaceSource* source)
      : pages_(pages), input_(input), sheet_(sheet), source_(source) {}

  Status All() {
    Cover();
    Summary();
    int below = 0;
    for (std::size_t i = 0; i < sheet_.faces.size(); ++i) {
      if (auto status = Face(i, below); !status) return status;
    }
    Limits();
    Formulas();
    Budget();
    Files();
    return {};
  }

 private:
  void Start(const std::string& what) {
    pages_.NewPage(fmt::format("{}  \u00b7  {} rev. {}", what, sheet_.part, sheet_.revision));
  }

  void Cover() {
    pages_.NewPage("");
    pages_.Bookmark("Cover");
    pages_.Box(0, 0, 14, Pages::kHeight, kBlue);
    pages_.MoveTo(74);
    const double box_w = 158, text_w = Pages::kRight - Pages::kLeft - box_w - 16;
    const double top = pages_.y();
    pages_.Paragraph("Section report", {10, false, kFaint}, 8);
    double y = pages_.y();
    y += pages_.Draw(Pages::kLeft, y, text_w, sheet_.part.empty() ? "no drawing" : sheet_.part,
                     {25, true, kInk});
    y += pages_.Draw(Pages::kLeft, y + 2, text_w, sheet_.title, {11, false, kInk}) + 2;
    y += pages_.Draw(Pages::kLeft, y + 4, text_w,
                     JoinTexts({sheet_.revision.empty() ? "" : "revision " + sheet_.revision,
                                sheet_.lots.empty() ? "lot not stated" : "lot " + sheet_.lots}),
                     {11, false, kInk}) +
         4;
    const double x = Pages::kRight - box_w;
    pages_.VerdictBox(x, top, box_w, 34, sheet_.verdict);
    const double standing = pages_.Draw(x, top + 40, box_w, sheet_.Standing(),
                                        {8.5, !sheet_.ready(), kInk, TextStyle::Align::kCentre});
    pages_.MoveTo(std::max({y, top + 64, top + 44 + standing}) + 16);
    pages_.Line(Pages::kLeft, pages_.y(), Pages::kRight, pages_.y(), 0.9, kInk);
    pages_.Skip(10);
    CoverPairs();
    pages_.Heading("Signatures");
    SignatureLines();
    if (!sheet_.records.empty()) pages_.Pairs({{"records", sheet_.records}}, 92);
    pages_.Heading("Cautions");
    pages_.Bullets(sheet_.cautions);
    if (!sheet_.notes.empty()) {
      pages_.Heading("To be noted");
      pages_.Bullets(sheet_.notes);
    }
  }

  std::string Verdicts() const {
    std::vector<std::string> texts;
    for (const Verdict v : {Verdict::kDoesNotConform, Verdict::kNotMeasured, Verdict::kNotProven,
                            Verdict::kConforms, Verdict::kElsewhere}) {
      const auto n = std::count_if(sheet_.rows.begin(), sheet_.rows.end(),
                                   [&](const SheetRow& row) { return row.verdict == v; });
      if (n > 0) texts.push_back(fmt::format("{}: {}", VerdictName(v), n));
    }
    return JoinTexts(texts);
  }

  void CoverPairs() {
    Pairs pairs = {
        {"Faces", sheet_.counts_line},
        {"Rows", Verdicts()},
        {"Section planes", JoinTexts(sheet_.planes)},
        {"Drawing", JoinTexts({sheet_.design_file, "SHA-256 " + Short(sheet_.design_sha256)})},
        {"Decision rule", sheet_.decision_rule}};
    for (const SheetBench& b : sheet_.benches) {
      pairs.emplace_back(
          "Calibration",
          fmt::format("{}: certificate {}{}; due {}; {}{}", b.id, b.certificate,
                      b.certificate_due.empty() ? "" : " (due " + b.certificate_due + ")", b.due,
                      b.pitch, b.artefact.empty() ? "" : "; " + b.artefact));
    }
    pairs.emplace_back("Uncertainty", "95 % intervals; covers: " + sheet_.u_scope);
    pairs.emplace_back("Inspector", sheet_.inspectors);
    pairs.emplace_back("Program", JoinTexts({"cutface " + sheet_.software,
                                             sheet_.program_sha256.empty()
                                                 ? ""
                                                 : "SHA-256 " + Short(sheet_.program_sha256)}));
    pairs.emplace_back("Run",
                       sheet_.run_sha256.empty() ? "" : "SHA-256 " + Short(sheet_.run_sha256));
    pairs.emplace_back("Report made", sheet_.made);
    pages_.Pairs(pairs, 92);
  }

  void SignatureLines() {
    for (const char* meaning : {"measured", "reviewed", "approved"}) {
      bool signed_by = false;
      for (const SheetLine& line : sheet_.signatures) {
        if (line.label != meaning) continue;
        pages_.Pairs({{meaning, line.text}}, 92);
        signed_by = true;
      }
      if (signed_by) continue;
      pages_.Draw(Pages::kLeft, pages_.y(), 84, meaning, {8.2, false, kFaint});
      const double y = pages_.y() + 11;
      pages_.Line(Pages::kLeft + 92, y, Pages::kLeft + 330, y, 0.6, kFaint);
      pages_.Line(Pages::kLeft + 346, y, Pages::kRight, y, 0.6, kFaint);
      pages_.Draw(Pages::kLeft + 92, y + 1, 200, "name, signature", {6, false, kFaint});
      pages_.Draw(Pages::kLeft + 346, y + 1, 100, "date", {6, false, kFaint});
      pages_.Skip(25);
    }
  }

  void Summary() {
    Start("Summary");
    const int mark = pages_.Bookmark("Summary");
    pages_.Heading("Summary");
    pages_.Paragraph(sheet_.counts_line);
    std::vector<TableRow> rows;
    std::string plane;
    for (const SheetRow& row : sheet_.rows) {
      if (row.plane != plane) {
        plane = row.plane;
        rows.push_back({{{"section " + plane}}, false, true});
      }
      const bool bad = NeedsDisposition(row.verdict);
      rows.push_back({{{row.no},
                       {row.subject},
                       {row.requirement},
                       {row.n ? std::to_string(*row.n) : fmt::format("? ({} faces)", row.measured)},
                       {Figure(row.least, row)},
                       {Figure(row.mean, row)},
                       {Figure(row.greatest, row)},
                       {UnitText(row), false, true},
                       {VerdictText(row.verdict), bad}},
                      row.verdict == Verdict::kDoesNotConform,
                      false});
    }
    pages_.Table({{"No.", 0.6},
                  {"characteristic", 2.5},
                  {"requirement", 1.6},
                  {"n", 0.55, true},
                  {"least", 0.85, true},
                  {"mean", 0.85, true},
                  {"greatest", 0.85, true},
                  {"unit", 0.6},
                  {"verdict", 2.0}},
                 rows);
    pages_.Paragraph(
        "n is the number of parts; each part enters with one value. Verdicts are the worst of all "
        "faces.",
        {7.2, false, kFaint});
    FacesTable();
    if (!sheet_.open.empty()) {
      Start("Summary");
      pages_.Bookmark("Open before signing", mark);
      pages_.Heading(fmt::format("Open before signing: {}", sheet_.open.size()));
      pages_.Paragraph(
          "Each needs a disposition by a named person: accept, recut, rework, scrap, or a "
          "concession "
          "with its reference.",
          {7.6, false, kFaint});
      LineTable("where", "what is open", sheet_.open);
    }
    if (!sheet_.settled.empty()) {
      if (sheet_.open.empty()) Start("Summary");
      pages_.Bookmark("Settled by a disposition", mark);
      pages_.Heading(fmt::format("Settled by a disposition: {}", sheet_.settled.size()));
      LineTable("where", "what was decided", sheet_.settled);
    }
    if (!sheet_.unmeasured.empty()) {
      pages_.Heading("Pictures without a result");
      LineTable("picture", "why", sheet_.unmeasured);
    }
  }

  void FacesTable() {
    pages_.Heading("Faces");
    std::vector<TableRow> rows;
    for (const SheetFace& f : sheet_.faces) {
      rows.push_back({{{f.label},
                       {f.serial.empty() ? "not stated" : f.serial},
                       {f.lot},
                       {JoinTexts({f.plane, f.station, f.side})},
                       {f.image},
                       {f.repeat},
                       {VerdictText(f.verdict), NeedsDisposition(f.verdict)}},
                      f.verdict == Verdict::kDoesNotConform,
                      false});
    }
    pages_.Table({{"", 0.45},
                  {"serial", 1},
                  {"lot", 0.8},
                  {"plane, station, side", 1.7},
                  {"picture", 2.1},
                  {"repeat", 1.1},
                  {"verdict", 1.9}},
                 rows);
  }

  void LineTable(const std::string& left, const std::string& right,
                 const std::vector<SheetLine>& lines) {
    std::vector<TableRow> rows;
    for (const SheetLine& line : lines) rows.push_back({{{line.label}, {line.text}}, false, false});
    pages_.Table({{left, 1.2}, {right, 3}}, rows);
  }

  Status Face(std::size_t at, int& below) {
    const SheetFace& face = sheet_.faces[at];
    const SectionResult& result = input_.faces[face.input].result;
    Start(fmt::format("{}  {}", face.label, face.name));
    if (below == 0) below = pages_.Bookmark("Faces");
    pages_.Bookmark(
        fmt::format("{} {}, {}: {}", face.label, face.name, face.plane, VerdictName(face.verdict)),
        below);
    const double box_w = 150;
    pages_.Draw(Pages::kLeft, pages_.y(), Pages::kRight - Pages::kLeft - box_w - 12,
                fmt::format("{}  {}", face.label, face.name),
                {14, true, kInk, TextStyle::Align::kLeft, true});
    pages_.Draw(
        Pages::kLeft, pages_.y() + 19, Pages::kRight - Pages::kLeft - box_w - 12,
        JoinTexts({face.plane, face.station, face.side, face.lot.empty() ? "" : "lot " + face.lot,
                   face.block.empty() ? "" : "block " + face.block, face.factors}),
        {8.2, false, kFaint, TextStyle::Align::kLeft, true});
    pages_.VerdictBox(Pages::kRight - box_w, pages_.y(), box_w, 26, face.verdict);
    pages_.Skip(40);
    const double aspect = result.image_width_px > 0
                              ? static_cast<double>(result.image_height_px) / result.image_width_px
                              : 0.75;
    const double width = Pages::kRight - Pages::kLeft;
    const double height = std::clamp(width * aspect + 30, 120.0, 372.0);
    std::string note;
    if (source_ != nullptr) {
      auto picture = (*source_)(at);
      if (!picture) return tl::unexpected(picture.error());
      PictureOptions options;
      options.longest_edge_px = kFaceEdgePx;
      options.label_scale = 1.25;
      options.jpeg_quality = kFaceQuality;
      options.ready = &(*picture)->ready;
      auto used = DrawFace(pages_.cairo(), {Pages::kLeft, pages_.y(), width, height},
                           (*picture)->micrograph, (*picture)->scale, result, options);
      if (!used) return tl::unexpected(used.error());
      note = (*picture)->note;
    }
    pages_.Skip(height + 4);
    // Lines of fixed height: while pages are counted the note is not known.
    const TextStyle caption{6.8, false, kFaint, TextStyle::Align::kLeft, true};
    TextStyle told = caption;
    told.bold = true;
    pages_.Draw(
        Pages::kLeft, pages_.y(), width,
        JoinTexts({face.image, face.taken.empty() ? "taken: unknown" : "taken " + face.taken,
                   face.calibration}),
        caption);
    pages_.Draw(Pages::kLeft, pages_.y() + 9, width, note, told);
    pages_.Skip(24);
    FaceRows(face, at);
    FaceSignatures(face);
    FaceFindings(face);
    return {};
  }

  void FaceRows(const SheetFace& face, std::size_t at) {
    std::vector<TableRow> rows;
    for (const std::size_t r : face.rows) {
      const SheetRow& row = sheet_.rows[r];
      const auto cell = std::find_if(row.cells.begin(), row.cells.end(),
                                     [&](const SheetCell& c) { return c.face == at; });
      std::string remark = cell->reason;
      if (!cell->disposition.empty()) remark += (remark.empty() ? "" : "; ") + cell->disposition;
      if (!cell->settled)
        remark += remark.empty() ? "needs a disposition" : "; needs a disposition";
      rows.push_back({{{row.no},
                       {row.subject},
                       {row.requirement},
                       {cell->actual.empty() ? "" : cell->actual + " " + UnitText(row)},
                       {cell->interval},
                       {VerdictText(cell->verdict), NeedsDisposition(cell->verdict)},
                       {PlainText(remark, 900), false, true}},
                      cell->verdict == Verdict::kDoesNotConform,
                      false});
    }
    if (rows.empty()) {
      pages_.Paragraph("The drawing has no rows for this plane; nothing was judged.");
      return;
    }
    pages_.Table({{"No.", 0.55},
                  {"characteristic", 2.05},
                  {"requirement", 1.7},
                  {"actual", 1.2, true},
                  {"95 % interval", 1.75, true},
                  {"verdict", 1.88},
                  {"remark", 1.5}},
                 rows);
  }

  void FaceSignatures(const SheetFace& face) {
    Pairs pairs;
    for (const auto& [meaning, who] : face.signatures)
      pairs.emplace_back("signed: " + meaning, who);
    if (sheet_.records.empty() && pairs.empty()) return;
    if (!sheet_.records.empty()) {
      if (pairs.empty()) pairs.emplace_back("signed", "by nobody");
      pairs.emplace_back("record", face.record == 0 ? "not in the store" : RecordText(face));
    }
    pages_.Need(14.0 * static_cast<double>(pairs.size()));
    pages_.Pairs(pairs, 92);
  }

  void FaceFindings(const SheetFace& face) {
    if (!face.findings.empty()) {
      pages_.Heading("Findings");
      for (const SheetFinding& f : face.findings) {
        pages_.Need(26);
        pages_.Paragraph(
            fmt::format("{}{} ({})", f.kind, f.where.empty() ? "" : ", " + f.where, f.severity),
            {8.5, true, kInk}, 1);
        pages_.Paragraph(f.text, {8.2, false, kInk}, 2);
        for (std::size_t i = 0; i < f.hints.size() && i < 3; ++i) {
          pages_.Paragraph(fmt::format("usual cause: {}; check: {} ({})", f.hints[i].cause,
                                       f.hints[i].check, f.hints[i].basis),
                           {7.2, false, kFaint}, 2);
        }
        if (!f.disposition.empty())
          pages_.Paragraph("disposition: " + f.disposition, {8.2, true, kInk}, 2);
        if (!f.settled) pages_.Paragraph("needs a disposition", {8.2, true, kInk}, 2);
        pages_.Skip(4);
      }
      pages_.Paragraph("Hints are suggestions to check, never a diagnosis.", {7.2, false, kFaint});
    }
    if (!face.remarks.empty()) {
      pages_.Heading("Remarks");
      pages_.Bullets(face.remarks);
    }
  }

  void Limits() {
    Start("What these sections can and cannot show");
    pages_.Bookmark("What these sections can and cannot show");
    pages_.Heading("What these sections can show");
    pages_.Bullets(sheet_.can_show);
    pages_.Heading("What they cannot show");
    pages_.Bullets(sheet_.cannot_show);
    pages_.Heading("Cautions");
    pages_.Bullets(sheet_.cautions);
  }

  void Formulas() {
    Start("Appendix: formulas");
    pages_.Bookmark("Appendix: formulas");
    pages_.Heading("Formulas");
    std::vector<TableRow> rows;
    for (const FormulaLine& f : FormulasOf(sheet_))
      rows.push_back(
          {{{f.word, true}, {f.definition}, {f.formula}, {f.source, false, true}}, false, false});
    if (rows.empty()) {
      pages_.Paragraph("No row of the drawing asks for a quantity of the table.");
      return;
    }
    pages_.Table({{"word", 1.3}, {"definition", 2.6}, {"formula", 2.3}, {"source", 1.4}}, rows);
  }

  void Budget() {
    Start("Appendix: uncertainty");
    pages_.Bookmark("Appendix: uncertainty");
    pages_.Heading("Uncertainty budgets");
    pages_.Paragraph(
        "Standard uncertainties of each row on the face where it is greatest. Contributions are "
        "combined in the draws that give the interval, not by this table (JCGM 101).",
        {7.6, false, kFaint});
    std::vector<TableRow> rows;
    for (const BudgetOfRow& b : BudgetsOf(input_, sheet_)) {
      std::vector<std::string> lines;
      for (const auto& [source, u] : b.lines) lines.push_back(fmt::format("{} {:.2g}", source, u));
      rows.push_back({{{b.no},
                       {b.subject},
                       {b.face},
                       {fmt::format("{:.2g} {}", b.u, b.unit == "1" ? "" : b.unit)},
                       {JoinTexts(lines, ";  ")}},
                      false,
                      false});
    }
    if (rows.empty()) {
      pages_.Paragraph("No row has a measured value.");
      return;
    }
    pages_.Table({{"No.", 0.6},
                  {"characteristic", 2.2},
                  {"face", 0.6},
                  {"u", 1, true},
                  {"contributions", 4}},
                 rows);
  }

  void Files() {
    Start("Appendix: files");
    pages_.Bookmark("Appendix: files");
    pages_.Heading("Files behind this report");
    std::vector<TableRow> rows;
    for (const SheetFace& f : sheet_.faces) {
      rows.push_back({{{f.label},
                       {f.image + "\n" + f.image_sha256},
                       {f.result_file + "\n" + f.result_sha256},
                       {JoinTexts({f.time, "cutface " + f.software, f.operator_name})}},
                      false,
                      false});
    }
    pages_.Table({{"", 0.4}, {"picture, SHA-256", 3}, {"result, SHA-256", 3}, {"measured", 1.6}},
                 rows);
    for (const SheetBench& b : sheet_.benches)
      pages_.Pairs({{"calibration " + b.id, b.sha256}}, 150);
    pages_.Pairs({{"drawing", sheet_.design_sha256},
                  {"program", sheet_.program_sha256},
                  {"run", sheet_.run_sha256}},
                 150);
  }

  Pages& pages_;
  const ReportInput& input_;
  const Sheet& sheet_;
  const FaceSource* source_;
};

}  // namespace

Result<std::vector<std::byte>> RenderPdf(const ReportInput& input, const Sheet& sheet,
                                         const FaceSource& source) {
  const std::string running = fmt::format("cutface {}  \u00b7  {} rev. {}  \u00b7  made {}",
                                          sheet.software, sheet.part, sheet.revision, sheet.made);
  Pages::Heights heights;
  int total = 0;
  {
    Pages counting(running, 0, heights);
    if (auto status = Writer(counting, input, sheet, nullptr).All(); !status)
      return tl::unexpected(status.error());
    total = counting.page();
  }
  Pages pages(running, total, heights);
  pages.SetHead({fmt::format("Section report {} rev. {}", sheet.part, sheet.revision),
                 sheet.inspectors, sheet.title, JoinTexts({"lot " + sheet.lots, sheet.counts_line}),
                 "cutface " + sheet.software, sheet.made});
  if (auto status = Writer(pages, input, sheet, &source).All(); !status)
    return tl::unexpected(status.error());
  CF_CHECK(pages.page() == total);
  return pages.Finish();
}

}  // namespace cutface
