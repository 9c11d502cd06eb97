// One connection to a store's database, SQLite or PostgreSQL, through SOCI.
#pragma once

#include <soci/soci.h>

#include <memory>
#include <string>
#include <string_view>

#include "cutface/archive.h"

namespace cutface {

bool IsPostgres(std::string_view place);
// The place as messages may show it: without a password.
std::string ShownPlace(const std::string& place);

struct Database {
  soci::session sql;
  std::string place, shown;
  bool postgres = false;

  // With `make` the tables and triggers are made in one transaction. Errors: kFileMissing,
  // kFileUnreadable, kUsage (there already; a path that cannot be named), kRecordsDamaged (no
  // store), kRecordsBusy, kFileUnwritable.
  static Result<std::unique_ptr<Database>> Open(const std::string& place, double busy_timeout_s,
                                                bool make);
};

// What a failure of the database means. `doing` completes "cannot be ...".
Error DatabaseError(const Database& db, std::string_view doing, const std::exception& e);

// Runs f and turns what it throws into an error.
template <class F>
auto Guarded(const Database& db, std::string_view doing, F&& f) -> Result<decltype(f())> {
  try {
    if constexpr (std::is_void_v<decltype(f())>) {
      f();
      return {};
    } else {
      return f();
    }
  } catch (const std::exception& e) {
    return tl::unexpected(DatabaseError(db, doing, e));
  }
}

// Holds the right to write until Commit or the end of the block, which takes everything back.
class Writing {
 public:
  static Result<Writing> Begin(Database& db);
  Status Commit();
  ~Writing();
  Writing(Writing&& other) noexcept : db_(other.db_) { other.db_ = nullptr; }
  Writing& operator=(Writing&&) = delete;

 private:
  explicit Writing(Database* db) : db_(db) {}
  Database* db_;
};

// One page of entries; `query` as Archive::Find says.
Result<std::vector<ArchiveEntry>> SelectEntries(Database& db, const ArchiveQuery& query);
Result<ArchiveHead> SelectHead(Database& db);
// REQUIRES: within Writing; in order.
Status InsertEntries(Database& db, std::span<const ArchiveEntry> entries);

// Originals inside a PostgreSQL database. REQUIRES for inserting: within Writing.
Status InsertPieces(Database& db, const std::string& sha256, std::span<const std::byte> bytes);
Result<std::vector<std::byte>> SelectPieces(Database& db, const std::string& sha256);

}  // namespace cutface
