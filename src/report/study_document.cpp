// A study of the gauge as a document: an overview, then two plots a row of the drawing: what the
// spread is made of, and every reading by piece; each below the sentence that answers its question.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/report.h"
#include "report/document.h"
#include "report/internal.h"

namespace cutface {
namespace {

std::vector<std::string> PlainList(const std::vector<std::string>& texts) {
  std::vector<std::string> plain;
  for (const std::string& text : texts) plain.push_back(PlainText(text, 900));
  return plain;
}

std::string Reach(const std::optional<Interval>& interval, int digits) {
  return interval ? fmt::format("{0:.{2}g} to {1:.{2}g}", interval->lo, interval->hi, digits) : "-";
}

std::string OrDash(const std::optional<double>& value) {
  return value ? fmt::format("{:.2f}", *value) : "-";
}

std::string TitleOf(const SubjectStudy& s) {
  return PlainText(s.subject.title.empty() ? s.subject.no : s.subject.no + " " + s.subject.title);
}

std::string SpreadAnswer(const SubjectStudy& s) {
  const SpreadPart* gauge = s.by_anova.Find("gauge");
  const SpreadPart* pieces = s.by_anova.Find("pieces");
  if (gauge == nullptr) return "";
  if (pieces == nullptr) return "One piece: its repeats are all there is.";
  const char* first = gauge->sd > pieces->sd ? "measuring" : "the pieces";
  return fmt::format("Most of the spread is {}: the gauge {:.1f} % of it, the pieces {:.1f} %.",
                     first, gauge->percent_sd, pieces->percent_sd);
}

// A bar of the standard deviation for each source, with its interval.
Graph SpreadGraph(const SubjectStudy& s) {
  Graph graph;
  graph.id = "spread";
  graph.question = "What is the spread made of?";
  graph.answer = SpreadAnswer(s);
  const std::string& unit = s.subject.unit;
  graph.x.title = "standard deviation" + (unit.empty() || unit == "1" ? "" : ", " + unit);
  double most = 0;
  for (const SpreadPart& part : s.by_anova.parts) most = std::max(most, part.sd);
  double y = 0;
  bool whiskers = false, cut = false;
  for (const SpreadPart& part : s.by_anova.parts) {
    --y;
    graph.y.ticks.emplace_back(y, part.source);
    const std::vector<std::pair<double, double>> box = {
        {0, y - 0.32}, {part.sd, y - 0.32}, {part.sd, y + 0.32}, {0, y + 0.32}};
    graph.bands.push_back({box, ""});
    graph.paths.push_back({box, true, LineStyle::kSolid, PlotTone::kPlain, 0.8, ""});
    if (!part.sd_interval) continue;
    // The interval of two persons reaches far out and would squeeze all bars: cut and said.
    const double end = std::min(part.sd_interval->hi, 2.5 * most);
    cut = cut || end < part.sd_interval->hi;
    graph.paths.push_back({{{part.sd_interval->lo, y}, {end, y}},
                           false,
                           LineStyle::kSolid,
                           PlotTone::kWarm,
                           2,
                           whiskers ? "" : "95 % interval"});
    if (end == part.sd_interval->hi)
      graph.paths.push_back(
          {{{end, y - 0.16}, {end, y + 0.16}}, false, LineStyle::kSolid, PlotTone::kWarm, 2, ""});
    whiskers = true;
  }
  if (cut) graph.x.title += "; an interval without an end mark reaches further";
  graph.y.range = {{y - 0.6, -0.4}};
  graph.aspect = 0.10 + 0.042 * -y;
  return graph;
}

std::string WidestPiece(const SubjectStudy& s) {
  std::vector<std::pair<std::string, Interval>> pieces;
  for (const StudyReading& r : s.subject.readings) {
    if (!r.value) continue;
    const auto found = std::find_if(pieces.begin(), pieces.end(),
                                    [&](const auto& piece) { return piece.first == r.piece; });
    if (found == pieces.end()) {
      pieces.push_back({r.piece, {*r.value, *r.value}});
    } else {
      found->second.lo = std::min(found->second.lo, *r.value);
      found->second.hi = std::max(found->second.hi, *r.value);
    }
  }
  if (pieces.empty()) return "There is no reading.";
  const auto width = [](const auto& piece) { return piece.second.hi - piece.second.lo; };
  const auto widest =
      std::max_element(pieces.begin(), pieces.end(),
                       [&](const auto& a, const auto& b) { return width(a) < width(b); });
  if (width(*widest) == 0) return "Repeats do not differ on any piece.";
  return fmt::format("Repeats differ most on piece {}: by {}.", PlainText(widest->first, 60),
                     StudyFigure(width(*widest), s.subject.unit));
}

std::size_t IndexIn(std::vector<std::string>& list, const std::string& name) {
  const auto found = std::find(list.begin(), list.end(), name);
  if (found != list.end()) return static_cast<std::size_t>(found - list.begin());
  list.push_back(name);
  return list.size() - 1;
}

constexpr std::size_t kMostPieces = 60;  // more lanes than that cannot be told apart

// Every reading: pieces from left to right, in each a lane and a mark of its own for each person.
std::optional<Graph> ReadingsGraph(const SubjectStudy& s) {
  Graph graph;
  graph.id = "readings";
  graph.question = "Where do repeats differ?";
  graph.answer = WidestPiece(s);
  const std::string& unit = s.subject.unit;
  graph.y.title = (s.subject.title.empty() ? "value" : PlainText(s.subject.title, 60)) +
                  (unit.empty() || unit == "1" ? "" : ", " + unit);
  graph.x.title = "piece";
  std::vector<std::string> pieces, persons;
  std::optional<Interval> reach;
  for (const StudyReading& r : s.subject.readings) {
    if (!r.value) continue;
    IndexIn(pieces, r.piece);
    IndexIn(persons, r.person);
    if (!reach) reach = Interval{*r.value, *r.value};
    reach->lo = std::min(reach->lo, *r.value);
    reach->hi = std::max(reach->hi, *r.value);
  }
  if (pieces.empty() || pieces.size() > kMostPieces) return std::nullopt;
  // Four shapes that a grey print tells apart; more persons share them, and their lanes tell.
  constexpr PlotShape kShapes[] = {PlotShape::kRing, PlotShape::kSquare, PlotShape::kTriangle,
                                   PlotShape::kCross};
  constexpr PlotTone kTones[] = {PlotTone::kCool, PlotTone::kPlain, PlotTone::kWarm,
                                 PlotTone::kPlain};
  if (persons.size() > 1) graph.x.title = "piece; in it persons from left to right as named below";
  for (std::size_t j = 0; j < persons.size(); ++j)
    graph.marks.push_back({{},
                           kShapes[j % 4],
                           kTones[j % 4],
                           persons.size() == 1  ? ""
                           : persons[j].empty() ? "not named"
                                                : PlainText(persons[j], 24)});
  for (const StudyReading& r : s.subject.readings) {
    if (!r.value) continue;
    const std::size_t person = IndexIn(persons, r.person);
    const double lane =
        (static_cast<double>(person) + 1) / (static_cast<double>(persons.size()) + 1);
    graph.marks[person].points.push_back(
        {static_cast<double>(IndexIn(pieces, r.piece)) + lane, *r.value, {}, {}});
  }
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    graph.x.ticks.emplace_back(static_cast<double>(i) + 0.5, PlainText(pieces[i], 12));
    if (i > 0)
      graph.paths.push_back(
          {{{static_cast<double>(i), reach->lo}, {static_cast<double>(i), reach->hi}},
           false,
           LineStyle::kDotted,
           PlotTone::kPale,
           0.7,
           ""});
  }
  graph.x.range = {{0, static_cast<double>(pieces.size())}};
  // Limits far away from all readings would squeeze these into a line: told in words instead.
  const double wide = std::max(reach->hi - reach->lo, std::abs(reach->lo) * 1e-9 + 1e-12);
  for (const auto& [limit, word] :
       {std::pair{s.subject.min, "least allowed"}, std::pair{s.subject.max, "most allowed"}})
    if (limit && *limit >= reach->lo - 2 * wide && *limit <= reach->hi + 2 * wide)
      graph.rules.push_back({*limit, false, LineStyle::kDashed, word});
  graph.aspect = 0.42;
  return graph;
}

void AddSpreadTable(const SubjectStudy& s, DocumentSection& section) {
  std::vector<std::vector<std::string>> rows;
  for (const SpreadPart& part : s.by_anova.parts) {
    const SpreadPart* other = s.by_ranges.Find(part.source);
    rows.push_back({part.source, StudyFigure(part.sd), Reach(part.sd_interval, 4),
                    fmt::format("{:.2f}", part.percent_variance),
                    fmt::format("{:.2f}", part.percent_sd), Reach(part.percent_interval, 3),
                    OrDash(part.percent_tolerance), other ? StudyFigure(other->sd) : "-",
                    other ? fmt::format("{:.2f}", other->percent_sd) : "-"});
  }
  section.Table("spread-table",
                {{"source", 1.5},
                 {"sd", 0.9, true},
                 {"95 %", 1.5, true},
                 {"% of variance", 0.9, true},
                 {"% of spread", 0.8, true},
                 {"95 %", 1.1, true},
                 {"% of limits", 0.8, true},
                 {"sd, ranges", 0.9, true},
                 {"%, ranges", 0.8, true}},
                std::move(rows));
  section.Faint("sd and shares by analysis of variance, beside them those by averages and ranges.");
}

void AddVarianceTable(const SubjectStudy& s, DocumentSection& section) {
  if (s.anova.empty()) return;
  std::vector<std::vector<std::string>> rows;
  for (const VarianceRow& row : s.anova)
    rows.push_back({row.source, fmt::format("{:.7g}", row.ss), std::to_string(row.df),
                    fmt::format("{:.7g}", row.ms), row.f ? fmt::format("{:.5g}", *row.f) : "-",
                    row.p ? fmt::format("{:.4g}", *row.p) : "-"});
  section.Table("variance-table",
                {{"analysis of variance", 1.6},
                 {"sum of squares", 1, true},
                 {"degrees of freedom", 1, true},
                 {"mean square", 1, true},
                 {"F", 0.8, true},
                 {"p", 0.8, true}},
                std::move(rows));
}

DocumentSection SubjectSection(const SubjectStudy& s, std::size_t at) {
  DocumentSection section;
  section.id = fmt::format("row-{}", at);
  section.heading = TitleOf(s);
  section.new_page = true;
  section.in_menu = false;
  section.Strong(PlainText(s.answer, 900));
  if (s.by_anova.told && !s.identical) {
    section.Plot(SpreadGraph(s));
    AddSpreadTable(s, section);
  }
  if (auto readings = ReadingsGraph(s)) {
    section.Plot(std::move(*readings));
  } else {
    section.Text(WidestPiece(s));
  }
  if (!s.identical) AddVarianceTable(s, section);
  section.Bullets(PlainList(StudyNotes(s)));
  return section;
}

DocumentSection Overview(const Study& study) {
  DocumentSection section;
  section.id = "rows";
  section.heading = "Rows of the drawing";
  std::vector<std::vector<std::string>> rows;
  for (const SubjectStudy& s : study.subjects) {
    const SpreadPart* gauge = s.identical ? nullptr : s.by_anova.Find("gauge");
    rows.push_back(
        {PlainText(s.subject.no), PlainText(s.subject.title), s.grade,
         gauge ? StudyFigure(gauge->sd, s.subject.unit) : "-",
         gauge ? Reach(gauge->sd_interval, 3) : "-", gauge ? OrDash(gauge->percent_tolerance) : "-",
         gauge && s.pieces > 1 ? fmt::format("{:.2f}", gauge->percent_sd) : "-",
         s.by_anova.categories && !s.identical ? std::to_string(*s.by_anova.categories) : "-",
         fmt::format("{} x {} x {}", s.pieces, s.persons, s.trials)});
  }
  section.Table(
      "study-table",
      {{"No.", 0.5},
       {"characteristic", 2},
       {"grade", 1.3},
       {"gauge, sd", 1, true},
       {"95 %", 1.3, true},
       {"% of limits", 0.8, true},
       {"% of spread", 0.8, true},
       {"categories", 0.8, true},
       {study.level == StudyLevel::kRecut ? "pieces" : "pieces x persons x trials", 1.2, true}},
      std::move(rows));
  if (study.level == StudyLevel::kRecut)
    for (auto& row : section.blocks.back().rows)
      row.back() = row.back().substr(0, row.back().find(' '));
  if (!study.warnings.empty()) {
    section.Heading("To be noted");
    section.Bullets(PlainList(study.warnings));
  }
  return section;
}

ReportDocument StudyDocument(const Study& study, const ComparisonHead& head) {
  ReportDocument document;
  document.kicker = "Study of the gauge";
  document.title = "How much of the spread is the measuring?";
  document.software = head.software;
  document.made = head.made;
  document.leads = {study.subjects.size() == 1 ? PlainText(study.subjects[0].answer, 900)
                                               : PlainText(StudyAnswer(study), 900),
                    "What was done again: " + StudyLevelWords(study.level) + "."};
  std::string of;
  for (const std::string& text : {study.part, study.section})
    if (!text.empty()) of += (of.empty() ? "" : ", ") + text;
  if (!study.name.empty()) of += (of.empty() ? "study " : "; study ") + study.name;
  if (!of.empty()) document.leads.push_back(PlainText(of));
  document.sections.push_back(Overview(study));
  for (std::size_t i = 0; i < study.subjects.size(); ++i)
    document.sections.push_back(SubjectSection(study.subjects[i], i));
  DocumentSection limits;
  limits.id = "limits";
  limits.heading = "What this can and cannot show";
  limits.new_page = true;
  limits.Heading("It can");
  limits.Bullets(PlainList(study.can_show));
  limits.Heading("It cannot");
  limits.Bullets(PlainList(study.cannot_show));
  document.sections.push_back(std::move(limits));
  return document;
}

}  // namespace

std::vector<Graph> StudyGraphs(const SubjectStudy& s) {
  std::vector<Graph> graphs;
  if (s.by_anova.told && !s.identical) graphs.push_back(SpreadGraph(s));
  if (auto readings = ReadingsGraph(s)) graphs.push_back(std::move(*readings));
  return graphs;
}

Result<std::string> RenderStudyHtml(const Study& study, const ComparisonHead& head) {
  return DocumentHtml(StudyDocument(study, head));
}

Result<std::vector<std::byte>> RenderStudyPdf(const Study& study, const ComparisonHead& head) {
  return DocumentPdf(StudyDocument(study, head));
}

}  // namespace cutface
