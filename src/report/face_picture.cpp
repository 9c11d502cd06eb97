// The picture of a face, if it is still the one that was measured.
#include <fmt/format.h>

#include <algorithm>
#include <opencv2/core.hpp>

#include "report/internal.h"

namespace cutface {
namespace {

// Nothing is measured here: the reduced copy only tells whether tones have to be stretched.
constexpr int kReducedPixels = 50'000;

const CalibrationRecord* RecordOf(const ReportInput& input, const SectionResult& result) {
  for (const CalibrationRecord& record : input.calibrations) {
    if (record.id == result.calibration_id && record.sha256 == result.calibration_sha256)
      return &record;
  }
  return nullptr;
}

FacePicture Blank(const SectionResult& result, Scale scale, std::string note) {
  constexpr int kTone = 84;  // dark enough for light strokes, light enough to save ink
  const int w = std::max(1, result.image_width_px), h = std::max(1, result.image_height_px);
  cv::Mat ground(h, w, CV_8UC1, cv::Scalar(kTone));
  return {MicrographFromPixels(ground, 8, result.image_file), scale, std::move(note), {}};
}

}  // namespace

FacePicture LoadFacePicture(const ReportInput& input, const ReportFace& face) {
  const SectionResult& result = face.result;
  Scale scale = Scale::Isotropic(result.mean_pitch_um);
  std::string note;
  if (const CalibrationRecord* record = RecordOf(input, result)) {
    if (auto own = Scale::FromRecord(*record)) scale = *own;
  } else {
    note = "the calibration record is not at hand: marks may lie off by what it corrects";
  }
  bool another = false;
  for (const std::string& path : face.image_paths) {
    auto bytes = ReadFile(path);
    if (!bytes) continue;
    if (Sha256Hex(*bytes) != result.image_sha256) {
      another = true;
      continue;
    }
    ReadOptions options;
    options.reduced_pixels = kReducedPixels;
    auto micrograph = DecodeMicrograph(*bytes, result.image_file, options);
    if (!micrograph) return Blank(result, scale, "the picture cannot be read: marks alone");
    return {std::move(*micrograph), scale, std::move(note), {}};
  }
  return Blank(result, scale,
               another ? "a picture of this name is not the one that was measured: marks alone"
                       : "the picture is not at hand: marks alone");
}

}  // namespace cutface
