// cutface records remeasure: what would this version say of the pictures of then?
#include <fmt/format.h>
#include <stdlib.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "cli/records.h"
#include "cli/text.h"
#include "cutface/quantity.h"
#include "cutface/record.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
using OrderedJson = nlohmann::ordered_json;

// Gone with everything in it.
struct Workplace {
  fs::path folder;
  Workplace() {
    std::string name = (fs::temp_directory_path() / "cutface-remeasure.XXXXXX").string();
    if (::mkdtemp(name.data()) != nullptr) folder = name;
  }
  ~Workplace() {
    std::error_code ignored;
    if (!folder.empty()) fs::remove_all(folder, ignored);
  }
  Workplace(const Workplace&) = delete;
  Workplace& operator=(const Workplace&) = delete;
};

struct Difference {
  std::string what;  // "septum of scope, wash", "row 7", "verdict"
  std::string before, now;
  std::optional<double> in_u;  // of values: in standard uncertainties of then
  bool serious = false;        // another verdict or state, or outside the interval of then
};

struct Comparison {
  std::int64_t entry = 0;
  std::string software;  // of then
  std::string failure;   // why it could not be measured again; "" when it was
  std::size_t values = 0;
  std::vector<Difference> differences;
};

std::string Named(const std::vector<std::string>& of, const std::string& quantity) {
  std::string text = quantity;
  for (std::size_t i = 0; i < of.size(); ++i) text += (i == 0 ? " of " : ", ") + of[i];
  return text;
}

std::string Told(const Measurement& m) {
  if (m.state == Measurement::State::kNotMeasured) return "not measured: " + m.reason;
  if (m.state == Measurement::State::kNotApplicable) return "not applicable";
  return fmt::format("{:.6g} {} ({:.6g} to {:.6g})", m.value, m.unit, m.lo, m.hi);
}

void Compare(const SectionResult& before, const SectionResult& now, Comparison& out) {
  // Files hold nine digits; what agrees to that is the same value.
  constexpr double kSame = 1e-8;
  std::map<std::string, const Measurement*> later;
  for (const Measurement& m : now.measurements) later[Named(m.of, m.quantity)] = &m;
  for (const Measurement& m : before.measurements) {
    const std::string name = Named(m.of, m.quantity);
    ++out.values;
    const auto found = later.find(name);
    if (found == later.end()) {
      out.differences.push_back({name, Told(m), "is not there", {}, true});
      continue;
    }
    const Measurement& n = *found->second;
    later.erase(found);
    if (m.state != n.state) {
      out.differences.push_back({name, Told(m), Told(n), {}, true});
    } else if (m.state == Measurement::State::kMeasured) {
      const auto same = [&](double a, double b) {
        return std::abs(a - b) <= kSame * std::max({1.0, std::abs(a), std::abs(b)});
      };
      if (same(m.value, n.value) && same(m.lo, n.lo) && same(m.hi, n.hi)) continue;
      std::optional<double> in_u;
      if (m.u > 0) in_u = (n.value - m.value) / m.u;
      out.differences.push_back({name, Told(m), Told(n), in_u, n.value < m.lo || n.value > m.hi});
    }
  }
  for (const auto& [name, m] : later)
    out.differences.push_back({name, "was not there", Told(*m), {}, false});
  std::map<std::string, Verdict> rows;
  for (const CharacteristicResult& row : now.characteristics) rows[row.no] = row.verdict;
  for (const CharacteristicResult& row : before.characteristics) {
    const auto found = rows.find(row.no);
    if (found == rows.end() || found->second != row.verdict)
      out.differences.push_back(
          {"row " + row.no,
           std::string(VerdictName(row.verdict)),
           found == rows.end() ? "is not there" : std::string(VerdictName(found->second)),
           {},
           true});
  }
  const auto findings = [](const SectionResult& result) {
    std::multiset<std::string> all;
    for (const Finding& f : result.findings)
      all.insert(Named(f.where, f.kind) + ", " + std::string(SeverityName(f.severity)));
    return all;
  };
  const auto then = findings(before), today = findings(now);
  for (const std::string& f : then) {
    if (then.count(f) > today.count(f))
      out.differences.push_back({"finding " + f, "was told", "is not told", {}, true});
  }
  for (const std::string& f : today) {
    if (today.count(f) > then.count(f))
      out.differences.push_back({"finding " + f, "was not told", "is told", {}, true});
  }
  if (before.verdict != now.verdict)
    out.differences.push_back({"verdict",
                               std::string(VerdictName(before.verdict)),
                               std::string(VerdictName(now.verdict)),
                               {},
                               true});
}

// Writes a kept file to work on; where it lies.
Result<std::string> Fetch(const Archive& store, const std::string& sha256, const fs::path& path) {
  auto bytes = store.Original(sha256);
  if (!bytes) return tl::unexpected(bytes.error());
  if (auto status = WriteWhole(path.string(), *bytes); !status)
    return tl::unexpected(status.error());
  return path.string();
}

// "" for what is no text: a store that somebody else wrote into must not end the program.
std::string TextIn(const nlohmann::json& json, const char* key) {
  const auto value = json.is_object() ? json.value(key, nlohmann::json()) : nlohmann::json();
  return value.is_string() ? value.get<std::string>() : "";
}

// The words of the call that measured it, as far as the result tells them.
std::vector<std::string> WordsFor(const SectionResult& before, const RecordsCall& call,
                                  const nlohmann::json& how) {
  std::vector<std::string> words = {"--image-kind", before.image_kind};
  const auto add = [&](const char* option, const std::string& value) {
    if (!value.empty()) words.insert(words.end(), {option, value});
  };
  add("--taken", before.sample.taken);
  add("--face", before.sample.face);
  add("--inspector",
      before.inspector.empty() && !before.overrules.empty() ? "not named" : before.inspector);
  if (!before.overrules.empty())
    words.insert(words.end(), {"--accept-overdue", "--accept-scale-mismatch"});
  add("--channel", call.channel.empty() ? TextIn(how, "channel") : call.channel);
  add("--u-floor", TextIn(how, "u-floor"));
  if (before.part.empty()) return words;
  add("--section", before.section_name);
  if (before.section.placement.oblique_corrected) words.push_back("--correct-oblique");
  if (before.pressure) {
    for (const auto& [lumen, mpa] : before.pressure->lumens_mpa)
      add("--pressure", fmt::format("{}={}MPa", lumen, mpa));
    add("--wires", before.pressure->wires_free ? "free" : "bonded");
  }
  return words;
}

Status Measure(const Archive& store, const ArchiveEntry& entry, const RecordsCall& call,
               const Stages& stages, Comparison& out) {
  const Workplace work;
  if (work.folder.empty())
    return Fail(Code::kFileUnwritable, "no temporary folder can be made; check the disk");
  const auto body = nlohmann::json::parse(entry.body, nullptr, /*allow_exceptions=*/false);
  auto bytes = store.Original(TextIn(body, "file_sha256"));
  if (!bytes) return tl::unexpected(bytes.error());
  auto before = ParseResult({reinterpret_cast<const char*>(bytes->data()), bytes->size()},
                            fmt::format("entry {}", entry.seq));
  if (!before) return tl::unexpected(before.error());
  out.software = before->software;
  const std::string ending = fs::path(before->image_file).extension().string();
  auto picture = Fetch(store, before->image_sha256, work.folder / ("picture" + ending));
  if (!picture) return tl::unexpected(picture.error());
  auto calibration =
      Fetch(store, before->calibration_sha256, work.folder / "bench.calibration.json");
  if (!calibration) return tl::unexpected(calibration.error());
  if (!before->flat_field_sha256.empty()) {
    auto record = ReadCalibration(*calibration);
    if (!record) return tl::unexpected(record.error());
    const fs::path blank = fs::path(record->flat_field_image).filename();
    if (auto got = Fetch(store, before->flat_field_sha256, work.folder / blank); !got)
      return tl::unexpected(got.error());
  }
  std::vector<std::string> words = {before->part.empty() ? "survey" : "measure",
                                    *picture,
                                    "--calibration",
                                    *calibration,
                                    "--out",
                                    (work.folder / "out").string()};
  if (!before->part.empty()) {
    auto drawing = Fetch(store, before->design_sha256, work.folder / "part.design.json");
    if (!drawing) return tl::unexpected(drawing.error());
    words.insert(words.end(), {"--design", *drawing});
  }
  const auto more =
      WordsFor(*before, call, body.is_object() ? body.value("how", nlohmann::json()) : body);
  words.insert(words.end(), more.begin(), more.end());
  std::ostringstream printed, complaints;
  const int status = RunProgram(words, {printed, complaints}, stages);
  auto now = ReadResult((work.folder / "out" / "picture.result.json").string());
  if (status > kExitNotAllConform || !now) {
    std::string why = complaints.str();
    if (why.starts_with("cutface: ")) why.erase(0, 9);
    why.resize(std::min(why.size(), why.find('\n')));
    return Fail(Code::kInternal, why.empty() ? "gave no result" : why);
  }
  Compare(*before, *now, out);
  return {};
}

std::string Table(const Comparison& c) {
  std::string text =
      fmt::format("Entry {}, measured by version {}: ", c.entry, Escaped(c.software));
  if (!c.failure.empty()) return text + "not measured again: " + Escaped(c.failure) + "\n";
  if (c.differences.empty()) return text + fmt::format("all {} values the same\n", c.values);
  text += fmt::format("{} differences, {} values\n", c.differences.size(), c.values);
  std::vector<std::vector<std::string>> rows = {{"what", "before", "now", "in u", ""}};
  for (const Difference& d : c.differences)
    rows.push_back({Escaped(d.what), Escaped(d.before), Escaped(d.now),
                    d.in_u ? fmt::format("{:+.2f}", *d.in_u) : "", d.serious ? "!" : ""});
  return text + Columns(rows);
}

OrderedJson AsJson(const Comparison& c) {
  OrderedJson json;
  json["entry"] = c.entry;
  json["software"] = c.software;
  if (!c.failure.empty()) json["failure"] = c.failure;
  json["values"] = c.values;
  json["differences"] = OrderedJson::array();
  for (const Difference& d : c.differences) {
    OrderedJson one;
    one["what"] = d.what;
    one["before"] = d.before;
    one["now"] = d.now;
    if (d.in_u) one["in_u"] = *d.in_u;
    one["serious"] = d.serious;
    json["differences"].push_back(one);
  }
  return json;
}

}  // namespace

int Remeasure(const RecordsCall& call, const Archive& store, const Terminal& terminal,
              const Stages& stages) {
  auto results = ResultsOf(call, store);
  if (!results) {
    PrintError(terminal, results.error());
    return kExitWrongCall;
  }
  int status = kExitFine;
  std::size_t same = 0, serious = 0, failed = 0;
  for (const std::int64_t seq : *results) {
    auto entry = store.Entry(seq);
    if (entry && entry->kind != "result")
      entry = Fail(Code::kUsage, fmt::format("entry {} is no result", seq));
    if (!entry) {
      PrintError(terminal, entry.error());
      return kExitWrongCall;
    }
    Comparison comparison;
    comparison.entry = seq;
    if (auto measured = Measure(store, *entry, call, stages, comparison); !measured) {
      comparison.failure = measured.error().message;
      status = kExitNotMeasurable;
      ++failed;
    } else {
      const bool any = std::any_of(comparison.differences.begin(), comparison.differences.end(),
                                   [](const Difference& d) { return d.serious; });
      same += comparison.differences.empty();
      serious += any;
      if (!comparison.differences.empty()) status = WorseExit(status, kExitNotAllConform);
    }
    if (call.json)
      terminal.out << AsJson(comparison).dump(-1, ' ', false, OrderedJson::error_handler_t::replace)
                   << "\n";
    else
      terminal.out << Table(comparison);
    terminal.out << std::flush;
  }
  if (!call.json)
    terminal.out << fmt::format(
                        "{} results: {} the same, {} with another verdict, state or a value "
                        "outside its former interval (!), {} not measured again\n",
                        results->size(), same, serious, failed)
                 << std::flush;
  return status;
}

}  // namespace cutface
