// From faces to parts: order, one value a part, what is missing.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "compare/internal.h"

namespace cutface {
namespace {

using PartName = std::tuple<std::string, std::string, std::string>;  // part, lot, serial

PartName NameOf(const FaceEntry& entry) {
  return {entry.part, entry.sample.lot, entry.sample.serial};
}

std::string SubgroupOf(const FaceEntry& entry, const std::string& by) {
  if (by.empty()) return "";
  if (by == "lot") return entry.sample.lot;
  if (by == "block") return entry.sample.block;
  if (by == "operator") return entry.operator_name;
  if (by == "day") return entry.sample.taken.substr(0, 10);
  const auto level = entry.factors.find(by);
  return level == entry.factors.end() ? "" : level->second;
}

// Which place the angles of a row are taken about.
double CentreOfAngles(const RunRow& row, const std::vector<double>& degrees) {
  if (row.min && row.max) return (*row.min + *row.max) / 2;
  if (row.nominal) return *row.nominal;
  std::vector<double> radians;
  for (const double d : degrees) radians.push_back(d * kPi / 180);
  return SummariseDirections(radians).mean * 180 / kPi;
}

bool IsOutside(const RunRow& row, double value) {
  return (row.min && value < *row.min) || (row.max && value > *row.max);
}

// See RowStudy::wide.
bool IsWide(const RunRow& row, const PartValue& part) {
  if (!part.lo || !part.hi || row.count) return false;
  if (row.min && row.max) return *part.hi - *part.lo > (*row.max - *row.min) / 4;
  if (row.min) return part.value - *part.lo >= std::abs(part.value - *row.min) / 2;
  if (row.max) return *part.hi - part.value >= std::abs(*row.max - part.value) / 2;
  return false;
}

// Parts whose only faces of the plane could not be measured at all.
void AddRejectedParts(const Run& run, const PartOrder& order, RowStudy& study) {
  if (!run.counts.n) return;
  std::set<PartName> seen;
  for (const auto& faces : order.faces)
    seen.insert(NameOf(run.roster.faces[run.faces[faces.front()].entry]));
  for (const FaceEntry& entry : run.roster.faces) {
    if (entry.plane != study.row.plane || !seen.insert(NameOf(entry)).second) continue;
    study.missing.push_back({entry.sample.serial, entry.reason.empty()
                                                      ? std::string(FaceStateName(entry.state))
                                                      : entry.reason});
  }
  study.n = static_cast<int>(study.parts.size());
}

}  // namespace

double Unwrapped(double value, double about) {
  return value - 360 * std::round((value - about) / 360);
}

PartOrder OrderParts(const Run& run, const std::string& plane) {
  PartOrder order;
  std::set<std::string> lots;
  for (const FaceEntry& entry : run.roster.faces) lots.insert(entry.sample.lot);
  struct Group {
    std::vector<std::size_t> faces;
    std::string first;  // time of its first picture; "" unknown
    std::string label;
  };
  std::vector<Group> groups;
  std::map<PartName, std::size_t> known;
  const bool told = run.counts.n.has_value();
  bool timed = true;
  for (std::size_t i = 0; i < run.faces.size(); ++i) {
    const FaceEntry& entry = run.roster.faces[run.faces[i].entry];
    if (entry.plane != plane) continue;
    std::size_t at = groups.size();
    if (told) at = known.emplace(NameOf(entry), groups.size()).first->second;
    if (at == groups.size()) {
      const std::string label = !told             ? entry.image
                                : lots.size() > 1 ? entry.sample.lot + "/" + entry.sample.serial
                                                  : entry.sample.serial;
      groups.push_back({{}, "", label});
    }
    Group& group = groups[at];
    group.faces.push_back(i);
    const std::string& taken = entry.sample.taken;
    // A date alone does not order pictures of one day.
    timed = timed && taken.size() > 10;
    if (group.first.empty() || taken < group.first) group.first = taken;
  }
  if (timed) {
    std::stable_sort(groups.begin(), groups.end(),
                     [](const Group& a, const Group& b) { return a.first < b.first; });
  }
  order.timed = timed && !groups.empty();
  for (Group& group : groups) {
    order.faces.push_back(std::move(group.faces));
    order.labels.push_back(std::move(group.label));
  }
  return order;
}

void CollectParts(const Run& run, std::size_t at, const CompareOptions& options, RowStudy& study) {
  const RunRow& row = run.rows[at];
  study.row = row;
  study.n_unknown = run.counts.n_unknown;
  const std::vector<std::size_t>& of_plane = run.rows_of.at(row.plane);
  const auto column =
      static_cast<std::size_t>(std::find(of_plane.begin(), of_plane.end(), at) - of_plane.begin());
  const PartOrder order = OrderParts(run, row.plane);
  study.timed = order.timed;
  double about = 0;
  if (row.circular) {
    std::vector<double> degrees;
    for (const auto& faces : order.faces) {
      for (const std::size_t f : faces) {
        if (const auto& value = run.faces[f].cells[column].value) degrees.push_back(*value);
      }
    }
    if (!degrees.empty()) about = CentreOfAngles(row, degrees);
  }
  for (std::size_t p = 0; p < order.faces.size(); ++p) {
    PartValue part;
    part.label = order.labels[p];
    part.faces = 0;
    double sum = 0, least = 0, greatest = 0;
    bool failing = false, unproven = false;
    std::string reason;
    const RunCell *low = nullptr, *high = nullptr, *widest = nullptr;
    for (const std::size_t f : order.faces[p]) {
      const RunCell& cell = run.faces[f].cells[column];
      failing = failing || cell.verdict == Verdict::kDoesNotConform;
      unproven = unproven || cell.verdict == Verdict::kNotProven;
      if (!cell.value) {
        if (reason.empty()) reason = cell.reason.empty() ? "not measured" : cell.reason;
        continue;
      }
      const double value = row.circular ? Unwrapped(*cell.value, about) : *cell.value;
      if (low == nullptr || value < least) least = value, low = &cell;
      if (high == nullptr || value > greatest) greatest = value, high = &cell;
      const auto width = [](const RunCell& c) { return c.lo && c.hi ? *c.hi - *c.lo : 0; };
      if (widest == nullptr || width(cell) > width(*widest)) widest = &cell;
      sum += value;
      ++part.faces;
    }
    study.failing += failing ? 1 : 0;
    study.unproven += unproven ? 1 : 0;
    if (part.faces == 0) {
      study.missing.push_back({part.label, reason});
      continue;
    }
    const bool lower_only = row.min && !row.max, upper_only = row.max && !row.min;
    const RunCell* from = lower_only ? low : upper_only || row.count ? high : widest;
    part.value = lower_only ? least : upper_only || row.count ? greatest : sum / part.faces;
    if (from->lo && from->hi) {
      // An interval keeps its place beside the value: a mean of faces, an angle taken elsewhere.
      const double shift = part.value - *from->value;
      part.lo = *from->lo + shift, part.hi = *from->hi + shift;
    }
    part.wide = IsWide(row, part);
    part.outside = IsOutside(row, part.value);
    const FaceEntry& entry = run.roster.faces[run.faces[order.faces[p].front()].entry];
    part.subgroup = SubgroupOf(entry, options.subgroup);
    part.factors = entry.factors;
    study.values += part.faces;
    study.wide += part.wide ? 1 : 0;
    study.outside += part.outside ? 1 : 0;
    study.parts.push_back(std::move(part));
  }
  AddRejectedParts(run, order, study);
}

std::vector<std::vector<double>> SubgroupsOf(const RowStudy& study) {
  std::vector<std::vector<double>> groups;
  std::map<std::string, std::size_t> known;
  for (const PartValue& part : study.parts) {
    if (part.subgroup.empty()) return {};
    const auto [at, fresh] = known.emplace(part.subgroup, groups.size());
    if (fresh) groups.emplace_back();
    groups[at->second].push_back(part.value);
  }
  return groups;
}

}  // namespace cutface
