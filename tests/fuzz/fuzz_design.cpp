// Drawings, and path data on its own. What is accepted must be sound and survive writing and
// reading.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/design.h"

namespace {

using namespace cutface;

void CheckContour(const ContourUm& contour) {
  CF_CHECK(contour.size() >= 3);
  CF_CHECK(contour.size() <= 40'000);
  for (const PointUm p : contour) CF_CHECK(std::abs(p.x) < 1e10 && std::abs(p.y) < 1e10);
  CF_CHECK(SignedArea(std::span<const PointUm>(contour)) > 0);
  CF_CHECK(!(contour.front() == contour.back()));
}

void CheckDesign(std::string_view text) {
  const auto design = ParseDesign(text, "fuzz");
  if (!design) {
    CF_CHECK(!design.error().message.empty());
    CF_CHECK(design.error().message.find('\n') == std::string::npos);
    return;
  }
  for (const SectionDesign& section : design->sections) {
    CheckContour(section.outline.contour);
    for (const LumenDesign& lumen : section.lumens) CheckContour(lumen.shape.contour);
    for (const Characteristic& row : section.characteristics) {
      CF_CHECK(!row.lower || !row.upper || *row.lower <= *row.upper);
    }
  }
  const std::string written = DesignToJson(*design);
  const auto again = ParseDesign(written, "again");
  CF_CHECK(again.has_value());
  CF_CHECK(DesignToJson(*again) == written);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const std::string_view text(copy.get(), size);
  if (size > 0 && (text[0] == 'M' || text[0] == 'm')) {
    if (const auto contour = FlattenSvgPath(text, 1000)) CheckContour(*contour);
  } else {
    CheckDesign(text);
  }
  return 0;
}
