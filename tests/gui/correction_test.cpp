// Corrections by hand through the window's state: add, join, leave out, part; and that no message
// of the window names an option of the command line.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gui/demo.h"
#include "gui/state/app.h"
#include "gui/state/plain_words.h"
#include "support/matchers.h"

namespace cutface::window {
namespace {

using testing::HasSubstr;
using testing::Not;

// Clicks along a line given in the result's frame, and ends it.
void DrawLine(App& app, Correction::Kind kind, const std::string& of, const ContourUm& line,
              const std::string& to = "") {
  app.Apply({{Do::kStartLine, static_cast<int>(kind), of, to}});
  for (const PointUm p : line) {
    Intent point{Do::kAddPoint};
    point.at = app.current()->measured->scale.ToPx(p);
    app.Apply({point});
  }
  app.Apply({{Do::kEndLine}});
}

void Because(App& app, const char* why) {
  app.Apply({{Do::kCorrect, 0, why}});
  app.WaitUntilIdle();
}

class CorrectionTest : public AppTest {
 protected:
  void Open(App& app, const char* image) {
    Order order = DemoOrder(Path("out"));
    order.design = UnlockedDesign(folder_);
    app.Start(order, {Demo(image)});
    app.WaitUntilIdle();
    ASSERT_EQ(app.current()->stage, Stage::kMeasured);
  }
  static ContourUm Bore(const App& app, const std::string& lumen, std::size_t step) {
    const auto& vertices = app.current()->measured->result.section.FindLumen(lumen)->bore.vertices;
    ContourUm line;
    for (std::size_t i = 0; i < vertices.size(); i += step) line.push_back(vertices[i].at);
    return line;
  }
};

TEST_F(CorrectionTest, WhatIsAddedGetsItsClassAndSettlesOnTheEdgeAndTwoAreJoined) {
  App app(Settings{}, "");
  Open(app, kThin);
  const std::size_t before = app.current()->measured->result.section.voids.size();
  // The cuff's bore once more, as a region: its edge is known.
  const double area =
      Area(app.current()->measured->result.section.FindLumen("cuff")->bore.Points());
  DrawLine(app, Correction::Kind::kAdd, "", Bore(app, "cuff", 12), "void");
  ASSERT_EQ(app.sheet(), Sheet::kReason);
  EXPECT_EQ(app.draft().to, "void");
  app.Apply({{Do::kDraftTo, 0, "debris"}});
  Because(app, "seen under the microscope");
  ASSERT_EQ(app.current()->measured->result.section.voids.size(), before + 1) << app.notice();
  const Void added = app.current()->measured->result.section.voids.back();
  EXPECT_EQ(added.kind, VoidClass::kDebris);
  // It settled near the line that was drawn: the cuff's own edge, which is taken, keeps it from
  // lying on the very same.
  EXPECT_NEAR(Area(added.contour.Points()) / area, 1, 0.1);

  ASSERT_GT(before, 0u);  // a potting gap beside the outline
  const auto& voids = app.current()->measured->result.section.voids;
  const std::string one = "void " + std::to_string(voids.back().no);
  const std::string two = "void " + std::to_string(voids.front().no);
  app.Apply({{Do::kStartJoin, 0, one}});
  EXPECT_THAT(app.draft().prompt, HasSubstr("belongs to"));
  app.Apply({{Do::kJoinWith, 0, "scope"}});
  EXPECT_TRUE(app.notice_is_error());
  app.Apply({{Do::kJoinWith, 0, two}});
  Because(app, "one flaw");
  EXPECT_EQ(app.current()->measured->result.section.voids.size(), before) << app.notice();
  EXPECT_EQ(app.panels().corrections.size(), 2u);
}

TEST_F(CorrectionTest, AStretchThatIsLeftOutIsBridgedAndSaysSo) {
  App app(Settings{}, "");
  Open(app, kThin);
  ContourUm line = Bore(app, "scope", 1);
  line.resize(60);
  ContourUm clicks;
  for (std::size_t i = 0; i < line.size(); i += 10) clicks.push_back(line[i]);
  DrawLine(app, Correction::Kind::kLeaveOut, "scope", clicks);
  Because(app, "scratched");
  ASSERT_EQ(app.panels().corrections.size(), 1u) << app.notice();
  const auto& bore = app.current()->measured->result.section.FindLumen("scope")->bore.vertices;
  const auto bridged = std::count_if(bore.begin(), bore.end(), [](const ContourVertex& v) {
    return v.state == VertexState::kBridged;
  });
  EXPECT_NEAR(static_cast<double>(bridged), 51, 12);
  EXPECT_THAT(app.panels().corrections[0], HasSubstr("um left out"));
}

TEST_F(CorrectionTest, MergedLumensArePartedAlongTheLine) {
  App app(Settings{}, "");
  Open(app, "sample-images/LV-7504-broken-septum.png");
  const auto& lumens = app.current()->measured->result.section.lumens;
  const auto merged = std::find_if(lumens.begin(), lumens.end(), [](const LumenTrace& l) {
    return l.state == LumenState::kMerged && l.breach;
  });
  ASSERT_NE(merged, lumens.end());
  const std::size_t count = lumens.size();
  const std::string key = merged->Key();
  DrawLine(app, Correction::Kind::kSplit, key, {merged->breach->a, merged->breach->b});
  Because(app, "torn while polishing");
  EXPECT_EQ(app.current()->measured->result.section.lumens.size(), count + 1) << app.notice();
  EXPECT_THAT(app.panels().head.cautions, testing::Contains(HasSubstr("1 correction")));
}

TEST_F(CorrectionTest, MessagesNameWhatStandsInTheWindow) {
  App app(Settings{}, "");
  Order order = DemoOrder("");
  order.section.clear();
  app.Start(order, {Demo(kThin)});
  app.WaitUntilIdle();
  EXPECT_EQ(app.current()->stage, Stage::kFailed);
  EXPECT_THAT(app.panels().plate_text, HasSubstr("under \"Section of the drawing\": "));
  EXPECT_THAT(app.panels().plate_text, Not(HasSubstr("--")));
  EXPECT_EQ(InWindowWords("name another folder with --out"),
            "name another folder under \"Results go to\"");
  EXPECT_EQ(InWindowWords("nothing of the kind"), "nothing of the kind");
}

}  // namespace
}  // namespace cutface::window
