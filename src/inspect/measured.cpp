#include "inspect/measured.h"

#include <vector>

#include "cutface/analyse.h"
#include "cutface/judge.h"

namespace cutface {

std::string FindingName(const Finding& finding) {
  std::string name = finding.kind;
  for (std::size_t i = 0; i < finding.where.size(); ++i)
    name += (i == 0 ? ", " : " and ") + finding.where[i];
  return name;
}

void MeasureAndJudge(const Design& design, const SectionDesign& plane, const Scale& scale,
                     const InspectOptions& options, std::span<const Correction> disposed,
                     SectionResult& result) {
  result.measurements =
      result.section.placement.oblique_corrected
          ? MeasureTiltCorrected(result.section, &design, &plane, scale, options.measure)
          : MeasureSection(result.section, &design, &plane, scale, options.measure);
  std::vector<Measurement> all = result.measurements;
  if (options.measure.loads) {
    result.pressure =
        MeasurePressure(result.section, design, *options.measure.loads, result.measurements);
    all = result.measurements;
    all.insert(all.end(), result.pressure->figures.begin(), result.pressure->figures.end());
  }
  result.findings = Analyse(result.section, &design, &plane, all);
  AttachHints(options.hints ? *options.hints : BuiltInHints(), result.findings);
  for (Finding& finding : result.findings) {
    for (const Correction& c : disposed) {
      if (c.kind != Correction::Kind::kDispose || c.of != FindingName(finding)) continue;
      finding.disposed_by = c.who;
      finding.disposition = c.to.empty() ? c.why : c.to + ": " + c.why;
    }
  }
  Judgement judgement = Judge(design, plane, all, result.findings, &result.section);
  result.characteristics = std::move(judgement.rows);
  result.verdict = judgement.verdict;
}

}  // namespace cutface
