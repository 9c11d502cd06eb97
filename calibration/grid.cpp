// Dot and cross grids: marks, their numbers on the lattice, pitches, shear and distortion.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <deque>
#include <map>
#include <nanoflann.hpp>

#include "calibration/line_light.h"
#include "calibration/marks.h"
#include "cutface/calibration.h"
#include "cutface/stats.h"

namespace cutface {
namespace {

using calibration::Blob;

constexpr std::size_t kLeastMarks = 20;
constexpr double kNear = 0.22;          // of the period: a mark this near its expected place is it
constexpr double kSeenShare = 0.6;      // of the lattice places inside the marks' own frame
constexpr double kScatterShare = 0.04;  // of the period
constexpr double kHuber = 2.5;

// Neighbour search over the marks.
struct Cloud {
  const std::vector<Blob>& blobs;
  std::size_t kdtree_get_point_count() const { return blobs.size(); }
  double kdtree_get_pt(std::size_t i, std::size_t d) const {
    return d == 0 ? blobs[i].at.x : blobs[i].at.y;
  }
  template <class B>
  bool kdtree_get_bbox(B&) const {
    return false;
  }
};
using Tree = nanoflann::KDTreeSingleIndexAdaptor<
    nanoflann::L2_Simple_Adaptor<double, Cloud, double, std::size_t>, Cloud, 2, std::size_t>;

struct Basis {
  Eigen::Vector2d a, b;
};

// Two short steps of the lattice, about square to one another, from each mark's four neighbours.
std::optional<Basis> FindBasis(const std::vector<Blob>& blobs, const Tree& tree) {
  std::vector<Eigen::Vector2d> steps;
  std::vector<double> lengths;
  for (const Blob& blob : blobs) {
    const double query[2] = {blob.at.x, blob.at.y};
    std::size_t index[5];
    double d2[5];
    const std::size_t found = tree.knnSearch(query, 5, index, d2);
    for (std::size_t k = 1; k < found; ++k) {
      const PointPx& q = blobs[index[k]].at;
      steps.emplace_back(q.x - blob.at.x, q.y - blob.at.y);
      lengths.push_back(std::sqrt(d2[k]));
    }
  }
  if (lengths.size() < 4 * kLeastMarks / 2) return std::nullopt;
  const double usual = Median(lengths);
  // Directions modulo a quarter turn: the lattice is square.
  Eigen::Vector2d turn = Eigen::Vector2d::Zero();
  std::size_t used = 0;
  for (std::size_t k = 0; k < steps.size(); ++k) {
    if (std::abs(lengths[k] / usual - 1) > 0.1) continue;
    const double angle = 4 * std::atan2(steps[k].y(), steps[k].x());
    turn += Eigen::Vector2d(std::cos(angle), std::sin(angle));
    ++used;
  }
  if (used < steps.size() / 2 || turn.norm() < 0.7 * static_cast<double>(used)) return std::nullopt;
  const double angle = std::atan2(turn.y(), turn.x()) / 4;
  return Basis{usual * Eigen::Vector2d(std::cos(angle), std::sin(angle)),
               usual * Eigen::Vector2d(-std::sin(angle), std::cos(angle))};
}

// Numbers grown from the mark nearest to the picture's middle, neighbour to neighbour; each step is
// predicted from the mark it starts at, so slow distortion does not add up.
std::map<std::size_t, std::pair<long, long>> Number(const std::vector<Blob>& blobs,
                                                    const Tree& tree, const Basis& basis,
                                                    PointPx middle) {
  std::map<std::size_t, std::pair<long, long>> number;
  const double query[2] = {middle.x, middle.y};
  std::size_t start = 0;
  double d2 = 0;
  tree.knnSearch(query, 1, &start, &d2);
  std::deque<std::size_t> queue{start};
  number[start] = {0, 0};
  const double near = kNear * basis.a.norm();
  while (!queue.empty()) {
    const std::size_t k = queue.front();
    queue.pop_front();
    const auto [i, j] = number[k];
    for (long di = -2; di <= 2; ++di) {
      for (long dj = -2; dj <= 2; ++dj) {
        // Two steps only straight on, to pass a hidden mark.
        if (std::abs(di) + std::abs(dj) == 0 || std::abs(di) + std::abs(dj) > 2) continue;
        const Eigen::Vector2d to =
            static_cast<double>(di) * basis.a + static_cast<double>(dj) * basis.b;
        const double at[2] = {blobs[k].at.x + to.x(), blobs[k].at.y + to.y()};
        std::size_t found = 0;
        double distance = 0;
        tree.knnSearch(at, 1, &found, &distance);
        if (distance > near * near || number.count(found)) continue;
        number[found] = {i + di, j + dj};
        queue.push_back(found);
      }
    }
  }
  return number;
}

struct GridFit {
  // Ideal place about the middle = t + A (i, j); imaged = ideal (1 + k1 |ideal|^2).
  Eigen::Matrix<double, 7, 1> x;    // t, A by columns, k1 in units of `unit`
  Eigen::Matrix<double, 7, 7> cov;  // of x
  double unit = 1, rms = 0;
  std::vector<double> residual;
};

GridFit FitGrid(const std::vector<TargetMark>& marks, PointPx middle, const Basis& basis,
                double half) {
  GridFit fit;
  fit.unit = 1 / (half * half * half);  // moves a corner by 1 px
  fit.x << marks[0].at.x - middle.x, marks[0].at.y - middle.y, basis.a, basis.b, 0;
  std::vector<double> weight(marks.size(), 1.0);
  for (int pass = 0; pass < 12; ++pass) {
    Eigen::Matrix<double, 7, 7> a = Eigen::Matrix<double, 7, 7>::Zero();
    Eigen::Matrix<double, 7, 1> b = Eigen::Matrix<double, 7, 1>::Zero();
    fit.residual.assign(marks.size(), 0);
    double sum = 0, sum_w = 0;
    for (std::size_t m = 0; m < marks.size(); ++m) {
      const auto i = static_cast<double>(marks[m].i), j = static_cast<double>(marks[m].j);
      const Eigen::Vector2d p =
          fit.x.segment<2>(0) + i * fit.x.segment<2>(2) + j * fit.x.segment<2>(4);
      const double k1 = fit.x(6) * fit.unit, r2 = p.squaredNorm();
      const Eigen::Vector2d seen(marks[m].at.x - middle.x, marks[m].at.y - middle.y);
      const Eigen::Vector2d rest = seen - p * (1 + k1 * r2);
      const Eigen::Matrix2d d =
          (1 + k1 * r2) * Eigen::Matrix2d::Identity() + 2 * k1 * p * p.transpose();
      Eigen::Matrix<double, 2, 7> g;
      g << d, i * d, j * d, fit.unit * r2 * p;
      a += weight[m] * g.transpose() * g;
      b += weight[m] * g.transpose() * rest;
      fit.residual[m] = rest.norm();
      sum += weight[m] * rest.squaredNorm();
      sum_w += 2 * weight[m];
    }
    fit.rms = std::sqrt(sum / std::max(1.0, sum_w - 7));
    fit.cov = a.inverse() * fit.rms * fit.rms;
    fit.x += a.ldlt().solve(b);
    const double limit = kHuber * std::max(1e-4, Median(fit.residual) / 1.18);
    for (std::size_t m = 0; m < marks.size(); ++m) {
      weight[m] = std::min(1.0, limit / std::max(1e-9, fit.residual[m]));
    }
  }
  return fit;
}

// Pitch x, pitch y, shear from A: K = R M with M = division A^-1, K upper triangular.
Eigen::Vector3d PitchesOf(const Eigen::Matrix<double, 7, 1>& x, double division) {
  Eigen::Matrix2d a;
  a << x(2), x(4), x(3), x(5);
  const Eigen::Matrix2d m = division * a.inverse();
  const double px = m.col(0).norm();
  const double py = std::abs(m.determinant()) / px;
  return {px, py, m.col(0).dot(m.col(1)) / px / py};
}

Error NoGrid(const Micrograph& picture, const std::string& why) {
  return {
      Code::kNoPattern,
      fmt::format("{}: {}; picture the grid clean, sharp and across the field, or state the kind "
                  "of target that it shows",
                  picture.file_name, why)};
}

// Marks against places of the lattice inside the marks' own frame.
double SeenShare(const std::vector<TargetMark>& marks, std::size_t blobs) {
  std::map<long, std::pair<long, long>> rows;
  for (const TargetMark& mark : marks) {
    auto [row, fresh] = rows.try_emplace(mark.j, mark.i, mark.i);
    if (fresh) continue;
    row->second.first = std::min(row->second.first, mark.i);
    row->second.second = std::max(row->second.second, mark.i);
  }
  double places = 0;
  for (const auto& [j, ends] : rows) places += static_cast<double>(ends.second - ends.first + 1);
  return static_cast<double>(marks.size()) / std::max(places, static_cast<double>(blobs));
}

// Writes residuals into the marks; gives the farthest one from the first, in steps of the lattice.
double Judged(std::vector<TargetMark>& marks, const GridFit& fit) {
  double farthest = 0;
  for (std::size_t m = 0; m < marks.size(); ++m) {
    marks[m].residual_px = fit.residual[m];
    marks[m].sigma_px = fit.rms;
    farthest = std::max(
        farthest, std::hypot(static_cast<double>(marks[m].i), static_cast<double>(marks[m].j)));
  }
  return farthest;
}

void TellGridLight(const Micrograph& picture, TargetKind kind, const GridFit& fit, TargetFit& out) {
  calibration::GridPlaces places;
  for (const TargetMark& mark : out.marks) places.centres.push_back(mark.at);
  places.ax = fit.x(2);
  places.ay = fit.x(3);
  calibration::TellLight(kind == TargetKind::kCrossGrid
                             ? calibration::ProfilesOfCrosses(picture, places)
                             : calibration::ProfilesOfDots(picture, places),
                         out);
}

}  // namespace

Result<TargetFit> FindGrid(const Micrograph& picture, const TargetSpec& spec) {
  if (!(spec.division_um > 0)) {
    return Fail(Code::kUsage,
                "division: must be greater than 0; state the distance of two "
                "neighbouring marks, for example 100um");
  }
  const std::vector<Blob> blobs = calibration::FindBlobs(picture);
  if (blobs.size() < kLeastMarks) {
    return tl::unexpected<Error>(NoGrid(
        picture, fmt::format("only {} marks found, {} are needed", blobs.size(), kLeastMarks)));
  }
  const Cloud cloud{blobs};
  Tree tree(2, cloud, nanoflann::KDTreeSingleIndexAdaptorParams(10));
  tree.buildIndex();
  const auto basis = FindBasis(blobs, tree);
  if (!basis) {
    return tl::unexpected<Error>(NoGrid(picture, "the marks do not form a square lattice"));
  }
  TargetFit out;
  out.kind = spec.kind;
  out.division_um = spec.division_um;
  out.distortion_centre = {(picture.width() - 1) / 2.0, (picture.height() - 1) / 2.0};
  const auto number = Number(blobs, tree, *basis, out.distortion_centre);
  for (const auto& [k, ij] : number) {
    TargetMark mark;
    mark.at = blobs[k].at;
    mark.i = ij.first;
    mark.j = ij.second;
    out.marks.push_back(mark);
  }
  const double share = SeenShare(out.marks, blobs.size());
  if (out.marks.size() < kLeastMarks || share < kSeenShare) {
    return tl::unexpected<Error>(NoGrid(
        picture, fmt::format("only {:.0f} % of the marks stand on one lattice: they cannot be "
                             "numbered beyond doubt",
                             100 * share)));
  }
  std::rotate(out.marks.begin(),
              std::find_if(out.marks.begin(), out.marks.end(),
                           [](const TargetMark& m) { return m.i == 0 && m.j == 0; }),
              out.marks.end());
  const double half = std::hypot(picture.width(), picture.height()) / 2;
  const GridFit fit = FitGrid(out.marks, out.distortion_centre, *basis, half);
  if (fit.rms > kScatterShare * basis->a.norm()) {
    return tl::unexpected<Error>(
        NoGrid(picture,
               fmt::format("the marks are scattered by {:.2f} px about an even lattice", fit.rms)));
  }
  const Eigen::Vector3d told = PitchesOf(fit.x, spec.division_um);
  Eigen::Matrix<double, 3, 7> slope;
  for (int k = 0; k < 7; ++k) {
    Eigen::Matrix<double, 7, 1> moved = fit.x;
    const double step = 1e-4;
    moved(k) += step;
    slope.col(k) = (PitchesOf(moved, spec.division_um) - told) / step;
  }
  const Eigen::Vector3d u = (slope * fit.cov * slope.transpose()).diagonal().cwiseSqrt();
  out.pitch_x_um = told(0);
  out.pitch_y_um = told(1);
  out.shear = told(2);
  out.u_pitch_x_um = u(0);
  out.u_pitch_y_um = u(1);
  out.u_shear = u(2);
  const double k1 = fit.x(6) * fit.unit;
  out.u_k1_per_px2 = std::sqrt(fit.cov(6, 6)) * fit.unit;
  if (std::abs(k1) > 3 * out.u_k1_per_px2) out.k1_per_px2 = k1;
  out.span_px = 2 * Judged(out.marks, fit) * basis->a.norm();
  out.lines_seen = static_cast<int>(out.marks.size());
  out.lines_expected = static_cast<int>(std::lround(static_cast<double>(out.marks.size()) / share));
  out.residual_rms_px = fit.rms;
  out.width_px = picture.width();
  out.height_px = picture.height();
  out.image_file = picture.file_name;
  out.image_sha256 = picture.sha256;
  TellGridLight(picture, spec.kind, fit, out);
  return out;
}

}  // namespace cutface
