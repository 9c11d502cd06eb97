#include "cutface/analyse.h"

#include <algorithm>

#include "analyse/reader.h"
#include "cutface/quantity.h"

namespace cutface {
namespace analyse {
namespace {

bool SameOf(const Names& a, const Names& b) {
  return a == b || (a.size() == 2 && b.size() == 2 && a[0] == b[1] && a[1] == b[0]);
}

}  // namespace

const Measurement* Reader::Find(const Names& of, std::string_view word) const {
  for (const Measurement& m : all_) {
    if (m.quantity == word && SameOf(m.of, of)) {
      return m.state == Measurement::State::kMeasured ? &m : nullptr;
    }
  }
  return nullptr;
}

std::optional<double> Reader::LowerLimit(const Names& of, std::string_view word) const {
  if (plane == nullptr) return std::nullopt;
  std::optional<double> strictest;
  for (const Characteristic& c : plane->characteristics) {
    if (c.quantity != word || !SameOf(c.of, of) || !c.lower) continue;
    strictest = strictest ? std::max(*strictest, *c.lower) : *c.lower;
  }
  return strictest;
}

std::optional<double> Reader::NominalSolid(const std::string& lumen,
                                           const std::string& other) const {
  if (plane == nullptr) return std::nullopt;
  const LumenDesign* first = plane->FindLumen(lumen);
  const LumenDesign* second = other == "outline" ? nullptr : plane->FindLumen(other);
  if (first == nullptr || (other != "outline" && second == nullptr)) return std::nullopt;
  const ContourUm& a = first->shape.contour;
  const ContourUm& b = second == nullptr ? plane->outline.contour : second->shape.contour;
  if (a.size() < 3 || b.size() < 3) return std::nullopt;
  return LeastDistance<FrameUm>(a, b).distance;
}

std::string Reader::Length(double um) const {
  return Format(um, "um", design != nullptr ? design->units : LengthUnit::kMicrometre);
}

std::vector<Names> MeasuredPairs(const Reader& reader) {
  std::vector<Names> pairs;
  for (const Measurement& m : reader.all()) {
    if (m.quantity == "septum" && m.of.size() == 2) pairs.push_back(m.of);
  }
  return pairs;
}

}  // namespace analyse

std::vector<Finding> Analyse(const Section& section, const Design* design,
                             const SectionDesign* plane,
                             std::span<const Measurement> measurements) {
  const analyse::Reader reader(section, design, plane, measurements);
  std::vector<Finding> findings;
  analyse::FindPicture(reader, findings);
  analyse::FindMismatch(reader, findings);
  analyse::FindCollapse(reader, findings);
  analyse::FindSolids(reader, findings);
  analyse::FindPressure(reader, findings);
  analyse::FindWires(reader, findings);
  analyse::FindVoids(reader, findings);
  analyse::FindLayers(reader, findings);
  analyse::FindPattern(reader, findings);
  // The gravest first; within a severity the order above.
  std::stable_sort(findings.begin(), findings.end(), [](const Finding& a, const Finding& b) {
    return static_cast<int>(a.severity) < static_cast<int>(b.severity);
  });
  return findings;
}

}  // namespace cutface
