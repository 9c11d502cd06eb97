// What the store of records says of the faces, and who signed them as what.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>

#include "report/internal.h"

namespace cutface {
namespace {

constexpr std::array kMeanings = {SignatureMeaning::kMeasured, SignatureMeaning::kReviewed,
                                  SignatureMeaning::kApproved};

SheetLine* LineOf(std::vector<SheetLine>& lines, const SheetFace& face,
                  const ReportRecords::Open& item) {
  const auto found = std::find_if(lines.begin(), lines.end(), [&](const SheetLine& line) {
    return line.result_sha256 == face.result_sha256 && line.drawing_no == item.row &&
           line.finding == item.finding;
  });
  return found == lines.end() ? nullptr : &*found;
}

// What the store wants decided and the sheet does not: such as a high finding whose row is settled.
void AddOpen(Sheet& sheet, SheetFace& face, const ReportRecords::Open& item) {
  const std::string where = fmt::format("{} {}", face.label, face.name);
  if (item.row.empty() && !item.finding) {
    sheet.open.push_back({where, PlainText(item.text, 400)});
    return;
  }
  if (SheetLine* line = LineOf(sheet.open, face, item); line != nullptr) {
    line->approval_only = item.approval_only;
    return;
  }
  if (item.finding && *item.finding >= 0 &&
      static_cast<std::size_t>(*item.finding) < face.findings.size())
    face.findings[static_cast<std::size_t>(*item.finding)].settled = false;
  sheet.open.push_back({where, PlainText(item.text, 400) + "; needs a disposition in the records",
                        face.result_sha256, item.row, item.finding, item.approval_only});
}

// "F1, F3 of 24 faces", "all faces".
std::string FacesText(const std::vector<std::string>& labels, std::size_t all) {
  if (labels.size() == all) return all == 1 ? labels.front() : "all faces";
  return fmt::format("{} of {} faces", PlainText(JoinTexts(labels), 200), all);
}

// Whether something stands open that a signature typed in a file must wait for. The store of
// records asks that itself when it is signed there.
bool MustWait(const ReportInput& input, const Sheet& sheet, const Signature& s) {
  if (input.records) return false;
  return std::any_of(sheet.open.begin(), sheet.open.end(), [&](const SheetLine& line) {
    return s.of_sha256 == input.run_sha256 || line.result_sha256 == s.of_sha256;
  });
}

struct Group {  // signatures of one person with one meaning
  std::string first, last;
  std::vector<std::string> faces;
};

}  // namespace

void TakeRecords(const ReportInput& input, Sheet& sheet) {
  if (!input.records) {
    if (!input.decisions.signatures.empty())
      sheet.notes.emplace_back(
          "signatures are as typed in a file of dispositions: no passphrase stands behind them; "
          "cutface records keeps sealed ones");
    return;
  }
  const ReportRecords& records = *input.records;
  CF_CHECK(records.faces.size() == input.faces.size());
  sheet.records = fmt::format("{}: {} entries, head {}; chain and seals held",
                              PlainText(records.store), records.entries, records.head);
  for (SheetFace& face : sheet.faces) {
    const ReportRecords::Face& kept = records.faces[face.input];
    const std::string where = fmt::format("{} {}", face.label, face.name);
    face.record = kept.entry;
    if (kept.entry == 0)
      sheet.open.push_back({where,
                            "the result is not in the store of records; add it with cutface "
                            "records add, or batch --records"});
    if (kept.replaced_by != 0)
      sheet.open.push_back(
          {where, fmt::format("entry {} of the records was replaced by entry {}; report on that",
                              kept.entry, kept.replaced_by)});
    for (const ReportRecords::Open& item : kept.open) AddOpen(sheet, face, item);
  }
}

void FillSignatures(const ReportInput& input, Sheet& sheet) {
  for (const SignatureMeaning meaning : kMeanings) {
    std::map<std::string, Group> by;
    for (const Signature& s : input.decisions.signatures) {
      if (s.meaning != meaning) continue;
      const bool run = !input.run_sha256.empty() && s.of_sha256 == input.run_sha256;
      const std::string who = JoinTexts({PlainText(s.by, 120), PlainText(s.when, 40)});
      if (MustWait(input, sheet, s)) {
        sheet.notes.push_back(fmt::format(
            "a signature ({}, {}) does not count while something is open in what it signs",
            SignatureMeaningName(s.meaning), who));
        continue;
      }
      bool used = false;
      for (SheetFace& face : sheet.faces) {
        if (!run && face.result_sha256 != s.of_sha256) continue;
        Group& group = by[s.by];
        group.first = group.first.empty() ? s.when : std::min(group.first, s.when);
        group.last = std::max(group.last, s.when);
        if (std::find(group.faces.begin(), group.faces.end(), face.label) == group.faces.end())
          group.faces.push_back(face.label);
        face.signatures.emplace_back(SignatureMeaningName(meaning), who);
        used = true;
      }
      if (!used)
        sheet.notes.push_back(fmt::format(
            "a signature ({}, {}) is of another file (hash {}) and does not count here",
            SignatureMeaningName(s.meaning), who, PlainText(s.of_sha256.substr(0, 12))));
    }
    for (const auto& [name, group] : by) {
      const std::string when =
          group.first == group.last ? group.first : group.first + " to " + group.last;
      sheet.signatures.push_back(
          {std::string(SignatureMeaningName(meaning)),
           fmt::format("{} ({})", JoinTexts({PlainText(name, 120), PlainText(when, 60)}),
                       FacesText(group.faces, sheet.faces.size()))});
    }
    const std::string word(SignatureMeaningName(meaning));
    if (std::all_of(sheet.faces.begin(), sheet.faces.end(), [&](const SheetFace& face) {
          return std::any_of(face.signatures.begin(), face.signatures.end(),
                             [&](const auto& s) { return s.first == word; });
        }))
      sheet.signed_as.push_back(word);
  }
}

std::string Sheet::Standing() const {
  const std::string as = signed_as.empty() ? "" : "signed as " + JoinTexts(signed_as);
  if (open.empty()) return as.empty() ? "ready to sign" : as;
  const bool approval = std::all_of(open.begin(), open.end(),
                                    [](const SheetLine& line) { return line.approval_only; });
  return JoinTexts(
      {fmt::format("not ready to {}: {} open", approval ? "be approved" : "sign", open.size()), as},
      "; ");
}

}  // namespace cutface
