// What a file says beside its pixels: a scale, a time, an orientation.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "cutface/micrograph.h"

namespace cutface {

// A density tag as a scale: `per_unit_x` pixels in `unit_um` micrometres. nullopt when it is none:
// not positive, exactly one pixel a unit (what writers leave when nobody set it), or a default of
// screens and printers in both directions.
std::optional<EmbeddedScale> ScaleFromDensity(double per_unit_x, double per_unit_y, double unit_um,
                                              std::string source);

// The picture size of OME-XML (an open standard for microscope images) in an image description:
// PhysicalSizeX/Y with their units, and SignificantBits. Zero or nullopt: not said.
struct OmeTags {
  std::optional<EmbeddedScale> scale;
  int significant_bits = 0;
};
OmeTags ReadOmeXml(std::string_view description);

// "2026:03:02 09:15:00" as "2026-03-02T09:15:00", with `offset` ("+01:00") behind it when it is
// one; "" when it is no time (EXIF writes blanks or zeros for unknown).
std::string IsoFromExifTime(std::string_view time, std::string_view offset = {});

// Orientation and time of capture out of an EXIF block (with or without its "Exif\0\0" head).
// What cannot be read is left as it was: EXIF never makes a picture unreadable.
void ReadExif(std::span<const std::byte> block, Micrograph& out);

}  // namespace cutface
