#include "identify/wire_fit.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "cutface/stats.h"
#include "identify/raster.h"
#include "identify/wire_ruler.h"

namespace cutface {
namespace {

constexpr double kRingWeight = 0.45;  // of metal that goes on around a proposed wire
constexpr double kLeastScore = 0.30;  // of a proposal
constexpr double kCrossing = 2.0;     // cost of metal that two wires claim at once
constexpr int kSweeps = 5;

double Ramp(double distance, double soft) { return std::clamp(0.5 - distance / soft, 0.0, 1.0); }

double WholeTurns(double a) { return std::remainder(a, 2 * M_PI); }

// The share of metal unrolled about the layer's centre, and what is proposed in it.
class Proposer {
 public:
  Proposer(const WireField& field, const WireSize& size, const FitLimits& limits)
      : size_(size), limits_(limits) {
    step_ = std::clamp(size.across / 3.5, 0.7, 3.0);
    middle_ = 0.5 * (limits.inner + limits.outer);
    columns_ = std::max(32, static_cast<int>(std::lround(2 * M_PI * middle_ / step_)));
    const double margin = 1.6 * size.across + 3;
    low_ = limits.inner - margin;
    rows_ = static_cast<int>((limits.outer + margin - low_) / step_) + 1;
    metal_ = cv::Mat1f(rows_, columns_, 0.0f);
    for (int i = 0; i < rows_; ++i) {
      const double r = low_ + i * step_;
      for (int j = 0; j < columns_; ++j) {
        const double a = Angle(j);
        metal_(i, j) = field.MetalAt(field.frame.ToPicture({r * std::cos(a), r * std::sin(a)}));
      }
    }
    MakeKernel();
    score_ = cv::Mat1f(rows_, columns_, -1.0f);
    first_ = static_cast<int>(std::ceil((limits.inner - low_) / step_));
    last_ = std::min(rows_ - 1, static_cast<int>((limits.outer - low_) / step_));
    for (int j = 0; j < columns_; ++j) Rescore(j);
  }

  std::vector<FittedWire> Run() {
    std::vector<FittedWire> found;
    while (found.size() < limits_.most) {
      double best = -1;
      cv::Point at;
      cv::minMaxLoc(score_, nullptr, &best, nullptr, &at);
      if (best < kLeastScore) break;
      FittedWire wire;
      wire.angle = Angle(at.x);
      wire.radius = low_ + at.y * step_;
      wire.size = size_;
      found.push_back(wire);
      TakeAway(at.y, at.x);
    }
    return found;
  }

 private:
  double Angle(int j) const { return 2 * M_PI * j / columns_; }
  int Column(int j) const { return (j % columns_ + columns_) % columns_; }

  void MakeKernel() {
    const double out = 0.35 * size_.across + 1;
    reach_ = static_cast<int>((size_.along + out) / step_) + 1;
    const int rise = static_cast<int>((size_.across + out) / step_) + 1;
    for (int i = -rise; i <= rise; ++i) {
      for (int j = -reach_; j <= reach_; ++j) {
        const double d = ShapeDistance(size_, j * step_, i * step_);
        if (d <= 0) inside_.push_back({j, i});
        if (d > 0 && d < out) around_.push_back({j, i});
      }
    }
  }

  float Score(int row, int column) const {
    float in = 0, out = 0;
    for (const cv::Point& k : inside_) in += Metal(row + k.y, column + k.x);
    for (const cv::Point& k : around_) out += std::max(0.0f, Metal(row + k.y, column + k.x));
    const float mean = in / static_cast<float>(inside_.size());
    return 2 * mean - 1 -
           static_cast<float>(kRingWeight) * out / static_cast<float>(around_.size());
  }
  float Metal(int row, int column) const {
    return row < 0 || row >= rows_ ? 0.0f : metal_(row, Column(column));
  }
  void Rescore(int column) {
    const int c = Column(column);
    for (int i = first_; i <= last_; ++i) score_(i, c) = metal_(i, c) > 0.3f ? Score(i, c) : -1.0f;
  }
  void TakeAway(int row, int column) {
    const double stretch = middle_ / std::max(1.0, low_ + row * step_);
    for (int i = 0; i < rows_; ++i) {
      for (int j = -2 * reach_; j <= 2 * reach_; ++j) {
        const double d = ShapeDistance(size_, j * step_ / stretch, (i - row) * step_);
        if (d < 0.15 * size_.across) metal_(i, Column(column + j)) = -0.3f;
      }
    }
    for (int j = -3 * reach_; j <= 3 * reach_; ++j) Rescore(column + j);
  }

  WireSize size_;
  FitLimits limits_;
  double step_ = 1, middle_ = 0, low_ = 0;
  int rows_ = 0, columns_ = 0, reach_ = 0, first_ = 0, last_ = 0;
  cv::Mat1f metal_, score_;
  std::vector<cv::Point> inside_, around_;
};

// One wire's neighbourhood: pixels with what the others explain there.
class Patch {
 public:
  Patch(const WireField& field, const FitLimits& limits)
      : field_(field),
        limits_(limits),
        least_(-0.5 * limits.soft_px - limits.halo_px),
        most_(0.5 * limits.soft_px) {}

  // `frame`: the size that rules which pixels are looked at; null: the wire's own.
  void Load(const std::vector<FittedWire>& wires, std::size_t self, double margin,
            const WireSize* frame = nullptr) {
    const FittedWire& wire = wires[self];
    const WireSize size = frame != nullptr ? *frame : wire.size;
    const double reach = size.along + margin;
    const PointPx centre = wire.At();
    others_.clear();
    for (std::size_t k = 0; k < wires.size(); ++k) {
      if (k == self) continue;
      if (Distance(wires[k].At(), centre) < reach + wires[k].size.along + 2)
        others_.emplace_back(WireRuler(wires[k]), wires[k].strength);
    }
    const PointPx p = field_.frame.ToPicture(centre);
    const int around = static_cast<int>(reach) + 2;
    const cv::Rect box = cv::Rect(static_cast<int>(std::lround(p.x)) - around - field_.roi.x,
                                  static_cast<int>(std::lround(p.y)) - around - field_.roi.y,
                                  2 * around + 1, 2 * around + 1) &
                         cv::Rect(0, 0, field_.roi.width, field_.roi.height);
    pixels_.clear();
    const int stride = size.Area() > 500 ? 2 : 1;
    const PointPx radial{std::cos(wire.angle), std::sin(wire.angle)};
    const double rise = size.across + margin + (0.2 + std::abs(std::sin(wire.tilt))) * size.along;
    for (int y = box.y; y < box.y + box.height; y += stride) {
      for (int x = box.x; x < box.x + box.width; x += stride) {
        if (!field_.known(y, x)) continue;
        Pixel pixel;
        pixel.at = field_.frame.FromPicture({1.0 * (x + field_.roi.x), 1.0 * (y + field_.roi.y)});
        const PointPx d = pixel.at - centre;
        if (std::abs(Dot(d, radial)) > rise) continue;
        if (std::abs(Cross(radial, d)) > reach) continue;
        pixel.metal = field_.metal(y, x);
        for (const auto& [ruler, strength] : others_) {
          const double away = ruler.Within(pixel.at, least_, most_);
          pixel.explained = std::max(pixel.explained, strength * Ramp(away, limits_.soft_px));
          pixel.core = std::max(pixel.core, Ramp(away + limits_.halo_px, limits_.soft_px));
        }
        pixels_.push_back(pixel);
      }
    }
    stride_ = stride;
  }

  double Cost(const FittedWire& wire) const {
    const WireRuler ruler(wire);
    double sum = 0;
    for (const Pixel& p : pixels_) {
      const double away = ruler.Within(p.at, least_, most_);
      const double here = wire.strength * Ramp(away, limits_.soft_px);
      const double r = p.metal - std::max(here, p.explained);
      sum += r * r;
      if (p.core > 0) {
        const double both = std::min(p.core, Ramp(away + limits_.halo_px, limits_.soft_px));
        sum += kCrossing * both * both;
      }
    }
    return sum * stride_ * stride_;
  }
  // Without this wire.
  double Bare() const {
    double sum = 0;
    for (const Pixel& p : pixels_) sum += (p.metal - p.explained) * (p.metal - p.explained);
    return sum * stride_ * stride_;
  }
  // Metal just outside that nobody explains.
  double Beyond(const FittedWire& wire) const {
    const WireRuler ruler(wire);
    double sum = 0, count = 0;
    for (const Pixel& p : pixels_) {
      const double away = ruler.Distance(p.at);
      if (away < 0.8 * limits_.soft_px || away > 0.8 * limits_.soft_px + 2) continue;
      if (p.explained > 0.1) continue;
      sum += p.metal;
      count += 1;
    }
    return count > 0 ? sum / count : 0;
  }
  double Misfit(const FittedWire& wire) const {
    return std::sqrt(Cost(wire) / std::max(1.0, wire.size.Area()));
  }
  bool Alone() const {
    return std::all_of(pixels_.begin(), pixels_.end(),
                       [](const Pixel& p) { return p.explained < 0.05; });
  }

 private:
  struct Pixel {
    PointPx at;
    double metal = 0, explained = 0, core = 0;
  };
  const WireField& field_;
  const FitLimits& limits_;
  double least_ = 0, most_ = 0;                       // distances beyond which shares do not change
  std::vector<std::pair<WireRuler, double>> others_;  // with their strength
  std::vector<Pixel> pixels_;
  int stride_ = 1;
};

FittedWire Moved(const FittedWire& wire, double along, double across) {
  FittedWire moved = wire;
  moved.angle += along / std::max(1.0, wire.radius);
  moved.radius += across;
  return moved;
}

bool ClimbWire(const Patch& patch, const FitLimits& limits, double step, FittedWire& wire) {
  double best = patch.Cost(wire);
  bool moved = false;
  for (int round = 0; round < 12; ++round) {
    FittedWire winner = wire;
    double least = best;
    static constexpr int kWays[][2] = {{1, 0}, {-1, 0}, {0, 1}, {0, -1}};
    for (const auto& way : kWays) {
      const FittedWire tried = Moved(wire, way[0] * step, way[1] * step);
      if (tried.radius < limits.inner || tried.radius > limits.outer) continue;
      const double cost = patch.Cost(tried);
      if (cost < least - 1e-9) least = cost, winner = tried;
    }
    if (least >= best - 1e-9) break;
    best = least;
    wire = winner;
    moved = true;
  }
  return moved;
}

double Gain(const Patch& patch, const FittedWire& wire) {
  return (patch.Bare() - patch.Cost(wire)) / (wire.strength * wire.strength * wire.size.Area());
}

void Describe(const WireField& field, const FitLimits& limits, FittedWire& wire) {
  std::vector<double> tones;
  double metal = 0, plain = 0;
  const PointPx p = field.frame.ToPicture(wire.At());
  const int around = static_cast<int>(wire.size.along) + 2;
  const double depth = std::min(0.45 * wire.size.across, limits.halo_px + 1.0);
  const WireRuler ruler(wire);
  for (int y = static_cast<int>(p.y) - around; y <= static_cast<int>(p.y) + around; ++y) {
    for (int x = static_cast<int>(p.x) - around; x <= static_cast<int>(p.x) + around; ++x) {
      const int u = x - field.roi.x, v = y - field.roi.y;
      if (u < 0 || v < 0 || u >= field.roi.width || v >= field.roi.height) continue;
      if (!field.known(v, u)) continue;
      if (ruler.Distance(field.frame.FromPicture({1.0 * x, 1.0 * y})) > -depth) continue;
      tones.push_back(field.tone(v, u));
      metal += field.metal(v, u);
      plain += field.body.empty() ? field.tone(v, u) : field.tone(v, u) * field.body(v, u);
    }
  }
  wire.brightness = tones.empty() ? 0 : metal / static_cast<double>(tones.size());
  wire.tone = tones.empty() ? 1 : plain / static_cast<double>(tones.size());
  double sum = 0;
  for (double t : tones) sum += t;
  // Of dark metal the mean: it is compared with holes hardly lighter, and noise must not decide.
  wire.light = tones.empty()   ? 1
               : !field.bright ? sum / static_cast<double>(tones.size())
                               : Quantile(std::move(tones), 0.7);
}

}  // namespace

double DistanceToWire(const FittedWire& wire, PointPx q) { return WireRuler(wire).Distance(q); }

ContourPx WireEdge(const FittedWire& wire, double by, int vertices) {
  ContourPx out;
  const double a = std::max(0.5, wire.size.along + by), b = std::max(0.5, wire.size.across + by);
  const PointPx radial{std::cos(wire.angle), std::sin(wire.angle)};
  const PointPx tangent{-radial.y, radial.x};
  const double c = std::cos(wire.tilt), n = std::sin(wire.tilt);
  if (!wire.size.flat) {
    for (int i = 0; i < vertices; ++i) {
      const double t = 2 * M_PI * i / vertices, up = b * std::cos(t), on = a * std::sin(t);
      out.push_back((wire.radius + c * up + n * on) * radial + (c * on - n * up) * tangent);
    }
    return out;
  }
  const double reach = std::max(0.0, a - b);
  const auto bent = [&](double on, double up) {
    const double s = c * on - n * up, t = c * up + n * on;
    const double turn = wire.angle + s / std::max(1.0, wire.radius);
    return PointPx{(wire.radius + t) * std::cos(turn), (wire.radius + t) * std::sin(turn)};
  };
  const int side = vertices / 3, cap = (vertices - 2 * side) / 2 + 4;
  for (int i = 0; i <= side; ++i) out.push_back(bent(-reach + 2 * reach * i / side, b));
  for (int i = 1; i < cap; ++i) {
    const double t = M_PI * i / cap;
    out.push_back(bent(reach + b * std::sin(t), b * std::cos(t)));
  }
  for (int i = 0; i <= side; ++i) out.push_back(bent(reach - 2 * reach * i / side, -b));
  for (int i = 1; i < cap; ++i) {
    const double t = M_PI * i / cap;
    out.push_back(bent(-reach - b * std::sin(t), -b * std::cos(t)));
  }
  return out;
}

std::vector<FittedWire> FindWires(const WireField& field, const WireSize& size,
                                  const FitLimits& limits) {
  std::vector<FittedWire> wires = Proposer(field, size, limits).Run();
  if (wires.size() >= limits.most) return {};
  SettleWires(field, limits, wires);
  return wires;
}

void SettleWires(const WireField& field, const FitLimits& limits, std::vector<FittedWire>& wires,
                 std::size_t free) {
  const double margin = 2 + limits.soft_px;
  Patch patch(field, limits);
  std::size_t count = free == 0 ? wires.size() : free;
  for (int sweep = 0; sweep < kSweeps; ++sweep) {
    const double step = sweep == 0 ? 1.0 : sweep < 3 ? 0.4 : 0.12;
    bool any = false;
    for (std::size_t k = 0; k < count; ++k) {
      patch.Load(wires, k, margin);
      any = ClimbWire(patch, limits, step, wires[k]) || any;
    }
    if (sweep == 1) {
      // Of two that share one wire, one goes.
      for (std::size_t k = count; k-- > 0;) {
        patch.Load(wires, k, margin);
        if (Gain(patch, wires[k]) >= limits.least_gain) continue;
        wires.erase(wires.begin() + static_cast<std::ptrdiff_t>(k));
        --count;
      }
    }
    if (!any && sweep > 2) break;
  }
  for (std::size_t k = 0; k < count; ++k) {
    patch.Load(wires, k, margin);
    FittedWire& wire = wires[k];
    wire.angle = WholeTurns(wire.angle);
    wire.gain = Gain(patch, wire);
    wire.beyond = patch.Beyond(wire);
    wire.misfit = patch.Misfit(wire);
    wire.alone = patch.Alone();
    Describe(field, limits, wire);
  }
}

bool SplitWire(const WireField& field, const FitLimits& limits, std::size_t k,
               std::vector<FittedWire>& wires) {
  constexpr double kWorth = 0.13;  // of a wire's area, that the second one must explain
  const FittedWire& wire = wires[k];
  std::vector<FittedWire> near{wire};
  for (std::size_t j = 0; j < wires.size(); ++j) {
    if (j != k && Distance(wires[j].At(), wire.At()) < 5 * wire.size.along + 8)
      near.push_back(wires[j]);
  }
  double best = CostAbout(field, limits, near, 0) - kWorth * wire.size.Area();
  FitLimits gentle = limits;
  gentle.least_gain = 0.05;
  const double a = 0.5 * wire.size.along, b = 0.9 * wire.size.across;
  const double shifts[][2] = {{a, 0}, {0, b}, {a, b}, {a, -b}};
  bool better = false;
  FittedWire first, second;
  for (const auto& shift : shifts) {
    std::vector<FittedWire> tried{Moved(wire, shift[0], shift[1]),
                                  Moved(wire, -shift[0], -shift[1])};
    tried.insert(tried.end(), near.begin() + 1, near.end());
    SettleWires(field, gentle, tried, 2);
    if (tried.size() != near.size() + 1) continue;
    const double after = CostAbout(field, limits, tried, 0);
    if (after >= best) continue;
    best = after;
    first = tried[0];
    second = tried[1];
    better = true;
  }
  if (!better) return false;
  wires[k] = first;
  wires.push_back(second);
  return true;
}

double CostOfAll(const WireField& field, const FitLimits& limits,
                 const std::vector<FittedWire>& wires, const WireSize& box) {
  constexpr std::size_t kSample = 14;
  Patch patch(field, limits);
  double sum = 0;
  const std::size_t stride = std::max<std::size_t>(1, wires.size() / kSample);
  for (std::size_t k = 0; k < wires.size(); k += stride) {
    // The same pixels for every size that is tried.
    patch.Load(wires, k, 3 + limits.soft_px, &box);
    sum += patch.Cost(wires[k]);
  }
  return sum;
}

double CostAbout(const WireField& field, const FitLimits& limits,
                 const std::vector<FittedWire>& wires, std::size_t k) {
  Patch patch(field, limits);
  WireSize frame = wires[k].size;
  frame.along *= 2.2;
  frame.across *= 2.2;
  patch.Load(wires, k, 3 + limits.soft_px, &frame);
  return patch.Cost(wires[k]);
}

WireSize OwnSize(const WireField& field, const FitLimits& limits, const FittedWire& wire) {
  Patch patch(field, limits);
  FittedWire now = wire;
  const std::vector<FittedWire> single{wire};
  patch.Load(single, 0, 4 + limits.soft_px);
  for (const double step : {0.8, 0.3, 0.1}) {
    for (int round = 0; round < 20; ++round) {
      FittedWire winner = now;
      double least = patch.Cost(now);
      for (int way = 0; way < 4; ++way) {
        FittedWire tried = now;
        (way < 2 ? tried.size.along : tried.size.across) += way % 2 == 0 ? step : -step;
        if (tried.size.across < 1 || tried.size.along < tried.size.across * 0.6) continue;
        const double cost = patch.Cost(tried);
        if (cost < least - 1e-9) least = cost, winner = tried;
      }
      const bool grown =
          winner.size.along != now.size.along || winner.size.across != now.size.across;
      now = winner;
      if (!ClimbWire(patch, limits, step, now) && !grown) break;
    }
  }
  return now.size;
}

FittedWire LookForPale(const WireField& field, const FittedWire& slot, double reach_px,
                       double rise_px, const std::vector<FittedWire>& wires) {
  constexpr double kLeastStep = 0.22;
  constexpr double kApart = 0.5;  // half axes across that its middle lies outside other wires
  const double step = std::clamp(0.35 * slot.size.across, 0.8, 3.0);
  FittedWire best = slot;
  best.strength = 0;
  double most = kLeastStep;
  const int ways = std::max(1, static_cast<int>(reach_px / step));
  const int rises = std::max(1, static_cast<int>(rise_px / step));
  for (int i = -ways; i <= ways; ++i) {
    for (int j = -rises; j <= rises; ++j) {
      const FittedWire tried = Moved(slot, i * step, j * step);
      const bool taken = std::any_of(wires.begin(), wires.end(), [&](const FittedWire& wire) {
        return DistanceToWire(wire, tried.At()) < kApart * slot.size.across;
      });
      if (taken) continue;
      double in = field.MetalAt(field.frame.ToPicture(tried.At())), out = 0;
      for (PointPx q : WireEdge(tried, -0.45 * slot.size.across, 20))
        in += field.MetalAt(field.frame.ToPicture(q));
      std::vector<double> around;
      for (PointPx q : WireEdge(tried, 0.3 * slot.size.across + 1.5, 24))
        around.push_back(field.MetalAt(field.frame.ToPicture(q)));
      in /= static_cast<double>(WireEdge(tried, 0, 20).size() + 1);
      out = Quantile(std::move(around), 0.4);
      if (in - out > most) {
        most = in - out;
        best = tried;
        best.strength = std::clamp(in, 0.2, 1.0);
      }
    }
  }
  return best;
}

HoleThere LookForHole(const WireField& field, const FittedWire& slot, double reach_px,
                      double rise_px, const std::vector<FittedWire>& wires) {
  constexpr double kQuantilesApart = 0.91;  // standard deviations of a Gaussian: 0.385 + 0.524
  constexpr double kFar = 0.1;  // of two holes the nearer one, unless it is much less deep
  double most = 0;
  HoleThere best;
  best.at = slot;
  const double step = std::clamp(0.35 * slot.size.across, 0.8, 3.0);
  const auto depth = [&](const FittedWire& wire) {
    std::vector<double> in, out;
    const WireRuler ruler(wire);
    const PointPx p = field.frame.ToPicture(wire.At());
    const int around = static_cast<int>(wire.size.along + 4) + 1;
    for (int y = static_cast<int>(p.y) - around; y <= static_cast<int>(p.y) + around; ++y) {
      for (int x = static_cast<int>(p.x) - around; x <= static_cast<int>(p.x) + around; ++x) {
        const int u = x - field.roi.x, v = y - field.roi.y;
        if (u < 0 || v < 0 || u >= field.roi.width || v >= field.roi.height) continue;
        if (!field.known(v, u)) continue;
        const double d = ruler.Distance(field.frame.FromPicture({1.0 * x, 1.0 * y}));
        if (d < -0.25 * wire.size.across) in.push_back(field.tone(v, u));
        if (d > 1.5 && d < 4) out.push_back(field.tone(v, u));
      }
    }
    if (in.size() < 8 || out.size() < 8) return 0.0;
    // Bright neighbours around make no hole, metal inside is none; noise alone parts the two
    // quantiles by so much.
    return std::min(1.0, Quantile(std::move(out), 0.35)) - Quantile(std::move(in), 0.7) +
           kQuantilesApart * field.noise;
  };
  const int ways = std::max(1, static_cast<int>(reach_px / step));
  const int rises = std::max(1, static_cast<int>(rise_px / step));
  for (int i = -ways; i <= ways; ++i) {
    for (int j = -rises; j <= rises; ++j) {
      const FittedWire tried = Moved(slot, i * step, j * step);
      const bool taken = std::any_of(wires.begin(), wires.end(), [&](const FittedWire& wire) {
        return DistanceToWire(wire, tried.At()) < 0.7 * slot.size.across;
      });
      if (taken) continue;
      const double d = depth(tried), away = std::hypot(i * step / reach_px, j * step / rise_px);
      if (d - kFar * away > most) most = d - kFar * away, best = {d, tried};
    }
  }
  return best;
}

}  // namespace cutface
