#include "identify/pose.h"

#include <fmt/format.h>

#include <Eigen/SVD>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/centre.h"
#include "identify/label_score.h"
#include "identify/outline_trace.h"
#include "identify/raster.h"
#include "identify/symmetry.h"

namespace cutface {
namespace {

constexpr double kTurnStep = 2.0 * M_PI / 180;
constexpr double kOutlineTolerance = 0.035;  // of its radius: ovality and stretch blur a symmetry
constexpr double kExplainedLeast = 0.25;     // below, the drawing is not in the picture
constexpr double kSecondPartShare = 0.85, kSecondPartLeast = 0.65;
constexpr double kMirrorImage = 0.85;  // overlap of the lumens of a drawing with its mirror image
constexpr double kMirrorHandicap = 1.08;
constexpr int kScanStride = 2;                     // samples skipped while scanning
constexpr std::size_t kTried = 12, kFinished = 6;  // hypotheses refined coarsely, finely
constexpr double kOutlineReach = 0.10;  // of the radius, searched about the registered outline

struct Hypothesis {
  Turn turn;
  Warp warp;
  double explained = 0;
};

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

// What size and stretch cost: a calibrated part is neither 10 % too large nor 30 % oval.
double Penalty(const Warp& warp, double px_per_um) {
  const Eigen::JacobiSVD<Eigen::Matrix2d> svd(warp.linear / px_per_um);
  const double a = svd.singularValues()(0), b = svd.singularValues()(1);
  // An oblique cut keeps the short axis and stretches the long one.
  const double size = std::log(b) / 0.05, stretch = std::max(0.0, std::log(a / b) - 0.02) / 0.12;
  return 0.01 * (size * size + stretch * stretch);
}

// Hill climb on the explained share; `kinds` limits what may change.
void Refine(const cv::Mat1f& image, const LabelScore& score, PointUm about, double px_per_um,
            double radius_px, double first_step, int rounds, int stride, Hypothesis& h) {
  double step = first_step;
  double best = score(image, h.warp, stride) - Penalty(h.warp, px_per_um);
  for (int round = 0; round < rounds; ++round) {
    for (int kind = 0; kind < 6; ++kind) {
      for (double way : {1.0, -1.0}) {
        bool gained = false;
        for (int tries = 0; tries < 3; ++tries) {
          const Warp next = Changed(h.warp, kind, way * step, about, radius_px);
          const double value = score(image, next, stride) - Penalty(next, px_per_um);
          if (value <= best) break;
          best = value;
          h.warp = next;
          gained = true;
        }
        if (gained) break;
      }
    }
    step *= 0.6;
  }
  h.explained = score(image, h.warp);
}

// Tones squeezed about the body's, light taken off: lumens that differ much no longer drown the
// outline, which may differ little.
cv::Mat1f Squeezed(const cv::Mat1f& image, const LabelScore& score, const Warp& warp) {
  const LabelScore::Fit fit = score.Explain(image, warp);
  const double body = fit.mean[LabelScore::kBody];
  const double scale = std::max(0.03, std::abs(fit.mean[LabelScore::kOutside] - body));
  // The light as a quadratic in picture coordinates, by exact evaluation on a coarse grid.
  cv::Mat1f coarse(image.rows / 16 + 2, image.cols / 16 + 2);
  for (int y = 0; y < coarse.rows; ++y) {
    for (int x = 0; x < coarse.cols; ++x) {
      coarse(y, x) = static_cast<float>(score.LightAt(fit, warp.Inverse({x * 16.0, y * 16.0})));
    }
  }
  cv::Mat1f out(image.size());
  for (int y = 0; y < image.rows; ++y) {
    for (int x = 0; x < image.cols; ++x) {
      const double z = (image(y, x) - SampleAt(coarse, x / 16.0, y / 16.0) - body) / scale;
      out(y, x) = static_cast<float>(z / std::sqrt(1 + z * z));
    }
  }
  return out;
}

// The best turns at one centre: local maxima over the grid.
void Scan(const cv::Mat1f& image, const LabelScore& score, const Warp& start,
          const std::vector<Turn>& turns, PointUm about, std::vector<Hypothesis>& out) {
  std::vector<double> value(turns.size());
  for (std::size_t k = 0; k < turns.size(); ++k)
    value[k] = score(image, Turned(start, turns[k], about), kScanStride);
  for (std::size_t k = 0; k < turns.size(); ++k) {
    bool top = true;
    for (std::size_t j = 0; j < turns.size() && top; ++j) {
      if (j == k || turns[j].mirrored != turns[k].mirrored) continue;
      const double apart =
          std::abs(std::remainder(turns[j].angle_rad - turns[k].angle_rad, 2 * M_PI));
      top = apart > 5 * kTurnStep || value[j] < value[k] || (value[j] == value[k] && j > k);
    }
    if (top) out.push_back({turns[k], Turned(start, turns[k], about), value[k]});
  }
}

// Do two registrations of the same drawing name lumens differently? `overlap` is the least overlap
// of the lumens that fall on each other, `to` which falls on which.
bool NamesDiffer(const SectionDesign& plane, const Warp& one, const Warp& other, double& overlap,
                 std::vector<std::size_t>& to) {
  bool differ = false;
  overlap = 1;
  to.clear();
  std::vector<ContourPx> first, second;
  for (const LumenDesign& lumen : plane.lumens) {
    first.push_back(one(lumen.shape.contour));
    second.push_back(other(lumen.shape.contour));
  }
  for (std::size_t i = 0; i < first.size(); ++i) {
    double best = 0;
    std::size_t at = i;
    for (std::size_t j = 0; j < second.size(); ++j) {
      const double a = Area(std::span<const PointPx>(first[i])),
                   b = Area(std::span<const PointPx>(second[j]));
      if (Distance(Centroid(std::span<const PointPx>(first[i])),
                   Centroid(std::span<const PointPx>(second[j]))) > std::sqrt(a) + std::sqrt(b)) {
        continue;
      }
      const double both =
          IntersectionArea(std::span<const PointPx>(first[i]), std::span<const PointPx>(second[j]));
      const double share = both / (a + b - both);
      if (share > best) {
        best = share;
        at = j;
      }
    }
    differ = differ || at != i || best < 0.3;
    to.push_back(at);
    overlap = std::min(overlap, best);
  }
  return differ;
}

double FullRotation(const Warp& warp) {
  // Polar decomposition: the turn that remains when the stretch is taken off.
  Eigen::Matrix2d m = warp.linear;
  if (m.determinant() < 0) m.col(0) = -m.col(0);
  const Eigen::JacobiSVD<Eigen::Matrix2d> svd(m, Eigen::ComputeFullU | Eigen::ComputeFullV);
  const Eigen::Matrix2d r = svd.matrixU() * svd.matrixV().transpose();
  return std::atan2(r(1, 0), r(0, 0));
}

// Swaps only names that the drawing's own symmetry swaps.
bool Interchanges(const SectionDesign& plane, const std::vector<std::vector<std::string>>& groups,
                  const std::vector<std::size_t>& to) {
  for (std::size_t i = 0; i < to.size(); ++i) {
    if (to[i] == i) continue;
    bool together = false;
    for (const auto& group : groups) {
      const auto has = [&](const std::string& name) {
        return std::find(group.begin(), group.end(), name) != group.end();
      };
      together = together || (has(plane.lumens[i].name) && has(plane.lumens[to[i]].name));
    }
    if (!together) return false;
  }
  return true;
}

// A drawing that is its own mirror image does not tell whether the picture is mirrored: take it as
// not.
void PreferUnmirrored(const SectionDesign& plane, std::vector<Hypothesis>& hypotheses) {
  if (hypotheses.front().warp.linear.determinant() > 0) return;
  for (std::size_t k = 1; k < hypotheses.size(); ++k) {
    double overlap = 0;
    std::vector<std::size_t> to;
    if (hypotheses[k].warp.linear.determinant() < 0) continue;
    if (hypotheses[k].explained < hypotheses.front().explained - 0.03) continue;
    if (NamesDiffer(plane, hypotheses.front().warp, hypotheses[k].warp, overlap, to) ||
        overlap < kMirrorImage)
      continue;
    std::swap(hypotheses.front(), hypotheses[k]);
    return;
  }
}

CentreSearch SearchFor(const SectionDesign& plane) {
  CentreSearch search;
  if (plane.outline.kind != Shape::Kind::kCircle) {
    search.angles_rad.clear();
    for (int k = 0; k < 36; ++k) search.angles_rad.push_back(k * 2 * M_PI / 36);
    search.scales = {1.0, 1.05};
    search.with_mirror = plane.outline.kind == Shape::Kind::kPath;
    search.most = 6;
  }
  return search;
}

// From px of the reduced picture to full resolution: block (i, j) is centred on px (i + 0.5) r -
// 0.5.
Warp FullResolution(const Warp& warp, int reduction) {
  const double r = reduction, half = 0.5 * (r - 1);
  Warp out;
  out.linear = r * warp.linear;
  out.shift = r * warp.shift + Eigen::Vector2d(half, half);
  return out;
}

Pose Finished(const Hypothesis& best, const OutlineTrace& outline, int reduction,
              const SectionDesign& plane) {
  Pose pose;
  const double r = reduction, half = 0.5 * (r - 1);
  for (PointPx p : outline.points) pose.outline.push_back({r * p.x + half, r * p.y + half});
  pose.outline_visible = outline.visible;
  if (SignedArea(std::span<const PointPx>(pose.outline)) < 0) {
    std::reverse(pose.outline.begin(), pose.outline.end());
    std::reverse(pose.outline_visible.begin(), pose.outline_visible.end());
  }
  pose.interchangeable = InterchangeableNames(plane);
  return WithWarp(pose, FullResolution(best.warp, reduction));
}

void SortBest(std::vector<Hypothesis>& hypotheses) {
  std::sort(hypotheses.begin(), hypotheses.end(),
            [](const Hypothesis& a, const Hypothesis& b) { return a.explained > b.explained; });
}

tl::unexpected<Error> NothingFound(const std::vector<Hypothesis>& hypotheses,
                                   const SectionDesign& plane) {
  return Fail(
      Code::kNoSection,
      fmt::format(
          "no cut face like section \"{}\" found (the best fit explains {:.0f} % of the picture's "
          "tones); check design, calibration and focus",
          plane.name, hypotheses.empty() ? 0.0 : 100 * hypotheses.front().explained));
}

Status CheckAlone(const std::vector<Hypothesis>& hypotheses, double radius, int reduction,
                  const SectionDesign& plane) {
  const Hypothesis& best = hypotheses.front();
  for (const Hypothesis& h : hypotheses) {
    if ((h.warp.shift - best.warp.shift).norm() < 1.2 * radius) continue;
    if (h.explained > kSecondPartShare * best.explained && h.explained > kSecondPartLeast) {
      return Fail(
          Code::kTwoParts,
          fmt::format("two cut faces fit section \"{}\", near px ({:.0f}, {:.0f}) and ({:.0f}, "
                      "{:.0f}); crop "
                      "the picture to one",
                      plane.name, best.warp.shift.x() * reduction, best.warp.shift.y() * reduction,
                      h.warp.shift.x() * reduction, h.warp.shift.y() * reduction));
    }
  }
  return {};
}

}  // namespace

Pose WithWarp(const Pose& pose, const Warp& warp) {
  Pose out = pose;
  out.warp = warp;
  out.mirrored = warp.linear.determinant() < 0;
  out.rotation_rad = FullRotation(warp);
  return out;
}

Result<Pose> FindPose(const cv::Mat1f& work, int reduction, double um_per_px,
                      const SectionDesign& plane) {
  const double px_per_um = 1.0 / (um_per_px * reduction);
  ContourPx nominal;
  for (PointUm p : plane.outline.contour) nominal.push_back({p.x * px_per_um, p.y * px_per_um});
  const double radius = std::sqrt(Area(std::span<const PointPx>(nominal)) / M_PI);
  if (radius < 12 || radius > 4.0 * std::max(work.cols, work.rows)) {
    return Fail(
        Code::kNoSection,
        fmt::format(
            "the drawing's outline would be {:.0f} px across in this picture of {} x {} px; check "
            "calibration and design",
            2 * radius * reduction, work.cols * reduction, work.rows * reduction));
  }
  cv::Mat1f smooth;
  cv::GaussianBlur(work, smooth, cv::Size(), 1.2);
  const std::vector<CentreCandidate> centres = FindCentres(work, nominal, SearchFor(plane));
  const LabelScore score(plane);
  const PointUm about = Centroid(std::span<const PointUm>(plane.outline.contour));
  const std::vector<Turn> turns = OutlineTurns(plane, kTurnStep, kOutlineTolerance);
  std::vector<Hypothesis> hypotheses;
  for (const CentreCandidate& c : centres)
    Scan(smooth, score, StartWarp(c, px_per_um), turns, about, hypotheses);
  SortBest(hypotheses);
  if (hypotheses.size() > kTried) hypotheses.resize(kTried);
  // Coarse first: a template's centre and size are only good to a few per cent.
  for (Hypothesis& h : hypotheses) Refine(smooth, score, about, px_per_um, radius, 0.03, 5, 1, h);
  SortBest(hypotheses);
  if (hypotheses.size() > kFinished) hypotheses.resize(kFinished);
  if (hypotheses.empty() || hypotheses.front().explained < kExplainedLeast) {
    return NothingFound(hypotheses, plane);
  }
  const cv::Mat1f squeezed = Squeezed(smooth, score, hypotheses.front().warp);
  for (Hypothesis& h : hypotheses) {
    Refine(squeezed, score, about, px_per_um, radius, 0.02, 6, 1, h);
    // A mirrored picture is rare; it has to explain clearly more.
    if (h.warp.linear.determinant() < 0) h.explained = 1 - (1 - h.explained) * kMirrorHandicap;
  }
  SortBest(hypotheses);
  if (auto alone = CheckAlone(hypotheses, radius, reduction, plane); !alone)
    return tl::unexpected(alone.error());
  PreferUnmirrored(plane, hypotheses);
  const Hypothesis& best = hypotheses.front();
  const auto groups = InterchangeableNames(plane);
  std::vector<Warp> others;
  for (const Hypothesis& h : hypotheses) {
    double overlap = 0;
    std::vector<std::size_t> to;
    if ((h.warp.shift - best.warp.shift).norm() > 0.3 * radius) continue;
    if (&h != &best && NamesDiffer(plane, best.warp, h.warp, overlap, to) &&
        !Interchanges(plane, groups, to)) {
      others.push_back(FullResolution(h.warp, reduction));
    }
  }
  const OutlineTrace outline = TraceOutline(smooth, best.warp, plane, score, kOutlineReach);
  Pose pose = Finished(best, outline, reduction, plane);
  pose.others = std::move(others);
  return pose;
}

}  // namespace cutface
