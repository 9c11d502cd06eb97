// A row's answer in words, advice on numbers of parts, doubts.
#include <fmt/format.h>

#include <cmath>

#include "compare/internal.h"
#include "cutface/picture.h"
#include "cutface/quantity.h"

namespace cutface {
namespace {

std::string Percent(double share) { return fmt::format("{:.9g} %", 100 * share); }

std::string Asked(const RunRow& row) {
  return row.requirement.empty() ? "" : fmt::format("; asked: {}", row.requirement);
}

std::string Reaches(const RowStudy& study) {
  const ToleranceBound& bound = *study.bound;
  const RunRow& row = study.row;
  if (bound.lower && bound.upper)
    return fmt::format("lie within {} and {}", RowFigure(*bound.lower, row),
                       RowFigure(*bound.upper, row));
  return bound.lower ? fmt::format("have {} or more", RowFigure(*bound.lower, row))
                     : fmt::format("have {} or less", RowFigure(*bound.upper, row));
}

std::string BrokenSentence(const RowStudy& study) {
  const RunRow& row = study.row;
  std::string sentence = fmt::format(
      "{} of {} {} not conform or {} beyond the limit", std::max(study.failing, study.outside),
      CountedWord(study.parts.size() + study.missing.size(), study.n ? "part" : "face",
                  study.n ? "parts" : "faces"),
      std::max(study.failing, study.outside) == 1 ? "does" : "do",
      std::max(study.failing, study.outside) == 1 ? "lies" : "lie");
  if (study.summary && !row.count) {
    sentence += study.summary->n == 1
                    ? fmt::format(": {}", RowFigure(study.summary->mean, row))
                    : fmt::format(": {} to {}", RowFigure(study.summary->least, row),
                                  RowFigure(study.summary->greatest, row));
  }
  return sentence + Asked(row) + ".";
}

std::string CountSentence(const RowStudy& study) {
  const auto n = static_cast<std::int64_t>(study.parts.size());
  // One tail of 5 %: the upper end of the two-sided 90 % interval.
  const double most = BinomialInterval(0, n, 0.90).second;
  return fmt::format(
      "None of {} fails; had they been drawn at random, up to {:.1f} % of the lot could "
      "(one-sided 95 %, exact binomial){}.",
      CountedWord(study.parts.size(), "part", "parts"), 100 * most, Asked(study.row));
}

std::string IndexText(std::string_view name, const IndexValue& index) {
  return fmt::format("{} {:.2f} (95 %: {:.2f} to {:.2f})", name, index.value, index.interval.lo,
                     index.interval.hi);
}

std::string BoundSentence(const RowStudy& study) {
  const ToleranceBound& bound = *study.bound;
  std::string sentence;
  if (study.row.min && study.row.max) sentence = IndexText("Ppk", *study.capability->ppk) + ". ";
  return sentence + fmt::format("With {} confidence {} of such parts {} (tolerance {} of {}){}.",
                                Percent(bound.wish.confidence), Percent(bound.wish.coverage),
                                Reaches(study), bound.lower && bound.upper ? "interval" : "bound",
                                CountedWord(study.parts.size(), "part", "parts"), Asked(study.row));
}

std::string Sentence(const RowStudy& study) {
  const RunRow& row = study.row;
  if (study.answer == RowAnswer::kBroken) return BrokenSentence(study);
  if (study.parts.empty()) return "No part has a value" + Asked(row) + ".";
  if (!study.n)
    return fmt::format("{} from {} to {}; parts cannot be counted, so nothing is said of a lot{}.",
                       CountedWord(study.parts.size(), "face", "faces"),
                       RowFigure(study.summary->least, row),
                       RowFigure(study.summary->greatest, row), Asked(row));
  if (row.count && (row.min || row.max)) return CountSentence(study);
  if (study.bound) return BoundSentence(study);
  if (study.summary->n == 1)
    return fmt::format("One part: {}; one part tells nothing of a spread{}.",
                       RowFigure(study.summary->mean, row), Asked(row));
  if (study.mean_interval)
    return fmt::format("Mean {} ({} to {} at 95 %) of {}.", RowFigure(study.summary->mean, row),
                       RowFigure(study.mean_interval->lo, row),
                       RowFigure(study.mean_interval->hi, row),
                       CountedWord(study.parts.size(), "part", "parts"));
  return fmt::format("All {} read {}{}.", CountedWord(study.parts.size(), "part", "parts"),
                     RowFigure(study.summary->mean, row), Asked(row));
}

void AddDoubts(RowStudy& study) {
  const RunRow& row = study.row;
  const auto say = [&](std::string text) { study.doubts.push_back(std::move(text)); };
  if (!study.missing.empty()) {
    std::string names;
    for (std::size_t i = 0; i < study.missing.size() && i < 6; ++i) {
      names += (i > 0 ? "; " : "") + study.missing[i].label +
               (study.missing[i].reason.empty() ? "" : ": " + study.missing[i].reason);
    }
    if (study.missing.size() > 6) names += "; ...";
    say(fmt::format("{} without a value ({}); what they would read may be the worst",
                    CountedWord(study.missing.size(), "part", "parts"), names));
  }
  if (!study.n && !study.n_unknown.empty()) say("parts cannot be counted: " + study.n_unknown);
  if (study.wide > 0) {
    const bool two = row.min && row.max;
    say(fmt::format(
        "{} with a wide interval of {} own ({}); used all the same",
        CountedWord(static_cast<std::size_t>(study.wide), "value", "values"),
        study.wide == 1 ? "its" : "their",
        two ? "more than a quarter of the tolerance" : "half of the way to the limit or more"));
  }
  if (study.measuring_share && *study.measuring_share > 0.3)
    say(fmt::format("measuring alone explains about {:.0f} % of the variance between parts",
                    100 * *study.measuring_share));
  if (study.normality && study.normality->p < 0.05)
    say(
        fmt::format("the values do not look normal (Anderson-Darling p {}); the tolerance bound "
                    "leans on that and is doubtful",
                    ProbabilityText(study.normality->p)));
  if (study.unproven > 0)
    say(fmt::format("{} not proven by {} own interval or picture",
                    CountedWord(static_cast<std::size_t>(study.unproven), "part is", "parts are"),
                    study.unproven == 1 ? "its" : "their"));
  if (study.chart && (!study.chart->beyond.empty() || !study.chart->one_side.empty()))
    say(study.timed ? "in run order the values do not stay in the limits of the chart or run long "
                      "on one side: the figures of spread speak of no steady process"
                    : "in the order of the list the values leave the limits of the chart or run "
                      "long on one side; whether that is the order of making is not known");
}

void AddAdvice(RowStudy& study) {
  const auto say = [&](std::string text) { study.advice.push_back(std::move(text)); };
  if (!study.n || study.answer == RowAnswer::kBroken || study.answer == RowAnswer::kNoLimits)
    return;
  if (study.row.count) {
    if (study.answer != RowAnswer::kShown && study.size_needed)
      say(fmt::format("{} parts without a failing one would show it", *study.size_needed));
    return;
  }
  if (!study.bound || study.answer == RowAnswer::kShown) return;
  const BoundWish& wish = study.bound->wish;
  if (study.size_needed && *study.size_needed > study.parts.size()) {
    say(fmt::format("if mean and spread stay as they are, {} parts would show it",
                    *study.size_needed));
  } else if (!study.size_needed && (!study.normality || study.normality->p >= 0.05) &&
             study.missing.empty()) {
    say("no useful number of parts would show it with this mean and spread");
  }
  const bool two = study.row.min && study.row.max;
  if (!two)
    say(fmt::format("whatever the distribution, {} parts all inside the limit would show it",
                    AttributeSampleSize(wish.confidence, wish.coverage)));
}

}  // namespace

std::string CountedWord(std::size_t count, std::string_view one, std::string_view many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

std::string RowFigure(double value, const RunRow& row) {
  if (row.count) return fmt::format("{:.6g}", value);
  return FormatRowValue(value, row.unit);
}

std::string ProbabilityText(double p) { return FormatProbability(std::min(1.0, std::max(0.0, p))); }

void AnswerRow(const CompareOptions&, RowStudy& study) {
  study.sentence = Sentence(study);
  AddDoubts(study);
  AddAdvice(study);
}

}  // namespace cutface
