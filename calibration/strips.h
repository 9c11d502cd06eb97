// A picture of parallel lines, summed along the lines in strips: one tone profile a strip.
//
// u runs across the lines, v along them, both in px from the picture's middle. A strip covers
// `height` px of v; its profile has one bin per `bin` px of u. Summing along the lines takes the
// noise away; strips stay short so that a small error of the direction does not smear the lines.
#pragma once

#include <optional>
#include <vector>

#include "cutface/micrograph.h"

namespace cutface::calibration {

inline constexpr double kBin_px = 0.5;

struct Frame {
  PointPx middle;
  double c = 1, s = 0;  // direction of u: (c, s); of v: (-s, c)
  double U(double x, double y) const { return (x - middle.x) * c + (y - middle.y) * s; }
  double V(double x, double y) const { return -(x - middle.x) * s + (y - middle.y) * c; }
  PointPx At(double u, double v) const {
    return {middle.x + u * c - v * s, middle.y + u * s + v * c};
  }
};

// Samples of one strip (or of several together): per bin of u the number of pixels, and the sums of
// their tone (full scale 0..1) and of their place within the bin. Where the pixels of a bin lie is
// kept because on a picture that is hardly turned they all lie at one side of it.
struct Profile {
  std::vector<float> count, tone, place;
  bool Has(std::size_t bin, double least) const { return count[bin] >= least; }
  double Tone(std::size_t bin) const { return static_cast<double>(tone[bin] / count[bin]); }
  void Add(const Profile& other);
};

struct Strip {
  double v = 0;  // of its middle
  Profile profile;
};

struct Strips {
  Frame frame;
  double u0 = 0;  // u where the first bin begins
  double height = 32;
  std::vector<Strip> strips;
  std::size_t Bins() const { return strips.empty() ? 0 : strips[0].profile.count.size(); }
  // Mean place of the pixels of a bin. REQUIRES: the bin has some.
  double U(const Profile& p, std::size_t bin) const {
    return u0 + kBin_px * static_cast<double>(bin) +
           static_cast<double>(p.place[bin] / p.count[bin]);
  }
};

// Direction across the lines, from the squared gradients of the whole picture (structure tensor);
// nullopt when no direction prevails.
std::optional<double> DirectionAcross(const Micrograph& picture);
Strips SumAlong(const Micrograph& picture, double direction_rad, double height_px);

}  // namespace cutface::calibration
