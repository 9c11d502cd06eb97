// The result file (*.result.json): writing, reading, checking.
// Keywords: result.json, schema, save, load.
#pragma once

#include <string>
#include <string_view>

#include "cutface/section.h"

namespace cutface {

std::string ResultToJson(const SectionResult& result);
// Unknown keys are warnings (collected in the result). Errors: kJsonSyntax, kJsonMissingKey, kJsonValue.
Result<SectionResult> ParseResult(std::string_view text, const std::string& name);
Result<SectionResult> ReadResult(const std::string& path);
Status WriteResult(const std::string& path, const SectionResult& result);

}  // namespace cutface
