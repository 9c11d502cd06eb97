#include <gtest/gtest.h>

#include <map>
#include <set>

#include "cutface/base.h"
#include "cutface/quantity.h"

namespace cutface {
namespace {

// The words of the design's table of quantities, typed again here: a word that gets lost or renamed
// breaks other people's files.
const std::map<QuantityOf, std::set<std::string_view>> kWords = {
    {QuantityOf::kOutline,
     {"diameter", "equivalent_diameter", "width_min", "width_max", "roundness", "ovality", "area",
      "perimeter"}},
    {QuantityOf::kLumen,
     {"diameter",
      "equivalent_diameter",
      "width_min",
      "width_max",
      "roundness",
      "ovality",
      "area",
      "perimeter",
      "inscribed_diameter",
      "go_pin",
      "enclosing_diameter",
      "hydraulic_diameter",
      "area_ratio",
      "inscribed_ratio",
      "flow_ratio",
      "perimeter_ratio",
      "narrow_clock",
      "hoop_stress",
      "wall_stress",
      "offset",
      "position",
      "clock",
      "wall",
      "barrier",
      "barrier_conducting"}},
    {QuantityOf::kLumenPair,
     {"septum", "septum_polymer", "barrier", "barrier_weakest", "barrier_conducting", "strip_span",
      "strip_stress", "strip_sag", "ligament_stress", "ligament_membrane", "ligament_bending",
      "ligament_sag"}},
    {QuantityOf::kRing,
     {"thickness_min", "thickness_mean", "thickness_max", "concentricity", "eccentricity", "runout",
      "longest_gap", "wall_variation", "wall_range", "eccentricity_sum", "eccentricity_mean",
      "centre_offset", "first_harmonic", "first_harmonic_clock", "second_harmonic",
      "second_harmonic_clock", "third_harmonic", "third_harmonic_clock"}},
    {QuantityOf::kWireLayer,
     {"count", "spacing_max", "outer_cover", "inner_cover", "layer_diameter", "braid_angle",
      "picks_per_mm", "coverage", "pitch", "pitch_min", "pitch_max", "pitch_spread",
      "displacement"}},
    {QuantityOf::kVoids,
     {"largest", "longest", "void_count", "area_fraction", "void_to_lumen", "void_to_outside"}},
    {QuantityOf::kBond, {"bonded_arc", "longest_gap", "offset", "runout", "tilt"}},
    // Not of a drawing: what edges give that a person points at.
    {QuantityOf::kAsked,
     {"radius", "arc_length", "distance", "thickness", "angle", "centre_distance"}},
};

TEST(QuantityTable, HoldsExactlyTheWordsOfTheDesign) {
  std::map<QuantityOf, std::set<std::string_view>> found;
  for (const QuantityRow& row : QuantityTable()) {
    EXPECT_TRUE(found[row.of].insert(row.word).second) << "twice: " << row.word;
  }
  EXPECT_EQ(found, kWords);
}

TEST(QuantityTable, EveryRowIsFilledIn) {
  const std::set<std::string_view> units = {"um", "um2", "deg", "1", "%", "1/mm", "MPa"};
  for (const QuantityRow& row : QuantityTable()) {
    SCOPED_TRACE(row.word);
    EXPECT_TRUE(units.count(row.unit)) << row.unit;
    EXPECT_FALSE(row.title.empty());
    EXPECT_FALSE(row.formula.empty());
    EXPECT_FALSE(row.source.empty());
    ASSERT_FALSE(row.definition.empty());
    EXPECT_EQ(row.definition.back(), '.');  // one whole sentence
    EXPECT_EQ(row.definition.find(". "), std::string_view::npos);
    for (const char c : row.word) EXPECT_TRUE((c >= 'a' && c <= 'z') || c == '_');
    if (row.kind == QuantityKind::kCount) {
      EXPECT_EQ(row.unit, "1");
    }
    if (row.circular) {
      EXPECT_EQ(row.unit, "deg");
      EXPECT_FALSE(row.at_least_zero);
    }
  }
}

TEST(QuantityTable, ExtremesAreMarkedAsWhatTheyAre) {
  for (const QuantityRow& row : QuantityTable()) {
    SCOPED_TRACE(row.word);
    const bool min = row.word.ends_with("_min"), max = row.word.ends_with("_max");
    if (min || row.word == "septum" || row.word == "wall" || row.word == "barrier") {
      EXPECT_EQ(row.kind, QuantityKind::kLeast);
    }
    if (max || row.word.starts_with("longest")) {
      EXPECT_EQ(row.kind, QuantityKind::kGreatest);
    }
  }
}

TEST(FindQuantity, KnowsWordAndKindTogether) {
  const QuantityRow* septum = FindQuantity("septum", QuantityOf::kLumenPair);
  ASSERT_NE(septum, nullptr);
  EXPECT_EQ(septum->title, "Least septum");
  EXPECT_EQ(septum->unit, "um");
  EXPECT_EQ(FindQuantity("septum", QuantityOf::kLumen), nullptr);
  EXPECT_EQ(FindQuantity("", QuantityOf::kBond), nullptr);
  EXPECT_NE(FindQuantity("barrier", QuantityOf::kLumen),
            FindQuantity("barrier", QuantityOf::kLumenPair));
}

TEST(QuantityOfName, IsDifferentForEveryKind) {
  std::set<std::string_view> names;
  for (const auto& [of, words] : kWords) names.insert(QuantityOfName(of));
  EXPECT_EQ(names.size(), kWords.size());
  EXPECT_EQ(QuantityOfName(QuantityOf::kLumenPair), "lumen pair");
}

}  // namespace
}  // namespace cutface
