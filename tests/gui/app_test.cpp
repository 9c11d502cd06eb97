// The window's state through the whole job, without a window; held against the command line.
#include "gui/state/app.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "cutface/cli.h"
#include "cutface/record.h"
#include "gui/demo.h"
#include "support/matchers.h"

namespace cutface::window {
namespace {

using testing::HasSubstr;

// Everything but the time of measuring.
std::string WithoutTime(std::string text) {
  const std::size_t at = text.find("\"time\"");
  EXPECT_NE(at, std::string::npos);
  return text.erase(at, text.find('\n', at) - at);
}

TEST_F(AppTest, AWindowSavesByteForByteWhatTheCommandLineWrites) {
  App app(Settings{}, "");
  app.Start(DemoOrder(Path("window")), {Demo(kThin)});
  app.WaitUntilIdle();
  ASSERT_EQ(app.current()->stage, Stage::kMeasured);
  app.Apply({{Do::kSave}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("saved as"));
  EXPECT_FALSE(app.current()->unsaved);

  std::ostringstream out, err;
  const Order o = DemoOrder(Path("line"));
  RunProgram({"measure", Demo(kThin), "--design", o.design, "--section", o.section, "--calibration",
              o.calibration, "--serial", "0007", "--taken", "2026-04-01", "--inspector",
              "A. Measurer", "--out", o.out},
             {out, err});
  const auto ours = ReadTextFile(Path("window/LV-7504-thin-septum.result.json"));
  const auto theirs = ReadTextFile(Path("line/LV-7504-thin-septum.result.json"));
  ASSERT_THAT(ours, IsOk());
  ASSERT_THAT(theirs, IsOk()) << err.str();
  EXPECT_EQ(WithoutTime(*ours), WithoutTime(*theirs));
  // The picture beside it carries the time too.
  const auto picture = ReadFile(Path("window/LV-7504-thin-septum.png"));
  ASSERT_THAT(picture, IsOk());
  EXPECT_TRUE(IsMarkedPicture(*picture));
}

TEST_F(AppTest, ChoicesShowTheirPlacesAndWallAndFacePointAtEachOther) {
  App app(Settings{}, "");
  app.Start(DemoOrder(""), {Demo(kThin)});
  app.WaitUntilIdle();
  ASSERT_EQ(app.panels().rows.rows.size(), 21u);
  EXPECT_EQ(app.panels().head.verdict, "does not conform");
  app.Apply({{Do::kChooseRow, 0, "8"}});
  EXPECT_EQ(app.chosen().places.size(), 2u);
  EXPECT_EQ(app.chosen().label, "0.0615 mm");
  app.Apply({{Do::kStepRow, 1}});
  EXPECT_EQ(app.chosen_row(), "9");
  app.Apply({{Do::kChooseRow, 0, "16"}});
  EXPECT_EQ(app.panels().wall.name, "cuff");
  app.Apply({{Do::kJump}});
  EXPECT_TRUE(app.TakeGoto().jump);

  app.Apply({{Do::kChooseWall, 0, "scope"}});
  const double share = app.panels().wall.least.x;
  Intent strip{Do::kPointWall};
  strip.share = share;
  app.Apply({strip});
  ASSERT_TRUE(app.hand().shown);
  const WallPlace place = app.hand().place;
  Intent face{Do::kPointFace};
  face.at = app.current()->measured->scale.ToPx(0.5 * (place.inner + place.outer));
  face.share = 3;
  app.Apply({strip, face});
  ASSERT_TRUE(app.hand().shown);
  EXPECT_NEAR(app.hand().x, share, 0.01);
  face.at = app.current()->measured->scale.ToPx(app.current()->measured->frame.centre);
  app.Apply({face});
  EXPECT_FALSE(app.hand().shown);

  // The demo's drawing locks its method: no edge is left to the inspector.
  app.Apply({{Do::kStartLine, static_cast<int>(Correction::Kind::kRedraw), "scope"}});
  EXPECT_FALSE(app.draft().active);
  EXPECT_THAT(app.notice(), HasSubstr("locks its method"));
}

TEST_F(AppTest, AnOverdueCalibrationStandsInTheWayUntilANamedPersonAcceptsIt) {
  App app(Settings{}, "");
  Order order = DemoOrder(Path("out"));
  order.sample.taken = "2028-01-01";
  order.inspector.clear();
  app.Start(order, {Demo(kThin)});
  app.WaitUntilIdle();
  EXPECT_EQ(app.current()->stage, Stage::kFailed);
  EXPECT_EQ(app.panels().plate_title, "The calibration is overdue");
  EXPECT_TRUE(app.panels().plate_can_accept);
  app.Apply({{Do::kAcceptScale}});
  EXPECT_THAT(app.notice(), HasSubstr("name first"));
  app.WaitUntilIdle();
  EXPECT_EQ(app.current()->stage, Stage::kFailed);
  app.Apply({{Do::kSave}});
  app.WaitUntilIdle();
  EXPECT_FALSE(fs::exists(Path("out")));
  app.form.inspector = "A. Measurer";
  app.Apply({{Do::kOrder}, {Do::kAcceptScale}});
  app.WaitUntilIdle();
  ASSERT_EQ(app.current()->stage, Stage::kMeasured);
  EXPECT_THAT(app.panels().head.cautions, testing::Contains(HasSubstr("accepted by A. Measurer")));
}

TEST_F(AppTest, ACorrectionIsCountedSavedReadBackAndUndone) {
  App app(Settings{}, "");
  Order order = DemoOrder(Path("out"));
  app.Start(order, {Demo(kThin)});
  app.WaitUntilIdle();
  const std::string before = ResultToJson(app.current()->measured->result);
  const std::string finding = "thin septum, scope and wash";
  app.Apply({{Do::kAskReason, static_cast<int>(Correction::Kind::kDispose), finding, "scrap"}});
  EXPECT_EQ(app.sheet(), Sheet::kReason);
  app.Apply({{Do::kCorrect, 0, "known scrap sample"}});
  app.WaitUntilIdle();
  ASSERT_EQ(app.panels().corrections.size(), 1u) << app.notice();
  EXPECT_THAT(app.panels().head.cautions, testing::Contains("1 correction by hand"));
  app.Apply({{Do::kSave}});
  app.WaitUntilIdle();

  App again(Settings{}, "");
  again.Start(Order(), {Path("out/LV-7504-thin-septum.result.json")});
  again.WaitUntilIdle();
  ASSERT_EQ(again.current()->corrections.size(), 1u);
  EXPECT_EQ(again.current()->corrections[0].who, "A. Measurer");
  EXPECT_EQ(again.current()->corrections[0].why, "known scrap sample");

  app.Apply({{Do::kUndo}});
  app.WaitUntilIdle();
  EXPECT_EQ(ResultToJson(app.current()->measured->result), before);
  app.Apply({{Do::kRedo}});
  app.WaitUntilIdle();
  EXPECT_EQ(app.panels().corrections.size(), 1u);
}

TEST_F(AppTest, ARedrawnStretchIsWrittenAsDrawnAndNeedsAReason) {
  App app(Settings{}, "");
  Order order = DemoOrder(Path("out"));
  order.design = UnlockedDesign(folder_);
  app.Start(order, {Demo(kThin)});
  app.WaitUntilIdle();
  const Measured& m = *app.current()->measured;
  const ContourUm scope = m.result.section.FindLumen("scope")->bore.Points();
  app.Apply({{Do::kStartLine, static_cast<int>(Correction::Kind::kRedraw), "scope"}});
  for (std::size_t i = 20; i <= 120; i += 10) {
    Intent point{Do::kAddPoint};
    point.at = m.scale.ToPx(scope[i]) + PointPx{0.8, -0.6};
    app.Apply({point});
  }
  app.Apply({{Do::kEndLine}, {Do::kCorrect, 0, ""}});
  EXPECT_THAT(app.notice(), HasSubstr("reason"));
  const double found = Area(scope);
  app.Apply({{Do::kCorrect, 0, "dust on the edge"}});
  app.WaitUntilIdle();
  const Measured& after = *app.current()->measured;
  ASSERT_EQ(app.current()->corrections.size(), 1u) << app.notice();
  const TracedContour& bore = after.result.section.FindLumen("scope")->bore;
  const auto edited =
      std::count_if(bore.vertices.begin(), bore.vertices.end(),
                    [](const ContourVertex& v) { return v.state == VertexState::kEdited; });
  EXPECT_GT(edited, 60);
  // It settled on the same edge: a line drawn a pixel off changes the area by 1e-3 at most.
  EXPECT_NEAR(Area(bore.Points()) / found, 1, 1e-3);
}

TEST_F(AppTest, WhatCannotBeOpenedIsSaidAndTheRestStays) {
  ASSERT_THAT(WriteWhole(Path("torn.png"), std::string_view("\x89PNG\r\n\x1a\nxx")), IsOk());
  App app(Settings{}, "");
  app.Start(Order(), {Demo(kThin), Path("torn.png"), Path("missing.png"), Path("a.txt")});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("a.txt"));
  ASSERT_EQ(app.panels().tray.size(), 3u);
  EXPECT_EQ(app.panels().plate_title, "Cannot be opened");
  app.Apply({{Do::kShowSample, app.panels().tray[0].id}});
  EXPECT_EQ(app.panels().plate_title, "Not measured yet");
  EXPECT_THAT(app.panels().plate_text, HasSubstr("the drawing"));
}

#if defined(__SANITIZE_ADDRESS__)
constexpr bool kSanitized = true;
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
constexpr bool kSanitized = true;
#else
constexpr bool kSanitized = false;
#endif
#else
constexpr bool kSanitized = false;
#endif

double ResidentMb() {
  std::ifstream file("/proc/self/statm");
  long total = 0, resident = 0;
  file >> total >> resident;
  return static_cast<double>(resident) * static_cast<double>(sysconf(_SC_PAGESIZE)) / (1 << 20);
}

// A picture of the demo is 5 MB with its levels: were it kept, 24 of them would be 120 MB.
TEST_F(AppTest, OpenedAndClosedManyTimesNothingIsLeft) {
  App app(Settings{}, "");
  const Order none;
  double settled = 0;
  for (int i = 0; i < 32; ++i) {
    app.Start(none, {Demo(kThin)});
    app.WaitUntilIdle();
    app.Apply({{Do::kCloseSample}});
    if (i == 7) settled = ResidentMb();
  }
  EXPECT_TRUE(app.panels().tray.empty());
  EXPECT_EQ(app.current(), nullptr);
  // Two pictures, for what the allocator holds back; a sanitizer holds back what was freed.
  if (!kSanitized) {
    EXPECT_LT(ResidentMb() - settled, 12);
  }
}

TEST_F(AppTest, ACancelledMeasurementChangesNothing) {
  App app(Settings{}, "");
  app.Start(DemoOrder(""), {Demo(kThin)});
  app.Apply({{Do::kStop}});
  app.WaitUntilIdle();
  ASSERT_NE(app.current(), nullptr);
  EXPECT_NE(app.current()->stage, Stage::kMeasuring);
  EXPECT_NE(app.current()->stage, Stage::kReading);
}

}  // namespace
}  // namespace cutface::window
