#include "cutface/study.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "study/internal.h"

namespace cutface {
namespace {

constexpr double kDistinctFactor = 1.41;  // AIAG's square root of 2, as printed there

// Readings of a piece by a person, in the order of the trials' names where all have one.
std::vector<double> InOrder(std::vector<const StudyReading*> cell) {
  std::stable_sort(cell.begin(), cell.end(), [](const StudyReading* a, const StudyReading* b) {
    if (a->trial.size() != b->trial.size()) return a->trial.size() < b->trial.size();
    return a->trial < b->trial;
  });
  std::vector<double> values;
  for (const StudyReading* reading : cell) values.push_back(*reading->value);
  return values;
}

using Cells = std::map<std::string, std::map<std::string, std::vector<const StudyReading*>>>;

// How many trials the most cells have; pieces with another number are left out.
std::size_t CommonTrials(const Cells& cells, const std::vector<std::string>& persons) {
  std::map<std::size_t, std::size_t> votes;
  for (const auto& [piece, by_person] : cells)
    for (const std::string& person : persons) {
      const auto found = by_person.find(person);
      if (found != by_person.end()) ++votes[found->second.size()];
    }
  std::size_t best = 0, most = 0;
  for (const auto& [trials, count] : votes)
    if (count >= most) best = trials, most = count;
  return best;
}

std::optional<CrossedReadings> CompleteTable(SubjectStudy& out) {
  Cells cells;
  std::vector<std::string> pieces, persons;
  const auto remember = [](std::vector<std::string>& list, const std::string& name) {
    if (std::find(list.begin(), list.end(), name) == list.end()) list.push_back(name);
  };
  std::map<std::string, std::string> reasons;
  for (const StudyReading& reading : out.subject.readings) {
    remember(pieces, reading.piece);
    remember(persons, reading.person);
    if (reading.value) {
      cells[reading.piece][reading.person].push_back(&reading);
    } else {
      reasons[reading.piece] = reading.reason;
    }
  }
  CrossedReadings table;
  table.persons = persons;
  table.trials = CommonTrials(cells, persons);
  for (const std::string& piece : pieces) {
    std::string fault;
    for (const std::string& person : persons) {
      const std::size_t n = cells[piece][person].size();
      if (n == table.trials || !fault.empty()) continue;
      fault = fmt::format("{}: {} of {} readings{}", piece, n, table.trials,
                          person.empty() ? "" : " by " + person);
      if (!reasons[piece].empty()) fault += " (" + reasons[piece] + ")";
    }
    if (!fault.empty()) {
      out.left_out.push_back(fault);
      continue;
    }
    table.pieces.push_back(piece);
    for (const std::string& person : persons)
      for (double value : InOrder(cells[piece][person])) table.values.push_back(value);
  }
  if (table.pieces.empty() || table.trials == 0) return std::nullopt;
  return table;
}

bool AllTheSame(const StudySubject& subject) {
  std::map<std::string, double> first;
  bool repeated = false;
  for (const StudyReading& reading : subject.readings) {
    if (!reading.value) continue;
    const auto [found, fresh] = first.try_emplace(reading.piece, *reading.value);
    if (!fresh && found->second != *reading.value) return false;
    repeated = repeated || !fresh;
  }
  return repeated;
}

void FillMean(SubjectStudy& out) {
  double sum = 0;
  std::size_t n = 0;
  for (const StudyReading& reading : out.subject.readings) {
    if (!reading.value) continue;
    sum += *reading.value;
    ++n;
  }
  if (n > 0) out.mean = sum / static_cast<double>(n);
}

void Answer(const StudyOptions& options, StudyLevel level, SubjectStudy& out) {
  if (out.identical) {
    const bool image = level == StudyLevel::kSameImage;
    out.grade = image ? "good" : "not told";
    out.answer =
        !image ? "All repeats gave the very same digits: are they copies of one reading?"
        : out.edited > 0
            ? "0: the same picture gave the same digits, corrections by hand included."
            : "0: the same picture gave the same digits; the software is deterministic, and "
              "nobody corrected anything, so nothing else was to be expected.";
    return;
  }
  const SpreadPart* gauge = out.by_anova.Find("gauge");
  if (gauge == nullptr || (out.pieces < 2 && !gauge->percent_tolerance)) {
    out.grade = "not told";
    out.answer = "Nothing is told: " + out.by_anova.reason + ".";
    return;
  }
  const std::string what = level == StudyLevel::kRecut ? "Cutting, polishing and measuring again"
                           : level == StudyLevel::kSameImage ? "Correcting the same picture by hand"
                                                             : "Measuring again";
  const double deciding = gauge->percent_tolerance.value_or(gauge->percent_sd);
  const auto grade = [&](double percent) -> std::string {
    return percent <= options.good_percent    ? "good"
           : percent <= options.limit_percent ? "usable with care"
                                              : "not good enough";
  };
  out.grade = grade(deciding);
  const auto known =
      gauge->percent_tolerance ? gauge->ToleranceInterval() : gauge->percent_interval;
  if (known) {
    out.grade_least = grade(known->lo);
    out.grade_most = grade(known->hi);
  }
  const auto between = [](const std::optional<Interval>& interval) {
    return interval ? fmt::format(", 95 %: {:.3g} to {:.3g}", interval->lo, interval->hi)
                    : std::string();
  };
  std::string shares;
  if (gauge->percent_tolerance) {
    const int times = out.subject.min && out.subject.max ? 6 : 3;
    shares = fmt::format(
        "{:.3g} % of the {} ({} standard deviations, {}, against {}{})", *gauge->percent_tolerance,
        out.tolerance_kind, times, WithUnit(times * gauge->sd, out.subject.unit),
        WithUnit(*out.tolerance, out.subject.unit), between(gauge->ToleranceInterval()));
  }
  if (out.pieces > 1)
    shares += fmt::format(
        "{}{:.3g} % of the spread of this study{}", shares.empty() ? "" : " and ",
        gauge->percent_sd,
        known && !gauge->percent_tolerance ? " (" + between(known).substr(2) + ")" : std::string());
  std::string grades = out.grade;
  if (out.grade_least != out.grade_most)
    grades += fmt::format(", but the interval reaches from \"{}\" to \"{}\"", out.grade_least,
                          out.grade_most);
  out.answer = fmt::format("{} spreads values by {} (one standard deviation{}): {}; {}.", what,
                           WithUnit(gauge->sd, out.subject.unit), between(gauge->sd_interval),
                           shares, grades);
}

SubjectStudy StudyOne(const StudySubject& subject, StudyLevel level, const StudyOptions& options) {
  SubjectStudy out;
  out.subject = subject;
  for (const StudyReading& reading : subject.readings) out.edited += reading.edited ? 1 : 0;
  FillMean(out);
  FillTolerance(out);
  out.identical = AllTheSame(subject);
  if (level == StudyLevel::kRecut) {
    for (const StudyReading& reading : subject.readings) {
      if (!reading.value)
        out.left_out.push_back(reading.piece + ": not measured" +
                               (reading.reason.empty() ? "" : " (" + reading.reason + ")"));
    }
    StudyRecut(out);
    out.by_ranges.reason = "not for nested cuts";
  } else if (const auto table = CompleteTable(out)) {
    out.pieces = table->pieces.size();
    out.persons = table->persons.size();
    out.trials = table->trials;
    StudyCrossed(*table, options, out);
    StudyRanges(*table, out);
  } else {
    out.by_anova.reason = out.by_ranges.reason = "no piece has a full set of readings";
  }
  StudyBias(out);
  StudyStability(out);
  StudyVerdicts(out);
  Answer(options, level, out);
  return out;
}

}  // namespace

std::string_view StudyLevelName(StudyLevel level) {
  switch (level) {
    case StudyLevel::kSameImage:
      return "same-image";
    case StudyLevel::kSameBlock:
      return "same-block";
    case StudyLevel::kRecut:
      return "recut";
  }
  return "";
}

std::optional<StudyLevel> ParseStudyLevel(std::string_view word) {
  for (const StudyLevel level :
       {StudyLevel::kSameImage, StudyLevel::kSameBlock, StudyLevel::kRecut})
    if (word == StudyLevelName(level)) return level;
  return std::nullopt;
}

const SpreadPart* SpreadTable::Find(std::string_view source) const {
  const auto found = std::find_if(parts.begin(), parts.end(),
                                  [&](const SpreadPart& part) { return part.source == source; });
  return found == parts.end() ? nullptr : &*found;
}

void FillTolerance(SubjectStudy& out) {
  const StudySubject& s = out.subject;
  if (s.min && s.max) {
    out.tolerance_kind = "tolerance";
    out.tolerance = *s.max - *s.min;
  } else if (s.min || s.max) {
    out.tolerance_kind = "distance of the mean from the only limit";
    out.tolerance = std::abs(out.mean - (s.min ? *s.min : *s.max));
  }
  if (out.tolerance && *out.tolerance <= 0) {
    out.tolerance.reset();
    out.tolerance_kind += " (none)";
  }
}

void FinishSpread(SpreadTable& table, const SubjectStudy& subject) {
  const double all = table.parts.back().variance;
  const double times = subject.subject.min && subject.subject.max ? 6 : 3;
  for (SpreadPart& part : table.parts) {
    part.sd = std::sqrt(part.variance);
    if (all > 0) {
      part.percent_variance = 100 * part.variance / all;
      part.percent_sd = 100 * std::sqrt(part.variance / all);
    }
    if (subject.tolerance) part.percent_tolerance = 100 * times * part.sd / *subject.tolerance;
  }
  const SpreadPart* gauge = table.Find("gauge");
  const SpreadPart* pieces = table.Find("pieces");
  if (gauge != nullptr && pieces != nullptr && gauge->sd > 0) {
    table.distinct = kDistinctFactor * pieces->sd / gauge->sd;
    table.categories = std::max(1, static_cast<int>(std::min(1e6, std::floor(*table.distinct))));
  }
}

std::optional<Interval> SpreadPart::ToleranceInterval() const {
  if (!percent_tolerance || !sd_interval || !(sd > 0)) return std::nullopt;
  const double times = *percent_tolerance / sd;
  return Interval{sd_interval->lo * times, sd_interval->hi * times};
}

SpreadTable SpreadOfSquares(const std::vector<MeanSquare>& seen, const PartsOf& parts,
                            const SubjectStudy& subject, bool wanted) {
  SpreadTable table;
  table.told = true;
  std::vector<double> expected;
  for (const MeanSquare& one : seen) expected.push_back(one.ms);
  for (const NamedVariance& one : parts(expected)) {
    SpreadPart part;
    part.source = one.source;
    part.variance = one.variance;
    table.parts.push_back(std::move(part));
  }
  FinishSpread(table, subject);
  if (!wanted || !(table.parts.back().variance > 0)) return table;
  const std::size_t n = table.parts.size();
  const auto intervals = GeneralisedIntervals(seen, [&](std::span<const double> ms) {
    const std::vector<NamedVariance> drawn = parts(ms);
    std::vector<double> figures(2 * n);
    const double all = drawn.back().variance;
    for (std::size_t i = 0; i < n; ++i) {
      figures[i] = std::sqrt(drawn[i].variance);
      figures[n + i] = all > 0 ? 100 * std::sqrt(drawn[i].variance / all) : 0;
    }
    return figures;
  });
  for (std::size_t i = 0; i < n; ++i) {
    table.parts[i].sd_interval = intervals[i];
    table.parts[i].percent_interval = intervals[n + i];
  }
  return table;
}

std::string StudyFigure(double value, const std::string& unit) { return WithUnit(value, unit); }

std::string Figure(double value) { return fmt::format("{:.5g}", value == 0 ? 0.0 : value); }

std::string WithUnit(double value, const std::string& unit) {
  return Figure(value) + (unit.empty() || unit == "1" ? "" : " " + unit);
}

namespace {

void SayWhatItShows(Study& out) {
  std::set<std::string> pieces, persons, cuts;
  std::size_t readings = 0;
  bool references = false, verdicts = false;
  for (const SubjectStudy& subject : out.subjects) {
    for (const StudyReading& reading : subject.subject.readings) {
      pieces.insert(reading.piece);
      persons.insert(reading.person);
      cuts.insert(reading.piece + "\n" + reading.cut);
      readings += reading.value ? 1 : 0;
    }
    references = references || subject.bias;
    verdicts = verdicts || !subject.kappas.empty();
  }
  const auto counted = [](std::size_t n, const char* one, const char* many) {
    return fmt::format("{} {}", n, n == 1 ? one : many);
  };
  std::string who = counted(pieces.size(), "piece", "pieces");
  if (out.level == StudyLevel::kRecut) who += ", " + counted(cuts.size(), "cut", "cuts");
  if (persons.size() > 1) who += ", " + counted(persons.size(), "person", "persons");
  out.can_show = {fmt::format("how values scatter when {} ({} values of {})",
                              StudyLevelWords(out.level), readings, who)};
  out.can_show.push_back(fmt::format(
      "grades: the gauge is good up to {:g} % of the limits (of the study's spread where there are "
      "none), usable with care up to {:g} %; common practice",
      out.options.good_percent, out.options.limit_percent));
  if (references) out.can_show.push_back("bias against the known values that were given");
  if (verdicts)
    out.can_show.push_back(
        "how far persons agree in verdicts beyond chance, \"not proven\" counted "
        "as a verdict of its own");
  out.cannot_show = {
      "other pieces, persons, days and benches than these: a section is one plane "
      "of one part that was destroyed for it"};
  if (!references)
    out.cannot_show.push_back(
        "whether values are right: repeats that agree may all be wrong; that takes an artefact of "
        "known size");
  if (out.level != StudyLevel::kRecut)
    out.cannot_show.push_back(
        "what cutting, potting and polishing add: the face stayed as it was (a recut study tells)");
  if (out.level == StudyLevel::kSameImage)
    out.cannot_show.push_back(
        "focus, light and placing: the picture stayed as it was (a same-block study tells)");
  if (out.level == StudyLevel::kRecut)
    out.cannot_show.push_back(
        "preparation alone: the part changes from cut to cut too, so the "
        "spread of cuts is an upper bound");
  if (persons.size() < 2)
    out.cannot_show.push_back("what persons differ by: one person, or none named");
}

}  // namespace

std::string StudyAnswer(const Study& study) {
  std::string text;
  for (const char* grade : {"not good enough", "usable with care", "good", "not told"}) {
    const auto n = std::count_if(study.subjects.begin(), study.subjects.end(),
                                 [&](const SubjectStudy& s) { return s.grade == grade; });
    if (n > 0) text += fmt::format("{}{} {}", text.empty() ? "" : ", ", n, grade);
  }
  return fmt::format("Of {} rows the gauge is for: {}.", study.subjects.size(), text);
}

Result<Study> RunStudy(const StudyInput& input, const StudyOptions& options) {
  if (input.subjects.empty())
    return Fail(Code::kUsage, "study: nothing to study: no row of a drawing and no value");
  Study out;
  out.level = input.level;
  out.name = input.name;
  out.part = input.part;
  out.section = input.section;
  out.options = options;
  out.warnings = input.warnings;
  for (const StudySubject& subject : input.subjects)
    out.subjects.push_back(StudyOne(subject, input.level, options));
  std::size_t pieces = 0;
  bool told = false;
  for (const SubjectStudy& subject : out.subjects) {
    pieces = std::max(pieces, subject.pieces);
    told = told || (subject.by_anova.told && !subject.identical);
  }
  if (told && pieces < 5)
    out.warnings.push_back(fmt::format(
        "only {} with a full set of readings: their spread, and every share of it, is hardly known "
        "(ten pieces, two "
        "or three persons, two or three trials are common practice)",
        pieces == 1 ? std::string("1 piece") : fmt::format("{} pieces", pieces)));
  SayWhatItShows(out);
  return out;
}

}  // namespace cutface
