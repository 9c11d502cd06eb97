// Image bytes of any format. The first byte chooses the channel, the rest is the file.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/micrograph.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  if (size == 0) return 0;
  ReadOptions options;
  options.channel = static_cast<Channel>(data[0] % 4);
  // Small enough that the time goes into odd files and not into large ones.
  options.max_pixels = 1'000'000;
  options.reduced_pixels = 1000;
  // Exactly as long as the file: each byte read too far is seen.
  const std::size_t length = size - 1;
  const std::unique_ptr<std::byte[]> copy(new std::byte[length]);
  std::memcpy(copy.get(), data + 1, length);
  const auto m = DecodeMicrograph({copy.get(), length}, "fuzz", options);
  if (!m) {
    CF_CHECK(!m.error().message.empty());
    CF_CHECK(m.error().message.find('\n') == std::string::npos);
    CF_CHECK(m.error().code != Code::kInternal);
    return 0;
  }
  // What a picture promises.
  CF_CHECK(m->width() > 0 && m->height() > 0 && m->bits >= 8 && m->bits <= 16);
  CF_CHECK(m->tone.type() == (m->bits <= 8 ? CV_8UC1 : CV_16UC1));
  CF_CHECK(m->exif_orientation >= 1 && m->exif_orientation <= 8);
  CF_CHECK(!m->embedded || (m->embedded->pitch_x_um > 0 && m->embedded->pitch_y_um > 0));
  for (int y = 0; y < m->reduced_mean.rows; ++y) {
    for (int x = 0; x < m->reduced_mean.cols; ++x) {
      const float least = m->reduced_least.at<float>(y, x);
      const float mean = m->reduced_mean.at<float>(y, x);
      const float greatest = m->reduced_greatest.at<float>(y, x);
      CF_CHECK(0 <= least && least <= mean + 1e-6f && mean <= greatest + 1e-6f && greatest <= 1);
    }
  }
  return 0;
}
