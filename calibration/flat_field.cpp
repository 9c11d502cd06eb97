// The light of the empty field, and a picture without its unevenness.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <filesystem>

#include "cutface/calibration_keeping.h"

namespace cutface {
namespace {

constexpr int kOrder = 6;  // of the polynomial: lamp off centre, vignetting (cos^4), a hot spot
constexpr int kTerms = (kOrder + 1) * (kOrder + 2) / 2;
constexpr int kRounds = 12;
constexpr double kDarkest = 0.05;    // light below which a blank is no light
constexpr double kFullTone = 0.995;  // reduced blocks reaching this are clipped
constexpr double kMostClipped = 0.001;
// Spread that a smooth surface may leave in block means: grain and the lens, not a pattern.
constexpr double kMostLeftOver = 0.05;
constexpr double kTukey = 4.685;  // 95 % efficiency for Gaussian errors (Beaton & Tukey 1974)

void Terms(double u, double v, double* terms) {
  int n = 0;
  for (int degree = 0; degree <= kOrder; ++degree) {
    for (int j = 0; j <= degree; ++j) terms[n++] = std::pow(u, degree - j) * std::pow(v, j);
  }
}

double Value(const std::vector<double>& terms, double u, double v) {
  double t[kTerms], sum = 0;
  Terms(u, v, t);
  for (int n = 0; n < kTerms; ++n) sum += terms[static_cast<std::size_t>(n)] * t[n];
  return sum;
}

double MiddleOf(std::vector<double> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

}  // namespace

Result<FlatField> FlatField::FromBlank(const Micrograph& blank, double gamma) {
  CF_CHECK(gamma > 0);
  const cv::Mat& mean = blank.reduced_mean;
  const auto bad = [&](const std::string& what) {
    return Fail(Code::kCalibrationInvalid, fmt::format("{}: {}", blank.file_name, what));
  };
  // A lattice of some 100 x 100 blocks is plenty for so few terms.
  const int step_x = std::max(1, mean.cols / 100), step_y = std::max(1, mean.rows / 100);
  std::vector<double> us, vs, light;
  std::size_t clipped = 0;
  FlatField field;
  field.width_ = blank.width();
  field.height_ = blank.height();
  field.gamma_ = gamma;
  const auto unit = [](double at, int size) { return size > 1 ? 2 * at / (size - 1) - 1 : 0.0; };
  for (int j = 0; j < mean.rows; j += step_y) {
    for (int i = 0; i < mean.cols; i += step_x) {
      const double half = 0.5 * (blank.reduction - 1);
      us.push_back(unit(i * blank.reduction + half, field.width_));
      vs.push_back(unit(j * blank.reduction + half, field.height_));
      light.push_back(std::pow(std::max(0.0f, mean.at<float>(j, i)), gamma));
      clipped += mean.at<float>(j, i) >= kFullTone;
    }
  }
  if (static_cast<int>(light.size()) < 4 * kTerms) return bad("is too small for a blank");
  if (static_cast<double>(clipped) > kMostClipped * static_cast<double>(light.size()))
    return bad("the blank is overexposed; picture the empty field with a shorter exposure");
  if (MiddleOf(light) < kDarkest)
    return bad("the blank is dark; picture the empty field with its lamp on");

  const auto count = static_cast<Eigen::Index>(light.size());
  Eigen::MatrixXd design(count, kTerms);
  Eigen::VectorXd wanted(count), weight = Eigen::VectorXd::Ones(count);
  for (Eigen::Index k = 0; k < count; ++k) {
    double t[kTerms];
    const auto at = static_cast<std::size_t>(k);
    Terms(us[at], vs[at], t);
    for (int n = 0; n < kTerms; ++n) design(k, n) = t[n];
    wanted(k) = light[at];
  }
  Eigen::VectorXd terms;
  double spread = 0;
  for (int round = 0; round < kRounds; ++round) {
    const Eigen::MatrixXd weighted = weight.asDiagonal() * design;
    terms = (design.transpose() * weighted).ldlt().solve(weighted.transpose() * wanted);
    const Eigen::VectorXd off = wanted - design * terms;
    std::vector<double> sizes;
    for (Eigen::Index k = 0; k < count; ++k) sizes.push_back(std::abs(off(k)));
    spread = std::max(1.4826 * MiddleOf(sizes), 1e-6);
    for (Eigen::Index k = 0; k < count; ++k) {
      const double r = off(k) / (kTukey * spread);
      weight(k) = std::abs(r) < 1 ? (1 - r * r) * (1 - r * r) : 0.0;
    }
  }
  field.terms_.assign(terms.data(), terms.data() + kTerms);
  field.greatest_ = 0;
  field.least_ = 1e9;
  for (int j = 0; j <= 40; ++j) {
    for (int i = 0; i <= 40; ++i) {
      const double value = Value(field.terms_, 0.05 * i - 1, 0.05 * j - 1);
      field.greatest_ = std::max(field.greatest_, value);
      field.least_ = std::min(field.least_, value);
    }
  }
  if (!(field.least_ >= kDarkest)) return bad("the blank is dark in places; picture it again");
  field.unevenness_ = 1 - field.least_ / field.greatest_;
  field.left_over_ = spread / field.greatest_;
  if (field.left_over_ > kMostLeftOver) {
    return bad(
        fmt::format("the blank is not smooth ({:.1f} % left beside its light); picture an "
                    "empty, clean field",
                    100 * field.left_over_));
  }
  return field;
}

double FlatField::LightAt(double x, double y) const {
  const double u = width_ > 1 ? 2 * x / (width_ - 1) - 1 : 0.0;
  const double v = height_ > 1 ? 2 * y / (height_ - 1) - 1 : 0.0;
  return std::clamp(Value(terms_, u, v), 0.5 * least_, 2 * greatest_) / greatest_;
}

Result<Micrograph> FlatField::Apply(const Micrograph& picture) const {
  if (picture.width() != width_ || picture.height() != height_) {
    return Fail(Code::kCalibrationMismatch,
                fmt::format("{}: has {} x {} px, the blank {} x {}; take the blank of this camera "
                            "mode",
                            picture.file_name, picture.width(), picture.height(), width_, height_));
  }
  constexpr double kFull = 65535.0;
  const double dim = std::pow(least_ / greatest_, 1 / gamma_);
  cv::Mat even(height_, width_, CV_16UC1);
  // The light moves slowly: a gain every 16 px, straight lines between.
  constexpr int kEvery = 16;
  const auto gain = [&](int x, int y) { return dim / std::pow(LightAt(x, y), 1 / gamma_); };
  std::vector<double> upper, lower;
  const auto row_of = [&](int y, std::vector<double>& row) {
    row.clear();
    for (int x = 0; x <= width_ + kEvery; x += kEvery) row.push_back(gain(x, y));
  };
  for (int y = 0; y < height_; ++y) {
    if (y % kEvery == 0) {
      row_of(y, upper);
      row_of(y + kEvery, lower);
    }
    const double down = static_cast<double>(y % kEvery) / kEvery;
    auto* to = even.ptr<std::uint16_t>(y);
    for (int x = 0; x < width_; ++x) {
      const auto cell = static_cast<std::size_t>(x / kEvery);
      const double right = static_cast<double>(x % kEvery) / kEvery;
      const double above = upper[cell] + right * (upper[cell + 1] - upper[cell]);
      const double below = lower[cell] + right * (lower[cell + 1] - lower[cell]);
      const double tone = picture.At(x, y);
      const double value = tone >= 1 ? 1 : tone * (above + down * (below - above));
      to[x] = static_cast<std::uint16_t>(std::lround(kFull * std::clamp(value, 0.0, 1.0)));
    }
  }
  ReadOptions options;
  Micrograph out = MicrographFromPixels(even, 16, picture.file_name, options);
  out.colour = picture.colour;
  out.sha256 = picture.sha256;
  out.file_name = picture.file_name;
  out.embedded = picture.embedded;
  out.taken = picture.taken;
  out.exif_orientation = picture.exif_orientation;
  return out;
}

Result<std::optional<FlatField>> ReadFlatField(const CalibrationRecord& record,
                                               const std::string& record_path, Channel channel) {
  if (record.flat_field_image.empty()) return std::optional<FlatField>();
  if (!record.gamma) {
    return Fail(Code::kCalibrationInvalid,
                fmt::format("calibration {}: names a flat field but no gamma, so light cannot be "
                            "told from tone; give the record a gamma",
                            record.id));
  }
  const std::string path =
      (std::filesystem::path(record_path).parent_path() / record.flat_field_image).string();
  ReadOptions options;
  options.channel = channel;
  auto blank = ReadMicrograph(path, options);
  if (!blank) return tl::unexpected(blank.error());
  if (blank->sha256 != record.flat_field_sha256) {
    return Fail(Code::kCalibrationInvalid,
                fmt::format("{}: is not the flat field that calibration {} was made with (SHA-256 "
                            "differs); restore it or calibrate again",
                            path, record.id));
  }
  auto field = FlatField::FromBlank(*blank, *record.gamma);
  if (!field) return tl::unexpected(field.error());
  return std::optional<FlatField>(std::move(*field));
}

Result<GammaEstimate> GammaFromExposures(const Micrograph& first, const Micrograph& second,
                                         double ratio) {
  if (!(ratio > 1.1 || (ratio > 0 && ratio < 1 / 1.1)))
    return Fail(Code::kUsage, "the ratio of the exposures is too near 1; take one twice as long");
  if (first.tone.size() != second.tone.size())
    return Fail(Code::kUsage, "the pictures of the exposure pair have different sizes");
  // Block means of even blocks only: across an edge a mean of tones is no tone of a mean.
  struct Pair {
    double tone, log_ratio;
  };
  std::vector<Pair> pairs;
  const cv::Mat &a = first.reduced_mean, &b = second.reduced_mean;
  const auto usable = [](const Micrograph& m, int j, int i) {
    const double mean = m.reduced_mean.at<float>(j, i);
    return mean > 0.08 && m.reduced_greatest.at<float>(j, i) < 0.97 &&
           m.reduced_greatest.at<float>(j, i) - m.reduced_least.at<float>(j, i) < 0.25 * mean;
  };
  for (int j = 0; j < a.rows; ++j) {
    for (int i = 0; i < a.cols; ++i) {
      if (!usable(first, j, i) || !usable(second, j, i)) continue;
      const double p = a.at<float>(j, i), q = b.at<float>(j, i);
      pairs.push_back({p, std::log(q / p)});
    }
  }
  const auto wrong = [](const std::string& what) { return Fail(Code::kCalibrationInvalid, what); };
  if (pairs.size() < 200)
    return wrong("the exposure pair has hardly a place that is well exposed in both pictures");
  std::sort(pairs.begin(), pairs.end(),
            [](const Pair& p, const Pair& q) { return p.tone < q.tone; });
  // Tenths by tone: one power gives one ratio at all tones; what differs is the doubt.
  std::vector<double> gammas;
  for (std::size_t tenth = 0; tenth < 10; ++tenth) {
    std::vector<double> logs;
    for (std::size_t k = tenth * pairs.size() / 10; k < (tenth + 1) * pairs.size() / 10; ++k)
      logs.push_back(pairs[k].log_ratio);
    gammas.push_back(std::log(ratio) / MiddleOf(logs));
  }
  GammaEstimate estimate;
  estimate.gamma = MiddleOf(gammas);
  double square = 0;
  for (double g : gammas) square += (g - estimate.gamma) * (g - estimate.gamma);
  // Nominal exposure times are good to a per cent or so (common practice).
  estimate.u = std::hypot(std::sqrt(square / 9), 0.01 * estimate.gamma / std::abs(std::log(ratio)));
  if (!(estimate.gamma > 0.2 && estimate.gamma < 5) || estimate.u > 0.25 * estimate.gamma)
    return wrong(
        "the exposure pair's tones do not follow one power of the light; check the ratio "
        "and that nothing moved");
  return estimate;
}

}  // namespace cutface
