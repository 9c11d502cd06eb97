// A folder of records: chains, choice, and that nothing is overwritten.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>

#include "cutface/calibration_keeping.h"
#include "support/matchers.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
using testing::AllOf;
using testing::HasSubstr;

CalibrationRecord Record(const std::string& id, const std::string& supersedes = "",
                         const std::string& objective = "5x", int width = 800) {
  CalibrationRecord record;
  record.id = id;
  record.supersedes = supersedes;
  record.objective = objective;
  record.image_width_px = width;
  record.image_height_px = 600;
  record.pitch_x_um = record.pitch_y_um = 2.0;
  record.pitch_u_x_um = record.pitch_u_y_um = 0.001;
  return record;
}

class Records : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = testing::TempDir() + "cutface_records.XXXXXX";
    folder_ = mkdtemp(name.data());
  }
  void TearDown() override { fs::remove_all(folder_); }
  Status Keep(const CalibrationRecord& record) const {
    return KeepRecord((folder_ / (record.id + ".calibration.json")).string(), record);
  }
  // Past KeepRecord's checks, as a hand-copied file comes.
  void Copy(const CalibrationRecord& record, const std::string& name) const {
    std::ofstream(folder_ / (name + ".calibration.json")) << CalibrationToJson(record);
  }
  Result<RecordFolder> Read() const { return ReadRecordFolder(folder_.string()); }
  fs::path folder_;
};

TEST_F(Records, TheLastOfAChainIsChosen) {
  ASSERT_THAT(Keep(Record("a")), IsOk());
  ASSERT_THAT(Keep(Record("b", "a")), IsOk());
  ASSERT_THAT(Keep(Record("c", "b")), IsOk());
  const auto folder = Read();
  ASSERT_THAT(folder, IsOk());
  EXPECT_EQ(folder->records.size(), 3u);
  EXPECT_EQ(folder->SupersededBy("a"), "c");
  EXPECT_EQ(folder->SupersededBy("c"), "");
  const auto chosen = ChooseRecord(*folder, {"", "5x", "", 800, 600});
  ASSERT_THAT(chosen, IsOk());
  EXPECT_EQ(chosen->id, "c");
}

TEST_F(Records, ASupersededRecordIsRefusedByIdAndItsHeirNamed) {
  ASSERT_THAT(Keep(Record("a")), IsOk());
  ASSERT_THAT(Keep(Record("b", "a")), IsOk());
  const auto chosen = ChooseRecord(*Read(), {"a", "", "", 800, 600});
  ASSERT_THAT(chosen, FailsWith(Code::kUsage));
  EXPECT_THAT(chosen.error().message, HasSubstr("superseded by \"b\""));
}

TEST_F(Records, TwoThatMatchAreRefusedWithBothNames) {
  ASSERT_THAT(Keep(Record("left")), IsOk());
  ASSERT_THAT(Keep(Record("right")), IsOk());
  ASSERT_THAT(Keep(Record("far", "", "20x")), IsOk());
  const auto folder = Read();
  const auto none = ChooseRecord(*folder, {"", "5x", "", 800, 600});
  ASSERT_THAT(none, FailsWith(Code::kUsage));
  EXPECT_THAT(none.error().message, AllOf(HasSubstr("left, right"), HasSubstr("--bench")));
  EXPECT_EQ(ChooseRecord(*folder, {"right", "", "", 800, 600})->id, "right");
  EXPECT_EQ(ChooseRecord(*folder, {"", "20x", "", 800, 600})->id, "far");
}

TEST_F(Records, NoneThatMatchesIsToldWithWhatWasAskedFor) {
  ASSERT_THAT(Keep(Record("bench")), IsOk());
  const auto size = ChooseRecord(*Read(), {"", "", "", 640, 480});
  ASSERT_THAT(size, FailsWith(Code::kNotFound));
  EXPECT_THAT(size.error().message, HasSubstr("640 x 480 px"));
  const auto id = ChooseRecord(*Read(), {"bemch", "", "", 800, 600});
  ASSERT_THAT(id, FailsWith(Code::kNotFound));
  EXPECT_THAT(id.error().message, HasSubstr("perhaps \"bench\""));
}

TEST_F(Records, ARecordIsNeverOverwritten) {
  ASSERT_THAT(Keep(Record("a")), IsOk());
  const auto before = *ReadTextFile((folder_ / "a.calibration.json").string());
  CalibrationRecord other = Record("a");
  other.pitch_x_um = 3.0;
  EXPECT_THAT(Keep(other), FailsWith(Code::kUsage));
  // Nor its id under another file's name, nor an heir beside the heir.
  EXPECT_THAT(KeepRecord((folder_ / "x.calibration.json").string(), other),
              FailsWith(Code::kUsage));
  ASSERT_THAT(Keep(Record("b", "a")), IsOk());
  EXPECT_THAT(Keep(Record("c", "a")), FailsWith(Code::kCalibrationInvalid));
  EXPECT_EQ(*ReadTextFile((folder_ / "a.calibration.json").string()), before);
  EXPECT_EQ(std::distance(fs::directory_iterator(folder_), {}), 2);
}

TEST_F(Records, AFolderThatContradictsItselfIsRefused) {
  EXPECT_THAT(Read(), FailsWith(Code::kCalibrationInvalid));  // empty
  Copy(Record("a"), "one");
  Copy(Record("a"), "two");
  EXPECT_THAT(Read(), FailsWith(Code::kCalibrationInvalid));
  Copy(Record("b", "a"), "two");
  EXPECT_THAT(Read(), IsOk());
  Copy(Record("c", "a"), "three");
  EXPECT_THAT(Read(), FailsWith(Code::kCalibrationInvalid));
  Copy(Record("a", "b"), "one");
  Copy(Record("c"), "three");
  const auto ring = Read();
  ASSERT_THAT(ring, FailsWith(Code::kCalibrationInvalid));
  EXPECT_THAT(ring.error().message, HasSubstr("ring"));
  std::ofstream(folder_ / "one.calibration.json") << "{";
  EXPECT_THAT(Read(), FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ReadRecordFolder("/no/such/folder"), FailsWith(Code::kFileMissing));
}

}  // namespace
}  // namespace cutface
