#include "micrograph/tone_sink.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace cutface {
namespace {

// Sums of 8-bit tones fit 16 bits up to this block edge.
constexpr int kNarrowSumRows = 257;
constexpr int kCameraBits[] = {14, 12, 10};  // of cameras, beside 8 and 16

// Smallest whole block edge that leaves at most `reduced_pixels` blocks (not counting the cut
// blocks at the right and lower border).
int Reduction(int width, int height, int reduced_pixels) {
  const double pixels = static_cast<double>(width) * height;
  const double wanted = std::max(reduced_pixels, 1);
  int r = std::max(1, static_cast<int>(std::sqrt(pixels / wanted)));
  while (pixels > wanted * r * r) ++r;
  while (r > 1 && pixels <= wanted * (r - 1.0) * (r - 1.0)) --r;
  return r;
}

}  // namespace

Status CheckImageSize(const std::string& name, std::int64_t width, std::int64_t height,
                      const ReadOptions& options) {
  if (width < 1 || height < 1) {
    return Fail(
        Code::kImageDamaged,
        fmt::format("{}: says it is {} x {} px; save the picture again", name, width, height));
  }
  // Sides first: their product then cannot overflow.
  if (width > kMaxSidePx || height > kMaxSidePx || width * height > options.max_pixels) {
    return Fail(
        Code::kImageTooLarge,
        fmt::format("{}: {} x {} px, more than the {} pixels allowed; cut the picture to the face",
                    name, width, height, options.max_pixels));
  }
  return {};
}

ToneSink::ToneSink(int width, int height, int bits, int reduced_pixels)
    : tone_(height, width, bits <= 8 ? CV_8UC1 : CV_16UC1), bits_(std::max(bits, 8)) {
  Start(reduced_pixels);
}

ToneSink::ToneSink(cv::Mat tone, int bits, int reduced_pixels)
    : tone_(std::move(tone)), bits_(std::max(bits, 8)) {
  Start(reduced_pixels);
}

void ToneSink::Start(int reduced_pixels) {
  CF_CHECK(bits_ <= 16 && (bits_ > 8) == deep());
  reduction_ = Reduction(width(), height(), reduced_pixels);
  const int blocks_x = (width() + reduction_ - 1) / reduction_;
  const int blocks_y = (height() + reduction_ - 1) / reduction_;
  mean_.create(blocks_y, blocks_x, CV_32FC1);
  least_.create(blocks_y, blocks_x, CV_32FC1);
  greatest_.create(blocks_y, blocks_x, CV_32FC1);
  const auto columns = static_cast<std::size_t>(width());
  sums_.resize(columns * sizeof(std::uint32_t));
  leasts_.resize(columns * sizeof(std::uint16_t));
  greatests_.resize(columns * sizeof(std::uint16_t));
}

template <class T, class Sum>
void ToneSink::Add(const T* __restrict row, bool first) {
  Sum* __restrict sum = reinterpret_cast<Sum*>(sums_.data());
  T* __restrict least = reinterpret_cast<T*>(leasts_.data());
  T* __restrict greatest = reinterpret_cast<T*>(greatests_.data());
  const int n = width();
  if (first) {
    for (int x = 0; x < n; ++x) sum[x] = row[x];
    std::copy(row, row + n, least);
    std::copy(row, row + n, greatest);
    return;
  }
  for (int x = 0; x < n; ++x) {
    sum[x] = static_cast<Sum>(sum[x] + row[x]);
    least[x] = std::min(least[x], row[x]);
    greatest[x] = std::max(greatest[x], row[x]);
  }
}

template <class T, class Sum>
void ToneSink::CloseBlocks(int y) {
  const Sum* sum = reinterpret_cast<const Sum*>(sums_.data());
  const T* least = reinterpret_cast<const T*>(leasts_.data());
  const T* greatest = reinterpret_cast<const T*>(greatests_.data());
  const int block_y = y / reduction_;
  const int rows = y % reduction_ + 1;
  float* mean_out = mean_.ptr<float>(block_y);
  float* least_out = least_.ptr<float>(block_y);
  float* greatest_out = greatest_.ptr<float>(block_y);
  const double full = (1 << bits_) - 1;
  if (reduction_ == 1) {
    // Small pictures: a block is a pixel, all three are its tone.
    for (int x = 0; x < width(); ++x) mean_out[x] = static_cast<float>(sum[x] / full);
    std::copy(mean_out, mean_out + width(), least_out);
    std::copy(mean_out, mean_out + width(), greatest_out);
    return;
  }
  for (int block = 0; block < mean_.cols; ++block) {
    const int from = block * reduction_;
    const int to = std::min(from + reduction_, width());
    std::uint64_t total = 0;
    T low = least[from], high = greatest[from];
    for (int x = from; x < to; ++x) {
      total += sum[x];
      low = std::min(low, least[x]);
      high = std::max(high, greatest[x]);
    }
    const double pixels = static_cast<double>(rows) * (to - from);
    mean_out[block] = static_cast<float>(static_cast<double>(total) / (pixels * full));
    least_out[block] = static_cast<float>(low / full);
    greatest_out[block] = static_cast<float>(high / full);
  }
}

template <class T, class Sum>
void ToneSink::Take(int y) {
  Add<T, Sum>(tone_.ptr<T>(y), y % reduction_ == 0);
  if (y % reduction_ == reduction_ - 1 || y == height() - 1) CloseBlocks<T, Sum>(y);
}

void ToneSink::RowDone(int y) {
  CF_CHECK(y == next_row_);
  ++next_row_;
  if (deep()) {
    Take<std::uint16_t, std::uint32_t>(y);
  } else if (reduction_ <= kNarrowSumRows) {
    Take<std::uint8_t, std::uint16_t>(y);
  } else {
    Take<std::uint8_t, std::uint32_t>(y);
  }
}

// A tag that promises fewer bits than the pixels use is wrong, and the pixels are right. Without a
// tag a camera of 10, 12 or 14 bits shows in tones that never leave its scale.
void ToneSink::KeepBitsThatAreUsed() {
  double share = 0;
  for (int y = 0; y < greatest_.rows; ++y) {
    const float* row = greatest_.ptr<float>(y);
    share = std::max(share, static_cast<double>(*std::max_element(row, row + greatest_.cols)));
  }
  const auto scale = [](int bits) { return static_cast<double>((1 << bits) - 1); };
  const double greatest = std::round(share * scale(bits_));
  if (greatest < 1 || (bits_ < 16 && greatest <= scale(bits_))) return;
  int bits = 16;
  for (const int fewer : kCameraBits) {
    if (bits_ == 16 && greatest <= scale(fewer)) bits = fewer;
  }
  if (bits == bits_) return;
  for (cv::Mat* mat : {&mean_, &least_, &greatest_})
    mat->convertTo(*mat, CV_32F, scale(bits_) / scale(bits));
  bits_ = bits;
}

void ToneSink::Finish(Micrograph& out) {
  CF_CHECK(next_row_ == height());
  if (deep()) KeepBitsThatAreUsed();
  out.tone = tone_;
  out.bits = bits_;
  out.reduced_mean = mean_;
  out.reduced_least = least_;
  out.reduced_greatest = greatest_;
  out.reduction = reduction_;
}

}  // namespace cutface
