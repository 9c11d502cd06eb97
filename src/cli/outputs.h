// Where results go, and whether they may.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/section.h"

namespace cutface {

struct OutputPaths {
  std::string result;   // DIR/STEM.result.json
  std::string picture;  // DIR/STEM.png
  std::string drawing;  // DIR/STEM.svg, or "" when none was asked for
  std::string edges;    // DIR/STEM.edges.png, or ""
  std::string pressed;  // DIR/STEM.pressure.png, or ""
};
OutputPaths PathsFor(const std::string& image, const std::string& folder, bool with_svg = false,
                     bool with_edges = false, bool with_pressure = false);
// The same from BASE, a path without ending.
OutputPaths PathsOfBase(const std::string& base, bool with_svg, bool with_edges,
                        bool with_pressure);

// Two images of one call that would write the same files. Errors: kUsage.
Status CheckStems(const std::vector<std::string>& images);

// Makes the folder when it is missing. Errors: kFileUnwritable.
Status MakeFolder(const std::string& folder);

// Files that are there already must be this program's own: a result file by its format, a picture
// by the mark that MarkedPicture leaves. This also keeps an input picture from being overwritten.
// Errors: kUsage.
Status CheckOverwriting(const OutputPaths& paths);

// The PNG with a text chunk that says who wrote it (ISO/IEC 15948, tEXt "Software").
std::vector<std::byte> MarkedPicture(std::span<const std::byte> png, const std::string& software);
bool IsMarkedPicture(std::span<const std::byte> png);
// An SVG file whose second line says that this program wrote it.
bool IsMarkedDrawing(std::string_view svg);

struct Drawn {
  std::vector<std::byte> png;
  std::string svg;
  std::vector<std::byte> edges;
  std::vector<std::byte> pressed;
};
// Pictures first, result last: a result file is only there when everything is. What `paths` has no
// place for is not written. Errors: kFileUnwritable; then nothing new is left behind.
Status WriteOutputs(const OutputPaths& paths, const Drawn& drawn, const SectionResult& result);

}  // namespace cutface
