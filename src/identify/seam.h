// Seams: edges between two solids, a ring's inner edge above all.
//
// Two solids of nearly one tone meet in a faint step, a thin line, or both, and wires beside the
// seam outshine it. So the whole seam is looked for at once: masked responses to line and step are
// summed along the drawn edge, moved and scaled as a whole (a matched filter over three numbers),
// neighbouring seams together so that none takes the other's place. From there the pooled profile
// is the template that each short stretch is matched with, and a series of harmonics through the
// stretches' shifts bridges what wires, gaps or the frame hide.
// Keywords: ring, bond line, adhesive, jacket, matched filter, template, harmonics.
#pragma once

#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "cutface/geometry.h"
#include "cutface/micrograph.h"
#include "identify/tones.h"

namespace cutface {

struct SeamInput {
  ContourPx drawn;         // registered nominal edge, full-resolution px
  double outwards_px = 0;  // drawn distance to the next seam or the outline outwards
  std::string name;        // for words
};

struct SeamPlace {
  PointPx at, normal;
  double sigma_px = 0;
  bool seen = true;  // false: bridged
};

struct Seam {
  std::vector<SeamPlace> places;  // empty when not found
  double step = 0;                // outer - inner tone, relative
  double line = 0;                // dip of a line along the seam, relative x px (area)
  double blur_px = 1;
  double u_common_px = 0;    // of the whole seam along its normals
  double length_px = 0;      // along which sigma_px is one and the same error
  double wander_px = 0;      // of the edge about its first four harmonics, root mean square
  double nothing_share = 0;  // of its stretches, where plain tone lies in its place
  // Pooled profile that the place was told from, and the place in it.
  std::vector<double> profile;
  double profile_noise = 0.01, samples_per_bin = 1, profile_at = 0;
  std::string why;  // "" or why it was not found

  ContourPx Points() const {
    ContourPx points;
    for (const SeamPlace& p : places) points.push_back(p.at);
    return points;
  }
};

// Once the picture's blur is known: a step alone and a step with a line are told apart, and the
// seam is moved to where the better of them has it; what is left between them is doubt.
void Recentre(double blur_px, Seam& seam);

// From the outline inwards. `hidden`: work raster, not zero where something else than rings is
// drawn (bores, liners). Relative tones: what `tones.light` makes 1.
std::vector<Seam> TraceSeams(const Micrograph& micrograph, const FaceTones& tones,
                             const ContourPx& outline, const cv::Mat1b& hidden,
                             const std::vector<SeamInput>& inputs);

}  // namespace cutface
