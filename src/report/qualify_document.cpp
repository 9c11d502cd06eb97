// A qualification as a document: evidence, lengths, sizes found, what changes errors, known
// answers, and the paragraphs that a site's software validation needs.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/report.h"
#include "report/document.h"
#include "report/internal.h"

namespace cutface {
namespace {

std::vector<std::string> PlainLines(const std::vector<std::string>& texts) {
  std::vector<std::string> plain;
  for (const std::string& text : texts) plain.push_back(PlainText(text, 900));
  return plain;
}

// Titles are the first row; the first column and those of words are left.
void AddRows(DocumentSection& section, const std::string& id, const TextRows& rows,
             const std::vector<std::size_t>& words = {}) {
  std::vector<Column> columns;
  for (std::size_t c = 0; c < rows.front().size(); ++c) {
    const bool left = c == 0 || std::find(words.begin(), words.end(), c) != words.end();
    // As wide as its longest cell, titles on two lines; words may wrap.
    std::size_t widest = (rows.front()[c].size() + 1) / 2;
    for (std::size_t r = 1; r < rows.size(); ++r) widest = std::max(widest, rows[r][c].size());
    columns.push_back(
        {rows.front()[c], static_cast<double>(std::clamp<std::size_t>(widest, 6, 34)) + 1, !left});
  }
  section.Table(id, columns, {rows.begin() + 1, rows.end()});
}

std::string LengthsAnswer(const Qualification& q) {
  const WordErrors* worst = nullptr;
  for (const WordErrors& w : q.words)
    if (w.n > 0 && (worst == nullptr || w.rms_um > worst->rms_um)) worst = &w;
  if (worst == nullptr) return "No length was measured.";
  return fmt::format("The word furthest off is {}: RMS error {:.2f} um on {} values.", worst->word,
                     worst->rms_um, worst->n);
}

// Mean error with two standard deviations either way, and the limit where there is one.
Graph LengthsGraph(const Qualification& q) {
  Graph graph;
  graph.id = "lengths";
  graph.question = "How far off are lengths?";
  graph.answer = LengthsAnswer(q);
  graph.x.title = "error, um: mean with two standard deviations either way";
  PlotMarks mark{{}, PlotShape::kSquare, PlotTone::kPlain, "mean error"};
  double y = 0;
  bool limits = false;
  for (const WordErrors& w : q.words) {
    if (w.n == 0) continue;
    --y;
    graph.y.ticks.emplace_back(y, w.word);
    const double reach = 2 * w.sd_um;
    graph.paths.push_back({{{w.mean_um - reach, y}, {w.mean_um + reach, y}},
                           false,
                           LineStyle::kSolid,
                           PlotTone::kPlain,
                           1.4,
                           ""});
    mark.points.push_back({w.mean_um, y, {}, {}});
    if (!w.limit_um) continue;
    for (const double end : {-*w.limit_um, *w.limit_um}) {
      graph.paths.push_back({{{end, y - 0.35}, {end, y + 0.35}},
                             false,
                             LineStyle::kDashed,
                             PlotTone::kWarm,
                             2.2,
                             limits ? "" : "limit"});
      limits = true;
    }
  }
  graph.rules.push_back({0, true, LineStyle::kDotted, ""});
  graph.y.range = {{y - 0.7, -0.3}};
  graph.aspect = 0.12 + 0.034 * -y;
  graph.marks.push_back(std::move(mark));
  return graph;
}

// Share found by class of size: a bar up to the share, a mark at what is sure of it.
Graph FoundGraph(const FoundFigure& figure, double reliability, const std::string& what,
                 const std::string& sentence) {
  Graph graph;
  graph.id = "found-" + what;
  graph.question = fmt::format("From which size on are {} found?", what);
  graph.answer = sentence;
  graph.y.title = "share found, %";
  graph.x.title = what == "voids" ? "equal-area diameter, um; above: found of rendered"
                                  : "thickness, um; above: told within a pixel, of rendered";
  graph.y.range = {{0, 120}};
  graph.y.ticks = {{0, "0"}, {25, "25"}, {50, "50"}, {75, "75"}, {100, "100"}};
  PlotMarks sure{{}, PlotShape::kSquare, PlotTone::kPlain, "sure of it, 95 %"};
  double x = 0;
  bool named = false;
  for (const SizeClass& c : figure.classes) {
    ++x;
    graph.x.ticks.emplace_back(x, fmt::format("{:.3g} to {:.3g}", c.least_um, c.greatest_um));
    graph.notes.push_back({x, 112, fmt::format("{} of {}", c.found, c.of)});
    if (c.of == 0) continue;
    const double share = 100.0 * static_cast<double>(c.found) / static_cast<double>(c.of);
    const std::vector<std::pair<double, double>> box = {
        {x - 0.3, 0}, {x - 0.3, share}, {x + 0.3, share}, {x + 0.3, 0}};
    graph.bands.push_back({box, named ? "" : "share found"});
    named = true;
    graph.paths.push_back({box, true, LineStyle::kSolid, PlotTone::kPlain, 0.8, ""});
    sure.points.push_back({x, 100 * c.share_lo, {}, {}});
  }
  graph.x.range = {{0.4, x + 0.6}};
  graph.rules.push_back({100 * reliability, false, LineStyle::kDashed,
                         fmt::format("asked: {:g} %", 100 * reliability)});
  graph.marks.push_back(std::move(sure));
  graph.aspect = 0.3;
  return graph;
}

std::optional<Graph> FactorsGraph(const Qualification& q) {
  Graph graph;
  graph.id = "varied";
  graph.question = "What makes errors larger?";
  std::string named;
  constexpr LineStyle kStyles[] = {LineStyle::kSolid, LineStyle::kDashed, LineStyle::kDotted,
                                   LineStyle::kDashDot};
  constexpr PlotShape kShapes[] = {PlotShape::kCross, PlotShape::kRing, PlotShape::kSquare,
                                   PlotShape::kTriangle};
  constexpr PlotTone kTones[] = {PlotTone::kCool, PlotTone::kPlain, PlotTone::kWarm,
                                 PlotTone::kPlain};
  for (std::size_t i = 0; i < q.factors.size() && i < 4; ++i) {
    const FactorFigure& f = q.factors[i];
    if (f.p_all < 0.05) named += (named.empty() ? "" : ", ") + f.name;
    PlotPath path{{}, false, kStyles[i], kTones[i], 1.3, ""};
    PlotMarks marks{{},
                    kShapes[i],
                    kTones[i],
                    fmt::format("{}, {:.3g} to {:.3g}{}", f.name, f.least, f.greatest,
                                f.unit.empty() ? "" : " " + f.unit)};
    for (std::size_t k = 0; k < 3; ++k) {
      if (f.faces[k] == 0) continue;
      const double x = static_cast<double>(k) + 1;
      path.points.emplace_back(x, f.rms_um[k]);
      marks.points.push_back({x, f.rms_um[k], {}, {}});
    }
    if (path.points.size() < 2) continue;
    graph.paths.push_back(std::move(path));
    graph.marks.push_back(std::move(marks));
  }
  if (graph.marks.empty()) return std::nullopt;
  graph.answer = named.empty()
                     ? "Over these ranges no single one is shown to change errors."
                     : "Errors change with " + named + "; the others are not shown to matter here.";
  graph.y.title = "RMS error of lengths, um";
  graph.x.ticks = {{1, "lower third of its range"}, {2, "middle"}, {3, "upper third"}};
  graph.x.range = {{0.7, 3.3}};
  graph.aspect = 0.32;
  return graph;
}

DocumentSection EvidenceSection(const Qualification& q) {
  DocumentSection section;
  section.id = "evidence";
  section.heading = "Evidence with a real artefact";
  if (q.evidence_complete) {
    section.Text(PlainText(q.evidence, 900));
  } else {
    section.Strong(PlainText(q.evidence, 900));
  }
  if (q.checks.empty()) return section;
  std::vector<std::vector<std::string>> rows;
  for (const BenchEvidence& c : q.checks)
    rows.push_back({c.kind, PlainText(c.serial), PlainText(c.taken),
                    fmt::format("{:.2f}", c.certified_um), fmt::format("{:+.2f}", c.error_um),
                    fmt::format("{:.2f}", c.expanded_u_um), c.passed ? "yes" : "no",
                    c.this_record ? "yes" : "no"});
  section.Table("checks-table",
                {{"check", 1.2},
                 {"serial", 1},
                 {"taken", 1.4},
                 {"certified um", 1, true},
                 {"error um", 0.8, true},
                 {"U um", 0.7, true},
                 {"held", 0.6},
                 {"this record", 0.8}},
                std::move(rows));
  return section;
}

DocumentSection ValidationSection(const Qualification& q, const InstalledProgram& program) {
  DocumentSection section;
  section.id = "validation";
  section.heading = "For your software validation (ISO 13485:2016, 4.1.6 and 7.6)";
  section.new_page = true;
  section.Text(
      "Software that the quality system uses is to be validated for its intended use before first "
      "use and after changes, in proportion to the risk. These are the numbers of this "
      "installation; the plan, the acceptance criteria and the signature are yours.");
  section.Pairs(
      {{"program", PlainText("cutface " + program.version + ", SHA-256 " + program.program_sha256)},
       {"machine", PlainText(program.machine)},
       {"made", PlainText(program.made)},
       {"drawing",
        PlainText(q.part + " " + q.revision + ", " + q.section + ", SHA-256 " + q.design_sha256)},
       {"calibration", PlainText(q.calibration_id + ", SHA-256 " + q.calibration_sha256)},
       {"camera", PlainText(CameraSentence(q.camera), 900)},
       {"faces", fmt::format("{} rendered from seed {}, {} measured; the same call gives the same "
                             "faces",
                             q.faces, q.seed, q.measured)},
       {"intended use that was tried",
        "lengths (diameters, widths, walls, septa, rings and liners), voids, wires and broken "
        "septa "
        "of this section in pictures of this camera"},
       {"acceptance criteria",
        fmt::format(
            "the limits in the tables; intervals of 95 % that hold the truth in {:.0f} % or "
            "more; found in {:.0f} % with 95 % confidence; known answers within {:g} px",
            100 * q.limits.coverage, 100 * q.limits.reliability, kKnownAnswerPx)},
       {"result", PlainText(q.answer, 900)},
       {"repeat it",
        "after every change of program, operating system, processor, camera, objective "
        "or drawing"}});
  return section;
}

DocumentSection SizesSection(const Qualification& q, bool voids) {
  const FoundFigure& figure = voids ? q.voids : q.septa;
  DocumentSection section;
  section.id = voids ? "voids" : "septa";
  section.heading = voids ? "Voids" : "Septa";
  section.Plot(FoundGraph(figure, q.limits.reliability, voids ? "voids" : "septa",
                          FoundSentence(figure, section.heading)));
  if (voids) {
    section.Faint("Sizes are equal-area diameters. The square tells what is sure of the share.");
  } else {
    section.Text(fmt::format("Broken septa told as broken: {} of {}.", q.broken_told, q.broken));
  }
  return section;
}

ReportDocument QualificationDocument(const Qualification& q, const InstalledProgram& program) {
  ReportDocument document;
  document.kicker = "Qualification of an installation";
  document.title = "Does this installation measure right?";
  document.software = program.version;
  document.made = program.made;
  document.leads = {PlainText(q.answer, 900),
                    PlainText(q.part + ", revision " + q.revision + ", section " + q.section)};
  document.sections.push_back(EvidenceSection(q));
  DocumentSection lengths;
  lengths.id = "lengths";
  lengths.heading = "Lengths";
  lengths.Plot(LengthsGraph(q));
  AddRows(lengths, "lengths-table", QualifiedLengths(q));
  lengths.Faint(
      "Errors against the true geometry of the rendered faces, the scale's own doubt included; U "
      "is "
      "half of the 95 % interval. The interval of its share counts every face once.");
  std::vector<std::string> failing;
  for (const WordErrors& w : q.words)
    if (w.verdict == "fail") failing.push_back(w.word + " fails: " + w.reason);
  lengths.Bullets(failing);
  document.sections.push_back(std::move(lengths));
  document.sections.push_back(SizesSection(q, true));
  document.sections.push_back(SizesSection(q, false));
  if (const std::string wires = WireSentence(q.wires); !wires.empty()) {
    DocumentSection section;
    section.id = "wires";
    section.heading = "Wires";
    section.Text(wires);
    document.sections.push_back(std::move(section));
  }
  if (auto graph = FactorsGraph(q)) {
    DocumentSection section;
    section.id = "varied";
    section.heading = "What was varied together";
    section.Plot(std::move(*graph));
    AddRows(section, "varied-table", QualifiedFactors(q), {7});
    section.Faint(
        "All are varied from face to face at once, at points that fill the space evenly, so "
        "that none goes hand in hand with another. In brackets: faces of the third.");
    document.sections.push_back(std::move(section));
  }
  DocumentSection known;
  known.id = "known";
  known.heading = "Does it still compute what it did?";
  known.Text(PlainText(KnownSentence(q), 900));
  document.sections.push_back(std::move(known));
  document.sections.push_back(ValidationSection(q, program));
  DocumentSection limits;
  limits.id = "limits";
  limits.heading = "What this can and cannot show";
  limits.Heading("It can");
  limits.Bullets(PlainLines(q.can_show));
  limits.Heading("It cannot");
  limits.Bullets(PlainLines(q.not_covered));
  if (!q.not_tried.empty() || !q.failed_faces.empty()) {
    limits.Heading("Faces that were not tried as planned, or not measured");
    limits.Bullets(PlainLines(q.not_tried));
    limits.Bullets(PlainLines(q.failed_faces));
  }
  document.sections.push_back(std::move(limits));
  return document;
}

}  // namespace

std::vector<Graph> QualificationGraphs(const Qualification& q) {
  std::vector<Graph> graphs = {
      LengthsGraph(q),
      FoundGraph(q.voids, q.limits.reliability, "voids", FoundSentence(q.voids, "Voids")),
      FoundGraph(q.septa, q.limits.reliability, "septa", FoundSentence(q.septa, "Septa"))};
  if (auto varied = FactorsGraph(q)) graphs.push_back(std::move(*varied));
  return graphs;
}

Result<std::string> RenderQualificationHtml(const Qualification& q,
                                            const InstalledProgram& program) {
  return DocumentHtml(QualificationDocument(q, program));
}

Result<std::vector<std::byte>> RenderQualificationPdf(const Qualification& q,
                                                      const InstalledProgram& program) {
  return DocumentPdf(QualificationDocument(q, program));
}

}  // namespace cutface
