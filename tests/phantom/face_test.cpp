// Drawn faces as a whole: files that the other rooms accept, geometry that is possible, orders
// obeyed.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include "cutface/phantom.h"
#include "cutface/scale.h"
#include "phantom/families.h"
#include "phantom/shapes.h"
#include "support/matchers.h"

namespace cutface {
namespace {

TEST(PhantomFace, EachDrawnDesignAndCalibrationIsAccepted) {
  for (const PhantomSet set : {PhantomSet::kPlain, PhantomSet::kHard}) {
    for (std::uint64_t seed = 1; seed <= 25; ++seed) {
      const PhantomFace face = DrawPhantomFace(set, seed);
      SCOPED_TRACE(face.name);
      const auto design = ParseDesign(face.design_json, face.name);
      ASSERT_THAT(design, IsOk());
      ASSERT_NE(design->FindSection("face"), nullptr);
      const auto record = ParseCalibration(face.calibration_json, face.name);
      ASSERT_THAT(record, IsOk());
      EXPECT_EQ(record->image_width_px, face.scene.width_px);
    }
  }
}

TEST(PhantomFace, TheJsonOfANominalShapeIsItsContour) {
  // The phantom room flattens its shapes itself; the design room reads the JSON. Both must enclose
  // the same area. The file rounds to 0.1 um (0.05 um off at most) and chords dip 0.02 um, so the
  // areas differ by less than 0.07 um times the perimeter.
  Random random(5);
  for (int family = 0; family < phantom::kFamilies; ++family) {
    phantom::NominalLimits limits;
    limits.mm_per_px = 0.003;
    const phantom::Nominal nominal = phantom::DrawNominal(family, limits, random);
    SCOPED_TRACE(nominal.family);
    std::string text =
        R"({"format":"cutface/design","version":1,"units":"mm","part":{"number":"T"},)"
        R"("sections":{"face":{"kind":"shaft","outline":)" +
        nominal.outline.json + R"(,"lumens":{)";
    for (std::size_t i = 0; i < nominal.lumens.size(); ++i) {
      text += (i ? ",\"" : "\"") + nominal.lumens[i].name + "\":" + nominal.lumens[i].shape.json;
    }
    const auto design = ParseDesign(text + "}}}}", "test");
    ASSERT_THAT(design, IsOk());
    const SectionDesign& section = design->sections[0];
    for (const phantom::NominalLumen& lumen : nominal.lumens) {
      const LumenDesign* read = section.FindLumen(lumen.name);
      ASSERT_NE(read, nullptr);
      double twice = 0;
      const ContourUm& c = read->shape.contour;
      for (std::size_t i = 0; i < c.size(); ++i) twice += Cross(c[i], c[(i + 1) % c.size()]);
      const double mine = std::abs(phantom::AreaOf(lumen.shape.contour)) * 9;  // (3 um/px)^2
      EXPECT_NEAR(std::abs(twice) / 2, mine, 0.07 * 3 * phantom::LengthOf(lumen.shape.contour))
          << lumen.name;
    }
  }
}

TEST(PhantomFace, LumensStayInsideApartAndVoidsInThePolymer) {
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const PhantomFace face = DrawPhantomFace(PhantomSet::kHard, seed);
    SCOPED_TRACE(face.name);
    const PhantomScene& s = face.scene;
    for (std::size_t i = 0; i < s.lumens.size(); ++i) {
      const ContourPx& c = s.lumens[i].contour;
      EXPECT_TRUE(phantom::Inside(s.outline, c[0]));
      EXPECT_GT(phantom::LeastGap(c, s.outline).distance, 0.5);
      EXPECT_GE(c.size(), 700u);
      EXPECT_LE(c.size(), 1500u);
      for (std::size_t j = 0; j < i; ++j) {
        EXPECT_GT(phantom::LeastGap(c, s.lumens[j].contour).distance, 0.5);
        EXPECT_FALSE(phantom::Inside(s.lumens[j].contour, c[0]));
      }
    }
    for (const PhantomPatch& v : s.voids) {
      EXPECT_TRUE(phantom::Inside(s.outline, v.contour[0]));
      for (const PhantomLumen& l : s.lumens) {
        EXPECT_FALSE(phantom::Inside(l.contour, v.contour[0]));
        EXPECT_GT(phantom::LeastGap(l.contour, v.contour).distance, 0.5);
      }
    }
  }
}

TEST(PhantomFace, HostileFacesNameTheirTrapAndKeepFormsThatAreRead) {
  std::set<std::string> traps;
  for (std::uint64_t seed = 9000; seed < 9009; ++seed) {
    const PhantomFace face = DrawPhantomFace(PhantomSet::kHostile, seed);
    SCOPED_TRACE(face.name);
    EXPECT_THAT(ParseDesign(face.design_json, face.name), IsOk());
    EXPECT_THAT(ParseCalibration(face.calibration_json, face.name), IsOk());
    const std::size_t at = face.truth_json.find("\"trap\": \"");
    ASSERT_NE(at, std::string::npos);
    const std::string trap =
        face.truth_json.substr(at + 9, face.truth_json.find('"', at + 9) - at - 9);
    traps.insert(trap);
    EXPECT_EQ(face.flipped, trap == "mirrored");
    if (trap == "decoy holes") {
      EXPECT_EQ(face.truth_json, DrawPhantomFace(PhantomSet::kHostile, seed).truth_json);
    }
  }
  EXPECT_EQ(traps.size(), 9u);
}

TEST(PhantomFace, EveryFamilyAndLightAndFaultComesUp) {
  std::map<std::string, int> seen;
  for (std::uint64_t seed = 1; seed <= 160; ++seed) {
    const PhantomFace face = DrawPhantomFace(PhantomSet::kHard, seed);
    ++seen[std::string(PhantomLightName(face.scene.light))];
    const std::size_t at = face.truth_json.find("\"family\": \"") + 11;
    ++seen[face.truth_json.substr(at, face.truth_json.find('"', at) - at)];
    for (const char* state : {"merged", "filled", "not found", "cut off", "open"}) {
      const std::string key = std::string("\"state\": \"") + state + "\"";
      if (face.truth_json.find(key) != std::string::npos) ++seen[state];
    }
    if (!face.scene.effects.lips.empty()) ++seen["lip"];
    if (!face.scene.effects.gaps.empty()) ++seen["gap"];
    if (!face.scene.voids.empty()) ++seen["void"];
  }
  for (const char* word : {"reflected", "filled", "weak", "transmitted"}) {
    EXPECT_GT(seen[word], 20) << word;  // 40 expected, standard deviation 5.5
  }
  for (const char* word : {"rounds", "double D", "crescent", "wedges", "satellites", "slots",
                           "four-lumen", "non-round"}) {
    EXPECT_GT(seen[word], 5) << word;  // 20 expected, standard deviation 4.2
  }
  for (const char* word : {"merged", "cut off", "not found", "lip", "gap", "void"}) {
    EXPECT_GT(seen[word], 0) << word;
  }
}

class PhantomOrders : public testing::Test {
 protected:
  void SetUp() override {
    auto read = ReadDesign(CUTFACE_SOURCE_DIR "/sample-images/LV-7504.design.json");
    ASSERT_THAT(read, IsOk());
    design_ = *read;
    order_.pitch_um = order_.record_pitch_um = 2.4;
  }
  Design design_;
  PhantomOrder order_;
};

TEST_F(PhantomOrders, ASeptumIsAsThinAsOrdered) {
  order_.first = "scope";
  order_.second = "wash";
  order_.thin_septum_um = 40;
  const auto face = DrawPhantomOfDesign(design_, "extrusion", order_, 3);
  ASSERT_THAT(face, IsOk());
  const PhantomScene& s = face->scene;
  // Roughness of 0.1 px comes on top: each side may add a few tenths.
  EXPECT_NEAR(phantom::LeastGap(s.lumens[0].contour, s.lumens[1].contour).distance * 2.4, 40, 1.5);
}

TEST_F(PhantomOrders, ABrokenSeptumMergesTwoLumens) {
  order_.first = "wash";
  order_.second = "return";
  order_.breach_um = 60;
  const auto face = DrawPhantomOfDesign(design_, "extrusion", order_, 3);
  ASSERT_THAT(face, IsOk());
  ASSERT_EQ(face->scene.lumens.size(), 3u);
  EXPECT_EQ(face->scene.lumens[1].names, (std::vector<std::string>{"wash", "return"}));
  EXPECT_NE(face->truth_json.find("\"breach\": true"), std::string::npos);
}

TEST_F(PhantomOrders, UnknownNamesAreRefused) {
  EXPECT_THAT(DrawPhantomOfDesign(design_, "hub", order_, 1), FailsWith(Code::kNotFound));
  order_.filled = "scop";
  EXPECT_THAT(DrawPhantomOfDesign(design_, "extrusion", order_, 1), FailsWith(Code::kNotFound));
  order_.filled.clear();
  order_.pitch_um = 0;
  EXPECT_THAT(DrawPhantomOfDesign(design_, "extrusion", order_, 1), FailsWith(Code::kUsage));
}

}  // namespace
}  // namespace cutface
