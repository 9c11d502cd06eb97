#include "picture/seats.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "cutface/base.h"

namespace cutface {
namespace {

constexpr int kReduction = 3;  // of the map of marks; strokes are wider than this
constexpr int kDirections = 24;
constexpr int kRadii = 14;
// Weights of the search, in "one em of distance": found by looking at crowded pictures.
constexpr double kHiding = 14.0;      // a label wholly over contours
constexpr double kTieCrossing = 3.0;  // its tie line crosses another
constexpr double kGap = 3;            // between labels, px

double Side(const Place& a, const Place& b, const Place& c) {
  return (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
}

bool Cross(const Place& a, const Place& b, const Place& c, const Place& d) {
  return (Side(a, b, c) > 0) != (Side(a, b, d) > 0) && (Side(c, d, a) > 0) != (Side(c, d, b) > 0);
}

bool Holds(const Rect& r, const Place& p) {
  return p.x > r.x && p.x < r.x + r.w && p.y > r.y && p.y < r.y + r.h;
}

bool CrossesRect(const Place& a, const Place& b, const Rect& r) {
  const Place p{r.x, r.y}, q{r.x + r.w, r.y}, s{r.x + r.w, r.y + r.h}, t{r.x, r.y + r.h};
  return Holds(r, b) || Cross(a, b, p, q) || Cross(a, b, q, s) || Cross(a, b, s, t) ||
         Cross(a, b, t, p);
}

}  // namespace

Place NearestOn(const Rect& rect, const Place& to) {
  return {std::clamp(to.x, rect.x, rect.x + rect.w), std::clamp(to.y, rect.y, rect.y + rect.h)};
}

Seats::Seats(const Rect& frame)
    : frame_(frame),
      marks_(cv::Mat::zeros(static_cast<int>(frame.h) / kReduction + 1,
                            static_cast<int>(frame.w) / kReduction + 1, CV_8U)) {}

void Seats::AddMark(const std::vector<Place>& points, bool closed, double width, int cost) {
  std::vector<cv::Point> line;
  line.reserve(points.size());
  // Far outside the frame the drawing library's fixed-point arithmetic would overflow.
  constexpr double kFar = 20000;
  for (const Place& p : points) {
    line.emplace_back(cvRound(std::clamp((p.x - frame_.x) / kReduction, -kFar, kFar)),
                      cvRound(std::clamp((p.y - frame_.y) / kReduction, -kFar, kFar)));
  }
  if (line.size() < 2) return;
  cv::polylines(marks_, line, closed, cv::Scalar(cost), std::max(1, cvRound(width / kReduction)));
}

void Seats::Reserve(const Rect& rect) { taken_.push_back(rect); }

void Seats::Seal() { cv::integral(marks_, sums_, CV_32S); }

double Seats::HiddenShare(const Rect& rect) const {
  CF_CHECK(!sums_.empty());
  const int x0 = std::clamp(static_cast<int>((rect.x - frame_.x) / kReduction), 0, marks_.cols);
  const int y0 = std::clamp(static_cast<int>((rect.y - frame_.y) / kReduction), 0, marks_.rows);
  const int x1 =
      std::clamp(static_cast<int>((rect.x + rect.w - frame_.x) / kReduction) + 1, 0, marks_.cols);
  const int y1 =
      std::clamp(static_cast<int>((rect.y + rect.h - frame_.y) / kReduction) + 1, 0, marks_.rows);
  if (x1 <= x0 || y1 <= y0) return 0;
  const auto at = [&](int y, int x) { return sums_.at<int>(y, x); };
  const int sum = at(y1, x1) - at(y0, x1) - at(y1, x0) + at(y0, x0);
  return static_cast<double>(sum) / ((x1 - x0) * (y1 - y0));
}

bool Seats::Free(const Rect& rect) const {
  if (!rect.Within(frame_)) return false;
  return std::none_of(taken_.begin(), taken_.end(),
                      [&](const Rect& other) { return rect.Overlaps(other, kGap); });
}

std::optional<double> Seats::Cost(const Rect& rect, const Place& anchor) const {
  if (!Free(rect)) return std::nullopt;
  const Place end = NearestOn(rect, anchor);
  for (const Rect& other : taken_) {
    if (!Holds(other, anchor) && CrossesRect(anchor, end, other)) return std::nullopt;
  }
  const auto crossings = std::count_if(ties_.begin(), ties_.end(), [&](const Tie& tie) {
    return Cross(tie.from, tie.to, anchor, end);
  });
  return std::hypot(end.x - anchor.x, end.y - anchor.y) / rect.h + kHiding * HiddenShare(rect) +
         kTieCrossing * static_cast<double>(crossings);
}

std::optional<Seats::Seat> Seats::Find(const Wish& wish) {
  CF_CHECK(!wish.anchors.empty());
  const auto centred = [&](double x, double y) {
    return Rect{x - wish.w / 2, y - wish.h / 2, wish.w, wish.h};
  };
  const Place& first = wish.anchors.front();
  if (wish.on_anchor && Free(centred(first.x, first.y))) {
    taken_.push_back(centred(first.x, first.y));
    return Seat{taken_.back(), first};
  }
  std::optional<Seat> best;
  double best_cost = std::numeric_limits<double>::infinity();
  for (const Place& anchor : wish.anchors) {
    for (int r = 0; r < kRadii; ++r) {
      // Quadratic steps: fine near the anchor, coarse far away.
      const double share = static_cast<double>(r) / (kRadii - 1);
      const double radius = wish.gap + (wish.reach - wish.gap) * share * share;
      for (int k = 0; k < kDirections; ++k) {
        const double angle = 2 * std::numbers::pi * k / kDirections;
        const double dx = std::cos(angle), dy = std::sin(angle);
        // The label's nearest edge, not its centre, is at about `radius`.
        const Rect rect =
            centred(anchor.x + dx * (radius + wish.w / 2), anchor.y + dy * (radius + wish.h / 2));
        const std::optional<double> cost = Cost(rect, anchor);
        if (!cost || *cost >= best_cost) continue;
        best_cost = *cost;
        best = Seat{rect, anchor};
      }
    }
  }
  if (best) {
    taken_.push_back(best->rect);
    ties_.push_back({best->anchor, NearestOn(best->rect, best->anchor)});
  }
  return best;
}

}  // namespace cutface
