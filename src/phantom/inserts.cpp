#include "phantom/inserts.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "phantom/as_built.h"
#include "phantom/dirt.h"

namespace cutface::phantom {
namespace {

constexpr std::size_t kInsertVertices = 1200;

ContourPx InPx(const Shape& shape, double pitch_um) {
  ContourPx out;
  for (const PointUm p : shape.contour) out.push_back({p.x / pitch_um, p.y / pitch_um});
  if (AreaOf(out) < 0) std::reverse(out.begin(), out.end());
  return EqualSteps(out, kInsertVertices);
}

// One boundary as built: scaled, a little lobed, moved.
ContourPx BoundaryOf(const Shape& shape, const InsertRecipe& r, double pitch_um, PointPx shift,
                     Random& random) {
  const ContourPx nominal = InPx(shape, pitch_um);
  const double scale = 1 + r.ring_scale * random.Normal();
  double a[3], phase[3];
  for (int k = 0; k < 3; ++k) {
    a[k] = r.ring_lobing * random.Normal() / (k + 1);
    phase[k] = random.Uniform(0, 2 * kPi);
  }
  const PointPx c = CentroidOf(nominal);
  ContourPx out;
  for (const PointPx p : nominal) {
    const PointPx d = p - c;
    const double theta = std::atan2(d.y, d.x);
    double share = scale;
    for (int k = 0; k < 3; ++k) share += a[k] * std::cos((k + 2) * theta + phase[k]);
    out.push_back(c + shift + share * d);
  }
  return EqualSteps(out, kInsertVertices);
}

bool Nested(const ContourPx& inner, const ContourPx& outer, double least) {
  return Inside(outer, inner[0]) && LeastGap(inner, outer).distance >= least;
}

// Boundaries from the core outwards. The part's outline is the core's when this is called.
bool AddRings(BuiltPart& part, const SectionDesign& section, const InsertRecipe& r, double pitch_um,
              Random& random) {
  if (section.rings.empty()) return true;
  const double diameter = WidthsOf(part.outline).greatest;
  std::vector<ContourPx> bounds{part.outline};  // from the core outwards
  PointPx shift{0, 0};
  for (std::size_t i = section.rings.size(); i-- > 0;) {
    const Shape& shape = i == 0 ? section.outline : section.rings[i - 1].inner;
    shift = shift + PointPx{r.ring_shift_share * diameter * random.Normal(),
                            r.ring_shift_share * diameter * random.Normal()};
    // The sleeve's boundaries lie together; the shaft may sit off their centre.
    const bool onto_sleeve =
        section.bond && i < section.rings.size() && section.rings[i].name == section.bond->adhesive;
    if (onto_sleeve)
      shift = shift + Rotated(PointPx{r.bond_offset_px, 0}, random.Uniform(0, 2 * kPi));
    ContourPx next = BoundaryOf(shape, r, pitch_um, shift, random);
    if (!Nested(bounds.back(), next, 2.0)) return false;
    bounds.push_back(std::move(next));
  }
  for (std::size_t i = 0; i < section.rings.size(); ++i) {
    part.inserts.rings.push_back({section.rings[i].name, bounds[bounds.size() - 2 - i]});
  }
  part.outline = bounds.back();
  return true;
}

bool AddLiners(BuiltPart& part, const SectionDesign& section, const InsertRecipe& r,
               double pitch_um, Random& random) {
  const ContourPx& core =
      part.inserts.rings.empty() ? part.outline : part.inserts.rings.back().inner;
  for (const LumenDesign& lumen : section.lumens) {
    if (!lumen.liner_thickness_um) continue;
    const auto built = std::find_if(part.lumens.begin(), part.lumens.end(),
                                    [&](const BuiltLumen& l) { return l.name == lumen.name; });
    if (built == part.lumens.end() || built->contour.empty() || !built->merged_with.empty())
      continue;
    BuiltLiner liner;
    liner.lumen = lumen.name;
    liner.nominal_px = *lumen.liner_thickness_um / pitch_um;
    const double mean = liner.nominal_px * (1 + 0.4 * r.liner_uneven * random.Normal());
    double a[2], phase[2];
    for (int k = 0; k < 2; ++k) {
      a[k] = std::clamp(r.liner_uneven * random.Normal(), -0.25, 0.25);
      phase[k] = random.Uniform(0, 2 * kPi);
    }
    const ContourPx& bore = built->contour;
    const PointPx c = CentroidOf(bore);
    // The normals of a smoothed bore: its roughness would fold the outer edge of a thick liner.
    const ContourPx smooth = ArcSmoothed(bore, 3);
    for (std::size_t i = 0; i < bore.size(); ++i) {
      const PointPx d = bore[i] - c;
      const double theta = std::atan2(d.y, d.x);
      const double t =
          mean * (1 + a[0] * std::cos(theta + phase[0]) + a[1] * std::cos(2 * theta + phase[1]));
      liner.outer.push_back(bore[i] + t * OutwardNormalAt(smooth, i));
    }
    if (!Nested(liner.outer, core, 2.0)) return false;
    for (const BuiltLumen& other : part.lumens) {
      if (other.contour.empty() || other.name == lumen.name) continue;
      if (Inside(liner.outer, other.contour[0]) ||
          LeastGap(liner.outer, other.contour).distance < 1.5)
        return false;
    }
    for (const BuiltLiner& other : part.inserts.liners) {
      if (Inside(liner.outer, other.outer[0]) || LeastGap(liner.outer, other.outer).distance < 1.5)
        return false;
    }
    part.inserts.liners.push_back(std::move(liner));
  }
  return true;
}

// Filaments packed hexagonally, a little shaken, from the middle outwards.
void AddFibres(BuiltPart& part, const SectionDesign& section, double pitch_um, Random& random) {
  for (const FibreDesign& fibre : section.fibres) {
    BuiltFibre built;
    built.name = fibre.name;
    built.centre = {fibre.centre.x / pitch_um + random.Normal(),
                    fibre.centre.y / pitch_um + random.Normal()};
    built.filament_px = fibre.filament_diameter_um / pitch_um;
    const double pitch = 1.12 * built.filament_px, turn = random.Uniform(0, kPi / 3);
    std::vector<PointPx> places;
    for (int i = -14; i <= 14; ++i) {
      for (int j = -14; j <= 14; ++j) {
        places.push_back(PointPx{pitch * (i + 0.5 * j), pitch * 0.5 * std::sqrt(3.0) * j});
      }
    }
    std::stable_sort(places.begin(), places.end(),
                     [](PointPx a, PointPx b) { return Norm(a) < Norm(b) - 1e-9; });
    const auto n = std::min(places.size(), static_cast<std::size_t>(fibre.filaments));
    for (std::size_t i = 0; i < n; ++i) {
      const PointPx shaken{0.04 * pitch * std::clamp(random.Normal(), -1.0, 1.0),
                           0.04 * pitch * std::clamp(random.Normal(), -1.0, 1.0)};
      const PointPx at = built.centre + Rotated(places[i], turn) + shaken;
      ContourPx circle;
      for (int k = 0; k < 48; ++k) {
        const double t = 2 * kPi * k / 48;
        circle.push_back(at + 0.5 * built.filament_px * PointPx{std::cos(t), std::sin(t)});
      }
      built.filaments.push_back(std::move(circle));
    }
    part.inserts.fibres.push_back(std::move(built));
  }
}

const BuiltRing* RingNamed(const Inserts& inserts, const std::string& name) {
  for (const BuiltRing& ring : inserts.rings) {
    if (ring.name == name) return &ring;
  }
  return nullptr;
}

// Outer boundary of a ring.
const ContourPx& OuterOf(const BuiltPart& part, const std::string& ring) {
  const ContourPx* outer = &part.outline;
  for (const BuiltRing& r : part.inserts.rings) {
    if (r.name == ring) return *outer;
    outer = &r.inner;
  }
  return *outer;
}

PointPx OnRay(const ContourPx& contour, PointPx from, double angle) {
  const PointPx d{std::cos(angle), std::sin(angle)};
  double best = 0;
  for (std::size_t i = 0; i < contour.size(); ++i) {
    const PointPx a = contour[i] - from, b = contour[(i + 1) % contour.size()] - from;
    const double ca = Cross(d, a), cb = Cross(d, b);
    if ((ca <= 0) == (cb <= 0)) continue;
    best = std::max(best, Dot(d, a + (ca / (ca - cb)) * (b - a)));
  }
  return from + best * d;
}

// Arcs where the adhesive is missing through its whole thickness, apart from each other.
void AddBondGaps(BuiltPart& part, const InsertRecipe& r, Random& random) {
  const BuiltRing* adhesive = RingNamed(part.inserts, part.inserts.adhesive);
  if (adhesive == nullptr) return;
  const ContourPx &inner = adhesive->inner, &outer = OuterOf(part, adhesive->name);
  const PointPx c = CentroidOf(inner);
  double at = random.Uniform(0, 2 * kPi);
  const std::size_t n = r.bond_gaps_deg.size();
  for (const double degrees : r.bond_gaps_deg) {
    const double span = degrees * kPi / 180;
    BuiltArtefact gap;
    gap.kind = "bond gap";
    gap.of = adhesive->name;
    gap.about = c;
    constexpr int kSteps = 80;
    for (int i = 0; i <= kSteps; ++i)
      gap.contour.push_back(OnRay(outer, c, at + span * i / kSteps));
    for (int i = kSteps; i >= 0; --i)
      gap.contour.push_back(OnRay(inner, c, at + span * i / kSteps));
    gap.width_px = Distance(gap.contour[kSteps / 2], gap.contour[kSteps + 1 + kSteps / 2]);
    part.inserts.artefacts.push_back(std::move(gap));
    at += 2 * kPi / static_cast<double>(n);
  }
}

// A crescent outside `edge`, `degrees` long.
BuiltArtefact Crescent(const char* kind, const std::string& of, const ContourPx& edge,
                       double degrees, double width, Random& random) {
  BuiltArtefact gap;
  gap.kind = kind;
  gap.of = of;
  gap.about = CentroidOf(edge);
  gap.width_px = width;
  gap.contour =
      StripAlong(edge, random.Uniform(), degrees / 360 * LengthOf(edge), width, 0.0, random);
  return gap;
}

void AddGaps(BuiltPart& part, const InsertRecipe& r, Random& random) {
  if (r.liner_gap_deg > 0 && !part.inserts.liners.empty()) {
    const auto& liners = part.inserts.liners;
    const BuiltLiner& liner =
        liners[static_cast<std::size_t>(random.Integer(0, static_cast<int>(liners.size()) - 1))];
    part.inserts.artefacts.push_back(Crescent("liner gap", liner.lumen, liner.outer,
                                              r.liner_gap_deg, random.Uniform(2.0, 5.0), random));
  }
  if (!r.bond_gaps_deg.empty()) AddBondGaps(part, r, random);
  if (r.delaminated) {
    const auto& rings = part.inserts.rings;
    if (!rings.empty()) {
      const BuiltRing& ring =
          rings[static_cast<std::size_t>(random.Integer(0, static_cast<int>(rings.size()) - 1))];
      part.inserts.artefacts.push_back(Crescent("delamination", ring.name, ring.inner,
                                                random.Uniform(30, 80), random.Uniform(1.5, 4.0),
                                                random));
    }
  }
}

// Voids where the body is thickest: it cools last and shrinks there.
void AddShrinkage(BuiltPart& part, int count, Random& random) {
  const auto [least, greatest] = BoundsOf(part.outline);
  for (int k = 0; k < count; ++k) {
    PointPx best;
    double room = 0;
    for (int tries = 0; tries < 400; ++tries) {
      const PointPx p{random.Uniform(least.x, greatest.x), random.Uniform(least.y, greatest.y)};
      if (!Inside(part.outline, p)) continue;
      double r = LeastGap(p, part.outline).distance;
      for (const BuiltLumen& lumen : part.lumens) {
        if (r < room || lumen.contour.empty()) continue;
        r = Inside(lumen.contour, p) ? 0 : std::min(r, LeastGap(p, lumen.contour).distance);
      }
      for (const ContourPx& v : part.voids) {
        if (r >= room) r = Inside(v, p) ? 0 : std::min(r, LeastGap(p, v).distance);
      }
      if (r > room) {
        room = r;
        best = p;
      }
    }
    if (room < 9) return;
    // Ragged and long: dendrites leave arms.
    const double size = room * random.Uniform(0.25, 0.6), turn = random.Uniform(0, kPi);
    const double stretch = random.Uniform(1.0, 1.5);
    double a[5], phase[5];
    for (int i = 0; i < 5; ++i) {
      a[i] = 0.12 * random.Normal();
      phase[i] = random.Uniform(0, 2 * kPi);
    }
    ContourPx v;
    for (int i = 0; i < 720; ++i) {
      const double t = 2 * kPi * i / 720;
      double share = 1;
      for (int j = 0; j < 5; ++j) share += a[j] * std::cos((j + 2) * t + phase[j]);
      share = std::clamp(share, 0.5, 1.35);
      v.push_back(best + Rotated(PointPx{size * stretch * share * std::cos(t) / 1.35,
                                         size / stretch * share * std::sin(t) / 1.35},
                                 turn));
    }
    part.voids.push_back(std::move(v));
  }
}

void AddMandrel(BuiltPart& part, const std::string& name, Random& random) {
  for (BuiltLumen& lumen : part.lumens) {
    if (lumen.name != name || lumen.contour.empty()) continue;
    const Disc disc = InscribedDisc(lumen.contour);
    const double r = disc.radius * random.Uniform(0.80, 0.93);
    const PointPx c =
        disc.centre + Rotated(PointPx{0.6 * (disc.radius - r), 0}, random.Uniform(0, 2 * kPi));
    BuiltArtefact mandrel;
    mandrel.kind = "mandrel";
    mandrel.of = name;
    for (int i = 0; i < 720; ++i) {
      const double t = 2 * kPi * i / 720;
      mandrel.contour.push_back(c + PointPx{r * std::cos(t), r * std::sin(t)});
    }
    part.inserts.artefacts.push_back(std::move(mandrel));
    lumen.state = BuiltState::kFilled;
  }
}

// Voids that the body had before wires and liners came are pushed out by them.
void DropCrossedVoids(BuiltPart& part) {
  const auto crossed = [&](const ContourPx& v) {
    const auto meets = [&](const ContourPx& c) {
      return Inside(c, v[0]) || Inside(v, c[0]) || LeastGap(v, c).distance < 2;
    };
    for (const BuiltLiner& l : part.inserts.liners) {
      if (meets(l.outer)) return true;
    }
    for (const BuiltWire& w : part.inserts.wires) {
      if (meets(w.contour)) return true;
    }
    for (const BuiltArtefact& a : part.inserts.artefacts) {
      if (meets(a.contour)) return true;
    }
    for (const BuiltFibre& f : part.inserts.fibres) {
      for (const ContourPx& c : f.filaments) {
        if (meets(c)) return true;
      }
    }
    return false;
  };
  part.voids.erase(std::remove_if(part.voids.begin(), part.voids.end(), crossed), part.voids.end());
}

}  // namespace

const Shape& CoreOf(const SectionDesign& section) {
  return section.rings.empty() ? section.outline : section.rings.back().inner;
}

bool AddInserts(BuiltPart& part, const SectionDesign& section, const InsertRecipe& recipe,
                double pitch_um, Random& random) {
  part.inserts = {};
  if (section.bond) {
    part.inserts.adhesive = section.bond->adhesive;
    part.inserts.sleeve = section.bond->sleeve;
  }
  if (!AddRings(part, section, recipe, pitch_um, random)) return false;
  if (!AddLiners(part, section, recipe, pitch_um, random)) return false;
  if (!section.wires.empty()) AddWires(part, section, recipe, pitch_um, random);
  AddFibres(part, section, pitch_um, random);
  AddGaps(part, recipe, random);
  if (!recipe.mandrel.empty()) AddMandrel(part, recipe.mandrel, random);
  DropCrossedVoids(part);
  if (recipe.shrinkage > 0) {
    AddShrinkage(part, recipe.shrinkage, random);
    DropCrossedVoids(part);
  }
  return true;
}

ThicknessPx ThicknessBetween(const ContourPx& inner, const ContourPx& outer) {
  ThicknessPx t{1e9, 0, 0};
  double weight = 0;
  const std::size_t n = inner.size();
  for (std::size_t i = 0; i < n; ++i) {
    const double d = LeastGap(inner[i], outer).distance;
    const double w =
        Distance(inner[i], inner[(i + 1) % n]) + Distance(inner[i], inner[(i + n - 1) % n]);
    t.mean += w * d;
    weight += w;
    t.greatest = std::max(t.greatest, d);
  }
  t.mean /= weight;
  t.least = LeastGap(inner, outer).distance;
  return t;
}

}  // namespace cutface::phantom
