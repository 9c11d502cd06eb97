// The demo's first-article folder: 24 faces of six parts, with their manifest.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "cutface/phantom.h"

namespace cutface {

struct ArticleFace {
  PhantomOrder order;
  std::uint64_t seed = 0;
  std::string section;
  std::string row;  // of the manifest, without the image
};

inline constexpr const char* kArticleHead =
    "image,part,revision,serial,lot,plane,face,taken,operator,trial,objective,reimage of,recut of,"
    "factor:mandrels,remark\r\n";

// `pitch_um` and `hub_pitch_um` are the true ones; with the records' beside them.
std::vector<ArticleFace> FirstArticle(double pitch_um, double record_pitch_um, double hub_pitch_um,
                                      double hub_record_pitch_um);

}  // namespace cutface
