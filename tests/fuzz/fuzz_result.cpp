// Result files. What is accepted must survive writing, and from then on every byte.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/record.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const auto result = ParseResult({copy.get(), size}, "fuzz");
  if (!result) {
    CF_CHECK(!result.error().message.empty());
    CF_CHECK(result.error().message.find('\n') == std::string::npos);
    return 0;
  }
  const auto text = TryResultToJson(*result);
  if (!text) {  // a centroid of coordinates near the end of double
    CF_CHECK(text.error().code == Code::kInternal);
    return 0;
  }
  const auto again = ParseResult(*text, "again");
  CF_CHECK(again.has_value());
  const auto same = TryResultToJson(*again);
  CF_CHECK(same.has_value());
  CF_CHECK(*same == *text);
  return 0;
}
