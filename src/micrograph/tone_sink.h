// Takes the picture row by row while it is decoded: keeps the tones and builds the reduced copy, so
// that every pixel is touched once, while its row is still in the cache.
#pragma once

#include <cstdint>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "cutface/micrograph.h"

namespace cutface {

// Sides beyond this come only from damaged headers (and keep index arithmetic inside int).
inline constexpr std::int64_t kMaxSidePx = 1'000'000;

// Is the picture small enough? To be asked before anything is allocated. Errors: kImageTooLarge,
// kImageDamaged (a side of zero).
Status CheckImageSize(const std::string& name, std::int64_t width, std::int64_t height,
                      const ReadOptions& options);

class ToneSink {
 public:
  // REQUIRES: CheckImageSize() is content; bits from 1 to 16. Allocates.
  ToneSink(int width, int height, int bits, int reduced_pixels);
  // Around tones that are in memory already.
  ToneSink(cv::Mat tone, int bits, int reduced_pixels);

  int width() const { return tone_.cols; }
  int height() const { return tone_.rows; }
  bool deep() const { return tone_.depth() == CV_16U; }
  // Where row y belongs: width() values of uint8 or (deep()) uint16.
  void* Row(int y) { return tone_.ptr(y); }
  // Row y is complete. REQUIRES: called once for each row, in order.
  void RowDone(int y);
  // Hands tones and reduced copy over. REQUIRES: all rows are done.
  void Finish(Micrograph& out);

 private:
  template <class T, class Sum>
  void Add(const T* row, bool first);
  template <class T, class Sum>
  void CloseBlocks(int y);
  template <class T, class Sum>
  void Take(int y);
  void Start(int reduced_pixels);
  void KeepBitsThatAreUsed();

  cv::Mat tone_, mean_, least_, greatest_;
  int bits_ = 8;
  int reduction_ = 1;
  int next_row_ = 0;
  // Per column of the picture, over the rows of the present block: sums, extremes. Raw storage,
  // used as 8, 16 or 32 bit numbers as the picture needs (narrow ones go through the vector units
  // faster).
  std::vector<std::byte> sums_, leasts_, greatests_;
};

}  // namespace cutface
