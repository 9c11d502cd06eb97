// The sentences of a report: what these sections can and cannot show, and the cautions.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "cutface/quantity.h"
#include "cutface/stats.h"
#include "report/internal.h"

namespace cutface {
namespace {

std::string Many(int n, std::string_view one, std::string_view more) {
  return fmt::format("{} {}", n, n == 1 ? one : more);
}

// What n parts say about a lot, had they been drawn from it at random.
std::string LotSentence(const Sheet& sheet) {
  if (!sheet.counts.n_measured || *sheet.counts.n_measured < 1) {
    return "How many parts these faces come from is not known, so nothing can be said about a lot.";
  }
  const int n = *sheet.counts.n_measured;
  std::set<std::string> failing;
  for (const SheetFace& face : sheet.faces) {
    if (face.verdict == Verdict::kDoesNotConform) failing.insert(face.part_key);
  }
  const int k = static_cast<int>(failing.size());
  // One tail of 5 %: the upper end of the two-sided 90 % interval.
  const double most = BinomialInterval(k, n, 0.90).second;
  return fmt::format(
      "{} of the {} measured {} a row that does not conform. Had the parts been drawn at random "
      "from "
      "a lot, up to {:.1f} % of that lot could be like that (one-sided 95 %, exact binomial; "
      "Clopper "
      "and Pearson 1934). Were they not drawn at random, even that cannot be said.",
      k, Many(n, "part", "parts"), k == 1 ? "has" : "have", 100 * most);
}

std::string SmallestVoid(const ReportInput& input) {
  double most = 0;
  for (const ReportFace& face : input.faces) {
    most = std::max(most, face.result.section.picture.smallest_void_px * face.result.mean_pitch_um);
  }
  return fmt::format(
      "Voids smaller than about {:.0f} um across are not seen (the coarsest of these pictures), "
      "nor "
      "is anything that lies between two cuts.",
      most);
}

void FillCan(Sheet& sheet) {
  const Counts& counts = sheet.counts;
  const std::string parts =
      counts.n ? Many(*counts.n, "part", "parts") : "an unknown number of parts";
  sheet.can_show.push_back(
      fmt::format("{} of {}, {}: {}.", Many(counts.faces_cut, "cut face", "cut faces"), parts,
                  Many(static_cast<int>(sheet.planes.size()), "section plane", "section planes"),
                  JoinTexts(sheet.planes)));
  sheet.can_show.emplace_back(
      "Each value holds for the plane that was cut, of the part that was destroyed for it, as it "
      "was "
      "after cutting, potting and polishing.");
  sheet.can_show.emplace_back(
      "Intervals are 95 %; they contain the picture's noise, edges, scale and optics as named "
      "under "
      "uncertainty.");
  sheet.can_show.emplace_back(
      "Several planes, re-images and recuts of one part are nested in it: n counts parts, and each "
      "part enters least, mean and greatest with one value.");
}

void FillCannot(const ReportInput& input, Sheet& sheet) {
  sheet.cannot_show.push_back(LotSentence(sheet));
  if (!sheet.planes_missing.empty()) {
    sheet.cannot_show.push_back("The drawing has sections of which there is no face here: " +
                                JoinTexts(sheet.planes_missing) + ".");
  }
  sheet.cannot_show.push_back(SmallestVoid(input));
  sheet.cannot_show.push_back(fmt::format(
      "Uncertainty covers: {}. What cutting, potting and polishing did to the part is in it only "
      "where a study of the site is named.",
      sheet.u_scope));
  const auto elsewhere =
      std::count_if(sheet.rows.begin(), sheet.rows.end(),
                    [](const SheetRow& row) { return row.verdict == Verdict::kElsewhere; });
  if (elsewhere > 0) {
    sheet.cannot_show.push_back(
        elsewhere == 1
            ? "One row of the drawing is measured by other means; its value is not in this report."
            : fmt::format(
                  "{} rows of the drawing are measured by other means; their values are not "
                  "in this report.",
                  elsewhere));
  }
  sheet.cannot_show.emplace_back(
      "A barrier is the least solid that this plane shows; it proves neither a leak nor "
      "tightness.");
}

}  // namespace

void WriteProse(const ReportInput& input, Sheet& sheet) {
  FillCan(sheet);
  FillCannot(input, sheet);
  sheet.cautions = {
      "A section shows one plane of one destroyed sample, altered by cutting; it proves nothing "
      "about the rest of the lot without a sampling plan.",
      "Pressure and flow figures are for screening and never replace burst, leak and flow tests.",
      "Validate the software for its intended use in your own quality system before relying on it; "
      "local regulation and qualified people decide.",
      "Blades, resins, solvents and polishing dust are hazardous: follow the site's safety rules."};
  for (const SheetBench& bench : sheet.benches) {
    if (bench.certificate == "UNCERTIFIED")
      sheet.notes.push_back("calibration " + bench.id +
                            " is uncertified: lengths are not traceable");
    if (!bench.remark.empty())
      sheet.notes.push_back("calibration " + bench.id + ": " + bench.remark);
  }
  for (const SheetFace& face : sheet.faces) {
    for (const std::string& remark : face.remarks) {
      if (remark.starts_with("overruled"))
        sheet.notes.push_back(face.label + " " + face.name + ": " + remark);
    }
  }
  if (!sheet.counts.n_unknown.empty())
    sheet.notes.push_back("parts cannot be counted: " + PlainText(sheet.counts.n_unknown));
  for (const std::string& warning : input.roster.warnings)
    sheet.notes.push_back(PlainText(warning, 400));
}

std::vector<FormulaLine> FormulasOf(const Sheet& sheet) {
  std::set<std::string> words;
  for (const SheetRow& row : sheet.rows) words.insert(row.quantity);
  std::vector<FormulaLine> lines;
  std::set<std::string> seen;
  for (const QuantityRow& q : QuantityTable()) {
    if (words.count(std::string(q.word)) == 0) continue;
    FormulaLine line{std::string(q.word), std::string(q.title), std::string(q.definition),
                     std::string(q.formula), std::string(q.source)};
    if (seen.insert(line.word + line.definition + line.formula).second)
      lines.push_back(std::move(line));
  }
  return lines;
}

std::vector<BudgetOfRow> BudgetsOf(const ReportInput& input, const Sheet& sheet) {
  std::vector<BudgetOfRow> budgets;
  for (const SheetRow& row : sheet.rows) {
    const SheetCell* widest = nullptr;
    for (const SheetCell& cell : row.cells) {
      if (cell.u && (widest == nullptr || *cell.u > *widest->u)) widest = &cell;
    }
    if (widest == nullptr) continue;
    const SheetFace& face = sheet.faces[widest->face];
    const SectionResult& result = input.faces[face.input].result;
    const CharacteristicResult* c = RowOf(result, row);
    const Measurement* m = c == nullptr ? nullptr : MeasurementOf(result, *c);
    if (m == nullptr) continue;
    BudgetOfRow budget{row.no, row.subject, face.label, row.unit, *widest->u, {}};
    for (const BudgetLine& line : m->budget)
      budget.lines.emplace_back(PlainText(line.source, 60), RowUnits(line.u, m->unit, row.unit));
    budgets.push_back(std::move(budget));
  }
  return budgets;
}

}  // namespace cutface
