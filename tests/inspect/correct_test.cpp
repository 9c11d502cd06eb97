// Corrections by hand on drawn faces: what comes back is held against the true areas of the face.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "cutface/inspect.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using Kind = Correction::Kind;
using ::testing::HasSubstr;

// True areas of two pictures of sample-images, px of the picture (their truth.json).
constexpr double kScopeArea = 126084.62796, kCuffArea = 12237.68747;
constexpr double kBothArea = 356837.18883;  // wash and return, which run together
// A quarter of a pixel all round is 0.25 x perimeter / area = 0.25 x 4 / diameter: 0.25 % of the
// scope, 0.8 % of the cuff.
constexpr double kScopeShare = 0.0025, kCuffShare = 0.008;

class Corrected : public ::testing::Test {
 protected:
  void Open(const std::string& name) {
    const std::string root = CUTFACE_SOURCE_DIR;
    auto design = ReadDesign(root + "/sample-images/LV-7504.design.json");
    ASSERT_THAT(design, IsOk());
    design_ = *design;
    design_.method_locked = false;
    auto record = ReadCalibration(root + "/calibration/demo-bench-5x.calibration.json");
    ASSERT_THAT(record, IsOk());
    record_ = *record;
    auto scale = Scale::FromRecord(record_);
    ASSERT_THAT(scale, IsOk());
    scale_ = *scale;
    auto picture = ReadMicrograph(root + "/sample-images/" + name + ".png");
    ASSERT_THAT(picture, IsOk());
    picture_ = *picture;
    options_.measure.draws = 0;
    auto found = Inspect(picture_, record_, *scale_, design_, Plane(), options_);
    ASSERT_THAT(found, IsOk());
    found_ = *found;
  }
  const SectionDesign& Plane() const { return *design_.FindSection("extrusion"); }
  Result<SectionResult> With(std::vector<Correction> corrections) const {
    for (Correction& c : corrections) {
      if (c.who.empty()) c.who = "N. N.";
      if (c.why.empty()) c.why = "seen under the microscope";
    }
    return Remeasure(found_, corrections, picture_, record_, *scale_, design_, Plane(), options_);
  }
  Correction Said(Kind kind, std::string of, ContourUm points = {}, std::string to = {}) const {
    Correction c;
    c.kind = kind;
    c.of = std::move(of);
    c.to = std::move(to);
    c.points = std::move(points);
    return c;
  }
  // Some places of a bore, each `off_px` further from its centre.
  ContourUm Bore(const std::string& lumen, std::size_t step, double off_px,
                 double share = 1) const {
    const TracedContour& bore = found_.section.FindLumen(lumen)->bore;
    const PointUm centre = Centroid(bore.Points());
    ContourUm line;
    const auto count = static_cast<std::size_t>(share * static_cast<double>(bore.vertices.size()));
    for (std::size_t i = 0; i < count; i += step) {
      const PointUm away = bore.vertices[i].at - centre;
      line.push_back(bore.vertices[i].at + (off_px * scale_->mean_pitch_um() / Norm(away)) * away);
    }
    return line;
  }
  double AreaPx(const TracedContour& contour) const {
    return Area(contour.Points()) / std::pow(scale_->mean_pitch_um(), 2);
  }
  static std::ptrdiff_t Count(const TracedContour& contour, VertexState state) {
    return std::count_if(contour.vertices.begin(), contour.vertices.end(),
                         [&](const ContourVertex& v) { return v.state == state; });
  }

  Design design_;
  CalibrationRecord record_;
  std::optional<Scale> scale_;
  Micrograph picture_;
  InspectOptions options_;
  SectionResult found_;
};

TEST_F(Corrected, AStretchDrawnTwoPixelsOffSettlesOnTheEdge) {
  Open("LV-7504-thin-septum");
  const auto again = With({Said(Kind::kRedraw, "scope", Bore("scope", 12, 2, 0.25))});
  ASSERT_THAT(again, IsOk());
  const TracedContour& bore = again->section.FindLumen("scope")->bore;
  EXPECT_NEAR(AreaPx(bore) / kScopeArea, 1, kScopeShare);
  EXPECT_GT(Count(bore, VertexState::kEdited), 100);
  ASSERT_EQ(again->edits.size(), 1u);
  EXPECT_THAT(again->edits[0], HasSubstr("redraw of scope"));
  EXPECT_THAT(again->edits[0], HasSubstr("because seen under the microscope"));
}

TEST_F(Corrected, ALineFarFromTheEdgeOrAcrossItIsRefused) {
  Open("LV-7504-thin-septum");
  EXPECT_THAT(With({Said(Kind::kRedraw, "scope", Bore("scope", 12, 90, 0.25))}),
              FailsWith(Code::kUsage));
  EXPECT_THAT(With({Said(Kind::kRedraw, "nothing", Bore("scope", 12, 0, 0.25))}),
              FailsWith(Code::kNotFound));
  EXPECT_THAT(With({Said(Kind::kLeaveOut, "nothing", Bore("scope", 12, 0, 0.25))}),
              FailsWith(Code::kNotFound));
  EXPECT_THAT(With({Said(Kind::kSplit, "nothing", Bore("scope", 12, 0, 0.25))}),
              FailsWith(Code::kNotFound));
}

TEST_F(Corrected, WhatIsLeftOutIsBridgedAndTheSeptumThereIsNotMeasured) {
  Open("LV-7504-thin-septum");
  const auto at =
      std::find_if(found_.measurements.begin(), found_.measurements.end(),
                   [](const Measurement& m) { return m.quantity == "wall" && m.of[0] == "scope"; });
  ASSERT_NE(at, found_.measurements.end());
  ASSERT_EQ(at->state, Measurement::State::kMeasured);
  ASSERT_FALSE(at->at.empty());
  // 30 px of the bore to both sides of the least wall.
  const TracedContour& bore = found_.section.FindLumen("scope")->bore;
  const auto near = LeastDistance<FrameUm>(at->at.front(), bore.Points());
  ContourUm line;
  const std::size_t n = bore.vertices.size();
  for (std::size_t k = 0; k <= 60; k += 10)
    line.push_back(bore.vertices[(near.edge_second + n - 30 + k) % n].at);
  const auto again = With({Said(Kind::kLeaveOut, "scope", line)});
  ASSERT_THAT(again, IsOk());
  EXPECT_NEAR(
      static_cast<double>(Count(again->section.FindLumen("scope")->bore, VertexState::kBridged)),
      60, 12);
  const auto wall =
      std::find_if(again->measurements.begin(), again->measurements.end(),
                   [](const Measurement& m) { return m.quantity == "wall" && m.of[0] == "scope"; });
  ASSERT_NE(wall, again->measurements.end());
  EXPECT_EQ(wall->state, Measurement::State::kNotMeasured);
  EXPECT_THAT(With({Said(Kind::kLeaveOut, "scope", Bore("scope", 12, 0, 0.6))}),
              FailsWith(Code::kUsage));
}

TEST_F(Corrected, ALumenThatWasMissedIsFoundWhereItIsDrawn) {
  Open("LV-7504-thin-septum");
  const ContourUm around = Bore("cuff", 10, 1.5);
  for (LumenTrace& lumen : found_.section.lumens) {
    if (lumen.names != std::vector<std::string>{"cuff"}) continue;
    lumen.state = LumenState::kNotFound;
    lumen.bore = {};
  }
  const auto again = With({Said(Kind::kAdd, "", around, "cuff")});
  ASSERT_THAT(again, IsOk());
  const LumenTrace* cuff = again->section.FindLumen("cuff");
  EXPECT_EQ(cuff->state, LumenState::kOpen);
  EXPECT_NEAR(AreaPx(cuff->bore) / kCuffArea, 1, kCuffShare);
  EXPECT_THAT(With({Said(Kind::kAdd, "", around, "scope")}), FailsWith(Code::kUsage));
  EXPECT_THAT(With({Said(Kind::kAdd, "", around, "nothing")}), FailsWith(Code::kNotFound));
  EXPECT_THAT(With({Said(Kind::kAdd, "", {around[0], around[1]}, "cuff")}),
              FailsWith(Code::kUsage));
}

TEST_F(Corrected, RegionsAreAddedNamedAndJoined) {
  Open("LV-7504-thin-septum");
  const std::size_t before = found_.section.voids.size();
  ASSERT_GT(before, 0u);  // a gap of the potting
  auto added = With({Said(Kind::kAdd, "", Bore("cuff", 10, 1), "void")});
  ASSERT_THAT(added, IsOk());
  ASSERT_EQ(added->section.voids.size(), before + 1);
  const Void& cuff = added->section.voids.back();
  EXPECT_EQ(cuff.kind, VoidClass::kVoid);
  EXPECT_NEAR(cuff.area_um2, Area(cuff.contour.Points()), 1e-6 * cuff.area_um2);
  const std::string name = "void " + std::to_string(cuff.no);

  const auto debris = With({Said(Kind::kAdd, "", Bore("cuff", 10, 1), "void"),
                            Said(Kind::kSayWhat, name, {}, "debris")});
  ASSERT_THAT(debris, IsOk());
  EXPECT_EQ(debris->section.voids.back().kind, VoidClass::kDebris);
  EXPECT_THAT(debris->section.voids.back().evidence, HasSubstr("said by N. N."));
  EXPECT_THAT(With({Said(Kind::kSayWhat, "void 99", {}, "void")}), FailsWith(Code::kNotFound));
  EXPECT_THAT(With({Said(Kind::kAdd, "", Bore("cuff", 10, 1), "void"),
                    Said(Kind::kSayWhat, name, {}, "no word")}),
              FailsWith(Code::kUsage));
  EXPECT_THAT(With({Said(Kind::kJoin, "void 99", {}, "void 98")}), FailsWith(Code::kNotFound));
  const Void& gap = found_.section.voids.front();
  const auto joined = With({Said(Kind::kAdd, "", Bore("cuff", 10, 1), "void"),
                            Said(Kind::kJoin, name, {}, "void " + std::to_string(gap.no))});
  ASSERT_THAT(joined, IsOk());
  EXPECT_EQ(joined->section.voids.size(), before);
  // Joined by a way as wide as one edge is long, a pixel or so.
  const double way = LeastDistance<FrameUm>(gap.contour.Points(), cuff.contour.Points()).distance;
  const double more = joined->section.voids.front().area_um2 - gap.area_um2 - cuff.area_um2;
  EXPECT_NEAR(more, way * scale_->mean_pitch_um(), 0.6 * way * scale_->mean_pitch_um());
}

TEST_F(Corrected, NamesAreExchanged) {
  Open("LV-7504-thin-septum");
  const auto again = With({Said(Kind::kRename, "scope", {}, "cuff")});
  ASSERT_THAT(again, IsOk());
  EXPECT_NEAR(AreaPx(again->section.FindLumen("cuff")->bore) / kScopeArea, 1, kScopeShare);
  EXPECT_NEAR(AreaPx(again->section.FindLumen("scope")->bore) / kCuffArea, 1, kCuffShare);
  EXPECT_THAT(With({Said(Kind::kRename, "scope", {}, "nothing")}), FailsWith(Code::kNotFound));
  EXPECT_THAT(With({Said(Kind::kRename, "nothing", {}, "scope")}), FailsWith(Code::kNotFound));
  EXPECT_THAT(With({Said(Kind::kRename, "scope", {}, "scope")}), FailsWith(Code::kUsage));
}

TEST_F(Corrected, LumensThatRunTogetherArePartedAndKeepTheirArea) {
  Open("LV-7504-broken-septum");
  const auto merged =
      std::find_if(found_.section.lumens.begin(), found_.section.lumens.end(),
                   [](const LumenTrace& l) { return l.names.size() == 2 && l.breach; });
  ASSERT_NE(merged, found_.section.lumens.end());
  const auto again =
      With({Said(Kind::kSplit, merged->Key(), {merged->breach->a, merged->breach->b})});
  ASSERT_THAT(again, IsOk());
  EXPECT_EQ(again->section.lumens.size(), found_.section.lumens.size() + 1);
  const double both = AreaPx(again->section.FindLumen("wash")->bore) +
                      AreaPx(again->section.FindLumen("return")->bore);
  EXPECT_NEAR(both / kBothArea, 1, 0.01);
  // By the drawing the wash is the larger one.
  EXPECT_GT(AreaPx(again->section.FindLumen("wash")->bore),
            AreaPx(again->section.FindLumen("return")->bore));
  EXPECT_THAT(With({Said(Kind::kSplit, "scope", {merged->breach->a, merged->breach->b})}),
              FailsWith(Code::kUsage));
}

TEST_F(Corrected, NobodyNoReasonAndALockedMethodAreRefused) {
  Open("LV-7504-thin-septum");
  Correction c = Said(Kind::kRename, "scope", {}, "cuff");
  c.who = "N. N.";
  const auto made = [&](const Correction& one) {
    return Remeasure(found_, std::vector{one}, picture_, record_, *scale_, design_, Plane(),
                     options_);
  };
  EXPECT_THAT(made(c), FailsWith(Code::kUsage));
  c.why = "reason";
  c.who = "";
  EXPECT_THAT(made(c), FailsWith(Code::kUsage));
  c.who = "N. N.";
  EXPECT_THAT(made(c), IsOk());
  design_.method_locked = true;
  EXPECT_THAT(With({Said(Kind::kRedraw, "scope", Bore("scope", 12, 2, 0.25))}),
              FailsWith(Code::kUsage));
  EXPECT_THAT(made(c), IsOk());  // a name is no choice of an edge
  options_.progress = [](double, std::string_view) { return false; };
  EXPECT_THAT(made(c), FailsWith(Code::kCancelled));
  EXPECT_TRUE(
      Remeasure(found_, {}, picture_, record_, *scale_, design_, Plane(), options_)->edits.empty());
}

}  // namespace
}  // namespace cutface
