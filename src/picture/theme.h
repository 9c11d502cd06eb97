// Colours and strokes of the roles, in one place.
//
// The colours are from the eight-colour set for readers with any colour vision (Okabe & Ito 2008;
// Wong, Nature Methods 8, 441, 2011), chosen so that their greys differ too; every role also has
// its own line style, and a dark casing keeps light strokes visible on bright ground.
#pragma once

#include "cutface/picture.h"
#include "picture/canvas.h"

namespace cutface {

constexpr Rgb kCasing{0.04, 0.05, 0.07};
constexpr Rgb kPlate{0.04, 0.05, 0.07};
constexpr Rgb kPaper{0.985, 0.98, 0.965};
constexpr Rgb kText{0.10, 0.11, 0.13};
constexpr Rgb kQuiet{0.40, 0.41, 0.43};
constexpr Rgb kWhite{1, 1, 1};

constexpr Rgb Colour(Ink ink) {
  switch (ink) {
    case Ink::kOutline:
      return {0.94, 0.89, 0.26};  // yellow
    case Ink::kLumen:
      return {0.34, 0.71, 0.91};  // sky blue
    case Ink::kRing:
      return {0.80, 0.60, 0.75};  // pale purple
    case Ink::kLiner:
      return {0.98, 0.84, 0.90};  // nearly white pink
    case Ink::kWire:
      return {0.20, 0.76, 0.58};  // bluish green, lightened
    case Ink::kVoid:
      return {0.90, 0.62, 0.00};  // orange
    case Ink::kLeast:
      return {1, 1, 1};
    case Ink::kFinding:
      return {1.00, 0.48, 0.22};  // vermillion, lightened to stand on dark ground
    case Ink::kNeutral:
      return {0.88, 0.88, 0.88};
  }
  return {1, 1, 1};
}

// Sizes that follow the finished picture.
struct Measures {
  double em = 16;  // labels on the photo
  double stroke = 1.5;
  double panel_em = 16;
};

}  // namespace cutface
