// Pictures of a part of the face: what is shown is measured right, the rest is not measured.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <opencv2/core.hpp>

#include "cutface/inspect.h"
#include "cutface/phantom.h"
#include "cutface/stats.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using ::testing::HasSubstr;

class Detail : public ::testing::Test {
 protected:
  void SetUp() override {
    auto design =
        ReadDesign(std::string(CUTFACE_SOURCE_DIR) + "/sample-images/LV-7504.design.json");
    ASSERT_THAT(design, IsOk());
    design_ = *design;
    design_.image_kind = "crop";
    plane_ = design_.FindSection("extrusion");
    ASSERT_NE(plane_, nullptr);
  }
  void Draw(std::uint64_t seed, double rotation_deg) {
    order_.rotation_deg = rotation_deg;
    auto face = DrawPhantomOfDesign(design_, "extrusion", order_, seed);
    ASSERT_THAT(face, IsOk());
    face_ = *face;
    pixels_ = RenderPhantom(face_.scene, face_.picture_seed);
  }
  // A part of the picture, in shares of the outline's box.
  Result<SectionResult> Shown(double x0, double y0, double x1, double y1) {
    const Box<FramePx> box = BoundingBox<FramePx>(face_.scene.outline);
    const auto at = [&](double share, double from, double to) {
      return static_cast<int>(from + share * (to - from));
    };
    const cv::Rect part(
        cv::Point(at(x0, box.least.x, box.greatest.x), at(y0, box.least.y, box.greatest.y)),
        cv::Point(at(x1, box.least.x, box.greatest.x), at(y1, box.least.y, box.greatest.y)));
    const cv::Mat shown = pixels_(part & cv::Rect({0, 0}, pixels_.size())).clone();
    CalibrationRecord record;
    record.id = "test";
    return Inspect(MicrographFromPixels(shown, face_.scene.bits, "detail.png"), record,
                   Scale::Isotropic(order_.pitch_um), design_, *plane_, {});
  }
  std::map<std::string, double> TrueSeptaAndWalls() const {
    std::map<std::string, double> out;
    const std::vector<PhantomLumen>& lumens = face_.scene.lumens;
    for (std::size_t i = 0; i < lumens.size(); ++i) {
      out[lumens[i].names[0]] =
          order_.pitch_um * LeastDistance<FramePx>(lumens[i].contour, face_.scene.outline).distance;
      for (std::size_t j = 0; j < lumens.size(); ++j) {
        if (i == j) continue;
        out[lumens[i].names[0] + "|" + lumens[j].names[0]] =
            order_.pitch_um * LeastDistance<FramePx>(lumens[i].contour, lumens[j].contour).distance;
      }
    }
    return out;
  }
  // How many least distances were measured; none of them may lie far from the truth of the whole
  // face.
  int RightOnes(const SectionResult& result) const {
    const auto truth = TrueSeptaAndWalls();
    int measured = 0;
    for (const Measurement& m : result.measurements) {
      if (m.quantity != "septum" && m.quantity != "wall") continue;
      if (m.state != Measurement::State::kMeasured) continue;
      const std::string key = m.of.size() == 2 ? m.of[0] + "|" + m.of[1] : m.of[0];
      ++measured;
      EXPECT_NEAR(m.value, truth.at(key), std::max(4.0, 3.5 * m.u)) << key;
    }
    return measured;
  }
  static const Measurement* Find(const SectionResult& result, const std::vector<std::string>& of,
                                 const std::string& word) {
    for (const Measurement& m : result.measurements) {
      if (m.quantity == word && m.of == of) return &m;
    }
    return nullptr;
  }

  Design design_;
  const SectionDesign* plane_ = nullptr;
  PhantomOrder order_;
  PhantomFace face_;
  cv::Mat pixels_;
};

TEST_F(Detail, OfTheMiddleMeasuresSeptaWithoutAnyOutline) {
  Draw(5, 15);
  const auto result = Shown(0.2, 0.2, 0.8, 0.8);
  ASSERT_THAT(result, IsOk());
  EXPECT_GE(RightOnes(*result), 1);
  const Measurement* diameter = Find(*result, {"outline"}, "diameter");
  ASSERT_NE(diameter, nullptr);
  EXPECT_EQ(diameter->state, Measurement::State::kNotMeasured);
  EXPECT_THAT(diameter->reason, HasSubstr("cut off by the frame"));
  EXPECT_EQ(result->verdict, Verdict::kNotMeasured);
}

TEST_F(Detail, OfAQuarterIsRegistered) {
  Draw(5, 15);
  const auto result = Shown(0.5, 0.5, 1.04, 1.04);
  ASSERT_THAT(result, IsOk());
  EXPECT_GE(RightOnes(*result), 2);
}

// The visible ends of two lumens that are cut off are not the least place between them.
TEST_F(Detail, HiddenLeastPlacesAreNotMeasured) {
  Draw(5, 15);
  const auto result = Shown(0.5, -0.04, 1.04, 1.04);
  ASSERT_THAT(result, IsOk());
  EXPECT_GE(RightOnes(*result), 3);
  const Measurement* septum = Find(*result, {"scope", "wash"}, "septum");
  ASSERT_NE(septum, nullptr);
  EXPECT_EQ(septum->state, Measurement::State::kNotMeasured);
  EXPECT_THAT(septum->reason, HasSubstr("the frame"));
}

TEST_F(Detail, VoidsBeyondTheFrameAreNotRuledOut) {
  Draw(5, 15);
  const auto result = Shown(0.3, 0.3, 1.04, 1.04);
  ASSERT_THAT(result, IsOk());
  const Measurement* longest = Find(*result, {"voids"}, "longest");
  ASSERT_NE(longest, nullptr);
  EXPECT_EQ(longest->state, Measurement::State::kNotMeasured);
}

TEST_F(Detail, ThatShowsNothingOfItsOwnIsRefused) {
  Draw(5, 15);
  // The inside of one lumen, and plain body with one straight edge.
  const std::vector<PhantomLumen>& lumens = face_.scene.lumens;
  const Box<FramePx> box = BoundingBox<FramePx>(face_.scene.outline);
  const PointPx c = Centroid<FramePx>(lumens.front().contour);
  const auto share = [](double v, double from, double to) { return (v - from) / (to - from); };
  const double x = share(c.x, box.least.x, box.greatest.x),
               y = share(c.y, box.least.y, box.greatest.y);
  EXPECT_FALSE(Shown(x - 0.08, y - 0.08, x + 0.08, y + 0.08));
}

TEST_F(Detail, AnywhereNeverMeasuresWrong) {
  Random random(7);
  int shown = 0, measured = 0;
  for (int k = 0; k < 6; ++k) {
    Draw(100 + static_cast<std::uint64_t>(k), random.Uniform(-180, 180));
    const double width = random.Uniform(0.45, 0.8);
    const double x = random.Uniform(-0.02, 1.02 - width), y = random.Uniform(-0.02, 1.02 - width);
    const auto result = Shown(x, y, x + width, y + width);
    if (!result) continue;  // refused
    ++shown;
    measured += RightOnes(*result);
    EXPECT_NE(result->verdict, Verdict::kConforms);
  }
  EXPECT_GE(shown, 4);
  EXPECT_GE(measured, 10);
}

}  // namespace
}  // namespace cutface
