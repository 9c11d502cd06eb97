// The same store in PostgreSQL, against a real server that the test starts in a folder of its own.
#include <gmock/gmock.h>
#include <pwd.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>

#include "archive/stores.h"

namespace cutface {
namespace {

using testing::HasSubstr;
using testing::Not;

// Where Debian keeps the server's programs, the newest version; "" when there is none.
std::string ServerFolder() {
  std::vector<std::string> found;
  std::error_code error;
  for (fs::directory_iterator it("/usr/lib/postgresql", error), end; !error && it != end;
       it.increment(error)) {
    if (fs::exists(it->path() / "bin/initdb", error)) found.push_back(it->path() / "bin");
  }
  return found.empty() ? "" : *std::max_element(found.begin(), found.end());
}

class PostgresTest : public StoreTest {
 protected:
  void SetUp() override {
    StoreTest::SetUp();
    bin_ = ServerFolder();
    if (bin_.empty()) GTEST_SKIP() << "skipped: no server installed";
    // The server refuses to run as root.
    if (::geteuid() == 0) {
      const passwd* user = ::getpwnam("postgres");
      if (user == nullptr) GTEST_SKIP() << "skipped: no server installed";
      ASSERT_EQ(::chown(folder_.c_str(), user->pw_uid, user->pw_gid), 0);
      as_ = "cd / && runuser -u postgres -- ";
    }
    ASSERT_EQ(Shell(as_ + bin_ + "/initdb -D " + At("pg") +
                    " -U lab -A trust -E UTF8 --locale=C "
                    "--no-sync"),
              0);
    ASSERT_EQ(Shell(as_ + bin_ + "/pg_ctl -D " + At("pg") + " -w -l " + At("pg.log") + " -o \"-k " +
                    folder_.string() + " -c listen_addresses= -c fsync=off\" start"),
              0);
    running_ = true;
    place_ = "postgresql://lab:secret@/postgres?host=" + folder_.string();
  }
  void TearDown() override {
    if (running_) Shell(as_ + bin_ + "/pg_ctl -D " + At("pg") + " -m immediate -w stop");
    StoreTest::TearDown();
  }
  static int Shell(const std::string& command) {
    const int status = std::system((command + " >/dev/null 2>&1 </dev/null").c_str());
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }
  int Sql(const std::string& sql) const {
    return Shell(bin_ + "/psql -v ON_ERROR_STOP=1 -h " + folder_.string() +
                 " -U lab postgres -c \"" + sql + "\"");
  }

  void TwoWritersAtOnce() const {
    std::vector<pid_t> children;
    for (const char* who : {"first", "second"}) {
      const pid_t child = ::fork();
      if (child == 0) {
        auto own = Archive::Open(place_, QuickOptions());
        int failed = own ? 0 : 1;
        for (int i = 0; own && i < 40; ++i) {
          EntryDraft draft{"overrule", who, "p", "", std::to_string(i), "", "{}"};
          failed |= own->Append({&draft, 1}) ? 0 : 1;
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
  }

  std::string bin_, as_, place_;
  bool running_ = false;
};

// One server for all that is to be said: starting it takes a second.
TEST_F(PostgresTest, ARealServerKeepsTheSameRecords) {
  EXPECT_THAT(Archive::Open(place_, QuickOptions()), FailsWith(Code::kRecordsDamaged));
  Archive store = Started(place_);
  EXPECT_THAT(store.place(), Not(HasSubstr("secret")));
  EXPECT_THAT(Archive::Start(place_, "E", Passphrase(kEngineerPhrase), QuickOptions()),
              FailsWith(Code::kUsage));
  SectionResult result = ResultOf("B-07 \xC3\xA9 '\"\\ :x");
  result.image_file = "p.png";
  ResultToKeep keep = Keep(result);
  std::string big;  // of several pieces
  for (int i = 0; i < 50000; ++i) big += Sha256Hex(std::to_string(i));
  big += std::string("\0\xFF\n", 3);
  keep.originals.push_back({"marked picture", Write("big.png", big)});
  const auto kept = store.AddResult(keep);
  ASSERT_THAT(kept, IsOk());
  ArchiveQuery query;
  query.serial = result.sample.serial;
  query.kind = "result";
  ASSERT_EQ(store.Find(query)->size(), 1u);
  const auto bytes = store.Original(Sha256Hex(big));
  ASSERT_THAT(bytes, IsOk());
  EXPECT_EQ(std::string(reinterpret_cast<const char*>(bytes->data()), bytes->size()), big);
  const Signer inspector = Inspector(store);
  ASSERT_THAT(store.Sign(std::vector{kept->entry.seq}, SignatureMeaning::kMeasured, inspector),
              IsOk());
  const ArchiveHead head = *store.Head();
  VerifyOptions with_head;
  with_head.expected = head;
  const auto report = store.Verify(with_head);
  ASSERT_THAT(report, IsOk());
  EXPECT_EQ(Problems(*report), "");
  EXPECT_EQ(report->originals, 3);

  // The server refuses what SQLite refuses.
  EXPECT_NE(Sql("UPDATE cutface_entries SET who = 'x' WHERE seq = 2"), 0);
  EXPECT_NE(Sql("DELETE FROM cutface_entries WHERE seq = 2"), 0);
  EXPECT_NE(Sql("TRUNCATE cutface_entries"), 0);
  EXPECT_NE(Sql("DELETE FROM cutface_pieces"), 0);
  EXPECT_EQ(Sql("SELECT 1"), 0);

  // From one kind of database to the other.
  ASSERT_THAT(store.Backup(At("pg.zip")), IsOk());
  auto lite = Archive::Restore(At("pg.zip"), At("lite.records"), QuickOptions());
  ASSERT_THAT(lite, IsOk());
  EXPECT_EQ(lite->Head()->hash, head.hash);
  EXPECT_EQ(Problems(*lite->Verify()), "");

  TwoWritersAtOnce();
  EXPECT_EQ(store.Head()->entries, head.entries + 80);
  EXPECT_EQ(Problems(*store.Verify(with_head)), "");

  // Somebody who owns the database can take the triggers away; the chain tells.
  ASSERT_EQ(
      Sql("DROP TRIGGER cutface_no_change ON cutface_entries; UPDATE cutface_entries SET part "
          "= 'LV-7505' WHERE seq = 5; DELETE FROM cutface_entries WHERE seq = 9"),
      0);
  EXPECT_THAT(Problems(*store.Verify()), HasSubstr("5: was changed"));
  EXPECT_THAT(Problems(*store.Verify()), HasSubstr("9: is missing"));

  // A server that is gone is told without the password.
  ASSERT_EQ(Shell(as_ + bin_ + "/pg_ctl -D " + At("pg") + " -m immediate -w stop"), 0);
  running_ = false;
  const auto gone = Archive::Open(place_, QuickOptions());
  ASSERT_THAT(gone, FailsWith(Code::kFileUnreadable));
  EXPECT_THAT(gone.error().message, Not(HasSubstr("secret")));
}

}  // namespace
}  // namespace cutface
