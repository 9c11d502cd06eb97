// Does the store still hold what was written?
#include <fmt/format.h>

#include <filesystem>
#include <set>

#include "archive/bodies.h"
#include "archive/impl.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

struct KeptFile {
  std::int64_t seq = 0;
  std::string sha256, name;
  bool copy = true;
};

// Walks the entries in their order and keeps what later ones are held against.
class Walk {
 public:
  Walk(Database& db, VerifyReport& report) : db_(db), report_(report) {}

  void Problem(std::int64_t seq, std::string text) {
    if (report_.problems.size() < kMostProblems)
      report_.problems.push_back({seq, std::move(text)});
    else
      ++report_.more_problems;
  }

  void Take(const ArchiveEntry& e) {
    const std::int64_t expected = last_.seq + 1;
    if (e.seq < expected)
      Problem(e.seq, "stands twice");
    else if (e.seq == expected + 1)
      Problem(expected, "is missing");
    else if (e.seq > expected)
      Problem(expected, fmt::format("entries {} to {} are missing", expected, e.seq - 1));
    const bool whole = EntryHash(e) == e.hash;
    if (!whole)
      Problem(e.seq, fmt::format("was changed ({}): its text is not that of its hash", e.kind));
    // After a gap the link cannot hold; that was told.
    if (e.seq == expected && e.previous != last_.hash) {
      if (e.seq == 1)
        Problem(1, "is not the first that was written");
      else if (whole)
        Problem(last_.seq, fmt::format("is not the one that entry {} was written after: it was "
                                       "exchanged, or entry {} was put in",
                                       e.seq, e.seq));
    }
    if (whole) Meaning(e);
    if (!last_.written.empty() && e.written < last_.written) {
      if (++backwards_ <= 5)
        report_.remarks.push_back(
            fmt::format("entry {}: the clock stood at {}, before that of "
                        "entry {} ({}); the order is by number",
                        e.seq, e.written, last_.seq, last_.written));
    }
    last_ = {e.seq, e.hash, e.written};
    report_.head = {e.seq, e.hash};
  }

  void Finish() {
    if (backwards_ > 5)
      report_.remarks.push_back(fmt::format("the clock went back {} times", backwards_));
  }

  const std::vector<KeptFile>& files() const { return files_; }

 private:
  void Meaning(const ArchiveEntry& e) {
    if (e.seq == 1 && e.kind != "started") Problem(1, "is not the start of a store");
    if (auto sound = CheckEntryBody(e); !sound) {
      Problem(e.seq, "does not say what it must: " + sound.error().message);
      return;
    }
    const Json body = Json::parse(e.body);
    if (NeedsSeal(e.kind)) Seal(e, body);
    if (e.kind == "file")
      files_.push_back({e.seq, e.about, TextOf(body, "name"), TextOf(body, "kept") == "copy"});
    if (e.kind == "disposition" || e.kind == "signature") Link(e);
  }

  void Seal(const ArchiveEntry& e, const Json& body) {
    const auto sealed = SealedText(e);
    if (!sealed) {
      Problem(e.seq, fmt::format("{} without a seal", e.kind));
      return;
    }
    std::optional<PersonKey> made;
    if (e.kind == "person") made = *PersonOf(body);
    const auto known = persons_.find(e.who);
    const bool first = made && persons_.empty() && made->role == PersonRole::kEngineer;
    if (!first && (known == persons_.end() || !known->second.active)) {
      Problem(e.seq, fmt::format("{}: {} was no active person then", e.kind, e.who));
      return;
    }
    const PersonKey& key = first ? *made : known->second;
    if (!SignatureHolds(key.public_key, sealed->text, sealed->signature))
      Problem(e.seq, fmt::format("{}: the seal is not {}'s", e.kind, e.who));
    const bool own = made && made->name == e.who && made->role == key.role && made->active;
    if ((NeedsEngineer(e.kind) || (made && !own)) && key.role != PersonRole::kEngineer)
      Problem(e.seq, fmt::format("{}: {} was no engineer", e.kind, e.who));
    if (made) {
      const std::string name = made->name;
      persons_[name] = std::move(*made);
    }
  }

  // What is decided must be a result that was there before.
  void Link(const ArchiveEntry& e) {
    auto found = Guarded(db_, "read", [&] {
      int count = 0;
      const long long seq = e.seq;
      db_.sql << "SELECT count(*) FROM cutface_entries WHERE hash = :hash AND kind = 'result' AND "
                 "seq < :seq",
          soci::use(e.about, "hash"), soci::use(seq, "seq"), soci::into(count);
      return count;
    });
    if (!found)
      Problem(e.seq, found.error().message);
    else if (*found != 1)
      Problem(e.seq, fmt::format("{}: speaks of a result that is not there", e.kind));
  }

  struct Last {
    std::int64_t seq = 0;
    std::string hash, written;
  };
  Database& db_;
  VerifyReport& report_;
  Last last_;
  int backwards_ = 0;
  PersonBook persons_;
  std::vector<KeptFile> files_;
};

// Heads that were noted, against the entries of that number.
Status CheckHead(Database& db, const ArchiveHead& noted, const std::string& source, Walk& walk,
                 VerifyReport& report) {
  if (noted.entries > report.head.entries) {
    walk.Problem(0, fmt::format("{} knows {} entries, the store holds {}: its end was cut off "
                                "after entry {}",
                                source, noted.entries, report.head.entries, report.head.entries));
    return {};
  }
  if (noted.entries == 0) return {};
  ArchiveQuery query;
  query.after = noted.entries - 1;
  query.limit = 1;
  auto entries = SelectEntries(db, query);
  if (!entries) return tl::unexpected(entries.error());
  if (entries->empty() || entries->front().seq != noted.entries ||
      entries->front().hash != noted.hash) {
    walk.Problem(noted.entries,
                 fmt::format("is not the one that {} knows: the store was written anew from this "
                             "entry or an earlier one on",
                             source));
  }
  return {};
}

void CountOrphans(const std::string& folder, const std::vector<KeptFile>& files,
                  VerifyReport& report) {
  std::set<std::string> known;
  for (const KeptFile& file : files) known.insert(file.sha256);
  std::error_code error;
  std::int64_t orphans = 0;
  for (fs::recursive_directory_iterator it(folder, error), end; !error && it != end;
       it.increment(error))
    orphans += it->is_regular_file() && !known.contains(it->path().filename().string());
  if (orphans > 0)
    report.remarks.push_back(
        fmt::format("{}: {} files that no entry speaks of (left by a program "
                    "that was stopped)",
                    folder, orphans));
}

}  // namespace

Result<VerifyReport> Archive::Verify(const VerifyOptions& options) const {
  VerifyReport report;
  Database& db = *impl_->db;
  Walk walk(db, report);
  auto end = SelectHead(db);
  if (!end) return tl::unexpected(end.error());
  const auto goes_on = [&](double share, std::string_view what) {
    return !options.progress || options.progress(share, what);
  };
  ArchiveQuery page;
  page.after = -1;  // a row before the first would be no row of ours
  for (;;) {
    auto entries = SelectEntries(db, page);
    if (!entries) return tl::unexpected(entries.error());
    for (const ArchiveEntry& entry : *entries) walk.Take(entry);
    if (entries->size() < page.limit) break;
    page.after = entries->back().seq;
    if (!goes_on(0.5 * static_cast<double>(page.after) / static_cast<double>(end->entries + 1),
                 "entries"))
      return Fail(Code::kCancelled, "verifying was stopped");
  }
  if (report.head.entries == 0) walk.Problem(0, "holds no entry");
  walk.Finish();
  auto noted = impl_->ReadHeadFile();
  if (!noted)
    walk.Problem(0, noted.error().message);
  else if (*noted) {
    if (auto status = CheckHead(db, **noted, impl_->HeadPath(), walk, report); !status)
      return tl::unexpected(status.error());
  } else if (!db.postgres) {
    walk.Problem(0, impl_->HeadPath() + ": is missing, so a cut end cannot be noticed");
  }
  if (options.expected) {
    if (auto status = CheckHead(db, *options.expected, "the head kept elsewhere", walk, report);
        !status)
      return tl::unexpected(status.error());
  } else if (db.postgres) {
    report.remarks.push_back(
        "without a head kept elsewhere a cut end, or a store written anew, cannot be noticed");
  }
  if (!options.files) {
    report.remarks.push_back(fmt::format("{} originals were not looked at", walk.files().size()));
    return report;
  }
  for (const KeptFile& file : walk.files()) {
    if (auto bytes = Original(file.sha256); !bytes) {
      walk.Problem(file.seq, fmt::format("{} {}: {}", file.copy ? "original" : "referenced file",
                                         file.name, bytes.error().message));
    }
    ++report.originals;
    if (!goes_on(0.5 + 0.5 * static_cast<double>(report.originals) /
                           static_cast<double>(walk.files().size()),
                 "originals"))
      return Fail(Code::kCancelled, "verifying was stopped");
  }
  if (!db.postgres) CountOrphans(impl_->FilesFolder(), walk.files(), report);
  return report;
}

}  // namespace cutface
