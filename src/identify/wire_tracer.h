// One wire layer of a face, in two steps: its wires near their slots, then the ones that went
// astray, and what each is called. Used by wires.cpp, wire_looks.cpp and wire_swap.cpp alone; names
// and states stand in wire_labels.cpp. Keywords: layer, slot, missing, pulled out, extra, doubt.
#pragma once

#include <string>
#include <vector>

#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"
#include "identify/tones.h"
#include "identify/wire_astray.h"
#include "identify/wire_comb.h"
#include "identify/wire_field.h"
#include "identify/wire_fit.h"
#include "identify/wire_halo.h"
#include "identify/wire_search.h"
#include "identify/wire_weave.h"

namespace cutface::wires {

// A wire is another layer's when it lies nearer to it by more than this.
constexpr double kOtherLayer_px = 1.0;

// What all layers of a face share.
struct Face {
  Face(const Micrograph& picture, const Warp& warp, const FaceTones& face_tones,
       const Scale& face_scale, Section& known)
      : micrograph(picture),
        tones(face_tones),
        scale(face_scale),
        section(known),
        frame(warp, face_scale.mean_pitch_um()),
        blur(std::clamp(known.picture.blur_px, 0.5, 4.0)) {
    if (known.outline) outline = scale.ToPx(std::span<const PointUm>(known.outline->Points()));
    for (const LumenTrace& lumen : known.lumens) {
      if (lumen.bore.vertices.size() > 5)
        bores.push_back(scale.ToPx(std::span<const PointUm>(lumen.bore.Points())));
    }
    for (const LinerTrace& liner : known.liners) {
      if (liner.outer.vertices.size() > 5 && liner.outer.doubt.empty())
        liners.push_back(scale.ToPx(std::span<const PointUm>(liner.outer.Points())));
    }
    for (const RingTrace& ring : known.rings) {
      if (ring.inner.vertices.size() > 5 && ring.inner.doubt.empty())
        rings.push_back(scale.ToPx(std::span<const PointUm>(ring.inner.Points())));
    }
  }
  const Micrograph& micrograph;
  const FaceTones& tones;
  const Scale& scale;
  Section& section;
  LayerFrame frame;
  double blur;
  ContourPx outline;
  std::vector<ContourPx> bores, liners, rings;
  int side = 0;  // +1, -1 once a layer has told whether metal is bright or dark
};

// One layer, in two steps: first its wires near their slots, then, when those of all layers are
// known, the ones that went astray, and names for all.
class Tracer {
 public:
  Tracer(Face& face, const WirePlan& layer)
      : face_(face),
        micrograph_(face.micrograph),
        tones_(face.tones),
        scale_(face.scale),
        section_(face.section),
        pitch_(face.scale.mean_pitch_um()),
        frame_(face.frame),
        blur_(face.blur),
        outline_(face.outline),
        layer_(layer) {
    trace_.name = layer.design->name;
    trace_.expected = layer.expected;
    trace_.centre = Um({0, 0});
    trace_.doubt = Unusable(layer);
    trace_.counted = false;
  }

  // `taken`: wires of the layers before.
  void Find(const std::vector<FittedWire>& taken) {
    if (trace_.doubt.empty()) Search(taken);
  }
  // Of a layer that was understood; else none.
  const std::vector<FittedWire>& wires() const { return wires_; }

  double across() const { return size_.across; }  // px, half, as it looks
  double Area() const { return size_.Area(); }    // px^2, likewise
  int expected() const { return layer_.expected; }
  // How large a wire of this layer looks by itself, px^2.
  double OwnArea(const FittedWire& wire) const { return OwnSize(field_, limits_, wire).Area(); }
  double score() const { return wires_.empty() ? 0 : score_; }  // all wires found and clear: 1

  // Wires without a slot, and how far outside this layer a place lies (no wires: infinitely).
  std::vector<FittedWire> Spares();
  double OffLayer(PointPx p) const;
  // Over the layer's own round, px: it need not be where the drawing lies.
  double Height(PointPx p) const;
  // An empty slot at this wire's clock, and wires of about its size.
  bool LacksOneLike(const FittedWire& wire);
  void TakeFrom(Tracer& from, const FittedWire& wire);

  // `others`: wires of all other layers, `rest`: these layers.
  void Settle(const std::vector<FittedWire>& others, const std::vector<const Tracer*>& rest);
  bool lacks() const { return lacks_; }  // wires in slots
  bool spare() const { return spare_; }  // wires without
  void Doubt(std::string why);           // the layer is not counted
  void Finish() { section_.wire_layers.push_back(trace_); }

 private:
  PointUm Um(PointPx q) const { return scale_.ToUm(frame_.ToPicture(q)); }

  void Search(const std::vector<FittedWire>& taken);

  void TellHaloOf(WireSearch& search, const WireField& field, const FitLimits& limits,
                  const std::vector<FittedWire>& wires, WireSize& size);

  void Slot(std::vector<FittedWire> wires);

  bool Misunderstood(const CombFit& fit);

  // Paler wires that touch others, where slots are empty. True when some joined.
  bool LookIntoRest(const CombFit& fit, const std::vector<FittedWire>& others);

  // Wires that went astray: on the whole face, once all others are known. True when some joined.
  bool LookFurther(const UsualWire& usual, const std::vector<FittedWire>& others,
                   const std::vector<const Tracer*>& rest);

  // Outside the layer a wire without a slot may be another layer's.
  void DropOutlying(const CombFit& fit);

  // A layer of which much is amiss was not understood.
  bool Strange(const CombFit& fit) const;

  // Of a circle through most of the wires' middles.
  void Centre(const std::vector<FittedWire>& wires);

  // Of the slots of this fit AtSlot() and Emit() speak.
  CombFit Combs(const std::vector<FittedWire>& wires);

  bool Seen(const WireField& field, const FittedWire& wire) const;

  static void PutAt(PointPx at, FittedWire& wire) {
    wire.angle = std::atan2(at.y, at.x);
    wire.radius = Norm(at);
  }

  FittedWire AtSlot(const CombSlot& slot, const WireSize& size) const;

  // Wires that the search overlooked: paler ones at empty slots, and pairs that lie so close that
  // they were taken for one.
  bool Rescue(const WireField& field, const FitLimits& limits, const WireSize& size,
              const CombFit& fit, std::vector<FittedWire>& wires) const;

  // The wire next to an empty slot may be two.
  static bool Part(const WireField& field, const FitLimits& limits, const FittedWire& there,
                   std::vector<FittedWire>& wires);

  // Places without a slot that are not like the layer's wires are not called extra wires.
  void DropUnlike(const CombFit& fit, std::vector<FittedWire>& wires) const;

  struct Labelled {
    FittedWire wire;
    WireState state = WireState::kWire;
    int family = 0;
    double clock = 0;
    double off = 0;  // px along the layer from the slot
    bool shown = true;
  };

  // `others`: wires of other layers.
  void Emit(const WireField& field, const CombFit& fit, const std::vector<FittedWire>& wires,
            const std::vector<FittedWire>& others);

  // A wire bunched against another one, and a slot with body in it: it is that slot's wire, however
  // far it was pushed.
  void SeatBunched(const CombFit& fit, const std::vector<FittedWire>& wires,
                   std::vector<int>& spare, std::vector<Labelled>& all) const;
  bool Touches(const FittedWire& wire, const std::vector<FittedWire>& wires) const;

  // Wires and holes abreast in one group stand in their order.
  void SortAbreast(const CombFit& fit, std::vector<Labelled>& all) const;
  double OffSlot(const CombSlot& slot, const FittedWire& wire) const;

  // A wire there would be seen only as a bulge of another one.
  bool Hidden(const FittedWire& slot, const std::vector<FittedWire>& wires) const;

  void LookInto(const WireField& field, const CombFit& fit, const std::vector<FittedWire>& wires,
                Labelled& l) const;

  // A wire far off its slot is an extra one where the slot holds a hole. `l` tells of the slot.
  bool LeftAHole(const WireField& field, const CombFit& fit, const std::vector<FittedWire>& wires,
                 const CombSlot& slot, Labelled& l) const;

  // Against dark metal holes look like wires; they are a little lighter than those. Where that
  // cannot be seen, or one is neither, the layer is not counted.
  void TellDarkHoles(std::vector<Labelled>& all);
  static double UsualAround(const std::vector<Labelled>& all);
  // Touches a lumen: a hole there would hold what the lumen holds.
  bool AtBore(const FittedWire& wire) const;

  TracedContour Contour(const FittedWire& wire) const;

  // Of a wire's middle: from the misfit along its edge; more where neighbours touch.
  double PlaceU(const FittedWire& wire) const {
    const double px = std::clamp(0.25 * wire.misfit, 0.05, 1.0);
    return (wire.alone ? px : 1.6 * px) * pitch_;
  }

  void Add(const Labelled& l, int no);

  Face& face_;
  const Micrograph& micrograph_;
  const FaceTones& tones_;
  const Scale& scale_;
  Section& section_;
  double pitch_;
  const LayerFrame& frame_;
  double blur_;
  const ContourPx& outline_;
  WirePlan layer_;
  WireLayerTrace trace_;
  FieldRequest request_;
  WireField field_;
  FitLimits limits_;
  WireSize size_;                  // as seen, half level
  std::vector<FittedWire> wires_;  // empty: none, or not understood
  PointPx centre_;
  double radius_ = 1;
  WeaveHeights weave_;
  double usual_off_ = 0;
  double score_ = 0;
  bool bright_ = true;
  int strays_ = 0;  // blobs of metal on the whole face that no wire explains
  bool blind_ = false;
  bool lacks_ = false, spare_ = false;
  Halo halo_;
  WireSize true_;
};

// All layers of a face, the drawing laid by `warp`: fills section.wires and section.wire_layers and
// mends edges at wires.
void TraceWiresAt(const Warp& warp, const Micrograph& micrograph, const FaceTones& tones,
                  const Scale& scale, const SectionDesign& plane, Section& section);

}  // namespace cutface::wires
