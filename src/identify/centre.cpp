#include "identify/centre.h"

#include <opencv2/imgproc.hpp>

#include "cutface/stats.h"

namespace cutface {
namespace {

// Edge directions as unit-or-less vectors at twice the angle: opposite gradients agree, weak ones
// fade into noise, strong ones do not shout (a scratch must not outvote a pale outline).
cv::Mat2f DoubleAngleField(const cv::Mat1f& image) {
  cv::Mat1f gx, gy;
  cv::Scharr(image, gx, CV_32F, 1, 0);
  cv::Scharr(image, gy, CV_32F, 0, 1);
  std::vector<double> magnitudes;
  for (int y = 0; y < image.rows; y += 3) {
    for (int x = 0; x < image.cols; x += 3) magnitudes.push_back(std::hypot(gx(y, x), gy(y, x)));
  }
  const float floor = static_cast<float>(2.0 * Median(std::move(magnitudes)) + 1e-6);
  cv::Mat2f field(image.size());
  for (int y = 0; y < image.rows; ++y) {
    for (int x = 0; x < image.cols; ++x) {
      const float a = gx(y, x), b = gy(y, x);
      const float m2 = a * a + b * b;
      const float weight = m2 > 0 ? std::sqrt(m2) / (std::sqrt(m2) + floor) / m2 : 0;
      field(y, x) = cv::Vec2f(weight * (a * a - b * b), weight * 2 * a * b);
    }
  }
  return field;
}

// The outline as a double-angle picture about the centre of a canvas, blurred by `spread`.
cv::Mat2f Template(const ContourPx& outline, cv::Size canvas, double spread) {
  cv::Mat2f picture(canvas, cv::Vec2f(0, 0));
  const double cx = canvas.width / 2, cy = canvas.height / 2;
  double total = 0;
  for (std::size_t i = 0; i < outline.size(); ++i) {
    const PointPx a = outline[i], b = outline[(i + 1) % outline.size()];
    const double length = Distance(a, b);
    const int steps = std::max(1, static_cast<int>(length / 0.7));
    const PointPx d = b - a;
    if (length <= 0) continue;
    const double c2 = (d.y * d.y - d.x * d.x) / (length * length);  // of the normal
    const double s2 = -2 * d.x * d.y / (length * length);
    for (int k = 0; k < steps; ++k) {
      const PointPx p = a + ((k + 0.5) / steps) * d;
      const int x = static_cast<int>(std::lround(p.x + cx)),
                y = static_cast<int>(std::lround(p.y + cy));
      if (x < 0 || y < 0 || x >= canvas.width || y >= canvas.height) continue;
      const float w = static_cast<float>(length / steps);
      picture(y, x) += cv::Vec2f(static_cast<float>(c2) * w, static_cast<float>(s2) * w);
      total += length / steps;
    }
  }
  cv::GaussianBlur(picture, picture, cv::Size(), spread);
  // So that a perfectly agreeing edge of unit strength along the whole outline scores about 1.
  picture *= total > 0 ? 1.0 / total : 0.0;
  return picture;
}

ContourPx Placed(const ContourPx& outline, double angle, double scale, bool mirrored) {
  ContourPx out;
  out.reserve(outline.size());
  for (PointPx p : outline) {
    if (mirrored) p.x = -p.x;
    out.push_back(scale * Rotated(p, angle));
  }
  return out;
}

void KeepPeaks(const cv::Mat1f& score, const CentreCandidate& of, double apart, PointPx origin,
               std::vector<CentreCandidate>& best) {
  cv::Mat1f rest = score.clone();
  for (int k = 0; k < 3; ++k) {
    double top = 0;
    cv::Point at;
    cv::minMaxLoc(rest, nullptr, &top, nullptr, &at);
    CentreCandidate candidate = of;
    candidate.score = top;
    candidate.centre = {at.x - origin.x, at.y - origin.y};
    best.push_back(candidate);
    cv::circle(rest, at, static_cast<int>(apart), cv::Scalar(-1), cv::FILLED);
  }
}

}  // namespace

std::vector<CentreCandidate> FindCentres(const cv::Mat1f& work, const ContourPx& outline,
                                         const CentreSearch& search) {
  const double part = 2 * std::sqrt(Area(std::span<const PointPx>(outline)) / M_PI);
  const double goal = search.angles_rad.size() > 1 ? 80.0 : 120.0;
  const double shrink = std::min(1.0, goal / part);
  cv::Mat1f small;
  cv::resize(work, small, cv::Size(), shrink, shrink, cv::INTER_AREA);
  cv::GaussianBlur(small, small, cv::Size(), 1.0);
  const double part_small = part * shrink;

  cv::Mat2f field = DoubleAngleField(small);
  // The frame's own edge is no edge of the part.
  const int pad = static_cast<int>(0.6 * part_small);
  cv::Mat2f canvas(cv::getOptimalDFTSize(small.rows + 2 * pad),
                   cv::getOptimalDFTSize(small.cols + 2 * pad), cv::Vec2f(0, 0));
  cv::Rect inner(1, 1, small.cols - 2, small.rows - 2);
  field(inner).copyTo(canvas(cv::Rect(pad + 1, pad + 1, inner.width, inner.height)));
  cv::Mat2f spectrum;
  cv::dft(canvas, spectrum);

  std::vector<CentreCandidate> found;
  for (bool mirrored : {false, true}) {
    if (mirrored && !search.with_mirror) continue;
    for (double angle : search.angles_rad) {
      for (double scale : search.scales) {
        const ContourPx placed = Placed(outline, angle, scale * shrink, mirrored);
        const cv::Mat2f shape = Template(placed, canvas.size(), 0.018 * part_small);
        cv::Mat2f shape_spectrum, product, back;
        cv::dft(shape, shape_spectrum);
        cv::mulSpectrums(spectrum, shape_spectrum, product, 0, true);
        cv::dft(product, back, cv::DFT_INVERSE | cv::DFT_SCALE);
        std::vector<cv::Mat> planes;
        cv::split(back, planes);
        // The template's origin sits at the canvas centre, so zero shift means centre at (0, 0) +
        // half.
        cv::Mat1f score(canvas.size());
        const cv::Mat1f real = planes[0];
        const int hx = canvas.cols / 2, hy = canvas.rows / 2;
        for (int y = 0; y < canvas.rows; ++y) {
          for (int x = 0; x < canvas.cols; ++x) {
            score(y, x) =
                real((y - hy + canvas.rows) % canvas.rows, (x - hx + canvas.cols) % canvas.cols);
          }
        }
        CentreCandidate of;
        of.angle_rad = angle;
        of.mirrored = mirrored;
        of.scale = scale;
        KeepPeaks(score, of, 0.2 * part_small, {static_cast<double>(pad), static_cast<double>(pad)},
                  found);
      }
    }
  }
  std::sort(found.begin(), found.end(),
            [](const CentreCandidate& a, const CentreCandidate& b) { return a.score > b.score; });
  std::vector<CentreCandidate> kept;
  for (CentreCandidate candidate : found) {
    bool near = false;
    for (const CentreCandidate& k : kept) {
      const double turn = std::abs(std::remainder(candidate.angle_rad - k.angle_rad, 2 * M_PI));
      near = near || (Distance(candidate.centre, k.centre) < 0.12 * part_small && turn < 0.35 &&
                      candidate.mirrored == k.mirrored);
    }
    if (near) continue;
    kept.push_back(candidate);
    if (static_cast<int>(kept.size()) == search.most) break;
  }
  for (CentreCandidate& k : kept) {
    k.centre = {(k.centre.x + 0.5) / shrink - 0.5, (k.centre.y + 0.5) / shrink - 0.5};
  }
  return kept;
}

}  // namespace cutface
