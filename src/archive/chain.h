// Canonical JSON and the link from one entry to the next.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "cutface/archive.h"

namespace cutface {

using Json = nlohmann::json;  // keys sorted

// UTF-8 without NUL: what is neither becomes U+FFFD, so that a hostile file name cannot keep a
// result out of the store.
std::string Utf8(std::string_view text);
// Keys sorted, no blanks.
std::string Canonical(const Json& json);
// The object of a canonical body. Errors: kJsonSyntax, kJsonValue (no object, not canonical).
Result<Json> BodyOf(std::string_view body);
// Text of a key of an object, "" when it is missing or no text.
std::string TextOf(const Json& object, const char* key);

// Longest part, lot or serial number, in bytes: an index of PostgreSQL takes no longer ones.
inline constexpr std::size_t kLongestKey = 512;
inline constexpr std::size_t kLongestBody = std::size_t{16} << 20;

// What a seal signs: the entry's text with the seal taken out of its body.
// Errors: as BodyOf; kJsonMissingKey when there is no seal.
struct Sealed {
  std::string text, signature;
};
Result<Sealed> SealedText(const ArchiveEntry& entry);

// Kinds that must be sealed by a person.
bool NeedsSeal(std::string_view kind);
// Kinds that only an engineer may write.
bool NeedsEngineer(std::string_view kind);
// A word that an entry may have as its kind.
bool IsKind(std::string_view kind);

}  // namespace cutface
