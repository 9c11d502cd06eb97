// The comparison as pages.
#include <fmt/format.h>

#include "report/comparison_words.h"
#include "report/internal.h"
#include "report/pages.h"

namespace cutface {
namespace {

class ComparisonWriter {
 public:
  ComparisonWriter(Pages& pages, const RunComparison& c) : pages_(pages), c_(c) {}

  Status All() {
    Begin("Comparison of a run");
    pages_.Bookmark("Rows of the drawing");
    Overview();
    if (auto status = Against(); !status) return status;
    if (auto status = Factors(); !status) return status;
    if (auto status = MeanFacePages(c_.mean_faces, "Mean face"); !status) return status;
    if (auto status = Trends(); !status) return status;
    for (const RowStudy& study : c_.rows) {
      if (auto status = Row(study); !status) return status;
    }
    Begin("What this can and cannot show");
    pages_.Bookmark("What this can and cannot show");
    pages_.Heading("What this can show");
    pages_.Bullets(Plain(c_.can_show));
    pages_.Heading("What it cannot show");
    pages_.Bullets(Plain(c_.cannot_show));
    return {};
  }

 private:
  static constexpr double kWide = Pages::kRight - Pages::kLeft;

  static std::vector<std::string> Plain(const std::vector<std::string>& texts) {
    std::vector<std::string> plain;
    for (const std::string& text : texts) plain.push_back(PlainText(text, 900));
    return plain;
  }

  void Begin(const std::string& about) {
    pages_.NewPage(
        fmt::format("{} rev. {}  \u00b7  {}", PlainText(c_.part), PlainText(c_.revision), about));
  }

  void Overview() {
    pages_.Paragraph(PlainText(c_.part), {20, true}, 2);
    pages_.Paragraph("revision " + PlainText(c_.revision), {9, false, kFaint}, 2);
    pages_.Paragraph(PlainText(c_.counts_line, 900), {9, false, kInk}, 8);
    std::vector<TableRow> rows;
    for (const RowStudy& study : c_.rows) {
      const std::vector<std::string> all = RowCells(study);
      TableRow row;
      // Plane and characteristic share a cell; least and greatest another one.
      const std::string extremes = all[8].empty() ? "" : all[8] + " to " + all[9];
      for (const std::string& text : {all[0], all[2] + ", " + all[1], all[3],
                                      all[4] + (all[5].empty() ? "" : ", " + all[5] + " without"),
                                      extremes, all[10], all[11], all[12]})
        row.cells.push_back({text});
      row.cells.back().bold =
          study.answer == RowAnswer::kBroken || study.answer == RowAnswer::kNotShown;
      row.washed = study.answer == RowAnswer::kBroken;
      rows.push_back(std::move(row));
    }
    pages_.Table({{"No.", 0.45},
                  {"characteristic, plane", 2.1},
                  {"requirement", 1.4},
                  {"n", 0.75},
                  {"least to greatest", 1.5},
                  {"tolerance bound", 1.7},
                  {"capability", 1.3},
                  {"answer", 1.2}},
                 rows);
    if (c_.notes.empty()) return;
    pages_.Heading("To be noted");
    pages_.Bullets(Plain(c_.notes));
  }

  Status Draw(const Graph& graph, bool with_answer) {
    return pages_.Plot(graph, with_answer ? PlainText(graph.answer, 900) : std::string());
  }

  Status Against() {
    if (!c_.against) return {};
    Begin("Against the other run");
    pages_.Bookmark("Against the other run");
    pages_.Heading("Against the other run");
    pages_.Paragraph(PlainText(c_.against->reference_counts, 900));
    bool first = true;
    for (const Graph& graph : DifferenceGraphs(*c_.against)) {
      if (!first) continue;  // the strips stand in the HTML file
      first = false;
      if (auto status = Draw(graph, true); !status) return status;
    }
    std::vector<TableRow> rows;
    for (const RowDifference& d : c_.against->rows) {
      TableRow row;
      for (const std::string& text :
           {d.row.no, d.row.subject + ", " + d.row.plane, d.sentence, JoinTexts(d.doubts, "; ")})
        row.cells.push_back({PlainText(text, 900)});
      rows.push_back(std::move(row));
    }
    pages_.Table(
        {{"No.", 0.4}, {"characteristic, plane", 1.6}, {"what is told", 3.6}, {"doubts", 1.2}},
        rows);
    pages_.Bullets(Plain(c_.against->unmatched));
    return MeanFacePages(c_.against->mean_faces, "Mean face of the other run");
  }

  Status Factors() {
    if (c_.effects.empty()) return {};
    Begin("Factors");
    pages_.Bookmark("Factors");
    pages_.Heading("Factors");
    pages_.Paragraph(
        "Planes and repeats are nested in parts: levels are tested against the spread between "
        "parts.",
        {7.6, false, kFaint});
    std::vector<std::string> others;
    for (const FactorEffect& effect : c_.effects) {
      if (effect.p && effect.p_all < 0.05) {
        if (auto status = Draw(FactorGraph(effect), true); !status) return status;
      } else {
        others.push_back(PlainText(
            effect.row.subject + " (" + JoinTexts(effect.planes) + "): " + effect.sentence, 900));
      }
    }
    pages_.Bullets(others);
    return {};
  }

  Status MeanFacePages(const std::vector<MeanFace>& faces, const std::string& title) {
    for (const MeanFace& face : faces) {
      Begin(title);
      pages_.Bookmark(title + ": " + FaceName(face));
      pages_.Heading(title + ": " + FaceName(face));
      if (face.not_laid > 0)
        pages_.Paragraph(
            fmt::format("{} of its faces could not be laid over the drawing: its datum "
                        "is not on them.",
                        face.not_laid));
      if (auto status = Draw(MeanFaceGraph(face, c_.units), true); !status) return status;
      std::vector<std::string> texts;
      for (const FeatureDirections& d : face.directions) texts.push_back(PlainText(d.sentence));
      if (texts.empty()) continue;
      pages_.Heading("Towards which side lumens lie off");
      pages_.Bullets(texts);
    }
    return {};
  }

  Status Trends() {
    if (c_.trends.empty()) return {};
    Begin("Along the part");
    pages_.Bookmark("Along the part");
    for (const StationTrend& trend : c_.trends) {
      const Graph graph = TrendGraph(trend);
      pages_.Need(kWide * graph.aspect + 90);  // no heading alone at the foot of a page
      pages_.Heading("Along the part: " + PlainText(trend.subject));
      if (auto status = Draw(graph, true); !status) return status;
    }
    return {};
  }

  Status Row(const RowStudy& study) {
    Begin(RowName(study.row));
    pages_.Bookmark(RowName(study.row));
    pages_.Heading(RowName(study.row));
    pages_.Paragraph(AnswerText(study.answer) + ": " + PlainText(study.sentence, 900), {9.2, true});
    pages_.Bullets(Plain(study.doubts));
    if (!study.advice.empty()) pages_.Bullets(study.advice);
    bool first = true;
    for (const Graph& graph : RowGraphs(study)) {
      if (auto status = Draw(graph, !first); !status) return status;
      first = false;
    }
    pages_.Pairs(RowPairs(study), 110);
    return {};
  }

  Pages& pages_;
  const RunComparison& c_;
};

}  // namespace

Result<std::vector<std::byte>> RenderComparisonPdf(const RunComparison& c,
                                                   const ComparisonHead& head) {
  const std::string running =
      fmt::format("cutface {}  \u00b7  {} rev. {}  \u00b7  made {}", head.software,
                  PlainText(c.part), PlainText(c.revision), head.made);
  Pages::Heights heights;
  int total = 0;
  {
    Pages counting(running, 0, heights);
    if (auto status = ComparisonWriter(counting, c).All(); !status)
      return tl::unexpected(status.error());
    total = counting.page();
  }
  Pages pages(running, total, heights);
  pages.SetHead({fmt::format("Comparison {} rev. {}", PlainText(c.part), PlainText(c.revision)), "",
                 "Comparison of a run", PlainText(c.counts_line, 900), "cutface " + head.software,
                 head.made});
  if (auto status = ComparisonWriter(pages, c).All(); !status)
    return tl::unexpected(status.error());
  return pages.Finish();
}

}  // namespace cutface
