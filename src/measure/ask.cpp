#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>

#include "cutface/asked.h"
#include "cutface/quantity.h"
#include "measure/draws.h"
#include "measure/face.h"
#include "measure/interval.h"
#include "measure/stretch.h"

namespace cutface {
namespace {

using namespace measure;

constexpr std::array<std::string_view, 6> kAskedWords = {
    "radius", "arc_length", "distance", "thickness", "angle", "centre_distance"};
constexpr double kStraight = 0.03;     // departure of a line's length
constexpr double kRadiusKnown = 0.25;  // greatest u of a radius, relative
constexpr double kFaced = 0.5;         // least share of the length
constexpr double kSeenShare = 0.5;     // least share of places on edges that were seen
constexpr int kRippleLuck = 12;
constexpr double kAskedBiasDoubt = 0.15;  // as for the other least distances (measure.cpp)

bool OnSeenEdge(VertexState state) {
  return state == VertexState::kMeasured || state == VertexState::kEdited;
}

Measurement NotMeasured(const Measurement& m, std::string reason) {
  Measurement none;
  none.of = m.of;
  none.quantity = m.quantity;
  none.unit = m.unit;
  none.state = Measurement::State::kNotMeasured;
  none.reason = std::move(reason);
  return none;
}

// One asked stretch: vertices of its feature in order.
struct Pick {
  int feature = -1;
  std::vector<std::uint32_t> vertices;  // the first again at the end for a whole edge
  bool closed = false;
  double seen = 1;  // share
};

std::uint32_t NearestVertex(const ContourUm& contour, PointUm p) {
  const auto nearer = [&](PointUm a, PointUm b) { return Distance(a, p) < Distance(b, p); };
  return static_cast<std::uint32_t>(std::min_element(contour.begin(), contour.end(), nearer) -
                                    contour.begin());
}

Result<Pick> PickOf(const Face& face, const AskedEdge& edge) {
  Pick pick;
  for (std::size_t f = 0; f < face.features.size(); ++f)
    if (face.features[f].name == edge.feature) pick.feature = static_cast<int>(f);
  if (pick.feature < 0)
    return Fail(Code::kNotFound, fmt::format("edge \"{}\": not on this face", edge.feature));
  const Feature& feature = face.features[static_cast<std::size_t>(pick.feature)];
  if (!feature.Measurable())
    return Fail(Code::kNotFound, fmt::format("edge \"{}\": {}", edge.feature, feature.missing));
  const auto n = static_cast<std::uint32_t>(feature.full.size());
  std::uint32_t first = 0, count = n;
  pick.closed = edge.ends.empty();
  if (!pick.closed) {
    if (edge.ends.size() != 2)
      return Fail(Code::kUsage, fmt::format("edge \"{}\": a stretch has two ends", edge.feature));
    std::uint32_t a = NearestVertex(feature.full, edge.ends[0]);
    std::uint32_t b = NearestVertex(feature.full, edge.ends[1]);
    const auto along = [&](std::uint32_t from, std::uint32_t to) {
      const double way = feature.arc[to] - feature.arc[from];
      return way < 0 ? way + feature.perimeter : way;
    };
    if ((along(a, b) > along(b, a)) != edge.longer) std::swap(a, b);
    first = a;
    count = (b + n - a) % n;
    if (count < 2)
      return Fail(Code::kUsage, fmt::format("edge \"{}\": both ends of the stretch are at one "
                                            "place; choose ends further apart",
                                            edge.feature));
  }
  std::size_t seen = 0;
  for (std::uint32_t k = 0; k <= count; ++k) {
    pick.vertices.push_back((first + k) % n);
    if (OnSeenEdge(feature.states[pick.vertices.back()])) ++seen;
  }
  pick.seen = static_cast<double>(seen) / static_cast<double>(pick.vertices.size());
  return pick;
}

// The figures of one set of contours; what cannot be told is empty.
struct Values {
  std::map<std::string_view, double> of;
};

class Asker {
 public:
  Asker(const Section& section, const Scale& scale, const MeasureOptions& options)
      : section_(section), scale_(scale), options_(options), face_(PrepareFace(section)) {}

  Status Take(std::span<const AskedEdge> edges) {
    for (const AskedEdge& edge : edges) {
      auto pick = PickOf(face_, edge);
      if (!pick) return tl::unexpected(pick.error());
      picks_.push_back(std::move(*pick));
    }
    if (picks_.size() == 2 && picks_[0].feature == picks_[1].feature &&
        picks_[0].vertices == picks_[1].vertices)
      return Fail(Code::kUsage, "the same stretch twice; choose another one");
    SetUsed();
    for (const Pick& pick : picks_) full_.push_back(LineOf(pick, nullptr));
    if (picks_.size() == 2) {
      facing_ = FacingOf(full_[0], full_[1]);
      back_ = FacingOf(full_[1], full_[0]);
      least_ = FindLeast(full_, facing_, back_);
    }
    return {};
  }

  std::vector<Measurement> Answer(std::span<const AskedEdge> edges) {
    const Values raw = Evaluate(full_, true);
    DrawAll();
    std::vector<Measurement> out;
    for (const std::string_view word : kAskedWords) {
      if (!Applies(word)) continue;
      Measurement m;
      for (const AskedEdge& edge : edges) m.of.push_back(edge.feature);
      m.quantity = word;
      const QuantityRow* row = FindQuantity(word, QuantityOf::kAsked);
      CF_CHECK(row != nullptr);
      m.unit = row->unit;
      std::string refusal = Refusal(word, raw);
      if (refusal.empty()) {
        m.raw = raw.of.at(word);
        m.at = PlacesOf(word);
        SetUncertainty(*row, m);
        if (word == "radius" && m.u > kRadiusKnown * m.value)
          refusal = "the stretch is too short or too straight to tell a radius";
        Grade(word, m);
      }
      if (!refusal.empty()) {
        m = NotMeasured(m, refusal);
      }
      out.push_back(std::move(m));
    }
    return out;
  }

 private:
  const Feature& FeatureOf(const Pick& pick) const {
    return face_.features[static_cast<std::size_t>(pick.feature)];
  }

  // Draws move the asked edges and nothing else; of those every vertex, because the draws take the
  // mean spacing of what moves for that of the contour.
  void SetUsed() {
    for (Feature& feature : face_.features) feature.used.clear();
    for (Pick& pick : picks_) {
      auto& used = face_.features[static_cast<std::size_t>(pick.feature)].used;
      used.resize(FeatureOf(pick).full.size());
      std::iota(used.begin(), used.end(), 0u);
    }
  }

  // As traced, or as drawn.
  ContourUm LineOf(const Pick& pick, const std::vector<ContourUm>* moved) const {
    ContourUm line;
    line.reserve(pick.vertices.size());
    for (std::size_t k = 0; k < pick.vertices.size(); ++k)
      line.push_back(moved != nullptr
                         ? (*moved)[static_cast<std::size_t>(pick.feature)][pick.vertices[k]]
                         : FeatureOf(pick).full[pick.vertices[k]]);
    return line;
  }
  // Places of a line on edges that were seen, each once.
  ContourUm SeenOf(const Pick& pick, const ContourUm& line) const {
    ContourUm seen;
    for (std::size_t k = 0; k + (pick.closed ? 1 : 0) < line.size(); ++k)
      if (OnSeenEdge(FeatureOf(pick).states[pick.vertices[k]])) seen.push_back(line[k]);
    return seen;
  }

  struct Least {
    double distance = std::numeric_limits<double>::infinity();
    PointUm on[2];
    std::uint32_t vertex[2] = {0, 0};  // positions in the lines
  };
  static Least FindLeast(const std::vector<ContourUm>& lines, const std::vector<Facing>& facing,
                         const std::vector<Facing>& back) {
    Least least;
    for (int side = 0; side < 2; ++side) {
      const std::vector<Facing>& from = side == 0 ? facing : back;
      const ContourUm& line = lines[static_cast<std::size_t>(side)];
      for (std::size_t i = 0; i < from.size(); ++i) {
        if (!(from[i].distance < least.distance)) continue;
        least.distance = from[i].distance;
        least.on[side] = line[i];
        least.on[1 - side] = from[i].on_other;
        least.vertex[side] = static_cast<std::uint32_t>(i);
        least.vertex[1 - side] = static_cast<std::uint32_t>(from[i].edge);
      }
    }
    return least;
  }

  Values Evaluate(const std::vector<ContourUm>& lines, bool traced) {
    Values out;
    std::vector<std::optional<Circle<FrameUm>>> circles;
    for (std::size_t k = 0; k < lines.size(); ++k) {
      const ContourUm seen = SeenOf(picks_[k], lines[k]);
      std::optional<Circle<FrameUm>> circle;
      if (seen.size() >= 5 && (traced || circles_[k])) {
        const auto start = traced ? std::nullopt : circles_[k];
        if (auto fit = FitCircle<FrameUm>(std::span<const PointUm>(seen), start)) circle = *fit;
      }
      circles.push_back(circle);
      if (traced) {
        lines_.push_back(seen.size() >= 3 ? FitLine(seen) : FittedLine{});
        circles_.push_back(circle);
      }
    }
    if (lines.size() == 1) {
      if (circles[0]) out.of["radius"] = circles[0]->radius;
      out.of["arc_length"] = LineLength(lines[0]);
      return out;
    }
    if (circles[0] && circles[1])
      out.of["centre_distance"] = Distance(circles[0]->centre, circles[1]->centre);
    const ContourUm one = SeenOf(picks_[0], lines[0]), two = SeenOf(picks_[1], lines[1]);
    if (one.size() >= 3 && two.size() >= 3) {
      const double cosine = std::abs(Dot(FitLine(one).direction, FitLine(two).direction));
      out.of["angle"] = std::acos(std::min(1.0, cosine)) * 180 / std::numbers::pi;
    }
    if (traced) {
      out.of["distance"] = least_.distance;
      if (const auto mean = MeanThickness(lines[0], facing_, &faced_)) out.of["thickness"] = *mean;
      return out;
    }
    const auto follow = [](const ContourUm& from, const ContourUm& to,
                           const std::vector<Facing>& hints) {
      std::vector<Facing> now = hints;
      for (std::size_t i = 0; i < from.size(); ++i) {
        now[i] = FacingNear(from[i], to, hints[i].edge);
        now[i].within = hints[i].within;  // the same places count in every draw
      }
      return now;
    };
    const auto facing = follow(lines[0], lines[1], facing_);
    out.of["distance"] = FindLeast(lines, facing, follow(lines[1], lines[0], back_)).distance;
    if (const auto mean = MeanThickness(lines[0], facing)) out.of["thickness"] = *mean;
    return out;
  }

  bool Applies(std::string_view word) const {
    const bool pair = picks_.size() == 2;
    if (word == "radius" || word == "arc_length") return !pair;
    if (word == "angle") return pair && !picks_[0].closed && !picks_[1].closed;
    return pair;
  }

  std::string Refusal(std::string_view word, const Values& raw) const {
    for (const Pick& pick : picks_)
      if (pick.seen < kSeenShare)
        return "more than half of " + FeatureOf(pick).name + " was not seen here";
    if (word == "distance") {
      for (std::size_t k = 0; k < 2; ++k)
        if (!OnSeenEdge(FeatureOf(picks_[k]).states[picks_[k].vertices[least_.vertex[k]]]))
          return "the least distance ends where the edge of " + FeatureOf(picks_[k]).name +
                 " was not seen";
    }
    if (word == "angle") {
      for (std::size_t k = 0; k < 2; ++k)
        if (lines_[k].departure > kStraight * lines_[k].length)
          return fmt::format(
              "the stretch of {} is not straight: it departs by {:.1f} um over {:.0f}",
              FeatureOf(picks_[k]).name, lines_[k].departure, lines_[k].length);
    }
    if (word == "thickness" && faced_ < kFaced)
      return "less than half of the first stretch faces the second";
    if (raw.of.count(word) == 0) return "the stretch is too straight or too short for a circle";
    return "";
  }

  std::vector<PointUm> PlacesOf(std::string_view word) const {
    const auto middle = [&](std::size_t k) { return full_[k][full_[k].size() / 2]; };
    if (word == "radius") return {circles_[0]->centre, middle(0)};
    if (word == "distance") return {least_.on[0], least_.on[1]};
    if (word == "centre_distance") return {circles_[0]->centre, circles_[1]->centre};
    if (word == "angle") return {middle(0), middle(1)};
    if (word == "thickness") {
      std::size_t i = full_[0].size() / 2;
      for (std::size_t k = 0; k < facing_.size() && !facing_[i].within; ++k) i = k;
      return {full_[0][i], facing_[i].on_other};
    }
    return {full_[0].front(), full_[0].back()};
  }

  void DrawAll() {
    if (options_.draws <= 0) return;
    std::uint64_t seed = options_.seed;
    for (const ContourUm& line : full_)
      for (const PointUm p : {line.front(), line[line.size() / 2]})
        seed = (seed ^ std::bit_cast<std::uint64_t>(p.x)) * 0x100000001b3u;
    DrawMachine machine(face_, scale_.u_relative_x(), scale_.u_relative_y(), options_.draws, seed);
    std::vector<ContourUm> moved;
    const auto now = [&] {
      std::vector<ContourUm> lines;
      for (const Pick& pick : picks_) lines.push_back(LineOf(pick, &moved));
      return Evaluate(lines, false);
    };
    machine.Displace({}, -1, moved);
    rest_ = now();
    for (int d = 0; d < options_.draws; ++d) {
      machine.Draw(d, Parts::All(), moved);
      all_.push_back(now());
    }
    const auto step = [&](std::vector<Values>& part, const Parts& parts, int feature) {
      machine.Displace(parts, feature, moved);
      part.push_back(now());
    };
    if (scale_.u_relative_x() > 0) step(scale_part_, {true, false, false, false, false}, -1);
    if (scale_.u_relative_y() > 0) step(scale_part_, {false, true, false, false, false}, -1);
    const Parts common{false, false, true, false, false};
    step(edge_part_, common, picks_[0].feature);
    if (picks_.size() == 2 && picks_[1].feature != picks_[0].feature)
      step(edge_part_, common, picks_[1].feature);
    step(edge_part_, common, DrawMachine::kShared);
    const Parts ripple{false, false, false, true, true};
    for (const auto& [luck, out] : {std::pair{1.0, &single_}, {std::sqrt(3.0), &tripled_}}) {
      machine.Restart(1);
      for (int d = 0; d < kRippleLuck; ++d) {
        machine.Draw(d, ripple, moved, luck);
        out->push_back(now());
      }
    }
  }

  std::vector<double> Differences(std::string_view word, const std::vector<Values>& sets) const {
    std::vector<double> out;
    for (const Values& v : sets) {
      const auto at = v.of.find(word), rest = rest_.of.find(word);
      if (at != v.of.end() && rest != rest_.of.end()) out.push_back(at->second - rest->second);
    }
    return out;
  }

  void SetUncertainty(const QuantityRow& row, Measurement& m) const {
    m.value = m.lo = m.hi = m.raw;
    if (options_.draws <= 0) return;
    Spread spread = SpreadOf(Differences(row.word, all_));
    IntervalRules rules;
    rules.row = &row;
    if (row.kind == QuantityKind::kLeast) {
      rules.correct_bias = true;
      spread.bias *= BiasFactor(Differences(row.word, single_), Differences(row.word, tripled_));
    }
    const bool length = row.unit == "um";
    const double bias_u = rules.correct_bias ? kAskedBiasDoubt * std::abs(spread.bias) : 0;
    const double seam_u = length ? options_.seam_u_um : 0;
    rules.floor = length ? options_.u_floor_um : 0;
    rules.extra_u = std::hypot(bias_u, seam_u);
    const Placement& placement = section_.placement;
    if (length && placement.stretch_kind == StretchKind::kSquashed) {
      rules.over_reading = (1 - 1 / std::sqrt(placement.stretch)) * m.raw;
      rules.unseen = m.raw * std::sqrt(placement.stretch);
    } else if (length && placement.oblique_rad > 0) {
      rules.over_reading = (1 - std::cos(placement.oblique_rad)) * m.raw;
    }
    SetInterval(m, spread, rules);
    double known = 0;
    for (const auto& [source, part] :
         {std::pair{"scale", &scale_part_}, {"edge model", &edge_part_}}) {
      double sum = 0;
      for (const double d : Differences(row.word, *part)) sum += d * d;
      known += sum;
      if (sum > 0) m.budget.push_back({source, std::sqrt(sum)});
    }
    const double rest_u = std::sqrt(std::max(0.0, spread.u * spread.u - known));
    if (rest_u > 0) m.budget.push_back({"noise", rest_u});
    if (seam_u > 0) m.budget.push_back({"seam of the stitched picture", seam_u});
    if (bias_u > 0) m.budget.push_back({"bias correction", bias_u});
    if (rules.floor > 0 && m.u > std::hypot(spread.u, rules.extra_u))
      m.budget.push_back({"floor", m.u});
  }

  void Grade(std::string_view word, Measurement& m) const {
    const auto doubt = [&](const std::string& why) {
      m.grade = "doubtful";
      m.grade_reason += (m.grade_reason.empty() ? "" : "; ") + why;
    };
    for (const Pick& pick : picks_)
      if (pick.seen < 1)
        doubt(fmt::format("{:.0f} % of {} was not seen", 100 * (1 - pick.seen),
                          FeatureOf(pick).name));
    if (section_.placement.oblique_corrected) doubt("as seen, not corrected for the oblique cut");
    if (word == "radius") {
      double off = 0;
      for (const PointUm p : SeenOf(picks_[0], full_[0]))
        off = std::max(off, std::abs(Distance(p, circles_[0]->centre) - circles_[0]->radius));
      if (off > 0.05 * m.value) doubt(fmt::format("not round: departs by up to {:.1f} um", off));
    }
    if (word == "thickness" && faced_ < 0.98)
      doubt(fmt::format("{:.0f} % of the first stretch faces the second", 100 * faced_));
  }

  const Section& section_;
  const Scale& scale_;
  const MeasureOptions& options_;
  Face face_;
  std::vector<Pick> picks_;
  std::vector<ContourUm> full_;
  std::vector<Facing> facing_, back_;
  Least least_;
  std::vector<FittedLine> lines_;
  std::vector<std::optional<Circle<FrameUm>>> circles_;
  double faced_ = 1;
  Values rest_;
  std::vector<Values> all_, single_, tripled_, scale_part_, edge_part_;
};

}  // namespace

std::span<const std::string_view> AskedWords() { return kAskedWords; }

Result<ContourUm> AskedStretch(const Section& section, const AskedEdge& edge) {
  const Face face = PrepareFace(section);
  auto pick = PickOf(face, edge);
  if (!pick) return tl::unexpected(pick.error());
  ContourUm line;
  for (const std::uint32_t v : pick->vertices)
    line.push_back(face.features[static_cast<std::size_t>(pick->feature)].full[v]);
  return line;
}

Result<std::vector<Measurement>> AskEdges(const Section& section, const Scale& scale,
                                          std::span<const AskedEdge> edges,
                                          const MeasureOptions& options) {
  if (edges.empty() || edges.size() > 2)
    return Fail(Code::kUsage, "one edge or two are asked about");
  Asker asker(section, scale, options);
  if (auto status = asker.Take(edges); !status) return tl::unexpected(status.error());
  return asker.Answer(edges);
}

std::vector<AskedFigure> AskAgain(const Section& section, const Scale& scale,
                                  std::span<const AskedFigure> asked,
                                  const MeasureOptions& options) {
  std::vector<AskedFigure> out(asked.begin(), asked.end());
  for (AskedFigure& one : out) {
    auto now = AskEdges(section, scale, one.edges, options);
    const std::string word = one.figure.quantity;
    std::string reason = now ? "does not apply any more" : now.error().message;
    if (now) {
      const auto same = std::find_if(now->begin(), now->end(),
                                     [&](const Measurement& m) { return m.quantity == word; });
      if (same != now->end()) {
        one.figure = std::move(*same);
        continue;
      }
    }
    one.figure = NotMeasured(one.figure, std::move(reason));
  }
  return out;
}

}  // namespace cutface
