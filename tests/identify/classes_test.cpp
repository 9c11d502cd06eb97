#include "identify/classes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace cutface {
namespace {

constexpr double kPitchUm = 2.0;
constexpr PointUm kOrigin{2000, 1500};

TracedContour Round(PointUm centre, double radius) {
  TracedContour out;
  for (int i = 0; i < 360; ++i) {
    const double t = i * M_PI / 180;
    ContourVertex v;
    v.normal = {std::cos(t), std::sin(t)};
    v.at = kOrigin + centre + radius * v.normal;
    out.vertices.push_back(v);
  }
  return out;
}

// A round shaft with one lumen, a braid of 50 um wires on a circle of 2.1 mm.
class Classes : public ::testing::Test {
 protected:
  Classes() {
    plane_.outline.contour = Round({0, 0}, 1250).Points();
    WireLayerDesign braid;
    braid.name = "braid";
    braid.round_um = 50;
    braid.on_diameters_um = {2100};
    plane_.wires = {braid};
    section_.outline = Round({0, 0}, 1250);
    LumenTrace lumen;
    lumen.names = {"scope"};
    lumen.bore = Round({0, 0}, 400);
    section_.lumens = {lumen};
  }
  Void At(PointUm centre, double radius, VoidClass kind = VoidClass::kVoid) {
    Void v;
    v.no = 1;
    v.kind = kind;
    v.contour = Round(centre, radius);
    v.centroid = kOrigin + centre;
    v.area_um2 = M_PI * radius * radius;
    section_.voids = {v};
    ClassifyByPlace(plane_, kPitchUm, kOrigin, {lumen_step_, -0.5}, section_);
    return section_.voids.front();
  }
  SectionDesign plane_;
  Section section_;
  double lumen_step_ = -0.8;
};

TEST_F(Classes, AHoleInTheBodyStaysAVoid) { EXPECT_EQ(At({700, 0}, 25).kind, VoidClass::kVoid); }

// Two wires that touch are one place, which neither accounts for alone.
TEST_F(Classes, APlaceMadeOfWiresGoes) {
  for (const double y : {-25.0, 25.0}) {
    WireTrace wire;
    wire.layer = "braid";
    wire.state = WireState::kWire;
    wire.centroid = kOrigin + PointUm{1050, y};
    wire.long_um = wire.short_um = 50;
    wire.contour = Round({1050, y}, 25);
    section_.wires.push_back(wire);
  }
  Void v;
  v.kind = VoidClass::kDebris;
  v.contour = Round({1050, 0}, 48);
  v.centroid = kOrigin + PointUm{1050, 0};
  v.area_um2 = M_PI * 48 * 48;
  section_.voids = {v};
  ClassifyByPlace(plane_, kPitchUm, kOrigin, {lumen_step_, -0.5}, section_);
  EXPECT_TRUE(section_.voids.empty());
}

TEST_F(Classes, WhatShinesBeyondLumensAndPottingIsNoVoid) {
  Void v;
  v.kind = VoidClass::kVoid;
  v.contour = Round({700, 0}, 25);
  v.centroid = kOrigin + PointUm{700, 0};
  v.area_um2 = M_PI * 25 * 25;
  v.numbers["step_percent"] = 150;
  section_.voids = {v};
  ClassifyByPlace(plane_, kPitchUm, kOrigin, {0.4, 0.3}, section_);
  EXPECT_EQ(section_.voids.front().kind, VoidClass::kDebris);
}

// Where the layer's wires were not all told, a place of its ring may be one of them.
TEST_F(Classes, AHoleOnTheRingOfALayerThatWasNotToldIsDoubtful) {
  WireLayerTrace layer;
  layer.name = "braid";
  layer.counted = false;
  section_.wire_layers = {layer};
  EXPECT_EQ(At({0, 1055}, 27).kind, VoidClass::kDoubtful);
}

TEST_F(Classes, AHoleOfAWiresSizeOnItsRingIsAPulledOutWire) {
  const Void v = At({0, 1055}, 27);
  EXPECT_EQ(v.kind, VoidClass::kPulledOutWire);
  EXPECT_NEAR(v.numbers.at("off_ring_um"), 5, 0.1);
  EXPECT_NE(v.evidence.find("braid"), std::string::npos);
}

TEST_F(Classes, InTransmittedLightADarkPlaceOnTheRingMayBeAWire) {
  lumen_step_ = 0.8;
  EXPECT_EQ(At({0, 1055}, 27).kind, VoidClass::kDoubtful);
}

TEST_F(Classes, AHoleOnTheRingFarLargerThanAWireIsAVoid) {
  EXPECT_EQ(At({0, 1050}, 70).kind, VoidClass::kVoid);
}

// A bite out of an edge is widest there: half a disc whose straight side lies along the edge.
TEST_F(Classes, AHoleThatOpensWideToAnEdgeIsDoubtful) {
  const auto half = [&](PointUm at, double radius, double outwards) {
    Void v;
    v.kind = VoidClass::kVoid;
    for (int i = 0; i <= 90; ++i) {
      const double t = -0.5 * M_PI + M_PI * i / 90;
      ContourVertex vertex;
      vertex.at = kOrigin + at + PointUm{outwards * radius * std::cos(t), radius * std::sin(t)};
      v.contour.vertices.push_back(vertex);
    }
    v.centroid = kOrigin + at + PointUm{outwards * 0.42 * radius, 0};
    v.area_um2 = 0.5 * M_PI * radius * radius;
    section_.voids = {v};
    ClassifyByPlace(plane_, kPitchUm, kOrigin, {lumen_step_, -0.5}, section_);
    return section_.voids.front();
  };
  const Void at_bore = half({402, 0}, 30, 1), at_outline = half({1248, 0}, 30, -1);
  EXPECT_EQ(at_bore.kind, VoidClass::kDoubtful);
  EXPECT_NE(at_bore.evidence.find("the edge of scope"), std::string::npos);
  EXPECT_EQ(at_outline.kind, VoidClass::kDoubtful);
}

// A bubble that a thin skin or the edge itself cuts off widens inside: no chip does.
TEST_F(Classes, AHoleThatWidensAwayFromAnEdgeIsAVoid) {
  EXPECT_EQ(At({423, 0}, 20).kind, VoidClass::kVoid);
  EXPECT_EQ(At({1223, 0}, 25).kind, VoidClass::kVoid);
  EXPECT_EQ(At({411, 0}, 9).kind, VoidClass::kDoubtful);  // too few pixels to tell its shape
}

TEST_F(Classes, ABubbleBesideThePartIsOutside) {
  EXPECT_EQ(At({1300, 0}, 30).kind, VoidClass::kOutsideBubble);
}

TEST_F(Classes, AHoleAgainstALinerIsALinerGap) {
  LinerTrace liner;
  liner.lumen = "scope";
  liner.outer = Round({0, 0}, 430);
  section_.liners = {liner};
  EXPECT_EQ(At({455, 0}, 22).kind, VoidClass::kLinerGap);
}

TEST_F(Classes, AHoleInTheAdhesiveIsABondGap) {
  BondDesign bond;
  bond.adhesive = "adhesive";
  plane_.bond = bond;
  section_.rings = {{"sleeve", Round({0, 0}, 900)}, {"adhesive", Round({0, 0}, 800)}};
  EXPECT_EQ(At({850, 0}, 25).kind, VoidClass::kBondGap);
  EXPECT_EQ(At({700, 0}, 25).kind, VoidClass::kVoid);
}

TEST_F(Classes, WhatWasDoubtfulForItsToneIsNeverMadeAVoid) {
  EXPECT_EQ(At({700, 0}, 25, VoidClass::kDoubtful).kind, VoidClass::kDoubtful);
}

// The bore's true edge may run behind what lies against it: its area is then larger by all of that.
TEST_F(Classes, ABoreWithDebrisAgainstItsEdgeIsDoubtedByItsArea) {
  const double radius = 60;
  At({400 + radius, 0}, radius, VoidClass::kDebris);
  DoubtBesideDebris(kPitchUm, section_);
  const TracedContour& bore = section_.lumens.front().bore;
  EXPECT_THAT(bore.doubt, ::testing::HasSubstr("debris"));
  const double with = std::sqrt(400.0 * 400 + radius * radius);
  EXPECT_GT(2 * 1.96 * bore.u_common_um, 2 * (with - 400));
}

TEST_F(Classes, DebrisElsewhereOrSmallLeavesTheBoreAlone) {
  At({700, 0}, 60, VoidClass::kDebris);
  DoubtBesideDebris(kPitchUm, section_);
  EXPECT_EQ(section_.lumens.front().bore.doubt, "");
  At({410, 0}, 10, VoidClass::kDebris);
  DoubtBesideDebris(kPitchUm, section_);
  EXPECT_EQ(section_.lumens.front().bore.doubt, "");
  At({200, 0}, 100, VoidClass::kDebris);  // in the lumen
  DoubtBesideDebris(kPitchUm, section_);
  EXPECT_EQ(section_.lumens.front().bore.doubt, "");
}

}  // namespace
}  // namespace cutface
