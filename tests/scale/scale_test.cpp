// Pixels to micrometres and back, and whether a record fits a picture.
#include "cutface/scale.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "support/matchers.h"

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

// Round trip and closed forms: rounding of doubles at 3000 px, some operations.
constexpr double kRoundTripPx = 1e-9;

CalibrationRecord Record() {
  CalibrationRecord r;
  r.id = "bench2-5x";
  r.image_width_px = 2592;
  r.image_height_px = 1944;
  r.pitch_x_um = 2.4031;
  r.pitch_y_um = 2.4044;
  r.pitch_u_x_um = 0.0006;
  r.pitch_u_y_um = 0.0012;
  r.distortion_centre = {1295.5, 971.5};
  r.made = "2026-03-02";
  r.due = "2026-09-02";
  return r;
}

TEST(Scale, DefaultIsOneMicrometreAPixel) {
  const PointUm p = Scale().ToUm(PointPx{12.5, -3});
  EXPECT_EQ(p, (PointUm{12.5, -3}));
}

// Two points 100 px apart in x are 240.31 um apart, in y 240.44 um; the first pixel's centre is the
// origin.
TEST(Scale, PitchesApplyToTheirOwnDirections) {
  const auto scale = Scale::FromRecord(Record());
  ASSERT_THAT(scale, IsOk());
  EXPECT_EQ(scale->ToUm(PointPx{0, 0}), (PointUm{0, 0}));
  EXPECT_NEAR(scale->ToUm(PointPx{100, 0}).x, 240.31, 1e-12);
  EXPECT_NEAR(scale->ToUm(PointPx{0, 100}).y, 240.44, 1e-12);
  EXPECT_NEAR(scale->mean_pitch_um(), std::sqrt(2.4031 * 2.4044), 1e-15);
  EXPECT_NEAR(scale->u_relative_x(), 0.0006 / 2.4031, 1e-15);
  EXPECT_NEAR(scale->u_relative_y(), 0.0012 / 2.4044, 1e-15);
}

// K = [[px, shear * py], [0, py]]: 100 px down with shear 0.01 moves 2.4044 um to the right.
TEST(Scale, ShearMovesXWithY) {
  CalibrationRecord r = Record();
  r.shear = 0.01;
  const auto scale = Scale::FromRecord(r);
  ASSERT_THAT(scale, IsOk());
  EXPECT_NEAR(scale->ToUm(PointPx{0, 100}).x, 2.4044, 1e-12);
  const PointPx back = scale->ToPx(scale->ToUm(PointPx{700, 300}));
  EXPECT_NEAR(back.x, 700, kRoundTripPx);
  EXPECT_NEAR(back.y, 300, kRoundTripPx);
}

// An ideal offset of 1000 px with k1 = 2e-8 is imaged at 1000 * (1 + 0.02) = 1020 px.
TEST(Scale, DistortionFollowsItsDefinition) {
  CalibrationRecord r = Record();
  r.pitch_x_um = r.pitch_y_um = 1.0;
  r.k1_per_px2 = 2e-8;
  r.distortion_centre = {1000, 1000};
  const auto scale = Scale::FromRecord(r);
  ASSERT_THAT(scale, IsOk());
  EXPECT_NEAR(scale->ToPx(PointUm{2000, 1000}).x, 2020, kRoundTripPx);
  EXPECT_NEAR(scale->ToUm(PointPx{2020, 1000}).x, 2000, kRoundTripPx);
  EXPECT_NEAR(scale->ToUm(PointPx{1000, 1000}).x, 1000, kRoundTripPx);
  EXPECT_TRUE(scale->distorted());
  // 3-4-5: the shift is along the radius.
  EXPECT_NEAR(scale->ToPx(PointUm{1600, 1800}).x, 1612, kRoundTripPx);
  EXPECT_NEAR(scale->ToPx(PointUm{1600, 1800}).y, 1816, kRoundTripPx);
}

TEST(Scale, RoundTripHoldsUpToTheStrongestDistortionARecordMayHave) {
  for (double k1 : {-3.8e-8, -1e-9, 1e-12, 1e-9, 3.8e-8}) {
    CalibrationRecord r = Record();
    r.k1_per_px2 = k1;
    r.shear = -0.02;
    ASSERT_THAT(ParseCalibration(CalibrationToJson(r), "r"), IsOk()) << k1;
    const auto scale = Scale::FromRecord(r);
    ASSERT_THAT(scale, IsOk());
    ContourPx points;
    for (int x = 0; x < 2592; x += 144) {
      for (int y = 0; y < 1944; y += 108) points.push_back({x + 0.25, y - 0.5});
    }
    const ContourPx back = scale->ToPx(scale->ToUm(points));
    ASSERT_EQ(back.size(), points.size());
    for (std::size_t i = 0; i < points.size(); ++i) {
      ASSERT_LT(Distance(back[i], points[i]), kRoundTripPx) << "k1 " << k1 << " point " << i;
    }
  }
}

// Negative k1 folds the plane at r = sqrt(-1 / (3 k1)); beyond it there is no ideal point.
TEST(Scale, BeyondTheFoldPointsStayFinite) {
  CalibrationRecord r = Record();
  r.k1_per_px2 = -3.8e-8;
  const auto scale = Scale::FromRecord(r);
  ASSERT_THAT(scale, IsOk());
  const PointUm far = scale->ToUm(PointPx{1e7, 971.5});
  EXPECT_NEAR(far.x / 2.4031 - 1295.5, std::sqrt(1 / (3 * 3.8e-8)), 1e-6);
}

TEST(Scale, RecordWithoutAPitchIsRefusedWithItsDirection) {
  CalibrationRecord r = Record();
  r.pitch_y_um.reset();
  const auto failed = Scale::FromRecord(r);
  ASSERT_THAT(failed, FailsWith(Code::kCalibrationInvalid));
  EXPECT_THAT(failed.error().message, HasSubstr("the pitch in y is unknown"));
}

using Pitch = std::pair<double, double>;

struct Outcome {
  Status status;
  std::vector<std::string> warnings;
};
Outcome Check(const CalibrationRecord& record, std::optional<Pitch> embedded,
              const ScaleChecks& checks, int width = 2592, int height = 1944) {
  Outcome outcome;
  outcome.status = CheckCalibration(record, width, height, embedded, checks, outcome.warnings);
  return outcome;
}

TEST(Fit, PictureOfTheRecordsSizeAndTimeFitsWithoutWords) {
  const Outcome fits = Check(Record(), Pitch{2.4031, 2.4044}, {.taken = "2026-05-01T08:00:00"});
  EXPECT_THAT(fits.status, IsOk());
  EXPECT_THAT(fits.warnings, IsEmpty());
}

TEST(Fit, OtherImageSizeIsAMismatch) {
  const Outcome turned = Check(Record(), {}, {.taken = "2026-05-01"}, 1944, 2592);
  ASSERT_THAT(turned.status, FailsWith(Code::kCalibrationMismatch));
  EXPECT_THAT(turned.status.error().message, HasSubstr("2592 x 1944 px, this one has 1944 x 2592"));
}

TEST(Fit, EmbeddedScaleMoreThanHalfAPercentOffIsAMismatchInEitherDirection) {
  const ScaleChecks when = {.taken = "2026-05-01"};
  EXPECT_THAT(Check(Record(), Pitch{2.4031 * 1.0049, 2.4044 * 0.9951}, when).status, IsOk());
  EXPECT_THAT(Check(Record(), Pitch{2.4031 * 1.0051, 2.4044}, when).status,
              FailsWith(Code::kCalibrationMismatch));
  const Outcome off = Check(Record(), Pitch{2.4031, 2.4044 * 0.9949}, when);
  ASSERT_THAT(off.status, FailsWith(Code::kCalibrationMismatch));
  EXPECT_THAT(off.status.error().message, HasSubstr("in y"));
  EXPECT_THAT(off.status.error().message, HasSubstr("-0.51 %"));
  EXPECT_THAT(Check(Record(), Pitch{std::nan(""), 2.4044}, when).status,
              FailsWith(Code::kCalibrationMismatch));
}

TEST(Fit, OverruledMismatchIsAWarning) {
  const Outcome overruled =
      Check(Record(), Pitch{1.2, 1.2}, {.accept_scale_mismatch = true, .taken = "2026-05-01"});
  EXPECT_THAT(overruled.status, IsOk());
  EXPECT_THAT(overruled.warnings, ElementsAre(HasSubstr("in x"), HasSubstr("overruled")));
}

TEST(Fit, UnknownPitchOfTheRecordIsNotCompared) {
  CalibrationRecord r = Record();
  r.pitch_y_um.reset();
  EXPECT_THAT(Check(r, Pitch{2.4031, 99}, {.taken = "2026-05-01"}).status, IsOk());
}

// The due date is compared with when the picture was taken, not with today; the day itself is good.
TEST(Fit, PictureTakenAfterTheDueDateIsOverdue) {
  EXPECT_THAT(Check(Record(), {}, {.taken = "2026-09-02T23:59:59"}).status, IsOk());
  const Outcome late = Check(Record(), {}, {.taken = "2026-09-03"});
  ASSERT_THAT(late.status, FailsWith(Code::kCalibrationOverdue));
  EXPECT_THAT(late.status.error().message,
              HasSubstr("due 2026-09-02, the picture was taken 2026-09-03"));
  const Outcome overruled = Check(Record(), {}, {.accept_overdue = true, .taken = "2026-09-03"});
  EXPECT_THAT(overruled.status, IsOk());
  EXPECT_THAT(overruled.warnings, ElementsAre(HasSubstr("overruled")));
}

TEST(Fit, UnknownTimeMissingDueDateAndMissingUncertaintyAreWarnings) {
  const Outcome unknown = Check(Record(), {}, {});
  EXPECT_THAT(unknown.status, IsOk());
  EXPECT_THAT(unknown.warnings, ElementsAre(HasSubstr("when the picture was taken is unknown")));
  CalibrationRecord r = Record();
  r.due.clear();
  r.pitch_u_x_um.reset();
  const Outcome bare = Check(r, {}, {.taken = "2026-05-01"});
  EXPECT_THAT(bare.status, IsOk());
  EXPECT_THAT(bare.warnings,
              ElementsAre(HasSubstr("no uncertainty of the pitch"), HasSubstr("no due date")));
}

TEST(Fit, PictureOlderThanTheRecordIsAWarning) {
  const Outcome early = Check(Record(), {}, {.taken = "2026-03-01"});
  EXPECT_THAT(early.status, IsOk());
  EXPECT_THAT(early.warnings,
              ElementsAre(HasSubstr("made 2026-03-02, after the picture was taken")));
}

TEST(Fit, TimeThatIsNoIsoDateIsAnErrorOfTheCall) {
  for (const char* taken : {"yesterday", "2026-13-01", "02.03.2026", "2026-05-01x", "2026-05-1"}) {
    EXPECT_THAT(Check(Record(), {}, {.taken = taken}).status, FailsWith(Code::kUsage)) << taken;
  }
}

}  // namespace
}  // namespace cutface
