// Settings, file list, background jobs, and how verdicts look.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <thread>

#include "gui/state/background.h"
#include "gui/state/file_list.h"
#include "gui/state/settings.h"
#include "gui/theme/theme.h"
#include "support/matchers.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

fs::path Folder() {
  const auto* test = testing::UnitTest::GetInstance()->current_test_info();
  fs::path folder = fs::temp_directory_path() /
                    (std::string("cutface-gui-") + test->name() + std::to_string(::getpid()));
  fs::create_directories(folder);
  return folder;
}

TEST(Settings, AreReadBackAsTheyWereWritten) {
  const fs::path folder = Folder();
  const std::string path = (folder / "deep/window.json").string();
  Settings settings;
  settings.AddRecent("/a/one.png");
  settings.AddRecent("/a/two.png");
  settings.inspector = "N";
  settings.dark = true;
  settings.text_scale = 1.25;
  settings.units = LengthUnit::kInch;
  ASSERT_THAT(WriteSettings(path, settings), IsOk());
  const Settings back = ReadSettings(path);
  EXPECT_THAT(back.recent, testing::ElementsAre("/a/two.png", "/a/one.png"));
  EXPECT_EQ(back.inspector, "N");
  EXPECT_TRUE(back.dark);
  EXPECT_EQ(back.text_scale, 1.25);
  EXPECT_EQ(back.units, LengthUnit::kInch);
  fs::remove_all(folder);
}

TEST(Settings, ADamagedFileIsNoReasonNotToStart) {
  const fs::path folder = Folder();
  for (const char* text : {"", "{", "[1]", "{\"recent\": 7, \"text_scale\": 99, \"units\": 3}"}) {
    std::ofstream(folder / "w.json") << text;
    const Settings settings = ReadSettings((folder / "w.json").string());
    EXPECT_TRUE(settings.recent.empty());
    EXPECT_LE(settings.text_scale, 2);
  }
  fs::remove_all(folder);
}

TEST(Settings, TheSamePictureStandsOnceInTheRecentOnes) {
  Settings settings;
  for (int i = 0; i < 40; ++i) settings.AddRecent(std::to_string(i % 15) + ".png");
  EXPECT_EQ(settings.recent.size(), Settings::kMostRecent);
  EXPECT_EQ(settings.recent.front(), "9.png");
}

TEST(FileList, ShowsFoldersFirstAndOnlyWhatCanBeOpened) {
  const fs::path folder = Folder();
  for (const char* name : {"b.png", "A.TIF", "x.design.json", "notes.txt", ".hidden.png"})
    std::ofstream(folder / name) << "x";
  fs::create_directory(folder / "zz");
  const FileList list = ListFolder(folder.string());
  std::vector<std::string> names;
  for (const FileEntry& entry : list.entries) names.push_back(entry.name);
  EXPECT_THAT(names, testing::ElementsAre("zz", "A.TIF", "b.png", "x.design.json"));
  EXPECT_EQ(list.entries[3].kind, FileKind::kDesign);
  EXPECT_NE(ListFolder((folder / "none").string()).trouble, "");
  fs::remove_all(folder);
}

TEST(Background, OutcomesRunWhereTheyAreTaken) {
  Background background;
  const auto here = std::this_thread::get_id();
  std::thread::id worked, told;
  background.Start("job", [&](const Progress&) -> Background::Outcome {
    worked = std::this_thread::get_id();
    return [&] { told = std::this_thread::get_id(); };
  });
  background.WaitUntilIdle();
  EXPECT_TRUE(background.TakeOutcomes());
  EXPECT_NE(worked, here);
  EXPECT_EQ(told, here);
}

TEST(Background, CancelStopsTheRunningJobAndForgetsTheWaitingOnes) {
  Background background;
  bool second = false;
  std::atomic<bool> running = false;
  background.Start("long", [&](const Progress& progress) -> Background::Outcome {
    running = true;
    while (progress(0.5, "on and on")) std::this_thread::yield();
    return {};
  });
  background.Start("next", [&](const Progress&) -> Background::Outcome {
    second = true;
    return {};
  });
  while (!running) std::this_thread::yield();
  background.Cancel();
  background.WaitUntilIdle();
  EXPECT_FALSE(second);
}

TEST(Theme, EveryVerdictDiffersInWordMarkAndColour) {
  const Verdict all[] = {Verdict::kConforms, Verdict::kDoesNotConform, Verdict::kNotProven,
                         Verdict::kNotMeasured, Verdict::kElsewhere};
  for (const bool dark : {false, true}) {
    const Theme theme = MakeTheme(dark, 1, {});
    for (const Verdict a : all) {
      for (const Verdict b : all) {
        if (a == b) continue;
        EXPECT_NE(VerdictName(a), VerdictName(b));
        EXPECT_NE(LookOf(theme, a).mark, LookOf(theme, b).mark);
        EXPECT_NE(LookOf(theme, a).colour, LookOf(theme, b).colour);
      }
    }
  }
}

// W3C, Web Content Accessibility Guidelines 2.1, 1.4.3: 4.5 to 1 for text of this size.
double Luminance(ImU32 colour) {
  const auto part = [&](int shift) {
    const double c = ((colour >> shift) & 0xff) / 255.0;
    return c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * part(0) + 0.7152 * part(8) + 0.0722 * part(16);
}
double Contrast(ImU32 a, ImU32 b) {
  const double x = Luminance(a), y = Luminance(b);
  return (std::max(x, y) + 0.05) / (std::min(x, y) + 0.05);
}

TEST(Theme, TextCanBeReadOnItsGround) {
  for (const bool dark : {false, true}) {
    const Theme t = MakeTheme(dark, 1, {});
    for (const ImU32 ground : {t.paper, t.raised}) {
      for (const ImU32 ink : {t.ink, t.quiet, t.accent, t.alarm})
        EXPECT_GT(Contrast(ink, ground), 4.5) << dark;
      for (const Verdict v : {Verdict::kConforms, Verdict::kDoesNotConform, Verdict::kNotProven})
        EXPECT_GT(Contrast(LookOf(t, v).colour, ground), 4.5) << dark;
    }
    EXPECT_GT(Contrast(t.on_accent, t.accent), 4.5);
  }
}

}  // namespace
}  // namespace cutface::window
