#include "measure/draws.h"

#include <algorithm>
#include <cmath>

namespace cutface::measure {
namespace {

// A kernel reaches three of its standard deviations (half a correlation length) to each side.
constexpr std::size_t kDrawReach = 7;
// Below this share of the mean spacing neighbours do not notice each other.
constexpr double kIndependentShare = 0.6;

}  // namespace

ArcProcess::ArcProcess(const std::vector<double>& places, double perimeter, double length)
    : places_(places.size()) {
  if (places.empty() || perimeter <= 0) return;
  if (length < kIndependentShare * perimeter / static_cast<double>(places.size())) return;
  knots_ = static_cast<std::size_t>(std::max(1.0, std::round(perimeter / (0.5 * length))));
  reach_ = std::min(kDrawReach, knots_);
  const double spacing = perimeter / static_cast<double>(knots_);
  first_.reserve(places_);
  weights_.reserve(places_ * reach_);
  for (const double place : places) {
    const auto nearest = static_cast<std::int64_t>(std::floor(place / spacing + 0.5));
    const std::int64_t first = nearest - static_cast<std::int64_t>(reach_ / 2);
    double sum = 0;
    const std::size_t start = weights_.size();
    for (std::size_t k = 0; k < reach_; ++k) {
      double d = place - static_cast<double>(first + static_cast<std::int64_t>(k)) * spacing;
      d -= perimeter * std::round(d / perimeter);
      const double weight = std::exp(-2 * (d / length) * (d / length));
      weights_.push_back(weight);
      sum += weight * weight;
    }
    for (std::size_t k = start; k < weights_.size(); ++k) weights_[k] /= std::sqrt(sum);
    const auto count = static_cast<std::int64_t>(knots_);
    first_.push_back(static_cast<std::uint32_t>(((first % count) + count) % count));
  }
  knot_values_.resize(knots_ + kDrawReach);
}

void ArcProcess::Draw(Random& random, std::vector<double>& out) const {
  out.resize(places_);
  if (reach_ == 0) {
    for (double& value : out) value = random.Normal();
    return;
  }
  for (std::size_t k = 0; k < knots_; ++k) knot_values_[k] = random.Normal();
  // The first knots once more behind the last: a place near the seam reads on without a modulus.
  for (std::size_t k = 0; k < reach_; ++k) knot_values_[knots_ + k] = knot_values_[k % knots_];
  const double* weight = weights_.data();
  for (std::size_t i = 0; i < places_; ++i, weight += reach_) {
    const double* knot = knot_values_.data() + first_[i];
    double sum = 0;
    for (std::size_t k = 0; k < reach_; ++k) sum += weight[k] * knot[k];
    out[i] = sum;
  }
}

std::vector<std::vector<double>> BalancedNormals(Random& random, int columns, int draws) {
  std::vector<std::vector<double>> out(static_cast<std::size_t>(std::max(columns, 0)));
  const std::size_t orthogonal = static_cast<std::size_t>(std::max(1, draws / 3));
  for (std::size_t c = 0; c < out.size(); ++c) {
    std::vector<double>& column = out[c];
    column.resize(static_cast<std::size_t>(draws));
    for (double& z : column) z = random.Normal();
    const double mean = Mean(column);
    for (double& z : column) z -= mean;
    for (std::size_t other = 0; c < orthogonal && other < c; ++other) {
      double product = 0;
      for (std::size_t d = 0; d < column.size(); ++d) product += column[d] * out[other][d];
      product /= static_cast<double>(draws - 1);
      for (std::size_t d = 0; d < column.size(); ++d) column[d] -= product * out[other][d];
    }
    const double spread = StandardDeviation(column);
    for (double& z : column) z /= spread;
  }
  return out;
}

namespace {

bool Wavers(const Feature& feature) {
  return std::any_of(feature.waver.begin(), feature.waver.end(), [](double w) { return w > 0; });
}

}  // namespace

DrawMachine::DrawMachine(const Face& face, double u_scale_x, double u_scale_y, int draws,
                         std::uint64_t seed)
    : face_(face), u_x_(u_scale_x), u_y_(u_scale_y), draws_(draws), seed_(seed), random_(seed) {
  // All wires share the column of the first: one halo.
  const std::size_t own = face.features.size() - face.wires.size() + (face.wires.empty() ? 0 : 1);
  scalars_ = BalancedNormals(random_, 3 + static_cast<int>(own), draws_);
  for (const Feature& feature : face.features) {
    std::vector<double> places;
    places.reserve(feature.used.size());
    for (std::uint32_t i : feature.used) places.push_back(feature.arc[i]);
    const TracedContour* traced = feature.traced;
    const bool has = feature.Measurable() && traced != nullptr;
    arc_.emplace_back(places, feature.perimeter, has ? traced->arc_length_um : 0.0);
    noise_.emplace_back(places, feature.perimeter, has ? traced->noise_length_um : 0.0);
    if (!has) continue;
    has_arc_ = has_arc_ || Wavers(feature);
    has_noise_ = has_noise_ || std::any_of(feature.sigma.begin(), feature.sigma.end(),
                                           [](double sigma) { return sigma > 0; });
  }
}

// The polymer lies outside a bore and inside the outline.
double DrawMachine::Side(const Feature& feature) {
  return feature.kind == Feature::Kind::kOutline ? -1.0 : 1.0;
}

void DrawMachine::Draw(int draw, const Parts& parts, std::vector<ContourUm>& out, double ripple) {
  const auto d = static_cast<std::size_t>(draw % draws_);
  out.resize(face_.features.size());
  for (std::size_t f = 0; f < face_.features.size(); ++f) {
    const Feature& feature = face_.features[f];
    out[f].resize(feature.used.size());
    if (!feature.Measurable()) continue;
    const TracedContour& traced = *feature.traced;
    const double shared = std::sqrt(traced.common_share) * Side(feature) * scalars_[2][d];
    const std::size_t column = std::min(3 + f, scalars_.size() - 1);
    const double own = std::sqrt(1 - traced.common_share) * scalars_[column][d];
    const double common = parts.common ? (shared + own) * traced.u_common_um : 0.0;
    shift_.assign(feature.used.size(), common);
    if (parts.arc && Wavers(feature)) {
      arc_[f].Draw(random_, z_);
      for (std::size_t i = 0; i < shift_.size(); ++i)
        shift_[i] += ripple * feature.waver[feature.used[i]] * z_[i];
    }
    if (parts.noise && has_noise_) {
      noise_[f].Draw(random_, z_);
      for (std::size_t i = 0; i < shift_.size(); ++i) {
        shift_[i] += ripple * feature.sigma[feature.used[i]] * z_[i];
      }
    }
    for (std::size_t i = 0; i < shift_.size(); ++i) {
      const std::uint32_t v = feature.used[i];
      out[f][i] = feature.calm[v] + shift_[i] * feature.normals[v];
    }
  }
  Scale(parts.scale_x ? scalars_[0][d] : 0.0, parts.scale_y ? scalars_[1][d] : 0.0, out);
}

void DrawMachine::Displace(const Parts& parts, int only, std::vector<ContourUm>& out) const {
  out.resize(face_.features.size());
  for (std::size_t f = 0; f < face_.features.size(); ++f) {
    const Feature& feature = face_.features[f];
    out[f].resize(feature.used.size());
    if (!feature.Measurable()) continue;
    const bool moves = only == kAllVoids   ? feature.kind == Feature::Kind::kVoid
                       : only == kAllWires ? feature.kind == Feature::Kind::kWire
                                           : only < 0 || static_cast<std::size_t>(only) == f;
    // One step for what all contours share, one per contour for the rest.
    const double share = feature.traced->common_share;
    const double part = only == kShared ? std::sqrt(share) * Side(feature) : std::sqrt(1 - share);
    const double shift = parts.common && moves ? part * feature.traced->u_common_um : 0.0;
    for (std::size_t i = 0; i < out[f].size(); ++i) {
      const std::uint32_t v = feature.used[i];
      out[f][i] = feature.calm[v] + shift * feature.normals[v];
    }
  }
  Scale(parts.scale_x ? 1.0 : 0.0, parts.scale_y ? 1.0 : 0.0, out);
}

void DrawMachine::Scale(double zx, double zy, std::vector<ContourUm>& out) const {
  const double sx = 1 + zx * u_x_, sy = 1 + zy * u_y_;
  if (sx == 1 && sy == 1) return;
  for (ContourUm& contour : out) {
    for (PointUm& p : contour) p = {p.x * sx, p.y * sy};
  }
}

}  // namespace cutface::measure
