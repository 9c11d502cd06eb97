// Rendered calibration targets whose geometry is known exactly. Shares no code with the room that
// finds them: every pixel asks the closed form of a blurred bar, dot or cross.
#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <vector>

namespace cutface::targets {

enum class Kind { kLines, kDots, kCrosses };

// The target in micrometres: lines across direction `angle_rad` (of um), at n * division.
struct Target {
  Kind kind = Kind::kLines;
  int width_px = 1600, height_px = 1200, bits = 8;
  // Camera: um = K px with K = [[px, shear py], [0, py]], then the lens: imaged offset = ideal
  // offset (1 + k1 |ideal|^2) about the middle of the picture.
  double pitch_x_um = 2.4, pitch_y_um = 2.4, shear = 0, k1_per_px2 = 0;
  double angle_rad = 0, origin_x_um = 0, origin_y_um = 0;  // where line 0 / dot (0, 0) lies
  double division_um = 50;
  long first = -30, last = 30;  // lines that exist, or dots along each axis
  double bar_um = 12;           // line width, dot diameter, cross arm width
  double length_um = 800;       // of an ordinary line; every 5th is half as long again, 10th twice
  std::vector<double> widths;   // relative, per line; empty: 1
  std::vector<bool> hidden;     // per line or dot (row by row); empty: none
  double dark = 0.1, bright = 0.8;  // linear light of marks and ground; swap for bright lines
  double blur_px = 1.0, noise = 0.01, gamma = 1.0;
  double slope = 0, slope_rad = 0;  // illumination: fall from one side to the other, share
  int blobs = 0, scratches = 0;     // dirt
};

cv::Mat Render(const Target& target, std::uint64_t seed);

// A random target with everything that may spoil it; `plain` leaves the dirt out.
Target Draw(Kind kind, std::uint64_t seed);

}  // namespace cutface::targets
