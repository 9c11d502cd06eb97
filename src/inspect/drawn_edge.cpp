#include "inspect/drawn_edge.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/edge.h"
#include "cutface/segment.h"

namespace cutface {
namespace {

constexpr double kProbe_px = 4;     // to either side, for the step that is expected
constexpr double kMostLeft_px = 6;  // by which a settled place may leave the drawn line

double ToneAt(const Micrograph& picture, const LightField& light, PointPx p) {
  const int x = std::clamp(static_cast<int>(std::lround(p.x)), 0, picture.width() - 1);
  const int y = std::clamp(static_cast<int>(std::lround(p.y)), 0, picture.height() - 1);
  return picture.At(x, y) / light.At(p.x, p.y);
}

// Signed tone change from the void side to the polymer, relative to the body.
double ExpectedStep(const Micrograph& picture, const LightField& light, const ContourPx& contour,
                    bool polymer_outside) {
  const ContourPx normals = OutwardNormals(contour);
  double sum = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const double outside = ToneAt(picture, light, contour[i] + kProbe_px * normals[i]);
    const double inside = ToneAt(picture, light, contour[i] - kProbe_px * normals[i]);
    sum += polymer_outside ? outside - inside : inside - outside;
  }
  return contour.empty() ? 0 : sum / static_cast<double>(contour.size());
}

class Inputs {
 public:
  Inputs(const KnownFace& face, const LightField& light) : face_(face), light_(light) {}

  void Add(const ContourPx& start, bool polymer_outside, bool inner, bool fixed) {
    EdgeInput input;
    input.start = start;
    input.polymer_outside = polymer_outside;
    input.inner_boundary = inner;
    input.expected_step = ExpectedStep(face_.micrograph, light_, start, polymer_outside);
    input.fixed = fixed;
    inputs_.push_back(std::move(input));
  }
  void AddKnown(const TracedContour& contour, const TracedContour* except, bool polymer_outside,
                bool inner) {
    if (&contour == except || contour.vertices.size() < 6) return;
    Add(face_.scale.ToPx(contour.Points()), polymer_outside, inner, true);
  }
  const std::vector<EdgeInput>& all() const { return inputs_; }

 private:
  const KnownFace& face_;
  const LightField& light_;
  std::vector<EdgeInput> inputs_;
};

void HoldToLine(const ContourPx& start, SettledContour& settled) {
  const ContourIndex<FramePx> index{std::span<const PointPx>(start)};
  for (SettledPlace& place : settled.places) {
    const auto near = index.NearestTo(place.at, 1e9);
    if (!near || near->distance <= kMostLeft_px) continue;
    place.at = near->on_second;
    place.state = PlaceState::kBridged;
  }
}

}  // namespace

Result<TracedContour> SettleDrawn(const KnownFace& face, const Section& section,
                                  const TracedContour* except, const ContourPx& start,
                                  bool polymer_outside, bool inner) {
  if (start.size() < 3 || !IsSimple(start) || !(Area(start) > 0))
    return Fail(Code::kInvalidContour,
                "the line crosses itself or encloses nothing; draw it again");
  auto proposal = ProposeFace(face.micrograph);
  if (!proposal) return tl::unexpected(proposal.error());
  Inputs inputs(face, proposal->light);
  inputs.Add(start, polymer_outside, inner, false);
  if (section.outline) inputs.AddKnown(*section.outline, except, false, false);
  for (const LumenTrace& lumen : section.lumens) inputs.AddKnown(lumen.bore, except, true, false);
  for (const RingTrace& ring : section.rings) inputs.AddKnown(ring.inner, except, true, true);
  for (const LinerTrace& liner : section.liners) inputs.AddKnown(liner.outer, except, true, true);
  EdgeOptions options;
  options.gamma = face.calibration.gamma;
  options.u_gamma = face.calibration.gamma_u.value_or(0);
  options.smoothing_px = face.edge_cutoff_um / face.scale.mean_pitch_um();
  SettledFace settled = SettleEdges(face.micrograph, proposal->light, inputs.all(), options);
  HoldToLine(start, settled.contours.front());
  TracedContour traced = TracedFrom(settled.contours.front(), face.scale);
  if (traced.vertices.size() < 6 || !IsSimple(traced.Points()))
    return Fail(Code::kInvalidContour, "no edge can be settled along this line; draw it again");
  return traced;
}

Result<Stretch> FindStretch(const ContourUm& contour, const ContourUm& line, double reach_um) {
  if (line.size() < 2 || contour.size() < 6)
    return Fail(Code::kUsage, "a line needs two points at least, beside an edge that was found");
  const auto nearest = [&](PointUm p) {
    std::size_t best = 0;
    for (std::size_t i = 1; i < contour.size(); ++i)
      if (Distance(contour[i], p) < Distance(contour[best], p)) best = i;
    return best;
  };
  const std::size_t a = nearest(line.front()), b = nearest(line.back());
  if (a == b) return Fail(Code::kUsage, "the line's ends lie at one place of the edge");
  if (Distance(contour[a], line.front()) > reach_um || Distance(contour[b], line.back()) > reach_um)
    return Fail(Code::kUsage,
                fmt::format("the line's ends must lie on the edge, within {:.0f} um", reach_um));
  const std::size_t n = contour.size();
  const auto away = [&](std::size_t from, std::size_t to) {
    double sum = 0;
    const std::size_t count = (to + n - from) % n + 1;
    for (const PointUm p : line) {
      double least = 1e300;
      for (std::size_t k = 0; k < count; ++k)
        least = std::min(least, Distance(contour[(from + k) % n], p));
      sum += least;
    }
    // Where the line tells nothing (it runs through the middle) the shorter side is meant.
    return sum + 1e-6 * static_cast<double>(count);
  };
  if (away(a, b) <= away(b, a)) return Stretch{a, (b + n - a) % n + 1, false};
  return Stretch{b, (a + n - b) % n + 1, true};
}

}  // namespace cutface
