// Calibration records. What is accepted must survive writing, reading again, and use.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/scale.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const auto record = ParseCalibration({copy.get(), size}, "fuzz");
  if (!record) {
    CF_CHECK(!record.error().message.empty());
    return 0;
  }
  const std::string text = CalibrationToJson(*record);
  const auto again = ParseCalibration(text, "again");
  CF_CHECK(again.has_value());
  CF_CHECK(CalibrationToJson(*again) == text);

  std::vector<std::string> warnings;
  const auto fits = CheckCalibration(*record, record->image_width_px, record->image_height_px,
                                     std::pair{2.0, 2.0}, {.taken = "2026-03-02"}, warnings);
  CF_CHECK(fits || !fits.error().message.empty());
  const auto scale = Scale::FromRecord(*record);
  if (!scale) return 0;
  for (const PointPx p :
       {PointPx{0, 0}, PointPx{record->image_width_px - 1.0, record->image_height_px - 1.0}}) {
    const PointPx back = scale->ToPx(scale->ToUm(p));
    // Relative to the size of the numbers in between (a centre far outside costs digits).
    CF_CHECK(Distance(back, p) <= 1e-9 * (1 + Norm(p) + Norm(record->distortion_centre)));
  }
  return 0;
}
