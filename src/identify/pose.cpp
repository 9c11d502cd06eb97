#include "identify/pose.h"

#include <fmt/format.h>
#include <opencv2/imgproc.hpp>
#include <Eigen/SVD>

#include "cutface/stats.h"
#include "identify/centre.h"
#include "identify/label_score.h"
#include "identify/outline_fit.h"
#include "identify/ribbon.h"
#include "identify/symmetry.h"

namespace cutface {
namespace {

constexpr double kTurnStep = 2.0 * M_PI / 180;
constexpr double kOutlineTolerance = 0.035;  // of its radius: ovality and stretch blur a symmetry
constexpr double kExplainedLeast = 0.25;     // below, the drawing is not in the picture
constexpr double kSecondPartShare = 0.8;

// One way to lay the outline into the picture, with the traced outline that belongs to it.
struct Placing {
  Warp warp;
  ContourPx outline;           // px of work
  std::vector<char> visible;
  double contrast = 0;
};

struct Hypothesis {
  const Placing* placing = nullptr;
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

std::vector<Placing> TraceOutlines(const cv::Mat1f& work, const CentreCandidate& candidate,
                                   double px_per_um, const SectionDesign& plane) {
  Warp start;
  const double c = std::cos(candidate.angle_rad), s = std::sin(candidate.angle_rad);
  start.linear << c, -s, s, c;
  if (candidate.mirrored) start.linear.col(0) = -start.linear.col(0);
  start.linear *= px_per_um;
  start.shift = Eigen::Vector2d(candidate.centre.x, candidate.centre.y);
  const double radius = px_per_um * std::sqrt(Area(std::span<const PointUm>(plane.outline.contour)) / M_PI);

  std::vector<Placing> placings;
  for (int sign : {1, -1}) {
    Placing placing;
    placing.warp = start;
    // Wide first, then narrow about what the first pass found.
    for (const double reach : {0.13, 0.05}) {
      const ContourPx placed = placing.warp(plane.outline.contour);
      const double step = std::max(0.5, radius / 400);
      const int places = std::clamp(static_cast<int>(Perimeter(std::span<const PointPx>(placed)) / (2.5 * step)), 90, 720);
      const Ribbon ribbon = Unroll(work, placed, places, reach * radius, reach * radius, step);
      RibbonTraceOptions options;
      options.sign = sign;
      options.reach_px = std::max(2.0, 0.008 * radius);
      options.prior_px = reach * radius;
      options.prior_weight = 0.35;
      const RibbonTrace trace = TraceEdge(ribbon, options);
      placing.outline = TracedPoints(ribbon, trace);
      placing.visible = trace.visible;
      placing.contrast = trace.mean_step;
      OutlineFitPriors priors;
      priors.rotation_rad = plane.outline.kind == Shape::Kind::kCircle ? 1e-4 : 0.08;
      FitOutline(plane.outline.contour, placing.outline, placing.visible, priors, placing.warp);
    }
    placings.push_back(std::move(placing));
  }
  return placings;
}

// Hill climb on turn and shift; the outline trace stays as it is.
void Refine(const cv::Mat1f& work, const LabelScore& score, PointUm about, Hypothesis& h) {
  double turn_step = 0.02;
  double shift_step = 3.0;
  h.explained = score(work, h.warp);
  for (int round = 0; round < 5; ++round) {
    for (int k = 0; k < 6; ++k) {
      const double way = k % 2 == 0 ? 1 : -1;
      for (int tries = 0; tries < 4; ++tries) {
        Warp next = h.warp;
        if (k < 2) {
          next = Turned(h.warp, {way * turn_step, false}, about);
        } else if (k < 4) {
          next.shift.x() += way * shift_step;
        } else {
          next.shift.y() += way * shift_step;
        }
        const double value = score(work, next);
        if (value <= h.explained) break;
        h.explained = value;
        h.warp = next;
      }
    }
    turn_step *= 0.5;
    shift_step *= 0.5;
  }
}

// The best turns of one placing: local maxima over the grid.
void Scan(const cv::Mat1f& work, const LabelScore& score, const Placing& placing,
          const std::vector<Turn>& turns, PointUm about, std::vector<Hypothesis>& out) {
  std::vector<double> value(turns.size());
  for (std::size_t k = 0; k < turns.size(); ++k) {
    value[k] = score(work, Turned(placing.warp, turns[k], about));
  }
  for (std::size_t k = 0; k < turns.size(); ++k) {
    bool top = true;
    for (std::size_t j = 0; j < turns.size() && top; ++j) {
      if (j == k || turns[j].mirrored != turns[k].mirrored) continue;
      const double apart = std::abs(std::remainder(turns[j].angle_rad - turns[k].angle_rad, 2 * M_PI));
      top = apart > 5 * kTurnStep || value[j] < value[k] || (value[j] == value[k] && j > k);
    }
    if (top) out.push_back({&placing, turns[k], Turned(placing.warp, turns[k], about), value[k]});
  }
}

// Which lumens two registrations of the same drawing name differently.
bool NamesDiffer(const SectionDesign& plane, const Warp& one, const Warp& other, double& overlap) {
  bool differ = false;
  overlap = 1;
  std::vector<ContourPx> first, second;
  for (const LumenDesign& lumen : plane.lumens) {
    first.push_back(one(lumen.shape.contour));
    second.push_back(other(lumen.shape.contour));
  }
  for (std::size_t i = 0; i < first.size(); ++i) {
    double best = 0;
    std::size_t at = i;
    for (std::size_t j = 0; j < second.size(); ++j) {
      const double a = Area(std::span<const PointPx>(first[i])), b = Area(std::span<const PointPx>(second[j]));
      if (Distance(Centroid(std::span<const PointPx>(first[i])), Centroid(std::span<const PointPx>(second[j]))) >
          std::sqrt(a) + std::sqrt(b)) {
        continue;
      }
      const double both = IntersectionArea(std::span<const PointPx>(first[i]), std::span<const PointPx>(second[j]));
      const double share = both / (a + b - both);
      if (share > best) {
        best = share;
        at = j;
      }
    }
    differ = differ || at != i || best < 0.3;
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

Pose Finished(const Hypothesis& best, double runner_up, int reduction, double um_per_px,
              const SectionDesign& plane) {
  Pose pose;
  const double r = reduction;
  // Block (i, j) of the reduced picture is centred on full-resolution px (i + 0.5) r - 0.5.
  const double half = 0.5 * (r - 1);
  pose.warp.linear = r * best.warp.linear;
  pose.warp.shift = r * best.warp.shift + Eigen::Vector2d(half, half);
  for (PointPx p : best.placing->outline) pose.outline.push_back({r * p.x + half, r * p.y + half});
  pose.outline_visible = best.placing->visible;
  if (SignedArea(std::span<const PointPx>(pose.outline)) < 0) {
    std::reverse(pose.outline.begin(), pose.outline.end());
    std::reverse(pose.outline_visible.begin(), pose.outline_visible.end());
  }
  pose.mirrored = pose.warp.linear.determinant() < 0;
  pose.rotation_rad = FullRotation(pose.warp);
  pose.explained = best.explained;
  pose.runner_up = runner_up;
  pose.outline_contrast = best.placing->contrast;
  const Eigen::JacobiSVD<Eigen::Matrix2d> svd(pose.warp.linear);
  pose.stretch = svd.singularValues()(0) / svd.singularValues()(1);
  pose.size = std::sqrt(svd.singularValues()(0) * svd.singularValues()(1)) * um_per_px;
  pose.interchangeable = InterchangeableNames(plane);
  return pose;
}

}  // namespace

Result<Pose> FindPose(const cv::Mat1f& work, int reduction, double um_per_px,
                      const SectionDesign& plane) {
  const double px_per_um = 1.0 / (um_per_px * reduction);
  ContourPx nominal;
  for (PointUm p : plane.outline.contour) nominal.push_back({p.x * px_per_um, p.y * px_per_um});
  const double radius = std::sqrt(Area(std::span<const PointPx>(nominal)) / M_PI);
  if (radius < 12 || radius > 4.0 * std::max(work.cols, work.rows)) {
    return Fail(Code::kNoSection,
                fmt::format("the drawing's outline would be {:.0f} px across in this picture of {} x {} px; check "
                            "calibration and design",
                            2 * radius * reduction, work.cols * reduction, work.rows * reduction));
  }
  cv::Mat1f smooth;
  cv::GaussianBlur(work, smooth, cv::Size(), 1.2);

  const std::vector<CentreCandidate> centres = FindCentres(work, nominal, SearchFor(plane));
  std::vector<std::vector<Placing>> placings;
  for (const CentreCandidate& c : centres) placings.push_back(TraceOutlines(smooth, c, px_per_um, plane));

  const LabelScore score(plane);
  const PointUm about = Centroid(std::span<const PointUm>(plane.outline.contour));
  const std::vector<Turn> turns = OutlineTurns(plane, kTurnStep, kOutlineTolerance);
  std::vector<Hypothesis> hypotheses;
  for (const auto& group : placings) {
    for (const Placing& placing : group) Scan(smooth, score, placing, turns, about, hypotheses);
  }
  std::sort(hypotheses.begin(), hypotheses.end(),
            [](const Hypothesis& a, const Hypothesis& b) { return a.explained > b.explained; });
  if (hypotheses.size() > 10) hypotheses.resize(10);
  for (Hypothesis& h : hypotheses) {
    // The outline decides stretch and place anew for this turn, then the lumens fine-tune.
    if (plane.outline.kind != Shape::Kind::kCircle) {
      OutlineFitPriors priors;
      Warp refit = h.warp;
      FitOutline(plane.outline.contour, h.placing->outline, h.placing->visible, priors, refit);
      h.warp = refit;
    }
    Refine(smooth, score, about, h);
  }
  std::sort(hypotheses.begin(), hypotheses.end(),
            [](const Hypothesis& a, const Hypothesis& b) { return a.explained > b.explained; });
  if (hypotheses.empty() || hypotheses.front().explained < kExplainedLeast) {
    return Fail(Code::kNoSection,
                fmt::format("no cut face like section \"{}\" found (the best fit explains {:.0f} % of the picture's "
                            "tones); check design, calibration and focus",
                            plane.name, hypotheses.empty() ? 0.0 : 100 * hypotheses.front().explained));
  }
  const Hypothesis& best = hypotheses.front();
  double runner_up = 0;
  for (const Hypothesis& h : hypotheses) {
    const Eigen::Vector2d apart = h.warp.shift - best.warp.shift;
    if (apart.norm() > 1.2 * radius) {
      if (h.explained > kSecondPartShare * best.explained && h.explained > 0.5) {
        return Fail(Code::kTwoParts,
                    fmt::format("two cut faces fit section \"{}\", near px ({:.0f}, {:.0f}) and ({:.0f}, {:.0f}); crop "
                                "the picture to one",
                                plane.name, best.warp.shift.x() * reduction, best.warp.shift.y() * reduction,
                                h.warp.shift.x() * reduction, h.warp.shift.y() * reduction));
      }
      continue;
    }
    double overlap = 0;
    if (&h != &best && NamesDiffer(plane, best.warp, h.warp, overlap)) {
      runner_up = std::max(runner_up, h.explained);
      break;
    }
  }
  return Finished(best, runner_up, reduction, um_per_px, plane);
}

}  // namespace cutface
