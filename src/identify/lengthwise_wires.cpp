#include "identify/lengthwise_wires.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/raster.h"
#include "identify/repaint.h"

namespace cutface {
namespace {

constexpr int kRays = 72;
constexpr double kRayStep_px = 0.25;
constexpr double kBreadth_px = 0.8;      // across a ray, to both sides
constexpr double kWindow_px = 2;         // of an edge, to both sides
constexpr double kLeastContrast = 0.06;  // relative tone, metal against body
constexpr double kLeastNoises = 8;       // of the contrast
constexpr double kMetalShare = 0.93;     // quantile of tones along a row that is metal's
constexpr double kEdge_px = 3;           // of the wall: tones there are mixed
constexpr double kEndsInBody = 0.35;     // of the contrast: what a ray may be off the body's tone
constexpr double kBeyondBody = 0.12;     // of the contrast, on the other side of the body's tone
constexpr double kLeastSeen = 0.5;       // of the rays of a wire
constexpr double kLikeWires = 0.25;      // of the others' area: a wire that lies loose in a bore
constexpr double kLooseReach = 1.5;      // of a wire's size, from the wall: likewise
constexpr double kBoreLikeMetal = 0.7;   // share of metal: no wire is told in such a bore
constexpr double kBoreLikeBody = 0.2;    // share of metal: rays that end there need no other level
constexpr double kTouchingReach = 1.1;   // of the others' greatest radius: beyond is another wire
constexpr double kLikeTone = 0.12;       // of the others' contrast, likewise
constexpr double kLeastArea = 0.3, kMostArea = 2.4;  // of the drawn wire's, one blob
constexpr double kOneArea = 1.5;                     // above: may be two wires
constexpr double kOwnLevel = 0.6;                // of the contrast that a wire's middle must show
constexpr double kPaintMargin_px = 3;            // beyond half level: an edge's blur
constexpr double kLevels[] = {0.5, 0.68, 0.82};  // of the contrast: wires that run together part

// The part of the picture that holds the wall, as the share of metal: 0 body, 1 metal.
struct Wall {
  cv::Rect roi;
  cv::Mat1f metal;
  cv::Mat1b inside;
  std::vector<double> bright_bores;  // shares of metal that bores show, not near the body's
  PointPx origin() const { return {static_cast<double>(roi.x), static_cast<double>(roi.y)}; }
};

bool Within(const Micrograph& m, PointPx p) {
  return p.x >= 2 && p.y >= 2 && p.x <= m.width() - 3 && p.y <= m.height() - 3;
}

void Fill(cv::Mat1b& mask, const ContourPx& contour, PointPx origin, unsigned char value) {
  std::vector<cv::Point> points;
  for (PointPx p : contour) {
    points.emplace_back(static_cast<int>(std::lround((p.x - origin.x) * 16)),
                        static_cast<int>(std::lround((p.y - origin.y) * 16)));
  }
  cv::fillPoly(mask, std::vector<std::vector<cv::Point>>{points}, cv::Scalar(value), cv::LINE_8, 4);
}

// The wall with its tones; levels come later.
Wall WallOf(const Micrograph& micrograph, const LightField& light, const WallSearch& search) {
  Wall wall;
  const Box<FramePx> box = BoundingBox(*search.outline);
  const int x0 = std::clamp(static_cast<int>(box.least.x) - 2, 0, micrograph.width() - 1);
  const int y0 = std::clamp(static_cast<int>(box.least.y) - 2, 0, micrograph.height() - 1);
  const int x1 = std::clamp(static_cast<int>(box.greatest.x) + 3, x0 + 1, micrograph.width());
  const int y1 = std::clamp(static_cast<int>(box.greatest.y) + 3, y0 + 1, micrograph.height());
  wall.roi = cv::Rect(x0, y0, x1 - x0, y1 - y0);
  wall.inside = cv::Mat1b::zeros(wall.roi.size());
  Fill(wall.inside, *search.outline, wall.origin(), 1);
  for (const ContourPx* bore : search.bores) Fill(wall.inside, *bore, wall.origin(), 0);
  wall.metal = cv::Mat1f::zeros(wall.roi.size());
  for (int y = 0; y < wall.roi.height; ++y) {
    for (int x = 0; x < wall.roi.width; ++x) {
      if (wall.inside(y, x))
        wall.metal(y, x) =
            static_cast<float>(micrograph.At(x0 + x, y0 + y) / light.At(x0 + x, y0 + y));
    }
  }
  return wall;
}

// Adds what lies in one bore beside the wall, where turns that came away would lie. True where it
// did; where the bore
// itself shows some of the metal's tone, as the share of what metal shows beyond that. Nothing is
// added of a bore that is nearly as bright or dark as metal.
bool AddBesideWall(const Micrograph& micrograph, const LightField& light, const ContourPx& contour,
                   const cv::Mat1b& near_wall, double level, Wall& wall) {
  cv::Mat1b beside(wall.inside.size(), uchar{0});
  Fill(beside, contour, wall.origin(), 1);
  beside &= near_wall;
  cv::Mat1f metal(wall.metal.size(), 0.0f);
  std::vector<double> shares;
  for (int y = 0; y < metal.rows; ++y) {
    for (int x = 0; x < metal.cols; ++x) {
      if (!beside(y, x)) continue;
      const int px = wall.roi.x + x, py = wall.roi.y + y;
      metal(y, x) =
          static_cast<float>((micrograph.At(px, py) / light.At(px, py) - 1) / (level - 1));
      shares.push_back(metal(y, x));
    }
  }
  if (shares.empty()) return false;
  const double bore = Median(std::move(shares));
  if (bore > kBoreLikeMetal) return false;
  if (bore > kBoreLikeBody) {
    wall.bright_bores.push_back(bore);
    const auto share = static_cast<float>(bore);
    metal = (metal - share) / (1 - share);
  }
  metal.copyTo(wall.metal, beside);
  wall.inside |= beside;
  return true;
}

bool AddBesideWall(const Micrograph& micrograph, const LightField& light, const WallSearch& search,
                   double level, Wall& wall) {
  const int reach = 2 * static_cast<int>(kLooseReach * search.across_px) + 1;
  cv::Mat1b near_wall;
  cv::dilate(wall.inside, near_wall, cv::getStructuringElement(cv::MORPH_ELLIPSE, {reach, reach}));
  bool any = false;
  for (const ContourPx* bore : search.bores)
    any = AddBesideWall(micrograph, light, *bore, near_wall, level, wall) || any;
  return any;
}

// What most of the metal shows: of all lines along the walls the one whose tones lie furthest off
// the body's, on either side. Then tones become shares of metal.
bool FindLevel(const WallSearch& search, Wall& wall, WallMetal& out) {
  cv::Mat1b deep;
  cv::erode(wall.inside, deep, cv::Mat(), cv::Point(-1, -1),
            static_cast<int>(kEdge_px + 0.25 * search.across_px));
  out.level = 1;
  for (const std::vector<PointPx>& line : search.lines) {
    std::vector<double> tones;
    for (PointPx p : line) {
      const cv::Point at(static_cast<int>(std::lround(p.x)) - wall.roi.x,
                         static_cast<int>(std::lround(p.y)) - wall.roi.y);
      if (at.x < 0 || at.y < 0 || at.x >= deep.cols || at.y >= deep.rows) continue;
      if (deep(at)) tones.push_back(wall.metal(at));
    }
    if (2 * tones.size() < line.size()) continue;
    const double high = Quantile(tones, kMetalShare), low = Quantile(tones, 1 - kMetalShare);
    for (double level : {high, low}) {
      if (std::abs(level - 1) > std::abs(out.level - 1)) out.level = level;
    }
  }
  out.bright = out.level > 1;
  const double least = std::max(kLeastContrast, kLeastNoises * search.noise);
  if (std::abs(out.level - 1) < least) {
    out.why = "nothing in the wall differs clearly from the body where wires are drawn";
    return false;
  }
  for (int y = 0; y < wall.metal.rows; ++y) {
    for (int x = 0; x < wall.metal.cols; ++x) {
      if (wall.inside(y, x))
        wall.metal(y, x) = static_cast<float>((wall.metal(y, x) - 1) / (out.level - 1));
    }
  }
  return true;
}

// Parts what no level parts: the deepest places of a blob, none nearer than most of a wire.
void DeepestPlaces(const cv::Mat1b& part, PointPx origin, double apart, std::vector<PointPx>& out) {
  cv::Mat1b where;
  cv::copyMakeBorder(part, where, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
  cv::Mat1f depth;
  cv::distanceTransform(where, depth, cv::DIST_L2, 5);
  double most = 0;
  cv::minMaxLoc(depth, nullptr, &most);
  cv::Mat1b left = where.clone();
  for (int k = 0; k < 40; ++k) {
    double here = 0;
    cv::Point at;
    cv::minMaxLoc(depth, nullptr, &here, nullptr, &at, left);
    if (here < 0.6 * most || here < 1.5) return;
    out.push_back(PointPx{at.x - 1.0, at.y - 1.0} + origin);
    cv::circle(left, at, static_cast<int>(apart), cv::Scalar(0), cv::FILLED);
  }
}

// Middles of the blobs above a share of metal; what may be several wires is looked at again at the
// next higher share, and parted at its deepest places.
void Proposals(const cv::Mat1f& metal, const cv::Mat1b& where, PointPx origin, std::size_t k,
               double area, std::vector<PointPx>& out) {
  const double apart = 2 * std::sqrt(area / kPi);
  const cv::Mat1b above((metal >= kLevels[k]) & (where > 0));
  cv::Mat1i labels;
  cv::Mat stats;
  cv::Mat1d centroids;
  const int n = cv::connectedComponentsWithStats(above, labels, stats, centroids, 4);
  for (int i = 1; i < n; ++i) {
    const double size = stats.at<int>(i, cv::CC_STAT_AREA);
    if (size < (k == 0 ? kLeastArea : 0.5 * kLeastArea) * area || size > 60 * area) continue;
    if (size > kOneArea * area) {
      const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                         stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
      const cv::Mat1b part(labels(box) == i);
      const PointPx corner = origin + PointPx{1.0 * box.x, 1.0 * box.y};
      if (k + 1 < std::size(kLevels)) Proposals(metal(box), part, corner, k + 1, area, out);
      DeepestPlaces(part, corner, 0.7 * apart, out);
    }
    if (size <= kMostArea * area) out.push_back(PointPx{centroids(i, 0), centroids(i, 1)} + origin);
  }
}

// Two wires that were traced as one, and what lies loose in a bore and is not like the wires.
void DropUnlike(std::vector<CutWire>& wires) {
  std::vector<double> areas, tones;
  for (const CutWire& wire : wires) {
    if (wire.Loose()) continue;
    areas.push_back(Area(wire.edge));
    tones.push_back(wire.tone);
  }
  const bool known = areas.size() >= 5;
  const double area = known ? Median(std::move(areas)) : 0;
  const double tone = known ? Median(std::move(tones)) : 1;
  std::erase_if(wires, [&](const CutWire& wire) {
    if (!known) return wire.Loose();
    if (!wire.Loose()) return Area(wire.edge) > kOneArea * area;
    return std::abs(Area(wire.edge) - area) > kLikeWires * area ||
           std::abs(wire.tone - tone) > kLikeTone * std::abs(tone - 1);
  });
}

class Tracer {
 public:
  Tracer(const Micrograph& micrograph, const LightField& light, const WallSearch& search,
         const WallMetal& metal, const std::vector<double>& bright_bores)
      : micrograph_(micrograph),
        light_(light),
        search_(search),
        contrast_(metal.level - 1),
        rest_(std::max(2.0, 0.12 * search.across_px)),
        bright_bores_(bright_bores) {}

  double FarthestEdge() const { return 0.85 * std::max(search_.along_px, search_.across_px) + 4; }

  // False when it is no wire: too few edges, too little contrast, another size. An edge farther
  // from the middle than `most` is another wire's.
  bool Trace(PointPx start, double most, CutWire& wire) const {
    wire.centre = start;
    for (int round = 0; round < 3; ++round) {
      if (!Rays(most, wire)) return false;
      const PointPx moved = Middle(wire);
      if (Distance(moved, wire.centre) > search_.along_px) return false;
      const bool done = Distance(moved, wire.centre) < 0.02;
      wire.centre = moved;
      if (done) break;
    }
    if (!Rays(most, wire)) return false;
    const double area = Area(wire.edge);
    const double drawn = kPi / 4 * search_.across_px * search_.along_px;
    return area > kLeastArea * drawn && area < kMostArea * drawn;
  }

 private:
  double MiddleTone(PointPx at) const {
    const double r = 0.25 * search_.across_px;
    std::vector<double> tones{RelativeTone(micrograph_, light_, at)};
    for (int k = 0; k < 12; ++k) {
      const PointPx p = at + PointPx{r * std::cos(kPi * k / 6), r * std::sin(kPi * k / 6)};
      if (Within(micrograph_, p)) tones.push_back(RelativeTone(micrograph_, light_, p));
    }
    return Median(std::move(tones));
  }

  // Mean over a little breadth across the ray: half the noise of one place.
  double Tone(PointPx p, PointPx way) const {
    const PointPx aside{-kBreadth_px * way.y, kBreadth_px * way.x};
    return (RelativeTone(micrograph_, light_, p) + RelativeTone(micrograph_, light_, p + aside) +
            RelativeTone(micrograph_, light_, p - aside)) /
           3;
  }

  struct Edge {
    double at = 0;
    bool bore = false;  // the metal lies bare in a bore there
  };

  // Where the ray falls to half between the wire's tone and the body's, or a bore's that it ends
  // in; nothing where it ends in neither.
  std::optional<Edge> Crossing(PointPx from, PointPx way, double middle, double most) const {
    for (const double bore : bright_bores_) {
      if (const auto bare = BareInBright(from, way, middle, bore * contrast_ / (middle - 1), most))
        return bare;
    }
    const double sign = contrast_ > 0 ? 1 : -1, half = 1 + 0.5 * (middle - 1);
    double before = sign * (Tone(from, way) - half);
    std::optional<double> at;
    double ends = 1e9, beyond = 0;
    std::vector<double> share;
    for (double r = kRayStep_px; r < most + rest_ + kWindow_px; r += kRayStep_px) {
      const PointPx p = from + r * way;
      if (!Within(micrograph_, p)) break;
      const double tone = Tone(p, way);
      share.push_back((tone - 1) / (middle - 1));
      const double now = sign * (tone - half);
      if (!at && now <= 0) {
        if (r > most) return std::nullopt;
        at = r - kRayStep_px * now / (now - before);
      }
      if (at) {
        ends = std::min(ends, std::abs(tone - 1));
        beyond = std::min(beyond, share.back());
        if (r > *at + rest_ + 1) break;
      }
      before = now;
    }
    // From metal into a bore the tone only passes the body's.
    const double most_beyond = std::max(kBeyondBody, 5 * search_.noise / std::abs(middle - 1));
    if (at && beyond < -most_beyond) return Bare(share, beyond, most);
    if (!at || ends > kEndsInBody * std::abs(contrast_)) return std::nullopt;
    return Edge{Refined(*at, share), false};
  }

  // The edge of a ray that ends in a bore between body and metal: `bore` is its share of the wire.
  std::optional<Edge> BareInBright(PointPx from, PointPx way, double middle, double bore,
                                   double most) const {
    std::vector<double> share, ends;
    std::optional<Edge> edge;
    for (double r = kRayStep_px; r < most + rest_ + kWindow_px; r += kRayStep_px) {
      const PointPx p = from + r * way;
      if (!Within(micrograph_, p)) return std::nullopt;
      share.push_back((Tone(p, way) - 1) / (middle - 1));
      if (!edge) edge = Bare(share, bore, most);
      if (!edge) continue;
      if (r > edge->at + rest_) ends.push_back(share.back());
      if (r > edge->at + rest_ + kWindow_px) break;
    }
    if (ends.empty()) return std::nullopt;
    const double end = Median(std::move(ends));
    if (std::abs(end - bore) > 0.5 * std::min(bore, 1 - bore)) return std::nullopt;
    return edge;
  }

  // Half way from metal down to what the bore holds.
  static std::optional<Edge> Bare(const std::vector<double>& share, double bore, double most) {
    const double half = 0.5 * (1 + bore);
    double before = share.empty() ? 1 : share.front();
    for (std::size_t k = 0; k < share.size(); ++k) {
      const double r = kRayStep_px * static_cast<double>(k + 1);
      if (r > most) break;
      if (share[k] <= half && before > half)
        return Edge{r - kRayStep_px * (half - share[k]) / (before - share[k]), true};
      before = share[k];
    }
    return std::nullopt;
  }

  // Half level as the middle of the whole edge: what the share of metal adds up to about it. One
  // crossing alone follows the noise.
  static double Refined(double at, const std::vector<double>& share) {
    double sum = 0;
    int n = 0;
    for (std::size_t k = 0; k < share.size(); ++k) {
      const double r = kRayStep_px * static_cast<double>(k + 1);
      if (std::abs(r - at) > kWindow_px) continue;
      // A sample stands for one step of the ray, which the crossing may part.
      sum += share[k] - std::clamp((at - r) / kRayStep_px + 0.5, 0.0, 1.0);
      ++n;
    }
    if (n < static_cast<int>(1.9 * kWindow_px / kRayStep_px)) return at;
    return at + std::clamp(sum * kRayStep_px, -0.5 * kWindow_px, 0.5 * kWindow_px);
  }

  bool Rays(double most, CutWire& wire) const {
    if (!Within(micrograph_, wire.centre)) return false;
    wire.tone = MiddleTone(wire.centre);
    if ((wire.tone - 1) / contrast_ < kOwnLevel) return false;
    wire.edge.assign(kRays, {});
    wire.seen.assign(kRays, 0);
    std::vector<double> radius(kRays, 0);
    ContourPx known;
    std::size_t in_body = 0;
    for (int k = 0; k < kRays; ++k) {
      const PointPx way{std::cos(2 * kPi * k / kRays), std::sin(2 * kPi * k / kRays)};
      const auto r = Crossing(wire.centre, way, wire.tone, most);
      const auto i = static_cast<std::size_t>(k);
      if (!r) continue;
      wire.edge[i] = wire.centre + r->at * way;
      known.push_back(wire.edge[i]);
      if (r->bore) continue;
      wire.seen[i] = 1;
      radius[i] = r->at;
      ++in_body;
    }
    wire.seen_share = static_cast<double>(in_body) / kRays;
    wire.bare_share = static_cast<double>(known.size() - in_body) / kRays;
    if (static_cast<double>(known.size()) < kLeastSeen * kRays) return false;
    SetSigma(radius, wire);
    return wire.Whole() || FillIn(known, wire);
  }

  // Roughness of the edge: second differences of radii so far apart that they share few pixels.
  static void SetSigma(const std::vector<double>& radius, CutWire& wire) {
    constexpr std::size_t kApart = 4;
    double sum = 0;
    int n = 0;
    for (std::size_t i = 0; i < radius.size(); ++i) {
      const std::size_t a = (i + kRays - kApart) % kRays, b = (i + kApart) % kRays;
      if (!wire.seen[a] || !wire.seen[i] || !wire.seen[b]) continue;
      const double d = radius[a] - 2 * radius[i] + radius[b];
      sum += d * d / 6;
      ++n;
    }
    wire.sigma_px = n > 0 ? std::max(0.03, std::sqrt(sum / n)) : 0.5;
  }

  bool FillIn(const ContourPx& known, CutWire& wire) const {
    const auto fitted = FitEllipse(known);
    if (!fitted || fitted->semi_major > 1.2 * search_.along_px + 4) return false;
    for (int k = 0; k < kRays; ++k) {
      const auto i = static_cast<std::size_t>(k);
      if (wire.seen[i]) continue;
      const PointPx way{std::cos(2 * kPi * k / kRays), std::sin(2 * kPi * k / kRays)};
      const PointPx d = Rotated(wire.centre - fitted->centre, -fitted->angle);
      const PointPx w = Rotated(way, -fitted->angle);
      const double aa = fitted->semi_major * fitted->semi_major;
      const double bb = fitted->semi_minor * fitted->semi_minor;
      const double a = w.x * w.x / aa + w.y * w.y / bb;
      const double b = d.x * w.x / aa + d.y * w.y / bb;
      const double c = d.x * d.x / aa + d.y * d.y / bb - 1;
      if (!(b * b - a * c > 0) || c >= 0) return false;  // the middle lies outside: no wire
      wire.edge[i] = wire.centre + ((-b + std::sqrt(b * b - a * c)) / a) * way;
    }
    return true;
  }

  static PointPx Middle(const CutWire& wire) { return Centroid(wire.edge); }

  const Micrograph& micrograph_;
  const LightField& light_;
  const WallSearch& search_;
  double contrast_, rest_;  // px beyond an edge: what its ray ends in
  const std::vector<double>& bright_bores_;
};

// Two proposals may settle on one wire.
void AddOnce(const WallSearch& search, CutWire& wire, std::vector<CutWire>& wires) {
  const bool twice = std::any_of(wires.begin(), wires.end(), [&](const CutWire& other) {
    return Distance(other.centre, wire.centre) < 0.5 * search.across_px;
  });
  if (!twice) wires.push_back(std::move(wire));
}

// Wires that touch another one are traced as one with it: no ray runs farther than the others'
// edges.
void AddTouching(const WallSearch& search, const Tracer& tracer,
                 const std::vector<PointPx>& middles, std::vector<CutWire>& wires) {
  std::vector<double> areas, reaches;
  for (const CutWire& wire : wires) {
    if (!wire.Whole()) continue;
    areas.push_back(Area(wire.edge));
    reaches.push_back(wire.Reach());
  }
  if (areas.size() < 5) return;
  const double area = Median(std::move(areas)), reach = Median(std::move(reaches));
  for (PointPx middle : middles) {
    CutWire wire;
    if (tracer.Trace(middle, kTouchingReach * reach + 1, wire) && !wire.Loose() &&
        std::abs(Area(wire.edge) - area) < kLikeWires * area)
      AddOnce(search, wire, wires);
  }
}

}  // namespace

double FlatAcross(const ContourUm& edge, PointUm axis, double along) {
  const PointUm middle = Centroid(edge);
  double sum[2] = {0, 0};
  int n[2] = {0, 0};
  for (PointUm p : edge) {
    const double t = Cross(axis, p - middle);
    if (std::abs(Dot(axis, p - middle)) > 0.25 * along) continue;
    sum[t > 0] += std::abs(t);
    ++n[t > 0];
  }
  return n[0] > 0 && n[1] > 0 ? sum[0] / n[0] + sum[1] / n[1] : 0;
}

std::optional<double> ToneAbout(const Micrograph& micrograph, const LightField& light, PointPx at,
                                double r) {
  constexpr int kPlaces = 16;
  std::vector<double> tones;
  for (int k = 0; k < kPlaces; ++k) {
    const double a = 2 * kPi * k / kPlaces;
    const PointPx p = at + PointPx{r * std::cos(a), r * std::sin(a)};
    if (p.x < 1 || p.y < 1 || p.x > micrograph.width() - 2 || p.y > micrograph.height() - 2)
      return std::nullopt;
    tones.push_back(RelativeTone(micrograph, light, p));
  }
  return Median(std::move(tones));
}

double RelativeTone(const Micrograph& micrograph, const LightField& light, PointPx p) {
  const int x = std::clamp(static_cast<int>(std::floor(p.x)), 0, micrograph.width() - 2);
  const int y = std::clamp(static_cast<int>(std::floor(p.y)), 0, micrograph.height() - 2);
  const double fx = p.x - x, fy = p.y - y;
  const double tone = (1 - fy) * ((1 - fx) * micrograph.At(x, y) + fx * micrograph.At(x + 1, y)) +
                      fy * ((1 - fx) * micrograph.At(x, y + 1) + fx * micrograph.At(x + 1, y + 1));
  return tone / light.At(p.x, p.y);
}

WallMetal FindWallMetal(const Micrograph& micrograph, const LightField& light,
                        const WallSearch& search) {
  WallMetal out;
  Wall wall = WallOf(micrograph, light, search);
  if (!FindLevel(search, wall, out)) return out;
  const double area = kPi / 4 * search.across_px * search.along_px;
  std::vector<PointPx> middles;
  Proposals(wall.metal, wall.inside, wall.origin(), 0, area, middles);
  if (AddBesideWall(micrograph, light, search, out.level, wall))
    Proposals(wall.metal, wall.inside, wall.origin(), 0, area, middles);
  const Tracer tracer(micrograph, light, search, out, wall.bright_bores);
  for (PointPx middle : middles) {
    CutWire wire;
    if (tracer.Trace(middle, tracer.FarthestEdge(), wire)) AddOnce(search, wire, out.wires);
  }
  DropUnlike(out.wires);
  AddTouching(search, tracer, middles, out.wires);
  return out;
}

double WireMargin_px(double radius_px) { return kPaintMargin_px + 0.1 * radius_px; }

Micrograph WithoutMetal(const Micrograph& micrograph, const LightField& light,
                        const std::vector<WallMetal>& metal, double noise) {
  Micrograph out = micrograph;
  out.tone = micrograph.tone.clone();
  Random random(17);
  for (const WallMetal& layer : metal) {
    for (const CutWire& wire : layer.wires) {
      double reach = wire.Reach();
      const double margin = WireMargin_px(reach);
      reach += margin;
      const ContourIndex<FramePx> edge{View(wire.edge)};
      for (int y = std::max(0, static_cast<int>(wire.centre.y - reach));
           y < std::min<double>(out.height(), wire.centre.y + reach + 1); ++y) {
        for (int x = std::max(0, static_cast<int>(wire.centre.x - reach));
             x < std::min<double>(out.width(), wire.centre.x + reach + 1); ++x) {
          if (edge.SignedDistance({1.0 * x, 1.0 * y}, 2 * reach) > margin) continue;
          const double tone = light.At(x, y) * (1 + noise * random.Normal());
          StoreTone(out, x, y, tone);
        }
      }
    }
  }
  ReduceAgain(out);
  return out;
}

}  // namespace cutface
