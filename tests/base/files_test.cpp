// Whole-or-nothing files: what stands under the name is the old file or the new one, never a part,
// and a write that fails leaves nothing beside it.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <atomic>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <thread>

#include "support/matchers.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

class Files : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = testing::TempDir() + "/cutface-files-XXXXXX";
    ASSERT_NE(::mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override { fs::remove_all(folder_); }

  std::string Path(const std::string& name) const { return (folder_ / name).string(); }
  std::vector<std::string> Names() const {
    std::vector<std::string> names;
    for (const auto& entry : fs::directory_iterator(folder_))
      names.push_back(entry.path().filename().string());
    return names;
  }

 private:
  fs::path folder_;
};

// No file may grow beyond `bytes` while this lives: stands for a disk that is full.
class FullDisk {
 public:
  explicit FullDisk(rlim_t bytes) {
    before_signal_ = std::signal(SIGXFSZ, SIG_IGN);
    ::getrlimit(RLIMIT_FSIZE, &before_);
    rlimit limit = before_;
    limit.rlim_cur = bytes;
    ::setrlimit(RLIMIT_FSIZE, &limit);
  }
  ~FullDisk() {
    ::setrlimit(RLIMIT_FSIZE, &before_);
    std::signal(SIGXFSZ, before_signal_);
  }
  FullDisk(const FullDisk&) = delete;
  FullDisk& operator=(const FullDisk&) = delete;

 private:
  rlimit before_{};
  void (*before_signal_)(int) = nullptr;
};

TEST_F(Files, WhatIsWrittenIsReadAgainByteForByte) {
  std::string bytes;
  for (unsigned i = 0; i < 70000; ++i) bytes += static_cast<char>(i * i % 251);
  for (const std::string& text : {std::string(), std::string("\0\n\r\xff", 4), bytes}) {
    ASSERT_THAT(WriteWhole(Path("a"), text), IsOk());
    const auto again = ReadTextFile(Path("a"));
    ASSERT_THAT(again, IsOk());
    EXPECT_EQ(*again, text);
    EXPECT_EQ(ReadFile(Path("a"))->size(), text.size());
  }
  EXPECT_THAT(Names(), testing::ElementsAre("a"));
}

TEST_F(Files, EverybodyMayReadWhatWasWrittenAndOnlyTheOwnerWrites) {
  ASSERT_THAT(WriteWhole(Path("a"), "x"), IsOk());
  struct stat info {};
  ASSERT_EQ(::stat(Path("a").c_str(), &info), 0);
  EXPECT_EQ(info.st_mode & 0777, mode_t{0644});
}

TEST_F(Files, AWriteThatFailsHalfwayLeavesTheOldFileAndNothingElse) {
  ASSERT_THAT(WriteWhole(Path("a"), "as it was"), IsOk());
  {
    const FullDisk full(4096);
    EXPECT_THAT(WriteWhole(Path("a"), std::string(20000, 'n')), FailsWith(Code::kFileUnwritable));
    EXPECT_THAT(WriteWhole(Path("new"), std::string(20000, 'n')), FailsWith(Code::kFileUnwritable));
  }
  EXPECT_EQ(*ReadTextFile(Path("a")), "as it was");
  EXPECT_THAT(Names(), testing::ElementsAre("a"));
  EXPECT_THAT(WriteWhole(Path("a"), std::string(20000, 'n')), IsOk());
}

TEST_F(Files, WhereNoFileCanStandNothingIsLeftBehind) {
  EXPECT_THAT(WriteWhole(Path("missing/a"), "x"), FailsWith(Code::kFileUnwritable));
  fs::create_directory(Path("folder"));
  EXPECT_THAT(WriteWhole(Path("folder"), "x"), FailsWith(Code::kFileUnwritable));
  EXPECT_THAT(Names(), testing::ElementsAre("folder"));
}

TEST_F(Files, AReaderNeverSeesAPart) {
  const std::string a(50000, 'a'), b(90000, 'b');
  ASSERT_THAT(WriteWhole(Path("f"), a), IsOk());
  std::atomic<bool> stop = false;
  int seen = 0, parts = 0;
  std::thread reader([&] {
    while (!stop) {
      const auto text = ReadTextFile(Path("f"));
      if (!text || (*text != a && *text != b)) ++parts;
      ++seen;
    }
  });
  for (int i = 0; i < 40; ++i) EXPECT_THAT(WriteWhole(Path("f"), i % 2 == 0 ? b : a), IsOk());
  stop = true;
  reader.join();
  EXPECT_EQ(parts, 0) << "of " << seen;
}

TEST_F(Files, WhatCannotBeReadSaysWhy) {
  EXPECT_THAT(ReadFile(Path("none")), FailsWith(Code::kFileMissing));
  EXPECT_THAT(ReadFile(Path("")), FailsWith(Code::kFileMissing)) << "a folder";
  ASSERT_THAT(WriteWhole(Path("a"), "12345"), IsOk());
  EXPECT_THAT(ReadFile(Path("a/b")), FailsWith(Code::kFileMissing)) << "under a file";
  EXPECT_THAT(ReadFile(Path("a"), 4), FailsWith(Code::kImageTooLarge));
  EXPECT_THAT(ReadFile(Path("a"), 5), IsOk());
  const auto missing = ReadFile(Path("none"));
  EXPECT_THAT(missing.error().message, testing::StartsWith(Path("none") + ": "));
}

TEST_F(Files, APipeIsRefusedAndNotWaitedFor) {
  ASSERT_EQ(::mkfifo(Path("pipe").c_str(), 0600), 0);
  EXPECT_THAT(ReadFile(Path("pipe")), FailsWith(Code::kFileUnreadable));
  EXPECT_THAT(ReadFile("/dev/zero"), FailsWith(Code::kFileUnreadable));
}

}  // namespace
}  // namespace cutface
