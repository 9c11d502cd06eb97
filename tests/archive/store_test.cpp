#include <gmock/gmock.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdio>
#include <thread>

#include "archive/stores.h"

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

TEST_F(StoreTest, AStoreBeginsWithItsStartAndItsFirstEngineer) {
  auto store = Archive::Start(At("s"), "E. Method", Passphrase(kEngineerPhrase), QuickOptions());
  ASSERT_THAT(store, IsOk());
  const auto entries = store->Find({});
  ASSERT_THAT(entries, IsOk());
  ASSERT_EQ(entries->size(), 2u);
  EXPECT_EQ((*entries)[0].kind, "started");
  EXPECT_EQ((*entries)[1].kind, "person");
  EXPECT_EQ((*entries)[1].previous, (*entries)[0].hash);
  EXPECT_EQ((*entries)[1].body.find("sections are cut"), std::string::npos);
  const auto report = store->Verify();
  ASSERT_THAT(report, IsOk());
  EXPECT_EQ(Problems(*report), "");
}

TEST_F(StoreTest, AResultIsFoundByPartLotAndSerialWithItsFiles) {
  Archive store = Started();
  Add(store, ResultOf("B-07"));
  Add(store, ResultOf("B-08"));
  Add(store, ResultOf("B-09", "L-2"));
  ArchiveQuery query;
  query.kind = "result";
  query.part = "LV-7504";
  query.lot = "L-1";
  auto found = store.Find(query);
  ASSERT_THAT(found, IsOk());
  ASSERT_EQ(found->size(), 2u);
  query.serial = "B-08";
  found = store.Find(query);
  ASSERT_THAT(found, IsOk());
  ASSERT_EQ(found->size(), 1u);
  EXPECT_EQ(found->front().serial, "B-08");
  const auto picture = store.Original(found->front().about);
  ASSERT_THAT(picture, IsOk());
  EXPECT_EQ(std::string(reinterpret_cast<const char*>(picture->data()), picture->size()),
            "picture of B-08");
  EXPECT_THAT(store.Original(std::string(64, 'a')), FailsWith(Code::kNotFound));
  query.newest_first = true;
  query.serial.reset();
  query.limit = 1;
  EXPECT_EQ(store.Find(query)->front().serial, "B-08");
}

TEST_F(StoreTest, TheSameResultTwiceIsOneAndALaterOneOfThePictureReplacesIt) {
  Archive store = Started();
  SectionResult result = ResultOf("B-07");
  const ArchiveEntry first = Add(store, result);
  const auto again = store.AddResult(Keep(result));
  ASSERT_THAT(again, IsOk());
  EXPECT_TRUE(again->already);
  EXPECT_EQ(again->entry.hash, first.hash);
  result.verdict = Verdict::kNotProven;
  result.edits = {"void 3 is debris: overruled"};
  result.overrules = {"overdue by 2 days: accepted by I. Measure"};
  const ArchiveEntry second = Add(store, result);
  EXPECT_THAT(second.body, HasSubstr("\"replaces\":\"" + first.hash));
  EXPECT_EQ(store.State(first.seq)->replaced_by, second.seq);
  EXPECT_EQ(store.State(second.seq)->replaced_by, 0);
  EXPECT_EQ(store.Entry(second.seq + 1)->kind, "edit");
  EXPECT_EQ(store.Entry(second.seq + 2)->kind, "overrule");
}

TEST_F(StoreTest, AnotherPictureThanTheMeasuredOneIsRefused) {
  Archive store = Started();
  const SectionResult result = ResultOf("B-07");
  ResultToKeep keep = Keep(result);
  keep.originals.front().path = Write("other.png", "another picture");
  EXPECT_THAT(store.AddResult(keep), FailsWith(Code::kUsage));
  EXPECT_EQ(store.Head()->entries, 3);
}

TEST_F(StoreTest, TheDatabaseItselfRefusesChangeRemovalAndReplacing) {
  {
    Archive store = Started();
    Add(store, ResultOf("B-07"));
  }
  sqlite3* db = nullptr;
  ASSERT_EQ(sqlite3_open(At("lab.records").c_str(), &db), SQLITE_OK);
  for (const char* sql :
       {"UPDATE cutface_entries SET who = 'x' WHERE seq = 2", "DELETE FROM cutface_entries",
        "INSERT OR REPLACE INTO cutface_entries SELECT * FROM cutface_entries WHERE seq = 2",
        "INSERT INTO cutface_entries SELECT 99, kind, written, who, part, lot, serial, about, "
        "body, "
        "previous, 'h' FROM cutface_entries WHERE seq = 2"}) {
    EXPECT_EQ(sqlite3_exec(db, sql, nullptr, nullptr, nullptr), SQLITE_CONSTRAINT) << sql;
  }
  sqlite3_close(db);
  EXPECT_TRUE(Archive::Open(At("lab.records"), QuickOptions())->Verify()->Sound());
}

// Python's sqlite3, json and hashlib know nothing of this program.
TEST_F(StoreTest, AScriptThatSharesNoCodeFindsTheSameChain) {
  {
    Archive store = Started();
    SectionResult result = ResultOf("B-\"07\"\t\xC3\xA9 \xE2\x80\xAE");
    result.image_file = "p.png";
    Add(store, result);
  }
  const std::string command = std::string("/usr/bin/python3 ") + CUTFACE_SOURCE_DIR +
                              "/tests/archive/check_chain.py " + At("lab.records");
  std::FILE* pipe = ::popen(command.c_str(), "r");
  ASSERT_NE(pipe, nullptr);
  std::array<char, 256> line{};
  ASSERT_NE(std::fgets(line.data(), line.size(), pipe), nullptr);
  EXPECT_EQ(::pclose(pipe), 0);
  const auto head = Archive::Open(At("lab.records"), QuickOptions())->Head();
  EXPECT_EQ(std::string(line.data()), std::to_string(head->entries) + " " + head->hash + "\n");
}

TEST_F(StoreTest, HostileNamesAreKeptAsTheyAre) {
  Archive store = Started();
  const std::string from_right_to_left = "\xE2\x80\xAE";
  const std::vector<std::string> names = {"=HYPERLINK(\"x\")",
                                          "<script>alert(1)</script>",
                                          "../../x",
                                          "a\nb",
                                          from_right_to_left + "gnp.exe",
                                          std::string(255, 'n'),
                                          "' OR 1=1; --"};
  for (const std::string& name : names) {
    EntryDraft draft{"overrule", "I. Measure", name, name, name, "", "{}"};
    ASSERT_THAT(store.Append({&draft, 1}), IsOk()) << name;
    ArchiveQuery query;
    query.part = name;
    query.lot = name;
    const auto found = store.Find(query);
    ASSERT_THAT(found, IsOk());
    ASSERT_EQ(found->size(), 1u) << name;
    EXPECT_EQ(found->front().serial, name);
  }
  EntryDraft broken{"overrule", "\xFF\xFE", std::string("a\0b", 3), "", "", "", "{}"};
  const auto kept = store.Append({&broken, 1});
  ASSERT_THAT(kept, IsOk());
  EXPECT_EQ(kept->front().part,
            "a\xEF\xBF\xBD"
            "b");  // U+FFFD: no database takes a NUL
  EXPECT_TRUE(store.Verify()->Sound());
}

TEST_F(StoreTest, EntriesThatMakeNoSenseAreRefused) {
  Archive store = Started();
  const auto append = [&](EntryDraft draft) { return store.Append({&draft, 1}); };
  EXPECT_THAT(append({"rumour", "x", "", "", "", "", "{}"}), FailsWith(Code::kUsage));
  EXPECT_THAT(append({"edit", "x", "", "", "", "", "[1]"}), FailsWith(Code::kJsonValue));
  EXPECT_THAT(append({"edit", "x", "", "", "", "", "{"}), FailsWith(Code::kJsonValue));
  EXPECT_THAT(append({"edit", "x", std::string(513, 'p'), "", "", "", "{}"}),
              FailsWith(Code::kJsonValue));
  EXPECT_THAT(append({"signature", "x", "", "", "", "", "{}"}), FailsWith(Code::kNotAllowed));
  EXPECT_EQ(store.Head()->entries, 3);
}

TEST_F(StoreTest, PlacesThatAreNoStoreSaySo) {
  EXPECT_THAT(Archive::Open(At("none"), QuickOptions()), FailsWith(Code::kFileMissing));
  EXPECT_THAT(Archive::Open(folder_.string(), QuickOptions()), FailsWith(Code::kUsage));
  Write("text", "this is no database, but long enough to look like a header of one ............");
  EXPECT_THAT(Archive::Open(At("text"), QuickOptions()), FailsWith(Code::kRecordsDamaged));
  Write("empty", "");
  EXPECT_THAT(Archive::Open(At("empty"), QuickOptions()), FailsWith(Code::kRecordsDamaged));
  const Archive store = Started();
  EXPECT_THAT(Archive::Start(At("lab.records"), "E", Passphrase(kEngineerPhrase), QuickOptions()),
              FailsWith(Code::kUsage));
  EXPECT_THAT(Archive::Start(At("new"), "E", Passphrase("short"), QuickOptions()),
              FailsWith(Code::kUsage));
  EXPECT_FALSE(fs::exists(At("new")));
  EXPECT_THAT(
      Archive::Start(At("no/such/folder/s"), "E", Passphrase(kEngineerPhrase), QuickOptions()),
      FailsWith(Code::kFileUnwritable));
  EXPECT_TRUE(store.Verify()->Sound());
}

TEST_F(StoreTest, AClockThatGoesBackIsToldAndOrdersNothing) {
  auto times = std::make_shared<std::vector<std::string>>();
  ArchiveOptions options = QuickOptions();
  options.now = [times] {
    if (times->empty()) return std::string("2026-03-02T10:00:00Z");
    std::string time = times->front();
    times->erase(times->begin());
    return time;
  };
  Archive store = Started(At("s"), options);
  *times = {"2026-03-02T09:00:00Z"};
  EntryDraft draft{"overrule", "x", "p", "", "", "", "{}"};
  ASSERT_THAT(store.Append({&draft, 1}), IsOk());
  draft.lot = "later";
  ASSERT_THAT(store.Append({&draft, 1}), IsOk());
  ArchiveQuery query;
  query.part = "p";
  const auto found = store.Find(query);
  EXPECT_THAT((std::vector{(*found)[0].written, (*found)[1].written}),
              ElementsAre("2026-03-02T09:00:00Z", "2026-03-02T10:00:00Z"));
  const auto report = store.Verify();
  EXPECT_EQ(Problems(*report), "");
  EXPECT_THAT(report->remarks, ElementsAre(HasSubstr("entry 4: the clock stood at")));
}

TEST_F(StoreTest, TwoProcessesWriteToOneStoreWithoutLosingAnEntry) {
  constexpr int kEach = 60;
  { Started(); }
  std::vector<pid_t> children;
  for (const char* who : {"first", "second"}) {
    const pid_t child = ::fork();
    ASSERT_GE(child, 0);
    if (child == 0) {
      auto store = Archive::Open(At("lab.records"), QuickOptions());
      int failed = store ? 0 : 1;
      if (!store) std::fputs((store.error().message + "\n").c_str(), stderr);
      for (int i = 0; store && i < kEach; ++i) {
        EntryDraft draft{"overrule", who, "p", "", std::to_string(i), "", "{}"};
        if (auto added = store->Append({&draft, 1}); !added) {
          failed = 1;
          std::fputs((added.error().message + "\n").c_str(), stderr);
        }
      }
      ::_exit(failed);
    }
    children.push_back(child);
  }
  for (const pid_t child : children) {
    int status = 0;
    ASSERT_EQ(::waitpid(child, &status, 0), child);
    EXPECT_EQ(status, 0);
  }
  auto store = Archive::Open(At("lab.records"), QuickOptions());
  EXPECT_EQ(store->Head()->entries, 3 + 2 * kEach);
  const auto report = store->Verify();
  EXPECT_EQ(Problems(*report), "");
  EXPECT_THAT(report->remarks, IsEmpty());
  EXPECT_THAT(Read("lab.records.head"), HasSubstr("\"entries\":" + std::to_string(3 + 2 * kEach)));
}

TEST_F(StoreTest, AnotherWriterThatHoldsTheStoreIsWaitedForAndThenTold) {
  ArchiveOptions options = QuickOptions();
  options.busy_timeout_s = 1;
  Archive store = Started(At("s"), options);
  sqlite3* db = nullptr;
  ASSERT_EQ(sqlite3_open(At("s").c_str(), &db), SQLITE_OK);
  ASSERT_EQ(sqlite3_exec(db, "BEGIN IMMEDIATE", nullptr, nullptr, nullptr), SQLITE_OK);
  EntryDraft draft{"overrule", "x", "p", "", "", "", "{}"};
  EXPECT_THAT(store.Append({&draft, 1}), FailsWith(Code::kRecordsBusy));
  sqlite3_exec(db, "ROLLBACK", nullptr, nullptr, nullptr);
  sqlite3_close(db);
  EXPECT_THAT(store.Append({&draft, 1}), IsOk());
}

}  // namespace
}  // namespace cutface
