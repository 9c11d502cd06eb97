// The study as one HTML file. Two plots a row of the drawing: what the spread is made of, and every
// reading by piece; each below the sentence that answers its question. Meaning is in length, shape
// and words; colour only repeats it.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "study/internal.h"

namespace cutface {
namespace {

constexpr std::string_view kPageStyle =
    ":root{--ink:#1a1c21;--faint:#5f6167;--rule:#d5d2c9;--blue:#005c8f;--rust:#9e3608}"
    "body{font:15px/1.5 \"DejaVu Sans\",sans-serif;color:var(--ink);background:#f6f4ee;margin:0}"
    "main{max-width:62rem;margin:0 auto;padding:1rem 1.5rem 3rem}"
    "section{background:#fff;border:1px solid var(--rule);padding:.2rem 1.4rem 1rem;margin-top:"
    "1.2rem}h1{font-size:1.6rem}h2{font-size:1.1rem}p.answer{font-weight:600}"
    "table{border-collapse:collapse;font-size:.86rem;font-variant-numeric:tabular-nums;margin:."
    "8rem "
    "0}th,td{text-align:right;padding:.3rem .7rem;border-bottom:1px solid var(--rule)}"
    "th:first-child,td:first-child{text-align:left}svg{width:100%;height:auto;display:block}"
    "svg text{font:13px \"DejaVu Sans\",sans-serif;fill:var(--ink)}.faint{color:var(--faint);"
    "font-size:.85rem}@media print{body{background:#fff}section{break-inside:avoid}}";

std::string Html(const std::string& text) {
  std::string safe;
  for (const char c : text) {
    const auto u = static_cast<unsigned char>(c);
    safe += c == '&'    ? "&amp;"
            : c == '<'  ? "&lt;"
            : c == '>'  ? "&gt;"
            : c == '"'  ? "&quot;"
            : c == '\'' ? "&#39;"
            : u < 0x20  ? "?"
                        : std::string(1, c);
  }
  return safe;
}

std::string Shown(const std::string& text, std::size_t most) {
  std::size_t end = 0, count = 0;
  while (end < text.size() && count < most) {
    ++end;
    while (end < text.size() && (static_cast<unsigned char>(text[end]) & 0xc0) == 0x80) ++end;
    ++count;
  }
  return Html(text.substr(0, end)) + (end < text.size() ? "..." : "");
}

// What the spread is made of: a bar of its standard deviation for each source.
std::string SpreadPlot(const SubjectStudy& s) {
  double most = 0;
  for (const SpreadPart& part : s.by_anova.parts) most = std::max(most, part.sd);
  if (most <= 0) return "";
  constexpr double kLeft = 230, kWide = 520, kStep = 34;
  const double high = 16 + kStep * static_cast<double>(s.by_anova.parts.size());
  std::string svg = fmt::format(
      "<svg viewBox=\"0 0 900 {:.0f}\" role=\"img\" aria-label=\"standard deviation by source\">",
      high);
  double y = 10;
  for (const SpreadPart& part : s.by_anova.parts) {
    const double wide = kWide * part.sd / most;
    const bool gauge = part.source == "gauge";
    svg += fmt::format(
        "<text x=\"{:.0f}\" y=\"{:.0f}\" text-anchor=\"end\">{}</text><rect x=\"{:.0f}\" "
        "y=\"{:.0f}\" "
        "width=\"{:.1f}\" height=\"20\" fill=\"{}\" stroke=\"#1a1c21\"/><text x=\"{:.1f}\" "
        "y=\"{:.0f}\">{}, {:.1f} %</text>",
        kLeft - 10, y + 15, Html(part.source), kLeft, y, wide, gauge ? "#9e3608" : "#cfdde6",
        kLeft + wide + 8, y + 15, Html(WithUnit(part.sd, s.subject.unit)), part.percent_sd);
    y += kStep;
  }
  return svg + "</svg>";
}

// A mark of its own for each person: circle, square, triangle, diamond, cross.
std::string MarkOf(std::size_t person, double x, double y) {
  switch (person % 5) {
    case 0:
      return fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"5\"/>", x, y);
    case 1:
      return fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"9\" height=\"9\"/>", x - 4.5,
                         y - 4.5);
    case 2:
      return fmt::format("<path d=\"M{0:.1f} {1:.1f}l6 10h-12z\"/>", x, y - 6);
    case 3:
      return fmt::format("<path d=\"M{0:.1f} {1:.1f}l6 6l-6 6l-6 -6z\"/>", x, y - 6);
    default:
      return fmt::format("<path d=\"M{0:.1f} {1:.1f}l10 10m0 -10l-10 10\"/>", x - 5, y - 5);
  }
}

struct PlotAxis {
  double least = 0, greatest = 1, top = 20, bottom = 300;
  double At(double value) const {
    return bottom - (value - least) / (greatest - least) * (bottom - top);
  }
};

void AddTicks(const PlotAxis& axis, double right, std::string& svg) {
  const double raw = (axis.greatest - axis.least) / 5;
  const double ten = std::pow(10, std::floor(std::log10(raw)));
  const double step = raw / ten < 1.5   ? ten
                      : raw / ten < 3.5 ? 2 * ten
                      : raw / ten < 7.5 ? 5 * ten
                                        : 10 * ten;
  for (double v = std::ceil(axis.least / step) * step; v <= axis.greatest; v += step) {
    svg += fmt::format(
        "<path d=\"M80 {0:.1f}H{1:.0f}\" stroke=\"#d5d2c9\"/><text x=\"72\" y=\"{2:.1f}\" "
        "text-anchor=\"end\">{3}</text>",
        axis.At(v), right, axis.At(v) + 4, Figure(std::abs(v) < step / 1e6 ? 0 : v));
  }
}

// Every reading: pieces from left to right, a lane for each person, its own mark.
std::string ReadingsPlot(const SubjectStudy& s) {
  std::vector<std::string> pieces, persons;
  PlotAxis axis;
  bool first = true;
  const auto index = [](std::vector<std::string>& list, const std::string& name) {
    const auto found = std::find(list.begin(), list.end(), name);
    if (found != list.end()) return static_cast<std::size_t>(found - list.begin());
    list.push_back(name);
    return list.size() - 1;
  };
  for (const StudyReading& r : s.subject.readings) {
    if (!r.value) continue;
    index(pieces, r.piece);
    index(persons, r.person);
    axis.least = first ? *r.value : std::min(axis.least, *r.value);
    axis.greatest = first ? *r.value : std::max(axis.greatest, *r.value);
    first = false;
  }
  if (first || pieces.size() > 60) return "";
  // Limits far away from all readings would squeeze these into a line: told in words instead.
  const double reach = std::max(axis.greatest - axis.least, std::abs(axis.least) * 1e-9 + 1e-12);
  for (const auto& limit : {s.subject.min, s.subject.max}) {
    if (!limit || *limit < axis.least - 2 * reach || *limit > axis.greatest + 2 * reach) continue;
    axis.least = std::min(axis.least, *limit);
    axis.greatest = std::max(axis.greatest, *limit);
  }
  const double margin = 0.05 * (axis.greatest - axis.least) + 1e-12 * (1 + std::abs(axis.least));
  axis.least -= margin, axis.greatest += margin;
  constexpr double kLeft = 90, kRight = 880;
  const double lane = (kRight - kLeft) / static_cast<double>(pieces.size());
  std::string svg =
      "<svg viewBox=\"0 0 900 370\" role=\"img\" aria-label=\"every reading by piece\">";
  AddTicks(axis, kRight, svg);
  for (const auto& [limit, word] :
       {std::pair{s.subject.min, "min"}, std::pair{s.subject.max, "max"}}) {
    if (!limit || *limit < axis.least || *limit > axis.greatest) continue;
    svg += fmt::format(
        "<path d=\"M80 {0:.1f}H{1:.0f}\" stroke=\"#9e3608\" stroke-width=\"2\" "
        "stroke-dasharray=\"7 4\"/><text x=\"{1:.0f}\" y=\"{2:.1f}\" "
        "text-anchor=\"end\">{3}</text>",
        axis.At(*limit), kRight, axis.At(*limit) - 5, word);
  }
  for (std::size_t i = 0; i < pieces.size(); ++i) {
    const double x = kLeft + lane * static_cast<double>(i);
    if (i > 0) svg += fmt::format("<path d=\"M{:.1f} 20V300\" stroke=\"#d5d2c9\"/>", x);
    if (pieces.size() <= 24)
      svg +=
          fmt::format("<text x=\"{:.1f}\" y=\"320\" text-anchor=\"middle\">{}</text>", x + lane / 2,
                      Shown(pieces[i], static_cast<std::size_t>(std::max(2.0, lane / 9))));
  }
  svg += "<g fill=\"#fff\" fill-opacity=\".6\" stroke=\"#005c8f\" stroke-width=\"1.6\">";
  for (const StudyReading& r : s.subject.readings) {
    if (!r.value) continue;
    const double x = kLeft + lane * (static_cast<double>(index(pieces, r.piece)) +
                                     (static_cast<double>(index(persons, r.person)) + 1) /
                                         (static_cast<double>(persons.size()) + 1));
    svg += MarkOf(index(persons, r.person), x, axis.At(*r.value));
  }
  double x = kLeft;
  std::string words;
  for (std::size_t j = 0; j < persons.size() && persons.size() > 1; ++j) {
    svg += MarkOf(j, x, 348);
    words += fmt::format("<text x=\"{:.0f}\" y=\"353\">{}</text>", x + 14,
                         persons[j].empty() ? "not named" : Shown(persons[j], 14));
    x += 150;
  }
  return svg + "</g>" + words + "</svg>";
}

// The answer to the second plot's question.
std::string WidestPiece(const SubjectStudy& s) {
  std::vector<std::pair<std::string, std::pair<double, double>>> pieces;
  for (const StudyReading& r : s.subject.readings) {
    if (!r.value) continue;
    const auto found = std::find_if(pieces.begin(), pieces.end(),
                                    [&](const auto& piece) { return piece.first == r.piece; });
    if (found == pieces.end()) {
      pieces.push_back({r.piece, {*r.value, *r.value}});
    } else {
      found->second.first = std::min(found->second.first, *r.value);
      found->second.second = std::max(found->second.second, *r.value);
    }
  }
  if (pieces.empty()) return "There is no reading.";
  const auto widest =
      std::max_element(pieces.begin(), pieces.end(), [](const auto& a, const auto& b) {
        return a.second.second - a.second.first < b.second.second - b.second.first;
      });
  return fmt::format("Repeats differ most on piece {}: by {}.", widest->first,
                     WithUnit(widest->second.second - widest->second.first, s.subject.unit));
}

std::string SpreadRows(const SubjectStudy& s) {
  std::string text =
      "<table><tr><th>source</th><th>sd, analysis of variance</th><th>% of variance</th><th>% of "
      "spread</th><th>% of limits</th><th>sd, averages and ranges</th><th>% of spread</th></tr>";
  for (const SpreadPart& part : s.by_anova.parts) {
    const SpreadPart* other = s.by_ranges.Find(part.source);
    text += fmt::format(
        "<tr><td>{}</td><td>{}</td><td>{:.2f}</td><td>{:.2f}</td><td>{}</td><td>{}</td><td>{}</"
        "td></tr>",
        Html(part.source), Figure(part.sd), part.percent_variance, part.percent_sd,
        part.percent_tolerance ? fmt::format("{:.2f}", *part.percent_tolerance) : "-",
        other ? Figure(other->sd) : "-", other ? fmt::format("{:.2f}", other->percent_sd) : "-");
  }
  return text + "</table>";
}

std::string VarianceRows(const SubjectStudy& s) {
  if (s.anova.empty()) return "";
  std::string text =
      "<table><tr><th>analysis of variance</th><th>sum of squares</th><th>degrees of "
      "freedom</th><th>mean square</th><th>F</th><th>p</th></tr>";
  for (const VarianceRow& row : s.anova)
    text += fmt::format(
        "<tr><td>{}</td><td>{:.7g}</td><td>{}</td><td>{:.7g}</td><td>{}</td><td>{}</td></tr>",
        Html(row.source), row.ss, row.df, row.ms, row.f ? fmt::format("{:.5g}", *row.f) : "-",
        row.p ? fmt::format("{:.4g}", *row.p) : "-");
  return text + "</table>";
}

std::string SubjectSection(const SubjectStudy& s) {
  std::string text = fmt::format("<section><h2>{} {}</h2><p class=\"answer\">{}</p>",
                                 Html(s.subject.no), Html(s.subject.title), Html(s.answer));
  if (s.by_anova.told && !s.identical) text += SpreadPlot(s) + SpreadRows(s);
  text += "<p class=\"answer\">" + Html(WidestPiece(s)) + "</p>" + ReadingsPlot(s);
  if (!s.identical) text += VarianceRows(s);
  text += "<ul class=\"faint\">";
  for (const std::string& line : NoteLines(s)) text += "<li>" + Html(line) + "</li>";
  return text + "</ul></section>";
}

std::string LevelWords(StudyLevel level) {
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

}  // namespace

std::string StudyPage(const Study& study, const std::string& software, const std::string& made) {
  std::string page =
      "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta "
      "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
      "'unsafe-inline'\"><title>Study of the gauge</title><style>";
  page += kPageStyle;
  page += "</style></head><body><main><h1>How much of the spread is the measuring?</h1><p>";
  page += Html(LevelWords(study.level)) + (study.part.empty() ? "" : "; " + Html(study.part)) +
          (study.section.empty() ? "" : ", " + Html(study.section)) +
          (study.name.empty() ? "" : "; study " + Html(study.name)) + ".</p>";
  for (const std::string& warning : study.warnings)
    page += "<p><b>Note:</b> " + Html(warning) + "</p>";
  for (const SubjectStudy& s : study.subjects) page += SubjectSection(s);
  page += fmt::format(
      "<section><h2>What this can and cannot show</h2><ul><li>It speaks of these pieces, persons "
      "and "
      "days, and of this bench.</li><li>Repeats tell how values scatter, not whether they are "
      "right: "
      "that takes an artefact of known size (bias).</li><li>Grades: up to {:g} % of the limits (of "
      "the study's spread where there are no limits) good, up to {:g} % usable with care; common "
      "practice.</li></ul></section><p class=\"faint\">cutface {}, {}</p></main></body></html>\n",
      study.options.good_percent, study.options.limit_percent, Html(software), Html(made));
  return page;
}

}  // namespace cutface
