// The wires of one layer without their numbers: which side of the body's tone metal lies on, how
// large wires look at the half level, and where they are.
//
// The size is told from wires that stand alone, else from all together, and is held within what
// blur and halo can make of the drawn one; of both sides of the body's tone the one is taken whose
// wires are more like the drawing's.
// Keywords: wire, size, polarity, trial.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "identify/wire_field.h"
#include "identify/wire_fit.h"

namespace cutface {

// A wire layer as the search needs it; px of the layer's frame.
struct WirePlan {
  const WireLayerDesign* design = nullptr;
  double inner = 0, outer = 0;   // radii of wires' middles, px
  double across = 0, along = 0;  // half axes as drawn
  bool flat = false;
  int expected = 0, families = 1, groups = 0, ends = 1;
  double from = 0, to = 0;  // radii that its wires may have been pushed to
  double Middle() const { return 0.5 * (inner + outer); }
};

WirePlan PlanOf(const WireLayerDesign& design, double um_per_px);
// "" or why the layer cannot be looked for.
std::string Unusable(const WirePlan& plan);

struct WireTrial {
  WireField field;
  FitLimits limits;
  WireSize size;
  std::vector<FittedWire> wires;
  double score = 0;  // wires as many and as clear as expected: 1
};

class WireSearch {
 public:
  WireSearch(const Micrograph& micrograph, const FaceTones& tones, const LayerFrame& frame,
             const WirePlan& plan, double blur_px, const std::vector<FittedWire>& taken)
      : micrograph_(micrograph),
        tones_(tones),
        frame_(frame),
        layer_(plan),
        blur_(blur_px),
        taken_(taken) {}

  // nullopt: none was found, why() says why.
  std::optional<WireTrial> Best(FieldRequest request);
  const std::string& why() const { return why_; }

  // How large wires look; also sets the uncertainties of the half axes.
  WireSize SizeOf(const WireField& field, const FitLimits& limits,
                  const std::vector<FittedWire>& wires, const WireSize& otherwise);
  double u_along() const { return u_along_; }
  double u_across() const { return u_across_; }
  // What blur and halo can add to a half axis.
  double LeastHalo() const;
  double MostHalo() const;

 private:
  std::optional<WireTrial> TrySide(const FieldRequest& request);
  // `from`, `to`: radii of wires' middles; `start`: the size to begin with, or `as_drawn` to keep.
  std::optional<WireTrial> Try(const WireField& field, double from, double to,
                               const WireSize& start, bool as_drawn = false);
  WireSize FirstSize(const WireField& field, const FieldRequest& request) const;
  WireSize JointSize(const WireField& field, const FitLimits& limits,
                     const std::vector<FittedWire>& wires, const WireSize& start);
  WireSize Plausible(const WireSize& size) const;

  const Micrograph& micrograph_;
  const FaceTones& tones_;
  const LayerFrame& frame_;
  const WirePlan& layer_;
  double blur_;
  const std::vector<FittedWire>& taken_;  // wires of other layers
  bool bright_ = true;
  double u_along_ = 0.2, u_across_ = 0.2;
  std::string why_;
};

}  // namespace cutface
