// Entries and runs for the tests.
#pragma once

#include <string>

#include "cutface/roster.h"

namespace cutface {

inline FaceEntry Measured(const std::string& image, const std::string& serial,
                          const std::string& plane, const std::string& lot = "L-1") {
  FaceEntry face;
  face.image = image;
  face.image_sha256 = Sha256Hex(image);
  face.part = "LV-7504";
  face.revision = "C";
  face.plane = plane;
  face.sample.serial = serial;
  face.sample.lot = lot;
  face.state = FaceState::kMeasured;
  face.result_file = image + ".result.json";
  face.result_sha256 = Sha256Hex(image + "result");
  face.verdict = Verdict::kConforms;
  return face;
}

inline FaceEntry Rejected(FaceEntry face, const std::string& code) {
  face.state = FaceState::kRejected;
  face.code = code;
  face.reason = "made so by the test";
  face.result_file = face.result_sha256 = "";
  face.verdict = Verdict::kNotJudged;
  return face;
}

}  // namespace cutface
