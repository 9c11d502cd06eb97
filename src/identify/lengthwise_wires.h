// Cut wires in the wall of a lengthwise section, one by one: where metal is, and each one's edge.
//
// Tones are taken relative to the body's light. The wires of one layer are polished alike, so what
// most of the metal shows is the level of the metal, brighter than the body or darker. A wire's
// edge is where a ray from its middle falls to half way between its own tone and the body's; rays
// that do not end in the body (another wire, the outside, a bore) see no edge and are filled in
// from an ellipse through the others. Lengths in px of the full picture.
// Keywords: coil, turn, cut wire, half level, ray, ellipse.
#pragma once

#include <algorithm>
#include <opencv2/core.hpp>
#include <optional>
#include <string>
#include <vector>

#include "cutface/edge.h"
#include "cutface/micrograph.h"

namespace cutface {

struct CutWire {
  PointPx centre;
  ContourPx edge;          // at half level, even in angle about the centre, positive area
  std::vector<char> seen;  // per vertex of `edge`
  double tone = 0;         // relative, of its middle
  double sigma_px = 0;     // of a vertex of `edge`, from its own roughness
  double seen_share = 0;
  std::string doubt;      // "" or why its edge is
  double bare_share = 0;  // of the round: the metal ends in what a bore holds
  // Much of it lies in a bore; one that only lies close to a bore shows less of that.
  bool Bare() const { return bare_share > 0.4; }
  // Nearly all of it does: the wall hardly holds it.
  bool Loose() const { return seen_share < 0.05; }
  bool Whole() const { return seen_share > 0.999; }
  // From its middle to the farthest of its edge.
  double Reach() const {
    double reach = 0;
    for (PointPx p : edge) reach = std::max(reach, Distance(p, centre));
    return reach;
  }
};

struct WallSearch {
  const ContourPx* outline = nullptr;
  std::vector<const ContourPx*> bores;
  // Lines along the walls, one of which each row lies on: where the metal's level shows.
  std::vector<std::vector<PointPx>> lines;
  double across_px = 0, along_px = 0;  // drawn size of a cut wire, across and along the wall
  double noise = 0.01;                 // of relative tones
};

struct WallMetal {
  std::vector<CutWire> wires;
  bool bright = true;
  double level = 1;  // relative tone of most of the metal
  std::string why;   // "" or why no metal can be told
};

WallMetal FindWallMetal(const Micrograph& micrograph, const LightField& light,
                        const WallSearch& search);

// How far beyond a wire of this radius WithoutMetal paints, in px.
double WireMargin_px(double radius_px);

// The picture with the body's tone and noise in place of the wires: edges beside them can then be
// settled as if there were none. `noise` is relative, of single pixels.
Micrograph WithoutMetal(const Micrograph& micrograph, const LightField& light,
                        const std::vector<WallMetal>& metal, double noise);

// Size of a ribbon across the wall at half level, between its flat sides, um; 0: not told. `along`:
// its drawn length along the axis.
double FlatAcross(const ContourUm& edge, PointUm axis, double along);

// Median relative tone on a circle of radius r; nothing where the picture ends.
std::optional<double> ToneAbout(const Micrograph& micrograph, const LightField& light, PointPx at,
                                double r);

// Relative tone of the picture at a place, bilinear; REQUIRES: inside.
double RelativeTone(const Micrograph& micrograph, const LightField& light, PointPx p);

}  // namespace cutface
