// From a section of a design to a built part; shared by faces to order and the built sets.
#pragma once

#include <optional>
#include <string>

#include "cutface/design.h"
#include "phantom/as_built.h"
#include "phantom/families.h"
#include "phantom/inserts.h"

namespace cutface::phantom {

// The core with its lumens, in px; without rings the whole face.
Nominal NominalOf(const SectionDesign& section, const std::string& family, double pitch_um);
bool IsBuiltUp(const SectionDesign& section, const InsertRecipe& inserts);

// nullopt when what is asked for does not fit. A section that is not built up takes exactly the
// draws of Build.
std::optional<BuiltPart> BuildSection(const SectionDesign& section, const Nominal& core,
                                      const BuildRecipe& recipe, const InsertRecipe& inserts,
                                      double pitch_um, Random& random);

}  // namespace cutface::phantom
