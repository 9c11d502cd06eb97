// Phantoms: rendered pictures of cut faces whose geometry is known exactly.
//
// A face is drawn in three steps: a nominal design (plain families, or any section of a design
// file), an as-built part (vector contours with the faults that parts have), and a picture (linear
// light, polished edges, dirt, optics, sensor). Sizes of the as-built part come from its polygons,
// never from pixels. The room shares no code with the rooms that find edges, trace and measure.
//
// Frames: pixels, x right, y down, pixel centres on whole numbers. Tones are the values that appear
// in the picture (after camera gamma), 0 black, 1 full scale. The same seed gives the same bytes.
// Keywords: phantom, synthetic picture, ground truth, rendered face, bench, seed.
#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/design.h"
#include "cutface/geometry.h"

namespace cutface {

enum class PhantomLight {
  kReflected,    // empty lumens dark, body mid grey, potting another grey
  kFilled,       // lumens hold the potting and its tone
  kWeak,         // body and potting differ by 8 to 15 % of full scale
  kTransmitted,  // bright ground and lumens, translucent body, dark band inside its edge
};
std::string_view PhantomLightName(
    PhantomLight light);  // "reflected", "filled", "weak", "transmitted"

// Harsh has the defects of hard with wider, deeper rims and more blur.
// The built sets hold braided shafts, lined and tube lumens, hubs, bonds and lengthwise sections.
// Hostile faces are plain and hard ones with a trap, named in the truth file: decoy holes in the
// potting, a second part, resin of the body's tone, a missing lumen, and drawings or records that
// are not the picture's (lumens swapped, another plane or revision, mirrored, another scale).
// Hostile-built ones have the same in the faces of the built sets, and a liner or a layer of wires
// left out, or another number of wires drawn.
enum class PhantomSet { kPlain, kHard, kHarsh, kBuiltPlain, kBuiltHard, kHostile, kHostileBuilt };
// "plain", "hard", "harsh", "built-plain", "built-hard", "hostile", "hostile-built"
std::string_view PhantomSetName(PhantomSet set);
Result<PhantomSet> ParsePhantomSet(std::string_view name);

// --- what is seen
// ---------------------------------------------------------------------------------

struct PhantomLumen {
  std::vector<std::string> names;  // one; two or more when a septum between them is broken
  ContourPx contour;               // the bore; turns +x towards +y
  double tone = 0.05;
  bool filled = false;  // holds potting that the other lumens do not
};

// A region with its own tone: void, smear lip, shrink gap, chip, bubble, speck.
struct PhantomPatch {
  ContourPx contour;
  double tone = 0;
  double opacity = 1;
  double size_px = 0;  // of a lip its overhang, of a gap its width, of the others a diameter
  int lumen = -1;      // the lumen that a lip or gap lies in (index into the scene's); -1 none
};

// A cut wire or mandrel, painted over everything in the part. Its light may exceed full scale: the
// sensor saturates.
struct PhantomMetal {
  ContourPx contour;
  double light = 1.5;  // linear; 1 is full scale
};

struct PhantomScratch {
  PointPx from, to;
  double width_px = 1;
  double strength = 0;  // share by which it changes the light; negative is darker
};

struct PhantomDust {
  PointPx centre;
  double radius_px = 3;
  double strength = 0;  // added linear light / full scale; negative is darker
};

// The edge of the polymer and the surface of the picture. Lengths in px, depths are shares of the
// body's light.
struct PhantomEffects {
  double rim_px = 0, rim_depth = 0;  // polished edge: light falls (negative: grows) towards it
  double band_px = 0, band_offset_px = 0, band_depth = 0;  // refraction band inside the edge
  double body_grain = 0, resin_grain = 0;                  // standard deviation / mean light
  double grain_px = 2;                                     // correlation length (Gaussian sigma)
  double floor = 0;                 // broad shades in empty lumens: standard deviation / mean light
  std::vector<PhantomPatch> gaps;   // resin shrunk off the wall: outside the polymer
  std::vector<PhantomPatch> lips;   // smear that hangs over a lumen
  std::vector<PhantomPatch> chips;  // broken out of the polymer at its edge
  std::vector<PhantomPatch> bubbles;  // in the potting, also in lumens that hold it
  std::vector<PhantomPatch> specks;   // beside the part
  std::vector<PhantomScratch> scratches;
  std::vector<PhantomDust> dust;
  double slope = 0, slope_rad = 0;  // illumination: fall from one side to the other, share
  double bowl = 0;                  // quadratic fall towards the corners, share
  double vignette = 0;              // fourth power fall towards the corners, share
  double blur_slope = 0;            // blur at the far side / mean blur - 1, along blur_slope_rad
  double blur_slope_rad = 0;
  std::vector<PhantomPatch> holders;  // a clamp at the frame's edge
  double exposure = 1;                // above 1 saturates the brightest parts
  bool scale_bar = false;             // burnt-in bar and text in a corner, after the camera
  int scale_bar_corner = 0;           // 0 top left, 1 top right, 2 bottom right, 3 bottom left
  int scale_bar_px = 0;               // length
  std::string scale_bar_text;
  int jpeg_quality = 0;  // 0 = none
  double halo_px = 0,
         halo_share = 0;  // stray light of metals: Gaussian sigma, share of their light
};

struct PhantomScene {
  int width_px = 0, height_px = 0;
  PhantomLight light = PhantomLight::kReflected;
  ContourPx outline;
  std::vector<PhantomLumen> lumens;
  std::vector<PhantomPatch> voids;
  // Regions of the body with their own tones, each painted over those before it: rings from the
  // outline inwards, liners (the bore is cut out afterwards), fibres, gaps.
  std::vector<PhantomPatch> inlays;
  std::vector<PhantomMetal> metals;
  double body_tone = 0.55, resin_tone = 0.3;
  double blur_px = 1;       // Gaussian sigma
  double noise = 0.01;      // standard deviation in the body / full scale, as stored
  double shot_share = 0.6;  // of that variance, at the body's tone
  double gamma = 1;         // stored = light^(1/gamma)
  int bits = 8;             // 8, 12 (in 16) or 16
  PhantomEffects effects;
};

// The picture: CV_8UC1 or CV_16UC1. Its noise and grain follow from `seed` alone.
// Error of a rendered edge against its contour: below 0.01 px for blur_px >= 0.7.
cv::Mat RenderPhantom(const PhantomScene& scene, std::uint64_t seed);

// --- faces drawn at random
// ------------------------------------------------------------------------

struct PhantomFace {
  std::string name;  // "hard-17"
  PhantomScene scene;
  std::uint64_t picture_seed = 0;
  bool flipped = false;  // the picture is turned over, left for right, after it was rendered
  std::string design_json, calibration_json, truth_json;
};

// Draws face `seed` of a set. The picture is not rendered.
PhantomFace DrawPhantomFace(PhantomSet set, std::uint64_t seed);
// Its picture, as RenderPhantom.
cv::Mat RenderFace(const PhantomFace& face);

// --- faces to order
// -------------------------------------------------------------------------------

// Tones and polished edges as a site's pictures have them, in place of drawn ones. Tones after
// gamma, 0 to 1.
struct PhantomLook {
  std::optional<double> body_tone, resin_tone, lumen_tone;  // lumen: an open one
  std::optional<double> rim_px;                             // 0: no rim
  double rim_depth = 0;  // share of the body's light lost at the edge; negative: a bright rim
};

// One face of a design's section with chosen faults. Defaults: a good part in a clean picture.
struct PhantomOrder {
  std::string name = "face";                  // of the files, without folder
  std::string design_file, calibration_file;  // as the truth file names them
  int width_px = 1600, height_px = 1200;
  double pitch_um = 2.4;         // true; REQUIRES: > 0
  double record_pitch_um = 2.4;  // what the calibration record says
  PhantomLight light = PhantomLight::kReflected;
  double rotation_deg = 0;
  bool mirrored = false;
  double oblique_deg = 0, oblique_axis_deg = 0;
  PointPx shift_px;  // of the design's origin from the middle of the frame
  double blur_px = 1.0, noise = 0.008, gamma = 1.0;
  bool dirt = false;  // scratches, dust, lips, gaps ... as drawn for the hard set
  PhantomLook look;
  // Faults. Names are lumens of the section; "" leaves the choice to the seed.
  std::string first, second;  // the septum that is thin, broken or holds the chain of voids
  double thin_septum_um = 0, breach_um = 0;  // 0: none
  bool void_chain = false;
  std::string collapsed;
  double collapse = 0;  // 0.4 squashes to 60 %
  bool kidney = false;
  int voids = 0;
  double least_void_px = 8, greatest_void_px = 30;
  std::string filled, missing;  // "": none
  // Faults of built-up parts; counts of wires over all layers, angles as seen from the centre.
  int missing_wires = 0, pulled_out_wires = 0, extra_wires = 0, displaced_wires = 0;
  int touching_pairs = 0, wires_exposed_to_lumen = 0, wires_exposed_outside = 0;
  // Of a braid's first comb, the second as far the other way: the same seed further along the part.
  double comb_turn_deg = 0;
  double liner_gap_deg = 0;           // of one liner, drawn
  std::vector<double> bond_gaps_deg;  // starved arcs of the adhesive
  double bond_offset_um = 0;          // shaft against sleeve
  bool delaminated = false;           // a crescent between two rings, or body and liner
  int shrinkage_voids = 0;            // in the thickest places
  std::string mandrel;                // lumen that still holds its mandrel; "": none
};

// Errors: kNotFound (section or lumen that the design does not have), kUsage (pitch or size not
// positive, faults that do not fit into the part). Rings, liners, wires, fibres and bonds of the
// section are built too: a truth file then holds rings, liners, wire_layers, wires, fibres,
// artefacts and bond. A lengthwise section lies along x: rows of wires at half the layer's diameter
// on both sides of the middle line. limits_broken of the truth names rows of the
// words in its quantities and of voids' longest only.
Result<PhantomFace> DrawPhantomOfDesign(const Design& design, const std::string& section,
                                        const PhantomOrder& order, std::uint64_t seed);

}  // namespace cutface
