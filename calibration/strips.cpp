#include "calibration/strips.h"

#include <algorithm>
#include <cmath>
#include <optional>

namespace cutface::calibration {
namespace {

constexpr double kLeastAnisotropy = 0.02;  // of the structure tensor: below, no lines prevail
constexpr int kRowStep = 3;                // rows left out when the direction is looked for

template <class T>
std::optional<double> Direction(const cv::Mat& tone) {
  double xx = 0, yy = 0, xy = 0;
  for (int y = 1; y + 1 < tone.rows; y += kRowStep) {
    const T* above = tone.ptr<T>(y - 1);
    const T* row = tone.ptr<T>(y);
    const T* below = tone.ptr<T>(y + 1);
    double rxx = 0, ryy = 0, rxy = 0;
    for (int x = 1; x + 1 < tone.cols; ++x) {
      const double gx = static_cast<double>(row[x + 1]) - row[x - 1];
      const double gy = static_cast<double>(below[x]) - above[x];
      rxx += gx * gx;
      ryy += gy * gy;
      rxy += gx * gy;
    }
    xx += rxx;
    yy += ryy;
    xy += rxy;
  }
  const double spread = std::hypot(xx - yy, 2 * xy);
  if (!(spread > kLeastAnisotropy * (xx + yy)) || !(xx + yy > 0)) return std::nullopt;
  return 0.5 * std::atan2(2 * xy, xx - yy);
}

// The three sums of a bin side by side: one line of the cache a pixel instead of three.
struct Cell {
  float count = 0, tone = 0, place = 0;
};

template <class T>
void Sum(const cv::Mat& tone, double scale, Strips& out) {
  const Frame& frame = out.frame;
  const double v0 = out.strips[0].v - out.height / 2;
  const auto last = static_cast<int>(out.strips.size()) - 1;
  const std::size_t bins = out.Bins();
  const float unit = static_cast<float>(scale);
  std::vector<Cell> cells(out.strips.size() * bins);
  for (int y = 0; y < tone.rows; ++y) {
    const T* row = tone.ptr<T>(y);
    double u = (frame.U(0, y) - out.u0) / kBin_px;
    double v = (frame.V(0, y) - v0) / out.height;
    const double du = frame.c / kBin_px, dv = -frame.s / out.height;
    for (int x = 0; x < tone.cols; ++x, u += du, v += dv) {
      const auto strip = static_cast<std::size_t>(std::min(static_cast<int>(v), last));
      const auto bin = static_cast<int>(u);
      Cell& cell = cells[strip * bins + static_cast<std::size_t>(bin)];
      cell.count += 1;
      cell.tone += unit * static_cast<float>(row[x]);
      cell.place += static_cast<float>((u - static_cast<double>(bin)) * kBin_px);
    }
  }
  for (std::size_t k = 0; k < out.strips.size(); ++k) {
    Profile& p = out.strips[k].profile;
    for (std::size_t b = 0; b < bins; ++b) {
      const Cell& cell = cells[k * bins + b];
      p.count[b] = cell.count;
      p.tone[b] = cell.tone;
      p.place[b] = cell.place;
    }
  }
}

}  // namespace

std::optional<double> DirectionAcross(const Micrograph& picture) {
  return picture.bits <= 8 ? Direction<std::uint8_t>(picture.tone)
                           : Direction<std::uint16_t>(picture.tone);
}

Strips SumAlong(const Micrograph& picture, double direction_rad, double height_px) {
  Strips out;
  const double w = picture.width(), h = picture.height();
  out.frame.middle = {(w - 1) / 2, (h - 1) / 2};
  out.frame.c = std::cos(direction_rad);
  out.frame.s = std::sin(direction_rad);
  out.height = height_px;
  const double reach_u = (w * std::abs(out.frame.c) + h * std::abs(out.frame.s)) / 2 + 2;
  const double reach_v = (w * std::abs(out.frame.s) + h * std::abs(out.frame.c)) / 2 + 2;
  out.u0 = -reach_u;
  const auto bins = static_cast<std::size_t>(2 * reach_u / kBin_px) + 4;
  const auto count = static_cast<std::size_t>(2 * reach_v / height_px) + 1;
  out.strips.resize(count);
  for (std::size_t k = 0; k < count; ++k) {
    out.strips[k].v = -reach_v + (static_cast<double>(k) + 0.5) * height_px;
    Profile& p = out.strips[k].profile;
    p.count.resize(bins);
    p.tone.resize(bins);
    p.place.resize(bins);
  }
  const double scale = 1 / picture.full_scale();
  if (picture.bits <= 8) {
    Sum<std::uint8_t>(picture.tone, scale, out);
  } else {
    Sum<std::uint16_t>(picture.tone, scale, out);
  }
  return out;
}

void Profile::Add(const Profile& other) {
  for (std::size_t b = 0; b < count.size(); ++b) {
    count[b] += other.count[b];
    tone[b] += other.tone[b];
    place[b] += other.place[b];
  }
}

}  // namespace cutface::calibration
