// Camera gamma and blur of the bench from the marks of a target.
//
// A mark is an area of one light on a ground of another. Whatever the blur, a straight edge between
// the two is symmetric in light; the camera's encoding bends it, so the shape of the edge tells
// gamma, its width the blur. All marks share gamma and blur; light of mark and ground, place and
// width are each mark's own, for lines and dots are not printed evenly.
#pragma once

#include <string>
#include <tl/expected.hpp>
#include <vector>

#include "cutface/geometry.h"
#include "cutface/micrograph.h"

namespace cutface::calibration {

// Mean tone of a mark against the distance `d` (px) from its middle line, or from its centre.
struct MarkProfile {
  struct Bin {
    double d = 0, tone = 0;  // means of the pixels in it, tone of full scale 0..1
    double variance = 0;     // of the mean tone
  };
  bool disc = false;
  double period = 0;  // px: bars like it stand at that distance on both sides; 0: it is alone
  std::vector<Bin> bins;
};

// Collects pixels into bins of the distance.
class ProfileBins {
 public:
  // |d| up to `reach` px; with `folded` the sign of d is not kept (discs).
  ProfileBins(double reach, bool folded);
  void Add(double d, double tone);
  void AddPixels(const Micrograph& picture, PointPx centre, double reach);  // of a disc
  std::vector<MarkProfile::Bin> Bins() const;
  double clipped_share() const { return all_ > 0 ? clipped_ / all_ : 0; }

 private:
  struct Sum {
    double n = 0, d = 0, t = 0, t2 = 0, d2 = 0, dt = 0;
  };
  double reach_;
  bool folded_;
  double all_ = 0, clipped_ = 0;
  std::vector<Sum> sums_;
};

struct LightFit {
  double gamma = 1, u_gamma = 0;      // tone = light^(1/gamma)
  double blur_px = 1, u_blur_px = 0;  // Gaussian sigma of an edge, the pixel's own width included
  int marks = 0;
};

// Weighted least squares of all marks at once (Gauss-Newton; each mark's own figures eliminated),
// for a Gaussian blur and for one with shorter tails; what the two differ by is part of u. Marks
// that fit far worse than the others are left out. The error says in words why nothing is told.
tl::expected<LightFit, std::string> FitLight(std::vector<MarkProfile> marks);

}  // namespace cutface::calibration
