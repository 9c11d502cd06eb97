#include "calibration/wave.h"

#include <algorithm>
#include <cmath>

namespace cutface::calibration {

Even EvenOut(const Strips& strips, const Profile& p, double least_count, std::size_t window) {
  Even even;
  even.tone.assign(strips.Bins(), 0.0f);
  double last_u = 0, last_t = 0;
  std::size_t next = 0;
  bool any = false;
  for (std::size_t b = 0; b < strips.Bins(); ++b) {
    if (!p.Has(b, least_count)) continue;
    const double u = strips.U(p, b), t = p.Tone(b);
    if (!any) {
      any = true;
      even.first = b;
      next = b;
    }
    for (; next < strips.Bins(); ++next) {
      const double at = strips.u0 + kBin_px * (static_cast<double>(next) + 0.5);
      if (at > u) break;
      const double share = u > last_u && next > even.first ? (at - last_u) / (u - last_u) : 1;
      even.tone[next] = static_cast<float>(last_t + std::clamp(share, 0.0, 1.0) * (t - last_t));
    }
    if (next == even.first) even.first = next;
    last_u = u;
    last_t = t;
  }
  even.last = next;
  if (even.last <= even.first + 8) {
    even.first = even.last = 0;
    return even;
  }
  even.tone[even.first] = even.tone[even.first + 1];
  std::vector<double> sum(even.tone.size() + 1, 0.0);
  for (std::size_t b = 0; b < even.tone.size(); ++b) sum[b + 1] = sum[b] + even.tone[b];
  for (std::size_t b = even.first; b < even.last; ++b) {
    const std::size_t from = std::max(even.first, b >= window / 2 ? b - window / 2 : 0);
    const std::size_t to = std::min(even.last, b + window / 2 + 1);
    even.tone[b] -= static_cast<float>((sum[to] - sum[from]) / static_cast<double>(to - from));
  }
  return even;
}

std::complex<double> Wave::At(double bin) const {
  const double sigma = 1.3 * lag_;
  const auto from = static_cast<long>(std::ceil(bin - reach_));
  const auto to = static_cast<long>(std::floor(bin + reach_));
  std::complex<double> sum = 0;
  double weight = 0;
  const std::complex<double> turn = std::polar(1.0, -2 * M_PI / lag_);
  std::complex<double> wave = std::polar(1.0, -2 * M_PI * (static_cast<double>(from) - bin) / lag_);
  for (long i = from; i <= to; ++i, wave *= turn) {
    const double d = (static_cast<double>(i) - bin) / sigma;
    const double w = std::exp(-0.5 * d * d);
    weight += w;
    if (i < static_cast<long>(even_.first) || i >= static_cast<long>(even_.last)) continue;
    sum += w * static_cast<double>(even_.tone[static_cast<std::size_t>(i)]) * wave;
  }
  return sum / weight;
}

}  // namespace cutface::calibration
