// The result file (*.result.json): writing, reading, checking.
// Keywords: result.json, schema, save, load.
#pragma once

#include <string>
#include <string_view>

#include "cutface/section.h"

namespace cutface {

// Form: design.md section 3, with a few keys more (src/data/result.schema.json documents them all).
// Coordinates are rounded to 1e-3 um, values to 9 significant digits; same result, same bytes.
// Normals of contours are not stored: the reader takes them from the neighbouring edges.
// Errors: kInternal when a number is not finite (a defect of the program; it names the place).
Result<std::string> TryResultToJson(const SectionResult& result);
// REQUIRES: finite numbers only; else it aborts as a broken invariant.
std::string ResultToJson(const SectionResult& result);
// Unknown keys are warnings (collected in the result). Errors: kJsonSyntax, kJsonMissingKey,
// kJsonValue, each with the key's path. `name` appears in messages.
Result<SectionResult> ParseResult(std::string_view text, const std::string& name);
// The same without contours, measurements and findings, some ten times as fast: identities,
// placement, characteristics, verdict. What is left out is not checked.
Result<SectionResult> SkimResult(std::string_view text, const std::string& name);
// As ParseResult, and kFileMissing, kFileUnreadable, kImageTooLarge (beyond 256 MB).
Result<SectionResult> ReadResult(const std::string& path);
// Whole or not at all. Errors: kFileUnwritable, kInternal as above.
Status WriteResult(const std::string& path, const SectionResult& result);

}  // namespace cutface
