#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "cutface/phantom.h"

namespace cutface {
namespace {

using Json = nlohmann::json;

class BuiltOrders : public testing::Test {
 protected:
  void SetUp() override {
    auto read = ReadDesign(CUTFACE_SOURCE_DIR "/sample-images/LV-7504.design.json");
    ASSERT_TRUE(read) << read.error().message;
    design_ = *read;
  }
  Json Truth(const std::string& section, const PhantomOrder& order, std::uint64_t seed) {
    const auto face = DrawPhantomOfDesign(design_, section, order, seed);
    EXPECT_TRUE(face) << face.error().message;
    return face ? Json::parse(face->truth_json) : Json::object();
  }
  static int CountOf(const Json& truth, const char* key, const std::string& value) {
    int n = 0;
    for (const Json& wire : truth.at("wires")) n += wire.at(key) == value ? 1 : 0;
    return n;
  }
  Design design_;
};

TEST_F(BuiltOrders, AGoodShaftHasEveryWireOfItsBraidAndNoneExposed) {
  const Json truth = Truth("shaft-mid", {}, 3);
  EXPECT_EQ(truth.at("wires").size(), 16u);
  EXPECT_EQ(CountOf(truth, "state", "wire"), 16);
  EXPECT_EQ(CountOf(truth, "exposed_to", ""), 16);
  EXPECT_EQ(truth.at("liners").size(), 1u);
  EXPECT_EQ(truth.at("rings").size(), 1u);
  EXPECT_EQ(truth.at("fibres").at(0).at("filaments"), 19);
}

TEST_F(BuiltOrders, FaultsOfWiresAreBuiltAsOrdered) {
  PhantomOrder order;
  order.missing_wires = 2;
  order.pulled_out_wires = 1;
  order.extra_wires = 1;
  order.wires_exposed_outside = 1;
  const Json truth = Truth("shaft-mid", order, 4);
  EXPECT_EQ(CountOf(truth, "state", "missing"), 2);
  EXPECT_EQ(CountOf(truth, "state", "pulled out"), 1);
  EXPECT_EQ(CountOf(truth, "state", "extra"), 1);
  EXPECT_EQ(CountOf(truth, "exposed_to", "outside"), 1);
}

// A round wire cut at 50 degrees to the axis shows d by d / cos 50 = 1.556 d.
TEST_F(BuiltOrders, ARoundWireIsAsLongAsItsBraidAngleSays) {
  const Json truth = Truth("shaft-mid", {}, 5);
  const double d = 50 / 2.4;
  for (const Json& wire : truth.at("wires")) {
    EXPECT_NEAR(wire.at("axes_px").at(0), d * 1.5557, 0.02);
    EXPECT_NEAR(wire.at("axes_px").at(1), d, 0.02);
  }
}

TEST_F(BuiltOrders, GapsOfABondAreAsLongAsOrdered) {
  PhantomOrder order;
  order.bond_gaps_deg = {24, 9};
  const Json bond = Truth("bond-distal", order, 6).at("bond");
  EXPECT_NEAR(bond.at("bonded_arc_deg"), 360 - 33, 0.1);
  EXPECT_NEAR(bond.at("longest_gap_deg"), 24, 0.1);
}

// Wires abreast are drawn with places of their own: where these meet they are pushed apart. The
// seeds drew wires nearly on one another before.
TEST(BuiltFaces, NoWireLiesInAnother) {
  for (const std::uint64_t seed : {150007u, 150134u, 150185u}) {
    const Json truth = Json::parse(DrawPhantomFace(PhantomSet::kBuiltHard, seed).truth_json);
    const Json& wires = truth.at("wires");
    ASSERT_GT(wires.size(), 4u);
    for (std::size_t i = 0; i < wires.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        const auto& a = wires[i].at("centre_px");
        const auto& b = wires[j].at("centre_px");
        if (wires[i].at("state") == "missing" || wires[j].at("state") == "missing") continue;
        const double apart = std::hypot(a[0].get<double>() - b[0].get<double>(),
                                        a[1].get<double>() - b[1].get<double>());
        // A quarter of a pixel is one push; a tilt may shorten what lies across it.
        EXPECT_GT(apart, 0.98 * wires[i].at("axes_px")[1].get<double>() - 0.5)
            << seed << ": " << i << ", " << j;
      }
    }
  }
}

TEST(BuiltFaces, TheSameSeedGivesTheSameFaceAndAnotherSeedAnother) {
  const PhantomFace a = DrawPhantomFace(PhantomSet::kBuiltHard, 12);
  const PhantomFace b = DrawPhantomFace(PhantomSet::kBuiltHard, 12);
  const PhantomFace c = DrawPhantomFace(PhantomSet::kBuiltHard, 13);
  EXPECT_EQ(a.truth_json, b.truth_json);
  EXPECT_EQ(a.design_json, b.design_json);
  EXPECT_NE(a.truth_json, c.truth_json);
}

}  // namespace
}  // namespace cutface
