// Image bytes of any format. The first byte chooses the channel (its low bits) and whether
// checksums of PNG chunks are put right first (its top bit: or no change would get past them); the
// rest is the file.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/micrograph.h"

namespace {

std::uint32_t Crc32(const std::byte* bytes, std::size_t count) {
  std::uint32_t crc = 0xffffffff;
  for (std::size_t i = 0; i < count; ++i) {
    crc ^= static_cast<std::uint8_t>(bytes[i]);
    for (int bit = 0; bit < 8; ++bit) crc = crc & 1 ? 0xedb88320u ^ (crc >> 1) : crc >> 1;
  }
  return ~crc;
}

void PutChecksumsRight(std::byte* png, std::size_t size) {
  std::size_t at = 8;
  while (size >= 12 && at <= size - 12) {
    std::size_t length = 0;
    for (std::size_t i = 0; i < 4; ++i)
      length = length << 8 | static_cast<std::uint8_t>(png[at + i]);
    if (length > size - 12 - at) return;
    const std::uint32_t crc = Crc32(png + at + 4, length + 4);
    for (std::size_t i = 0; i < 4; ++i) {
      png[at + 8 + length + i] = static_cast<std::byte>(crc >> (24 - 8 * i));
    }
    at += 12 + length;
  }
}

}  // namespace

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
  if (data[0] & 0x80) PutChecksumsRight(copy.get(), length);
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
