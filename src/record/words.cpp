#include "record/words.h"

namespace cutface {
namespace {

// The name functions are the only list of words: reading walks the values and asks for their names.
template <class Enum>
std::optional<Enum> Parse(std::string_view word, std::string_view (*name)(Enum), Enum last) {
  for (int i = 0; i <= static_cast<int>(last); ++i) {
    if (name(static_cast<Enum>(i)) == word) return static_cast<Enum>(i);
  }
  return std::nullopt;
}

}  // namespace

std::string_view VertexStateName(VertexState state) {
  switch (state) {
    case VertexState::kMeasured:
      return "measured";
    case VertexState::kBridged:
      return "bridged";
    case VertexState::kCutOff:
      return "cut off";
    case VertexState::kEdited:
      return "edited";
  }
  return "bridged";
}

std::string_view MeasurementStateName(Measurement::State state) {
  switch (state) {
    case Measurement::State::kMeasured:
      return "measured";
    case Measurement::State::kNotMeasured:
      return "not measured";
    case Measurement::State::kNotApplicable:
      return "not applicable";
  }
  return "not measured";
}

std::optional<VertexState> ParseVertexState(std::string_view word) {
  return Parse(word, &VertexStateName, VertexState::kEdited);
}
std::optional<Measurement::State> ParseMeasurementState(std::string_view word) {
  return Parse(word, &MeasurementStateName, Measurement::State::kNotApplicable);
}
std::optional<LumenState> ParseLumenState(std::string_view word) {
  return Parse(word, &LumenStateName, LumenState::kNotFound);
}
std::optional<StretchKind> ParseStretchKind(std::string_view word) {
  return Parse(word, &StretchKindName, StretchKind::kEither);
}
std::optional<WireState> ParseWireState(std::string_view word) {
  return Parse(word, &WireStateName, WireState::kExtra);
}
std::optional<VoidClass> ParseVoidClass(std::string_view word) {
  return Parse(word, &VoidClassName, VoidClass::kDoubtful);
}
std::optional<Verdict> ParseVerdict(std::string_view word) {
  return Parse(word, &VerdictName, Verdict::kNotJudged);
}
std::optional<Severity> ParseSeverity(std::string_view word) {
  return Parse(word, &SeverityName, Severity::kLow);
}

}  // namespace cutface
