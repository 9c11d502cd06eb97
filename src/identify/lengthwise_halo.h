// By how much the cut wires of a lengthwise section look larger than drawn.
// Keywords: halo, blur, drawn size, round wire, ribbon.
#pragma once

#include <string>
#include <vector>

#include "cutface/design.h"
#include "cutface/geometry.h"

namespace cutface {

struct TurnHalo {
  double halo_um = 0, u_um = 0;  // of an edge, outwards
  double scatter_um = 0;         // of one wire's
  std::string doubt;             // "" or why it is not known; then halo_um is 0
};

// `free`: edges at half level, um, of wires whose edges end in the body all round. `axis`: of the
// tube, `pitch_um`: of the picture's pixels.
TurnHalo TellTurnHalo(const std::vector<ContourUm>& free, const WireLayerDesign& layer,
                      PointUm axis, double pitch_um, bool bright);

}  // namespace cutface
