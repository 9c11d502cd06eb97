// The camera's noise against tone, and what it tells of the camera's gamma.
//
// Read and shot noise of the light, before encoding, have variance a + b l with a, b >= 0. The
// camera stores l^(1 / gamma), so that the stored noise is (a + b l) (l^(1/gamma - 1) / gamma)^2:
// with gamma above 1 the dark tones are the noisier ones. (EMVA 1288 names the law of the light;
// the slope of the encoding is calculus.) Noise is told from texture and edges by its share at the
// highest frequency, where a blurred picture holds nothing else.
#pragma once

#include <vector>

#include "cutface/micrograph.h"

namespace cutface {

struct NoiseSample {
  double tone = 0;      // stored, full scale 0..1
  double variance = 0;  // of the stored tone, rounding to whole counts left out
  double blocks = 0;    // that it is the median of
};

struct SensorLaw {
  double a = 0, b = 0;  // of light in full scale 0..1: variance a + b l
  double cost = 0;      // -2 log likelihood against a law that meets every sample
};

class SensorNoise {
 public:
  // Looks at some thousand blocks of the full picture.
  explicit SensorNoise(const Micrograph& micrograph);
  explicit SensorNoise(std::vector<NoiseSample> samples) : samples_(std::move(samples)) {}
  // Least squares of the law's two shares under one gamma.
  SensorLaw LawFor(double gamma) const;
  // -2 log likelihood of each gamma against the best of them; where even the best is far from the
  // samples, they say less in proportion. Zeros when nothing is known.
  std::vector<double> GammaCosts(const std::vector<double>& gammas) const;
  // Compressed or smoothed pictures have no noise of their own left.
  bool known() const { return samples_.size() >= 2; }
  const std::vector<NoiseSample>& samples() const { return samples_; }

 private:
  std::vector<NoiseSample> samples_;
};

}  // namespace cutface
