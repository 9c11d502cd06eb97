// cutface records add: which file is what, and what belongs to it.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <ostream>

#include "cli/records.h"
#include "cli/text.h"
#include "cutface/calibration_keeping.h"
#include "cutface/design.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
using PlainJson = nlohmann::json;

enum class FileKind { kResult, kDrawing, kCalibration, kHints, kChecks, kDocument };

FileKind KindOf(const std::string& path, std::string_view text) {
  if (path.ends_with(".jsonl")) return FileKind::kChecks;
  const PlainJson json = PlainJson::parse(text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object()) return FileKind::kDocument;
  const auto format = json.find("format");
  if (format == json.end()) return FileKind::kDocument;
  if (*format == "cutface/result") return FileKind::kResult;
  if (*format == "cutface/design") return FileKind::kDrawing;
  if (*format == "cutface/calibration") return FileKind::kCalibration;
  if (*format == "cutface/hints") return FileKind::kHints;
  return FileKind::kDocument;
}

EntryDraft SampleDraft(const RecordsCall& call) {
  EntryDraft draft;
  draft.part = call.part.value_or("");
  draft.lot = call.lot.value_or("");
  draft.serial = call.serial.value_or("");
  return draft;
}

Result<ArchiveEntry> AddCalibration(Archive& store, const RecordsCall& call,
                                    const std::string& path) {
  auto record = ReadCalibration(path);
  if (!record) return tl::unexpected(record.error());
  const OriginalFile file{"calibration", path};
  if (auto kept = store.KeepFile(file, call.by); !kept) return kept;
  ArchiveQuery same;
  same.about = record->sha256;
  same.kind = "calibration";
  auto known = store.Find(same);
  if (!known) return tl::unexpected(known.error());
  if (!known->empty()) return known->front();
  if (!record->flat_field_image.empty()) {
    const std::string blank = (fs::path(path).parent_path() / record->flat_field_image).string();
    if (auto kept = store.KeepFile({"blank", blank}, call.by); !kept) return kept;
  }
  EntryDraft draft{"calibration", call.by, "", "", "", record->sha256, "{}"};
  draft.body = PlainJson{{"id", record->id},
                         {"objective", record->objective},
                         {"made", record->made},
                         {"due", record->due},
                         {"by", record->by},
                         {"supersedes", record->supersedes},
                         {"certificate", record->artefact_certificate}}
                   .dump(-1, ' ', false, PlainJson::error_handler_t::replace);
  auto added = store.Append({&draft, 1});
  if (!added) return tl::unexpected(added.error());
  return added->front();
}

// Checks that the store does not hold yet, each as an entry.
Result<std::size_t> AddChecks(Archive& store, const RecordsCall& call, const std::string& path) {
  if (auto log = ReadCheckLog(path); !log) return tl::unexpected(log.error());
  auto text = ReadTextFile(path);
  if (!text) return tl::unexpected(text.error());
  std::vector<EntryDraft> drafts;
  for (std::string_view rest = *text; !rest.empty();) {
    const std::string line(rest.substr(0, rest.find('\n')));
    rest.remove_prefix(line.size() + 1);
    ArchiveQuery same;
    same.about = Sha256Hex(line);
    same.kind = "check";
    auto known = store.Find(same);
    if (!known) return tl::unexpected(known.error());
    if (known->empty()) drafts.push_back({"check", call.by, "", "", "", *same.about, line});
  }
  if (drafts.empty()) return std::size_t{0};
  auto added = store.Append(drafts);
  if (!added) return tl::unexpected(added.error());
  return added->size();
}

Result<ArchiveEntry> AddMethod(Archive& store, const RecordsCall& call, const std::string& path,
                               bool drawing, const Signer& by) {
  EntryDraft about = SampleDraft(call);
  if (drawing) {
    auto design = ReadDesign(path);
    if (!design) return tl::unexpected(design.error());
    about.part = design->part_number;
    about.body = PlainJson{{"revision", design->revision}}.dump(
        -1, ' ', false, PlainJson::error_handler_t::replace);
  } else if (auto hints = ReadHints(path); !hints) {
    return tl::unexpected(hints.error());
  }
  return store.AddMethod(drawing ? "drawing" : "hints", path, about, by);
}

std::string Told(const ArchiveEntry& entry, std::int64_t before) {
  return entry.seq > before ? fmt::format("entry {} ({})", entry.seq, entry.kind)
                            : fmt::format("is entry {} already", entry.seq);
}

// One file; what became of it, in words.
Result<std::string> AddOne(Archive& store, const RecordsCall& call, const std::string& path,
                           FileKind kind, const std::optional<Signer>& by,
                           std::vector<std::string>& warnings) {
  auto head = store.Head();
  if (!head) return tl::unexpected(head.error());
  const auto told = [&](Result<ArchiveEntry> entry) -> Result<std::string> {
    if (!entry) return tl::unexpected(entry.error());
    return Told(*entry, head->entries);
  };
  switch (kind) {
    case FileKind::kResult: {
      KeepWish wish;
      wish.images = call.images;
      wish.beside = call.files;
      wish.reference = call.reference;
      wish.who = call.by;
      auto kept = KeepResultFile(store, path, wish);
      if (!kept) return tl::unexpected(kept.error());
      for (const std::string& warning : kept->warnings) warnings.push_back(path + ": " + warning);
      return Told(kept->entry, head->entries);
    }
    case FileKind::kCalibration:
      return told(AddCalibration(store, call, path));
    case FileKind::kChecks: {
      auto count = AddChecks(store, call, path);
      if (!count) return tl::unexpected(count.error());
      return fmt::format("{} checks that were not there yet", *count);
    }
    case FileKind::kDrawing:
    case FileKind::kHints:
      return told(AddMethod(store, call, path, kind == FileKind::kDrawing, *by));
    default:
      return told(store.KeepFile({"document", path}, call.by, SampleDraft(call)));
  }
}

}  // namespace

int AddToRecords(const RecordsCall& call, Archive& store, const Terminal& terminal) {
  // Methods come before the results that were measured by them.
  std::vector<std::pair<std::string, FileKind>> files;
  for (const std::string& path : call.files) {
    auto text = ReadTextFile(path, std::uint64_t{4} << 30);
    if (!text) {
      PrintError(terminal, text.error());
      return kExitWrongCall;
    }
    files.emplace_back(path, KindOf(path, *text));
  }
  std::stable_sort(files.begin(), files.end(), [](const auto& a, const auto& b) {
    return (a.second == FileKind::kResult) < (b.second == FileKind::kResult);
  });
  // Only methods are vouched for here; what a result is worth is said by signing it.
  std::optional<Signer> by;
  if (std::any_of(files.begin(), files.end(), [](const auto& file) {
        return file.second == FileKind::kDrawing || file.second == FileKind::kHints;
      })) {
    auto passphrase = ReadPassphrase(
        {call.passphrase_file, call.passphrase_fd, "Passphrase of " + call.by, /*fresh=*/false});
    auto signer = passphrase ? store.Unlock(call.by, *passphrase)
                             : Result<Signer>(tl::unexpected(passphrase.error()));
    if (!signer) {
      PrintError(terminal, signer.error());
      return kExitWrongCall;
    }
    by = std::move(*signer);
  }
  int worst = kExitFine;
  for (const auto& [path, kind] : files) {
    std::vector<std::string> warnings;
    auto told = AddOne(store, call, path, kind, by, warnings);
    for (const std::string& warning : warnings) PrintWarning(terminal, warning);
    if (!told) {
      PrintError(terminal, told.error(), path);
      worst = WorseExit(worst, kExitWrongCall);
      continue;
    }
    terminal.out << Escaped(path) << ": " << *told << "\n" << std::flush;
  }
  return worst;
}

}  // namespace cutface
