// Thickness of rings and liners: the distance to the outer edge, all along the inner one.
// Keywords: ring, liner, wall, thickness by the clock, concentricity.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "measure/face.h"

namespace cutface::measure {

struct Thickness {
  double least = 0, mean = 0, greatest = 0;
  // Fourier coefficients over the direction in the picture, seen from the inner edge's centre of
  // area: thickness = mean + sum over k of cos_k cos(k angle) + sin_k sin(k angle).
  std::array<double, 3> wave_cos{}, wave_sin{};
};

struct ThicknessPlaces {
  Segment<FrameUm> least, greatest;                   // from the inner to the outer edge
  std::size_t least_vertex = 0, greatest_vertex = 0;  // of the inner contour
  std::size_t least_edge = 0, greatest_edge = 0;      // of the outer contour
};

// One layer of a face; finds the near places once, then gauges drawn contours quickly.
class LayerGauge {
 public:
  LayerGauge(const Face& face, const Layer& layer);

  bool known() const { return known_; }
  const Thickness& raw() const { return raw_; }
  const ThicknessPlaces& places() const { return places_; }
  // `moved` as DrawMachine makes them. REQUIRES: after the face's thinned vertices were mapped.
  void Prepare(const Face& face);
  Thickness Evaluate(const Face& face, const std::vector<ContourUm>& moved) const;

 private:
  Layer layer_;
  bool known_ = false;
  Thickness raw_;
  PointUm centre_;
  ThicknessPlaces places_;
  std::vector<std::uint32_t> near_;  // per thinned inner vertex: nearest thinned outer edge
  std::vector<double> turn_;         // angle about the centre that it stands for
  std::vector<double> weight_;       // length along the inner edge that it stands for
};

}  // namespace cutface::measure
