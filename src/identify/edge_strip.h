// The surroundings of an edge unrolled: what is usual at each distance from it, and what differs.
#pragma once

#include <cmath>
#include <opencv2/core.hpp>
#include <vector>

#include "cutface/section.h"
#include "identify/tone_reader.h"

namespace cutface {

struct EdgeStrip {
  static constexpr double kReachVoid_px = 12, kReachLayers_px = 18, kStep = 0.5;
  static constexpr int kColumns = static_cast<int>((kReachVoid_px + kReachLayers_px) / kStep) + 1;

  std::vector<PointPx> at, normal;  // one place a pixel; normals towards the polymer
  cv::Mat1f left;                   // places x kColumns: tone - usual; NaN where something else is
  std::vector<double> usual;        // by column
  std::vector<double> noise;        // of `left` smoothed along the arc, by column
  int size() const { return static_cast<int>(at.size()); }
  double S(int column) const { return kStep * column - kReachVoid_px; }
  int Column(double s) const { return static_cast<int>(std::lround((s + kReachVoid_px) / kStep)); }
};

// What has an edge of its own, on the reduced copy, to be left out beside other edges.
class OtherEdges {
 public:
  OtherEdges(const Section& section, const Scale& scale, int reduction, cv::Size size);

  // Everything but the edge `mine`, as far as a strip along it reaches.
  class Mask {
   public:
    bool Hides(PointPx p, int reduction) const {
      const int x = static_cast<int>(p.x / reduction) - origin_.x,
                y = static_cast<int>(p.y / reduction) - origin_.y;
      return x >= 0 && y >= 0 && x < mask_.cols && y < mask_.rows && mask_(y, x) != 0;
    }

   private:
    friend class OtherEdges;
    cv::Mat1b mask_;
    cv::Point origin_;
  };
  // `near_wires`: a ring lies close to wires, so less is left out around them.
  Mask Without(const TracedContour& mine, bool near_wires = false) const;

 private:
  enum class Kind { kLine, kLumen, kVoid, kWire };
  struct Drawn {
    const TracedContour* contour;
    Kind kind;
    std::vector<cv::Point> line;
    cv::Rect box;
  };
  int reduction_;
  cv::Size size_;
  std::vector<Drawn> drawn_;
};

// `contour` in pixels; what `others` hides is left out.
EdgeStrip StripAlong(const ToneReader& tone, const ContourPx& contour, bool polymer_outside,
                     const OtherEdges::Mask& others, int reduction);

}  // namespace cutface
