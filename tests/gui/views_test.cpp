// Each page drawn without a window: what stands on it, and that its controls do what they say.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "gui/demo.h"
#include "gui/headless.h"
#include "gui/theme/words.h"

namespace cutface::window {
namespace {

using testing::HasSubstr;

// One measured face for all pages: measuring is what takes the time.
class ViewsTest : public AppTest {
 protected:
  void Open(App& app) {
    app.Start(DemoOrder(Path("out")), {Demo(kThin)});
    app.WaitUntilIdle();
    ASSERT_EQ(app.current()->stage, Stage::kMeasured);
  }
};

void NoOptionIsNamed(const Headless& window) {
  for (const std::string& text : window.texts)
    EXPECT_THAT(text, testing::Not(testing::ContainsRegex("(^| )--[a-z]"))) << text;
}

TEST_F(ViewsTest, AnEmptyWindowSaysWhatToDo) {
  App app(Settings{}, "");
  Headless window;
  window.Frames(app);
  EXPECT_TRUE(window.Says("Drop a microscope picture"));
  EXPECT_TRUE(window.Has("plate/open"));
  window.Click(app, "plate/open");
  EXPECT_EQ(app.sheet(), Sheet::kOpen);
  window.Frames(app);
  EXPECT_TRUE(window.Has("open/path"));
}

TEST_F(ViewsTest, EveryPageShowsWhatItIsFor) {
  App app(Settings{}, "");
  Open(app);
  Headless window;
  window.Frames(app);
  EXPECT_TRUE(window.Says("Does not conform"));
  EXPECT_TRUE(window.Says("LV-7504"));
  EXPECT_TRUE(window.Has("wall/scope"));
  EXPECT_TRUE(window.Has("row/8"));
  EXPECT_TRUE(window.Says("0.0615"));
  window.Click(app, "row/8");
  EXPECT_EQ(app.chosen_row(), "8");
  window.Click(app, "page/Findings");
  EXPECT_TRUE(window.Says("thin septum"));
  NoOptionIsNamed(window);
  window.Key(app, '3');
  EXPECT_EQ(app.page(), Page::kValues);
  EXPECT_TRUE(window.Has("feature/scope"));
  window.Click(app, "feature/scope");
  EXPECT_TRUE(window.Says("Equal-area diameter"));
  NoOptionIsNamed(window);
  window.Key(app, 'A');
  EXPECT_EQ(app.page(), Page::kAsk);
  EXPECT_TRUE(window.Says("Click an edge on the face."));
  window.Click(app, "page/Corrections");
  EXPECT_TRUE(window.Says(words::kLocked));
  window.Click(app, "page/Sample");
  EXPECT_TRUE(window.Has("sample/serial"));
  NoOptionIsNamed(window);
}

TEST_F(ViewsTest, WhatIsAskedStandsOnThePageWithItsInterval) {
  App app(Settings{}, "");
  Open(app);
  Headless window;
  app.Apply({{Do::kShowPage, static_cast<int>(Page::kAsk)}});
  const Measured& m = *app.current()->measured;
  for (const char* lumen : {"scope", "wash"}) {
    Intent point{Do::kAskPoint, 0, lumen};
    point.at = m.scale.ToPx(m.result.section.FindLumen(lumen)->bore.vertices[5].at);
    app.Apply({point});
  }
  app.WaitUntilIdle();
  window.Frames(app);
  EXPECT_TRUE(window.Says("the whole edge of scope"));
  EXPECT_TRUE(window.Says("Least distance"));
  EXPECT_TRUE(window.Says("0.0616 mm"));
  window.Click(app, "ask/keep");
  window.Frames(app);
  EXPECT_TRUE(window.Says(words::kKept));
  EXPECT_TRUE(window.Has("kept/0"));
  window.Click(app, "kept/0");
  window.Click(app, "kept/drop");
  EXPECT_FALSE(window.Has("kept/0"));
}

TEST_F(ViewsTest, SheetsOpenByKeyAndCloseByEscape) {
  App app(Settings{}, "");
  Open(app);
  Headless window;
  window.Frames(app);
  window.Key(app, 'G', /*control=*/true);
  ASSERT_EQ(app.sheet(), Sheet::kSign);
  window.Frames(app);
  EXPECT_TRUE(window.Says("Save first"));
  EXPECT_TRUE(window.Has("meaning/approved"));
  app.Apply({{Do::kCloseSheet}});
  window.Frames(app);
  window.Key(app, 'E', /*control=*/true);
  ASSERT_EQ(app.sheet(), Sheet::kPicture);
  window.Frames(app);
  EXPECT_TRUE(window.Has("picture/write"));
  app.Apply({{Do::kCloseSheet}, {Do::kOpenSheet, static_cast<int>(Sheet::kAbout)}});
  window.Frames(app);
  for (const char* caution : words::kCautions) EXPECT_TRUE(window.Says(caution));
  app.Apply({{Do::kCloseSheet}});
  window.Frames(app);
  window.Key(app, 'Q', /*control=*/true);
  EXPECT_FALSE(app.leaving());  // measured and not saved: asked once
  EXPECT_TRUE(window.Says("Ctrl Q once more"));
  window.Key(app, 'Q', /*control=*/true);
  EXPECT_TRUE(app.leaving());
}

TEST_F(ViewsTest, TheRunShowsSamplesByCharacteristicsAndOpensOne) {
  App app(Settings{}, "");
  Open(app);
  app.Apply({{Do::kSave}});
  app.WaitUntilIdle();
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kRun)}, {Do::kRunLoad, 0, Path("out")}});
  app.WaitUntilIdle();
  Headless window;
  window.Frames(app);
  EXPECT_TRUE(window.Says("1 results; without a run.json"));
  ASSERT_TRUE(window.Has("column/8"));
  ASSERT_TRUE(window.Has("sample/0"));
  window.Click(app, "column/8");
  EXPECT_TRUE(window.Says("septum, scope and wash"));
  EXPECT_TRUE(window.Has("point/0"));
  EXPECT_TRUE(window.Has("worst/0"));
  window.Click(app, "question/mean-face");
  EXPECT_TRUE(window.Has("graph/mean-face"));
  window.Key(app, '1');
  EXPECT_TRUE(window.Has("run edges"));
  window.Click(app, "sample/0");
  EXPECT_EQ(app.room(), Room::kFace);
  EXPECT_EQ(app.chosen_row(), "8");
}

TEST_F(ViewsTest, TheBenchGoesStepByStep) {
  App app(Settings{}, "");
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kBench)}});
  Headless window;
  window.Frames(app);
  EXPECT_TRUE(window.Has("bench/calibrate"));
  EXPECT_TRUE(window.Says("Give the division of the target."));
  window.Click(app, "bench/next");
  EXPECT_TRUE(window.Has("bench/division"));
  window.Click(app, "bench/kind/circle");
  window.Frames(app);
  EXPECT_TRUE(window.Has("bench/diameter"));
  EXPECT_FALSE(window.Has("bench/division"));
  window.Click(app, "bench step/3");
  EXPECT_TRUE(window.Has("bench/blank"));
  EXPECT_TRUE(window.Has("bench/exposure first"));
  window.Click(app, "bench step/0");
  window.Click(app, "bench/check");
  window.Click(app, "bench step/1");
  EXPECT_TRUE(window.Has("bench/kind/pin"));
  NoOptionIsNamed(window);
}

TEST_F(ViewsTest, TheDrawingShowsSizesOfTheShapeAndAsksBeforeItReplacesAFile) {
  App app(Settings{}, "");
  Open(app);
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kNominal)}, {Do::kNominalOpen}});
  app.WaitUntilIdle();
  app.Apply({{Do::kNominalChoose, 0, "scope"}});
  Headless window;
  window.Frames(app);
  EXPECT_TRUE(window.Has("size/diameter"));
  EXPECT_TRUE(window.Has("live/8"));
  EXPECT_TRUE(window.Has("offer/0"));
  ASSERT_THAT(WriteWhole(Path("a.design.json"), std::string_view("there")), IsOk());
  app.Apply({{Do::kNominalSave, 0, Path("a.design.json")}});
  window.drafts().nominal = Path("a.design.json");
  window.Frames(app);
  EXPECT_TRUE(window.Says(words::kIsThere));
  window.Click(app, "nominal/replace");
  EXPECT_THAT(ReadDesign(Path("a.design.json")), IsOk());
}

TEST_F(ViewsTest, PagesHoldAtEveryTextSizeAndInASmallWindow) {
  App app(Settings{}, "");
  Open(app);
  for (const auto& [w, h] : {std::pair{640.f, 480.f}, {2600.f, 1400.f}}) {
    Headless window(w, h);
    for (int page = 0; page < static_cast<int>(Page::kCount); ++page) {
      app.Apply({{Do::kShowPage, page}});
      window.Frames(app);
      EXPECT_GT(window.vertices(), 1000u);
    }
  }
}

}  // namespace
}  // namespace cutface::window
