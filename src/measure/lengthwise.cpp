#include "measure/lengthwise.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include "cutface/quantity.h"
#include "cutface/stats.h"
#include "measure/interval.h"
#include "measure/turn_comb.h"

namespace cutface::measure {
namespace {

constexpr double kFacing = 0.5;        // cosine: edges that face the row are the wall's long ones
constexpr std::size_t kLeastGaps = 2;  // to speak of their spread

// From a wire to the wall's edge that its row faces.
struct CoverOf {
  double raw = 0, u_own = 0;  // um; what differs from wire to wire
  double u_edge = 0;          // common to all wires
  Segment<FrameUm> at;
  std::string reason;  // "" or why not measured
  bool exposed = false, doubtful = false;
};

class LayerRows {
 public:
  LayerRows(const Section& section, const SectionDesign& plane, const WireLayerDesign& layer,
            const WireLayerTrace& trace, const Scale& scale, const MeasureOptions& options)
      : section_(section),
        plane_(plane),
        layer_(layer),
        trace_(trace),
        scale_(scale),
        options_(options) {
    for (const WireTrace& wire : section.wires) {
      if (wire.layer != layer.name) continue;
      if (wire.state != WireState::kWire && wire.state != WireState::kExtra) continue;
      Turn turn;
      turn.wire = &wire;
      if (trace.turns > 0 && wire.state == WireState::kWire && wire.no <= 2 * trace.turns) {
        turn.row = (wire.no - 1) / trace.turns;
        turn.slot = (wire.no - 1) % trace.turns;
      }
      turns_.push_back(turn);
    }
    int numbered = 0;
    for (const Turn& t : turns_) numbered += t.slot >= 0 ? 1 : 0;
    if (trace.turns == 0 || numbered < 6) {
      why_ = trace.doubt.empty() ? "too few wires were found" : trace.doubt;
      return;
    }
    comb_ = FitComb(turns_);
    const PointUm u = comb_.axis();
    for (Turn& t : turns_) {  // extra wires belong to the nearer row
      if (t.slot >= 0) continue;
      const double a = std::abs(Cross(u, t.wire->centroid - comb_.base[0]));
      const double b = std::abs(Cross(u, t.wire->centroid - comb_.base[1]));
      t.row = a <= b ? 0 : 1;
    }
  }

  void Measure(std::vector<Measurement>& out) {
    out_ = &out;
    Count();
    Pitch();
    Covers();
    Diameter();
    Coverage();
    for (const char* word : {"spacing_max", "braid_angle", "picks_per_mm"}) {
      if (!Asked({layer_.name}, word)) continue;
      Measurement m = Start({layer_.name}, word);
      m.state = Measurement::State::kNotApplicable;
      m.reason = "angles round the clock are not seen in a lengthwise section";
      out_->push_back(std::move(m));
    }
  }

 private:
  bool Asked(const std::vector<std::string>& of, std::string_view word) const {
    return std::any_of(plane_.characteristics.begin(), plane_.characteristics.end(),
                       [&](const Characteristic& c) { return c.of == of && c.quantity == word; });
  }

  Measurement Start(std::vector<std::string> of, std::string_view word) const {
    Measurement m;
    m.of = std::move(of);
    m.quantity = word;
    const QuantityRow* row = FindQuantity(word, QuantityOf::kWireLayer);
    CF_CHECK(row != nullptr);
    m.unit = row->unit;
    if (!trace_.doubt.empty() || section_.picture.grade != "clean") m.grade = "doubtful";
    return m;
  }

  void Refused(std::vector<std::string> of, std::string_view word, const std::string& reason) {
    Measurement m = Start(std::move(of), word);
    m.state = Measurement::State::kNotMeasured;
    m.reason = reason;
    out_->push_back(std::move(m));
  }

  double ScaleShare(PointUm direction) const {
    return std::hypot(direction.x * direction.x * scale_.u_relative_x(),
                      direction.y * direction.y * scale_.u_relative_y());
  }

  // Value and interval from standard uncertainties by source.
  void Finish(Measurement m, const std::vector<BudgetLine>& budget, double over_reading = 0) {
    double square = 0;
    for (const BudgetLine& line : budget) {
      square += line.u * line.u;
      if (line.u > 0 && options_.draws > 0) m.budget.push_back(line);
    }
    const QuantityRow* row = FindQuantity(m.quantity, QuantityOf::kWireLayer);
    m.value = m.lo = m.hi = m.raw;
    if (options_.draws > 0) {
      IntervalRules rules;
      rules.row = row;
      rules.floor = row->unit == "um" ? options_.u_floor_um : 0.0;
      rules.over_reading = over_reading;
      Spread spread;
      spread.u = std::sqrt(square);
      SetInterval(m, spread, rules);
      if (rules.floor > spread.u) m.budget.push_back({"floor", m.u});
      if (over_reading > 0)
        m.budget.push_back(
            {"tilt and place of the cut (lower limit only)", over_reading / std::sqrt(3.0)});
    }
    out_->push_back(std::move(m));
  }

  double TiltShare() const { return 1 - std::cos(section_.placement.oblique_rad); }

  void Count() {
    std::string why = why_;
    if (section_.outline && !section_.outline->whole)
      why = "part of the section lies outside the picture: wires there are not counted";
    if (why.empty() && !trace_.counted) why = trace_.doubt;
    if (!why.empty()) return Refused({layer_.name}, "count", why);
    Measurement m = Start({layer_.name}, "count");
    m.raw = m.value = m.lo = m.hi = static_cast<double>(turns_.size());
    out_->push_back(std::move(m));
  }

  // Neighbours in a row by number, with their distance along the axis.
  struct Neighbours {
    const Turn *first, *second;
    double gap;
  };
  std::vector<Neighbours> Gaps() const {
    std::vector<Neighbours> gaps;
    for (const Turn& a : turns_) {
      for (const Turn& b : turns_) {
        if (a.slot < 0 || b.row != a.row || b.slot != a.slot + 1) continue;
        gaps.push_back({&a, &b, Dot(comb_.axis(), b.wire->centroid - a.wire->centroid)});
      }
    }
    return gaps;
  }

  void Pitch() {
    const std::vector<std::string> of{layer_.name};
    if (!why_.empty()) {
      for (const char* word : {"pitch", "pitch_min", "pitch_max", "pitch_spread", "displacement"})
        Refused(of, word, why_);
      return;
    }
    const double p = comb_.pitch(), scale = ScaleShare(comb_.axis());
    Measurement m = Start(of, "pitch");
    m.raw = p;
    const auto [first, last] = LongestRow();
    m.at = {first->wire->centroid, last->wire->centroid};
    const double fit = comb_.along / std::sqrt(std::max(1.0, comb_.sum_squares));
    Finish(std::move(m), {{"places of the turns", fit}, {"scale", scale * p}}, TiltShare() * p);
    Extremes(scale);
    Spread_();
    Displacements(fit);
  }

  std::pair<const Turn*, const Turn*> LongestRow() const {
    std::pair<const Turn*, const Turn*> ends{&turns_.front(), &turns_.front()};
    int most = -1;
    for (int row = 0; row < 2; ++row) {
      const Turn *first = nullptr, *last = nullptr;
      for (const Turn& t : turns_) {
        if (t.row != row || t.slot < 0) continue;
        if (first == nullptr || t.slot < first->slot) first = &t;
        if (last == nullptr || t.slot > last->slot) last = &t;
      }
      if (first != nullptr && last->slot - first->slot > most) {
        most = last->slot - first->slot;
        ends = {first, last};
      }
    }
    return ends;
  }

  // Least and greatest gap: what noise makes of an extreme is told by drawing it again.
  void Extremes(double scale) {
    const std::vector<Neighbours> gaps = Gaps();
    if (gaps.size() < kLeastGaps) {
      for (const char* word : {"pitch_min", "pitch_max"})
        Refused({layer_.name}, word, "too few neighbours in a row");
      return;
    }
    for (const bool least : {true, false}) {
      const auto better = [&](const Neighbours& a, const Neighbours& b) { return a.gap < b.gap; };
      const Neighbours& at = least ? *std::min_element(gaps.begin(), gaps.end(), better)
                                   : *std::max_element(gaps.begin(), gaps.end(), better);
      Measurement m = Start({layer_.name}, least ? "pitch_min" : "pitch_max");
      m.raw = at.gap;
      m.at = {at.first->wire->centroid, at.second->wire->centroid};
      Random random(options_.seed + 7);
      std::vector<double> differences;
      for (int d = 0; d < std::max(options_.draws, 0); ++d) {
        double extreme = least ? std::numeric_limits<double>::max() : 0;
        for (const Neighbours& g : gaps) {
          const double u = std::hypot(g.first->wire->u_centroid_um, g.second->wire->u_centroid_um);
          const double now = g.gap + u * random.Normal();
          extreme = least ? std::min(extreme, now) : std::max(extreme, now);
        }
        differences.push_back(extreme - at.gap);
      }
      m.value = m.lo = m.hi = m.raw;
      if (!differences.empty()) {
        IntervalRules rules;
        rules.row = FindQuantity(m.quantity, QuantityOf::kWireLayer);
        rules.correct_bias = true;
        rules.floor = options_.u_floor_um;
        rules.extra_u = scale * at.gap;
        rules.over_reading = TiltShare() * at.gap;
        const Spread spread = SpreadOf(differences);
        SetInterval(m, spread, rules);
        m.budget = {{"noise", spread.u}, {"scale", scale * at.gap}};
      }
      out_->push_back(std::move(m));
    }
  }

  void Spread_() {
    const std::vector<Neighbours> gaps = Gaps();
    if (gaps.size() < kLeastGaps + 1)
      return Refused({layer_.name}, "pitch_spread", "too few neighbours in a row");
    double sum = 0, noise = 0;
    for (const Neighbours& g : gaps) {
      sum += std::pow(g.gap - comb_.pitch(), 2);
      noise +=
          std::pow(g.first->wire->u_centroid_um, 2) + std::pow(g.second->wire->u_centroid_um, 2);
    }
    const double n = static_cast<double>(gaps.size());
    Measurement m = Start({layer_.name}, "pitch_spread");
    m.raw = std::sqrt(std::max(0.0, (sum - noise) / n));
    // Noise of this face's gaps only: the spread is theirs, not that of a process.
    const double u =
        std::sqrt(noise / n) * std::sqrt((m.raw * m.raw + 0.5 * noise / n) /
                                         std::max(1e-9, n * (m.raw * m.raw + noise / n)));
    Finish(std::move(m), {{"noise", u}});
  }

  void Displacements(double fit) {
    const Turn* most = nullptr;
    const auto add = [&](const Turn& t, std::vector<std::string> of) {
      Measurement m = Start(std::move(of), "displacement");
      m.raw = Norm(t.off);
      m.at = {t.wire->centroid - t.off, t.wire->centroid};
      const double n = std::max(1.0, comb_.rows[t.row]);
      Finish(std::move(m), {{"noise", t.wire->u_centroid_um},
                            {"places of the turns",
                             std::hypot(fit * trace_.turns / 2,
                                        std::hypot(comb_.along, comb_.across) / std::sqrt(n))}});
    };
    for (const Turn& t : turns_) {
      if (t.slot < 0) continue;
      if (most == nullptr || Norm(t.off) > Norm(most->off)) most = &t;
    }
    add(*most, {layer_.name});
    for (const Turn& t : turns_) {
      if (t.slot >= 0) add(t, {NameOf(t)});
    }
  }

  std::string NameOf(const Turn& t) const { return fmt::format("{}/{}", layer_.name, t.wire->no); }

  // --- covers ----------------------------------------------------------------------------------

  // Out of the tube, for a row.
  PointUm Outwards(int row) const {
    const PointUm u = comb_.axis();
    PointUm n{-u.y, u.x};
    if (Dot(n, comb_.base[row] - comb_.base[1 - row]) < 0) n = -1.0 * n;
    return n;
  }

  // By how much walls may look thicker because the cut runs beside the axis, as a share.
  double BesideAxis() const {
    const Box<FrameUm> box = BoundingBox(plane_.outline.contour);
    std::vector<double> heights[2];
    for (const ContourVertex& v : section_.outline->vertices) {
      for (int row = 0; row < 2; ++row) {
        const PointUm n = Outwards(row);
        if (Dot(v.normal, n) > kFacing && v.state == VertexState::kMeasured)
          heights[row].push_back(Dot(n, v.at - comb_.base[0]));
      }
    }
    if (heights[0].size() < 10 || heights[1].size() < 10) return 0;
    const double seen = Median(std::move(heights[0])) + Median(std::move(heights[1]));
    return std::max(0.0, 1 - seen / (box.greatest.y - box.least.y));
  }

  // Whether the edge from vertex i on runs along the wall, by a chord long enough that noise of
  // single vertices does not turn it.
  static bool Faces(const std::vector<ContourVertex>& v, std::size_t i, PointUm n) {
    constexpr std::size_t kChord = 6;
    if (v.size() < 4 * kChord) return false;
    // To both sides: what lies round a corner is the sample's end.
    const PointUm behind = v[i].at - v[(i + v.size() - kChord) % v.size()].at;
    const PointUm ahead = v[(i + 1 + kChord) % v.size()].at - v[(i + 1) % v.size()].at;
    return Cross(n, behind) > kFacing * Norm(behind) && Cross(n, ahead) > kFacing * Norm(ahead);
  }

  CoverOf Cover(const Turn& t, const std::vector<const TracedContour*>& edges, bool outer) const {
    CoverOf out;
    const PointUm n = Outwards(t.row);
    out.raw = std::numeric_limits<double>::max();
    const ContourUm metal = t.wire->contour.Points();
    const ContourVertex *a0 = nullptr, *b0 = nullptr;
    const TracedContour* nearest = nullptr;
    bool hidden = false;
    for (const TracedContour* edge : edges) {
      const std::vector<ContourVertex>& v = edge->vertices;
      for (std::size_t i = 0; i < v.size(); ++i) {
        const ContourVertex &a = v[i], &b = v[(i + 1) % v.size()];
        if (!Faces(v, i, n)) continue;
        if (std::min(Distance(a.at, t.wire->centroid), Distance(b.at, t.wire->centroid)) >
            out.raw + t.wire->long_um)
          continue;
        const PointUm e = b.at - a.at;
        for (std::size_t k = 0; k < metal.size(); ++k) {
          const PointUm p = metal[k];
          const double s = std::clamp(Dot(p - a.at, e) / std::max(1e-12, Dot(e, e)), 0.0, 1.0);
          const PointUm foot = a.at + s * e;
          const double d = Distance(p, foot);
          if (d >= out.raw) continue;
          out.raw = d;
          out.at = {p, foot};
          hidden = t.wire->contour.vertices[k].state == VertexState::kBridged;
          a0 = &a;
          b0 = &b;
          nearest = edge;
        }
      }
    }
    out.exposed = outer ? t.wire->exposed_to == "outside"
                        : !t.wire->exposed_to.empty() && t.wire->exposed_to != "outside";
    if (nearest == nullptr) {
      out.reason =
          outer ? "no outer edge of the wall was traced beside it" : "no bore was traced beside it";
      return out;
    }
    if (out.exposed) out.raw = 0;
    if (hidden && !out.exposed)
      out.reason = "the metal's edge and the wall's run into one another there";
    for (const ContourVertex* v : {a0, b0}) {
      if (out.exposed) break;
      if (v->state == VertexState::kCutOff)
        out.reason = "the least place lies where the wall is cut off by the frame";
      if (v->state == VertexState::kBridged)
        out.reason = "the least place lies where the wall's edge was not seen and is bridged";
    }
    const double noise = std::hypot(a0->sigma_um, t.wire->contour.vertices.front().sigma_um) / 2;
    out.u_own = std::sqrt(std::pow(t.wire->u_centroid_um, 2) + noise * noise +
                          std::pow(t.wire->contour.u_arc_um, 2) + std::pow(nearest->u_arc_um, 2) +
                          std::pow(a0->doubt_um, 2));
    out.u_edge = nearest->u_common_um;
    out.doubtful =
        !nearest->doubt.empty() || !t.wire->contour.doubt.empty() ||
        std::any_of(t.wire->contour.vertices.begin(), t.wire->contour.vertices.end(),
                    [](const ContourVertex& v) { return v.state == VertexState::kBridged; });
    return out;
  }

  void Covers() {
    for (const bool outer : {true, false}) {
      const char* word = outer ? "outer_cover" : "inner_cover";
      std::vector<const TracedContour*> edges;
      if (outer && section_.outline) edges.push_back(&*section_.outline);
      for (const LumenTrace& lumen : section_.lumens) {
        if (!outer && lumen.bore.vertices.size() >= 6) edges.push_back(&lumen.bore);
      }
      std::string why = why_;
      if (why.empty() && edges.empty())
        why = outer ? "the outline was not found" : "no lumen was found";
      if (!why.empty()) {
        Refused({layer_.name}, word, why);
        continue;
      }
      std::vector<CoverOf> covers;
      for (const Turn& t : turns_) covers.push_back(Cover(t, edges, outer));
      LeastCover(covers, word);
      for (std::size_t i = 0; i < turns_.size(); ++i) OneCover(turns_[i], covers[i], word);
    }
  }

  double BesideShare() {
    if (!beside_) beside_ = BesideAxis();
    return *beside_;
  }

  void OneCover(const Turn& t, const CoverOf& c, const char* word) {
    if (!c.reason.empty()) return Refused({NameOf(t)}, word, c.reason);
    Measurement m = Start({NameOf(t)}, word);
    m.raw = c.raw;
    m.at = {c.at.a, c.at.b};
    if (c.doubtful) m.grade = "doubtful";
    const double scale = ScaleShare(Outwards(t.row)) * c.raw;
    Finish(std::move(m),
           {{"noise and places", c.u_own},
            {"edge model", c.u_edge},
            {"halo of the metal", trace_.u_halo_um},
            {"scale", scale}},
           (TiltShare() + BesideShare()) * c.raw);
  }

  void LeastCover(const std::vector<CoverOf>& covers, const char* word) {
    std::size_t at = 0;
    bool doubtful = false;
    for (std::size_t i = 0; i < covers.size(); ++i) {
      if (covers[i].raw < covers[at].raw) at = i;
    }
    const CoverOf& least = covers[at];
    // A cover that is not known may be the least one.
    for (const CoverOf& c : covers) {
      if (!c.reason.empty() && c.raw <= least.raw + 3 * std::hypot(c.u_own, least.u_own))
        return Refused({layer_.name}, word, c.reason);
      doubtful = doubtful || (c.doubtful && c.raw < least.raw + 3 * c.u_own);
    }
    Measurement m = Start({layer_.name}, word);
    m.raw = m.value = m.lo = m.hi = least.raw;
    m.at = {least.at.a, least.at.b};
    if (doubtful) m.grade = "doubtful";
    if (options_.draws <= 0) {
      out_->push_back(std::move(m));
      return;
    }
    Random random(options_.seed + 11);
    std::vector<double> differences;
    const double scale = ScaleShare(Outwards(turns_[at].row));
    for (int d = 0; d < options_.draws; ++d) {
      double now = std::numeric_limits<double>::max();
      for (const CoverOf& c : covers) now = std::min(now, c.raw + c.u_own * random.Normal());
      differences.push_back(now - least.raw);
    }
    IntervalRules rules;
    rules.row = FindQuantity(word, QuantityOf::kWireLayer);
    rules.correct_bias = !least.exposed;
    rules.floor = options_.u_floor_um;
    rules.extra_u = std::sqrt(std::pow(least.u_edge, 2) + std::pow(trace_.u_halo_um, 2) +
                              std::pow(scale * least.raw, 2));
    rules.over_reading = (TiltShare() + BesideShare()) * least.raw;
    const Spread spread = SpreadOf(differences);
    SetInterval(m, spread, rules);
    if (least.exposed) m.value = m.lo = 0;
    m.budget = {{"noise and places", spread.u},
                {"edge model", least.u_edge},
                {"halo of the metal", trace_.u_halo_um},
                {"scale", scale * least.raw}};
    if (rules.over_reading > 0)
      m.budget.push_back(
          {"tilt and place of the cut (lower limit only)", rules.over_reading / std::sqrt(3.0)});
    out_->push_back(std::move(m));
  }

  // --- the layer ---------------------------------------------------------------------------------

  void Diameter() {
    if (!why_.empty()) return Refused({layer_.name}, "layer_diameter", why_);
    const PointUm n = Outwards(1);
    Measurement m = Start({layer_.name}, "layer_diameter");
    m.raw = Dot(n, comb_.base[1] - comb_.base[0]);
    m.at = {comb_.base[0] + Dot(comb_.axis(), comb_.base[1] - comb_.base[0]) * comb_.axis(),
            comb_.base[1]};
    const double u = comb_.across *
                     std::sqrt(1 / std::max(1.0, comb_.rows[0]) + 1 / std::max(1.0, comb_.rows[1]));
    const double scale = ScaleShare(n) * m.raw;
    Finish(std::move(m), {{"places of the turns", u}, {"scale", scale}});
    // A cut beside the axis shows a chord: the circle may be larger.
    Measurement& told = out_->back();
    const Box<FrameUm> box = BoundingBox(plane_.outline.contour);
    const double drawn = box.greatest.y - box.least.y, seen = drawn * (1 - BesideShare());
    if (options_.draws > 0)
      told.hi += std::sqrt(told.raw * told.raw + drawn * drawn - seen * seen) - told.raw;
  }

  // Width along the axis. Of a ribbon between its ends, else from the second moments: noise makes
  // extremes of an edge too wide.
  double AlongOf(const WireTrace& wire) const {
    const PointUm u = comb_.axis();
    if (!layer_.flat_um) {
      const double off = std::atan2(u.y, u.x) - wire.axis_rad;
      return std::hypot(wire.long_um * std::cos(off), wire.short_um * std::sin(off));
    }
    double sum[2] = {0, 0}, n[2] = {0, 0};
    for (PointUm p : wire.contour.Points()) {
      if (std::abs(Cross(u, p - wire.centroid)) > 0.25 * layer_.flat_um->first) continue;
      const double s = Dot(u, p - wire.centroid);
      sum[s > 0] += std::abs(s);
      ++n[s > 0];
    }
    return n[0] > 0 && n[1] > 0 ? sum[0] / n[0] + sum[1] / n[1] : wire.long_um;
  }

  void Coverage() {
    if (!why_.empty()) return Refused({layer_.name}, "coverage", why_);
    if (!layer_.count)
      return Refused({layer_.name}, "coverage",
                     "the two hands of a braid are not told apart in a lengthwise section");
    std::vector<double> widths;
    for (const Turn& t : turns_) widths.push_back(AlongOf(*t.wire));
    const double mean = Mean(widths), p = comb_.pitch(), n = static_cast<double>(widths.size());
    Measurement m = Start({layer_.name}, "coverage");
    m.raw = std::min(100.0, 100 * mean / p);
    const double each = widths.size() > 1 ? StandardDeviation(widths) / std::sqrt(n) : 0;
    const double fit = comb_.along / std::sqrt(std::max(1.0, comb_.sum_squares));
    const double told = m.raw;
    Finish(std::move(m),
           {{"widths of the wires", 100 * each / p},
            {"halo of the metal", 200 * trace_.u_halo_um / p},
            {"places of the turns", 100 * mean / p * fit / p}},
           TiltShare() * told);
  }

  const Section& section_;
  const SectionDesign& plane_;
  const WireLayerDesign& layer_;
  const WireLayerTrace& trace_;
  const Scale& scale_;
  const MeasureOptions& options_;
  std::vector<Turn> turns_;
  CombFit comb_;
  std::string why_;  // "" or why the rows cannot be measured
  std::optional<double> beside_;
  std::vector<Measurement>* out_ = nullptr;
};

constexpr std::array<std::string_view, 5> kOwnWords = {"pitch", "pitch_min", "pitch_max",
                                                       "pitch_spread", "displacement"};

}  // namespace

std::vector<Measurement> MeasureLengthwise(const Section& section, const SectionDesign& plane,
                                           const Scale& scale, const MeasureOptions& options) {
  std::vector<Measurement> out;
  for (const WireLayerTrace& trace : section.wire_layers) {
    for (const WireLayerDesign& layer : plane.wires) {
      if (layer.name == trace.name)
        LayerRows(section, plane, layer, trace, scale, options).Measure(out);
    }
  }
  return out;
}

std::vector<std::string_view> LengthwiseWords() { return {kOwnWords.begin(), kOwnWords.end()}; }

}  // namespace cutface::measure
