#include "micrograph/readers.h"

namespace cutface {

Status ReadTiff(Bytes, const std::string& name, const ReadOptions&, Micrograph&) {
  return FailFormat(name, "is a Tiff file, which is not read yet");
}

}  // namespace cutface
