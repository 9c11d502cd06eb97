#include "identify/names.h"

namespace cutface {
namespace {

constexpr double kMirrorHandicap = 0.015;  // mirrored pictures are rare
constexpr double kSwitch = 0.01;           // a gain that noise does not give

double MeanOverlap(const Warp& warp, const Regions& regions, const SectionDesign& plane) {
  double sum = 0;
  for (const LumenDesign& lumen : plane.lumens) {
    const ContourPx nominal = warp(lumen.shape.contour);
    const double area = Area(std::span<const PointPx>(nominal));
    const PointPx centre = Centroid(std::span<const PointPx>(nominal));
    double best = 0;
    for (const CoarseLumen& region : regions.lumens) {
      const std::span<const PointPx> contour(region.contour);
      const double region_area = Area(contour);
      if (Distance(centre, Centroid(contour)) > std::sqrt(area) + std::sqrt(region_area)) continue;
      const double both = IntersectionArea(std::span<const PointPx>(nominal), contour);
      best = std::max(best, both / (area + region_area - both));
    }
    sum += best;
  }
  return sum / static_cast<double>(std::max<std::size_t>(1, plane.lumens.size()));
}

}  // namespace

NameChoice ChooseNames(const Pose& pose, const Regions& regions, const SectionDesign& plane) {
  NameChoice choice;
  const auto value = [&](const Warp& warp) {
    return MeanOverlap(warp, regions, plane) -
           (warp.linear.determinant() < 0 ? kMirrorHandicap : 0);
  };
  const double own = value(pose.warp);
  double best = own;
  std::vector<double> others;
  for (std::size_t k = 0; k < pose.others.size(); ++k) {
    others.push_back(value(pose.others[k]));
    if (others.back() > best + (choice.other < 0 ? kSwitch : 0)) {
      best = others.back();
      choice.other = static_cast<int>(k);
    }
  }
  double second = choice.other < 0 ? 0 : own;
  for (std::size_t k = 0; k < others.size(); ++k) {
    if (static_cast<int>(k) != choice.other) second = std::max(second, others[k]);
  }
  if (pose.others.empty()) return choice;
  choice.margin = best - second;
  return choice;
}

}  // namespace cutface
