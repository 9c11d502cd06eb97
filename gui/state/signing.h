// Signing a saved result in the store of records, and what the store says of it.
// Keywords: sign, measured, reviewed, approved, passphrase, records.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cutface/archive.h"

namespace cutface::window {

// What stands between a result and a signature.
struct OpenDecision {
  std::string text, row;
  std::optional<int> finding;
  bool can_decide = false;  // a row or a finding; else somebody must do something else first
};
// What the store says of a result file.
struct SignedState {
  bool known = false;                   // the very file stands in the store
  std::vector<std::string> signatures;  // "approved by A. Reviewer, 2026-04-02T09:20:00Z"
  std::vector<std::string> decided;     // "row 8: scrap, by A. Reviewer: torn septum"
  std::vector<OpenDecision> open;
  std::string replaced;  // "" or that a later result of this picture stands there
  std::string trouble;   // "" or why the store cannot be read
};
// Of the file as it lies there; a changed file is not known. No store: not known, no trouble.
SignedState ReadSigned(const std::string& store, const std::string& result_path);

struct SignWish {
  std::string store;  // path of the store
  std::string person;
  std::optional<SignatureMeaning> meaning;  // none: the file is kept and decided on, not signed
  bool start = false;                       // makes the store, with `person` as its first engineer
  std::string release;  // drawing to be released first (an engineer's right), or ""
  std::string result_path;
  std::vector<std::string> beside;     // picture, drawing, calibration
  std::vector<Disposition> decisions;  // row or finding, what, reason
};
// Takes the file into the store, where it does not stand yet, records the decisions and signs. What
// was recorded before something failed stays, as the store tells. Errors: those of Archive::Start,
// Open, Unlock, AddMethod, Dispose, Sign and of KeepResultFile.
Status SignResult(const SignWish& wish, const Passphrase& passphrase,
                  const ArchiveOptions& options = {});
bool StoreIsThere(const std::string& store);

}  // namespace cutface::window
