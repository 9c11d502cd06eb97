// Serial planes: results of one hub or shaft in order of station, read together.
//
// Every plane's contours are put into the drawing's frame (origin at the outline's fitted circle,
// turned and mirrored back by the placement). Voids of neighbouring planes whose contours come
// within `align_um` of one another there are taken as one void (linked): whether they really join
// between the planes is not seen, so a barrier through links is a lower bound of what lies between,
// and voids that both planes miss are in no figure.
//
// barrier of the stack: least sum of solid on any way between two lumens over voids of all planes;
// within a plane a step costs the least distance between two contours (not through another lumen or
// the outside), along a link it costs nothing. barrier_weakest: the same with the greatest single
// ligament of a way. Shortest paths after Dijkstra (1959).
//
// Chance to miss: a spherical void of diameter D shows in a plane where its cut is at least the
// smallest that can be seen, v: over an axial length sqrt(D^2 - v^2). With its centre anywhere
// between the first and the last plane alike, the chance that no plane shows it is
// 1 - sum over spacings s of min(s, sqrt(D^2 - v^2)) / sum of s (elementary geometry).
//
// Braid from two planes z apart: the two combs turn against one another by
// 2 psi = 4 z tan(alpha) / D, known up to a comb's pitch of 720 deg / carriers; of the candidates
// the one nearest the angle that a single face gives is taken where the next is more than three
// standard uncertainties off. picks = carriers tan(alpha) / (2 pi D), D the layer's diameter.
//
// Bond tilt = atan(|offset of plane 2 - offset of plane 1| / z), with the direction by the clock in
// which the sleeve leaves the shaft on the way to the second plane.
// Keywords: serial sections, stack, crosstalk, voids, miss probability, braid, tilt.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "cutface/section.h"

namespace cutface {

struct PlaneOptions {
  double align_um = 10;              // by how far places of two planes may be off each other
  double u_station_um = 10;          // standard uncertainty of the distance of two planes
  std::optional<double> spacing_um;  // equal spacing in the order given, in place of stations
  std::vector<double> void_sizes_um = {50, 100, 200, 500};
  int carriers = 0;  // of the braid; 0: as many as wires (one end per carrier)
};

struct PlaneOfStack {
  std::string file;
  double station_um = 0;
  double smallest_void_um = 0;  // equal-area diameter that would be seen in its picture
  int voids = 0;                // that count
};

struct VoidChain {
  struct Member {
    std::size_t plane = 0;
    int no = 0;
  };
  std::vector<Member> members;  // in order of plane
  double length_um = 0;         // from the first to the last plane that shows it
};

struct StackBarrier {
  std::string first, second;  // lumens; second may be "outside"
  bool told = false;
  std::string reason;  // why not told, or what it leaves out
  double value_um = 0, u_um = 0, lo_um = 0, hi_um = 0;
  double weakest_um = 0;
  double single_um = 0;            // least barrier of any one plane
  std::vector<std::string> steps;  // "scope", "plane 2 void 1", "wash"
};

struct MissChance {
  double diameter_um = 0;
  double chance = 1;
};

struct PlanePairFigure {
  std::string of;  // wire layer, or "bond"
  std::size_t first = 0, second = 0;
  bool told = false;
  std::string reason;
  double angle_deg = 0, u_angle_deg = 0;        // braid angle, or tilt
  double picks_per_mm = 0, u_picks_per_mm = 0;  // braid
  double direction_deg = 0;                     // tilt: by the clock
  std::vector<double> candidates_deg;           // braid: angles that the combs allow, below 85
};

struct PlaneStack {
  std::string part, section;
  std::vector<PlaneOfStack> planes;
  std::vector<VoidChain> chains;  // of two members and more
  std::vector<StackBarrier> barriers;
  std::vector<MissChance> misses;
  std::vector<PlanePairFigure> braids, tilts;
  std::vector<std::string> warnings;
};

// Errors: kUsage (fewer than two results, no stations, two results of one station), kDesignMismatch
// (results of different parts or revisions).
Result<PlaneStack> StackPlanes(std::span<const SectionResult> results,
                               const PlaneOptions& options = {});

// The form of src/data/planes.schema.json.
std::string PlanesToJson(const PlaneStack& stack);

}  // namespace cutface
