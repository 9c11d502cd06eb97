#pragma once

#include <functional>

#include "report/internal.h"

namespace cutface {

// Loads the picture of a face of the sheet; called once a face, in order.
using FaceSource = std::function<Result<const FacePicture*>(std::size_t face)>;

// The whole PDF file. Errors: those of `source`; kInternal.
Result<std::vector<std::byte>> RenderPdf(const ReportInput& input, const Sheet& sheet,
                                         const FaceSource& source);

}  // namespace cutface
