// A full disk, a folder that is read-only, a program that is killed: the store stays sound.
#include <gmock/gmock.h>
#include <sys/mount.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>

#include "archive/stores.h"

namespace cutface {
namespace {

using testing::HasSubstr;

// A small file system of its own; only root may make one.
class SmallDisk : public StoreTest {
 protected:
  void SetUp() override {
    StoreTest::SetUp();
    fs::create_directory(At("disk"));
    mounted_ = ::mount("tmpfs", At("disk").c_str(), "tmpfs", 0, "size=400k") == 0;
    if (!mounted_) GTEST_SKIP() << "skipped: making a small disk needs root";
  }
  void TearDown() override {
    if (mounted_) ::umount2(At("disk").c_str(), MNT_DETACH);
    StoreTest::TearDown();
  }
  void ReadOnly(bool on) const {
    ASSERT_EQ(::mount("tmpfs", At("disk").c_str(), "tmpfs",
                      static_cast<unsigned long>(MS_REMOUNT) | (on ? MS_RDONLY : 0), "size=400k"),
              0);
  }
  bool mounted_ = false;
};

TEST_F(SmallDisk, AFullDiskIsToldAndTheStoreStaysSound) {
  Archive store = Started(At("disk/s"));
  Status status;
  std::int64_t before = 0;
  for (int i = 0; status && i < 200; ++i) {
    before = store.Head()->entries;
    const SectionResult result = ResultOf("B-" + std::to_string(i));
    ResultToKeep keep = Keep(result);
    keep.how["filling"] = std::string(4000, 'x');
    const auto kept = store.AddResult(keep);
    if (!kept) status = tl::unexpected(kept.error());
  }
  ASSERT_THAT(status, FailsWith(Code::kFileUnwritable));
  EXPECT_EQ(store.Head()->entries, before);
  EXPECT_EQ(Problems(*store.Verify()), "");
  // Once there is room again the same store goes on.
  ASSERT_EQ(::mount("tmpfs", At("disk").c_str(), "tmpfs", MS_REMOUNT, "size=4m"), 0);
  Add(store, ResultOf("C-1"));
  EXPECT_EQ(Problems(*store.Verify()), "");
}

TEST_F(SmallDisk, AReadOnlyStoreIsReadAndVerifiedButNotWritten) {
  {
    Archive store = Started(At("disk/s"));
    Add(store, ResultOf("B-1"));
  }
  ReadOnly(true);
  auto store = Archive::Open(At("disk/s"), QuickOptions());
  ASSERT_THAT(store, IsOk());
  EXPECT_EQ(Problems(*store->Verify()), "");
  EXPECT_THAT(store->AddResult(Keep(ResultOf("B-2"))), FailsWith(Code::kFileUnwritable));
  EntryDraft draft{"overrule", "x", "", "", "", "", "{}"};
  EXPECT_THAT(store->Append({&draft, 1}), FailsWith(Code::kFileUnwritable));
  EXPECT_THAT(Archive::Start(At("disk/t"), "E", Passphrase(kEngineerPhrase), QuickOptions()),
              FailsWith(Code::kFileUnwritable));
  EXPECT_THAT(store->Backup(At("disk/b.zip")), FailsWith(Code::kFileUnwritable));
  EXPECT_THAT(store->Backup(At("b.zip")), IsOk());
  ReadOnly(false);
}

TEST_F(SmallDisk, ABackupOntoAFullDiskLeavesNoFile) {
  Archive store = Started(At("s"));
  SectionResult result = ResultOf("B-1");
  ResultToKeep keep = Keep(result);
  std::string noise;  // that no packing makes small
  for (int i = 0; i < 12000; ++i) noise += Sha256Hex(std::to_string(i));
  keep.originals.push_back({"marked picture", Write("noise", noise)});
  ASSERT_THAT(store.AddResult(keep), IsOk());
  EXPECT_THAT(store.Backup(At("disk/b.zip")), FailsWith(Code::kFileUnwritable));
  EXPECT_TRUE(fs::is_empty(At("disk")));
}

// Killed at another moment each time, in the middle of writing; in two rounds of three not before
// it told of something, however slow the machine is.
TEST_F(StoreTest, AProgramThatIsKilledLeavesASoundStoreAndLosesNothingItWasToldIsKept) {
  { Started(); }
  std::int64_t told = 3;
  for (int round = 0; round < 12; ++round) {
    int pipe[2];
    ASSERT_EQ(::pipe(pipe), 0);
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      auto store = Archive::Open(At("lab.records"), QuickOptions());
      for (int i = 0; store; ++i) {
        const auto kept =
            store->AddResult(Keep(ResultOf(std::to_string(round) + "-" + std::to_string(i))));
        if (!kept) ::_exit(1);
        const std::int64_t seq = kept->entry.seq;
        if (::write(pipe[1], &seq, sizeof seq) != sizeof seq) ::_exit(1);
      }
      ::_exit(1);
    }
    ::close(pipe[1]);
    std::int64_t seq = 0;
    for (int k = 0; k < round % 3; ++k) {
      if (::read(pipe[0], &seq, sizeof seq) == sizeof seq) told = seq;
    }
    ::usleep(static_cast<useconds_t>(20000 + 7300 * round));
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    EXPECT_TRUE(WIFSIGNALED(status));
    while (::read(pipe[0], &seq, sizeof seq) == sizeof seq) told = seq;
    ::close(pipe[0]);
  }
  auto store = Archive::Open(At("lab.records"), QuickOptions());
  ASSERT_THAT(store, IsOk());
  EXPECT_GE(store->Head()->entries, told);
  EXPECT_GT(told, 3);
  EXPECT_EQ(Problems(*store->Verify()), "");
  Add(*store, ResultOf("after"));
  EXPECT_EQ(Problems(*store->Verify()), "");
}

TEST_F(StoreTest, AFileThatCannotBeReadAddsNothing) {
  Archive store = Started();
  const SectionResult result = ResultOf("B-1");
  ResultToKeep keep = Keep(result);
  keep.originals.push_back({"drawing", At("no such file")});
  EXPECT_THAT(store.AddResult(keep), FailsWith(Code::kFileMissing));
  EXPECT_EQ(store.Head()->entries, 3);
}

}  // namespace
}  // namespace cutface
