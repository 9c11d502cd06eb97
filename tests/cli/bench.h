// A folder of its own with a photo, a drawing and a calibration record, and stages that answer at
// once.
#pragma once

#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "cutface/cli.h"
#include "cutface/record.h"
#include "picture/sample.h"

namespace cutface {

namespace fs = std::filesystem;

inline constexpr const char* kDesign = R"({"format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "LV-7504", "revision": "C", "title": "test"},
  "sections": {
    "extrusion": {"kind": "shaft", "outline": {"circle": {"diameter": 2.5}},
                  "lumens": {"scope": {"circle": {"center": [0, 0.4], "diameter": 0.9}}}},
    "tip": {"kind": "shaft", "outline": {"circle": {"diameter": 2.0}}}}})";

inline constexpr const char* kCalibration = R"({"format": "cutface/calibration", "version": 1,
  "id": "bench2-5x", "objective": "5x", "image_size_px": [800, 600],
  "pixel_pitch_um": [5.0, 5.0], "pitch_u_um": [0.002, 0.002], "shear": 0.0,
  "distortion": {"k1_per_px2": 0.0, "centre_px": [399.5, 299.5]}, "gamma": 1.0,
  "made": "2026-03-02", "due": "2026-09-02", "by": "calibration desk",
  "artefact": {"kind": "stage micrometer", "serial": "S-1", "certificate": "C-9", "u_um": 0.15}})";

class CliTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = testing::TempDir() + "cutface_cli.XXXXXX";
    folder_ = mkdtemp(name.data());
    Write("part.design.json", kDesign);
    Write("scope.calibration.json", kCalibration);
    WritePhoto("face.png");
    stages_.inspect = [this](const Micrograph& micrograph, const CalibrationRecord& calibration,
                             const Scale&, const Design& design, const SectionDesign& plane,
                             const InspectOptions& options) {
      ++calls_;
      options_ = options;
      return Answer(micrograph, calibration, design.part_number, plane.name, options);
    };
    stages_.survey = [this](const Micrograph& micrograph, const CalibrationRecord& calibration,
                            const Scale&, const InspectOptions& options) -> Result<Survey> {
      ++calls_;
      auto result = Answer(micrograph, calibration, "", "draft", options);
      if (!result) return tl::unexpected(result.error());
      auto draft = ParseDesign(kDesign, "draft");
      return Survey{*result, *draft};
    };
  }
  void TearDown() override { fs::remove_all(folder_); }

  Result<SectionResult> Answer(const Micrograph& micrograph, const CalibrationRecord& calibration,
                               const std::string& part, const std::string& section,
                               const InspectOptions& options) {
    if (failure_) return tl::unexpected(*failure_);
    if (options.progress) options.progress(0.5, "measuring");
    SectionResult result = sample::FourLumens();
    result.verdict = verdict_;
    result.image_file = micrograph.file_name;
    result.image_sha256 = micrograph.sha256;
    result.calibration_id = calibration.id;
    result.part = part;
    result.section_name = section;
    result.sample = options.sample;
    result.inspector = options.inspector;
    result.overrules = options.overrules;
    result.warnings = options.warnings;
    return result;
  }

  std::string At(const std::string& name) const { return (folder_ / name).string(); }
  void Write(const std::string& name, const std::string& text) const {
    fs::create_directories((folder_ / name).parent_path());
    std::ofstream(folder_ / name, std::ios::binary) << text;
  }
  std::string Read(const std::string& name) const {
    std::ifstream file(folder_ / name, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
  }
  void WritePhoto(const std::string& name) const {
    static const std::string photo = [] {  // painted once for all tests
      cv::Mat half;
      cv::resize(sample::Paint(sample::FourLumens(), {}), half, {800, 600});
      auto png = EncodePng(half);
      return std::string(reinterpret_cast<const char*>(png->data()), png->size());
    }();
    Write(name, photo);
  }

  int Run(const std::vector<std::string>& words, bool terminal = false) {
    std::ostringstream out, err;
    const int status = RunProgram(words, {out, err, terminal}, stages_);
    out_ = out.str();
    err_ = err.str();
    return status;
  }
  // measure IMAGE... with a value for every option that `more` does not give itself.
  int Measure(const std::vector<std::string>& images, const std::vector<std::string>& more = {}) {
    std::vector<std::string> words = {"measure"};
    for (const std::string& image : images) words.push_back(At(image));
    const std::vector<std::pair<std::string, std::string>> usual = {
        {"--design", At("part.design.json")},
        {"--section", "extrusion"},
        {"--calibration", At("scope.calibration.json")},
        {"--out", At("out")},
        {"--taken", "2026-04-01"}};
    for (const auto& option : usual) {
      if (std::find(more.begin(), more.end(), option.first) != more.end()) continue;
      words.insert(words.end(), {option.first, option.second});
    }
    words.insert(words.end(), more.begin(), more.end());
    return Run(words);
  }

  fs::path folder_;
  Stages stages_;
  int calls_ = 0;
  InspectOptions options_;
  std::optional<Error> failure_;
  Verdict verdict_ = Verdict::kConforms;
  std::string out_, err_;
};

}  // namespace cutface
