// Tables and triggers of a store.
#pragma once

#include <vector>

namespace cutface {

// One statement each, in order.
std::vector<const char*> SchemaStatements(bool postgres);

}  // namespace cutface
