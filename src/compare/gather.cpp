// Results come in one by one; what a run needs of them stays.
#include <fmt/format.h>

#include <algorithm>

#include "compare/internal.h"
#include "cutface/picture.h"
#include "cutface/quantity.h"

namespace cutface {
namespace {

const QuantityRow* WordOf(const std::string& quantity) {
  for (const QuantityRow& row : QuantityTable()) {
    if (row.word == quantity) return &row;
  }
  return nullptr;
}

bool IsCompared(const CharacteristicResult& c) {
  return c.verdict != Verdict::kElsewhere && (!c.quantity.empty() || !c.finding.empty());
}

RunRow RowFrom(const std::string& plane, const CharacteristicResult& c) {
  RunRow row;
  row.plane = plane;
  row.no = c.no;
  row.subject = SubjectText(c);
  row.requirement = RequirementText(c);
  row.of = c.of;
  row.quantity = c.quantity;
  row.finding = c.finding;
  row.unit = c.unit;
  row.criticality = c.criticality;
  row.min = c.min, row.max = c.max, row.nominal = c.nominal;
  const QuantityRow* word = WordOf(c.quantity);
  row.count = !c.finding.empty() || (word != nullptr && word->kind == QuantityKind::kCount);
  row.circular = word != nullptr && word->circular;
  row.at_least_zero = word != nullptr && word->at_least_zero;
  return row;
}

tl::unexpected<Error> Differs(const FaceEntry& entry, std::string_view what, const std::string& is,
                              const std::string& other) {
  return Fail(Code::kDesignMismatch,
              fmt::format("{}: {} is \"{}\", but \"{}\" on the run's first face; a run is compared "
                          "against one drawing: measure again or leave the file out",
                          entry.result_file, what, is, other));
}

}  // namespace

Status RunGatherer::Add(const FaceEntry& entry, const SectionResult& r,
                        std::optional<std::optional<FaceShape>> shape) {
  if (run_.faces.empty()) {
    run_.part = r.part, run_.revision = r.revision, run_.design_sha256 = r.design_sha256;
    run_.units = r.units;
  }
  if (r.part != run_.part) return Differs(entry, "the part", r.part, run_.part);
  if (r.revision != run_.revision) return Differs(entry, "the revision", r.revision, run_.revision);
  if (r.design_sha256 != run_.design_sha256)
    return Differs(entry, "the drawing's hash", r.design_sha256.substr(0, 12),
                   run_.design_sha256.substr(0, 12));
  if (r.units != run_.units)
    return Differs(entry, "the unit", std::string(UnitName(r.units)),
                   std::string(UnitName(run_.units)));
  if (!r.image_sha256.empty() &&
      !seen_.emplace(r.image_sha256 + r.section_name, entry.result_file).second) {
    return Fail(Code::kUsage,
                fmt::format("{}: the picture {} stands in this run already; name each "
                            "result once",
                            entry.result_file, r.image_file));
  }
  RunFace face;
  face.entry = run_.roster.faces.size();
  face.shape_wanted = shape.has_value();
  if (shape) face.shape = std::move(*shape);
  face.names_proven = r.section.placement.names_proven;
  auto [known, fresh] = run_.rows_of.try_emplace(r.section_name);
  std::size_t at = 0;
  for (const CharacteristicResult& c : r.characteristics) {
    if (!IsCompared(c)) continue;
    if (fresh) {
      known->second.push_back(run_.rows.size());
      run_.rows.push_back(RowFrom(r.section_name, c));
    }
    const RunRow* row = at < known->second.size() ? &run_.rows[known->second[at]] : nullptr;
    if (row == nullptr || row->no != c.no || row->min != c.min || row->max != c.max ||
        row->unit != c.unit || row->quantity != c.quantity || row->of != c.of) {
      return Differs(entry, "row " + c.no, RequirementText(c),
                     row == nullptr ? "" : row->no + " " + row->requirement);
    }
    face.cells.push_back({c.actual, c.lo, c.hi, c.verdict, c.actual ? "" : c.reason});
    ++at;
  }
  if (at != known->second.size())
    return Differs(entry, "the number of rows", std::to_string(at),
                   std::to_string(known->second.size()));
  run_.roster.faces.push_back(entry);
  FaceEntry& kept = run_.roster.faces.back();
  kept.plane = r.section_name;
  if (!kept.sample.station_mm) kept.sample.station_mm = r.sample.station_mm;
  if (kept.sample.taken.empty()) kept.sample.taken = r.sample.taken;
  run_.faces.push_back(std::move(face));
  return {};
}

void RunGatherer::AddUnmeasured(const FaceEntry& entry) { run_.roster.faces.push_back(entry); }

Run RunGatherer::Finish() {
  run_.counts = Count(run_.roster);
  return std::move(run_);
}

}  // namespace cutface
