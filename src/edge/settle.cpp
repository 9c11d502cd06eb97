#include <array>
#include <cmath>
#include <iterator>
#include <limits>

#include "cutface/edge.h"
#include "cutface/in_parallel.h"
#include "cutface/stats.h"
#include "edge/finish.h"
#include "edge/focus.h"
#include "edge/line.h"
#include "edge/optics.h"
#include "edge/shapes.h"
#include "edge/work.h"

namespace cutface {
namespace {

constexpr double kSpacing = 1.0;       // px between places
constexpr double kExactGamma = 0.005;  // relative: as good as exact
constexpr double kBeside_px = 6;       // from an edge: what lies beside it
constexpr double kArc_px = 50;         // least length that is pooled
constexpr double kMostArcs = 40;
// Profiles that count in full, of one contour: where the record knows the gamma and several
// contours speak, the models follow them closely. A gamma that is guessed too, or a gap along the
// only contour, takes up what the models lack.
constexpr double kContourTrust = 8, kLooseContourTrust = 2.5;
constexpr double kCrowdedTrust = 0.02;  // in a stretch beside another contour
constexpr double kTextureBins = 4;      // that vary together where texture rules
constexpr std::size_t kMostGroups = 8;  // of stretches of one contour, that optics are told from
constexpr double kInsertScatter = 4;    // deviations beyond a side's tone: a wire, a void
constexpr std::size_t kNoisePixels = 5000;  // tell a contour's noise to one part in seventy
constexpr double kInnerDoubt = 0.08;        // px, of an edge between solids: texture, smear
constexpr double kGapShare = 0.6;           // of how far an edge may be off, as its uncertainty
constexpr double kSmallBore = 0.25;         // of the longest, in length
constexpr double kHardlyBrighter = 1.15, kSurelyBrighter = 1.4;  // than the polymer, as stored
constexpr double kToldFocus = 0.04;  // of the blur's logarithm, of a stretch
constexpr double kAslant = 0.15;     // change of the blur's logarithm over half the part
constexpr double kGammas[] = {1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.4};

// A record's gamma that is not quite certain: the three nodes of Gauss-Hermite quadrature of its
// normal distribution, with their weights.
GammaChoice RecordedGamma(double gamma, double u) {
  if (!(u > kExactGamma * gamma)) return {{gamma}, {0}, true};
  const double side = std::min(std::sqrt(3.0) * u, 0.4 * gamma);
  const double cost = -2 * std::log(1.0 / 4);  // of 1/6 against 2/3
  return {{gamma - side, gamma, gamma + side}, {cost, 0, cost}, true};
}

class Settler {
 public:
  Settler(const Micrograph& micrograph, const LightField& light,
          const std::vector<EdgeInput>& inputs, const EdgeOptions& options)
      : micrograph_(micrograph), light_(light), options_(options), sensor_(micrograph) {
    if (options_.gamma) {
      choice_ = RecordedGamma(*options_.gamma, options_.u_gamma);
    } else {
      choice_.gammas.assign(std::begin(kGammas), std::end(kGammas));
      choice_.costs = sensor_.GammaCosts(choice_.gammas);
    }
    optics_.gamma = options_.gamma.value_or(1.4);
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
      ForEachAlive([&](Work& w) { Collect(w, pass); });
      ChooseModels(pass);
      ForEachAlive([&](Work& w) {
        ShiftPlaces(w, shapes_, options_.reach_px,
                    pass == 0 ? 2 * kPlaceWindow_px : kPlaceWindow_px);
        MovePlaces(w, pass);
      });
    }
    return Finish();
  }

 private:
  // Contours are settled side by side: `work` changes no other than its own.
  template <class F>
  void ForEachAlive(const F& work) {
    InParallel(works_.size(), [&](std::size_t i) {
      if (works_[i].alive) work(works_[i]);
    });
  }

  static double Spacing(const EdgeInput& input) {
    const double perimeter = Perimeter(std::span<const PointPx>(input.start));
    return std::clamp(perimeter / 3000, std::min(kSpacing, perimeter / 40), 3.0);
  }

  void FindNeighbours() {
    index_.clear();
    std::vector<Box<FramePx>> boxes;
    for (const Work& w : works_) {
      index_.emplace_back(
          w.alive ? std::optional<ContourIndex<FramePx>>(std::span<const PointPx>(w.track.at))
                  : std::nullopt);
      boxes.push_back(w.alive ? BoundingBox(std::span<const PointPx>(w.track.at)) : Box<FramePx>{});
    }
    const double limit = 2 * options_.reach_px;
    InParallel(works_.size(), [&](std::size_t a) {
      Work& w = works_[a];
      if (!w.alive) return;
      w.neighbour.assign(w.track.at.size(), {});
      for (std::size_t b = 0; b < works_.size(); ++b) {
        if (a == b || !works_[b].alive) continue;
        const Box<FramePx>&box = boxes[b], &own = boxes[a];
        if (box.least.x > own.greatest.x + limit || own.least.x > box.greatest.x + limit ||
            box.least.y > own.greatest.y + limit || own.least.y > box.greatest.y + limit) {
          continue;
        }
        for (std::size_t i = 0; i < w.track.at.size(); ++i) {
          const PointPx p = w.track.at[i];
          if (p.x < box.least.x - limit || p.x > box.greatest.x + limit ||
              p.y < box.least.y - limit || p.y > box.greatest.y + limit) {
            continue;
          }
          const auto near = index_[b]->NearestTo(p, std::min(limit, w.neighbour[i].gap));
          if (near && near->distance < w.neighbour[i].gap)
            w.neighbour[i] = {static_cast<int>(b), near->distance, near->edge_second};
        }
      }
    });
  }

  // Signed distance of a pixel to the neighbour's contour, positive on the polymer's side.
  // `edge`: see ContourIndex.
  double NeighbourDistance(int b, PointPx q, std::size_t& edge) const {
    const Work& other = works_[static_cast<std::size_t>(b)];
    return other.track.side * index_[static_cast<std::size_t>(b)]->SignedDistanceFrom(q, edge);
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
      std::size_t edge = nb.edge;
      const Work& other = works_[static_cast<std::size_t>(nb.track)];
      // Between solids the strip that two contours share may lie on the neighbour's void side.
      const bool solid = w.input.inner_boundary || other.input.inner_boundary;
      const double way = solid && NeighbourDistance(nb.track, w.track.at[i], edge) < 0 ? -1 : 1;
      const double shared = way > 0 ? other.fit.p : other.fit.v;
      for (std::size_t k = w.band.first[i]; k < w.band.first[i + 1]; ++k) {
        BandPixel& pixel = w.band.pixels[k];
        // No pixel is nearer to the neighbour than its place less the way from there.
        if (nb.gap >
            std::min(pixel.s + 2 * options_.reach_px, std::abs(pixel.s) + options_.reach_px + 3)) {
          continue;
        }
        const PointPx q{static_cast<double>(pixel.x), static_cast<double>(pixel.y)};
        const double d = way * NeighbourDistance(nb.track, q, edge);
        if (d > options_.reach_px + 2) continue;
        // Beyond the neighbour's edge the pixel speaks of the neighbour only.
        const double own_least = subtract ? -optics_.state.blur : 1.0;
        const double own = solid ? std::abs(pixel.s) : pixel.s;
        if (d < own_least || (!subtract && d < own)) {
          pixel.tone = std::numeric_limits<float>::quiet_NaN();
        } else if (subtract) {
          pixel.less = static_cast<float>(other.fit.Linear(ShapeOf(other), way * d) - shared);
        }
      }
    }
    if (w.input.inner_boundary) LeaveOutInserts(w.band);
    double field = 0;
    for (const PointPx p : w.track.at) field += light_.At(p.x, p.y);
    w.field = field / static_cast<double>(w.track.at.size());
    Redecode(w);
  }

  void Redecode(Work& w) const {
    Linearise(w.band, optics_.gamma);
    const NoiseLaw before = w.law;
    w.law = LawAt(sensor_, optics_.gamma, w.field, w.noise_scale);
    w.law.void_clump = before.void_clump;
    w.law.polymer_clump = before.polymer_clump;
  }

  // Wires and voids beside an edge between solids: tones far beyond what lies on its two sides.
  static void LeaveOutInserts(Band& band) {
    std::vector<double> side[2];
    for (const BandPixel& pixel : band.pixels) {
      if (std::isfinite(pixel.tone) && std::abs(pixel.s) > 2)
        side[pixel.s > 0 ? 1 : 0].push_back(pixel.tone);
    }
    if (side[0].size() < 30 || side[1].size() < 30) return;
    double least = 1e9, most = -1e9, apart = 0;
    for (std::vector<double>& tones : side) {
      const double middle = Median(tones);
      const double reach = kInsertScatter * RobustSigma(std::move(tones));
      apart = std::abs(middle - apart);
      least = std::min(least, middle - reach);
      most = std::max(most, middle + reach);
    }
    for (BandPixel& pixel : band.pixels) {
      if (pixel.tone < least - 0.3 * apart || pixel.tone > most + 0.3 * apart)
        pixel.tone = std::numeric_limits<float>::quiet_NaN();
    }
  }

  ProfileBins PoolHere(const Work& w, std::size_t begin, std::size_t end) const {
    return Pool(w, begin, end, {optics_.gamma}, optics_.gamma, options_.reach_px);
  }
  LinearProfile WeightedHere(const Work& w, const ProfileBins& bins) const {
    ProfileOptions o;
    o.noise = w.law;
    return Weighted(bins, 0, o);
  }

  const EdgeShape& ShapeOf(const Work& w) const {
    return shapes_.At(w.blur_factor, w.input.inner_boundary);
  }

  const EdgeShape& ShapeAt(const Work& w, const Arc& arc) const {
    return shapes_.At(arc.blur_factor, w.input.inner_boundary);
  }

  // Keeps what was told of the stretches where their number stays.
  static void LayArcs(Work& w) {
    const std::size_t n = w.track.at.size();
    const double perimeter = w.track.spacing * static_cast<double>(n);
    const std::size_t count =
        static_cast<std::size_t>(std::clamp(perimeter / kArc_px, 1.0, kMostArcs));
    if (w.arcs.size() != count) w.arcs.assign(count, {});
    for (std::size_t a = 0; a < count; ++a) {
      w.arcs[a].begin = a * n / count;
      w.arcs[a].end = (a + 1) * n / count;
    }
  }
  void PoolArcs(Work& w) const {
    for (Arc& arc : w.arcs) arc.bins = PoolHere(w, arc.begin, arc.end);
    TellClumps(w.arcs, w.law);
  }

  void ChooseModels(int pass) {
    if (pass == 0) {
      ForEachAlive([&](Work& w) {
        w.fit = FitArc(WeightedHere(w, PoolHere(w, 0, w.track.at.size())), ShapeOf(w), 0, 1.0);
        w.arcs.assign(1, {.begin = 0, .end = w.track.at.size(), .bins = {}, .fit = w.fit});
        EstimateNoise(w);
      });
      return;
    }
    ForEachAlive([&](Work& w) {
      LayArcs(w);
      if (pass == 1) PoolArcs(w);  // for the clumps
    });
    if (pass < 3) ChooseOptics();
    ForEachAlive([&](Work& w) { PoolArcs(w); });
    ChooseBlurs();
    ForEachAlive([&](Work& w) {
      FitContour(w);
      EstimateNoise(w);
    });
  }

  void ChooseOptics() {
    std::vector<OpticsProfile> profiles;
    std::vector<std::vector<OpticsProfile>> of_contour(works_.size());
    const auto speaks = [](const Work& w) {
      return w.alive && !w.input.inner_boundary && !w.input.layered;
    };
    const bool several = std::count_if(works_.begin(), works_.end(), speaks) > 1;
    const double trust = several && choice_.recorded ? kContourTrust : kLooseContourTrust;
    InParallel(works_.size(), [&](std::size_t c) {
      if (speaks(works_[c])) AddProfiles(c, trust, of_contour[c]);
    });
    for (std::vector<OpticsProfile>& own : of_contour)
      std::move(own.begin(), own.end(), std::back_inserter(profiles));
    through_ = Through();
    optics_ = FindOptics(profiles, static_cast<int>(works_.size()), choice_, through_);
    shapes_ = EdgeShapes(optics_.state);
    for (std::size_t c = 0; c < works_.size(); ++c) {
      Work& w = works_[c];
      if (!w.alive) continue;
      // Its rim is no rim: what the optics leave open elsewhere is no doubt here.
      w.u_optics = w.input.inner_boundary ? kInnerDoubt : optics_.u_contour[c];
      w.offset = w.input.inner_boundary ? 0 : optics_.offset[c];
      Redecode(w);
    }
  }

  // How surely a bore is as bright as light that comes through makes it, 0..1: potting in weak
  // contrast may be a little brighter than the polymer.
  double Brighter(const Work& w) const {
    const double ratio =
        std::pow(std::max(1e-3, w.fit.v) / std::max(1e-3, w.fit.p), 1 / optics_.gamma);
    return std::clamp((ratio - kHardlyBrighter) / (kSurelyBrighter - kHardlyBrighter), 0.0, 1.0);
  }

  // Light that comes through shows in bores brighter than the polymer, lined ones too; small ones
  // beside larger may be dark wires. The potting may be brighter in any light: it is asked only
  // where there is no bore.
  double Through() const {
    std::vector<const Work*> bores, outlines;
    double longest = 0;
    const auto length = [](const Work& w) {
      return w.track.spacing * static_cast<double>(w.track.at.size());
    };
    for (const Work& w : works_) {
      if (!w.alive || w.input.inner_boundary) continue;
      (w.track.side > 0 ? bores : outlines).push_back(&w);
      if (w.track.side > 0) longest = std::max(longest, length(w));
    }
    double bright = 0, all = 0;
    for (const Work* w : bores.empty() ? outlines : bores) {
      if (length(*w) < kSmallBore * longest) continue;
      bright += w->input.expected_step < 0 ? Brighter(*w) * length(*w) : 0;
      all += length(*w);
    }
    return all > 0 ? bright / all : 0;
  }

  void AddProfiles(std::size_t c, double trust, std::vector<OpticsProfile>& profiles) const {
    const Work& w = works_[c];
    const std::size_t n = w.track.at.size(), groups = std::min(w.arcs.size(), kMostGroups);
    std::vector<NoiseLaw> laws;
    for (const double gamma : choice_.gammas) {
      laws.push_back(LawAt(sensor_, gamma, w.field, w.noise_scale));
      laws.back().void_clump = w.law.void_clump;
      laws.back().polymer_clump = w.law.polymer_clump;
    }
    // What texture leaves in one bin it leaves in its neighbours: fewer bins speak.
    const double textured = 1 - 0.5 / w.law.void_clump - 0.5 / w.law.polymer_clump;
    const double coherence = 1 + kTextureBins * textured;
    for (std::size_t g = 0; g < groups; ++g) {
      OpticsProfile profile;
      profile.bins = Pool(w, g * n / groups, (g + 1) * n / groups, choice_.gammas, optics_.gamma,
                          options_.reach_px);
      profile.noise = laws;
      profile.contour = static_cast<int>(c);
      // Where two edges' rims run into one another, none of these models tells how.
      const double share = LonelyShare(w, g * n / groups, (g + 1) * n / groups);
      const double alone = std::max(kCrowdedTrust, share * share) / coherence;
      profile.trust = alone * std::min(1.0, trust / static_cast<double>(groups));
      if (focus_told_) profile.u_blur = kToldFocus;
      if (aslant_) profile.blur_factor = BlurFactorOf(w, g * n / groups, (g + 1) * n / groups);
      profile.bore = w.track.side > 0;
      profiles.push_back(std::move(profile));
    }
  }

  void ChooseBlurs() {
    std::vector<Work*> own;  // with a blur of their own
    for (Work& w : works_) {
      if (w.alive && !w.input.inner_boundary) own.push_back(&w);
    }
    std::vector<BlurEvidence> evidence(own.size());
    std::vector<std::vector<FocusStretch>> of_contour(own.size());
    InParallel(own.size(), [&](std::size_t i) {
      const Work& w = *own[i];
      evidence[i].fill(0);
      for (const Arc& arc : w.arcs) {
        const BlurWeights here =
            WeighBlur({WeightedHere(w, arc.bins), Lonely(w, arc)}, w.track.side > 0, shapes_);
        for (std::size_t f = 0; f < here.evidence.size(); ++f) evidence[i][f] += here.evidence[f];
        if (!here.bears_line) of_contour[i].push_back({MiddleOf(w, arc), here.evidence});
      }
    });
    std::vector<FocusStretch> stretches;
    for (const auto& some : of_contour) stretches.insert(stretches.end(), some.begin(), some.end());
    const auto plane = TellFocus(stretches);
    aslant_ = plane && plane->tilt > kAslant;
    focus_told_ = true;
    if (plane) {
      for (Work& w : works_) FollowPlane(w, *plane);
      return;
    }
    const std::vector<double> factors = LikeliestBlurs(evidence);
    for (std::size_t i = 0; i < own.size(); ++i) {
      own[i]->blur_factor = factors[i];
      for (Arc& arc : own[i]->arcs) arc.blur_factor = factors[i];
    }
    for (Work& w : works_) {  // an edge between solids has the picture's blur, unless on a plane
      if (!w.input.inner_boundary) continue;
      w.blur_factor = 1;
      for (Arc& arc : w.arcs) arc.blur_factor = 1;
    }
  }

  // The mean of the stretches within [begin, end).
  static double BlurFactorOf(const Work& w, std::size_t begin, std::size_t end) {
    double sum = 0, weight = 0;
    for (const Arc& arc : w.arcs) {
      const std::size_t from = std::max(begin, arc.begin), to = std::min(end, arc.end);
      if (from >= to) continue;
      sum += static_cast<double>(to - from) * std::log(arc.blur_factor);
      weight += static_cast<double>(to - from);
    }
    return weight > 0 ? NearestBlurFactor(std::exp(sum / weight)) : 1;
  }
  static PointPx MiddleOf(const Work& w, const Arc& arc) {
    return w.track.at[(arc.begin + arc.end) / 2];
  }
  static void FollowPlane(Work& w, const FocusPlane& plane) {
    double sum = 0;
    for (Arc& arc : w.arcs) {
      arc.blur_factor = plane.FactorAt(MiddleOf(w, arc));
      sum += std::log(arc.blur_factor);
    }
    if (!w.arcs.empty())
      w.blur_factor = NearestBlurFactor(std::exp(sum / static_cast<double>(w.arcs.size())));
  }

  // Every arc with and without a line just outside the polymer.
  void FitContour(Work& w) {
    if (w.input.inner_boundary) return FitInner(w);
    std::vector<std::optional<Line>> lines(w.arcs.size());
    std::vector<double> plain;
    for (std::size_t a = 0; a < w.arcs.size(); ++a) {
      const EdgeShape& shape = ShapeAt(w, w.arcs[a]);
      const LinearProfile profile = WeightedHere(w, w.arcs[a].bins);
      w.arcs[a].fit = FitArc(profile, shape, 0);
      w.arcs[a].doubt = 0;
      plain.push_back(w.arcs[a].fit.x0);
      if (Lonely(w, w.arcs[a]))
        lines[a] = LineBeside(profile, shape, w.arcs[a].fit, w.track.side > 0,
                              {&shapes_, w.arcs[a].blur_factor, kToldFocus});
    }
    // In other light a rounded edge would pass for such a line all around.
    const bool many = through_ > 0.5 && w.track.side < 0 && ManyLines(lines, plain);
    for (std::size_t a = 0; a < w.arcs.size(); ++a) {
      if (!lines[a]) continue;
      const double gain = many ? lines[a]->vote : lines[a]->gain;
      // Both stories are weighed: evidence counts like -2 log likelihood.
      const double chance = 1 / (1 + std::exp(-0.5 * gain));
      w.arcs[a].doubt = std::sqrt(chance * (1 - chance)) * std::abs(lines[a]->fit.x0 - plain[a]);
      if (gain > 0) w.arcs[a].fit = lines[a]->fit;
    }
    w.u_gap = 0;
    if (through_ > 0.5 && w.track.side < 0) DoubtBand(w);
    w.beside = Beside(FitWhole(w)).value_or(w.fit.p);
  }

  // A dark line that lies further inside in some stretches than in others: the outer edge there may
  // be a gap's.
  void DoubtBand(Work& w) const {
    std::vector<LinearProfile> profiles;
    std::vector<ArcFit> fits;
    for (const Arc& arc : w.arcs) {
      profiles.push_back(WeightedHere(w, arc.bins));
      fits.push_back(arc.fit);
    }
    const std::vector<double> beyond = BeyondNearest(profiles, fits);
    double sum = 0;
    for (std::size_t a = 0; a < w.arcs.size(); ++a) {
      w.arcs[a].doubt = std::hypot(w.arcs[a].doubt, kGapShare * beyond[a]);
      sum += kGapShare * beyond[a];
    }
    w.u_gap = sum / static_cast<double>(w.arcs.size());
  }

  // One profile of the whole contour, for its neighbours: fills w.fit and w.rms.
  LinearProfile FitWhole(Work& w) const {
    const EdgeShape& shape = ShapeOf(w);
    LinearProfile whole = WeightedHere(w, PoolHere(w, 0, w.track.at.size()));
    w.fit = FitArc(whole, shape, 0);
    double square = 0;
    for (std::size_t k = 0; k < whole.s.size(); ++k)
      square += std::pow(whole.y[k] - w.fit.Linear(shape, whole.s[k]), 2);
    w.rms = whole.s.empty() ? 0 : std::sqrt(square / static_cast<double>(whole.s.size()));
    return whole;
  }

  // Mean level on the polymer's side, as seen and not as any optics explain it.
  static std::optional<double> Beside(const LinearProfile& profile) {
    double sum = 0, weight = 0;
    for (std::size_t k = 0; k < profile.s.size(); ++k) {
      if (profile.s[k] < kBeside_px) continue;
      sum += profile.w[k] * profile.y[k];
      weight += profile.w[k];
    }
    if (!(weight > 0)) return std::nullopt;
    return sum / weight;
  }

  // Solid on both sides: the picture's own blur, no line.
  void FitInner(Work& w) {
    for (Arc& arc : w.arcs) {
      arc.fit = FitArc(WeightedHere(w, arc.bins), ShapeAt(w, arc), 0);
      arc.doubt = 0;
    }
    FitWhole(w);
  }

  // Beside a thin wall the wall itself would pass for a line.
  bool Lonely(const Work& w, const Arc& arc) const {
    return LonelyShare(w, arc.begin, arc.end) > 0.5;
  }
  double LonelyShare(const Work& w, std::size_t begin, std::size_t end) const {
    std::size_t lonely = 0;
    for (std::size_t i = begin; i < end; ++i)
      lonely += w.neighbour[i].gap >= options_.reach_px ? 1 : 0;
    return static_cast<double>(lonely) / static_cast<double>(std::max<std::size_t>(1, end - begin));
  }

  // What the pixels scatter beyond the sensor's own noise: texture, dust.
  void EstimateNoise(Work& w) {
    std::vector<double> residual;
    const std::size_t step = std::max<std::size_t>(5, w.band.pixels.size() / kNoisePixels);
    residual.reserve(w.band.pixels.size() / step + w.arcs.size());
    for (const Arc& arc : w.arcs) {
      const EdgeShape& shape = ShapeAt(w, arc);
      for (std::size_t k = w.band.first[arc.begin]; k < w.band.first[arc.end]; k += step) {
        const BandPixel& pixel = w.band.pixels[k];
        if (!std::isfinite(pixel.linear)) continue;
        const double level = arc.fit.Linear(shape, pixel.s);
        residual.push_back((pixel.linear - level) / std::sqrt(w.law.Sensor(level)));
      }
    }
    if (residual.size() > 30)
      w.noise_scale = std::max(0.3, std::pow(RobustSigma(std::move(residual)), 2));
    w.law.scale = w.noise_scale;
  }
  void MovePlaces(Work& w, int pass) {
    ContourPx moved(w.track.at.size());
    const bool last = pass + 1 == options_.passes;
    for (std::size_t i = 0; i < moved.size(); ++i) {
      double shift = w.shift[i];
      if (last) shift += w.offset + w.track.side * CurvaturePull(CurvedAt(w, optics_, i));
      if (w.band.outside_frame[i] || w.input.fixed) shift = 0;
      moved[i] = w.track.at[i] + (w.track.side * shift) * w.track.normal[i];
    }
    if (last) {
      w.track.at = moved;
      return;
    }
    w.track = MakeTrack(moved, w.input.polymer_outside, w.track.spacing);
    w.fit.x0 = 0;  // the track stands there now; neighbours are told of it as it stands
  }

  SettledFace Finish() {
    SettledFace face;
    face.gamma = optics_.gamma;
    face.u_gamma = optics_.u_gamma;
    face.blur_px = optics_.state.blur;
    std::vector<double> noises;
    for (const Work& w : works_) {
      if (!w.alive) {
        face.contours.push_back(Unsettled(w, "too small to fit an edge"));
        continue;
      }
      noises.push_back(StoredNoise(w, optics_));
      face.contours.emplace_back();
    }
    InParallel(works_.size(), [&](std::size_t i) {
      if (works_[i].alive)
        face.contours[i] =
            FinishContour(works_[i], {optics_, ShapeOf(works_[i]), options_.smoothing_px});
    });
    if (!noises.empty()) face.noise = Median(noises);
    return face;
  }

  const Micrograph& micrograph_;
  const LightField& light_;
  EdgeOptions options_;
  std::vector<Work> works_;
  std::vector<std::optional<ContourIndex<FramePx>>> index_;
  SensorNoise sensor_;
  GammaChoice choice_;
  Optics optics_;
  double through_ = 0;       // see Through()
  bool focus_told_ = false;  // every stretch's blur has been told
  bool aslant_ = false;      // so far that the optics must be told by stretches of unlike blur
  EdgeShapes shapes_{optics_.state};
};

}  // namespace

SettledFace SettleEdges(const Micrograph& micrograph, const LightField& light,
                        const std::vector<EdgeInput>& inputs, const EdgeOptions& options) {
  return Settler(micrograph, light, inputs, options).Settle();
}

}  // namespace cutface
