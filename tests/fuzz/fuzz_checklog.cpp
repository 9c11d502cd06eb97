// Logs of checks. What is accepted holds verdicts that its own numbers bear out.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/calibration_keeping.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const auto log = ParseCheckLog({copy.get(), size}, "fuzz");
  if (!log) {
    CF_CHECK(!log.error().message.empty());
    return 0;
  }
  for (const BenchCheck& check : *log) {
    BenchCheck again = check;
    DecideCheck(again);
    CF_CHECK(again.passed == check.passed);
    CalibrationRecord record;
    record.id = check.calibration_id;
    record.sha256 = check.calibration_sha256;
    const auto required = RequireCheck(*log, record, check.taken, 1);
    CF_CHECK(required || required.error().code == Code::kBenchUnchecked);
    if (required) CF_CHECK(required->passed);
    (void)LastGoodBefore(*log, check);
  }
  return 0;
}
