// The log of checks, the verdict of one, and what measure may require of them.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <limits>

#include "cutface/calibration_keeping.h"
#include "support/matchers.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
using testing::HasSubstr;

// Off by `error_um` of 1000 um, u = 0.5 um in all.
BenchCheck Check(const std::string& taken, double error_um = 0.0) {
  BenchCheck check;
  check.time = "2026-03-02T10:00:00Z";
  check.taken = taken;
  check.by = "desk";
  check.calibration_id = "bench";
  check.calibration_sha256 = "ab";
  check.standard_kind = "line distance";
  check.certified_um = 1000;
  check.certified_u_um = 0.3;
  check.measured_um = 1000 + error_um;
  check.measured_u_um = 0.4;
  DecideCheck(check);
  return check;
}

CalibrationRecord Record() {
  CalibrationRecord record;
  record.id = "bench";
  record.sha256 = "ab";
  return record;
}

class Log : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = testing::TempDir() + "cutface_log.XXXXXX";
    folder_ = mkdtemp(name.data());
    path_ = CheckLogPath((folder_ / "bench.calibration.json").string());
  }
  void TearDown() override { fs::remove_all(folder_); }
  std::string Text() const { return *ReadTextFile(path_); }
  fs::path folder_;
  std::string path_;
};

// ISO/IEC 17043:2010, annex B.4.1.1: En = (x - X) / sqrt(U_lab^2 + U_ref^2), |En| <= 1 satisfactory
// (from memory). Here U = 2 u: U_lab = 0.8, U_ref = 0.6, so that the root is 1 um exactly.
TEST(BenchCheckVerdict, EnIsTheErrorOverBothExpandedUncertainties) {
  EXPECT_DOUBLE_EQ(Check("2026-03-02T09:00", 0.75).En(), 0.75);
  EXPECT_TRUE(Check("2026-03-02T09:00", 0.99).passed);
  EXPECT_TRUE(Check("2026-03-02T09:00", -0.99).passed);
  EXPECT_FALSE(Check("2026-03-02T09:00", 1.01).passed);
  EXPECT_FALSE(Check("2026-03-02T09:00", -1.01).passed);
  EXPECT_THAT(Check("2026-03-02T09:00", 1.5).reason, HasSubstr("|En| = 1.50"));
}

TEST(BenchCheckVerdict, AnUncertaintyTooLargeToTellDoesNotPass) {
  BenchCheck check = Check("2026-03-02T09:00");
  check.measured_u_um = 3;  // U = 0.6 %
  DecideCheck(check);
  EXPECT_FALSE(check.passed);
  check.measured_u_um = 0.4;
  check.limit_um = 0.9;  // U = 1 um
  DecideCheck(check);
  EXPECT_FALSE(check.passed);
  check.limit_um = 1.1;
  DecideCheck(check);
  EXPECT_TRUE(check.passed);
  check.measured_um = 1001.2;
  DecideCheck(check);
  EXPECT_FALSE(check.passed);
}

TEST(BenchCheckVerdict, NumbersThatAreNoneDoNotPass) {
  for (const double bad : {std::nan(""), std::numeric_limits<double>::infinity(), 0.0, -5.0}) {
    BenchCheck check = Check("2026-03-02T09:00");
    check.measured_um = bad;
    DecideCheck(check);
    EXPECT_FALSE(check.passed) << bad;
    check = Check("2026-03-02T09:00");
    check.certified_um = bad;
    DecideCheck(check);
    EXPECT_FALSE(check.passed) << bad;
  }
  BenchCheck check = Check("2026-03-02T09:00");
  check.measured_u_um = check.certified_u_um = 0;  // nothing is known without doubt
  DecideCheck(check);
  EXPECT_FALSE(check.passed);
}

TEST(ClockTimes, AgreeWithTheSystemsOwnCalendar) {
  for (const char* text :
       {"1970-01-01T00:00:00Z", "2026-03-02T09:15:30Z", "2028-02-29T23:59:59Z"}) {
    std::tm tm = {};
    ASSERT_NE(strptime(text, "%Y-%m-%dT%H:%M:%SZ", &tm), nullptr);
    const auto time = ParseClockTime(text);
    ASSERT_TRUE(time.has_value());
    EXPECT_TRUE(time->utc);
    EXPECT_EQ(time->seconds, static_cast<double>(timegm(&tm)));
  }
  EXPECT_TRUE(ParseClockTime("2026-03-02T09:15").has_value());
  for (const char* text :
       {"", "2026-03-02", "2026-02-30T09:15", "2026-03-02T24:15", "2026-03-02T09",
        "2026-03-02T09:61", "20260302T091500", "2026-03-02T09:15:00+01:00"})
    EXPECT_FALSE(ParseClockTime(text).has_value()) << text;
}

TEST_F(Log, ChecksComeBackInTheOrderTheyWereAdded) {
  ASSERT_THAT(AppendCheck(path_, Check("2026-03-02T09:00")), IsOk());
  const std::string first = Text();
  BenchCheck failed = Check("2026-03-03T09:00", 5);
  failed.by = "line\nbreak \"quoted\"";
  ASSERT_THAT(AppendCheck(path_, failed), IsOk());
  EXPECT_EQ(Text().substr(0, first.size()), first) << "a line that was there changed";
  const auto log = ReadCheckLog(path_);
  ASSERT_THAT(log, IsOk());
  ASSERT_EQ(log->size(), 2u);
  EXPECT_TRUE((*log)[0].passed);
  EXPECT_FALSE((*log)[1].passed);
  EXPECT_EQ((*log)[1].measured_um, 1005.0);
  EXPECT_EQ((*log)[1].by, failed.by);
  EXPECT_EQ((*log)[1].reason, failed.reason);
}

TEST_F(Log, EveryChangeOfALineIsNoticed) {
  for (int day = 1; day <= 3; ++day)
    ASSERT_THAT(AppendCheck(path_, Check("2026-03-0" + std::to_string(day) + "T09:00", day - 1)),
                IsOk());
  const std::string whole = Text();
  ASSERT_THAT(ParseCheckLog(whole, "log"), IsOk());
  // Any line but the last taken out, the last cut off, and any digit changed before the last line.
  const std::size_t second = whole.find('\n') + 1, third = whole.find('\n', second) + 1;
  EXPECT_THAT(ParseCheckLog(whole.substr(second), "log"), FailsWith(Code::kJsonValue));
  EXPECT_THAT(ParseCheckLog(whole.substr(0, second) + whole.substr(third), "log"),
              FailsWith(Code::kJsonValue));
  EXPECT_THAT(ParseCheckLog(whole.substr(0, whole.size() - 1), "log"),
              FailsWith(Code::kJsonSyntax));
  int changed = 0;
  for (std::size_t at = 0; at < third; ++at) {
    if (whole[at] < '0' || whole[at] > '9') continue;
    std::string other = whole;
    other[at] = other[at] == '9' ? '8' : static_cast<char>(other[at] + 1);
    EXPECT_FALSE(ParseCheckLog(other, "log").has_value()) << at;
    ++changed;
  }
  EXPECT_GT(changed, 100);
}

TEST_F(Log, LinesCutOffAtTheEndAreNoticed) {
  for (int day = 1; day <= 3; ++day)
    ASSERT_THAT(AppendCheck(path_, Check("2026-03-0" + std::to_string(day) + "T09:00", day - 1)),
                IsOk());
  const std::string whole = Text();
  const std::size_t second = whole.find('\n') + 1;
  ASSERT_THAT(WriteWhole(path_, whole.substr(0, second)), IsOk());
  EXPECT_THAT(ReadCheckLog(path_), FailsWith(Code::kJsonValue));
  EXPECT_THAT(AppendCheck(path_, Check("2026-03-04T09:00")), FailsWith(Code::kJsonValue));
  // A program that was stopped before it wrote where the log ends leaves a longer log, no fault.
  ASSERT_THAT(WriteWhole(path_, whole), IsOk());
  auto end = ReadTextFile(CheckLogEndPath(path_));
  ASSERT_THAT(end, IsOk());
  std::string earlier = *end;
  earlier.replace(earlier.find("\"lines\":3"), 9, "\"lines\":2");
  ASSERT_THAT(WriteWhole(CheckLogEndPath(path_), earlier), IsOk());
  EXPECT_THAT(ReadCheckLog(path_), FailsWith(Code::kJsonValue)) << "line 2 has another hash";
  const std::size_t third = whole.find('\n', second) + 1;
  const std::string line = whole.substr(second, third - second - 1);
  ASSERT_THAT(WriteWhole(CheckLogEndPath(path_),
                         "{\"lines\":2,\"last_sha256\":\"" + Sha256Hex(line) + "\"}\n"),
              IsOk());
  EXPECT_THAT(ReadCheckLog(path_), IsOk());
}

TEST_F(Log, AVerdictThatItsNumbersDenyIsRefused) {
  BenchCheck check = Check("2026-03-02T09:00", 5);
  ASSERT_FALSE(check.passed);
  check.passed = true;
  EXPECT_THAT(AppendCheck(path_, check), FailsWith(Code::kUsage));
  EXPECT_EQ(Text(), "");
}

TEST_F(Log, ADamagedLogIsNotAddedTo) {
  std::ofstream(path_) << "{\"format\": \"cutface/check\"";
  EXPECT_THAT(AppendCheck(path_, Check("2026-03-02T09:00")), FailsWith(Code::kJsonSyntax));
  EXPECT_EQ(Text(), "{\"format\": \"cutface/check\"");
  EXPECT_THAT(ReadCheckLog((folder_ / "none.jsonl").string()), FailsWith(Code::kFileMissing));
}

TEST(RequiredCheck, MustHavePassedWithinTheHours) {
  const std::vector<BenchCheck> log = {Check("2026-03-02T08:00")};
  EXPECT_THAT(RequireCheck(log, Record(), "2026-03-02T16:00:00", 8), IsOk());
  EXPECT_THAT(RequireCheck(log, Record(), "2026-03-02T16:01", 8), FailsWith(Code::kBenchUnchecked));
  EXPECT_THAT(RequireCheck(log, Record(), "2026-03-02T00:00", 8), IsOk());  // checked afterwards
  EXPECT_THAT(RequireCheck(log, Record(), "2026-03-01T23:59", 8), FailsWith(Code::kBenchUnchecked));
}

TEST(RequiredCheck, AFailedNeighbourRefusesHoweverNearAPassedOneIs) {
  const std::vector<BenchCheck> log = {Check("2026-03-02T08:00"), Check("2026-03-02T12:00", 5),
                                       Check("2026-03-02T13:00")};
  EXPECT_THAT(RequireCheck(log, Record(), "2026-03-02T08:30", 8), FailsWith(Code::kBenchUnchecked));
  EXPECT_THAT(RequireCheck(log, Record(), "2026-03-02T12:59", 8), FailsWith(Code::kBenchUnchecked));
  EXPECT_THAT(RequireCheck(log, Record(), "2026-03-02T13:00", 8), IsOk());
}

TEST(RequiredCheck, OtherRecordsAndUnknownTimesDoNotCount) {
  const std::vector<BenchCheck> log = {Check("2026-03-02T08:00")};
  CalibrationRecord other = Record();
  other.sha256 = "cd";  // the same id, but the file was changed since
  EXPECT_THAT(RequireCheck(log, other, "2026-03-02T09:00", 8), FailsWith(Code::kBenchUnchecked));
  for (const char* taken : {"", "2026-03-02", "2026-03-02T09:00Z"})
    EXPECT_THAT(RequireCheck(log, Record(), taken, 8), FailsWith(Code::kBenchUnchecked)) << taken;
  EXPECT_THAT(RequireCheck({}, Record(), "2026-03-02T09:00", 8), FailsWith(Code::kBenchUnchecked));
}

// Lines 50 um apart at 30 degrees, imaged by a bench of unequal pitches, shear and distortion: the
// places come from Scale::ToPx, so that only the way back is tested.
TEST(Standard, LineDistanceIsRightThroughShearAndDistortion) {
  CalibrationRecord record = Record();
  record.image_width_px = 800;
  record.image_height_px = 600;
  record.pitch_x_um = 2.5;
  record.pitch_y_um = 2.6;
  record.pitch_u_x_um = record.pitch_u_y_um = 0.00025;  // 1e-4
  record.shear = 0.01;
  record.k1_per_px2 = 2e-8;
  record.distortion_centre = {399.5, 299.5};
  const auto scale = Scale::FromRecord(record);
  ASSERT_THAT(scale, IsOk());
  const double angle = 0.5236, c = std::cos(angle), s = std::sin(angle);
  TargetFit fit;
  fit.width_px = 800;
  fit.height_px = 600;
  const PointUm middle = scale->ToUm(PointPx{399.5, 299.5});
  for (long i = -10; i <= 10; ++i) {
    const double along = 50.0 * static_cast<double>(i);
    fit.marks.push_back({scale->ToPx(middle + PointUm{along * c, along * s}), 0.01, i, 0, 0});
  }
  // q = K^T n / d at the middle.
  fit.qx_per_px = 2.5 * c / 50;
  fit.qy_per_px = (0.01 * 2.6 * c + 2.6 * s) / 50;
  TargetSpec spec;
  spec.division_um = 50;
  spec.certificate_u_um = 0.1;
  spec.temperature_c = 20;
  const auto check = MeasureStandard(fit, spec, record);
  ASSERT_THAT(check, IsOk());
  EXPECT_EQ(check->certified_um, 1000);
  EXPECT_NEAR(check->measured_um, 1000, 1e-6);
  EXPECT_GT(check->measured_u_um, 0.05);  // 1e-4 of 1000, shared by two pitches
  EXPECT_LE(check->measured_u_um, 0.1);
  // A warmer artefact is longer than its certificate: 10 K * 8.5e-6 * 1000 um = 0.085 um.
  spec.temperature_c = 30;
  EXPECT_NEAR(MeasureStandard(fit, spec, record)->measured_um, 1000 - 0.085, 1e-4);
  spec.division_um = 0;
  EXPECT_THAT(MeasureStandard(fit, spec, record), FailsWith(Code::kUsage));
  record.pitch_y_um.reset();
  EXPECT_THAT(MeasureStandard(fit, spec, record), FailsWith(Code::kCalibrationInvalid));
}

TEST(LastGood, IsTheLatestPassedCheckBeforeTheFailedOne) {
  const std::vector<BenchCheck> log = {Check("2026-03-01T08:00"), Check("2026-03-02T08:00"),
                                       Check("2026-03-03T08:00", 5), Check("2026-03-04T08:00")};
  EXPECT_EQ(LastGoodBefore(log, log[2]), "2026-03-02T08:00");
  EXPECT_EQ(LastGoodBefore({}, log[2]), "");
}

TEST(DriftPlot, SaysItsAnswerAndIsAPictureTwice) {
  const std::vector<BenchCheck> log = {Check("2026-03-01T08:00", 0.2),
                                       Check("2026-03-02T08:00", 5)};
  const auto plot = PlotDrift(log, "bench");
  ASSERT_THAT(plot, IsOk());
  const auto picture = DecodeMicrograph(plot->png, "drift");
  ASSERT_THAT(picture, IsOk());
  EXPECT_EQ(picture->width(), 960);
  EXPECT_THAT(plot->svg, HasSubstr("<svg"));
  EXPECT_THAT(PlotDrift(log, "other"), FailsWith(Code::kUsage));
}

}  // namespace
}  // namespace cutface
