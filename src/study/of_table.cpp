// Readings out of a table of plain values.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <map>

#include "study/internal.h"

namespace cutface {
namespace {

enum class Column {
  kPiece,
  kValue,
  kPerson,
  kTrial,
  kCut,
  kSubject,
  kUnit,
  kMin,
  kMax,
  kReference,
  kTaken,
  kVerdict,
  kTrueVerdict
};
constexpr std::array<std::pair<std::string_view, Column>, 16> kColumns = {{
    {"piece", Column::kPiece},
    {"part", Column::kPiece},
    {"serial", Column::kPiece},
    {"value", Column::kValue},
    {"operator", Column::kPerson},
    {"person", Column::kPerson},
    {"trial", Column::kTrial},
    {"cut", Column::kCut},
    {"characteristic", Column::kSubject},
    {"unit", Column::kUnit},
    {"min", Column::kMin},
    {"max", Column::kMax},
    {"reference", Column::kReference},
    {"taken", Column::kTaken},
    {"verdict", Column::kVerdict},
    {"reference verdict", Column::kTrueVerdict},
}};

std::string Stripped(const std::string& text) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first == std::string::npos) return "";
  return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

std::string ShortText(const std::string& text) {
  std::string safe;
  for (const char c : text.substr(0, 60))
    safe += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? '?' : c;
  return safe;
}

class TableReader {
 public:
  TableReader(std::span<const std::vector<std::string>> rows, StudyLevel level,
              const std::string& name)
      : rows_(rows), level_(level), name_(name) {}

  Result<StudyInput> Read() {
    if (rows_.size() < 2)
      return Fail(Code::kUsage, name_ + ": needs a row of column names and rows of values");
    if (auto status = ReadHead(); !status) return tl::unexpected(status.error());
    StudyInput input;
    input.level = level_;
    if (level_ != StudyLevel::kRecut && at_.contains(Column::kCut))
      input.warnings.push_back(
          "the column \"cut\" is not read at this level: cuts count as repeats");
    for (std::size_t i = 1; i < rows_.size(); ++i)
      if (auto status = ReadRow(i, input); !status) return tl::unexpected(status.error());
    return input;
  }

 private:
  Status ReadHead() {
    for (std::size_t c = 0; c < rows_[0].size(); ++c) {
      std::string word = Stripped(rows_[0][c]);
      std::transform(word.begin(), word.end(), word.begin(), [](unsigned char ch) {
        return static_cast<char>(ch >= 'A' && ch <= 'Z' ? ch - 'A' + 'a' : ch);
      });
      const auto known = std::find_if(kColumns.begin(), kColumns.end(),
                                      [&](const auto& column) { return column.first == word; });
      if (known == kColumns.end()) {
        std::vector<std::string_view> names;
        for (const auto& [column, id] : kColumns) names.push_back(column);
        const std::string near = NearestWord(word, names);
        return Fail(Code::kJsonUnknownKey,
                    fmt::format("{}: there is no column \"{}\"{}", name_, ShortText(word),
                                near.empty() ? "" : "; did you mean \"" + near + "\"?"));
      }
      if (!at_.try_emplace(known->second, c).second)
        return Fail(Code::kJsonValue,
                    fmt::format("{}: the column \"{}\" stands twice (or under two "
                                "names)",
                                name_, word));
    }
    if (!at_.contains(Column::kPiece))
      return Fail(Code::kJsonMissingKey, name_ + ": needs a column \"piece\"");
    if (!at_.contains(Column::kValue) && !at_.contains(Column::kVerdict))
      return Fail(Code::kJsonMissingKey, name_ + ": needs a column \"value\" (or \"verdict\")");
    if (level_ == StudyLevel::kRecut && !at_.contains(Column::kCut))
      return Fail(Code::kJsonMissingKey, name_ + ": needs a column \"cut\" at this level");
    return {};
  }

  std::string Cell(std::size_t row, Column column) const {
    const auto found = at_.find(column);
    if (found == at_.end() || found->second >= rows_[row].size()) return "";
    return Stripped(rows_[row][found->second]);
  }

  Result<std::optional<double>> Number(std::size_t row, Column column) const {
    const std::string text = Cell(row, column);
    if (text.empty()) return std::optional<double>();
    double value = 0;
    const char* begin = text.data() + (text[0] == '+' ? 1 : 0);
    const auto [end, error] = std::from_chars(begin, text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) {
      return Fail(Code::kJsonValue, fmt::format("{}: row {}: \"{}\" is no number (decimal point, "
                                                "no unit)",
                                                name_, row + 1, ShortText(text)));
    }
    return std::optional<double>(value);
  }

  Status ReadRow(std::size_t row, StudyInput& input) {
    StudyReading reading;
    reading.piece = Cell(row, Column::kPiece);
    if (reading.piece.empty())
      return Fail(Code::kJsonValue, fmt::format("{}: row {}: no piece", name_, row + 1));
    reading.person = Cell(row, Column::kPerson);
    reading.trial = Cell(row, Column::kTrial);
    reading.cut = Cell(row, Column::kCut);
    reading.taken = Cell(row, Column::kTaken);
    reading.verdict = Cell(row, Column::kVerdict);
    reading.true_verdict = Cell(row, Column::kTrueVerdict);
    if (level_ == StudyLevel::kRecut && reading.cut.empty())
      return Fail(Code::kJsonValue, fmt::format("{}: row {}: no cut", name_, row + 1));
    std::optional<double> min, max;
    for (const auto& [column, target] :
         std::initializer_list<std::pair<Column, std::optional<double>*>>{
             {Column::kValue, &reading.value},
             {Column::kReference, &reading.reference},
             {Column::kMin, &min},
             {Column::kMax, &max}}) {
      auto number = Number(row, column);
      if (!number) return tl::unexpected(number.error());
      *target = *number;
    }
    if (!reading.value) reading.reason = "no value";
    StudySubject& subject = SubjectOf(Cell(row, Column::kSubject), input);
    if (const std::string unit = Cell(row, Column::kUnit); !unit.empty()) {
      if (!subject.unit.empty() && subject.unit != unit)
        return Fail(Code::kJsonValue,
                    fmt::format("{}: row {}: another unit than the rows before", name_, row + 1));
      subject.unit = unit;
      if (const auto length = ParseLengthUnit(unit)) subject.um_per_unit = UmPer(*length);
    }
    for (const auto& [given, kept] : {std::pair{min, &subject.min}, std::pair{max, &subject.max}}) {
      if (given && *kept && **kept != *given)
        return Fail(Code::kJsonValue,
                    fmt::format("{}: row {}: another limit than the rows before", name_, row + 1));
      if (given) *kept = given;
    }
    if (subject.min && subject.max && *subject.min >= *subject.max)
      return Fail(Code::kJsonValue,
                  fmt::format("{}: row {}: min is not below max", name_, row + 1));
    return Keep(row, std::move(reading), subject);
  }

  // The same trial twice is a copy, not a repeat.
  Status Keep(std::size_t row, StudyReading reading, StudySubject& subject) {
    if (!reading.trial.empty()) {
      std::string key;
      for (const std::string* word :
           {&subject.title, &reading.piece, &reading.cut, &reading.person, &reading.trial})
        key += std::to_string(word->size()) + ":" + *word;
      if (!known_.try_emplace(key, row).second)
        return Fail(Code::kJsonValue,
                    fmt::format("{}: row {}: piece, operator and trial as in row {}", name_,
                                row + 1, known_[key] + 1));
    }
    subject.readings.push_back(std::move(reading));
    return {};
  }

  static StudySubject& SubjectOf(const std::string& title, StudyInput& input) {
    for (StudySubject& subject : input.subjects)
      if (subject.title == title) return subject;
    StudySubject fresh;
    fresh.title = title;
    fresh.no = std::to_string(input.subjects.size() + 1);
    // A word of the table of quantities says what preparation_u speaks of.
    fresh.quantity = title.substr(0, title.find(','));
    input.subjects.push_back(std::move(fresh));
    return input.subjects.back();
  }

  std::span<const std::vector<std::string>> rows_;
  StudyLevel level_;
  const std::string& name_;
  std::map<Column, std::size_t> at_;
  std::map<std::string, std::size_t> known_;
};

}  // namespace

Result<StudyInput> StudyOfTable(std::span<const std::vector<std::string>> rows, StudyLevel level,
                                const std::string& name) {
  return TableReader(rows, level, name).Read();
}

}  // namespace cutface
