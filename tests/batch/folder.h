// A folder of its own for each test, with a drawing of two sections.
#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "cutface/batch.h"

namespace cutface {

namespace fs = std::filesystem;

inline Design TwoSections(const std::string& part = "LV-7504", const std::string& revision = "C") {
  const std::string text = R"({"format": "cutface/design", "version": 1, "units": "mm",
    "part": {"number": ")" +
                           part + R"(", "revision": ")" + revision + R"(", "title": "test"},
    "sections": {"shaft_mid": {"kind": "shaft", "outline": {"circle": {"diameter": 2.5}}},
                 "tip": {"kind": "shaft", "outline": {"circle": {"diameter": 2.0}}}}})";
  auto design = ParseDesign(text, part + ".design.json");
  CF_CHECK(design);
  return *design;
}

class FolderTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = testing::TempDir() + "cutface_batch.XXXXXX";
    root_ = mkdtemp(name.data());
    fs::create_directory(root_ / "in");
  }
  void TearDown() override { fs::remove_all(root_); }

  void Picture(const std::string& name, const std::string& bytes = "picture") const {
    fs::create_directories((root_ / "in" / name).parent_path());
    std::ofstream(root_ / "in" / name, std::ios::binary) << bytes;
  }
  std::string In() const { return (root_ / "in").string(); }
  std::string Out() const { return (root_ / "out").string(); }

  fs::path root_;
};

}  // namespace cutface
