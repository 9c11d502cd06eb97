#include "archive/bodies.h"

#include <fmt/format.h>

#include <cmath>

#include "archive/keys.h"

namespace cutface {
namespace {

Json Texts(const std::vector<std::string>& texts) {
  Json array = Json::array();
  for (const std::string& text : texts) array.push_back(Utf8(text));
  return array;
}

void PutNumber(Json& object, const char* key, const std::optional<double>& number) {
  if (number && std::isfinite(*number)) object[key] = *number;
}

void PutText(Json& object, const char* key, const std::string& text) {
  if (!text.empty()) object[key] = Utf8(text);
}

std::string Joined(const Json& texts) {
  std::string all;
  if (!texts.is_array()) return all;
  for (const Json& text : texts) {
    if (text.is_string()) all += (all.empty() ? "" : ", ") + text.get<std::string>();
  }
  return all;
}

Json RowBody(const CharacteristicResult& row) {
  Json json = {{"no", Utf8(row.no)}, {"verdict", VerdictName(row.verdict)}};
  if (!row.of.empty()) json["of"] = Texts(row.of);
  PutText(json, "quantity", row.quantity);
  PutText(json, "finding", row.finding);
  PutText(json, "text", row.text);
  PutText(json, "unit", row.unit);
  PutText(json, "reason", row.reason);
  PutNumber(json, "actual", row.actual);
  PutNumber(json, "lo", row.lo);
  PutNumber(json, "hi", row.hi);
  PutNumber(json, "min", row.min);
  PutNumber(json, "max", row.max);
  return json;
}

}  // namespace

Json ResultBody(const SectionResult& result, const std::map<std::string, std::string>& how) {
  Json rows = Json::array(), findings = Json::array();
  for (const CharacteristicResult& row : result.characteristics) rows.push_back(RowBody(row));
  for (const Finding& finding : result.findings) {
    Json json = {{"kind", Utf8(finding.kind)},
                 {"severity", SeverityName(finding.severity)},
                 {"text", Utf8(finding.text)}};
    if (!finding.where.empty()) json["where"] = Texts(finding.where);
    findings.push_back(json);
  }
  Json body = {{"revision", Utf8(result.revision)},
               {"section", Utf8(result.section_name)},
               {"image", Utf8(result.image_file)},
               {"image_sha256", Utf8(result.image_sha256)},
               {"image_kind", Utf8(result.image_kind)},
               {"drawing_sha256", Utf8(result.design_sha256)},
               {"calibration", Utf8(result.calibration_id)},
               {"calibration_sha256", Utf8(result.calibration_sha256)},
               {"certified", result.calibration_certified},
               {"software", Utf8(result.software)},
               {"measured", Utf8(result.time)},
               {"inspector", Utf8(result.inspector)},
               {"taken", Utf8(result.sample.taken)},
               {"verdict", VerdictName(result.verdict)},
               {"rows", rows},
               {"findings", findings}};
  PutText(body, "block", result.sample.block);
  PutText(body, "face", result.sample.face);
  PutText(body, "flat_field_sha256", result.flat_field_sha256);
  PutNumber(body, "station_mm", result.sample.station_mm);
  for (const auto& [key, value] : how) body["how"][Utf8(key)] = Utf8(value);
  return body;
}

std::vector<OpenItem> ItemsOf(const Json& body) {
  std::vector<OpenItem> items;
  const auto rows = body.find("rows");
  if (rows != body.end() && rows->is_array()) {
    for (const Json& row : *rows) {
      const std::string verdict = TextOf(row, "verdict"), no = TextOf(row, "no");
      if (verdict == "conforms" || verdict == "elsewhere" || verdict == "not judged") continue;
      const std::string of = row.is_object() ? Joined(row.value("of", Json::array())) : "";
      const std::string what = TextOf(row, "quantity") + TextOf(row, "finding");
      const std::string reason = TextOf(row, "reason");
      items.push_back({no, std::nullopt,
                       fmt::format("row {} ({}{}{}): {}{}", no, what, of.empty() ? "" : " of ", of,
                                   verdict, reason.empty() ? "" : ", " + reason),
                       verdict == "does not conform" || verdict == "not proven",
                       verdict == VerdictName(Verdict::kDoesNotConform)});
    }
  }
  const auto findings = body.find("findings");
  if (findings != body.end() && findings->is_array()) {
    int index = 0;
    for (const Json& finding : *findings) {
      if (TextOf(finding, "severity") == "high") {
        items.push_back({"", index,
                         fmt::format("finding {} ({}): {}", index + 1, TextOf(finding, "kind"),
                                     TextOf(finding, "text")),
                         false, false});
      }
      ++index;
    }
  }
  return items;
}

Json DispositionBody(const Disposition& d) {
  Json body = {{"what", DispositionKindName(d.what)},
               {"reason", Utf8(d.reason)},
               {"result_sha256", d.result_sha256},
               {"when", d.when}};
  PutText(body, "reference", d.reference);
  PutText(body, "row", d.row);
  if (d.finding) body["finding"] = *d.finding;
  return body;
}

Result<Disposition> DispositionOf(const ArchiveEntry& entry) {
  auto body = BodyOf(entry.body);
  if (!body) return tl::unexpected(body.error());
  const auto what = ParseDispositionKind(TextOf(*body, "what"));
  if (!what) return Fail(Code::kJsonValue, "disposition: what is none");
  Disposition d;
  d.what = *what;
  d.reference = TextOf(*body, "reference");
  d.result_sha256 = TextOf(*body, "result_sha256");
  d.row = TextOf(*body, "row");
  if (const auto finding = body->find("finding"); finding != body->end()) {
    if (!finding->is_number_unsigned() || finding->get<std::uint64_t>() > 1000000)
      return Fail(Code::kJsonValue, "disposition: finding is no number");
    d.finding = finding->get<int>();
  }
  d.reason = TextOf(*body, "reason");
  d.by = entry.who;
  d.when = TextOf(*body, "when");
  if (const std::string fault = Fault(d); !fault.empty())
    return Fail(Code::kJsonValue, "disposition: " + fault);
  return d;
}

Result<Signature> SignatureOf(const ArchiveEntry& entry) {
  auto body = BodyOf(entry.body);
  if (!body) return tl::unexpected(body.error());
  const auto meaning = ParseSignatureMeaning(TextOf(*body, "meaning"));
  if (!meaning) return Fail(Code::kJsonValue, "signature: meaning is none");
  Signature s;
  s.meaning = *meaning;
  s.by = entry.who;
  s.when = TextOf(*body, "when");
  s.of_sha256 = TextOf(*body, "result_sha256");
  if (const std::string fault = Fault(s); !fault.empty())
    return Fail(Code::kJsonValue, "signature: " + fault);
  return s;
}

Status CheckEntryBody(const ArchiveEntry& entry) {
  auto body = BodyOf(entry.body);
  if (!body) return tl::unexpected(body.error());
  if (entry.kind == "person") {
    auto person = PersonOf(*body);
    if (!person) return tl::unexpected(person.error());
  } else if (entry.kind == "disposition") {
    auto disposition = DispositionOf(entry);
    if (!disposition) return tl::unexpected(disposition.error());
  } else if (entry.kind == "signature") {
    auto signature = SignatureOf(entry);
    if (!signature) return tl::unexpected(signature.error());
  } else if (entry.kind == "result") {
    if (TextOf(*body, "verdict").empty() || TextOf(*body, "file_sha256").empty())
      return Fail(Code::kJsonValue, "result: verdict or file is missing");
    (void)ItemsOf(*body);
  } else if (entry.kind == "file") {
    const std::string kept = TextOf(*body, "kept");
    if (kept != "copy" && kept != "reference")
      return Fail(Code::kJsonValue, "file: neither copy nor reference");
  }
  return {};
}

}  // namespace cutface
