// What people decide: dispositions and signatures, and their file.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/roster.h"
#include "roster/fields.h"

namespace cutface {
namespace {

using roster::Fields;
using roster::Json;
using roster::Reading;

constexpr std::string_view kFormat = "cutface/dispositions";

bool IsSha256(const std::string& text) {
  return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

bool IsBlank(const std::string& text) {
  return text.find_first_not_of(" \t\r\n") == std::string::npos;
}

// ISO 8601: 2026-03-02, with or without T09:15[:30][Z].
bool IsTime(const std::string& text) {
  const auto fits = [&](std::string_view pattern) {
    if (text.size() != pattern.size()) return false;
    for (std::size_t i = 0; i < pattern.size(); ++i) {
      const bool digit = text[i] >= '0' && text[i] <= '9';
      if (pattern[i] == '0' ? !digit : text[i] != pattern[i]) return false;
    }
    return true;
  };
  constexpr std::string_view kPatterns[] = {"0000-00-00", "0000-00-00T00:00", "0000-00-00T00:00Z",
                                            "0000-00-00T00:00:00", "0000-00-00T00:00:00Z"};
  if (std::none_of(std::begin(kPatterns), std::end(kPatterns), fits)) return false;
  const auto two = [&](std::size_t at) { return 10 * (text[at] - '0') + (text[at + 1] - '0'); };
  const int year = 100 * two(0) + two(2), month = two(5), day = two(8);
  if (month < 1 || month > 12) return false;
  const bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
  const int days = month == 2 ? 28 + leap : 30 + (month + (month > 7)) % 2;
  if (day < 1 || day > days) return false;
  return text.size() == 10 || (two(11) < 24 && two(14) < 60 && (text.size() < 19 || two(17) < 61));
}

template <class Enum>
std::optional<Enum> WordOf(std::string_view word, std::string_view (*name)(Enum), Enum last) {
  for (int i = 0; i <= static_cast<int>(last); ++i) {
    if (name(static_cast<Enum>(i)) == word) return static_cast<Enum>(i);
  }
  return std::nullopt;
}

Disposition ReadDisposition(const Json& json, const std::string& path, Reading& reading) {
  const Fields in(
      json, path,
      {"what", "reference", "result_sha256", "row", "finding", "about", "reason", "by", "when"},
      reading);
  Disposition d;
  const auto what = ParseDispositionKind(in.Needed("what"));
  if (!what) in.Wrong("what", "must be accept, recut, rework, scrap or concession");
  d.what = what.value_or(DispositionKind::kAccept);
  d.reference = in.Text("reference");
  d.result_sha256 = in.Needed("result_sha256");
  d.row = in.Text("row");
  if (const auto finding = in.Number("finding")) {
    if (*finding != std::floor(*finding) || *finding < 0 || *finding > 1e6)
      in.Wrong("finding", "must be a whole number from 0");
    else
      d.finding = static_cast<int>(*finding);
  }
  d.reason = in.Needed("reason");
  d.by = in.Needed("by");
  d.when = in.Needed("when");
  if (const std::string fault = Fault(d); !fault.empty())
    reading.Add(Code::kJsonValue, path, fault);
  return d;
}

Signature ReadSignature(const Json& json, const std::string& path, Reading& reading) {
  const Fields in(json, path, {"meaning", "by", "when", "of_sha256"}, reading);
  Signature s;
  const auto meaning = ParseSignatureMeaning(in.Needed("meaning"));
  if (!meaning) in.Wrong("meaning", "must be measured, reviewed or approved");
  s.meaning = meaning.value_or(SignatureMeaning::kMeasured);
  s.by = in.Needed("by");
  s.when = in.Needed("when");
  s.of_sha256 = in.Needed("of_sha256");
  if (const std::string fault = Fault(s); !fault.empty())
    reading.Add(Code::kJsonValue, path, fault);
  return s;
}

}  // namespace

std::string_view DispositionKindName(DispositionKind kind) {
  switch (kind) {
    case DispositionKind::kAccept:
      return "accept";
    case DispositionKind::kRecut:
      return "recut";
    case DispositionKind::kRework:
      return "rework";
    case DispositionKind::kScrap:
      return "scrap";
    case DispositionKind::kConcession:
      return "concession";
  }
  return "accept";
}

std::string_view SignatureMeaningName(SignatureMeaning m) {
  switch (m) {
    case SignatureMeaning::kMeasured:
      return "measured";
    case SignatureMeaning::kReviewed:
      return "reviewed";
    case SignatureMeaning::kApproved:
      return "approved";
  }
  return "measured";
}

std::optional<DispositionKind> ParseDispositionKind(std::string_view word) {
  return WordOf(word, DispositionKindName, DispositionKind::kConcession);
}

std::optional<SignatureMeaning> ParseSignatureMeaning(std::string_view word) {
  return WordOf(word, SignatureMeaningName, SignatureMeaning::kApproved);
}

std::string Fault(const Disposition& d) {
  if (!IsSha256(d.result_sha256)) return "result_sha256 must be 64 hexadecimal digits";
  if (d.row.empty() == !d.finding) return "must name a row or a finding, not both";
  if (d.finding && *d.finding < 0) return "finding must be a whole number from 0";
  if (d.what == DispositionKind::kConcession && IsBlank(d.reference))
    return "a concession needs its reference";
  if (IsBlank(d.reason)) return "a reason is needed";
  if (IsBlank(d.by)) return "a name is needed in \"by\"";
  if (!IsTime(d.when)) return "when must be a date, 2026-03-02, or 2026-03-02T09:15[:30][Z]";
  return "";
}

std::string Fault(const Signature& s) {
  if (!IsSha256(s.of_sha256)) return "of_sha256 must be 64 hexadecimal digits";
  if (IsBlank(s.by)) return "a name is needed in \"by\"";
  if (!IsTime(s.when)) return "when must be a date, 2026-03-02, or 2026-03-02T09:15[:30][Z]";
  return "";
}

bool NeedsDisposition(Verdict verdict) {
  return verdict == Verdict::kDoesNotConform || verdict == Verdict::kNotMeasured ||
         verdict == Verdict::kNotProven;
}

std::string Objection(const Disposition& d, Verdict verdict) {
  if (std::string fault = Fault(d); !fault.empty()) return "the disposition is not valid: " + fault;
  if (verdict == Verdict::kDoesNotConform && d.what == DispositionKind::kAccept)
    return "a row that does not conform is not accepted without a concession";
  return "";
}

std::string DecisionsToJson(const Decisions& decisions) {
  Json out = Json::object();
  out["format"] = kFormat;
  out["version"] = 1;
  out["dispositions"] = Json::array();
  for (const Disposition& d : decisions.dispositions) {
    Json one = Json{{"what", DispositionKindName(d.what)}};
    if (!d.reference.empty()) one["reference"] = d.reference;
    one["result_sha256"] = d.result_sha256;
    if (!d.row.empty()) one["row"] = d.row;
    if (d.finding) one["finding"] = *d.finding;
    one["reason"] = d.reason;
    one["by"] = d.by;
    one["when"] = d.when;
    out["dispositions"].push_back(std::move(one));
  }
  out["signatures"] = Json::array();
  for (const Signature& s : decisions.signatures) {
    out["signatures"].push_back(Json{{"meaning", SignatureMeaningName(s.meaning)},
                                     {"by", s.by},
                                     {"when", s.when},
                                     {"of_sha256", s.of_sha256}});
  }
  return roster::Dump(out);
}

Result<Decisions> ParseDecisions(std::string_view text, const std::string& name) {
  auto json = roster::ParseFormat(text, name, kFormat);
  if (!json) return tl::unexpected(json.error());
  Reading reading;
  reading.strict = true;
  const Fields in(*json, "", {"format", "version", "dispositions", "signatures"}, reading);
  Decisions decisions;
  for (const auto& [element, path] : in.List("dispositions"))
    decisions.dispositions.push_back(ReadDisposition(*element, path, reading));
  for (const auto& [element, path] : in.List("signatures"))
    decisions.signatures.push_back(ReadSignature(*element, path, reading));
  if (reading.first) return Fail(reading.first->code, name + ": " + reading.first->message);
  return decisions;
}

Result<Decisions> ReadDecisions(const std::string& path) {
  auto text = ReadTextFile(path);
  if (!text) return tl::unexpected(text.error());
  return ParseDecisions(*text, path);
}

Status WriteDecisions(const std::string& path, const Decisions& decisions) {
  return WriteWhole(path, DecisionsToJson(decisions));
}

}  // namespace cutface
