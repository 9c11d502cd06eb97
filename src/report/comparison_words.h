// What the comparison's HTML and PDF share: cells of its tables.
#pragma once

#include <string>
#include <vector>

#include "cutface/compare.h"

namespace cutface {

// "Shown" words with a sign besides, so that no colour is needed.
std::string AnswerText(RowAnswer answer);
// Titles and cells of the table of rows.
const std::vector<std::string>& RowTitles();
std::vector<std::string> RowCells(const RowStudy& study);
// Label and value of what stands under a row's plots.
std::vector<std::pair<std::string, std::string>> RowPairs(const RowStudy& study);
std::string RowName(const RunRow& row);  // "8 septum, scope and wash (extrusion)"
std::string FaceName(const MeanFace& face);

}  // namespace cutface
