// cutface records: the store at the command line.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cli/options.h"
#include "cutface/archive.h"
#include "cutface/cli.h"
#include "cutface/keeping.h"

namespace cutface {

int RunRecords(const Call& call, const Terminal& terminal, const Stages& stages);

// A passphrase: from a file's first line, an open descriptor, or the terminal without echo (twice
// with `fresh`). Errors: kUsage (no terminal, two that differ), those of ReadTextFile.
struct PassphraseSource {
  std::string file;
  int fd = -1;
  std::string prompt;
  bool fresh = false;
};
Result<Passphrase> ReadPassphrase(const PassphraseSource& source);

// Parts of RunRecords; they return the exit status.
int AddToRecords(const RecordsCall& call, Archive& store, const Terminal& terminal);
int ShowRecords(const RecordsCall& call, const Archive& store, const Terminal& terminal);
int ListRecords(const RecordsCall& call, const Archive& store, const Terminal& terminal);
int Remeasure(const RecordsCall& call, const Archive& store, const Terminal& terminal,
              const Stages& stages);

// The results that a call speaks of: its entries, or the last one of each picture and section of
// --part, --lot, --serial. Errors: kUsage, kNotFound.
Result<std::vector<std::int64_t>> ResultsOf(const RecordsCall& call, const Archive& store);
ArchiveQuery QueryOf(const RecordsCall& call);

}  // namespace cutface
