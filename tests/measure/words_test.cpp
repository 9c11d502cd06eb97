// Every word of plain faces against closed forms and against the table of words.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <map>

#include "cutface/measure.h"
#include "cutface/quantity.h"
#include "measure/faces.h"

namespace cutface {
namespace {

using faces::CirclePoints;
using faces::CircleShape;
using faces::EllipsePoints;
using faces::Find;
using faces::Hole;
using faces::Lumen;
using faces::LumenOf;
using faces::RectanglePoints;
using faces::SegmentPoints;
using faces::Traced;

// A polygon of 1440 corners in a circle of 1000 um dips r (1 - cos(pi / n)) = 0.0024 um inside it.
constexpr double kPolygonSlackUm = 0.01;
const MeasureOptions kValuesOnly{0, 1, 0.0, false};

// An outline of 2400 um, a round lumen at 12 o'clock, an ellipse and a half disc below.
struct PlainFace {
  Section section;
  Design design;
  SectionDesign plane;
  Scale scale = Scale::Isotropic(1.0);

  PlainFace() {
    section.outline = Traced(CirclePoints({0, 0}, 1200, 1440));
    section.lumens = {Lumen("round", CirclePoints({0, -500}, 400, 1440)),
                      Lumen("oval", EllipsePoints({-500, 400}, 300, 150, 1440)),
                      Lumen("half", SegmentPoints({500, 500}, 250, 0, 1.0))};
    plane.name = "plain";
    plane.outline = CircleShape({0, 0}, 2400);
    Shape oval;
    oval.kind = Shape::Kind::kEllipse;
    oval.centre = {-500, 400};
    oval.size_x_um = 600;
    oval.size_y_um = 300;
    oval.contour = EllipsePoints({-500, 400}, 300, 150, 720);
    Shape half;
    half.kind = Shape::Kind::kPath;
    half.contour = SegmentPoints({500, 500}, 250, 0, 2.0);
    plane.lumens = {LumenOf("round", CircleShape({0, -500}, 800)), LumenOf("oval", oval),
                    LumenOf("half", half)};
  }

  std::vector<Measurement> Measure(const MeasureOptions& options = kValuesOnly) const {
    return MeasureSection(section, &design, &plane, scale, options);
  }
};

double ValueOf(const std::vector<Measurement>& all, const std::vector<std::string>& of,
               std::string_view word) {
  const Measurement* m = Find(all, of, word);
  EXPECT_NE(m, nullptr) << of[0] << " " << word;
  if (m == nullptr) return -1;
  EXPECT_EQ(m->state, Measurement::State::kMeasured) << of[0] << " " << word << ": " << m->reason;
  return m->value;
}

TEST(Words, EveryPlainRowOfTheTableHasExactlyOneFunction) {
  std::map<std::pair<std::string, int>, int> functions;
  for (const auto& word : MeasuredWords()) ++functions[word];
  int rows = 0;
  for (const QuantityRow& row : QuantityTable()) {
    const bool plain = row.of == QuantityOf::kOutline || row.of == QuantityOf::kLumen ||
                       row.of == QuantityOf::kLumenPair || row.of == QuantityOf::kVoids ||
                       row.of == QuantityOf::kAsked;
    // What needs two planes has no function yet.
    const bool layer =
        (row.of == QuantityOf::kRing || row.of == QuantityOf::kBond) && row.word != "tilt";
    const bool wires = row.of == QuantityOf::kWireLayer;
    if (!plain && !layer && !wires) continue;
    ++rows;
    EXPECT_EQ(functions[std::make_pair(std::string(row.word), static_cast<int>(row.of))], 1)
        << row.word << " of " << QuantityOfName(row.of);
  }
  EXPECT_EQ(rows, static_cast<int>(MeasuredWords().size()));
}

TEST(Words, CircleHasItsDiameterInEveryWord) {
  const auto all = PlainFace().Measure();
  for (const std::string word :
       {"diameter", "equivalent_diameter", "width_min", "width_max", "inscribed_diameter",
        "enclosing_diameter", "hydraulic_diameter"}) {
    EXPECT_NEAR(ValueOf(all, {"round"}, word), 800, kPolygonSlackUm) << word;
  }
  EXPECT_NEAR(ValueOf(all, {"round"}, "roundness"), 0, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"round"}, "ovality"), 0, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"round"}, "area"), kPi * 400 * 400, 2 * kPi * 400 * kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"round"}, "perimeter"), 2 * kPi * 400, 0.1);
  EXPECT_NEAR(ValueOf(all, {"outline"}, "diameter"), 2400, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"outline"}, "perimeter"), 2400 * kPi, 0.1);
}

TEST(Words, EllipseHasItsAxes) {
  const auto all = PlainFace().Measure();
  EXPECT_NEAR(ValueOf(all, {"oval"}, "width_min"), 300, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"oval"}, "width_max"), 600, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"oval"}, "ovality"), 300, 2 * kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"oval"}, "inscribed_diameter"), 300, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"oval"}, "enclosing_diameter"), 600, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"oval"}, "roundness"), 150, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"oval"}, "area"), kPi * 300 * 150, 10);
  // Perimeter / a = 4.8442241 for b / a = 1/2 (check value of the flow table).
  EXPECT_NEAR(ValueOf(all, {"oval"}, "perimeter"), 4.8442241 * 300, 0.1);
}

// Circular segment with h = radius: inscribed h / 2, enclosing the radius (plane geometry).
TEST(Words, HalfDiscHasTheClosedFormCircles) {
  const auto all = PlainFace().Measure();
  EXPECT_NEAR(ValueOf(all, {"half"}, "inscribed_diameter"), 250, 0.02);
  EXPECT_NEAR(ValueOf(all, {"half"}, "enclosing_diameter"), 500, 0.02);
  EXPECT_NEAR(ValueOf(all, {"half"}, "width_min"), 250, 0.02);
  EXPECT_NEAR(ValueOf(all, {"half"}, "hydraulic_diameter"),
              4 * kPi * 250 * 250 / 2 / (kPi * 250 + 500), 0.02);
}

TEST(Words, RatiosAreOneForTheShapeThatWasDrawn) {
  const auto all = PlainFace().Measure();
  for (const std::string lumen : {"round", "oval", "half"}) {
    EXPECT_NEAR(ValueOf(all, {lumen}, "area_ratio"), 1, 2e-4) << lumen;
    EXPECT_NEAR(ValueOf(all, {lumen}, "inscribed_ratio"), 1, 2e-4) << lumen;
    EXPECT_NEAR(ValueOf(all, {lumen}, "flow_ratio"), 1, 2e-3) << lumen;
  }
}

// An ellipse of half height in place of the circle with the same perimeter keeps 84 % of the area
// and 57 % of the flow (design of the collapse limits).
TEST(Words, HalfFlatLumenLosesAreaAndFlowAsExpected) {
  PlainFace face;
  const double a = 400 * 2 * kPi / 4.8442241;
  face.section.lumens[0] = Lumen("round", EllipsePoints({0, -500}, a, a / 2, 1440));
  const auto all = face.Measure();
  EXPECT_NEAR(ValueOf(all, {"round"}, "area_ratio"), 0.841, 0.001);
  const double k = kPi * std::pow(a, 3) * std::pow(a / 2, 3) / (4 * (a * a + a * a / 4));
  EXPECT_NEAR(ValueOf(all, {"round"}, "flow_ratio"), k / (kPi * std::pow(400, 4) / 8), 0.002);
  EXPECT_NEAR(ValueOf(all, {"round"}, "flow_ratio"), 0.566, 0.002);
}

TEST(Words, SolidBetweenCirclesIsCentreDistanceLessRadii) {
  PlainFace face;
  face.section.lumens = {Lumen("round", CirclePoints({0, -500}, 400, 1440)),
                         Lumen("oval", CirclePoints({-500, 400}, 300, 1440)),
                         Lumen("half", CirclePoints({500, 500}, 250, 1440))};
  const auto all = face.Measure();
  EXPECT_NEAR(ValueOf(all, {"round", "oval"}, "septum"), std::hypot(500, 900) - 700,
              kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"round", "oval"}, "septum_polymer"), std::hypot(500, 900) - 700,
              kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"round"}, "wall"), 1200 - 500 - 400, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"half"}, "wall"), 1200 - std::hypot(500, 500) - 250, kPolygonSlackUm);
  // Without voids every barrier is the direct way.
  EXPECT_DOUBLE_EQ(ValueOf(all, {"round", "oval"}, "barrier"),
                   ValueOf(all, {"round", "oval"}, "septum"));
  EXPECT_DOUBLE_EQ(ValueOf(all, {"round", "oval"}, "barrier_weakest"),
                   ValueOf(all, {"round", "oval"}, "septum"));
  EXPECT_DOUBLE_EQ(ValueOf(all, {"round"}, "barrier"), ValueOf(all, {"round"}, "wall"));
  const Measurement* septum = Find(all, {"round", "oval"}, "septum");
  ASSERT_EQ(septum->at.size(), 2u);
  EXPECT_NEAR(Distance(septum->at[0], PointUm{0, -500}), 400, kPolygonSlackUm);
  EXPECT_NEAR(Distance(septum->at[1], PointUm{-500, 400}), 300, kPolygonSlackUm);
}

TEST(Words, FastSearchesAgreeWithTheSlowOnes) {
  PlainFace face;
  face.section.voids = {Hole(1, CirclePoints({0, 100}, 20, 40)),
                        Hole(2, CirclePoints({-150, 30}, 15, 40))};
  const auto fast = face.Measure();
  MeasureOptions slow_options = kValuesOnly;
  slow_options.brute_force = true;
  const auto slow = face.Measure(slow_options);
  ASSERT_EQ(fast.size(), slow.size());
  int compared = 0;
  for (std::size_t i = 0; i < fast.size(); ++i) {
    EXPECT_EQ(fast[i].quantity, slow[i].quantity);
    EXPECT_NEAR(fast[i].value, slow[i].value, 1e-6 * std::max(1.0, fast[i].value))
        << fast[i].of[0] << " " << fast[i].quantity;
    ++compared;
  }
  EXPECT_GT(compared, 60);
}

TEST(Words, PinIsRoundedDownToTheSeries) {
  PlainFace face;
  face.design.pins.step_um = 12.7;
  face.design.pins.clearance_um = 10;
  // floor((800 - 10) / 12.7) = 62 steps.
  EXPECT_NEAR(ValueOf(face.Measure(), {"round"}, "go_pin"), 62 * 12.7, 1e-9);
  MeasureOptions options;
  options.u_floor_um = 2.0;  // the lower limit is then about 4 um down: one step less
  face.design.pins.clearance_um = 0;
  EXPECT_NEAR(ValueOf(face.Measure(options), {"round"}, "go_pin"), 62 * 12.7, 1e-9);
}

// --- datum frame ---------------------------------------------------------------------------------

// Picture = centre + R(rotation) M design.
PointUm InPicture(PointUm design, PointUm centre, double rotation, bool mirrored) {
  if (mirrored) design.x = -design.x;
  return centre + Rotated(design, rotation);
}

struct DatumCase {
  double rotation;
  bool mirrored;
  const char* clock;
};
class Datum : public testing::TestWithParam<DatumCase> {};

TEST_P(Datum, OffsetPositionAndClockAreThoseOfTheDrawingHoweverThePictureLies) {
  const DatumCase& c = GetParam();
  PlainFace face;
  face.plane.datum.clock = c.clock;
  face.section.placement.rotation_rad = c.rotation;
  face.section.placement.mirrored = c.mirrored;
  const PointUm centre{3100, 2200};
  face.section.outline = Traced(CirclePoints(centre, 1200, 1440));
  // "round" is displaced by 30 um along its own direction, so a clock on it changes nothing.
  const auto put = [&](PointUm p, double r) {
    return CirclePoints(InPicture(p, centre, c.rotation, c.mirrored), r, 720);
  };
  face.plane.lumens = {LumenOf("round", CircleShape({0, -500}, 800)),
                       LumenOf("oval", CircleShape({-500, 400}, 400)),
                       LumenOf("half", CircleShape({500, 500}, 300))};
  face.section.lumens = {Lumen("round", put({0, -530}, 400)), Lumen("oval", put({-500, 400}, 200)),
                         Lumen("half", put({500, 488}, 150))};
  const auto all = face.Measure();
  EXPECT_NEAR(ValueOf(all, {"round"}, "offset"), 530, 1e-3);
  EXPECT_NEAR(ValueOf(all, {"round"}, "position"), 60, 1e-3);
  EXPECT_NEAR(std::remainder(ValueOf(all, {"round"}, "clock"), 360), 0, 1e-6);  // 12 o'clock
  EXPECT_NEAR(ValueOf(all, {"oval"}, "offset"), std::hypot(500, 400), 1e-3);
  EXPECT_NEAR(ValueOf(all, {"oval"}, "position"), 0, 1e-3);
  EXPECT_NEAR(ValueOf(all, {"oval"}, "clock"), 360 + std::atan2(-500, -400) * 180 / kPi, 1e-6);
  EXPECT_NEAR(ValueOf(all, {"half"}, "position"), 24, 1e-3);
  EXPECT_NEAR(ValueOf(all, {"half"}, "clock"), std::atan2(500, -488) * 180 / kPi, 1e-6);
}
INSTANTIATE_TEST_SUITE_P(Placements, Datum,
                         testing::Values(DatumCase{0, false, ""}, DatumCase{0.7, false, ""},
                                         DatumCase{-2.5, true, ""}, DatumCase{0.7, false, "round"},
                                         DatumCase{3.0, true, "round"},
                                         DatumCase{1.1, true, "oval"}));

TEST(Words, LumenOnTheDatumCentreHasNoClock) {
  PlainFace face;
  face.section.lumens = {Lumen("round", CirclePoints({0.2, 0}, 400, 720))};
  face.plane.lumens = {LumenOf("round", CircleShape({0, 0}, 800))};
  EXPECT_EQ(Find(face.Measure(), {"round"}, "clock"), nullptr);
  Characteristic asked;
  asked.of = {"round"};
  asked.quantity = "clock";
  face.plane.characteristics = {asked};
  const auto all = face.Measure();
  ASSERT_NE(Find(all, {"round"}, "clock"), nullptr);
  EXPECT_EQ(Find(all, {"round"}, "clock")->state, Measurement::State::kNotApplicable);
}

// --- voids and barriers --------------------------------------------------------------------------

// Two lumens 300 um apart with two voids on the line between them: solid 40 + 60 + 80 um.
PlainFace VoidChain() {
  PlainFace face;
  face.section.lumens = {Lumen("round", CirclePoints({-450, 0}, 300, 1440)),
                         Lumen("oval", CirclePoints({450, 0}, 300, 1440))};
  face.section.voids = {Hole(1, CirclePoints({-80, 0}, 30, 120)),
                        Hole(2, CirclePoints({40, 0}, 30, 120))};
  face.plane.lumens = {LumenOf("round", CircleShape({-450, 0}, 600)),
                       LumenOf("oval", CircleShape({450, 0}, 600))};
  return face;
}

TEST(Barrier, ChainOfVoidsSumsItsLigaments) {
  const auto all = VoidChain().Measure();
  EXPECT_NEAR(ValueOf(all, {"round", "oval"}, "septum"), 300, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"round", "oval"}, "barrier"), 40 + 60 + 80, 3 * kPolygonSlackUm);
  // The strongest ligament of the chain is 80; every other way has a stronger one.
  EXPECT_NEAR(ValueOf(all, {"round", "oval"}, "barrier_weakest"), 80, 2 * kPolygonSlackUm);
  EXPECT_EQ(Find(all, {"round", "oval"}, "barrier")->at.size(), 6u);
}

TEST(Barrier, WeakestWayNeedNotBeTheShortest) {
  PlainFace face = VoidChain();
  face.section.voids.clear();
  for (int k = 0; k < 2; ++k) {
    face.section.voids.push_back(Hole(1 + k, CirclePoints({-100.0 + 200 * k, 0}, 30, 120)));
  }
  // Ligaments 20 + 140 + 20 on the straight way; a third void above bridges the 140 by two of
  // sqrt(100^2 + 60^2) - 60 = 56.6 um.
  face.section.voids.push_back(Hole(3, CirclePoints({0, -60}, 30, 120)));
  const auto all = face.Measure();
  const double bridge = std::hypot(100, 60) - 60;
  EXPECT_NEAR(ValueOf(all, {"round", "oval"}, "barrier"), 40 + 2 * bridge, 0.05);
  EXPECT_NEAR(ValueOf(all, {"round", "oval"}, "barrier_weakest"), bridge, 0.05);
}

TEST(Barrier, OtherLumensAreNoSteppingStones) {
  PlainFace face;
  face.section.lumens = {Lumen("round", CirclePoints({-700, 0}, 300, 720)),
                         Lumen("half", CirclePoints({0, 0}, 300, 720)),
                         Lumen("oval", CirclePoints({700, 0}, 300, 720))};
  EXPECT_EQ(Find(face.Measure(), {"round", "oval"}, "septum"), nullptr);
  Characteristic asked;
  asked.of = {"oval", "round"};
  asked.quantity = "barrier";
  face.plane.characteristics = {asked};
  const auto all = face.Measure();
  const Measurement* barrier = Find(all, {"round", "oval"}, "barrier");
  ASSERT_NE(barrier, nullptr);
  EXPECT_EQ(barrier->state, Measurement::State::kNotApplicable);
  // A void beside the lumen in the middle makes a way round it.
  face.section.voids = {Hole(1, CirclePoints({0, -450}, 60, 120))};
  const auto around = face.Measure();
  EXPECT_NEAR(ValueOf(around, {"round", "oval"}, "barrier"), 2 * (std::hypot(700, 450) - 360), 0.1);
}

TEST(Barrier, DoubtfulVoidOnlyWidensTheLowerLimit) {
  PlainFace face = VoidChain();
  for (Void& hole : face.section.voids) hole.kind = VoidClass::kDoubtful;
  const auto all = face.Measure();
  const Measurement* barrier = Find(all, {"round", "oval"}, "barrier");
  ASSERT_NE(barrier, nullptr);
  EXPECT_NEAR(barrier->value, 300, kPolygonSlackUm);
  EXPECT_NEAR(barrier->lo, 180, 3 * kPolygonSlackUm);
  EXPECT_EQ(barrier->grade, "doubtful");
}

TEST(Voids, AreMeasuredAndCounted) {
  PlainFace face = VoidChain();
  face.section.voids.push_back(Hole(3, RectanglePoints({0, 600}, 80, 10, 1.0)));
  face.section.voids.push_back(Hole(4, CirclePoints({0, 700}, 90, 120), VoidClass::kDebris));
  face.section.voids.push_back(Hole(5, CirclePoints({0, -700}, 90, 120), VoidClass::kDoubtful));
  const auto all = face.Measure();
  EXPECT_NEAR(ValueOf(all, {"voids"}, "largest"), 60, 0.05);
  EXPECT_NEAR(ValueOf(all, {"voids"}, "longest"), std::hypot(80, 10), 1e-9);
  EXPECT_EQ(ValueOf(all, {"voids"}, "void_count"), 3);
  EXPECT_NEAR(ValueOf(all, {"voids"}, "void_to_lumen"), 40, kPolygonSlackUm);
  EXPECT_NEAR(ValueOf(all, {"voids"}, "void_to_outside"), 1200 - std::hypot(605, 40), 0.05);
  const double body = kPi * (1200.0 * 1200 - 2 * 300 * 300);
  EXPECT_NEAR(ValueOf(all, {"voids"}, "area_fraction"), (2 * kPi * 900 + 800) / body, 1e-6);
}

TEST(Voids, FaceWithoutVoidsSaysWhatItWouldHaveSeen) {
  PlainFace face;
  face.section.picture.smallest_void_px = 6;
  face.scale = Scale::Isotropic(2.0);
  const auto all = face.Measure(MeasureOptions{});
  const Measurement* largest = Find(all, {"voids"}, "largest");
  ASSERT_NE(largest, nullptr);
  EXPECT_EQ(largest->value, 0);
  EXPECT_NEAR(largest->hi, 12, 1e-9);
  EXPECT_EQ(Find(all, {"voids"}, "void_to_lumen"), nullptr);
}

// --- not measured --------------------------------------------------------------------------------

TEST(NotMeasured, MergedLumensHaveABrokenSeptum) {
  PlainFace face;
  LumenTrace merged = Lumen("round", CirclePoints({0, 0}, 500, 720));
  merged.names = {"round", "oval"};
  merged.state = LumenState::kMerged;
  merged.breach = Segment<FrameUm>{{-20, 0}, {14, 0}};
  face.section.lumens = {merged, Lumen("half", CirclePoints({0, 850}, 200, 720))};
  const auto all = face.Measure();
  const Measurement* septum = Find(all, {"round", "oval"}, "septum");
  ASSERT_NE(septum, nullptr);
  EXPECT_EQ(septum->state, Measurement::State::kNotMeasured);
  EXPECT_EQ(septum->reason, "septum broken: breach of 34.0 um");
  const Measurement* area = Find(all, {"round"}, "area");
  ASSERT_NE(area, nullptr);
  EXPECT_EQ(area->state, Measurement::State::kNotMeasured);
}

TEST(NotMeasured, LumenThatWasNotFoundSaysSo) {
  PlainFace face;
  face.section.lumens[1].state = LumenState::kNotFound;
  face.section.lumens[1].bore = {};
  const auto all = face.Measure();
  const Measurement* area = Find(all, {"oval"}, "area");
  ASSERT_NE(area, nullptr);
  EXPECT_EQ(area->state, Measurement::State::kNotMeasured);
  EXPECT_EQ(area->reason, "oval not found");
}

TEST(NotMeasured, ContourCutOffByTheFrameKeepsOnlyLeastDistancesThatWereSeen) {
  PlainFace face;
  TracedContour& outline = *face.section.outline;
  outline.whole = false;
  for (ContourVertex& v : outline.vertices) {
    if (v.at.y > 900) v.state = VertexState::kCutOff;
  }
  const auto all = face.Measure();
  EXPECT_EQ(Find(all, {"outline"}, "diameter")->state, Measurement::State::kNotMeasured);
  EXPECT_THAT(Find(all, {"outline"}, "diameter")->reason,
              testing::HasSubstr("cut off by the frame"));
  // The round lumen's least wall is at the top; that was seen.
  EXPECT_NEAR(ValueOf(all, {"round"}, "wall"), 300, kPolygonSlackUm);
  EXPECT_EQ(Find(all, {"round"}, "offset")->state, Measurement::State::kNotMeasured);
}

// What is seen of two cut lumens lies far apart, what the frame hides of them does not.
TEST(NotMeasured, LeastPlaceBeyondTheFrameIsNotGuessedFromWhatIsSeen) {
  PlainFace face;
  TracedContour& half = face.section.lumens[2].bore;
  half.whole = false;
  // Only the right end of the half moon is in the picture; the frame closes it.
  std::erase_if(half.vertices, [](const ContourVertex& v) { return v.at.x < 650; });
  const auto all = face.Measure();
  const Measurement* septum = Find(all, {"oval", "half"}, "septum");
  ASSERT_NE(septum, nullptr);
  EXPECT_EQ(septum->state, Measurement::State::kNotMeasured);
  EXPECT_THAT(septum->reason, testing::HasSubstr("beyond the frame, which cuts half off"));
}

TEST(Stitched, ASeamIsInLengthsAreasAndTheirBudgets) {
  PlainFace face;
  MeasureOptions options;
  options.seam_u_um = 6;
  const auto all = face.Measure(options);
  const Measurement *diameter = Find(all, {"round"}, "diameter"),
                    *area = Find(all, {"round"}, "area");
  ASSERT_NE(diameter, nullptr);
  ASSERT_NE(area, nullptr);
  EXPECT_NEAR(diameter->u, 6, 0.2);
  EXPECT_NEAR(area->u, 6 * 800, 200);  // a strip as long as the lumen is wide
  for (const Measurement* m : {diameter, area}) {
    EXPECT_TRUE(std::any_of(m->budget.begin(), m->budget.end(), [](const BudgetLine& line) {
      return line.source == "seam of the stitched picture";
    }));
  }
}

// What may be a void is not counted, but must not pass for none.
TEST(DoubtfulVoids, AreInTheUpperLimitsOnly) {
  for (const VoidClass kind : {VoidClass::kDoubtful, VoidClass::kPulledOutWire, VoidClass::kChip}) {
    PlainFace face;
    Void v;
    v.no = 1;
    v.kind = kind;
    v.contour = Traced(CirclePoints({0, 200}, 45, 360));
    v.centroid = {0, 200};
    v.area_um2 = kPi * 45 * 45;
    face.section.voids = {v};
    const auto all = face.Measure(MeasureOptions{});
    for (const char* word : {"longest", "largest"}) {
      const Measurement* m = Find(all, {"voids"}, word);
      ASSERT_NE(m, nullptr) << word;
      EXPECT_EQ(m->value, 0) << word;
      EXPECT_NEAR(m->hi, 90, 0.2) << word;
    }
    const Measurement* count = Find(all, {"voids"}, "void_count");
    ASSERT_NE(count, nullptr);
    EXPECT_EQ(count->value, 0);
    EXPECT_EQ(count->hi, 1);
  }
}

TEST(NotMeasured, LeastPlaceOnABridgedEdgeIsNotMeasured) {
  PlainFace face;
  for (ContourVertex& v : face.section.lumens[0].bore.vertices) {
    if (v.at.y < -850) v.state = VertexState::kBridged;
  }
  const auto all = face.Measure();
  EXPECT_EQ(Find(all, {"round"}, "wall")->state, Measurement::State::kNotMeasured);
  EXPECT_EQ(Find(all, {"round"}, "septum"), nullptr);
  EXPECT_EQ(Find(all, {"round", "oval"}, "septum")->state, Measurement::State::kMeasured);
}

// An outline that was traced along a lumen's edge, where the part leaves the frame, say.
TEST(NotMeasured, AWallBetweenEdgesThatTouchIsNotOfNoThickness) {
  PlainFace face;
  const ContourUm outline = face.section.outline->Points();
  for (ContourVertex& v : face.section.lumens[0].bore.vertices) {
    if (v.at.y < -850) v.at = LeastDistance<FrameUm>(v.at, outline).on_second;
  }
  const auto all = face.Measure();
  const Measurement* wall = Find(all, {"round"}, "wall");
  EXPECT_EQ(wall->state, Measurement::State::kNotMeasured);
  EXPECT_NE(wall->reason.find("touch or cross"), std::string::npos) << wall->reason;
  EXPECT_EQ(Find(all, {"round", "oval"}, "septum")->state, Measurement::State::kMeasured);
}

TEST(Survey, MeasuresWhatNeedsNoNominal) {
  const PlainFace face;
  const auto all = MeasureSection(face.section, nullptr, nullptr, face.scale, kValuesOnly);
  EXPECT_NEAR(ValueOf(all, {"round"}, "diameter"), 800, kPolygonSlackUm);
  EXPECT_NEAR(std::remainder(ValueOf(all, {"round"}, "clock"), 360), 0, 1e-6);  // 12 o'clock
  EXPECT_EQ(Find(all, {"round"}, "flow_ratio"), nullptr);
  EXPECT_EQ(Find(all, {"round"}, "position"), nullptr);
}

}  // namespace
}  // namespace cutface
