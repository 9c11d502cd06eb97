// Small helpers of the room and the list of frames that every template is compiled for.
#pragma once

#include <cmath>

#include "cutface/geometry.h"

namespace cutface {

// Lengths here are of picture size: the overflow guard of std::hypot is not needed and is slow.
template <class F>
double Length2(Point<F> a) {
  return a.x * a.x + a.y * a.y;
}
template <class F>
double Length(Point<F> a) {
  return std::sqrt(Length2(a));
}

inline std::size_t Next(std::size_t i, std::size_t n) { return i + 1 == n ? 0 : i + 1; }

}  // namespace cutface

// Compiles `declare(Frame)` for both frames, at the end of a .cpp.
#define CF_FOR_BOTH_FRAMES(declare) declare(FramePx) declare(FrameUm)
