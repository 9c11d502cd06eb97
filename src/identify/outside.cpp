// Bubbles and debris of the potting around the part.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"
#include "identify/edge_marks.h"
#include "identify/raster.h"
#include "identify/tone_reader.h"
#include "identify/voids.h"

namespace cutface {
namespace {

constexpr double kBlotTone = 0.08, kBlotNoises = 6;
constexpr double kLeast_px = 5;     // full-resolution px, equal-area diameter
constexpr double kMostShare = 0.2;  // of the picture's short side
constexpr double kRoundHull = 0.93, kRoundAspect = 1.3;
constexpr double kCompact = 0.4;  // scratches are long
constexpr int kMost = 40;

class Around {
 public:
  Around(const FaceTones& tones, int reduction, const Scale& scale, Section& section)
      : tones_(tones), reduction_(reduction), scale_(scale), section_(section) {}

  void Run() {
    if (!section_.outline || section_.outline->vertices.size() < 12) return;
    cv::Mat1b out(tones_.relative.size(), uchar{255});
    ContourPx outline = InPx(*section_.outline, scale_);
    for (PointPx& p : outline) p = {p.x / reduction_, p.y / reduction_};
    FillContour(out, outline, 0);
    // The outline's own blur, rim and halo.
    const int room = 2 * std::max(2, 4 / reduction_) + 1;
    cv::erode(out, out, cv::getStructuringElement(cv::MORPH_ELLIPSE, {room, room}));
    if (cv::countNonZero(out) < 400) return;
    out_ = out;
    const cv::Mat1f left = Left(out);
    std::vector<double> values;
    for (int y = 0; y < out.rows; y += 2) {
      for (int x = 0; x < out.cols; x += 2) {
        if (out(y, x)) values.push_back(left(y, x));
      }
    }
    const double noise = RobustSigma(values);
    const double least = std::max(kBlotTone, kBlotNoises * noise);
    cv::Mat1b mask;
    cv::compare(cv::abs(left), least, mask, cv::CMP_GT);
    mask &= out;
    cv::morphologyEx(mask, mask, cv::MORPH_CLOSE,
                     cv::getStructuringElement(cv::MORPH_ELLIPSE, {3, 3}));
    Parts(mask, left);
    std::stable_sort(found_.begin(), found_.end(),
                     [](const Void& a, const Void& b) { return a.area_um2 > b.area_um2; });
    if (found_.size() > kMost) found_.resize(kMost);
    for (Void& v : found_) {
      v.no = static_cast<int>(section_.voids.size()) + 1;
      section_.voids.push_back(std::move(v));
    }
  }

 private:
  // Tone less that of the potting around: a local mean that leaves out what stands out. It is
  // broad, so that a quarter of the copy's resolution tells it.
  cv::Mat1f Left(const cv::Mat1b& out) const {
    constexpr int kCoarser = 4;
    const cv::Mat1f& tone = tones_.relative;
    const cv::Size coarse(std::max(1, tone.cols / kCoarser), std::max(1, tone.rows / kCoarser));
    cv::Mat1f share, in = tone.clone(), mean;
    in.setTo(0, ~out);
    out.convertTo(share, CV_32F, 1.0 / 255);
    cv::resize(in, mean, coarse, 0, 0, cv::INTER_AREA);
    cv::resize(share, share, coarse, 0, 0, cv::INTER_AREA);
    cv::Mat1b seen;
    cv::compare(share, 0.5, seen, cv::CMP_GT);
    mean = mean / cv::max(share, 0.01f);
    cv::Mat1b used = seen.clone();
    cv::Mat1f base(coarse, 0.0f), weight, sum, all;
    const int box = 2 * (std::min(coarse.height, coarse.width) / 12) + 1;
    for (int pass = 0; pass < 3; ++pass) {
      in = mean.clone();
      in.setTo(0, ~used);
      used.convertTo(weight, CV_32F, 1.0 / 255);
      cv::boxFilter(in, sum, CV_32F, {box, box}, {-1, -1}, false, cv::BORDER_CONSTANT);
      cv::boxFilter(weight, all, CV_32F, {box, box}, {-1, -1}, false, cv::BORDER_CONSTANT);
      base = sum / cv::max(all, 1.0f);
      std::vector<double> values;
      for (int y = 0; y < coarse.height; ++y) {
        for (int x = 0; x < coarse.width; ++x) {
          if (used(y, x)) values.push_back(mean(y, x) - base(y, x));
        }
      }
      if (values.size() < 50) break;
      cv::Mat1f away;
      cv::absdiff(mean, base, away);
      used = seen.clone();
      used.setTo(0, away > std::max(0.05, 3 * RobustSigma(std::move(values))));
    }
    cv::Mat1f left;
    cv::resize(base, left, tone.size(), 0, 0, cv::INTER_LINEAR);
    cv::subtract(tone, left, left);
    return left;
  }

  void Parts(const cv::Mat1b& mask, const cv::Mat1f& left) {
    std::vector<std::vector<cv::Point>> chains;
    cv::findContours(mask.clone(), chains, cv::RETR_EXTERNAL, cv::CHAIN_APPROX_NONE);
    const double most = kMostShare * std::min(mask.rows, mask.cols);
    for (const auto& chain : chains) {
      const cv::Rect box = cv::boundingRect(chain);
      const bool cut =
          box.x <= 1 || box.y <= 1 || box.br().x >= mask.cols - 1 || box.br().y >= mask.rows - 1;
      if (cut || std::max(box.width, box.height) > most) continue;
      const double area = cv::contourArea(chain) + 0.5 * cv::arcLength(chain, true) + 1;
      const double diameter = 2 * std::sqrt(area / M_PI) * reduction_;
      if (diameter < kLeast_px) continue;
      if (diameter < kCompact * std::hypot(box.width, box.height) * reduction_) continue;
      Take(chain, box, left, area, diameter);
    }
  }

  void Take(const std::vector<cv::Point>& chain, const cv::Rect& box, const cv::Mat1f& left,
            double area, double diameter) {
    std::vector<cv::Point> hull;
    cv::convexHull(chain, hull);
    const double hull_area = cv::contourArea(hull) + 0.5 * cv::arcLength(hull, true) + 1;
    const cv::RotatedRect ellipse = cv::minAreaRect(chain);
    const double a = std::max(ellipse.size.width, ellipse.size.height) + 1,
                 b = std::min(ellipse.size.width, ellipse.size.height) + 1;
    cv::Mat1b filled(box.size(), uchar{0});
    cv::drawContours(filled, std::vector<std::vector<cv::Point>>{chain}, 0, cv::Scalar(255),
                     cv::FILLED, cv::LINE_8, cv::noArray(), INT_MAX, -box.tl());
    // Tones on the rim and in the middle.
    cv::Mat1f depth;
    cv::copyMakeBorder(filled, filled, 1, 1, 1, 1, cv::BORDER_CONSTANT, cv::Scalar(0));
    cv::distanceTransform(filled, depth, cv::DIST_L2, cv::DIST_MASK_5);
    double deepest = 0;
    cv::minMaxLoc(depth, nullptr, &deepest);
    double rim = 0, middle = 0;
    int n_rim = 0, n_middle = 0;
    for (int y = 0; y < box.height; ++y) {
      for (int x = 0; x < box.width; ++x) {
        const float d = depth(y + 1, x + 1);
        if (d <= 0) continue;
        const float t = left(box.y + y, box.x + x);
        if (d > 0.6 * deepest) middle += t, ++n_middle;
        if (d < 0.45 * deepest || d < 2) rim += t, ++n_rim;
      }
    }
    rim /= std::max(1, n_rim);
    middle /= std::max(1, n_middle);
    const double hull_share = area / hull_area, aspect = a / b;
    const bool round = hull_share > kRoundHull && aspect < kRoundAspect;
    Void v;
    // A bubble at the wall is cut by it.
    const bool at_wall = AtWall(box);
    v.kind = round && rim < 0 && middle > rim + 0.02 ? VoidClass::kOutsideBubble
             : (round || at_wall) && rim < 0         ? VoidClass::kDoubtful
                                                     : VoidClass::kDebris;
    ContourPx contour = MaskBoundary(filled, box.tl() - cv::Point(1, 1), reduction_);
    if (contour.size() < 6) return;
    const double pitch = scale_.mean_pitch_um();
    ContourUm points;
    for (PointPx p : contour) points.push_back(scale_.ToUm(p));
    const ContourUm normals = OutwardNormals(std::span<const PointUm>(points));
    for (std::size_t i = 0; i < points.size(); ++i)
      v.contour.vertices.push_back({points[i], normals[i], pitch});
    v.contour.u_common_um = pitch;
    v.contour.edge_model = "step";
    v.of = "outside";
    v.centroid = Centroid(std::span<const PointUm>(points));
    v.area_um2 = Area(std::span<const PointUm>(points));
    v.u_area_um2 = Perimeter(std::span<const PointUm>(points)) * pitch;
    v.numbers = {{"diameter_um", diameter * pitch},
                 {"of_hull_percent", 100 * hull_share},
                 {"aspect", aspect},
                 {"rim_percent", 100 * rim},
                 {"middle_percent", 100 * middle}};
    v.evidence = fmt::format(
        "outside the part, {:.0f} px across, {}, rim {:+.0f} % and middle {:+.0f} % of the body's "
        "tone against the potting",
        diameter, round ? "round" : "ragged", 100 * rim, 100 * middle);
    found_.push_back(std::move(v));
  }

  bool AtWall(const cv::Rect& box) const {
    const cv::Rect wide = cv::Rect(box.x - 3, box.y - 3, box.width + 6, box.height + 6) &
                          cv::Rect(0, 0, out_.cols, out_.rows);
    return cv::countNonZero(out_(wide)) < wide.area();
  }

  const FaceTones& tones_;
  int reduction_;
  const Scale& scale_;
  Section& section_;
  cv::Mat1b out_;  // not zero outside the part and clear of its edge
  std::vector<Void> found_;
};

}  // namespace

void FindOutside(const FaceTones& tones, int reduction, const Scale& scale, Section& section) {
  Around(tones, reduction, scale, section).Run();
}

}  // namespace cutface
