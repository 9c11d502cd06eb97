// Takes out of a traced contour the ripple that its stated noise explains.
//
// Draws add noise to a contour. Added to one that is noisy already, it would be counted twice, and
// the few vertices that stick out by luck would rule every draw. So the draws start from a calm
// contour: residual = distance of a vertex from the contour smoothed over some noise lengths; where
// the residuals' local variance is what the noise alone would give, the vertex moves onto the
// smooth contour; where it is clearly more (corners, real roughness), the residual stays; between
// the two it shrinks by sqrt(1 - expected / observed) (empirical Bayes). Raw values never come from
// here. Keywords: denoise, shrinkage, roughness.
#pragma once

#include <vector>

#include "cutface/geometry.h"

namespace cutface::measure {

// Variance of the noise that stays in a calm contour, as a share of the traced one's.
inline constexpr double kCalmNoise = 0.09;

ContourUm Calmed(const ContourUm& full, const ContourUm& normals, const std::vector<double>& arc,
                 const std::vector<double>& sigma, double perimeter, double noise_length);

}  // namespace cutface::measure
