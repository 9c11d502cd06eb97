// A certified circle as a target: its ellipse in the picture tells both pitches and the shear.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/calibration.h"

namespace cutface {
namespace {

constexpr double kLensShift_px = 3;  // prior of what distortion moves a corner by (common practice)
constexpr double kMostOval = 0.1;    // no camera's pixels are so unequal

}  // namespace

Result<TargetFit> FitCircleTarget(const CircleEdge& edge, const Micrograph& picture,
                                  const TargetSpec& spec) {
  if (!(spec.diameter_um > 0)) return Fail(Code::kUsage, "a circle needs its certified diameter");
  const auto none = [&](const std::string& why) {
    return Fail(Code::kNoPattern, fmt::format("{}: {}; picture the circle whole, clean and sharp",
                                              picture.file_name, why));
  };
  const auto ellipse = FitEllipse(edge.contour);
  if (!ellipse) return none("its edge is no circle");
  const double a = ellipse->semi_major, b = ellipse->semi_minor;
  if (!(b > 0) || a / b - 1 > kMostOval) {
    return none(fmt::format("its edge is out of round by {:.0f} %", 100 * (b > 0 ? a / b - 1 : 1)));
  }
  // |K d| = R on the edge: K^T K = R^2 E with d^T E d = 1, K = [[px, shear py], [0, py]].
  const double c = std::cos(ellipse->angle), s = std::sin(ellipse->angle);
  const double e11 = c * c / (a * a) + s * s / (b * b);
  const double e12 = c * s * (1 / (a * a) - 1 / (b * b));
  const double e22 = s * s / (a * a) + c * c / (b * b);
  const double radius = spec.diameter_um / 2;
  const double px = radius * std::sqrt(e11);
  const double skew = radius * radius * e12 / px;  // shear * py
  const double py = std::sqrt(radius * radius * e22 - skew * skew);
  TargetFit out;
  out.kind = spec.kind;
  double square = 0;
  for (const PointPx& p : edge.contour) {
    const double dx = p.x - ellipse->centre.x, dy = p.y - ellipse->centre.y;
    const double off =
        std::hypot(px * dx + skew * dy, py * dy) / std::sqrt(px * py) - radius / std::sqrt(px * py);
    square += off * off;
    TargetMark mark;
    mark.at = p;
    mark.residual_px = off;
    mark.sigma_px = edge.u_along_px;
    out.marks.push_back(mark);
  }
  out.residual_rms_px = std::sqrt(square / static_cast<double>(edge.contour.size()));
  const double mean = std::sqrt(a * b);
  const double scatter = std::max(edge.u_along_px, out.residual_rms_px) /
                         std::sqrt(std::max(1.0, edge.independent / 4));
  out.u_q_relative = std::hypot(edge.u_common_px, scatter) / mean;
  const double half = std::hypot(picture.width(), picture.height()) / 2;
  out.u_distortion_relative = kLensShift_px * mean * mean / (half * half * half);
  const double u = std::hypot(out.u_q_relative, out.u_distortion_relative);
  out.pitch_x_um = px;
  out.pitch_y_um = py;
  out.u_pitch_x_um = px * u;
  out.u_pitch_y_um = py * u;
  out.shear = skew / py;
  out.u_shear = 2 * scatter / mean;
  out.diameter_px = 2 * mean;
  out.u_diameter_px = 2 * mean * out.u_q_relative;
  out.distortion_centre = {(picture.width() - 1) / 2.0, (picture.height() - 1) / 2.0};
  out.lines_seen = out.lines_expected = 1;
  out.span_px = 2 * mean;
  out.width_px = picture.width();
  out.height_px = picture.height();
  out.image_file = picture.file_name;
  out.image_sha256 = picture.sha256;
  out.remarks.push_back(
      "a circle tells nothing of the lens's distortion: a line scale or a grid across the "
      "field does");
  return out;
}

}  // namespace cutface
