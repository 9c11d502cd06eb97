#include "identify/search.h"

#include <Eigen/SVD>
#include <opencv2/imgproc.hpp>

namespace cutface {
namespace {

constexpr double kEndStep = 0.02;                   // of the length
constexpr int kShorter = 4, kLonger = 9;            // steps: an oblique cut draws out by up to 15 %
constexpr int kLooksAtEnds = 2;                     // rounds
constexpr double kPeakApart_rad = 10 * M_PI / 180;  // nearer turns are one hypothesis

// A small change of a registration about the outline's centre: turn, shift, size, stretch.
Warp Changed(const Warp& warp, int kind, double amount, PointUm about, double radius_px) {
  Warp next = warp;
  if (kind == 0) return Turned(warp, {amount, false}, about);
  if (kind == 1) next.shift.x() += amount * radius_px;
  if (kind == 2) next.shift.y() += amount * radius_px;
  if (kind < 3) return next;
  Eigen::Matrix2d m = Eigen::Matrix2d::Identity();
  if (kind == 3) m *= 1 + amount;
  if (kind == 4) m.diagonal() = Eigen::Vector2d(1 + amount, 1 - amount);
  if (kind == 5) m(0, 1) = m(1, 0) = amount;
  const Eigen::Vector2d a(about.x, about.y);
  const Eigen::Vector2d centre = warp.linear * a + warp.shift;
  next.linear = m * warp.linear;
  next.shift = centre - next.linear * a;
  return next;
}

// A long drawing drawn out along its length with one end where it is. Shifts and stretches one by
// one do not get there: each alone moves the end that lies right.
Warp DrawnOut(const Warp& warp, double amount, PointUm end) {
  Warp next = warp;
  next.linear.col(0) *= 1 + amount;
  next.shift -= amount * end.x * warp.linear.col(0);
  return next;
}

// While an end lies wrong, the same walls go on beyond it: nothing changes until it lies right. So
// all lengths are tried, of each end by itself.
template <class ValueOf>
void LookAtEnds(const SearchPlane& plane, const ValueOf& value_of, Warp& warp, double& best) {
  const Warp start = warp;
  for (double side : {1.0, -1.0}) {
    const Warp before = side > 0 ? start : warp;
    for (int k = -kShorter; k <= kLonger; ++k) {
      const PointUm end = plane.about + PointUm{side * plane.half_length_um, 0};
      const Warp next = DrawnOut(before, k * kEndStep, end);
      const double value = value_of(next);
      if (value <= best) continue;
      best = value;
      warp = next;
    }
  }
}

// What size and stretch cost: a calibrated part is neither 10 % too large nor 30 % oval.
double Penalty(const Warp& warp, double px_per_um) {
  // Singular values of a 2 x 2: half sum and half difference of the squares.
  const Eigen::Matrix2d m = warp.linear / px_per_um;
  const double sum = 0.5 * m.squaredNorm(), det = std::abs(m.determinant());
  const double gap = std::sqrt(std::max(0.0, sum * sum - det * det));
  const double a = std::sqrt(sum + gap), b = det / a;
  // An oblique cut keeps the short axis and stretches the long one.
  const double size = std::log(b) / 0.05, stretch = std::max(0.0, std::log(a / b) - 0.02) / 0.12;
  return 0.01 * (size * size + stretch * stretch);
}

}  // namespace

Level MakeLevel(const cv::Mat1f& work, double shrink, double blur_px) {
  Level level;
  level.shrink = std::min(1.0, shrink);
  cv::Mat1f small = work;
  if (level.shrink < 1)
    cv::resize(work, small, cv::Size(), level.shrink, level.shrink, cv::INTER_AREA);
  cv::GaussianBlur(small, level.image, cv::Size(), blur_px);
  return level;
}

Level Coarser(const Level& level, double shrink, double blur_px) {
  Level out = MakeLevel(level.image, shrink / level.shrink, blur_px);
  out.shrink *= level.shrink;
  return out;
}

Warp Rescaled(const Warp& warp, double shrink) {
  const double half = 0.5 * (shrink - 1);
  Warp out;
  out.linear = shrink * warp.linear;
  out.shift = shrink * warp.shift + Eigen::Vector2d(half, half);
  return out;
}

Warp Turned(const Warp& warp, const Turn& turn, PointUm about) {
  Eigen::Matrix2d r;
  const double c = std::cos(turn.angle_rad), s = std::sin(turn.angle_rad);
  r << c, -s, s, c;
  if (turn.mirrored) r.col(0) = -r.col(0);
  const Eigen::Vector2d a(about.x, about.y);
  Warp out;
  out.linear = warp.linear * r;
  out.shift = warp.linear * (a - r * a) + warp.shift;
  return out;
}

Warp StartWarp(const CentreCandidate& candidate, double px_per_um) {
  Warp start;
  const double c = std::cos(candidate.angle_rad), s = std::sin(candidate.angle_rad);
  start.linear << c, -s, s, c;
  if (candidate.mirrored) start.linear.col(0) = -start.linear.col(0);
  // Sizes are calibrated: what the template's scale adds is mostly stretch, found below.
  start.linear *= px_per_um * (1 + 0.5 * (candidate.scale - 1));
  start.shift = Eigen::Vector2d(candidate.centre.x, candidate.centre.y);
  return start;
}

void Refine(const Level& level, const SearchPlane& plane, const Climb& climb, Hypothesis& h) {
  const double px_per_um = level.shrink * plane.px_per_um;
  const double radius_px = level.shrink * plane.radius_px;
  Warp warp = Rescaled(h.warp, level.shrink);
  double step = climb.first_step;
  double best = plane.score(level.image, warp, climb.stride) - Penalty(warp, px_per_um);
  const auto value_of = [&](const Warp& tried) {
    return plane.score(level.image, tried, climb.stride) - Penalty(tried, px_per_um);
  };
  for (int round = 0; round < climb.rounds; ++round) {
    if (round < kLooksAtEnds && plane.half_length_um > 0) LookAtEnds(plane, value_of, warp, best);
    for (int kind = 0; kind < (plane.half_length_um > 0 ? 8 : 6); ++kind) {
      const double end = (kind == 6 ? 1 : -1) * plane.half_length_um;
      for (double way : {1.0, -1.0}) {
        bool gained = false;
        for (int tries = 0; tries < 3; ++tries) {
          const Warp next = kind < 6 ? Changed(warp, kind, way * step, plane.about, radius_px)
                                     : DrawnOut(warp, way * step, plane.about + PointUm{end, 0});
          const double value = value_of(next);
          if (value <= best) break;
          best = value;
          warp = next;
          gained = true;
        }
        if (gained) break;
      }
    }
    step *= 0.6;
  }
  h.explained = plane.score(level.image, warp) - Penalty(warp, px_per_um);
  h.warp = Rescaled(warp, 1 / level.shrink);
}

void ScanTurns(const Level& level, const SearchPlane& plane, const Warp& start,
               const std::vector<Turn>& turns, int stride, std::vector<Hypothesis>& out) {
  const Warp from = Rescaled(start, level.shrink);
  std::vector<double> value(turns.size(), -1);
  const auto look = [&](std::size_t k) {
    if (value[k] < 0)
      value[k] = plane.score(level.image, Turned(from, turns[k], plane.about), stride);
    return value[k];
  };
  const auto apart = [&](std::size_t j, std::size_t k) {
    if (turns[j].mirrored != turns[k].mirrored) return M_PI;
    return std::abs(std::remainder(turns[j].angle_rad - turns[k].angle_rad, 2 * M_PI));
  };
  // Every second turn first, then those beside its maxima.
  std::vector<std::size_t> seen;
  for (std::size_t k = 0; k < turns.size(); k += 2) seen.push_back(k);
  const auto peaks = [&](const std::vector<std::size_t>& among) {
    std::vector<std::size_t> tops;
    for (std::size_t k : among) {
      bool top = true;
      for (std::size_t j : among) {
        if (j == k || apart(j, k) > kPeakApart_rad) continue;
        top = top && (look(j) < look(k) || (look(j) == look(k) && j > k));
      }
      if (top) tops.push_back(k);
    }
    return tops;
  };
  for (std::size_t k : peaks(seen)) {
    for (std::size_t j : {k + turns.size() - 1, k + 1}) {
      if (value[j % turns.size()] < 0) seen.push_back(j % turns.size());
    }
  }
  for (std::size_t k : peaks(seen)) out.push_back({Turned(start, turns[k], plane.about), look(k)});
}

Level Squeezed(const Level& level, const LabelScore& score, const Warp& warp) {
  const cv::Mat1f& image = level.image;
  const Warp placed = Rescaled(warp, level.shrink);
  const LabelScore::Fit fit = score.Explain(image, placed);
  const double body = fit.mean[LabelScore::kBody];
  const float scale =
      static_cast<float>(std::max(0.03, std::abs(fit.mean[LabelScore::kOutside] - body)));
  Level out;
  out.shrink = level.shrink;
  out.image.create(image.size());
  const double half = 0.5 * image.cols;
  for (int y = 0; y < image.rows; ++y) {
    // The light is a quadratic along a row: three values tell it.
    double at[3];
    for (int k = 0; k < 3; ++k)
      at[k] = score.LightAt(fit, placed.Inverse({k * half, static_cast<double>(y)}));
    const float constant = static_cast<float>(body + at[0]);
    const float slope = static_cast<float>((4 * at[1] - 3 * at[0] - at[2]) / (2 * half));
    const float bend = static_cast<float>((at[0] - 2 * at[1] + at[2]) / (2 * half * half));
    for (int x = 0; x < image.cols; ++x) {
      const float fx = static_cast<float>(x);
      const float z = (image(y, x) - constant - (slope + bend * fx) * fx) / scale;
      out.image(y, x) = z / std::sqrt(1 + z * z);
    }
  }
  return out;
}

}  // namespace cutface
