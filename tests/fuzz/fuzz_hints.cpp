// A site's file of hints. What is accepted speaks of findings that there are, and gives a finding
// at most five causes, none twice.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>
#include <set>

#include "cutface/analyse.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const auto book = ParseHints({copy.get(), size}, "fuzz");
  if (!book) {
    CF_CHECK(!book.error().message.empty());
    CF_CHECK(book.error().message.find('\n') == std::string::npos);
    return 0;
  }
  std::vector<Finding> findings;
  for (const HintPattern& pattern : book->patterns) {
    Finding finding;
    finding.kind = pattern.finding;
    for (const HintPattern::Condition& when : pattern.when)
      finding.evidence[when.evidence] = when.at_least.value_or(0);
    findings.push_back(finding);
  }
  AttachHints(*book, findings);
  for (const Finding& finding : findings) {
    CF_CHECK(finding.hints.size() <= 5);
    std::set<std::string> causes;
    for (const Hint& hint : finding.hints) CF_CHECK(causes.insert(hint.cause).second);
  }
  return 0;
}
