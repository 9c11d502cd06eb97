// Corrections by hand, made one after the other, then everything measured again.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "cutface/asked.h"
#include "cutface/inspect.h"
#include "cutface/segment.h"
#include "inspect/drawn_edge.h"
#include "inspect/measured.h"
#include "inspect/shared.h"

namespace cutface {
namespace {

using Kind = Correction::Kind;

constexpr double kReachShare = 0.15;  // of an edge's equal-area radius: how far a line may end
constexpr double kLeastReach_px = 12;
constexpr double kApart_px = 1.5;  // a cut's two sides start this far from the line

tl::unexpected<Error> NoSuch(const std::string& what) {
  return Fail(Code::kNotFound, what + ": is not on this face; choose what is");
}

std::string AreaText(const ContourUm& contour) {
  return fmt::format("area {:.5f} mm2", Area(contour) * 1e-6);
}

std::optional<VoidClass> ClassOf(const std::string& word) {
  for (int k = 0; k <= static_cast<int>(VoidClass::kDoubtful); ++k) {
    if (VoidClassName(static_cast<VoidClass>(k)) == word) return static_cast<VoidClass>(k);
  }
  return std::nullopt;
}

Void* FindVoid(Section& section, const std::string& name) {
  for (Void& v : section.voids) {
    if (fmt::format("void {}", v.no) == name) return &v;
  }
  return nullptr;
}

void Refresh(Void& v) {
  const ContourUm points = v.contour.Points();
  v.centroid = Centroid(points);
  v.area_um2 = Area(points);
  v.u_area_um2 = Perimeter(points) * std::hypot(v.contour.u_common_um, 1e-3);
}

// An edge of the section by the name that the display list gives it.
struct Edge {
  TracedContour* contour = nullptr;
  bool polymer_outside = true, inner = false;
};
Edge FindEdge(Section& section, const std::string& name) {
  if (name == "outline" && section.outline) return {&*section.outline, false, false};
  for (RingTrace& ring : section.rings)
    if (ring.name == name) return {&ring.inner, true, true};
  for (LinerTrace& liner : section.liners)
    if (liner.lumen + "/liner" == name) return {&liner.outer, true, true};
  for (LumenTrace& lumen : section.lumens) {
    const bool named = std::find(lumen.names.begin(), lumen.names.end(), name) != lumen.names.end();
    if (named || lumen.Key() == name) return {&lumen.bore, true, false};
  }
  if (Void* v = FindVoid(section, name)) return {&v->contour, true, false};
  return {};
}

ContourUm Reversed(ContourUm line) {
  std::reverse(line.begin(), line.end());
  return line;
}

void MakePositive(ContourPx& contour) {
  if (SignedArea(contour) < 0) std::reverse(contour.begin(), contour.end());
}

// An open line in steps of at most a pixel and a half.
ContourUm Filled(const ContourUm& line, double step_um) {
  ContourUm out;
  for (std::size_t i = 0; i + 1 < line.size(); ++i) {
    const int steps = std::max(1, static_cast<int>(Distance(line[i], line[i + 1]) / step_um));
    for (int k = 0; k < steps; ++k)
      out.push_back(line[i] + (1.0 * k / steps) * (line[i + 1] - line[i]));
  }
  out.push_back(line.back());
  return out;
}

class Corrector {
 public:
  Corrector(const KnownFace& face, const SectionDesign& plane, Section& section)
      : face_(face), plane_(plane), section_(section) {}

  // Makes it, and fills what it was and became.
  Status Make(Correction& c) {
    switch (c.kind) {
      case Kind::kSayWhat:
        return SayWhat(c);
      case Kind::kRename:
        return Rename(c);
      case Kind::kRedraw:
        return Redraw(c);
      case Kind::kLeaveOut:
        return LeaveOut(c);
      case Kind::kAdd:
        return Add(c);
      case Kind::kSplit:
        return Split(c);
      case Kind::kJoin:
        return Join(c);
      case Kind::kDispose:
        c.after = c.to;
        return {};
    }
    return {};
  }

 private:
  double Pitch() const { return face_.scale.mean_pitch_um(); }

  double ReachFor(const ContourUm& contour) const {
    return std::max(kReachShare * std::sqrt(Area(contour) / std::numbers::pi),
                    kLeastReach_px * Pitch());
  }

  Status SayWhat(Correction& c) {
    Void* v = FindVoid(section_, c.of);
    if (v == nullptr) return NoSuch(c.of);
    const auto kind = ClassOf(c.to);
    if (!kind) return Fail(Code::kUsage, "\"" + c.to + "\" is no word for a region");
    c.before = VoidClassName(v->kind);
    c.after = c.to;
    v->kind = *kind;
    v->evidence = "said by " + c.who + ": " + c.why;
    return {};
  }

  Status Rename(Correction& c) {
    const auto holds = [&](const std::string& name) { return section_.FindLumen(name) != nullptr; };
    if (!holds(c.of)) return NoSuch("lumen " + c.of);
    if (!holds(c.to)) return NoSuch("lumen " + c.to);
    if (c.of == c.to) return Fail(Code::kUsage, "lumen " + c.of + ": has this name already");
    const auto swap = [&](std::string& name) {
      if (name == c.of)
        name = c.to;
      else if (name == c.to)
        name = c.of;
    };
    for (LumenTrace& lumen : section_.lumens)
      for (std::string& name : lumen.names) swap(name);
    for (LinerTrace& liner : section_.liners) swap(liner.lumen);
    for (WireTrace& wire : section_.wires) swap(wire.exposed_to);
    for (Void& v : section_.voids) swap(v.of);
    c.before = c.of;
    c.after = c.to;
    return {};
  }

  Status Redraw(Correction& c) {
    const Edge edge = FindEdge(section_, c.of);
    if (edge.contour == nullptr || edge.contour->vertices.empty()) return NoSuch("edge " + c.of);
    const ContourUm old = edge.contour->Points();
    const auto stretch = FindStretch(old, c.points, ReachFor(old));
    if (!stretch) return tl::unexpected(stretch.error());
    const ContourUm line = Filled(stretch->against ? Reversed(c.points) : c.points, 1.5 * Pitch());
    const std::size_t n = old.size(), kept = n - stretch->count;
    ContourUm start = line;
    for (std::size_t k = 0; k < kept; ++k)
      start.push_back(old[(stretch->first + stretch->count + k) % n]);
    ContourPx start_px = face_.scale.ToPx(start);
    if (SignedArea(start_px) <= 0)
      return Fail(Code::kInvalidContour, "the line turns the edge inside out; draw it again");
    const auto settled =
        SettleDrawn(face_, section_, edge.contour, start_px, edge.polymer_outside, edge.inner);
    if (!settled) return tl::unexpected(settled.error());
    c.before = AreaText(old);
    const Counts counts = Splice(*settled, start, line.size(), *stretch, *edge.contour);
    if (!IsSimple(edge.contour->Points()))
      return Fail(Code::kInvalidContour, "the line makes the edge cross itself; draw it again");
    c.after = fmt::format("{}, {} places on an edge and {} without one",
                          AreaText(edge.contour->Points()), counts.settled, counts.bridged);
    RefreshVoids();
    return {};
  }

  struct Counts {
    int settled = 0, bridged = 0;
  };
  // The settled places along the line in place of the old stretch; the rest stays as it was.
  Counts Splice(const TracedContour& settled, const ContourUm& start, std::size_t drawn,
                const Stretch& stretch, TracedContour& contour) const {
    const ContourIndex<FrameUm> index{std::span<const PointUm>(start)};
    std::vector<std::pair<double, ContourVertex>> fresh;
    for (const ContourVertex& v : settled.vertices) {
      const auto near = index.NearestTo(v.at, 1e9);
      if (near && near->edge_second + 1 < drawn)
        fresh.push_back({static_cast<double>(near->edge_second) +
                             Distance(near->on_second, start[near->edge_second]) /
                                 std::max(1e-9, Distance(start[near->edge_second],
                                                         start[near->edge_second + 1])),
                         v});
    }
    std::stable_sort(fresh.begin(), fresh.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    Counts counts;
    std::vector<ContourVertex> vertices;
    for (auto& [where, v] : fresh) {
      const bool seen = v.state == VertexState::kMeasured;
      (seen ? counts.settled : counts.bridged)++;
      if (seen) v.state = VertexState::kEdited;
      vertices.push_back(v);
    }
    const std::size_t n = contour.vertices.size();
    for (std::size_t k = stretch.count; k < n; ++k)
      vertices.push_back(contour.vertices[(stretch.first + k) % n]);
    contour.vertices = std::move(vertices);
    contour.u_common_um = std::max(contour.u_common_um, settled.u_common_um);
    contour.u_arc_um = std::max(contour.u_arc_um, settled.u_arc_um);
    SetNormals(contour);
    return counts;
  }

  static void SetNormals(TracedContour& contour) {
    const ContourUm normals = OutwardNormals(contour.Points());
    for (std::size_t i = 0; i < normals.size(); ++i) contour.vertices[i].normal = normals[i];
  }

  void RefreshVoids() {
    for (Void& v : section_.voids)
      if (std::any_of(v.contour.vertices.begin(), v.contour.vertices.end(),
                      [](const ContourVertex& x) { return x.state == VertexState::kEdited; }))
        Refresh(v);
  }

  Status LeaveOut(Correction& c) {
    const Edge edge = FindEdge(section_, c.of);
    if (edge.contour == nullptr || edge.contour->vertices.empty()) return NoSuch("edge " + c.of);
    const ContourUm old = edge.contour->Points();
    const auto stretch = FindStretch(old, c.points, ReachFor(old));
    if (!stretch) return tl::unexpected(stretch.error());
    const std::size_t n = old.size();
    if (2 * stretch->count > n)
      return Fail(Code::kUsage,
                  "more than half of the edge would be left out; then it is not measured at all");
    double length = 0;
    for (std::size_t k = 0; k < stretch->count; ++k) {
      ContourVertex& v = edge.contour->vertices[(stretch->first + k) % n];
      v.state = VertexState::kBridged;
      length += Distance(old[(stretch->first + k) % n], old[(stretch->first + k + 1) % n]);
    }
    c.before = "measured all round";
    c.after = fmt::format("{:.0f} um left out", length);
    return {};
  }

  Status Add(Correction& c) {
    if (c.points.size() < 3)
      return Fail(Code::kUsage, "a line around it needs three points at least");
    ContourUm closed = c.points;
    closed.push_back(c.points.front());
    closed = Filled(closed, 1.5 * Pitch());
    closed.pop_back();
    ContourPx start = face_.scale.ToPx(closed);
    MakePositive(start);
    auto settled = SettleDrawn(face_, section_, nullptr, start, true, false);
    if (!settled) return tl::unexpected(settled.error());
    for (ContourVertex& v : settled->vertices)
      if (v.state == VertexState::kMeasured) v.state = VertexState::kEdited;
    c.before = "nothing";
    if (const auto kind = ClassOf(c.to)) {
      Void v;
      for (const Void& other : section_.voids) v.no = std::max(v.no, other.no);
      ++v.no;
      v.kind = *kind;
      v.contour = std::move(*settled);
      v.evidence = "added by " + c.who + ": " + c.why;
      Refresh(v);
      c.of = fmt::format("void {}", v.no);
      c.after = fmt::format("{}, {}", c.to, AreaText(v.contour.Points()));
      section_.voids.push_back(std::move(v));
      return {};
    }
    for (LumenTrace& lumen : section_.lumens) {
      if (lumen.names != std::vector<std::string>{c.to}) continue;
      if (lumen.state != LumenState::kNotFound)
        return Fail(Code::kUsage, "lumen " + c.to + ": is there already; redraw it");
      lumen.state = LumenState::kOpen;
      lumen.bore = std::move(*settled);
      c.of = c.to;
      c.after = AreaText(lumen.bore.Points());
      return {};
    }
    return NoSuch(c.to);
  }

  // Where the drawing puts a lumen, by the pose.
  PointUm Expected(const std::string& name) const {
    const LumenDesign* drawn = plane_.FindLumen(name);
    PointUm p = drawn != nullptr ? Centroid(drawn->shape.contour) : PointUm{};
    if (section_.placement.mirrored) p.x = -p.x;
    return face_.scale.ToUm(section_.placement.centre_px) +
           Rotated(p, section_.placement.rotation_rad);
  }

  Status Split(Correction& c) {
    auto merged = std::find_if(section_.lumens.begin(), section_.lumens.end(),
                               [&](const LumenTrace& l) { return l.Key() == c.of; });
    if (merged == section_.lumens.end()) return NoSuch("lumen " + c.of);
    if (merged->names.size() != 2)
      return Fail(Code::kUsage, "only two lumens that run together can be parted");
    const ContourUm old = merged->bore.Points();
    const auto stretch = FindStretch(old, c.points, ReachFor(old));
    if (!stretch) return tl::unexpected(stretch.error());
    const ContourUm line = Filled(stretch->against ? Reversed(c.points) : c.points, 1.5 * Pitch());
    // The piece along the stretch closes against the line backwards, the other one forwards.
    ContourUm one, two = line;
    const std::size_t n = old.size();
    for (std::size_t k = 0; k < stretch->count; ++k) one.push_back(old[(stretch->first + k) % n]);
    for (const PointUm p : Reversed(line)) one.push_back(p);
    for (std::size_t k = stretch->count; k < n; ++k) two.push_back(old[(stretch->first + k) % n]);
    std::vector<TracedContour> parts;
    for (ContourUm* part : {&one, &two}) {
      ContourPx start = Offset(face_.scale.ToPx(*part), -kApart_px);
      MakePositive(start);
      auto settled = SettleDrawn(face_, section_, &merged->bore, start, true, false);
      if (!settled) return tl::unexpected(settled.error());
      for (ContourVertex& v : settled->vertices)
        if (v.state == VertexState::kMeasured) v.state = VertexState::kEdited;
      parts.push_back(std::move(*settled));
    }
    const std::string a = merged->names[0], b = merged->names[1];
    const auto off = [&](const TracedContour& part, const std::string& name) {
      return Distance(Centroid(part.Points()), Expected(name));
    };
    const bool straight =
        off(parts[0], a) + off(parts[1], b) <= off(parts[0], b) + off(parts[1], a);
    LumenTrace first, second;
    first.names = {a};
    second.names = {b};
    first.bore = parts[straight ? 0 : 1];
    second.bore = parts[straight ? 1 : 0];
    c.before = "one opening, " + AreaText(old);
    c.after =
        a + " " + AreaText(first.bore.Points()) + ", " + b + " " + AreaText(second.bore.Points());
    *merged = std::move(first);
    section_.lumens.insert(merged + 1, std::move(second));
    return {};
  }

  Status Join(Correction& c) {
    Void* one = FindVoid(section_, c.of);
    Void* two = FindVoid(section_, c.to);
    if (one == nullptr) return NoSuch(c.of);
    if (two == nullptr || one == two) return NoSuch(c.to);
    const std::vector<ContourVertex>& a = one->contour.vertices;
    const std::vector<ContourVertex>& b = two->contour.vertices;
    const auto near = LeastDistance(one->contour.Points(), two->contour.Points());
    if (!(near.distance > 0)) return Fail(Code::kUsage, c.of + " and " + c.to + " overlap");
    // Through the two nearest edges: once round one, across, once round the other, and back.
    std::vector<ContourVertex> all;
    for (std::size_t k = 1; k <= a.size(); ++k) all.push_back(a[(near.edge_first + k) % a.size()]);
    for (std::size_t k = 1; k <= b.size(); ++k) all.push_back(b[(near.edge_second + k) % b.size()]);
    TracedContour joined = two->contour;
    joined.vertices = std::move(all);
    if (!IsSimple(joined.Points()))
      return Fail(Code::kInvalidContour, c.of + " and " + c.to + " cannot be joined in a line");
    SetNormals(joined);
    c.before = "two regions, " + AreaText(one->contour.Points()) + " and " +
               AreaText(two->contour.Points());
    two->contour = std::move(joined);
    two->evidence = "joined with " + c.of + " by " + c.who + ": " + c.why;
    Refresh(*two);
    c.after = "one region, " + AreaText(two->contour.Points());
    section_.voids.erase(section_.voids.begin() + (one - section_.voids.data()));
    return {};
  }

  const KnownFace& face_;
  const SectionDesign& plane_;
  Section& section_;
};

Status CheckSaid(const Correction& c, const Design& design) {
  if (c.who.empty())
    return Fail(Code::kUsage, "a correction needs the name of who makes it; give the inspector");
  if (c.why.empty()) return Fail(Code::kUsage, "a correction needs a reason; say why");
  if (design.method_locked && IsEdgeChoice(c.kind))
    return Fail(Code::kUsage,
                fmt::format("{}: the drawing locks its method, edges are not chosen by hand; ask "
                            "the engineer, or leave the row not measured",
                            CorrectionName(c.kind)));
  return {};
}

}  // namespace

bool IsEdgeChoice(Correction::Kind kind) {
  return kind == Kind::kRedraw || kind == Kind::kLeaveOut || kind == Kind::kSplit ||
         kind == Kind::kJoin;
}

Result<SectionResult> Remeasure(const SectionResult& found, std::span<const Correction> corrections,
                                const Micrograph& micrograph, const CalibrationRecord& calibration,
                                const Scale& scale, const Design& design,
                                const SectionDesign& plane, const InspectOptions& options) {
  if (corrections.empty()) return found;
  SectionResult result = found;
  const KnownFace face{micrograph, calibration, scale, design.edge_cutoff_um};
  Corrector corrector(face, plane, result.section);
  for (const Correction& asked : corrections) {
    if (!Going(options, 0.3, "correcting")) return Stopped();
    Correction c = asked;
    if (auto status = CheckSaid(c, design); !status) return tl::unexpected(status.error());
    if (auto status = corrector.Make(c); !status) return tl::unexpected(status.error());
    result.edits.push_back(CorrectionText(c));
  }
  if (!Going(options, 0.6, "measuring again")) return Stopped();
  MeasureAndJudge(design, plane, scale, options, corrections, result);
  result.asked = AskAgain(result.section, scale, found.asked, options.measure);
  for (const Correction& c : corrections) {
    if (c.kind != Kind::kDispose) continue;
    const bool there = std::any_of(result.findings.begin(), result.findings.end(),
                                   [&](const Finding& f) { return FindingName(f) == c.of; });
    if (!there) return NoSuch("finding " + c.of);
  }
  return result;
}

}  // namespace cutface
