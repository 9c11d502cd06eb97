// What is varied together from face to face, and what errors do with it.
#include <fmt/format.h>

#include <cmath>

#include "cutface/stats_run.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

struct FactorSource {
  const char *name, *unit;
  double FacePlan::*value;
};
constexpr FactorSource kFactors[] = {{"blur", "px", &FacePlan::blur_px},
                                     {"noise", "% of full scale", &FacePlan::noise},
                                     {"gamma", "", &FacePlan::gamma},
                                     {"tilt", "deg", &FacePlan::tilt_deg}};

// Root of the mean squared error of all lengths of a face; nullopt without one.
std::optional<double> FaceRms(const FaceScore& score) {
  double squares = 0;
  std::size_t n = 0;
  for (const TruthPair& pair : score.pairs) {
    if (!pair.measured) continue;
    squares += (pair.value - pair.truth) * (pair.value - pair.truth);
    ++n;
  }
  return n > 0 ? std::optional(std::sqrt(squares / static_cast<double>(n))) : std::nullopt;
}

FactorFigure FigureOf(const FactorSource& source, const std::vector<double>& at,
                      const std::vector<double>& rms) {
  FactorFigure figure;
  figure.name = source.name;
  figure.unit = source.unit;
  const double times = figure.name == "noise" ? 100 : 1;
  const auto [least, greatest] = std::minmax_element(at.begin(), at.end());
  figure.least = times * *least;
  figure.greatest = times * *greatest;
  if (!(*greatest > *least)) {
    figure.sentence = "not varied";
    return figure;
  }
  std::array<double, 3> squares{};
  for (std::size_t i = 0; i < at.size(); ++i) {
    const double share = (at[i] - *least) / (*greatest - *least);
    const auto third = static_cast<std::size_t>(std::min(2.0, std::floor(3 * share)));
    squares[third] += rms[i] * rms[i];
    ++figure.faces[third];
  }
  for (std::size_t k = 0; k < 3; ++k)
    if (figure.faces[k] > 0)
      figure.rms_um[k] = std::sqrt(squares[k] / static_cast<double>(figure.faces[k]));
  if (const auto trend = FitTrend(at, rms)) figure.p = trend->p;
  return figure;
}

}  // namespace

double HaltonPoint(int index, int base, double shift) {
  double point = 0, digit = 1;
  for (; index > 0; index /= base) {
    digit /= base;
    point += digit * (index % base);
  }
  return std::fmod(point + shift, 1.0);
}

std::vector<FactorFigure> FactorsOf(const std::vector<FaceScore>& scores) {
  std::vector<FactorFigure> figures;
  std::vector<double> rms, ps;
  std::vector<const FacePlan*> plans;
  for (const FaceScore& score : scores) {
    const auto one = FaceRms(score);
    if (!one) continue;
    rms.push_back(*one);
    plans.push_back(&score.plan);
  }
  if (rms.size() < 3) return figures;
  for (const FactorSource& source : kFactors) {
    std::vector<double> at;
    for (const FacePlan* plan : plans) at.push_back(plan->*source.value);
    figures.push_back(FigureOf(source, at, rms));
    ps.push_back(figures.back().p);
  }
  const std::vector<double> all = HolmAdjusted(ps);
  for (std::size_t i = 0; i < figures.size(); ++i) {
    FactorFigure& f = figures[i];
    f.p_all = all[i];
    if (!f.sentence.empty()) continue;
    f.sentence = f.p_all < 0.05 ? fmt::format(
                                      "errors {} with it: {} in the lower third, {} in the "
                                      "upper one",
                                      f.rms_um[2] > f.rms_um[0] ? "grow" : "fall",
                                      Micrometres(f.rms_um[0]), Micrometres(f.rms_um[2]))
                                : "no change of errors shown over this range";
  }
  return figures;
}

}  // namespace cutface
