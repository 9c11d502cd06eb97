// cutface records: one call.
#include "cli/records.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <map>
#include <nlohmann/json.hpp>
#include <ostream>

#include "cli/exits.h"
#include "cli/text.h"

namespace cutface {
namespace {

using What = RecordsCall::What;

int Failed(const Terminal& terminal, const Error& error) {
  PrintError(terminal, error);
  return kExitWrongCall;
}

Result<Signer> Unlocked(const RecordsCall& call, Archive& store) {
  auto passphrase = ReadPassphrase(
      {call.passphrase_file, call.passphrase_fd, "Passphrase of " + call.by, /*fresh=*/false});
  if (!passphrase) return tl::unexpected(passphrase.error());
  return store.Unlock(call.by, *passphrase);
}

Result<Passphrase> NewPassphrase(const RecordsCall& call, const std::string& name) {
  return ReadPassphrase(
      {call.new_passphrase_file, call.new_passphrase_fd,
       fmt::format("New passphrase of {} ({} characters or more)", name, kShortestPassphrase),
       /*fresh=*/true});
}

std::string HeadText(const ArchiveHead& head) {
  return fmt::format("{}:{}", head.entries, head.hash);
}

Result<std::optional<ArchiveHead>> HeadOf(const std::string& text) {
  if (text.empty()) return std::nullopt;
  ArchiveHead head;
  const std::size_t colon = text.find(':');
  const char* const end = text.data() + std::min(colon, text.size());
  const auto read = std::from_chars(text.data(), end, head.entries);
  if (colon != std::string::npos) head.hash = text.substr(colon + 1);
  if (read.ec != std::errc() || read.ptr != end || head.entries < 1 || head.hash.size() != 64)
    return Fail(Code::kUsage, fmt::format("--head {}: must read N:HASH as `head` prints it", text));
  return head;
}

int Start(const RecordsCall& call, const Terminal& terminal) {
  auto passphrase = NewPassphrase(call, call.by);
  if (!passphrase) return Failed(terminal, passphrase.error());
  auto store = Archive::Start(call.store, call.by, *passphrase);
  if (!store) return Failed(terminal, store.error());
  auto head = store->Head();
  if (!head) return Failed(terminal, head.error());
  terminal.out << fmt::format("{}: started, {} is its first engineer\nhead {}\n",
                              Escaped(store->place()), Escaped(call.by), HeadText(*head))
               << std::flush;
  return kExitFine;
}

Result<ArchiveEntry> ChangePerson(const RecordsCall& call, Archive& store, const Signer& by) {
  if (call.what == What::kRetire) return store.RetirePerson(call.name, by);
  const bool own = call.what == What::kPassphrase;
  const std::string& name = own ? by.name() : call.name;
  auto passphrase = NewPassphrase(call, name);
  if (!passphrase) return tl::unexpected(passphrase.error());
  const PersonRole role = own                       ? by.role()
                          : call.role == "engineer" ? PersonRole::kEngineer
                                                    : PersonRole::kInspector;
  return store.SetPerson(name, role, *passphrase, by);
}

int ListPeople(const RecordsCall& call, const Archive& store, const Terminal& terminal) {
  auto people = store.People();
  if (!people) return Failed(terminal, people.error());
  std::vector<std::vector<std::string>> rows = {{"name", "role", "state", "since entry"}};
  for (const Person& p : *people) {
    const std::string role(PersonRoleName(p.role)), state = p.active ? "active" : "retired";
    if (call.json)
      terminal.out << nlohmann::json{{"name", p.name},
                                     {"role", role},
                                     {"state", state},
                                     {"entry", p.entry}}
                          .dump(-1, ' ', false, nlohmann::json::error_handler_t::replace)
                   << "\n";
    rows.push_back({Escaped(p.name), role, state, std::to_string(p.entry)});
  }
  if (!call.json) terminal.out << Columns(rows);
  terminal.out << std::flush;
  return kExitFine;
}

int Verify(const RecordsCall& call, const Archive& store, const Terminal& terminal) {
  VerifyOptions options;
  options.files = !call.quick;
  auto expected = HeadOf(call.head);
  if (!expected) return Failed(terminal, expected.error());
  options.expected = *expected;
  auto report = [&] {
    ProgressLine progress(terminal, store.place(), 1, 1);
    options.progress = [&](double share, std::string_view what) {
      progress.Show(share, what);
      return true;
    };
    return store.Verify(options);
  }();
  if (!report) return Failed(terminal, report.error());
  if (call.json) {
    nlohmann::ordered_json json;
    json["sound"] = report->Sound();
    json["entries"] = report->head.entries;
    json["head"] = HeadText(report->head);
    json["originals"] = report->originals;
    json["problems"] = nlohmann::ordered_json::array();
    for (const VerifyProblem& p : report->problems)
      json["problems"].push_back({{"entry", p.seq}, {"text", p.text}});
    json["more_problems"] = report->more_problems;
    json["remarks"] = report->remarks;
    terminal.out << json.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) << "\n"
                 << std::flush;
    return report->Sound() ? kExitFine : kExitNotAllConform;
  }
  for (const VerifyProblem& p : report->problems)
    terminal.out << (p.seq > 0 ? fmt::format("entry {} ", p.seq) : "store: ") << Escaped(p.text)
                 << "\n";
  if (report->more_problems > 0)
    terminal.out << fmt::format("and {} more\n", report->more_problems);
  for (const std::string& remark : report->remarks)
    terminal.out << "remark: " << Escaped(remark) << "\n";
  terminal.out << fmt::format("{}: {}; {} entries, {} originals looked at\nhead {}\n",
                              Escaped(store.place()),
                              report->Sound() ? "sound" : "NOT as it was written",
                              report->head.entries, report->originals, HeadText(report->head))
               << std::flush;
  return report->Sound() ? kExitFine : kExitNotAllConform;
}

int Dispose(const RecordsCall& call, Archive& store, const Terminal& terminal, const Signer& by) {
  Disposition d;
  d.what = *ParseDispositionKind(call.as);
  d.reference = call.reference_no;
  d.reason = call.reason;
  d.row = call.row;
  if (call.finding > 0) d.finding = call.finding - 1;
  auto entry = store.Dispose(call.entries.front(), d, by);
  if (!entry) return Failed(terminal, entry.error());
  auto state = store.State(call.entries.front());
  if (!state) return Failed(terminal, state.error());
  for (const SettledItem& s : state->settled) {
    if (s.disposition.seq == entry->seq)
      terminal.out << fmt::format("entry {}: {}: {}\n", entry->seq, Escaped(s.item.text), call.as);
  }
  terminal.out << fmt::format("{} things still stand open\n", state->open.size()) << std::flush;
  return kExitFine;
}

int Sign(const RecordsCall& call, Archive& store, const Terminal& terminal, const Signer& by) {
  auto results = ResultsOf(call, store);
  if (!results) return Failed(terminal, results.error());
  for (const std::int64_t seq : *results) {
    if (auto entry = store.Entry(seq); !entry) return Failed(terminal, entry.error());
  }
  auto entries = store.Sign(*results, *ParseSignatureMeaning(call.meaning), by);
  if (!entries) {
    PrintError(terminal, entries.error());
    return entries.error().code == Code::kUnsettled ? kExitNotAllConform : kExitWrongCall;
  }
  for (std::size_t i = 0; i < entries->size(); ++i)
    terminal.out << fmt::format("entry {}: {} signed as {} by {}\n", (*entries)[i].seq,
                                (*results)[i], call.meaning, Escaped(by.name()));
  terminal.out << std::flush;
  return kExitFine;
}

int WriteZip(const RecordsCall& call, const Archive& store, const Terminal& terminal) {
  ArchiveQuery query = QueryOf(call);
  query.limit = 10000;
  const Status status =
      call.what == What::kBackup ? store.Backup(call.to) : store.Export(query, call.to);
  if (!status) return Failed(terminal, status.error());
  terminal.out << "written: " << Escaped(call.to) << "\n" << std::flush;
  return kExitFine;
}

int Restore(const RecordsCall& call, const Terminal& terminal) {
  auto store = Archive::Restore(call.files.front(), call.store);
  if (!store) return Failed(terminal, store.error());
  return Verify(call, *store, terminal);
}

int RunSealed(const RecordsCall& call, Archive& store, const Terminal& terminal) {
  auto by = Unlocked(call, store);
  if (!by) return Failed(terminal, by.error());
  if (call.what == What::kDispose) return Dispose(call, store, terminal, *by);
  if (call.what == What::kSign) return Sign(call, store, terminal, *by);
  auto entry = ChangePerson(call, store, *by);
  if (!entry) return Failed(terminal, entry.error());
  terminal.out << fmt::format("entry {}: {} {}\n", entry->seq,
                              Escaped(call.what == What::kPassphrase ? by->name() : call.name),
                              call.what == What::kRetire       ? "is retired"
                              : call.what == What::kPassphrase ? "has a new passphrase"
                                                               : "is " + call.role)
               << std::flush;
  return kExitFine;
}

}  // namespace

Result<std::vector<std::int64_t>> ResultsOf(const RecordsCall& call, const Archive& store) {
  if (!call.entries.empty()) {
    if (call.part || call.lot || call.serial)
      return Fail(Code::kUsage, "name entries, or --part, --lot, --serial; not both");
    return call.entries;
  }
  if (!call.part && !call.lot && !call.serial)
    return Fail(Code::kUsage, "name entries of results, or --part, --lot, --serial");
  ArchiveQuery query = QueryOf(call);
  query.kind = "result";
  query.limit = 100000;
  auto entries = store.Find(query);
  if (!entries) return tl::unexpected(entries.error());
  std::map<std::string, std::int64_t> last;  // by picture, part and section
  for (const ArchiveEntry& e : *entries) {
    const auto body = nlohmann::json::parse(e.body, nullptr, /*allow_exceptions=*/false);
    const auto section = body.is_object() ? body.value("section", nlohmann::json()) : body;
    last[e.about + "\n" + e.part + "\n" + (section.is_string() ? section.get<std::string>() : "")] =
        e.seq;
  }
  std::vector<std::int64_t> results;
  for (const auto& [key, seq] : last) results.push_back(seq);
  std::sort(results.begin(), results.end());
  if (results.empty())
    return Fail(Code::kNotFound, store.place() + ": holds no result of that part, lot and serial");
  return results;
}

int RunRecords(const Call& whole, const Terminal& terminal, const Stages& stages) {
  const RecordsCall& call = whole.records;
  if (call.what == What::kStart) return Start(call, terminal);
  if (call.what == What::kRestore) return Restore(call, terminal);
  auto store = Archive::Open(call.store);
  if (!store) return Failed(terminal, store.error());
  switch (call.what) {
    case What::kPeople:
      return ListPeople(call, *store, terminal);
    case What::kAdd:
      return AddToRecords(call, *store, terminal);
    case What::kList:
      return ListRecords(call, *store, terminal);
    case What::kShow:
      return ShowRecords(call, *store, terminal);
    case What::kVerify:
      return Verify(call, *store, terminal);
    case What::kHead: {
      auto head = store->Head();
      if (!head) return Failed(terminal, head.error());
      terminal.out << HeadText(*head) << "\n" << std::flush;
      return kExitFine;
    }
    case What::kExport:
    case What::kBackup:
      return WriteZip(call, *store, terminal);
    case What::kRemeasure:
      return Remeasure(call, *store, terminal, stages);
    default:
      return RunSealed(call, *store, terminal);
  }
}

}  // namespace cutface
