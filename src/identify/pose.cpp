#include "identify/pose.h"

#include <fmt/format.h>

#include <Eigen/SVD>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/outline_lay.h"
#include "identify/outline_trace.h"
#include "identify/search.h"

namespace cutface {
namespace {

constexpr double kPoseTurnStep = 2.0 * M_PI / 180;
constexpr double kPoseOutlineTolerance =
    0.035;  // of its radius: ovality and stretch blur a symmetry
constexpr double kSecondPartShare = 0.85, kSecondPartLeast = 0.65;
constexpr double kLong = 1.5;          // widths: each end of the drawing is looked for
constexpr double kElsewhere = 1.2;     // radii: another part
constexpr double kMirrorImage = 0.85;  // overlap of the lumens of a drawing with its mirror image
constexpr double kMirrorHandicap = 1.08;
// Radius of the part in the copies, px: for all turns, for the last climb (the drawing's raster has
// no more).
constexpr double kScanRadius = 50, kPoseFineRadius = 130;
constexpr double kPoseBlur_px = 0.7;
constexpr int kScanStride = 8, kCoarseStride = 4, kFineStride = 2;  // samples skipped
constexpr double kRival = 0.9;          // of the best share explained, to be climbed to the end
constexpr double kPlaceStep = 0.1;      // of the radius: places tried for a detail
constexpr double kPlainOutline = 0.5;   // agreement of edges with the outline: nearly all is seen
constexpr double kHardlyOutline = 0.4;  // of that
constexpr double kOffOutline = 0.06;    // of the radius
constexpr double kOtherFit = 0.93;      // of the best, by another place or other names
constexpr std::size_t kTriedOfDetail = 60;
constexpr std::size_t kTried = 12, kFinished = 5;  // hypotheses refined coarsely, finely
constexpr double kSizeOff = 0.03;                  // from the drawn size (log): worth another look
constexpr double kSizeShift = 0.08;                // of the radius
constexpr double kOutlineReach = 0.10;  // of the radius, searched about the registered outline
constexpr int kLaidRounds = 4;
constexpr double kBesideTrace = 0.015;  // of the radius: corners are cut short
constexpr double kLostEnd = 0.05;       // of an outline, whose tones are not as expected
constexpr double kMoreThanAnEnd = 0.25;
constexpr double kLonger[] = {1.06, 1.12, 1.18};
constexpr double kOffTrace = 0.04;  // of the radius: the drawn outline lies beside the traced

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
  struct Lump {
    double area;
    PointPx centre;
  };
  const auto lumps_of = [](const std::vector<ContourPx>& contours) {
    std::vector<Lump> lumps;
    for (const ContourPx& contour : contours) {
      const std::span<const PointPx> points(contour);
      lumps.push_back({Area(points), Centroid(points)});
    }
    return lumps;
  };
  const std::vector<Lump> ones = lumps_of(first), others = lumps_of(second);
  for (std::size_t i = 0; i < first.size(); ++i) {
    double best = 0;
    std::size_t at = i;
    for (std::size_t j = 0; j < second.size(); ++j) {
      const double a = ones[i].area, b = others[j].area;
      if (Distance(ones[i].centre, others[j].centre) > std::sqrt(a) + std::sqrt(b)) continue;
      // No two areas share more than the smaller is of the larger.
      if (std::min(a, b) <= best * std::max(a, b)) continue;
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

// Of a drawing that is much longer than wide, um; else 0.
double HalfLength(const SectionDesign& plane) {
  const Box<FrameUm> box = BoundingBox(plane.outline.contour);
  const double length = box.greatest.x - box.least.x, width = box.greatest.y - box.least.y;
  return length > kLong * width ? 0.5 * length : 0;
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

// Lightly smoothed about a contour; the rest of the picture is left as it is.
cv::Mat1f SmoothAround(const cv::Mat1f& work, const ContourPx& contour, double margin) {
  const Box<FramePx> box = BoundingBox(std::span<const PointPx>(contour));
  const cv::Rect around(
      cv::Point(static_cast<int>(box.least.x - margin), static_cast<int>(box.least.y - margin)),
      cv::Point(static_cast<int>(box.greatest.x + margin),
                static_cast<int>(box.greatest.y + margin)));
  const cv::Rect part = around & cv::Rect({0, 0}, work.size());
  cv::Mat1f smooth = work.clone();
  if (part.empty()) return smooth;
  cv::Mat1f target = smooth(part);
  cv::GaussianBlur(work(part), target, cv::Size(), 1.2);
  return smooth;
}

// Blocks of whole pixels are averaged much faster.
double WholeShrink(double shrink) { return 1 / std::max(1.0, std::round(1 / shrink)); }

// Centres in px of work, found in a smaller copy.
std::vector<CentreCandidate> Centres(const Level& level, const ContourPx& nominal,
                                     const SectionDesign& plane) {
  ContourPx outline;
  for (PointPx p : nominal) outline.push_back(level.shrink * p);
  std::vector<CentreCandidate> centres = FindCentres(level.image, outline, SearchFor(plane));
  for (CentreCandidate& c : centres) {
    c.centre = {(c.centre.x + 0.5) / level.shrink - 0.5, (c.centre.y + 0.5) / level.shrink - 0.5};
  }
  return centres;
}

Pose Finished(const Hypothesis& best, const OutlineTrace& outline, int reduction) {
  Pose pose;
  const double r = reduction, half = 0.5 * (r - 1);
  for (PointPx p : outline.points) pose.outline.push_back({r * p.x + half, r * p.y + half});
  pose.outline_visible = outline.visible;
  pose.outline_unlike = outline.unlike;
  if (SignedArea(std::span<const PointPx>(pose.outline)) < 0) {
    std::reverse(pose.outline.begin(), pose.outline.end());
    std::reverse(pose.outline_visible.begin(), pose.outline_visible.end());
  }
  return WithWarp(pose, Rescaled(best.warp, reduction));
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
    if ((h.warp.shift - best.warp.shift).norm() < kElsewhere * radius) continue;
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

// Lumens that lie far off or are collapsed may fit the drawing's better from another place, the
// outline does not: where one place shows nearly all of it, places that hardly do are none. A
// second part shows as much.
void KeepPlainCentres(std::vector<CentreCandidate>& centres) {
  double best = 0;
  for (const CentreCandidate& c : centres) best = std::max(best, c.score);
  if (best < kPlainOutline) return;
  std::erase_if(centres, [&](const CentreCandidate& c) { return c.score < kHardlyOutline * best; });
}

// Where nearly all of a round outline is seen and lumens pulled the drawing off it, the outline
// tells place and size, the lumens the turn.
void HoldToOutline(const SearchPlane& search, const SectionDesign& plane,
                   const std::vector<CentreCandidate>& centres, Hypothesis& h) {
  if (plane.outline.kind != Shape::Kind::kCircle || centres.empty()) return;
  const CentreCandidate& plain = *std::max_element(
      centres.begin(), centres.end(),
      [](const CentreCandidate& a, const CentreCandidate& b) { return a.score < b.score; });
  // A candidate's centre is the drawing's origin, unturned.
  const PointPx middle{plain.centre.x + plain.scale * search.px_per_um * search.about.x,
                       plain.centre.y + plain.scale * search.px_per_um * search.about.y};
  const PointPx off = h.warp(search.about) - middle;
  const double far = Norm(off) / search.radius_px;
  if (plain.score < kPlainOutline || far < kOffOutline || far > kElsewhere) return;
  const double size = std::sqrt(std::abs(h.warp.linear.determinant())) / search.px_per_um;
  h.warp.linear *= plain.scale / size;
  const PointPx now = h.warp(search.about);
  h.warp.shift += Eigen::Vector2d(middle.x - now.x, middle.y - now.y);
}

// A detail may show no outline: every place from which some of the part lies in the picture.
void AddEverywhere(cv::Size size, double radius, const SectionDesign& plane,
                   std::vector<CentreCandidate>& centres) {
  const CentreSearch search = SearchFor(plane);
  const double step = kPlaceStep * radius, beyond = 0.8 * radius;
  for (double y = -beyond; y < size.height + beyond; y += step) {
    for (double x = -beyond; x < size.width + beyond; x += step) {
      for (const double angle : search.angles_rad) centres.push_back({{x, y}, angle, false, 1, 0});
    }
  }
}

// In a part of the face, the drawing must fit in one way only, names that symmetry swaps aside.
Status CheckOnlyFit(const std::vector<Hypothesis>& hypotheses, double radius,
                    const SectionDesign& plane) {
  const Hypothesis& best = hypotheses.front();
  const auto groups = InterchangeableNames(plane);
  for (const Hypothesis& h : hypotheses) {
    if (&h == &best || h.explained < kOtherFit * best.explained) continue;
    double overlap = 0;
    std::vector<std::size_t> to;
    const bool elsewhere = (h.warp.shift - best.warp.shift).norm() > 0.2 * radius;
    const bool renamed =
        NamesDiffer(plane, best.warp, h.warp, overlap, to) && !Interchanges(plane, groups, to);
    if (!elsewhere && !renamed) continue;
    return Fail(Code::kNoSection,
                fmt::format("this part of the face fits section \"{}\" in several ways; take a "
                            "picture that shows more of the outline or another lumen",
                            plane.name));
  }
  return {};
}

// Climbs that ended at the same place; `hypotheses` are sorted.
void DropAlike(const SearchPlane& search, std::vector<Hypothesis>& hypotheses) {
  std::vector<Hypothesis> kept;
  for (const Hypothesis& h : hypotheses) {
    const auto alike = [&](const Hypothesis& k) {
      return (h.warp.shift - k.warp.shift).norm() < 0.08 * search.radius_px &&
             (h.warp.linear - k.warp.linear).norm() < 0.08 * search.px_per_um;
    };
    if (std::none_of(kept.begin(), kept.end(), alike)) kept.push_back(h);
  }
  hypotheses = std::move(kept);
}

// The likeliest turns at all centres, climbed coarsely: a template's centre and size are only good
// to a few per cent.
std::vector<Hypothesis> Scanned(const Level& level, const SearchPlane& search,
                                const std::vector<CentreCandidate>& centres,
                                const SectionDesign& plane, std::size_t tried = kTried) {
  const std::vector<Turn> turns = OutlineTurns(plane, kPoseTurnStep, kPoseOutlineTolerance);
  std::vector<Hypothesis> hypotheses;
  for (const CentreCandidate& c : centres)
    ScanTurns(level, search, StartWarp(c, search.px_per_um), turns, kScanStride, hypotheses);
  SortBest(hypotheses);
  if (hypotheses.size() > tried) hypotheses.resize(tried);
  for (Hypothesis& h : hypotheses) Refine(level, search, {0.03, 5, kCoarseStride}, h);
  SortBest(hypotheses);
  DropAlike(search, hypotheses);
  // The best of all, and the best of another place: there may be two parts.
  const auto elsewhere = [&](const Hypothesis& h) {
    return (h.warp.shift - hypotheses.front().warp.shift).norm() > kElsewhere * search.radius_px;
  };
  std::vector<Hypothesis> kept;
  bool other_place = false;
  for (const Hypothesis& h : hypotheses) {
    const bool other = elsewhere(h);
    if (kept.size() < kFinished || (other && !other_place)) kept.push_back(h);
    other_place = other_place || other;
  }
  return kept;
}

// A part whose lumens lie far off their place may be found by the lumens and too small or too
// large for its calibration: the same at its drawn size, about where it was found.
std::vector<Hypothesis> AtDrawnSize(const SearchPlane& search, const Hypothesis& h) {
  const double size = std::sqrt(std::abs(h.warp.linear.determinant())) / search.px_per_um;
  if (std::abs(std::log(size)) < kSizeOff) return {};
  std::vector<Hypothesis> out;
  const Eigen::Vector2d about(search.about.x, search.about.y);
  for (int k = 0; k < 8; ++k) {
    const Eigen::Vector2d way(std::cos(k * M_PI / 4), std::sin(k * M_PI / 4));
    Hypothesis next = h;
    next.warp.linear /= size;
    next.warp.shift = h.warp.shift + (h.warp.linear - next.warp.linear) * about +
                      kSizeShift * search.radius_px * way;
    out.push_back(next);
  }
  return out;
}

void Finish(const Level& level, const SearchPlane& search, std::vector<Hypothesis>& hypotheses) {
  const Level squeezed = Squeezed(level, search.score, hypotheses.front().warp);
  const std::vector<Hypothesis> drawn = AtDrawnSize(search, hypotheses.front());
  hypotheses.insert(hypotheses.end(), drawn.begin(), drawn.end());
  for (Hypothesis& h : hypotheses) Refine(squeezed, search, {0.02, 4, kFineStride}, h);
  SortBest(hypotheses);
  if (hypotheses.size() > kFinished + 1) hypotheses.resize(kFinished + 1);
  const double least = kRival * hypotheses.front().explained;
  for (Hypothesis& h : hypotheses) {
    if (h.explained > least) Refine(squeezed, search, {0.005, 3, 1}, h);
    // A mirrored picture is rare; it has to explain clearly more.
    if (h.warp.linear.determinant() < 0) h.explained = 1 - (1 - h.explained) * kMirrorHandicap;
  }
  SortBest(hypotheses);
}

struct Traced {
  Hypothesis best;
  OutlineTrace outline;
};

// An outline with corners is cut short where the drawing, held by bores that lie off their place,
// lies beside it: it is traced about the drawn one laid on it. The registration stays.
template <class Trace>
void TraceAgainWhereLaid(const Trace& trace, const SearchPlane& search, const SectionDesign& plane,
                         Traced& traced) {
  if (plane.outline.kind == Shape::Kind::kCircle) return;
  const auto expected = [](const OutlineTrace& outline) {
    return std::count(outline.as_expected.begin(), outline.as_expected.end(), 1);
  };
  Warp about = traced.best.warp;
  for (int round = 0; round < kLaidRounds; ++round) {
    const Warp laid = LaidOnTrace(about, plane, traced.outline);
    if (OutlineMoved(about, laid, plane) < kBesideTrace * search.radius_px) return;
    OutlineTrace again = trace(laid);
    if (expected(again) < expected(traced.outline)) return;
    about = laid;
    traced.outline = std::move(again);
  }
}

// A tilt along a tube's length draws it out, and the drawing, held by its long sides, ends short of
// it: longer ones, held at either end, are taken where the outline traced about them is as
// expected.
template <class Trace>
void TryLonger(const Trace& trace, const SectionDesign& plane, Traced& traced) {
  const Hypothesis from = traced.best;
  for (const double longer : kLonger) {
    for (const double end : {-1.0, 1.0}) {
      Hypothesis h = from;
      h.warp.linear.col(0) *= longer;
      h.warp.shift += end * (longer - 1) * HalfLength(plane) * from.warp.linear.col(0);
      OutlineTrace outline = trace(h.warp);
      if (outline.unlike < std::min(kLostEnd, traced.outline.unlike))
        traced = {h, std::move(outline)};
    }
  }
}

// The outline traced about a registration; where the drawn one does not lie on it, the drawing is
// laid there and climbs from there, and the better one is kept.
Traced TracedAbout(const cv::Mat1f& work, const Level& level, const SearchPlane& search,
                   const SectionDesign& plane, const Hypothesis& best, bool detail) {
  const auto trace = [&](const Warp& warp) {
    const cv::Mat1f smooth =
        SmoothAround(work, warp(plane.outline.contour), 0.5 * search.radius_px);
    return TraceOutline(smooth, warp, plane, search.score, kOutlineReach);
  };
  Traced traced{best, trace(best.warp)};
  if (detail) return traced;
  std::optional<Level> squeezed;
  // What was far off sees more of the outline from each better place.
  for (int round = 0; round < kLaidRounds; ++round) {
    Hypothesis as_is = traced.best, laid{LaidOnTrace(as_is.warp, plane, traced.outline), 0};
    if (OutlineMoved(as_is.warp, laid.warp, plane) < kOffTrace * search.radius_px) break;
    if (!squeezed) squeezed = Squeezed(level, search.score, best.warp);
    for (Hypothesis* h : {&as_is, &laid}) Refine(*squeezed, search, {0.005, 3, 1}, *h);
    if (!(laid.explained > as_is.explained)) break;
    traced = {laid, trace(laid.warp)};
  }
  const double unlike = traced.outline.unlike;
  if (HalfLength(plane) > 0 && unlike > kLostEnd && unlike < kMoreThanAnEnd)
    TryLonger(trace, plane, traced);
  TraceAgainWhereLaid(trace, search, plane, traced);
  return traced;
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
                      const SectionDesign& plane, bool detail, double least) {
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
  const LabelScore score(plane, detail);
  const SearchPlane search{score, Centroid(std::span<const PointUm>(plane.outline.contour)),
                           px_per_um, radius, HalfLength(plane)};
  const Level fine = MakeLevel(work, WholeShrink(kPoseFineRadius / radius), kPoseBlur_px);
  const Level scan = Coarser(fine, kScanRadius / radius, kPoseBlur_px);
  std::vector<CentreCandidate> centres = Centres(fine, nominal, plane);
  if (!detail) KeepPlainCentres(centres);
  if (detail) AddEverywhere(work.size(), radius, plane, centres);
  std::vector<Hypothesis> hypotheses =
      Scanned(scan, search, centres, plane, detail ? kTriedOfDetail : kTried);
  if (hypotheses.empty() || hypotheses.front().explained < least) {
    return NothingFound(hypotheses, plane);
  }
  Finish(fine, search, hypotheses);
  if (detail) {
    if (auto only = CheckOnlyFit(hypotheses, radius, plane); !only)
      return tl::unexpected(only.error());
  } else if (auto alone = CheckAlone(hypotheses, radius, reduction, plane); !alone)
    return tl::unexpected(alone.error());
  PreferUnmirrored(plane, hypotheses);
  if (Hypothesis& best = hypotheses.front(); best.warp.linear.determinant() < 0) {
    if (const auto image = OwnMirrorImage(plane))
      best.warp = Turned(best.warp, *image, search.about);
  }
  if (!detail) HoldToOutline(search, plane, centres, hypotheses.front());
  const Hypothesis& best = hypotheses.front();
  const auto groups = InterchangeableNames(plane);
  std::vector<Warp> others;
  for (const Hypothesis& h : hypotheses) {
    double overlap = 0;
    std::vector<std::size_t> to;
    if ((h.warp.shift - best.warp.shift).norm() > 0.3 * radius) continue;
    if (&h != &best && NamesDiffer(plane, best.warp, h.warp, overlap, to) &&
        !Interchanges(plane, groups, to)) {
      others.push_back(Rescaled(h.warp, reduction));
    }
  }
  const Traced traced = TracedAbout(work, fine, search, plane, best, detail);
  Pose pose = Finished(traced.best, traced.outline, reduction);
  pose.interchangeable = groups;
  pose.others = std::move(others);
  return pose;
}

}  // namespace cutface
