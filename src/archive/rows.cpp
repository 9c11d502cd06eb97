// Reading and writing rows of a store.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "archive/database.h"

namespace cutface {
namespace {

constexpr const char* kColumns =
    "seq, kind, written, who, part, lot, serial, about, body, previous, hash";
constexpr std::size_t kPieceBytes = std::size_t{1} << 20;

// A column of a page; SOCI fills the vectors row by row.
struct Columns {
  std::vector<long long> seq;
  std::array<std::vector<std::string>, 10> texts;
  explicit Columns(std::size_t rows) : seq(rows) {
    for (auto& column : texts) column.resize(rows);
  }
};

std::array<std::string*, 10> TextsOf(ArchiveEntry& e) {
  return {&e.kind,   &e.written, &e.who,  &e.part,     &e.lot,
          &e.serial, &e.about,   &e.body, &e.previous, &e.hash};
}

// SQLite keeps no statistics of these tables and takes a condition on seq for a narrow one: asked
// for a part and a lot it would walk through all entries of lots of that name. A + before a column
// takes its index out of the choice (SQLite, "The Query Optimizer Overview").
struct Steer {
  std::vector<std::string_view> off;
  bool sorts = false;  // rows come by the index of parts and are sorted by seq
};
Steer SteerFor(const Database& db, const ArchiveQuery& query) {
  Steer steer;
  if (db.postgres) return steer;
  if (query.about) {
    steer.off = {"part", "lot", "serial", "kind", "who"};
  } else if (query.part || query.lot || query.serial) {
    steer.off = {"kind", "who"};
    steer.sorts = query.part && (query.lot || query.serial);
  }
  return steer;
}

int HexDigit(char c) { return c <= '9' ? c - '0' : c - 'a' + 10; }

}  // namespace

Result<std::vector<ArchiveEntry>> SelectEntries(Database& db, const ArchiveQuery& query) {
  std::vector<ArchiveEntry> entries;
  if (query.limit == 0) return entries;
  // Bodies are small but for a few; a page is never held twice.
  constexpr std::size_t kPage = 2000;
  const Steer steer = SteerFor(db, query);
  std::string where = query.newest_first && query.after == 0 ? "seq > 0" : "seq > :after";
  if (steer.sorts) where = "+" + where;
  const std::array<std::pair<const char*, const std::optional<std::string>*>, 6> wishes = {
      {{"part", &query.part},
       {"lot", &query.lot},
       {"serial", &query.serial},
       {"kind", &query.kind},
       {"who", &query.who},
       {"about", &query.about}}};
  for (const auto& [name, value] : wishes) {
    const bool off = std::find(steer.off.begin(), steer.off.end(), name) != steer.off.end();
    if (*value) where += fmt::format(" AND {}{} = :{}", off ? "+" : "", name, name);
  }
  auto status = Guarded(db, "read", [&] {
    long long after = query.after;
    const std::string text = fmt::format(
        "SELECT {} FROM cutface_entries WHERE {} ORDER BY {}seq {} LIMIT {}", kColumns, where,
        steer.sorts ? "+" : "", query.newest_first ? "DESC" : "ASC", query.limit);
    // SOCI takes a column of one row for a single value, and then fills nothing.
    Columns page(std::clamp(query.limit, std::size_t{2}, kPage));
    soci::statement statement(db.sql);
    statement.exchange(soci::into(page.seq));
    for (auto& column : page.texts) statement.exchange(soci::into(column));
    if (where.find(":after") != std::string::npos) statement.exchange(soci::use(after, "after"));
    for (const auto& [name, value] : wishes) {
      if (*value) statement.exchange(soci::use(**value, name));
    }
    statement.alloc();
    statement.prepare(text);
    statement.define_and_bind();
    for (bool more = statement.execute(true); more; more = statement.fetch()) {
      for (std::size_t row = 0; row < page.seq.size(); ++row) {
        ArchiveEntry entry;
        entry.seq = page.seq[row];
        const auto texts = TextsOf(entry);
        for (std::size_t i = 0; i < texts.size(); ++i) *texts[i] = std::move(page.texts[i][row]);
        entries.push_back(std::move(entry));
      }
      if (page.seq.empty()) break;
    }
  });
  if (!status) return tl::unexpected(status.error());
  return entries;
}

Result<ArchiveHead> SelectHead(Database& db) {
  ArchiveQuery last;
  last.limit = 1;
  last.newest_first = true;
  auto entries = SelectEntries(db, last);
  if (!entries) return tl::unexpected(entries.error());
  if (entries->empty()) return ArchiveHead{};
  return ArchiveHead{entries->front().seq, entries->front().hash};
}

Status InsertEntries(Database& db, std::span<const ArchiveEntry> entries) {
  return Guarded(db, "written", [&] {
    long long seq = 0;
    std::array<std::string, 10> t;
    soci::statement statement =
        (db.sql.prepare << fmt::format("INSERT INTO cutface_entries ({}) VALUES (:seq, :kind, "
                                       ":written, :who, :part, :lot, :serial, :about, :body, "
                                       ":previous, :hash)",
                                       kColumns),
         soci::use(seq, "seq"), soci::use(t[0], "kind"), soci::use(t[1], "written"),
         soci::use(t[2], "who"), soci::use(t[3], "part"), soci::use(t[4], "lot"),
         soci::use(t[5], "serial"), soci::use(t[6], "about"), soci::use(t[7], "body"),
         soci::use(t[8], "previous"), soci::use(t[9], "hash"));
    for (ArchiveEntry entry : entries) {
      seq = entry.seq;
      const auto texts = TextsOf(entry);
      for (std::size_t i = 0; i < texts.size(); ++i) t[i] = std::move(*texts[i]);
      statement.execute(true);
    }
  });
}

Status InsertPieces(Database& db, const std::string& sha256, std::span<const std::byte> bytes) {
  return Guarded(db, "written", [&] {
    constexpr char kDigits[] = "0123456789abcdef";
    for (std::size_t at = 0, piece = 0; at == 0 || at < bytes.size(); at += kPieceBytes, ++piece) {
      const auto part = bytes.subspan(at, std::min(kPieceBytes, bytes.size() - at));
      std::string hex;
      hex.reserve(2 * part.size());
      for (const std::byte b : part) {
        hex += kDigits[std::to_integer<unsigned>(b) >> 4];
        hex += kDigits[std::to_integer<unsigned>(b) & 15];
      }
      const int number = static_cast<int>(piece);
      db.sql << "INSERT INTO cutface_pieces (sha256, piece, bytes) VALUES (:sha, :piece, "
                "decode(:hex, 'hex'))",
          soci::use(sha256, "sha"), soci::use(number, "piece"), soci::use(hex, "hex");
    }
  });
}

Result<std::vector<std::byte>> SelectPieces(Database& db, const std::string& sha256) {
  std::vector<std::byte> bytes;
  auto status = Guarded(db, "read", [&] {
    for (int piece = 0;; ++piece) {
      std::string hex;
      db.sql << "SELECT encode(bytes, 'hex') FROM cutface_pieces WHERE sha256 = :sha AND piece = "
                ":piece",
          soci::use(sha256, "sha"), soci::use(piece, "piece"), soci::into(hex);
      if (!db.sql.got_data()) break;
      for (std::size_t i = 0; i + 1 < hex.size(); i += 2)
        bytes.push_back(static_cast<std::byte>(16 * HexDigit(hex[i]) + HexDigit(hex[i + 1])));
      if (hex.size() < 2 * kPieceBytes) break;
    }
  });
  if (!status) return tl::unexpected(status.error());
  return bytes;
}

}  // namespace cutface
