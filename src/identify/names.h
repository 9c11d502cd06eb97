// Which names the regions bear, judged by all of them together.
//
// The explained share of tones finds the face, but a thin septum explains little of it, and one
// filled or collapsed lumen can tip it. So every turn and mirroring that the outline allows is
// judged anew by the regions' centres and sizes, with as-built scatter (heavy-tailed: a collapsed
// lumen says little), a common shift and a common size of the lumens. Names that another turn would
// give differently and nearly as well are not proven.
#pragma once

#include <map>
#include <optional>

#include "identify/region_pool.h"

namespace cutface {

struct NameChoice {
  std::optional<Warp> warp;  // another registration that names better; none: the pose stays
  double margin = 1e9;       // log-likelihood of these names over the best other ones
  // By those other names: per lumen of the drawing that would stand elsewhere, the lumen whose name
  // its region would bear instead, -1 for none.
  std::map<int, int> others;
};

NameChoice ChooseNames(const Pose& pose, const FaceTones& tones, int reduction, double um_per_px,
                       const SectionDesign& plane);

}  // namespace cutface
