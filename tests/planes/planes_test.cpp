// Serial planes against closed forms: links, barriers through a stack, the chance to miss a void,
// braid angle from the turn of the combs, tilt of a bond.
#include "cutface/planes.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <numbers>

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

TracedContour Circle(PointUm centre, double radius, int count = 360) {
  TracedContour contour;
  for (int i = 0; i < count; ++i) {
    const double a = 2 * kPi * i / count;
    const PointUm n{std::cos(a), std::sin(a)};
    contour.vertices.push_back({centre + radius * n, n, 0, VertexState::kMeasured});
  }
  return contour;
}

Measurement Measured(std::vector<std::string> of, const std::string& word, double value, double u) {
  Measurement m;
  m.of = std::move(of);
  m.quantity = word;
  m.value = m.raw = value;
  m.u = u;
  return m;
}

// A hub of 5 mm radius, lumens of 500 um radius at +-1500 um: septum 2000 um. `turned`: how the
// picture lies.
SectionResult Plane(double station_mm, const std::vector<PointUm>& voids, double turned = 0,
                    PointUm shift = {}) {
  SectionResult r;
  r.part = "H";
  r.image_file = std::to_string(station_mm) + ".png";
  r.sample.station_mm = station_mm;
  r.mean_pitch_um = 2;
  r.section.picture.smallest_void_px = 0;
  r.section.placement.rotation_rad = turned;
  const auto at = [&](PointUm p) { return shift + Rotated(p, turned); };
  r.section.outline = Circle(at({0, 0}), 5000);
  for (const auto& [name, x] : {std::pair{"a", -1500.0}, std::pair{"b", 1500.0}}) {
    LumenTrace lumen;
    lumen.names = {name};
    lumen.bore = Circle(at({x, 0}), 500);
    r.section.lumens.push_back(lumen);
  }
  int no = 0;
  for (const PointUm p : voids) {
    Void hole;
    hole.no = ++no;
    hole.contour = Circle(at(p), 100);
    hole.centroid = at(p);
    r.section.voids.push_back(hole);
  }
  r.measurements = {
      Measured({"a", "b"}, "barrier", 2000 - 200.0 * static_cast<double>(voids.size()), 2)};
  return r;
}

PlaneStack Stacked(const std::vector<SectionResult>& results, const PlaneOptions& options = {}) {
  auto stack = StackPlanes(results, options);
  EXPECT_TRUE(stack.has_value()) << (stack ? "" : stack.error().message);
  return stack ? *stack : PlaneStack{};
}

const StackBarrier* Between(const PlaneStack& stack, const std::string& a, const std::string& b) {
  for (const StackBarrier& x : stack.barriers) {
    if (x.first == a && x.second == b) return &x;
  }
  return nullptr;
}

// Plane 1: a void 100 um from a; plane 2: a void in between that overlaps both; plane 3: one 100 um
// from b. Alone each plane has a barrier of 1800; together 100 + 100.
TEST(Planes, VoidsThatOverlapOpenAWayThroughTheStack) {
  const PlaneStack stack = Stacked({Plane(3, {{800, 0}}, 0.4, {300, 40}), Plane(1, {{-800, 0}}),
                                    Plane(2, {{-650, 0}, {0, 0}, {650, 0}}, -0.2)});
  // Sorted by station, placed by turn and shift.
  EXPECT_THAT(stack.planes[0].file, HasSubstr("1.0"));
  ASSERT_EQ(stack.chains.size(), 2u);
  EXPECT_EQ(stack.chains[0].members.size(), 2u);
  EXPECT_NEAR(stack.chains[0].length_um, 1000, 1e-6);
  const StackBarrier* b = Between(stack, "a", "b");
  ASSERT_NE(b, nullptr);
  EXPECT_TRUE(b->told);
  // a - 100 - v1 = v2 - 450 - void 2 - 450 - void 3 = v3 - 100 - b (polygons dip by 0.02 um).
  EXPECT_NEAR(b->value_um, 100 + 450 + 450 + 100, 0.5);
  EXPECT_NEAR(b->weakest_um, 450, 0.5);
  EXPECT_NEAR(b->single_um, 1400, 1e-9);
  EXPECT_THAT(b->steps, ElementsAre("a", "plane 1 void 1", "plane 2 void 1", "plane 2 void 2",
                                    "plane 2 void 3", "plane 3 void 1", "b"));
}

TEST(Planes, VoidsThatDoNotOverlapDoNot) {
  const PlaneStack stack =
      Stacked({Plane(1, {{-800, 0}}), Plane(2, {{-500, 0}}), Plane(3, {{800, 0}})});
  EXPECT_TRUE(stack.chains.empty());
  EXPECT_NEAR(Between(stack, "a", "b")->value_um, 1800, 0.5);
  // Two planes that are not neighbours are not linked.
  EXPECT_TRUE(Stacked({Plane(1, {{0, 0}}), Plane(2, {}), Plane(3, {{0, 0}})}).chains.empty());
}

TEST(Planes, BarrierThatNoPlaneMeasuredIsNotTold) {
  std::vector<SectionResult> results = {Plane(1, {}), Plane(2, {})};
  for (SectionResult& r : results) {
    r.measurements[0].state = Measurement::State::kNotMeasured;
    r.measurements[0].reason = "gaps are not told";
  }
  const PlaneStack stack = Stacked(results);
  ASSERT_NE(Between(stack, "a", "b"), nullptr);
  EXPECT_FALSE(Between(stack, "a", "b")->told);
  EXPECT_THAT(Between(stack, "a", "b")->reason, HasSubstr("gaps are not told"));
}

// A plane every 1 mm meets a 0.1 mm void about one time in ten (trade.md 6).
TEST(Planes, ChanceToMissAVoid) {
  PlaneOptions options;
  options.void_sizes_um = {100, 1000, 2000};
  std::vector<SectionResult> results = {Plane(0, {}), Plane(1, {}), Plane(2, {})};
  PlaneStack stack = Stacked(results, options);
  EXPECT_NEAR(stack.misses[0].chance, 0.9, 1e-9);
  EXPECT_NEAR(stack.misses[1].chance, 0, 1e-9);
  EXPECT_NEAR(stack.misses[2].chance, 0, 1e-9);
  // What cannot be seen is always missed; 100 um with 60 um to be seen reaches 80 um.
  for (SectionResult& r : results) r.section.picture.smallest_void_px = 30;
  options.void_sizes_um = {50, 100};
  stack = Stacked(results, options);
  EXPECT_NEAR(stack.misses[0].chance, 1, 1e-9);
  EXPECT_NEAR(stack.misses[1].chance, 0.92, 1e-9);
  EXPECT_NEAR(stack.planes[0].smallest_void_um, 60, 1e-9);
  // Simulated: centres anywhere, planes every millimetre.
  int missed = 0;
  const int n = 100000;
  for (int i = 0; i < n; ++i) {
    const double z = 2000 * (i + 0.5) / n, d = std::abs(z - 1000 * std::round(z / 1000));
    if (2 * std::sqrt(std::max(0.0, 50.0 * 50 - d * d)) < 60) ++missed;
  }
  EXPECT_NEAR(1.0 * missed / n, stack.misses[1].chance, 1e-3);
}

// check-values 7.4: 16 carriers, d 0.001 in, D 0.050 in, 60 picks per inch: 50.7794 degrees.
TEST(Planes, BraidAngleAndPicksFromTheTurnOfTheCombs) {
  const double layer_um = 0.052 * 25400, z_um = 150, angle = 50.7794 * kPi / 180;
  const double psi = 2 * z_um * std::tan(angle) / layer_um, period = 4 * kPi / 16;
  const auto plane = [&](double station_mm, double turn, double rotation, bool mirrored) {
    SectionResult r = Plane(station_mm, {});
    WireLayerTrace layer;
    layer.name = "braid";
    layer.expected = 16;
    // In the drawing's frame 0.1 + turn and 0.3 - turn; then as the picture lies.
    double phase[2] = {0.1 + turn, 0.3 - turn};
    for (int f = 0; f < 2; ++f) {
      double x = phase[mirrored ? 1 - f : f];
      if (mirrored) x = kPi - x;
      layer.phase_rad[f] = x + rotation + period * (f == 0 ? 3 : -2);
      layer.u_phase_rad[f] = 0.001;
    }
    r.section.wire_layers = {layer};
    r.section.placement.rotation_rad = rotation;
    r.section.placement.mirrored = mirrored;
    r.measurements.push_back(Measured({"braid"}, "layer_diameter", layer_um, 1));
    r.measurements.push_back(Measured({"braid"}, "braid_angle", 49, 2));
    return r;
  };
  for (const bool mirrored : {false, true}) {
    PlaneOptions options;
    options.u_station_um = 1;
    const PlaneStack stack =
        Stacked({plane(1, 0, 0, false), plane(1.15, psi, 0.7, mirrored)}, options);
    ASSERT_EQ(stack.braids.size(), 1u);
    EXPECT_TRUE(stack.braids[0].told) << stack.braids[0].reason;
    EXPECT_NEAR(stack.braids[0].angle_deg, 50.7794, 1e-3);
    EXPECT_NEAR(stack.braids[0].picks_per_mm, 60 / 25.4, 1e-4);
    EXPECT_LT(stack.braids[0].u_angle_deg, 0.5);  // a single face: 2 degrees
    EXPECT_LT(stack.braids[0].u_picks_per_mm, 0.05);
  }
  // Far apart the combs allow many angles: said, not guessed.
  const PlaneStack far = Stacked({plane(1, 0, 0, false), plane(6, 5000 / z_um * psi, 0, false)});
  EXPECT_FALSE(far.braids[0].told);
  EXPECT_THAT(far.braids[0].reason, HasSubstr("both fit"));
}

TEST(Planes, TiltOfABondAndItsDirection) {
  const auto plane = [](double station_mm, PointUm offset) {
    SectionResult r = Plane(station_mm, {});
    Measurement m = Measured({"bond"}, "offset", Norm(offset), 0.5);
    m.at = {offset, {0, 0}};
    r.measurements.push_back(m);
    return r;
  };
  // From 20 um towards 12 o'clock to 20 um towards 6 o'clock over 2 mm: 40 um downwards.
  const PlaneStack stack = Stacked({plane(0, {0, -20}), plane(2, {0, 20})});
  ASSERT_EQ(stack.tilts.size(), 1u);
  EXPECT_NEAR(stack.tilts[0].angle_deg, std::atan(0.02) * 180 / kPi, 1e-9);
  EXPECT_NEAR(stack.tilts[0].direction_deg, 180, 1e-9);
  EXPECT_NEAR(stack.tilts[0].u_angle_deg, 0.5 * std::sqrt(2.0) / 2000 * 180 / kPi, 0.01);
}

TEST(Planes, OfAnotherSampleOrStretchAreRefused) {
  std::vector<SectionResult> pair{Plane(1, {}), Plane(2, {})};
  ASSERT_TRUE(StackPlanes(pair, {}).has_value());
  pair[0].sample.serial = "A-01";
  EXPECT_TRUE(StackPlanes(pair, {}).has_value());  // unknown is not another
  pair[1].sample.serial = "A-02";
  auto refused = StackPlanes(pair, {});
  ASSERT_FALSE(refused.has_value());
  EXPECT_THAT(refused.error().message, HasSubstr("sample A-02"));
  pair[1].sample.serial = "A-01";
  pair[1].section.outline = Circle({0, 0}, 3000);
  refused = StackPlanes(pair, {});
  ASSERT_FALSE(refused.has_value());
  EXPECT_THAT(refused.error().message, HasSubstr("0.36 times the area"));
  pair[1].section.outline.reset();
  refused = StackPlanes(pair, {});
  ASSERT_FALSE(refused.has_value());
  EXPECT_THAT(refused.error().message, HasSubstr("no whole outline"));
}

TEST(Planes, WrongCallsAreSaid) {
  std::vector<SectionResult> one = {Plane(1, {})};
  EXPECT_EQ(StackPlanes(one).error().code, Code::kUsage);
  std::vector<SectionResult> same = {Plane(1, {}), Plane(1, {})};
  EXPECT_EQ(StackPlanes(same).error().code, Code::kUsage);
  PlaneOptions spaced;
  spaced.spacing_um = 500;
  EXPECT_TRUE(StackPlanes(same, spaced).has_value());
  same[1].sample.station_mm.reset();
  EXPECT_EQ(StackPlanes(same).error().code, Code::kUsage);
  same[1] = Plane(2, {});
  same[1].part = "other";
  EXPECT_EQ(StackPlanes(same).error().code, Code::kDesignMismatch);
}

}  // namespace
}  // namespace cutface
