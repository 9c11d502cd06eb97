#include "identify/lengthwise.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "cutface/stats.h"
#include "identify/assemble.h"
#include "identify/lengthwise_cover.h"
#include "identify/lengthwise_drawn.h"
#include "identify/lengthwise_halo.h"
#include "identify/lengthwise_pale.h"
#include "identify/lengthwise_rows.h"
#include "identify/lengthwise_wires.h"

namespace cutface {
namespace {

constexpr double kMetalThere = 0.5;     // share of metal in an empty place
constexpr double kAround_px = 2.5;      // beyond a wire's edge: the body
constexpr double kPaleThere = 0.12;     // likewise, beyond what is around it: a paler wire
constexpr double kOffTone = 6;          // robust deviations: metal of a layer is polished alike
constexpr double kLeastOffTone = 0.05;  // relative tone
constexpr double kAlike = 0.0125;   // scatter of dark metal: a quarter of what a hole is lighter by
constexpr double kHoleTone = 0.15;  // relative tone below the body's
constexpr double kLikeOthers[] = {0.7, 1.4};  // of the others' area: an extra wire is one of them
constexpr double kBesideRow = 0.5;            // of a wire's size: off the line of its row
constexpr double kRayShare = 4;  // neighbouring rays share pixels: so many count as one

struct Found {
  CutWire wire;
  PointUm at;
  int row = 0;
  double along = 0, across = 0;  // um, in the axis frame; across is off its row's line
  int slot = kNoSlot;
};

class LayerWork {
 public:
  LayerWork(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
            const Scale& scale, const SectionDesign& plane, const WireLayerDesign& layer,
            WallMetal metal, Section& section)
      : micrograph_(micrograph),
        pose_(pose),
        tones_(tones),
        scale_(scale),
        plane_(plane),
        layer_(layer),
        metal_(std::move(metal)),
        section_(section),
        drawn_(SizeOf(layer)),
        pitch_px_(scale.mean_pitch_um()) {
    radius_ = RadiusOf(layer);
  }

  void Run() {
    trace_.name = layer_.name;
    trace_.expected = layer_.count.value_or(0);
    const std::string doubt = Trace();
    if (!doubt.empty()) trace_.doubt = doubt + (trace_.doubt.empty() ? "" : "; " + trace_.doubt);
    // Only numbered rows say where a wire is missing: else a row that was not found goes uncounted.
    const std::ptrdiff_t least = trace_.turns > 0 ? 1 : std::max(1, trace_.expected);
    trace_.counted = trace_.counted && std::ssize(wires_) >= least;
    trace_.families_told = trace_.turns > 0;
    TellDisplaced();
    section_.wire_layers.push_back(trace_);
    for (WireTrace& wire : wires_) section_.wires.push_back(std::move(wire));
  }

 private:
  // "" or why the layer is doubtful.
  std::string Trace() {
    if (layer_.on_diameters_um.empty()) return "the drawing says no diameter of the layer";
    if (!section_.outline) return "the outline was not found";
    if (drawn_.across < 4 * pitch_px_)
      return "the wires are less than 4 px across: too small to be told";
    if (std::string why = Take(); !why.empty()) return why;
    Straighten();
    const std::string doubt = Number();
    const std::string halo = SettleHalo();
    TakePale();
    MendPainted();
    for (const Found& f : found_) AddWire(f);
    AddGaps();
    MendBores();
    std::stable_sort(wires_.begin(), wires_.end(),
                     [](const WireTrace& a, const WireTrace& b) { return a.no < b.no; });
    ClearVoids();
    return doubt.empty() ? halo : doubt;
  }

  std::string Take() {
    if (!metal_.why.empty()) return metal_.why;
    bright_ = metal_.bright;
    for (CutWire& wire : metal_.wires) {
      const PointUm drawn = pose_.warp.Inverse(wire.centre);
      if (!OfThisLayer(std::abs(drawn.y - Middle()))) continue;
      Found f;
      f.row = drawn.y < Middle() ? 0 : 1;
      f.at = scale_.ToUm(wire.centre);
      f.wire = std::move(wire);
      found_.push_back(std::move(f));
    }
    TakeOutHoles();
    return "";
  }

  double Middle() const { return MiddleOf(plane_); }
  // No other layer's row is nearer.
  bool OfThisLayer(double from_middle) const {
    for (const WireLayerDesign& other : plane_.wires) {
      for (double d : other.on_diameters_um) {
        if (&other != &layer_ && std::abs(0.5 * d - from_middle) < std::abs(radius_ - from_middle))
          return false;
      }
    }
    return true;
  }

  // Dark metal: what is lighter than the others is a hole, not a wire.
  void TakeOutHoles() {
    if (bright_ || found_.size() < 5) return;
    std::vector<double> tones;
    for (const Found& f : found_) tones.push_back(f.wire.tone);
    const double middle = Median(tones), sigma = RobustSigma(std::move(tones));
    const double most = std::max(kLeastOffTone, kOffTone * sigma);
    if (sigma > kAlike) Doubt("in this light a hole of a wire's size looks like a wire");
    std::erase_if(found_, [&](const Found& f) {
      const bool hole = f.wire.tone - middle > most;
      if (hole) AddVoid(f.wire, VoidClass::kVoid, "its tone is not that of the wires");
      return hole;
    });
  }

  // The axis: one direction for both rows, from the wires themselves; the drawing's before.
  void Straighten() {
    const PointUm a = scale_.ToUm(pose_.warp({0, 0})), b = scale_.ToUm(pose_.warp({1000, 0}));
    axis_ = (1 / Distance(a, b)) * (b - a);
    for (int round = 0; round < 6 && !found_.empty(); ++round) {
      Offsets();
      std::vector<double> rest;
      for (const Found& f : found_) rest.push_back(f.across);
      const double most = std::max(0.15 * drawn_.across, 3 * RobustSigma(std::move(rest)));
      double sxx = 0, sxy = 0;
      for (int row = 0; row < 2; ++row) {
        double n = 0, mean_s = 0, mean_t = 0;
        const auto used = [&](const Found& f) { return f.row == row && std::abs(f.across) < most; };
        for (const Found& f : found_) {
          if (!used(f)) continue;
          ++n;
          mean_s += f.along;
          mean_t += f.across;
        }
        if (n < 2) continue;
        mean_s /= n;
        mean_t /= n;
        for (const Found& f : found_) {
          if (!used(f)) continue;
          sxx += (f.along - mean_s) * (f.along - mean_s);
          sxy += (f.along - mean_s) * (f.across - mean_t);
        }
      }
      if (!(sxx > 0)) return;
      axis_ = Rotated(axis_, std::atan2(sxy, sxx));
    }
    Offsets();
  }

  void Offsets() {
    for (int row = 0; row < 2; ++row) {
      std::vector<double> across;
      for (Found& f : found_) {
        if (f.row != row) continue;
        f.along = Dot(f.at, axis_);
        f.across = Cross(axis_, f.at);
        across.push_back(f.across);
      }
      if (across.empty()) continue;
      line_[row] = Median(std::move(across));
      for (Found& f : found_) {
        if (f.row == row) f.across -= line_[row];
      }
    }
  }

  std::string Number() {
    std::vector<TurnRow> rows(2);
    std::vector<std::vector<std::size_t>> who(2);
    std::sort(found_.begin(), found_.end(),
              [](const Found& a, const Found& b) { return a.along < b.along; });
    for (std::size_t i = 0; i < found_.size(); ++i) {
      const auto row = static_cast<std::size_t>(found_[i].row);
      rows[row].at.push_back(found_[i].along);
      who[row].push_back(i);
    }
    for (std::size_t row = 0; row < 2; ++row)
      SetEnds(*section_.outline, axis_, line_[row], rows[row]);
    const bool whole = section_.outline->whole;
    const int turns = layer_.count.value_or(0) / 2;
    TurnComb comb = NumberTurns(rows, whole ? turns : 0, drawn_.along);
    if (!comb.why.empty()) {
      for (std::size_t i = 0; i < found_.size(); ++i) found_[i].slot = kNoSlot;
      return comb.why;
    }
    pitch_ = comb.pitch;
    if (!whole && turns > 0)
      AnchorAtEnds(rows, pitch_, turns,
                   LengthOf(plane_) * pose_.warp.linear.col(0).norm() * pitch_px_);
    trace_.turns = std::max(rows[0].slots, rows[1].slots);
    for (std::size_t row = 0; row < 2; ++row) {
      start_[row] = rows[row].start;
      slots_[row] = rows[row].slots;
      for (std::size_t k = 0; k < who[row].size(); ++k)
        found_[who[row][k]].slot = rows[row].slot[k];
    }
    DropStrangers();
    if (!section_.outline->doubt.empty() && LacksAtAnEnd()) {
      ends_unknown_ = true;
      trace_.counted = false;
      return "the outline is doubtful, so whether turns are missing at a row's end is not told";
    }
    if (!comb.doubt.empty()) return comb.doubt;
    if (!whole) return "part of the section lies outside the picture: wires there are not seen";
    for (const LumenTrace& lumen : section_.lumens) {
      if (lumen.bore.doubt == kEndNotKnown)
        return "where the tube ends is not known, so turns beyond are not counted";
    }
    if (layer_.count && *layer_.count % 2 != 0)
      return "an odd number of wires is drawn: the two rows cannot have as many turns each";
    if (!layer_.count) return "the drawing says carriers, not how many turns are in sight";
    return "";
  }

  // The first or the last place of a row is empty.
  bool LacksAtAnEnd() const {
    const auto lacks = [&](int row) {
      return slots_[row] > 0 && !(Filled(row, 0) && Filled(row, slots_[row] - 1));
    };
    return lacks(0) || lacks(1);
  }
  // Beyond all wires of its row.
  bool BeyondAll(int row, int slot) const {
    return std::none_of(found_.begin(), found_.end(),
                        [&](const Found& f) {
                          return f.row == row && f.slot != kNoSlot && f.slot < slot;
                        }) ||
           std::none_of(found_.begin(), found_.end(),
                        [&](const Found& f) { return f.row == row && f.slot > slot; });
  }

  // What was taken for metal and is none; no other step saw it.
  void AddVoid(const CutWire& wire, VoidClass kind, const char* evidence) {
    Void v;
    v.kind = kind;
    v.contour = ContourOf(wire);
    const ContourUm points = v.contour.Points();
    v.centroid = Centroid(points);
    v.area_um2 = Area(points);
    v.u_area_um2 = Perimeter(points) * 0.3 * pitch_px_;
    v.evidence = evidence;
    section_.voids.push_back(std::move(v));
  }

  // What stands in no slot and is not like the wires is no wire.
  void DropStrangers() {
    std::vector<double> areas, tones;
    for (const Found& f : found_) {
      if (f.slot == kNoSlot) continue;
      areas.push_back(Area(f.wire.edge));
      tones.push_back(f.wire.tone);
    }
    if (areas.empty()) return;
    const double area = Median(std::move(areas)), tone = Median(std::move(tones));
    std::erase_if(found_, [&](const Found& f) {
      if (f.slot != kNoSlot) return false;
      if (f.wire.Loose()) return true;
      const double share = Area(f.wire.edge) / area;
      // A void looks like dark metal: only beside the others is it told as an extra wire.
      const bool beside = bright_ || std::abs(f.across) < kBesideRow * drawn_.across;
      const bool like = beside && share > kLikeOthers[0] && share < kLikeOthers[1] &&
                        std::abs(f.wire.tone - tone) < 0.12 * std::abs(tone - 1);
      if (!like) AddVoid(f.wire, VoidClass::kDoubtful, "in no wire's place and not like the wires");
      return !like;
    });
  }

  std::string SettleHalo() {
    std::vector<ContourUm> free;
    for (const Found& f : found_) {
      if (f.wire.seen_share >= kStandsFree)
        free.push_back(scale_.ToUm(std::span<const PointPx>(f.wire.edge)));
    }
    const TurnHalo told = TellTurnHalo(free, layer_, axis_, pitch_px_, bright_);
    trace_.halo_um = told.halo_um;
    trace_.u_halo_um = told.u_um;
    scatter_ = told.scatter_um;
    return told.doubt;
  }

  TracedContour ContourOf(const CutWire& wire) const {
    TracedContour contour;
    const ContourUm edge = scale_.ToUm(std::span<const PointPx>(wire.edge));
    const ContourUm normals = OutwardNormals(View(edge));
    for (std::size_t i = 0; i < edge.size(); ++i) {
      ContourVertex v;
      v.normal = normals[i];
      v.at = edge[i] - trace_.halo_um * normals[i];
      v.sigma_um = wire.sigma_px * pitch_px_;
      v.state = wire.seen[i] ? VertexState::kMeasured : VertexState::kBridged;
      contour.vertices.push_back(v);
    }
    contour.u_common_um = trace_.u_halo_um;
    contour.u_arc_um = scatter_;
    contour.arc_length_um = Perimeter(edge);
    contour.noise_length_um = kRayShare * contour.arc_length_um / static_cast<double>(edge.size());
    contour.bias_um = -trace_.halo_um;
    contour.edge_model = "step";
    contour.doubt = wire.doubt;
    contour.contrast = std::abs(wire.tone - 1) * tones_.body_tone;
    return contour;
  }

  void AddWire(const Found& f) {
    WireTrace out;
    out.layer = layer_.name;
    out.state = f.slot == kNoSlot && trace_.turns > 0 ? WireState::kExtra : WireState::kWire;
    out.no = f.slot == kNoSlot ? NextFree() : f.row * trace_.turns + f.slot + 1;
    out.centroid = f.at;
    const double told = f.wire.seen_share + f.wire.bare_share;
    const double rays = static_cast<double>(f.wire.edge.size()) * told / kRayShare;
    out.u_centroid_um =
        pitch_px_ * std::hypot(0.02, f.wire.sigma_px * std::sqrt(2 / rays) +
                                         0.1 * (1 - told) * drawn_.across / pitch_px_);
    out.contour = ContourOf(f.wire);
    const Ellipse<FrameUm> e = MomentEllipse(out.contour.Points());
    out.long_um = 2 * e.semi_major;
    out.short_um = 2 * e.semi_minor;
    out.axis_rad = e.angle;
    out.exposed_to = ExposedTo(f, out.contour.Points());
    wires_.push_back(std::move(out));
  }

  int NextFree() { return 2 * trace_.turns + ++extras_; }

  // Near a wire whose edge does not end in the body all round: the wall's edge follows it there.
  bool BesideHidden(PointUm p, double reach) const {
    return std::any_of(found_.begin(), found_.end(), [&](const Found& g) {
      return g.wire.seen_share < kStandsFree && Distance(p, g.at) < reach + 5 * pitch_px_;
    });
  }

  std::string ExposedTo(const Found& f, const ContourUm& metal) const {
    const double reach = 0.5 * std::max(drawn_.along, drawn_.across);
    const auto hidden = [&](PointUm p) { return BesideHidden(p, 1.3 * reach); };
    CutWirePlace place{f.wire, metal, f.at, reach, 0.5 * drawn_.across / pitch_px_, {}};
    place.hidden = [](PointUm) { return false; };  // bores are mended where wires hid their edge
    for (const LumenTrace& lumen : section_.lumens) {
      if (StandsOut(lumen.bore, place, -1, pitch_px_)) return lumen.names.front();
    }
    place.hidden = hidden;
    return StandsOut(*section_.outline, place, 1, pitch_px_) ? "outside" : "";
  }

  // Along the tube as drawn; a wire a whole wire off its place is displaced, if that is far for
  // this row.
  void TellDisplaced() {
    if (trace_.turns == 0) return;
    std::vector<double> off, away(wires_.size(), 0);
    for (std::size_t k = 0; k < wires_.size(); ++k) {
      WireTrace& wire = wires_[k];
      if (wire.state != WireState::kWire || wire.no < 1 || wire.no > 2 * trace_.turns) continue;
      const int row = (wire.no - 1) / trace_.turns, slot = (wire.no - 1) % trace_.turns;
      wire.off_um = Dot(wire.centroid, axis_) - start_[row] - slot * pitch_;
      off.push_back(wire.off_um);
      away[k] =
          std::hypot(wire.off_um, Dot(wire.centroid, PointUm{-axis_.y, axis_.x}) - line_[row]);
    }
    if (off.empty()) return;
    const double least = std::max(0.8 * drawn_.along, 4 * RobustSigma(std::move(off)));
    for (std::size_t k = 0; k < wires_.size(); ++k) wires_[k].displaced = away[k] > least;
  }

  // A wire there would lie in the picture as a whole.
  bool Shown(PointUm place) const {
    const PointPx p = scale_.ToPx(place);
    const double margin = 0.5 * std::max(drawn_.along, drawn_.across) / pitch_px_ + kAround_px;
    return p.x > margin && p.y > margin && p.x < micrograph_.width() - 1 - margin &&
           p.y < micrograph_.height() - 1 - margin;
  }

  bool Filled(int row, int slot) const {
    return std::any_of(found_.begin(), found_.end(),
                       [&](const Found& f) { return f.row == row && f.slot == slot; });
  }
  PointUm PlaceOf(int row, int slot) const {
    return (start_[row] + slot * pitch_) * axis_ + line_[row] * PointUm{-axis_.y, axis_.x};
  }

  // Dull wires in places that are empty otherwise. Dark metal that is paler may be a hole.
  void TakePale() {
    if (trace_.turns == 0 || !bright_) return;
    std::vector<const CutWire*> like;
    for (const Found& f : found_) {
      if (f.wire.seen_share > kStandsFree) like.push_back(&f.wire);
    }
    if (like.size() < 5) return;
    const ContourPx shape = UsualEdge(like);
    const double reach = std::min(0.3 * pitch_, 0.5 * drawn_.across) / pitch_px_;
    for (int row = 0; row < 2; ++row) {
      for (int slot = 0; slot < slots_[row]; ++slot) {
        const PointUm place = PlaceOf(row, slot);
        if (Filled(row, slot) || !Contains(section_.outline->Points(), place)) continue;
        auto pale = FindPaleWire(micrograph_, tones_.light, scale_.ToPx(place), reach, shape,
                                 metal_.level - 1, tones_.fine_noise);
        if (!pale) continue;
        Found f;
        f.row = row;
        f.slot = slot;
        f.at = scale_.ToUm(pale->centre);
        f.along = Dot(f.at, axis_);
        f.across = Cross(axis_, f.at) - line_[row];
        f.wire = std::move(*pale);
        found_.push_back(std::move(f));
      }
    }
  }

  // Slots without a wire.
  void AddGaps() {
    if (trace_.turns == 0) return;
    for (int row = 0; row < 2; ++row) {
      for (int slot = 0; slot < slots_[row]; ++slot) {
        if (Filled(row, slot) || (ends_unknown_ && BeyondAll(row, slot))) continue;
        WireTrace out;
        out.layer = layer_.name;
        out.no = row * trace_.turns + slot + 1;
        out.centroid = PlaceOf(row, slot);
        if (!Shown(out.centroid) || Doubted(out.centroid)) continue;
        // Dark metal that was not traced looks like a hole.
        const auto dark = bright_ ? std::nullopt : ShareAbout(scale_.ToPx(out.centroid), 1);
        if (dark && *dark > kMetalThere)
          Doubt("one of its wires may be a hole: in this light they look alike");
        out.state = LeftHole(out) ? WireState::kPulledOut : WireState::kMissing;
        if (out.state == WireState::kPulledOut) out.exposed_to = OpensInto(out.centroid);
        wires_.push_back(std::move(out));
      }
    }
  }

  std::optional<double> ShareAbout(PointPx at, double r) const {
    const auto tone = ToneAbout(micrograph_, tones_.light, at, r);
    if (!tone) return std::nullopt;
    return (*tone - 1) / (metal_.level - 1);
  }

  // A place without a wire that shows metal or lies outside the part: the rows are wrong.
  bool Doubted(PointUm place) {
    const PointPx at = scale_.ToPx(place);
    const auto inside = ShareAbout(at, 0.2 * drawn_.across / pitch_px_);
    if (!inside) return false;
    const auto around = ShareAbout(at, 0.5 * drawn_.across / pitch_px_ + kAround_px);
    const bool pale = around && *inside - std::max(0.0, *around) > kPaleThere;
    const bool metal = bright_ && (*inside > kMetalThere || pale);
    const bool outside = !Contains(section_.outline->Points(), place);
    if (!metal && !outside) return false;
    Doubt(metal ? "metal that was not told as a wire stands where one seems to be missing"
                : "a row's places reach out of the part: its wires were not all told");
    return true;
  }
  void Doubt(const char* why) {
    trace_.counted = false;
    if (trace_.doubt.empty()) trace_.doubt = why;
  }

  // A hole of about a wire's size near the empty place; the void then carries that class.
  bool LeftHole(WireTrace& wire) {
    const double reach = 0.5 * std::max(drawn_.along, drawn_.across) + 0.1 * pitch_;
    const double area = M_PI / 4 * drawn_.along * drawn_.across;
    for (Void& v : section_.voids) {
      if (Distance(v.centroid, wire.centroid) > reach) continue;
      if (v.area_um2 < 0.3 * area || v.area_um2 > 2.5 * area) continue;
      v.kind = VoidClass::kPulledOutWire;
      v.evidence = fmt::format("where wire {}/{} belongs and of its size", wire.layer, wire.no);
      wire.centroid = v.centroid;
      return true;
    }
    if (!bright_) return false;
    const PointPx at = scale_.ToPx(wire.centroid);
    if (!Shown(wire.centroid)) return false;
    const auto tone = ToneAbout(micrograph_, tones_.light, at, 0.25 * drawn_.across / pitch_px_);
    return tone && *tone < 1 - std::max(kHoleTone, 6 * tones_.fine_noise);
  }

  // The bore that a pulled-out wire's hole lies open to.
  std::string OpensInto(PointUm hole) const {
    for (const LumenTrace& lumen : section_.lumens) {
      if (lumen.bore.vertices.size() < 6) continue;
      const ContourUm bore = lumen.bore.Points();
      const double half = 0.5 * drawn_.across;
      if (ContourIndex<FrameUm>{View(bore)}.SignedDistance(hole, 2 * half) < half)
        return lumen.names.front();
    }
    return "";
  }

  // `work` is given a bore as drawn, um of the picture, and as it is.
  template <class F>
  void ForEachBore(const F& work) {
    for (LumenTrace& lumen : section_.lumens) {
      const LumenDesign* drawn = plane_.FindLumen(lumen.names.front());
      if (drawn == nullptr || lumen.bore.vertices.size() < 12) continue;
      work(InPicture(drawn->shape.contour, pose_.warp, scale_), lumen);
    }
  }

  void MendPainted() {
    std::vector<PaintedDisc> painted;
    for (const Found& f : found_) {
      const double reach = f.wire.Reach();
      painted.push_back({f.at, (reach + WireMargin_px(reach) + 1) * pitch_px_});
    }
    ForEachBore(
        [&](const ContourUm& drawn, LumenTrace& lumen) { MendPaintedBore(painted, drawn, lumen); });
  }

  void MendBores() {
    ForEachBore([&](const ContourUm& drawn, LumenTrace& lumen) {
      MendBareBore(wires_, drawn, pitch_px_, lumen);
    });
  }

  // Wires are no voids.
  void ClearVoids() {
    std::erase_if(section_.voids, [&](const Void& v) {
      return std::any_of(wires_.begin(), wires_.end(), [&](const WireTrace& wire) {
        if (wire.contour.vertices.empty()) return false;
        const double reach = 0.5 * wire.long_um + trace_.halo_um;
        return Distance(v.centroid, wire.centroid) < reach &&
               v.area_um2 < 6 * wire.long_um * wire.short_um;
      });
    });
    int no = 0;
    for (Void& v : section_.voids) v.no = ++no;
  }

  const Micrograph& micrograph_;
  const Pose& pose_;
  const FaceTones& tones_;
  const Scale& scale_;
  const SectionDesign& plane_;
  const WireLayerDesign& layer_;
  WallMetal metal_;
  Section& section_;
  DrawnWire drawn_;
  double pitch_px_ = 1;  // um per px
  double radius_ = 0;    // um, of the rows from the middle line as drawn
  bool bright_ = true;
  std::vector<Found> found_;
  PointUm axis_{1, 0};
  double line_[2] = {0, 0};   // rows' places across the axis
  double start_[2] = {0, 0};  // of slot 0 along it
  int slots_[2] = {0, 0};
  double pitch_ = 0, scatter_ = 0;
  int extras_ = 0;
  bool ends_unknown_ = false;
  WireLayerTrace trace_;
  std::vector<WireTrace> wires_;
};

}  // namespace

void TraceLengthwise(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                     const Scale& scale, const SectionDesign& plane, std::vector<WallMetal> metal,
                     Section& section) {
  for (std::size_t k = 0; k < plane.wires.size(); ++k) {
    LayerWork(micrograph, pose, tones, scale, plane, plane.wires[k], std::move(metal[k]), section)
        .Run();
  }
}

}  // namespace cutface
