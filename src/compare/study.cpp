// Figures of one row from its parts' values.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "compare/internal.h"

namespace cutface {
namespace {

constexpr std::size_t kFewestForCpk = 25;

std::vector<double> ValuesOf(const RowStudy& study) {
  std::vector<double> values;
  for (const PartValue& part : study.parts) values.push_back(part.value);
  return values;
}

BoundWish WishFor(const CompareOptions& options, const RunRow& row) {
  const auto wish = options.bounds.find(row.criticality);
  if (wish != options.bounds.end()) return wish->second;
  const auto major = options.bounds.find("major");
  return major != options.bounds.end() ? major->second : BoundWish{};
}

// Mean square of the standard uncertainties (95 % intervals over 2 x 1.96) against the variance.
std::optional<double> MeasuringShare(const RowStudy& study, double sd) {
  double sum = 0;
  for (const PartValue& part : study.parts) {
    if (!part.lo || !part.hi) return std::nullopt;
    const double u = (*part.hi - *part.lo) / (2 * NormalQuantile(0.975));
    sum += u * u;
  }
  return std::min(1.0, sum / static_cast<double>(study.parts.size()) / (sd * sd));
}

void SetBound(const CompareOptions& options, RowStudy& study) {
  const RunRow& row = study.row;
  const SampleSummary& s = *study.summary;
  ToleranceBound bound;
  bound.wish = WishFor(options, row);
  const bool two = row.min && row.max;
  bound.factor = two ? ToleranceFactorTwoSided(s.n, bound.wish.coverage, bound.wish.confidence)
                     : ToleranceFactorOneSided(s.n, bound.wish.coverage, bound.wish.confidence);
  if (row.min) bound.lower = s.mean - bound.factor * *s.sd;
  if (row.max) bound.upper = s.mean + bound.factor * *s.sd;
  if (row.at_least_zero && bound.lower) bound.lower = std::max(0.0, *bound.lower);
  study.bound = bound;
}

void SetWithin(const CompareOptions& options, RowStudy& study, Capability& c) {
  const RunRow& row = study.row;
  const SampleSummary& s = *study.summary;
  if (options.subgroup.empty()) {
    c.no_cpk = "no rational subgroups are named";
    return;
  }
  const std::vector<std::vector<double>> groups = SubgroupsOf(study);
  c.within = PooledSpread(groups);
  if (groups.empty()) {
    c.no_cpk = fmt::format("not every part has a {}", options.subgroup);
  } else if (!c.within || c.within->subgroups < 2 || !(c.within->sd > 0)) {
    c.no_cpk =
        fmt::format("fewer than two subgroups by {} hold two parts that differ", options.subgroup);
  } else if (s.n < kFewestForCpk) {
    c.no_cpk = fmt::format("n = {}, and {} parts are the fewest", s.n, kFewestForCpk);
  } else {
    c.cp = SpreadIndex(c.within->sd, c.within->degrees_of_freedom, *row.min, *row.max);
    c.cpk =
        NearerIndex(s.mean, c.within->sd, s.n, c.within->degrees_of_freedom, *row.min, *row.max);
  }
}

void SetCapability(const CompareOptions& options, const std::vector<double>& values,
                   RowStudy& study) {
  const RunRow& row = study.row;
  const SampleSummary& s = *study.summary;
  Capability c;
  if (row.min && row.max) {
    const auto dof = static_cast<double>(s.n - 1);
    c.pp = SpreadIndex(*s.sd, dof, *row.min, *row.max);
    c.ppk = NearerIndex(s.mean, *s.sd, s.n, dof, *row.min, *row.max);
    SetWithin(options, study, c);
  } else {
    c.no_cpk = "there is one limit only";
    if (s.n >= 3) {
      const FittedTail tail = FitTails(values).front();
      c.curve = FittedTailName(tail.kind);
      c.percentile =
          PercentileCapability(values, tail, row.min ? *row.min : *row.max, row.min.has_value());
    }
  }
  study.capability = c;
}

bool BoundHolds(const RowStudy& study) {
  const ToleranceBound& bound = *study.bound;
  return (!bound.lower || *bound.lower >= *study.row.min) &&
         (!bound.upper || *bound.upper <= *study.row.max);
}

// The order statistics' bound, which needs no distribution: enough parts, and none outside.
bool EnoughWithoutCurve(const RowStudy& study) {
  const BoundWish& wish = study.bound->wish;
  const double n = static_cast<double>(study.summary->n);
  const double p = wish.coverage;
  const bool two = study.row.min && study.row.max;
  // Between least and greatest of n values lies the share p with this confidence (Wilks 1941).
  const double confidence = two ? 1 - n * std::pow(p, n - 1) + (n - 1) * std::pow(p, n)
                                : LeastValueConfidence(study.summary->n, p);
  return confidence >= wish.confidence;
}

void SetAnswer(const CompareOptions& options, RowStudy& study) {
  const RunRow& row = study.row;
  if (!row.min && !row.max) return;
  study.answer = RowAnswer::kNotShown;
  if (study.failing > 0 || study.outside > 0) {
    study.answer = RowAnswer::kBroken;
    return;
  }
  if (!study.n || study.parts.empty()) return;
  // A false "shown" is the worst answer: every part must have a value and be proven by itself.
  const bool complete = study.missing.empty() && study.unproven == 0;
  if (row.count) {
    const BoundWish wish = WishFor(options, row);
    const std::size_t needed = AttributeSampleSize(wish.confidence, wish.coverage);
    study.size_needed = needed;
    if (study.parts.size() >= needed && complete) study.answer = RowAnswer::kShown;
    return;
  }
  if (!study.bound) return;
  const bool normal = !study.normality || study.normality->p >= 0.05;
  const bool holds = (normal && BoundHolds(study)) || EnoughWithoutCurve(study);
  if (holds && complete) study.answer = RowAnswer::kShown;
  if (!normal || BoundHolds(study)) return;
  double k = 1e300;
  if (row.min) k = std::min(k, (study.summary->mean - *row.min) / *study.summary->sd);
  if (row.max) k = std::min(k, (*row.max - study.summary->mean) / *study.summary->sd);
  constexpr std::size_t kMost = 2000;
  study.size_needed = SizeForToleranceFactor(k, row.min && row.max, study.bound->wish.coverage,
                                             study.bound->wish.confidence, kMost);
}

}  // namespace

std::string_view RowAnswerName(RowAnswer answer) {
  switch (answer) {
    case RowAnswer::kShown:
      return "shown";
    case RowAnswer::kNotShown:
      return "not shown";
    case RowAnswer::kBroken:
      return "broken";
    case RowAnswer::kNoLimits:
      return "no limits";
  }
  return "";
}

void StudyRow(const CompareOptions& options, RowStudy& study) {
  const std::vector<double> values = ValuesOf(study);
  if (!values.empty()) study.summary = Summarise(values);
  // Without a count of parts, and for whole numbers, nothing is inferred.
  const bool spread = study.n && !study.row.count && values.size() >= 2 && *study.summary->sd > 0;
  if (spread) {
    const SampleSummary& s = *study.summary;
    study.mean_interval = MeanInterval(s.mean, *s.sd, s.n);
    study.measuring_share = MeasuringShare(study, *s.sd);
    study.normality = AndersonDarling(values);
    study.plot = NormalPlot(values);
    study.chart = MakeIndividualsChart(values);
    if (study.row.min || study.row.max) {
      SetBound(options, study);
      SetCapability(options, values, study);
    }
    if (study.row.circular) {
      std::vector<double> radians;
      for (const double v : values) radians.push_back(v * kPi / 180);
      study.circular = SummariseDirections(radians);
    }
  }
  SetAnswer(options, study);
}

}  // namespace cutface
