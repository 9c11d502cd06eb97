#include "record/node.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace cutface {
namespace {

constexpr std::size_t kMostWarnings = 20;  // a foreign file must not flood the reader

// Keys come from the file: no control characters into one-line messages.
std::string Printable(std::string_view text) {
  std::string shown(text.substr(0, 60));
  for (char& c : shown) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = '?';
  }
  return shown;
}

std::optional<PointUm> AsPoint(const Json& value) {
  if (!value.is_array() || value.size() != 2 || !value[0].is_number() || !value[1].is_number()) {
    return std::nullopt;
  }
  return PointUm{value[0].get<double>(), value[1].get<double>()};
}

}  // namespace

void Reading::Add(Code code, const std::string& path, const std::string& what) {
  if (!first) first = Error{code, path.empty() ? what : fmt::format("{}: {}", path, what)};
}

void Reading::Warn(const std::string& path, const std::string& what) {
  if (warnings.size() >= kMostWarnings) return;
  warnings.push_back(path.empty() ? what : fmt::format("{}: {}", path, what));
}

Node::Node(const Json* value, std::string path, std::vector<std::string_view> known,
           Reading& reading)
    : path_(std::move(path)), reading_(&reading) {
  if (value == nullptr || value->is_null()) return;
  if (!value->is_object()) {
    reading.Add(Code::kJsonValue, path_,
                fmt::format("must be an object {{...}}, is {}", value->type_name()));
    return;
  }
  value_ = value;
  if (known.empty()) return;
  for (const auto& item : value->items()) {
    if (std::find(known.begin(), known.end(), item.key()) == known.end()) {
      reading.Warn(path_, fmt::format("unknown key \"{}\" left out", Printable(item.key())));
    }
  }
}

bool Node::Has(std::string_view key) const {
  return value_ != nullptr && value_->find(key) != value_->end();
}

const Json* Node::Find(std::string_view key) const {
  if (value_ == nullptr) return nullptr;
  const auto found = value_->find(key);
  return found == value_->end() || found->is_null() ? nullptr : &*found;
}

const Json* Node::Need(std::string_view key) const {
  if (value_ != nullptr && !Has(key)) {
    reading_->Add(Code::kJsonMissingKey, path_, fmt::format("key \"{}\" is missing", key));
  }
  return Find(key);
}

std::string Node::Path(std::string_view key) const {
  return path_.empty() ? Printable(key) : fmt::format("{}.{}", path_, Printable(key));
}

void Node::Wrong(std::string_view key, const std::string& what) const {
  reading_->Add(Code::kJsonValue, Path(key), what);
}

std::string Node::Text(std::string_view key, std::string fallback) const {
  const Json* found = Find(key);
  if (found == nullptr) return fallback;
  if (found->is_string()) return found->get<std::string>();
  Wrong(key, fmt::format("must be text in quotes, is {}", found->type_name()));
  return fallback;
}

std::optional<double> Node::MaybeNumber(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return std::nullopt;
  if (found->is_number()) return found->get<double>();
  Wrong(key, fmt::format("must be a number, is {}", found->type_name()));
  return std::nullopt;
}

double Node::Number(std::string_view key, double fallback) const {
  return MaybeNumber(key).value_or(fallback);
}

int Node::Whole(std::string_view key, int fallback) const {
  const std::optional<double> number = MaybeNumber(key);
  if (!number) return fallback;
  if (*number == std::floor(*number) && std::abs(*number) <= 1e9) return static_cast<int>(*number);
  Wrong(key, "must be a whole number");
  return fallback;
}

bool Node::Flag(std::string_view key, bool fallback) const {
  const Json* found = Find(key);
  if (found == nullptr) return fallback;
  if (found->is_boolean()) return found->get<bool>();
  Wrong(key, fmt::format("must be true or false, is {}", found->type_name()));
  return fallback;
}

std::vector<std::pair<const Json*, std::string>> Node::List(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return {};
  if (!found->is_array()) {
    Wrong(key, fmt::format("must be a list [...], is {}", found->type_name()));
    return {};
  }
  std::vector<std::pair<const Json*, std::string>> elements;
  elements.reserve(found->size());
  const std::string path = Path(key);
  for (std::size_t i = 0; i < found->size(); ++i) {
    elements.emplace_back(&(*found)[i], fmt::format("{}[{}]", path, i));
  }
  return elements;
}

std::vector<std::string> Node::Texts(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return {};
  if (found->is_string()) return {found->get<std::string>()};
  std::vector<std::string> texts;
  for (const auto& [element, path] : List(key)) {
    if (element->is_string()) {
      texts.push_back(element->get<std::string>());
    } else {
      reading_->Add(Code::kJsonValue, path, "must be text in quotes");
    }
  }
  return texts;
}

std::vector<double> Node::Numbers(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return {};
  std::vector<double> numbers;
  if (!found->is_array()) {
    Wrong(key, "must be a list of numbers");
    return numbers;
  }
  numbers.reserve(found->size());
  for (const Json& element : *found) {
    if (!element.is_number()) {
      Wrong(key, "must be a list of numbers");
      return {};
    }
    numbers.push_back(element.get<double>());
  }
  return numbers;
}

std::vector<PointUm> Node::Points(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return {};
  if (found->is_array()) {
    std::vector<PointUm> points;
    points.reserve(found->size());
    for (const Json& element : *found) {
      if (const auto point = AsPoint(element)) points.push_back(*point);
    }
    if (points.size() == found->size()) return points;
  }
  Wrong(key, "must be a list of points [x, y]");
  return {};
}

std::optional<std::pair<double, double>> Node::Pair(std::string_view key) const {
  const Json* found = Find(key);
  if (found == nullptr) return std::nullopt;
  if (const auto point = AsPoint(*found)) return std::make_pair(point->x, point->y);
  Wrong(key, "must be a pair of numbers [a, b]");
  return std::nullopt;
}

}  // namespace cutface
