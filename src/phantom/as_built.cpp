#include "phantom/as_built.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "phantom/shapes.h"

namespace cutface::phantom {
namespace {

constexpr std::size_t kVertices = 1200;  // per contour: chord error below 0.005 px up to 1100 px

// Radial harmonics 2..4 about the centroid: oval, three-lobed, squared.
ContourPx Lobed(const ContourPx& contour, double amplitude, Random& random) {
  double a[3], phase[3];
  for (int k = 0; k < 3; ++k) {
    a[k] = amplitude * random.Normal() / (k + 1);
    phase[k] = random.Uniform(0, 2 * kPi);
  }
  const PointPx c = CentroidOf(contour);
  ContourPx out;
  out.reserve(contour.size());
  for (const PointPx p : contour) {
    const PointPx d = p - c;
    const double theta = std::atan2(d.y, d.x);
    double share = 1;
    for (int k = 0; k < 3; ++k) share += a[k] * std::cos((k + 2) * theta + phase[k]);
    out.push_back(c + share * d);
  }
  return out;
}

// Correlated displacement along the normals; `length` is the shortest wavelength that matters.
ContourPx Roughened(const ContourPx& contour, double deviation, double length, Random& random) {
  if (deviation <= 0) return contour;
  const std::size_t n = contour.size();
  ContourPx noise(n);
  for (PointPx& p : noise) p = {random.Normal(), 0};
  // ArcSmoothed takes its step from the length of what it smooths; here that is the contour's.
  const double step = LengthOf(contour) / static_cast<double>(n);
  const double sigma = length / 4 / step;  // in vertices: wavelengths under `length` fade
  std::vector<double> smooth(n, 0.0);
  const auto reach =
      static_cast<std::ptrdiff_t>(std::min(4 * sigma + 1, 0.5 * static_cast<double>(n) - 1));
  const auto count = static_cast<std::ptrdiff_t>(n);
  double sum2 = 0;
  for (std::ptrdiff_t k = -reach; k <= reach; ++k) {
    const double w = std::exp(-0.5 * std::pow(static_cast<double>(k) / sigma, 2));
    sum2 += w * w;
    for (std::ptrdiff_t i = 0; i < count; ++i) {
      smooth[static_cast<std::size_t>(i)] +=
          w * noise[static_cast<std::size_t>(((i + k) % count + count) % count)].x;
    }
  }
  ContourPx out(n);
  for (std::size_t i = 0; i < n; ++i) {
    out[i] = contour[i] + (deviation * smooth[i] / std::sqrt(sum2)) * OutwardNormalAt(contour, i);
  }
  return out;
}

ContourPx Squashed(const ContourPx& contour, double share, bool kidney, double angle) {
  const PointPx c = CentroidOf(contour);
  ContourPx out = Mapped(contour, About(c, StretchMap(1 - share, angle)));
  if (!kidney) return out;
  // Bend along the long axis.
  const double half = 0.5 * WidthsOf(out).greatest;
  for (PointPx& p : out) {
    PointPx d = Rotated(p - c, -angle);
    d.x += 0.35 * share * half * ((d.y / half) * (d.y / half) - 0.3);
    p = c + Rotated(d, angle);
  }
  return out;
}

double LeastOfGaps(const ContourPx& outline, const std::vector<ContourPx>& lumens, double& wall) {
  double septum = 1e9;
  wall = 1e9;
  for (std::size_t i = 0; i < lumens.size(); ++i) {
    if (!Inside(outline, lumens[i][0])) wall = 0;
    wall = std::min(wall, LeastGap(lumens[i], outline).distance);
    for (std::size_t j = 0; j < i; ++j) {
      septum = std::min(septum, LeastGap(lumens[i], lumens[j]).distance);
      if (Inside(lumens[j], lumens[i][0]) || Inside(lumens[i], lumens[j][0])) septum = 0;
    }
  }
  return septum;
}

// Pushes both sides of a septum towards each other around its thinnest place.
void ThinSeptum(ContourPx& first, ContourPx& second, double target, Random& random) {
  const double reach =
      0.12 * std::min(LengthOf(first), LengthOf(second)) * random.Uniform(0.5, 1.0);
  for (int round = 0; round < 6; ++round) {
    const Gap gap = LeastGap(first, second);
    const double excess = gap.distance - target;
    if (std::abs(excess) < 0.02 * target + 0.02 || gap.distance < 0.3) return;
    const PointPx across = (1.0 / gap.distance) * (gap.on_second - gap.on_first);
    const auto push = [&](ContourPx& contour, PointPx at, double by) {
      for (PointPx& p : contour) {
        const double u = Distance(p, at) / std::max(reach, 3 * std::abs(excess));
        p = p + (by * std::exp(-0.5 * u * u)) * across;
      }
    };
    push(first, gap.on_first, 0.5 * excess);
    push(second, gap.on_second, -0.5 * excess);
  }
}

// A ragged channel with flared lips from `gap.on_first` to `gap.on_second`, reaching into both
// lumens.
// `narrowest` is the least distance between its two banks.
ContourPx Channel(const Gap& gap, double width, double& narrowest, Random& random) {
  const PointPx along = (1.0 / gap.distance) * (gap.on_second - gap.on_first);
  const PointPx side{-along.y, along.x};
  const double beyond = 0.35 * width + 2;
  constexpr int kSteps = 40;
  // Torn, not cut: each side wanders by a share of the width and is frayed a little.
  const double fray = std::min(0.08 * width, 1.2);
  std::vector<PointPx> left, right;
  for (std::vector<PointPx>* bank : {&left, &right}) {
    const double sign = bank == &left ? 1 : -1;
    const double wander = random.Uniform(0, 0.22) * width, waves = random.Uniform(0.5, 1.6);
    const double phase = random.Uniform(0, 2 * kPi);
    for (int i = 0; i <= kSteps; ++i) {
      const double s = -beyond + (gap.distance + 2 * beyond) * i / kSteps;
      const double u = (s - 0.5 * gap.distance) / (0.5 * gap.distance + 1);
      const double half = 0.5 * width * (1 + 0.12 * std::min(u * u, 4.0)) +
                          wander * (1 + std::sin(2 * kPi * waves * i / kSteps + phase)) +
                          fray * random.Uniform();
      bank->push_back(gap.on_first + s * along + (sign * half) * side);
    }
  }
  narrowest = Distance(left[0], right[0]);
  for (const PointPx p : left) {
    for (const PointPx q : right) narrowest = std::min(narrowest, Distance(p, q));
  }
  left.insert(left.end(), right.rbegin(), right.rend());
  if (AreaOf(left) < 0) std::reverse(left.begin(), left.end());
  return left;
}

// Does the channel end inside both lumens, all its width, and stay off everything else?
bool ChannelFits(const ContourPx& channel, const BuiltPart& part, std::size_t i, std::size_t j,
                 const BuildRecipe& recipe) {
  const std::size_t n = channel.size();
  const auto end_inside = [&](std::size_t from, std::size_t to) {
    for (std::size_t k : {from, to}) {
      const PointPx p = channel[k % n];
      if (!Inside(part.lumens[i].contour, p) && !Inside(part.lumens[j].contour, p)) return false;
    }
    return true;
  };
  if (!end_inside(0, n - 1) || !end_inside(n / 2 - 1, n / 2)) return false;
  if (LeastGap(channel, part.outline).distance < recipe.least_wall_px) return false;
  for (std::size_t k = 0; k < part.lumens.size(); ++k) {
    if (k == i || k == j) continue;
    if (LeastGap(channel, part.lumens[k].contour).distance < recipe.least_septum_px) return false;
  }
  return true;
}

// Joins two lumens where their septum is thin; empty when no place is found.
ContourPx Joined(const BuiltPart& part, std::size_t i, std::size_t j, double width,
                 const BuildRecipe& recipe, double& narrowest, Random& random) {
  const ContourPx &first = part.lumens[i].contour, &second = part.lumens[j].contour;
  const double least = LeastGap(first, second).distance;
  for (int tries = 0; tries < 200; ++tries) {
    const auto at = static_cast<std::size_t>(random.Integer(0, static_cast<int>(first.size()) - 1));
    const Gap gap = LeastGap(first[at], second);
    if (gap.distance > 1.3 * least + 3) continue;
    const ContourPx channel = Channel(gap, width, narrowest, random);
    if (!ChannelFits(channel, part, i, j, recipe)) continue;
    const ContourPx joined = UnionOf({first, second, channel});
    if (joined.size() < 3) continue;
    return ArcSmoothed(EqualSteps(joined, kVertices + 240), 0.7);
  }
  return {};
}

ContourPx VoidAt(PointPx centre, double diameter, Random& random) {
  const double ragged = random.Chance(0.5) ? random.Uniform(0.0, 0.05) : random.Uniform(0.05, 0.16);
  double a[5], phase[5];
  for (int k = 0; k < 5; ++k) {
    a[k] = ragged * random.Normal() / std::sqrt(k + 1.0);
    phase[k] = random.Uniform(0, 2 * kPi);
  }
  ContourPx out;
  const int n = 720;
  for (int i = 0; i < n; ++i) {
    const double t = 2 * kPi * i / n;
    double r = 1;
    for (int k = 0; k < 5; ++k) r += a[k] * std::cos((k + 2) * t + phase[k]);
    r = std::max(r, 0.45);
    out.push_back(PointPx{r * std::cos(t), r * std::sin(t)});
  }
  const double now = 2 * std::sqrt(AreaOf(out) / kPi);
  for (PointPx& p : out) p = centre + (diameter / now) * p;
  return out;
}

bool VoidFits(const ContourPx& v, const BuiltPart& part, double clearance) {
  if (!Inside(part.outline, v[0]) || LeastGap(v, part.outline).distance < clearance) return false;
  for (const BuiltLumen& lumen : part.lumens) {
    if (lumen.contour.empty()) continue;
    if (Inside(lumen.contour, v[0]) || LeastGap(v, lumen.contour).distance < clearance)
      return false;
  }
  for (const ContourPx& other : part.voids) {
    if (Inside(other, v[0]) || LeastGap(v, other).distance < clearance) return false;
  }
  return true;
}

void AddVoids(BuiltPart& part, const BuildRecipe& recipe, Random& random) {
  const auto [least, greatest] = BoundsOf(part.outline);
  int placed = 0;
  for (int tries = 0; tries < 300 && placed < recipe.voids; ++tries) {
    const double share = random.Uniform();
    const double diameter =
        recipe.least_void_px * std::pow(recipe.greatest_void_px / recipe.least_void_px, share);
    const PointPx c{random.Uniform(least.x, greatest.x), random.Uniform(least.y, greatest.y)};
    if (!Inside(part.outline, c)) continue;
    ContourPx v = VoidAt(c, diameter, random);
    if (!VoidFits(v, part, 3.0)) continue;
    part.voids.push_back(std::move(v));
    ++placed;
  }
}

void AddVoidChain(BuiltPart& part, const std::vector<ContourPx>& lumens, const BuildRecipe& recipe,
                  Random& random) {
  constexpr double kApart = 2.0;  // px of solid between neighbours of the chain
  std::vector<std::pair<double, std::pair<std::size_t, std::size_t>>> pairs;
  for (const auto& [i, j] : FacingPairs(lumens)) {
    pairs.push_back({-LeastGap(lumens[i], lumens[j]).distance, {i, j}});
  }
  std::sort(pairs.begin(), pairs.end());  // the widest septum first
  if (recipe.septum) pairs = {{0, *recipe.septum}};
  for (const auto& [unused, ij] : pairs) {
    const Gap at = LeastGap(lumens[ij.first], lumens[ij.second]);
    const int n = std::clamp(static_cast<int>(at.distance / 12), 1, 5);
    const double step = (at.distance - kApart) / n;
    if (step < 6 + kApart) continue;
    for (int k = 0; k < n; ++k) {
      const double s = (0.5 * kApart + (k + 0.5) * step) / at.distance;
      const PointPx c = at.on_first + s * (at.on_second - at.on_first) +
                        (random.Uniform(-0.2, 0.2) * step / at.distance) *
                            PointPx{at.on_first.y - at.on_second.y, at.on_second.x - at.on_first.x};
      const double most = std::min(step - kApart - 0.5, 40.0);
      ContourPx v = VoidAt(c, std::max(6.0, most * random.Uniform(0.55, 1.0)), random);
      if (VoidFits(v, part, 0.7 * kApart)) part.voids.push_back(std::move(v));
    }
    return;
  }
}

struct Shaped {
  ContourPx outline;
  std::vector<ContourPx> lumens;
};

Shaped ShapeOnce(const Nominal& nominal, const BuildRecipe& r, double strength, Random& random) {
  const double scale = 1 + strength * r.scale * random.Normal();
  const double diameter = WidthsOf(nominal.outline.contour).greatest;
  Shaped s;
  const Affine grow{scale, 0, 0, scale, 0, 0};
  s.outline = EqualSteps(nominal.outline.contour, kVertices);
  s.outline = Mapped(Lobed(s.outline, strength * r.lobing, random), grow);
  const double turn = strength * r.group_turn_deg * kPi / 180 * random.Normal();
  const PointPx shift{strength * r.group_shift * diameter * random.Normal(),
                      strength * r.group_shift * diameter * random.Normal()};
  Affine group = Compose(RotationMap(turn), grow);
  group.tx = shift.x;
  group.ty = shift.y;
  const int last = static_cast<int>(nominal.lumens.size()) - 1;
  std::size_t collapsed = nominal.lumens.size();  // none
  if (r.collapse > 0 && last >= 0) {
    collapsed = r.collapsed.value_or(static_cast<std::size_t>(random.Integer(0, last)));
  }
  for (std::size_t i = 0; i < nominal.lumens.size(); ++i) {
    ContourPx lumen = EqualSteps(nominal.lumens[i].shape.contour, kVertices);
    const double width = WidthsOf(lumen).least;
    lumen = ArcSmoothed(lumen, std::min(r.corner_px, 0.06 * width));
    lumen = Lobed(lumen, strength * r.lumen_lobing, random);
    const double own = 1 + strength * r.lumen_scale * random.Normal();
    Affine local{own, 0, 0, own, 0, 0};
    local = About(CentroidOf(lumen), local);
    local.tx += strength * r.lumen_shift_px * random.Normal();
    local.ty += strength * r.lumen_shift_px * random.Normal();
    lumen = Mapped(lumen, Compose(group, local));
    if (i == collapsed) {
      lumen = Squashed(lumen, r.collapse, r.kidney, random.Uniform(0, kPi));
    }
    s.lumens.push_back(EqualSteps(lumen, kVertices));
  }
  s.outline = ArcSmoothed(EqualSteps(s.outline, kVertices), 0.5 * r.corner_px);
  return s;
}

void BreakSeptum(BuiltPart& part, const std::vector<ContourPx>& lumens, const BuildRecipe& recipe,
                 Random& random) {
  auto pairs = FacingPairs(lumens);
  std::sort(pairs.begin(), pairs.end(), [&](const auto& a, const auto& b) {
    return LeastGap(lumens[a.first], lumens[a.second]).distance <
           LeastGap(lumens[b.first], lumens[b.second]).distance;
  });
  if (pairs.empty()) return;
  const int most = std::min(2, static_cast<int>(pairs.size()) - 1);
  const auto pick = static_cast<std::size_t>(random.Integer(0, most));
  const auto [i, j] = recipe.septum.value_or(pairs[pick]);
  if (LeastGap(lumens[i], lumens[j]).distance > 60) return;
  const double width = std::min(
      {recipe.breach_px, 0.5 * WidthsOf(lumens[i]).least, 0.5 * WidthsOf(lumens[j]).least});
  double narrowest = 0;
  ContourPx joined = Joined(part, i, j, width, recipe, narrowest, random);
  if (joined.empty()) return;
  BuiltLumen &a = part.lumens[i], &b = part.lumens[j];
  a.contour = joined;
  b.contour = std::move(joined);
  a.state = b.state = BuiltState::kMerged;
  a.merged_with = {b.name};
  b.merged_with = {a.name};
  part.breaches.push_back({a.name, b.name, narrowest});
}

// The shape faults of one try: thin septum, then roughness.
void Deform(Shaped& s, const BuildRecipe& recipe, Random& random) {
  if (recipe.thin_septum_px > 0 && s.lumens.size() > 1) {
    // Lumens that were moved may hide from one another: then there is no septum to thin.
    const auto pairs = FacingPairs(s.lumens);
    std::optional<std::pair<std::size_t, std::size_t>> chosen = recipe.septum;
    if (!pairs.empty()) {
      const auto pick =
          static_cast<std::size_t>(random.Integer(0, static_cast<int>(pairs.size()) - 1));
      if (!chosen) chosen = pairs[pick];
    }
    if (chosen && LeastGap(s.lumens[chosen->first], s.lumens[chosen->second]).distance < 60)
      ThinSeptum(s.lumens[chosen->first], s.lumens[chosen->second], recipe.thin_septum_px, random);
  }
  s.outline = Roughened(s.outline, recipe.roughness_px, recipe.roughness_length_px, random);
  for (ContourPx& lumen : s.lumens) {
    const double length = std::min(recipe.roughness_length_px, LengthOf(lumen) / 8);
    lumen = Roughened(EqualSteps(lumen, kVertices), std::min(recipe.roughness_px, length / 60),
                      length, random);
  }
}

// One open lumen gets another state: the one named, or one drawn.
void Change(BuiltPart& part, std::optional<std::size_t> one, BuiltState state, Random& random) {
  const int last = static_cast<int>(part.lumens.size()) - 1;
  BuiltLumen& lumen = part.lumens[one.value_or(static_cast<std::size_t>(random.Integer(0, last)))];
  if (lumen.state != BuiltState::kOpen) return;
  lumen.state = state;
  if (state == BuiltState::kNotFound) lumen.contour.clear();
}

}  // namespace

std::vector<std::pair<std::size_t, std::size_t>> FacingPairs(const std::vector<ContourPx>& lumens) {
  std::vector<std::pair<std::size_t, std::size_t>> pairs;
  for (std::size_t i = 0; i < lumens.size(); ++i) {
    for (std::size_t j = i + 1; j < lumens.size(); ++j) {
      const Gap gap = LeastGap(lumens[i], lumens[j]);
      bool free = true;
      for (std::size_t k = 0; k < lumens.size() && free; ++k) {
        if (k == i || k == j) continue;
        for (int s = 1; s < 20 && free; ++s) {
          free = !Inside(lumens[k], gap.on_first + (s / 20.0) * (gap.on_second - gap.on_first));
        }
      }
      if (free) pairs.push_back({i, j});
    }
  }
  return pairs;
}

std::optional<BuiltPart> Build(const Nominal& nominal, const BuildRecipe& recipe, Random& random) {
  Shaped s;
  bool fits = false;
  double strength = 1;
  for (int tries = 0; tries < 40 && !fits; ++tries, strength *= 0.85) {
    s = ShapeOnce(nominal, recipe, strength, random);
    Deform(s, recipe, random);
    double wall = 0;
    const double septum = LeastOfGaps(s.outline, s.lumens, wall);
    fits = septum >= recipe.least_septum_px && wall >= recipe.least_wall_px;
  }
  if (!fits) return std::nullopt;
  BuiltPart part;
  part.outline = s.outline;
  for (std::size_t i = 0; i < s.lumens.size(); ++i) {
    part.lumens.push_back({nominal.lumens[i].name, s.lumens[i], BuiltState::kOpen, {}});
  }
  if (recipe.breach_px > 0) BreakSeptum(part, s.lumens, recipe, random);
  if (recipe.void_chain) AddVoidChain(part, s.lumens, recipe, random);
  AddVoids(part, recipe, random);
  if (recipe.filled) Change(part, recipe.filled_one, BuiltState::kFilled, random);
  if (recipe.missing && part.lumens.size() > 2) {
    Change(part, recipe.missing_one, BuiltState::kNotFound, random);
  }
  return part;
}

}  // namespace cutface::phantom
