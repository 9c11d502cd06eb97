// Ledgers of runs. What is read of a line survives writing, and a ledger that was cut off anywhere
// loses no whole line in front of the cut.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/batch.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const std::string_view text(copy.get(), size);
  const auto ledger = ParseLedger(text, "fuzz");
  if (!ledger) {
    CF_CHECK(ledger.error().code == Code::kUsage);
    CF_CHECK(ledger.error().message.find('\n') == std::string::npos);
    return 0;
  }
  CF_CHECK(ledger->whole_bytes <= size);
  CF_CHECK(ledger->whole_bytes == 0 || text[ledger->whole_bytes - 1] == '\n');
  CF_CHECK(text.find('\n', ledger->whole_bytes) == std::string_view::npos);
  if (ledger->whole_bytes == 0) return 0;

  std::string written(text.substr(0, text.find('\n') + 1));
  for (const LedgerLine& line : ledger->lines) {
    CF_CHECK(!line.image.empty() && line.width_px >= 0 && line.height_px >= 0);
    written += LedgerLineToJson(line);
  }
  const auto again = ParseLedger(written, "again");
  CF_CHECK(again && again->lines.size() == ledger->lines.size());
  CF_CHECK(again->whole_bytes == written.size());
  for (std::size_t i = 0; i < again->lines.size(); ++i)
    CF_CHECK(LedgerLineToJson(again->lines[i]) == LedgerLineToJson(ledger->lines[i]));
  if (!again->lines.empty()) {
    const auto cut = ParseLedger(std::string_view(written).substr(0, written.size() - 1), "cut");
    CF_CHECK(cut && cut->lines.size() + 1 == again->lines.size());
  }
  return 0;
}
