// Hints and the pressure block: written, read and written again they are the same bytes.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/record.h"

namespace cutface {
namespace {

SectionResult Pressed() {
  SectionResult r;
  r.image_file = "a.png";
  r.mean_pitch_um = 2.5;
  Finding finding;
  finding.kind = "thin septum";
  finding.where = {"a", "b"};
  finding.text = "t";
  finding.hints = {{"mandrels drifted", "look at the centres", "common practice"}};
  r.findings = {finding};
  PressureBlock block;
  block.lumens_mpa = {{"a", 0.3}};
  block.wires_free = true;
  block.modulus_mpa = 50;
  block.poisson = 0.48;
  Measurement stress;
  stress.of = {"a", "b"};
  stress.quantity = "ligament_stress";
  stress.unit = "MPa";
  stress.value = stress.raw = 2.5;
  stress.u = 0.1;
  stress.lo = 2.3;
  stress.hi = 2.7;
  Measurement refused = stress;
  refused.quantity = "strip_stress";
  refused.state = Measurement::State::kNotMeasured;
  refused.reason = "curved";
  block.figures = {stress, refused};
  block.elements = 1234;
  block.greatest_displacement_um = 25;
  block.times = 2;
  block.displaced = {{"outline", {{0, 0}, {10, 0}, {0, 10}}}};
  r.pressure = block;
  return r;
}

TEST(Meaning, PressureAndHintsComeBackAsTheyWere) {
  const std::string text = ResultToJson(Pressed());
  const auto back = ParseResult(text, "a.result.json");
  ASSERT_TRUE(back.has_value()) << back.error().message;
  EXPECT_TRUE(back->warnings.empty()) << back->warnings.front();
  ASSERT_TRUE(back->pressure.has_value());
  EXPECT_EQ(back->pressure->lumens_mpa.at("a"), 0.3);
  EXPECT_TRUE(back->pressure->wires_free);
  ASSERT_EQ(back->pressure->figures.size(), 2u);
  EXPECT_EQ(back->pressure->figures[0].hi, 2.7);
  EXPECT_EQ(back->pressure->figures[1].reason, "curved");
  EXPECT_EQ(back->pressure->elements, 1234);
  ASSERT_EQ(back->pressure->displaced.size(), 1u);
  EXPECT_EQ(back->pressure->displaced[0].contour.size(), 3u);
  ASSERT_EQ(back->findings[0].hints.size(), 1u);
  EXPECT_EQ(back->findings[0].hints[0].check, "look at the centres");
  EXPECT_EQ(ResultToJson(*back), text);
}

TEST(Meaning, WithoutPressuresThereIsNoBlock) {
  SectionResult r = Pressed();
  r.pressure.reset();
  const std::string text = ResultToJson(r);
  EXPECT_EQ(text.find("\"pressure\""), std::string::npos);
  EXPECT_FALSE(ParseResult(text, "a")->pressure.has_value());
}

}  // namespace
}  // namespace cutface
