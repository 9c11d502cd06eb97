// Everything that words need, evaluated on one set of contours: as traced, at rest, or drawn.
//
// A Bench knows the face, searches the near places once and then evaluates sets of contours
// quickly. Keywords: snapshot, shape values, gaps, datum.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cutface/design.h"
#include "measure/clock_gaps.h"
#include "measure/draws.h"
#include "measure/extremes.h"
#include "measure/face.h"
#include "measure/gap.h"
#include "measure/layers.h"

namespace cutface::measure {

struct ShapeValues {
  double area = 0, perimeter = 0, diameter = 0, width_min = 0, width_max = 0, roundness = 0,
         inscribed = 0, enclosing = 0, flow_k = 0;
  double axis_cos = 0, axis_sin = 0;  // second moments of area: xx - yy and 2 xy, um^4
  PointUm centroid, circle_centre;
};

// Where the extremes of a traced contour lie, for the picture.
struct ShapePlaces {
  Widths<FrameUm> widths;
  PointUm inscribed_centre, enclosing_centre, zone_centre;
};

// Two contours and the solid between them.
struct Gap {
  int first = -1, second = -1;  // features
  GapPlace raw;                 // on the traced contours
  bool blocked = false;         // the shortest line crosses another lumen or leaves the face
  std::vector<Near> near;       // vertex and edge as positions in `used`
};

struct Snapshot {
  std::vector<ShapeValues> shapes;  // per feature
  std::vector<double> gaps;         // per gap; may be negative where drawn contours cross
  std::vector<Thickness> layers;    // per layer of the face
  PointUm datum_centre;
  double rotation = 0;  // picture = centre + R(rotation) M design
};

// What the drawing says, evaluated once.
struct NominalLumen {
  double area = 0, inscribed = 0, flow_k = 0, perimeter = 0;
  PointUm true_position;  // of the centroid from the datum centre, design frame
  bool lined = false;
  bool opens_outside = false;
};
struct Nominals {
  bool known = false;
  std::vector<std::optional<NominalLumen>> lumens;  // per feature
  int datum_lumen = -1;  // centre: a lumen's centroid; -1: the outline's circle
  int clock_lumen = -1;
  double clock_direction = 0;  // of the clock lumen in the picture at rotation 0
  double rotation = 0;         // from the placement
  bool mirrored = false;
  std::string no_datum;  // "" or why there is no datum frame
  // Per feature of the body: its drawn contour where the pose puts it, um of the picture; filled in
  // only when part of the face lies beyond the frame.
  std::vector<ContourUm> placed;
  double radius_um = 0;      // of the drawn outline, equal area
  bool wired = false;        // the drawing has wires or fibres in the body
  bool braided = false;      // it has wires
  std::string wires_untold;  // "" or why not all of them are known
  bool layered = false;      // or rings that are no bond's: gaps along them are not told yet
};
// `origin`: where the pose puts the drawing's origin, um of the picture.
Nominals PrepareNominals(const Face& face, const Section& section, const SectionDesign* plane,
                         PointUm origin);

struct BenchOptions {
  bool brute_force = false;
  bool draws = true;
  double pitch_um = 1;  // of the picture, for what can be seen
  PointUm origin;       // of the drawing in the picture
};

class Bench {
 public:
  Bench(Face& face, const Section& section, const SectionDesign* plane,
        const BenchOptions& options);

  const Face& face() const { return face_; }
  const Nominals& nominals() const { return nominals_; }
  double pitch_um() const { return pitch_um_; }
  const std::vector<Gap>& gaps() const { return gaps_; }
  const std::vector<ShapePlaces>& places() const { return places_; }
  const std::vector<LayerGauge>& layers() const { return layers_; }
  const ClockGaps& bond_gaps() const { return bond_gaps_; }
  const std::vector<ClockGaps>& layer_gaps() const { return layer_gaps_; }  // per layer
  // Between two lumens' polymer: from liner to liner, from the bore where there is none.
  int FindPolymerGap(int first, int second) const;
  int FindGap(int first, int second) const;  // index of the gap, either order; -1 when not searched

  const Snapshot& raw() const { return raw_; }
  // `moved`: positions of the used vertices per feature, as DrawMachine makes them.
  void Evaluate(const std::vector<ContourUm>& moved, Snapshot& out) const;

 private:
  void SearchGaps(bool brute_force, bool draws);
  std::vector<std::pair<int, int>> Steps() const;
  void MapUsed();
  void RawShapes(bool brute_force);
  void SetDatum(Snapshot& snapshot) const;
  void WarmUp();
  struct Scratch {
    ContourUm thin, hull;
  };
  ShapeValues ThinShape(std::size_t feature, const ContourUm& moved, Scratch& scratch) const;

  Face& face_;
  double pitch_um_;
  Nominals nominals_;
  std::vector<Gap> gaps_;
  std::vector<std::vector<int>> gap_table_;
  std::vector<ShapePlaces> places_;
  std::vector<LayerGauge> layers_;
  ClockGaps bond_gaps_;
  std::vector<ClockGaps> layer_gaps_;
  Snapshot raw_;
  struct Warm {
    Contacts zone, inscribed;
  };
  std::vector<Warm> warm_;                        // per feature: contacts at rest
  std::vector<std::vector<double>> flow_weight_;  // per feature and thinned vertex: dK per um
};

}  // namespace cutface::measure
