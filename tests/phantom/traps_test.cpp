// Hostile faces of built-up parts: what the trap says is what the part, the picture and the drawing
// are.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>
#include <nlohmann/json.hpp>
#include <set>

#include "cutface/design.h"
#include "cutface/phantom.h"
#include "cutface/scale.h"
#include "phantom/trapper.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using Json = nlohmann::json;

constexpr std::uint64_t kFirst = 9000;  // 9000 = 0 modulo the twelve traps
constexpr int kTrapCount = 12;

Json Drawn(const PhantomFace& face) {
  return Json::parse(face.design_json).at("sections").at("face");
}

TEST(HostileBuilt, EveryTrapComesUpAndTheFilesAreRead) {
  std::set<std::string> traps;
  for (std::uint64_t seed = kFirst; seed < kFirst + kTrapCount; ++seed) {
    const PhantomFace face = DrawPhantomFace(PhantomSet::kHostileBuilt, seed);
    SCOPED_TRACE(face.name);
    EXPECT_EQ(face.name, "hostile-built-" + std::to_string(seed));
    EXPECT_THAT(ParseDesign(face.design_json, face.name), IsOk());
    EXPECT_THAT(ParseCalibration(face.calibration_json, face.name), IsOk());
    const Json truth = Json::parse(face.truth_json);
    const std::string trap = truth.at("trap");
    traps.insert(trap);
    EXPECT_EQ(face.flipped, trap == "mirrored");
    if (truth.contains("lacks")) {
      const std::string lumen = truth["lacks"]["lumen"], liner = truth["lacks"]["liner"],
                        layer = truth["lacks"]["layer"];
      EXPECT_EQ((lumen.empty() ? 0 : 1) + (liner.empty() ? 0 : 1) + (layer.empty() ? 0 : 1), 1);
      if (!lumen.empty()) {
        EXPECT_TRUE(Drawn(face).at("lumens").contains(lumen));
        EXPECT_EQ(truth.at("lumens").at(lumen).at("state"), "not found");
        for (const PhantomLumen& bore : face.scene.lumens)
          EXPECT_THAT(bore.names, testing::Not(testing::Contains(lumen)));
      }
      if (!liner.empty()) {
        EXPECT_TRUE(Drawn(face).at("lumens").at(liner).contains("liner"));
        EXPECT_FALSE(truth.contains("liners") && truth["liners"].contains(liner));
      }
      if (!layer.empty()) {
        EXPECT_TRUE(Drawn(face).at("wires").contains(layer));
        for (const Json& wire : truth.value("wires", Json::array()))
          EXPECT_NE(wire["layer"], layer);
      }
    }
    if (trap == "other number of wires") {
      const Json& told = truth.at("recounted");
      EXPECT_NE(told.at("built"), told.at("drawn"));
    }
    if (trap == "second part") {
      // Its body, its bores, and whatever else the part has.
      EXPECT_GE(face.scene.effects.specks.size(),
                1 + face.scene.lumens.size() + face.scene.inlays.size());
    }
  }
  EXPECT_EQ(traps.size(), static_cast<std::size_t>(kTrapCount));
}

TEST(HostileBuilt, TheSameSeedGivesTheSameFace) {
  const PhantomFace a = DrawPhantomFace(PhantomSet::kHostileBuilt, kFirst + 9),
                    b = DrawPhantomFace(PhantomSet::kHostileBuilt, kFirst + 9);
  EXPECT_EQ(a.truth_json, b.truth_json);
  EXPECT_EQ(a.design_json, b.design_json);
  EXPECT_EQ(a.picture_seed, b.picture_seed);
}

Design Plane(const std::string& lumens) {
  return *ParseDesign(R"({"format": "cutface/design", "version": 1, "units": "mm",
    "part": {"number": "T-1"}, "sections": {"face": {"kind": "shaft",
    "outline": {"circle": {"diameter": 2.0}}, "lumens": {)" +
                          lumens + "}}}}",
                      "test");
}

// Two lumens opposite each other: changed, they are the part turned by half a turn, and it is its
// own mirror image. A third one apart from their line ends both.
TEST(SamePlaneTurned, TellsWhatATurnCanHideFromWhatItCannot) {
  const std::string a = R"("a": {"circle": {"center": [0, -0.5], "diameter": 0.5}},
                           "b": {"circle": {"center": [0, 0.5], "diameter": 0.4}})";
  const std::string changed = R"("a": {"circle": {"center": [0, 0.5], "diameter": 0.5}},
                                 "b": {"circle": {"center": [0, -0.5], "diameter": 0.4}})";
  const std::string third = R"(, "c": {"circle": {"center": [0.6, 0.2], "diameter": 0.3}})";
  const auto same = [](const Design& first, const Design& second, bool over) {
    return phantom::SamePlaneTurned(first.sections[0], second.sections[0], over);
  };
  const Design two = Plane(a), two_changed = Plane(changed);
  EXPECT_TRUE(same(two, two_changed, false));
  const Design three = Plane(a + third), three_changed = Plane(changed + third);
  EXPECT_FALSE(same(three, three_changed, true));
  EXPECT_TRUE(same(three, three, false));
  const auto own_mirror = [](const Design& d) {
    return phantom::SamePlaneTurned(d.sections[0], phantom::TurnedOver(d.sections[0]), false);
  };
  EXPECT_TRUE(own_mirror(two));
  EXPECT_FALSE(own_mirror(three));
}

}  // namespace
}  // namespace cutface
