// The study as JSON (src/data/study.schema.json), and what it gives to a design file.
#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

#include "cutface/quantity.h"
#include "study/internal.h"

namespace cutface {
namespace {

using Json = nlohmann::ordered_json;

// No number of a study is infinite; null would be an honest stand-in.
Json Num(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }
Json Maybe(const std::optional<double>& value) { return value ? Num(*value) : Json(nullptr); }

Json Pair(const std::optional<Interval>& i) {
  return i ? Json{Num(i->lo), Num(i->hi)} : Json(nullptr);
}

Json SpreadJson(const SpreadTable& table) {
  Json out = Json::object();
  out["told"] = table.told;
  if (!table.reason.empty()) out["reason"] = table.reason;
  out["parts"] = Json::array();
  for (const SpreadPart& part : table.parts) {
    out["parts"].push_back(Json{{"source", part.source},
                                {"variance", Num(part.variance)},
                                {"sd", Num(part.sd)},
                                {"percent_of_variance", Num(part.percent_variance)},
                                {"percent_of_study", Num(part.percent_sd)},
                                {"percent_of_tolerance", Maybe(part.percent_tolerance)},
                                {"sd_95", Pair(part.sd_interval)},
                                {"percent_of_study_95", Pair(part.percent_interval)}});
  }
  out["distinct_categories"] = table.categories ? Json(*table.categories) : Json(nullptr);
  out["distinct_categories_exact"] = Maybe(table.distinct);
  return out;
}

Json AnovaJson(const SubjectStudy& s) {
  Json rows = Json::array();
  for (const VarianceRow& row : s.anova)
    rows.push_back(Json{{"source", row.source},
                        {"ss", Num(row.ss)},
                        {"df", row.df},
                        {"ms", Num(row.ms)},
                        {"f", Maybe(row.f)},
                        {"p", Maybe(row.p)}});
  return rows;
}

Json LineJson(const LineFigure& line) {
  return Json{{"n", line.n},
              {"slope", Num(line.slope)},
              {"intercept", Num(line.intercept)},
              {"slope_lo", Num(line.slope_lo)},
              {"slope_hi", Num(line.slope_hi)},
              {"p", Num(line.p)},
              {"r_squared", Num(line.r_squared)}};
}

Json RangesJson(const RangeDetail& d) {
  return Json{{"persons", d.persons},
              {"mean_range", d.mean_range},
              {"mean", d.mean},
              {"mean_of_ranges", Num(d.all_ranges)},
              {"difference_of_persons", Num(d.person_difference)},
              {"range_of_pieces", Num(d.piece_range)},
              {"upper_limit_of_range", Num(d.range_limit)},
              {"beyond", d.beyond}};
}

Json BiasJson(const BiasFigure& b) {
  Json out = {{"n", b.n},        {"mean", Num(b.mean)}, {"sd", Num(b.sd)},
              {"lo", Num(b.lo)}, {"hi", Num(b.hi)},     {"p", Num(b.p)}};
  if (b.linearity) {
    out["linearity"] = LineJson(*b.linearity);
  } else {
    out["linearity_reason"] = b.linearity_reason;
  }
  return out;
}

Json SubjectJson(const SubjectStudy& s) {
  Json out = Json::object();
  out["no"] = s.subject.no;
  out["title"] = s.subject.title;
  out["quantity"] = s.subject.quantity;
  out["unit"] = s.subject.unit;
  out["min"] = Maybe(s.subject.min);
  out["max"] = Maybe(s.subject.max);
  out["grade"] = s.grade;
  if (!s.grade_least.empty()) out["grade_95"] = {s.grade_least, s.grade_most};
  out["answer"] = s.answer;
  out["pieces"] = s.pieces;
  out["persons"] = s.persons;
  out["trials"] = s.trials;
  out["readings"] = s.subject.readings.size();
  out["left_out"] = s.left_out;
  out["mean"] = Num(s.mean);
  out["identical"] = s.identical;
  out["edited"] = s.edited;
  out["tolerance_kind"] = s.tolerance_kind;
  out["tolerance"] = Maybe(s.tolerance);
  out["analysis_of_variance"] = {
      {"rows", AnovaJson(s)}, {"interaction_pooled", s.pooled}, {"spread", SpreadJson(s.by_anova)}};
  if (s.other_anova)
    out["analysis_of_variance"]
       [s.pooled ? "spread_interaction_kept" : "spread_interaction_pooled"] =
           SpreadJson(*s.other_anova);
  out["average_and_range"] = {{"spread", SpreadJson(s.by_ranges)}};
  if (s.ranges) out["average_and_range"]["detail"] = RangesJson(*s.ranges);
  if (s.bias) out["bias"] = BiasJson(*s.bias);
  if (s.stability) {
    out["stability_per_day"] = LineJson(*s.stability);
  } else {
    out["stability_reason"] = s.stability_reason;
  }
  out["verdicts"] = Json::array();
  for (const KappaFigure& k : s.kappas)
    out["verdicts"].push_back(Json{{"between", k.between},
                                   {"n", k.n},
                                   {"agreement", Num(k.agreement)},
                                   {"by_chance", Num(k.by_chance)},
                                   {"kappa", Maybe(k.kappa)}});
  if (s.preparation_u) {
    out["preparation_u"] = {{"sd", Num(*s.preparation_u)}, {"note", s.preparation_note}};
  }
  return out;
}

bool IsLengthWord(const std::string& word) {
  for (const QuantityRow& row : QuantityTable())
    if (row.unit == "um" && row.word == word) return true;
  return false;
}

}  // namespace

std::string StudyToJson(const Study& study) {
  Json out = Json::object();
  out["format"] = "cutface/study";
  out["version"] = 1;
  out["level"] = std::string(StudyLevelName(study.level));
  out["name"] = study.name;
  out["part"] = study.part;
  out["section"] = study.section;
  out["limits_percent"] = {{"good", study.options.good_percent},
                           {"usable", study.options.limit_percent}};
  out["pool_above"] = study.options.pool_above;
  out["warnings"] = study.warnings;
  out["can_show"] = study.can_show;
  out["cannot_show"] = study.cannot_show;
  out["subjects"] = Json::array();
  for (const SubjectStudy& subject : study.subjects)
    out["subjects"].push_back(SubjectJson(subject));
  return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::optional<std::string> PreparationJson(const Study& study) {
  std::map<std::string, double> largest;
  for (const SubjectStudy& s : study.subjects) {
    if (!s.preparation_u || !s.subject.um_per_unit || !IsLengthWord(s.subject.quantity)) continue;
    double& um = largest[s.subject.quantity];
    um = std::max(um, *s.preparation_u * *s.subject.um_per_unit);
  }
  if (largest.empty()) return std::nullopt;
  Json out = Json::object();
  for (const auto& [word, um] : largest) {
    // Rounded up: an uncertainty is not made smaller by writing it down.
    out["preparation_u"][word] = {{"um", std::ceil(um * 1000) / 1000}, {"study", study.name}};
  }
  return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace cutface
