// Two braids over one another: wires that were pressed out of their own.
#include <gtest/gtest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "cutface/identify.h"
#include "cutface/phantom.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using Json = nlohmann::json;
constexpr double kPitch_um = 2.4;

const char* kDouble = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "T-7"}, "sections": {"face": {"kind": "shaft",
    "outline": {"circle": {"diameter": 2.0}},
    "wires": {"braid": {"carriers": 16, "round": 0.030, "on_diameters": [1.24, 1.30],
                        "braid_angle_deg": 30},
              "outer-braid": {"carriers": 16, "round": 0.060, "on_diameters": [1.46, 1.58],
                              "braid_angle_deg": 30}},
    "lumens": {"scope": {"circle": {"diameter": 1.0}}}}}})";

class DoubleBraids : public testing::TestWithParam<PhantomLight> {
 protected:
  static PhantomOrder Order() {
    PhantomOrder order;
    order.width_px = order.height_px = 1000;
    order.pitch_um = order.record_pitch_um = kPitch_um;
    order.light = GetParam();
    return order;
  }
};

// Pressed into the bore an outer wire lies nearer to the inner braid: its size says whose it is.
TEST_P(DoubleBraids, AWireInTheBoreIsExposedAndNotMissingWhicheverBraidsItIs) {
  const auto design = ParseDesign(kDouble, "test");
  ASSERT_THAT(design, IsOk());
  PhantomOrder order = Order();
  order.wires_exposed_to_lumen = 1;
  int of_layer[2] = {0, 0};
  for (std::uint64_t seed : {1, 2, 3, 4, 5, 6}) {
    SCOPED_TRACE(seed);
    const auto face = DrawPhantomOfDesign(*design, "face", order, seed);
    ASSERT_THAT(face, IsOk());
    const auto section = IdentifySection(
        MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed), 8, "face"),
        Scale::Isotropic(kPitch_um), design->sections[0]);
    ASSERT_THAT(section, IsOk());
    const Json truth = Json::parse(face->truth_json);
    std::size_t exposed = 0;
    for (const Json& wire : truth["wires"]) {
      if (wire["exposed_to"].get<std::string>().empty()) continue;
      const PointUm at{kPitch_um * wire["centre_px"][0].get<double>(),
                       kPitch_um * wire["centre_px"][1].get<double>()};
      const auto told =
          std::find_if(section->wires.begin(), section->wires.end(), [&](const WireTrace& w) {
            return w.state == WireState::kWire && Distance(w.centroid, at) < 1.5 * kPitch_um;
          });
      ASSERT_NE(told, section->wires.end());
      EXPECT_EQ(told->layer, wire["layer"].get<std::string>());
      EXPECT_EQ(told->exposed_to, "scope");
      ++of_layer[told->layer == "braid" ? 0 : 1];
      ++exposed;
    }
    EXPECT_EQ(exposed, 1u);
    for (const WireTrace& wire : section->wires) EXPECT_NE(wire.state, WireState::kMissing);
  }
  EXPECT_GT(of_layer[0], 0);
  EXPECT_GT(of_layer[1], 0);
}

// Bright metal is metal wherever it lies; what is dark may be a void.
TEST_P(DoubleBraids, OnlyBrightMetalFarOffBothBraidsIsAnExtraWire) {
  const auto design = ParseDesign(kDouble, "test");
  ASSERT_THAT(design, IsOk());
  const auto face = DrawPhantomOfDesign(*design, "face", Order(), 3);
  ASSERT_THAT(face, IsOk());
  PhantomScene scene = face->scene;
  const PointPx centre = Centroid(scene.outline);
  // A copy of an outer wire, moved out by three of its sizes.
  PhantomMetal spot = *std::max_element(
      scene.metals.begin(), scene.metals.end(), [&](const PhantomMetal& a, const PhantomMetal& b) {
        return Distance(Centroid(a.contour), centre) < Distance(Centroid(b.contour), centre);
      });
  const PointPx out = Centroid(spot.contour) - centre;
  for (PointPx& p : spot.contour) p = p + (3 * 60 / kPitch_um / Norm(out)) * out;
  scene.metals.push_back(spot);
  const auto section =
      IdentifySection(MicrographFromPixels(RenderPhantom(scene, face->picture_seed), 8, "face"),
                      Scale::Isotropic(kPitch_um), design->sections[0]);
  ASSERT_THAT(section, IsOk());
  const auto extra = std::count_if(section->wires.begin(), section->wires.end(),
                                   [](const WireTrace& w) { return w.state == WireState::kExtra; });
  EXPECT_EQ(extra, GetParam() == PhantomLight::kTransmitted ? 0 : 1);
}

// A smaller wire pressed out into the place of a missing larger one: its size says whose it is.
TEST(DoubleBraid, AWireInTheOtherBraidsEmptyPlaceIsToldByItsSize) {
  Json drawing = Json::parse(kDouble);
  Json& outer_braid = drawing["sections"]["face"]["wires"]["outer-braid"];
  outer_braid["round"] = 0.032;
  outer_braid["braid_angle_deg"] = 50;
  const auto design = ParseDesign(drawing.dump(), "test");
  ASSERT_THAT(design, IsOk());
  PhantomOrder order;
  order.width_px = order.height_px = 1000;
  order.pitch_um = order.record_pitch_um = kPitch_um;
  const auto face = DrawPhantomOfDesign(*design, "face", order, 4);
  ASSERT_THAT(face, IsOk());
  PhantomScene scene = face->scene;
  const PointPx centre = Centroid(scene.outline);
  const auto off = [&](const PhantomMetal& m) { return Centroid(m.contour) - centre; };
  // The closest pair of an inner and an outer wire.
  std::size_t inner = 0, outer = 0;
  double least = 1e9;
  for (std::size_t i = 0; i < scene.metals.size(); ++i) {
    for (std::size_t k = 0; k < scene.metals.size(); ++k) {
      if (Norm(off(scene.metals[i])) * kPitch_um > 680) continue;
      if (Norm(off(scene.metals[k])) * kPitch_um < 680) continue;
      const double apart =
          Distance(Centroid(scene.metals[i].contour), Centroid(scene.metals[k].contour));
      if (apart < least) least = apart, inner = i, outer = k;
    }
  }
  ASSERT_LT(least, 1e9);
  const PointPx from = off(scene.metals[inner]), empty = off(scene.metals[outer]);
  const PointPx move = (Norm(empty) / Norm(from) - 1) * from;
  for (PointPx& p : scene.metals[inner].contour) p = p + move;
  const PointPx now = Centroid(scene.metals[inner].contour);
  scene.metals.erase(scene.metals.begin() + static_cast<std::ptrdiff_t>(outer));
  const auto section =
      IdentifySection(MicrographFromPixels(RenderPhantom(scene, face->picture_seed), 8, "face"),
                      Scale::Isotropic(kPitch_um), design->sections[0]);
  ASSERT_THAT(section, IsOk());
  int missing[2] = {0, 0}, there = 0;
  for (const WireTrace& wire : section->wires) {
    if (wire.state == WireState::kMissing) ++missing[wire.layer == "braid" ? 0 : 1];
    if (Distance(wire.centroid, {kPitch_um * now.x, kPitch_um * now.y}) > 2 * kPitch_um) continue;
    ++there;
    EXPECT_EQ(wire.layer, "braid");
    EXPECT_EQ(wire.state, WireState::kWire);
  }
  EXPECT_EQ(there, 1);
  EXPECT_EQ(missing[0], 0);
  EXPECT_EQ(missing[1], 1);
}

INSTANTIATE_TEST_SUITE_P(Lights, DoubleBraids,
                         testing::Values(PhantomLight::kReflected, PhantomLight::kTransmitted));

}  // namespace
}  // namespace cutface
