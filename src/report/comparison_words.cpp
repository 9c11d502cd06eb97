#include "report/comparison_words.h"

#include <fmt/format.h>

#include "cutface/picture.h"
#include "report/internal.h"

namespace cutface {
namespace {

std::string Figured(double value, const RunRow& row) {
  return row.count ? fmt::format("{:.6g}", value) : FormatRowValue(value, row.unit, false);
}

std::string UnitFigure(double value, const RunRow& row) {
  return row.count ? Figured(value, row) : FormatRowValue(value, row.unit);
}

std::string BoundText(const RowStudy& study) {
  if (!study.bound) return "";
  const ToleranceBound& b = *study.bound;
  std::string text;
  if (b.lower) text = Figured(*b.lower, study.row);
  if (b.upper) text += (text.empty() ? "" : " to ") + Figured(*b.upper, study.row);
  return text + fmt::format(" ({:g}/{:g})", 100 * b.wish.confidence, 100 * b.wish.coverage);
}

std::string Indexed(const IndexValue& index) {
  return fmt::format("{:.2f} ({:.2f} to {:.2f})", index.value, index.interval.lo,
                     index.interval.hi);
}

std::string CapabilityText(const RowStudy& study) {
  if (!study.capability) return "";
  const Capability& c = *study.capability;
  std::string text;
  if (c.cpk) text = fmt::format("Cpk {:.2f}, ", c.cpk->value);
  if (c.ppk) return text + fmt::format("Ppk {:.2f}", c.ppk->value);
  if (c.percentile)
    return fmt::format("Ppk {:.2f}{}", c.percentile->value,
                       c.percentile->extrapolated ? ", extrapolated" : "");
  return text;
}

}  // namespace

std::string AnswerText(RowAnswer answer) {
  const std::string_view sign = answer == RowAnswer::kShown      ? "\u2713"
                                : answer == RowAnswer::kBroken   ? "\u2717"
                                : answer == RowAnswer::kNotShown ? "?"
                                                                 : "\u00b7";
  return fmt::format("{} {}", sign, RowAnswerName(answer));
}

const std::vector<std::string>& RowTitles() {
  static const std::vector<std::string> titles = {
      "No.",      "Plane", "Characteristic", "Requirement",     "n",          "Without", "Mean",
      "Spread s", "Least", "Greatest",       "Tolerance bound", "Capability", "Answer"};
  return titles;
}

std::vector<std::string> RowCells(const RowStudy& study) {
  const RunRow& row = study.row;
  const auto figure = [&](const std::optional<double>& v) {
    return v ? Figured(*v, row) : std::string();
  };
  const SampleSummary* s = study.summary ? &*study.summary : nullptr;
  const SampleSummary* moments = row.count ? nullptr : s;
  return {PlainText(row.no),
          PlainText(row.plane),
          PlainText(row.subject),
          PlainText(row.requirement),
          study.n ? std::to_string(*study.n) : "?",
          study.missing.empty() ? "" : std::to_string(study.missing.size()),
          moments != nullptr ? Figured(moments->mean, row) : "",
          moments != nullptr ? figure(moments->sd) : "",
          s != nullptr ? Figured(s->least, row) : "",
          s != nullptr ? Figured(s->greatest, row) : "",
          BoundText(study),
          CapabilityText(study),
          AnswerText(study.answer)};
}

std::vector<std::pair<std::string, std::string>> RowPairs(const RowStudy& study) {
  const RunRow& row = study.row;
  std::vector<std::pair<std::string, std::string>> pairs;
  pairs.emplace_back("asked", row.requirement.empty()
                                  ? "nothing"
                                  : PlainText(row.requirement) + ", " + PlainText(row.criticality));
  pairs.emplace_back(
      "parts",
      (study.n ? fmt::format("n = {}", *study.n) : std::string("cannot be counted")) +
          fmt::format(", {} faces with a value", study.values) +
          (study.missing.empty() ? "" : fmt::format(", {} parts without", study.missing.size())));
  if (study.summary && study.summary->sd && !row.count) {
    const SampleSummary& s = *study.summary;
    pairs.emplace_back(
        "mean", UnitFigure(s.mean, row) +
                    (study.mean_interval
                         ? fmt::format(" (95 %: {} to {})", Figured(study.mean_interval->lo, row),
                                       Figured(study.mean_interval->hi, row))
                         : ""));
    pairs.emplace_back("spread s", UnitFigure(*s.sd, row));
    pairs.emplace_back("extremes", fmt::format("{} to {}, median {}", Figured(s.least, row),
                                               Figured(s.greatest, row), Figured(s.median, row)));
    if (study.measuring_share)
      pairs.emplace_back("share of measuring", fmt::format("about {:.0f} % of the variance",
                                                           100 * *study.measuring_share));
  }
  if (study.bound)
    pairs.emplace_back("tolerance bound",
                       BoundText(study) + fmt::format(", factor {:.4f}", study.bound->factor));
  if (study.capability) {
    const Capability& c = *study.capability;
    if (c.pp) pairs.emplace_back("Pp (95 %)", Indexed(*c.pp));
    if (c.ppk) pairs.emplace_back("Ppk (95 %)", Indexed(*c.ppk));
    if (c.cp) pairs.emplace_back("Cp (95 %)", Indexed(*c.cp));
    if (c.cpk) pairs.emplace_back("Cpk (95 %)", Indexed(*c.cpk));
    if (c.percentile)
      pairs.emplace_back(
          "Ppk by percentile",
          fmt::format("{:.2f}: {} curve, far percentile {}{}", c.percentile->value, c.curve,
                      UnitFigure(c.percentile->percentile, row),
                      c.percentile->extrapolated ? "; extrapolated, under 100 parts" : ""));
    if (!c.no_cpk.empty()) pairs.emplace_back("no Cp, Cpk", PlainText(c.no_cpk));
  }
  return pairs;
}

std::string RowName(const RunRow& row) {
  return fmt::format("{} {} ({})", PlainText(row.no), PlainText(row.subject), PlainText(row.plane));
}

std::string FaceName(const MeanFace& face) {
  return PlainText(face.plane) +
         (face.station_mm ? fmt::format(", station {:g} mm", *face.station_mm) : "") +
         fmt::format(", {} of {} parts", face.parts, face.parts_of_run);
}

}  // namespace cutface
