#include "identify/wire_field.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/raster.h"
#include "identify/wire_rims.h"

namespace cutface {
namespace {

constexpr double kBin_px = 1.5;         // of the radius
constexpr double kBodyQuantile = 0.15;  // of a radius' tones, counted from the side away from metal
constexpr std::size_t kFieldBinLeast = 60;
constexpr double kLeastContrast = 0.10;  // relative tone
constexpr double kLeastNoises = 2.5;
constexpr uchar kBody = 1, kOutside = 2, kLumen = 3;  // and one more for each further lumen
constexpr std::size_t kMostLumens = 200;
constexpr int kHiddenLeast = 40;  // pixels in which metal would not be seen
constexpr double kMandrelHalo_px = 4;
constexpr double kFewestMetal = 0.001;  // of the layer's surroundings, that is metal
constexpr double kRimQuantile = 0.3;    // of what an edge shows at one distance, as kBodyQuantile
constexpr double kMostRim = 0.6;        // of the step to metal: more is wires along the edge
constexpr double kDarkest = 0.7;        // beside bright metal: polymer before a hole is no metal
constexpr double kFilledShare = 0.65;   // of the step to metal: a lumen like this holds a mandrel

class Maker {
 public:
  Maker(const Micrograph& micrograph, const FaceTones& tones, const LayerFrame& frame,
        const FieldRequest& request)
      : micrograph_(micrograph), tones_(tones), request_(request) {
    field_.frame = frame;
  }

  WireField Make() {
    Frame();
    if (field_.roi.area() == 0) {
      field_.why = "the layer lies outside the picture";
      return std::move(field_);
    }
    Read();
    TellPolarity();
    if (!field_.why.empty()) return std::move(field_);
    TellBody();
    Share();
    LeaveOutMandrels();
    return std::move(field_);
  }

 private:
  void Frame() {
    double left = 1e9, top = 1e9, right = -1e9, bottom = -1e9;
    for (int i = 0; i < 64; ++i) {
      const double a = 2 * M_PI * i / 64;
      const PointPx p =
          field_.frame.ToPicture({request_.outer * std::cos(a), request_.outer * std::sin(a)});
      left = std::min(left, p.x), right = std::max(right, p.x);
      top = std::min(top, p.y), bottom = std::max(bottom, p.y);
    }
    const cv::Rect all(0, 0, micrograph_.width(), micrograph_.height());
    field_.roi = cv::Rect(static_cast<int>(left) - 2, static_cast<int>(top) - 2,
                          static_cast<int>(right - left) + 5, static_cast<int>(bottom - top) + 5) &
                 all;
  }

  void Read() {
    const cv::Rect& roi = field_.roi;
    cv::Mat zone(roi.size(), CV_8UC1, cv::Scalar(kOutside));
    const auto fill = [&](const ContourPx& contour, uchar value) {
      ContourPx moved;
      for (PointPx p : contour) moved.push_back(p - PointPx{1.0 * roi.x, 1.0 * roi.y});
      if (moved.size() > 5) FillContour(zone, moved, value);
    };
    if (request_.outline != nullptr) fill(*request_.outline, kBody);
    for (std::size_t k = 0; k < Liners(); ++k)
      fill(*request_.liners[k], static_cast<uchar>(kLumen + Lumens() + k));
    for (std::size_t k = 0; k < Lumens(); ++k)
      fill(*request_.bores[k], static_cast<uchar>(kLumen + k));
    zone_ = zone;
    field_.tone = cv::Mat1f(roi.size(), 0.0f);
    field_.metal = cv::Mat1f(roi.size(), 0.0f);
    field_.known = cv::Mat1b(roi.size(), uchar{0});
    radius_ = cv::Mat1f(roi.size(), 0.0f);
    full_ = cv::Mat1f(roi.size(), 0.0f);
    for (int y = 0; y < roi.height; ++y) {
      for (int x = 0; x < roi.width; ++x) {
        const PointPx p{1.0 * (x + roi.x), 1.0 * (y + roi.y)};
        const double r = Norm(field_.frame.FromPicture(p));
        if (r < request_.inner || r > request_.outer) continue;
        const auto light = static_cast<float>(tones_.light.At(p.x, p.y));
        field_.known(y, x) = 1;
        radius_(y, x) = static_cast<float>(r);
        field_.tone(y, x) = micrograph_.At(x + roi.x, y + roi.y) / light;
        full_(y, x) = 1 / light;
      }
    }
  }

  // Which side of the body's tone the metal lies on, and how far away.
  void TellPolarity() {
    std::vector<double> ring, beside;
    for (int y = 0; y < zone_.rows; ++y) {
      for (int x = 0; x < zone_.cols; ++x) {
        if (!field_.known(y, x) || zone_(y, x) != kBody) continue;
        const float r = radius_(y, x);
        if (r >= request_.metal_from && r <= request_.metal_to) {
          ring.push_back(field_.tone(y, x));
        } else {
          beside.push_back(field_.tone(y, x));
        }
      }
    }
    if (ring.size() < 200) {
      field_.why = "too little of the layer lies in the picture";
      return;
    }
    const double share = std::clamp(0.4 * request_.share, kFewestMetal, 0.3);
    const double high = Quantile(ring, 1 - share), low = Quantile(ring, share);
    const double body = beside.size() > 200 ? Median(beside) : Median(ring);
    field_.bright = request_.side == 0 ? high - body > body - low : request_.side > 0;
    const double mine = field_.bright ? high - body : body - low;
    field_.rival = (field_.bright ? body - low : high - body) / std::max(1e-6, mine);
    metal_ = field_.bright ? high : low;
    field_.noise = std::max(0.003, tones_.fine_noise * micrograph_.reduction);
    if ((field_.bright ? metal_ - body : body - metal_) <
        std::max(kLeastContrast, kLeastNoises * field_.noise)) {
      field_.why = fmt::format("metal is not told from the body: tones differ by {:.0f} %",
                               100 * std::abs(metal_ - body));
    }
  }

  std::size_t Lumens() const { return std::min(request_.bores.size(), kMostLumens); }
  std::size_t Liners() const { return std::min(request_.liners.size(), kMostLumens - Lumens()); }
  int BinAt(float r) const { return static_cast<int>((r - request_.inner) / kBin_px); }

  // The body at each radius: what few places undercut on the side away from the metal.
  void TellBody() {
    const int bins = BinAt(static_cast<float>(request_.outer)) + 1;
    const std::size_t zones = Lumens() + Liners();
    body_.assign(kLumen + zones, std::vector<float>(static_cast<std::size_t>(bins), -1.0f));
    std::vector<std::vector<double>> values(static_cast<std::size_t>(bins));
    for (uchar zone : {kBody, kOutside}) {
      for (auto& v : values) v.clear();
      for (int y = 0; y < zone_.rows; ++y) {
        for (int x = 0; x < zone_.cols; ++x) {
          if (field_.known(y, x) && zone_(y, x) == zone)
            values[static_cast<std::size_t>(BinAt(radius_(y, x)))].push_back(field_.tone(y, x));
        }
      }
      std::vector<float>& body = body_[zone];
      for (std::size_t k = 0; k < values.size(); ++k) {
        if (values[k].size() < kFieldBinLeast) continue;
        body[k] = static_cast<float>(
            Quantile(std::move(values[k]), field_.bright ? kBodyQuantile : 1 - kBodyQuantile));
      }
      Bridge(body);
    }
    for (std::size_t k = 0; k < zones; ++k) TellLumen(static_cast<uchar>(kLumen + k), k < Lumens());
  }
  // One tone for all of a lumen or liner; where it is as bright or dark as metal it says nothing of
  // wires. A liner is too thin to hide one.
  void TellLumen(uchar zone, bool hides) {
    std::vector<double> tones;
    for (int y = 0; y < zone_.rows; ++y) {
      for (int x = 0; x < zone_.cols; ++x) {
        if (field_.known(y, x) && zone_(y, x) == zone) tones.push_back(field_.tone(y, x));
      }
    }
    if (tones.empty()) return;
    const double tone = Median(std::move(tones));
    const bool filled = (tone - 1) / (metal_ - 1) > kFilledShare;
    body_[zone].assign(body_[zone].size(), static_cast<float>(tone));
    if (!filled) return;
    field_.known.setTo(0, zone_ == zone);
    field_.blind = field_.blind || hides;
  }
  static void Bridge(std::vector<float>& body) {
    float last = -1;
    for (float& b : body) {
      if (b < 0) b = last;
      last = b;
    }
    last = -1;
    for (auto b = body.rbegin(); b != body.rend(); ++b) {
      if (*b < 0) *b = last;
      last = *b;
    }
  }

  // What each pixel would show without metal.
  cv::Mat1f Bodies() const {
    cv::Mat1f bodies(zone_.size(), 1.0f);
    for (int y = 0; y < zone_.rows; ++y) {
      for (int x = 0; x < zone_.cols; ++x) {
        if (!field_.known(y, x)) continue;
        const float body = body_[zone_(y, x)][static_cast<std::size_t>(BinAt(radius_(y, x)))];
        if (body > 0) bodies(y, x) = body;
      }
    }
    std::vector<ContourPx> edges;
    const auto add = [&](const ContourPx& edge) {
      edges.emplace_back();
      for (const PointPx p : edge)
        edges.back().push_back(p - PointPx{1.0 * field_.roi.x, 1.0 * field_.roi.y});
    };
    for (const ContourPx* ring : request_.rings) add(*ring);
    for (std::size_t k = 0; k < Liners(); ++k) add(*request_.liners[k]);
    for (std::size_t k = 0; k < Lumens(); ++k) add(*request_.bores[k]);
    RimTones rims(field_.known, edges);
    rims.Tell(field_.tone, bodies, field_.bright ? kRimQuantile : 1 - kRimQuantile);
    const auto most = static_cast<float>(1 + kMostRim * (metal_ - 1));
    for (int y = 0; y < zone_.rows; ++y) {
      for (int x = 0; x < zone_.cols; ++x) {
        if (!field_.known(y, x)) continue;
        float& body = bodies(y, x);
        const float rim = rims.At(y, x, body);
        if (field_.bright ? rim < most : rim > most) body = rim;
        if (field_.bright) body = std::max(body, static_cast<float>(kDarkest));
      }
    }
    return bodies;
  }

  void Share() {
    field_.body = Bodies();
    const cv::Mat1f& bodies = field_.body;
    std::vector<double> level;
    int hidden = 0;  // pixels
    for (int y = 0; y < zone_.rows; ++y) {
      for (int x = 0; x < zone_.cols; ++x) {
        if (!field_.known(y, x)) continue;
        const float r = radius_(y, x);
        const float body = bodies(y, x);
        // Clipped where the light falls off: the brightest that could be pictured there.
        const double metal = field_.bright ? std::min<double>(metal_, full_(y, x)) : metal_;
        const double span = metal - body;
        const double least = 0.3 * std::abs(metal_ - 1) + 0.02;
        float& tone = field_.tone(y, x);
        const bool apart = std::abs(span) > least && (span > 0) == field_.bright;
        if (!apart && zone_(y, x) != kBody) ++hidden;
        if (apart)
          field_.metal(y, x) = std::clamp(static_cast<float>((tone - body) / span), 0.0f, 1.0f);
        tone /= body;
        if (zone_(y, x) == kBody && r > request_.metal_from && r < request_.metal_to)
          level.push_back(metal / body);
      }
    }
    field_.blind = field_.blind || hidden > kHiddenLeast;
    field_.level = level.empty() ? metal_ : Median(std::move(level));
    field_.contrast = std::abs(field_.level - 1);
  }

  // A mandrel left in, or a band: wires are not looked for in it nor in its halo.
  void LeaveOutMandrels() {
    const cv::Mat1b metal((field_.metal >= 0.5f) & (field_.known > 0));
    cv::Mat1f depth;
    cv::distanceTransform(metal, depth, cv::DIST_L2, 3);
    const cv::Mat1b core(depth > request_.thickest);
    if (cv::countNonZero(core) == 0) return;
    cv::Mat1f away;
    cv::distanceTransform(core == 0, away, cv::DIST_L2, 5);
    const cv::Mat1b mandrel(away < request_.thickest + kMandrelHalo_px);
    field_.known.setTo(0, mandrel);
    field_.metal.setTo(0, mandrel);
  }

  const Micrograph& micrograph_;
  const FaceTones& tones_;
  const FieldRequest& request_;
  WireField field_;
  cv::Mat1b zone_;
  cv::Mat1f radius_, full_;
  double metal_ = 1;
  std::vector<std::vector<float>> body_;  // per zone and radius; -1: not seen
};

}  // namespace

LayerFrame::LayerFrame(const Warp& warp, double um_per_px) {
  const Eigen::Matrix2d forward = um_per_px * warp.linear, backward = forward.inverse();
  for (int i = 0; i < 4; ++i) {
    forward_[i] = forward(i / 2, i % 2);
    backward_[i] = backward(i / 2, i % 2);
  }
  shift_ = {warp.shift.x(), warp.shift.y()};
}

float WireField::MetalAt(PointPx p) const {
  const double x = p.x - roi.x, y = p.y - roi.y;
  return InsideImage(metal, x, y) ? SampleAt(metal, x, y) : 0.0f;
}

WireField MakeWireField(const Micrograph& micrograph, const FaceTones& tones,
                        const LayerFrame& frame, const FieldRequest& request) {
  return Maker(micrograph, tones, frame, request).Make();
}

}  // namespace cutface
