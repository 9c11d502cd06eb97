// Least ways between lumens through the voids of all planes.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "planes/frame.h"

namespace cutface::planes {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kCovers95 = 1.96;

struct Node {
  std::string name;  // of a lumen or "outside", in every plane; "" for a void
  std::size_t plane = 0;
  int no = 0;
};

struct Step {
  std::size_t to = 0;
  double solid = 0;
  int plane = -1;  // -1: along a link
};

class Net {
 public:
  Net(std::span<const PlaneFace> faces, double align_um, const std::string& first,
      const std::string& second)
      : faces_(faces), nodes_{{first, 0, 0}, {second, 0, 0}} {
    for (std::size_t p = 0; p < faces.size(); ++p) {
      for (const auto& hole : faces[p].voids) nodes_.push_back({"", p, hole.first});
    }
    steps_.resize(nodes_.size());
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
      for (std::size_t j = i + 1; j < nodes_.size(); ++j) Join(i, j, align_um);
    }
  }
  double Search(bool strongest, std::vector<std::size_t>& way, std::vector<int>& planes) const {
    const std::size_t n = nodes_.size();
    std::vector<double> cost(n, kInfinity);
    std::vector<std::size_t> from(n, n);
    std::vector<int> by(n, -1);
    std::vector<bool> done(n, false);
    cost[0] = 0;
    for (std::size_t round = 0; round < n; ++round) {
      std::size_t next = n;
      for (std::size_t i = 0; i < n; ++i) {
        if (!done[i] && std::isfinite(cost[i]) && (next == n || cost[i] < cost[next])) next = i;
      }
      if (next == n || next == 1) break;
      done[next] = true;
      for (const Step& s : steps_[next]) {
        const double through = strongest ? std::max(cost[next], s.solid) : cost[next] + s.solid;
        if (!done[s.to] && through < cost[s.to])
          cost[s.to] = through, from[s.to] = next, by[s.to] = s.plane;
      }
    }
    way.clear();
    planes.clear();
    if (!std::isfinite(cost[1])) return cost[1];
    for (std::size_t i = 1; i != n; i = from[i]) {
      way.push_back(i);
      if (from[i] != n && by[i] >= 0) planes.push_back(by[i]);
    }
    std::reverse(way.begin(), way.end());
    return cost[1];
  }
  std::string NameOf(std::size_t i) const {
    const Node& node = nodes_[i];
    return node.name.empty() ? fmt::format("plane {} void {}", node.plane + 1, node.no) : node.name;
  }

 private:
  const ContourUm* Contour(const Node& node, std::size_t plane) const {
    const PlaneFace& face = faces_[plane];
    if (node.name == "outside") return face.outline.size() >= 3 ? &face.outline : nullptr;
    if (node.name.empty()) return node.plane == plane ? &face.voids.at(node.no) : nullptr;
    const auto found = face.lumens.find(node.name);
    return found == face.lumens.end() ? nullptr : &found->second;
  }
  // The shortest line meets another lumen: that is no solid way.
  bool Blocked(std::size_t plane, const Node& a, const Node& b, PointUm from, PointUm to) const {
    constexpr int kParts = 40;
    for (const auto& [name, contour] : faces_[plane].lumens) {
      if (name == a.name || name == b.name) continue;
      for (int i = 1; i < kParts; ++i) {
        if (Contains<FrameUm>(contour, from + (1.0 * i / kParts) * (to - from))) return true;
      }
    }
    return false;
  }
  void Join(std::size_t i, std::size_t j, double align_um) {
    const Node &a = nodes_[i], &b = nodes_[j];
    const auto add = [&](double solid, int plane) {
      steps_[i].push_back({j, solid, plane});
      steps_[j].push_back({i, solid, plane});
    };
    if (a.name.empty() && b.name.empty() && a.plane != b.plane) {
      const bool neighbours = a.plane + 1 == b.plane || b.plane + 1 == a.plane;
      if (neighbours &&
          Linked(faces_[a.plane].voids.at(a.no), faces_[b.plane].voids.at(b.no), align_um))
        add(0, -1);
      return;
    }
    for (std::size_t p = 0; p < faces_.size(); ++p) {
      const ContourUm *ca = Contour(a, p), *cb = Contour(b, p);
      if (ca == nullptr || cb == nullptr) continue;
      if (*ca == *cb) {  // merged lumens
        add(0, static_cast<int>(p));
        continue;
      }
      const auto near = LeastDistance<FrameUm>(*ca, *cb);
      if (!Blocked(p, a, b, near.on_first, near.on_second)) add(near.distance, static_cast<int>(p));
    }
  }

  std::span<const PlaneFace> faces_;
  std::vector<Node> nodes_;
  std::vector<std::vector<Step>> steps_;
};

// What the planes themselves say of the pair: least barrier, greatest u, and what was not measured.
struct Singles {
  double least = kInfinity, u = 0;
  int measured = 0;
  std::string reason;
};
Singles Single(std::span<const PlaneFace> faces, const std::vector<std::string>& of) {
  Singles out;
  for (std::size_t p = 0; p < faces.size(); ++p) {
    const Measurement* m = Find(*faces[p].result, of, "barrier");
    if (m == nullptr) continue;
    if (m->state != Measurement::State::kMeasured) {
      if (m->state == Measurement::State::kNotMeasured)
        out.reason = fmt::format("plane {}: {}", p + 1, m->reason);
      continue;
    }
    ++out.measured;
    out.least = std::min(out.least, m->value);
    out.u = std::max(out.u, m->u);
  }
  return out;
}

StackBarrier Between(std::span<const PlaneFace> faces, const PlaneOptions& options,
                     const std::string& first, const std::string& second) {
  StackBarrier b;
  b.first = first;
  b.second = second;
  const Singles single =
      Single(faces, second == "outside" ? std::vector{first} : std::vector{first, second});
  if (single.measured == 0) {
    b.reason = single.reason.empty() ? "no plane has a barrier between them" : single.reason;
    return b;
  }
  const Net net(faces, options.align_um, first, second);
  std::vector<std::size_t> way;
  std::vector<int> planes;
  b.weakest_um = net.Search(true, way, planes);
  b.value_um = net.Search(false, way, planes);
  if (!std::isfinite(b.value_um)) {
    b.reason = "no way through solid and voids";
    return b;
  }
  b.told = true;
  b.single_um = single.least;
  // Every ligament of the way has an uncertainty like that of a plane's own barrier.
  b.u_um = single.u * std::sqrt(std::max<std::size_t>(1, planes.size()));
  b.lo_um = std::max(0.0, b.value_um - kCovers95 * b.u_um);
  b.hi_um = b.value_um + kCovers95 * b.u_um;
  for (const std::size_t i : way) b.steps.push_back(net.NameOf(i));
  if (!single.reason.empty()) b.reason = "upper bound: " + single.reason;
  return b;
}

}  // namespace

void SearchBarriers(std::span<const PlaneFace> faces, const PlaneOptions& options,
                    PlaneStack& stack) {
  std::set<std::string> names;
  for (const PlaneFace& face : faces) {
    for (const auto& lumen : face.lumens) names.insert(lumen.first);
  }
  const std::vector<std::string> all(names.begin(), names.end());
  for (std::size_t i = 0; i < all.size(); ++i) {
    for (std::size_t j = i + 1; j < all.size(); ++j) {
      StackBarrier b = Between(faces, options, all[i], all[j]);
      if (b.told || !b.reason.starts_with("no ")) stack.barriers.push_back(std::move(b));
    }
    StackBarrier b = Between(faces, options, all[i], "outside");
    if (b.told || !b.reason.starts_with("no ")) stack.barriers.push_back(std::move(b));
  }
}

}  // namespace cutface::planes
