#include "archive/chain.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace cutface {
namespace {

constexpr std::array<std::string_view, 13> kKinds = {
    "started", "person",   "drawing", "hints",       "calibration", "check",  "result",
    "edit",    "overrule", "file",    "disposition", "signature",   "refused"};

bool IsHash(std::string_view text) {
  return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

}  // namespace

std::string Utf8(std::string_view text) {
  const std::string dumped =
      Json(std::string(text)).dump(-1, ' ', false, Json::error_handler_t::replace);
  std::string clean = Json::parse(dumped).get<std::string>();
  for (std::size_t at = clean.find('\0'); at != std::string::npos; at = clean.find('\0', at))
    clean.replace(at, 1, "\xEF\xBF\xBD");
  return clean;
}

std::string Canonical(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

Result<Json> BodyOf(std::string_view body) {
  if (body.size() > kLongestBody) return Fail(Code::kJsonValue, "body: is too long");
  // A body is flat by nature; one that nests without end must not use up the stack.
  int depth = 0, deepest = 0;
  for (const char c : body) {
    depth += (c == '{' || c == '[') ? 1 : (c == '}' || c == ']') ? -1 : 0;
    deepest = std::max(deepest, depth);
  }
  if (deepest > 200) return Fail(Code::kJsonSyntax, "body: is nested too deeply");
  Json json = Json::parse(body, nullptr, /*allow_exceptions=*/false);
  if (json.is_discarded()) return Fail(Code::kJsonSyntax, "body: is not JSON");
  if (!json.is_object()) return Fail(Code::kJsonValue, "body: is no object { }");
  if (Canonical(json) != body) return Fail(Code::kJsonValue, "body: is not in canonical form");
  return json;
}

std::string TextOf(const Json& object, const char* key) {
  if (!object.is_object()) return "";
  const auto found = object.find(key);
  return found != object.end() && found->is_string() ? found->get<std::string>() : "";
}

std::string EntryText(const ArchiveEntry& e) {
  return Canonical(Json::array({"cutface/entry", 1, e.seq, e.kind, e.written, e.who, e.part, e.lot,
                                e.serial, e.about, e.body, e.previous}));
}

std::string EntryHash(const ArchiveEntry& entry) { return Sha256Hex(EntryText(entry)); }

std::string EntryToJson(const ArchiveEntry& e) {
  const Json json = {{"seq", e.seq},           {"kind", e.kind},   {"written", e.written},
                     {"who", e.who},           {"part", e.part},   {"lot", e.lot},
                     {"serial", e.serial},     {"about", e.about}, {"body", e.body},
                     {"previous", e.previous}, {"hash", e.hash}};
  return Canonical(json);
}

Result<ArchiveEntry> ParseEntry(std::string_view line) {
  if (line.size() > 2 * kLongestBody) return Fail(Code::kJsonValue, "entry: is too long");
  const Json json = Json::parse(line, nullptr, /*allow_exceptions=*/false);
  if (json.is_discarded()) return Fail(Code::kJsonSyntax, "entry: is not JSON");
  if (!json.is_object()) return Fail(Code::kJsonValue, "entry: is no object { }");
  ArchiveEntry e;
  const auto seq = json.find("seq");
  if (seq == json.end()) return Fail(Code::kJsonMissingKey, "entry: seq is missing");
  if (!seq->is_number_integer() || seq->get<std::int64_t>() < 1)
    return Fail(Code::kJsonValue, "entry: seq is no number from 1");
  e.seq = seq->get<std::int64_t>();
  std::array<std::pair<const char*, std::string*>, 10> texts = {{{"kind", &e.kind},
                                                                 {"written", &e.written},
                                                                 {"who", &e.who},
                                                                 {"part", &e.part},
                                                                 {"lot", &e.lot},
                                                                 {"serial", &e.serial},
                                                                 {"about", &e.about},
                                                                 {"body", &e.body},
                                                                 {"previous", &e.previous},
                                                                 {"hash", &e.hash}}};
  for (auto& [key, text] : texts) {
    const auto found = json.find(key);
    if (found == json.end())
      return Fail(Code::kJsonMissingKey, fmt::format("entry {}: {} is missing", e.seq, key));
    if (!found->is_string())
      return Fail(Code::kJsonValue, fmt::format("entry {}: {} is no text", e.seq, key));
    *text = found->get<std::string>();
  }
  if (json.size() != texts.size() + 1)
    return Fail(Code::kJsonValue, fmt::format("entry {}: has keys that no entry has", e.seq));
  if (!IsKind(e.kind))
    return Fail(Code::kJsonValue, fmt::format("entry {}: kind is none that is known", e.seq));
  if (e.part.size() > kLongestKey || e.lot.size() > kLongestKey || e.serial.size() > kLongestKey)
    return Fail(Code::kJsonValue, fmt::format("entry {}: part, lot or serial is too long", e.seq));
  if (e.previous.empty() != (e.seq == 1) || (!e.previous.empty() && !IsHash(e.previous)))
    return Fail(Code::kJsonValue, fmt::format("entry {}: previous is no hash", e.seq));
  if (auto body = BodyOf(e.body); !body)
    return Fail(body.error().code, fmt::format("entry {}: {}", e.seq, body.error().message));
  if (EntryHash(e) != e.hash)
    return Fail(Code::kJsonValue, fmt::format("entry {}: its hash is not that of its text", e.seq));
  return e;
}

Result<Sealed> SealedText(const ArchiveEntry& entry) {
  auto body = BodyOf(entry.body);
  if (!body) return tl::unexpected(body.error());
  Sealed sealed{"", TextOf(*body, "seal")};
  if (sealed.signature.empty())
    return Fail(Code::kJsonMissingKey, fmt::format("entry {}: has no seal", entry.seq));
  body->erase("seal");
  ArchiveEntry open = entry;
  open.body = Canonical(*body);
  sealed.text = EntryText(open);
  return sealed;
}

bool NeedsSeal(std::string_view kind) {
  return kind == "person" || kind == "drawing" || kind == "hints" || kind == "disposition" ||
         kind == "signature";
}

bool NeedsEngineer(std::string_view kind) { return kind == "drawing" || kind == "hints"; }

bool IsKind(std::string_view kind) {
  return std::find(kKinds.begin(), kKinds.end(), kind) != kKinds.end();
}

}  // namespace cutface
