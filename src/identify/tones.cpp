#include "identify/tones.h"

#include <Eigen/Dense>
#include <limits>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/layers.h"
#include "identify/raster.h"
#include "identify/ribbon.h"

namespace cutface {

void FillContour(cv::Mat& mask, std::span<const PointPx> contour, int value) {
  // Sixteenths of a pixel: finer than any edge here.
  std::vector<cv::Point> points;
  points.reserve(contour.size());
  for (PointPx p : contour) {
    points.emplace_back(static_cast<int>(std::lround(p.x * 16)),
                        static_cast<int>(std::lround(p.y * 16)));
  }
  const std::vector<std::vector<cv::Point>> all{points};
  cv::fillPoly(mask, all, cv::Scalar(value), cv::LINE_8, 4);
}

namespace {

constexpr std::size_t kLightSamples = 5000;
constexpr double kGrid = 80000;      // places of a picture that are asked
constexpr double kMixedBody = 0.12;  // scatter in the body beyond any noise: it is not all body
constexpr double kBodyShare = 0.65;  // of the step from lumen to body: more is body

ContourPx ToWork(const ContourPx& full, int reduction) {
  ContourPx out;
  out.reserve(full.size());
  for (PointPx p : full)
    out.push_back({(p.x + 0.5) / reduction - 0.5, (p.y + 0.5) / reduction - 0.5});
  return out;
}

cv::Mat1s NominalRaster(cv::Size size, int reduction, const Pose& pose,
                        const SectionDesign& plane) {
  cv::Mat raster(size, CV_16SC1, cv::Scalar(-1));
  FillContour(raster, ToWork(pose.outline, reduction), 0);
  for (std::size_t k = 0; k < plane.lumens.size(); ++k) {
    FillContour(raster, ToWork(pose.warp(plane.lumens[k].shape.contour), reduction),
                1 + static_cast<int>(k));
  }
  return raster;
}

// Distance of each pixel of one label to the nearest pixel of another, px of work.
cv::Mat1f DepthInLabel(const cv::Mat1s& raster) {
  cv::Mat1b same(raster.size(), uchar{255});
  for (int y = 0; y < raster.rows; ++y) {
    for (int x = 0; x < raster.cols; ++x) {
      const short v = raster(y, x);
      const bool edge = (x + 1 < raster.cols && raster(y, x + 1) != v) ||
                        (y + 1 < raster.rows && raster(y + 1, x) != v);
      if (edge) same(y, x) = 0;
    }
  }
  cv::Mat1f depth;
  cv::distanceTransform(same, depth, cv::DIST_L2, 3);
  return depth;
}

struct LightSample {
  double x, y, tone;
};

// Quadratic light field by iteratively reweighted least squares (Tukey's biweight): voids,
// scratches and lumens that are not where the drawing has them must not bend it.
Eigen::Matrix<double, 6, 1> FitLight(const std::vector<LightSample>& samples) {
  using Vector6 = Eigen::Matrix<double, 6, 1>;
  const auto row = [](double x, double y) {
    Vector6 v;
    v << 1, x, y, x * x, x * y, y * y;
    return v;
  };
  std::vector<double> tones;
  for (const LightSample& s : samples) tones.push_back(s.tone);
  Vector6 state = Vector6::Zero();
  state(0) = Median(tones);
  for (int round = 0; round < 12; ++round) {
    std::vector<double> residual;
    residual.reserve(samples.size());
    for (const LightSample& s : samples) residual.push_back(s.tone - row(s.x, s.y).dot(state));
    std::vector<double> magnitude;
    for (double r : residual) magnitude.push_back(std::abs(r));
    const double sigma = std::max(1e-4, 1.4826 * Median(magnitude));
    const double cut = (round < 4 ? 3.0 : 4.0) * sigma;
    Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Identity() * 1e-9;
    Vector6 right = Vector6::Zero();
    for (std::size_t i = 0; i < samples.size(); ++i) {
      const double u = residual[i] / cut;
      if (std::abs(u) >= 1) continue;
      const double w = (1 - u * u) * (1 - u * u);
      const Vector6 v = row(samples[i].x, samples[i].y);
      normal += w * v * v.transpose();
      right += w * v * samples[i].tone;
    }
    // Few samples on a small body must not swing the far terms.
    for (int k = 1; k < 6; ++k) normal(k, k) += 0.002 * normal(0, 0);
    state = normal.ldlt().solve(right);
  }
  return state;
}

// Of a lumen's tones those from its middle: at least 0.45 of its greatest depth deep. Not a number
// where it has no pixel.
double MiddleTone(const cv::Mat1f& picture, const cv::Mat1s& raster, const cv::Mat1f& depth,
                  short label, const cv::Rect& box) {
  float most = 0;
  const auto each = [&](const auto& take) {
    for (int y = box.y; y < box.y + box.height; ++y) {
      for (int x = box.x; x < box.x + box.width; ++x) {
        if (raster(y, x) == label) take(y, x);
      }
    }
  };
  each([&](int y, int x) { most = std::max(most, depth(y, x)); });
  std::vector<double> values;
  each([&](int y, int x) {
    if (depth(y, x) >= 0.45 * most) values.push_back(picture(y, x));
  });
  return values.empty() ? std::numeric_limits<double>::quiet_NaN() : Median(std::move(values));
}

cv::Mat1f DividedByLight(const cv::Mat1f& work, const Eigen::Matrix<double, 6, 1>& light,
                         PointPx middle, double size) {
  cv::Mat1f out(work.size());
  for (int y = 0; y < work.rows; ++y) {
    // Beyond the part the quadratic would run away: hold it at the rim.
    const double w = std::clamp((y - middle.y) / size, -1.3, 1.3);
    const double even = light(0) + w * (light(2) + w * light(5)), slope = light(1) + w * light(4);
    const float* from = work[y];
    float* to = out[y];
    for (int x = 0; x < work.cols; ++x) {
      const double u = std::clamp((x - middle.x) / size, -1.3, 1.3);
      to[x] = static_cast<float>(from[x] / std::max(0.002, even + u * (slope + u * light(3))));
    }
  }
  return out;
}

// Thin-walled parts: where lumens are drawn a little beside their place, most of what is drawn as
// body shows a lumen. The body is then what differs most from the lumens' own tone: everything else
// is taken out of the raster (label -2). False when nothing differs.
bool KeepOnlyBody(const cv::Mat1f& picture, const cv::Mat1f& depth, cv::Mat1s& raster) {
  std::vector<double> lumen, body;
  for (int y = 0; y < raster.rows; y += 2) {
    for (int x = 0; x < raster.cols; x += 2) {
      if (raster(y, x) > 0 && depth(y, x) > 6) lumen.push_back(picture(y, x));
      if (raster(y, x) == 0 && depth(y, x) > 1) body.push_back(picture(y, x));
    }
  }
  if (lumen.size() < 50 || body.size() < 50) return false;
  const double middle = Median(lumen), scatter = RobustSigma(std::move(lumen));
  const double low = Quantile(body, 0.04) - middle, high = Quantile(body, 0.96) - middle;
  const double most = std::abs(low) > std::abs(high) ? low : high;
  if (std::abs(most) < 5 * scatter) return false;
  for (int y = 0; y < raster.rows; ++y) {
    for (int x = 0; x < raster.cols; ++x) {
      if (raster(y, x) == 0 && (picture(y, x) - middle) / most < kBodyShare) raster(y, x) = -2;
    }
  }
  return true;
}

// Every so many rows and columns: enough for the scatter of a picture to one part in a hundred.
int StepOf(const cv::Mat1s& raster) {
  return std::max(2, static_cast<int>(std::sqrt(static_cast<double>(raster.total()) / kGrid)));
}

double BodyNoise(const cv::Mat1f& picture, const cv::Mat1s& raster, const cv::Mat1f& depth,
                 double least) {
  std::vector<double> values;
  const int step = StepOf(raster);
  for (int y = 0; y < raster.rows; y += step) {
    for (int x = 0; x < raster.cols; x += step) {
      if (raster(y, x) == 0 && depth(y, x) >= least) values.push_back(picture(y, x));
    }
  }
  return values.size() < 20 ? 0.05 : std::max(1e-4, RobustSigma(std::move(values)));
}

// How deep in the body samples must lie to be free of edges: half of what the body offers.
double BodyMargin(const cv::Mat1s& raster, const cv::Mat1f& depth, double size) {
  std::vector<double> body_depth;
  const int step = StepOf(raster);
  for (int y = 0; y < raster.rows; y += step) {
    for (int x = 0; x < raster.cols; x += step) {
      if (raster(y, x) == 0) body_depth.push_back(depth(y, x));
    }
  }
  return body_depth.empty() ? 1.5 : std::clamp(Quantile(body_depth, 0.5), 1.5, 0.04 * size + 2);
}

Eigen::Matrix<double, 6, 1> BodyLight(const cv::Mat1f& work, const cv::Mat1s& raster,
                                      const cv::Mat1f& depth, double margin, PointPx middle,
                                      double size) {
  std::vector<LightSample> samples;
  for (int y = 0; y < work.rows; y += 2) {
    for (int x = 0; x < work.cols; x += 2) {
      if (raster(y, x) == 0 && depth(y, x) >= margin) {
        samples.push_back({(x - middle.x) / size, (y - middle.y) / size, work(y, x)});
      }
    }
  }
  Eigen::Matrix<double, 6, 1> light = Eigen::Matrix<double, 6, 1>::Zero();
  light(0) = 0.5;
  // Six numbers need no more; every n-th sample lies everywhere.
  const std::size_t every = samples.size() / kLightSamples + 1;
  for (std::size_t i = 0; i * every < samples.size(); ++i) samples[i] = samples[i * every];
  samples.resize((samples.size() + every - 1) / every);
  if (samples.size() > 30) light = FitLight(samples);
  return light;
}

// Turns of a coil cut lengthwise may fill most of a wall's middle: the bands that they stand in.
void TakeOutRows(int reduction, const Pose& pose, const SectionDesign& plane, cv::Mat1s& body) {
  constexpr double kBand = 0.7;  // of the wire, to both sides of its row
  const Box<FrameUm> box = BoundingBox(plane.outline.contour);
  const double middle = 0.5 * (box.least.y + box.greatest.y);
  for (int y = 0; y < body.rows; ++y) {
    for (int x = 0; x < body.cols; ++x) {
      if (body(y, x) != 0) continue;
      const double full = 0.5 * (reduction - 1);
      const PointUm drawn = pose.warp.Inverse({x * reduction + full, y * reduction + full});
      for (const WireLayerDesign& layer : plane.wires) {
        const double size = layer.round_um.value_or(layer.flat_um ? layer.flat_um->first : 0);
        for (double d : layer.on_diameters_um) {
          if (std::abs(std::abs(drawn.y - middle) - 0.5 * d) < kBand * size) body(y, x) = -2;
        }
      }
    }
  }
}

// The light is told from one material alone: outer rings and liners are taken out (label -2).
cv::Mat1s BodyRaster(const cv::Mat1s& nominal, int reduction, const Pose& pose,
                     const SectionDesign& plane) {
  const bool lined = std::any_of(plane.lumens.begin(), plane.lumens.end(),
                                 [](const auto& l) { return l.liner_thickness_um.has_value(); });
  const bool rows = plane.kind == "lengthwise" && !plane.wires.empty();
  if (plane.rings.empty() && !lined && !rows) return nominal;
  cv::Mat1s body = nominal.clone();
  const cv::Mat1b core = CoreMask(nominal.size(), reduction, pose, plane);
  if (rows) TakeOutRows(reduction, pose, plane, body);
  std::size_t left = 0;
  for (int y = 0; y < body.rows; ++y) {
    for (int x = 0; x < body.cols; ++x) {
      if (body(y, x) == 0 && core(y, x) == 0) body(y, x) = -2;
      left += body(y, x) == 0 ? 1 : 0;
    }
  }
  return left < 400 ? nominal : body;
}

}  // namespace

FaceTones FindTones(const cv::Mat1f& work, int reduction, const Pose& pose,
                    const SectionDesign& plane) {
  FaceTones tones;
  tones.nominal = NominalRaster(work.size(), reduction, pose, plane);
  const ContourPx outline = ToWork(pose.outline, reduction);
  const double size = std::sqrt(Area(std::span<const PointPx>(outline)) / M_PI);
  const PointPx middle = Centroid(std::span<const PointPx>(outline));

  cv::Mat1s body = BodyRaster(tones.nominal, reduction, pose, plane);
  const cv::Mat1s core = body;
  const cv::Mat1f depth = DepthInLabel(core);
  double margin = BodyMargin(body, depth, size);
  cv::Mat1f plain;
  const auto take_light = [&] {
    const auto light = BodyLight(work, body, depth, margin, middle, size);
    for (int k = 0; k < 6; ++k) tones.light.c[k] = light(k);
    tones.body_tone = light(0) + 0.25 * (light(3) + light(5));
    plain = DividedByLight(work, light, middle, size);
    cv::GaussianBlur(plain, tones.fine, cv::Size(), 0.7);
    tones.fine_noise = BodyNoise(tones.fine, body, depth, margin);
  };
  take_light();
  tones.light.middle = {reduction * middle.x + 0.5 * (reduction - 1),
                        reduction * middle.y + 0.5 * (reduction - 1)};
  tones.light.size = size * reduction;
  if (tones.fine_noise > kMixedBody) {
    body = core.clone();
    margin = 1;
    if (KeepOnlyBody(work, depth, body)) take_light();
  }

  const auto lumen_tones = [&](const cv::Mat1f& picture) {
    std::vector<double> values;
    for (std::size_t k = 0; k < plane.lumens.size(); ++k) {
      const ContourPx drawn = ToWork(pose.warp(plane.lumens[k].shape.contour), reduction);
      const Box<FramePx> box = BoundingBox(std::span<const PointPx>(drawn));
      const cv::Rect around(static_cast<int>(std::floor(box.least.x)) - 1,
                            static_cast<int>(std::floor(box.least.y)) - 1,
                            static_cast<int>(box.greatest.x - box.least.x) + 4,
                            static_cast<int>(box.greatest.y - box.least.y) + 4);
      values.push_back(MiddleTone(picture, tones.nominal, depth, static_cast<short>(1 + k),
                                  around & cv::Rect({}, work.size())));
    }
    return values;
  };
  tones.lumen = lumen_tones(tones.fine);
  std::vector<double> steps;
  for (double t : tones.lumen) {
    if (std::isfinite(t) && std::abs(t - 1) > 3 * tones.fine_noise) steps.push_back(t - 1);
  }
  tones.typical_step = steps.empty() ? 0 : Median(steps);

  // Smooth only as much as the contrast needs.
  for (const double sigma : {0.7, 1.2, 1.8, 2.6}) {
    cv::GaussianBlur(plain, tones.relative, cv::Size(), sigma);
    tones.noise = BodyNoise(tones.relative, body, depth, margin);
    tones.smoothing_px = sigma;
    if (tones.noise < 0.12 * std::abs(tones.typical_step)) break;
  }
  // Potting: the ring just beyond the outline.
  std::vector<double> ring;
  const Ribbon ribbon =
      Unroll(tones.relative, outline, 180, 0, 0.1 * size, std::max(1.0, 0.01 * size));
  for (int i = 0; i < ribbon.tone.rows; ++i) {
    for (int j = ribbon.tone.cols / 2; j < ribbon.tone.cols; ++j) {
      if (ribbon.visible(i, j)) ring.push_back(ribbon.tone(i, j));
    }
  }
  if (!ring.empty()) tones.outside = Median(std::move(ring));
  return tones;
}

}  // namespace cutface
