// Rings and liners of a face in micrometres.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/segment.h"
#include "identify/assemble.h"
#include "identify/harmonics.h"

namespace cutface {
namespace {

constexpr double kLeastBlurs = 1.2;     // of a liner's thickness: below, only thickness x contrast
constexpr double kLeastShare = 0.4;     // of the mean thickness
constexpr double kEvenWall = 0.05;      // of its mean, by which a good one scatters
constexpr double kSudden = 0.35;        // of it, below a smoothly uneven wall
constexpr double kThinDoubt = 2.2;      // blurs: of a wall's thickness, as it goes to nothing
constexpr double kThinDecay = 2.7;      // blurs
constexpr double kBoreShare = 0.4;      // of it that the bore bears
constexpr double kMostCommon_px = 0.5;  // u of a whole bore beside a liner
constexpr double kMostUnlike = 0.3;     // of a liner's mean thickness against the drawn one
constexpr double kMostNothing = 0.1;    // of a seam, where it lies on plain tone
constexpr double kMostWander_px = 0.4;  // of a ring's edge about its lowest harmonics
constexpr double kSoftSeam = 1.5;       // against the picture's blur
constexpr double kMostUnseen = 0.5;     // of an edge between solids

double UnseenShare(const SettledContour& c) {
  std::size_t unseen = 0;
  for (const SettledPlace& p : c.places) unseen += p.state == PlaceState::kBridged ? 1 : 0;
  return static_cast<double>(unseen) / std::max<double>(1, static_cast<double>(c.places.size()));
}

TracedContour Missing(std::string why) {
  TracedContour none;
  none.whole = false;
  none.doubt = std::move(why);
  return none;
}

TracedContour Layer(const SettledContour& c, const Scale& scale, const std::string& what) {
  if (!c.doubt.empty() || UnseenShare(c) > kMostUnseen)
    return Missing("no tone step to be seen along most of " + what);
  TracedContour contour = TracedFrom(c, scale);
  contour.common_share = 0;  // no rim, no potting: what moves the others does not move it
  return contour;
}

double MeanGap(const TracedContour& inner, const TracedContour& outer) {
  const ContourUm a = inner.Points(), b = outer.Points();
  if (a.size() < 6 || b.size() < 6) return 0;
  return (Area(std::span<const PointUm>(b)) - Area(std::span<const PointUm>(a))) /
         (0.5 * (Perimeter(std::span<const PointUm>(a)) + Perimeter(std::span<const PointUm>(b))));
}

// Two edges a few blurs apart push each other about, and the less of the liner's own tone is seen
// between them the more. Found on rendered faces of other seeds than those that are reported.
void WidenThinWall(double blur_um, TracedContour& bore, TracedContour& outer) {
  const double wall = MeanGap(bore, outer);
  if (!(wall > 0)) return;
  const double doubt = kThinDoubt * blur_um * std::exp(-wall / (kThinDecay * blur_um));
  bore.u_common_um = std::hypot(bore.u_common_um, kBoreShare * doubt);
  outer.u_common_um = std::hypot(outer.u_common_um, std::sqrt(1 - kBoreShare * kBoreShare) * doubt);
}

// Two edges so near each other share their light: what is known of them to half a pixel only, or
// what is far from the drawn thickness, may be another edge.
void DoubtLinedBore(double drawn_um, double pitch_um, TracedContour& bore, TracedContour& outer) {
  if (bore.vertices.size() < 6) return;
  const auto doubt = [](TracedContour& contour, const std::string& why) {
    if (contour.doubt.empty() && !contour.vertices.empty()) contour.doubt = why;
  };
  if (bore.u_common_um > kMostCommon_px * pitch_um) {
    doubt(bore, fmt::format("the picture tells the place of this edge to {:.1f} px only",
                            bore.u_common_um / pitch_um));
  }
  const double wall = MeanGap(bore, outer);
  if (wall > 0 && std::abs(wall / drawn_um - 1) > kMostUnlike) {
    const std::string why = fmt::format(
        "the liner seems {:.1f} um thick, drawn are {:.1f}: one of its edges may be "
        "another",
        wall, drawn_um);
    doubt(bore, why);
    doubt(outer, why);
  }
}

// How much thinner than a smoothly uneven wall (mean, off-centre, oval) a wall is where it is
// thinnest, as a share of its mean.
double SuddenThinning(const ContourUm& bore, const ContourUm& outer, double mean_um) {
  const ContourIndex<FrameUm> index{std::span<const PointUm>(outer)};
  const PointUm centre = Centroid(std::span<const PointUm>(bore));
  std::vector<HarmonicSample> walls;
  for (const PointUm p : bore) {
    const auto near = index.NearestTo(p, 4 * mean_um);
    if (!near) continue;
    const double turn = std::atan2(p.y - centre.y, p.x - centre.x) / (2 * M_PI) + 0.5;
    walls.push_back({turn, near->distance, kEvenWall * mean_um});
  }
  if (walls.empty()) return 0;
  const Harmonics even(walls, 2);
  double most = 0;
  for (const HarmonicSample& wall : walls) most = std::max(most, even.At(wall.turn) - wall.value);
  return most / mean_um;
}

// Edges of one liner that nearly touch somewhere: where the wall is thin of a sudden, one of them
// has left its own edge there.
void DoubtThinPlaces(TracedContour& bore, TracedContour& outer) {
  const ContourUm a = bore.Points(), b = outer.Points();
  if (a.size() < 6 || b.size() < 6) return;
  const double least =
      LeastDistance(std::span<const PointUm>(a), std::span<const PointUm>(b)).distance;
  const double mean = MeanGap(bore, outer);
  if (least > kLeastShare * mean) return;
  const bool left = SuddenThinning(a, b, mean) > kSudden;
  for (TracedContour* contour : {&bore, &outer}) {
    contour->doubt += contour->doubt.empty() ? "" : "; ";
    contour->doubt += left ? "the liner's two edges nearly touch: one of them was not followed"
                           : "the liner is much thinner on one side than in the mean";
  }
}

// Where the liner was not told, the bore's contour may be its outer edge: the bore's own may lie
// further in by the whole of it, thicker than drawn by a quarter, and the interval must hold both.
constexpr double kThickerLiner = 1.25;
void DoubtEitherEdge(double drawn_um, TracedContour& bore) {
  bore.u_common_um = std::hypot(bore.u_common_um, 0.5 * kThickerLiner * drawn_um);
  if (bore.doubt.empty()) {
    bore.doubt =
        "its liner was not told from lumen and body: the contour may follow either edge of it";
  }
}

TracedContour RingEdge(const Seam& seam, const Scale& scale, const std::string& what) {
  TracedContour out;
  const double pitch = scale.mean_pitch_um();
  ContourUm points;
  for (const SeamPlace& place : seam.places) points.push_back(scale.ToUm(place.at));
  const ContourUm normals = OutwardNormals(std::span<const PointUm>(points));
  std::size_t bridged = 0;
  for (std::size_t i = 0; i < points.size(); ++i) {
    ContourVertex v;
    v.at = points[i];
    v.normal = normals[i];
    v.sigma_um = seam.places[i].sigma_px * pitch;
    v.state = seam.places[i].seen ? VertexState::kMeasured : VertexState::kBridged;
    bridged += seam.places[i].seen ? 0 : 1;
    out.vertices.push_back(v);
  }
  out.u_common_um = seam.u_common_px * pitch;
  out.noise_length_um = seam.length_px * pitch;
  out.edge_model = "step";
  out.edge_blur_px = seam.blur_px;
  out.contrast = std::max(std::abs(seam.step), std::abs(seam.line));
  const double share = static_cast<double>(bridged) / static_cast<double>(points.size());
  if (share > kMostUnseen)
    out.doubt = fmt::format("{:.0f} % of {} is hidden and bridged", 100 * share, what);
  return out;
}

}  // namespace

void AssembleLayers(const SettledFace& settled, const LayerPlan& layers, const Scale& scale,
                    const SectionDesign& plane, Section& section) {
  std::size_t next = layers.first_input;
  for (const LinerPath& path : layers.liners) {
    LinerTrace liner;
    liner.lumen = plane.lumens[path.lumen].name;
    LumenTrace* bore = nullptr;
    for (LumenTrace& lumen : section.lumens) {
      if (lumen.names.size() == 1 && lumen.names.front() == liner.lumen) bore = &lumen;
    }
    if (path.outer.empty()) {
      liner.outer = Missing(path.why);
    } else {
      const SettledContour& c = settled.contours[next++];
      liner.outer = Layer(c, scale, "the liner's outer edge of " + liner.lumen);
      const double blur_um = std::max(settled.blur_px, c.blur_px) * scale.mean_pitch_um();
      if (bore != nullptr && !liner.outer.vertices.empty() &&
          MeanGap(bore->bore, liner.outer) < kLeastBlurs * blur_um) {
        liner.outer = Missing(
            fmt::format("the liner of {} is thinner than {:.1f} um, about the blur of the picture",
                        liner.lumen, kLeastBlurs * blur_um));
      }
    }
    if (bore != nullptr && !liner.outer.vertices.empty()) DoubtThinPlaces(bore->bore, liner.outer);
    if (bore != nullptr) {
      WidenThinWall(std::max(settled.blur_px, 0.5) * scale.mean_pitch_um(), bore->bore,
                    liner.outer);
    }
    if (bore != nullptr)
      DoubtLinedBore(*plane.lumens[path.lumen].liner_thickness_um, scale.mean_pitch_um(),
                     bore->bore, liner.outer);
    if (bore != nullptr && !bore->bore.vertices.empty() &&
        (liner.outer.vertices.empty() || !liner.outer.doubt.empty()))
      DoubtEitherEdge(*plane.lumens[path.lumen].liner_thickness_um, bore->bore);
    section.liners.push_back(std::move(liner));
  }
  for (const RingPath& path : layers.rings) {
    RingTrace ring;
    ring.name = plane.rings[path.ring].name;
    const std::string what = "the inner edge of " + ring.name;
    Seam seam = path.seam;
    if (!path.contour.empty()) Recentre(settled.blur_px, seam);
    ring.inner = path.contour.empty() ? Missing(path.why) : RingEdge(seam, scale, what);
    if (seam.wander_px > kMostWander_px && ring.inner.doubt.empty()) {
      ring.inner.doubt =
          fmt::format("{} wanders by {:.1f} px: a gap along it, or parts of another edge", what,
                      seam.wander_px);
    }
    if (seam.nothing_share > kMostNothing && ring.inner.doubt.empty()) {
      ring.inner.doubt =
          fmt::format("along {:.0f} % of {} nothing of it is to be seen: it may be another edge's",
                      100 * seam.nothing_share, what);
    }
    if (seam.blur_px > kSoftSeam * settled.blur_px + 0.3 && ring.inner.doubt.empty())
      ring.inner.doubt = what + " is softer than the picture's edges";
    section.rings.push_back(std::move(ring));
  }
}

}  // namespace cutface
