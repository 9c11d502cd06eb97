// Rows of turns with known geometry: values follow from a closed form.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

#include "cutface/measure.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using ::testing::HasSubstr;

constexpr double kPitch = 150, kWire = 50, kWall = 200, kHeight = 1000, kLength = 1700;
constexpr int kTurns = 10;
constexpr double kTilt = 0.2;  // of the axis in the picture
// Extremes have the bias of noise taken off, which these places do not have.
constexpr double kNoiseUm = 0.2;
constexpr double kPolygonUm = 0.05;  // circles of 72 edges lie inside their circle by 0.024 um

TracedContour Traced(const ContourUm& drawn) {
  TracedContour contour;
  ContourUm points;
  for (std::size_t i = 0; i < drawn.size(); ++i) {  // every 10 um
    const PointUm a = drawn[i], b = drawn[(i + 1) % drawn.size()];
    const int steps = std::max(1, static_cast<int>(Distance(a, b) / 10));
    for (int k = 0; k < steps; ++k)
      points.push_back(Rotated(a + (1.0 * k / steps) * (b - a), kTilt) + PointUm{2000, 1500});
  }
  const ContourUm normals = OutwardNormals(points);
  for (std::size_t i = 0; i < points.size(); ++i) {
    ContourVertex v;
    v.at = points[i];
    v.normal = normals[i];
    v.sigma_um = 0.1;
    contour.vertices.push_back(v);
  }
  return contour;
}

ContourUm Rectangle(double width, double height) {
  return {{-width / 2, -height / 2},
          {width / 2, -height / 2},
          {width / 2, height / 2},
          {-width / 2, height / 2}};
}

// A wire at a place along and across, before the tilt.
WireTrace Wire(int no, double x, double y) {
  WireTrace wire;
  wire.layer = "coil";
  wire.no = no;
  wire.centroid = Rotated(PointUm{x, y}, kTilt) + PointUm{2000, 1500};
  wire.u_centroid_um = 0.05;
  wire.long_um = wire.short_um = kWire;
  for (int i = 0; i < 72; ++i) {
    ContourVertex v;
    v.normal = {std::cos(2 * kPi * i / 72), std::sin(2 * kPi * i / 72)};
    v.at = wire.centroid + 0.5 * kWire * v.normal;
    v.sigma_um = 0.1;
    wire.contour.vertices.push_back(v);
  }
  return wire;
}

double StartOf(int row) { return row == 0 ? -700 : -625; }
double RowAt(int row) { return (row == 0 ? -0.5 : 0.5) * (kHeight - kWall); }

Section Rows() {
  Section section;
  section.outline = Traced(Rectangle(kLength, kHeight));
  LumenTrace bore;
  bore.names = {"bore"};
  bore.bore = Traced(Rectangle(kLength - 60, kHeight - 2 * kWall));
  section.lumens = {bore};
  WireLayerTrace layer;
  layer.name = "coil";
  layer.expected = 2 * kTurns;
  layer.turns = kTurns;
  layer.u_halo_um = 0.2;
  section.wire_layers = {layer};
  for (int row = 0; row < 2; ++row) {
    for (int i = 0; i < kTurns; ++i)
      section.wires.push_back(Wire(row * kTurns + i + 1, StartOf(row) + kPitch * i, RowAt(row)));
  }
  return section;
}

Design Drawing() {
  const auto design = ParseDesign(R"({"format": "cutface/design", "version": 1, "units": "mm",
    "part": {"number": "T-3"}, "sections": {"face": {"kind": "lengthwise",
      "outline": {"rectangle": {"size": [1.7, 1.0]}},
      "lumens": {"bore": {"rectangle": {"size": [1.64, 0.6]}}},
      "wires": {"coil": {"count": 20, "round": 0.05, "on_diameters": [0.8]}}}}})",
                                  "test");
  EXPECT_THAT(design, IsOk());
  return design ? *design : Design{};
}

std::vector<Measurement> Measured(const Section& section) {
  const Design design = Drawing();
  MeasureOptions options;
  options.u_floor_um = 0;
  return MeasureSection(section, &design, &design.sections[0], Scale::Isotropic(2.0, 1e-4),
                        options);
}

const Measurement& Find(const std::vector<Measurement>& all, const std::string& of,
                        const std::string& word) {
  static const Measurement none;
  const Measurement* found = nullptr;
  for (const Measurement& m : all) {
    if (m.of != std::vector<std::string>{of} || m.quantity != word) continue;
    EXPECT_EQ(found, nullptr) << word << " of " << of << " is told twice";
    found = &m;
  }
  EXPECT_NE(found, nullptr) << word << " of " << of;
  return found == nullptr ? none : *found;
}

void ExpectValue(const std::vector<Measurement>& all, const std::string& of,
                 const std::string& word, double value, double slack) {
  const Measurement& m = Find(all, of, word);
  EXPECT_EQ(m.state, Measurement::State::kMeasured) << word << ": " << m.reason;
  EXPECT_NEAR(m.raw, value, slack) << word;
  EXPECT_LE(m.lo, value + slack + kNoiseUm) << word;
  EXPECT_GE(m.hi, value - slack - kNoiseUm) << word;
}

TEST(LengthwiseWords, EvenRowsHaveTheirPitchAndCoversWhateverTheTilt) {
  const auto all = Measured(Rows());
  ExpectValue(all, "coil", "count", 20, 0);
  ExpectValue(all, "coil", "pitch", kPitch, 1e-6);
  ExpectValue(all, "coil", "pitch_min", kPitch, 1e-6);
  ExpectValue(all, "coil", "pitch_max", kPitch, 1e-6);
  ExpectValue(all, "coil", "displacement", 0, 1e-6);
  ExpectValue(all, "coil", "layer_diameter", kHeight - kWall, 1e-6);
  ExpectValue(all, "coil", "coverage", 100 * kWire / kPitch, 1e-6);
  ExpectValue(all, "coil", "outer_cover", (kWall - kWire) / 2, kPolygonUm);
  ExpectValue(all, "coil", "inner_cover", (kWall - kWire) / 2, kPolygonUm);
  for (int no : {1, 7, 20}) {
    const std::string of = "coil/" + std::to_string(no);
    ExpectValue(all, of, "outer_cover", (kWall - kWire) / 2, kPolygonUm);
    ExpectValue(all, of, "inner_cover", (kWall - kWire) / 2, kPolygonUm);
  }
}

// The sample's end lies nearer than the wall's edge and is no cover.
TEST(LengthwiseWords, TheEndsOfTheSampleAreNoCover) {
  Section section = Rows();
  section.wires[0] = Wire(1, -kLength / 2 + kWire / 2 + 20, RowAt(0));
  ExpectValue(Measured(section), "coil/1", "outer_cover", (kWall - kWire) / 2, kPolygonUm);
}

TEST(LengthwiseWords, MissingTurnsAreSkippedByNumber) {
  Section section = Rows();
  section.wires[4].state = WireState::kMissing;
  section.wires[4].contour = {};
  const auto all = Measured(section);
  ExpectValue(all, "coil", "count", 19, 0);
  ExpectValue(all, "coil", "pitch", kPitch, 1e-6);
  ExpectValue(all, "coil", "pitch_max", kPitch, 1e-6);
}

// One wire 60 um along and 10 um outwards: two gaps differ by 60, of 18; it does not steer the
// pitch.
TEST(LengthwiseWords, AWireOutOfPlaceShowsInExtremesAndSpread) {
  Section section = Rows();
  section.wires[5] = Wire(6, StartOf(0) + 5 * kPitch + 60, RowAt(0) - 10);
  const auto all = Measured(section);
  ExpectValue(all, "coil", "pitch", kPitch, 1e-6);
  ExpectValue(all, "coil", "pitch_min", kPitch - 60, 1e-6);
  ExpectValue(all, "coil", "pitch_max", kPitch + 60, 1e-6);
  ExpectValue(all, "coil", "pitch_spread", 60 * std::sqrt(2.0 / 18), 0.01);
  ExpectValue(all, "coil", "displacement", std::hypot(60, 10), 1e-6);
  ExpectValue(all, "coil/6", "displacement", std::hypot(60, 10), 1e-6);
  ExpectValue(all, "coil", "outer_cover", (kWall - kWire) / 2 - 10, kPolygonUm);
}

TEST(LengthwiseWords, AnExposedWireHasNoCover) {
  Section section = Rows();
  section.wires[3] = Wire(4, StartOf(0) + 3 * kPitch, -kHeight / 2 + 10);
  section.wires[3].exposed_to = "outside";
  const auto all = Measured(section);
  EXPECT_EQ(Find(all, "coil/4", "outer_cover").value, 0);
  EXPECT_EQ(Find(all, "coil", "outer_cover").value, 0);
  EXPECT_EQ(Find(all, "coil", "outer_cover").lo, 0);
}

// A tube that looks 10 % too low was cut beside its axis: its walls look too thick.
TEST(LengthwiseWords, ACutBesideTheAxisLowersTheLimitOfCovers) {
  Section section = Rows();
  const Measurement even = Find(Measured(section), "coil", "outer_cover");
  section.outline = Traced(Rectangle(kLength, 0.9 * kHeight));
  const auto all = Measured(section);
  const Measurement& low = Find(all, "coil", "outer_cover");
  EXPECT_LT(low.lo, low.value - 0.09 * low.value);
  EXPECT_GT(even.lo, even.value - 0.02 * even.value);
  EXPECT_GT(Find(all, "coil", "layer_diameter").hi, kHeight - kWall + 50);
}

TEST(LengthwiseWords, WhatCannotBeToldIsNotMeasured) {
  Section section = Rows();
  section.wire_layers[0].turns = 0;
  section.wire_layers[0].doubt = "the wires do not stand in even rows";
  auto all = Measured(section);
  for (const char* word : {"count", "pitch", "outer_cover", "inner_cover", "coverage"}) {
    EXPECT_EQ(Find(all, "coil", word).state, Measurement::State::kNotMeasured) << word;
    EXPECT_THAT(Find(all, "coil", word).reason, HasSubstr("even rows")) << word;
  }
  section = Rows();
  section.outline->whole = false;
  all = Measured(section);
  EXPECT_EQ(Find(all, "coil", "count").state, Measurement::State::kNotMeasured);
  EXPECT_EQ(Find(all, "coil", "pitch").state, Measurement::State::kMeasured);
  section = Rows();
  for (ContourVertex& v : section.outline->vertices) v.state = VertexState::kBridged;
  all = Measured(section);
  EXPECT_EQ(Find(all, "coil", "outer_cover").state, Measurement::State::kNotMeasured);
  EXPECT_EQ(Find(all, "coil", "inner_cover").state, Measurement::State::kMeasured);
}

}  // namespace
}  // namespace cutface
