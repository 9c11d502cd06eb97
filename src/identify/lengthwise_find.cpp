// Metal in the walls of a lengthwise section, before edges are settled.
#include <algorithm>

#include "identify/lengthwise.h"
#include "identify/lengthwise_drawn.h"

namespace cutface {
namespace {

constexpr double kRowReach = 0.12;  // of the tube: how far rows may lie off where drawn

}  // namespace

std::vector<WallMetal> FindLengthwise(const Micrograph& micrograph, const Pose& pose,
                                      const FaceTones& tones, const Scale& scale,
                                      const SectionDesign& plane, const Regions& regions) {
  std::vector<WallMetal> all;
  const double pitch = scale.mean_pitch_um();
  const Box<FrameUm> box = BoundingBox(plane.outline.contour);
  for (const WireLayerDesign& layer : plane.wires) {
    const DrawnWire drawn = SizeOf(layer);
    WallSearch search;
    search.outline = &pose.outline;
    for (const CoarseLumen& lumen : regions.lumens) search.bores.push_back(&lumen.contour);
    search.across_px = drawn.across / pitch;
    search.along_px = drawn.along / pitch;
    search.noise = tones.fine_noise;
    // Registration follows the bore, which need not lie in the middle of the tube.
    const double reach = std::max(2 * drawn.across, kRowReach * (box.greatest.y - box.least.y));
    for (const double side : {-1.0, 1.0}) {
      for (double off = -reach; off <= reach; off += 0.4 * drawn.across) {
        const double y = MiddleOf(plane) + side * RadiusOf(layer) + off;
        std::vector<PointPx>& line = search.lines.emplace_back();
        for (double x = box.least.x; x < box.greatest.x; x += 0.5 * pitch)
          line.push_back(pose.warp({x, y}));
      }
    }
    all.push_back(FindWallMetal(micrograph, tones.light, search));
  }
  return all;
}

void DropWires(const std::vector<WallMetal>& metal, Regions& regions) {
  std::erase_if(regions.voids, [&](const CoarseVoid& v) {
    const PointPx middle = Centroid(v.contour);
    return std::any_of(metal.begin(), metal.end(), [&](const WallMetal& layer) {
      return std::any_of(layer.wires.begin(), layer.wires.end(), [&](const CutWire& wire) {
        return Contains(wire.edge, middle) || Contains(v.contour, wire.centre);
      });
    });
  });
}

}  // namespace cutface
