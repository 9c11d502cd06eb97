// What lies between the geometry and the sensor: grain, polished edges, scratches, dust, focus,
// illumination, burnt-in marks. All work on linear light, CV_32FC1, unless said otherwise.
// Keywords: phantom, texture, rim, refraction band, focus gradient, vignetting.
#pragma once

#include <opencv2/core.hpp>

#include "cutface/phantom.h"
#include "cutface/stats.h"

namespace cutface::phantom {

// Mean 1 with correlated variation of standard deviation `deviation`; factor cells per pixel.
cv::Mat Grain(int width_px, int height_px, int factor, double deviation, double sigma_px,
              Random& random);

// Multiplies the body's light by the rim's and the band's profile over the distance to the edge.
void ShadeEdges(cv::Mat& body, const cv::Mat& polymer, const std::vector<ContourPx>& edges,
                int width_px, int height_px, int factor, const PhantomEffects& effects);

// `solid`: share of each cell that is not an empty lumen.
void AddScratches(cv::Mat& light, const cv::Mat& solid, const PhantomScene& scene, int factor);

// Gaussian blur; with a focus gradient a mixture of the two nearest of several blurs per place.
cv::Mat Blurred(const cv::Mat& light, const PhantomScene& scene, int factor);

void AddDust(cv::Mat& pixels, const PhantomScene& scene);
void Illuminate(cv::Mat& pixels, const PhantomScene& scene);

// Marks that the camera's program writes into the stored picture.
void BurnIn(cv::Mat& stored, const PhantomScene& scene);

// Through a JPEG and back (8 bit grey); quality 1..100.
cv::Mat Recompressed(const cv::Mat& stored, int quality);

}  // namespace cutface::phantom
