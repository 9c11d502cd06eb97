// Lines of corrections in a result. What is taken for one says the same when it is written again.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/correction.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const auto correction = ParseCorrection({copy.get(), size});
  if (!correction) return 0;
  const std::string text = CorrectionText(*correction);
  CF_CHECK(text.find('\n') == std::string::npos);
  const auto again = ParseCorrection(text);
  CF_CHECK(again.has_value());
  CF_CHECK(again->kind == correction->kind && again->points.size() == correction->points.size());
  for (std::size_t i = 0; i < again->points.size(); ++i) {
    const PointUm a = correction->points[i], b = again->points[i];
    // Written to 1e-3 um; at 1e9 um a double has steps of 1.2e-7 um.
    CF_CHECK(std::abs(a.x - b.x) < 6e-4 && std::abs(a.y - b.y) < 6e-4);
  }
  CF_CHECK(CorrectionText(*again) == text);
  return 0;
}
