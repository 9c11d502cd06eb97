#include "gui/state/signing.h"

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "cutface/design.h"
#include "cutface/keeping.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

bool IsConnection(const std::string& store) { return store.starts_with("postgresql://"); }

// The entry of exactly this file.
Result<std::vector<ArchiveEntry>> EntriesOf(const Archive& archive, const std::string& sha256) {
  ArchiveQuery query;
  query.kind = "result";
  query.limit = 1'000'000;
  auto all = archive.Find(query);
  if (!all) return all;
  std::erase_if(*all, [&](const ArchiveEntry& entry) {
    const auto body = nlohmann::json::parse(entry.body, nullptr, /*allow_exceptions=*/false);
    return !body.is_object() || body.value("file_sha256", nlohmann::json()) != sha256;
  });
  return all;
}

}  // namespace

bool StoreIsThere(const std::string& store) {
  std::error_code ignored;
  return IsConnection(store) || fs::exists(store, ignored);
}

SignedState ReadSigned(const std::string& store, const std::string& result_path) {
  SignedState out;
  if (store.empty() || result_path.empty() || !StoreIsThere(store)) return out;
  const auto trouble = [&](const Error& error) {
    out.trouble = error.message;
    return out;
  };
  auto bytes = ReadFile(result_path);
  if (!bytes) return trouble(bytes.error());
  auto archive = Archive::Open(store);
  if (!archive) return trouble(archive.error());
  auto entries = EntriesOf(*archive, Sha256Hex(*bytes));
  if (!entries) return trouble(entries.error());
  if (entries->empty()) return out;
  auto state = archive->State(entries->front().seq);
  if (!state) return trouble(state.error());
  out.known = true;
  for (const Signature& s : state->decisions.signatures)
    out.signatures.push_back(std::string(SignatureMeaningName(s.meaning)) + " by " + s.by + ", " +
                             s.when);
  for (const SettledItem& settled : state->settled) {
    const auto same = [&](const Disposition& d) {
      return settled.item.finding ? d.finding == settled.item.finding
                                  : !d.finding && d.row == settled.item.row;
    };
    const auto& all = state->decisions.dispositions;
    const auto last = std::find_if(all.rbegin(), all.rend(), same);  // the last word counts
    if (last != all.rend())
      out.decided.push_back(settled.item.text + ": " +
                            std::string(DispositionKindName(last->what)) + ", by " + last->by +
                            ": " + last->reason);
  }
  for (const OpenItem& item : state->open)
    out.open.push_back({item.text + (item.approval_only ? " (for approval)" : ""), item.row,
                        item.finding, item.finding || !item.row.empty()});
  if (state->replaced_by != 0)
    out.replaced = "a later result of this picture stands in the store, entry " +
                   std::to_string(state->replaced_by);
  return out;
}

Status SignResult(const SignWish& wish, const Passphrase& passphrase,
                  const ArchiveOptions& options) {
  if (wish.store.empty()) return Fail(Code::kUsage, "name the store of records");
  if (wish.person.empty()) return Fail(Code::kUsage, "name who signs");
  auto archive = wish.start ? Archive::Start(wish.store, wish.person, passphrase, options)
                            : Archive::Open(wish.store, options);
  if (!archive) return tl::unexpected(archive.error());
  // The passphrase first: a wrong one must not add anything but its own entry.
  auto signer = archive->Unlock(wish.person, passphrase);
  if (!signer) return tl::unexpected(signer.error());
  KeepWish keep;
  keep.beside = wish.beside;
  keep.who = wish.person;
  auto kept = KeepResultFile(*archive, wish.result_path, keep);
  if (!kept) return tl::unexpected(kept.error());
  const std::int64_t seq = kept->entry.seq;
  if (!wish.release.empty()) {
    auto design = ReadDesign(wish.release);
    if (!design) return tl::unexpected(design.error());
    EntryDraft about;
    about.part = design->part_number;
    about.body = nlohmann::json{{"revision", design->revision}}.dump(
        -1, ' ', false, nlohmann::json::error_handler_t::replace);
    if (auto released = archive->AddMethod("drawing", wish.release, about, *signer); !released)
      return tl::unexpected(released.error());
  }
  for (const Disposition& decision : wish.decisions) {
    if (auto decided = archive->Dispose(seq, decision, *signer); !decided)
      return tl::unexpected(decided.error());
  }
  if (!wish.meaning) return {};
  auto done = archive->Sign({&seq, 1}, *wish.meaning, *signer);
  if (!done) return tl::unexpected(done.error());
  return {};
}

}  // namespace cutface::window
