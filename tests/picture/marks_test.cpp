#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <set>

#include "cutface/picture.h"
#include "picture/canvas.h"
#include "picture/sample.h"
#include "picture/theme.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using Kind = DisplayItem::Kind;
using testing::HasSubstr;

WireTrace Wire(int no, int family, WireState state) {
  WireTrace wire;
  wire.layer = "braid";
  wire.no = no;
  wire.family = family;
  wire.state = state;
  const double t = 2 * std::numbers::pi * no / 16;
  const PointUm off = 1120 * PointUm{std::sin(t), -std::cos(t)};
  wire.centroid = sample::kCentre + off;
  if (state == WireState::kMissing) return wire;
  wire.long_um = wire.short_um = 60;
  wire.contour = sample::Traced(sample::Round(off, 30));
  return wire;
}

// The four-lumen shaft with a liner, a braid of two hands and one region of every class.
SectionResult Braided() {
  SectionResult r = sample::FourLumens();
  r.section.liners.push_back({"scope", sample::Traced(sample::Round({0, -470}, 500))});
  WireLayerTrace layer;
  layer.name = "braid";
  layer.expected = 16;
  r.section.wire_layers.push_back(layer);
  for (int no = 1; no <= 16; ++no) {
    const WireState state = no == 5    ? WireState::kMissing
                            : no == 9  ? WireState::kPulledOut
                            : no == 12 ? WireState::kExtra
                                       : WireState::kWire;
    r.section.wires.push_back(Wire(no, no > 8 ? 2 : 1, state));
  }
  FibreTrace fibre;
  fibre.name = "axial-1";
  fibre.centre = sample::kCentre + PointUm{0, 900};
  fibre.filaments = 7;
  fibre.radius_um = 40;
  fibre.at = {fibre.centre};
  r.section.fibres.push_back(fibre);
  int no = 1;
  for (const VoidClass kind :
       {VoidClass::kBondGap, VoidClass::kLinerGap, VoidClass::kDebris, VoidClass::kPulledOutWire,
        VoidClass::kChip, VoidClass::kOutsideBubble, VoidClass::kSmear, VoidClass::kPottingGap,
        VoidClass::kDelamination, VoidClass::kDoubtful}) {
    Void v;
    v.no = ++no;
    v.kind = kind;
    const PointUm off{-700.0 + 180 * no, 300};
    v.contour = sample::Traced(sample::Round(off, 25));
    v.centroid = sample::kCentre + off;
    v.area_um2 = 1960;
    r.section.voids.push_back(v);
  }
  return r;
}

const DisplayItem* Keyed(const DisplayList& list, const std::string& key) {
  for (const DisplayItem& item : list.items) {
    if (item.key == key) return &item;
  }
  return nullptr;
}

// A grey print keeps style, width and lightness; a reader of any colour vision the same.
TEST(Marks, EveryClassHasAStrokeOfItsOwnThatAGreyPrintKeeps) {
  const DisplayList list = BuildDisplayList(Braided());
  std::map<std::string, std::tuple<LineStyle, int, int>> strokes;
  for (const char* key : {"outline",
                          "lumen",
                          "ring",
                          "liner",
                          "wire, first hand",
                          "wire, second hand",
                          "wire with a finding",
                          "empty slot",
                          "fibres",
                          "void",
                          "bond gap",
                          "liner gap",
                          "debris",
                          "pulled-out wire",
                          "chip",
                          "outside bubble",
                          "smear",
                          "potting gap",
                          "delamination",
                          "doubtful place"}) {
    const DisplayItem* item = Keyed(list, key);
    ASSERT_NE(item, nullptr) << key;
    const Rgb c = Colour(item->ink);
    const double grey = 0.299 * c.r + 0.587 * c.g + 0.114 * c.b;
    const std::tuple stroke{item->style, static_cast<int>(grey * 8),
                            static_cast<int>(item->weight * 4)};
    for (const auto& [other, taken] : strokes) EXPECT_NE(stroke, taken) << key << ", " << other;
    strokes.emplace(key, stroke);
  }
}

TEST(Marks, WiresAreDrawnThinnerThanTheEdgesOfThePart) {
  const DisplayList list = BuildDisplayList(Braided());
  EXPECT_LT(Keyed(list, "wire, first hand")->weight, Keyed(list, "outline")->weight);
  EXPECT_LT(Keyed(list, "liner")->weight, Keyed(list, "lumen")->weight);
}

TEST(Marks, AMissingWireIsACrossedCircleAtItsSlot) {
  const SectionResult result = Braided();
  const PointUm slot = result.section.wires[4].centroid;
  int circles = 0, strokes = 0;
  for (const DisplayItem& item : BuildDisplayList(result).items) {
    if (item.feature != "braid/5" || item.kind == Kind::kText) continue;
    const PointUm middle = item.kind == Kind::kContour
                               ? Centroid<FrameUm>(item.points)
                               : 0.5 * (item.points.front() + item.points.back());
    EXPECT_LT(Distance(middle, slot), 1e-6);
    circles += item.kind == Kind::kContour;
    strokes += item.kind == Kind::kPath;
  }
  EXPECT_EQ(circles, 1);
  EXPECT_EQ(strokes, 2);
}

TEST(Marks, SeveralLayersOfWiresAreNamedAndDifferInWidth) {
  SectionResult result = Braided();
  WireLayerTrace outer;
  outer.name = "outer";
  result.section.wire_layers.push_back(outer);
  WireTrace wire = Wire(1, 1, WireState::kWire);
  wire.layer = "outer";
  result.section.wires.push_back(wire);
  const DisplayList list = BuildDisplayList(result);
  ASSERT_NE(Keyed(list, "outer, first hand"), nullptr);
  EXPECT_GT(Keyed(list, "outer, first hand")->weight, Keyed(list, "braid, first hand")->weight);
}

std::set<std::string> Names(const DisplayList& list) {
  std::set<std::string> names;
  for (const DisplayItem& item : list.items) {
    if (item.kind == Kind::kText) names.insert(item.text);
  }
  return names;
}

TEST(Marks, OnlyTheFirstWireOfEachHandIsNamed) {
  SectionResult result = Braided();
  for (WireTrace& wire : result.section.wires) wire.state = WireState::kWire;
  const std::set<std::string> names = Names(BuildDisplayList(result));
  EXPECT_TRUE(names.contains("braid/1"));
  EXPECT_TRUE(names.contains("braid/9"));
  EXPECT_FALSE(names.contains("braid/2"));
  EXPECT_TRUE(names.contains("jacket"));
}

TEST(Marks, LengthwiseEveryFifthTurnHasItsNumber) {
  SectionResult result = Braided();
  result.section.wire_layers[0].turns = 8;
  for (WireTrace& wire : result.section.wires) {
    wire.family = 0;
    wire.state = WireState::kWire;
  }
  const std::set<std::string> names = Names(BuildDisplayList(result));
  for (const char* name : {"braid/1", "5", "braid/9", "10", "15"})
    EXPECT_TRUE(names.contains(name)) << name;
  EXPECT_FALSE(names.contains("7"));
}

TEST(Marks, AVoidsFindingIsNamedByItsClassAndNumber) {
  SectionResult result = Braided();
  Finding chip;
  chip.kind = "void";
  chip.where = {"voids"};
  chip.evidence["no"] = 6;
  chip.at = {result.section.voids[5].centroid};
  result.findings = {chip};
  ASSERT_EQ(result.section.voids[5].kind, VoidClass::kChip);
  EXPECT_TRUE(Names(BuildDisplayList(result)).contains("chip 6"));
}

// A potting gap beside the outline is no finding of all of it.
TEST(Marks, ARegionBesideAnEdgeLeavesTheEdgeAsItIs) {
  SectionResult result = Braided();
  Finding gap;
  gap.kind = "potting gap";
  gap.where = {"outline"};
  gap.evidence["no"] = 3;
  gap.at = {result.section.voids[2].centroid};
  result.findings = {gap};
  const DisplayList list = BuildDisplayList(result);
  ASSERT_NE(Keyed(list, "outline"), nullptr);
  EXPECT_EQ(Keyed(list, "outline")->ink, Ink::kOutline);
}

// The hole and the empty slot are one place: one name.
TEST(Marks, APulledOutWireIsNamedOnce) {
  SectionResult result = Braided();
  Void& hole = result.section.voids[4];
  ASSERT_EQ(hole.kind, VoidClass::kPulledOutWire);
  hole.centroid = result.section.wires[8].centroid;
  Finding of_void, of_wire;
  of_void.kind = "void";
  of_void.evidence["no"] = hole.no;
  of_wire.kind = "missing wire";
  of_wire.where = {"braid", "braid/9"};
  of_void.at = of_wire.at = {hole.centroid};
  result.findings = {of_void, of_wire};
  const std::set<std::string> names = Names(BuildDisplayList(result));
  EXPECT_TRUE(names.contains("missing wire\nbraid/9"));
  EXPECT_FALSE(names.contains("pulled-out wire 5"));
}

TEST(Marks, ABridgedStretchOfALinerIsDottedAndSaidSo) {
  SectionResult result = Braided();
  auto& v = result.section.liners[0].outer.vertices;
  for (std::size_t i = 0; i < 60; ++i) v[i].state = VertexState::kBridged;
  const DisplayList list = BuildDisplayList(result);
  const DisplayItem* bridged = Keyed(list, "bridged, not seen");
  ASSERT_NE(bridged, nullptr);
  EXPECT_EQ(bridged->style, LineStyle::kDotted);
  EXPECT_EQ(bridged->feature, "scope/liner");
}

TEST(Marks, TheSvgNamesEveryWireAndItsLegendEveryClass) {
  const SectionResult result = Braided();
  const auto svg =
      RenderSvg(MicrographFromPixels(sample::Paint(result, {}, 800, 600), 8, "photo.png"),
                Scale::Isotropic(2 * sample::kPitchUm), result);
  ASSERT_THAT(svg, IsOk());
  for (const char* text :
       {"data-feature=\"braid/5\"", "data-feature=\"scope/liner\"", "data-feature=\"axial-1\"",
        ">wire, second hand<", ">liner gap<", ">doubtful place<"})
    EXPECT_THAT(*svg, HasSubstr(text));
}

}  // namespace
}  // namespace cutface
