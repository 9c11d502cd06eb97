#include "micrograph/rows.h"

#include <algorithm>
#include <cstring>
#include <utility>

namespace cutface {
namespace {

std::uint32_t Luminance(std::uint32_t red, std::uint32_t green, std::uint32_t blue) {
  // Weights sum to 65536, so 16-bit samples just fit 32 bits.
  return (red * kLuminanceWeights[0] + green * kLuminanceWeights[1] + blue * kLuminanceWeights[2] +
          32768u) >>
         16;
}

// A constant stride lets the compiler unroll; pixels have 1 to 4 samples in all common files.
template <int kStride, class T>
void CopyStrided(const T* __restrict in, int count, T* __restrict out) {
  for (int x = 0; x < count; ++x) out[x] = in[static_cast<std::ptrdiff_t>(x) * kStride];
}

}  // namespace

std::uint8_t ToneOf(std::uint8_t red, std::uint8_t green, std::uint8_t blue, Channel channel) {
  switch (channel) {
    case Channel::kRed:
      return red;
    case Channel::kGreen:
      return green;
    case Channel::kBlue:
      return blue;
    case Channel::kLuminance:
      break;
  }
  return static_cast<std::uint8_t>(Luminance(red, green, blue));
}

RowPicker::RowPicker(RowLayout layout, Channel channel)
    : layout_(std::move(layout)), channel_(channel) {
  const auto [red, green, blue] = layout_.rgb;
  CF_CHECK(layout_.samples >= 1 && std::max({red, green, blue}) < layout_.samples);
  CF_CHECK(layout_.bits <= 8 || layout_.bits == 12 || layout_.bits == 16);
  switch (channel_) {
    case Channel::kRed:
      kept_ = red;
      break;
    case Channel::kGreen:
      kept_ = green;
      break;
    case Channel::kBlue:
      kept_ = blue;
      break;
    case Channel::kLuminance:
      kept_ = red == green && green == blue ? red : -1;
      break;
  }
  if (layout_.lookup.empty() && layout_.bits < 8) {
    // Stretch to the full scale of 8 bits: 2^n - 1 divides 255 for n = 1, 2, 4.
    const int greatest = (1 << layout_.bits) - 1;
    for (int i = 0; i <= greatest; ++i) {
      layout_.lookup.push_back(static_cast<std::uint8_t>((i * 255 + greatest / 2) / greatest));
    }
  }
  plain_ = (layout_.bits == 8 || layout_.bits == 16) && layout_.samples == 1 && !layout_.invert &&
           layout_.lookup.empty();
  if (layout_.bits <= 8 && !layout_.lookup.empty()) layout_.lookup.resize(256, 0);
}

template <class T>
void RowPicker::PickWide(const T* in, int count, T* out) const {
  const int stride = layout_.samples;
  if (kept_ < 0) {
    const auto [red, green, blue] = layout_.rgb;
    for (int x = 0; x < count; ++x, in += stride) {
      out[x] = static_cast<T>(Luminance(in[red], in[green], in[blue]));
    }
  } else {
    in += kept_;
    switch (stride) {
      case 1:
        std::memcpy(out, in, static_cast<std::size_t>(count) * sizeof(T));
        break;
      case 2:
        CopyStrided<2>(in, count, out);
        break;
      case 3:
        CopyStrided<3>(in, count, out);
        break;
      case 4:
        CopyStrided<4>(in, count, out);
        break;
      default:
        for (int x = 0; x < count; ++x) out[x] = in[static_cast<std::ptrdiff_t>(x) * stride];
    }
  }
  if (layout_.invert) {
    for (int x = 0; x < count; ++x) out[x] = static_cast<T>(~out[x]);
  }
}

// Samples that straddle bytes, one after the other.
void RowPicker::PickPacked(const std::uint8_t* in, int count, void* out) const {
  const auto bits = static_cast<std::size_t>(layout_.bits);
  const std::uint32_t mask = (1u << bits) - 1u;
  const std::uint32_t flip = layout_.invert ? mask : 0u;
  const auto sample = [&](std::size_t index) {
    const std::size_t first = index * bits;
    std::size_t byte = first / 8;
    std::size_t have = 8 - first % 8;
    std::uint32_t value = in[byte];
    for (; have < bits; have += 8) value = (value << 8) | in[++byte];
    return ((value >> (have - bits)) & mask) ^ flip;
  };
  const auto stride = static_cast<std::size_t>(layout_.samples);
  const auto [red, green, blue] = layout_.rgb;
  for (int x = 0; x < count; ++x) {
    const std::size_t at = static_cast<std::size_t>(x) * stride;
    const std::uint32_t value =
        kept_ >= 0 ? sample(at + kept_)
                   : Luminance(sample(at + red), sample(at + green), sample(at + blue));
    if (deep())
      static_cast<std::uint16_t*>(out)[x] = static_cast<std::uint16_t>(value);
    else
      static_cast<std::uint8_t*>(out)[x] = layout_.lookup[value];
  }
}

void RowPicker::Pick(const std::byte* in, int count, void* out) const {
  if (layout_.bits == 16) {
    PickWide(reinterpret_cast<const std::uint16_t*>(in), count, static_cast<std::uint16_t*>(out));
  } else if (layout_.bits == 8 && layout_.lookup.empty()) {
    PickWide(reinterpret_cast<const std::uint8_t*>(in), count, static_cast<std::uint8_t*>(out));
  } else if (layout_.bits == 8) {
    auto* tones = static_cast<std::uint8_t*>(out);
    PickWide(reinterpret_cast<const std::uint8_t*>(in), count, tones);
    for (int x = 0; x < count; ++x) tones[x] = layout_.lookup[tones[x]];
  } else {
    PickPacked(reinterpret_cast<const std::uint8_t*>(in), count, out);
  }
}

}  // namespace cutface
