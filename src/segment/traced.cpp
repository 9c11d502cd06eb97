#include <fmt/format.h>

#include "cutface/segment.h"

namespace cutface {
namespace {

constexpr double kDoubtfulMisfit = 0.10;  // of the contrast
constexpr double kBridgedShare = 0.25;
constexpr double kCommonShare = 0.85;  // optics and polish are one picture's, not one contour's

VertexState StateOf(PlaceState state) {
  switch (state) {
    case PlaceState::kMeasured:
      return VertexState::kMeasured;
    case PlaceState::kBridged:
      return VertexState::kBridged;
    case PlaceState::kOutside:
      break;
  }
  return VertexState::kCutOff;
}

}  // namespace

TracedContour TracedFrom(const SettledContour& settled, const Scale& scale) {
  TracedContour out;
  const double pitch = scale.mean_pitch_um();
  ContourUm points;
  for (const SettledPlace& place : settled.places) points.push_back(scale.ToUm(place.at));
  const ContourUm normals = OutwardNormals(points);
  std::size_t bridged = 0, outside = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    ContourVertex v;
    v.at = points[i];
    v.normal = normals[i];
    v.sigma_um = settled.places[i].sigma_px * pitch;
    v.doubt_um = settled.places[i].doubt_px * pitch;
    v.state = StateOf(settled.places[i].state);
    bridged += v.state == VertexState::kBridged ? 1 : 0;
    outside += v.state == VertexState::kCutOff ? 1 : 0;
    out.vertices.push_back(v);
  }
  out.u_common_um = settled.u_common_px * pitch;
  out.common_share = kCommonShare;
  out.u_arc_um = settled.u_arc_px * pitch;
  out.arc_length_um = settled.arc_length_px * pitch;
  out.noise_length_um = settled.noise_length_px * pitch;
  out.edge_model = std::string(EdgeModelName(settled.model));
  out.edge_blur_px = settled.blur_px;
  out.contrast = settled.contrast;
  out.whole = outside == 0;
  out.doubt = settled.doubt;
  const double share =
      points.empty() ? 0 : static_cast<double>(bridged) / static_cast<double>(points.size());
  if (out.doubt.empty() && share > kBridgedShare) {
    out.doubt = fmt::format("no edge to be seen along {:.0f} % of it", 100 * share);
  }
  if (out.doubt.empty() && settled.misfit > kDoubtfulMisfit) {
    out.doubt =
        fmt::format("its edge follows no known profile ({:.0f} % off)", 100 * settled.misfit);
  }
  return out;
}

}  // namespace cutface
