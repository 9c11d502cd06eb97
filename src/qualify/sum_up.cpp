// From scored faces to figures with limits.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "cutface/stats.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

// One-sided lower bound of a share, 95 %: the lower end of the two-sided 90 % interval.
double LowerBound(std::size_t hits, std::size_t trials) {
  return BinomialInterval(static_cast<std::int64_t>(hits), static_cast<std::int64_t>(trials), 0.90)
      .first;
}

void JudgeWord(const SiteLimits& limits, WordErrors& word) {
  const auto limit = limits.error_um.find(word.word);
  if (word.n == 0) {
    word.verdict = limit == limits.error_um.end() ? "not judged" : "fail";
    word.reason = "never measured";
    return;
  }
  if (limit != limits.error_um.end()) word.limit_um = limit->second;
  const double reach = std::abs(word.mean_um) + 2 * word.sd_um;
  if (word.coverage_hi < limits.coverage) {
    word.verdict = "fail";
    word.reason =
        fmt::format("intervals hold the truth in {:.1f} % only",
                    100.0 * static_cast<double>(word.covered) / static_cast<double>(word.n));
  } else if (word.limit_um && reach > *word.limit_um) {
    word.verdict = "fail";
    word.reason = fmt::format("|mean error| + 2 sd is {}, the limit {}", Micrometres(reach),
                              Micrometres(*word.limit_um));
  } else if (word.limit_um) {
    word.verdict = "pass";
    word.reason = fmt::format("|mean error| + 2 sd is {}", Micrometres(reach));
  } else {
    word.verdict = "not judged";
    word.reason = "no limit given";
  }
}

struct WordSums {
  WordErrors figure;
  std::vector<double> errors, halves;
};

void SumWords(const std::vector<FaceScore>& scores, const SiteLimits& limits, Qualification& out) {
  std::map<std::string, WordSums> words;
  for (const auto& [word, limit] : limits.error_um) words[word].figure.word = word;
  for (const FaceScore& score : scores) {
    std::map<std::string, bool> seen;
    for (const TruthPair& pair : score.pairs) {
      WordSums& sums = words[pair.word];
      sums.figure.word = pair.word;
      if (!pair.measured) {
        ++sums.figure.not_measured;
        continue;
      }
      seen[pair.word] = true;
      sums.errors.push_back(pair.value - pair.truth);
      sums.halves.push_back(0.5 * (pair.hi - pair.lo));
      sums.figure.covered += pair.lo <= pair.truth && pair.truth <= pair.hi ? 1 : 0;
    }
    for (const auto& [word, yes] : seen) ++words[word].figure.faces;
  }
  for (auto& [word, sums] : words) {
    WordErrors& f = sums.figure;
    f.n = sums.errors.size();
    if (f.n > 0) {
      f.mean_um = Mean(sums.errors);
      f.sd_um = f.n > 1 ? StandardDeviation(sums.errors) : 0;
      double squares = 0;
      for (double e : sums.errors) {
        squares += e * e;
        f.worst_um = std::abs(e) > std::abs(f.worst_um) ? e : f.worst_um;
      }
      f.rms_um = std::sqrt(squares / static_cast<double>(f.n));
      f.median_u_um = Median(sums.halves);
      // Several values of one face share its scale and light; as many trials as faces is the safe
      // side.
      const double share = static_cast<double>(f.covered) / static_cast<double>(f.n);
      const auto faces = static_cast<std::int64_t>(f.faces);
      const auto hits = static_cast<std::int64_t>(std::llround(share * static_cast<double>(faces)));
      std::tie(f.coverage_lo, f.coverage_hi) = BinomialInterval(hits, faces);
    }
    JudgeWord(limits, f);
    out.words.push_back(f);
  }
}

// A limit is judged by all items from it on (up to the largest that was to be found), whatever the
// classes are.
void JudgeFound(const std::vector<TruthItem>& items, double to_um, double reliability,
                FoundFigure& figure) {
  figure.reason = figure.smallest_um
                      ? fmt::format("found reliably from {} on", Micrometres(*figure.smallest_um))
                      : fmt::format(
                            "no size is shown to be found in {:.0f} %; more --faces tell "
                            "more",
                            100 * reliability);
  figure.verdict = "not judged";
  if (!figure.limit_um) return;
  std::size_t of = 0, found = 0;
  for (const TruthItem& item : items) {
    if (item.size_um < *figure.limit_um || item.size_um > std::max(to_um, 2 * *figure.limit_um))
      continue;
    ++of;
    found += item.found ? 1 : 0;
  }
  const double sure = of > 0 ? LowerBound(found, of) : 0;
  figure.verdict = sure >= reliability ? "pass" : "fail";
  figure.reason = fmt::format("from {} on {} of {} were found, {:.0f} % for sure",
                              Micrometres(*figure.limit_um), found, of, 100 * sure);
  if (figure.verdict == "fail")
    figure.reason += fmt::format(" and not {:.0f} %{}", 100 * reliability,
                                 found == of ? ": too few to show it, take more --faces" : "");
}

FoundFigure SumFound(const std::vector<TruthItem>& items, double from_um, double to_um,
                     double reliability, std::optional<double> limit) {
  constexpr int kClasses = 6;
  FoundFigure figure;
  figure.limit_um = limit;
  const double ratio = std::pow(to_um / from_um, 1.0 / kClasses);
  for (int c = 0; c < kClasses; ++c) {
    SizeClass size;
    size.least_um = from_um * std::pow(ratio, c);
    size.greatest_um = size.least_um * ratio;
    for (const TruthItem& item : items) {
      if (item.size_um < size.least_um || item.size_um >= size.greatest_um) continue;
      ++size.of;
      size.found += item.found ? 1 : 0;
    }
    if (size.of > 0) size.share_lo = LowerBound(size.found, size.of);
    figure.classes.push_back(size);
  }
  // All of a size and larger together must be found often enough beyond doubt, and the class itself
  // must hold enough of them to speak.
  constexpr std::size_t kEnough = 5;
  std::size_t of = 0, found = 0;
  for (auto size = figure.classes.rbegin(); size != figure.classes.rend(); ++size) {
    of += size->of;
    found += size->found;
    if (static_cast<double>(size->found) < reliability * static_cast<double>(size->of)) break;
    if (size->of >= kEnough && LowerBound(found, of) >= reliability)
      figure.smallest_um = size->least_um;
  }
  JudgeFound(items, to_um, reliability, figure);
  return figure;
}

}  // namespace

void SumUp(const std::vector<FaceScore>& scores, const QualifyOrder& order, Qualification& out) {
  std::vector<TruthItem> voids, septa;
  for (const FaceScore& score : scores) {
    if (!score.measured) {
      out.failed_faces.push_back(score.failure);
      continue;
    }
    ++out.measured;
    voids.insert(voids.end(), score.voids.begin(), score.voids.end());
    septa.insert(septa.end(), score.septa.begin(), score.septa.end());
    out.voids.invented += score.invented_voids;
    out.septa.invented += score.invented_breaks;
    out.broken += score.broken;
    out.broken_told += score.broken_told;
    out.wires.of += score.wires.of;
    out.wires.found += score.wires.found;
    out.wires.invented += score.wires.invented;
    out.wires.missing += score.wires.missing;
    out.wires.missing_told += score.wires.missing_told;
    out.wires.rms_off_um += score.wires.rms_off_um;
  }
  if (out.wires.found > 0)
    out.wires.rms_off_um = std::sqrt(out.wires.rms_off_um / static_cast<double>(out.wires.found));
  for (const FaceScore& score : scores)
    if (!score.not_tried.empty()) out.not_tried.push_back(score.not_tried);
  out.factors = FactorsOf(scores);
  SumWords(scores, order.limits, out);
  const double pitch = order.camera.pitch_um;
  const std::size_t invented_voids = out.voids.invented, invented_breaks = out.septa.invented;
  out.voids = SumFound(voids, 3 * pitch, 30 * pitch, order.limits.reliability,
                       order.limits.smallest_void_um);
  out.septa = SumFound(septa, 2 * pitch, 16 * pitch, order.limits.reliability,
                       order.limits.smallest_septum_um);
  out.voids.invented = invented_voids;
  out.septa.invented = invented_breaks;
  if (out.septa.verdict == "pass" && out.broken > out.broken_told) {
    out.septa.verdict = "fail";
    out.septa.reason = fmt::format("{} of {} broken septa were overlooked",
                                   out.broken - out.broken_told, out.broken);
  }
}

}  // namespace cutface
