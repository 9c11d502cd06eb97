// Files by their hash; results with everything that belongs to them.
#include <fmt/format.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <set>

#include "archive/bodies.h"
#include "archive/impl.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

}  // namespace

Result<Incoming> ReadOriginal(const OriginalFile& file, const std::string& who,
                              const EntryDraft& about) {
  auto bytes = ReadFile(file.path);
  if (!bytes) return tl::unexpected(bytes.error());
  std::error_code ignored;
  Incoming incoming;
  incoming.sha256 = Sha256Hex(*bytes);
  incoming.copy = file.copy;
  Json body = {{"role", Utf8(file.role)},
               {"name", Utf8(fs::path(file.path).filename().string())},
               {"bytes", bytes->size()},
               {"kept", file.copy ? "copy" : "reference"}};
  if (!file.copy) body["path"] = Utf8(fs::absolute(file.path, ignored).string());
  if (file.copy) incoming.bytes = std::move(*bytes);
  incoming.draft = about;
  incoming.draft.kind = "file";
  incoming.draft.who = who;
  incoming.draft.about = incoming.sha256;
  incoming.draft.body = Canonical(body);
  return incoming;
}

Result<std::optional<ArchiveEntry>> Archive::Impl::FileEntry(const std::string& sha256) const {
  ArchiveQuery query;
  query.about = sha256;
  query.kind = "file";
  query.limit = 1;
  auto entries = SelectEntries(*db, query);
  if (!entries) return tl::unexpected(entries.error());
  if (entries->empty()) return std::nullopt;
  return entries->front();
}

Status Archive::Impl::KeepCopy(const Incoming& file) {
  if (db->postgres) return InsertPieces(*db, file.sha256, file.bytes);
  const fs::path path = FilePath(file.sha256);
  std::error_code error;
  if (fs::exists(path, error) && fs::file_size(path, error) == file.bytes.size()) return {};
  fs::create_directories(path.parent_path(), error);
  if (error)
    return Fail(Code::kFileUnwritable, fmt::format("{}: {}; nothing was added to the store",
                                                   path.parent_path().string(), error.message()));
  return WriteWhole(path.string(), file.bytes);
}

Result<std::vector<std::byte>> Archive::Original(const std::string& sha256) const {
  auto entry = impl_->FileEntry(sha256);
  if (!entry) return tl::unexpected(entry.error());
  if (!*entry)
    return Fail(Code::kNotFound,
                fmt::format("{}: no file {} is kept here", place(), sha256.substr(0, 12)));
  const Json body = Json::parse((*entry)->body, nullptr, /*allow_exceptions=*/false);
  const std::string path =
      TextOf(body, "kept") == "reference" ? TextOf(body, "path") : impl_->FilePath(sha256);
  auto bytes = impl_->db->postgres && TextOf(body, "kept") != "reference"
                   ? SelectPieces(*impl_->db, sha256)
                   : ReadFile(path);
  if (!bytes) {
    return Fail(Code::kRecordsDamaged,
                fmt::format("entry {}: the file {} cannot be read: {}", (*entry)->seq,
                            TextOf(body, "name"), bytes.error().message));
  }
  if (Sha256Hex(*bytes) != sha256) {
    return Fail(Code::kRecordsDamaged,
                fmt::format("entry {}: the file {} is not what was kept; restore it from a backup",
                            (*entry)->seq, TextOf(body, "name")));
  }
  return bytes;
}

Result<ArchiveEntry> Archive::KeepFile(const OriginalFile& file, const std::string& who,
                                       const EntryDraft& about) {
  auto incoming = ReadOriginal(file, who, about);
  if (!incoming) return tl::unexpected(incoming.error());
  const std::string sha256 = incoming->sha256;
  std::vector<Incoming> files;
  files.push_back(std::move(*incoming));
  if (auto added = impl_->AppendAll(std::move(files), {}, nullptr); !added)
    return tl::unexpected(added.error());
  auto entry = impl_->FileEntry(sha256);
  if (!entry) return tl::unexpected(entry.error());
  CF_CHECK(entry->has_value());
  return **entry;
}

Result<ArchiveEntry> Archive::AddMethod(const std::string& kind, const std::string& path,
                                        const EntryDraft& about, const Signer& engineer) {
  auto incoming = ReadOriginal({kind, path}, engineer.name(), about);
  if (!incoming) return tl::unexpected(incoming.error());
  EntryDraft method = about;
  method.kind = kind;
  method.who = engineer.name();
  method.about = incoming->sha256;
  Json body = Json::parse(about.body, nullptr, /*allow_exceptions=*/false);
  if (!body.is_object()) body = Json::object();
  body["file"] = Utf8(fs::path(path).filename().string());
  method.body = Canonical(body);
  ArchiveQuery same;
  same.about = method.about;
  same.kind = kind;
  same.limit = 1;
  auto known = SelectEntries(*impl_->db, same);
  if (!known) return tl::unexpected(known.error());
  if (!known->empty()) return known->front();
  std::vector<Incoming> files;
  files.push_back(std::move(*incoming));
  auto added = impl_->AppendAll(std::move(files), {&method, 1}, &engineer);
  if (!added) return tl::unexpected(added.error());
  return added->back();
}

Result<KeptResult> Archive::AddResult(const ResultToKeep& keep) {
  CF_CHECK(keep.result != nullptr);
  const SectionResult& result = *keep.result;
  EntryDraft draft;
  draft.kind = "result";
  draft.who = keep.who;
  draft.part = result.part;
  draft.lot = result.sample.lot;
  draft.serial = result.sample.serial;
  draft.about = result.image_sha256;
  auto file = ReadOriginal({"result", keep.path}, keep.who, draft);
  if (!file) return tl::unexpected(file.error());
  KeptResult kept;
  ArchiveQuery same;
  same.about = draft.about;
  same.kind = "result";
  auto earlier = SelectEntries(*impl_->db, same);
  if (!earlier) return tl::unexpected(earlier.error());
  std::string replaces;
  for (const ArchiveEntry& entry : *earlier) {
    const Json body = Json::parse(entry.body, nullptr, /*allow_exceptions=*/false);
    if (TextOf(body, "file_sha256") == file->sha256) {
      kept.entry = entry;
      kept.already = true;
      return kept;
    }
    if (entry.part == Utf8(draft.part) && TextOf(body, "section") == Utf8(result.section_name))
      replaces = entry.hash;
  }
  Json body = ResultBody(result, keep.how);
  body["file_sha256"] = file->sha256;
  if (!replaces.empty()) body["replaces"] = replaces;
  draft.body = Canonical(body);
  std::vector<Incoming> files;
  std::set<std::string> roles;
  for (const OriginalFile& original : keep.originals) {
    auto incoming = ReadOriginal(original, keep.who, draft);
    if (!incoming) return tl::unexpected(incoming.error());
    if (original.role == "picture" && incoming->sha256 != result.image_sha256) {
      return Fail(Code::kUsage,
                  fmt::format("{}: is not the picture that {} was measured from; name the right "
                              "one, or none",
                              original.path, keep.path));
    }
    roles.insert(original.role);
    files.push_back(std::move(*incoming));
  }
  files.push_back(std::move(*file));
  std::vector<EntryDraft> drafts = {draft};
  const auto note = [&](const char* kind, const std::string& text) {
    EntryDraft entry = draft;
    entry.kind = kind;
    entry.about = TextOf(body, "file_sha256");
    entry.body = Canonical(Json{{"text", Utf8(text)}});
    drafts.push_back(entry);
  };
  for (const std::string& edit : result.edits) note("edit", edit);
  for (const std::string& overrule : result.overrules) note("overrule", overrule);
  if (!roles.contains("picture")) {
    auto picture = impl_->FileEntry(result.image_sha256);
    if (!picture) return tl::unexpected(picture.error());
    if (!*picture) kept.warnings.push_back("the picture itself is not kept, only its hash");
  }
  auto added = impl_->AppendAll(std::move(files), drafts, nullptr);
  if (!added) return tl::unexpected(added.error());
  kept.entry = (*added)[added->size() - drafts.size()];
  return kept;
}

}  // namespace cutface
