// What an Archive holds, for the files of this room.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "archive/chain.h"
#include "archive/database.h"
#include "archive/keys.h"
#include "cutface/archive.h"

namespace cutface {

// The persons of a store as they are after some entry.
using PersonBook = std::map<std::string, PersonKey>;
struct KnownPerson {
  PersonKey key;
  std::int64_t entry = 0;
};

// An original on its way into the store.
struct Incoming {
  std::string sha256;
  std::vector<std::byte> bytes;
  bool copy = true;
  EntryDraft draft;  // of kind "file"
};

struct Archive::Impl {
  std::unique_ptr<Database> db;
  ArchiveOptions options;

  // Where a SQLite store keeps originals and its head.
  std::string FilesFolder() const { return db->place + ".files"; }
  std::string FilePath(const std::string& sha256) const {
    return FilesFolder() + "/" + sha256.substr(0, 2) + "/" + sha256;
  }
  std::string HeadPath() const { return db->place + ".head"; }

  Result<std::map<std::string, KnownPerson>> Persons() const;
  // Whether the signer is still who the store says. Errors: kNotAllowed.
  Status CheckSigner(const Signer& signer) const;

  // Entries after the last one, sealed and chained. REQUIRES: within Writing.
  Result<std::vector<ArchiveEntry>> AppendWithin(std::span<const EntryDraft> drafts,
                                                 const SecretKey* secret);
  // The same as a whole, with originals. What stands in the store already is left out of `files`.
  Result<std::vector<ArchiveEntry>> AppendAll(std::vector<Incoming> files,
                                              std::span<const EntryDraft> drafts,
                                              const Signer* signer);
  // What `make` says to append, asked while no one else can write: what it read of the store still
  // holds when its entries stand.
  Result<std::vector<ArchiveEntry>> AppendMade(
      const std::function<Result<std::vector<EntryDraft>>()>& make, const Signer& signer);
  // The entry of a kept original, or none.
  Result<std::optional<ArchiveEntry>> FileEntry(const std::string& sha256) const;
  Status KeepCopy(const Incoming& file);
  // Never behind what it says already; a head that cannot be written only stays behind.
  void WriteHeadFile(const ArchiveHead& head) const;
  Result<std::optional<ArchiveHead>> ReadHeadFile() const;
};

Result<Incoming> ReadOriginal(const OriginalFile& file, const std::string& who,
                              const EntryDraft& about);
// Errors: kJsonValue (a key too long, no object).
Status CheckDraft(const EntryDraft& draft);

}  // namespace cutface
