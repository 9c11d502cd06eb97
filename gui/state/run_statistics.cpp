#include "gui/state/run_statistics.h"

namespace cutface::window {

void StatisticsMaker::Add(const FaceEntry& entry, const SectionResult& result,
                          const std::vector<Design>& designs) {
  Part& part = parts_[entry.part];
  if (part.design_sha256 != result.design_sha256 && part.design_sha256.empty()) {
    part.design_sha256 = result.design_sha256;
    for (const Design& design : designs) {
      if (design.sha256 != result.design_sha256) continue;
      for (const SectionDesign& section : design.sections)
        part.nominals.push_back(PrepareNominalFace(section));
      break;
    }
  }
  if (!part.trouble.empty()) return;
  std::optional<std::optional<FaceShape>> shape;
  if (count_++ % step_ == 0) {
    for (const NominalFace& nominal : part.nominals)
      if (nominal.plane == result.section_name) shape = ShapeOf(result, nominal);
  }
  if (auto status = part.gatherer.Add(entry, result, std::move(shape)); !status)
    part.trouble = status.error().message;
}

void StatisticsMaker::AddUnmeasured(const FaceEntry& entry) {
  if (entry.part.empty())
    nameless_.push_back(entry);
  else
    parts_[entry.part].gatherer.AddUnmeasured(entry);
}

RunStatistics StatisticsMaker::Finish() {
  RunStatistics out;
  for (const FaceEntry& entry : nameless_)
    if (parts_.size() == 1) parts_.begin()->second.gatherer.AddUnmeasured(entry);
  for (auto& [name, part] : parts_) {
    PartStatistics& statistics = out[name];
    statistics.trouble = part.trouble;
    if (!part.trouble.empty()) continue;
    auto comparison = CompareRun(part.gatherer.Finish(), {}, part.nominals);
    if (comparison)
      statistics.comparison = std::make_shared<const RunComparison>(std::move(*comparison));
    else
      statistics.trouble = comparison.error().message;
  }
  return out;
}

}  // namespace cutface::window
