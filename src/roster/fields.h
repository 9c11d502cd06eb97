// Reading an object of a file key by key; the first wrong thing is kept with its path. Internal to
// the room.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"

namespace cutface::roster {

using Json = nlohmann::ordered_json;

struct Reading {
  bool strict = false;  // people write the file: an unknown key is an error, else a warning
  std::optional<Error> first;
  std::vector<std::string> warnings;
  void Add(Code code, const std::string& path, const std::string& what);
};

class Fields {
 public:
  Fields(const Json& value, std::string path, const std::vector<std::string_view>& known,
         Reading& reading);

  // Absent or null reads as "" or as nothing; a missing `Needed` is an error.
  std::string Text(std::string_view key) const;
  std::string Needed(std::string_view key) const;
  std::optional<double> Number(std::string_view key) const;
  bool Flag(std::string_view key) const;
  std::vector<std::string> Texts(std::string_view key) const;
  const Json* Find(std::string_view key) const;
  // Elements with their paths; empty when absent.
  std::vector<std::pair<const Json*, std::string>> List(std::string_view key) const;
  void Wrong(std::string_view key, const std::string& what) const;
  std::string Path(std::string_view key) const;

 private:
  const Json* value_ = nullptr;  // nullptr: no object
  std::string path_;
  Reading& reading_;
};

// The text as JSON with the format's name and version checked. Errors: kJsonSyntax, kJsonValue.
Result<Json> ParseFormat(std::string_view text, const std::string& name, std::string_view format);

// Indented, and bytes that are no UTF-8 replaced: a file must be readable whatever names came in.
std::string Dump(const Json& json);

}  // namespace cutface::roster
