// Strict reading of JSON that people write, and tidy writing. Shared by the rooms design and
// record.
//
// The first trouble wins: readers return a harmless value, note what is wrong with its path
// ("sections.shaft-mid.outline: ...") and the caller looks once at the end. So a parser is a list
// of keys instead of a ladder of checks. Keywords: JSON, unknown key, duplicate key, path, pretty
// print.
#pragma once

#include <initializer_list>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"

namespace cutface {

using Json = nlohmann::ordered_json;  // the file's order is the drawing's order

struct JsonLimits {
  int depth = 64;                      // nesting; REQUIRES: > 0
  std::size_t keys_per_object = 4096;  // ordered objects are searched one by one
};

// Text to value. A byte order mark is skipped. Errors, with line and column: kJsonSyntax (not JSON,
// not UTF-8, nested too deeply), kJsonValue (a key twice, a number beyond double).
Result<Json> ParseJsonText(std::string_view text, const std::string& name,
                           const JsonLimits& limits = {});

// Two blanks per level; what fits into 140 columns stands on one line, and so do rows of numbers.
std::string JsonToText(const Json& value);

// Reads `text`, shortened and with everything outside printable ASCII and UTF-8 replaced by '?'.
std::string Quoted(std::string_view text);

// Collects what is wrong: keeps the first error.
class JsonTrouble {
 public:
  void Add(Code code, std::string_view path, std::string_view what);
  void AddUnknownKey(std::string_view path, std::string_view key,
                     std::span<const std::string_view> known);

  bool any() const { return first_.has_value(); }
  Error FirstIn(const std::string& file_name) const;  // REQUIRES: any()

 private:
  std::optional<Error> first_;
};

// One JSON object being read. Keeps pointers to the value and to the trouble: both must outlive it.
class JsonObject {
 public:
  // Notes trouble when `value` is no object or has a key outside `known`. An empty `known` accepts
  // any key (maps from names).
  JsonObject(const Json* value, std::string path, std::vector<std::string_view> known,
             JsonTrouble& trouble);

  bool Has(std::string_view key) const { return Find(key) != nullptr; }
  const Json* Find(std::string_view key) const;
  const Json* Need(std::string_view key);  // nullptr and trouble (kJsonMissingKey) when absent

  double NeedNumber(std::string_view key);  // 0 when absent or wrong
  std::optional<double> Number(std::string_view key);
  double Number(std::string_view key, double fallback) { return Number(key).value_or(fallback); }
  // Finite and above 0.
  double NeedPositive(std::string_view key);
  std::optional<double> Positive(std::string_view key);
  // A number within [least, most].
  std::optional<double> Within(std::string_view key, double least, double most);
  std::optional<int> Count(std::string_view key, int least, int most);
  bool Flag(std::string_view key, bool fallback);
  std::string NeedText(std::string_view key);
  std::string Text(std::string_view key, const std::string& fallback = "");
  // One of `words`, else trouble that names the nearest.
  std::string Word(std::string_view key, std::initializer_list<std::string_view> words,
                   std::string fallback);
  // Exactly `size` finite numbers; empty when wrong or absent.
  std::vector<double> NeedNumbers(std::string_view key, std::size_t size);

  std::string Path(std::string_view key) const;
  const std::string& path() const { return path_; }
  const Json* value() const { return value_; }
  JsonTrouble& trouble() { return *trouble_; }

 private:
  const Json* value_ = nullptr;  // nullptr when it was no object
  std::string path_;
  JsonTrouble* trouble_;
};

// Finite number of any JSON number kind; nullopt and trouble otherwise.
std::optional<double> AsNumber(const Json& value, const std::string& path, JsonTrouble& trouble);
std::optional<std::string> AsText(const Json& value, const std::string& path, JsonTrouble& trouble);
// The elements of an array with their paths; trouble when it is none.
const Json* AsArray(const Json* value, const std::string& path, JsonTrouble& trouble);
std::string PathJoin(std::string_view path, std::string_view key);
std::string PathIndex(std::string_view path, std::size_t index);

// "; did you mean \"x\"?" or the list of what is known, for messages.
std::string Suggestion(std::string_view word, std::span<const std::string_view> known);

}  // namespace cutface
