// Lays a trap in a face that was drawn: changes its scene, or the drawing, record and truth beside
// it. The rows of the drawing become such that the part keeps them but for the trap.
// Keywords: hostile face, trap, decoy, wrong revision, mirrored, wrong scale.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/phantom.h"
#include "cutface/stats.h"

namespace cutface::phantom {

// What was built against the drawing, before the picture.
struct Altered {
  std::string lumen, liner, layer;  // that the part lacks
  bool Any() const { return !lumen.empty() || !liner.empty() || !layer.empty(); }
};

class Trapper {
 public:
  Trapper(PhantomFace& face, std::uint64_t seed);

  // Of a built-up part: drawings of another plane come from these sets. Before all else.
  void TakeBuilt(const Altered& altered);
  // Rows that the true part keeps, with room to spare: only the trap can break them. Rows without a
  // true value go, but for those of what the part lacks.
  void MakeRowsFit();
  // False: this face has no place for it.
  bool Spring(std::string_view trap);
  void Finish(const std::string& set, std::uint64_t seed);

 private:
  using TrapJson = nlohmann::ordered_json;

  TrapJson& Plane() { return design_["sections"]["face"]; }
  bool OfTheLacking(const TrapJson& of) const;
  std::size_t SomeLumen();
  double ToneAround(const PhantomLumen& lumen) const;
  bool AddDecoys();
  bool AddSecondPart();
  bool FillUnseen();
  bool DropLumen();
  bool SwapLumens();
  bool TakeOtherDesign();
  TrapJson OtherPlane();
  TrapJson OtherBuiltPlane();
  bool ReviseDesign();
  bool Mirror();
  bool TakeOtherScale();
  bool CountOtherWires();

  PhantomFace& face_;
  PhantomScene& scene_;
  TrapJson truth_, design_, record_;
  Random random_;
  bool built_ = false;
  Altered altered_;
};

// Whether a plane is another one turned (or turned over, too) as far as its lumens tell: what is
// then exchanged or mirrored, no picture shows.
bool SamePlaneTurned(const SectionDesign& a, const SectionDesign& b, bool over);
// Left for right; the lumens and the outline only.
SectionDesign TurnedOver(const SectionDesign& plane);

}  // namespace cutface::phantom
