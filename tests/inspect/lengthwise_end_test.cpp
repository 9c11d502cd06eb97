// Tubes cut along whose turns fit the drawing in two places: what is measured must not be of the
// wrong one. Rendered faces of known geometry.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "cutface/inspect.h"
#include "cutface/phantom.h"
#include "support/matchers.h"

namespace cutface {
namespace {

// Measured, or said not to be: never off by more than this unsaid.
constexpr double kUnsaidPx = 3;

class LengthwiseEnd : public ::testing::TestWithParam<std::uint64_t> {};

TEST_P(LengthwiseEnd, IsNeverWrongUnsaid) {
  const PhantomFace face = DrawPhantomFace(PhantomSet::kBuiltHard, GetParam());
  const auto truth = nlohmann::json::parse(face.truth_json);
  if (truth["family"] != "lengthwise") GTEST_SKIP() << "this seed draws another family now";
  auto design = ParseDesign(face.design_json, "face.design.json");
  ASSERT_THAT(design, IsOk());
  auto record = ParseCalibration(face.calibration_json, "face.calibration.json");
  ASSERT_THAT(record, IsOk());
  auto scale = Scale::FromRecord(*record);
  ASSERT_THAT(scale, IsOk());
  const Micrograph picture = MicrographFromPixels(RenderFace(face), face.scene.bits, "face.png");
  const auto result =
      Inspect(picture, *record, *scale, *design, design->sections.front(), InspectOptions{});
  if (!result) return;  // refused: said
  for (const auto& known : truth["quantities"]) {
    if (known["quantity"] != "equivalent_diameter" || known["of"][0] == "outline") continue;
    for (const Measurement& m : result->measurements) {
      if (m.quantity != "equivalent_diameter" || m.of.front() != known["of"][0] ||
          m.state != Measurement::State::kMeasured)
        continue;
      const double px = m.value / scale->mean_pitch_um();
      EXPECT_TRUE(std::abs(px - known["value_px"].get<double>()) < kUnsaidPx || m.grade != "clean")
          << m.of.front() << " " << px << " px, true " << known["value_px"];
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Seeds, LengthwiseEnd, ::testing::Values(150219, 160121));

}  // namespace
}  // namespace cutface
