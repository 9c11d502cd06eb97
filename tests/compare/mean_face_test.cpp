// Contours laid over the drawing: known shifts and sizes come back, however the face lies in the
// picture.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

#include "compare/runs.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::HasSubstr;

constexpr const char* kDrawing = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "LV-7504", "revision": "C", "title": "test"},
  "sections": {"extrusion": {"kind": "shaft", "datum": {"centre": "outline", "clock": "scope"},
    "outline": {"circle": {"diameter": 2.5}},
    "lumens": {"scope": {"circle": {"center": [0, 0.58], "diameter": 0.9}},
               "cuff": {"circle": {"center": [0.7, -0.3], "diameter": 0.5}}}}}})";

struct Lie {
  PointUm origin{1500, 1200};
  double rotation = 0.7;
  bool mirrored = false;
};

// A circle of the design frame where it lies in the picture.
TracedContour Laid(const Lie& lie, PointUm centre, double radius) {
  TracedContour contour;
  for (int i = 0; i < 400; ++i) {
    const double t = 2 * kPi * i / 400;
    PointUm p = centre + radius * PointUm{std::cos(t), std::sin(t)};
    if (lie.mirrored) p.x = -p.x;
    ContourVertex vertex;
    vertex.at = lie.origin + Rotated(p, lie.rotation);
    contour.vertices.push_back(vertex);
  }
  return contour;
}

// scope 5 um smaller all round; cuff of its size, off its place.
SectionResult LaidFace(const std::string& serial, const Lie& lie, PointUm cuff_shift) {
  SectionResult r = sample::Face(serial, {});
  r.section.placement.rotation_rad = lie.rotation + 0.01;  // the pose is a little off
  r.section.placement.mirrored = lie.mirrored;
  r.section.outline = Laid(lie, {0, 0}, 1250);
  LumenTrace scope, cuff;
  scope.names = {"scope"};
  scope.bore = Laid(lie, {0, 580}, 445);
  cuff.names = {"cuff"};
  cuff.bore = Laid(lie, PointUm{700, -300} + cuff_shift, 250);
  r.section.lumens = {scope, cuff};
  return r;
}

NominalFace Drawn() {
  const auto design = ParseDesign(kDrawing, "d");
  EXPECT_THAT(design, IsOk());
  return PrepareNominalFace(design->sections[0]);
}

// Chords of 144 stations and of 400 corners dip below their circles by up to 0.24 and 0.04 um per
// mm of radius.
constexpr double kChordSlackUm = 0.4;

TEST(MeanFace, KnownDeviationsComeBackHoweverTheFaceLies) {
  const NominalFace nominal = Drawn();
  ASSERT_EQ(nominal.features.size(), 3u);
  for (const Lie& lie : {Lie{}, Lie{{900, 2000}, -2.9, false}, Lie{{1500, 1200}, 0.7, true}}) {
    const auto shape = ShapeOf(LaidFace("1", lie, {20, 0}), nominal);
    ASSERT_TRUE(shape);
    for (const float off : shape->off_um[0]) EXPECT_NEAR(off, 0, kChordSlackUm);
    for (const float off : shape->off_um[1]) EXPECT_NEAR(off, -5, kChordSlackUm);
    ASSERT_TRUE(shape->shift[2]);
    EXPECT_NEAR(shape->shift[2]->x, 20, 0.1);
    EXPECT_NEAR(shape->shift[2]->y, 0, 0.1);
    // Towards 3 o'clock the cuff lies outside its drawing, away from it inside.
    const NominalFeature& cuff = nominal.features[2];
    for (std::size_t i = 0; i < cuff.stations.size(); ++i)
      EXPECT_NEAR(shape->off_um[2][i], 20 * cuff.normals[i].x, 1.0);
  }
}

TEST(MeanFace, WithoutTheDatumAFaceIsNotLaid) {
  const NominalFace nominal = Drawn();
  SectionResult r = LaidFace("1", {}, {});
  r.section.outline->whole = false;
  EXPECT_FALSE(ShapeOf(r, nominal));
  r = LaidFace("1", {}, {});
  r.section.lumens[0].names = {"scope", "cuff"};  // merged: the clock's lumen is gone
  EXPECT_FALSE(ShapeOf(r, nominal));
}

TEST(MeanFace, StretchesBeyondTheFrameAreGaps) {
  const NominalFace nominal = Drawn();
  SectionResult r = LaidFace("1", {}, {});
  auto& vertices = r.section.lumens[1].bore.vertices;
  for (std::size_t i = 0; i < 100; ++i) vertices[i].state = VertexState::kCutOff;
  const auto shape = ShapeOf(r, nominal);
  ASSERT_TRUE(shape);
  int gaps = 0;
  for (const float off : shape->off_um[2]) gaps += std::isnan(off) ? 1 : 0;
  EXPECT_NEAR(gaps, 36, 3);  // a quarter of 144
}

Run LaidRun(const std::vector<PointUm>& shifts, const NominalFace& nominal) {
  RunGatherer gatherer;
  for (std::size_t i = 0; i < shifts.size(); ++i) {
    const Lie lie{{1500, 1200}, 0.3 * static_cast<double>(i), i % 2 == 1};
    const SectionResult r = LaidFace(sample::Serial(i), lie, shifts[i]);
    EXPECT_THAT(gatherer.Add(sample::EntryOf(r), r, ShapeOf(r, nominal)), IsOk());
  }
  return gatherer.Finish();
}

TEST(MeanFace, OneDirectionIsToolingAndScatterIsNot) {
  const NominalFace nominal = Drawn();
  const auto tooled = MeanFaces(
      LaidRun({{20, 1}, {18, -2}, {22, 3}, {19, 0}, {21, -1}, {20, 2}}, nominal), {nominal});
  ASSERT_EQ(tooled.size(), 1u);
  EXPECT_EQ(tooled[0].parts, 6);
  // The lumen that sets the clock has no direction of its own.
  ASSERT_EQ(tooled[0].directions.size(), 1u);
  EXPECT_THAT(tooled[0].directions[0].sentence, HasSubstr("3:0"));
  EXPECT_THAT(tooled[0].directions[0].sentence, HasSubstr("tooling"));
  EXPECT_THAT(tooled[0].sentence, HasSubstr("cuff"));
  EXPECT_NEAR(std::abs(tooled[0].worst[0].mean_um), 20, 1.5);
  const auto handled = MeanFaces(
      LaidRun({{20, 0}, {-20, 1}, {0, 20}, {1, -20}, {14, 14}, {-14, -14}}, nominal), {nominal});
  EXPECT_THAT(handled[0].directions[0].sentence, HasSubstr("no common direction"));
}

// A further part's place: mean -+ t s sqrt(1 + 1/n); Student 0.975 with 3 degrees is 3.182
// (printed tables).
TEST(MeanFace, TheBandIsWhereAFurtherPartWouldLie) {
  const NominalFace nominal = Drawn();
  const auto faces = MeanFaces(LaidRun({{20, 0}, {18, 0}, {22, 0}, {20, 0}}, nominal), {nominal});
  const MeanFeature& cuff = faces[0].features[2];
  std::size_t at = 0;  // the station farthest towards 3 o'clock
  for (std::size_t i = 0; i < cuff.nominal.size(); ++i) {
    if (cuff.nominal[i].x > cuff.nominal[at].x) at = i;
  }
  ASSERT_TRUE(cuff.places[at].band);
  const double sd = std::sqrt(8.0 / 3);
  const double half = 3.182 * sd * std::sqrt(1.25);
  EXPECT_NEAR(cuff.places[at].mean_um, 20, 0.5);
  EXPECT_NEAR((cuff.places[at].band->hi - cuff.places[at].band->lo) / 2, half, 0.05);
  const Graph graph = MeanFaceGraph(faces[0], LengthUnit::kMillimetre);
  EXPECT_TRUE(graph.map);
  EXPECT_EQ(graph.bands.size(), 3u);
  EXPECT_FALSE(graph.notes.empty());
}

}  // namespace
}  // namespace cutface
