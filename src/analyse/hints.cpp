// The hints' file, strictly read, and the patterns that fit a finding.
#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <nlohmann/json.hpp>
#include <numeric>
#include <vector>

#include "cutface/analyse.h"
#include "cutface/design.h"
#include "cutface/texts.h"

namespace cutface {
namespace {

using Json = nlohmann::json;

constexpr std::uint64_t kMostBytes = std::uint64_t{1} << 20;
constexpr std::size_t kMostCauses = 5;
constexpr std::size_t kShownMost = 60;  // characters of a word that is none of ours

constexpr char kBuiltIn[] =
#include "built_in_hints.inc"
    ;

// Beside those that a row of a drawing may speak of.
constexpr std::string_view kMoreKinds[] = {
    "overloaded septum", "overloaded wall", "filled lumen", "potting gap",    "smear",
    "delamination",      "missing liner",   "wrong scale",  "mandrel left in"};

// The first mistake, kept while reading goes on over harmless stand-ins.
class HintReader {
 public:
  explicit HintReader(const std::string& name) : name_(name) {}

  HintBook Read(const Json& json) {
    HintBook book;
    Object(json, "", {"format", "version", "basis", "hints"},
           {"format", "version", "basis", "hints"});
    if (error_) return book;
    if (json["format"] != "cutface/hints")
      Wrong(Code::kJsonValue, "format", "must be \"cutface/hints\"");
    if (json["version"] != 1) Wrong(Code::kJsonValue, "version", "must be 1");
    book.basis = Text(json, "", "basis");
    if (!json["hints"].is_array()) Wrong(Code::kJsonValue, "hints", "must be a list [...]");
    for (std::size_t i = 0; !error_ && i < json["hints"].size(); ++i)
      book.patterns.push_back(Pattern(json["hints"][i], fmt::format("hints[{}]", i), book.basis));
    return book;
  }
  const std::optional<Error>& error() const { return error_; }

 private:
  void Wrong(Code code, const std::string& path, const std::string& what) {
    // Keys of a file that others wrote stand in the path.
    if (!error_) error_ = Error{code, fmt::format("{}: {}: {}", name_, PlainText(path), what)};
  }
  void Object(const Json& json, const std::string& path, std::vector<std::string_view> known,
              const std::vector<std::string_view>& needed) {
    if (!json.is_object()) return Wrong(Code::kJsonValue, path, "must be an object {...}");
    for (const auto& item : json.items()) {
      if (std::find(known.begin(), known.end(), item.key()) != known.end()) continue;
      const std::string near = NearestWord(item.key(), known);
      Wrong(Code::kJsonUnknownKey, Join(path, item.key()),
            near.empty() ? "unknown key" : fmt::format("unknown key, perhaps \"{}\"", near));
    }
    for (const std::string_view key : needed) {
      if (!json.contains(key)) Wrong(Code::kJsonMissingKey, Join(path, key), "is missing");
    }
  }
  static std::string Join(const std::string& path, std::string_view key) {
    return path.empty() ? std::string(key) : fmt::format("{}.{}", path, key);
  }
  std::string Text(const Json& json, const std::string& path, const char* key) {
    if (error_ || !json.contains(key)) return "";
    if (!json[key].is_string() || json[key].get<std::string>().empty()) {
      Wrong(Code::kJsonValue, Join(path, key), "must be a text");
      return "";
    }
    return json[key].get<std::string>();
  }
  std::optional<double> Number(const Json& json, const std::string& path, const char* key) {
    if (error_ || !json.contains(key)) return std::nullopt;
    if (json[key].is_number()) return json[key].get<double>();
    Wrong(Code::kJsonValue, Join(path, key), "must be a number");
    return std::nullopt;
  }

  HintPattern Pattern(const Json& json, const std::string& path, const std::string& basis) {
    HintPattern pattern;
    Object(json, path, {"finding", "when", "causes"}, {"finding", "causes"});
    pattern.finding = Text(json, path, "finding");
    const auto kinds = FindingKinds();
    if (!error_ && std::find(kinds.begin(), kinds.end(), pattern.finding) == kinds.end()) {
      const std::string near = NearestWord(pattern.finding, kinds);
      Wrong(Code::kJsonValue, Join(path, "finding"),
            fmt::format("\"{}\" is no kind of finding{}", PlainText(pattern.finding, kShownMost),
                        near.empty() ? "" : fmt::format(", perhaps \"{}\"", near)));
    }
    const auto list = [&](const char* key) -> const Json& {
      static const Json kNone = Json::array();
      if (error_ || !json.contains(key)) return kNone;
      if (json[key].is_array()) return json[key];
      Wrong(Code::kJsonValue, Join(path, key), "must be a list [...]");
      return kNone;
    };
    const Json& when = list("when");
    for (std::size_t i = 0; i < when.size(); ++i) {
      const std::string at = fmt::format("{}.when[{}]", path, i);
      Object(when[i], at, {"evidence", "at_least", "below"}, {"evidence"});
      if (error_) break;
      pattern.when.push_back({Text(when[i], at, "evidence"), Number(when[i], at, "at_least"),
                              Number(when[i], at, "below")});
    }
    const Json& causes = list("causes");
    for (std::size_t i = 0; i < causes.size(); ++i) {
      const std::string at = fmt::format("{}.causes[{}]", path, i);
      Object(causes[i], at, {"cause", "check"}, {"cause", "check"});
      if (error_) break;
      pattern.causes.push_back({Text(causes[i], at, "cause"), Text(causes[i], at, "check"), basis});
    }
    return pattern;
  }

  std::string name_;
  std::optional<Error> error_;
};

bool Fits(const HintPattern& pattern, const Finding& finding) {
  if (pattern.finding != finding.kind) return false;
  return std::all_of(pattern.when.begin(), pattern.when.end(),
                     [&](const HintPattern::Condition& c) {
                       const auto found = finding.evidence.find(c.evidence);
                       if (found == finding.evidence.end()) return false;
                       return (!c.at_least || found->second >= *c.at_least) &&
                              (!c.below || found->second < *c.below);
                     });
}

}  // namespace

std::span<const std::string_view> FindingKinds() {
  static const std::vector<std::string_view> kKinds = [] {
    const auto rows = RowFindings();
    std::vector<std::string_view> all(rows.begin(), rows.end());
    all.insert(all.end(), std::begin(kMoreKinds), std::end(kMoreKinds));
    return all;
  }();
  return kKinds;
}

Result<HintBook> ParseHints(std::string_view text, const std::string& name) {
  Json json;
  try {
    json = Json::parse(text.begin(), text.end());
  } catch (const Json::exception&) {
    return Fail(Code::kJsonSyntax, fmt::format("{}: not JSON; see src/data/hints.json", name));
  }
  HintReader reader(name);
  HintBook book = reader.Read(json);
  if (reader.error()) return tl::unexpected(*reader.error());
  return book;
}

Result<HintBook> ReadHints(const std::string& path) {
  const auto text = ReadTextFile(path, kMostBytes);
  if (!text) return tl::unexpected(text.error());
  return ParseHints(*text, path.substr(path.find_last_of('/') + 1));
}

HintBook BuiltInHints() {
  auto book = ParseHints(kBuiltIn, "hints.json");
  CF_CHECK(book.has_value());
  return std::move(*book);
}

void AttachHints(const HintBook& book, std::span<Finding> findings) {
  std::vector<const HintPattern*> order;
  for (const HintPattern& pattern : book.patterns) order.push_back(&pattern);
  std::stable_sort(order.begin(), order.end(), [](const HintPattern* a, const HintPattern* b) {
    return a->when.size() > b->when.size();
  });
  for (Finding& finding : findings) {
    finding.hints.clear();
    for (const HintPattern* pattern : order) {
      if (!Fits(*pattern, finding)) continue;
      for (const Hint& hint : pattern->causes) {
        const bool known =
            std::any_of(finding.hints.begin(), finding.hints.end(),
                        [&](const Hint& other) { return other.cause == hint.cause; });
        if (!known && finding.hints.size() < kMostCauses) finding.hints.push_back(hint);
      }
    }
  }
}

}  // namespace cutface
