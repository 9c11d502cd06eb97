#include "cutface/section.h"

#include <algorithm>

namespace cutface {

std::string_view LumenStateName(LumenState state) {
  switch (state) {
    case LumenState::kOpen:
      return "open";
    case LumenState::kFilled:
      return "filled";
    case LumenState::kMerged:
      return "merged";
    case LumenState::kCutOff:
      return "cut off";
    case LumenState::kNotFound:
      return "not found";
  }
  return "not found";
}

std::string_view VoidClassName(VoidClass c) {
  switch (c) {
    case VoidClass::kVoid:
      return "void";
    case VoidClass::kBondGap:
      return "bond gap";
    case VoidClass::kLinerGap:
      return "liner gap";
    case VoidClass::kDebris:
      return "debris";
    case VoidClass::kPulledOutWire:
      return "pulled-out wire";
    case VoidClass::kChip:
      return "chip";
    case VoidClass::kOutsideBubble:
      return "outside bubble";
    case VoidClass::kSmear:
      return "smear";
    case VoidClass::kPottingGap:
      return "potting gap";
    case VoidClass::kDelamination:
      return "delamination";
    case VoidClass::kDoubtful:
      return "doubtful";
  }
  return "doubtful";
}

std::string_view WireStateName(WireState s) {
  switch (s) {
    case WireState::kWire:
      return "wire";
    case WireState::kPulledOut:
      return "pulled out";
    case WireState::kMissing:
      return "missing";
    case WireState::kExtra:
      return "extra";
  }
  return "wire";
}

std::string_view StretchKindName(StretchKind k) {
  switch (k) {
    case StretchKind::kNone:
      return "none";
    case StretchKind::kOblique:
      return "oblique";
    case StretchKind::kSquashed:
      return "squashed";
    case StretchKind::kEither:
      return "oblique or squashed";
  }
  return "none";
}

std::string_view VerdictName(Verdict v) {
  switch (v) {
    case Verdict::kConforms:
      return "conforms";
    case Verdict::kDoesNotConform:
      return "does not conform";
    case Verdict::kNotProven:
      return "not proven";
    case Verdict::kNotMeasured:
      return "not measured";
    case Verdict::kElsewhere:
      return "elsewhere";
    case Verdict::kNotJudged:
      return "not judged";
  }
  return "not judged";
}

std::string_view SeverityName(Severity s) {
  switch (s) {
    case Severity::kHigh:
      return "high";
    case Severity::kMedium:
      return "medium";
    case Severity::kLow:
      return "low";
  }
  return "low";
}

const LumenTrace* Section::FindLumen(std::string_view name) const {
  for (const LumenTrace& lumen : lumens) {
    if (std::find(lumen.names.begin(), lumen.names.end(), name) != lumen.names.end()) return &lumen;
  }
  return nullptr;
}

}  // namespace cutface
