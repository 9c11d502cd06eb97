// Bias, linearity, stability: deviations from a known value, over its size, over time.
#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <map>

#include "cutface/stats.h"
#include "study/internal.h"

namespace cutface {
namespace {

constexpr double kSecondsADay = 86400;

// Days since 1970 of "YYYY-MM-DD[THH:MM...]"; nullopt when it is no such date.
std::optional<double> DaysOf(const std::string& text) {
  int y = 0, mo = 0, d = 0, h = 0, mi = 0;
  const int read = std::sscanf(text.c_str(), "%4d-%2d-%2dT%2d:%2d", &y, &mo, &d, &h, &mi);
  if (read < 3 || mo < 1 || mo > 12 || d < 1 || d > 31) return std::nullopt;
  // Days of the civil calendar (Hinnant's algorithm, from memory).
  const int year = mo <= 2 ? y - 1 : y;
  const int era = (year >= 0 ? year : year - 399) / 400;
  const int of_era = year - era * 400;
  const int of_year = (153 * (mo + (mo > 2 ? -3 : 9)) + 2) / 5 + d - 1;
  const int days = of_era * 365 + of_era / 4 - of_era / 100 + of_year;
  const double whole = static_cast<double>(era) * 146097 + days - 719468;
  return whole + (h * 3600 + mi * 60) / kSecondsADay;
}

}  // namespace

double TwoTails(double t, double df) {
  const boost::math::students_t distribution(df);
  return 2 * boost::math::cdf(boost::math::complement(distribution, std::abs(t)));
}

double TQuantile(double p, double df) {
  return boost::math::quantile(boost::math::students_t(df), p);
}

LineFigure FitLine(std::span<const double> x, std::span<const double> y) {
  CF_CHECK(x.size() == y.size() && x.size() >= 3);
  LineFigure line;
  line.n = x.size();
  const double mean_x = Mean(x), mean_y = Mean(y), n = static_cast<double>(x.size());
  double xx = 0, xy = 0, yy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mean_x) * (x[i] - mean_x);
    xy += (x[i] - mean_x) * (y[i] - mean_y);
    yy += (y[i] - mean_y) * (y[i] - mean_y);
  }
  CF_CHECK(xx > 0);
  line.slope = xy / xx;
  line.intercept = mean_y - line.slope * mean_x;
  double left = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double off = y[i] - line.intercept - line.slope * x[i];
    left += off * off;
  }
  const double u = std::sqrt(left / (n - 2) / xx);
  const double reach = TQuantile(0.975, n - 2) * u;
  line.slope_lo = line.slope - reach;
  line.slope_hi = line.slope + reach;
  line.p = u > 0 ? TwoTails(line.slope / u, n - 2) : (line.slope == 0 ? 1 : 0);
  line.r_squared = yy > 0 ? std::max(0.0, 1 - left / yy) : 0;
  return line;
}

void StudyBias(SubjectStudy& out) {
  std::vector<double> references, biases;
  for (const StudyReading& reading : out.subject.readings) {
    if (!reading.value || !reading.reference) continue;
    references.push_back(*reading.reference);
    biases.push_back(*reading.value - *reading.reference);
  }
  if (biases.size() < 2) return;
  BiasFigure figure;
  figure.n = biases.size();
  figure.mean = Mean(biases);
  figure.sd = StandardDeviation(biases);
  const double n = static_cast<double>(biases.size());
  const double u = figure.sd / std::sqrt(n);
  const double reach = TQuantile(0.975, n - 1) * u;
  figure.lo = figure.mean - reach;
  figure.hi = figure.mean + reach;
  figure.p = u > 0 ? TwoTails(figure.mean / u, n - 1) : (figure.mean == 0 ? 1 : 0);
  std::vector<double> sizes = references;
  std::sort(sizes.begin(), sizes.end());
  sizes.erase(std::unique(sizes.begin(), sizes.end()), sizes.end());
  if (sizes.size() >= 3 && biases.size() > 3) {
    figure.linearity = FitLine(references, biases);
  } else {
    figure.linearity_reason = "needs reference values of three sizes or more";
  }
  out.bias = figure;
}

void StudyStability(SubjectStudy& out) {
  std::map<std::string, std::vector<std::pair<double, double>>> pieces;
  for (const StudyReading& reading : out.subject.readings) {
    const auto days = DaysOf(reading.taken);
    if (reading.value && days) pieces[reading.piece].emplace_back(*days, *reading.value);
  }
  // Both times and values less their piece's mean: pieces that were measured at other times then
  // say nothing about time.
  std::vector<double> times, offs;
  for (const auto& [piece, values] : pieces) {
    double mean_time = 0, mean = 0;
    const double n = static_cast<double>(values.size());
    for (const auto& [time, value] : values) mean_time += time / n, mean += value / n;
    for (const auto& [time, value] : values) {
      if (values.size() < 2) continue;
      times.push_back(time - mean_time);
      offs.push_back(value - mean);
    }
  }
  const auto [first, last] = std::minmax_element(times.begin(), times.end());
  if (times.size() < 4 || *last - *first < 1) {
    out.stability_reason = "needs times of the readings, over a day or more";
    return;
  }
  out.stability = FitLine(times, offs);
}

}  // namespace cutface
