#include "phantom/traps.h"

#include <algorithm>
#include <array>
#include <string>

#include "phantom/draw.h"
#include "phantom/trapper.h"

namespace cutface::phantom {
namespace {

constexpr std::array<std::string_view, 9> kTraps = {
    "decoy holes", "second part",    "body-toned resin", "missing lumen", "swapped lumens",
    "wrong plane", "wrong revision", "mirrored",         "wrong scale"};

// The same in built-up parts, and what only they have.
constexpr std::array<std::string_view, 12> kBuiltTraps = {
    "decoy holes",    "second part",    "body-toned resin",    "missing lumen",
    "swapped lumens", "wrong plane",    "wrong revision",      "mirrored",
    "wrong scale",    "liner left out", "wire layer left out", "other number of wires"};

template <class Item>
std::size_t OneOf(const std::vector<Item>& items, Random& random) {
  return static_cast<std::size_t>(random.Integer(0, static_cast<int>(items.size()) - 1));
}

// Builds the part otherwise than drawn where the trap wants it; false when the drawing has no place
// for the trap.
bool BuildFor(std::string_view trap, SectionDesign& section, Altered& altered, Random& random) {
  if (trap == "body-toned resin") return !section.lumens.empty();
  if (trap == "missing lumen") {
    if (section.lumens.empty()) return false;
    const std::size_t one = OneOf(section.lumens, random);
    altered.lumen = section.lumens[one].name;
    section.lumens.erase(section.lumens.begin() + static_cast<std::ptrdiff_t>(one));
    return true;
  }
  if (trap == "swapped lumens") return section.lumens.size() > 1;
  // A part that is its own mirror image is no trap.
  if (trap == "mirrored") return !SamePlaneTurned(section, TurnedOver(section), false);
  if (trap == "liner left out") {
    std::vector<LumenDesign*> lined;
    for (LumenDesign& lumen : section.lumens) {
      if (lumen.liner_thickness_um) lined.push_back(&lumen);
    }
    if (lined.empty()) return false;
    LumenDesign& one = *lined[OneOf(lined, random)];
    altered.liner = one.name;
    one.liner_thickness_um.reset();
    return true;
  }
  if (trap == "wire layer left out") {
    if (section.wires.empty()) return false;
    const std::size_t one = OneOf(section.wires, random);
    altered.layer = section.wires[one].name;
    section.wires.erase(section.wires.begin() + static_cast<std::ptrdiff_t>(one));
    return true;
  }
  return trap != "other number of wires" || !section.wires.empty();
}

}  // namespace

PhantomFace DrawHostileFace(std::uint64_t seed) {
  const PhantomSet set = seed / kTraps.size() % 2 == 0 ? PhantomSet::kPlain : PhantomSet::kHard;
  PhantomFace face = DrawPhantomFace(set, seed);
  Trapper trapper(face, seed);
  trapper.MakeRowsFit();
  trapper.Spring(kTraps[seed % kTraps.size()]);
  trapper.Finish("hostile", seed);
  return face;
}

PhantomFace DrawHostileBuiltFace(std::uint64_t seed) {
  constexpr std::uint64_t kApart = 1000003;  // of the faces that are tried for one seed
  const std::string_view trap = kBuiltTraps[seed % kBuiltTraps.size()];
  const PhantomSet set =
      seed / kBuiltTraps.size() % 2 == 0 ? PhantomSet::kBuiltPlain : PhantomSet::kBuiltHard;
  for (std::uint64_t i = 0;; ++i) {
    CF_CHECK(i < 1000);
    Altered altered;
    Random random((std::uint64_t{1} << 41) + seed + i * kApart);
    auto face = DrawBuiltOtherwise(set, seed + i * kApart, [&](SectionDesign& section) {
      altered = {};
      return BuildFor(trap, section, altered, random);
    });
    if (!face) continue;
    Trapper trapper(*face, seed + i * kApart);
    trapper.TakeBuilt(altered);
    trapper.MakeRowsFit();
    if (!trapper.Spring(trap)) continue;
    trapper.Finish("hostile-built", seed);
    return std::move(*face);
  }
}

}  // namespace cutface::phantom
