#include <Eigen/Dense>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include "cutface/edge.h"
#include "cutface/stats.h"
#include "edge/band.h"
#include "edge/optics.h"
#include "edge/profile.h"

namespace cutface {
namespace {

constexpr double kSpacing = 1.0;         // px between places
constexpr double kWindow = 1.6;          // px, Gaussian along the contour for the linear shift
constexpr double kMostShift = 1.2;       // px per pass: the linear range of an edge
constexpr double kLevelPrior = 0.05;     // relative: how far levels wander along a contour
constexpr double kMostDrift = 9;         // px: the widest line that is looked for
constexpr double kLeastStep = 0.008;     // relative tone that may pass for an edge
constexpr double kHiddenDoubt = 0.3;     // of a rim's width
constexpr double kRimDoubt = 0.28;       // of depth x blur; from rendered faces
constexpr double kMostSmoothing = 0.12;  // px
constexpr double kArc_px = 50;           // least length that is pooled
constexpr double kMostArcs = 40;
constexpr double kBlurFactors[] = {0.82, 0.91, 1.0, 1.1, 1.21};
constexpr double kEvidenceShare = 0.35;  // bins are not independent and no model is exact
constexpr double kLineGain = 9;          // evidence that a line beside the edge must bring

// What a neighbour contour does to the pixels of this one.
struct Neighbour {
  int track = -1;    // nearest other contour across polymer
  double gap = 1e9;  // px
};

// A stretch of a contour that is pooled together.
struct Arc {
  std::size_t begin = 0, end = 0;  // places
  ProfileBins bins;
  ArcFit fit;
};

struct Work {
  EdgeInput input;
  Track track;
  Band band;
  std::vector<Arc> arcs;
  ArcFit fit;                        // of the whole contour, for its neighbours
  double blur_factor = 1;            // against the picture's blur
  std::vector<Neighbour> neighbour;  // per place
  std::vector<double> shift, sigma;
  double noise = 0.02;
  double u_optics = 0.3, offset = 0;
  double rms = 0;  // misfit, linear
  bool alive = true;
};

class Settler {
 public:
  Settler(const Micrograph& micrograph, const LightField& light,
          const std::vector<EdgeInput>& inputs, const EdgeOptions& options)
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
        if (w.alive) Collect(w, pass);
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
      index_.emplace_back(
          w.alive ? std::optional<ContourIndex<FramePx>>(std::span<const PointPx>(w.track.at))
                  : std::nullopt);
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
          if (p.x < box.least.x - limit || p.x > box.greatest.x + limit ||
              p.y < box.least.y - limit || p.y > box.greatest.y + limit) {
            continue;
          }
          const auto near = index_[b]->NearestTo(p, std::min(limit, w.neighbour[i].gap));
          if (near && near->distance < w.neighbour[i].gap)
            w.neighbour[i] = {static_cast<int>(b), near->distance};
        }
      }
    }
  }

  // Signed distance of a pixel to the neighbour's contour, positive on the polymer's side.
  double NeighbourDistance(int b, PointPx q) const {
    const Work& other = works_[static_cast<std::size_t>(b)];
    return other.track.side *
           index_[static_cast<std::size_t>(b)]->SignedDistance(q, 2 * options_.reach_px);
  }

  void Collect(Work& w, int pass) {
    // A small bore has no room for the full reach.
    const double area = Area(std::span<const PointPx>(w.track.at));
    const double inner = 0.8 * std::sqrt(area / M_PI);
    const double void_reach =
        w.track.side > 0 ? std::min(options_.reach_px, inner) : options_.reach_px;
    w.band = CollectBand(micrograph_, light_, w.track, void_reach, options_.reach_px);
    const bool subtract = options_.joint_walls && pass > 0;
    for (std::size_t i = 0; i < w.track.at.size(); ++i) {
      const Neighbour& nb = w.neighbour[i];
      if (nb.track < 0) continue;
      const Work& other = works_[static_cast<std::size_t>(nb.track)];
      for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
        BandPixel& pixel = w.band.pixels[k];
        if (nb.gap > pixel.s + 2 * options_.reach_px) continue;
        const double d = NeighbourDistance(
            nb.track, {static_cast<double>(pixel.x), static_cast<double>(pixel.y)});
        if (d > options_.reach_px + 2) continue;
        // Beyond the neighbour's edge the pixel speaks of the neighbour only.
        const double own_least = subtract ? -optics_.state.blur : 1.0;
        if (d < own_least || (!subtract && d < pixel.s)) {
          pixel.tone = std::numeric_limits<float>::quiet_NaN();
        } else if (subtract) {
          const double linear =
              std::pow(std::max(1e-3, static_cast<double>(pixel.tone)), optics_.gamma) -
              (other.fit.Linear(ShapeOf(other), d) - other.fit.p);
          pixel.tone = static_cast<float>(std::pow(std::max(1e-3, linear), 1 / optics_.gamma));
        }
      }
    }
  }

  ProfileBins Pool(const Work& w, std::size_t begin, std::size_t end) const {
    std::size_t lonely = 0;
    for (std::size_t i = begin; i < end; ++i)
      lonely += w.neighbour[i].gap >= options_.reach_px ? 1 : 0;
    const bool lonely_only = static_cast<double>(lonely) > 0.35 * static_cast<double>(end - begin);
    ProfileBins bins;
    const std::size_t n =
        static_cast<std::size_t>(std::lround(-2 * ProfileBins::kFrom / ProfileBins::kStep));
    std::vector<double> sum(n, 0);
    bins.weight.assign(n, 0);
    for (std::size_t i = begin; i < end; ++i) {
      if (w.band.outside_frame[i]) continue;
      if (lonely_only && w.neighbour[i].gap < options_.reach_px) continue;
      for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
        const BandPixel& pixel = w.band.pixels[k];
        if (!std::isfinite(pixel.tone)) continue;
        const double at = (pixel.s - ProfileBins::kFrom) / ProfileBins::kStep;
        if (at < 0 || at >= static_cast<double>(n)) continue;
        const std::size_t bin = static_cast<std::size_t>(at);
        sum[bin] += pixel.tone;
        bins.weight[bin] += 1;
      }
    }
    bins.tone.assign(n, 0);
    for (std::size_t k = 0; k < n; ++k) {
      if (bins.weight[k] > 0) bins.tone[k] = sum[k] / bins.weight[k];
    }
    return bins;
  }

  const EdgeShape& ShapeFor(double factor) const {
    const int key = static_cast<int>(std::lround(factor * 100));
    auto at = shapes_.find(key);
    if (at == shapes_.end()) {
      OpticsState state = optics_.state;
      state.blur *= factor;
      at = shapes_.emplace(key, EdgeShape(state)).first;
    }
    return at->second;
  }
  const EdgeShape& ShapeOf(const Work& w) const { return ShapeFor(w.blur_factor); }

  ProfileOptions OptionsFor(const Work& w) const {
    ProfileOptions o;
    o.noise = std::max(0.004, w.noise);
    return o;
  }

  void PoolArcs(Work& w) {
    const std::size_t n = w.track.at.size();
    const double perimeter = w.track.spacing * static_cast<double>(n);
    const std::size_t count =
        static_cast<std::size_t>(std::clamp(perimeter / kArc_px, 1.0, kMostArcs));
    w.arcs.assign(count, {});
    for (std::size_t a = 0; a < count; ++a) {
      w.arcs[a].begin = a * n / count;
      w.arcs[a].end = (a + 1) * n / count;
      w.arcs[a].bins = Pool(w, w.arcs[a].begin, w.arcs[a].end);
    }
  }

  void ChooseModels(int pass) {
    if (pass == 0) {
      optics_.gamma = options_.gamma.value_or(1.4);
      shapes_.clear();
      for (Work& w : works_) {
        if (!w.alive) continue;
        const LinearProfile profile =
            Linearised(Pool(w, 0, w.track.at.size()), optics_.gamma, OptionsFor(w));
        w.fit = FitArc(profile, ShapeOf(w), 0, 1.0);
        w.arcs.assign(1, {0, w.track.at.size(), {}, w.fit});
        EstimateNoise(w);
      }
      return;
    }
    std::vector<OpticsArc> arcs;
    for (std::size_t c = 0; c < works_.size(); ++c) {
      Work& w = works_[c];
      if (!w.alive) continue;
      PoolArcs(w);
      // Every third arc is plenty where there are many.
      const std::size_t stride = w.arcs.size() > 12 ? w.arcs.size() / 8 : 1;
      for (std::size_t a = 0; a < w.arcs.size(); a += stride) {
        arcs.push_back({w.arcs[a].bins, std::max(0.004, w.noise), static_cast<int>(c), 0,
                        w.input.expected_step < 0});
      }
    }
    if (pass < 3) {
      optics_ = FindOptics(arcs, static_cast<int>(works_.size()), options_.gamma);
      shapes_.clear();
    }
    for (std::size_t c = 0; c < works_.size(); ++c) {
      Work& w = works_[c];
      if (!w.alive) continue;
      w.u_optics = optics_.u_contour[c];
      w.offset = optics_.offset[c];
      FitContour(w);
      EstimateNoise(w);
    }
  }

  // The contour's own blur (focus varies over the field), then every arc with and without a line
  // just outside the polymer.
  void FitContour(Work& w) {
    std::vector<LinearProfile> profiles;
    for (const Arc& arc : w.arcs)
      profiles.push_back(Linearised(arc.bins, optics_.gamma, OptionsFor(w)));
    double best = 1e300;
    for (double factor : kBlurFactors) {
      double score = std::pow(std::log(factor) / 0.12, 2);
      for (const LinearProfile& profile : profiles) {
        const double n = std::max<double>(1, static_cast<double>(profile.s.size()));
        score += kEvidenceShare * n *
                 std::log1p(std::max(0.0, FitArc(profile, ShapeFor(factor), 0, 0.4, 4).chi2) / n);
      }
      if (score < best) {
        best = score;
        w.blur_factor = factor;
      }
    }
    const EdgeShape& shape = ShapeOf(w);
    for (std::size_t a = 0; a < w.arcs.size(); ++a) {
      const LinearProfile& profile = profiles[a];
      w.arcs[a].fit = FitArc(profile, shape, 0);
      if (profile.s.size() < 20 || !Lonely(w, w.arcs[a])) continue;
      const double n = static_cast<double>(profile.s.size());
      const ArcFit line = FitArcWithLine(profile, shape, w.arcs[a].fit.x0);
      const double gain = kEvidenceShare * n *
                          (std::log1p(std::max(0.0, w.arcs[a].fit.chi2) / n) -
                           std::log1p(std::max(0.0, line.chi2) / n));
      // The further it moves the edge, the more it must explain: texture makes small gains
      // anywhere.
      const double needed = kLineGain * (1 + 0.5 * std::abs(line.x0 - w.arcs[a].fit.x0));
      if (gain > needed && LinePlausible(w, line)) w.arcs[a].fit = line;
    }
    const LinearProfile whole =
        Linearised(Pool(w, 0, w.track.at.size()), optics_.gamma, OptionsFor(w));
    w.fit = FitArc(whole, shape, 0);
    double square = 0;
    for (std::size_t k = 0; k < whole.s.size(); ++k)
      square += std::pow(whole.y[k] - w.fit.Linear(shape, whole.s[k]), 2);
    w.rms = whole.s.empty() ? 0 : std::sqrt(square / static_cast<double>(whole.s.size()));
  }

  // Beside a thin wall the wall itself would pass for a line.
  bool Lonely(const Work& w, const Arc& arc) const {
    std::size_t lonely = 0;
    for (std::size_t i = arc.begin; i < arc.end; ++i)
      lonely += w.neighbour[i].gap >= options_.reach_px ? 1 : 0;
    return 2 * lonely > arc.end - arc.begin;
  }

  // A gap is darker than what is beside it; a lip lies between the void's tone and the polymer's.
  // An open bore in light from behind has no resin to draw back: a dark line there is refraction.
  static bool LinePlausible(const Work& w, const ArcFit& fit) {
    const double level = fit.v + fit.line;
    const double low = std::min(fit.v, fit.p), high = std::max(fit.v, fit.p), range = high - low;
    if (level > high + 0.02 * range || level < -0.1) return false;
    if (w.track.side > 0 && fit.v > fit.p && level < low + 0.1 * range) return false;
    // A line that hardly differs from the void moves the edge without being seen.
    return std::abs(fit.line) > 0.12 * range;
  }

  double Encoded(const ArcFit& fit, const EdgeShape& shape, double s) const {
    return std::pow(std::max(1e-6, fit.Linear(shape, s)), 1 / optics_.gamma);
  }

  void EstimateNoise(Work& w) {
    std::vector<double> residual;
    const EdgeShape& shape = ShapeOf(w);
    for (const Arc& arc : w.arcs) {
      for (std::size_t k = w.band.first[arc.begin]; k < w.band.first[arc.end]; k += 5) {
        const BandPixel& pixel = w.band.pixels[k];
        if (std::isfinite(pixel.tone))
          residual.push_back(pixel.tone - Encoded(arc.fit, shape, pixel.s));
      }
    }
    if (residual.size() > 30) w.noise = std::max(0.002, RobustSigma(std::move(residual)));
  }

  // One linear step per place: shift and both levels, least squares over a short Gaussian window.
  void ShiftPlaces(Work& w, int pass) {
    std::vector<std::array<double, 9>> sums(
        w.track.at.size());  // upper triangle of 3x3, then right side
    for (const Arc& arc : w.arcs) SumArc(w, arc, sums);
    SolveShifts(w, sums, pass == 0 ? 2 * kWindow : kWindow);
    MovePlaces(w, pass);
  }

  void SumArc(const Work& w, const Arc& arc, std::vector<std::array<double, 9>>& sums) const {
    constexpr int kTable = 512;
    const double from = -options_.reach_px - 1, to = options_.reach_px + 1;
    const EdgeShape& shape = ShapeOf(w);
    const double blur = optics_.state.blur * w.blur_factor;
    std::vector<double> tone(kTable + 1), slope(kTable + 1), part(kTable + 1);
    for (int t = 0; t <= kTable; ++t) {
      const double s = from + (to - from) * t / kTable;
      tone[t] = Encoded(arc.fit, shape, s);
      slope[t] = (Encoded(arc.fit, shape, s + 0.05) - Encoded(arc.fit, shape, s - 0.05)) / 0.1;
      part[t] = shape.Step(s - arc.fit.x0);
    }
    const double limit = 3.5 * w.noise;
    for (std::size_t i = arc.begin; i < arc.end; ++i) {
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
        const double near = std::exp(-0.5 * std::pow((pixel.s - arc.fit.x0) / (4 * blur + 2), 2));
        const double weight = near * (std::abs(r) <= limit ? 1.0 : limit / std::abs(r));
        const double row[3] = {d, 1 - q, q};
        std::size_t at_sum = 0;
        for (int a = 0; a < 3; ++a) {
          for (int b = a; b < 3; ++b) sums[i][at_sum++] += weight * row[a] * row[b];
          sums[i][6 + static_cast<std::size_t>(a)] += weight * row[a] * r;
        }
      }
    }
  }

  void SolveShifts(Work& w, const std::vector<std::array<double, 9>>& sums, double window) {
    const std::size_t n = sums.size();
    const int half =
        std::min<int>(static_cast<int>(n / 2),
                      std::max(1, static_cast<int>(std::ceil(2.5 * window / w.track.spacing))));
    std::vector<double> kernel;
    for (int k = -half; k <= half; ++k)
      kernel.push_back(std::exp(-0.5 * std::pow(k * w.track.spacing / window, 2)));
    w.shift.assign(n, 0);
    w.sigma.assign(n, 0);
    const double prior = (w.noise * w.noise) / (kLevelPrior * kLevelPrior);
    std::vector<double> base(n);
    for (const Arc& arc : w.arcs) {
      for (std::size_t i = arc.begin; i < arc.end; ++i) base[i] = arc.fit.x0;
    }
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
      w.shift[i] = base[i] + (s[0] > 0 ? std::clamp(x(0), -kMostShift, kMostShift) : 0.0);
      const double information = s[0] > 0 ? 1.0 / m.inverse()(0, 0) : 0;
      const double share = s[0] > 0 ? squared / s[0] : 1;
      w.sigma[i] = information > 0 ? w.noise * std::sqrt(share / information) : 9;
    }
  }

  void MovePlaces(Work& w, int pass) {
    const std::size_t n = w.track.at.size();
    ContourPx moved(n);
    const double blur = optics_.state.blur * w.blur_factor;
    const bool last = pass + 1 == options_.passes;
    for (std::size_t i = 0; i < n; ++i) {
      double shift = w.shift[i];
      // Blur pulls a curved edge towards its centre of curvature.
      if (last) shift += w.offset + w.track.side * CurvaturePull(blur, w.track.curvature[i]);
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
    face.gamma = optics_.gamma;
    face.u_gamma = optics_.u_gamma;
    face.blur_px = optics_.state.blur;
    std::vector<double> noises;
    for (Work& w : works_) {
      if (!w.alive) {
        face.contours.push_back(Unsettled(w, "too small to fit an edge"));
        continue;
      }
      noises.push_back(w.noise);
      face.contours.push_back(FinishContour(w));
    }
    if (!noises.empty()) face.noise = Median(noises);
    return face;
  }

  // Where nothing steps, the start is all that is known.
  static SettledContour Unsettled(const Work& w, const char* why) {
    SettledContour c;
    for (PointPx p : w.input.start) c.places.push_back({p, {1, 0}, 9, PlaceState::kBridged});
    c.doubt = why;
    return c;
  }

  SettledContour FinishContour(const Work& w) const {
    SettledContour c;
    const double tone_step =
        std::abs(Encoded(w.fit, ShapeOf(w), 10) - Encoded(w.fit, ShapeOf(w), -10));
    if (tone_step < std::max(kLeastStep, 0.3 * w.noise)) return Unsettled(w, "no edge to be seen");
    // Smooth to the roughness cut-off; what is smoothed is the place, not the uncertainty.
    ContourPx smooth = w.track.at;
    if (options_.smoothing_px > w.track.spacing)
      smooth = Smoothed(std::span<const PointPx>(w.track.at), options_.smoothing_px);
    // Roughness is smoothed, corners are not: no place moves further than its noise explains.
    if (smooth.size() == w.track.at.size()) {
      for (std::size_t i = 0; i < smooth.size(); ++i) {
        const PointPx move = smooth[i] - w.track.at[i];
        const double most = std::max(kMostSmoothing, 2.5 * std::min(1.0, w.sigma[i])),
                     length = Norm(move);
        if (length > most) smooth[i] = w.track.at[i] + (most / length) * move;
      }
    }
    const ContourPx normals = OutwardNormals(std::span<const PointPx>(smooth));
    const std::size_t n = smooth.size();
    const ContourIndex<FramePx> started{std::span<const PointPx>(w.input.start)};
    // Independent samples per window, before and after smoothing.
    const double window = kWindow * 2 * std::sqrt(M_PI);
    const double after = std::hypot(window, 0.66 * options_.smoothing_px);
    for (std::size_t i = 0; i < n; ++i) {
      const std::size_t j = std::min(w.sigma.size() - 1, i * w.sigma.size() / n);
      SettledPlace place;
      place.at = smooth[i];
      place.normal = normals[i];
      place.sigma_px = w.sigma[j] * std::sqrt(window / after);
      // An edge this far from where tracing saw one is another edge.
      const bool drifted = !started.NearestTo(smooth[i], kMostDrift).has_value();
      if (drifted) place.sigma_px = std::max(place.sigma_px, 0.5 * kMostDrift);
      place.state = w.band.outside_frame[j]       ? PlaceState::kOutside
                    : drifted || w.sigma[j] > 1.0 ? PlaceState::kBridged
                                                  : PlaceState::kMeasured;
      c.places.push_back(place);
    }
    std::size_t lines = 0;
    std::vector<double> places;
    for (const Arc& arc : w.arcs) {
      lines += arc.fit.line != 0 ? 1 : 0;
      places.push_back(arc.fit.x0);
    }
    c.model = ModelWord(2 * lines > w.arcs.size());
    c.blur_px = optics_.state.blur * w.blur_factor;
    c.width_px = optics_.state.kind == RimKind::kStep ? 0 : optics_.state.width;
    c.void_level = w.fit.v;
    c.polymer_level = w.fit.p;
    c.noise_length_px = after;
    const EdgeShape& shape = ShapeOf(w);
    c.contrast = std::abs(Encoded(w.fit, shape, 10) - Encoded(w.fit, shape, -10));
    const double step = std::abs(w.fit.p - w.fit.v);
    c.misfit = step > 0 ? w.rms / step : 1;
    // No real rim has exactly a model's shape: the deeper and softer it is, the less its start is
    // known.
    const double depth = optics_.state.kind == RimKind::kStep ? 0 : optics_.state.depth;
    // A rim as dark as the void hides where the polymer begins.
    const double seen =
        std::abs(w.fit.p * (1 - depth) - w.fit.v) / std::max(1e-3, std::abs(w.fit.p - w.fit.v));
    const double hidden = depth > 0 ? kHiddenDoubt * c.width_px * std::max(0.0, 1 - seen / 0.6) : 0;
    c.u_common_px = std::hypot(std::hypot(w.u_optics, hidden), 0.02, kRimDoubt * depth * c.blur_px);
    c.arc_length_px = w.track.spacing * static_cast<double>(n) / static_cast<double>(w.arcs.size());
    c.u_arc_px = 0.05 + (lines > 0 ? 0.15 : 0.0);
    return c;
  }

  EdgeModel ModelWord(bool mostly_lines) const {
    if (mostly_lines) return EdgeModel::kGap;
    switch (optics_.state.kind) {
      case RimKind::kStep:
        return EdgeModel::kStep;
      case RimKind::kRim:
      case RimKind::kGlow:
        return EdgeModel::kRim;
      case RimKind::kBand:
        return EdgeModel::kBand;
    }
    return EdgeModel::kStep;
  }

  const Micrograph& micrograph_;
  const LightField& light_;
  EdgeOptions options_;
  std::vector<Work> works_;
  std::vector<std::optional<ContourIndex<FramePx>>> index_;
  Optics optics_;
  mutable std::map<int, EdgeShape> shapes_;
};

}  // namespace

std::string_view EdgeModelName(EdgeModel model) {
  switch (model) {
    case EdgeModel::kStep:
      return "step";
    case EdgeModel::kRim:
      return "rim";
    case EdgeModel::kBand:
      return "band";
    case EdgeModel::kGap:
      return "gap";
  }
  return "step";
}

SettledFace SettleEdges(const Micrograph& micrograph, const LightField& light,
                        const std::vector<EdgeInput>& inputs, const EdgeOptions& options) {
  return Settler(micrograph, light, inputs, options).Settle();
}

}  // namespace cutface
