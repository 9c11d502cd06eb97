#include "micrograph/readers.h"

namespace cutface {

Status ReadJpeg(Bytes, const std::string& name, const ReadOptions&, Micrograph&) {
  return FailFormat(name, "is a Jpeg file, which is not read yet");
}

}  // namespace cutface
