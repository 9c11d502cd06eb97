#include "identify/layers.h"

#include <fmt/format.h>

#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/closed_path.h"
#include "identify/raster.h"
#include "identify/ribbon.h"

namespace cutface {
namespace {

constexpr double kBoreMargin_px = 3;  // of the full picture, beyond a drawn bore or liner
constexpr double kEdgeBand_px = 1.8;  // of work: mixed tones along a ring's edge
constexpr double kThicknessScales[] = {0.7, 0.82, 0.91, 1.0, 1.1, 1.2, 1.35};
constexpr double kWidest = 1.35;
constexpr double kExplained = 0.04;  // of the square that a liner of its tone would explain
constexpr double kLinerNoise = 0.3;  // of the body's noise: medians along the whole liner
constexpr double kOwnTone = 0.15;  // of the step from lumen to body: a liner must differ from both
constexpr int kLinerTones = 18;
// Of the step between lumen and body, relative tone, or of that of a faint one: what one pixel may
// be off.
constexpr double kClipShare = 0.6, kLeastClip = 0.25;
constexpr double kSoft_px = 1;  // beside a border: what its blur mixes

ContourPx ToWork(const ContourPx& full, int reduction) {
  ContourPx out;
  out.reserve(full.size());
  for (PointPx p : full)
    out.push_back({(p.x + 0.5) / reduction - 0.5, (p.y + 0.5) / reduction - 0.5});
  return out;
}

// Tones of a ribbon relative to the light.
void DivideByLight(const LightField& light, Ribbon& ribbon) {
  for (int i = 0; i < ribbon.tone.rows; ++i) {
    for (int j = 0; j < ribbon.tone.cols; ++j) {
      const PointPx p = ribbon.At(i, ribbon.Offset(j));
      ribbon.tone(i, j) /= static_cast<float>(light.At(p.x, p.y));
    }
  }
}

// Pixels of the zones between neighbouring traced rings become 1 on the average.
void EvenOut(const std::vector<RingPath>& paths, int reduction, const Pose& pose,
             const SectionDesign& plane, FaceTones& tones) {
  cv::Mat zone(tones.fine.size(), CV_16SC1, cv::Scalar(-1));
  FillContour(zone, ToWork(pose.outline, reduction), 0);
  cv::Mat edges(tones.fine.size(), CV_8UC1, cv::Scalar(255));
  short count = 0;
  for (const RingPath& path : paths) {
    if (path.contour.empty()) continue;
    const ContourPx work = ToWork(path.contour, reduction);
    FillContour(zone, work, ++count);
    std::vector<cv::Point> line;
    for (PointPx p : work)
      line.emplace_back(static_cast<int>(std::lround(p.x)), static_cast<int>(std::lround(p.y)));
    cv::polylines(edges, std::vector<std::vector<cv::Point>>{line}, true, cv::Scalar(0));
  }
  if (count == 0) return;
  cv::Mat1f near;
  cv::distanceTransform(edges, near, cv::DIST_L2, 3);
  const cv::Mat1s zones = zone;
  std::vector<std::vector<double>> seen(static_cast<std::size_t>(count) + 1);
  for (int y = 0; y < zones.rows; y += 2) {
    for (int x = 0; x < zones.cols; x += 2) {
      if (zones(y, x) >= 0 && tones.nominal(y, x) == 0 && near(y, x) > 2 * kEdgeBand_px)
        seen[static_cast<std::size_t>(zones(y, x))].push_back(tones.fine(y, x));
    }
  }
  std::vector<double> tone;
  for (auto& values : seen) tone.push_back(values.size() < 50 ? 1.0 : Median(std::move(values)));
  tones.skin = tone.front();
  const double core = tone.back();
  for (cv::Mat1f* picture : {&tones.relative, &tones.fine}) {
    for (int y = 0; y < zones.rows; ++y) {
      for (int x = 0; x < zones.cols; ++x) {
        const short z = zones(y, x);
        if (z < 0) continue;
        float& t = (*picture)(y, x);
        // Along an edge the tones are mixed: whatever lies between the two is body.
        const double own = tone[static_cast<std::size_t>(z)] / core;
        const double low =
            std::min({own, tone[static_cast<std::size_t>(std::max(0, z - 1))] / core,
                      tone[static_cast<std::size_t>(std::min<int>(count, z + 1))] / core});
        const double high =
            std::max({own, tone[static_cast<std::size_t>(std::max(0, z - 1))] / core,
                      tone[static_cast<std::size_t>(std::min<int>(count, z + 1))] / core});
        const double slack = 3 * tones.fine_noise;
        if (near(y, x) < kEdgeBand_px && t > low - slack && t < high + slack) {
          t = 1;
        } else if (z != count) {
          t = static_cast<float>(t / std::max(0.05, own));
        }
      }
    }
  }
  (void)plane;
}

// Lumen, liner, body along the normals of one contour.
class PairSearch {
 public:
  // `widest`: thickest liner, px.
  PairSearch(const Ribbon& ribbon, double lumen, double body, double window, double widest)
      : ribbon_(ribbon), lumen_(lumen), body_(body) {
    window_ = std::max(3, static_cast<int>(std::lround(window / ribbon.step)));
    soft_ = static_cast<int>(std::lround(kSoft_px / ribbon.step));
    stretch_ = 2 * window_ + static_cast<int>(std::lround(widest / ribbon.step));
    clip_ =
        static_cast<float>(std::pow(kClipShare * std::max(kLeastClip, std::abs(lumen - body)), 2));
    Cumulate(lumen_, of_lumen_);
    Cumulate(body_, of_body_);
  }

  // A difference of costs as a sum of squares over the columns of a place.
  double Sum(double cost) const { return cost * clip_ * stretch_; }
  // The most that one place can say, as a square of tones.
  double Clip() const { return clip_; }

  struct Path {
    std::vector<int> column;  // of the bore
    double cost = 1e9;
    int thickness = 0;  // columns
  };

  // Of a liner of tone `liner` and `thickness` columns; 0: of a bare bore.
  Path Best(double liner, int thickness, int max_step) {
    if (thickness > 0) Cumulate(liner, of_liner_);
    // The same stretch of tones is explained by every thickness, or thin ones would win.
    const int beyond = std::max(window_, stretch_ - window_ - thickness);
    const int columns = ribbon_.tone.cols, from = window_, to = columns - beyond - thickness;
    Path path;
    if (to - from < 3) return path;
    cv::Mat1f cost(ribbon_.tone.rows, to - from);
    // Tones are mixed along a border: as many columns say nothing whatever is supposed.
    const int soft = thickness > 0 ? std::min(soft_, (thickness - 1) / 2) : 2 * soft_;
    const int counted = window_ + thickness + beyond - (thickness > 0 ? 4 : 2) * soft;
    const float norm = 1 / (clip_ * static_cast<float>(counted));
    for (int i = 0; i < cost.rows; ++i) {
      const float *l = of_lumen_.ptr<float>(i), *b = of_body_.ptr<float>(i);
      const float* m = thickness > 0 ? of_liner_.ptr<float>(i) : b;
      for (int j = from; j < to; ++j) {
        float sum =
            l[j - soft] - l[j - window_] + b[j + thickness + beyond] - b[j + thickness + soft];
        if (thickness > 0) sum += m[j + thickness - soft] - m[j + soft];
        cost(i, j - from) = sum * norm;
      }
    }
    path.column = CheapestClosedPath(cost, {max_step, 0.01f});
    path.cost = 0;
    for (int i = 0; i < cost.rows; ++i) {
      path.cost +=
          cost(i, path.column[static_cast<std::size_t>(i)]) / static_cast<float>(cost.rows);
      path.column[static_cast<std::size_t>(i)] += from;
    }
    path.thickness = thickness;
    return path;
  }

 private:
  void Cumulate(double tone, cv::Mat1f& sums) const {
    sums.create(ribbon_.tone.rows, ribbon_.tone.cols + 1);
    for (int i = 0; i < ribbon_.tone.rows; ++i) {
      sums(i, 0) = 0;
      for (int j = 0; j < ribbon_.tone.cols; ++j) {
        const float r = ribbon_.tone(i, j) - static_cast<float>(tone);
        sums(i, j + 1) = sums(i, j) + std::min(r * r, clip_);
      }
    }
  }

  const Ribbon& ribbon_;
  double lumen_, body_;
  int window_ = 3, stretch_ = 6, soft_ = 0;
  float clip_ = 1;
  cv::Mat1f of_lumen_, of_body_, of_liner_;
};

struct LinerGuess {
  double tone = 1, thickness_px = 0;
  bool told = false;
};

LinerPath TraceLiner(const Micrograph& micrograph, const FaceTones& tones, std::size_t index,
                     const LumenDesign& lumen, double um_per_px, const CoarseLumen& coarse) {
  LinerPath path;
  path.lumen = index;
  const double thickness = *lumen.liner_thickness_um / um_per_px;
  const double window = std::clamp(0.7 * thickness, 4.0, 14.0);
  const double reach = 1.5 * thickness + 5;
  const double step = thickness < 12 ? 0.5 : 1.0;
  const double perimeter = Perimeter(std::span<const PointPx>(coarse.contour));
  const auto unrolled = [&](int places) {
    Ribbon ribbon = Unroll(micrograph, coarse.contour, places, reach + window,
                           reach + window + kWidest * thickness, step);
    DivideByLight(tones.light, ribbon);
    return ribbon;
  };
  const double open = 1 + coarse.step;
  LinerGuess guess;
  {
    const Ribbon ribbon = unrolled(std::clamp(static_cast<int>(perimeter / 6), 60, 160));
    PairSearch search(ribbon, open, 1.0, window, kWidest * thickness);
    const double bare = search.Best(1, 0, 3).cost;
    double best = bare;
    const double low = std::max(0.0, std::min(open, 1.0) - 0.5), high = std::max(open, 1.0) + 0.7;
    for (int k = 0; k <= kLinerTones; ++k) {
      const double tone = low + (high - low) * k / kLinerTones;
      if (std::abs(tone - open) < kOwnTone * std::abs(1 - open) || std::abs(tone - 1) < 0.025)
        continue;
      for (double scale : kThicknessScales) {
        const int columns = std::max(1, static_cast<int>(std::lround(scale * thickness / step)));
        const double cost = search.Best(tone, columns, 3).cost;
        if (cost < best) {
          best = cost;
          guess = {tone, columns * step, 1};
        }
      }
    }
    // Mean square that the liner's own tone explains, against what it should; where lumen and body
    // are nearly alike the clip is small, and no more than it can be explained.
    const double apart = std::min(std::abs(guess.tone - 1), std::abs(guess.tone - open));
    const double explained = search.Sum(bare - best) * step / std::max(1.0, guess.thickness_px);
    guess.told = explained > kExplained * std::min(apart * apart, search.Clip()) &&
                 explained > std::pow(kLinerNoise * tones.fine_noise, 2);
  }
  if (guess.thickness_px <= 0 || !guess.told) {
    path.why =
        fmt::format("no tone step to be seen between liner, lumen and body of {}", lumen.name);
    return path;
  }
  const Ribbon ribbon = unrolled(std::clamp(static_cast<int>(perimeter / 2), 60, 900));
  PairSearch search(ribbon, open, 1.0, window, kWidest * thickness);
  const int columns = std::max(1, static_cast<int>(std::lround(guess.thickness_px / step)));
  const PairSearch::Path found = search.Best(guess.tone, columns, 1);
  for (std::size_t i = 0; i < found.column.size(); ++i) {
    // A border between two columns lies half a column before the later one.
    const double at = ribbon.Offset(found.column[i] - 0.5);
    path.bore.push_back(ribbon.At(static_cast<int>(i), at));
    path.outer.push_back(ribbon.At(static_cast<int>(i), at + guess.thickness_px));
  }
  path.bore_step = guess.tone - open;
  path.outer_step = guess.tone - 1;
  return path;
}

double ShareNear(const ContourPx& contour, const ContourPx& line, double near_px) {
  if (contour.empty() || line.empty()) return 0;
  const ContourIndex<FramePx> index{std::span<const PointPx>(line)};
  std::size_t near = 0;
  for (PointPx p : contour) near += index.NearestTo(p, near_px).has_value() ? 1 : 0;
  return static_cast<double>(near) / static_cast<double>(contour.size());
}

double ShareWithin(const ContourPx& contour, const ContourPx& area) {
  if (contour.empty() || area.empty()) return 0;
  const ContourIndex<FramePx> index{std::span<const PointPx>(area)};
  std::size_t within = 0;
  for (PointPx p : contour) within += index.Holds(p) ? 1 : 0;
  return static_cast<double>(within) / static_cast<double>(contour.size());
}

}  // namespace

ContourUm Offset(const ContourUm& contour, double distance_um) {
  const ContourUm normals = OutwardNormals(std::span<const PointUm>(contour));
  ContourUm out;
  for (std::size_t i = 0; i < contour.size(); ++i)
    out.push_back(contour[i] + distance_um * normals[i]);
  return out;
}

cv::Mat1b CoreMask(cv::Size size, int reduction, const Pose& pose, const SectionDesign& plane) {
  cv::Mat core(size, CV_8UC1, cv::Scalar(255));
  if (!plane.rings.empty()) {
    core.setTo(0);
    FillContour(core, ToWork(pose.warp(plane.rings.back().inner.contour), reduction), 255);
  }
  for (const LumenDesign& lumen : plane.lumens) {
    if (!lumen.liner_thickness_um) continue;
    const ContourUm outer = Offset(lumen.shape.contour, *lumen.liner_thickness_um);
    FillContour(core, ToWork(pose.warp(outer), reduction), 0);
  }
  return core;
}

const LinerPath* LayerPlan::LinerOf(const CoarseLumen& lumen) const {
  if (lumen.lumens.size() != 1) return nullptr;
  for (const LinerPath& liner : liners) {
    if (static_cast<int>(liner.lumen) == lumen.lumens.front() && !liner.outer.empty())
      return &liner;
  }
  return nullptr;
}

void LayerPlan::AddInputs(std::vector<EdgeInput>& inputs) {
  first_input = inputs.size();
  for (const LinerPath& liner : liners) {
    if (liner.outer.empty()) continue;
    EdgeInput input;
    input.start = liner.outer;
    input.polymer_outside = false;
    input.expected_step = liner.outer_step;
    input.inner_boundary = true;
    inputs.push_back(std::move(input));
  }
  for (const RingPath& ring : rings) {
    if (ring.contour.empty()) continue;
    EdgeInput input;
    input.start = ring.contour;
    input.expected_step = ring.step;
    input.inner_boundary = true;
    input.fixed = true;
    inputs.push_back(std::move(input));
  }
}

namespace {

// Second moments of area about the centroid over area, px^2.
Eigen::Matrix2d Moments(const ContourPx& contour) {
  const PointPx c = Centroid(std::span<const PointPx>(contour));
  double area = 0, xx = 0, xy = 0, yy = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const PointPx a = contour[i] - c, b = contour[(i + 1) % contour.size()] - c;
    const double cross = Cross(a, b);
    area += cross / 2;
    xx += cross * (a.x * a.x + a.x * b.x + b.x * b.x) / 12;
    yy += cross * (a.y * a.y + a.y * b.y + b.y * b.y) / 12;
    xy += cross * (a.x * b.y + 2 * a.x * a.y + 2 * b.x * b.y + b.x * a.y) / 24;
  }
  Eigen::Matrix2d m;
  m << xx, xy, xy, yy;
  return m / area;
}

// Symmetric root of a positive matrix (Cayley-Hamilton).
Eigen::Matrix2d Root(const Eigen::Matrix2d& m) {
  const double root = std::sqrt(std::max(0.0, m.determinant()));
  return (m + root * Eigen::Matrix2d::Identity()) / std::sqrt(m.trace() + 2 * root);
}

// Rings go with the outline, not with the lumens that the registration fits: the same map, moved
// and stretched until it brings the drawn outline onto the traced one.
Warp OutlineWarp(const Pose& pose, const SectionDesign& plane) {
  const bool whole = std::all_of(pose.outline_visible.begin(), pose.outline_visible.end(),
                                 [](char seen) { return seen != 0; });
  if (!whole || pose.outline.size() < 12) return pose.warp;
  const ContourPx drawn = pose.warp(plane.outline.contour);
  const Eigen::Matrix2d stretch = Root(Moments(pose.outline)) * Root(Moments(drawn)).inverse();
  Warp warp = pose.warp;
  warp.linear = stretch * pose.warp.linear;
  const PointPx at = Centroid(std::span<const PointPx>(pose.outline)),
                from = Centroid(std::span<const PointPx>(warp(plane.outline.contour)));
  warp.shift += Eigen::Vector2d(at.x - from.x, at.y - from.y);
  return warp;
}

// Where the drawing has bores and liners: no ring's edge is looked for there.
cv::Mat1b HiddenMask(cv::Size size, int reduction, const Pose& pose, const SectionDesign& plane,
                     double um_per_px) {
  cv::Mat hidden(size, CV_8UC1, cv::Scalar(0));
  for (const LumenDesign& lumen : plane.lumens) {
    const double wall = lumen.liner_thickness_um.value_or(0) + kBoreMargin_px * um_per_px;
    FillContour(hidden, ToWork(pose.warp(Offset(lumen.shape.contour, wall)), reduction), 255);
  }
  return hidden;
}

}  // namespace

std::vector<RingPath> TraceRings(const Micrograph& micrograph, const Pose& pose,
                                 const SectionDesign& plane, double um_per_px, FaceTones& tones) {
  std::vector<RingPath> paths;
  if (plane.rings.empty()) return paths;
  const auto radius_px = [&](const ContourUm& contour) {
    return std::sqrt(Area(std::span<const PointUm>(contour)) / M_PI) / um_per_px;
  };
  std::vector<SeamInput> inputs;
  const Warp warp = OutlineWarp(pose, plane);
  double outer = radius_px(plane.outline.contour);
  for (const RingDesign& ring : plane.rings) {
    const double own = radius_px(ring.inner.contour);
    inputs.push_back({warp(ring.inner.contour), outer - own, "the inner edge of " + ring.name});
    outer = own;
  }
  const cv::Mat1b hidden =
      HiddenMask(tones.fine.size(), micrograph.reduction, pose, plane, um_per_px);
  std::vector<Seam> seams = TraceSeams(micrograph, tones, pose.outline, hidden, inputs);
  for (std::size_t k = 0; k < seams.size(); ++k) {
    RingPath path;
    path.ring = k;
    path.drawn = inputs[k].drawn;
    path.contour = seams[k].Points();
    path.step = seams[k].step;
    path.why = seams[k].why;
    path.seam = std::move(seams[k]);
    paths.push_back(std::move(path));
  }
  if (!paths.empty()) EvenOut(paths, micrograph.reduction, pose, plane, tones);
  return paths;
}

std::vector<LinerPath> TraceLiners(const Micrograph& micrograph, const FaceTones& tones,
                                   const SectionDesign& plane, double um_per_px,
                                   const Regions& regions) {
  std::vector<LinerPath> paths;
  for (std::size_t k = 0; k < plane.lumens.size(); ++k) {
    const LumenDesign& design = plane.lumens[k];
    if (!design.liner_thickness_um) continue;
    LinerPath path;
    path.lumen = k;
    path.why = fmt::format("lumen {} was not found by itself", design.name);
    for (const CoarseLumen& lumen : regions.lumens) {
      if (lumen.lumens.size() == 1 && lumen.lumens.front() == static_cast<int>(k))
        path = TraceLiner(micrograph, tones, k, design, um_per_px, lumen);
    }
    paths.push_back(std::move(path));
  }
  return paths;
}

void DropLayerVoids(const std::vector<RingPath>& rings, const std::vector<LinerPath>& liners,
                    double near_px, Regions& regions) {
  std::erase_if(regions.voids, [&](const CoarseVoid& v) {
    for (const RingPath& ring : rings) {
      if (ShareNear(v.contour, ring.contour, near_px) > 0.8) return true;
    }
    for (const LinerPath& liner : liners) {
      if (ShareWithin(v.contour, liner.outer) > 0.5) return true;
      if (ShareNear(v.contour, liner.outer, near_px) > 0.8) return true;
    }
    return false;
  });
}

}  // namespace cutface
