// The same quantity along the part: stations, gaps, slopes.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "compare/internal.h"

namespace cutface {
namespace {

struct Along {
  StationTrend trend;
  std::map<std::string, std::map<double, std::pair<double, int>>> sums;  // part, station
  std::map<std::string, std::set<double>> without;                       // seen, no value
  RunRow row;
};

std::string TrendSentence(const StationTrend& trend, const RunRow& row) {
  const std::string along =
      fmt::format("{} stations from {:g} to {:g} mm", trend.stations_mm.size(),
                  trend.stations_mm.front(), trend.stations_mm.back());
  if (!trend.slopes || !trend.slope_interval)
    return fmt::format("{}: too few parts have two stations to tell a trend.", along);
  const double span = trend.stations_mm.back() - trend.stations_mm.front();
  const double change = trend.slopes->mean * span;
  const bool told = trend.slope_interval->lo > 0 || trend.slope_interval->hi < 0;
  return fmt::format(
      "{}: {} by {} over {:g} mm ({} to {} at 95 %, {}); between stations nothing is known.", along,
      !told        ? "no trend told; change"
      : change > 0 ? "rises"
                   : "falls",
      RowFigure(told ? std::abs(change) : change, row), span,
      RowFigure(trend.slope_interval->lo * span, row),
      RowFigure(trend.slope_interval->hi * span, row),
      CountedWord(trend.slopes->n, "part", "parts"));
}

void Finish(Along& along) {
  StationTrend& t = along.trend;
  std::set<double> stations;
  for (const auto& [part, by] : along.sums) {
    for (const auto& [station, sum] : by) stations.insert(station);
  }
  for (const auto& [part, by] : along.without) stations.insert(by.begin(), by.end());
  t.stations_mm.assign(stations.begin(), stations.end());
  std::map<double, std::vector<double>> at;
  std::vector<double> slopes;
  for (const auto& [part, by] : along.sums) {
    const std::size_t no = t.labels.size();
    t.labels.push_back(part);
    std::vector<double> x, y;
    for (const double station : t.stations_mm) {
      const auto sum = by.find(station);
      if (sum == by.end()) {
        t.gaps.emplace_back(no, station);
        continue;
      }
      const double value = sum->second.first / sum->second.second;
      t.points.push_back({no, station, value});
      at[station].push_back(value);
      x.push_back(station), y.push_back(value);
    }
    if (x.size() == 2) slopes.push_back((y[1] - y[0]) / (x[1] - x[0]));
    if (const auto line = FitTrend(x, y)) slopes.push_back(line->slope);
  }
  for (const double station : t.stations_mm) {
    const auto values = at.find(station);
    t.at.push_back(values == at.end() ? SampleSummary{} : Summarise(values->second));
  }
  if (slopes.size() >= 2) {
    t.slopes = Summarise(slopes);
    t.slope_interval = MeanInterval(t.slopes->mean, *t.slopes->sd, t.slopes->n);
  }
  t.sentence = TrendSentence(t, along.row);
}

}  // namespace

std::vector<StationTrend> TrendsOf(const Run& run) {
  std::vector<Along> all;
  if (!run.counts.n) return {};  // which faces are of one part is not known
  for (const auto& [plane, rows] : run.rows_of) {
    const PartOrder order = OrderParts(run, plane);
    for (std::size_t column = 0; column < rows.size(); ++column) {
      const RunRow& row = run.rows[rows[column]];
      if (row.count || row.circular) continue;
      auto along = std::find_if(all.begin(), all.end(), [&](const Along& a) {
        return a.row.of == row.of && a.row.quantity == row.quantity && a.row.unit == row.unit &&
               a.row.min == row.min && a.row.max == row.max && a.row.nominal == row.nominal;
      });
      if (along == all.end()) {
        all.emplace_back();
        along = std::prev(all.end());
        along->row = row;
        along->trend.of = row.of, along->trend.quantity = row.quantity;
        along->trend.subject = row.subject, along->trend.unit = row.unit;
      }
      for (std::size_t p = 0; p < order.faces.size(); ++p) {
        for (const std::size_t f : order.faces[p]) {
          const auto station = run.roster.faces[run.faces[f].entry].sample.station_mm;
          if (!station) continue;
          const RunCell& cell = run.faces[f].cells[column];
          if (!cell.value) {
            along->without[order.labels[p]].insert(*station);
            continue;
          }
          auto& sum = along->sums[order.labels[p]][*station];
          sum.first += *cell.value;
          ++sum.second;
        }
      }
    }
  }
  std::vector<StationTrend> trends;
  for (Along& along : all) {
    std::set<double> stations;
    for (const auto& [part, by] : along.sums) {
      for (const auto& [station, sum] : by) stations.insert(station);
    }
    if (stations.size() < 2) continue;
    Finish(along);
    trends.push_back(std::move(along.trend));
  }
  return trends;
}

}  // namespace cutface
