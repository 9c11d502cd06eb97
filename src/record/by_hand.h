// What people did to a result by hand, read from its file: corrections and asked edges. Internal to
// the room.
#pragma once

#include <string>
#include <vector>

#include "cutface/correction.h"
#include "cutface/section.h"
#include "record/node.h"

namespace cutface {

Correction ReadCorrection(const Json& value, const std::string& path, Reading& reading);
// Key "edges" of an asked figure; one or two, else the reading fails.
std::vector<AskedEdge> ReadAskedEdges(const Node& asked, Reading& reading);

}  // namespace cutface
