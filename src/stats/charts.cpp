// Control charts, spread within subgroups, trend.
#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <cmath>

#include "cutface/base.h"
#include "cutface/stats_run.h"

namespace cutface {
namespace {

constexpr double kFarOut = 8.5;  // beyond it lies 1e-17 of a normal distribution

using Quadrature = boost::math::quadrature::gauss_kronrod<double, 61>;

double MeanRange(double n) {
  const auto f = [&](double x) {
    return 1 - std::pow(NormalCdf(-x), n) - std::pow(NormalCdf(x), n);
  };
  return 2 * Quadrature::integrate(f, 0.0, kFarOut, 8, 1e-13);
}

// E[R^2] = 2 int int_{x<y} 1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n (Tippett 1925).
double MeanSquaredRange(double n) {
  const auto outer = [&](double y) {
    const double below_y = NormalCdf(y);
    const auto inner = [&](double x) {
      const double below_x = NormalCdf(x);
      return 1 - std::pow(below_y, n) - std::pow(1 - below_x, n) +
             std::pow(std::max(0.0, below_y - below_x), n);
    };
    return Quadrature::integrate(inner, -kFarOut, y, 4, 1e-11);
  };
  return 2 * Quadrature::integrate(outer, -kFarOut, kFarOut, 4, 1e-11);
}

}  // namespace

double ChartConstants::D3() const { return std::max(0.0, 1 - 3 * d3 / d2); }
double ChartConstants::D4() const { return 1 + 3 * d3 / d2; }

ChartConstants ChartConstantsOf(std::size_t count) {
  CF_CHECK(count >= 2 && count <= 100);
  const auto n = static_cast<double>(count);
  ChartConstants c;
  c.d2 = MeanRange(n);
  c.d3 = std::sqrt(MeanSquaredRange(n) - c.d2 * c.d2);
  c.c4 = std::sqrt(2 / (n - 1)) * std::exp(std::lgamma(n / 2) - std::lgamma((n - 1) / 2));
  return c;
}

std::optional<WithinSpread> PooledSpread(const std::vector<std::vector<double>>& subgroups) {
  WithinSpread within;
  double sum = 0;
  for (const std::vector<double>& group : subgroups) {
    if (group.size() < 2) continue;
    const double sd = StandardDeviation(group);
    const auto dof = static_cast<double>(group.size() - 1);
    sum += dof * sd * sd;
    within.degrees_of_freedom += dof;
    ++within.subgroups;
  }
  if (within.subgroups == 0) return std::nullopt;
  within.sd = std::sqrt(sum / within.degrees_of_freedom);
  return within;
}

std::optional<double> SpreadFromRanges(const std::vector<std::vector<double>>& subgroups) {
  if (subgroups.empty() || subgroups.front().size() < 2) return std::nullopt;
  double sum = 0;
  for (const std::vector<double>& group : subgroups) {
    if (group.size() != subgroups.front().size()) return std::nullopt;
    const auto [least, greatest] = std::minmax_element(group.begin(), group.end());
    sum += *greatest - *least;
  }
  const double mean_range = sum / static_cast<double>(subgroups.size());
  return mean_range / ChartConstantsOf(subgroups.front().size()).d2;
}

IndividualsChart MakeIndividualsChart(std::span<const double> values) {
  CF_CHECK(values.size() >= 2);
  // For two values in closed form: d2 = 2 / sqrt(pi), d3 = sqrt(2 - 4 / pi).
  const ChartConstants two{2 / std::sqrt(kPi), std::sqrt(2 - 4 / kPi), std::sqrt(2 / kPi)};
  constexpr int kRun = 9;
  IndividualsChart chart;
  chart.centre = Mean(values);
  for (std::size_t i = 1; i < values.size(); ++i)
    chart.ranges.push_back(std::abs(values[i] - values[i - 1]));
  chart.mean_range = Mean(chart.ranges);
  chart.lower = chart.centre - 3 * chart.mean_range / two.d2;
  chart.upper = chart.centre + 3 * chart.mean_range / two.d2;
  chart.range_upper = two.D4() * chart.mean_range;
  int run = 0, side = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (values[i] < chart.lower || values[i] > chart.upper) chart.beyond.push_back(i);
    const int now = values[i] > chart.centre ? 1 : values[i] < chart.centre ? -1 : 0;
    run = now != 0 && now == side ? run + 1 : now != 0 ? 1 : 0;
    side = now;
    const bool ends = i + 1 == values.size() || (values[i + 1] > chart.centre   ? 1
                                                 : values[i + 1] < chart.centre ? -1
                                                                                : 0) != side;
    if (run >= kRun && ends) chart.one_side.push_back(i);
  }
  for (std::size_t i = 0; i < chart.ranges.size(); ++i) {
    if (chart.ranges[i] > chart.range_upper) chart.range_beyond.push_back(i);
  }
  return chart;
}

std::optional<LineTrend> FitTrend(std::span<const double> x, std::span<const double> values) {
  CF_CHECK(x.size() == values.size());
  if (x.size() < 3) return std::nullopt;
  const double mean_x = Mean(x), mean_y = Mean(values);
  double xx = 0, xy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mean_x) * (x[i] - mean_x);
    xy += (x[i] - mean_x) * (values[i] - mean_y);
  }
  if (!(xx > 0)) return std::nullopt;
  LineTrend trend;
  trend.slope = xy / xx;
  trend.intercept = mean_y - trend.slope * mean_x;
  double rest = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double r = values[i] - trend.intercept - trend.slope * x[i];
    rest += r * r;
  }
  const auto dof = static_cast<double>(x.size() - 2);
  const double error = std::sqrt(rest / dof / xx);
  const double half = StudentQuantile(0.975, dof) * error;
  trend.slope_interval = {trend.slope - half, trend.slope + half};
  const double t = std::abs(trend.slope) / error;
  trend.p = error > 0 && std::isfinite(t)
                ? 2 * boost::math::cdf(boost::math::complement(boost::math::students_t(dof), t))
                : (trend.slope == 0 ? 1 : 0);
  return trend;
}

}  // namespace cutface
