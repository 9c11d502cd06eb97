// The study as words and tables on the terminal.
#include <fmt/format.h>

#include <algorithm>

#include "cutface/texts.h"
#include "study/internal.h"

namespace cutface {
namespace {

std::string OrDash(const std::optional<double>& value, const char* format) {
  return value ? fmt::format(fmt::runtime(format), *value) : "-";
}

void AddSpread(const SubjectStudy& s, std::string& text) {
  std::vector<std::vector<std::string>> rows = {{"", "variance analysis: sd", "95 %", "% of spread",
                                                 s.tolerance ? "% of limits" : "", "ranges: sd",
                                                 "% of spread", s.tolerance ? "% of limits" : ""}};
  if (s.by_anova.told) {
    for (const SpreadPart& part : s.by_anova.parts) {
      const SpreadPart* other = s.by_ranges.Find(part.source);
      rows.push_back(
          {part.source, Figure(part.sd),
           part.sd_interval
               ? fmt::format("{:.3g} to {:.3g}", part.sd_interval->lo, part.sd_interval->hi)
               : "-",
           fmt::format("{:.2f}", part.percent_sd),
           s.tolerance ? OrDash(part.percent_tolerance, "{:.2f}") : "",
           other ? Figure(other->sd) : "-", other ? fmt::format("{:.2f}", other->percent_sd) : "-",
           !s.tolerance ? ""
           : other      ? OrDash(other->percent_tolerance, "{:.2f}")
                        : "-"});
    }
    text += NumberRows(rows);
  }
}

}  // namespace

std::string StudyLevelWords(StudyLevel level) {
  switch (level) {
    case StudyLevel::kSameImage:
      return "the same picture evaluated again: only corrections by hand can differ";
    case StudyLevel::kSameBlock:
      return "the same cut face mounted, focused, lit and pictured again";
    case StudyLevel::kRecut:
      return "the same place ground or cut again, or its neighbour: an upper bound, which includes "
             "what the part itself changes by";
  }
  return "";
}

std::vector<std::string> StudyNotes(const SubjectStudy& s) {
  std::vector<std::string> lines;
  const std::string& unit = s.subject.unit;
  if (s.by_anova.categories) {
    const auto categories = [](const SpreadTable& t) {
      return t.categories ? fmt::format("{} ({:.2f})", *t.categories, *t.distinct)
                          : std::string("-");
    };
    lines.push_back(fmt::format("distinct categories: {} by analysis of variance, {} by ranges",
                                categories(s.by_anova), categories(s.by_ranges)));
  }
  if (s.by_anova.told && !s.identical && !s.by_anova.reason.empty())
    lines.push_back("note: " + s.by_anova.reason);
  if (s.other_anova)
    lines.push_back(s.pooled
                        ? "persons x pieces was pooled into the repeats: its p is above the limit"
                        : "persons x pieces was kept apart from the repeats");
  if (s.ranges)
    for (const std::string& beyond : s.ranges->beyond)
      lines.push_back(fmt::format("range beyond its limit of {}: {}",
                                  WithUnit(s.ranges->range_limit, unit), beyond));
  if (s.bias) {
    lines.push_back(fmt::format("bias {} (95 %: {} to {}, p {:.3g}, n {})",
                                WithUnit(s.bias->mean, unit), Figure(s.bias->lo),
                                Figure(s.bias->hi), s.bias->p, s.bias->n));
    lines.push_back(
        s.bias->linearity
            ? fmt::format(
                  "linearity: bias changes by {} per unit of size (95 %: {} to {}, p {:.3g})",
                  Figure(s.bias->linearity->slope), Figure(s.bias->linearity->slope_lo),
                  Figure(s.bias->linearity->slope_hi), s.bias->linearity->p)
            : "linearity: not told: " + s.bias->linearity_reason);
  }
  if (s.stability)
    lines.push_back(fmt::format("stability: {} a day (95 %: {} to {}, p {:.3g})",
                                WithUnit(s.stability->slope, unit), Figure(s.stability->slope_lo),
                                Figure(s.stability->slope_hi), s.stability->p));
  for (const KappaFigure& k : s.kappas)
    lines.push_back(fmt::format(
        "verdicts of {}: agree in {:.1f} % of {}, kappa {}", k.between, 100 * k.agreement, k.n,
        k.kappa ? fmt::format("{:.3f}", *k.kappa) : "not told (all verdicts are the same)"));
  if (s.preparation_u)
    lines.push_back(
        fmt::format("preparation_u {}: {}", WithUnit(*s.preparation_u, unit), s.preparation_note));
  for (const std::string& out : s.left_out) lines.push_back("left out: " + out);
  return lines;
}

std::string StudyText(const Study& study) {
  std::string text;
  if (!study.part.empty())
    text += PlainText(study.part) + (study.section.empty() ? "" : ", " + PlainText(study.section)) +
            "\n";
  for (const SubjectStudy& s : study.subjects) {
    text += fmt::format("{}{}{}: {}\n", text.empty() ? "" : "\n", PlainText(s.subject.no),
                        s.subject.title.empty() ? "" : " " + PlainText(s.subject.title), s.answer);
    if (s.persons > 0 && !s.identical)
      text += fmt::format("  {} {}, {} {}, {} {}\n", s.pieces, s.pieces == 1 ? "piece" : "pieces",
                          s.persons, s.persons == 1 ? "person" : "persons", s.trials,
                          s.trials == 1 ? "trial" : "trials");
    if (!s.identical) AddSpread(s, text);
    for (const std::string& line : StudyNotes(s)) text += "  " + PlainText(line) + "\n";
  }
  for (const std::string& warning : study.warnings) text += "warning: " + PlainText(warning) + "\n";
  return text;
}

}  // namespace cutface
