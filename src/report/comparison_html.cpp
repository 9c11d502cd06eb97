// The comparison as one HTML file: nothing is loaded, no script runs.
#include <fmt/format.h>

#include <array>

#include "report/comparison_words.h"
#include "report/html_parts.h"
#include "report/internal.h"

namespace cutface {
namespace {

constexpr char kComparisonStyle[] =
#include "report_css.inc"
    ;

Result<std::string> Figure(const Graph& graph) {
  auto svg = PlotSvg(graph);
  if (!svg) return tl::unexpected(svg.error());
  return fmt::format(
      "<figure data-plot=\"{}\"><figcaption><span class=\"faint\">{}</span> <strong>{}</strong>"
      "</figcaption>{}</figure>\n",
      graph.id, HtmlEscaped(graph.question), HtmlEscaped(PlainText(graph.answer, 900)), *svg);
}

// The answer stands beside what is asked, where a narrow window still shows it.
constexpr std::array<std::size_t, 13> kCellOrder = {0, 1, 2, 3, 12, 4, 5, 6, 7, 8, 9, 10, 11};

std::string OverviewTable(const RunComparison& c) {
  CF_CHECK(RowTitles().size() == kCellOrder.size());
  const auto is_number = [](std::size_t cell) { return cell >= 4 && cell <= 9; };
  std::vector<html::Title> titles;
  for (const std::size_t cell : kCellOrder) titles.push_back({RowTitles()[cell], is_number(cell)});
  std::string text = html::TableOpen("compared-table", titles, false);
  for (std::size_t r = 0; r < c.rows.size(); ++r) {
    const RowStudy& study = c.rows[r];
    const bool bad = study.answer == RowAnswer::kBroken || study.answer == RowAnswer::kNotShown;
    text += fmt::format("<tr{} data-answer=\"{}\">", bad ? " class=\"bad\"" : "",
                        RowAnswerName(study.answer));
    const std::vector<std::string> cells = RowCells(study);
    for (const std::size_t cell : kCellOrder) {
      const std::string words = HtmlEscaped(cells[cell]);
      text += cell == 2 ? fmt::format("<td><a href=\"#row-{}\">{}</a></td>", r, words)
              : cell == 12
                  ? fmt::format("<td><strong>{}</strong></td>", words)
                  : fmt::format("<td{}>{}</td>", is_number(cell) ? " class=\"num\"" : "", words);
    }
    text += "</tr>\n";
  }
  return text + std::string(html::kTableClose);
}

std::vector<std::string> Plains(const std::vector<std::string>& texts) {
  std::vector<std::string> plain;
  for (const std::string& text : texts) plain.push_back(PlainText(text, 900));
  return plain;
}

Result<std::string> RowSection(const RowStudy& study, std::size_t at) {
  std::string text = fmt::format("<section id=\"row-{}\"><h2>{}</h2><p><strong>{}: {}</strong></p>",
                                 at, HtmlEscaped(RowName(study.row)), AnswerText(study.answer),
                                 HtmlEscaped(PlainText(study.sentence, 900)));
  if (!study.doubts.empty()) text += html::List(Plains(study.doubts));
  if (!study.advice.empty())
    text += "<h3>How many parts would tell</h3>" + html::List(study.advice);
  bool first = true;
  for (const Graph& graph : RowGraphs(study)) {
    Graph shown = graph;
    if (first) shown.answer.clear();  // it is the row's own sentence above
    first = false;
    auto figure = Figure(shown);
    if (!figure) return figure;
    text += *figure;
  }
  text += "<dl>";
  for (const auto& [label, value] : RowPairs(study)) text += html::Pair(label, value);
  return text + "</dl></section>\n";
}

Result<std::string> MeanFaceSection(const RunComparison& c) {
  if (c.mean_faces.empty()) return std::string();
  std::string text =
      "<section id=\"mean-face\"><h2>The mean face</h2><p class=\"small faint\">All contours laid "
      "over the drawing in its datum frame, one mean a part; deviations are along the drawing's "
      "normals.</p>";
  for (const MeanFace& face : c.mean_faces) {
    text += "<h3>" + HtmlEscaped(FaceName(face)) + "</h3>";
    if (face.not_laid > 0)
      text += fmt::format(
          "<p>{} of its faces could not be laid over the drawing: its datum is not "
          "on them.</p>",
          face.not_laid);
    auto figure = Figure(MeanFaceGraph(face, c.units));
    if (!figure) return figure;
    text += *figure;
    std::vector<std::string> directions;
    for (const FeatureDirections& d : face.directions) directions.push_back(PlainText(d.sentence));
    if (!directions.empty())
      text += "<h3>Towards which side lumens lie off</h3>" + html::List(directions);
  }
  return text + "</section>\n";
}

Result<std::string> AgainstSection(const RunComparison& c) {
  if (!c.against) return std::string();
  std::string text = "<section id=\"against\"><h2>Against the other run</h2><p>" +
                     HtmlEscaped(PlainText(c.against->reference_counts, 900)) + "</p>";
  for (const Graph& graph : DifferenceGraphs(*c.against)) {
    auto figure = Figure(graph);
    if (!figure) return figure;
    text += *figure;
  }
  text += html::TableOpen("against-table",
                          {{"No."}, {"Plane"}, {"Characteristic"}, {"What is told"}, {"Doubts"}},
                          false);
  for (const RowDifference& d : c.against->rows) {
    text += "<tr>";
    for (const std::string& cell :
         {d.row.no, d.row.plane, d.row.subject, d.sentence, JoinTexts(d.doubts, "; ")})
      text += "<td>" + HtmlEscaped(PlainText(cell, 900)) + "</td>";
    text += "</tr>\n";
  }
  text += html::kTableClose;
  if (!c.against->unmatched.empty()) text += html::List(Plains(c.against->unmatched));
  for (const MeanFace& face : c.against->mean_faces) {
    text += "<h3>Mean face of the other run: " + HtmlEscaped(FaceName(face)) + "</h3>";
    auto figure = Figure(MeanFaceGraph(face, c.units));
    if (!figure) return figure;
    text += *figure;
    std::vector<std::string> directions;
    for (const FeatureDirections& d : face.directions) directions.push_back(PlainText(d.sentence));
    text += html::List(directions);
  }
  return text + "</section>\n";
}

Result<std::string> FactorSection(const RunComparison& c) {
  if (c.effects.empty()) return std::string();
  std::string text =
      "<section id=\"factors\"><h2>Factors</h2><p class=\"small faint\">Planes and repeats are "
      "nested in parts: levels are tested against the spread between parts.</p>";
  std::vector<std::string> others;
  for (const FactorEffect& effect : c.effects) {
    if (effect.p && effect.p_all < 0.05) {
      auto figure = Figure(FactorGraph(effect));
      if (!figure) return figure;
      text += *figure;
    } else {
      others.push_back(PlainText(
          effect.row.subject + " (" + JoinTexts(effect.planes) + "): " + effect.sentence, 900));
    }
  }
  return text + (others.empty() ? "" : html::List(others)) + "</section>\n";
}

}  // namespace

Result<std::string> RenderComparisonHtml(const RunComparison& c, const ComparisonHead& head) {
  std::string text = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta "
      "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src {}; base-uri "
      "'none'; form-action 'none'\"><meta name=\"viewport\" content=\"width=device-width\"><meta "
      "name=\"generator\" content=\"cutface {}\"><title>Comparison {} rev. {}</title>\n<style>{}"
      "</style></head><body>\n",
      html::PolicyHash(kComparisonStyle), HtmlEscaped(head.software),
      HtmlEscaped(PlainText(c.part)), HtmlEscaped(PlainText(c.revision)), kComparisonStyle);
  text += fmt::format(
      "<header class=\"top\"><div><p class=\"faint\">Comparison of a run</p><h1>{}</h1><p>revision "
      "{}</p><p>{}</p></div></header>\n<nav class=\"parts\" aria-label=\"Parts of the page\"><a "
      "href=\"#rows\">Rows</a>{}{}{}{}<a href=\"#limits\">What this can and cannot show</a></nav>"
      "<main>\n",
      HtmlEscaped(PlainText(c.part)), HtmlEscaped(PlainText(c.revision)),
      HtmlEscaped(PlainText(c.counts_line, 900)),
      c.against ? "<a href=\"#against\">Against the other run</a>" : "",
      c.effects.empty() ? "" : "<a href=\"#factors\">Factors</a>",
      c.mean_faces.empty() ? "" : "<a href=\"#mean-face\">Mean face</a>",
      c.trends.empty() ? "" : "<a href=\"#along\">Along the part</a>");
  text += "<section id=\"rows\"><h2>Rows of the drawing</h2>" + OverviewTable(c);
  if (!c.notes.empty()) text += "<h3>To be noted</h3>" + html::List(Plains(c.notes));
  text += "<p class=\"small faint\">" +
          HtmlEscaped(fmt::format("cutface {}, made {}", head.software, head.made)) +
          "</p></section>\n";
  for (const auto& make : {AgainstSection, FactorSection, MeanFaceSection}) {
    auto section = make(c);
    if (!section) return section;
    text += *section;
  }
  if (!c.trends.empty()) {
    text += "<section id=\"along\"><h2>Along the part</h2>";
    for (const StationTrend& trend : c.trends) {
      auto figure = Figure(TrendGraph(trend));
      if (!figure) return figure;
      text += "<h3>" + HtmlEscaped(PlainText(trend.subject)) + "</h3>" + *figure;
    }
    text += "</section>\n";
  }
  for (std::size_t i = 0; i < c.rows.size(); ++i) {
    auto section = RowSection(c.rows[i], i);
    if (!section) return section;
    text += *section;
  }
  text += "<section id=\"limits\"><h2>What this can and cannot show</h2><h3>It can</h3>" +
          html::List(Plains(c.can_show)) + "<h3>It cannot</h3>" +
          html::List(Plains(c.cannot_show)) + "</section>\n";
  return text + "</main></body></html>\n";
}

}  // namespace cutface
