// Files of decisions and signatures. What is accepted has no fault by the rules for values, and
// survives writing.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/roster.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const auto decisions = ParseDecisions({copy.get(), size}, "fuzz");
  if (!decisions) {
    CF_CHECK(!decisions.error().message.empty());
    CF_CHECK(decisions.error().message.find('\n') == std::string::npos);
    return 0;
  }
  for (const Disposition& one : decisions->dispositions) CF_CHECK(Fault(one).empty());
  for (const Signature& one : decisions->signatures) CF_CHECK(Fault(one).empty());
  const std::string text = DecisionsToJson(*decisions);
  const auto again = ParseDecisions(text, "again");
  CF_CHECK(again.has_value());
  CF_CHECK(DecisionsToJson(*again) == text);
  return 0;
}
