// When a word cannot be had, and the sentence that says why.
#include <fmt/format.h>

#include <cmath>

#include "measure/words.h"

namespace cutface::measure {
namespace {

constexpr double kUnseen = 0.9;       // share of an edge
constexpr double kNearDatumUm = 1.0;  // a direction from a centre this near means nothing

const Feature& FeatureOf(const Bench& bench, int index) {
  return bench.face().features[static_cast<std::size_t>(index)];
}

std::string PartReason(const Bench& bench, int index, bool needs_whole) {
  const Feature& feature = FeatureOf(bench, index);
  if (!feature.Measurable()) return fmt::format("{} {}", feature.name, feature.missing);
  if (needs_whole && !feature.whole) return fmt::format("{} is cut off by the frame", feature.name);
  if (needs_whole && feature.BridgedShare() > kUnseen) {
    const std::string why = feature.traced != nullptr ? feature.traced->doubt : "";
    return fmt::format("the edge of {} was not seen{}{}", feature.name, why.empty() ? "" : ": ",
                       why);
  }
  return "";
}

// The edge at a nearest place: both of its ends must have been seen.
std::string EdgeReason(const Feature& feature, std::size_t edge) {
  for (std::size_t v : {edge, (edge + 1) % feature.states.size()}) {
    if (feature.states[v] == VertexState::kCutOff) {
      return fmt::format("the least place lies where {} is cut off by the frame", feature.name);
    }
    if (feature.states[v] == VertexState::kBridged) {
      return fmt::format("the least place lies where the edge of {} was not seen and is bridged",
                         feature.name);
    }
  }
  return "";
}

// What the frame hides of one contour may come nearer to another than all that is seen. `seen_um`
// is the least that is seen; drawn contours stand in for what is hidden, less what a part may be
// off its drawing.
constexpr double kOffDrawing = 0.03;  // of the outline's radius: place and size
constexpr double kSeenNear = 0.05;    // the same: a drawn place this near a seen one is seen
std::string HiddenReason(const Bench& bench, int a, int b, double seen_um) {
  const Nominals& nominals = bench.nominals();
  for (const auto& [cut, other] : {std::pair{a, b}, std::pair{b, a}}) {
    const Feature& feature = FeatureOf(bench, cut);
    if (feature.whole) continue;
    std::string reason =
        fmt::format("the least place may lie beyond the frame, which cuts {} off", feature.name);
    if (nominals.placed.empty()) return reason;
    const ContourUm& drawn = nominals.placed[static_cast<std::size_t>(cut)];
    const ContourUm& against = nominals.placed[static_cast<std::size_t>(other)];
    if (drawn.empty() || against.empty()) return reason;
    const double near = kSeenNear * nominals.radius_um;
    const double least = seen_um + kOffDrawing * nominals.radius_um;
    for (const PointUm p : drawn) {
      const bool close = std::any_of(against.begin(), against.end(),
                                     [&](PointUm q) { return Distance(p, q) < least; });
      if (!close) continue;
      bool seen = false;
      for (std::size_t v = 0; v < feature.full.size() && !seen; ++v)
        seen = feature.states[v] != VertexState::kCutOff && Distance(feature.full[v], p) < near;
      if (!seen) return reason;
    }
  }
  return "";
}

// Two edges on one line are one edge traced twice, or one leaves the face: neither tells a
// thickness.
constexpr double kOneEdge_px = 0.25;

std::string GapReason(const Bench& bench, int g) {
  const Gap& gap = bench.gaps()[static_cast<std::size_t>(g)];
  if (gap.raw.distance < kOneEdge_px * bench.pitch_um()) {
    return fmt::format("the edges of {} and {} touch or cross: one of them was not told there",
                       FeatureOf(bench, gap.first).name, FeatureOf(bench, gap.second).name);
  }
  std::string reason = EdgeReason(FeatureOf(bench, gap.first), gap.raw.edge_first);
  return reason.empty() ? EdgeReason(FeatureOf(bench, gap.second), gap.raw.edge_second) : reason;
}

std::string DatumReason(const Bench& bench) {
  const Nominals& nominals = bench.nominals();
  if (!nominals.no_datum.empty()) return nominals.no_datum;
  const int centre = nominals.datum_lumen >= 0 ? nominals.datum_lumen : bench.face().outline;
  if (centre < 0) return "no datum: the outline was not found";
  std::string reason = PartReason(bench, centre, true);
  if (reason.empty() && nominals.clock_lumen >= 0) {
    reason = PartReason(bench, nominals.clock_lumen, true);
  }
  return reason.empty() ? "" : "no datum: " + reason;
}

std::string AllReason(const Bench& bench) {
  if (bench.face().outline < 0) return "the outline was not found";
  if (bench.nominals().wired) return "the body has wires or fibres whose area was not measured";
  std::string reason = PartReason(bench, bench.face().outline, true);
  for (int lumen : bench.face().lumens) {
    if (reason.empty()) reason = PartReason(bench, lumen, true);
  }
  return reason;
}

bool AnyVoid(const Bench& bench) {
  for (int hole : bench.face().voids) {
    const Feature& feature = FeatureOf(bench, hole);
    if (feature.Measurable() && IsSureVoid(feature.hole->kind)) return true;
  }
  return false;
}

// One trace that carries both names: the septum between them is broken.
std::string MergedReason(const Feature& a, const Feature& b) {
  if (a.lumen == nullptr || a.lumen != b.lumen) return "";
  std::string text = "septum broken";
  if (a.lumen->breach) {
    text += fmt::format(": breach of {:.1f} um", Distance(a.lumen->breach->a, a.lumen->breach->b));
  }
  return text;
}

Refusal RefuseSolid(const Bench& bench, const Target& target, const Word& word) {
  const bool pair = target.kind == QuantityOf::kLumenPair;
  const int other = pair ? target.second : bench.face().outline;
  const std::string between =
      pair ? target.of[0] + " and " + target.of[1] : target.of[0] + " and the outside";
  if ((word.needs & kNeedsGap) != 0) {
    const bool polymer = word.word == "septum_polymer";
    const int g =
        polymer ? bench.FindPolymerGap(target.first, other) : bench.FindGap(target.first, other);
    if (g < 0) return {true, "no distance between " + between};
    if (bench.gaps()[static_cast<std::size_t>(g)].blocked) {
      return {false, "something else lies between " + between};
    }
    const std::string reason = GapReason(bench, g);
    const double seen = bench.gaps()[static_cast<std::size_t>(g)].raw.distance;
    return {true, reason.empty() ? HiddenReason(bench, target.first, other, seen) : reason};
  }
  const Way way = FindWay(bench, bench.raw(), target.first, other, SteppingOf(word.word), true);
  if (!std::isfinite(way.sum)) return {false, "another lumen lies between " + between};
  if (std::string reason = HiddenReason(bench, target.first, other, way.sum); !reason.empty())
    return {true, reason};
  for (int g : word.word == "barrier_weakest" ? way.weakest_gaps : way.sum_gaps) {
    if (std::string reason = GapReason(bench, g); !reason.empty()) return {true, reason};
  }
  return {true, ""};
}

// The extremes of a thickness must lie on edges that were seen.
Refusal RefuseLayer(const Bench& bench, const Target& target, const Word& word) {
  const ThicknessPlaces& at = bench.layers()[static_cast<std::size_t>(target.layer)].places();
  const Feature &inner = FeatureOf(bench, target.first), &outer = FeatureOf(bench, target.second);
  for (const Feature* part : {&inner, &outer}) {
    if (!part->whole)
      return {true, fmt::format("{} is cut off by the frame: the rest of the layer was not seen",
                                part->name)};
    // Then one of the edges is the other one over a stretch, or something else.
    if (part->traced != nullptr && part->traced->doubt.find("nearly touch") != std::string::npos)
      return {true, part->traced->doubt};
  }
  const auto reason = [&](std::size_t vertex, std::size_t edge) {
    std::string text = EdgeReason(inner, vertex);
    return text.empty() ? EdgeReason(outer, edge) : text;
  };
  std::string text;
  if ((word.needs & kNeedsLeastPlace) != 0) text = reason(at.least_vertex, at.least_edge);
  if ((word.needs & kNeedsGreatestPlace) != 0 && text.empty())
    text = reason(at.greatest_vertex, at.greatest_edge);
  return {true, text};
}

// What is even or round has no direction.
Refusal RefuseDirection(const Bench& bench, const Target& target, const Word& word) {
  if (target.layer >= 0 && word.word.ends_with("_harmonic_clock")) {
    constexpr double kEvenUm = 0.5;
    const Thickness& now = bench.raw().layers[static_cast<std::size_t>(target.layer)];
    const std::size_t k = word.word.starts_with("first")    ? 0
                          : word.word.starts_with("second") ? 1
                                                            : 2;
    if (std::hypot(now.wave_cos[k], now.wave_sin[k]) < kEvenUm)
      return {false, target.of[0] + " is even within 0.5 um there: no direction"};
    if (std::string reason = DatumReason(bench); !reason.empty()) return {true, reason};
  }
  if (word.word == "narrow_clock") {
    constexpr double kRoundShare = 0.02;
    const ShapeValues& shape = bench.raw().shapes[static_cast<std::size_t>(target.first)];
    if (shape.width_max - shape.width_min < kRoundShare * shape.width_max)
      return {false, target.of[0] + " is round within 2 %: no direction"};
  }
  return {};
}

// A seam that wanders follows a gap or another edge: its centre is off by pixels, not by noise.
Refusal RefuseCentres(const Bench& bench, const Target& target) {
  for (int part : {target.first, target.second}) {
    if (part < 0) continue;
    const Feature& edge = FeatureOf(bench, part);
    if (edge.traced != nullptr && edge.kind == Feature::Kind::kLayer &&
        edge.traced->doubt.find("wanders") != std::string::npos)
      return {true, edge.traced->doubt};
  }
  return {};
}

// Where a layer's edge was not found, a gap along it would not have been either.
std::string UnseenLayers(const Bench& bench) {
  for (const Layer& layer : bench.face().layers) {
    for (int edge : {layer.inner, layer.outer}) {
      if (edge < 0 || FeatureOf(bench, edge).kind != Feature::Kind::kLayer) continue;
      if (std::string reason = PartReason(bench, edge, true); !reason.empty())
        return "gaps along " + layer.name + " cannot be told: " + reason;
    }
  }
  return "";
}

}  // namespace

Refusal Refuse(const Bench& bench, const Target& target, const Word& word) {
  const auto has = [&](Need need) { return (word.needs & need) != 0; };
  if (target.kind == QuantityOf::kLumenPair) {
    const std::string merged =
        MergedReason(FeatureOf(bench, target.first), FeatureOf(bench, target.second));
    if (!merged.empty()) return {true, merged};
  }
  for (int part : {target.first, target.second}) {
    if (part < 0) continue;
    if (std::string reason = PartReason(bench, part, has(kNeedsWhole)); !reason.empty()) {
      return {true, reason};
    }
  }
  if (word.word == "septum_polymer") {
    for (int part : {target.first, target.second}) {
      const auto& nominal = bench.nominals().lumens[static_cast<std::size_t>(part)];
      if (!nominal || !nominal->lined) continue;
      const int layer = bench.face().FindLayer(FeatureOf(bench, part).name + "/liner");
      if (layer < 0) {
        return {true, "the liner of " + FeatureOf(bench, part).name + " was not traced"};
      }
      const int outer = bench.face().layers[static_cast<std::size_t>(layer)].outer;
      if (std::string reason = PartReason(bench, outer, false); !reason.empty())
        return {true, reason};
    }
  }
  if (has(kNeedsWires)) {
    if (!bench.nominals().braided) return {false, "the drawing has no wires"};
    if (!bench.nominals().wires_untold.empty()) return {true, bench.nominals().wires_untold};
  }
  const int outline = bench.face().outline;
  const bool hides = outline >= 0 && !FeatureOf(bench, outline).whole;
  if (target.kind == QuantityOf::kVoids && hides) {
    return {true, "part of the face lies beyond the frame: voids there were not seen"};
  }
  if (target.kind == QuantityOf::kVoids || has(kNeedsPath)) {
    if (std::string reason = UnseenLayers(bench); !reason.empty()) return {true, reason};
  }
  if (Refusal refusal = RefuseDirection(bench, target, word); !refusal.reason.empty())
    return refusal;
  if (has(kNeedsClockGaps)) {
    if (target.layer >= 0 && target.of[0].ends_with("/wall"))
      return {false, "a wall from bore to outline has no gap along it"};
    const ClockGaps& gaps = target.kind == QuantityOf::kBond
                                ? bench.bond_gaps()
                                : bench.layer_gaps()[static_cast<std::size_t>(target.layer)];
    if (gaps.told) return {};
    return {true, "gaps along " + target.of[0] + " are not told by this version"};
  }
  if (target.layer >= 0) return RefuseLayer(bench, target, word);
  if (target.kind == QuantityOf::kBond) return RefuseCentres(bench, target);
  if (target.kind == QuantityOf::kLumen && has(kNeedsOutline)) {
    const auto& nominal = bench.nominals().lumens[static_cast<std::size_t>(target.first)];
    if (nominal && nominal->opens_outside) return {false, target.of[0] + " opens to the outside"};
  }
  if (has(kNeedsAll)) {
    if (std::string reason = AllReason(bench); !reason.empty()) return {true, reason};
  }
  if (has(kNeedsOutline)) {
    if (bench.face().outline < 0) return {true, "the outline was not found"};
    if (std::string reason = PartReason(bench, bench.face().outline, false); !reason.empty()) {
      return {true, reason};
    }
  }
  if (has(kNeedsNominal) && !bench.nominals().lumens[static_cast<std::size_t>(target.first)])
    return {false, "no drawing to compare with"};
  if (has(kNeedsDatum)) {
    if (std::string reason = DatumReason(bench); !reason.empty()) return {true, reason};
    const PointUm at = bench.raw().shapes[static_cast<std::size_t>(target.first)].centroid;
    if (word.word == "clock" && Distance(at, bench.raw().datum_centre) < kNearDatumUm) {
      return {false, fmt::format("{} lies on the datum centre and has no direction", target.of[0])};
    }
  }
  if (has(kNeedsVoid) && !AnyVoid(bench)) return {false, "no void was seen"};
  if (has(kNeedsGap) || has(kNeedsPath)) return RefuseSolid(bench, target, word);
  return {};
}

}  // namespace cutface::measure
