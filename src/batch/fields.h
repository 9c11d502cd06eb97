// The words of a manifest's columns and of a pattern's fields, and what they may hold. Internal.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "cutface/batch.h"

namespace cutface {

// Every column but factor:NAME, in the order in which a proposal lists them.
const std::vector<std::string_view>& ManifestColumns();

// The column's own word for a head as typed: small letters, blanks for '_' and '-' ("Re-image_of"
// is "reimage of"); "factor:NAME" keeps its name. "" when there is no such column.
std::string ColumnWord(std::string_view head);

// Puts a value where it belongs. Returns what is wrong with it, or "". REQUIRES: a word of
// ColumnWord.
std::string SetField(ManifestRow& row, std::string_view word, const std::string& value);

}  // namespace cutface
