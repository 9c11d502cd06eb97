// Takes out of a traced contour the ripple that its stated noise explains.
//
// residual = distance of the vertex from the contour smoothed over a few noise lengths; where the
// residual's local variance is what the noise alone would give, the vertex moves onto the smooth
// contour; where it is clearly more (corners, real roughness), the residual stays. Between the two
// the residual shrinks by sqrt(1 - expected / observed) (empirical Bayes). Keywords: denoise,
// shrinkage, roughness.
#pragma once

#include <vector>

#include "cutface/geometry.h"

namespace cutface::measure {

ContourUm Calmed(const ContourUm& full, const ContourUm& normals, const std::vector<double>& arc,
                 const std::vector<double>& sigma, double perimeter, double noise_length);

}  // namespace cutface::measure
