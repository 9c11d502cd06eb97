// The numbered rows of the drawing: what they are of, their words and their limits.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <set>

#include "cutface/quantity.h"
#include "design/parse.h"

namespace cutface {
namespace {

constexpr std::size_t kMostRows = 2000;

constexpr std::string_view kFindings[] = {"collapsed lumen",
                                          "thin septum",
                                          "broken septum",
                                          "crosstalk",
                                          "void",
                                          "thin wall",
                                          "exposed wire",
                                          "missing wire",
                                          "extra wire",
                                          "displaced wire",
                                          "liner gap",
                                          "off-centre lumens",
                                          "off-centre bond",
                                          "uneven bond",
                                          "starved bond",
                                          "debris",
                                          "oblique cut",
                                          "squashed",
                                          "cut off by the frame",
                                          "mirrored",
                                          "wrong part",
                                          "poor image"};

// What a name of the section is, or nullopt.
struct Named {
  QuantityOf of = QuantityOf::kOutline;
  bool is_fibre = false;  // a name without quantities of its own
};

std::optional<Named> WireNumber(const SectionDesign& section, std::string_view name) {
  const std::size_t slash = name.rfind('/');
  if (slash == std::string_view::npos) return std::nullopt;
  const std::string_view digits = name.substr(slash + 1);
  int number = 0;
  const auto read = std::from_chars(digits.data(), digits.data() + digits.size(), number);
  if (read.ec != std::errc() || read.ptr != digits.data() + digits.size() || number < 1) {
    return std::nullopt;
  }
  for (const WireLayerDesign& layer : section.wires) {
    if (layer.name != name.substr(0, slash)) continue;
    const int most =
        layer.count ? *layer.count : layer.carriers.value_or(0) * layer.ends.value_or(1);
    if (number <= most) return Named{QuantityOf::kWireLayer};
  }
  return std::nullopt;
}

// Around an only lumen the whole wall is a ring: "bore/wall".
bool OnlyLumen(const SectionDesign& section) {
  return section.lumens.size() == 1 && section.kind != "lengthwise";
}

std::optional<Named> FindNamed(const SectionDesign& section, std::string_view name) {
  if (name == "outline") return Named{QuantityOf::kOutline};
  if (name == "voids") return Named{QuantityOf::kVoids};
  if (name == "bond" && section.bond) return Named{QuantityOf::kBond};
  if (section.FindLumen(name) != nullptr) return Named{QuantityOf::kLumen};
  for (const RingDesign& ring : section.rings) {
    if (ring.name == name) return Named{QuantityOf::kRing};
  }
  for (const LumenDesign& lumen : section.lumens) {
    if (lumen.liner_thickness_um && lumen.name + "/liner" == name) return Named{QuantityOf::kRing};
    if (OnlyLumen(section) && lumen.name + "/wall" == name) return Named{QuantityOf::kRing};
  }
  for (const WireLayerDesign& layer : section.wires) {
    if (layer.name == name) return Named{QuantityOf::kWireLayer};
  }
  for (const FibreDesign& fibre : section.fibres) {
    if (fibre.name == name) return Named{QuantityOf::kOutline, true};
  }
  return WireNumber(section, name);
}

void CheckName(const SectionDesign& section, const std::string& name, const std::string& path,
               JsonTrouble& trouble) {
  if (FindNamed(section, name)) return;
  const std::vector<std::string> names = NamesOf(section);
  const std::vector<std::string_view> known(names.begin(), names.end());
  const std::string_view why =
      name == "bond" ? "the section has no key \"bond\"" : "the section has no such feature";
  trouble.Add(Code::kDesignInvalid, path,
              fmt::format("{}: {}{}", Quoted(name), why, Suggestion(name, known)));
}

// One or two names. Empty after trouble.
std::vector<std::string> ReadOf(JsonObject& row, const SectionDesign& section,
                                JsonTrouble& trouble) {
  const Json* value = row.Find("of");
  if (value == nullptr) return {};
  const std::string path = row.Path("of");
  std::vector<std::string> of;
  if (value->is_array()) {
    if (value->empty() || value->size() > 2) {
      trouble.Add(Code::kJsonValue, path, "must hold one name, or two for a pair");
      return {};
    }
    for (std::size_t i = 0; i < value->size(); ++i) {
      of.push_back(AsText((*value)[i], PathIndex(path, i), trouble).value_or(""));
    }
  } else {
    of.push_back(AsText(*value, path, trouble).value_or(""));
  }
  if (trouble.any()) return {};
  for (const std::string& name : of) CheckName(section, name, path, trouble);
  if (of.size() == 2 && of[0] == of[1]) {
    trouble.Add(Code::kDesignInvalid, path, fmt::format("names {} twice", Quoted(of[0])));
  }
  return of;
}

// Words of the table for one kind of feature.
std::vector<std::string_view> WordsOf(QuantityOf of) {
  std::vector<std::string_view> words;
  for (const QuantityRow& row : QuantityTable()) {
    if (row.of == of) words.push_back(row.word);
  }
  return words;
}

const QuantityRow* UnknownWord(const Characteristic& row, QuantityOf of, const std::string& path,
                               JsonTrouble& trouble) {
  const std::vector<std::string_view> words = WordsOf(of);
  const std::string nearest = NearestWord(row.quantity, words);
  for (const QuantityRow& other : QuantityTable()) {
    if (!nearest.empty() || other.word != row.quantity) continue;
    trouble.Add(Code::kDesignInvalid, path,
                fmt::format("{} is measured of {}, not of {}", Quoted(row.quantity),
                            QuantityOfName(other.of), QuantityOfName(of)));
    return nullptr;
  }
  trouble.Add(Code::kDesignInvalid, path,
              fmt::format("{} is not measured of {}{}", Quoted(row.quantity), QuantityOfName(of),
                          nearest.empty() ? fmt::format("; words: {}", fmt::join(words, ", "))
                                          : Suggestion(row.quantity, words)));
  return nullptr;
}

// The table's row for `row`, or nullptr and trouble.
const QuantityRow* FindRow(const Characteristic& row, const SectionDesign& section,
                           const std::string& path, JsonTrouble& trouble) {
  if (row.of.empty()) {
    trouble.Add(Code::kJsonMissingKey, path, "key \"of\" is missing; name what is measured");
    return nullptr;
  }
  QuantityOf of = QuantityOf::kLumenPair;
  if (row.of.size() == 2) {
    for (const std::string& name : row.of) {
      if (section.FindLumen(name) != nullptr) continue;
      trouble.Add(Code::kDesignInvalid, PathJoin(path, "of"),
                  fmt::format("a pair is of two lumens, {} is none", Quoted(name)));
      return nullptr;
    }
  } else {
    const Named named = FindNamed(section, row.of[0]).value();
    if (named.is_fibre) {
      trouble.Add(Code::kDesignInvalid, PathJoin(path, "of"),
                  fmt::format("nothing is measured of the fibres {}", Quoted(row.of[0])));
      return nullptr;
    }
    of = named.of;
  }
  if (const QuantityRow* found = FindQuantity(row.quantity, of)) return found;
  return UnknownWord(row, of, PathJoin(path, "quantity"), trouble);
}

struct Range {
  double least, most;
};
// Values that the quantity can take at all.
Range PossibleRange(const QuantityRow& word) {
  constexpr double kAny = 1e15;
  if (word.unit == "%") return {0, 100};
  if (word.unit == "deg") return {word.at_least_zero ? 0.0 : -360.0, 360};
  return {word.at_least_zero ? 0.0 : -kAny, kAny};
}

void ReadLimits(JsonObject& row, Characteristic& read, const QuantityRow& word,
                const ParseContext& context) {
  JsonTrouble& trouble = context.trouble;
  read.nominal = row.Number("nominal");
  read.plus = row.Within("plus", 0, 1e15);
  read.minus = row.Within("minus", 0, 1e15);
  const std::optional<double> min = row.Number("min"), max = row.Number("max");
  if (trouble.any()) return;
  const std::string& path = row.path();
  if ((read.plus || read.minus) && (min || max)) {
    return trouble.Add(Code::kJsonValue, path,
                       "says both plus/minus and min/max; keep one way to give limits");
  }
  std::optional<double> lower = min, upper = max;
  if (read.plus || read.minus) {
    if (!read.nominal || !read.plus || !read.minus) {
      return trouble.Add(Code::kJsonMissingKey, path,
                         "plus and minus need each other and a nominal; 0 is allowed");
    }
    lower = *read.nominal - *read.minus;
    upper = *read.nominal + *read.plus;
  }
  if (!lower && !upper) {
    return trouble.Add(Code::kJsonMissingKey, path,
                       "has no limit; add min or max, or nominal with plus and minus");
  }
  if (lower && upper && *lower > *upper) {
    return trouble.Add(Code::kDesignInvalid, path,
                       fmt::format("min {} is above max {}", *lower, *upper));
  }
  if (read.nominal && ((lower && *read.nominal < *lower) || (upper && *read.nominal > *upper))) {
    return trouble.Add(Code::kDesignInvalid, PathJoin(path, "nominal"),
                       fmt::format("{} lies outside its own limits", *read.nominal));
  }
  read.is_length = word.unit == "um";
  read.is_area = word.unit == "um2";
  const double factor = read.is_length ? context.um_per_unit
                        : read.is_area ? context.um_per_unit * context.um_per_unit
                                       : 1;
  const Range possible = PossibleRange(word);
  if (lower) read.lower = *lower * factor;
  if (upper) read.upper = *upper * factor;
  if ((read.lower && *read.lower > possible.most) || (read.upper && *read.upper < possible.least)) {
    trouble.Add(
        Code::kDesignInvalid, path,
        fmt::format("no {} can meet this limit; it is at least {}{}", word.word, possible.least,
                    possible.most < 1e15
                        ? fmt::format(" and at most {} {}", possible.most, word.unit)
                        : std::string()));
  }
}

constexpr std::string_view kLimitKeys[] = {"nominal", "plus", "minus", "min", "max"};

void ReadFindingRow(JsonObject& row, Characteristic& read, JsonTrouble& trouble) {
  read.finding = row.Text("finding");
  if (std::find(std::begin(kFindings), std::end(kFindings), read.finding) == std::end(kFindings)) {
    trouble.Add(Code::kJsonValue, row.Path("finding"),
                fmt::format("{} is no finding{}", Quoted(read.finding),
                            Suggestion(read.finding, kFindings)));
  }
  read.allowed = row.Count("allowed", 0, 1'000'000).value_or(0);
  for (const std::string_view key : kLimitKeys) {
    if (row.Has(key)) {
      trouble.Add(Code::kJsonValue, row.Path(key), "a finding has no limits; use allowed");
    }
  }
}

CharacteristicClass ClassOf(std::string_view word) {
  if (word == "critical") return CharacteristicClass::kCritical;
  if (word == "major") return CharacteristicClass::kMajor;
  return CharacteristicClass::kMinor;
}

Characteristic ReadRow(JsonObject& row, const SectionDesign& section, const ParseContext& context) {
  JsonTrouble& trouble = context.trouble;
  Characteristic read;
  read.no = row.NeedText("no");
  if (!trouble.any() && read.no.empty()) trouble.Add(Code::kJsonValue, row.Path("no"), "is empty");
  read.of = ReadOf(row, section, trouble);
  read.text = row.Text("text");
  read.elsewhere = row.Flag("elsewhere", false);
  read.criticality = ClassOf(row.Word("class", {"critical", "major", "minor"}, "minor"));
  if (trouble.any()) return read;
  if (row.Has("quantity") && row.Has("finding")) {
    trouble.Add(Code::kJsonValue, row.path(), "says both quantity and finding; make two rows");
  } else if (row.Has("quantity")) {
    read.quantity = row.Text("quantity");
    if (row.Has("allowed")) {
      trouble.Add(Code::kJsonValue, row.Path("allowed"), "belongs to a finding; use max");
    }
    if (trouble.any()) return read;
    if (const QuantityRow* word = FindRow(read, section, row.path(), trouble)) {
      ReadLimits(row, read, *word, context);
    }
  } else if (row.Has("finding")) {
    ReadFindingRow(row, read, trouble);
  } else if (!row.Has("text")) {
    trouble.Add(Code::kJsonMissingKey, row.path(), "says nothing; add quantity, finding or text");
  } else if (!read.elsewhere) {
    trouble.Add(Code::kDesignInvalid, row.path(),
                "a row of text cannot be measured here; add \"elsewhere\": true");
  } else {
    for (const std::string_view key : kLimitKeys) {
      if (row.Has(key)) {
        trouble.Add(Code::kJsonValue, row.Path(key), "limits need a quantity; put them into text");
      }
    }
  }
  return read;
}

}  // namespace

std::span<const std::string_view> RowFindings() { return kFindings; }

std::vector<std::string> NamesOf(const SectionDesign& section) {
  std::vector<std::string> names = {"outline", "voids"};
  for (const LumenDesign& lumen : section.lumens) {
    names.push_back(lumen.name);
    if (lumen.liner_thickness_um) names.push_back(lumen.name + "/liner");
    if (OnlyLumen(section)) names.push_back(lumen.name + "/wall");
  }
  for (const RingDesign& ring : section.rings) names.push_back(ring.name);
  for (const WireLayerDesign& layer : section.wires) names.push_back(layer.name);
  if (section.bond) names.push_back("bond");
  return names;
}

void ReadCharacteristics(JsonObject& section_object, SectionDesign& section,
                         const ParseContext& context) {
  const std::string path = section_object.Path("characteristics");
  const Json* array = AsArray(section_object.Find("characteristics"), path, context.trouble);
  if (array == nullptr) return;
  if (array->size() > kMostRows) {
    return context.trouble.Add(
        Code::kJsonValue, path,
        fmt::format("holds {} rows, more than {}", array->size(), kMostRows));
  }
  std::set<std::string> numbers;
  for (std::size_t i = 0; i < array->size() && !context.trouble.any(); ++i) {
    JsonObject row(&(*array)[i], PathIndex(path, i),
                   {"no", "of", "quantity", "nominal", "plus", "minus", "min", "max", "class",
                    "finding", "allowed", "text", "elsewhere"},
                   context.trouble);
    if (context.trouble.any()) return;
    Characteristic read = ReadRow(row, section, context);
    if (!context.trouble.any() && !numbers.insert(read.no).second) {
      context.trouble.Add(
          Code::kDesignInvalid, row.Path("no"),
          fmt::format("{} stands twice; numbers are unique in a section", Quoted(read.no)));
    }
    section.characteristics.push_back(std::move(read));
  }
}

}  // namespace cutface
