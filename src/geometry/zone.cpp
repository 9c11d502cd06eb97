// Minimum zone circles: least difference between the greatest and the least distance of all points
// from one centre.
//
// An exchange finds a zone that is best near a start: points that leave the zone of a few contacts
// enter the contacts until none is left. Branch and bound over all possible centres then proves
// that no centre is better: the difference changes by at most two micrometres per micrometre of
// centre.
#include <array>
#include <limits>
#include <memory>
#include <optional>
#include <queue>

#include "geometry/max_min.h"

namespace cutface {
namespace {

constexpr int kMaxExchanges = 60;
// Shares of the radius below which distances count as equal: rounding of a squared distance.
constexpr double kZoneRounding = 4e-15;
// Share of the radius by which the proof may miss a better zone. Finer would cost much where the
// best allowed centre lies on the hull, since there the width has a flat minimum along the hull.
constexpr double kProof = 1e-9;

template <class F>
Zone<F> ZoneAbout(std::span<const Point<F>> points, Point<F> centre) {
  double least2 = std::numeric_limits<double>::infinity(), greatest2 = 0;
  for (const Point<F>& p : points) {
    const double d2 = Length2(p - centre);
    least2 = std::min(least2, d2);
    greatest2 = std::max(greatest2, d2);
  }
  return {centre, std::sqrt(least2), std::sqrt(greatest2)};
}

// Points in contact with a trial zone, relative to a start so that no digits are lost.
template <class F>
struct Contacts {
  std::vector<Point<F>> outer, inner;
};

// Centre at equal distances from a and b and from c and d (c = a for three points on one circle).
template <class F>
std::optional<Point<F>> CentreOf(Point<F> a, Point<F> b, Point<F> c, Point<F> d) {
  const Point<F> u = b - a, v = d - c;
  const double turn = 2 * Cross(u, v);
  if (turn == 0) return std::nullopt;
  const double ru = Length2(b) - Length2(a), rv = Length2(d) - Length2(c);
  const Point<F> centre{(ru * v.y - rv * u.y) / turn, (u.x * rv - v.x * ru) / turn};
  if (!std::isfinite(centre.x) || !std::isfinite(centre.y)) return std::nullopt;
  return centre;
}

// The best zone of a few points, by trying every way in which four of them can hold it.
template <class F>
class SmallZone {
 public:
  SmallZone(const Contacts<F>& points, double reach) : points_(points), reach_(reach) {
    const auto &o = points.outer, &i = points.inner;
    for (std::size_t a = 0; a < o.size(); ++a) {
      for (std::size_t b = a + 1; b < o.size(); ++b) {
        for (std::size_t p = 0; p < i.size(); ++p) {
          for (std::size_t q = p + 1; q < i.size(); ++q) {
            Try(CentreOf(o[a], o[b], i[p], i[q]), {o[a], o[b]}, {i[p], i[q]});
          }
        }
        for (std::size_t c = b + 1; c < o.size(); ++c) {
          const auto centre = CentreOf(o[a], o[b], o[a], o[c]);
          for (std::size_t p = 0; p < i.size(); ++p) Try(centre, {o[a], o[b], o[c]}, {i[p]});
        }
      }
    }
    for (std::size_t p = 0; p < i.size(); ++p) {
      for (std::size_t q = p + 1; q < i.size(); ++q) {
        for (std::size_t r = q + 1; r < i.size(); ++r) {
          const auto centre = CentreOf(i[p], i[q], i[p], i[r]);
          for (std::size_t a = 0; a < o.size(); ++a) Try(centre, {o[a]}, {i[p], i[q], i[r]});
        }
      }
    }
  }

  const std::optional<Zone<F>>& Best() const { return best_; }
  Contacts<F> BestContacts() const {
    return {{outer_.begin(), outer_.begin() + outer_count_},
            {inner_.begin(), inner_.begin() + inner_count_}};
  }

 private:
  void Try(const std::optional<Point<F>>& centre, std::initializer_list<Point<F>> outer,
           std::initializer_list<Point<F>> inner) {
    if (!centre || Length2(*centre) > reach_ * reach_) return;
    const double greatest = Length(*outer.begin() - *centre);
    const double least = Length(*inner.begin() - *centre);
    if (greatest < least || (best_ && greatest - least >= best_->Width())) return;
    const double limit2 = greatest * greatest * (1 + 2 * kZoneRounding);
    for (const Point<F>& p : points_.outer) {
      if (Length2(p - *centre) > limit2) return;
    }
    const double floor2 = least * least - 2 * kZoneRounding * greatest * greatest;
    for (const Point<F>& p : points_.inner) {
      if (Length2(p - *centre) < floor2) return;
    }
    best_ = Zone<F>{*centre, least, greatest};
    outer_count_ = static_cast<std::ptrdiff_t>(outer.size());
    inner_count_ = static_cast<std::ptrdiff_t>(inner.size());
    std::copy(outer.begin(), outer.end(), outer_.begin());
    std::copy(inner.begin(), inner.end(), inner_.begin());
  }

  const Contacts<F>& points_;
  double reach_;
  std::optional<Zone<F>> best_;
  std::array<Point<F>, 3> outer_, inner_;
  std::ptrdiff_t outer_count_ = 0, inner_count_ = 0;
};

// Furthest and nearest point in each quadrant around the start.
template <class F>
Contacts<F> FirstContacts(std::span<const Point<F>> points, Point<F> start) {
  struct Extremes {
    double least2 = std::numeric_limits<double>::infinity(), greatest2 = -1;
    Point<F> nearest, furthest;
  };
  std::array<Extremes, 4> quadrants;
  for (const Point<F>& point : points) {
    const Point<F> p = point - start;
    Extremes& e = quadrants[(p.x > 0 ? 1U : 0U) + (p.y > 0 ? 2U : 0U)];
    const double d2 = Length2(p);
    if (d2 < e.least2) {
      e.least2 = d2;
      e.nearest = p;
    }
    if (d2 > e.greatest2) {
      e.greatest2 = d2;
      e.furthest = p;
    }
  }
  Contacts<F> contacts;
  for (const Extremes& e : quadrants) {
    if (e.greatest2 < 0) continue;
    contacts.outer.push_back(e.furthest);
    contacts.inner.push_back(e.nearest);
  }
  return contacts;
}

template <class F>
void AddNew(std::vector<Point<F>>& list, Point<F> p) {
  if (std::find(list.begin(), list.end(), p) == list.end()) list.push_back(p);
}

// The zone that is best near `start`, its centre at most `reach` away; nullopt when the exchange
// does not end there.
template <class F>
std::optional<Zone<F>> Exchange(std::span<const Point<F>> points, Point<F> start, double reach) {
  Contacts<F> contacts = FirstContacts(points, start);
  for (int step = 0; step < kMaxExchanges; ++step) {
    const SmallZone<F> small(contacts, reach);
    if (!small.Best()) return std::nullopt;
    const Zone<F> zone = *small.Best();
    double least2 = std::numeric_limits<double>::infinity(), greatest2 = 0;
    Point<F> nearest, furthest;
    for (const Point<F>& point : points) {
      const Point<F> p = point - start;
      const double d2 = Length2(p - zone.centre);
      if (d2 < least2) {
        least2 = d2;
        nearest = p;
      }
      if (d2 > greatest2) {
        greatest2 = d2;
        furthest = p;
      }
    }
    const double slack = kZoneRounding * zone.outer;
    if (std::sqrt(greatest2) <= zone.outer + slack && std::sqrt(least2) >= zone.inner - slack) {
      return Zone<F>{start + zone.centre, std::sqrt(least2), std::sqrt(greatest2)};
    }
    contacts = small.BestContacts();
    AddNew(contacts.outer, furthest);
    AddNew(contacts.inner, nearest);
  }
  return std::nullopt;
}

// Branch and bound over squares of centres.
template <class F>
class ZoneSearch {
 public:
  ZoneSearch(Polygon<F> hull, Zone<F> first) : hull_(std::move(hull)), best_(first) {
    for (std::size_t i = 0; i < hull_.size(); ++i) {
      const Point<F> edge = hull_[Next(i, hull_.size())] - hull_[i];
      normals_.push_back((1 / Length(edge)) * Point<F>{edge.y, -edge.x});
    }
  }

  // Searches a square of centres, the most promising part first.
  void Run(Point<F> centre, double half, Contacts<F> all) {
    Consider(centre, half, all);
    while (!queue_.empty() && queue_.top().bound < best_.Width() - queue_.top().proof) {
      const Square square = queue_.top();
      queue_.pop();
      const double h = square.half / 2;
      for (const double dx : {-h, h}) {
        for (const double dy : {-h, h}) {
          Consider(square.centre + Point<F>{dx, dy}, h, *square.candidates);
        }
      }
    }
  }

  const Zone<F>& Best() const { return best_; }

 private:
  struct Square {
    double bound = 0;  // no centre in it has a smaller width
    double proof = 0;  // width that is not worth a further search
    Point<F> centre;
    double half = 0;
    // All points that can be furthest from, or nearest to, a centre in the square.
    std::shared_ptr<const Contacts<F>> candidates;
    friend bool operator<(const Square& a, const Square& b) { return a.bound > b.bound; }
  };

  // Bounds the width over a square and queues it when it may hold a better centre.
  void Consider(Point<F> centre, double half, const Contacts<F>& candidates) {
    const double reach = half * std::sqrt(2.0);
    const Outside hull = MostOutside(centre);
    if (hull.distance > reach) return;
    double least2 = std::numeric_limits<double>::infinity(), greatest2 = 0;
    Point<F> nearest, furthest;
    for (const Point<F>& p : candidates.outer) {
      const double d2 = Length2(p - centre);
      if (d2 > greatest2) {
        greatest2 = d2;
        furthest = p;
      }
    }
    for (const Point<F>& p : candidates.inner) {
      const double d2 = Length2(p - centre);
      if (d2 < least2) {
        least2 = d2;
        nearest = p;
      }
    }
    const double greatest = std::sqrt(greatest2), least = std::sqrt(least2);
    const double width = greatest - least;
    if (hull.distance <= 0 && width < best_.Width()) best_ = {centre, least, greatest};
    // Two bounds: distances change by at most `reach`; and, with one furthest and one nearest
    // point, only as far as their directions differ, up to the curvature of the distance (tangent
    // planes).
    double fall = 2 * reach;
    if (least > 0) {
      const Point<F> apart =
          (1 / greatest) * (furthest - centre) - (1 / least) * (nearest - centre);
      fall = std::min(fall, reach * Length(apart) + reach * reach / (2 * least));
    }
    const double proof = kProof * greatest;
    if (width - fall >= best_.Width() - proof) return;
    auto kept = std::make_shared<Contacts<F>>();
    const double outer_floor = std::max(0.0, greatest - 2 * reach), inner_top = least + 2 * reach;
    for (const Point<F>& p : candidates.outer) {
      if (Length2(p - centre) >= outer_floor * outer_floor) kept->outer.push_back(p);
    }
    for (const Point<F>& p : candidates.inner) {
      if (Length2(p - centre) <= inner_top * inner_top) kept->inner.push_back(p);
    }
    double bound = width - fall;
    if (reach < 0.1 * least) {
      bound = std::max(bound, LeastWidth(*kept, centre, half, reach * reach / (2 * least)));
    }
    if (bound >= best_.Width() - proof) return;
    queue_.push({bound, proof, centre, half, std::move(kept)});
  }

  // A bound of the width from below for all centres in the square: distances to furthest points lie
  // above their tangent planes, distances to nearest points below theirs plus the curvature's
  // share.
  double LeastWidth(Contacts<F>& kept, Point<F> centre, double half, double curvature) const {
    const auto by_distance = [centre](Point<F> a, Point<F> b) {
      return Length2(a - centre) < Length2(b - centre);
    };
    constexpr std::size_t kMost = 6;
    const std::size_t outer = std::min(kMost, kept.outer.size());
    const std::size_t inner = std::min(kMost, kept.inner.size());
    std::partial_sort(kept.outer.begin(), kept.outer.begin() + static_cast<std::ptrdiff_t>(outer),
                      kept.outer.end(), [&](Point<F> a, Point<F> b) { return by_distance(b, a); });
    std::partial_sort(kept.inner.begin(), kept.inner.begin() + static_cast<std::ptrdiff_t>(inner),
                      kept.inner.end(), by_distance);
    std::array<LinearBound<F>, kMost * kMost> bounds;  // of minus the width
    std::size_t count = 0;
    for (std::size_t i = 0; i < outer; ++i) {
      const double far = Length(kept.outer[i] - centre);
      const Point<F> to_far = (1 / far) * (kept.outer[i] - centre);
      for (std::size_t j = 0; j < inner; ++j) {
        const double near = Length(kept.inner[j] - centre);
        bounds[count++] = {near + curvature - far, to_far - (1 / near) * (kept.inner[j] - centre)};
      }
    }
    return -MaximiseLeast<F>(std::span(bounds.data(), count), half).value;
  }

  struct Outside {
    double distance = -std::numeric_limits<double>::infinity();
    Point<F> normal;
  };
  // The edge line of the hull beyond which the centre lies most: distance <= 0 inside, and
  // everywhere when centres are not confined to a hull.
  Outside MostOutside(Point<F> centre) const {
    Outside most;
    for (std::size_t i = 0; i < hull_.size(); ++i) {
      const double distance = Dot(centre - hull_[i], normals_[i]);
      if (distance > most.distance) most = {distance, normals_[i]};
    }
    return most;
  }

  Polygon<F> hull_, normals_;
  Zone<F> best_;
  std::priority_queue<Square> queue_;
};

template <class F>
Status CheckPoints(std::span<const Point<F>> points) {
  if (points.size() < 3) {
    return Fail(Code::kInvalidContour, "minimum zone: fewer than 3 points");
  }
  return {};
}

}  // namespace

template <class F>
Result<Zone<F>> MinimumZone(std::span<const Point<F>> points) {
  if (const Status status = CheckPoints(points); !status) return tl::unexpected(status.error());
  const auto fit = FitCircle(points);
  if (!fit) return tl::unexpected(fit.error());
  Polygon<F> hull = ConvexHull(points);
  const bool all_round = Contains(hull, fit->centre);
  Zone<F> best = ZoneAbout(points, fit->centre);
  const auto allowed = [&](Point<F> centre) { return !all_round || Contains(hull, centre); };
  if (const auto near = Exchange(points, fit->centre, fit->radius / 2)) {
    if (allowed(near->centre) && near->Width() < best.Width()) best = *near;
  }
  const Box<F> box = BoundingBox(hull);
  const Point<F> size = box.greatest - box.least;
  const Point<F> middle = all_round ? 0.5 * (box.least + box.greatest) : fit->centre;
  const double half = all_round ? 0.5 * std::max(size.x, size.y) : 0.5 * fit->radius;
  if (!all_round) hull.clear();
  ZoneSearch<F> search(std::move(hull), best);
  Contacts<F> all;
  all.outer = ConvexHull(points);  // only corners of the hull can be furthest
  all.inner.assign(points.begin(), points.end());
  search.Run(middle, half, std::move(all));
  if (search.Best().Width() < best.Width()) {
    best = search.Best();
    const auto near = Exchange(points, best.centre, 1e-6 * fit->radius);
    if (near && allowed(near->centre) && near->Width() < best.Width()) best = *near;
  }
  const Point<F> moved = best.centre - middle;
  if (!all_round && std::max(std::abs(moved.x), std::abs(moved.y)) > 0.99 * half) {
    return Fail(Code::kInvalidContour,
                "minimum zone: the points cover too short an arc to fix a centre");
  }
  return ZoneAbout(points, best.centre);
}

template <class F>
Result<Zone<F>> MinimumZoneNear(std::span<const Point<F>> points, Point<F> start) {
  if (const Status status = CheckPoints(points); !status) return tl::unexpected(status.error());
  const Zone<F> about = ZoneAbout(points, start);
  if (const auto zone = Exchange(points, start, about.outer / 2)) {
    if (zone->Width() <= about.Width() * (1 + 1e-12)) return *zone;
  }
  return MinimumZone(points);
}

#define CF_DECLARE(F)                                                 \
  template Result<Zone<F>> MinimumZone<F>(std::span<const Point<F>>); \
  template Result<Zone<F>> MinimumZoneNear<F>(std::span<const Point<F>>, Point<F>);
CF_FOR_BOTH_FRAMES(CF_DECLARE)

}  // namespace cutface
