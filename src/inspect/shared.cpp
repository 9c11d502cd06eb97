#include "inspect/shared.h"

namespace cutface {

bool Going(const InspectOptions& options, double share, std::string_view what) {
  return !options.progress || options.progress(share, what);
}

tl::unexpected<Error> Stopped() {
  return Fail(Code::kCancelled, "stopped by request; nothing was written");
}

void FillIdentity(const Micrograph& micrograph, const CalibrationRecord& calibration,
                  const Scale& scale, const InspectOptions& options, SectionResult& result) {
  result.software = CUTFACE_VERSION;
  result.time = NowUtc();
  result.inspector = options.inspector;
  result.sample = options.sample;
  if (result.sample.taken.empty()) result.sample.taken = micrograph.taken;
  result.image_file = micrograph.file_name;
  result.image_sha256 = micrograph.sha256;
  result.image_width_px = micrograph.width();
  result.image_height_px = micrograph.height();
  result.calibration_id = calibration.id;
  result.calibration_sha256 = calibration.sha256;
  result.calibration_certified = calibration.Certified();
  result.mean_pitch_um = scale.mean_pitch_um();
  result.overrules = options.overrules;
  result.warnings = options.warnings;
}

}  // namespace cutface
