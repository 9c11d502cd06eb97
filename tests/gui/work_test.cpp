// Asking the face, signing, marked pictures, and work that was not saved, through the window's
// state.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/record.h"
#include "gui/demo.h"
#include "gui/state/app.h"
#include "support/matchers.h"

namespace cutface::window {
namespace {

using testing::Contains;
using testing::HasSubstr;

Intent AskAt(const App& app, const std::string& feature, std::size_t vertex) {
  const Measured& m = *app.current()->measured;
  Intent point{Do::kAskPoint, 0, feature};
  point.at = m.scale.ToPx(m.result.section.FindLumen(feature)->bore.vertices[vertex].at);
  return point;
}

void Begin(App& app, const Order& order) {
  app.Start(order, {Demo(kThin)});
  app.WaitUntilIdle();
  ASSERT_EQ(app.current()->stage, Stage::kMeasured);
}

using AskTest = AppTest;
TEST_F(AskTest, TwoEdgesGiveTheSeptumAndWhatIsKeptIsReadBack) {
  App app(Settings{}, "");
  Begin(app, DemoOrder(Path("out")));
  app.Apply({{Do::kShowPage, static_cast<int>(Page::kAsk)}, AskAt(app, "scope", 10)});
  app.WaitUntilIdle();
  ASSERT_EQ(app.panels().ask.lines.size(), 2u);  // radius and length
  app.Apply({AskAt(app, "wash", 10)});
  app.WaitUntilIdle();
  ASSERT_FALSE(app.panels().ask.lines.empty()) << app.panels().ask.trouble;
  // The least distance of the two bores is the septum of the drawing's row 8.
  const auto& rows = app.panels().rows.rows;
  const auto septum =
      std::find_if(rows.begin(), rows.end(), [](const RowLine& r) { return r.no == "8"; });
  ASSERT_NE(septum, rows.end());
  const std::string actual = septum->actual;  // panels are made anew by what follows
  EXPECT_EQ(app.panels().ask.lines[0].title, "Least distance");
  // As text they may differ in the last digit: the two are not rounded from the same contour.
  EXPECT_NEAR(std::stod(app.panels().ask.lines[0].value), std::stod(actual), 1.01e-4);
  EXPECT_EQ(app.chosen().stretches.size(), 2u);
  app.Apply({{Do::kAskKeep, 0}, {Do::kSave}});
  app.WaitUntilIdle();
  ASSERT_EQ(app.panels().ask.kept.size(), 1u);
  EXPECT_THAT(app.panels().ask.kept[0].by, HasSubstr("A. Measurer"));

  const auto file = ReadResult(Path("out/LV-7504-thin-septum.result.json"));
  ASSERT_THAT(file, IsOk());
  ASSERT_EQ(file->asked.size(), 1u);
  EXPECT_EQ(file->asked[0].figure.quantity, "distance");
  App again(Settings{}, "");
  again.Start(Order(), {Path("out/LV-7504-thin-septum.result.json")});
  again.WaitUntilIdle();
  ASSERT_EQ(again.panels().ask.kept.size(), 1u);
  EXPECT_EQ(app.panels().wall.clock_text, "");  // the drawing's clock
  EXPECT_THAT(again.panels().wall.clock_text, HasSubstr("12 is up in the picture"));
  EXPECT_NEAR(std::stod(again.panels().ask.kept[0].line.value), std::stod(actual), 1.01e-4);
  // Its scale has no uncertainty: nothing more is read off it.
  again.Apply({AskAt(again, "scope", 10)});
  EXPECT_THAT(again.notice(), HasSubstr("measure the picture again"));
  app.Apply({{Do::kAskDrop, 0}});
  EXPECT_TRUE(app.panels().ask.kept.empty());
}

TEST_F(AskTest, TwoClicksOnAnEdgeAskForTheStretchBetween) {
  App app(Settings{}, "");
  Begin(app, DemoOrder(""));
  app.Apply({AskAt(app, "scope", 10), AskAt(app, "scope", 80)});
  app.WaitUntilIdle();
  ASSERT_EQ(app.panels().ask.edges.size(), 1u);
  EXPECT_EQ(app.panels().ask.edges[0].text, "a stretch of scope");
  const std::size_t shorter = app.chosen().stretches.at(0).size();
  app.Apply({{Do::kAskTurn, 0}});
  app.WaitUntilIdle();
  EXPECT_GT(app.chosen().stretches.at(0).size(), 2 * shorter);
  app.Apply({{Do::kChooseNothing}});
  EXPECT_TRUE(app.panels().ask.edges.empty());
  Intent ligament{Do::kAskPoint, 0, "scope|wash"};
  app.Apply({ligament});
  EXPECT_THAT(app.notice(), HasSubstr("no edge"));
}

using UnsavedTest = AppTest;
TEST_F(UnsavedTest, WhatAKilledWindowDidIsDoneAgain) {
  const std::string settings = Path("settings/window.json");
  std::string done;
  {
    App killed(Settings{}, settings);
    Begin(killed, DemoOrder(Path("out")));
    killed.Apply({{Do::kAskReason, static_cast<int>(Correction::Kind::kDispose),
                   "thin septum, scope and wash", "scrap"},
                  {Do::kCorrect, 0, "known scrap sample"}});
    killed.WaitUntilIdle();
    killed.Apply({AskAt(killed, "scope", 10)});
    killed.WaitUntilIdle();
    killed.Apply({{Do::kAskKeep, 0}});
    killed.WaitUntilIdle();
    // While it lives nobody else is offered its work.
    App beside(Settings{}, settings);
    EXPECT_EQ(beside.sheet(), Sheet::kNone);
    done = ResultToJson(killed.current()->measured->result);
  }
  App app(Settings{}, settings);
  ASSERT_EQ(app.sheet(), Sheet::kRecover);
  EXPECT_THAT(app.panels().left_behind,
              testing::ElementsAre("LV-7504-thin-septum.png: 1 correction, 1 question"));
  app.Apply({{Do::kRecover, 1}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("taken up again"));
  ASSERT_NE(app.current(), nullptr);
  EXPECT_EQ(app.current()->corrections.size(), 1u);
  EXPECT_TRUE(app.current()->unsaved);
  // Measured anew to the same digits; only the time of measuring is another.
  SectionResult now = app.current()->measured->result;
  auto then = ParseResult(done, "killed");
  ASSERT_THAT(then, IsOk());
  then->time = now.time;
  EXPECT_EQ(ResultToJson(now), ResultToJson(*then));
  app.Apply({{Do::kSave}});
  app.WaitUntilIdle();
  App after(Settings{}, settings);
  EXPECT_EQ(after.sheet(), Sheet::kNone);  // saved: nothing is left behind
}

using SignTest = AppTest;
TEST_F(SignTest, ASavedResultIsSignedAndReopensSigned) {
  Settings settings;
  settings.records = Path("records.db");
  App app(settings, "");
  Begin(app, DemoOrder(Path("out")));
  app.sign_form.passphrase = "a long passphrase";
  app.Apply({{Do::kOpenSheet, static_cast<int>(Sheet::kSign)}, {Do::kSign}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.panels().sign.hindrance, HasSubstr("Save first"));
  EXPECT_FALSE(fs::exists(Path("records.db")));
  app.Apply({{Do::kSave}});
  app.WaitUntilIdle();
  app.sign_form.passphrase = "short";
  app.Apply({{Do::kSign}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("too short"));
  EXPECT_TRUE(app.sign_form.passphrase.empty());
  // The store is made, the file is kept; what stands open is asked for before it is signed.
  app.sign_form.passphrase = "a long passphrase";
  app.Apply({{Do::kSign}});
  app.WaitUntilIdle();
  if (!app.panels().sign.state.open.empty() && app.panels().sign.state.signatures.empty()) {
    for (SignForm::Decision& decision : app.sign_form.decisions) {
      decision.what = static_cast<int>(DispositionKind::kScrap);
      decision.reason = "known scrap sample";
    }
    app.sign_form.passphrase = "a long passphrase";
    app.Apply({{Do::kSign}});
    app.WaitUntilIdle();
  }
  EXPECT_THAT(app.notice(), HasSubstr("signed as measured by A. Measurer"));
  EXPECT_THAT(app.panels().head.signatures, Contains(HasSubstr("measured by A. Measurer")));
  // The same person cannot approve it.
  app.sign_form.meaning = static_cast<int>(SignatureMeaning::kApproved);
  app.sign_form.passphrase = "a long passphrase";
  app.Apply({{Do::kSign}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("not signed"));
  app.sign_form.passphrase = "not the passphrase";
  app.Apply({{Do::kSign}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("not signed"));

  App again(settings, "");
  again.Start(Order(), {Path("out/LV-7504-thin-septum.result.json")});
  again.WaitUntilIdle();
  EXPECT_THAT(again.panels().head.signatures, Contains(HasSubstr("measured by A. Measurer")));
}

using PictureTest = AppTest;
TEST_F(PictureTest, TheMarkedPictureIsWrittenByItsEnding) {
  App app(Settings{}, "");
  Begin(app, DemoOrder(Path("out")));
  EXPECT_THAT(app.panels().picture_path, testing::EndsWith(".marked.svg"));
  for (const char* name : {"face.svg", "face.png"}) {
    app.Apply({{Do::kPicture, 0, Path(name)}});
    app.WaitUntilIdle();
    EXPECT_THAT(app.notice(), HasSubstr("picture written"));
  }
  const auto svg = ReadTextFile(Path("face.svg"));
  ASSERT_THAT(svg, IsOk());
  EXPECT_TRUE(IsMarkedDrawing(*svg));
  EXPECT_THAT(*svg, HasSubstr("data-feature=\"scope\""));
  const auto png = ReadFile(Path("face.png"));
  ASSERT_THAT(png, IsOk());
  EXPECT_TRUE(IsMarkedPicture(*png));
  app.Apply({{Do::kPicture, 0, Path("face.gif")}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr(".png or .svg"));
  ASSERT_THAT(WriteWhole(Path("mine.svg"), std::string_view("<svg/>")), IsOk());
  app.Apply({{Do::kPicture, 0, Path("mine.svg")}});
  app.WaitUntilIdle();
  EXPECT_TRUE(app.notice_is_error());
}

}  // namespace
}  // namespace cutface::window
