// Records that an auditor opens ten years later: an append-only store of results, edits,
// calibrations, checks, dispositions and signatures, with the files they speak of.
//
// A store is a list of entries. Each holds the hash of the one before (SHA-256), so that a change,
// a removal or another order shows at its row; triggers in the database refuse UPDATE and DELETE.
// What the chain alone cannot show is a tail that was cut off, or a store that was written anew
// from some row on: for that the head (number of entries, last hash) is kept beside the store and
// can be kept elsewhere too. Persons sign with a key that only their passphrase opens (Ed25519 out
// of Argon2id), so that whoever can write to the database still cannot sign for them.
//
// A place is the path of a SQLite file or a PostgreSQL connection string ("postgresql://...").
// Originals (pictures, drawings, result files) are kept by their hash: beside a SQLite file in
// PLACE.files, in PostgreSQL in the database itself.
//
// An Archive belongs to one thread at a time; several processes may write to one store at once.
// Keywords: records, audit trail, hash chain, signature, disposition, backup, 21 CFR 11.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/roster.h"
#include "cutface/section.h"

namespace cutface {

// --- entries -------------------------------------------------------------------------------------

// Kinds: "started", "person", "drawing", "hints", "calibration", "check", "result", "edit",
// "overrule", "file", "disposition", "signature", "refused".
struct ArchiveEntry {
  std::int64_t seq = 0;  // 1, 2, 3 ... without a gap
  std::string kind;
  std::string written;            // by the clock of the writer, UTC; never decides the order
  std::string who;                // as named; sealed kinds prove it
  std::string part, lot, serial;  // "": unknown or does not apply
  std::string about;              // SHA-256 of a file, or the hash of another entry; or ""
  std::string body;               // a JSON object in canonical form: keys sorted, no blanks
  std::string previous, hash;     // of the entry before ("" for the first); of this one
};
// hash = SHA-256 of the JSON array ["cutface/entry",1,seq,kind,written,who,part,lot,serial,about,
// body,previous] without blanks, UTF-8, escaped only where JSON demands it. The body stands in it
// as text.
std::string EntryText(const ArchiveEntry& entry);
std::string EntryHash(const ArchiveEntry& entry);
// An entry as a line of a backup and back. Errors: kJsonSyntax, kJsonValue, kJsonMissingKey. What
// is accepted has a sound hash and a canonical body; whether it follows another is not looked at.
std::string EntryToJson(const ArchiveEntry& entry);
Result<ArchiveEntry> ParseEntry(std::string_view line);
// Whether the body says what its kind must. Errors: kJsonSyntax, kJsonValue.
Status CheckEntryBody(const ArchiveEntry& entry);

struct EntryDraft {
  std::string kind, who, part, lot, serial, about;
  std::string body = "{}";  // a JSON object
};

struct ArchiveHead {
  std::int64_t entries = 0;
  std::string hash;  // of the last entry
};

struct ArchiveQuery {
  std::optional<std::string> part, lot, serial, kind, who, about;
  std::int64_t after = 0;  // seq
  std::size_t limit = 1000;
  bool newest_first = false;
};

// --- persons -------------------------------------------------------------------------------------

// An engineer changes methods (drawings with their limits, hints) and persons; an inspector
// measures, disposes and signs.
enum class PersonRole { kInspector, kEngineer };
std::string_view PersonRoleName(PersonRole role);  // "inspector", "engineer"

struct Person {
  std::string name;
  PersonRole role = PersonRole::kInspector;
  bool active = true;
  std::int64_t entry = 0;  // that holds the present key
};

// A passphrase, wiped when it goes.
class Passphrase {
 public:
  explicit Passphrase(std::string text) : text_(std::move(text)) {}
  ~Passphrase();
  Passphrase(Passphrase&& other) noexcept;
  Passphrase& operator=(Passphrase&&) = delete;
  std::string_view text() const { return text_; }

 private:
  std::string text_;
};
inline constexpr std::size_t kShortestPassphrase = 10;  // characters
// Wrong passphrases within so many minutes after which a person waits for the rest of them. A try
// costs as much as the key derivation below; whoever copied the store can guess without these
// limits.
inline constexpr int kWrongInARow = 5;
inline constexpr int kWaitMinutes = 15;

// How hard a passphrase is to guess: Argon2id (RFC 9106), passes over so much memory.
struct KeyCost {
  unsigned long long passes = 3;
  std::size_t memory_bytes = std::size_t{64} << 20;
};

// A person whose passphrase was right; the key is wiped when it goes.
class Signer {
 public:
  ~Signer();
  Signer(Signer&&) noexcept;
  Signer& operator=(Signer&&) noexcept;
  const std::string& name() const;
  PersonRole role() const;
  // Hex of the Ed25519 signature over a text.
  std::string Sign(std::string_view text) const;

 private:
  friend class Archive;
  struct Key;
  explicit Signer(std::unique_ptr<Key> key);
  std::unique_ptr<Key> key_;
};

// --- originals, results --------------------------------------------------------------------------

struct OriginalFile {
  std::string role;  // "picture", "drawing", "calibration", "result", "marked picture", ...
  std::string path;
  bool copy = true;  // false: only path, size and hash are kept; verifying looks for it there
};

struct ResultToKeep {
  const SectionResult* result = nullptr;  // REQUIRES: what the file below holds
  std::string path;                       // of the *.result.json
  std::vector<OriginalFile> originals;
  std::map<std::string, std::string> how;  // options of the call that the result does not hold
  std::string who;
};

struct KeptResult {
  ArchiveEntry entry;
  bool already = false;  // the very same file stands in the store; nothing was added
  std::vector<std::string> warnings;
};

// --- dispositions, signatures --------------------------------------------------------------------

// What stands between a result and a signature.
struct OpenItem {
  std::string row;             // number of the row, or ""
  std::optional<int> finding;  // index in the result's findings, from 0
  std::string text;            // for a person; all that neither row nor finding say
  // A row that does not conform or is not proven hinders approval only; the others every meaning.
  bool approval_only = false;
  bool fails = false;  // does not conform: "accept" does not settle it (Objection in roster.h)
};
struct SettledItem {
  OpenItem item;
  ArchiveEntry disposition;
};
struct RecordState {
  ArchiveEntry result;
  std::vector<OpenItem> open;
  std::vector<SettledItem> settled;
  std::vector<ArchiveEntry> signatures;
  std::int64_t replaced_by = 0;  // a later result of the same picture and section; 0: none
  Decisions decisions;           // the same dispositions and signatures, as reports take them
};

// --- verifying -----------------------------------------------------------------------------------

struct VerifyOptions {
  bool files = true;                    // read every original and compare its hash
  std::optional<ArchiveHead> expected;  // a head that was kept elsewhere
  Progress progress;
};
struct VerifyProblem {
  std::int64_t seq = 0;  // 0: of the store as a whole
  std::string text;
};
struct VerifyReport {
  ArchiveHead head;
  std::int64_t originals = 0;           // looked at
  std::vector<VerifyProblem> problems;  // at most kMostProblems; more are counted
  std::int64_t more_problems = 0;
  std::vector<std::string> remarks;  // no fault: a clock that went back, what was not looked at
  bool Sound() const { return problems.empty(); }
};
inline constexpr std::size_t kMostProblems = 100;

// --- the store -----------------------------------------------------------------------------------

struct ArchiveOptions {
  std::function<std::string()> now = NowUtc;
  KeyCost key_cost;            // of keys that are made
  double busy_timeout_s = 30;  // how long another writer is waited for
};

class Archive {
 public:
  // Makes a new store with its first engineer. Errors: kUsage (there is one already, a passphrase
  // too short), kFileUnwritable.
  static Result<Archive> Start(const std::string& place, const std::string& engineer,
                               const Passphrase& passphrase, const ArchiveOptions& options = {});
  // Errors: kFileMissing, kFileUnreadable; kRecordsDamaged (no store, or another version);
  // kRecordsBusy.
  static Result<Archive> Open(const std::string& place, const ArchiveOptions& options = {});
  Archive(Archive&&) noexcept;
  Archive& operator=(Archive&&) noexcept;
  ~Archive();

  const std::string& place() const;  // without a password
  Result<ArchiveHead> Head() const;
  Result<std::vector<ArchiveEntry>> Find(const ArchiveQuery& query) const;
  // Errors: kNotFound.
  Result<ArchiveEntry> Entry(std::int64_t seq) const;

  // Adds entries, all or none; what came before is not touched. With a signer each is sealed.
  // Errors: kFileUnwritable (disk full, read-only), kRecordsBusy, kRecordsDamaged, kNotAllowed (a
  // kind that must be sealed, or that this role may not write), kJsonValue, kUsage.
  Result<std::vector<ArchiveEntry>> Append(std::span<const EntryDraft> drafts,
                                           const Signer* signer = nullptr);

  // The entry of a result file, by the hash of its picture and its own; 0: the store has it not.
  Result<std::int64_t> EntryOfResult(const std::string& image_sha256,
                                     const std::string& result_sha256) const;

  // Keeps a file by its hash and adds its entry, unless it is kept already. Errors: those of
  // ReadFile and Append.
  Result<ArchiveEntry> KeepFile(const OriginalFile& file, const std::string& who,
                                const EntryDraft& about = {});
  // A kept file. Errors: kNotFound; kRecordsDamaged when it is not what was kept.
  Result<std::vector<std::byte>> Original(const std::string& sha256) const;

  // A result with its originals, edits and overrules, all or none.
  Result<KeptResult> AddResult(const ResultToKeep& keep);
  // A drawing or hints: a method, released by an engineer. Errors: kNotAllowed.
  Result<ArchiveEntry> AddMethod(const std::string& kind, const std::string& path,
                                 const EntryDraft& about, const Signer& engineer);

  Result<std::vector<Person>> People() const;
  // Errors: kNotAllowed (wrong passphrase, unknown or retired person, too many wrong ones: which of
  // these is not told); each wrong try is an entry.
  Result<Signer> Unlock(const std::string& name, const Passphrase& passphrase);
  // Adds a person, or gives one another role or passphrase. Only engineers, except that everybody
  // may change their own passphrase. Errors: kNotAllowed, kUsage.
  Result<ArchiveEntry> SetPerson(const std::string& name, PersonRole role,
                                 const Passphrase& passphrase, const Signer& by);
  // Errors: kNotAllowed; kUsage (the last engineer), kNotFound.
  Result<ArchiveEntry> RetirePerson(const std::string& name, const Signer& by);

  // Errors: kNotFound, kUsage (no result).
  Result<RecordState> State(std::int64_t result_seq) const;
  // Of the disposition: what, reference, row or finding, reason; the rest is filled in. Errors:
  // kUsage (see Objection; nothing of that number), kNotFound, kFileUnwritable.
  Result<ArchiveEntry> Dispose(std::int64_t result_seq, const Disposition& disposition,
                               const Signer& by);
  // Signs results, all or none. Errors: kUnsettled with the first thing that stands open, when the
  // result was replaced, or for "reviewed" and "approved": when nobody else signed "measured".
  Result<std::vector<ArchiveEntry>> Sign(std::span<const std::int64_t> results,
                                         SignatureMeaning meaning, const Signer& by);

  Result<VerifyReport> Verify(const VerifyOptions& options = {}) const;

  // One zip with the results of a query, everything that speaks of them and their files, readable
  // without this program (index.html). Errors: kUsage (the file is there already), kNotFound
  // (nothing to export), kFileUnwritable.
  Status Export(const ArchiveQuery& results, const std::string& zip_path) const;
  // The whole store as one zip: every entry as a line of JSON and every original; for either kind
  // of database.
  Status Backup(const std::string& zip_path) const;
  // Makes a store out of a backup at a new place; every entry is checked on the way. Errors:
  // kUsage (the place is not empty), kRecordsDamaged, kFileUnwritable.
  static Result<Archive> Restore(const std::string& zip_path, const std::string& place,
                                 const ArchiveOptions& options = {});

 private:
  struct Impl;
  explicit Archive(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace cutface
