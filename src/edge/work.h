// A contour at work: what the passes of settling know of it.
#pragma once

#include <vector>

#include "cutface/edge.h"
#include "edge/band.h"
#include "edge/optics.h"
#include "edge/profile.h"
#include "edge/sensor.h"
#include "edge/shapes.h"

namespace cutface {

inline constexpr double kPlaceWindow_px = 1.6;  // Gaussian along the contour, of the linear shift

// What a neighbour contour does to the pixels of this one.
struct Neighbour {
  int track = -1;        // nearest other contour across polymer
  double gap = 1e9;      // px
  std::size_t edge = 0;  // of that contour, nearest
};

// A stretch of a contour that is pooled together.
struct Arc {
  std::size_t begin = 0, end = 0;  // places
  ProfileBins bins;                // of the gamma at hand
  ArcFit fit;
  double doubt = 0;        // px, from a line that may or may not be there
  double blur_factor = 1;  // against the picture's blur, one of kBlurFactors
};

struct Work {
  EdgeInput input;
  Track track;
  Band band;
  std::vector<Arc> arcs;
  ArcFit fit;                        // of the whole contour, for its neighbours
  double blur_factor = 1;            // against the picture's blur
  std::vector<Neighbour> neighbour;  // per place
  std::vector<double> shift, sigma;
  double field = 0.5;      // mean body tone along the contour, full scale
  double noise_scale = 1;  // variance against the sensor's
  NoiseLaw law;            // under the gamma at hand
  double u_optics = 0.3, offset = 0;
  double u_gap = 0;   // px, of a gap along it that may pass for refraction
  double rms = 0;     // misfit, linear
  double beside = 1;  // level on the polymer's side, off the edge
  bool alive = true;
};

// The sensor's law relative to a body of tone `field`; a guess where the sensor is not known.
NoiseLaw LawAt(const SensorNoise& sensor, double gamma, double field, double scale);

// Fills `linear` of every pixel from its tone, less what the neighbour takes.
void Linearise(Band& band, double gamma);

// Pooled profile of places [begin, end) under each gamma; `from_gamma` is the one that `less` was
// told under. Stretches beside another contour are left out where enough others remain.
ProfileBins Pool(const Work& w, std::size_t begin, std::size_t end,
                 const std::vector<double>& gammas, double from_gamma, double reach);

// Fills the clumps of `law` from the scatter of the arcs' far bins, under the gamma at hand.
void TellClumps(const std::vector<Arc>& arcs, NoiseLaw& law);

// One linear step per place: shift and both levels, least squares over a short Gaussian window.
// Fills w.shift and w.sigma.
void ShiftPlaces(Work& w, const EdgeShapes& shapes, double reach, double window);

}  // namespace cutface
