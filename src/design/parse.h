// Pieces of the drawing's parser; internal to the room.
#pragma once

#include "cutface/design.h"
#include "design/json_io.h"

namespace cutface {

struct ParseContext {
  double um_per_unit = 1000;
  JsonTrouble& trouble;

  double Um(double drawn) const { return drawn * um_per_unit; }
};

// The shape among the keys of `owner` (exactly one of circle, ellipse, rectangle, path), flattened.
Shape ReadShape(JsonObject& owner, const ParseContext& context);

// Keys of a section plane.
std::vector<std::string_view> SectionKeys();

// One section plane whose `like` is already resolved. `path` is "sections.NAME".
SectionDesign ReadSection(const std::string& name, const Json& value, const std::string& path,
                          const ParseContext& context);

// The numbered rows; needs the section's names, so it comes last.
void ReadCharacteristics(JsonObject& section_object, SectionDesign& section,
                         const ParseContext& context);

// What the drawing says must be possible: nesting, overlaps, names, datum. Adds kDesignInvalid.
void CheckSection(const SectionDesign& section, const std::string& path,
                  const ParseContext& context);

// Every name that a characteristic can be `of`.
std::vector<std::string> NamesOf(const SectionDesign& section);

}  // namespace cutface
