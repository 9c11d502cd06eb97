#include "calibration/line_light.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <tuple>

#include "cutface/stats.h"

namespace cutface::calibration {
namespace {

constexpr std::size_t kMostMarks = 24, kMostDiscs = 30;
constexpr double kMostClipped = 0.02;   // share of the pixels of a profile
constexpr double kMarkReach = 0.46;     // of the distance to the next mark
constexpr double kMostReach_px = 40;    // a wider ground tells nothing more
constexpr double kMostLength_px = 400;  // of a line that is summed

// A band of the picture along a straight or slightly bent line: calls f(pixel x, y) for all pixels
// within `reach` of `path` (in px of the frame's u), v from first to last place.
template <class F>
void AlongLine(const Micrograph& picture, const Frame& frame, const std::vector<LinePlace>& path,
               double reach, const F& f) {
  const double v0 = path.front().v, v1 = path.back().v;
  const double mid = 0.5 * (v0 + v1), half = std::min(0.5 * (v1 - v0), kMostLength_px / 2);
  const auto u_at = [&](double v) {
    std::size_t k = 1;
    while (k + 1 < path.size() && path[k].v < v) ++k;
    const LinePlace &a = path[k - 1], &b = path[k];
    return a.u + (b.u - a.u) * (v - a.v) / (b.v - a.v);
  };
  // Rows or columns, whichever cross the line more squarely.
  const bool rows = std::abs(frame.c) >= std::abs(frame.s);
  const PointPx from = frame.At(u_at(mid - half), mid - half);
  const PointPx to = frame.At(u_at(mid + half), mid + half);
  const double begin = rows ? std::min(from.y, to.y) : std::min(from.x, to.x);
  const double end = rows ? std::max(from.y, to.y) : std::max(from.x, to.x);
  const double slope =
      rows
          ? (to.x - from.x) / std::copysign(std::max(1e-9, std::abs(to.y - from.y)), to.y - from.y)
          : (to.y - from.y) / std::copysign(std::max(1e-9, std::abs(to.x - from.x)), to.x - from.x);
  const double wide = (reach + 2) / std::max(std::abs(frame.c), std::abs(frame.s));
  const int most_l = (rows ? picture.height() : picture.width()) - 1;
  const int most_k = (rows ? picture.width() : picture.height()) - 1;
  for (int l = std::max(0, static_cast<int>(std::ceil(begin)));
       l <= std::min(most_l, static_cast<int>(end)); ++l) {
    const double at = rows ? from.x + slope * (l - from.y) : from.y + slope * (l - from.x);
    const int k1 = std::min(most_k, static_cast<int>(std::ceil(at + wide)));
    for (int k = std::max(0, static_cast<int>(std::floor(at - wide))); k <= k1; ++k) {
      const int x = rows ? k : l, y = rows ? l : k;
      const double v = frame.V(x, y);
      if (v < mid - half || v > mid + half) continue;
      f(frame.U(x, y) - u_at(v), static_cast<double>(picture.At(x, y)));
    }
  }
}

void Keep(LightSamples& out, const ProfileBins& bins, MarkProfile mark, int& clipped) {
  if (bins.clipped_share() > kMostClipped) {
    ++clipped;
    return;
  }
  mark.bins = bins.Bins();
  out.marks.push_back(std::move(mark));
}

// Every so many of the marks, so that at most kMostMarks are taken, from all over the picture.
template <class T>
std::vector<T> Thinned(const std::vector<T>& all, std::size_t most = kMostMarks) {
  if (all.size() <= most) return all;
  std::vector<T> some;
  for (std::size_t k = 0; k < most; ++k) some.push_back(all[k * all.size() / most]);
  return some;
}

}  // namespace

LightSamples ProfilesOfLines(const Micrograph& picture, const Lines& lines) {
  std::vector<std::size_t> whole;
  for (std::size_t l = 1; l + 1 < lines.lines.size(); ++l) {
    const Line& line = lines.lines[l];
    if (line.n - lines.lines[l - 1].n == 1 && lines.lines[l + 1].n - line.n == 1 &&
        line.places.size() >= 2) {
      whole.push_back(l);
    }
  }
  LightSamples out;
  int clipped = 0;
  const double reach = std::min(kMostReach_px, 0.5 * lines.period);
  for (std::size_t l : Thinned(whole)) {
    std::vector<LinePlace> path = lines.lines[l].places;
    std::sort(path.begin(), path.end(), [](const auto& a, const auto& b) { return a.v < b.v; });
    ProfileBins bins(reach, false);
    AlongLine(picture, lines.frame, path, reach, [&](double d, double t) { bins.Add(d, t); });
    MarkProfile mark;
    mark.period = lines.period;
    Keep(out, bins, mark, clipped);
  }
  out.clipped = clipped > static_cast<int>(out.marks.size());
  return out;
}

LightSamples ProfilesOfDots(const Micrograph& picture, const GridPlaces& grid) {
  LightSamples out;
  int clipped = 0;
  const double reach = std::min(kMostReach_px, kMarkReach * std::hypot(grid.ax, grid.ay));
  for (const PointPx& centre : Thinned(grid.centres, kMostDiscs)) {
    ProfileBins bins(reach, true);
    bins.AddPixels(picture, centre, reach);
    MarkProfile mark;
    mark.disc = true;
    Keep(out, bins, mark, clipped);
  }
  out.clipped = clipped > static_cast<int>(out.marks.size());
  return out;
}

namespace {

// Where the arms of the mean cross end, and how wide they are: half levels along and across; px.
struct Arms {
  double length = 0, width = 0;
};
std::optional<Arms> ArmsOf(const Micrograph& picture, const std::vector<PointPx>& centres,
                           const Frame& turned, double reach) {
  ProfileBins along(reach, true);
  ProfileBins across(reach, true);
  for (const PointPx& centre : centres) {
    Frame frame = turned;
    frame.middle = centre;
    const int n = static_cast<int>(std::ceil(reach));
    for (int y = -n; y <= n; ++y) {
      for (int x = -n; x <= n; ++x) {
        const int px = static_cast<int>(std::lround(centre.x)) + x;
        const int py = static_cast<int>(std::lround(centre.y)) + y;
        if (px < 0 || py < 0 || px >= picture.width() || py >= picture.height()) continue;
        const double u = frame.U(px, py), v = frame.V(px, py);
        const double tone = static_cast<double>(picture.At(px, py));
        if (std::abs(v) < 1) along.Add(u, tone);
        if (std::abs(std::abs(u) - 0.45 * reach) < 1.5) across.Add(v, tone);
      }
    }
  }
  const auto half_of = [](const std::vector<MarkProfile::Bin>& bins) {
    if (bins.size() < 8) return 0.0;
    const double in = bins.front().tone, level = 0.5 * (in + bins.back().tone);
    for (const auto& bin : bins) {
      if ((bin.tone - level) * (in - level) < 0) return bin.d;
    }
    return 0.0;
  };
  const Arms arms{half_of(along.Bins()), 2 * half_of(across.Bins())};
  if (!(arms.width > 0.5) || !(arms.length > arms.width)) return std::nullopt;
  return arms;
}

}  // namespace

LightSamples ProfilesOfCrosses(const Micrograph& picture, const GridPlaces& grid) {
  LightSamples out;
  const double step = std::hypot(grid.ax, grid.ay);
  const double reach = kMarkReach * step;
  const std::vector<PointPx> centres = Thinned(grid.centres);
  Frame frame;
  frame.c = grid.ax / step;
  frame.s = grid.ay / step;
  const auto arms = ArmsOf(picture, centres, frame, reach);
  if (!arms) return out;
  // Clear of the crossing and of the arm's end by the blur that is to be expected.
  const double from = 0.5 * arms->width + 3, to = arms->length - 3;
  if (to - from < 2) return out;
  int clipped = 0;
  const double side = std::min({reach, kMostReach_px, arms->width + 8});
  for (const PointPx& centre : centres) {
    for (const bool upright : {false, true}) {
      ProfileBins bins(side, false);
      Frame turned = frame;
      if (upright) std::tie(turned.c, turned.s) = std::pair(-frame.s, frame.c);
      turned.middle = centre;
      const int n = static_cast<int>(std::ceil(std::hypot(to, side)));
      const int cx = static_cast<int>(std::lround(centre.x));
      const int cy = static_cast<int>(std::lround(centre.y));
      for (int y = std::max(0, cy - n); y <= std::min(picture.height() - 1, cy + n); ++y) {
        for (int x = std::max(0, cx - n); x <= std::min(picture.width() - 1, cx + n); ++x) {
          const double v = std::abs(turned.V(x, y));
          if (v > from && v < to) bins.Add(turned.U(x, y), static_cast<double>(picture.At(x, y)));
        }
      }
      Keep(out, bins, MarkProfile{}, clipped);
    }
  }
  out.clipped = clipped > static_cast<int>(out.marks.size());
  return out;
}

void TellLight(LightSamples samples, TargetFit& fit) {
  if (samples.clipped) {
    fit.remarks.push_back("gamma is not told: black or white is cut off by the camera");
    return;
  }
  const auto light = FitLight(std::move(samples.marks));
  if (!light) {
    fit.remarks.push_back("gamma is not told: " + light.error());
    return;
  }
  fit.gamma = light->gamma;
  fit.u_gamma = light->u_gamma;
  fit.blur_px = light->blur_px;
  fit.u_blur_px = light->u_blur_px;
}

}  // namespace cutface::calibration
