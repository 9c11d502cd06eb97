// Pieces of BuildDisplayList, one topic each; every function appends items.
#pragma once

#include <string>
#include <vector>

#include "cutface/picture.h"

namespace cutface {

// How a contour is drawn, and what the legend calls that; "" leaves it out of the legend.
struct Stroke {
  Ink ink = Ink::kNeutral;
  LineStyle style = LineStyle::kSolid;
  double weight = 1;
  std::string key;
};
// Bridged stretches are dotted, what the frame cut off is not drawn. marks.cpp.
void AddTraced(DisplayList& list, const TracedContour& contour, const Stroke& stroke,
               const std::string& feature);
void AddItem(DisplayList& list, DisplayItem::Kind kind, const Stroke& stroke, ContourUm points,
             const std::string& feature);

void AddContours(const SectionResult& result, DisplayList& list);
// Liners, wires, fibres, voids and their like, a class each. marks.cpp.
void AddLiners(const SectionResult& result, DisplayList& list);
void AddWires(const SectionResult& result, DisplayList& list);
void AddFibres(const SectionResult& result, DisplayList& list);
void AddVoids(const SectionResult& result, DisplayList& list);
// Few names: of rings, of each hand's first wire, of every fifth turn lengthwise, of fibres.
void AddLayerNames(const SectionResult& result, DisplayList& list);
// Twelve ticks of the datum frame outside the outline, 12 3 6 9 in figures. Nothing without an
// outline.
void AddClock(const SectionResult& result, DisplayList& list);
void AddLumenNames(const SectionResult& result, DisplayList& list);
// Least septa and walls: every one that a row asks for, and each lumen's own least.
void AddLigaments(const SectionResult& result, DisplayList& list);
// Ways through voids that are shorter than the direct solid: their ligaments, with the sum.
void AddBarriers(const SectionResult& result, DisplayList& list);
void AddFindings(const SectionResult& result, DisplayList& list);
void AddCaption(const SectionResult& result, DisplayList& list);
// Part, sample, picture, scale: the first lines of every caption.
void AddIdentities(const SectionResult& result, std::vector<std::string>& lines);

// The most usual cause of each kind of finding with its check, for the panel.
std::vector<std::string> HintLines(const SectionResult& result);

// "scope|wash": the feature of an item that belongs to several names.
std::string FeatureKey(const std::vector<std::string>& of);

// What the panel shows under a heading, from caption lines.
struct CaptionBlock {
  std::string heading;
  std::vector<std::pair<std::string, std::string>> lines;  // label (may be "") and text
};
std::vector<CaptionBlock> CaptionBlocks(const std::vector<std::string>& caption);

}  // namespace cutface
