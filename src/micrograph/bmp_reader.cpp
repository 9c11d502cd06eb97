#include "micrograph/readers.h"

namespace cutface {

Status ReadBmp(Bytes, const std::string& name, const ReadOptions&, Micrograph&) {
  return FailFormat(name, "is a Bmp file, which is not read yet");
}

}  // namespace cutface
