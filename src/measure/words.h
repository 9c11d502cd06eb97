// One function per word: from a snapshot of contours to a number.
// Keywords: quantity, word, registration, refusal.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/quantity.h"
#include "measure/snapshot.h"

namespace cutface::measure {

// What a word is measured of.
struct Target {
  std::vector<std::string> of;
  QuantityOf kind = QuantityOf::kLumen;
  int first = -1, second = -1;  // features; a lumen's wall and barrier lead to the outline
  int layer = -1;               // of the face's layers; first and second are its edges
};

struct Loads;
struct Reader {
  const Bench& bench;
  const Snapshot& now;
  PinSeries pins;
  const Loads* loads = nullptr;  // pressures; needed by words with kNeedsLoad
};

// What must hold before a word can be measured; sums of these.
enum Need : unsigned {
  kNeedsWhole = 1,         // the whole contour, nothing cut off by the frame
  kNeedsGap = 2,           // a least distance whose ends lie on measured edges
  kNeedsNominal = 4,       // the drawing's shape of the lumen
  kNeedsDatum = 8,         // the datum frame
  kNeedsVoid = 16,         // at least one void
  kNeedsAll = 32,          // outline and every lumen whole
  kNeedsOutline = 64,      // the outline, at least in part
  kNeedsPath = 128,        // a way through solid and voids whose ligaments end on measured edges
  kNeedsLeastPlace = 512,  // the thinnest place of a layer on edges that were seen
  kNeedsGreatestPlace = 1024,  // the thickest one
  kNeedsClockGaps = 2048,      // gaps along the layer are looked for
  kNeedsLoad = 4096,           // a difference of pressure, within the formula's range
  kNeedsWires = 8192,          // wires in the drawing, all of them told
  kLengthened = 256,           // no need: the contour's length enters, which noise biases
};

struct Word {
  std::string_view word;
  QuantityOf of = QuantityOf::kLumen;
  unsigned needs = 0;
  double (*value)(const Reader&, const Target&) = nullptr;
  std::vector<PointUm> (*places)(const Reader&, const Target&) = nullptr;  // may be null
};
std::span<const Word> Words();

// Why a word cannot be had here: "" when it can.
struct Refusal {
  bool applies = true;  // false: not applicable, true: not measured
  std::string reason;
};
Refusal Refuse(const Bench& bench, const Target& target, const Word& word);

// What a way may lead through besides voids and gaps that are sure.
struct Stepping {
  bool doubtful = false;  // regions that may be voids
  bool wires = false;     // metal, as if it conducted or had a gap beside it
  bool seams = false;     // edges of liners and rings, as if they had come off all round
};
// A least way from one contour to the other through solid and voids.
struct Way {
  double sum = std::numeric_limits<double>::infinity();      // shortest total solid
  double weakest = std::numeric_limits<double>::infinity();  // least strongest ligament
  std::vector<int> sum_gaps, weakest_gaps;                   // gaps walked, in order
};
Way FindWay(const Bench& bench, const Snapshot& now, int from, int to, const Stepping& stepping,
            bool with_path);
// The way that a word speaks of.
Stepping SteppingOf(std::string_view word);

}  // namespace cutface::measure
