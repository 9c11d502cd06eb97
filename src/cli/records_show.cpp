// cutface records list and show.
#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "cli/records.h"
#include "cli/text.h"

namespace cutface {
namespace {

using OrderedJson = nlohmann::ordered_json;

std::string Dumped(const OrderedJson& json) {
  return json.dump(-1, ' ', false, OrderedJson::error_handler_t::replace) + "\n";
}

OrderedJson EntryJson(const ArchiveEntry& e) {
  OrderedJson json;
  json["seq"] = e.seq;
  json["kind"] = e.kind;
  json["written"] = e.written;
  json["who"] = e.who;
  json["part"] = e.part;
  json["lot"] = e.lot;
  json["serial"] = e.serial;
  json["about"] = e.about;
  json["body"] = OrderedJson::parse(e.body, nullptr, /*allow_exceptions=*/false);
  json["previous"] = e.previous;
  json["hash"] = e.hash;
  return json;
}

std::string Text(const OrderedJson& object, const char* key) {
  if (!object.is_object()) return "";
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : "";
}

// What an entry says, in a few words.
std::string Gist(const ArchiveEntry& e) {
  const OrderedJson body = OrderedJson::parse(e.body, nullptr, /*allow_exceptions=*/false);
  if (e.kind == "result")
    return fmt::format("{}, {}", Text(body, "section"), Text(body, "verdict"));
  if (e.kind == "file") return fmt::format("{} {}", Text(body, "role"), Text(body, "name"));
  if (e.kind == "person")
    return fmt::format("{}, {}, {}", Text(body, "name"), Text(body, "role"), Text(body, "state"));
  if (e.kind == "signature") return Text(body, "meaning");
  if (e.kind == "disposition") {
    const std::string row = Text(body, "row");
    const std::string of =
        row.empty() && body.contains("finding") && body["finding"].is_number_integer()
            ? fmt::format("finding {}", body["finding"].get<int>() + 1)
            : "row " + row;
    return fmt::format("{}: {}, {}", of, Text(body, "what"), Text(body, "reason"));
  }
  if (e.kind == "calibration")
    return fmt::format("{}, due {}", Text(body, "id"), Text(body, "due"));
  if (e.kind == "check")
    return fmt::format("{} {}", Text(body, "calibration"), Text(body, "verdict"));
  if (e.kind == "drawing")
    return fmt::format("{}, revision {}", Text(body, "file"), Text(body, "revision"));
  return Text(body, "text") + Text(body, "reason") + Text(body, "file");
}

std::string StateText(const RecordState& state) {
  std::string text;
  if (state.replaced_by != 0) text += fmt::format("  replaced by entry {}\n", state.replaced_by);
  for (const OpenItem& item : state.open)
    text += fmt::format("  open: {}{}\n", Escaped(item.text),
                        item.approval_only ? " (hinders approval)" : "");
  for (const SettledItem& s : state.settled)
    text +=
        fmt::format("  settled: {}: {} by {}, entry {}\n", Escaped(s.item.text),
                    Escaped(Gist(s.disposition)), Escaped(s.disposition.who), s.disposition.seq);
  for (const Signature& s : state.decisions.signatures)
    text += fmt::format("  signed: {} by {}, {}\n", SignatureMeaningName(s.meaning), Escaped(s.by),
                        Escaped(s.when));
  if (state.signatures.empty()) text += "  not signed\n";
  return text;
}

OrderedJson StateJson(const RecordState& state) {
  OrderedJson json;
  json["replaced_by"] = state.replaced_by;
  json["open"] = OrderedJson::array();
  for (const OpenItem& item : state.open) {
    OrderedJson open;
    if (!item.row.empty()) open["row"] = item.row;
    if (item.finding) open["finding"] = *item.finding + 1;
    open["text"] = item.text;
    open["hinders"] = item.approval_only ? "approval" : "every signature";
    json["open"].push_back(open);
  }
  json["settled"] = OrderedJson::array();
  for (const SettledItem& s : state.settled)
    json["settled"].push_back({{"text", s.item.text}, {"entry", s.disposition.seq}});
  json["signatures"] = OrderedJson::array();
  for (const ArchiveEntry& s : state.signatures) json["signatures"].push_back(EntryJson(s));
  return json;
}

}  // namespace

ArchiveQuery QueryOf(const RecordsCall& call) {
  ArchiveQuery query;
  query.part = call.part;
  query.lot = call.lot;
  query.serial = call.serial;
  query.kind = call.kind;
  query.limit = call.limit;
  query.newest_first = call.newest;
  return query;
}

int ListRecords(const RecordsCall& call, const Archive& store, const Terminal& terminal) {
  ArchiveQuery query = QueryOf(call);
  ++query.limit;  // one more tells that there are more
  auto entries = store.Find(query);
  if (!entries) {
    PrintError(terminal, entries.error());
    return kExitWrongCall;
  }
  const bool more = entries->size() > call.limit;
  if (more) entries->resize(call.limit);
  if (call.json) {
    for (const ArchiveEntry& e : *entries) terminal.out << Dumped(EntryJson(e));
    terminal.out << std::flush;
    if (more) PrintWarning(terminal, "there are more; raise --limit");
    return kExitFine;
  }
  std::vector<std::vector<std::string>> rows = {
      {"entry", "kind", "written", "by", "part", "lot", "serial", "what"}};
  for (const ArchiveEntry& e : *entries)
    rows.push_back({std::to_string(e.seq), Escaped(e.kind), Escaped(e.written), Escaped(e.who),
                    Escaped(e.part), Escaped(e.lot), Escaped(e.serial), Escaped(Gist(e))});
  terminal.out << Columns(rows) << std::flush;
  if (more) PrintWarning(terminal, "there are more; raise --limit");
  return kExitFine;
}

int ShowRecords(const RecordsCall& call, const Archive& store, const Terminal& terminal) {
  if (call.entries.empty()) {
    PrintError(terminal, {Code::kUsage, "show: name the numbers of entries; list has them"});
    return kExitWrongCall;
  }
  for (const std::int64_t seq : call.entries) {
    auto entry = store.Entry(seq);
    if (!entry) {
      PrintError(terminal, entry.error());
      return kExitWrongCall;
    }
    Result<RecordState> state = RecordState{};
    if (entry->kind == "result") state = store.State(seq);
    if (!state) {
      PrintError(terminal, state.error());
      return kExitWrongCall;
    }
    OrderedJson json = EntryJson(*entry);
    if (call.json) {
      if (entry->kind == "result") json["state"] = StateJson(*state);
      terminal.out << Dumped(json);
      continue;
    }
    terminal.out << fmt::format("Entry {}, {}: {}\n  written {} by {}\n", entry->seq,
                                Escaped(entry->kind), Escaped(Gist(*entry)),
                                Escaped(entry->written), Escaped(entry->who));
    if (!entry->part.empty() || !entry->lot.empty() || !entry->serial.empty())
      terminal.out << fmt::format("  part {}, lot {}, serial {}\n", Escaped(entry->part),
                                  Escaped(entry->lot), Escaped(entry->serial));
    if (entry->kind == "result") terminal.out << StateText(*state);
    terminal.out << "  about " << Escaped(entry->about) << "\n  hash " << entry->hash << "\n";
    if (entry->kind != "result" && entry->kind != "person")
      terminal.out << Escaped(
                          json["body"].dump(2, ' ', false, OrderedJson::error_handler_t::replace))
                   << "\n";
  }
  terminal.out << std::flush;
  return kExitFine;
}

}  // namespace cutface
