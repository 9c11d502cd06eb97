// In which order and direction an uneven sleeve opens when it is inflated.
//
// The sleeve's thickness is averaged over the twelve clock hours of the drawing's frame. Without
// stiffness data only the order is told: the thinnest hour stretches first and most (common
// practice). With a site's curve of nominal stress (force over undeformed area, MPa) against
// stretch (hoop, the sleeve kept at its length) the numbers follow from a long sleeve that slides
// without friction on its shaft until it lifts, and is a circle then: tension T per length is the
// same all round, so that stress(lambda(hour)) t0(hour) = T at every hour; mean stretch L gives the
// diameter L times the starting one, pressure T / (L r0), r0 the middle radius. Nothing is assumed
// of the size of the stretch: the model holds to 10 times the starting diameter and more, as far as
// the curve goes and rises; where it does not rise the sleeve runs away and the figure is refused.
// Keywords: balloon, sleeve, inflation, concentricity, direction.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/section.h"

namespace cutface {

struct StiffnessCurve {
  std::string source;                       // whose data
  std::vector<double> stretch, stress_mpa;  // rising, from stretch 1 and stress 0
};
// {"format": "cutface/stiffness", "version": 1, "source": "...", "stretch": [...], "stress_mpa":
// [...]}. Errors: kJsonSyntax, kJsonUnknownKey, kJsonMissingKey, kJsonValue; of a file also
// kFileMissing, kFileUnreadable. `name` stands in messages.
Result<StiffnessCurve> ParseStiffness(std::string_view text, const std::string& name);
Result<StiffnessCurve> ReadStiffness(const std::string& path);

struct OpeningStep {
  double times = 1;  // diameter over the starting one
  bool told = false;
  std::string reason;
  double pressure_mpa = 0;
  std::array<double, 12> stretch{};  // hour 12 (index 0), 1, ... 11
};

struct SleeveOpening {
  std::string sleeve;
  std::array<double, 12> thickness_um{};  // mean over each hour
  std::array<int, 12> order{};            // hours (12, 1 ... 11), first to open first
  double direction_deg = 0;               // by the clock: where the once-round wave is thinnest
  double unevenness = 0;                  // (thickest - thinnest hour) / mean
  double radius_um = 0;                   // of the middle of the wall
  bool told_apart = false;                // thinnest and thickest hour differ by more than doubt_um
  double doubt_um = 0;                    // two standard uncertainties of an hour's thickness
  std::vector<OpeningStep> steps;         // empty without a curve
};

// `sleeve`: a ring of the result, or "outline" ... the ring from the outline inwards is meant by
// its name. Errors: kNotFound (no such ring, or an edge of it was not found whole).
Result<SleeveOpening> OpenSleeve(const SectionResult& result, const std::string& sleeve,
                                 const std::optional<StiffnessCurve>& curve,
                                 const std::vector<double>& times = {1.1, 1.5, 2, 4, 8, 10});

}  // namespace cutface
