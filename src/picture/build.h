// Pieces of BuildDisplayList, one topic each; every function appends items.
#pragma once

#include <string>
#include <vector>

#include "cutface/picture.h"

namespace cutface {

void AddContours(const SectionResult& result, DisplayList& list);
// Twelve ticks of the datum frame outside the outline, 12 3 6 9 in figures. Nothing without an
// outline.
void AddClock(const SectionResult& result, DisplayList& list);
void AddLumenNames(const SectionResult& result, DisplayList& list);
// Least septa and walls: every one that a row asks for, and each lumen's own least.
void AddLigaments(const SectionResult& result, DisplayList& list);
void AddFindings(const SectionResult& result, DisplayList& list);
void AddCaption(const SectionResult& result, DisplayList& list);
// Part, sample, picture, scale: the first lines of every caption.
void AddIdentities(const SectionResult& result, std::vector<std::string>& lines);

// "scope|wash": the feature of an item that belongs to several names.
std::string FeatureKey(const std::vector<std::string>& of);

// What the panel shows under a heading, from caption lines.
struct CaptionBlock {
  std::string heading;
  std::vector<std::pair<std::string, std::string>> lines;  // label (may be "") and text
};
std::vector<CaptionBlock> CaptionBlocks(const std::vector<std::string>& caption);

}  // namespace cutface
