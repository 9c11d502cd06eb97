// Picks the one channel that is kept out of one row of samples as a file stores them.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "cutface/micrograph.h"

namespace cutface {

// How one row lies in memory: pixels side by side, samples of a pixel side by side, bits of a byte
// from the top down, 16-bit samples in the machine's order.
struct RowLayout {
  int bits = 8;     // per sample: 1 to 8, 12 (packed) or 16
  int samples = 1;  // per pixel
  // Which sample is red, green, blue; grey: all three are sample 0.
  std::array<int, 3> rgb = {0, 0, 0};
  bool invert = false;               // 0 is white
  std::vector<std::uint8_t> lookup;  // palette index -> tone; empty without palette
};

// Weights of red, green, blue in luminance, in 1/65536: ITU-R BT.601, as JPEG's Y.
inline constexpr std::array<std::uint32_t, 3> kLuminanceWeights = {19595, 38470, 7471};

// One colour's tone in the chosen channel.
std::uint8_t ToneOf(std::uint8_t red, std::uint8_t green, std::uint8_t blue, Channel channel);

class RowPicker {
 public:
  RowPicker(RowLayout layout, Channel channel);
  // Picked tones have 16 bits when samples have more than 8, else 8 (1 bit becomes 0 and 255).
  bool deep() const { return layout_.bits > 8; }
  std::size_t RowBytes(int count) const {
    return (static_cast<std::size_t>(count) * layout_.samples * layout_.bits + 7) / 8;
  }
  // The row is tones already, byte for byte: decode straight to its place.
  bool plain() const { return plain_; }
  // REQUIRES: `in` holds RowBytes(count) bytes, `out` count tones.
  void Pick(const std::byte* in, int count, void* out) const;

 private:
  template <class T>
  void PickWide(const T* in, int count, T* out) const;
  void PickPacked(const std::uint8_t* in, int count, void* out) const;

  RowLayout layout_;
  Channel channel_;
  int kept_ = 0;  // sample that is kept; -1: weighted sum of three
  bool plain_ = false;
};

}  // namespace cutface
