// Hints in the panel: one line a kind of finding, the most usual cause.
#include <fmt/format.h>

#include <set>

#include "picture/build.h"

namespace cutface {

std::vector<std::string> HintLines(const SectionResult& result) {
  constexpr std::size_t kMost = 4;  // the panel is for the gravest; the result file has all
  std::vector<std::string> lines;
  std::set<std::string> told;
  for (const Finding& finding : result.findings) {
    if (finding.hints.empty() || lines.size() >= kMost || !told.insert(finding.kind).second)
      continue;
    const Hint& hint = finding.hints.front();
    lines.push_back(fmt::format("{}\tusual cause ({}): {}. Check: {}", finding.kind, hint.basis,
                                hint.cause, hint.check));
  }
  return lines;
}

}  // namespace cutface
