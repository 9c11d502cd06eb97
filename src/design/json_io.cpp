#include "design/json_io.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <unordered_set>

namespace cutface {
namespace {

constexpr std::size_t kMostColumns = 140;  // a row of the drawing on one line
constexpr std::size_t kQuotedMost = 60;
// A list of more words than this helps nobody.
constexpr std::size_t kListedMost = 12;

// Stops nlohmann's parser from inside its callback; never leaves this file.
struct Refused {
  Code code;
  std::string what;
};

std::string PlaceOf(std::string_view text, std::size_t byte) {
  byte = std::min(byte, text.size());
  std::size_t line = 1, column = 1;
  for (std::size_t i = 0; i + 1 < byte; ++i) {
    if (text[i] == '\n') {
      ++line;
      column = 1;
    } else {
      ++column;
    }
  }
  return fmt::format("line {}, column {}", line, column);
}

// Watches the parse for keys that stand twice, for depth and for size.
class Watcher {
 public:
  explicit Watcher(const JsonLimits& limits) : limits_(limits) {}

  bool operator()(int depth, Json::parse_event_t event, Json& parsed) {
    using Event = Json::parse_event_t;
    if (depth > limits_.depth) {
      throw Refused{Code::kJsonSyntax,
                    fmt::format("nested more than {} levels deep; flatten it", limits_.depth)};
    }
    if (event == Event::object_start) {
      levels_.emplace_back();
    } else if (event == Event::object_end) {
      if (!levels_.empty()) levels_.pop_back();
    } else if (event == Event::key) {
      Level& level = levels_.back();
      const auto& key = parsed.get_ref<const std::string&>();
      if (!level.keys.insert(key).second) {
        throw Refused{Code::kJsonValue,
                      fmt::format("{}: key {} stands twice; remove one", Where(), Quoted(key))};
      }
      if (level.keys.size() > limits_.keys_per_object) {
        throw Refused{Code::kJsonValue, fmt::format("{}: more than {} keys in one object", Where(),
                                                    limits_.keys_per_object)};
      }
      level.key = key;
    }
    return true;
  }

 private:
  struct Level {
    std::unordered_set<std::string> keys;
    std::string key;
  };

  // Path of the object that is open; the level's own key names a child of it.
  std::string Where() const {
    std::string path;
    for (std::size_t i = 0; i + 1 < levels_.size(); ++i) path = PathJoin(path, levels_[i].key);
    return path.empty() ? "top level" : path;
  }

  JsonLimits limits_;
  std::vector<Level> levels_;
};

// The library's reason without its prefix, position and grammar, on one line.
std::string ShortReason(std::string_view what) {
  const std::size_t dash = what.find(" - ");
  if (dash != std::string_view::npos) what.remove_prefix(dash + 3);
  std::string line;
  for (char c : what) line += (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) ? ' ' : c;
  return line;
}

}  // namespace

Result<Json> ParseJsonText(std::string_view text, const std::string& name,
                           const JsonLimits& limits) {
  try {
    return Json::parse(text.begin(), text.end(), Watcher(limits));
  } catch (const Refused& refused) {
    return Fail(refused.code, fmt::format("{}: {}", name, refused.what));
  } catch (const Json::parse_error& error) {
    return Fail(Code::kJsonSyntax,
                fmt::format("{}: {}: not JSON: {}", name, PlaceOf(text, error.byte),
                            ShortReason(error.what())));
  } catch (const Json::exception& error) {  // a number that no double holds
    std::string_view what = error.what();
    const std::size_t quote = what.find('\'');
    what.remove_prefix(std::min(quote, what.size()));
    return Fail(Code::kJsonValue,
                fmt::format("{}: the number {} is too large", name, ShortReason(what)));
  }
}

std::string Quoted(std::string_view text) {
  std::string shown = "\"";
  std::size_t end = std::min(text.size(), kQuotedMost);
  // Never cut inside a UTF-8 sequence.
  while (end > 0 && end < text.size() && (static_cast<unsigned char>(text[end]) & 0xc0) == 0x80)
    --end;
  for (char c : text.substr(0, end)) {
    shown += (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) ? '?' : c;
  }
  shown += end < text.size() ? "...\"" : "\"";
  return shown;
}

std::string PathJoin(std::string_view path, std::string_view key) {
  const std::string quoted = Quoted(key);
  const std::string_view shown = std::string_view(quoted).substr(1, quoted.size() - 2);
  return path.empty() ? std::string(shown) : fmt::format("{}.{}", path, shown);
}

std::string PathIndex(std::string_view path, std::size_t index) {
  return fmt::format("{}[{}]", path, index);
}

std::string Suggestion(std::string_view word, std::span<const std::string_view> known) {
  const std::string nearest = NearestWord(word, known);
  if (!nearest.empty()) return fmt::format("; did you mean \"{}\"?", nearest);
  if (known.empty() || known.size() > kListedMost) return "";
  return fmt::format("; known: {}", fmt::join(known, ", "));
}

void JsonTrouble::Add(Code code, std::string_view path, std::string_view what) {
  if (first_) return;
  first_ = Error{code, path.empty() ? std::string(what) : fmt::format("{}: {}", path, what)};
}

void JsonTrouble::AddUnknownKey(std::string_view path, std::string_view key,
                                std::span<const std::string_view> known) {
  Add(Code::kJsonUnknownKey, path,
      fmt::format("unknown key {}{}", Quoted(key), Suggestion(key, known)));
}

Error JsonTrouble::FirstIn(const std::string& file_name) const {
  CF_CHECK(first_.has_value());
  return Error{first_->code, fmt::format("{}: {}", file_name, first_->message)};
}

JsonObject::JsonObject(const Json* value, std::string path, std::vector<std::string_view> known,
                       JsonTrouble& trouble)
    : path_(std::move(path)), trouble_(&trouble) {
  if (value == nullptr) return;
  if (!value->is_object()) {
    trouble.Add(Code::kJsonValue, path_,
                fmt::format("must be an object {{...}}, is {}", value->type_name()));
    return;
  }
  value_ = value;
  if (known.empty()) return;
  for (const auto& item : value->items()) {
    if (std::find(known.begin(), known.end(), item.key()) == known.end()) {
      trouble.AddUnknownKey(path_, item.key(), known);
    }
  }
}

const Json* JsonObject::Find(std::string_view key) const {
  if (value_ == nullptr) return nullptr;
  const auto found = value_->find(key);
  return found == value_->end() ? nullptr : &*found;
}

const Json* JsonObject::Need(std::string_view key) {
  const Json* found = Find(key);
  if (found == nullptr) {
    trouble_->Add(Code::kJsonMissingKey, path_, fmt::format("key \"{}\" is missing; add it", key));
  }
  return found;
}

std::string JsonObject::Path(std::string_view key) const { return PathJoin(path_, key); }

double JsonObject::NeedNumber(std::string_view key) {
  const Json* found = Need(key);
  return found == nullptr ? 0 : AsNumber(*found, Path(key), *trouble_).value_or(0);
}

std::optional<double> JsonObject::Number(std::string_view key) {
  const Json* found = Find(key);
  return found == nullptr ? std::nullopt : AsNumber(*found, Path(key), *trouble_);
}

double JsonObject::NeedPositive(std::string_view key) {
  return Need(key) == nullptr ? 0 : Positive(key).value_or(0);
}

std::optional<double> JsonObject::Positive(std::string_view key) {
  const std::optional<double> number = Number(key);
  if (number && !(*number > 0)) {
    trouble_->Add(Code::kJsonValue, Path(key), fmt::format("must be above 0, is {}", *number));
    return std::nullopt;
  }
  return number;
}

std::optional<double> JsonObject::Within(std::string_view key, double least, double most) {
  const std::optional<double> number = Number(key);
  if (number && !(*number >= least && *number <= most)) {
    trouble_->Add(Code::kJsonValue, Path(key),
                  fmt::format("must lie from {} to {}, is {}", least, most, *number));
    return std::nullopt;
  }
  return number;
}

std::optional<int> JsonObject::Count(std::string_view key, int least, int most) {
  const std::optional<double> number = Number(key);
  if (!number) return std::nullopt;
  if (*number != std::floor(*number) || *number < least || *number > most) {
    trouble_->Add(Code::kJsonValue, Path(key),
                  fmt::format("must be a whole number from {} to {}, is {}", least, most, *number));
    return std::nullopt;
  }
  return static_cast<int>(*number);
}

bool JsonObject::Flag(std::string_view key, bool fallback) {
  const Json* found = Find(key);
  if (found == nullptr) return fallback;
  if (!found->is_boolean()) {
    trouble_->Add(Code::kJsonValue, Path(key),
                  fmt::format("must be true or false, is {}", found->type_name()));
    return fallback;
  }
  return found->get<bool>();
}

std::string JsonObject::NeedText(std::string_view key) {
  return Need(key) == nullptr ? std::string() : Text(key);
}

std::string JsonObject::Text(std::string_view key, const std::string& fallback) {
  const Json* found = Find(key);
  return found == nullptr ? fallback : AsText(*found, Path(key), *trouble_).value_or(fallback);
}

std::string JsonObject::Word(std::string_view key, std::initializer_list<std::string_view> words,
                             std::string fallback) {
  const Json* found = Find(key);
  if (found == nullptr) return fallback;
  const std::optional<std::string> word = AsText(*found, Path(key), *trouble_);
  if (!word) return fallback;
  if (std::find(words.begin(), words.end(), *word) == words.end()) {
    trouble_->Add(Code::kJsonValue, Path(key),
                  fmt::format("{} is not known here{}", Quoted(*word),
                              Suggestion(*word, std::span(words.begin(), words.size()))));
    return fallback;
  }
  return *word;
}

std::vector<double> JsonObject::NeedNumbers(std::string_view key, std::size_t size) {
  const std::string path = Path(key);
  const Json* array = AsArray(Need(key), path, *trouble_);
  if (array == nullptr) return {};
  if (array->size() != size) {
    trouble_->Add(Code::kJsonValue, path,
                  fmt::format("must hold {} numbers, holds {}", size, array->size()));
    return {};
  }
  std::vector<double> numbers;
  for (std::size_t i = 0; i < size; ++i) {
    const std::optional<double> number = AsNumber((*array)[i], PathIndex(path, i), *trouble_);
    if (!number) return {};
    numbers.push_back(*number);
  }
  return numbers;
}

std::optional<double> AsNumber(const Json& value, const std::string& path, JsonTrouble& trouble) {
  if (!value.is_number()) {
    trouble.Add(Code::kJsonValue, path, fmt::format("must be a number, is {}", value.type_name()));
    return std::nullopt;
  }
  const double number = value.get<double>();
  if (!std::isfinite(number)) {
    trouble.Add(Code::kJsonValue, path, "must be a finite number");
    return std::nullopt;
  }
  return number;
}

std::optional<std::string> AsText(const Json& value, const std::string& path,
                                  JsonTrouble& trouble) {
  if (!value.is_string()) {
    trouble.Add(Code::kJsonValue, path,
                fmt::format("must be text in quotes, is {}", value.type_name()));
    return std::nullopt;
  }
  return value.get<std::string>();
}

const Json* AsArray(const Json* value, const std::string& path, JsonTrouble& trouble) {
  if (value == nullptr) return nullptr;
  if (!value->is_array()) {
    trouble.Add(Code::kJsonValue, path,
                fmt::format("must be a list [...], is {}", value->type_name()));
    return nullptr;
  }
  return value;
}

namespace {

bool IsRowOfNumbers(const Json& value) {
  return value.is_array() && std::all_of(value.begin(), value.end(), [](const Json& element) {
           return element.is_primitive() ||
                  (element.is_array() && element.size() <= 2 &&
                   std::all_of(element.begin(), element.end(),
                               [](const Json& e) { return e.is_number(); }));
         });
}

// Text that is not UTF-8 (a name from elsewhere) must not stop a result from being written.
std::string Leaf(const Json& value) {
  if (value.is_number_float()) {  // "10", as people write it, not "10.0"
    const double number = value.get<double>();
    if (number == std::floor(number) && std::abs(number) < 1e15)
      return fmt::format("{:.0f}", number + 0.0);
  }
  return value.dump(-1, ' ', false, Json::error_handler_t::replace);
}

// On one line with a blank after commas and colons.
void AppendFlat(const Json& value, std::string& out) {
  if (value.is_object()) {
    out += '{';
    bool first = true;
    for (const auto& item : value.items()) {
      if (!first) out += ", ";
      first = false;
      out += Leaf(Json(item.key())) + ": ";
      AppendFlat(item.value(), out);
    }
    out += '}';
  } else if (value.is_array()) {
    out += '[';
    for (std::size_t i = 0; i < value.size(); ++i) {
      if (i > 0) out += ", ";
      AppendFlat(value[i], out);
    }
    out += ']';
  } else {
    out += Leaf(value);
  }
}

void AppendPretty(const Json& value, std::size_t indent, std::size_t used, std::string& out) {
  std::string flat;
  AppendFlat(value, flat);
  if (!value.is_structured() || value.empty() || used + flat.size() < kMostColumns ||
      IsRowOfNumbers(value)) {
    out += flat;
    return;
  }
  const bool object = value.is_object();
  out += object ? '{' : '[';
  bool first = true;
  for (const auto& item : value.items()) {
    out += first ? "\n" : ",\n";
    first = false;
    out.append(indent + 2, ' ');
    const std::string key = object ? Leaf(Json(item.key())) + ": " : "";
    out += key;
    AppendPretty(item.value(), indent + 2, indent + 2 + key.size(), out);
  }
  out += '\n';
  out.append(indent, ' ');
  out += object ? '}' : ']';
}

}  // namespace

std::string JsonToText(const Json& value) {
  std::string text;
  AppendPretty(value, 0, 0, text);
  text += '\n';
  return text;
}

}  // namespace cutface
