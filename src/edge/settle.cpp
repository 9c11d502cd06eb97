#include <cmath>
#include <limits>

#include <Eigen/Dense>

#include "cutface/edge.h"
#include "cutface/stats.h"
#include "edge/band.h"
#include "edge/profile.h"

namespace cutface {
namespace {

constexpr double kSpacing = 1.0;          // px between places
constexpr double kWindow = 1.6;           // px, Gaussian along the contour for the linear shift
constexpr double kMostShift = 1.2;        // px per pass: the linear range of an edge
constexpr double kLevelPrior = 0.05;      // relative: how far levels wander along a contour
constexpr double kGammas[] = {1.0, 1.3, 1.6, 1.9, 2.2};

// What a neighbour contour does to the pixels of this one.
struct Neighbour {
  int track = -1;      // nearest other contour across polymer
  double gap = 1e9;    // px
};

struct Work {
  EdgeInput input;
  Track track;
  Band band;
  ProfileFit fit;
  std::vector<ProfileFit> all;        // every model at the chosen gamma
  std::vector<Neighbour> neighbour;   // per place
  std::vector<double> shift, sigma, clarity;
  double noise = 0.02;
  bool alive = true;
};

class Settler {
 public:
  Settler(const Micrograph& micrograph, const LightField& light, const std::vector<EdgeInput>& inputs,
          const EdgeOptions& options)
      : micrograph_(micrograph), light_(light), options_(options) {
    for (const EdgeInput& input : inputs) {
      Work w;
      w.input = input;
      if (input.start.size() < 6 || Perimeter(std::span<const PointPx>(input.start)) < 12) {
        w.alive = false;
      } else {
        w.track = MakeTrack(input.start, input.polymer_outside, Spacing(input));
      }
      works_.push_back(std::move(w));
    }
  }

  SettledFace Settle() {
    for (int pass = 0; pass < options_.passes; ++pass) {
      FindNeighbours();
      for (Work& w : works_) {
        if (w.alive) CollectAndPool(w, pass);
      }
      ChooseModels(pass);
      for (Work& w : works_) {
        if (w.alive) ShiftPlaces(w, pass);
      }
    }
    return Finish();
  }

 private:
  static double Spacing(const EdgeInput& input) {
    const double perimeter = Perimeter(std::span<const PointPx>(input.start));
    return std::clamp(perimeter / 3000, std::min(kSpacing, perimeter / 40), 3.0);
  }

  void FindNeighbours() {
    index_.clear();
    for (const Work& w : works_) {
      index_.emplace_back(w.alive ? std::optional<ContourIndex<FramePx>>(std::span<const PointPx>(w.track.at)) : std::nullopt);
    }
    const double limit = 2 * options_.reach_px;
    for (std::size_t a = 0; a < works_.size(); ++a) {
      Work& w = works_[a];
      if (!w.alive) continue;
      w.neighbour.assign(w.track.at.size(), {});
      for (std::size_t b = 0; b < works_.size(); ++b) {
        if (a == b || !works_[b].alive) continue;
        const Box<FramePx> box = BoundingBox(std::span<const PointPx>(works_[b].track.at));
        for (std::size_t i = 0; i < w.track.at.size(); ++i) {
          const PointPx p = w.track.at[i];
          if (p.x < box.least.x - limit || p.x > box.greatest.x + limit || p.y < box.least.y - limit ||
              p.y > box.greatest.y + limit) {
            continue;
          }
          const auto near = index_[b]->NearestTo(p, std::min(limit, w.neighbour[i].gap));
          if (near && near->distance < w.neighbour[i].gap) w.neighbour[i] = {static_cast<int>(b), near->distance};
        }
      }
    }
  }

  // Signed distance of a pixel to the neighbour's contour, positive on the polymer's side.
  double NeighbourDistance(int b, PointPx q) const {
    const Work& other = works_[static_cast<std::size_t>(b)];
    return other.track.side * index_[static_cast<std::size_t>(b)]->SignedDistance(q, 2 * options_.reach_px);
  }

  void CollectAndPool(Work& w, int pass) {
    // A small bore has no room for the full reach.
    const double area = Area(std::span<const PointPx>(w.track.at));
    const double inner = 0.8 * std::sqrt(area / M_PI);
    const double void_reach = w.track.side > 0 ? std::min(options_.reach_px, inner) : options_.reach_px;
    w.band = CollectBand(micrograph_, light_, w.track, void_reach, options_.reach_px);
    const bool subtract = options_.joint_walls && pass > 0;
    for (std::size_t i = 0; i < w.track.at.size(); ++i) {
      const Neighbour& nb = w.neighbour[i];
      if (nb.track < 0) continue;
      const Work& other = works_[static_cast<std::size_t>(nb.track)];
      for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
        BandPixel& pixel = w.band.pixels[k];
        if (nb.gap > pixel.s + 2 * options_.reach_px) continue;
        const double d = NeighbourDistance(nb.track, {static_cast<double>(pixel.x), static_cast<double>(pixel.y)});
        if (d > options_.reach_px + 2) continue;
        // Beyond the neighbour's edge the pixel speaks of the neighbour only.
        const double own_least = subtract ? -1.0 * other.fit.blur : 1.0;
        if (d < own_least || (!subtract && d < pixel.s)) {
          pixel.tone = std::numeric_limits<float>::quiet_NaN();
        } else if (subtract) {
          const double gamma = other.fit.gamma;
          const double linear = std::pow(std::max(1e-3f, pixel.tone), gamma) - (other.fit.Linear(d) - other.fit.p);
          pixel.tone = static_cast<float>(std::pow(std::max(1e-3, linear), 1 / gamma));
        }
      }
    }
  }

  ProfileBins Pool(const Work& w, bool lonely_only) const {
    ProfileBins bins;
    bins.from = -options_.reach_px;
    bins.step = 0.25;
    const std::size_t n = static_cast<std::size_t>(std::lround(2 * options_.reach_px / bins.step));
    std::vector<double> sum(n, 0), square(n, 0);
    bins.weight.assign(n, 0);
    for (std::size_t i = 0; i < w.track.at.size(); ++i) {
      if (w.band.outside_frame[i]) continue;
      if (lonely_only && w.neighbour[i].gap < options_.reach_px) continue;
      for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
        const BandPixel& pixel = w.band.pixels[k];
        if (!std::isfinite(pixel.tone)) continue;
        const double at = (pixel.s - bins.from) / bins.step;
        if (at < 0 || at >= static_cast<double>(n)) continue;
        const std::size_t bin = static_cast<std::size_t>(at);
        sum[bin] += pixel.tone;
        square[bin] += pixel.tone * pixel.tone;
        bins.weight[bin] += 1;
      }
    }
    bins.tone.assign(n, 0);
    for (std::size_t k = 0; k < n; ++k) {
      if (bins.weight[k] > 0) bins.tone[k] = sum[k] / bins.weight[k];
    }
    return bins;
  }

  ProfileBins PoolFor(const Work& w) const {
    std::size_t lonely = 0;
    for (const Neighbour& nb : w.neighbour) lonely += nb.gap >= options_.reach_px ? 1 : 0;
    return Pool(w, static_cast<double>(lonely) > 0.35 * static_cast<double>(w.neighbour.size()));
  }

  ProfileFitOptions FitOptionsFor(const Work& w, int pass) const {
    ProfileFitOptions o;
    o.noise = std::max(0.004, w.noise);
    o.blur_prior = pass > 0 ? blur_ : 0;
    o.blur_prior_share = 0.2;
    o.from = -std::min(10.0, options_.reach_px - 1);
    o.to = std::min(10.0, options_.reach_px - 1);
    o.transmitted = w.input.expected_step < 0;
    return o;
  }

  void ChooseModels(int pass) {
    std::vector<ProfileBins> bins(works_.size());
    for (std::size_t a = 0; a < works_.size(); ++a) {
      if (works_[a].alive) bins[a] = PoolFor(works_[a]);
    }
    if (pass == 0) {
      // A first, plain look: enough to line the places up.
      std::vector<double> blurs;
      for (std::size_t a = 0; a < works_.size(); ++a) {
        Work& w = works_[a];
        if (!w.alive) continue;
        w.fit = FitProfile(bins[a], EdgeModel::kStep, options_.gamma.value_or(1.3), FitOptionsFor(w, 0));
        blurs.push_back(w.fit.blur);
        EstimateNoise(w);
      }
      if (!blurs.empty()) blur_ = std::max(0.5, Quantile(blurs, 0.3));
      return;
    }
    if (pass == 1 || pass == 2) ChooseGamma(bins, pass);
    std::vector<double> blurs;
    for (std::size_t a = 0; a < works_.size(); ++a) {
      Work& w = works_[a];
      if (!w.alive) continue;
      w.all = FitProfiles(bins[a], gamma_, FitOptionsFor(w, pass));
      w.fit = w.all.front();
      blurs.push_back(w.fit.blur);
      EstimateNoise(w);
    }
    if (!blurs.empty()) blur_ = std::max(0.4, Median(blurs));
  }

  void ChooseGamma(const std::vector<ProfileBins>& bins, int pass) {
    if (options_.gamma) {
      gamma_ = *options_.gamma;
      u_gamma_ = 0.05;
      return;
    }
    std::vector<double> score;
    for (double gamma : kGammas) {
      double total = std::pow((gamma - 1.4) / 0.5, 2);
      for (std::size_t a = 0; a < works_.size(); ++a) {
        const Work& w = works_[a];
        if (!w.alive || bins[a].tone.empty()) continue;
        const auto fits = FitProfiles(bins[a], gamma, FitOptionsFor(w, pass));
        // Contours share the optics: their evidence adds, but no contour may shout the others down.
        total += std::min(60.0, 0.3 * fits.front().score);
      }
      score.push_back(total);
    }
    double weight_sum = 0, mean = 0, square = 0;
    const double least = *std::min_element(score.begin(), score.end());
    for (std::size_t k = 0; k < score.size(); ++k) {
      const double w = std::exp(-0.5 * (score[k] - least));
      weight_sum += w;
      mean += w * kGammas[k];
      square += w * kGammas[k] * kGammas[k];
    }
    gamma_ = mean / weight_sum;
    u_gamma_ = std::sqrt(std::max(0.01, square / weight_sum - gamma_ * gamma_));
  }

  void EstimateNoise(Work& w) {
    std::vector<double> residual;
    for (std::size_t k = 0; k < w.band.pixels.size(); k += 5) {
      const BandPixel& pixel = w.band.pixels[k];
      if (std::isfinite(pixel.tone)) residual.push_back(pixel.tone - w.fit.Encoded(pixel.s));
    }
    if (residual.size() > 30) w.noise = std::max(0.002, RobustSigma(std::move(residual)));
  }

  // One linear step per place: shift and both levels, least squares over a short Gaussian window.
  void ShiftPlaces(Work& w, int pass) {
    const std::size_t n = w.track.at.size();
    std::vector<std::array<double, 9>> sums(n);  // upper triangle of 3x3, then right side
    const double window = pass == 0 ? 2 * kWindow : kWindow;
    constexpr int kTable = 512;
    const double from = -options_.reach_px - 1, to = options_.reach_px + 1;
    std::vector<double> tone(kTable + 1), slope(kTable + 1), part(kTable + 1);
    for (int t = 0; t <= kTable; ++t) {
      const double s = from + (to - from) * t / kTable;
      tone[t] = w.fit.Encoded(s);
      slope[t] = w.fit.Slope(s);
      part[t] = 0.5 * std::erfc(-(s - w.fit.x0) / w.fit.blur * M_SQRT1_2);
    }
    const double limit = 3.5 * w.noise;
    for (std::size_t i = 0; i < n; ++i) {
      sums[i].fill(0);
      for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
        const BandPixel& pixel = w.band.pixels[k];
        if (!std::isfinite(pixel.tone)) continue;
        const double at = std::clamp((pixel.s - from) / (to - from) * kTable, 0.0, kTable - 1e-6);
        const int t = static_cast<int>(at);
        const double f = at - t;
        const double r = pixel.tone - ((1 - f) * tone[t] + f * tone[t + 1]);
        const double d = -((1 - f) * slope[t] + f * slope[t + 1]);
        const double q = (1 - f) * part[t] + f * part[t + 1];
        // Only what lies near the edge says where it is; levels are taken from a little further.
        const double near = std::exp(-0.5 * std::pow((pixel.s - w.fit.x0) / (4 * w.fit.blur + 2), 2));
        const double weight = near * (std::abs(r) <= limit ? 1.0 : limit / std::abs(r));
        const double row[3] = {d, 1 - q, q};
        sums[i][0] += weight * row[0] * row[0];
        sums[i][1] += weight * row[0] * row[1];
        sums[i][2] += weight * row[0] * row[2];
        sums[i][3] += weight * row[1] * row[1];
        sums[i][4] += weight * row[1] * row[2];
        sums[i][5] += weight * row[2] * row[2];
        for (int a = 0; a < 3; ++a) sums[i][6 + static_cast<std::size_t>(a)] += weight * row[a] * r;
      }
    }
    SolveShifts(w, sums, window);
    MovePlaces(w, pass);
  }

  void SolveShifts(Work& w, const std::vector<std::array<double, 9>>& sums, double window) {
    const std::size_t n = sums.size();
    const int half = std::min<int>(static_cast<int>(n / 2), std::max(1, static_cast<int>(std::ceil(2.5 * window / w.track.spacing))));
    std::vector<double> kernel;
    for (int k = -half; k <= half; ++k) kernel.push_back(std::exp(-0.5 * std::pow(k * w.track.spacing / window, 2)));
    w.shift.assign(n, 0);
    w.sigma.assign(n, 0);
    w.clarity.assign(n, 0);
    const double prior = (w.noise * w.noise) / (kLevelPrior * kLevelPrior);
    for (std::size_t i = 0; i < n; ++i) {
      std::array<double, 9> s{};
      double squared = 0;
      for (int k = -half; k <= half; ++k) {
        const std::size_t j = (i + n + static_cast<std::size_t>(k + static_cast<int>(n))) % n;
        const double g = kernel[static_cast<std::size_t>(k + half)];
        for (std::size_t a = 0; a < 9; ++a) s[a] += g * sums[j][a];
        squared += g * g * sums[j][0];
      }
      Eigen::Matrix3d m;
      m << s[0], s[1], s[2], s[1], s[3] + prior, s[4], s[2], s[4], s[5] + prior;
      m(0, 0) += 1e-12;
      const Eigen::Vector3d x = m.ldlt().solve(Eigen::Vector3d(s[6], s[7], s[8]));
      w.shift[i] = s[0] > 0 ? w.fit.x0 + x(0) : w.fit.x0;
      const double information = s[0] > 0 ? 1.0 / m.inverse()(0, 0) : 0;
      const double share = s[0] > 0 ? squared / s[0] : 1;
      w.sigma[i] = information > 0 ? w.noise * std::sqrt(share / information) : 9;
      w.clarity[i] = information > 0 ? std::abs(w.fit.p - w.fit.v) : 0;
    }
  }

  void MovePlaces(Work& w, int pass) {
    const std::size_t n = w.track.at.size();
    ContourPx moved(n);
    const double blur = w.fit.blur;
    const bool last = pass + 1 == options_.passes;
    for (std::size_t i = 0; i < n; ++i) {
      double shift = std::clamp(w.shift[i], -kMostShift, kMostShift);
      // Blur pulls a curved edge towards its centre of curvature.
      if (last) shift += w.track.side * CurvaturePull(blur, w.track.curvature[i]);
      if (w.band.outside_frame[i]) shift = 0;
      moved[i] = w.track.at[i] + (w.track.side * shift) * w.track.normal[i];
    }
    if (last) {
      w.track.at = moved;
      return;
    }
    w.track = MakeTrack(moved, w.input.polymer_outside, w.track.spacing);
  }

  // Outward displacement that undoes the pull, px.
  static double CurvaturePull(double blur, double curvature) {
    const double bounded = std::clamp(curvature, -0.5 / blur, 0.5 / blur);
    return 0.5 * blur * blur * bounded;
  }

  SettledFace Finish() {
    SettledFace face;
    face.gamma = gamma_;
    face.u_gamma = u_gamma_;
    face.blur_px = blur_;
    std::vector<double> noises;
    for (Work& w : works_) {
      SettledContour c;
      if (!w.alive) {
        for (PointPx p : w.input.start) c.places.push_back({p, {1, 0}, 9, PlaceState::kBridged});
        c.doubt = "too small to fit an edge";
        face.contours.push_back(std::move(c));
        continue;
      }
      noises.push_back(w.noise);
      face.contours.push_back(FinishContour(w));
    }
    if (!noises.empty()) face.noise = Median(noises);
    return face;
  }

  SettledContour FinishContour(const Work& w) const {
    SettledContour c;
    // Smooth to the roughness cut-off; what is smoothed is the place, not the uncertainty.
    ContourPx smooth = w.track.at;
    if (options_.smoothing_px > w.track.spacing) smooth = Smoothed(std::span<const PointPx>(w.track.at), options_.smoothing_px);
    const ContourPx normals = OutwardNormals(std::span<const PointPx>(smooth));
    const std::size_t n = smooth.size();
    // Independent samples per window, before and after smoothing.
    const double window = kWindow * 2 * std::sqrt(M_PI);
    const double after = std::hypot(window, 0.66 * options_.smoothing_px);
    for (std::size_t i = 0; i < n; ++i) {
      const std::size_t j = std::min(w.sigma.size() - 1, i * w.sigma.size() / n);
      SettledPlace place;
      place.at = smooth[i];
      place.normal = normals[i];
      place.sigma_px = w.sigma[j] * std::sqrt(window / after);
      place.state = w.band.outside_frame[j] ? PlaceState::kOutside
                    : w.sigma[j] > 1.0      ? PlaceState::kBridged
                                            : PlaceState::kMeasured;
      c.places.push_back(place);
    }
    c.model = w.fit.model;
    c.blur_px = w.fit.blur;
    c.width_px = w.fit.width;
    c.void_level = w.fit.v;
    c.polymer_level = w.fit.p;
    c.noise_length_px = after;
    c.contrast = std::abs(w.fit.Encoded(10) - w.fit.Encoded(-10));
    c.misfit = c.contrast > 0 ? w.fit.rms / c.contrast : 1;
    c.u_common_px = ModelDoubt(w);
    c.arc_length_px = 60;
    c.u_arc_px = 0.05;
    return c;
  }

  // Spread of the edge between the models that the profile does not rule out, and over gamma.
  double ModelDoubt(const Work& w) const {
    double weight_sum = 0, mean = 0, square = 0;
    for (const ProfileFit& fit : w.all) {
      const double weight = std::exp(-0.5 * std::min(60.0, 0.3 * (fit.score - w.all.front().score)));
      weight_sum += weight;
      mean += weight * fit.x0;
      square += weight * fit.x0 * fit.x0;
    }
    if (weight_sum <= 0) return 0.5;
    mean /= weight_sum;
    const double between = std::max(0.0, square / weight_sum - mean * mean);
    const double off = mean - w.fit.x0;
    return std::sqrt(between + off * off + 0.02 * 0.02);
  }

  const Micrograph& micrograph_;
  const LightField& light_;
  EdgeOptions options_;
  std::vector<Work> works_;
  std::vector<std::optional<ContourIndex<FramePx>>> index_;
  double blur_ = 1.3, gamma_ = 1.3, u_gamma_ = 0.3;
};

}  // namespace

std::string_view EdgeModelName(EdgeModel model) {
  switch (model) {
    case EdgeModel::kStep: return "step";
    case EdgeModel::kRim: return "rim";
    case EdgeModel::kBand: return "band";
    case EdgeModel::kGap: return "gap";
  }
  return "step";
}

SettledFace SettleEdges(const Micrograph& micrograph, const LightField& light,
                        const std::vector<EdgeInput>& inputs, const EdgeOptions& options) {
  return Settler(micrograph, light, inputs, options).Settle();
}

}  // namespace cutface
