// File names that tell what they show.
#include <fmt/format.h>

#include <algorithm>

#include "batch/fields.h"
#include "batch/table.h"
#include "cutface/batch.h"

namespace cutface {
namespace {

constexpr std::string_view kAny = "any";

// Every way to cut a name along the pattern, up to two: whether a field can begin at a place is
// asked once a place, so that no name takes long.
struct Reading {
  std::string_view name;
  std::vector<std::pair<bool, std::string_view>> pieces;  // is a field, text
  std::function<bool(std::string_view field, std::string_view value)> may;
  std::vector<std::vector<signed char>> dead;  // [piece][place]
  std::vector<std::string_view> values;        // of the fields so far
  std::vector<std::vector<std::string_view>> found;

  // Returns whether any way leads to the end.
  bool From(std::size_t piece, std::size_t at) {
    if (found.size() >= 2) return true;
    if (piece == pieces.size()) {
      if (at != name.size()) return false;
      found.push_back(values);
      return true;
    }
    if (dead[piece][at] != 0) return false;
    bool any = false;
    const auto& [field, text] = pieces[piece];
    if (!field) {
      any = name.substr(at).starts_with(text) && From(piece + 1, at + text.size());
    } else {
      for (std::size_t end = at + 1; end <= name.size() && name[end - 1] != '/'; ++end) {
        const std::string_view value = name.substr(at, end - at);
        if (!may(text, value)) continue;
        values.push_back(value);
        any = From(piece + 1, end) || any;
        values.pop_back();
      }
    }
    dead[piece][at] = any ? 0 : 1;
    return any;
  }
};

}  // namespace

Result<NamePattern> NamePattern::Parse(std::string_view text) {
  NamePattern pattern;
  pattern.text_ = std::string(text);
  pattern.whole_path_ = text.find('/') != std::string_view::npos;
  const auto wrong = [&](std::size_t at, const std::string& what) {
    return Fail(Code::kUsage,
                fmt::format("--pattern {}: character {}: {}", ForMessage(text), at + 1, what));
  };
  std::vector<std::string> seen;
  for (std::size_t at = 0; at < text.size();) {
    if (text[at] == '}') return wrong(at, "a } without its {");
    if (text[at] != '{') {
      const std::size_t end = std::min(text.find_first_of("{}", at), text.size());
      pattern.pieces_.push_back({false, std::string(text.substr(at, end - at))});
      at = end;
      continue;
    }
    const std::size_t end = text.find('}', at);
    if (end == std::string_view::npos) return wrong(at, "a { without its }");
    const std::string typed(text.substr(at + 1, end - at - 1));
    const std::string word = typed == kAny ? typed : ColumnWord(typed);
    const bool no_field = word == "image" || word == "remark" || word.ends_with(" of");
    if (word.empty() || no_field) {
      const std::string near = no_field ? "" : NearestWord(typed, ManifestColumns());
      return wrong(at, fmt::format("no field is called \"{}\"{}", ForMessage(typed),
                                   near.empty() ? "" : fmt::format(", perhaps \"{}\"", near)));
    }
    if (word != kAny && std::find(seen.begin(), seen.end(), word) != seen.end())
      return wrong(at, fmt::format("{{{}}} stands twice", word));
    if (!pattern.pieces_.empty() && pattern.pieces_.back().field)
      return wrong(at, "two fields side by side; nothing tells where one ends");
    seen.push_back(word);
    pattern.pieces_.push_back({true, word});
    at = end + 1;
  }
  if (seen.empty()) return wrong(0, "has no field, as {serial}");
  return pattern;
}

Result<ManifestRow> NamePattern::Match(const std::string& image,
                                       std::span<const Design> designs) const {
  const std::size_t slash = image.rfind('/');
  Reading reading;
  reading.name = whole_path_ || slash == std::string::npos
                     ? std::string_view(image)
                     : std::string_view(image).substr(slash + 1);
  for (const Piece& piece : pieces_) reading.pieces.emplace_back(piece.field, piece.text);
  reading.dead.assign(pieces_.size(), std::vector<signed char>(reading.name.size() + 1, 0));
  reading.may = [&](std::string_view field, std::string_view value) {
    if (field == "plane") {
      return std::any_of(designs.begin(), designs.end(),
                         [&](const Design& d) { return d.FindSection(value) != nullptr; });
    }
    if (field != "face" && field != "station" && field != "taken") return true;
    ManifestRow trial;
    return SetField(trial, field, std::string(value)).empty();
  };
  reading.From(0, 0);
  if (reading.found.empty()) {
    return Fail(Code::kUsage, fmt::format("{}: the name does not fit --pattern {}; rename it or "
                                          "write a manifest",
                                          image, ForMessage(text_)));
  }
  if (reading.found.size() > 1) {
    return Fail(Code::kUsage,
                fmt::format("{}: the name fits --pattern {} in two ways; write a manifest", image,
                            ForMessage(text_)));
  }
  ManifestRow row;
  row.image = image;
  std::size_t next = 0;
  for (const Piece& piece : pieces_) {
    if (!piece.field) continue;
    const std::string value(reading.found.front()[next++]);
    if (piece.text != kAny) SetField(row, piece.text, value);
  }
  return row;
}

}  // namespace cutface
