// What somebody with the file and a database shell can do, and that it is found at its row.
#include <gmock/gmock.h>

#include "archive/stores.h"

namespace cutface {
namespace {

using testing::AllOf;
using testing::HasSubstr;
using testing::Not;
using testing::StartsWith;

class TamperTest : public StoreTest {
 protected:
  // Entries 1 to 3: start and persons; 4 .. 18: five results, each after its two files.
  void SetUp() override {
    StoreTest::SetUp();
    Archive store = Started();
    for (int i = 0; i < 5; ++i) Add(store, ResultOf("B-0" + std::to_string(i)));
    head_ = *store.Head();
    ASSERT_EQ(head_.entries, 18);
  }
  std::string Found(const std::string& sql, std::optional<ArchiveHead> expected = {}) {
    if (!sql.empty()) BackDoor(At("lab.records"), kNoTriggers + sql);
    auto store = Archive::Open(At("lab.records"), QuickOptions());
    if (!store) return store.error().message;
    VerifyOptions options;
    options.expected = std::move(expected);
    const auto report = store->Verify(options);
    return report ? Problems(*report) : report.error().message;
  }
  // Entry `seq` with a change, and its hash made anew, as somebody who read the manual would do.
  std::string Rehashed(std::int64_t seq, const std::string& verdict) {
    auto store = Archive::Open(At("lab.records"), QuickOptions());
    ArchiveEntry entry = *store->Entry(seq);
    const std::size_t at = entry.body.find("\"verdict\":\"conforms\"}");
    EXPECT_NE(at, std::string::npos);
    entry.body.replace(at, 20, "\"verdict\":\"" + verdict + "\"");
    return "UPDATE cutface_entries SET body = '" + entry.body + "', hash = '" + EntryHash(entry) +
           "' WHERE seq = " + std::to_string(seq) + ";";
  }

  ArchiveHead head_;
};

TEST_F(TamperTest, AnUntouchedStoreIsSound) { EXPECT_EQ(Found(""), ""); }

TEST_F(TamperTest, AChangedByteIsFoundAtItsRow) {
  for (const char* column : {"kind", "written", "who", "part", "lot", "serial", "about", "body"}) {
    const std::string name = column;
    const std::string restore = At("copy");
    fs::copy_file(At("lab.records"), restore, fs::copy_options::overwrite_existing);
    const std::string found =
        Found("UPDATE cutface_entries SET " + name + " = " + name + " || ' ' WHERE seq = 9;");
    EXPECT_THAT(found, AllOf(StartsWith("9: was changed"), Not(HasSubstr("\n8: ")))) << name;
    fs::copy_file(restore, At("lab.records"), fs::copy_options::overwrite_existing);
  }
}

TEST_F(TamperTest, AChangedRowThatWasHashedAnewIsFound) {
  const std::string found = Found(Rehashed(9, "does not conform"));
  EXPECT_THAT(found, StartsWith("9: is not the one that entry 10 was written after"));
}

TEST_F(TamperTest, ARemovedRowIsNamed) {
  EXPECT_THAT(Found("DELETE FROM cutface_entries WHERE seq = 9;"), StartsWith("9: is missing"));
}

TEST_F(TamperTest, RemovedRowsThatWereNumberedAnewAreFound) {
  const std::string found = Found(
      "DELETE FROM cutface_entries WHERE seq = 9;"
      "UPDATE cutface_entries SET seq = seq - 1 WHERE seq > 9;");
  EXPECT_THAT(found, StartsWith("9: was changed"));
  EXPECT_THAT(found, HasSubstr("its end was cut off"));
}

TEST_F(TamperTest, TwoSwappedRowsAreBothNamed) {
  const std::string found = Found(
      "UPDATE cutface_entries SET seq = 99 WHERE seq = 9;"
      "UPDATE cutface_entries SET seq = 9 WHERE seq = 12;"
      "UPDATE cutface_entries SET seq = 12 WHERE seq = 99;");
  EXPECT_THAT(found, AllOf(HasSubstr("9: was changed"), HasSubstr("12: was changed")));
}

TEST_F(TamperTest, ACutTailIsFoundByTheHeadBesideTheStore) {
  EXPECT_THAT(Found("DELETE FROM cutface_entries WHERE seq > 15;"),
              AllOf(StartsWith("0: "), HasSubstr("knows 18 entries, the store holds 15")));
  // Nothing is written over the gap, which would hide it for ever.
  auto store = Archive::Open(At("lab.records"), QuickOptions());
  EntryDraft draft{"overrule", "x", "", "", "", "", "{}"};
  EXPECT_THAT(store->Append({&draft, 1}), FailsWith(Code::kRecordsDamaged));
}

TEST_F(TamperTest, ACutTailWithItsHeadIsFoundOnlyByAHeadKeptElsewhere) {
  const std::string cut = "DELETE FROM cutface_entries WHERE seq > 15;";
  BackDoor(At("lab.records"), kNoTriggers + cut);
  const auto last = Archive::Open(At("lab.records"), QuickOptions())->Head();
  Write("lab.records.head", "{\"entries\":15,\"hash\":\"" + last->hash + "\"}\n");
  EXPECT_EQ(Found(""), "");  // said in the header: nothing inside the store can tell
  EXPECT_THAT(Found("", head_), HasSubstr("the head kept elsewhere knows 18 entries"));
}

TEST_F(TamperTest, AStoreWrittenAnewIsFoundByTheHead) {
  std::string sql = Rehashed(18, "does not conform");
  EXPECT_THAT(Found(sql), HasSubstr("18: is not the one that"));
}

TEST_F(TamperTest, AMissingOrOddHeadIsTold) {
  fs::remove(At("lab.records.head"));
  EXPECT_THAT(Found(""), HasSubstr("lab.records.head: is missing"));
  Write("lab.records.head", "{}");
  EXPECT_THAT(Found(""), HasSubstr("does not say where the store ends"));
}

TEST_F(TamperTest, OriginalsThatWereChangedOrRemovedAreNamed) {
  const auto path = [&](const std::string& serial) {
    const std::string sha = Sha256Hex("picture of " + serial);
    return "lab.records.files/" + sha.substr(0, 2) + "/" + sha;
  };
  Write(path("B-01"), "picture of B-02");
  fs::remove(At(path("B-03")));
  Write("lab.records.files/aa/" + std::string(64, 'a'), "left over");
  auto store = Archive::Open(At("lab.records"), QuickOptions());
  const auto report = store->Verify();
  ASSERT_THAT(report, IsOk());
  EXPECT_THAT(Problems(*report), AllOf(HasSubstr("7: original B-01.png"), HasSubstr("B-03.png")));
  EXPECT_EQ(report->problems.size(), 2u);
  EXPECT_THAT(report->remarks, testing::ElementsAre(HasSubstr("1 files that no entry speaks of")));
}

TEST_F(TamperTest, ASignatureNobodyMadeIsFound) {
  auto store = Archive::Open(At("lab.records"), QuickOptions());
  ASSERT_THAT(store, IsOk());
  const ArchiveEntry result = *store->Entry(18);
  ASSERT_EQ(result.kind, "result");
  ArchiveEntry forged = result;
  forged.seq = 19;
  forged.kind = "signature";
  forged.who = "I. Measure";
  forged.about = result.hash;
  forged.previous = result.hash;
  forged.body = "{\"meaning\":\"measured\",\"result_sha256\":\"" + std::string(64, 'b') +
                "\",\"seal\":\"" + std::string(128, 'c') + "\",\"when\":\"2026-03-02T10:00:00Z\"}";
  forged.hash = EntryHash(forged);
  const std::string found =
      Found("INSERT INTO cutface_entries VALUES (19, 'signature', '" + forged.written + "', '" +
            forged.who + "', '" + forged.part + "', '" + forged.lot + "', '" + forged.serial +
            "', '" + forged.about + "', '" + forged.body + "', '" + forged.previous + "', '" +
            forged.hash + "');");
  EXPECT_THAT(found, StartsWith("19: signature: the seal is not I. Measure's"));
}

}  // namespace
}  // namespace cutface
