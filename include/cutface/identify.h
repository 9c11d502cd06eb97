// From picture and drawing to a Section: pose, regions with names, traced and settled contours.
//
// Nothing is guessed: what the drawing promises and was not found is "not found", lumens without a
// septum between them are "merged", what lies beyond the frame is "cut off", and symmetric names
// are listed as interchangeable. Keywords: identify, registration, tracing, merged lumens, voids.
#pragma once

#include <optional>

#include "cutface/design.h"
#include "cutface/micrograph.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

struct IdentifyOptions {
  double edge_cutoff_um = 10;   // roughness wavelength below which edges are smoothed
  std::optional<double> gamma;  // of the camera, from the calibration record
  double u_gamma = 0;           // its standard uncertainty
  bool joint_walls = true;
  // The picture shows a part of the face: looked for at every place, and refused where the drawing
  // fits in several ways.
  bool detail = false;
};

// Errors: kNoSection, kTwoParts, kOutOfFocus.
Result<Section> IdentifySection(const Micrograph& micrograph, const Scale& scale,
                                const SectionDesign& plane, const IdentifyOptions& options = {});

}  // namespace cutface
