// A folder of its own with a store, results to keep in it, and a back door into the database.
#pragma once

#include <gtest/gtest.h>
#include <sqlite3.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "cutface/archive.h"
#include "support/matchers.h"

namespace cutface {

namespace fs = std::filesystem;

inline constexpr const char* kEngineerPhrase = "sections are cut square";
inline constexpr const char* kInspectorPhrase = "polish, then measure";

// Cheap keys: the derivation itself is libsodium's.
inline ArchiveOptions QuickOptions() {
  ArchiveOptions options;
  options.key_cost = {1, 8192};
  options.busy_timeout_s = 10;
  return options;
}

class StoreTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = testing::TempDir() + "cutface_archive.XXXXXX";
    folder_ = mkdtemp(name.data());
  }
  void TearDown() override { fs::remove_all(folder_); }

  std::string At(const std::string& name) const { return (folder_ / name).string(); }
  std::string Write(const std::string& name, const std::string& text) const {
    fs::create_directories((folder_ / name).parent_path());
    std::ofstream(folder_ / name, std::ios::binary) << text;
    return At(name);
  }
  std::string Read(const std::string& name) const {
    std::ifstream file(folder_ / name, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
  }

  // A store with an engineer "E. Method" and an inspector "I. Measure".
  Archive Started(const std::string& place, const ArchiveOptions& options = QuickOptions()) const {
    auto store = Archive::Start(place, "E. Method", Passphrase(kEngineerPhrase), options);
    EXPECT_THAT(store, IsOk());
    auto engineer = store->Unlock("E. Method", Passphrase(kEngineerPhrase));
    EXPECT_THAT(engineer, IsOk());
    EXPECT_THAT(store->SetPerson("I. Measure", PersonRole::kInspector, Passphrase(kInspectorPhrase),
                                 *engineer),
                IsOk());
    return std::move(*store);
  }
  Archive Started() const { return Started(At("lab.records")); }
  static Signer Engineer(Archive& store) {
    auto signer = store.Unlock("E. Method", Passphrase(kEngineerPhrase));
    EXPECT_THAT(signer, IsOk());
    return std::move(*signer);
  }
  static Signer Inspector(Archive& store) {
    auto signer = store.Unlock("I. Measure", Passphrase(kInspectorPhrase));
    EXPECT_THAT(signer, IsOk());
    return std::move(*signer);
  }

  // A result of a picture of its own; without a drawing, so that nothing stands open by itself.
  SectionResult ResultOf(const std::string& serial, const std::string& lot = "L-1") const {
    SectionResult result;
    result.part = "LV-7504";
    result.revision = "C";
    result.section_name = "extrusion";
    result.sample.serial = serial;
    result.sample.lot = lot;
    result.image_file = serial + ".png";
    result.image_sha256 = Sha256Hex("picture of " + serial);
    result.verdict = Verdict::kConforms;
    result.inspector = "I. Measure";
    CharacteristicResult row;
    row.no = "1";
    row.of = {"outline"};
    row.quantity = "diameter";
    row.actual = 2.501;
    row.unit = "mm";
    row.verdict = Verdict::kConforms;
    result.characteristics.push_back(row);
    return result;
  }
  ResultToKeep Keep(const SectionResult& result) const {
    ResultToKeep keep;
    keep.result = &result;
    // What the file says is the record room's concern; here it only must differ.
    keep.path = Write(result.sample.serial + ".result.json",
                      "result " + result.sample.serial + VerdictName(result.verdict).data());
    keep.originals = {{"picture", Write(result.image_file, "picture of " + result.sample.serial)}};
    keep.who = "I. Measure";
    return keep;
  }
  ArchiveEntry Add(Archive& store, const SectionResult& result) const {
    auto kept = store.AddResult(Keep(result));
    EXPECT_THAT(kept, IsOk());
    return kept ? kept->entry : ArchiveEntry{};
  }

  // What somebody with the file and a database shell can do.
  void BackDoor(const std::string& place, const std::string& sql) const {
    sqlite3* db = nullptr;
    ASSERT_EQ(sqlite3_open(place.c_str(), &db), SQLITE_OK);
    char* why = nullptr;
    EXPECT_EQ(sqlite3_exec(db, sql.c_str(), nullptr, nullptr, &why), SQLITE_OK) << why;
    sqlite3_free(why);
    sqlite3_close(db);
  }
  static constexpr const char* kNoTriggers =
      "DROP TRIGGER cutface_no_update; DROP TRIGGER cutface_no_delete; DROP TRIGGER "
      "cutface_follows;";

  fs::path folder_;
};

// The problems of a report as "seq: text", a line each.
inline std::string Problems(const VerifyReport& report) {
  std::string text;
  for (const VerifyProblem& problem : report.problems)
    text += std::to_string(problem.seq) + ": " + problem.text + "\n";
  return text;
}

}  // namespace cutface
