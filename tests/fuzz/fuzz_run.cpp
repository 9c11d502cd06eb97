// Files of runs. What is accepted survives writing, from then on every byte, and counts add up.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/roster.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const auto run = ParseRoster({copy.get(), size}, "fuzz");
  if (!run) {
    CF_CHECK(!run.error().message.empty());
    CF_CHECK(run.error().message.find('\n') == std::string::npos);
    return 0;
  }
  const std::string text = RosterToJson(*run);
  const auto again = ParseRoster(text, "again");
  CF_CHECK(again.has_value());
  CF_CHECK(RosterToJson(*again) == text);

  const Counts counts = Count(*run);
  CF_CHECK(counts.measured + counts.rejected + counts.waiting ==
           static_cast<int>(run->faces.size()));
  int rejected = 0;
  for (const auto& [code, n] : counts.rejected_by) rejected += n;
  CF_CHECK(rejected == counts.rejected);
  CF_CHECK(counts.n.has_value() == counts.n_unknown.empty());
  if (counts.n) CF_CHECK(*counts.n == static_cast<int>(counts.parts.size()));
  CF_CHECK(CountsLine(counts).find('\n') == std::string::npos);
  return 0;
}
