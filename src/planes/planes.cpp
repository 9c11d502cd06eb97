#include "cutface/planes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "planes/frame.h"

namespace cutface {
namespace planes {

PointUm PlaneFace::Vector(PointUm picture) const {
  const Placement& placement = result->section.placement;
  PointUm d = Rotated(picture, -placement.rotation_rad);
  if (placement.mirrored) d.x = -d.x;
  return d;
}

PlaneFace InDrawing(const SectionResult& result, double station_um) {
  PlaneFace face;
  face.station_um = station_um;
  face.result = &result;
  const Section& section = result.section;
  if (section.outline) {
    const ContourUm points = section.outline->Points();
    const auto circle = FitCircle<FrameUm>(points);
    face.origin = circle ? circle->centre : Centroid<FrameUm>(points);
  }
  const auto turned = [&](const TracedContour& contour) {
    ContourUm points;
    for (const ContourVertex& v : contour.vertices)
      points.push_back(face.Vector(v.at - face.origin));
    return points;
  };
  if (section.outline) face.outline = turned(*section.outline);
  for (const LumenTrace& lumen : section.lumens) {
    if (lumen.bore.vertices.size() < 3) continue;
    for (const std::string& name : lumen.names) face.lumens[name] = turned(lumen.bore);
  }
  for (const Void& hole : section.voids) {
    const bool counts = hole.kind == VoidClass::kVoid || hole.kind == VoidClass::kBondGap ||
                        hole.kind == VoidClass::kLinerGap;
    if (counts && hole.contour.vertices.size() >= 3) face.voids[hole.no] = turned(hole.contour);
  }
  return face;
}

const Measurement* Find(const SectionResult& result, const std::vector<std::string>& of,
                        std::string_view word) {
  for (const Measurement& m : result.measurements) {
    const bool same =
        m.of == of || (of.size() == 2 && m.of.size() == 2 && m.of[0] == of[1] && m.of[1] == of[0]);
    if (m.quantity == word && same) return &m;
  }
  return nullptr;
}

double ClockDeg(PointUm d) {
  const double degrees = std::atan2(d.x, -d.y) * 180 / std::numbers::pi;
  return degrees < 0 ? degrees + 360 : degrees;
}

bool Linked(const ContourUm& a, const ContourUm& b, double align_um) {
  if (IntersectionArea<FrameUm>(a, b) > 0) return true;
  return LeastDistance<FrameUm>(a, b).distance <= align_um;
}

void LinkVoids(std::span<const PlaneFace> faces, const PlaneOptions& options, PlaneStack& stack) {
  // Chains grow plane by plane; two that meet become one.
  std::vector<VoidChain> all;
  std::vector<std::map<int, std::size_t>> chain(faces.size());
  for (std::size_t p = 0; p < faces.size(); ++p) {
    for (const auto& [no, contour] : faces[p].voids) {
      chain[p][no] = all.size();
      all.push_back({{{p, no}}, 0});
      if (p == 0) continue;
      for (const auto& [before, other] : faces[p - 1].voids) {
        if (!Linked(contour, other, options.align_um)) continue;
        const std::size_t from = chain[p][no], to = chain[p - 1][before];
        if (from == to) continue;
        for (const VoidChain::Member& m : all[from].members) {
          all[to].members.push_back(m);
          chain[m.plane][m.no] = to;
        }
        all[from].members.clear();
      }
    }
  }
  for (VoidChain& c : all) {
    if (c.members.size() < 2) continue;
    std::stable_sort(c.members.begin(), c.members.end(),
                     [](const auto& a, const auto& b) { return a.plane < b.plane; });
    c.length_um =
        faces[c.members.back().plane].station_um - faces[c.members.front().plane].station_um;
    stack.chains.push_back(std::move(c));
  }
}

namespace {

void Misses(std::span<const PlaneFace> faces, const PlaneOptions& options, PlaneStack& stack) {
  double seen = 0;
  for (const PlaneOfStack& plane : stack.planes) seen = std::max(seen, plane.smallest_void_um);
  for (const double diameter : options.void_sizes_um) {
    const double reach = diameter > seen ? std::sqrt(diameter * diameter - seen * seen) : 0;
    double covered = 0, total = 0;
    for (std::size_t p = 1; p < faces.size(); ++p) {
      const double spacing = faces[p].station_um - faces[p - 1].station_um;
      covered += std::min(spacing, reach);
      total += spacing;
    }
    stack.misses.push_back({diameter, 1 - covered / total});
  }
}

// Planes of another sample or of another stretch of the part would make voids and ways that are not
// there.
Status CheckAlike(const SectionResult& first, const SectionResult& r) {
  constexpr double kMostGrown = 2;  // area of neighbouring planes of one hub or shaft
  if (r.part != first.part || r.revision != first.revision) {
    return Fail(Code::kDesignMismatch,
                fmt::format("{}: is of {} rev. {}, the first result of {} rev. {}", r.image_file,
                            r.part, r.revision, first.part, first.revision));
  }
  if (!r.sample.serial.empty() && !first.sample.serial.empty() &&
      r.sample.serial != first.sample.serial) {
    return Fail(Code::kDesignMismatch,
                fmt::format("{}: is of sample {}, the first result of sample {}; serial planes are "
                            "of one sample",
                            r.image_file, r.sample.serial, first.sample.serial));
  }
  if (!r.section.outline || r.section.outline->vertices.size() < 3 || !r.section.outline->whole) {
    return Fail(Code::kDesignMismatch,
                fmt::format("{}: has no whole outline, which planes are laid on one another by",
                            r.image_file));
  }
  if (!first.section.outline) return {};  // said of the first itself
  const double ratio =
      Area<FrameUm>(r.section.outline->Points()) / Area<FrameUm>(first.section.outline->Points());
  if (ratio < 1 / kMostGrown || ratio > kMostGrown) {
    return Fail(
        Code::kDesignMismatch,
        fmt::format("{}: its outline has {:.2g} times the area of the first result's; serial "
                    "planes are of one hub or shaft",
                    r.image_file, ratio));
  }
  return {};
}

Result<std::vector<PlaneFace>> Ordered(std::span<const SectionResult> results,
                                       const PlaneOptions& options) {
  if (results.size() < 2)
    return Fail(Code::kUsage, "planes: name the results of two planes or more");
  std::vector<PlaneFace> faces;
  for (std::size_t i = 0; i < results.size(); ++i) {
    const SectionResult& r = results[i];
    if (auto status = CheckAlike(results[0], r); !status) return tl::unexpected(status.error());
    if (!options.spacing_um && !r.sample.station_mm) {
      return Fail(Code::kUsage,
                  fmt::format("{}: has no station; measure it with --station, or name the "
                              "results in order with --spacing",
                              r.image_file));
    }
    faces.push_back(InDrawing(r, options.spacing_um ? static_cast<double>(i) * *options.spacing_um
                                                    : *r.sample.station_mm * 1000));
  }
  std::stable_sort(faces.begin(), faces.end(), [](const PlaneFace& a, const PlaneFace& b) {
    return a.station_um < b.station_um;
  });
  for (std::size_t i = 1; i < faces.size(); ++i) {
    if (faces[i].station_um - faces[i - 1].station_um > 0) continue;
    return Fail(Code::kUsage,
                fmt::format("{} and {} have the same station; name one of them, or use --spacing",
                            faces[i - 1].result->image_file, faces[i].result->image_file));
  }
  return faces;
}

}  // namespace
}  // namespace planes

Result<PlaneStack> StackPlanes(std::span<const SectionResult> results,
                               const PlaneOptions& options) {
  auto faces = planes::Ordered(results, options);
  if (!faces) return tl::unexpected(faces.error());
  PlaneStack stack;
  stack.part = results[0].part;
  stack.section = results[0].section_name;
  for (const planes::PlaneFace& face : *faces) {
    const SectionResult& r = *face.result;
    stack.planes.push_back({r.image_file, face.station_um,
                            r.section.picture.smallest_void_px * r.mean_pitch_um,
                            static_cast<int>(face.voids.size())});
    if (!r.section.placement.names_proven)
      stack.warnings.push_back(r.image_file +
                               ": names are not proven; planes may be turned against one another");
    if (r.part.empty())
      stack.warnings.push_back(r.image_file +
                               ": surveyed without a drawing; how it lies is not known");
  }
  planes::LinkVoids(*faces, options, stack);
  planes::SearchBarriers(*faces, options, stack);
  planes::Misses(*faces, options, stack);
  planes::CompareBraids(*faces, options, stack);
  planes::CompareBonds(*faces, options, stack);
  return stack;
}

}  // namespace cutface
