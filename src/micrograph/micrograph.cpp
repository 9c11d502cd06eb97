#include "cutface/micrograph.h"

#include "micrograph/tone_sink.h"

namespace cutface {

Micrograph MicrographFromPixels(cv::Mat tone, int bits, const std::string& name,
                                const ReadOptions& options) {
  CF_CHECK(!tone.empty() && (tone.type() == CV_8UC1 || tone.type() == CV_16UC1));
  if (!tone.isContinuous()) tone = tone.clone();
  Micrograph out;
  out.file_name = name;
  out.sha256 = Sha256Hex(std::as_bytes(std::span(tone.data, tone.total() * tone.elemSize())));
  ToneSink sink(std::move(tone), bits, options.reduced_pixels);
  for (int y = 0; y < sink.height(); ++y) sink.RowDone(y);
  sink.Finish(out);
  return out;
}

}  // namespace cutface
