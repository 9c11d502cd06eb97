// A run's rows, one after another.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "compare/internal.h"

namespace cutface {
namespace {

Status CheckSubgroup(const Run& run, const std::string& by) {
  static constexpr std::array<std::string_view, 5> kWords = {"", "lot", "block", "day", "operator"};
  if (std::find(kWords.begin(), kWords.end(), by) != kWords.end()) return {};
  std::set<std::string> names;
  for (const FaceEntry& entry : run.roster.faces) {
    for (const auto& [name, level] : entry.factors) names.insert(name);
  }
  if (names.count(by) > 0) return {};
  std::string known = "lot, block, day, operator";
  for (const std::string& name : names) known += ", " + name;
  return Fail(Code::kUsage,
              fmt::format("subgroup {}: no face of the run has it; known are {}", by, known));
}

}  // namespace

Result<RunComparison> CompareRun(const Run& run, const CompareOptions& options,
                                 const std::vector<NominalFace>& nominals) {
  if (run.faces.empty()) {
    return Fail(
        Code::kUsage,
        "there is no measured face to compare; measure some first (cutface batch, measure)");
  }
  if (auto status = CheckSubgroup(run, options.subgroup); !status)
    return tl::unexpected(status.error());
  RunComparison comparison;
  comparison.part = run.part, comparison.revision = run.revision;
  comparison.counts = run.counts;
  comparison.counts_line = CountsLine(run.counts);
  comparison.units = run.units;
  comparison.options = options;
  for (std::size_t at = 0; at < run.rows.size(); ++at) {
    RowStudy study;
    CollectParts(run, at, options, study);
    StudyRow(options, study);
    AnswerRow(options, study);
    comparison.rows.push_back(std::move(study));
  }
  for (const std::string& factor : options.factors) {
    const bool known =
        std::any_of(run.roster.faces.begin(), run.roster.faces.end(),
                    [&](const FaceEntry& entry) { return entry.factors.count(factor) > 0; });
    if (!known)
      return Fail(Code::kUsage, fmt::format("factor {}: no face of the run has it", factor));
    if (!run.counts.n) continue;  // which faces are of one part is not known
    for (FactorEffect& effect : FactorEffects(run, factor))
      comparison.effects.push_back(std::move(effect));
  }
  comparison.trends = TrendsOf(run);
  comparison.mean_faces = MeanFaces(run, nominals);
  WriteLimits(run, comparison);
  return comparison;
}

}  // namespace cutface
