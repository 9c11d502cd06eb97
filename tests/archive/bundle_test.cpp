// Backups, restoring, exported records.
#include <gmock/gmock.h>
#include <zip.h>

#include "archive/page.h"
#include "archive/stores.h"
#include "archive/zip.h"

namespace cutface {
namespace {

using testing::Each;
using testing::HasSubstr;
using testing::MatchesRegex;
using testing::Not;

class BundleTest : public StoreTest {
 protected:
  std::string TextIn(const std::string& zip, const std::string& name) const {
    auto reader = ZipReader::Open(At(zip));
    if (!reader) return reader.error().message;
    auto bytes = reader->Read(name, std::size_t{1} << 24);
    if (!bytes) return bytes.error().message;
    return {reinterpret_cast<const char*>(bytes->data()), bytes->size()};
  }
  // Puts other bytes in place of a file of a zip.
  void Replace(const std::string& zip, const std::string& name, const std::string& text) const {
    zip_t* archive = zip_open(At(zip).c_str(), 0, nullptr);
    ASSERT_NE(archive, nullptr);
    const auto index = zip_name_locate(archive, name.c_str(), 0);
    ASSERT_GE(index, 0) << name;
    ASSERT_EQ(zip_file_replace(archive, static_cast<zip_uint64_t>(index),
                               zip_source_buffer(archive, text.data(), text.size(), 0), 0),
              0);
    ASSERT_EQ(zip_close(archive), 0);
  }
};

TEST_F(BundleTest, ABackupBecomesTheSameStoreAgain) {
  Archive store = Started();
  for (const char* serial : {"B-01", "B-02"}) Add(store, ResultOf(serial));
  ASSERT_THAT(store.Backup(At("lab.zip")), IsOk());
  EXPECT_THAT(store.Backup(At("lab.zip")), FailsWith(Code::kUsage));  // never overwritten
  const ArchiveHead head = *store.Head();
  Add(store, ResultOf("B-03"));  // after the backup
  auto restored = Archive::Restore(At("lab.zip"), At("again.records"), QuickOptions());
  ASSERT_THAT(restored, IsOk());
  EXPECT_EQ(restored->Head()->hash, head.hash);
  VerifyOptions options;
  options.expected = head;
  const auto report = restored->Verify(options);
  ASSERT_THAT(report, IsOk());
  EXPECT_EQ(Problems(*report), "");
  EXPECT_EQ(report->originals, 4);
  // Persons and their passphrases came along.
  EXPECT_THAT(restored->Unlock("I. Measure", Passphrase(kInspectorPhrase)), IsOk());
  EXPECT_THAT(Archive::Restore(At("lab.zip"), At("again.records"), QuickOptions()),
              FailsWith(Code::kUsage));
}

TEST_F(BundleTest, ADamagedBackupLeavesNothingBehind) {
  {
    Archive store = Started();
    Add(store, ResultOf("B-01"));
    ASSERT_THAT(store.Backup(At("whole.zip")), IsOk());
  }
  const std::string entries = TextIn("whole.zip", "entries.jsonl");
  const std::string picture = "files/" + Sha256Hex("picture of B-01");
  std::string changed = entries, cut = entries;
  changed.replace(changed.find("I. Measure"), 10, "A. Measure");
  cut.erase(cut.rfind('\n', cut.size() - 2) + 1);
  std::string removed = entries;
  const std::size_t second = removed.find('\n') + 1;
  removed.erase(second, removed.find('\n', second) + 1 - second);
  const std::pair<std::string, std::string> damages[] = {
      {"entries.jsonl", changed},       {"entries.jsonl", cut},  {"entries.jsonl", removed},
      {"entries.jsonl", entries + "{"}, {"entries.jsonl", "\n"}, {"head.json", "[]"},
      {picture, "another picture"}};
  for (const auto& [name, text] : damages) {
    fs::copy_file(At("whole.zip"), At("bad.zip"), fs::copy_options::overwrite_existing);
    Replace("bad.zip", name, text);
    EXPECT_THAT(Archive::Restore(At("bad.zip"), At("r"), QuickOptions()),
                FailsWith(Code::kRecordsDamaged))
        << name;
    for (const char* beside : {"r", "r.files", "r.head"}) EXPECT_FALSE(fs::exists(At(beside)));
  }
  Write("no.zip", "no zip at all");
  EXPECT_THAT(Archive::Restore(At("no.zip"), At("r"), QuickOptions()),
              FailsWith(Code::kRecordsDamaged));
  EXPECT_THAT(Archive::Restore(At("none.zip"), At("r"), QuickOptions()),
              FailsWith(Code::kFileMissing));
}

TEST_F(BundleTest, AnExportedRecordHoldsItsFilesItsTrailAndAPage) {
  Archive store = Started();
  const std::int64_t result = Add(store, ResultOf("B-07")).seq;
  Add(store, ResultOf("B-08"));
  const Signer inspector = Inspector(store);
  ASSERT_THAT(store.Sign(std::vector{result}, SignatureMeaning::kMeasured, inspector), IsOk());
  ArchiveQuery query;
  query.serial = "B-07";
  ASSERT_THAT(store.Export(query, At("record.zip")), IsOk());
  const std::string page = TextIn("record.zip", "index.html");
  EXPECT_THAT(page, HasSubstr("serial B-07, conforms"));
  EXPECT_THAT(page, HasSubstr("<td>I. Measure</td><td>inspector</td><td>measured</td>"));
  EXPECT_THAT(page, Not(HasSubstr("B-08")));
  const std::string entries = TextIn("record.zip", "entries.jsonl");
  EXPECT_THAT(entries, HasSubstr("\"kind\":\"signature\""));
  const std::string picture = Sha256Hex("picture of B-07").substr(0, 8) + "-B-07.png";
  EXPECT_EQ(TextIn("record.zip", "files/" + picture), "picture of B-07");
  EXPECT_THAT(page, HasSubstr("href=\"files/" + picture + "\""));
  query.serial = "none";
  EXPECT_THAT(store.Export(query, At("none.zip")), FailsWith(Code::kNotFound));
  EXPECT_FALSE(fs::exists(At("none.zip")));
}

TEST_F(BundleTest, HostileNamesHarmNeitherPageNorPaths) {
  Archive store = Started();
  SectionResult result = ResultOf("x");
  result.sample.serial = "<script>alert(1)</script>";
  result.part = "a\"onload='x'&\xE2\x80\xAEgnp";
  result.findings.push_back({});
  result.findings.back().text = "<img src=x onerror=alert(1)>\n\x1b[31m";
  ResultToKeep keep;
  keep.result = &result;
  keep.path = Write("r.result.json", "r");
  keep.originals = {{"picture", Write("\xE2\x80\xAE;=cmd .png", "picture of x")}};
  keep.who = "=HYPERLINK(\"x\")";
  ASSERT_THAT(store.AddResult(keep), IsOk());
  ASSERT_THAT(store.Export({}, At("record.zip")), IsOk());
  const std::string page = TextIn("record.zip", "index.html");
  EXPECT_THAT(page, Not(HasSubstr("<script")));
  EXPECT_THAT(page, Not(HasSubstr("<img")));
  EXPECT_THAT(page, Not(HasSubstr("\"onload")));
  EXPECT_THAT(page, Not(HasSubstr("\xE2\x80\xAE")));
  EXPECT_THAT(page, HasSubstr("[U+202E]gnp"));
  EXPECT_THAT(page, HasSubstr("[U+001B][31m"));
  EXPECT_THAT(ZipReader::Open(At("record.zip"))->Names(),
              Each(MatchesRegex("(files/)?[A-Za-z0-9_.-]+")));
}

TEST(SafeName, LeavesNothingThatAPathOrAShellWouldObey) {
  EXPECT_EQ(SafeName("B-07.result.json"), "B-07.result.json");
  EXPECT_EQ(SafeName("../../etc/x"), "_.._.._etc_x");
  EXPECT_EQ(SafeName(""), "_");
  EXPECT_EQ(SafeName(".hidden"), "_.hidden");
  EXPECT_EQ(SafeName("a\nb\\c:d"), "a_b_c_d");
  const std::string longest = SafeName(std::string(255, 'n') + ".result.json");
  EXPECT_EQ(longest.size(), 80u);
  EXPECT_TRUE(longest.ends_with(".json"));
}

}  // namespace
}  // namespace cutface
