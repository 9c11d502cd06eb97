// Curves of stiffness. What is accepted rises from 1 and 0, and every step that is told of an
// uneven sleeve is a finite stretch of each hour under a finite pressure.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/opening.h"

namespace {

using namespace cutface;

TracedContour Circle(PointUm centre, double radius) {
  TracedContour contour;
  contour.whole = true;
  for (int i = 0; i < 72; ++i) {
    const double a = 2 * kPi * i / 72;
    const PointUm n{std::cos(a), std::sin(a)};
    contour.vertices.push_back({centre + radius * n, n, 0, VertexState::kMeasured});
  }
  return contour;
}

SectionResult UnevenSleeve() {
  SectionResult face;
  face.section.outline = Circle({0, 0}, 1100);
  face.section.rings = {{"sleeve", Circle({20, 10}, 1000)}};
  return face;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const SectionResult face = UnevenSleeve();
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const auto curve = ParseStiffness({copy.get(), size}, "fuzz");
  if (!curve) {
    CF_CHECK(!curve.error().message.empty());
    CF_CHECK(curve.error().message.find('\n') == std::string::npos);
    return 0;
  }
  CF_CHECK(curve->stretch.size() == curve->stress_mpa.size() && curve->stretch.size() >= 2);
  CF_CHECK(curve->stretch.front() == 1 && curve->stress_mpa.front() == 0);
  for (std::size_t i = 1; i < curve->stretch.size(); ++i) {
    CF_CHECK(curve->stretch[i] > curve->stretch[i - 1]);
    CF_CHECK(curve->stress_mpa[i] > curve->stress_mpa[i - 1]);
  }
  const auto opening = OpenSleeve(face, "sleeve", *curve);
  CF_CHECK(opening.has_value());
  for (const OpeningStep& step : opening->steps) {
    CF_CHECK(step.told == step.reason.empty());
    if (!step.told) continue;
    CF_CHECK(std::isfinite(step.pressure_mpa) && step.pressure_mpa >= 0);
    for (const double stretch : step.stretch) CF_CHECK(std::isfinite(stretch) && stretch >= 1);
  }
  return 0;
}
