// Words of the result file and back; internal to the room.
#pragma once

#include <optional>
#include <string_view>

#include "cutface/section.h"

namespace cutface {

std::string_view VertexStateName(VertexState state);
std::string_view MeasurementStateName(Measurement::State state);

std::optional<VertexState> ParseVertexState(std::string_view word);
std::optional<Measurement::State> ParseMeasurementState(std::string_view word);
std::optional<LumenState> ParseLumenState(std::string_view word);
std::optional<WireState> ParseWireState(std::string_view word);
std::optional<StretchKind> ParseStretchKind(std::string_view word);
std::optional<VoidClass> ParseVoidClass(std::string_view word);
std::optional<Verdict> ParseVerdict(std::string_view word);
std::optional<Severity> ParseSeverity(std::string_view word);

}  // namespace cutface
