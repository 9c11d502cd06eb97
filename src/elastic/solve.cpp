// Assembly and solution, and values at places of the solid.
#include <fmt/format.h>

#include <Eigen/Sparse>
#include <algorithm>
#include <cmath>
#include <map>

#include "cutface/elastic.h"
#include "elastic/mesh.h"

namespace cutface {

using elastic::Mesh;

struct ElasticSolution::Impl {
  Mesh mesh;
  std::vector<std::array<int, 3>> middles;   // per triangle: node in the middle of edge k, k + 1
  std::vector<std::array<int, 3>> pressure;  // per triangle: index into `p`
  std::vector<PointUm> u;                    // per node: corners, then middles
  std::vector<double> p;
  std::vector<ElasticMaterial> materials;
  std::vector<std::array<PointUm, 3>> slopes;  // per triangle: gradients of its corner functions

  // Triangles by cells of a square grid.
  PointUm least;
  double cell = 1;
  int across = 1, down = 1;
  std::vector<std::vector<int>> cells;

  std::size_t Cell(int x, int y) const {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(across) +
           static_cast<std::size_t>(x);
  }
  void SetGrid();
  int Find(PointUm p, std::array<double, 3>& at) const;
};

namespace {

constexpr double kMostPoisson = 0.4999;
// Degree 2, exact for products of two linear functions.
constexpr double kRule[3][3] = {
    {2.0 / 3, 1.0 / 6, 1.0 / 6}, {1.0 / 6, 2.0 / 3, 1.0 / 6}, {1.0 / 6, 1.0 / 6, 2.0 / 3}};

double Mu(const ElasticMaterial& m) { return m.modulus_mpa / (2 * (1 + m.poisson)); }
double Lambda(const ElasticMaterial& m) {
  return m.modulus_mpa * m.poisson / ((1 + m.poisson) * (1 - 2 * m.poisson));
}

// Gradients of the six quadratic functions at barycentric coordinates.
std::array<PointUm, 6> Gradients(const std::array<PointUm, 3>& g, const double* l) {
  std::array<PointUm, 6> out;
  for (std::size_t k = 0; k < 3; ++k) {
    const std::size_t n = (k + 1) % 3;
    out[k] = (4 * l[k] - 1) * g[k];
    out[3 + k] = (4 * l[n]) * g[k] + (4 * l[k]) * g[n];
  }
  return out;
}

class Solver {
 public:
  Solver(const ElasticProblem& problem, ElasticSolution::Impl& out)
      : problem_(problem), out_(out) {}

  Status Solve() {
    Number();
    Hold();
    Load();
    Assemble();
    if (auto status = Factor(); !status) return status;
    TakeOffRigidMotion();
    return {};
  }

 private:
  std::size_t nodes() const { return out_.u.size(); }

  void Number() {
    Mesh& mesh = out_.mesh;
    std::map<std::pair<int, int>, int> middle;
    std::map<std::pair<int, int>, int> pressure;
    int next = static_cast<int>(mesh.points.size());
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
      const auto& corner = mesh.triangles[t];
      std::array<int, 3> mids{}, ps{};
      for (std::size_t k = 0; k < 3; ++k) {
        const int a = corner[k], b = corner[(k + 1) % 3];
        const auto edge = std::make_pair(std::min(a, b), std::max(a, b));
        const auto [m, fresh] = middle.try_emplace(edge, next);
        if (fresh) ++next;
        ++count_[edge];
        mids[k] = m->second;
        const auto p =
            pressure.try_emplace({a, mesh.material[t]}, static_cast<int>(pressure.size()));
        ps[k] = p.first->second;
      }
      out_.middles.push_back(mids);
      out_.pressure.push_back(ps);
    }
    middle_ = std::move(middle);
    out_.u.assign(static_cast<std::size_t>(next), {});
    out_.p.assign(pressure.size(), 0);
    held_.assign(2 * nodes(), 0);
    force_ = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(2 * nodes() + out_.p.size()));
    // Points that no element uses (inside holes) do not move.
    std::vector<char> used(nodes(), 0);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
      for (std::size_t k = 0; k < 3; ++k) {
        used[static_cast<std::size_t>(mesh.triangles[t][k])] = 1;
        used[static_cast<std::size_t>(out_.middles[t][k])] = 1;
      }
    }
    for (std::size_t i = 0; i < nodes(); ++i) {
      if (used[i] == 0) held_[2 * i] = held_[2 * i + 1] = 1;
    }
  }

  void Hold() {
    bool any = false;
    for (const auto& [edge, info] : out_.mesh.edges) {
      if (info.contour != 0 || problem_.outer_held.empty()) continue;
      if (problem_.outer_held[static_cast<std::size_t>(info.source)] == 0) continue;
      any = true;
      for (int i : {edge.first, edge.second, middle_.at(edge)})
        held_[2 * static_cast<std::size_t>(i)] = held_[2 * static_cast<std::size_t>(i) + 1] = 1;
    }
    if (any) return;
    // Three degrees of freedom of the rigid body; the loads are in balance.
    const auto& loop = out_.mesh.loops.front();
    const auto by_x = [&](int a, int b) {
      return out_.mesh.points[static_cast<std::size_t>(a)].x <
             out_.mesh.points[static_cast<std::size_t>(b)].x;
    };
    const auto left = static_cast<std::size_t>(*std::min_element(loop.begin(), loop.end(), by_x));
    const auto right = static_cast<std::size_t>(*std::max_element(loop.begin(), loop.end(), by_x));
    held_[2 * left] = held_[2 * left + 1] = held_[2 * right + 1] = 1;
  }

  double PressureOn(const elastic::MeshEdge& edge) const {
    if (edge.contour == 0) {
      return problem_.outer_pressure_mpa.empty()
                 ? 0
                 : problem_.outer_pressure_mpa[static_cast<std::size_t>(edge.source)];
    }
    const auto hole = static_cast<std::size_t>(edge.contour - 1);
    return hole < problem_.holes.size() ? problem_.holes[hole].pressure_mpa : 0;
  }

  void Load() {
    const Mesh& mesh = out_.mesh;
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
      for (std::size_t k = 0; k < 3; ++k) {
        const int a = mesh.triangles[t][k], b = mesh.triangles[t][(k + 1) % 3];
        const auto edge = std::make_pair(std::min(a, b), std::max(a, b));
        if (count_.at(edge) != 1) continue;
        const auto info = mesh.edges.find(edge);
        if (info == mesh.edges.end()) continue;
        const double p = PressureOn(info->second);
        if (p == 0) continue;
        const PointUm e =
            mesh.points[static_cast<std::size_t>(b)] - mesh.points[static_cast<std::size_t>(a)];
        // Triangles turn +x towards +y: out of the solid is (e.y, -e.x); pressure pushes inwards.
        const PointUm push = -p * PointUm{e.y, -e.x};
        const auto add = [&](int node, double share) {
          force_(2 * node) += share * push.x;
          force_(2 * node + 1) += share * push.y;
        };
        add(a, 1.0 / 6);
        add(b, 1.0 / 6);
        add(middle_.at(edge), 4.0 / 6);
      }
    }
  }

  void Assemble() {
    const Mesh& mesh = out_.mesh;
    const auto first_p = static_cast<int>(2 * nodes());
    entries_.reserve(mesh.triangles.size() * 120);
    for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
      const auto& corner = mesh.triangles[t];
      const auto at = [&](std::size_t k) {
        return mesh.points[static_cast<std::size_t>(corner[k % 3])];
      };
      const double twice = Cross(at(1) - at(0), at(2) - at(0));
      std::array<PointUm, 3> g;
      for (std::size_t k = 0; k < 3; ++k) {
        const PointUm e = at(k + 2) - at(k + 1);
        g[k] = (1 / twice) * PointUm{-e.y, e.x};
      }
      out_.slopes.push_back(g);
      const ElasticMaterial& material = out_.materials[static_cast<std::size_t>(mesh.material[t])];
      const double mu = Mu(material), lambda = Lambda(material);
      std::array<int, 15> dof{};
      for (std::size_t k = 0; k < 3; ++k) {
        dof[2 * k] = 2 * corner[k];
        dof[2 * k + 1] = 2 * corner[k] + 1;
        dof[6 + 2 * k] = 2 * out_.middles[t][k];
        dof[6 + 2 * k + 1] = 2 * out_.middles[t][k] + 1;
        dof[12 + k] = first_p + out_.pressure[t][k];
      }
      double local[15][15] = {};
      for (const auto& l : kRule) {
        const std::array<PointUm, 6> d = Gradients(g, l);
        const double w = twice / 6;
        for (std::size_t i = 0; i < 6; ++i) {
          for (std::size_t j = 0; j < 6; ++j) {
            // 2 mu eps(u) : eps(v)
            const double same = Dot(d[i], d[j]);
            local[2 * i][2 * j] += w * mu * (same + d[i].x * d[j].x);
            local[2 * i + 1][2 * j + 1] += w * mu * (same + d[i].y * d[j].y);
            local[2 * i][2 * j + 1] += w * mu * d[i].y * d[j].x;
            local[2 * i + 1][2 * j] += w * mu * d[i].x * d[j].y;
          }
          for (std::size_t q = 0; q < 3; ++q) {
            local[2 * i][12 + q] -= w * l[q] * d[i].x;
            local[2 * i + 1][12 + q] -= w * l[q] * d[i].y;
            local[12 + q][2 * i] -= w * l[q] * d[i].x;
            local[12 + q][2 * i + 1] -= w * l[q] * d[i].y;
          }
        }
        for (std::size_t q = 0; q < 3; ++q) {
          for (std::size_t r = 0; r < 3; ++r) local[12 + q][12 + r] -= w * l[q] * l[r] / lambda;
        }
      }
      for (std::size_t i = 0; i < 15; ++i) {
        if (Held(dof[i])) continue;
        for (std::size_t j = 0; j < 15; ++j) {
          if (dof[j] <= dof[i] && !Held(dof[j])) entries_.emplace_back(dof[i], dof[j], local[i][j]);
        }
      }
    }
  }
  bool Held(int dof) const {
    return dof < static_cast<int>(held_.size()) && held_[static_cast<std::size_t>(dof)] != 0;
  }

  Status Factor() {
    const auto n = force_.size();
    std::vector<int> place(static_cast<std::size_t>(n), -1);
    int free = 0;
    for (int i = 0; i < n; ++i) {
      if (!Held(i)) place[static_cast<std::size_t>(i)] = free++;
    }
    for (auto& e : entries_)
      e = {place[static_cast<std::size_t>(e.row())], place[static_cast<std::size_t>(e.col())],
           e.value()};
    Eigen::SparseMatrix<double> matrix(free, free);
    matrix.setFromTriplets(entries_.begin(), entries_.end());
    entries_ = {};
    Eigen::VectorXd right(free);
    for (int i = 0; i < n; ++i) {
      if (!Held(i)) right(place[static_cast<std::size_t>(i)]) = force_(i);
    }
    Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>, Eigen::Lower> ldlt(matrix);
    if (ldlt.info() != Eigen::Success)
      return Fail(Code::kInternal, "the equations of the solid could not be solved");
    Eigen::VectorXd x = ldlt.solve(right);
    // One step of refinement: the pivots of a quasi-definite system are not chosen.
    x += ldlt.solve(right - matrix.selfadjointView<Eigen::Lower>() * x);
    const double error = (right - matrix.selfadjointView<Eigen::Lower>() * x).norm();
    if (!(error <= 1e-6 * std::max(1e-300, right.norm())))
      return Fail(
          Code::kInternal,
          fmt::format("the equations of the solid are too ill-conditioned ({:.1e})", error));
    const auto value = [&](int dof) {
      return Held(dof) ? 0.0 : x(place[static_cast<std::size_t>(dof)]);
    };
    for (std::size_t i = 0; i < nodes(); ++i)
      out_.u[i] = {value(static_cast<int>(2 * i)), value(static_cast<int>(2 * i + 1))};
    for (std::size_t i = 0; i < out_.p.size(); ++i)
      out_.p[i] = value(static_cast<int>(2 * nodes() + i));
    return {};
  }

  // Of a free body: mean shift and turn of the outer contour.
  void TakeOffRigidMotion() {
    if (std::any_of(problem_.outer_held.begin(), problem_.outer_held.end(),
                    [](char h) { return h != 0; }))
      return;
    const auto& loop = out_.mesh.loops.front();
    const double share = 1.0 / static_cast<double>(loop.size());
    PointUm centre, shift;
    for (int i : loop) {
      centre = centre + share * out_.mesh.points[static_cast<std::size_t>(i)];
      shift = shift + share * out_.u[static_cast<std::size_t>(i)];
    }
    double turn = 0, square = 0;
    for (int i : loop) {
      const PointUm r = out_.mesh.points[static_cast<std::size_t>(i)] - centre;
      turn += Cross(r, out_.u[static_cast<std::size_t>(i)] - shift);
      square += Dot(r, r);
    }
    turn /= square;
    const auto rigid = [&](PointUm p) {
      const PointUm r = p - centre;
      return shift + turn * PointUm{-r.y, r.x};
    };
    const std::size_t corners = out_.mesh.points.size();
    for (std::size_t i = 0; i < corners; ++i) out_.u[i] = out_.u[i] - rigid(out_.mesh.points[i]);
    for (const auto& [edge, m] : middle_) {
      const PointUm at = 0.5 * (out_.mesh.points[static_cast<std::size_t>(edge.first)] +
                                out_.mesh.points[static_cast<std::size_t>(edge.second)]);
      out_.u[static_cast<std::size_t>(m)] = out_.u[static_cast<std::size_t>(m)] - rigid(at);
    }
  }

  const ElasticProblem& problem_;
  ElasticSolution::Impl& out_;
  std::map<std::pair<int, int>, int> middle_, count_;
  std::vector<char> held_;
  std::vector<Eigen::Triplet<double>> entries_;
  Eigen::VectorXd force_;
};

}  // namespace

void ElasticSolution::Impl::SetGrid() {
  const Box<FrameUm> box = BoundingBox(mesh.points);
  least = box.least;
  const PointUm size = box.greatest - box.least;
  const double count = std::sqrt(static_cast<double>(mesh.triangles.size()));
  cell = std::max(std::max(size.x, size.y) / std::max(1.0, count), 1e-9);
  across = static_cast<int>(size.x / cell) + 1;
  down = static_cast<int>(size.y / cell) + 1;
  cells.assign(static_cast<std::size_t>(across) * static_cast<std::size_t>(down), {});
  for (std::size_t t = 0; t < mesh.triangles.size(); ++t) {
    double x0 = 1e300, x1 = -1e300, y0 = 1e300, y1 = -1e300;
    for (int i : mesh.triangles[t]) {
      const PointUm q = mesh.points[static_cast<std::size_t>(i)] - least;
      x0 = std::min(x0, q.x), x1 = std::max(x1, q.x), y0 = std::min(y0, q.y),
      y1 = std::max(y1, q.y);
    }
    for (int y = static_cast<int>(y0 / cell); y <= std::min(down - 1, static_cast<int>(y1 / cell));
         ++y) {
      for (int x = static_cast<int>(x0 / cell);
           x <= std::min(across - 1, static_cast<int>(x1 / cell)); ++x)
        cells[Cell(x, y)].push_back(static_cast<int>(t));
    }
  }
}

int ElasticSolution::Impl::Find(PointUm q, std::array<double, 3>& at) const {
  const PointUm d = q - least;
  const int x = static_cast<int>(std::floor(d.x / cell)),
            y = static_cast<int>(std::floor(d.y / cell));
  if (x < 0 || y < 0 || x >= across || y >= down) return -1;
  for (int t : cells[Cell(x, y)]) {
    const auto& corner = mesh.triangles[static_cast<std::size_t>(t)];
    const auto& g = slopes[static_cast<std::size_t>(t)];
    bool inside = true;
    for (std::size_t k = 0; k < 3 && inside; ++k) {
      at[k] = 1 + Dot(g[k], q - mesh.points[static_cast<std::size_t>(corner[k])]);
      inside = at[k] >= -1e-9;
    }
    if (inside) return t;
  }
  return -1;
}

double PlaneStress::Along(PointUm n) const {
  return xx * n.x * n.x + yy * n.y * n.y + 2 * xy * n.x * n.y;
}
double PlaneStress::Mises() const {
  const double a = xx - yy, b = yy - zz, c = zz - xx;
  return std::sqrt(0.5 * (a * a + b * b + c * c) + 3 * xy * xy);
}
double LigamentStress::Greatest() const { return std::abs(membrane_mpa) + std::abs(bending_mpa); }

std::optional<PlaneStress> ElasticSolution::StressAt(PointUm q) const {
  std::array<double, 3> l{};
  const int found = impl_->Find(q, l);
  if (found < 0) return std::nullopt;
  const auto t = static_cast<std::size_t>(found);
  const auto d = Gradients(impl_->slopes[t], l.data());
  double xx = 0, yy = 0, xy = 0, p = 0;
  for (std::size_t k = 0; k < 6; ++k) {
    const int node = k < 3 ? impl_->mesh.triangles[t][k] : impl_->middles[t][k - 3];
    const PointUm u = impl_->u[static_cast<std::size_t>(node)];
    xx += d[k].x * u.x;
    yy += d[k].y * u.y;
    xy += 0.5 * (d[k].y * u.x + d[k].x * u.y);
  }
  for (std::size_t k = 0; k < 3; ++k)
    p += l[k] * impl_->p[static_cast<std::size_t>(impl_->pressure[t][k])];
  const double mu = Mu(impl_->materials[static_cast<std::size_t>(impl_->mesh.material[t])]);
  return PlaneStress{2 * mu * xx - p, 2 * mu * yy - p, 2 * mu * xy, -p};
}

std::optional<PointUm> ElasticSolution::DisplacementAt(PointUm q) const {
  std::array<double, 3> l{};
  const int found = impl_->Find(q, l);
  if (found < 0) return std::nullopt;
  const auto t = static_cast<std::size_t>(found);
  PointUm u;
  for (std::size_t k = 0; k < 3; ++k) {
    const double corner = l[k] * (2 * l[k] - 1), middle = 4 * l[k] * l[(k + 1) % 3];
    u = u + corner * impl_->u[static_cast<std::size_t>(impl_->mesh.triangles[t][k])] +
        middle * impl_->u[static_cast<std::size_t>(impl_->middles[t][k])];
  }
  return u;
}

std::optional<LigamentStress> ElasticSolution::Linearised(PointUm a, PointUm b) const {
  constexpr int kSteps = 40;
  const double length = Distance(a, b);
  if (!(length > 0)) return std::nullopt;
  const PointUm along = (1 / length) * (b - a), wall{-along.y, along.x};
  double sum = 0, moment = 0, square = 0;
  int inside = 0;
  for (int i = 0; i < kSteps; ++i) {
    const double y = (i + 0.5) / kSteps - 0.5;  // in thicknesses, from the middle
    const auto stress = StressAt(a + (length * (y + 0.5)) * along);
    if (!stress) continue;
    ++inside;
    const double s = stress->Along(wall);
    sum += s;
    moment += s * y;
    square += y * y;
  }
  if (inside < kSteps - kSteps / 20) return std::nullopt;
  return LigamentStress{sum / inside, -0.5 * moment / square};
}

const ContourUm& ElasticSolution::corners() const { return impl_->mesh.points; }
const std::vector<std::array<int, 3>>& ElasticSolution::elements() const {
  return impl_->mesh.triangles;
}

ContourUm ElasticSolution::Displaced(std::size_t contour, double times) const {
  ContourUm out;
  for (int i : impl_->mesh.loops[contour])
    out.push_back(impl_->mesh.points[static_cast<std::size_t>(i)] +
                  times * impl_->u[static_cast<std::size_t>(i)]);
  return out;
}

Result<ElasticSolution> SolveElastic(const ElasticProblem& problem) {
  auto impl = std::make_shared<ElasticSolution::Impl>();
  impl->materials = problem.materials;
  for (ElasticMaterial& m : impl->materials) {
    if (!(m.modulus_mpa > 0) || !(m.poisson >= 0) || m.poisson > 0.5)
      return Fail(Code::kUsage,
                  "a material needs a modulus above 0 and a Poisson's ratio of 0 to 0.5");
    // At 0 there is no pressure to speak of; the mixed form needs a little.
    m.poisson = std::clamp(m.poisson, 1e-4, kMostPoisson);
  }
  for (const auto& region : problem.regions) {
    if (region.material >= problem.materials.size())
      return Fail(Code::kUsage, "a region without a material");
  }
  auto mesh = elastic::MakeMesh(problem);
  if (!mesh) return tl::unexpected(mesh.error());
  impl->mesh = std::move(*mesh);
  if (auto status = Solver(problem, *impl).Solve(); !status) return tl::unexpected(status.error());
  impl->SetGrid();
  return ElasticSolution(std::move(impl));
}

}  // namespace cutface
