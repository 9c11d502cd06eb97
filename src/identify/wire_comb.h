// The combs of a layer: where its wires should be, told from where they are.
//
// A braid has two combs of the same spacing, one for each hand, any other layer one. Phases are
// tried wherever wires crowd (modulo the spacing); each pair of phases is judged by the best
// one-to-one matching of wires with slots, in which a slot without a wire and a wire without a slot
// cost alike and a wire far off its slot costs little more than one that is merely off.
// Keywords: braid, family, phase, assignment, Hungarian method.
#pragma once

#include <functional>
#include <vector>

namespace cutface {

struct CombPlan {
  int families = 1;            // 2: a braid
  int groups = 8;              // per family
  int ends = 1;                // wires abreast in a group
  double apart_rad = 0;        // of wires abreast
  double scatter_rad = 0.015;  // of wires about their slots
  double gate_rad = 0.2;       // beyond: another wire's slot
  double reach_rad = 0;        // beyond the gate: how far one may have been displaced
};

struct CombSlot {
  double angle = 0;  // in the layer's frame
  int family = 0;    // 0 or 1: which comb
  int wire = -1;     // index of the matched angle, -1: none
  int odd = 0;       // 1: every second group of its comb
};

struct CombFit {
  double phase[2] = {0, 0};  // of the groups, [0, spacing)
  double u_phase[2] = {0, 0};
  double scatter_rad = 0;  // of matched wires about their slots (robust)
  std::vector<CombSlot> slots;
  std::vector<int> spare;      // wires without a slot
  double cost = 0, rival = 0;  // of the best phases, and of the best clearly different ones
  bool crossed = false;        // the two combs lie on one another: families are not told
};

// `odd`: what it costs to give a wire a slot at all, where it hardly looks like one of the layer
// (empty: nothing); of two that want one slot the less odd one gets it.
CombFit FitCombs(const std::vector<double>& angles, const CombPlan& plan,
                 const std::vector<double>& odd = {});

// The ends of the best few ways to start, the best first. `rival` is told of the first.
std::vector<CombFit> FindCombs(const std::vector<double>& angles, const CombPlan& plan,
                               const std::vector<double>& odd = {});

// What it costs beyond its place along the layer to give a slot this wire.
using SlotCost = std::function<double(const CombSlot& slot, std::size_t wire)>;

// The steps of a fit: the best matching with the combs where they are; the combs moved to the
// middle of their wires, with their scatter; whether they lie on one another.
void MatchCombs(const std::vector<double>& angles, const CombPlan& plan, const SlotCost& beyond,
                CombFit& fit);
void ShiftCombs(const CombPlan& plan, const std::vector<double>& angles, CombFit& fit);
void TellCrossed(const CombPlan& plan, CombFit& fit);

// Least-cost one-to-one matching of rows with columns (rows <= columns): column of each row.
// O(rows^2 columns); the shortest augmenting path form of the Hungarian method (Kuhn 1955,
// Jonker & Volgenant 1987).
std::vector<int> LeastCostMatching(const std::vector<std::vector<double>>& cost);

}  // namespace cutface
