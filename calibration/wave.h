// Profiles on an even grid, and the strength and phase of a wave in them.
#pragma once

#include <complex>
#include <vector>

#include "calibration/strips.h"

namespace cutface::calibration {

struct Even {
  std::vector<float> tone;  // one per bin, at u0 + kBin_px * (bin + 0.5); 0 outside `first, last`
  std::size_t first = 0, last = 0;  // half open
};

// Tones between samples by straight lines; the mean over `window` bins around is taken away. Bins
// with fewer pixels than `least_count` are passed over.
Even EvenOut(const Strips& strips, const Profile& p, double least_count, std::size_t window);

// Strength and phase of the wave of period `lag` (bins) about a bin.
class Wave {
 public:
  Wave(const Even& even, double lag) : even_(even), lag_(lag), reach_(3.2 * lag) {}
  std::complex<double> At(double bin) const;

 private:
  const Even& even_;
  double lag_, reach_;
};

}  // namespace cutface::calibration
