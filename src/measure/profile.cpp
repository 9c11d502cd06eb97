#include "cutface/profile.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

#include "measure/face.h"
#include "measure/snapshot.h"

namespace cutface {
namespace {

using namespace measure;
constexpr double kFacing = 0.5;  // cosine: within 60 degrees of straight out
constexpr double kDegrees = 180 / std::numbers::pi;

bool Seen(const Feature& feature, std::size_t vertex) {
  const VertexState state = feature.states[vertex % feature.states.size()];
  return state == VertexState::kMeasured || state == VertexState::kEdited;
}

// A wall's two edges.
struct Edges {
  const Feature* inner = nullptr;
  const Feature* outer = nullptr;
  WallProfile::Kind kind = WallProfile::Kind::kLayer;
};

Edges FindEdges(const Face& face, std::string_view name) {
  const auto feature = [&](int f) { return &face.features[static_cast<std::size_t>(f)]; };
  for (const Layer& layer : face.layers) {
    if (layer.name == name && layer.inner >= 0 && layer.outer >= 0)
      return {feature(layer.inner), feature(layer.outer), WallProfile::Kind::kLayer};
  }
  const int lumen = face.FindLumen(name);
  if (lumen >= 0 && face.outline >= 0)
    return {feature(lumen), feature(face.outline), WallProfile::Kind::kToOutside};
  return {};
}

bool Whole(const Edges& edges) {
  return edges.inner != nullptr && edges.outer != nullptr && edges.inner->Measurable() &&
         edges.outer->Measurable();
}

void FillPlaces(const Edges& edges, const DatumFrame& frame, WallProfile& profile) {
  const ContourUm& inner = edges.inner->full;
  const ContourIndex<FrameUm> index{std::span<const PointUm>(edges.outer->full)};
  const auto nearest = index.NearestToEach(std::span<const PointUm>(inner));
  DatumFrame own = frame;
  own.centre = profile.centre;
  double length = 0;
  const std::size_t n = inner.size();
  for (std::size_t i = 0; i < n; ++i) {
    // A bore's far side does not face the outside: the way out from there leads through the bore.
    const PointUm out = nearest[i].on_second - inner[i];
    if (edges.kind == WallProfile::Kind::kToOutside &&
        Dot(out, edges.inner->normals[i]) < kFacing * nearest[i].distance)
      continue;
    WallPlace place;
    place.inner = inner[i];
    place.outer = nearest[i].on_second;
    place.thickness_um = nearest[i].distance;
    place.clock_deg = own.ClockDeg(inner[i]);
    place.seen = Seen(*edges.inner, i) && Seen(*edges.outer, nearest[i].edge_second) &&
                 Seen(*edges.outer, nearest[i].edge_second + 1);
    profile.places.push_back(place);
    const double share =
        0.5 * (Distance(inner[(i + n - 1) % n], inner[i]) + Distance(inner[i], inner[(i + 1) % n]));
    profile.mean_um += share * place.thickness_um;
    length += share;
  }
  if (length > 0) profile.mean_um /= length;
}

}  // namespace

PointUm DatumFrame::FromPicture(PointUm p) const {
  PointUm d = Rotated(p - centre, -rotation_rad);
  if (mirrored) d.x = -d.x;
  return d;
}

PointUm DatumFrame::ToPicture(PointUm p) const {
  if (mirrored) p.x = -p.x;
  return centre + Rotated(p, rotation_rad);
}

double DatumFrame::ClockDeg(PointUm p) const {
  const PointUm d = FromPicture(p);
  const double degrees = std::atan2(d.x, -d.y) * kDegrees;
  return degrees < 0 ? degrees + 360 : degrees;
}

PointUm DatumFrame::Direction(double clock_deg) const {
  const double angle = clock_deg / kDegrees;
  return ToPicture({std::sin(angle), -std::cos(angle)}) - centre;
}

DatumFrame FindDatumFrame(const Section& section, const SectionDesign* plane, const Scale& scale) {
  Face face = PrepareFace(section);
  const PointUm origin = scale.ToUm(section.placement.centre_px);
  const measure::Bench bench(face, section, plane, {false, false, scale.mean_pitch_um(), origin});
  DatumFrame frame;
  frame.doubt = bench.nominals().no_datum;
  frame.mirrored = section.placement.mirrored;
  if (frame.doubt.empty()) {
    frame.centre = bench.raw().datum_centre;
    frame.rotation_rad = bench.raw().rotation;
    return frame;
  }
  frame.rotation_rad = section.placement.rotation_rad;
  frame.centre = origin;
  if (face.outline >= 0) {
    const ContourUm& outline = face.features[static_cast<std::size_t>(face.outline)].full;
    if (outline.size() >= 3) frame.centre = Centroid(outline);
  }
  return frame;
}

std::vector<std::string> WallNames(const Section& section) {
  const Face face = PrepareFace(section);
  std::vector<std::string> names;
  const auto add = [&](const std::string& name) {
    if (Whole(FindEdges(face, name))) names.push_back(name);
  };
  for (const Layer& layer : face.layers) {
    // An only lumen's wall is the same as that lumen's wall to the outside.
    if (!layer.name.ends_with("/wall")) add(layer.name);
  }
  for (const int lumen : face.lumens) add(face.features[static_cast<std::size_t>(lumen)].name);
  return names;
}

Result<WallProfile> ProfileWall(const Section& section, const SectionDesign* plane,
                                const Scale& scale, std::string_view name) {
  const Face face = PrepareFace(section);
  const Edges edges = FindEdges(face, name);
  if (!Whole(edges)) {
    return Fail(Code::kNotFound,
                fmt::format("wall \"{}\": not on this face, or one of its edges was not found; "
                            "choose another wall",
                            name));
  }
  WallProfile profile;
  profile.name = std::string(name);
  profile.kind = edges.kind;
  profile.centre = Centroid(edges.inner->full);
  FillPlaces(edges, FindDatumFrame(section, plane, scale), profile);
  if (profile.places.empty())
    return Fail(Code::kNotFound, fmt::format("wall \"{}\": faces the outside nowhere", name));
  std::stable_sort(
      profile.places.begin(), profile.places.end(),
      [](const WallPlace& a, const WallPlace& b) { return a.clock_deg < b.clock_deg; });
  const auto thinner = [](const WallPlace& a, const WallPlace& b) {
    return a.thickness_um < b.thickness_um;
  };
  const auto [least, greatest] =
      std::minmax_element(profile.places.begin(), profile.places.end(), thinner);
  profile.least = static_cast<std::size_t>(least - profile.places.begin());
  profile.greatest = static_cast<std::size_t>(greatest - profile.places.begin());
  return profile;
}

}  // namespace cutface
