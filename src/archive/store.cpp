// The store: opening, appending, the head beside it.
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include <filesystem>

#include "archive/impl.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

// Two writers must not overtake one another when they note the head.
struct FileLock {
  int fd = -1;
  explicit FileLock(const std::string& path)
      : fd(::open(path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644)) {
    if (fd >= 0 && ::flock(fd, LOCK_EX) != 0) {
      ::close(fd);
      fd = -1;
    }
  }
  ~FileLock() {
    if (fd >= 0) ::close(fd);
  }
  FileLock(const FileLock&) = delete;
  FileLock& operator=(const FileLock&) = delete;
};

}  // namespace

Archive::Archive(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Archive::Archive(Archive&&) noexcept = default;
Archive& Archive::operator=(Archive&&) noexcept = default;
Archive::~Archive() = default;

const std::string& Archive::place() const { return impl_->db->shown; }

Status CheckDraft(const EntryDraft& draft) {
  if (!IsKind(draft.kind))
    return Fail(Code::kUsage, fmt::format("an entry of kind \"{}\" is not known", draft.kind));
  for (const std::string* key : {&draft.part, &draft.lot, &draft.serial, &draft.who}) {
    if (key->size() > kLongestKey)
      return Fail(Code::kJsonValue,
                  fmt::format("part, lot, serial number or name of {} bytes: the store takes up to "
                              "{}; shorten it",
                              key->size(), kLongestKey));
  }
  const Json body = Json::parse(draft.body, nullptr, /*allow_exceptions=*/false);
  if (!body.is_object()) return Fail(Code::kJsonValue, "an entry's body must be a JSON object");
  if (draft.body.size() > kLongestBody)
    return Fail(Code::kJsonValue, fmt::format("an entry of {} bytes: the store takes up to {}",
                                              draft.body.size(), kLongestBody));
  return {};
}

void Archive::Impl::WriteHeadFile(const ArchiveHead& head) const {
  if (db->postgres) return;
  const FileLock lock(HeadPath() + ".lock");
  const auto known = ReadHeadFile();
  if (known && *known && (*known)->entries >= head.entries) return;
  (void)WriteWhole(HeadPath(),
                   Canonical(Json{{"entries", head.entries}, {"hash", head.hash}}) + "\n");
}

Result<std::optional<ArchiveHead>> Archive::Impl::ReadHeadFile() const {
  std::error_code ignored;
  if (db->postgres || !fs::exists(HeadPath(), ignored)) return std::nullopt;
  auto text = ReadTextFile(HeadPath(), 4096);
  if (!text) return tl::unexpected(text.error());
  const Json json = Json::parse(*text, nullptr, /*allow_exceptions=*/false);
  const auto entries = json.is_object() ? json.find("entries") : json.end();
  if (!json.is_object() || entries == json.end() || !entries->is_number_integer() ||
      TextOf(json, "hash").size() != 64) {
    return Fail(Code::kRecordsDamaged,
                HeadPath() +
                    ": does not say where the store ends; keep it as it is and restore "
                    "the last backup");
  }
  return ArchiveHead{entries->get<std::int64_t>(), TextOf(json, "hash")};
}

Result<std::vector<ArchiveEntry>> Archive::Impl::AppendWithin(std::span<const EntryDraft> drafts,
                                                              const SecretKey* secret) {
  auto head = SelectHead(*db);
  if (!head) return tl::unexpected(head.error());
  // A tail that was cut off must not be written over: that would hide it for ever.
  auto noted = ReadHeadFile();
  if (!noted) return tl::unexpected(noted.error());
  if (*noted && (*noted)->entries > head->entries) {
    return Fail(Code::kRecordsDamaged,
                fmt::format("{}: holds {} entries, {} were written: its end was cut off; keep it "
                            "as it is and restore the last backup",
                            db->shown, head->entries, (*noted)->entries));
  }
  std::vector<ArchiveEntry> entries;
  for (const EntryDraft& draft : drafts) {
    if (auto status = CheckDraft(draft); !status) return tl::unexpected(status.error());
    ArchiveEntry e{head->entries + 1,
                   draft.kind,
                   options.now(),
                   Utf8(draft.who),
                   Utf8(draft.part),
                   Utf8(draft.lot),
                   Utf8(draft.serial),
                   Utf8(draft.about),
                   Canonical(Json::parse(draft.body)),
                   head->hash,
                   ""};
    if (secret != nullptr) {
      Json body = Json::parse(e.body);
      body["seal"] = SignText(*secret, EntryText(e));
      e.body = Canonical(body);
    }
    e.hash = EntryHash(e);
    *head = {e.seq, e.hash};
    entries.push_back(std::move(e));
  }
  if (auto status = InsertEntries(*db, entries); !status) return tl::unexpected(status.error());
  return entries;
}

namespace {

Status MayAppend(std::span<const EntryDraft> drafts, const Signer* signer) {
  for (const EntryDraft& draft : drafts) {
    if (NeedsSeal(draft.kind) && signer == nullptr)
      return Fail(Code::kNotAllowed, fmt::format("{}: needs a person's passphrase", draft.kind));
    if (NeedsEngineer(draft.kind) && signer->role() != PersonRole::kEngineer)
      return Fail(Code::kNotAllowed,
                  fmt::format("{} is an inspector: methods ({}) are changed by an engineer",
                              signer->name(), draft.kind));
  }
  return {};
}

}  // namespace

Result<std::vector<ArchiveEntry>> Archive::Impl::AppendMade(
    const std::function<Result<std::vector<EntryDraft>>()>& make, const Signer& signer) {
  auto writing = Writing::Begin(*db);
  if (!writing) return tl::unexpected(writing.error());
  if (auto status = CheckSigner(signer); !status) return tl::unexpected(status.error());
  auto drafts = make();
  if (!drafts) return tl::unexpected(drafts.error());
  CF_CHECK(!drafts->empty());
  if (auto status = MayAppend(*drafts, &signer); !status) return tl::unexpected(status.error());
  auto entries = AppendWithin(*drafts, &signer.key_->secret);
  if (!entries) return tl::unexpected(entries.error());
  if (auto status = writing->Commit(); !status) return tl::unexpected(status.error());
  WriteHeadFile({entries->back().seq, entries->back().hash});
  return entries;
}

Result<std::vector<ArchiveEntry>> Archive::Impl::AppendAll(std::vector<Incoming> files,
                                                           std::span<const EntryDraft> drafts,
                                                           const Signer* signer) {
  if (auto status = MayAppend(drafts, signer); !status) return tl::unexpected(status.error());
  if (!db->postgres) {  // files before the entry that speaks of them: an orphan harms nobody
    for (const Incoming& file : files) {
      if (!file.copy) continue;
      if (auto status = KeepCopy(file); !status) return tl::unexpected(status.error());
    }
  }
  auto writing = Writing::Begin(*db);
  if (!writing) return tl::unexpected(writing.error());
  if (signer != nullptr) {
    if (auto status = CheckSigner(*signer); !status) return tl::unexpected(status.error());
  }
  std::vector<EntryDraft> all;
  for (Incoming& file : files) {
    auto kept = FileEntry(file.sha256);
    if (!kept) return tl::unexpected(kept.error());
    if (*kept) continue;
    if (db->postgres && file.copy) {
      if (auto status = KeepCopy(file); !status) return tl::unexpected(status.error());
    }
    all.push_back(std::move(file.draft));
  }
  all.insert(all.end(), drafts.begin(), drafts.end());
  if (all.empty()) return std::vector<ArchiveEntry>{};
  // A file that is new is noted unsealed; only what a person vouches for carries the seal.
  const std::size_t plain = signer == nullptr ? all.size() : all.size() - drafts.size();
  std::vector<ArchiveEntry> entries;
  for (const bool sealed : {false, true}) {
    const std::span<const EntryDraft> part =
        sealed ? std::span(all).subspan(plain) : std::span(all).first(plain);
    if (part.empty()) continue;
    auto added = AppendWithin(part, sealed ? &signer->key_->secret : nullptr);
    if (!added) return tl::unexpected(added.error());
    entries.insert(entries.end(), added->begin(), added->end());
  }
  if (auto status = writing->Commit(); !status) return tl::unexpected(status.error());
  WriteHeadFile({entries.back().seq, entries.back().hash});
  return entries;
}

Result<Archive> Archive::Start(const std::string& place, const std::string& engineer,
                               const Passphrase& passphrase, const ArchiveOptions& options) {
  PersonKey person;
  person.name = Utf8(engineer);
  person.role = PersonRole::kEngineer;
  person.cost = options.key_cost;
  if (person.name.empty()) return Fail(Code::kUsage, "the first engineer needs a name");
  SecretKey secret;
  if (auto status = MakeKey(person, passphrase, secret); !status)
    return tl::unexpected(status.error());
  std::error_code ignored;
  const bool ours = !IsPostgres(place) && !fs::exists(place, ignored);
  if (ours && fs::exists(place + ".head", ignored)) {
    return Fail(Code::kUsage, place +
                                  ".head: is left from a store that is gone; look for it, or "
                                  "name a new place");
  }
  const auto failed = [&](const Error& error) -> Result<Archive> {
    if (ours) fs::remove(place, ignored);
    return tl::unexpected(error);
  };
  auto db = Database::Open(place, options.busy_timeout_s, /*make=*/true);
  if (!db) return failed(db.error());
  auto impl = std::make_unique<Impl>();
  impl->db = std::move(*db);
  impl->options = options;
  const EntryDraft start{
      "started",
      person.name,
      "",
      "",
      "",
      "",
      Json{{"format", "cutface/records"}, {"version", 1}, {"store", RandomHex(16)}}.dump()};
  const EntryDraft first{"person", person.name, "", "", "", "", PersonToJson(person).dump()};
  {
    auto writing = Writing::Begin(*impl->db);
    if (!writing) return failed(writing.error());
    if (auto added = impl->AppendWithin({&start, 1}, nullptr); !added) return failed(added.error());
    if (auto added = impl->AppendWithin({&first, 1}, &secret); !added) return failed(added.error());
    if (auto status = writing->Commit(); !status) return failed(status.error());
  }
  auto head = SelectHead(*impl->db);
  if (!head) return tl::unexpected(head.error());
  impl->WriteHeadFile(*head);
  return Archive(std::move(impl));
}

Result<Archive> Archive::Open(const std::string& place, const ArchiveOptions& options) {
  auto db = Database::Open(place, options.busy_timeout_s, /*make=*/false);
  if (!db) return tl::unexpected(db.error());
  auto impl = std::make_unique<Impl>();
  impl->db = std::move(*db);
  impl->options = options;
  ArchiveQuery first;
  first.limit = 1;
  auto entries = SelectEntries(*impl->db, first);
  if (!entries) return tl::unexpected(entries.error());
  const auto body = entries->empty() ? Json::object()
                                     : Json::parse(entries->front().body, nullptr,
                                                   /*allow_exceptions=*/false);
  if (TextOf(body, "format") != "cutface/records" || !body.contains("version") ||
      body["version"] != 1) {
    return Fail(Code::kRecordsDamaged,
                fmt::format("{}: does not begin as a store of this version; check the name, or "
                            "restore the last backup",
                            impl->db->shown));
  }
  return Archive(std::move(impl));
}

Result<ArchiveHead> Archive::Head() const { return SelectHead(*impl_->db); }

Result<std::vector<ArchiveEntry>> Archive::Find(const ArchiveQuery& query) const {
  return SelectEntries(*impl_->db, query);
}

Result<ArchiveEntry> Archive::Entry(std::int64_t seq) const {
  ArchiveQuery query;
  query.after = seq - 1;
  query.limit = 1;
  auto entries = seq < 1 ? std::vector<ArchiveEntry>{} : SelectEntries(*impl_->db, query);
  if (!entries) return tl::unexpected(entries.error());
  if (entries->empty() || entries->front().seq != seq)
    return Fail(Code::kNotFound, fmt::format("{}: has no entry {}", impl_->db->shown, seq));
  return entries->front();
}

Result<std::int64_t> Archive::EntryOfResult(const std::string& image_sha256,
                                            const std::string& result_sha256) const {
  ArchiveQuery query;
  query.kind = "result";
  query.about = image_sha256;
  query.limit = 100000;
  auto entries = SelectEntries(*impl_->db, query);
  if (!entries) return tl::unexpected(entries.error());
  for (const ArchiveEntry& entry : *entries) {
    const Json body = Json::parse(entry.body, nullptr, /*allow_exceptions=*/false);
    if (TextOf(body, "file_sha256") == result_sha256) return entry.seq;
  }
  return 0;
}

Result<std::vector<ArchiveEntry>> Archive::Append(std::span<const EntryDraft> drafts,
                                                  const Signer* signer) {
  return impl_->AppendAll({}, drafts, signer);
}

}  // namespace cutface
