#include "identify/centre.h"

#include <complex>
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

// Where a template about the centre of a canvas is not zero.
cv::Rect Drawn(const ContourPx& outline, double spread, cv::Size canvas) {
  const Box<FramePx> box = BoundingBox(std::span<const PointPx>(outline));
  const double margin = 4 * spread + 2;
  const cv::Point from(static_cast<int>(box.least.x - margin) + canvas.width / 2,
                       static_cast<int>(box.least.y - margin) + canvas.height / 2);
  const cv::Point to(static_cast<int>(box.greatest.x + margin) + canvas.width / 2,
                     static_cast<int>(box.greatest.y + margin) + canvas.height / 2);
  return cv::Rect(from, to) & cv::Rect({0, 0}, canvas);
}

// The outline as a double-angle picture about the centre of a canvas, blurred by `spread`.
cv::Mat2f Template(const ContourPx& outline, cv::Size canvas, double spread) {
  cv::Mat2f picture(canvas, cv::Vec2f(0, 0));
  const int cx = canvas.width / 2, cy = canvas.height / 2;  // whole pixels
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
  cv::Mat2f drawn = picture(Drawn(outline, spread, canvas));
  cv::GaussianBlur(drawn, drawn, cv::Size(), spread);
  // So that a perfectly agreeing edge of unit strength along the whole outline scores about 1.
  picture *= total > 0 ? 1.0 / total : 0.0;
  return picture;
}

ContourPx PlacedOutline(const ContourPx& outline, double angle, double scale, bool mirrored) {
  ContourPx out;
  out.reserve(outline.size());
  for (PointPx p : outline) {
    if (mirrored) p.x = -p.x;
    out.push_back(scale * Rotated(p, angle));
  }
  return out;
}

// Top of the parabola through three values, from the middle one.
double Vertex(float before, float at, float after) {
  const double bend = before - 2.0 * at + after;
  return bend < 0 ? std::clamp(0.5 * (before - after) / bend, -0.5, 0.5) : 0.0;
}

// `score` is for centres at px - canvas / 2, cyclic.
void KeepPeaks(cv::Mat1f& score, const CentreCandidate& of, double apart, PointPx origin,
               std::vector<CentreCandidate>& best) {
  const int rows = score.rows, cols = score.cols, r = static_cast<int>(apart);
  const auto at = [&](int y, int x) -> float& {
    return score((y + rows) % rows, (x + cols) % cols);
  };
  for (int k = 0; k < 3; ++k) {
    double top = 0;
    cv::Point p;
    cv::minMaxLoc(score, nullptr, &top, nullptr, &p);
    CentreCandidate candidate = of;
    candidate.score = top;
    const double x = p.x + Vertex(at(p.y, p.x - 1), at(p.y, p.x), at(p.y, p.x + 1));
    const double y = p.y + Vertex(at(p.y - 1, p.x), at(p.y, p.x), at(p.y + 1, p.x));
    const int cx = cols / 2, cy = rows / 2;  // as in Template()
    candidate.centre = {std::fmod(x + cx + cols, cols) - origin.x,
                        std::fmod(y + cy + rows, rows) - origin.y};
    best.push_back(candidate);
    for (int dy = -r; dy <= r; ++dy) {
      for (int dx = -r; dx <= r; ++dx) {
        if (dx * dx + dy * dy <= r * r) at(p.y + dy, p.x + dx) = -1;
      }
    }
  }
}

// Correlates the two real parts of an edge field with templates, at each turn and the half turn
// beyond it at once: the half turn conjugates a template's spectra, and one complex transform
// returns two real ones.
class FieldCorrelator {
 public:
  explicit FieldCorrelator(const cv::Mat2f& canvas) : size_(canvas.size()) {
    cv::Mat planes[2];
    cv::split(canvas, planes);
    for (int i = 0; i < 2; ++i) cv::dft(planes[i], part_[i], cv::DFT_COMPLEX_OUTPUT);
  }

  void Correlate(const cv::Mat2f& shape, cv::Mat1f& score, cv::Mat1f& half_turned) const {
    cv::Mat2f spectrum, product(size_), back;
    cv::dft(shape, spectrum);
    using Complex = std::complex<float>;
    const auto conj_times = [](Complex a, Complex b) {  // a * conj(b)
      return Complex(a.real() * b.real() + a.imag() * b.imag(),
                     a.imag() * b.real() - a.real() * b.imag());
    };
    for (int y = 0; y < size_.height; ++y) {
      const int back_y = y == 0 ? 0 : size_.height - y;
      for (int x = 0; x < size_.width; ++x) {
        const int back_x = x == 0 ? 0 : size_.width - x;
        const cv::Vec2f s = spectrum(y, x), t = spectrum(back_y, back_x);
        // Spectra of the template's real and imaginary part.
        const Complex p(0.5f * (s[0] + t[0]), 0.5f * (s[1] - t[1]));
        const Complex q(0.5f * (s[1] + t[1]), -0.5f * (s[0] - t[0]));
        const Complex u(part_[0](y, x)[0], part_[0](y, x)[1]);
        const Complex v(part_[1](y, x)[0], part_[1](y, x)[1]);
        const Complex here = conj_times(u, p) + conj_times(v, q);
        const Complex there = conj_times(u, std::conj(p)) + conj_times(v, std::conj(q));
        product(y, x) = cv::Vec2f(here.real() - there.imag(), here.imag() + there.real());
      }
    }
    cv::dft(product, back, cv::DFT_INVERSE | cv::DFT_SCALE);
    cv::Mat planes[2];
    cv::split(back, planes);
    score = planes[0];
    half_turned = planes[1];
  }

 private:
  cv::Size size_;
  cv::Mat2f part_[2];
};

// The best candidates, no two of them alike.
std::vector<CentreCandidate> Distinct(std::vector<CentreCandidate> found, double part_px,
                                      int most) {
  std::sort(found.begin(), found.end(),
            [](const CentreCandidate& a, const CentreCandidate& b) { return a.score > b.score; });
  std::vector<CentreCandidate> kept;
  for (const CentreCandidate& candidate : found) {
    bool near = false;
    for (const CentreCandidate& k : kept) {
      const double turn = std::abs(std::remainder(candidate.angle_rad - k.angle_rad, 2 * M_PI));
      near = near || (Distance(candidate.centre, k.centre) < 0.12 * part_px && turn < 0.35 &&
                      candidate.mirrored == k.mirrored);
    }
    if (near) continue;
    kept.push_back(candidate);
    if (static_cast<int>(kept.size()) == most) break;
  }
  return kept;
}

}  // namespace

std::vector<CentreCandidate> FindCentres(const cv::Mat1f& work, const ContourPx& outline,
                                         const CentreSearch& search) {
  const double part = 2 * std::sqrt(Area(std::span<const PointPx>(outline)) / M_PI);
  const double goal = search.angles_rad.size() > 1 ? 80.0 : 96.0;
  const double shrink = std::min(1.0, goal / part);
  cv::Mat1f small;
  cv::resize(work, small, cv::Size(), shrink, shrink, cv::INTER_AREA);
  cv::GaussianBlur(small, small, cv::Size(), 1.0);
  cv::Mat2f field = DoubleAngleField(small);
  // The frame's own edge is no edge of the part.
  cv::rectangle(field, cv::Rect({0, 0}, field.size()), cv::Scalar(0, 0));
  // Templates are blurred by more than this pooling of directions does.
  const double pooled = shrink < 1 ? 0.5 : 1.0;
  if (pooled < 1) cv::resize(field, field, cv::Size(), pooled, pooled, cv::INTER_AREA);
  const double all_shrink = pooled * shrink, part_small = part * all_shrink;

  const int pad = static_cast<int>(0.6 * part_small);
  cv::Mat2f canvas(cv::getOptimalDFTSize(field.rows + 2 * pad),
                   cv::getOptimalDFTSize(field.cols + 2 * pad), cv::Vec2f(0, 0));
  field.copyTo(canvas(cv::Rect(pad, pad, field.cols, field.rows)));
  const FieldCorrelator correlator(canvas);
  const PointPx origin{static_cast<double>(pad), static_cast<double>(pad)};

  std::vector<CentreCandidate> found;
  const std::size_t turns = search.angles_rad.size();
  for (bool mirrored : {false, true}) {
    if (mirrored && !search.with_mirror) continue;
    for (std::size_t k = 0; k < (turns + 1) / 2; ++k) {
      for (double scale : search.scales) {
        CentreCandidate of{{}, search.angles_rad[k], mirrored, scale, 0};
        const ContourPx placed = PlacedOutline(outline, of.angle_rad, scale * all_shrink, mirrored);
        cv::Mat1f score[2];
        correlator.Correlate(Template(placed, canvas.size(), 0.018 * part_small), score[0],
                             score[1]);
        KeepPeaks(score[0], of, 0.2 * part_small, origin, found);
        if (k + turns / 2 >= turns || turns == 1) continue;
        of.angle_rad = search.angles_rad[k + turns / 2];
        KeepPeaks(score[1], of, 0.2 * part_small, origin, found);
      }
    }
  }
  std::vector<CentreCandidate> kept = Distinct(std::move(found), part_small, search.most);
  for (CentreCandidate& k : kept) {
    k.centre = {(k.centre.x + 0.5) / all_shrink - 0.5, (k.centre.y + 0.5) / all_shrink - 0.5};
  }
  return kept;
}

}  // namespace cutface
