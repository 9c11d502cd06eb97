// What the window's tests share: the demo's order and a folder for each test.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <string>

#include "gui/state/app.h"
#include "support/matchers.h"

namespace cutface::window {

namespace fs = std::filesystem;

inline std::string Demo(const std::string& name) {
  return std::string(CUTFACE_SOURCE_DIR) + "/" + name;
}

inline Order DemoOrder(const std::string& out) {
  Order order;
  order.design = Demo("sample-images/LV-7504.design.json");
  order.section = "extrusion";
  order.calibration = Demo("calibration/demo-bench-5x.calibration.json");
  order.inspector = "A. Measurer";
  order.sample.serial = "0007";
  order.sample.taken = "2026-04-01";
  order.out = out;
  return order;
}
inline const char* const kThin = "sample-images/LV-7504-thin-septum.png";

// A drawing like the demo's that leaves edges to the inspector.
inline std::string UnlockedDesign(const fs::path& folder) {
  auto text = ReadTextFile(Demo("sample-images/LV-7504.design.json"));
  const std::string locked = "\"locked\": true";
  text->replace(text->find(locked), locked.size(), "\"locked\": false");
  std::string path = (folder / "unlocked.design.json").string();
  EXPECT_THAT(WriteWhole(path, *text), IsOk());
  return path;
}

class AppTest : public testing::Test {
 protected:
  void SetUp() override {
    folder_ =
        fs::temp_directory_path() / (std::string("cutface-app-") + std::to_string(::getpid()) +
                                     testing::UnitTest::GetInstance()->current_test_info()->name());
    fs::create_directories(folder_);
  }
  void TearDown() override { fs::remove_all(folder_); }
  std::string Path(const std::string& name) const { return (folder_ / name).string(); }
  fs::path folder_;
};

}  // namespace cutface::window
