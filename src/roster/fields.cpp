#include "roster/fields.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace cutface::roster {
namespace {

// Keys come from the file: no control characters into one-line messages.
std::string Printable(std::string_view text) {
  std::string shown(text.substr(0, 60));
  for (char& c : shown) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = '?';
  }
  return shown;
}

constexpr std::size_t kMostWarnings = 20;  // a foreign file must not flood the reader

}  // namespace

void Reading::Add(Code code, const std::string& path, const std::string& what) {
  if (!first) first = Error{code, path.empty() ? what : fmt::format("{}: {}", path, what)};
}

Fields::Fields(const Json& value, std::string path, const std::vector<std::string_view>& known,
               Reading& reading)
    : path_(std::move(path)), reading_(reading) {
  if (!value.is_object()) {
    reading.Add(Code::kJsonValue, path_, "must be an object {...}");
    return;
  }
  value_ = &value;
  for (const auto& item : value.items()) {
    if (std::find(known.begin(), known.end(), item.key()) != known.end()) continue;
    const std::string near = NearestWord(item.key(), std::vector<std::string_view>(known));
    const std::string text = fmt::format("unknown key \"{}\"{}", Printable(item.key()),
                                         near.empty() ? "" : fmt::format(", perhaps \"{}\"", near));
    if (reading.strict) {
      reading.Add(Code::kJsonUnknownKey, path_, text);
    } else if (reading.warnings.size() < kMostWarnings) {
      reading.warnings.push_back(path_.empty() ? text : path_ + ": " + text);
    }
  }
}

std::string Fields::Path(std::string_view key) const {
  return path_.empty() ? std::string(key) : fmt::format("{}.{}", path_, key);
}

void Fields::Wrong(std::string_view key, const std::string& what) const {
  reading_.Add(Code::kJsonValue, Path(key), what);
}

const Json* Fields::Find(std::string_view key) const {
  if (value_ == nullptr) return nullptr;
  const auto found = value_->find(key);
  return found == value_->end() || found->is_null() ? nullptr : &*found;
}

std::string Fields::Text(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return "";
  if (found->is_string()) return found->get<std::string>();
  Wrong(key, "must be text in quotes");
  return "";
}

std::string Fields::Needed(std::string_view key) const {
  if (value_ != nullptr && Find(key) == nullptr) {
    reading_.Add(Code::kJsonMissingKey, path_, fmt::format("key \"{}\" is missing", key));
  }
  return Text(key);
}

std::optional<double> Fields::Number(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return std::nullopt;
  if (found->is_number() && std::isfinite(found->get<double>())) return found->get<double>();
  Wrong(key, "must be a number");
  return std::nullopt;
}

bool Fields::Flag(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return false;
  if (found->is_boolean()) return found->get<bool>();
  Wrong(key, "must be true or false");
  return false;
}

std::vector<std::string> Fields::Texts(std::string_view key) const {
  std::vector<std::string> texts;
  for (const auto& [element, path] : List(key)) {
    if (element->is_string()) {
      texts.push_back(element->get<std::string>());
    } else {
      reading_.Add(Code::kJsonValue, path, "must be text in quotes");
    }
  }
  return texts;
}

std::vector<std::pair<const Json*, std::string>> Fields::List(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return {};
  if (!found->is_array()) {
    Wrong(key, "must be a list [...]");
    return {};
  }
  std::vector<std::pair<const Json*, std::string>> elements;
  for (std::size_t i = 0; i < found->size(); ++i)
    elements.emplace_back(&(*found)[i], fmt::format("{}[{}]", Path(key), i));
  return elements;
}

Result<Json> ParseFormat(std::string_view text, const std::string& name, std::string_view format) {
  Json json = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (json.is_discarded())
    return Fail(Code::kJsonSyntax, fmt::format("{}: is no JSON; was it cut off or edited?", name));
  const auto kind = json.is_object() ? json.find("format") : json.end();
  if (!json.is_object() || kind == json.end() || *kind != format)
    return Fail(Code::kJsonValue,
                fmt::format("{}: must be an object with \"format\": \"{}\"", name, format));
  const auto version = json.find("version");
  if (version == json.end() || *version != 1)
    return Fail(Code::kJsonValue,
                fmt::format("{}: version must be 1; a newer program may have written it", name));
  return json;
}

std::string Dump(const Json& json) {
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace cutface::roster
