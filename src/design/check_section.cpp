// Does the drawing contradict itself?
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <map>

#include "design/parse.h"

namespace cutface {
namespace {

constexpr std::string_view kReserved[] = {"outline", "voids", "bond", "outside"};
constexpr std::size_t kMostNameBytes = 64;
// Below this, the direction from the datum centre to the clock lumen means nothing.
constexpr double kLeastClockArmUm = 1;

std::span<const PointUm> View(const ContourUm& contour) { return contour; }

class Checker {
 public:
  Checker(const SectionDesign& section, const std::string& path, const ParseContext& context)
      : section_(section), path_(path), context_(context) {}

  void Run() {
    Names();
    if (!context_.trouble.any()) Shapes();
    if (!context_.trouble.any()) Rings();
    if (!context_.trouble.any()) Lumens();
    if (!context_.trouble.any()) Pairs();
    if (!context_.trouble.any()) Datum();
    if (!context_.trouble.any()) Wires();
    if (!context_.trouble.any()) Bond();
  }

 private:
  void Invalid(const std::string& where, const std::string& what) {
    context_.trouble.Add(Code::kDesignInvalid, PathJoin(path_, "") + where, what);
  }
  std::string Place(PointUm at) const {
    const double um = context_.um_per_unit;
    return fmt::format("near ({:.4g}, {:.4g})", at.x / um, at.y / um);
  }

  void Name(const std::string& name, const std::string& what) {
    const std::string where = fmt::format("{}.{}", what, name);
    if (name.empty()) return Invalid(what, "a name is empty");
    if (name.size() > kMostNameBytes) {
      return Invalid(what,
                     fmt::format("name {} is longer than {} bytes", Quoted(name), kMostNameBytes));
    }
    if (name.front() == ' ' || name.back() == ' ') {
      return Invalid(what, fmt::format("name {} begins or ends with a blank", Quoted(name)));
    }
    for (const char c : name) {
      // "/", "+" and "|" join names in keys; the rest would spoil tables and one-line messages.
      if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f ||
          std::string_view("/+|,\"\\").find(c) != std::string_view::npos) {
        return Invalid(what, fmt::format("name {} holds a character that names cannot have "
                                         "(/ + | , \" \\ and control characters)",
                                         Quoted(name)));
      }
    }
    if (std::find(std::begin(kReserved), std::end(kReserved), name) != std::end(kReserved)) {
      return Invalid(where, "the name is reserved; choose another");
    }
    const auto [found, fresh] = taken_.emplace(name, what);
    if (!fresh) {
      Invalid(where, fmt::format("the name also stands in {}; names are unique in a section",
                                 found->second));
    }
  }

  void Names() {
    for (const RingDesign& ring : section_.rings) Name(ring.name, "rings");
    for (const LumenDesign& lumen : section_.lumens) Name(lumen.name, "lumens");
    for (const WireLayerDesign& layer : section_.wires) Name(layer.name, "wires");
    for (const FibreDesign& fibre : section_.fibres) Name(fibre.name, "fibres");
  }

  void Simple(const Shape& shape, const std::string& where) {
    if (shape.kind == Shape::Kind::kPath && !IsSimple(View(shape.contour))) {
      Invalid(where, "the path crosses or touches itself; draw one closed contour");
    }
  }
  void Shapes() {
    Simple(section_.outline, "outline");
    for (const RingDesign& ring : section_.rings) Simple(ring.inner, "rings." + ring.name);
    for (const LumenDesign& lumen : section_.lumens) Simple(lumen.shape, "lumens." + lumen.name);
  }

  // `inner` lies wholly inside `outer`, not even touching it.
  bool Inside(const ContourUm& inner, const ContourUm& outer, PointUm& near) const {
    const Nearest<FrameUm> nearest = LeastDistance(View(inner), View(outer));
    near = nearest.on_first;
    return nearest.distance > 0 && Contains(View(outer), inner.front());
  }

  void Rings() {
    const ContourUm* outer = &section_.outline.contour;
    std::string outer_name = "the outline";
    for (const RingDesign& ring : section_.rings) {
      PointUm near;
      if (!Inside(ring.inner.contour, *outer, near)) {
        return Invalid("rings." + ring.name,
                       fmt::format("its inner boundary is not inside {} {}; list rings from the "
                                   "outline inwards",
                                   outer_name, Place(near)));
      }
      outer = &ring.inner.contour;
      outer_name = "that of ring " + Quoted(ring.name);
    }
  }

  void Lumens() {
    const ContourUm& outline = section_.outline.contour;
    for (const LumenDesign& lumen : section_.lumens) {
      const std::string where = "lumens." + lumen.name;
      const Nearest<FrameUm> nearest = LeastDistance(View(lumen.shape.contour), View(outline));
      const bool inside = Contains(View(outline), lumen.shape.contour.front());
      if (!lumen.opens_to.empty()) {
        if (nearest.distance > 0) {
          return Invalid(where, "opens to the outside but does not reach the outline");
        }
        continue;
      }
      if (nearest.distance <= 0 || !inside) {
        return Invalid(where, fmt::format("is not inside the outline {}; move it, or say "
                                          "\"opens_to\": \"outside\"",
                                          Place(nearest.on_first)));
      }
      if (lumen.liner_thickness_um && *lumen.liner_thickness_um >= nearest.distance) {
        return Invalid(where + ".liner", "is thicker than the wall to the outside");
      }
    }
  }

  void Pairs() {
    std::vector<Box<FrameUm>> boxes;
    for (const LumenDesign& lumen : section_.lumens) {
      boxes.push_back(BoundingBox(View(lumen.shape.contour)));
    }
    for (std::size_t i = 0; i < section_.lumens.size(); ++i) {
      for (std::size_t j = i + 1; j < section_.lumens.size(); ++j) {
        const LumenDesign &a = section_.lumens[i], &b = section_.lumens[j];
        const double liners = a.liner_thickness_um.value_or(0) + b.liner_thickness_um.value_or(0);
        if (Apart(boxes[i], boxes[j], liners)) continue;
        Pair(a, b, liners);
        if (context_.trouble.any()) return;
      }
    }
  }
  static bool Apart(const Box<FrameUm>& a, const Box<FrameUm>& b, double by) {
    return a.greatest.x + by < b.least.x || b.greatest.x + by < a.least.x ||
           a.greatest.y + by < b.least.y || b.greatest.y + by < a.least.y;
  }
  void Pair(const LumenDesign& a, const LumenDesign& b, double liners) {
    const std::string where = "lumens." + b.name;
    const ContourUm &first = a.shape.contour, &second = b.shape.contour;
    const Nearest<FrameUm> nearest = LeastDistance(View(first), View(second));
    const bool nested =
        Contains(View(first), second.front()) || Contains(View(second), first.front());
    if (nearest.distance <= 0 || nested) {
      return Invalid(where,
                     fmt::format("overlaps lumen {} {}", Quoted(a.name), Place(nearest.on_second)));
    }
    if (nearest.distance <= liners) {
      Invalid(where, fmt::format("its liner overlaps that of lumen {} {}", Quoted(a.name),
                                 Place(nearest.on_second)));
    }
  }

  void DatumName(const std::string& name, const std::string& key, bool outline_too) {
    if ((outline_too && name == "outline") || section_.FindLumen(name) != nullptr) return;
    std::vector<std::string_view> known;
    if (outline_too) known.push_back("outline");
    for (const LumenDesign& lumen : section_.lumens) known.push_back(lumen.name);
    Invalid("datum." + key,
            fmt::format("{} is no lumen of this section{}", Quoted(name), Suggestion(name, known)));
  }
  void Datum() {
    DatumName(section_.datum.centre, "centre", true);
    if (section_.datum.clock.empty()) return;
    DatumName(section_.datum.clock, "clock", false);
    if (context_.trouble.any()) return;
    const LumenDesign* centre = section_.FindLumen(section_.datum.centre);
    const ContourUm& about = centre ? centre->shape.contour : section_.outline.contour;
    const ContourUm& hand = section_.FindLumen(section_.datum.clock)->shape.contour;
    if (Distance(Centroid(View(about)), Centroid(View(hand))) < kLeastClockArmUm) {
      Invalid("datum.clock", fmt::format("{} sits on the datum centre and shows no direction",
                                         Quoted(section_.datum.clock)));
    }
  }

  void Wires() {
    const Box<FrameUm> box = BoundingBox(View(section_.outline.contour));
    const double most = std::max(box.greatest.x - box.least.x, box.greatest.y - box.least.y);
    for (const WireLayerDesign& layer : section_.wires) {
      for (const double diameter : layer.on_diameters_um) {
        if (diameter >= most) {
          Invalid("wires." + layer.name + ".on_diameters",
                  fmt::format("{} is outside the outline", diameter / context_.um_per_unit));
        }
      }
    }
    for (const FibreDesign& fibre : section_.fibres) {
      if (!Contains(View(section_.outline.contour), fibre.centre)) {
        Invalid("fibres." + fibre.name + ".center", "is outside the outline");
      }
    }
  }

  void Bond() {
    if (!section_.bond) return;
    std::vector<std::string_view> known;
    for (const RingDesign& ring : section_.rings) known.push_back(ring.name);
    const auto check = [&](const std::string& name, const char* key) {
      if (std::find(known.begin(), known.end(), name) != known.end()) return;
      Invalid(fmt::format("bond.{}", key), fmt::format("{} is no ring of this section{}",
                                                       Quoted(name), Suggestion(name, known)));
    };
    check(section_.bond->adhesive, "adhesive");
    check(section_.bond->sleeve, "sleeve");
    if (section_.bond->adhesive == section_.bond->sleeve) {
      Invalid("bond", "adhesive and sleeve are the same ring");
    }
  }

  const SectionDesign& section_;
  const std::string& path_;
  const ParseContext& context_;
  std::map<std::string, std::string> taken_;  // name -> list where it stands
};

}  // namespace

void CheckSection(const SectionDesign& section, const std::string& path,
                  const ParseContext& context) {
  Checker(section, path, context).Run();
}

}  // namespace cutface
