// The workers and the ledger, with work that only counts what it is asked for.
#include <fcntl.h>
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <atomic>
#include <chrono>
#include <csignal>
#include <mutex>
#include <set>
#include <thread>

#include "batch/folder.h"
#include "cutface/record.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::Each;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

class RunTest : public FolderTest {
 protected:
  void SetUp() override {
    FolderTest::SetUp();
    work_.key = [this](const PlannedFace& face, int, int) -> Result<std::string> {
      return key_ + face.entry.plane + face.entry.sample.serial;
    };
    work_.measure = [this](const PlannedFace& face,
                           const std::function<bool()>& go_on) -> Result<FaceDone> {
      {
        const std::lock_guard<std::mutex> guard(mutex_);
        asked_.push_back(face.entry.image);
      }
      if (before_measure_) before_measure_(face);
      if (!go_on()) return Fail(Code::kCancelled, "stopped");
      const auto bytes = ReadFile(face.path);
      if (!bytes) return tl::unexpected(bytes.error());
      const std::string text(reinterpret_cast<const char*>(bytes->data()), bytes->size());
      if (text == "damaged") return Fail(Code::kImageDamaged, face.path + ": is damaged");
      if (text == "full") return Fail(Code::kFileUnwritable, face.path + ": no room");
      SectionResult result;
      result.image_file = face.entry.image;
      result.image_sha256 = Sha256Hex(*bytes);
      result.verdict = text == "bad" ? Verdict::kDoesNotConform : Verdict::kConforms;
      const std::string path = Out() + "/" + face.stem + ".result.json";
      if (auto status = WriteResult(path, result); !status) return tl::unexpected(status.error());
      FaceDone done;
      done.width_px = 10;
      done.height_px = 20;
      done.image_sha256 = result.image_sha256;
      done.result_sha256 = Sha256Hex(*ReadTextFile(path));
      done.verdict = result.verdict;
      done.warnings = {"note of " + face.entry.image};
      return done;
    };
    work_.propose = [this](const PlannedFace& face, FaceDone&) -> Result<std::vector<std::string>> {
      const std::lock_guard<std::mutex> guard(mutex_);
      asked_.push_back(face.entry.image);
      return proposals_;
    };
    work_.finished = [this](const FaceEntry& face, const std::vector<std::string>& warnings,
                            bool fresh) {
      told_.push_back(face.image + (fresh ? "*" : ""));
      notes_.insert(notes_.end(), warnings.begin(), warnings.end());
    };
    work_.tick = [](const BatchProgress&) { return true; };
  }

  BatchEnd Run(int jobs = 2) {
    asked_.clear();
    told_.clear();
    notes_.clear();
    PlanRequest request;
    request.folder = In();
    request.recursive = true;
    request.results = Out();
    request.section = section_;
    const auto plan = MakePlan(request, designs_);
    CF_CHECK(plan);
    auto ledger = Ledger::Open(Out());
    CF_CHECK(ledger);
    BatchEnd end = RunBatch(*plan, Out(), jobs, *ledger, work_);
    CF_CHECK(ledger->Tidy(plan->faces));
    return end;
  }

  BatchWork work_;
  std::vector<Design> designs_ = {TwoSections()};
  std::string key_ = "k", section_ = "tip";
  std::vector<std::string> proposals_;
  std::function<void(const PlannedFace&)> before_measure_;
  std::mutex mutex_;
  std::vector<std::string> asked_, told_, notes_;
};

TEST_F(RunTest, FacesAreMeasuredOnceAndTakenFromTheLedgerAfterwards) {
  for (const char* name : {"a.png", "b.png", "sub/a.png"}) Picture(name, name);
  const BatchEnd first = Run();
  EXPECT_EQ(first.measured, 3);
  EXPECT_THAT(told_, ElementsAre("a.png*", "b.png*", "sub/a.png*"));
  EXPECT_TRUE(fs::exists(Out() + "/sub/a.result.json"));
  const std::vector<std::string> notes = notes_;
  const BatchEnd second = Run();
  EXPECT_THAT(asked_, IsEmpty());
  EXPECT_EQ(second.measured, 0);
  EXPECT_THAT(told_, ElementsAre("a.png", "b.png", "sub/a.png"));
  EXPECT_EQ(notes_, notes);
  for (std::size_t i = 0; i < 3; ++i) {
    EXPECT_EQ(second.faces[i].state, FaceState::kMeasured);
    EXPECT_EQ(second.faces[i].result_sha256, first.faces[i].result_sha256);
    EXPECT_EQ(second.faces[i].verdict, Verdict::kConforms);
    EXPECT_EQ(second.faces[i].result_file, first.faces[i].result_file);
  }
}

TEST_F(RunTest, OnlyWhatChangedIsMeasuredAgain) {
  for (const char* name : {"a.png", "b.png", "c.png"}) Picture(name, name);
  Run();
  Picture("b.png", "other");
  Run();
  EXPECT_THAT(asked_, ElementsAre("b.png"));
  fs::remove(Out() + "/c.result.json");
  Run();
  EXPECT_THAT(asked_, ElementsAre("c.png"));
  key_ = "another calibration";
  EXPECT_EQ(Run().measured, 3);
  Picture("d.png", "new");
  Run();
  EXPECT_THAT(asked_, ElementsAre("d.png"));
}

TEST_F(RunTest, AFileTouchedButNotChangedIsNotMeasuredAgain) {
  Picture("a.png");
  Run();
  fs::last_write_time(root_ / "in" / "a.png", fs::file_time_type::clock::now());
  Run();
  EXPECT_THAT(asked_, IsEmpty());
}

// A clock that jumps gives a changed file the time that it had before: the hash tells all the same.
TEST_F(RunTest, AChangeWithTheSameSizeAndTimeIsNoticed) {
  Picture("a.png", "one");
  const auto time = fs::last_write_time(root_ / "in" / "a.png");
  Run();
  Picture("a.png", "two");
  fs::last_write_time(root_ / "in" / "a.png", time);
  Run();
  EXPECT_THAT(asked_, ElementsAre("a.png"));
}

TEST_F(RunTest, OneBadFileStopsNoOther) {
  Picture("a.png", "damaged");
  Picture("b.png", "bad");
  Picture("c.png", "good");
  const BatchEnd end = Run();
  EXPECT_EQ(end.faces[0].state, FaceState::kRejected);
  EXPECT_EQ(end.faces[0].code, "image-damaged");
  EXPECT_THAT(end.faces[0].reason, HasSubstr("is damaged"));
  EXPECT_EQ(end.faces[1].verdict, Verdict::kDoesNotConform);
  EXPECT_EQ(end.faces[2].state, FaceState::kMeasured);
  // The same picture is damaged the same way.
  const BatchEnd again = Run();
  EXPECT_THAT(asked_, IsEmpty());
  EXPECT_EQ(again.faces[0].code, "image-damaged");
  EXPECT_EQ(again.faces[0].reason, end.faces[0].reason);
  Picture("a.png", "mended");
  EXPECT_EQ(Run().faces[0].state, FaceState::kMeasured);
}

TEST_F(RunTest, AnUnreadableFileIsListedWithItsReason) {
  Picture("a.png");
  Picture("b.png");
  fs::remove(root_ / "in" / "a.png");
  fs::create_symlink("a.png", root_ / "in" / "a.png");  // a ring: no rights of any user read it
  const BatchEnd end = Run();
  EXPECT_NE(end.faces[0].state, FaceState::kMeasured);
  EXPECT_NE(end.faces[0].reason, "");
  EXPECT_EQ(end.faces[1].state, FaceState::kMeasured);
}

TEST_F(RunTest, OrderAndResultsAreTheSameWhateverTheNumberOfWorkers) {
  for (int i = 0; i < 40; ++i)
    Picture(std::to_string(i) + ".png", i % 7 == 0 ? "damaged" : std::to_string(i));
  before_measure_ = [](const PlannedFace& face) {  // the first ones last longest
    std::this_thread::sleep_for(
        std::chrono::microseconds(face.entry.image.size() == 5 ? 3000 : 100));
  };
  const auto texts = [](const BatchEnd& end) {
    Roster roster;
    roster.faces = end.faces;
    return RosterToJson(roster);
  };
  const std::string one = texts(Run(1));
  const std::vector<std::string> told = told_;
  fs::remove_all(Out());
  EXPECT_EQ(texts(Run(8)), one);
  EXPECT_EQ(told_, told);
}

TEST_F(RunTest, AStoppedRunKeepsWhatIsDoneAndTheRestWaits) {
  for (int i = 0; i < 20; ++i) Picture(std::to_string(i) + ".png", std::to_string(i));
  before_measure_ = [](const PlannedFace&) {
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  };
  int ticks = 0;
  work_.tick = [&](const BatchProgress& progress) { return ++ticks < 3 && progress.done < 6; };
  const BatchEnd end = Run();
  EXPECT_TRUE(end.stopped);
  int waiting = 0;
  for (const FaceEntry& face : end.faces) {
    if (face.state == FaceState::kMeasured) continue;
    ++waiting;
    EXPECT_EQ(face.state, FaceState::kWaiting);
    EXPECT_EQ(face.code, "cancelled");
  }
  EXPECT_GT(waiting, 0);
  work_.tick = [](const BatchProgress&) { return true; };
  EXPECT_EQ(Run().measured, waiting);
}

TEST_F(RunTest, AResultThatSomebodyChangedIsNeverOverwritten) {
  Picture("a.png");
  const BatchEnd first = Run();
  auto result = ReadResult(Out() + "/a.result.json");
  ASSERT_THAT(result, IsOk());
  result->edits = {"septum moved by A. Measurer"};
  result->verdict = Verdict::kDoesNotConform;
  ASSERT_THAT(WriteResult(Out() + "/a.result.json", *result), IsOk());
  const BatchEnd second = Run();
  EXPECT_THAT(asked_, IsEmpty());
  EXPECT_EQ(second.faces[0].verdict, Verdict::kDoesNotConform);
  EXPECT_NE(second.faces[0].result_sha256, first.faces[0].result_sha256);
  EXPECT_THAT(notes_, testing::Contains(HasSubstr("was changed after it was measured")));
  // Neither when the calibration changes: then a person has to say which one holds.
  key_ = "another";
  const BatchEnd third = Run();
  EXPECT_THAT(asked_, IsEmpty());
  EXPECT_EQ(third.faces[0].state, FaceState::kWaiting);
  EXPECT_THAT(third.faces[0].reason, HasSubstr("move it away"));
  EXPECT_THAT(ReadResult(Out() + "/a.result.json")->edits, ElementsAre(HasSubstr("septum moved")));
}

TEST_F(RunTest, AFolderThatTakesNoMoreFilesEndsTheRun) {
  Picture("a.png", "full");
  for (int i = 0; i < 30; ++i) Picture("b" + std::to_string(i) + ".png", std::to_string(i));
  // Not full after all: that one file's own trouble, the others go on.
  const BatchEnd end = Run(1);
  EXPECT_EQ(end.faces[0].state, FaceState::kWaiting);
  EXPECT_EQ(end.faces[0].code, "file-unwritable");
  EXPECT_EQ(end.measured, 30);
}

TEST_F(RunTest, APictureThatChangesUnderTheRunIsNotTaken) {
  Picture("a.png", "one");
  before_measure_ = [this](const PlannedFace&) { Picture("a.png", "two"); };
  const BatchEnd end = Run();
  EXPECT_EQ(end.faces[0].state, FaceState::kWaiting);
  EXPECT_THAT(end.faces[0].reason, HasSubstr("changed while it was measured"));
  before_measure_ = nullptr;
  EXPECT_EQ(Run().faces[0].state, FaceState::kMeasured);
}

TEST_F(RunTest, PlanesAreProposedAndNothingIsJudged) {
  Picture("a.png");
  section_ = "";
  proposals_ = {"shaft_mid", "tip"};
  const BatchEnd end = Run();
  EXPECT_EQ(end.faces[0].state, FaceState::kWaiting);
  EXPECT_EQ(end.faces[0].verdict, Verdict::kNotJudged);
  EXPECT_THAT(end.faces[0].proposed_planes, ElementsAre("shaft_mid", "tip"));
  EXPECT_THAT(end.faces[0].reason, HasSubstr("2 sections fit the picture: shaft_mid, tip"));
  EXPECT_EQ(end.faces[0].result_file, "");
  Run();
  EXPECT_THAT(asked_, IsEmpty());
  section_ = "tip";
  EXPECT_EQ(Run().faces[0].state, FaceState::kMeasured);
}

TEST_F(RunTest, ASecondRunOnOneFolderIsRefused) {
  const auto first = Ledger::Open(Out());
  ASSERT_THAT(first, IsOk());
  const auto second = Ledger::Open(Out());
  ASSERT_THAT(second, FailsWith(Code::kUsage));
  EXPECT_THAT(second.error().message, HasSubstr("another run is at work in this folder"));
}

TEST_F(RunTest, ALineCutOffByACrashCostsThatFaceOnly) {
  for (const char* name : {"a.png", "b.png"}) Picture(name, name);
  Run(1);
  const std::string path = Out() + "/run.ledger";
  fs::resize_file(path, fs::file_size(path) - 20);
  Run(1);
  EXPECT_THAT(asked_, ElementsAre("b.png"));
  std::ofstream(path, std::ios::app) << "{\"image\": \"a.png\", \"sta";
  Run(1);
  EXPECT_THAT(asked_, IsEmpty());
}

TEST_F(RunTest, ALedgerOfSomebodyElseIsNotOverwritten) {
  fs::create_directory(Out());
  std::ofstream(Out() + "/run.ledger") << "my own notes\n";
  EXPECT_THAT(Ledger::Open(Out()), FailsWith(Code::kUsage));
  EXPECT_EQ(*ReadTextFile(Out() + "/run.ledger"), "my own notes\n");
}

// A run that is killed in the middle of a face, at any moment, leaves whole results and a ledger
// that the next run takes up.
TEST_F(RunTest, AKilledRunLosesAtMostTheFacesInHand) {
  for (int i = 0; i < 60; ++i) Picture(std::to_string(i) + ".png", std::to_string(i));
  const pid_t child = ::fork();
  if (child == 0) {
    before_measure_ = [](const PlannedFace&) {
      std::this_thread::sleep_for(std::chrono::milliseconds(4));
    };
    Run(2);
    ::_exit(0);
  }
  const auto finished = [this] {
    const auto text = ReadTextFile(Out() + "/run.ledger");
    return text ? std::count(text->begin(), text->end(), '\n') - 1 : 0;
  };
  while (finished() < 10) std::this_thread::sleep_for(std::chrono::milliseconds(1));
  ::kill(child, SIGKILL);
  int status = 0;
  ::waitpid(child, &status, 0);
  ASSERT_TRUE(WIFSIGNALED(status));
  for (const auto& file : fs::directory_iterator(Out())) {
    if (file.path().string().ends_with(".result.json")) {
      EXPECT_THAT(ReadResult(file.path()), IsOk());
    }
  }
  const long before = finished();
  const BatchEnd end = Run(2);
  EXPECT_EQ(end.measured, 60 - before);
  for (const FaceEntry& face : end.faces) EXPECT_EQ(face.state, FaceState::kMeasured);
}

TEST(MemoryGate, NeverHandsOutMoreThanItsLimit) {
  MemoryGate gate(100);
  std::atomic<int> held = 0, most = 0;
  std::vector<std::thread> threads;
  for (int i = 0; i < 8; ++i) {
    threads.emplace_back([&] {
      for (int k = 0; k < 50; ++k) {
        const auto share = gate.Take(40);
        ASSERT_TRUE(share);
        const int now = held += 40;
        int seen = most;
        while (now > seen && !most.compare_exchange_weak(seen, now)) {
        }
        held -= 40;
      }
    });
  }
  for (std::thread& thread : threads) thread.join();
  EXPECT_GT(most, 0);
  EXPECT_LE(most, 100);
  EXPECT_FALSE(gate.Take(101));
  const auto all = gate.Take(100);
  EXPECT_TRUE(all);
}

}  // namespace
}  // namespace cutface
