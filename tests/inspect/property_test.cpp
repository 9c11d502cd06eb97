// What must not change a measurement, tried on faces drawn at random (rapidcheck): the same pixels
// turned, mirrored, shifted, with another pitch, with other tones, and the same part photographed
// again. The bounds say how far values may follow the grid of pixels instead.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <opencv2/core.hpp>
#include <string>

#include "cutface/inspect.h"
#include "cutface/phantom.h"
#include "cutface/record.h"
#include "support/matchers.h"

namespace cutface {
namespace {

constexpr double kTruePitchUm = 3.4;
constexpr int kWidth = 1100, kHeight = 860;

// Few cases each, because each is two measurements; the same ones every time unless the environment
// says otherwise (RC_PARAMS="seed=... max_success=...").
const int kParams = setenv("RC_PARAMS", "seed=20261129 max_success=4", /*overwrite=*/0);

struct Lengths {
  std::map<std::string, double> px;       // value in pixels
  std::map<std::string, double> half_px;  // half of the interval
  bool mirrored = false;
  std::string names;
};

class Property : public ::testing::Test {
 protected:
  void SetUp() override {
    ASSERT_EQ(kParams, 0);
    auto design =
        ReadDesign(std::string(CUTFACE_SOURCE_DIR) + "/sample-images/LV-7504.design.json");
    ASSERT_THAT(design, IsOk());
    design_ = *design;
    plane_ = design_.FindSection("extrusion");
    ASSERT_NE(plane_, nullptr);
  }

  // 16 bits, so that other tones are not other quanta.
  cv::Mat Picture(std::uint64_t seed, std::uint64_t exposure, double rotation_deg = 20) const {
    PhantomOrder order;
    order.width_px = kWidth, order.height_px = kHeight;
    order.pitch_um = kTruePitchUm;
    order.rotation_deg = rotation_deg;
    auto face = DrawPhantomOfDesign(design_, "extrusion", order, seed);
    RC_ASSERT(face.has_value());
    face->scene.bits = 16;
    return RenderPhantom(face->scene, exposure);
  }
  SectionResult Measured(const cv::Mat& picture, double pitch_um = kTruePitchUm) const {
    CalibrationRecord record;
    record.id = "test";
    record.gamma = 1.0;
    auto result = Inspect(MicrographFromPixels(picture, 16, "face.png"), record,
                          Scale::Isotropic(pitch_um), design_, *plane_);
    RC_ASSERT(result.has_value());
    return *result;
  }
  static Lengths LengthsOf(const SectionResult& result, double pitch_um = kTruePitchUm) {
    Lengths lengths;
    lengths.mirrored = result.section.placement.mirrored;
    for (const Measurement& m : result.measurements) {
      const bool wanted = m.quantity == "diameter" || m.quantity == "equivalent_diameter" ||
                          m.quantity == "septum" || m.quantity == "wall" ||
                          m.quantity == "inscribed_diameter" || m.quantity == "width_min";
      if (!wanted || m.state != Measurement::State::kMeasured) continue;
      std::string key = m.quantity;
      for (const std::string& name : m.of) key += " " + name;
      lengths.px[key] = m.value / pitch_um;
      lengths.half_px[key] = (m.hi - m.lo) / 2 / pitch_um;
    }
    return lengths;
  }
  // The same values by the same names: what is averaged over an edge within 0.05 px, what hangs on
  // a few places of it (a least distance, an inscribed circle) within its own interval, because
  // other pixels meet there.
  static void Same(const Lengths& a, const Lengths& b) {
    constexpr double kAveragedPx = 0.03, kExtremePx = 0.35;
    RC_ASSERT(a.px.size() > std::size_t{20});
    RC_ASSERT(a.px.size() == b.px.size());
    for (const auto& [key, value] : a.px) {
      const auto other = b.px.find(key);
      if (other == b.px.end()) RC_FAIL(key + " is missing");
      const bool averaged = key.find("diameter") == 0 || key.find("equivalent") == 0;
      const double bound = averaged ? kAveragedPx : std::min(kExtremePx, a.half_px.at(key));
      if (std::abs(value - other->second) > bound) {
        RC_FAIL(key + ": " + std::to_string(value) + " px, then " + std::to_string(other->second) +
                " px, allowed " + std::to_string(bound));
      }
    }
  }
  static std::uint64_t Seed() { return *rc::gen::inRange<std::uint64_t>(1, 1'000'000); }

  Design design_;
  const SectionDesign* plane_ = nullptr;
};

TEST_F(Property, ATurnByQuartersChangesNoLength) {
  EXPECT_TRUE(rc::check("turned", [this] {
    const cv::Mat picture = Picture(Seed(), 7);
    const int turn = *rc::gen::element<int>(cv::ROTATE_90_CLOCKWISE, cv::ROTATE_180,
                                            cv::ROTATE_90_COUNTERCLOCKWISE);
    cv::Mat turned;
    cv::rotate(picture, turned, turn);
    Same(LengthsOf(Measured(picture)), LengthsOf(Measured(turned)));
  }));
}

TEST_F(Property, AMirroredPictureIsToldAndChangesNoLength) {
  EXPECT_TRUE(rc::check("mirrored", [this] {
    const cv::Mat picture = Picture(Seed(), 7);
    cv::Mat flipped;
    cv::flip(picture, flipped, *rc::gen::element(0, 1));
    const Lengths before = LengthsOf(Measured(picture)), after = LengthsOf(Measured(flipped));
    RC_ASSERT(before.mirrored != after.mirrored);
    Same(before, after);
  }));
}

TEST_F(Property, AShiftMovesContoursByJustThat) {
  EXPECT_TRUE(rc::check("shifted", [this] {
    const cv::Mat picture = Picture(Seed(), 7);
    const int dx = *rc::gen::inRange(-25, 26), dy = *rc::gen::inRange(-25, 26);
    cv::Mat wide, shifted;
    cv::copyMakeBorder(picture, wide, 30, 30, 30, 30, cv::BORDER_REFLECT_101);
    shifted = wide(cv::Rect(30 - dx, 30 - dy, kWidth, kHeight)).clone();
    const SectionResult before = Measured(picture), after = Measured(shifted);
    Same(LengthsOf(before), LengthsOf(after));
    const auto centre = [](const SectionResult& result) {
      const PointUm um = Centroid<FrameUm>(result.section.outline->Points());
      return PointPx{um.x / kTruePitchUm, um.y / kTruePitchUm};
    };
    const PointPx moved = centre(after) - centre(before);
    RC_ASSERT(std::hypot(moved.x - dx, moved.y - dy) < 0.05);
  }));
}

TEST_F(Property, APitchScalesEveryLength) {
  EXPECT_TRUE(rc::check("scaled", [this] {
    const cv::Mat picture = Picture(Seed(), 7);
    const double pitch_um = kTruePitchUm * *rc::gen::inRange(980, 1021) / 1000.0;
    Same(LengthsOf(Measured(picture)), LengthsOf(Measured(picture, pitch_um), pitch_um));
  }));
}

TEST_F(Property, OtherTonesChangeNoLength) {
  EXPECT_TRUE(rc::check("toned anew", [this] {
    const cv::Mat picture = Picture(Seed(), 7);
    const double gain = *rc::gen::inRange(50, 101) / 100.0;
    const double offset = *rc::gen::inRange(0, 100) / 100.0 * (1 - gain) * 65535;
    cv::Mat toned;
    picture.convertTo(toned, CV_16U, gain, offset);
    Same(LengthsOf(Measured(picture)), LengthsOf(Measured(toned)));
  }));
}

// Another exposure has other noise: the two intervals must meet.
TEST_F(Property, ASecondExposureAgreesWithinTheIntervals) {
  EXPECT_TRUE(rc::check("exposed again", [this] {
    const std::uint64_t seed = Seed();
    const Lengths a = LengthsOf(Measured(Picture(seed, 7)));
    const Lengths b = LengthsOf(Measured(Picture(seed, 8)));
    RC_ASSERT(a.px.size() == b.px.size());
    for (const auto& [key, value] : a.px)
      RC_ASSERT(std::abs(value - b.px.at(key)) < a.half_px.at(key) + b.half_px.at(key));
  }));
}

TEST_F(Property, ASecondRunAndAnotherNumberOfThreadsChangeNoByte) {
  EXPECT_TRUE(rc::check("run again", [this] {
    const cv::Mat picture = Picture(Seed(), 7);
    const auto text = [&](int threads) {
      cv::setNumThreads(threads);
      SectionResult result = Measured(picture);
      result.time.clear();
      auto json = TryResultToJson(result);
      RC_ASSERT(json.has_value());
      return *json;
    };
    const std::string first = text(1);
    RC_ASSERT(first == text(1));
    RC_ASSERT(first == text(3));
    cv::setNumThreads(-1);
  }));
}

}  // namespace
}  // namespace cutface
