// What pressures in lumens do to septa and walls: the screening formulas' geometry, and the section
// solved by finite elements.
#pragma once

#include <string>
#include <vector>

#include "cutface/measure.h"
#include "measure/words.h"

namespace cutface::measure {

// The solid between two contours as a strip: thickness from the least place outwards, both ways
// along the first contour.
struct Strip {
  struct Sample {
    double thickness = 0;
    PointUm on_first, on_second;
    PointUm Middle() const { return 0.5 * (on_first + on_second); }
  };
  double least = 0;
  std::vector<Sample> side[2];  // each begins at the least place

  // The thickness reaches `threshold` to both sides.
  bool Held(double threshold) const;
  // The middle of the solid where the thickness first reaches `threshold`, by interpolation; the
  // last place that is known where it does not.
  PointUm End(int which, double threshold) const;
  double Span(double threshold) const { return Distance(End(0, threshold), End(1, threshold)); }
  // Greatest distance of the middle line from the chord between its ends.
  double Rise(double threshold) const;
  // Places within the span, at most `most`, from one end to the other.
  std::vector<Sample> Within(double threshold, std::size_t most) const;
};
Strip MakeStrip(const ContourUm& first, const ContourUm& second);

struct Loads {
  std::vector<double> pressure_mpa;  // per feature; of merged lumens the greater
  std::vector<Strip> strips;         // per gap; empty where nothing is loaded
  double modulus_mpa = 0;            // of the body; 0: not told
  double poisson = -1;               // < 0: not told
  double wires_um = 0;               // taken off walls: wires that are free carry nothing
  int open_lumens = 0;               // lumens on the face
  double Difference(const Target& target) const;
};
Loads PrepareLoads(const Bench& bench, const Section& section, const Design* design,
                   const SectionDesign* plane, const PressureLoads* loads);

// "" when the formula of a word may be used here.
Refusal RefuseLoad(const Bench& bench, const Loads& loads, const Target& target, const Word& word);

// The words that the finite elements fill in.
}  // namespace cutface::measure
namespace cutface {
std::span<const std::string_view> ElementWords();
}
namespace cutface::measure {

double StripSpan(const Reader& reader, const Target& target);
double StripStress(const Reader& reader, const Target& target);
double StripSag(const Reader& reader, const Target& target);
double HoopStress(const Reader& reader, const Target& target);
std::vector<PointUm> AtStrip(const Reader& reader, const Target& target);

}  // namespace cutface::measure
