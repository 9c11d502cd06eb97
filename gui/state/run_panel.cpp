#include "gui/state/run_panel.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <limits>
#include <map>

#include "cutface/picture.h"
#include "cutface/quantity.h"

namespace cutface::window {
namespace {

constexpr double kRoomAround = 0.15;  // of the span, above and below
constexpr std::size_t kMostWorst = 8;

// From bad to good, as the section takes the worst of its rows.
int Rank(Verdict v) {
  switch (v) {
    case Verdict::kDoesNotConform:
      return 0;
    case Verdict::kNotMeasured:
      return 1;
    case Verdict::kNotProven:
      return 2;
    case Verdict::kConforms:
      return 3;
    default:
      return 4;
  }
}

const CharacteristicResult* RowOfFace(const RunFace& face, const std::string& no) {
  for (const CharacteristicResult& row : face.rows)
    if (row.no == no) return &row;
  return nullptr;
}

bool SameQuestion(const CharacteristicResult& a, const CharacteristicResult& b) {
  return a.of == b.of && a.quantity == b.quantity && a.unit == b.unit && !a.quantity.empty();
}

std::optional<double> StationOf(const RunFace& face, const RunData& run) {
  if (face.entry.sample.station_mm) return face.entry.sample.station_mm;
  const SectionDesign* plane = run.Plane(face.entry.part, face.entry.plane);
  return plane != nullptr ? plane->station_mm : std::nullopt;
}

std::string ValueText(const CharacteristicResult& row) {
  const std::string interval = IntervalText(row);
  return ActualText(row) + (interval.empty() ? "" : ", " + interval);
}

class RunBuilder {
 public:
  RunBuilder(const RunData& run, const RunChoice& choice) : run_(run), choice_(choice) {}

  RunPanel Build() {
    p_.title = std::filesystem::path(run_.folder).filename().string();
    if (p_.title.empty()) p_.title = run_.folder;
    p_.counts = run_.counts;
    for (const RunFace& face : run_.faces)
      if (std::find(p_.planes.begin(), p_.planes.end(), face.entry.plane) == p_.planes.end())
        p_.planes.push_back(face.entry.plane);
    const bool known =
        std::find(p_.planes.begin(), p_.planes.end(), choice_.plane) != p_.planes.end();
    p_.plane = known || p_.planes.empty() ? choice_.plane : p_.planes.front();
    Columns();
    Lines();
    if (question_ != nullptr) Values();
    Edges();
    WorstOnes();
    AddStudy(run_, choice_, p_);
    return std::move(p_);
  }

 private:
  bool InPlane(const RunFace& face) const { return face.entry.plane == p_.plane; }

  void Columns() {
    for (const RunFace& face : run_.faces) {
      if (!InPlane(face)) continue;
      for (const CharacteristicResult& row : face.rows) {
        if (row.verdict == Verdict::kElsewhere) continue;
        const bool there = std::any_of(p_.columns.begin(), p_.columns.end(),
                                       [&](const auto& c) { return c.no == row.no; });
        if (there) continue;
        p_.columns.push_back({row.no, SubjectText(row), RequirementText(row)});
        if (row.no != choice_.no) continue;
        question_ = &row;
        p_.no = row.no;
        p_.subject = SubjectText(row);
        p_.requirement = RequirementText(row);
      }
    }
  }

  void Lines() {
    for (std::size_t i = 0; i < run_.faces.size(); ++i) {
      const RunFace& face = run_.faces[i];
      if (!InPlane(face)) continue;
      RunPanel::Line line;
      line.face = static_cast<int>(i);
      line.name = face.Name();
      line.chosen = line.face == choice_.face;
      line.trouble = face.trouble;
      const bool measured = face.entry.state == FaceState::kMeasured && !face.path.empty();
      line.word = measured ? face.entry.verdict : Verdict::kNotMeasured;
      line.verdict =
          std::string(measured ? VerdictName(face.entry.verdict) : FaceStateName(face.entry.state));
      if (face.entry.repeat != RepeatKind::kNone) line.about = RepeatKindName(face.entry.repeat);
      for (const RunPanel::Column& column : p_.columns) {
        const CharacteristicResult* row = RowOfFace(face, column.no);
        line.cells.push_back(row != nullptr ? std::optional(row->verdict) : std::nullopt);
      }
      p_.lines.push_back(std::move(line));
    }
  }

  // Values on one scale that holds the limits and everything measured.
  void Values() {
    p_.by_station = choice_.by_station;
    std::vector<std::pair<int, const CharacteristicResult*>> rows;
    for (std::size_t i = 0; i < run_.faces.size(); ++i) {
      const RunFace& face = run_.faces[i];
      if (!p_.by_station && !InPlane(face)) continue;
      for (const CharacteristicResult& row : face.rows) {
        const bool same = p_.by_station ? SameQuestion(row, *question_)
                                        : row.no == question_->no && InPlane(face);
        if (same) rows.emplace_back(static_cast<int>(i), &row);
      }
    }
    double least = std::numeric_limits<double>::infinity(), greatest = -least;
    const auto hold = [&](const std::optional<double>& v) {
      if (!v) return;
      least = std::min(least, *v);
      greatest = std::max(greatest, *v);
    };
    for (const auto& v : {question_->min, question_->max}) hold(v);
    const RowStudy* study =
        p_.by_station ? nullptr : StudyOf(ComparisonOf(run_, p_.plane), p_.plane, question_->no);
    const ToleranceBound* bound = study != nullptr && study->bound ? &*study->bound : nullptr;
    if (bound != nullptr) {
      hold(bound->lower);
      hold(bound->upper);
    }
    for (const auto& [face, row] : rows)
      for (const auto& v : {row->actual, row->lo, row->hi}) hold(v);
    if (!(greatest >= least)) return LeaveOut(rows);
    const double span = std::max(greatest - least, 1e-9 * std::max(1.0, std::abs(greatest)));
    const double from = least - kRoomAround * span, length = (1 + 2 * kRoomAround) * span;
    const auto y = [&](double v) { return static_cast<float>((v - from) / length); };
    const auto limit = [&](const std::optional<double>& v, std::optional<float>& place,
                           std::string& text, const char* word) {
      if (!v) return;
      place = y(*v);
      text = word + FormatRowValue(*v, question_->unit);
    };
    limit(question_->min, p_.min, p_.min_text, "at least ");
    limit(question_->max, p_.max, p_.max_text, "at most ");
    if (question_->nominal && *question_->nominal >= from && *question_->nominal <= from + length)
      limit(question_->nominal, p_.nominal, p_.nominal_text, "nominal ");
    if (bound != nullptr) {
      p_.bound_text = fmt::format("{:g} % of such parts lie {}, with {:g} % confidence",
                                  100 * bound->wish.coverage,
                                  bound->lower && bound->upper ? "between"
                                  : bound->lower               ? "above"
                                                               : "below",
                                  100 * bound->wish.confidence);
      if (bound->lower) p_.bound_low = y(*bound->lower);
      if (bound->upper) p_.bound_high = y(*bound->upper);
    }
    for (const auto& [index, row] : rows) {
      const RunFace& face = run_.faces[static_cast<std::size_t>(index)];
      if (!row->actual || (p_.by_station && !StationOf(face, run_))) continue;
      RunPanel::Value value;
      value.face = index;
      value.y = y(*row->actual);
      value.lo = row->lo ? y(*row->lo) : value.y;
      value.hi = row->hi ? y(*row->hi) : value.y;
      value.word = row->verdict;
      value.name = face.Name();
      value.text = face.Name() + ": " + ValueText(*row);
      value.chosen = index == choice_.face;
      p_.values.push_back(std::move(value));
    }
    p_.by_station ? PlaceByStation() : PlaceInOrder();
    LeaveOut(rows);
  }

  void PlaceInOrder() {
    const float n = static_cast<float>(p_.values.size());
    for (std::size_t i = 0; i < p_.values.size(); ++i)
      p_.values[i].x = (static_cast<float>(i) + 0.5f) / n;
  }

  void PlaceByStation() {
    double least = std::numeric_limits<double>::infinity(), greatest = -least;
    std::map<double, std::string> stations;
    std::vector<double> at;
    for (const RunPanel::Value& value : p_.values) {
      at.push_back(*StationOf(run_.faces[static_cast<std::size_t>(value.face)], run_));
      least = std::min(least, at.back());
      greatest = std::max(greatest, at.back());
      stations[at.back()] = fmt::format("{:g} mm", at.back());
    }
    const auto x = [&](double station) {
      return greatest > least
                 ? static_cast<float>(0.06 + 0.88 * (station - least) / (greatest - least))
                 : 0.5f;
    };
    std::map<std::string, std::vector<int>> parts;
    for (std::size_t i = 0; i < p_.values.size(); ++i) {
      p_.values[i].x = x(at[i]);
      const FaceEntry& e = run_.faces[static_cast<std::size_t>(p_.values[i].face)].entry;
      if (!e.sample.serial.empty())
        parts[e.part + "/" + e.sample.lot + "/" + e.sample.serial].push_back(static_cast<int>(i));
    }
    for (const auto& [station, text] : stations) p_.stations.push_back({x(station), text});
    for (auto& [part, line] : parts) {
      std::stable_sort(line.begin(), line.end(), [&](int a, int b) {
        return at[static_cast<std::size_t>(a)] < at[static_cast<std::size_t>(b)];
      });
      if (line.size() > 1) p_.trends.push_back(line);
    }
  }

  void LeaveOut(const std::vector<std::pair<int, const CharacteristicResult*>>& rows) {
    for (const auto& [index, row] : rows) {
      const RunFace& face = run_.faces[static_cast<std::size_t>(index)];
      if (!row->actual)
        p_.left_out.push_back(face.Name() + ": " + std::string(VerdictName(row->verdict)) +
                              (row->reason.empty() ? "" : ", " + row->reason));
      else if (p_.by_station && !StationOf(face, run_))
        p_.left_out.push_back(face.Name() + ": no station");
    }
    if (p_.by_station) return;
    for (const RunPanel::Line& line : p_.lines)
      if (!line.trouble.empty()) p_.left_out.push_back(line.name + ": " + line.trouble);
  }

  // Every edge of the plane and the drawing's, in one square.
  void Edges() {
    const SectionDesign* plane = nullptr;
    std::vector<std::pair<RunPanel::Edge, const ContourUm*>> all;
    for (std::size_t i = 0; i < run_.faces.size(); ++i) {
      const RunFace& face = run_.faces[i];
      if (!InPlane(face)) continue;
      if (plane == nullptr) plane = run_.Plane(face.entry.part, face.entry.plane);
      for (const ContourUm& edge : face.edges) {
        RunPanel::Edge one;
        one.face = static_cast<int>(i);
        one.word = face.entry.verdict;
        one.chosen = one.face == choice_.face;
        all.emplace_back(one, &edge);
      }
    }
    if (plane != nullptr) {
      p_.has_nominal = true;
      all.emplace_back(RunPanel::Edge{}, &plane->outline.contour);
      for (const LumenDesign& lumen : plane->lumens)
        all.emplace_back(RunPanel::Edge{}, &lumen.shape.contour);
    }
    double reach = 0;
    for (const auto& [edge, contour] : all)
      for (const PointUm p : *contour) reach = std::max({reach, std::abs(p.x), std::abs(p.y)});
    if (!(reach > 0)) return;
    for (auto& [edge, contour] : all) {
      for (const PointUm p : *contour)
        edge.points.emplace_back(static_cast<float>(0.5 + 0.48 * p.x / reach),
                                 static_cast<float>(0.5 + 0.48 * p.y / reach));
      p_.edges.push_back(std::move(edge));
    }
  }

  void WorstOnes() {
    struct Case {
      int face;
      const CharacteristicResult* row;
    };
    std::vector<Case> cases;
    for (std::size_t i = 0; i < run_.faces.size(); ++i) {
      if (!InPlane(run_.faces[i])) continue;
      for (const CharacteristicResult& row : run_.faces[i].rows) {
        if (Rank(row.verdict) > 3 || (!p_.no.empty() && row.no != p_.no)) continue;
        cases.push_back({static_cast<int>(i), &row});
      }
    }
    // By verdict, then by the probability that judging gave.
    std::stable_sort(cases.begin(), cases.end(), [](const Case& a, const Case& b) {
      if (Rank(a.row->verdict) != Rank(b.row->verdict))
        return Rank(a.row->verdict) < Rank(b.row->verdict);
      return a.row->p_conform.value_or(0) < b.row->p_conform.value_or(0);
    });
    for (const Case& c : cases) {
      if (p_.worst.size() == kMostWorst) break;
      RunPanel::Worst worst;
      worst.face = c.face;
      worst.no = c.row->no;
      worst.name = run_.faces[static_cast<std::size_t>(c.face)].Name();
      worst.subject = SubjectText(*c.row);
      worst.text = c.row->actual ? ValueText(*c.row) : c.row->reason;
      worst.word = c.row->verdict;
      worst.verdict = VerdictName(c.row->verdict);
      p_.worst.push_back(std::move(worst));
    }
  }

  const RunData& run_;
  const RunChoice& choice_;
  const CharacteristicResult* question_ = nullptr;
  RunPanel p_;
};

}  // namespace

RunPanel BuildRun(const RunData& run, const RunChoice& choice) {
  return RunBuilder(run, choice).Build();
}

}  // namespace cutface::window
