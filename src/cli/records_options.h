// What `cutface records` is told.
#pragma once

#include <CLI/CLI.hpp>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "cutface/base.h"

namespace cutface {

struct RecordsCall {
  enum class What {
    kNone,
    kStart,
    kAdmit,
    kRetire,
    kPassphrase,
    kPeople,
    kAdd,
    kList,
    kShow,
    kVerify,
    kHead,
    kDispose,
    kSign,
    kExport,
    kBackup,
    kRestore,
    kRemeasure
  };
  What what = What::kNone;
  std::string store, by;
  std::string passphrase_file, new_passphrase_file;
  int passphrase_fd = -1, new_passphrase_fd = -1;
  std::string name, role;          // of a person
  std::vector<std::string> files;  // to add; the backup to restore
  std::vector<std::int64_t> entries;
  std::string images;      // folder where pictures are looked for
  bool reference = false;  // keep hashes of files, not copies
  std::optional<std::string> part, lot, serial, kind;
  std::size_t limit = 200;
  bool newest = false;
  std::string head;  // N:HASH kept elsewhere
  bool quick = false;
  std::string row, as, reference_no, reason;
  int finding = 0;  // from 1; 0: none
  std::string meaning;
  std::string to;
  std::string channel;
  bool json = false;
};

void AddRecordsOptions(CLI::App& records, RecordsCall& call);

}  // namespace cutface
