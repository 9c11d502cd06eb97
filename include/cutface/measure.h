// Every number of a cut face, each with an honest interval.
//
// Method: the contours' error model (noise along the contour, slowly varying and common shifts,
// scale) is drawn `draws` times for all contours together; every quantity is evaluated on the
// traced contours and on each drawn set. The spread gives u, the mean the bias of extremes. Monte
// Carlo propagation after JCGM 101:2008. One function per row of cutface/quantity.h.
//
// The error model: vertex' = S (vertex + normal (z_c u_common + z_a w + z_n sigma)) with
// w = hypot(u_arc_um, the vertex's doubt_um). z_c is one standard normal per contour and draw, z_a
// and z_n vary along the arc with correlation
// exp(-(d / length)^2), length = arc_length_um and noise_length_um; S scales x and y by 1 + z
// u_rel. `raw` is the value on the contours as traced, value = raw - bias for least and greatest
// quantities (raw else); lo and hi are 95 % limits from u (and the skewness where it is clear),
// never beyond a natural bound. u is at least u_floor_um for lengths. A bias correction that raises
// a minimum never raises lo. Where the cut is oblique and not corrected, lo of lengths and areas
// reaches (1 - cos tilt) further down; where the slice is squashed, limits of lengths reach half of
// the stretch further to both sides.
//
// Datum frame: the origin is the centre of the outline's least-squares circle, or the centroid of
// the drawing's datum lumen; the rotation puts the clock lumen's centroid in its nominal direction,
// without a clock lumen it is that of the placement. The frame is the drawing's (x right, y down as
// the design is written), a mirrored picture is mirrored back. `offset` is the distance of a
// lumen's centroid from the origin, `position` twice its distance from the true position, `clock`
// its direction in degrees from 12 o'clock (the drawing's -y), clockwise as the drawing is seen, in
// [0, 360). Without a drawing the frame is the picture's.
//
// Not measured, always with the reason: features not found or merged ("septum broken"),
// whole-contour quantities of contours that the frame cuts off, least distances that end where an
// edge was cut off or bridged. Quantities that do not apply are left out unless the drawing asks
// for them. Largest and longest void are 0 when no void was seen; hi is then the smallest void that
// would have been seen. Keywords: diameter, septum, wall, barrier, inscribed, interval, draws,
// datum, clock.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cutface/design.h"
#include "cutface/scale.h"
#include "cutface/section.h"

namespace cutface {

// In a barrier's grade reason: its lower limit allows for a way that only exists where a doubtful
// void is one.
inline constexpr std::string_view kDoubtfulWay = "a way through a doubtful void is shorter";

// Pressures above that outside, by lumen; lumens that are not named have none.
struct PressureLoads {
  std::map<std::string, double> lumens_mpa;
  bool wires_free = false;  // wires carry nothing; else they count as body
};

struct MeasureOptions {
  int draws = 64;            // REQUIRES: 0 or >= 16. 0: values only (lo = hi = value, u = 0)
  std::uint64_t seed = 1;    // same seed, same contours: same digits
  double u_floor_um = 0.5;   // site's floor for u of lengths; 0 for accuracy benches
  double seam_u_um = 0;      // stitched pictures: standard uncertainty of a shift at a seam
  bool brute_force = false;  // slow twins of the distance searches
  std::optional<PressureLoads> loads = {};  // adds the words of pressure
};

// Every quantity that applies, asked for by the drawing or not; `design` may be null (survey).
std::vector<Measurement> MeasureSection(const Section& section, const Design* design,
                                        const SectionDesign* plane, const Scale& scale,
                                        const MeasureOptions& options = {});

// The same with the contours compressed along the tilt by its cosine (Placement::oblique_rad), so
// that values are those of a square cut. `uncorrected` is the value as seen; what the tilt's own
// uncertainty makes of each value is in u, the interval and the budget. Places stay those of the
// picture. REQUIRES: a tilt.
std::vector<Measurement> MeasureTiltCorrected(const Section& section, const Design* design,
                                              const SectionDesign* plane, const Scale& scale,
                                              const MeasureOptions& options = {});

// Septa and walls under pressure. MeasureSection gives the formulas' figures (interval from the
// same draws as every other quantity); this takes them out of `measurements` into the block and
// solves the section by finite elements (cutface/elastic.h): per loaded septum and wall the stress,
// linearised over the lines across it where it is less than twice as thick as at its least.
//
// Formulas, for a difference of pressure p:
//   strip_stress = p w^2 / (2 t^2), strip_sag = p w^4 (1 - nu^2) / (32 E t^3): a strip held at both
//   long edges (Roark, table 11.4, case 8a, long plate; nu for plane strain), t the least
//   thickness, w the chord of the middle line to where the thickness is 2 t. Refused where w < 10
//   t, where the middle line rises by more than t / 2 above its chord, and where the sag would pass
//   t / 2 (common practice).
//   hoop_stress of the only lumen = p (2 b^2 (b^2 + a^2 - 2 a e - e^2) / ((a^2 + b^2) (b^2 - a^2 -
//   2 a e - e^2)) - 1): the eccentric cylinder (Timoshenko & Goodier, art. 66, after Jeffery 1921),
//   Lame's cylinder for e = 0; a, b from equal areas, e at least b - a - wall. Refused for e >= a/2
//   and for shapes that are not round within 10 %. With other lumens an upper bound: the greater of
//   Lame's cylinder as thin all round as the wall, and of the edge of a half plane, 4 p a^2 / ((a +
//   t)^2 - a^2) (Jeffery 1921, from memory; held against the finite elements in a test).
// Wires that are free take their thickness off every wall and are holes in the finite elements.
PressureBlock MeasurePressure(const Section& section, const Design& design,
                              const PressureLoads& loads, std::vector<Measurement>& measurements);
bool IsPressureWord(std::string_view word);

// One function per row: words that have a measuring function, for the test against the table.
std::vector<std::pair<std::string, int>> MeasuredWords();  // word, QuantityOf as int

}  // namespace cutface
