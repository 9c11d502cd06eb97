// What people decided, put where it belongs; and what is left open before anybody may sign.
#include <fmt/format.h>

#include <algorithm>

#include "report/internal.h"

namespace cutface {
namespace {

std::string Told(const Disposition& d) {
  std::string text(DispositionKindName(d.what));
  if (!d.reference.empty()) text += " " + PlainText(d.reference, 80);
  text += ", " + PlainText(d.by, 80);
  if (!d.when.empty()) text += ", " + PlainText(d.when, 40);
  return text + ": " + PlainText(d.reason);
}

// The last decision in the list holds; the list is in the order in which they were taken.
const Disposition* Find(const Decisions& decisions, const std::string& result_sha256,
                        const std::string& row, std::optional<int> finding) {
  const Disposition* found = nullptr;
  for (const Disposition& d : decisions.dispositions) {
    if (d.result_sha256 == result_sha256 && d.row == row && d.finding == finding) found = &d;
  }
  return found;
}

void SettleRows(const ReportInput& input, Sheet& sheet) {
  for (SheetRow& row : sheet.rows) {
    std::vector<std::string> remarks;
    for (SheetCell& cell : row.cells) {
      const SheetFace& face = sheet.faces[cell.face];
      const Disposition* d =
          Find(input.decisions, face.result_sha256, row.drawing_no, std::nullopt);
      if (d != nullptr) cell.disposition = Told(*d);
      if (NeedsDisposition(cell.verdict)) {
        const std::string objection =
            d == nullptr ? "needs a disposition" : Objection(*d, cell.verdict);
        cell.settled = objection.empty();
        (cell.settled ? sheet.settled : sheet.open)
            .push_back({fmt::format("{} {}, row {}", face.label, face.name, row.no),
                        fmt::format("{}, {}{}; {}", row.subject, VerdictName(cell.verdict),
                                    cell.reason.empty() ? "" : ": " + cell.reason,
                                    cell.settled ? cell.disposition : objection),
                        face.result_sha256, row.drawing_no, std::nullopt});
        remarks.push_back(fmt::format("{} {}{}", face.label, VerdictName(cell.verdict),
                                      cell.reason.empty() ? std::string() : ": " + cell.reason));
      }
      if (!cell.disposition.empty())
        remarks.push_back(fmt::format("{} {}", face.label, cell.disposition));
    }
    if (row.verdict == Verdict::kElsewhere)
      remarks.emplace_back("measured by other means; the value is not in this report");
    row.remark = JoinTexts(remarks, "; ");
  }
}

// A high finding is settled with the row that speaks of it, or by a decision of its own.
bool HasRow(const SectionResult& result, const Finding& finding) {
  for (const CharacteristicResult& row : result.characteristics) {
    if (row.finding == finding.kind) return true;
    if (NeedsDisposition(row.verdict) && !row.of.empty() && row.of.size() == finding.where.size() &&
        std::is_permutation(row.of.begin(), row.of.end(), finding.where.begin()))
      return true;
  }
  return false;
}

void SettleFindings(const ReportInput& input, Sheet& sheet) {
  for (SheetFace& face : sheet.faces) {
    const SectionResult& result = input.faces[face.input].result;
    for (std::size_t i = 0; i < face.findings.size(); ++i) {
      SheetFinding& shown = face.findings[i];
      const Finding& finding = result.findings[i];
      const Disposition* d = Find(input.decisions, face.result_sha256, "", static_cast<int>(i));
      if (d != nullptr) shown.disposition = JoinTexts({shown.disposition, Told(*d)}, "; ");
      const bool needed = finding.severity == Severity::kHigh && finding.disposed_by.empty() &&
                          !HasRow(result, finding);
      if (!needed && d == nullptr) continue;
      const std::string objection =
          d == nullptr ? "needs a disposition" : Objection(*d, Verdict::kNotProven);
      if (!needed && !objection.empty()) continue;
      shown.settled = objection.empty();
      std::string text = shown.text;  // a sentence; here it goes on
      if (text.ends_with('.')) text.pop_back();
      (shown.settled ? sheet.settled : sheet.open)
          .push_back({fmt::format("{} {}, finding {}", face.label, face.name, i + 1),
                      fmt::format("{}; {}", text, shown.settled ? Told(*d) : objection),
                      face.result_sha256, "", static_cast<int>(i)});
    }
  }
}

// A picture that could not be measured is settled by another one of the same face that could.
bool IsRepeated(const Roster& roster, const FaceEntry& entry) {
  return std::any_of(roster.faces.begin(), roster.faces.end(), [&](const FaceEntry& other) {
    return other.state == FaceState::kMeasured && other.repeat != RepeatKind::kNone &&
           !other.repeat_of.empty() && other.repeat_of == entry.image;
  });
}

void SettleEntries(const ReportInput& input, Sheet& sheet) {
  for (const FaceEntry& entry : input.roster.faces) {
    if (entry.state == FaceState::kMeasured) continue;
    const std::string image =
        PlainText(entry.image.empty() ? "a face without a picture" : entry.image);
    const std::string reason = PlainText(entry.reason, 400);
    sheet.unmeasured.push_back(
        {image, fmt::format("{}: {}", FaceStateName(entry.state),
                            reason.empty() ? "no reason was given" : reason)});
    if (!IsRepeated(input.roster, entry)) {
      sheet.open.push_back({image, fmt::format("{}; picture it again, or cut it again, and name it "
                                               "as a repeat",
                                               sheet.unmeasured.back().text)});
    }
  }
}

void NoteUnusedDecisions(const ReportInput& input, Sheet& sheet) {
  for (const Disposition& d : input.decisions.dispositions) {
    const SheetFace* face = nullptr;
    for (const SheetFace& f : sheet.faces) {
      if (f.result_sha256 == d.result_sha256) face = &f;
    }
    if (face == nullptr) {
      sheet.notes.push_back(
          fmt::format("a disposition ({}) speaks of a result that is not in this report (hash {}); "
                      "was the face "
                      "measured again since?",
                      Told(d), PlainText(d.result_sha256.substr(0, 12))));
      continue;
    }
    const SectionResult& result = input.faces[face->input].result;
    const bool hit =
        d.finding ? *d.finding >= 0 && static_cast<std::size_t>(*d.finding) < result.findings.size()
                  : std::any_of(result.characteristics.begin(), result.characteristics.end(),
                                [&](const CharacteristicResult& row) { return row.no == d.row; });
    if (hit) continue;
    sheet.notes.push_back(fmt::format(
        "a disposition ({}) speaks of {}, which {} does not have", Told(d),
        d.finding ? fmt::format("finding {}", *d.finding + 1) : "row " + PlainText(d.row, 40),
        face->label));
  }
}

}  // namespace

void SettleSheet(const ReportInput& input, Sheet& sheet) {
  SettleRows(input, sheet);
  SettleFindings(input, sheet);
  SettleEntries(input, sheet);
  NoteUnusedDecisions(input, sheet);
  TakeRecords(input, sheet);
  FillSignatures(input, sheet);
}

}  // namespace cutface
