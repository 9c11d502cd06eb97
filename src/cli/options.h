// What the command line says, checked as far as that goes without opening a file.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/micrograph.h"
#include "cutface/section.h"

namespace cutface {

struct Call {
  enum class Command { kNone, kMeasure, kSurvey };
  Command command = Command::kNone;
  std::string answer;  // of --help and --version; there is nothing else to do then

  std::vector<std::string> images;
  std::string design, section, calibration;
  std::string out = ".";
  std::string draft_design;
  bool json = false;
  Channel channel = Channel::kGreen;
  double u_floor_um = 0.5;
  SampleIdentity sample;
  std::string inspector;
  bool accept_overdue = false;
  bool accept_scale_mismatch = false;
};

// Errors: kUsage.
Result<Call> ParseCall(const std::vector<std::string>& words);

}  // namespace cutface
