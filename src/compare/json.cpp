// The comparison as a file.
#include <nlohmann/json.hpp>

#include "compare/internal.h"

namespace cutface {
namespace {

using Out = nlohmann::ordered_json;

Out Maybe(const std::optional<double>& value) { return value ? Out(*value) : Out(nullptr); }

Out Pair(const Interval& interval) { return Out::array({interval.lo, interval.hi}); }

Out IndexOut(const IndexValue& index) {
  return Out{{"value", index.value}, {"interval", Pair(index.interval)}};
}

void PutSample(Out& out, const RowStudy& study) {
  if (!study.summary) return;
  const SampleSummary& s = *study.summary;
  out["mean"] = s.mean;
  out["sd"] = Maybe(s.sd);
  out["least"] = s.least;
  out["greatest"] = s.greatest;
  out["median"] = s.median;
  if (study.mean_interval) out["mean_interval"] = Pair(*study.mean_interval);
  if (study.measuring_share) out["measuring_share"] = *study.measuring_share;
  if (study.normality)
    out["normality"] = {
        {"test", "Anderson-Darling"}, {"a2", study.normality->a2}, {"p", study.normality->p}};
}

void PutInference(Out& out, const RowStudy& study) {
  if (study.bound) {
    const ToleranceBound& b = *study.bound;
    out["tolerance"] = {{"confidence", b.wish.confidence},
                        {"coverage", b.wish.coverage},
                        {"factor", b.factor},
                        {"lower", Maybe(b.lower)},
                        {"upper", Maybe(b.upper)}};
  }
  if (study.capability) {
    const Capability& c = *study.capability;
    Out& to = out["capability"];
    for (const auto& [name, index] :
         {std::pair{"pp", &c.pp}, {"ppk", &c.ppk}, {"cp", &c.cp}, {"cpk", &c.cpk}}) {
      if (*index) to[name] = IndexOut(**index);
    }
    if (c.percentile)
      to["ppk_percentile"] = {{"value", c.percentile->value},
                              {"percentile", c.percentile->percentile},
                              {"curve", c.curve},
                              {"extrapolated", c.percentile->extrapolated}};
    if (!c.no_cpk.empty()) to["no_cpk"] = c.no_cpk;
    if (c.within)
      to["within"] = {{"sd", c.within->sd},
                      {"degrees_of_freedom", c.within->degrees_of_freedom},
                      {"subgroups", c.within->subgroups}};
  }
  if (study.chart) {
    const IndividualsChart& c = *study.chart;
    out["chart"] = {{"centre", c.centre},          {"limits", Out::array({c.lower, c.upper})},
                    {"mean_range", c.mean_range},  {"range_limit", c.range_upper},
                    {"beyond", c.beyond},          {"range_beyond", c.range_beyond},
                    {"one_side_ends", c.one_side}, {"by_time", study.timed}};
  }
  if (study.circular)
    out["directions"] = {{"mean_deg", study.circular->mean * 180 / kPi},
                         {"resultant", study.circular->resultant},
                         {"rayleigh_p", study.circular->rayleigh_p}};
}

Out RowOut(const RowStudy& study) {
  const RunRow& row = study.row;
  Out out;
  out["plane"] = row.plane;
  out["no"] = row.no;
  out["characteristic"] = row.subject;
  out["requirement"] = row.requirement;
  out["class"] = row.criticality;
  out["unit"] = row.unit;
  out["min"] = Maybe(row.min), out["max"] = Maybe(row.max);
  out["answer"] = RowAnswerName(study.answer);
  out["sentence"] = study.sentence;
  out["n"] = study.n ? Out(*study.n) : Out(nullptr);
  out["faces"] = study.values;
  out["missing"] = Out::array();
  for (const MissingValue& m : study.missing)
    out["missing"].push_back({{"part", m.label}, {"reason", m.reason}});
  out["wide"] = study.wide;
  out["outside"] = study.outside;
  out["failing"] = study.failing;
  out["unproven"] = study.unproven;
  PutSample(out, study);
  PutInference(out, study);
  if (study.size_needed) out["parts_needed"] = *study.size_needed;
  out["advice"] = study.advice;
  out["doubts"] = study.doubts;
  out["values"] = Out::array();
  for (const PartValue& part : study.parts) {
    Out one = {{"part", part.label}, {"value", part.value}};
    if (part.lo && part.hi) one["interval"] = Out::array({*part.lo, *part.hi});
    if (part.faces > 1) one["faces"] = part.faces;
    if (part.wide) one["wide"] = true;
    if (part.outside) one["outside"] = true;
    if (!part.subgroup.empty()) one["subgroup"] = part.subgroup;
    out["values"].push_back(std::move(one));
  }
  return out;
}

Out TrendOut(const StationTrend& trend) {
  Out out;
  out["of"] = trend.of;
  out["quantity"] = trend.quantity;
  out["unit"] = trend.unit;
  out["sentence"] = trend.sentence;
  out["stations_mm"] = trend.stations_mm;
  out["means"] = Out::array();
  for (const SampleSummary& at : trend.at)
    out["means"].push_back(at.n == 0 ? Out(nullptr) : Out{{"n", at.n}, {"mean", at.mean}});
  out["points"] = Out::array();
  for (const StationPoint& p : trend.points)
    out["points"].push_back(
        {{"part", trend.labels[p.part]}, {"station_mm", p.station_mm}, {"value", p.value}});
  out["gaps"] = Out::array();
  for (const auto& [part, station] : trend.gaps)
    out["gaps"].push_back({{"part", trend.labels[part]}, {"station_mm", station}});
  if (trend.slopes && trend.slope_interval)
    out["slope_per_mm"] = {{"mean", trend.slopes->mean},
                           {"interval", Pair(*trend.slope_interval)},
                           {"parts", trend.slopes->n}};
  return out;
}

Out FaceOut(const MeanFace& face) {
  Out out;
  out["plane"] = face.plane;
  out["station_mm"] = Maybe(face.station_mm);
  out["parts"] = face.parts;
  out["not_laid"] = face.not_laid;
  out["sentence"] = face.sentence;
  out["worst"] = Out::array();
  for (const WorstPlace& w : face.worst) {
    Out one = {
        {"of", face.features[w.feature].name}, {"clock_deg", w.clock_deg}, {"mean_um", w.mean_um}};
    if (w.band) one["band_um"] = Pair(*w.band);
    out["worst"].push_back(std::move(one));
  }
  out["directions"] = Out::array();
  for (const FeatureDirections& d : face.directions) {
    Out one = {{"of", d.name}, {"n", d.n}, {"mean_shift_um", d.mean_shift_um}};
    if (d.circular) {
      one["mean_deg"] = d.circular->mean * 180 / kPi;
      one["resultant"] = d.circular->resultant;
      one["rayleigh_p"] = d.circular->rayleigh_p;
    }
    one["sentence"] = d.sentence;
    out["directions"].push_back(std::move(one));
  }
  return out;
}

Out EffectOut(const FactorEffect& e) {
  Out out = {{"factor", e.factor},    {"of", e.row.of},        {"quantity", e.row.quantity},
             {"planes", e.planes},    {"unit", e.row.unit},    {"parts", e.parts},
             {"faces", e.faces},      {"without", e.without},  {"f", Maybe(e.f)},
             {"p", Maybe(e.p)},       {"p_all_rows", e.p_all}, {"share", e.share},
             {"sentence", e.sentence}};
  if (e.nested)
    out["variances"] = {{"parts", Maybe(e.variance_parts)}, {"within", Maybe(e.variance_within)}};
  out["levels"] = Out::array();
  for (const FactorLevel& level : e.levels) {
    Out one = {{"level", level.name}, {"n", level.values.size()}, {"mean", level.mean}};
    if (level.interval) one["interval"] = Pair(*level.interval);
    out["levels"].push_back(std::move(one));
  }
  return out;
}

Out DifferenceOut(const RunDifference& difference) {
  Out out;
  out["counts"] = difference.reference_counts;
  out["unmatched"] = difference.unmatched;
  out["rows"] = Out::array();
  for (const RowDifference& d : difference.rows) {
    Out one = {{"no", d.row.no},
               {"plane", d.row.plane},
               {"unit", d.row.unit},
               {"n", d.run.size()},
               {"n_other", d.reference.size()}};
    if (d.shift)
      one["difference"] = {{"value", d.shift->value},
                           {"interval", Pair(d.shift->interval)},
                           {"p", d.shift->p},
                           {"p_all_rows", d.p_all}};
    if (d.equivalence)
      one["equivalence"] = {
          {"margin", d.equivalence->margin},
          {"p", d.equivalence->p},
          {"interval_90", Pair(d.equivalence->interval)},
          {"answer", d.equivalence->answer == Equivalence::Answer::kEquivalent  ? "equivalent"
                     : d.equivalence->answer == Equivalence::Answer::kDifferent ? "not equivalent"
                                                                                : "not shown"}};
    if (d.spread_ratio) one["spread_ratio"] = IndexOut(*d.spread_ratio);
    one["sentence"] = d.sentence;
    one["doubts"] = d.doubts;
    out["rows"].push_back(std::move(one));
  }
  return out;
}

}  // namespace

std::string ComparisonToJson(const RunComparison& c) {
  Out json;
  json["format"] = "cutface/comparison";
  json["version"] = 1;
  json["part"] = c.part;
  json["revision"] = c.revision;
  json["counts"] = c.counts_line;
  json["n"] = c.counts.n ? Out(*c.counts.n) : Out(nullptr);
  for (const auto& [name, wish] : c.options.bounds)
    json["bounds"][name] = {{"confidence", wish.confidence}, {"coverage", wish.coverage}};
  if (!c.options.subgroup.empty()) json["subgroup"] = c.options.subgroup;
  json["rows"] = Out::array();
  for (const RowStudy& row : c.rows) json["rows"].push_back(RowOut(row));
  json["trends"] = Out::array();
  for (const StationTrend& trend : c.trends) json["trends"].push_back(TrendOut(trend));
  json["mean_faces"] = Out::array();
  for (const MeanFace& face : c.mean_faces) json["mean_faces"].push_back(FaceOut(face));
  json["factors"] = Out::array();
  for (const FactorEffect& effect : c.effects) json["factors"].push_back(EffectOut(effect));
  if (c.against) json["against"] = DifferenceOut(*c.against);
  json["can_show"] = c.can_show;
  json["cannot_show"] = c.cannot_show;
  json["notes"] = c.notes;
  return json.dump(1, ' ', false, Out::error_handler_t::replace) + "\n";
}

}  // namespace cutface
