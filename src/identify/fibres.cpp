#include "identify/fibres.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/wire_field.h"

namespace cutface {
namespace {

constexpr double kLeastFilament_px = 4;  // smaller ones are not seen apart
constexpr double kPacked = 0.8;          // share of a bundle's circle that filaments fill, about
constexpr double kRoam = 0.5;            // of the bundle's radius: how far its filaments reach out
constexpr double kSearch = 1.6;          // of it: how far it may lie off its place
constexpr double kMostOff = 0.35;        // of the body's tone
constexpr double kRoam_px = 6;
constexpr double kRing_px = 8;           // of body around it that tells the body's tone
constexpr double kFibreContrast = 0.04;  // of the body's tone
constexpr double kFibreNoises = 4;       // of a disc's mean
constexpr double kHalf = 0.5;            // of the usual disc's response: discs from there on
constexpr double kNone = 0.35;           // of it: nothing up to there; between: in doubt
constexpr double kLinked = 2.2;          // diameters between neighbours of one bundle
constexpr int kTurns = 1440;             // rotations that are tried
constexpr double kOwnVoid = 0.5;         // of a void that lies in the bundle

// The surroundings of one bundle in the drawing's frame, px: relative tone less the body's.
struct Patch {
  cv::Mat1f off;
  int half = 0;  // the nominal place is pixel (half, half)
  double noise = 0;
};

struct Disc {
  PointPx at;  // from the nominal place
  double response = 0;
};

double DrawnRadius(const FibreDesign& design, double pitch) {
  const double filament = design.filament_diameter_um / pitch;
  return 0.5 * filament * std::sqrt(std::max(1, design.filaments) / kPacked) + 0.1 * filament;
}

double ToneAt(const Micrograph& micrograph, const LightField& light, PointPx p) {
  const int x = static_cast<int>(std::floor(p.x)), y = static_cast<int>(std::floor(p.y));
  if (x < 0 || y < 0 || x + 1 >= micrograph.width() || y + 1 >= micrograph.height()) return 1;
  const double fx = p.x - x, fy = p.y - y;
  const double tone = (1 - fy) * ((1 - fx) * micrograph.At(x, y) + fx * micrograph.At(x + 1, y)) +
                      fy * ((1 - fx) * micrograph.At(x, y + 1) + fx * micrograph.At(x + 1, y + 1));
  return tone / light.At(p.x, p.y);
}

// A lone round lumen says nothing of the face's rotation; the bundles themselves do. Where all of
// them together differ most from what the circle through each shows elsewhere, on one side.
double RotationOf(const Micrograph& micrograph, const FaceTones& tones, const LayerFrame& frame,
                  const SectionDesign& plane, double pitch) {
  const auto places = static_cast<std::size_t>(kTurns);
  std::vector<double> sum(places, 0), whole(places, 0);
  int near = 0;
  for (const FibreDesign& design : plane.fibres) {
    const PointPx at{design.centre.x / pitch, design.centre.y / pitch};
    const double own = std::atan2(at.y, at.x), reach = 0.7 * DrawnRadius(design, pitch);
    std::vector<double> mean(places, 0);
    for (std::size_t k = 0; k < places; ++k) {
      const double a = own + 2 * M_PI * static_cast<double>(k) / kTurns;
      const PointPx middle = Norm(at) * PointPx{std::cos(a), std::sin(a)};
      int n = 0;
      for (int v = -3; v <= 3; ++v) {
        for (int u = -3; u <= 3; ++u) {
          if (u * u + v * v > 10) continue;
          mean[k] += ToneAt(micrograph, tones.light,
                            frame.ToPicture(middle + (reach / 3) * PointPx{1.0 * u, 1.0 * v}));
          ++n;
        }
      }
      mean[k] /= n;
    }
    const double usual = Median(mean), scatter = std::max(0.02, RobustSigma(mean));
    // One bright spot must not outweigh all bundles; where all stand out the whole counts.
    for (std::size_t k = 0; k < places; ++k) {
      const double off = (mean[k] - usual) / scatter;
      sum[k] += std::clamp(off, -8.0, 8.0);
      whole[k] += off;
    }
    near = std::max(near, static_cast<int>(1.5 * DrawnRadius(design, pitch) /
                                           std::max(1.0, Norm(at)) / (2 * M_PI) * kTurns));
  }
  const auto less = [](double a, double b) { return std::abs(a) < std::abs(b); };
  const int coarse = static_cast<int>(std::max_element(sum.begin(), sum.end(), less) - sum.begin());
  int best = coarse;
  for (int k = coarse - near; k <= coarse + near; ++k) {
    const auto at = static_cast<std::size_t>((k % kTurns + kTurns) % kTurns);
    if (less(whole[static_cast<std::size_t>(best)], whole[at])) best = static_cast<int>(at);
  }
  return 2 * M_PI * best / kTurns;
}

class Bundle {
 public:
  Bundle(const Micrograph& micrograph, const FaceTones& tones, const LayerFrame& frame,
         const FibreDesign& design, PointPx place, double pitch)
      : micrograph_(micrograph),
        tones_(tones),
        frame_(frame),
        filament_(design.filament_diameter_um / pitch),
        drawn_(design.filaments),
        nominal_(place) {
    radius_ = DrawnRadius(design, pitch);
    roam_ = kRoam * radius_ + kRoam_px;
  }

  FibreTrace Trace(const Scale& scale, const std::string& name) {
    FibreTrace trace;
    trace.name = name;
    trace.centre = scale.ToUm(frame_.ToPicture(nominal_));
    const double pitch = scale.mean_pitch_um();
    Recentre();
    if (!Read()) {
      trace.doubt = "its place is not whole in the picture";
      return trace;
    }
    if (!TellSide()) {
      trace.doubt = "its place shows nothing that differs from the body";
      return trace;
    }
    std::vector<Disc> discs = Discs();
    const std::string why = Apart(discs);
    if (!why.empty()) {
      Coarse(trace, scale);
      trace.doubt = why;
      return trace;
    }
    PointPx middle;
    for (const Disc& disc : discs) {
      middle = middle + (1.0 / static_cast<double>(discs.size())) * disc.at;
      trace.at.push_back(scale.ToUm(frame_.ToPicture(nominal_ + disc.at)));
    }
    trace.filaments = static_cast<int>(discs.size());
    trace.centre = scale.ToUm(frame_.ToPicture(nominal_ + middle));
    for (const Disc& disc : discs) {
      trace.radius_um =
          std::max(trace.radius_um, (Distance(disc.at, middle) + 0.5 * filament_) * pitch);
    }
    if (trace.filaments != drawn_) {
      trace.doubt = fmt::format("{} filaments are seen, {} are drawn: some may be hidden",
                                trace.filaments, drawn_);
    }
    return trace;
  }

 private:
  // Bundles may lie well off where drawn: to the place about it that as a whole differs most from
  // what surrounds it.
  void Recentre() {
    const double step = radius_ / 5, reach = kSearch * radius_ + kRoam_px;
    const int half = static_cast<int>((reach + 1.4 * radius_) / step) + 1;
    cv::Mat1f tone(2 * half + 1, 2 * half + 1, 0.0f);
    std::vector<double> all;
    for (int y = -half; y <= half; ++y) {
      for (int x = -half; x <= half; ++x) {
        const PointPx p = frame_.ToPicture(nominal_ + step * PointPx{1.0 * x, 1.0 * y});
        tone(y + half, x + half) = static_cast<float>(ToneAt(micrograph_, tones_.light, p));
        all.push_back(tone(y + half, x + half));
      }
    }
    const auto body = static_cast<float>(Median(std::move(all)));
    // Metal and holes nearby must not outweigh it.
    tone = cv::max(cv::min(tone / body - 1, kMostOff), -kMostOff);
    const int most = static_cast<int>(reach / step);
    double best = 0;
    PointPx at;
    for (int j = -most; j <= most; ++j) {
      for (int i = -most; i <= most; ++i) {
        if (std::hypot(i, j) * step > reach) continue;
        double in = 0, out = 0, n_in = 0, n_out = 0;
        for (int v = -7; v <= 7; ++v) {
          for (int u = -7; u <= 7; ++u) {
            const double r = std::hypot(u, v) / 5;
            const float t = r < 1.4 ? tone(j + v + half, i + u + half) : 0.0f;
            if (r < 0.85) in += t, ++n_in;
            if (r > 1.1 && r < 1.4) out += std::abs(t), ++n_out;
          }
        }
        // Flat body around, one tone within.
        const double whole = std::abs(in) / n_in - out / n_out;
        if (whole > best) best = whole, at = step * PointPx{1.0 * i, 1.0 * j};
      }
    }
    nominal_ = nominal_ + at;
  }

  bool Read() {
    patch_.half = static_cast<int>(radius_ + roam_ + kRing_px) + 2;
    const int size = 2 * patch_.half + 1;
    patch_.off = cv::Mat1f(size, size, 0.0f);
    std::vector<double> ring;
    for (int y = 0; y < size; ++y) {
      for (int x = 0; x < size; ++x) {
        const PointPx d{1.0 * (x - patch_.half), 1.0 * (y - patch_.half)};
        const PointPx p = frame_.ToPicture(nominal_ + d);
        if (p.x < 1 || p.y < 1 || p.x > micrograph_.width() - 3 || p.y > micrograph_.height() - 3)
          return false;
        patch_.off(y, x) = static_cast<float>(ToneAt(micrograph_, tones_.light, p));
        if (Norm(d) > radius_ + 3 && Norm(d) < radius_ + kRing_px) ring.push_back(patch_.off(y, x));
      }
    }
    const double body = Median(ring);
    patch_.noise = std::max(0.003, tones_.fine_noise * micrograph_.reduction);
    patch_.off -= static_cast<float>(body);
    patch_.off /= static_cast<float>(std::max(0.05, body));
    return true;
  }

  // Whether filaments are brighter (+1) or darker (-1) than the body: by what fills the place.
  bool TellSide() {
    std::vector<double> in;
    for (int y = 0; y < patch_.off.rows; ++y) {
      for (int x = 0; x < patch_.off.cols; ++x) {
        if (std::hypot(x - patch_.half, y - patch_.half) < 0.8 * radius_)
          in.push_back(patch_.off(y, x));
      }
    }
    const double middle = Median(std::move(in));
    if (std::abs(middle) < std::max(kFibreContrast, patch_.noise)) return false;
    if (middle < 0) patch_.off = -patch_.off;
    return true;
  }

  // Means of discs less what lies in the gaps around them, at every pixel; local maxima, strongest
  // first.
  std::vector<Disc> Discs() const {
    const double core = 0.36 * filament_, out = 0.62 * filament_;
    const int reach = static_cast<int>(std::ceil(out + 1));
    cv::Mat1f in(2 * reach + 1, 2 * reach + 1, 0.0f);
    for (int y = -reach; y <= reach; ++y) {
      for (int x = -reach; x <= reach; ++x) {
        const double r = std::hypot(x, y);
        in(y + reach, x + reach) = static_cast<float>(std::clamp(core - r + 0.5, 0.0, 1.0));
      }
    }
    in /= static_cast<float>(cv::sum(in)[0]);
    cv::Mat1f response;
    cv::filter2D(patch_.off, response, CV_32F, in, cv::Point(-1, -1), 0, cv::BORDER_REPLICATE);
    std::vector<Disc> discs;
    const double most = radius_ + roam_;
    const int near = std::max(1, static_cast<int>(0.45 * filament_));
    for (int y = near; y < response.rows - near; ++y) {
      for (int x = near; x < response.cols - near; ++x) {
        const PointPx d{1.0 * (x - patch_.half), 1.0 * (y - patch_.half)};
        if (Norm(d) > most) continue;
        bool top = true;
        for (int v = -near; v <= near && top; ++v) {
          for (int u = -near; u <= near && top; ++u) {
            if ((u == 0 && v == 0) || std::hypot(u, v) > near + 0.5) continue;
            const float other = response(y + v, x + u);
            const bool after = v > 0 || (v == 0 && u > 0);
            top = after ? response(y, x) >= other : response(y, x) > other;
          }
        }
        if (!top || response(y, x) <= 0) continue;
        discs.push_back({d + Peak(response, y, x), response(y, x)});
      }
    }
    std::sort(discs.begin(), discs.end(),
              [](const Disc& a, const Disc& b) { return a.response > b.response; });
    return discs;
  }

  static PointPx Peak(const cv::Mat1f& r, int y, int x) {
    const auto along = [](double before, double here, double after) {
      const double bend = before - 2 * here + after;
      return bend < -1e-9 ? std::clamp(0.5 * (before - after) / bend, -0.5, 0.5) : 0.0;
    };
    return {along(r(y, x - 1), r(y, x), r(y, x + 1)), along(r(y - 1, x), r(y, x), r(y + 1, x))};
  }

  // Keeps the discs of the bundle; "" or why they are not seen apart.
  std::string Apart(std::vector<Disc>& discs) const {
    if (filament_ < kLeastFilament_px) {
      return fmt::format("filaments of {:.1f} px are not seen apart; {:.0f} px are needed",
                         filament_, kLeastFilament_px);
    }
    if (discs.size() < 3) return "its filaments are not seen apart";
    const std::size_t drawn = static_cast<std::size_t>(std::max(3, drawn_));
    std::vector<double> strong;
    for (std::size_t i = 0; i < std::min(drawn, discs.size()); ++i)
      strong.push_back(discs[i].response);
    const double usual = Median(std::move(strong));
    const double disc_noise = patch_.noise / std::max(1.0, 0.55 * filament_);
    if (usual < kFibreNoises * disc_noise) return "its filaments do not stand out of the noise";
    bool doubtful = false;
    std::vector<Disc> kept;
    for (const Disc& disc : discs) {
      if (disc.response < kNone * usual) continue;
      if (disc.response < kHalf * usual) {
        doubtful = true;
        continue;
      }
      kept.push_back(disc);
    }
    KeepLinked(kept);
    discs = std::move(kept);
    if (doubtful) return "some of its filaments are too faint to tell them from the body";
    for (std::size_t i = 0; i < discs.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        if (Distance(discs[i].at, discs[j].at) < 0.75 * filament_)
          return "its filaments are not seen apart";
      }
    }
    return GapsSeen(discs) ? "" : "no gaps are seen between its filaments";
  }

  // Only what hangs together with most of it.
  void KeepLinked(std::vector<Disc>& discs) const {
    std::vector<int> group(discs.size(), -1);
    int best = -1;
    std::size_t most = 0;
    for (std::size_t i = 0; i < discs.size(); ++i) {
      if (group[i] >= 0) continue;
      std::vector<std::size_t> open{i};
      group[i] = static_cast<int>(i);
      std::size_t count = 0;
      while (!open.empty()) {
        const std::size_t k = open.back();
        open.pop_back();
        ++count;
        for (std::size_t j = 0; j < discs.size(); ++j) {
          if (group[j] >= 0 || Distance(discs[k].at, discs[j].at) > kLinked * filament_) continue;
          group[j] = static_cast<int>(i);
          open.push_back(j);
        }
      }
      if (count > most) most = count, best = static_cast<int>(i);
    }
    std::vector<Disc> kept;
    for (std::size_t i = 0; i < discs.size(); ++i) {
      if (group[i] == best) kept.push_back(discs[i]);
    }
    discs = std::move(kept);
  }

  // Between neighbours the tone must fall: else a blot is counted by its drawing only.
  bool GapsSeen(const std::vector<Disc>& discs) const {
    std::vector<double> falls;
    for (std::size_t i = 0; i < discs.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        if (Distance(discs[i].at, discs[j].at) > 1.35 * filament_) continue;
        const double between = OffAt(0.5 * (discs[i].at + discs[j].at));
        falls.push_back(1 - between / std::min(discs[i].response, discs[j].response));
      }
    }
    return falls.size() < 2 || Median(std::move(falls)) > 0.08;
  }

  double OffAt(PointPx d) const {
    const int x = static_cast<int>(std::lround(d.x)) + patch_.half;
    const int y = static_cast<int>(std::lround(d.y)) + patch_.half;
    double sum = 0;
    for (int v = -1; v <= 1; ++v) {
      for (int u = -1; u <= 1; ++u) sum += (u == 0 || v == 0) ? patch_.off(y + v, x + u) / 5 : 0;
    }
    return sum;
  }

  // Place and size by tone alone.
  void Coarse(FibreTrace& trace, const Scale& scale) const {
    cv::Mat1f smooth;
    cv::GaussianBlur(patch_.off, smooth, cv::Size(0, 0), std::max(1.0, 0.4 * filament_));
    double most = 0;
    cv::minMaxLoc(smooth, nullptr, &most);
    PointPx sum;
    double count = 0;
    for (int y = 0; y < smooth.rows; ++y) {
      for (int x = 0; x < smooth.cols; ++x) {
        const PointPx d{1.0 * (x - patch_.half), 1.0 * (y - patch_.half)};
        if (smooth(y, x) < 0.5 * most || Norm(d) > radius_ + roam_) continue;
        sum = sum + d;
        count += 1;
      }
    }
    if (count < 1) return;
    trace.centre = scale.ToUm(frame_.ToPicture(nominal_ + (1 / count) * sum));
    trace.radius_um = std::sqrt(count / M_PI) * scale.mean_pitch_um();
  }

  const Micrograph& micrograph_;
  const FaceTones& tones_;
  const LayerFrame& frame_;
  double filament_;
  int drawn_;
  PointPx nominal_;
  double radius_ = 0, roam_ = 0;
  Patch patch_;
};

// What was taken for voids in a bundle. Where its filaments were not told, it may be a void.
void DropOwnVoids(const FibreTrace& fibre, double filament_um, Section& section) {
  if (fibre.radius_um <= 0) return;
  const auto own = [&](const Void& v) {
    const ContourUm points = v.contour.Points();
    if (points.empty()) return false;
    const auto within = std::count_if(points.begin(), points.end(), [&](PointUm p) {
      return Distance(p, fibre.centre) < fibre.radius_um + 0.25 * filament_um;
    });
    return static_cast<double>(within) > kOwnVoid * static_cast<double>(points.size()) &&
           v.area_um2 < 4 * fibre.radius_um * fibre.radius_um;
  };
  if (fibre.filaments == 0) {
    for (Void& v : section.voids) {
      if (v.kind != VoidClass::kVoid || !own(v)) continue;
      v.kind = VoidClass::kDoubtful;
      v.evidence += "; it lies where " + fibre.name + " is drawn, whose filaments were not told";
    }
    return;
  }
  std::erase_if(section.voids, own);
  int no = 0;
  for (Void& v : section.voids) v.no = ++no;
}

}  // namespace

void TraceFibres(const Micrograph& micrograph, const Pose& pose, const FaceTones& tones,
                 const Scale& scale, const SectionDesign& plane, Section& section) {
  if (plane.kind == "lengthwise") return;
  if (plane.fibres.empty()) return;
  const double pitch = scale.mean_pitch_um();
  const LayerFrame frame(pose.warp, pitch);
  const double turn =
      plane.lumens.size() < 2 ? RotationOf(micrograph, tones, frame, plane, pitch) : 0.0;
  for (const FibreDesign& design : plane.fibres) {
    const PointPx drawn{design.centre.x / pitch, design.centre.y / pitch};
    Bundle bundle(micrograph, tones, frame, design, Rotated(drawn, turn), pitch);
    section.fibres.push_back(bundle.Trace(scale, design.name));
    DropOwnVoids(section.fibres.back(), design.filament_diameter_um, section);
  }
}

}  // namespace cutface
