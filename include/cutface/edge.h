// Sub-pixel edges: where the polymer ends, told from pooled raw pixels and a small family of
// models.
//
// Contours that are right to a pixel or two go in; settled ones come out, with the uncertainty of
// each place and the doubt that moves a contour as a whole. Tones are taken relative to the body's
// light field, so the polymer is about 1 everywhere. s is the signed distance to the contour,
// positive on the polymer's side.
//
// Models of light against s before blur, x0 being where the polymer ends:
//   step    void level | polymer level P
//   rim     the polished edge is rounded and darker: P (1 - d (1 - (s - x0) / L)^2) over the length
//           L, or P (1 - d exp(-(s - x0) / L))
//   band    light refracts into a dark band inside the polymer, of its own depth, width and offset
//   gap     a line just outside the polymer: resin drawn back, or a smear lip
// each blurred by a Gaussian and encoded with the camera's gamma. Gamma, blur and the rim's or
// band's figures are one for the picture and are fitted to all contours together; gamma, where the
// record does not know it, also from the camera's noise against tone. Lines are told stretch by
// stretch. What several models explain alike goes into the doubt. The edge is x0, not where the
// tone is steepest. Blurred curved edges shift by sigma^2 / (2 R) towards the centre of curvature;
// that is put back (Verbeek & van Vliet 1994); sharp corners recede further and are put half way,
// the rest in their doubt. Focus varies over the field as far as all contours together say so.
// Keywords: sub-pixel, profile, blur, focus, corner, gamma, noise, rim, band, gap, Cramer-Rao.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "cutface/geometry.h"
#include "cutface/micrograph.h"

namespace cutface {

// Body tone as a quadratic in ((x - middle.x) / size, (y - middle.y) / size), full scale 0..1.
struct LightField {
  double c[6] = {0.5, 0, 0, 0, 0, 0};  // 1, u, v, u^2, uv, v^2
  PointPx middle;
  double size = 1;
  double At(double x, double y) const;  // held at the rim beyond |u|, |v| = 1.3; never below 0.002
};

enum class EdgeModel { kStep, kRim, kBand, kGap };
std::string_view EdgeModelName(EdgeModel model);

struct EdgeInput {
  ContourPx start;              // closed, positive area, right to about 2 px
  bool polymer_outside = true;  // bores and voids: true; the outline: false
  double expected_step = 0;     // signed tone change from the void side to the polymer, relative
  // Both sides are solid (a liner's outer edge, a ring's inner edge): a plain blurred step that
  // says nothing of rims, bands or the camera; wires beside it are left out.
  bool inner_boundary = false;
  // Another solid follows within reach (a liner), or it may be metal: what looks like a rim may be
  // that, so the optics of the picture are told from other contours.
  bool layered = false;
  bool fixed = false;  // already settled: it only tells its neighbours where it lies
};

enum class PlaceState { kMeasured, kBridged, kOutside };

struct SettledPlace {
  PointPx at;
  PointPx normal;  // outward
  double sigma_px = 0;
  PlaceState state = PlaceState::kMeasured;
  double doubt_px = 0;  // of the whole stretch: a line that may or may not be there
};

struct SettledContour {
  std::vector<SettledPlace> places;
  EdgeModel model = EdgeModel::kStep;
  double blur_px = 1;
  double width_px = 0;       // of rim, band or gap
  double void_level = 0;     // relative linear tones
  double polymer_level = 1;  // as seen beside the edge
  double u_common_px = 0;
  double u_arc_px = 0;
  double arc_length_px = 0;
  double noise_length_px = 0;
  double contrast = 0;  // |polymer - void|, full scale, as pictured
  double misfit = 0;    // rms of pooled profile against the model / contrast
  std::string doubt;
};

struct EdgeOptions {
  std::optional<double> gamma;  // from the calibration record; else estimated
  double u_gamma = 0;           // standard uncertainty that the record states with it
  double reach_px = 12;         // half width of the band that is looked at
  double smoothing_px = 4;      // roughness cut-off wavelength (edge_cutoff_um in px)
  bool joint_walls = true;      // subtract the neighbour's edge where two contours come close
  int passes = 5;
};

struct SettledFace {
  std::vector<SettledContour> contours;  // as the inputs
  double gamma = 1;
  double u_gamma = 0.3;
  double blur_px = 1;   // of the picture: contrast-weighted median
  double noise = 0.01;  // relative, in the body
};

// Never fails: a contour that cannot be settled keeps its start and says so in `doubt`.
SettledFace SettleEdges(const Micrograph& micrograph, const LightField& light,
                        const std::vector<EdgeInput>& inputs, const EdgeOptions& options = {});

}  // namespace cutface
