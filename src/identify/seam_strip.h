// The surroundings of a drawn seam unrolled, with responses to lines and steps, and profiles pooled
// along a path in them. Keywords: matched filter, mask, template, blurred step, blurred line.
#pragma once

#include <cmath>
#include <limits>
#include <opencv2/core.hpp>
#include <span>
#include <utility>
#include <vector>

#include "identify/ribbon.h"
#include "identify/seam.h"

namespace cutface {

inline constexpr int kSeamAlong = 3;         // places averaged to either side
inline constexpr double kTemplate_px = 5.5;  // half length of a pooled profile
inline constexpr double kBin_px = 0.25;

struct Strip {
  Ribbon ribbon;                  // tones relative; not a number where masked
  cv::Mat1f line;                 // response to a line: shoulders less middle
  cv::Mat1f step;                 // response to a step: outer less inner
  double u_line = 1, u_step = 1;  // scatter of the responses
  double radius = 1, reach = 1, size_reach = 1, shift_reach = 1;
  int places() const { return ribbon.tone.rows; }
};

Strip MakeStrip(const Micrograph& micrograph, const FaceTones& tones, const ContourPx& outline,
                const cv::Mat1b& hidden, const SeamInput& input);

// Takes out what lies within `px` of another seam: what that one explains is no part of this one.
void MaskBeside(const ContourPx& other, double px, Strip& s);

// Tones against the distance from a path, pooled over the whole seam.
struct Template {
  std::vector<double> tone;  // per bin; not a number where empty
  double noise = 0.01;       // of one sample
  static double At(std::size_t k) { return -kTemplate_px + kBin_px * static_cast<double>(k); }
  static std::size_t Bins() {
    return static_cast<std::size_t>(std::lround(2 * kTemplate_px / kBin_px)) + 1;
  }
  // Value and slope.
  std::pair<double, double> Look(double u) const {
    const double k = (u + kTemplate_px) / kBin_px;
    const auto i = static_cast<std::ptrdiff_t>(std::floor(k));
    if (i < 1 || i + 2 >= static_cast<std::ptrdiff_t>(tone.size())) return {NAN, NAN};
    const auto at = static_cast<std::size_t>(i);
    const double f = k - static_cast<double>(i);
    const double left = (tone[at + 1] - tone[at - 1]) / 2, right = (tone[at + 2] - tone[at]) / 2;
    return {(1 - f) * tone[at] + f * tone[at + 1], ((1 - f) * left + f * right) / kBin_px};
  }
};

Template Pooled(const Strip& s, const std::vector<double>& path);

// Where in the pooled profile the two solids meet: a blurred step with a blurred line on it.
struct Middle {
  double at = 0, u = 0.3, step = 0, line = 0, blur = 1;
  double gain = 0, rest = 0;  // square that step and line explain, and what is left
  bool told = false;
};
Middle MiddleOf(const Template& t, double samples_per_bin);

// The same with blurs to try given, with or without a line.
Middle MiddleWith(const Template& t, double samples_per_bin, std::span<const double> blurs,
                  bool line);

// Share of a seam's stretches in which nothing of its profile shows and plain tone explains what is
// seen: there the path follows no edge. Stretches too noisy to say are left out; 0 where most are.
double NothingShare(const Strip& s, const Template& t, const std::vector<double>& path);

}  // namespace cutface
