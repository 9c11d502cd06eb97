#include "phantom/dirt.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "phantom/shapes.h"

namespace cutface::phantom {
namespace {

ContourPx Ragged(PointPx centre, double diameter, double ragged, Random& random) {
  double a[4], phase[4];
  for (int k = 0; k < 4; ++k) {
    a[k] = ragged * random.Normal();
    phase[k] = random.Uniform(0, 2 * kPi);
  }
  const double stretch = 1 + 2 * ragged * random.Uniform(), turn = random.Uniform(0, kPi);
  ContourPx out;
  for (int i = 0; i < 180; ++i) {
    const double t = 2 * kPi * i / 180;
    double r = 0.5 * diameter;
    for (int k = 0; k < 4; ++k) r *= std::max(0.5, 1 + a[k] * std::cos((k + 2) * t + phase[k]));
    const PointPx p{stretch * r * std::cos(t), r / stretch * std::sin(t)};
    out.push_back(centre + Rotated(p, turn));
  }
  return out;
}

class Soiler {
 public:
  Soiler(PhantomScene& scene, bool hard, double pitch_um, Random& random)
      : scene_(scene), e_(scene.effects), hard_(hard), pitch_um_(pitch_um), random_(random) {}

  void Run() {
    if (Happens(0.15, 0.40)) AddGaps();
    if (Happens(0.10, 0.35)) AddLips();
    if (Happens(0.0, 0.25)) AddChips();
    if (Happens(0.15, 0.40)) AddScratches();
    if (Happens(0.20, 0.45)) AddDust();
    if (Happens(0.15, 0.35)) AddBubbles();
    if (hard_ && scene_.light != PhantomLight::kTransmitted && random_.Chance(0.2)) {
      AddLumenBubbles();
    }
    if (Happens(0.10, 0.35)) AddSpecks();
    if (Happens(0.05, 0.15)) AddHolder();
    if (Happens(0.10, 0.20)) AddScaleBar();
    if (hard_ && scene_.bits == 8 && random_.Chance(0.12)) {
      e_.jpeg_quality = random_.Integer(82, 95);
    }
    if (hard_ && scene_.light == PhantomLight::kTransmitted && random_.Chance(0.12)) {
      e_.exposure = random_.Uniform(1.05, 1.25);
    }
    if (Happens(0.3, 0.6)) {
      const bool bright = scene_.light == PhantomLight::kTransmitted;
      e_.floor = random_.Uniform(0.005, bright ? 0.02 : hard_ ? 0.35 : 0.15);
    }
  }

 private:
  bool Happens(double plain, double hard) { return random_.Chance(hard_ ? hard : plain); }
  double Tone(double middle, double spread) {
    return std::clamp(middle + spread * random_.Normal(), 0.02, 0.97);
  }

  // The resin shrinks off the outside wall, and off the wall of lumens that it fills.
  void AddGaps() {
    const double most = hard_ ? 5 : 2;
    const auto add = [&](const ContourPx& contour, double sign, int lumen) {
      const double around = LengthOf(contour);
      const double width = random_.Uniform(1, most);
      const double length =
          random_.Chance(0.25) ? 0.96 * around : random_.Uniform(0.08, 0.5) * around;
      PhantomPatch gap;
      gap.contour = StripAlong(contour, random_.Uniform(), length, sign * width, 0.15, random_);
      gap.tone = scene_.light == PhantomLight::kTransmitted ? random_.Uniform(0.1, 0.35)
                                                            : random_.Uniform(0.04, 0.15);
      gap.opacity = random_.Uniform(0.4, 1.0);
      gap.size_px = width;
      gap.lumen = lumen;
      e_.gaps.push_back(gap);
    };
    add(scene_.outline, 1, -1);
    for (std::size_t i = 0; i < scene_.lumens.size(); ++i) {
      const bool holds_resin = std::abs(scene_.lumens[i].tone - scene_.resin_tone) < 0.03;
      if (holds_resin && scene_.light != PhantomLight::kTransmitted && random_.Chance(0.3)) {
        add(scene_.lumens[i].contour, -1, static_cast<int>(i));
      }
    }
  }

  // Polymer drawn over a lumen by the blade. The true edge stays where the material was.
  void AddLips() {
    if (scene_.lumens.empty()) return;
    const int n = random_.Integer(1, hard_ ? 3 : 1);
    for (int i = 0; i < n; ++i) {
      const int at = random_.Integer(0, static_cast<int>(scene_.lumens.size()) - 1);
      const PhantomLumen& lumen = scene_.lumens[static_cast<std::size_t>(at)];
      const auto taken = [&](const PhantomPatch& p) { return p.lumen == at; };
      if (std::any_of(e_.lips.begin(), e_.lips.end(), taken)) continue;
      if (std::any_of(e_.gaps.begin(), e_.gaps.end(), taken)) continue;
      const double around = LengthOf(lumen.contour);
      const double room = 0.25 * WidthsOf(lumen.contour).least;
      const double overhang =
          std::min(room, hard_ ? random_.Uniform(1.5, 9) : random_.Uniform(1, 3));
      PhantomPatch lip;
      lip.contour = StripAlong(lumen.contour, random_.Uniform(),
                               random_.Uniform(0.06, 0.22) * around, -overhang, 0.25, random_);
      lip.tone = Tone(scene_.body_tone, 0.03);
      lip.opacity = random_.Uniform(0.25, 0.85);
      lip.size_px = overhang;
      lip.lumen = at;
      e_.lips.push_back(lip);
    }
  }

  // Broken out of the polymer's edge while cutting: rough ground, lighter or darker than the body.
  void AddChips() {
    if (scene_.lumens.empty()) return;
    const int n = random_.Integer(1, 3);
    for (int i = 0; i < n; ++i) {
      const bool outside = random_.Chance(0.6);
      const ContourPx& edge = outside ? scene_.outline
                                      : scene_
                                            .lumens[static_cast<std::size_t>(random_.Integer(
                                                0, static_cast<int>(scene_.lumens.size()) - 1))]
                                            .contour;
      double room = 1e9;
      if (outside) {
        for (const PhantomLumen& l : scene_.lumens) {
          room = std::min(room, LeastGap(l.contour, edge).distance);
        }
      } else {
        room = LeastGap(edge, scene_.outline).distance;
        for (const PhantomLumen& l : scene_.lumens) {
          if (&l.contour != &edge) room = std::min(room, LeastGap(l.contour, edge).distance);
        }
      }
      const double depth = std::min(random_.Uniform(1.5, 6), 0.4 * room);
      if (depth < 1) continue;
      PhantomPatch chip;
      chip.contour = StripAlong(edge, random_.Uniform(), random_.Uniform(6, 26),
                                outside ? -depth : depth, 0.5, random_);
      chip.tone = std::clamp(scene_.body_tone + random_.Uniform(-0.25, 0.2), 0.03, 0.95);
      chip.opacity = random_.Uniform(0.6, 1.0);
      chip.size_px = depth;
      e_.chips.push_back(chip);
    }
  }

  void AddScratches() {
    const int directions = random_.Integer(1, 2);
    const double span = std::hypot(scene_.width_px, scene_.height_px);
    for (int k = 0; k < directions; ++k) {
      const double angle = random_.Uniform(0, kPi);
      const int n = random_.Integer(2, hard_ ? 18 : 5);
      const double most = hard_ ? 0.22 : 0.07;
      for (int i = 0; i < n; ++i) {
        const double a = angle + 0.03 * random_.Normal();
        const PointPx c{random_.Uniform(0, scene_.width_px), random_.Uniform(0, scene_.height_px)};
        const double half = 0.5 * span * random_.Uniform(0.1, 0.9);
        const PointPx d{half * std::cos(a), half * std::sin(a)};
        e_.scratches.push_back({c - d, c + d, random_.Uniform(0.4, 1.6),
                                random_.Uniform(0.02, most) * (random_.Chance(0.65) ? -1 : 1)});
      }
    }
  }

  void AddDust() {
    const int n = random_.Integer(1, hard_ ? 12 : 4);
    for (int i = 0; i < n; ++i) {
      const double most = hard_ ? 0.14 : 0.05;
      e_.dust.push_back(
          {{random_.Uniform(0, scene_.width_px), random_.Uniform(0, scene_.height_px)},
           random_.Uniform(4, hard_ ? 16 : 9),
           random_.Uniform(0.015, most) * (random_.Chance(0.75) ? -1 : 1)});
    }
  }

  bool Outside(PointPx c, double clearance) const {
    return !Inside(scene_.outline, c) && LeastGap(c, scene_.outline).distance >= clearance;
  }
  PointPx SomewhereOutside(double clearance) {
    for (int tries = 0; tries < 60; ++tries) {
      const PointPx c{random_.Uniform(0, scene_.width_px), random_.Uniform(0, scene_.height_px)};
      if (Outside(c, clearance)) return c;
    }
    return {-1000, -1000};
  }

  // Air in the potting: a dark ring with a lighter middle; some sit against the part.
  void AddBubbles() {
    if (scene_.light == PhantomLight::kTransmitted && !hard_) return;
    const int n = random_.Integer(1, hard_ ? 8 : 3);
    for (int i = 0; i < n; ++i) {
      const double d = hard_ ? random_.Uniform(5, 60) : random_.Uniform(6, 25);
      PointPx c = SomewhereOutside(0.5 * d + 4);
      if (hard_ && random_.Chance(0.25)) {  // against the wall
        const auto at = static_cast<std::size_t>(
            random_.Integer(0, static_cast<int>(scene_.outline.size()) - 1));
        c = scene_.outline[at] +
            (0.5 * d * random_.Uniform(0.5, 1.1)) * OutwardNormalAt(scene_.outline, at);
      }
      const double ring = std::min(0.35 * d, random_.Uniform(1.5, 5));
      const double dark = random_.Uniform(0.05, 0.2);
      e_.bubbles.push_back({Ragged(c, d, 0.01, random_), dark, random_.Uniform(0.6, 1), d, -1});
      e_.bubbles.push_back({Ragged(c, d - 2 * ring, 0.01, random_), Tone(scene_.resin_tone, 0.06),
                            random_.Uniform(0.3, 1), d - 2 * ring, -1});
    }
  }

  // Air left in a lumen when it was potted.
  void AddLumenBubbles() {
    for (std::size_t i = 0; i < scene_.lumens.size(); ++i) {
      const PhantomLumen& lumen = scene_.lumens[i];
      if (std::abs(lumen.tone - scene_.resin_tone) >= 0.03 || !random_.Chance(0.3)) continue;
      const Disc disc = InscribedDisc(lumen.contour);
      const double d = disc.radius * random_.Uniform(0.15, 0.5);
      if (d < 4) continue;
      const PointPx c = disc.centre + Rotated(PointPx{disc.radius * random_.Uniform(0, 0.4), 0},
                                              random_.Uniform(0, 2 * kPi));
      const auto at = static_cast<int>(i);
      e_.bubbles.push_back({Ragged(c, d, 0.01, random_), random_.Uniform(0.05, 0.2),
                            random_.Uniform(0.6, 1), d, at});
      e_.bubbles.push_back({Ragged(c, 0.6 * d, 0.01, random_), Tone(lumen.tone, 0.05),
                            random_.Uniform(0.3, 1), 0.6 * d, at});
    }
  }

  void AddSpecks() {
    const int n = random_.Integer(1, hard_ ? 10 : 3);
    for (int i = 0; i < n; ++i) {
      const double d = random_.Uniform(3, hard_ ? 40 : 14);
      const double tone =
          random_.Chance(0.5) ? Tone(scene_.body_tone, 0.05) : random_.Uniform(0.05, 0.95);
      e_.specks.push_back({Ragged(SomewhereOutside(0.9 * d + 5), d, 0.18, random_), tone,
                           random_.Uniform(0.5, 1), d, -1});
    }
  }

  void AddHolder() {
    const auto [least, greatest] = BoundsOf(scene_.outline);
    const double w = scene_.width_px, h = scene_.height_px;
    const std::array<double, 4> room = {least.x, least.y, w - greatest.x, h - greatest.y};
    const auto side = static_cast<std::size_t>(random_.Integer(0, 3));
    const double width = std::min(random_.Uniform(12, 70), room[side] - 8);
    if (width < 6) return;
    const double skew = random_.Uniform(-0.1, 0.1) * width;
    const double far = 50;  // beyond the frame, so that no edge lies on its border
    ContourPx c;
    const double a = width + skew, b = width - skew;
    if (side == 0) c = {{-far, -far}, {a, -far}, {b, h + far}, {-far, h + far}};
    if (side == 1) c = {{-far, -far}, {w + far, -far}, {w + far, b}, {-far, a}};
    if (side == 2) c = {{w - a, -far}, {w + far, -far}, {w + far, h + far}, {w - b, h + far}};
    if (side == 3) c = {{-far, h - a}, {w + far, h - b}, {w + far, h + far}, {-far, h + far}};
    const bool bright = scene_.light != PhantomLight::kTransmitted && random_.Chance(0.35);
    e_.holders.push_back(
        {c, bright ? random_.Uniform(0.8, 0.96) : random_.Uniform(0.03, 0.2), 1, width, -1});
  }

  void AddScaleBar() {
    static constexpr std::array<std::pair<int, const char*>, 4> kBars = {
        {{1000, "1 mm"}, {500, "500 um"}, {200, "200 um"}, {100, "100 um"}}};
    for (const auto& [um, text] : kBars) {
      const int length = static_cast<int>(std::lround(um / pitch_um_));
      if (length > 0.22 * scene_.width_px) continue;
      for (const int corner : {2, 3, 1, 0}) {
        const bool right = corner == 1 || corner == 2, low = corner >= 2;
        bool free = true;
        for (const PointPx p : scene_.outline) {
          const double x = right ? scene_.width_px - p.x : p.x;
          const double y = low ? scene_.height_px - p.y : p.y;
          free = free && !(x < length + 40 && y < 60);
        }
        if (!free) continue;
        e_.scale_bar = true;
        e_.scale_bar_corner = corner;
        e_.scale_bar_px = length;
        e_.scale_bar_text = text;
        return;
      }
      return;
    }
  }

  PhantomScene& scene_;
  PhantomEffects& e_;
  bool hard_;
  double pitch_um_;
  Random& random_;
};

}  // namespace

ContourPx StripAlong(const ContourPx& contour, double middle_share, double length_px, double width,
                     double ragged, Random& random) {
  const std::size_t n = contour.size();
  const auto start = static_cast<std::size_t>(middle_share * static_cast<double>(n)) % n;
  // Walk from `start` both ways until half the length lies on each side.
  std::vector<std::size_t> chain{start};
  const auto walk = [&](std::size_t step) {
    std::vector<std::size_t> way;
    double gone = 0;
    std::size_t i = start;
    while (gone < 0.5 * length_px && way.size() < n / 2 - 1) {
      const std::size_t j = (i + step) % n;
      gone += Distance(contour[i], contour[j]);
      way.push_back(j);
      i = j;
    }
    return way;
  };
  const std::vector<std::size_t> ahead = walk(1), behind = walk(n - 1);
  std::vector<std::size_t> arc(behind.rbegin(), behind.rend());
  arc.push_back(start);
  arc.insert(arc.end(), ahead.begin(), ahead.end());
  double phase[3], share[3];
  for (int k = 0; k < 3; ++k) {
    phase[k] = random.Uniform(0, 2 * kPi);
    share[k] = ragged * random.Normal() / (k + 1);
  }
  ContourPx far;
  for (std::size_t i = 0; i < arc.size(); ++i) {
    const double u = static_cast<double>(i) / static_cast<double>(arc.size() - 1);
    const double end = std::min({1.0, 3 * u, 3 * (1 - u)});
    double r = 1;
    for (int k = 0; k < 3; ++k) r += share[k] * std::sin(2 * kPi * (2 * k + 3) * u + phase[k]);
    const double w = width * std::sin(0.5 * kPi * end) * std::clamp(r, 0.2, 1.8);
    far.push_back(contour[arc[i]] + w * OutwardNormalAt(contour, arc[i]));
  }
  ContourPx strip;
  for (const std::size_t i : arc) strip.push_back(contour[i]);
  for (std::size_t i = far.size(); i-- > 0;) strip.push_back(far[i]);
  if (AreaOf(strip) < 0) std::reverse(strip.begin(), strip.end());
  return strip;
}

void AddDirt(PhantomScene& scene, bool hard, double pitch_um, Random& random) {
  Soiler(scene, hard, pitch_um, random).Run();
}

}  // namespace cutface::phantom
