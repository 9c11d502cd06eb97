// Pixels of a working copy written anew, for steps that see through what hides the part.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "cutface/micrograph.h"

namespace cutface {

// A tone in units of full scale, stored as the picture stores tones. `picture` owns its pixels.
inline void StoreTone(Micrograph& picture, int x, int y, double share) {
  const double full = picture.full_scale();
  const double stored = std::clamp(std::round(share * full), 0.0, full);
  if (picture.bits <= 8) {
    picture.tone.at<std::uint8_t>(y, x) = static_cast<std::uint8_t>(stored * 255 / full);
  } else {
    picture.tone.at<std::uint16_t>(y, x) = static_cast<std::uint16_t>(stored);
  }
}

// The reduced copy after pixels were written; left as it is where it would have another size.
inline void ReduceAgain(Micrograph& picture) {
  const Micrograph anew = MicrographFromPixels(picture.tone, picture.bits, picture.file_name);
  if (anew.reduction != picture.reduction) return;
  picture.reduced_mean = anew.reduced_mean;
  picture.reduced_least = anew.reduced_least;
  picture.reduced_greatest = anew.reduced_greatest;
}

}  // namespace cutface
