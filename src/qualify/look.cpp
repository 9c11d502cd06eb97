// Tones, polished edges and dirt of a site's picture, told from strips along its contours.
#include <algorithm>
#include <cmath>

#include "cutface/stats.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

// Strips run from `kOut` pixels outside the polymer to `kIn` inside; beyond 1.5 blur widths the
// step itself has less than 7 % of its height left, and from kFar on there is neither rim nor blur.
constexpr int kOut = 10, kIn = 12, kFar = 7;
constexpr double kStepPx = 0.5;

double ToneAt(const Micrograph& image, double x, double y) {
  const int left = static_cast<int>(std::floor(x)), top = static_cast<int>(std::floor(y));
  if (left < 0 || top < 0 || left + 1 >= image.width() || top + 1 >= image.height())
    return std::nan("");
  const double u = x - left, v = y - top;
  return (1 - v) * ((1 - u) * image.At(left, top) + u * image.At(left + 1, top)) +
         v * ((1 - u) * image.At(left, top + 1) + u * image.At(left + 1, top + 1));
}

// Tones by place along a contour and distance from it, into the polymer positive.
struct Strip {
  std::vector<double> distance;
  std::vector<std::vector<double>> rows;  // by place; NaN outside the picture

  std::optional<double> MedianAt(double from, double to) const {
    std::vector<double> tones;
    for (const auto& row : rows)
      for (std::size_t i = 0; i < row.size(); ++i)
        if (distance[i] >= from && distance[i] <= to && std::isfinite(row[i]))
          tones.push_back(row[i]);
    return tones.size() < 20 ? std::nullopt : std::optional(Median(std::move(tones)));
  }
};

// `outer`: the polymer lies inside the contour (the outline), else outside it (a lumen).
Strip StripOf(const Micrograph& image, const Scale& scale, const TracedContour& contour,
              bool outer) {
  Strip strip;
  for (double d = -kOut; d <= kIn; d += kStepPx) strip.distance.push_back(d);
  const ContourUm um = contour.Points();
  const ContourPx px = scale.ToPx(um);
  const double sign = outer ? 1 : -1;
  for (std::size_t i = 0; i < px.size(); ++i) {
    const PointPx along = px[(i + 1) % px.size()] - px[(i + px.size() - 1) % px.size()];
    const double length = std::hypot(along.x, along.y);
    if (!(length > 0)) continue;
    // A contour of positive area turns +x towards +y: its inside lies at (-y, x) of its direction.
    const PointPx in{-along.y / length * sign, along.x / length * sign};
    std::vector<double> row;
    for (const double d : strip.distance)
      row.push_back(ToneAt(image, px[i].x + d * in.x, px[i].y + d * in.y));
    strip.rows.push_back(std::move(row));
  }
  return strip;
}

// The rim of a strip: what the light has less (or more) of than a blurred step from `beyond` to
// `body`, as a share of the body's light: depth (1 - d / width)^2, as phantoms draw it. Taken where
// it explains most of what the light does between the edge's blur and the body.
struct Rim {
  double px = 0, depth = 0;
};
Rim RimOf(const Strip& strip, double blur_px, double gamma, double beyond, double body) {
  const double begin = 1.5 * blur_px;
  std::vector<double> at, lost;
  const double light = std::pow(body, gamma), dark = std::pow(beyond, gamma);
  for (double d = begin; d <= kIn - kStepPx; d += kStepPx) {
    const auto tone = strip.MedianAt(d - 0.01, d + kStepPx - 0.01);
    if (!tone) return {};
    at.push_back(d + kStepPx / 4);  // of the strip's one or two places in that step
    const double step = dark + (light - dark) * NormalCdf(at.back() / blur_px);
    lost.push_back((step - std::pow(std::max(0.0, *tone), gamma)) / light);
  }
  double whole = 0;
  for (const double value : lost) whole += value * value;
  Rim best;
  double least = whole;
  for (double px = begin + 1; px <= kFar; px += 0.25) {
    double shape = 0, product = 0;
    for (std::size_t i = 0; i < at.size(); ++i) {
      const double u = std::max(0.0, 1 - at[i] / px);
      shape += u * u * u * u;
      product += u * u * lost[i];
    }
    if (!(shape > 0)) continue;
    const double left = whole - product * product / shape;
    if (left < least) least = left, best = {px, product / shape};
  }
  // What loses less than 2 % of the light beyond the blur, or explains little, is not called a rim.
  constexpr double kFaintest = 0.02, kDeepest = 0.8;
  const double seen = best.px > 0 ? best.depth * std::pow(1 - begin / best.px, 2) : 0;
  if (std::abs(seen) < kFaintest || least > 0.5 * whole) return {};
  best.depth = std::clamp(best.depth, -kDeepest, kDeepest);
  return best;
}

// Places of a zone along a strip, and how many stand out from their neighbours.
struct Odd {
  int places = 0, odd = 0;
};
Odd OddIn(const Strip& strip, double from, double to, double noise) {
  std::vector<double> tones;
  for (const auto& row : strip.rows) {
    double sum = 0;
    int n = 0;
    for (std::size_t i = 0; i < row.size(); ++i)
      if (strip.distance[i] >= from && strip.distance[i] <= to && std::isfinite(row[i]))
        sum += row[i], ++n;
    if (n > 0) tones.push_back(sum / n);
  }
  constexpr int kHalfWindow = 20;
  const int n = static_cast<int>(tones.size());
  if (n < 4 * kHalfWindow) return {};
  Odd odd{n, 0};
  // The mean over 3 to 5 px has about half of the noise of one.
  const double limit = std::max(0.02, 2.5 * noise);
  for (int i = 0; i < n; ++i) {
    std::vector<double> window;
    for (int k = -kHalfWindow; k <= kHalfWindow; ++k)
      window.push_back(tones[static_cast<std::size_t>((i + k + n) % n)]);
    odd.odd += std::abs(tones[static_cast<std::size_t>(i)] - Median(std::move(window))) > limit;
  }
  return odd;
}

}  // namespace

SiteLook LookOf(const Micrograph& image, const Scale& scale, const Section& section, double gamma) {
  SiteLook look;
  if (!section.outline) return look;
  const PictureQuality& picture = section.picture;
  const Strip edge = StripOf(image, scale, *section.outline, true);
  look.body_tone = edge.MedianAt(kFar, kIn);
  look.surround_tone = edge.MedianAt(-kOut, -kFar);
  std::vector<double> lumens;
  std::vector<Odd> zones = {OddIn(edge, kFar, kIn, picture.noise),
                            OddIn(edge, -kOut, -kFar, picture.noise)};
  for (const LumenTrace& lumen : section.lumens) {
    if (lumen.state != LumenState::kOpen || lumen.bore.vertices.empty()) continue;
    const Strip strip = StripOf(image, scale, lumen.bore, false);
    // A bore of few pixels has no middle that is free of its edge.
    const double diameter_px =
        std::sqrt(4 * Area(lumen.bore.Points()) / kPi) / scale.mean_pitch_um();
    if (diameter_px < 4 * kFar) continue;
    zones.push_back(OddIn(strip, -kOut, -kFar, picture.noise));
    if (const auto tone = strip.MedianAt(-kOut, -kFar)) lumens.push_back(*tone);
  }
  if (!lumens.empty()) look.lumen_tone = Median(lumens);
  if (look.surround_tone && look.body_tone && *look.body_tone > 0.02) {
    const Rim rim =
        RimOf(edge, std::max(0.5, picture.blur_px), gamma, *look.surround_tone, *look.body_tone);
    look.rim_px = rim.px;
    look.rim_depth = rim.depth;
  }
  Odd all;
  for (const Odd& zone : zones) all.places += zone.places, all.odd += zone.odd;
  if (all.places > 0) look.odd_share = static_cast<double>(all.odd) / all.places;
  // A clean rendered face has none or a few of a thousand, one with scratches and dust several of a
  // hundred (tests/qualify).
  constexpr double kDirty = 0.01;
  look.dirt = look.odd_share > kDirty;
  return look;
}

}  // namespace cutface
