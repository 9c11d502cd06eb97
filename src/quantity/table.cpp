// The table itself: one row per word and kind of feature. Sentences are written for the reader of a
// report; formulas name contours and points, not variables of the code.
#include <algorithm>
#include <array>

#include "cutface/quantity.h"

namespace cutface {
namespace {

using Of = QuantityOf;
using Kind = QuantityKind;

constexpr std::string_view kCommon = "common practice";
constexpr std::string_view kGeometry = "plane geometry";

// The eight shape words, which outline and lumen share word for word.
constexpr std::size_t kShapeWords = 8;
constexpr std::array<QuantityRow, kShapeWords> ShapeRows(Of of) {
  return {{
      {"diameter", of, "um", Kind::kMean, true, false, "Diameter",
       "Diameter of the circle that fits the whole contour with least squares of radial distances.",
       "2 r with centre c and r at the least sum of (|p - c| - r)^2, p along the contour",
       "ISO 12181-1 (LSCI); Gander, Golub & Strebel, BIT 34 (1994)"},
      {"equivalent_diameter", of, "um", Kind::kMean, true, false, "Equal-area diameter",
       "Diameter of the circle that has the area of the contour.", "sqrt(4 area / pi)", kGeometry},
      {"width_min", of, "um", Kind::kLeast, true, false, "Least width",
       "Least distance between two parallel lines that touch the contour from both sides.",
       "least over all directions of the extent along that direction", "least Feret diameter"},
      {"width_max", of, "um", Kind::kGreatest, true, false, "Greatest width",
       "Greatest distance between two parallel lines that touch the contour from both sides.",
       "greatest over all directions of the extent along that direction",
       "greatest Feret diameter"},
      {"roundness", of, "um", Kind::kGreatest, true, false, "Roundness",
       "Radial distance between the two concentric circles nearest to each other that hold the "
       "contour between them.",
       "least over all centres c of (greatest |p - c| - least |p - c|), p along the contour",
       "ISO 12181-1 (MZCI), ISO 1101 circularity"},
      {"ovality", of, "um", Kind::kGreatest, true, false, "Ovality",
       "Difference between the greatest and the least width.", "width_max - width_min",
       "ISO 3126 (out-of-roundness)"},
      {"area", of, "um2", Kind::kMean, true, false, "Area", "Area inside the contour.",
       "1/2 |sum of x_i y_(i+1) - x_(i+1) y_i|", kGeometry},
      {"perimeter", of, "um", Kind::kMean, true, false, "Perimeter",
       "Length of the contour, smoothed at the design's edge cut-off.", "sum of |p_(i+1) - p_i|",
       kGeometry},
  }};
}

constexpr std::array kLumenRows = {
    QuantityRow{
        "inscribed_diameter", Of::kLumen, "um", Kind::kLeast, true, false, "Inscribed diameter",
        "Diameter of the largest circle that lies inside the bore; an upper bound for a pin "
        "at this plane.",
        "2 x greatest over all centres inside of the least distance to the contour",
        "ISO 12181-1 (MICI), with the contour's edges"},
    QuantityRow{"go_pin", Of::kLumen, "um", Kind::kLeast, true, false, "Go pin",
                "Largest pin of the design's pin series that is not larger than the inscribed "
                "circle.",
                "greatest pin of the series <= inscribed_diameter", kCommon},
    QuantityRow{"enclosing_diameter", Of::kLumen, "um", Kind::kGreatest, true, false,
                "Enclosing diameter", "Diameter of the smallest circle that holds the bore.",
                "2 x least over all centres of the greatest distance to the contour",
                "ISO 12181-1 (MCCI)"},
    QuantityRow{"hydraulic_diameter", Of::kLumen, "um", Kind::kMean, true, false,
                "Hydraulic diameter", "Four times the area over the wetted perimeter.",
                "4 area / perimeter",
                "Shah & London, Laminar Flow Forced Convection in Ducts (1978)"},
    QuantityRow{"area_ratio", Of::kLumen, "1", Kind::kMean, true, false, "Area ratio",
                "Area of the bore over the area of its nominal shape.", "area / nominal area",
                kCommon},
    QuantityRow{"inscribed_ratio", Of::kLumen, "1", Kind::kLeast, true, false, "Inscribed ratio",
                "Inscribed diameter of the bore over that of its nominal shape.",
                "inscribed_diameter / nominal inscribed_diameter", kCommon},
    QuantityRow{"flow_ratio", Of::kLumen, "1", Kind::kMean, true, false, "Flow ratio",
                "Laminar flow through the bore at a given pressure gradient over the flow through "
                "its nominal shape; for screening, never in place of a flow test.",
                "K / nominal K, K = integral of u over the bore, laplacian u = -1, u = 0 on the "
                "contour",
                "Shah & London, Laminar Flow Forced Convection in Ducts (1978)"},
    QuantityRow{
        "perimeter_ratio", Of::kLumen, "1", Kind::kMean, true, false, "Perimeter ratio",
        "Perimeter of the bore over that of its nominal shape: a lumen that is pressed flat "
        "keeps it, one that shrinks does not.",
        "perimeter / nominal perimeter", kCommon},
    QuantityRow{"narrow_clock", Of::kLumen, "deg", Kind::kMean, false, true, "Narrow direction",
                "Clock direction across which the bore is flattened, the first of two opposite "
                "ones.",
                "direction of the least second moment's axis, in [0, 180)", kGeometry},
    QuantityRow{"offset", Of::kLumen, "um", Kind::kMean, true, false, "Offset",
                "Distance of the lumen's centre of area from the datum centre.",
                "|centroid - datum centre|", kCommon},
    QuantityRow{"position", Of::kLumen, "um", Kind::kMean, true, false, "Position",
                "Twice the distance of the lumen's centre of area from its true position in the "
                "datum frame.",
                "2 |centroid - true position|", "ISO 1101 and ASME Y14.5, position"},
    QuantityRow{"clock", Of::kLumen, "deg", Kind::kMean, false, true, "Clock angle",
                "Direction of the lumen's centre of area from the datum centre, clockwise as the "
                "design is seen, from its 12 o'clock.",
                "angle from 12 o'clock to (centroid - datum centre), 0 <= angle < 360", kCommon},
    QuantityRow{"wall", Of::kLumen, "um", Kind::kLeast, true, false, "Least wall",
                "Shortest distance from the bore to the outline, liner included.",
                "least |p - q|, p on the bore, q on the outline", kCommon},
    QuantityRow{"hoop_stress", Of::kLumen, "MPa", Kind::kGreatest, true, false, "Hoop stress",
                "Greatest stress around the bore in the wall to the outside under the pressure in "
                "it, by formula, for screening; with other lumens on the face an upper bound.",
                "p (2 b^2 (b^2 + a^2 - 2 a e - e^2) / ((a^2 + b^2) (b^2 - a^2 - 2 a e - e^2)) - 1)",
                "Lame; eccentric: Timoshenko & Goodier, Theory of Elasticity, art. 66"},
    QuantityRow{"wall_stress", Of::kLumen, "MPa", Kind::kGreatest, true, false, "Wall stress",
                "Greatest stress, mean and linear part over the wall together, in the wall between "
                "bore and outside under the pressures put on the lumens; for screening.",
                "greatest |membrane| + |bending| over the lines across the wall",
                "finite elements, plane strain; linearised as in pressure vessel practice"},
    QuantityRow{
        "barrier", Of::kLumen, "um", Kind::kLeast, true, false, "Barrier to the outside",
        "Least length of solid on any way from the bore to the outside that may lead "
        "through voids and gaps; an upper bound, since voids too small to see are left out.",
        "least over all ways of the sum of solid distances between bore, voids and outline",
        "shortest path (Dijkstra 1959) over the voids"},
    QuantityRow{"barrier_conducting", Of::kLumen, "um", Kind::kLeast, true, false,
                "Barrier to the outside, wires conducting",
                "The barrier as if every wire conducted, or had a gap along it: ways may lead "
                "through metal as through voids.",
                "least over all ways of the sum of solid distances between bore, voids, wires and "
                "outline",
                "shortest path (Dijkstra 1959) over voids and wires"},
};

constexpr std::array kPairRows = {
    QuantityRow{"septum", Of::kLumenPair, "um", Kind::kLeast, true, false, "Least septum",
                "Shortest distance between the bores of two lumens, liners included.",
                "least |p - q|, p on one bore, q on the other", kCommon},
    QuantityRow{"septum_polymer", Of::kLumenPair, "um", Kind::kLeast, true, false,
                "Least septum without liners",
                "Shortest distance between two lumens through the body alone, from liner to liner.",
                "least |p - q|, p and q on the outer faces of the liners (the bore where none)",
                kCommon},
    QuantityRow{
        "barrier", Of::kLumenPair, "um", Kind::kLeast, true, false, "Barrier",
        "Least length of solid on any way from one bore to the other that may lead through "
        "voids and gaps; speaks of seepage, and is an upper bound, since voids too small to "
        "see are left out.",
        "least over all ways of the sum of solid distances between bores and voids",
        "shortest path (Dijkstra 1959) over the voids"},
    QuantityRow{
        "barrier_weakest", Of::kLumenPair, "um", Kind::kLeast, true, false, "Weakest barrier",
        "Least over all ways from bore to bore of the strongest single ligament on the way; "
        "speaks of pressure, because ligaments fail one by one.",
        "least over all ways of the greatest solid distance on the way",
        "bottleneck path over the voids"},
    QuantityRow{"barrier_conducting", Of::kLumenPair, "um", Kind::kLeast, true, false,
                "Barrier, wires conducting",
                "The barrier as if every wire conducted, or had a gap along it: ways may lead "
                "through metal as through voids.",
                "least over all ways of the sum of solid distances between bores, voids and wires",
                "shortest path (Dijkstra 1959) over voids and wires"},
    QuantityRow{"strip_span", Of::kLumenPair, "um", Kind::kMean, true, false, "Span",
                "Chord of the septum's middle line between the places where it is twice as thick "
                "as at its least.",
                "|M1 - M2|, thickness 2 t at both", "common practice"},
    QuantityRow{"strip_stress", Of::kLumenPair, "MPa", Kind::kGreatest, true, false,
                "Stress as a strip",
                "Stress at the edges of the septum taken as a strip held at both long edges, under "
                "the difference of the pressures of its lumens; for screening.",
                "p w^2 / (2 t^2), w = strip_span, t = septum",
                "Roark, Formulas for Stress and Strain, table 11.4, case 8a"},
    QuantityRow{"strip_sag", Of::kLumenPair, "um", Kind::kGreatest, true, false, "Sag as a strip",
                "Deflection of the septum's middle taken as a strip held at both long edges; for "
                "screening.",
                "p w^4 (1 - nu^2) / (32 E t^3), w = strip_span, t = septum",
                "Roark, Formulas for Stress and Strain, table 11.4, case 8a"},
    QuantityRow{"ligament_stress", Of::kLumenPair, "MPa", Kind::kGreatest, true, false,
                "Ligament stress",
                "Greatest stress along the septum, mean and linear part over its thickness "
                "together, under the pressures put on the lumens; for screening.",
                "greatest |membrane| + |bending| over the lines across the septum",
                "finite elements, plane strain; linearised as in pressure vessel practice"},
    QuantityRow{"ligament_membrane", Of::kLumenPair, "MPa", Kind::kMean, false, false,
                "Ligament stress, mean part", "Mean part of ligament_stress; tension positive.",
                "mean over the thickness of the stress along the septum",
                "finite elements, plane strain; linearised as in pressure vessel practice"},
    QuantityRow{"ligament_bending", Of::kLumenPair, "MPa", Kind::kGreatest, true, false,
                "Ligament stress, linear part", "Linear part of ligament_stress at the surface.",
                "6 / t^2 integral of the stress times the distance from the middle",
                "finite elements, plane strain; linearised as in pressure vessel practice"},
    QuantityRow{"ligament_sag", Of::kLumenPair, "um", Kind::kGreatest, true, false, "Ligament sag",
                "Greatest deflection of the septum's middle line from the line between the ends of "
                "its span.",
                "greatest |u across - u across of the chord|", "finite elements, plane strain"},
};

constexpr std::array kRingRows = {
    QuantityRow{
        "thickness_min", Of::kRing, "um", Kind::kLeast, true, false, "Least thickness",
        "Least thickness of the ring, as the nearest distance from the inner edge.",
        "least over inner edge points of the distance to the outer edge",
        "IEC 60811-201 and ISO 3126 ask for the least wall; nearest distance: common practice"},
    QuantityRow{"thickness_mean", Of::kRing, "um", Kind::kMean, true, false, "Mean thickness",
                "Mean thickness of the ring over the length of its inner edge, as the nearest "
                "distance from the inner edge.",
                "mean along the inner edge of the distance to the outer edge", kCommon},
    QuantityRow{"thickness_max", Of::kRing, "um", Kind::kGreatest, true, false,
                "Greatest thickness",
                "Greatest thickness of the ring, as the nearest distance from the inner edge.",
                "greatest over inner edge points of the distance to the outer edge", kCommon},
    QuantityRow{"concentricity", Of::kRing, "%", Kind::kLeast, true, false, "Concentricity",
                "Least thickness over greatest thickness; 100 % is even.",
                "100 thickness_min / thickness_max", "tubing trade, common practice"},
    QuantityRow{"eccentricity", Of::kRing, "um", Kind::kGreatest, true, false, "Eccentricity",
                "Half the difference between greatest and least thickness.",
                "(thickness_max - thickness_min) / 2", "tubing trade, common practice"},
    QuantityRow{"wall_variation", Of::kRing, "um", Kind::kGreatest, true, false, "Wall variation",
                "Greatest less least thickness; twice the eccentricity.",
                "thickness_max - thickness_min", "tubing trade, common practice"},
    QuantityRow{"wall_range", Of::kRing, "%", Kind::kGreatest, true, false, "Wall range",
                "Greatest less least thickness over the greatest, at one section.",
                "100 (thickness_max - thickness_min) / thickness_max",
                "ASTM D2122, wall thickness range (formula from memory)"},
    QuantityRow{"eccentricity_sum", Of::kRing, "%", Kind::kGreatest, true, false,
                "Eccentricity over the sum",
                "Greatest less least thickness over their sum; of a round bore in a round outline "
                "the offset of their centres over the mean wall.",
                "100 (thickness_max - thickness_min) / (thickness_max + thickness_min)",
                "tubing trade, common practice"},
    QuantityRow{
        "eccentricity_mean", Of::kRing, "%", Kind::kGreatest, true, false,
        "Eccentricity over the mean", "Greatest less least thickness over the mean thickness.",
        "100 (thickness_max - thickness_min) / thickness_mean", "tubing trade, common practice"},
    QuantityRow{"centre_offset", Of::kRing, "um", Kind::kMean, true, false, "Centre offset",
                "Distance between the centres of the inner and the outer edge; half the run-out.",
                "|centre of inner fitted circle - centre of outer fitted circle|",
                "tubing trade, common practice"},
    QuantityRow{
        "first_harmonic", Of::kRing, "um", Kind::kGreatest, true, false, "First harmonic",
        "Amplitude of the thickness' once-round wave: off centre.",
        "|1 / pi integral of thickness exp(i angle) over the angle from the inner edge's centre|",
        kGeometry},
    QuantityRow{"first_harmonic_clock", Of::kRing, "deg", Kind::kMean, false, true,
                "First harmonic, direction",
                "Clock direction in which the once-round wave is "
                "thickest.",
                "argument of the first harmonic, from 12 o'clock, clockwise", kGeometry},
    QuantityRow{"second_harmonic", Of::kRing, "um", Kind::kGreatest, true, false, "Second harmonic",
                "Amplitude of the thickness' twice-round wave: oval.",
                "|1 / pi integral of thickness exp(2 i angle) over the angle|", kGeometry},
    QuantityRow{"second_harmonic_clock", Of::kRing, "deg", Kind::kMean, false, true,
                "Second harmonic, direction",
                "First of the two opposite clock directions in which the twice-round wave is "
                "thickest.",
                "argument of the second harmonic / 2, in [0, 180)", kGeometry},
    QuantityRow{"third_harmonic", Of::kRing, "um", Kind::kGreatest, true, false, "Third harmonic",
                "Amplitude of the thickness' three-times-round wave: irregular.",
                "|1 / pi integral of thickness exp(3 i angle) over the angle|", kGeometry},
    QuantityRow{"third_harmonic_clock", Of::kRing, "deg", Kind::kMean, false, true,
                "Third harmonic, direction",
                "First of the three clock directions in which the wave is thickest.",
                "argument of the third harmonic / 3, in [0, 120)", kGeometry},
    QuantityRow{"runout", Of::kRing, "um", Kind::kMean, true, false, "Run-out",
                "Twice the distance between the centres of the inner and the outer edge.",
                "2 |centre of inner fitted circle - centre of outer fitted circle|",
                "ISO 1101, coaxiality of a section (zone diameter)"},
    QuantityRow{"longest_gap", Of::kRing, "deg", Kind::kGreatest, true, false, "Longest gap",
                "Greatest arc, seen from the ring's centre, over which the ring is missing or "
                "separated by a gap.",
                "greatest unbroken angle of inner edge points that are gap", kCommon},
};

constexpr std::array kWireRows = {
    QuantityRow{"count", Of::kWireLayer, "1", Kind::kCount, true, false, "Wire count",
                "Number of wires found in the layer.", "number of wires", kCommon},
    QuantityRow{
        "spacing_max", Of::kWireLayer, "deg", Kind::kGreatest, true, false, "Greatest spacing",
        "Greatest angle between neighbouring wires of one family, about the layer's centre.",
        "greatest angle between clock-neighbours within a family", kCommon},
    QuantityRow{"outer_cover", Of::kWireLayer, "um", Kind::kLeast, true, false, "Outer cover",
                "Least solid between any wire of the layer and the outside.",
                "least |p - q|, p on a wire, q on the outline", kCommon},
    QuantityRow{"inner_cover", Of::kWireLayer, "um", Kind::kLeast, true, false, "Inner cover",
                "Least solid between any wire of the layer and any lumen.",
                "least |p - q|, p on a wire, q on a bore", kCommon},
    QuantityRow{"layer_diameter", Of::kWireLayer, "um", Kind::kMean, true, false, "Layer diameter",
                "Diameter of the circle fitted to the centres of the wires.",
                "2 r of the least-squares circle of the wire centres", kCommon},
    QuantityRow{"braid_angle", Of::kWireLayer, "deg", Kind::kMean, true, false, "Braid angle",
                "Angle between the wires and the shaft's axis, from the stretch of round wires in "
                "the cut.",
                "acos(short axis / long axis) of the wires, tilt corrected", kGeometry},
    QuantityRow{"picks_per_mm", Of::kWireLayer, "1/mm", Kind::kMean, true, false, "Picks per mm",
                "Crossings along the axis per millimetre, from the braid angle, the layer diameter "
                "and the number of carriers.",
                "carriers tan(braid_angle) / (2 pi layer_diameter)",
                "cable braid formulas (as in ANSI/SCTE 51), common practice"},
    QuantityRow{
        "coverage", Of::kWireLayer, "%", Kind::kMean, true, false, "Coverage",
        "Share of the layer's surface that the braid covers.",
        "100 (2 F - F^2), F = ends x picks x wire diameter / sin(braid_angle); of a coil in "
        "a lengthwise section 100 x mean width of a turn along the axis / pitch",
        "cable braid formulas (as in ANSI/SCTE 51), common practice"},
    // Lengthwise sections: turns in two rows along the axis.
    QuantityRow{"pitch", Of::kWireLayer, "um", Kind::kMean, true, false, "Pitch",
                "Distance from turn to turn along the axis in a lengthwise section, over all "
                "numbered turns of both rows.",
                "least-squares slope of the places of the turns against their numbers", kCommon},
    QuantityRow{"pitch_min", Of::kWireLayer, "um", Kind::kLeast, true, false, "Least pitch",
                "Least distance along the axis between two turns of a row with following numbers.",
                "least (s_(n+1) - s_n)", kCommon},
    QuantityRow{"pitch_max", Of::kWireLayer, "um", Kind::kGreatest, true, false, "Greatest pitch",
                "Greatest distance along the axis between two turns of a row with following "
                "numbers.",
                "greatest (s_(n+1) - s_n)", kCommon},
    QuantityRow{"pitch_spread", Of::kWireLayer, "um", Kind::kMean, true, false, "Pitch spread",
                "Root mean square of what the distances between following turns differ from the "
                "pitch, noise taken off.",
                "sqrt(mean of (s_(n+1) - s_n - pitch)^2)", kCommon},
    QuantityRow{"displacement", Of::kWireLayer, "um", Kind::kGreatest, true, false, "Displacement",
                "Distance of a turn's centre from its place in the even row, of a layer the "
                "greatest.",
                "|centre - (start of its row + number x pitch along the axis)|", kCommon},
};

constexpr std::array kVoidRows = {
    QuantityRow{"largest", Of::kVoids, "um", Kind::kGreatest, true, false, "Largest void",
                "Equal-area diameter of the void with the greatest area.",
                "greatest sqrt(4 area / pi)", kCommon},
    QuantityRow{"longest", Of::kVoids, "um", Kind::kGreatest, true, false, "Longest void",
                "Greatest width of any void.", "greatest width_max of the voids", kCommon},
    QuantityRow{"void_count", Of::kVoids, "1", Kind::kCount, true, false, "Void count",
                "Number of voids found, down to the smallest that can be seen in the picture.",
                "number of findings of class void", kCommon},
    QuantityRow{"area_fraction", Of::kVoids, "1", Kind::kMean, true, false, "Void area fraction",
                "Area of the voids over the area of solid body.",
                "sum of void areas / (outline - lumens - wires - fibres)", kCommon},
    QuantityRow{"void_to_lumen", Of::kVoids, "um", Kind::kLeast, true, false, "Void to lumen",
                "Least solid between any void and any lumen.",
                "least |p - q|, p on a void, q on a bore", kCommon},
    QuantityRow{"void_to_outside", Of::kVoids, "um", Kind::kLeast, true, false, "Void to outside",
                "Least solid between any void and the outside.",
                "least |p - q|, p on a void, q on the outline", kCommon},
};

constexpr std::array kBondRows = {
    QuantityRow{
        "bonded_arc", Of::kBond, "deg", Kind::kMean, true, false, "Bonded arc",
        "Total arc, seen from the bond's centre, over which sleeve, adhesive and shaft hold "
        "together without a gap wider than the design's gap.",
        "360 - sum of the arcs that are gap", kCommon},
    QuantityRow{"longest_gap", Of::kBond, "deg", Kind::kGreatest, true, false, "Longest gap",
                "Greatest unbroken arc of the bond that is gap.",
                "greatest unbroken angle that is gap", kCommon},
    QuantityRow{"offset", Of::kBond, "um", Kind::kMean, true, false, "Sleeve offset",
                "Distance between the centres of the sleeve's inner edge and of the shaft in it.",
                "|centre of sleeve's inner fitted circle - centre of shaft's fitted circle|",
                kCommon},
    QuantityRow{"runout", Of::kBond, "um", Kind::kMean, true, false, "Sleeve run-out",
                "Twice the offset between sleeve and shaft.", "2 offset",
                "ISO 1101, coaxiality of a section (zone diameter)"},
    QuantityRow{"tilt", Of::kBond, "deg", Kind::kMean, true, false, "Sleeve tilt",
                "Angle between the axes of sleeve and shaft, from their offsets in two planes.",
                "atan(|offset vector of plane 2 - offset vector of plane 1| / distance of planes)",
                kGeometry},
};

// Of stretches of edges that a person points at.
constexpr std::array kAskedRows = {
    QuantityRow{
        "radius", Of::kAsked, "um", Kind::kMean, true, false, "Radius",
        "Radius of the circle that fits the stretch with least squares of radial distances.",
        "r with centre c and r at the least sum of (|p - c| - r)^2, p along the stretch",
        "ISO 12181-1 (LSCI), for a part of the contour"},
    QuantityRow{"arc_length", Of::kAsked, "um", Kind::kMean, true, false, "Length along the edge",
                "Length of the stretch along the edge.", "sum of |p_(i+1) - p_i|", kGeometry},
    QuantityRow{"distance", Of::kAsked, "um", Kind::kLeast, true, false, "Least distance",
                "Shortest straight distance between the two stretches.",
                "least |p - q|, p on the first stretch, q on the second", kGeometry},
    QuantityRow{
        "thickness", Of::kAsked, "um", Kind::kMean, true, false, "Mean thickness",
        "Mean, along the first stretch, of the distance to the nearest place of the second; "
        "places that do not face the second stretch are left out.",
        "mean over p on the first stretch of the least |p - q|, q on the second", kGeometry},
    QuantityRow{
        "angle", Of::kAsked, "deg", Kind::kMean, true, false, "Angle",
        "Angle between the straight lines that fit the two stretches, from 0 to 90 degrees.",
        "acos |u . v|, u and v the directions at the least sum of squared distances to the "
        "lines",
        kGeometry},
    QuantityRow{"centre_distance", Of::kAsked, "um", Kind::kMean, true, false,
                "Distance of the centres",
                "Distance between the centres of the circles that fit the two stretches.",
                "|c1 - c2|, each centre as for the radius", kGeometry},
};

constexpr std::size_t kRows = 2 * kShapeWords + kLumenRows.size() + kPairRows.size() +
                              kRingRows.size() + kWireRows.size() + kVoidRows.size() +
                              kBondRows.size() + kAskedRows.size();

constexpr std::array<QuantityRow, kRows> Joined() {
  std::array<QuantityRow, kRows> rows{};
  auto next = rows.begin();
  const auto outline = ShapeRows(Of::kOutline), lumen = ShapeRows(Of::kLumen);
  next = std::copy(outline.begin(), outline.end(), next);
  next = std::copy(lumen.begin(), lumen.end(), next);
  next = std::copy(kLumenRows.begin(), kLumenRows.end(), next);
  next = std::copy(kPairRows.begin(), kPairRows.end(), next);
  next = std::copy(kRingRows.begin(), kRingRows.end(), next);
  next = std::copy(kWireRows.begin(), kWireRows.end(), next);
  next = std::copy(kVoidRows.begin(), kVoidRows.end(), next);
  next = std::copy(kBondRows.begin(), kBondRows.end(), next);
  std::copy(kAskedRows.begin(), kAskedRows.end(), next);
  return rows;
}

constexpr std::array<QuantityRow, kRows> kTable = Joined();

}  // namespace

std::string_view QuantityOfName(QuantityOf of) {
  switch (of) {
    case QuantityOf::kOutline:
      return "outline";
    case QuantityOf::kLumen:
      return "lumen";
    case QuantityOf::kLumenPair:
      return "lumen pair";
    case QuantityOf::kRing:
      return "ring";
    case QuantityOf::kWireLayer:
      return "wire layer";
    case QuantityOf::kVoids:
      return "voids";
    case QuantityOf::kBond:
      return "bond";
    case QuantityOf::kAsked:
      return "asked edges";
  }
  return "";
}

std::span<const QuantityRow> QuantityTable() { return kTable; }

const QuantityRow* FindQuantity(std::string_view word, QuantityOf of) {
  const auto row = std::find_if(kTable.begin(), kTable.end(), [&](const QuantityRow& candidate) {
    return candidate.of == of && candidate.word == word;
  });
  return row == kTable.end() ? nullptr : &*row;
}

}  // namespace cutface
