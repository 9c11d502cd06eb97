// The whole store as one file, and back.
#include <fmt/format.h>

#include <filesystem>
#include <set>

#include "archive/bodies.h"
#include "archive/impl.h"
#include "archive/zip.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

constexpr const char* kEntries = "entries.jsonl";
constexpr std::size_t kLargestFile = std::size_t{4} << 30;

constexpr const char* kHowToCheck =
    "This is a store of records of the program cutface, kept as a backup.\n\n"
    "entries.jsonl  one entry a line, in their order\n"
    "head.json      number of entries and hash of the last\n"
    "files/         originals by their SHA-256\n\n"
    "The hash of an entry is the SHA-256 of the JSON array\n"
    "  [\"cutface/entry\",1,seq,kind,written,who,part,lot,serial,about,body,previous]\n"
    "written without blanks in UTF-8, where body stands as the text that it is in entries.jsonl "
    "and\n"
    "previous is the hash of the entry before. `cutface records restore` makes a store of it "
    "again.\n";

std::string FileName(const std::string& sha256) { return "files/" + sha256; }

// Entries up to a number as lines, page by page.
NextPiece EntryLines(Database& db, std::int64_t last) {
  return [&db, last, after = std::int64_t{0}]() mutable -> Result<std::string> {
    std::string lines;
    if (after >= last) return lines;
    ArchiveQuery page;
    page.after = after;
    page.limit = 500;
    auto entries = SelectEntries(db, page);
    if (!entries) return tl::unexpected(entries.error());
    if (entries->empty())
      return Fail(Code::kRecordsDamaged,
                  fmt::format("{}: entries after {} are missing", db.shown, after));
    for (const ArchiveEntry& entry : *entries) {
      if (entry.seq > last) break;
      lines += EntryToJson(entry) + "\n";
    }
    after = entries->back().seq;
    return lines;
  };
}

struct CopyOf {
  std::string sha256, name;
};

}  // namespace

Status Archive::Backup(const std::string& zip_path) const {
  Database& db = *impl_->db;
  auto head = Head();
  if (!head) return tl::unexpected(head.error());
  auto zip = ZipWriter::Create(zip_path);
  if (!zip) return tl::unexpected(zip.error());
  const std::int64_t last = head->entries;
  Status status = zip->Add("how-to-check.txt", kHowToCheck);
  if (status)
    status = zip->Add("head.json",
                      Canonical(Json{{"entries", head->entries}, {"hash", head->hash}}) + "\n");
  if (status)
    status = zip->Add(
        kEntries, [&db, last] { return EntryLines(db, last); }, /*pack=*/true);
  ArchiveQuery files;
  files.kind = "file";
  for (bool more = true; status && more;) {
    auto page = Find(files);
    if (!page) return tl::unexpected(page.error());
    for (const ArchiveEntry& entry : *page) {
      if (!status || entry.seq > last) break;
      const Json body = Json::parse(entry.body, nullptr, /*allow_exceptions=*/false);
      if (TextOf(body, "kept") != "copy") continue;
      const auto piece = [this, sha = entry.about]() -> NextPiece {
        return [this, sha, told = false]() mutable -> Result<std::string> {
          if (told) return std::string();
          told = true;
          auto bytes = Original(sha);
          if (!bytes) return tl::unexpected(bytes.error());
          return std::string(reinterpret_cast<const char*>(bytes->data()), bytes->size());
        };
      };
      status = zip->Add(FileName(entry.about), piece, /*pack=*/false);
    }
    more = page->size() == files.limit;
    if (more) files.after = page->back().seq;
  }
  if (!status) return status;
  return zip->Finish();
}

namespace {

// Entries of a backup, checked as they come.
class Restoring {
 public:
  explicit Restoring(Database& db) : db_(db) {}

  Status Take(std::string_view line) {
    auto entry = ParseEntry(line);
    if (!entry) {
      return Fail(Code::kRecordsDamaged, fmt::format("the backup is damaged after entry {}: {}",
                                                     head_.entries, entry.error().message));
    }
    if (entry->seq != head_.entries + 1 || entry->previous != head_.hash) {
      return Fail(Code::kRecordsDamaged,
                  fmt::format("the backup is damaged: entry {} does not follow entry {}",
                              entry->seq, head_.entries));
    }
    head_ = {entry->seq, entry->hash};
    if (entry->kind == "file") {
      const Json body = Json::parse(entry->body);
      if (TextOf(body, "kept") == "copy") copies_.push_back({entry->about, TextOf(body, "name")});
    }
    page_.push_back(std::move(*entry));
    return page_.size() < 1000 ? Status() : Flush();
  }
  Status Flush() {
    auto status = InsertEntries(db_, page_);
    page_.clear();
    return status;
  }
  const ArchiveHead& head() const { return head_; }
  const std::vector<CopyOf>& copies() const { return copies_; }

 private:
  Database& db_;
  ArchiveHead head_;
  std::vector<ArchiveEntry> page_;
  std::vector<CopyOf> copies_;
};

Status CheckBackupHead(const ZipReader& zip, const ArchiveHead& head) {
  auto bytes = zip.Read("head.json", 4096);
  if (!bytes) return tl::unexpected(bytes.error());
  const Json json = Json::parse(reinterpret_cast<const char*>(bytes->data()),
                                reinterpret_cast<const char*>(bytes->data()) + bytes->size(),
                                nullptr, /*allow_exceptions=*/false);
  if (!json.is_object() || json.value("entries", Json()) != head.entries ||
      TextOf(json, "hash") != head.hash)
    return Fail(Code::kRecordsDamaged, "the backup is damaged: its end was cut off or changed");
  return {};
}

}  // namespace

Result<Archive> Archive::Restore(const std::string& zip_path, const std::string& place,
                                 const ArchiveOptions& options) {
  auto zip = ZipReader::Open(zip_path);
  if (!zip) return tl::unexpected(zip.error());
  if (!zip->Has(kEntries))
    return Fail(Code::kRecordsDamaged, zip_path + ": is no backup of records");
  std::error_code ignored;
  const bool sqlite = !IsPostgres(place);
  for (const char* beside : {"", ".files", ".head"}) {
    if (sqlite && fs::exists(place + beside, ignored))
      return Fail(Code::kUsage, place + beside + ": is there already; name a new place");
  }
  auto impl = std::make_unique<Impl>();
  impl->options = options;
  const auto restore = [&]() -> Status {
    auto db = Database::Open(place, options.busy_timeout_s, /*make=*/true);
    if (!db) return tl::unexpected(db.error());
    impl->db = std::move(*db);
    auto writing = Writing::Begin(*impl->db);
    if (!writing) return tl::unexpected(writing.error());
    Restoring restoring(*impl->db);
    if (auto status = zip->Lines(kEntries, 3 * kLongestBody,
                                 [&](std::string_view line) { return restoring.Take(line); });
        !status)
      return status;
    if (auto status = restoring.Flush(); !status) return status;
    if (auto status = CheckBackupHead(*zip, restoring.head()); !status) return status;
    for (const CopyOf& copy : restoring.copies()) {
      auto bytes = zip->Read(FileName(copy.sha256), kLargestFile);
      if (!bytes) return tl::unexpected(bytes.error());
      Incoming incoming;
      incoming.sha256 = copy.sha256;
      incoming.bytes = std::move(*bytes);
      if (Sha256Hex(incoming.bytes) != copy.sha256)
        return Fail(
            Code::kRecordsDamaged,
            fmt::format("the backup is damaged: the file {} is not what was kept", copy.name));
      if (auto status = impl->KeepCopy(incoming); !status) return status;
    }
    if (auto status = writing->Commit(); !status) return status;
    impl->WriteHeadFile(restoring.head());
    return {};
  };
  if (auto status = restore(); !status) {
    if (sqlite) {  // nothing half-restored is left; all of it is new
      impl->db.reset();
      fs::remove(place, ignored);
      fs::remove_all(place + ".files", ignored);
    }
    return tl::unexpected(status.error());
  }
  return Archive(std::move(impl));
}

}  // namespace cutface
