#include "calibration/lines.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <opencv2/core.hpp>
#include <optional>
#include <span>

#include "calibration/wave.h"
#include "cutface/stats.h"

namespace cutface::calibration {
namespace {

constexpr double kLeastPeriod_px = 3;
constexpr double kPeriodsNeeded = 6;  // in a strip, to tell its period
constexpr double kLeastCorrelation = 0.35;
constexpr double kFirstPeakShare = 0.8;  // the smallest lag this near the best one is the period
constexpr double kSamePeriod = 0.04;
constexpr double kNotWhole = 0.06;  // a longer period must be a whole multiple to within this
// Of the strips with most power. Low, because blur may leave little of the ordinary lines beside
// the long ones, and every fifth line must not be taken for one.
constexpr double kLeastPower = 1e-3, kPowerRank = 0.95;
constexpr int kSlices = 12;
constexpr int kHiddenInARow = 4;     // lines that may be missing side by side
constexpr double kWeakShare = 0.35;  // of the usual strength of the wave
constexpr double kPhaseSlip = 0.2;   // cycles from one line to the next
constexpr int kTemplateBins = 48;    // per period

// --- direction -----------------------------------------------------------------------------------

// Shift in u from one strip to the next, by correlating neighbours; px.
double NeighbourShift(const Strips& strips, const std::vector<Even>& even) {
  constexpr int kReach = 3;
  std::array<double, 2 * kReach + 1> sums{};
  for (std::size_t k = 0; k + 1 < strips.strips.size(); ++k) {
    const Even &a = even[k], &b = even[k + 1];
    const std::size_t from = std::max(a.first, b.first) + kReach;
    const std::size_t to = std::min(a.last, b.last);
    // All lags side by side: seven sums that do not wait for one another.
    std::array<float, 2 * kReach + 1> sum{};
    for (std::size_t i = from; i + kReach < to; ++i) {
      const float* other = &b.tone[i - kReach];
      for (std::size_t lag = 0; lag < sum.size(); ++lag) sum[lag] += a.tone[i] * other[lag];
    }
    for (std::size_t lag = 0; lag < sum.size(); ++lag) sums[lag] += static_cast<double>(sum[lag]);
  }
  const auto best = static_cast<int>(std::max_element(sums.begin(), sums.end()) - sums.begin());
  if (best == 0 || best == 2 * kReach) return kBin_px * (best - kReach);
  const auto at = [&](int i) { return sums[static_cast<std::size_t>(i)]; };
  const double curve = at(best - 1) - 2 * at(best) + at(best + 1);
  const double fine = curve < 0 ? 0.5 * (at(best - 1) - at(best + 1)) / curve : 0;
  return kBin_px * (best - kReach + fine);
}

// --- period --------------------------------------------------------------------------------------

struct StripPeriod {
  double lag = 0;  // bins
  double strength = 0;
};

double PowerOf(const Even& even) {
  double sum = 0;
  for (std::size_t b = even.first; b < even.last; ++b) sum += even.tone[b] * even.tone[b];
  return even.last > even.first ? sum / static_cast<double>(even.last - even.first) : 0;
}

StripPeriod PeriodOf(const Even& even) {
  StripPeriod none;
  const std::size_t n = even.last - even.first;
  const auto most = static_cast<std::size_t>(static_cast<double>(n) / kPeriodsNeeded);
  const auto least = static_cast<std::size_t>(kLeastPeriod_px / kBin_px);
  if (most <= least + 2) return none;
  const int size = cv::getOptimalDFTSize(static_cast<int>(n + most + 2));
  cv::Mat padded = cv::Mat::zeros(1, size, CV_32F);
  for (std::size_t i = 0; i < n; ++i)
    padded.at<float>(0, static_cast<int>(i)) = even.tone[even.first + i];
  cv::Mat spectrum, power, back;
  cv::dft(padded, spectrum, cv::DFT_COMPLEX_OUTPUT);
  cv::mulSpectrums(spectrum, spectrum, power, cv::DFT_ROWS, true);
  cv::dft(power, back, cv::DFT_INVERSE | cv::DFT_REAL_OUTPUT | cv::DFT_SCALE);
  const double zero = back.at<float>(0, 0);
  if (!(zero > 0)) return none;
  std::vector<double> r(most + 2);
  for (std::size_t k = 0; k < r.size(); ++k) {
    r[k] = back.at<float>(0, static_cast<int>(k)) / zero * static_cast<double>(n) /
           static_cast<double>(n - k);
  }
  std::size_t start = 1;
  while (start < most && r[start] > 0.25) ++start;  // past the line's own width
  double best = 0;
  for (std::size_t k = start; k <= most; ++k) best = std::max(best, r[k]);
  if (best < kLeastCorrelation) return none;
  for (std::size_t k = start; k <= most; ++k) {
    if (r[k] < kFirstPeakShare * best || r[k] < r[k - 1] || r[k] < r[k + 1]) continue;
    if (k < least) return none;  // bare ground: what repeats are the pixels
    const double curve = r[k - 1] - 2 * r[k] + r[k + 1];
    const double fine = curve < 0 ? 0.5 * (r[k - 1] - r[k + 1]) / curve : 0;
    return {static_cast<double>(k) + fine, r[k]};
  }
  return none;
}

struct Choice {
  double lag = 0;                   // bins
  std::vector<std::size_t> strips;  // that show every line
  std::string refusal;
};

// The densest period that several strips share; longer ones must be whole multiples of it.
Choice ChoosePeriod(const std::vector<StripPeriod>& periods) {
  Choice choice;
  std::vector<double> lags;
  for (const StripPeriod& p : periods) {
    if (p.lag > 0) lags.push_back(p.lag);
  }
  const auto alike = [&](double lag) {
    return std::count_if(lags.begin(), lags.end(),
                         [&](double l) { return std::abs(l / lag - 1) < kSamePeriod; });
  };
  std::sort(lags.begin(), lags.end());
  const long needed = periods.size() < 6 ? 1 : 3;
  for (double lag : lags) {
    if (alike(lag) < needed) continue;
    choice.lag = lag;
    break;
  }
  if (!(choice.lag > 0)) {
    choice.refusal = "no evenly spaced lines found";
    return choice;
  }
  std::vector<double> same;
  for (double l : lags) {
    if (std::abs(l / choice.lag - 1) < kSamePeriod) same.push_back(l);
  }
  choice.lag = Median(same);
  for (double l : lags) {
    const double times = l / choice.lag;
    if (times > 1.3 && std::abs(times - std::round(times)) > kNotWhole * times && alike(l) >= 3) {
      choice.refusal = fmt::format(
          "lines at {:.1f} px and others at {:.1f} px: no whole multiple, so they cannot be "
          "counted",
          choice.lag * kBin_px, l * kBin_px);
      return choice;
    }
  }
  for (std::size_t k = 0; k < periods.size(); ++k) {
    if (std::abs(periods[k].lag / choice.lag - 1) < kSamePeriod) choice.strips.push_back(k);
  }
  return choice;
}

// Bins of the lines, numbered from the strongest one; dark or bright by `sign`. Where the wave
// fades out over more than kHiddenInARow lines the scale ends.
std::vector<std::pair<long, double>> Grow(const Even& even, double& lag, double sign) {
  for (int pass = 0; pass < 3; ++pass) {  // mean phase advance corrects the period
    const Wave wave(even, lag);
    std::complex<double> advance = 0;
    for (double b = static_cast<double>(even.first) + lag;
         b + 2 * lag < static_cast<double>(even.last); b += lag) {
      advance += wave.At(b + lag) * std::conj(wave.At(b));
    }
    lag /= 1 + std::arg(advance) / (2 * M_PI);
  }
  const Wave wave(even, lag);
  std::vector<double> strengths;
  double start = 0, best = 0;
  for (double b = static_cast<double>(even.first) + lag; b + lag < static_cast<double>(even.last);
       b += lag) {
    const double strength = std::abs(wave.At(b));
    strengths.push_back(strength);
    // In the middle of the picture rather than where dirt makes the wave strongest.
    const double middle = 0.5 * static_cast<double>(even.first + even.last);
    const double central = strength / (1 + std::abs(b - middle) / static_cast<double>(even.last));
    if (central > best) {
      best = central;
      start = b;
    }
  }
  std::vector<std::pair<long, double>> lines;
  if (strengths.size() < 4) return lines;
  const double usual = Quantile(strengths, 0.6);
  const auto corrected = [&](double bin) {
    return std::arg(sign * wave.At(bin)) / (2 * M_PI);  // cycles from the line's middle
  };
  for (int pass = 0; pass < 3; ++pass) start -= corrected(start) * lag;
  lines.emplace_back(0, start);
  for (const int side : {1, -1}) {
    double at = start, step = lag;
    int weak = 0;
    for (long n = side;; n += side) {
      at += side * step;
      if (at < static_cast<double>(even.first) || at >= static_cast<double>(even.last)) break;
      const double off = corrected(at);
      if (std::abs(wave.At(at)) < kWeakShare * usual || std::abs(off) > kPhaseSlip) {
        if (++weak > kHiddenInARow) break;
        continue;
      }
      weak = 0;
      at -= off * lag;
      // The local period follows distortion slowly.
      step += 0.1 * (-off * lag * side);
      lines.emplace_back(n, at);
    }
  }
  std::sort(lines.begin(), lines.end());
  return lines;
}

// --- the mean line and the shift of each ---------------------------------------------------------

// Mean tone against the distance from a line's middle, over one period.
struct Template {
  double period = 1;  // px
  std::vector<double> tone;
  double At(double d) const { return Sample(d).first; }
  double Slope(double d) const { return Sample(d).second; }

 private:
  std::pair<double, double> Sample(double d) const {
    const auto n = static_cast<double>(tone.size());
    const double x = std::clamp((d / period + 0.5) * n - 0.5, 0.0, n - 1.000001);
    const auto k = static_cast<std::size_t>(x);
    const double share = x - static_cast<double>(k);
    const double slope = (tone[k + 1] - tone[k]) * n / period;
    return {tone[k] + share * (tone[k + 1] - tone[k]), slope};
  }
};

struct Slice {
  double v = 0;
  Profile profile;
  double least_count = 1;
};

template <class F>
void ForSamples(const Strips& strips, const Slice& slice, double u, double reach, const F& f) {
  const auto from = static_cast<long>((u - reach - strips.u0) / kBin_px) - 1;
  const auto to = static_cast<long>((u + reach - strips.u0) / kBin_px) + 2;
  for (long b = std::max(0L, from); b < std::min(static_cast<long>(strips.Bins()), to); ++b) {
    const auto bin = static_cast<std::size_t>(b);
    if (!slice.profile.Has(bin, slice.least_count)) continue;
    const double d = strips.U(slice.profile, bin) - u;
    if (std::abs(d) <= reach) f(d, slice.profile.Tone(bin));
  }
}

Template MeanLine(const Strips& strips, const Slice& slice, const std::vector<double>& at,
                  double period) {
  std::vector<std::vector<double>> bins(kTemplateBins);
  for (double u : at) {
    double mean = 0;
    int count = 0;
    ForSamples(strips, slice, u, period / 2, [&](double, double t) {
      mean += t;
      ++count;
    });
    if (count < 3) continue;
    mean /= count;
    ForSamples(strips, slice, u, period / 2, [&](double d, double t) {
      const auto k = static_cast<std::size_t>(
          std::clamp((d / period + 0.5) * kTemplateBins, 0.0, kTemplateBins - 1.0));
      bins[k].push_back(t - mean);
    });
  }
  Template out;
  out.period = period;
  std::vector<double> raw(kTemplateBins, 0.0);
  double last = 0;
  for (std::size_t k = 0; k < raw.size(); ++k)
    last = raw[k] = bins[k].empty() ? last : Median(bins[k]);
  // A little smoothing: empty and thin bins must not make steps.
  out.tone = raw;
  for (std::size_t k = 1; k + 1 < raw.size(); ++k) {
    out.tone[k] = 0.25 * raw[k - 1] + 0.5 * raw[k] + 0.25 * raw[k + 1];
  }
  return out;
}

struct Shifted {
  double shift = 0, strength = 0;
};

// Tone = offset + slope d + strength T(d - shift); nullopt when the samples cannot tell.
std::optional<Shifted> ShiftOf(const Strips& strips, const Slice& slice, double u,
                               const Template& mean) {
  Shifted s{0, 1};
  const bool sloped = mean.period > 6;
  for (int pass = 0; pass < 5; ++pass) {
    Eigen::Matrix4d a = Eigen::Matrix4d::Zero();
    Eigen::Vector4d b = Eigen::Vector4d::Zero();
    int count = 0;
    ForSamples(strips, slice, u + s.shift, 0.48 * mean.period, [&](double d, double t) {
      const Eigen::Vector4d g(1, sloped ? d / mean.period : 0, mean.At(d), -mean.Slope(d));
      a += g * g.transpose();
      b += g * t;
      ++count;
    });
    if (count < 5) return std::nullopt;
    if (!sloped) a(1, 1) = 1;
    const Eigen::Vector4d x = a.ldlt().solve(b);
    if (!x.allFinite() || !(x(2) > 0.2)) return std::nullopt;
    const double step = std::clamp(x(3) / x(2), -0.15 * mean.period, 0.15 * mean.period);
    s.shift += step;
    s.strength = x(2);
    if (std::abs(s.shift) > 0.3 * mean.period) return std::nullopt;
    if (std::abs(step) < 1e-4) break;
  }
  return s;
}

// Gaussian sigma and width of a bar that, blurred, looks most like the mean line.
double BlurOf(const Template& mean) {
  double best = 1e300, blur = 0;
  for (double sigma = 0.3; sigma < 0.45 * mean.period; sigma *= 1.06) {
    for (double width = 0.3; width < 0.85 * mean.period; width *= 1.08) {
      double aa = 0, ab = 0, bb = 0, a1 = 0, b1 = 0;
      const auto n = static_cast<double>(mean.tone.size());
      for (std::size_t k = 0; k < mean.tone.size(); ++k) {
        const double d = ((static_cast<double>(k) + 0.5) / n - 0.5) * mean.period;
        const double m = NormalCdf((d + width / 2) / sigma) - NormalCdf((d - width / 2) / sigma);
        aa += m * m;
        ab += m * mean.tone[k];
        bb += mean.tone[k] * mean.tone[k];
        a1 += m;
        b1 += mean.tone[k];
      }
      const double vm = aa - a1 * a1 / n, vt = bb - b1 * b1 / n, c = ab - a1 * b1 / n;
      const double rest = vm > 0 ? vt - c * c / vm : vt;
      if (rest < best) {
        best = rest;
        blur = sigma;
      }
    }
  }
  return blur;
}

// --- put together --------------------------------------------------------------------------------

std::vector<Slice> MakeSlices(const Strips& strips, const std::vector<std::size_t>& good) {
  std::vector<Slice> slices;
  const std::size_t each = std::max<std::size_t>(1, (good.size() + kSlices - 1) / kSlices);
  for (std::size_t k = 0; k < good.size(); k += each) {
    Slice slice;
    const std::size_t to = std::min(good.size(), k + each);
    for (std::size_t g = k; g < to; ++g) {
      const Strip& strip = strips.strips[good[g]];
      slice.v += strip.v / static_cast<double>(to - k);
      if (g == k) {
        slice.profile = strip.profile;
      } else {
        slice.profile.Add(strip.profile);
      }
    }
    // Half of what a bin of whole strips holds where each has its pixels.
    slice.least_count = 0.25 * strips.height * static_cast<double>(to - k) * kBin_px;
    slices.push_back(std::move(slice));
  }
  return slices;
}

double SignOf(const Even& even) {
  double cube = 0;
  for (std::size_t b = even.first; b < even.last; ++b) cube += std::pow(even.tone[b], 3);
  return cube < 0 ? -1 : 1;
}

// Places of every numbered line in every slice.
std::vector<Line> Measure(const Strips& strips, const std::vector<Slice>& slices,
                          const std::vector<std::pair<long, double>>& numbered,
                          const Template& mean) {
  struct Seen {
    double u, v, strength;
  };
  std::vector<std::vector<Seen>> seen(numbered.size());
  std::vector<double> strengths;
  for (std::size_t l = 0; l < numbered.size(); ++l) {
    for (const Slice& slice : slices) {
      const auto shifted = ShiftOf(strips, slice, numbered[l].second, mean);
      if (!shifted) continue;
      seen[l].push_back({numbered[l].second + shifted->shift, slice.v, shifted->strength});
      strengths.push_back(shifted->strength);
    }
  }
  std::vector<Line> lines;
  if (strengths.empty()) return lines;
  const double usual = Median(strengths);
  for (std::size_t l = 0; l < numbered.size(); ++l) {
    std::vector<double> us;
    for (const Seen& s : seen[l]) {
      if (s.strength > 0.5 * usual && s.strength < 1.8 * usual) us.push_back(s.u);
    }
    if (2 * us.size() < slices.size() || us.empty()) continue;
    const double middle = Median(us);
    const double limit = std::max(0.05, 4 * RobustSigma(us));
    Line line;
    line.n = numbered[l].first;
    us.clear();
    for (const Seen& s : seen[l]) {
      if (s.strength <= 0.5 * usual || s.strength >= 1.8 * usual) continue;
      if (std::abs(s.u - middle) > limit) continue;
      line.places.push_back({s.u, s.v});
      us.push_back(s.u);
    }
    line.sigma =
        us.size() > 1 ? StandardDeviation(us) / std::sqrt(static_cast<double>(us.size())) : 0.05;
    lines.push_back(std::move(line));
  }
  return lines;
}

}  // namespace

tl::expected<Lines, std::string> FindLines(const Micrograph& picture, double strip_height_px) {
  const auto direction = DirectionAcross(picture);
  if (!direction) return tl::unexpected<std::string>("no direction of lines prevails");
  double angle = *direction;
  Strips strips;
  std::vector<Even> even;
  for (int pass = 0; pass < 3; ++pass) {
    strips = SumAlong(picture, angle, strip_height_px);
    const auto window = std::max<std::size_t>(16, strips.Bins() / 8);
    even.clear();
    for (const Strip& strip : strips.strips) {
      even.push_back(EvenOut(strips, strip.profile, 0.25 * strips.height * kBin_px, window));
    }
    const double tilt = NeighbourShift(strips, even) / strips.height;
    if (pass == 2 || std::abs(tilt) < 2e-4) break;
    angle -= tilt;
  }
  std::vector<double> powers;
  for (const Even& e : even) powers.push_back(PowerOf(e));
  const double least_power = kLeastPower * Quantile(powers, kPowerRank);
  std::vector<StripPeriod> periods;
  for (std::size_t k = 0; k < even.size(); ++k) {
    periods.push_back(powers[k] >= least_power ? PeriodOf(even[k]) : StripPeriod{});
  }
  const Choice choice = ChoosePeriod(periods);
  if (!choice.refusal.empty()) return tl::unexpected<std::string>(choice.refusal);

  const std::vector<Slice> slices = MakeSlices(strips, choice.strips);
  const Slice& seed = slices[slices.size() / 2];
  const auto window = static_cast<std::size_t>(std::lround(choice.lag * 3));
  const Even wave = EvenOut(strips, seed.profile, seed.least_count, window);
  double lag = choice.lag;
  const double sign = SignOf(wave);
  auto numbered = Grow(wave, lag, sign);
  for (auto& [n, bin] : numbered) bin = strips.u0 + kBin_px * (bin + 0.5);
  const double period = lag * kBin_px;
  Lines out;
  out.frame = strips.frame;
  out.period = period;
  if (numbered.empty()) return out;
  std::vector<double> at;
  Template mean;
  for (int pass = 0; pass < 2; ++pass) {
    at.clear();
    for (const auto& [n, u] : numbered) at.push_back(u);
    mean = MeanLine(strips, seed, at, period);
    for (auto& [n, u] : numbered) {
      if (const auto s = ShiftOf(strips, seed, u, mean)) u += s->shift;
    }
  }
  out.blur_px = BlurOf(mean);
  out.lines = Measure(strips, slices, numbered, mean);
  if (slices.size() < 3) {
    out.remarks.push_back("the lines are short in this picture: their direction is told poorly");
  }
  return out;
}

}  // namespace cutface::calibration
