#include "archive/database.h"

#include <dlfcn.h>
#include <fmt/format.h>
#include <soci/sqlite3/soci-sqlite3.h>

#include <cmath>
#include <cstring>
#include <filesystem>

#include "archive/schema.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

// The PostgreSQL side brings some twenty libraries along, which a site with a SQLite file never
// needs: loaded when a connection string asks for it, from the system's own folders only.
const soci::backend_factory* PostgresFactory(std::string& why) {
  constexpr const char* kLibrary = "libsoci_postgresql.so.4.0";
  void* library = ::dlopen(kLibrary, RTLD_NOW | RTLD_GLOBAL);
  if (library == nullptr) {
    why = ::dlerror();
    return nullptr;
  }
  using Maker = const soci::backend_factory* (*)();
  const auto make = reinterpret_cast<Maker>(::dlsym(library, "factory_postgresql"));
  if (make == nullptr) why = "has no PostgreSQL inside";
  return make == nullptr ? nullptr : make();
}

bool HasTables(Database& db) {
  int count = 0;
  const char* const query =
      db.postgres ? "SELECT count(*) FROM pg_tables WHERE tablename = 'cutface_entries' AND "
                    "schemaname = ANY (current_schemas(false))"
                  : "SELECT count(*) FROM sqlite_master WHERE name = 'cutface_entries'";
  db.sql << query, soci::into(count);
  return count > 0;
}

Status Connect(Database& db, double busy_timeout_s) {
  if (db.postgres) {
    std::string why;
    const soci::backend_factory* factory = PostgresFactory(why);
    if (factory == nullptr)
      return Fail(Code::kUsage, fmt::format("{}: PostgreSQL cannot be used here: {}; install the "
                                            "database library",
                                            db.shown, why));
    return Guarded(db, "opened", [&] {
      db.sql.open(*factory, db.place);
      db.sql << "SET client_min_messages TO warning";
      db.sql << "SET client_encoding TO 'UTF8'";
      db.sql << fmt::format("SET lock_timeout TO {}", std::lround(1000 * busy_timeout_s));
      std::string encoding;
      db.sql << "SHOW server_encoding", soci::into(encoding);
      if (encoding != "UTF8")
        throw std::runtime_error("the database is not in UTF-8; make one with ENCODING 'UTF8'");
    });
  }
  if (db.place.find('"') != std::string::npos)
    return Fail(Code::kUsage, db.shown + ": a quotation mark in a store's path is not possible");
  return Guarded(db, "opened", [&] {
    db.sql.open(soci::sqlite3,
                fmt::format("dbname=\"{}\" timeout={}", fs::absolute(db.place).string(),
                            std::max(1L, std::lround(busy_timeout_s))));
    // Not in the string above: there it would read the store before the timeout is set, and fail
    // while another program writes.
    db.sql << "PRAGMA synchronous = full";
  });
}

Status MakeTables(Database& db) {
  return Guarded(db, "made", [&] {
    db.sql << (db.postgres ? "BEGIN" : "BEGIN IMMEDIATE");
    if (HasTables(db)) throw std::runtime_error("holds records already; name a new place");
    for (const char* statement : SchemaStatements(db.postgres)) db.sql << statement;
    db.sql << "COMMIT";
  });
}

}  // namespace

bool IsPostgres(std::string_view place) {
  return place.starts_with("postgresql://") || place.starts_with("postgres://");
}

std::string ShownPlace(const std::string& place) {
  if (!IsPostgres(place)) return place;
  std::string shown = place.substr(0, place.find('?'));  // what follows may hold a password
  const std::size_t start = shown.find("//") + 2;
  const std::size_t at = shown.find('@', start);
  const std::size_t colon = shown.find(':', start);
  if (at != std::string::npos && colon < at) shown.erase(colon, at - colon);
  return shown;
}

Error DatabaseError(const Database& db, std::string_view doing, const std::exception& e) {
  std::string what = e.what();
  for (char& c : what) c = c == '\n' ? ' ' : c;
  if (what.size() > 300) what.resize(300);
  const auto error = [&](Code code, const char* remedy) {
    return Error{code, fmt::format("{}: cannot be {}: {}; {}", db.shown, doing, what, remedy)};
  };
  if (const auto* lite = dynamic_cast<const soci::sqlite3_soci_error*>(&e)) {
    switch (lite->result() & 0xff) {
      case 5:  // SQLITE_BUSY, SQLITE_LOCKED
      case 6:
        return error(Code::kRecordsBusy, "another program writes to it; try again");
      case 8:   // SQLITE_READONLY
      case 10:  // SQLITE_IOERR
      case 13:  // SQLITE_FULL
        return error(Code::kFileUnwritable, "nothing was changed; check disk and rights");
      case 14:  // SQLITE_CANTOPEN
        return error(Code::kFileUnwritable, "check the folder and the rights");
      case 11:  // SQLITE_CORRUPT, SQLITE_NOTADB
      case 26:
        return error(Code::kRecordsDamaged, "keep it as it is and restore the last backup");
      case 19:  // SQLITE_CONSTRAINT: the triggers
        return error(Code::kRecordsDamaged, "run cutface records verify");
      default:
        break;
    }
  }
  // What SOCI raises without the database's own number, and PostgreSQL's texts.
  const auto says = [&](const char* word) { return what.find(word) != std::string::npos; };
  if (says("locked") || says("lock timeout"))
    return error(Code::kRecordsBusy, "another program writes to it; try again");
  if (says("full") || says("No space") || says("readonly") || says("read-only") ||
      says("disk I/O error"))
    return error(Code::kFileUnwritable, "nothing was changed; check disk and rights");
  if (says("malformed") || says("not a database"))
    return error(Code::kRecordsDamaged, "keep it as it is and restore the last backup");
  if (says("permission denied") || says("could not connect") || says("connection to server"))
    return error(Code::kFileUnreadable, "check the connection string and the server");
  if (says("records already")) return error(Code::kUsage, "nothing was changed");
  return error(Code::kRecordsDamaged, "run cutface records verify");
}

Result<std::unique_ptr<Database>> Database::Open(const std::string& place, double busy_timeout_s,
                                                 bool make) {
  auto db = std::make_unique<Database>();
  db->place = place;
  db->shown = ShownPlace(place);
  db->postgres = IsPostgres(place);
  std::error_code ignored;
  if (!db->postgres) {
    const bool there = fs::exists(place, ignored);
    if (fs::is_directory(place, ignored))
      return Fail(Code::kUsage, place + ": is a folder; name the store's file");
    if (!make && !there)
      return Fail(Code::kFileMissing,
                  place + ": there is no store; make one with cutface records start");
    if (make && there && fs::file_size(place, ignored) > 0)
      return Fail(Code::kUsage, place + ": is there already; name a new place");
  }
  if (auto status = Connect(*db, busy_timeout_s); !status) return tl::unexpected(status.error());
  if (make) {
    if (auto status = MakeTables(*db); !status) return tl::unexpected(status.error());
    return db;
  }
  auto has = Guarded(*db, "read", [&] { return HasTables(*db); });
  if (!has) return tl::unexpected(has.error());
  if (!*has)
    return Fail(Code::kRecordsDamaged, db->shown + ": is no store of records; check the name");
  return db;
}

Result<Writing> Writing::Begin(Database& db) {
  auto status = Guarded(db, "written", [&] {
    if (!db.postgres) {
      db.sql << "BEGIN IMMEDIATE";
      return;
    }
    db.sql << "BEGIN";
    try {
      db.sql << "LOCK TABLE cutface_entries IN EXCLUSIVE MODE";  // readers go on
    } catch (...) {
      db.sql << "ROLLBACK";
      throw;
    }
  });
  if (!status) return tl::unexpected(status.error());
  return Writing(&db);
}

Status Writing::Commit() {
  CF_CHECK(db_ != nullptr);
  auto status = Guarded(*db_, "written", [&] { db_->sql << "COMMIT"; });
  if (status) db_ = nullptr;
  return status;
}

Writing::~Writing() {
  if (db_ == nullptr) return;
  try {
    db_->sql << "ROLLBACK";
  } catch (const std::exception&) {
    // SQLite has taken it back by itself after some errors; the connection's end does it as well.
  }
}

}  // namespace cutface
