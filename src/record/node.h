// Tolerant reading of a file that a program wrote: unknown keys are warnings, the first wrong value
// is an error with its path. Internal to the room.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"
#include "cutface/geometry.h"

namespace cutface {

// Keeps the order of keys, as nlohmann's own ordered map, whose growth however copies all that is
// in it (its keys are const): a result would be copied six times over while it is read.
template <class Key, class T, class Less, class Allocator>
struct RoomyMap : nlohmann::ordered_map<Key, T, Less, Allocator> {
  using Base = nlohmann::ordered_map<Key, T, Less, Allocator>;
  RoomyMap() { this->reserve(kRoom); }
  template <class It>
  RoomyMap(It first, It last) : Base(first, last) {}
  RoomyMap(std::initializer_list<typename Base::value_type> list) : Base(list) {}
  static constexpr std::size_t kRoom = 24;  // as many keys as a contour has, and some more
};
using Json = nlohmann::basic_json<RoomyMap>;

struct Reading {
  std::optional<Error> first;  // message without the file's name
  std::vector<std::string> warnings;

  void Add(Code code, const std::string& path, const std::string& what);
  void Warn(const std::string& path, const std::string& what);
};

// An object of the file. Values that are absent or null read as their fallback.
class Node {
 public:
  // An empty `known` accepts any key (maps from names).
  Node(const Json* value, std::string path, std::vector<std::string_view> known, Reading& reading);

  explicit operator bool() const { return value_ != nullptr; }
  const Json* value() const { return value_; }
  // nullptr when absent or null.
  const Json* Find(std::string_view key) const;
  const Json* Need(std::string_view key) const;  // kJsonMissingKey when absent; null is allowed
  bool Has(std::string_view key) const;          // also when null

  std::string Text(std::string_view key, std::string fallback = "") const;
  double Number(std::string_view key, double fallback = 0) const;
  std::optional<double> MaybeNumber(std::string_view key) const;
  int Whole(std::string_view key, int fallback = 0) const;
  bool Flag(std::string_view key, bool fallback) const;
  std::vector<std::string> Texts(std::string_view key) const;  // one text reads as a list of one
  std::vector<double> Numbers(std::string_view key) const;
  std::vector<PointUm> Points(std::string_view key) const;
  std::optional<std::pair<double, double>> Pair(std::string_view key) const;
  // Elements of a list with their paths; empty when absent.
  std::vector<std::pair<const Json*, std::string>> List(std::string_view key) const;

  // A word that `parse` knows.
  template <class Enum>
  Enum Word(std::string_view key, std::optional<Enum> (*parse)(std::string_view),
            Enum fallback) const {
    const std::string word = Text(key);
    if (const std::optional<Enum> known = parse(word)) return *known;
    if (Has(key)) Wrong(key, "is not a word of this format");
    return fallback;
  }

  std::string Path(std::string_view key) const;
  void Wrong(std::string_view key, const std::string& what) const;

 private:
  const Json* value_ = nullptr;
  std::string path_;
  Reading* reading_;
};

}  // namespace cutface
