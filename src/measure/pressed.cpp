// The measured section under pressure by finite elements: stress and sag of every loaded ligament.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "cutface/elastic.h"
#include "cutface/quantity.h"
#include "measure/pressure.h"

namespace cutface {
namespace {

using namespace measure;

constexpr std::size_t kMostLines = 25;  // across a ligament's span
constexpr double kMeshShare = 0.02;     // what the elements may be off (tests of room elastic)
constexpr double kCovers95 = 1.96;
constexpr std::array<std::string_view, 5> kOfElements = {
    "ligament_stress", "ligament_membrane", "ligament_bending", "ligament_sag", "wall_stress"};
constexpr std::array<std::string_view, 4> kOfFormulas = {"strip_span", "strip_stress", "strip_sag",
                                                         "hoop_stress"};

// Materials by their number in the problem, and contours where they change.
class Problem {
 public:
  Problem(const Section& section, const Design& design, const PressureLoads& loads)
      : design_(design) {
    problem_.outer = section.outline->Points();
    names_.emplace_back("outline");
    problem_.materials = {Material(section.rings.empty() ? "body" : section.rings.front().name)};
    for (std::size_t i = 0; i < section.rings.size(); ++i) {
      const std::string inside = i + 1 < section.rings.size() ? section.rings[i + 1].name : "body";
      AddRegion(section.rings[i].inner, inside);
    }
    for (const LinerTrace& liner : section.liners) {
      const std::string own = liner.lumen + "/liner";
      AddRegion(liner.outer, design.materials.count(own) > 0 ? own : "liner");
    }
    for (const LumenTrace& lumen : section.lumens) {
      if (lumen.bore.vertices.size() < 3) continue;
      double p = 0;
      for (const std::string& name : lumen.names) {
        const auto found = loads.lumens_mpa.find(name);
        if (found != loads.lumens_mpa.end()) p = std::max(p, found->second);
      }
      AddHole(lumen.bore, p, lumen.Key());
    }
    for (const Void& hole : section.voids) {
      if (IsSureVoid(hole.kind)) AddHole(hole.contour, 0, "void " + std::to_string(hole.no));
    }
    if (!loads.wires_free) return;
    for (const WireTrace& wire : section.wires) {
      if (wire.state == WireState::kWire || wire.state == WireState::kPulledOut)
        AddHole(wire.contour, 0, fmt::format("{}/{}", wire.layer, wire.no));
    }
  }
  const ElasticProblem& problem() const { return problem_; }
  const std::vector<std::string>& names() const { return names_; }

 private:
  ElasticMaterial Material(const std::string& name) const {
    const auto find = [&](const std::string& key) -> const MaterialDesign* {
      const auto found = design_.materials.find(key);
      const bool told =
          found != design_.materials.end() && found->second.modulus_mpa && found->second.poisson;
      return told ? &found->second : nullptr;
    };
    const MaterialDesign* own = find(name);
    if (own == nullptr) own = find("body");
    CF_CHECK(own != nullptr);
    return {*own->modulus_mpa, *own->poisson};
  }
  void AddRegion(const TracedContour& contour, const std::string& name) {
    if (contour.vertices.size() < 3) return;
    const ElasticMaterial material = Material(name);
    const ElasticMaterial& before = problem_.materials.back();
    // Without a change of material the mesh need not know the edge.
    if (material.modulus_mpa == before.modulus_mpa && material.poisson == before.poisson) return;
    problem_.regions.push_back({contour.Points(), problem_.materials.size()});
    problem_.materials.push_back(material);
  }
  void AddHole(const TracedContour& contour, double p, const std::string& name) {
    if (contour.vertices.size() < 3) return;
    problem_.holes.push_back({contour.Points(), p});
    names_.push_back(name);
  }

  const Design& design_;
  ElasticProblem problem_;
  std::vector<std::string> names_;
};

const Measurement* Find(std::span<const Measurement> all, const std::vector<std::string>& of,
                        std::string_view word) {
  for (const Measurement& m : all) {
    if (m.quantity == word && m.of == of) return &m;
  }
  return nullptr;
}

struct Worst {
  LigamentStress stress;
  Strip::Sample at;
  double sag = 0;
  PointUm sag_at;
  bool told = false;
};

// The greatest linearised stress over the lines across the span, and the sag of its middle line.
Worst OverSpan(const ElasticSolution& solution, const Strip& strip) {
  Worst worst;
  const double threshold = 2 * strip.least;
  for (const Strip::Sample& line : strip.Within(threshold, kMostLines)) {
    const auto stress = solution.Linearised(line.on_first, line.on_second);
    if (!stress) continue;
    if (!worst.told || stress->Greatest() > worst.stress.Greatest())
      worst.stress = *stress, worst.at = line;
    worst.told = true;
  }
  const PointUm a = strip.End(0, threshold), b = strip.End(1, threshold);
  const auto ua = solution.DisplacementAt(a), ub = solution.DisplacementAt(b);
  const double length = Distance(a, b);
  if (!ua || !ub || !(length > 0)) return worst;
  const PointUm along = (1 / length) * (b - a), across{-along.y, along.x};
  for (const Strip::Sample& line : strip.Within(threshold, kMostLines)) {
    const auto u = solution.DisplacementAt(line.Middle());
    if (!u) continue;
    const double share = std::clamp(Dot(line.Middle() - a, along) / length, 0.0, 1.0);
    const double sag = Dot(*u - ((1 - share) * *ua + share * *ub), across);
    if (std::abs(sag) > std::abs(worst.sag)) worst.sag = sag, worst.sag_at = line.Middle();
  }
  worst.sag = std::abs(worst.sag);
  return worst;
}

Measurement Blank(const std::vector<std::string>& of, std::string_view word) {
  const QuantityRow* row =
      FindQuantity(word, of.size() == 2 ? QuantityOf::kLumenPair : QuantityOf::kLumen);
  CF_CHECK(row != nullptr);
  Measurement m;
  m.of = of;
  m.quantity = word;
  m.unit = row->unit;
  m.state = Measurement::State::kNotMeasured;
  return m;
}

// The thickness' own interval carries over by the power with which bending depends on it.
void Fill(Measurement& m, double value, double power, const Measurement& thickness) {
  m.state = Measurement::State::kMeasured;
  m.value = m.raw = value;
  const double size = std::abs(value), t = thickness.value;
  const double geometry = size * power * thickness.u / t, mesh = kMeshShare * size;
  m.u = std::hypot(geometry, mesh);
  m.budget = {{"least thickness, scaled", geometry}, {"finite elements", mesh}};
  const double thin = std::max(thickness.lo, 0.05 * t);
  const double up = size * (std::pow(t / thin, power) - 1),
               down = size * (1 - std::pow(t / thickness.hi, power));
  m.lo = value - std::hypot(value < 0 ? up : down, kCovers95 * mesh);
  m.hi = value + std::hypot(value < 0 ? down : up, kCovers95 * mesh);
  m.grade = thickness.grade;
  m.grade_reason = thickness.grade_reason;
}

void AddLigament(const ElasticSolution& solution, const std::vector<std::string>& of,
                 const Strip& strip, const Measurement* thickness, std::vector<Measurement>& out) {
  const bool pair = of.size() == 2;
  std::vector<std::string_view> words;
  for (const std::string_view word : kOfElements) {
    if ((word == "wall_stress") != pair) words.push_back(word);
  }
  const bool known = thickness != nullptr && thickness->state == Measurement::State::kMeasured &&
                     thickness->value > 0;
  const Worst worst = known ? OverSpan(solution, strip) : Worst{};
  for (const std::string_view word : words) {
    Measurement m = Blank(of, word);
    if (!known) {
      m.reason = thickness == nullptr ? "its thickness was not measured" : thickness->reason;
    } else if (!worst.told) {
      m.reason = "no straight line across its solid was found";
    } else if (word == "ligament_sag") {
      Fill(m, worst.sag, 3, *thickness);
      m.at = {worst.sag_at};
    } else {
      const double value = word == "ligament_membrane"  ? worst.stress.membrane_mpa
                           : word == "ligament_bending" ? std::abs(worst.stress.bending_mpa)
                                                        : worst.stress.Greatest();
      Fill(m, value, word == "ligament_membrane" ? 1 : 2, *thickness);
      m.at = {worst.at.on_first, worst.at.on_second};
    }
    if (m.state == Measurement::State::kMeasured && word != "ligament_membrane")
      m.lo = std::max(0.0, m.lo);
    out.push_back(std::move(m));
  }
}

void SolveSection(const Section& section, const Design& design, const PressureLoads& loads,
                  std::span<const Measurement> measured, PressureBlock& block) {
  const auto body = design.materials.find("body");
  if (body == design.materials.end() || !body->second.modulus_mpa || !body->second.poisson) {
    block.reason = "the drawing gives no modulus and Poisson's ratio of the material body";
    return;
  }
  block.modulus_mpa = *body->second.modulus_mpa;
  block.poisson = *body->second.poisson;
  const auto whole = [](const TracedContour& c) { return c.whole; };
  bool all_whole = section.outline && whole(*section.outline);
  for (const LumenTrace& lumen : section.lumens)
    all_whole = all_whole && lumen.state != LumenState::kNotFound && whole(lumen.bore);
  if (!all_whole) {
    block.reason = "not every lumen and the outline were found whole";
    return;
  }
  const Problem problem(section, design, loads);
  const auto solution = SolveElastic(problem.problem());
  if (!solution) {
    block.reason = solution.error().message;
    return;
  }
  block.elements = static_cast<int>(solution->elements().size());
  const auto pressure = [&](const LumenTrace& lumen) {
    double p = 0;
    for (const std::string& name : lumen.names) {
      const auto found = loads.lumens_mpa.find(name);
      if (found != loads.lumens_mpa.end()) p = std::max(p, found->second);
    }
    return p;
  };
  for (std::size_t i = 0; i < section.lumens.size(); ++i) {
    const LumenTrace& first = section.lumens[i];
    for (std::size_t j = i + 1; j < section.lumens.size(); ++j) {
      const LumenTrace& second = section.lumens[j];
      if (pressure(first) == pressure(second)) continue;
      for (const std::string& a : first.names) {
        for (const std::string& b : second.names) {
          const Measurement* septum = Find(measured, {a, b}, "septum");
          if (septum == nullptr) continue;  // no neighbours
          AddLigament(*solution, {a, b}, MakeStrip(first.bore.Points(), second.bore.Points()),
                      septum, block.figures);
        }
      }
    }
    if (pressure(first) > 0) {
      const Strip strip = MakeStrip(first.bore.Points(), section.outline->Points());
      for (const std::string& name : first.names)
        AddLigament(*solution, {name}, strip, Find(measured, {name}, "wall"), block.figures);
    }
  }
  // Drawn so that the greatest displacement is a fiftieth of the face.
  double most = 0;
  for (std::size_t c = 0; c < problem.names().size(); ++c) {
    const ContourUm still = solution->Displaced(c, 0), moved = solution->Displaced(c, 1);
    for (std::size_t i = 0; i < still.size(); ++i)
      most = std::max(most, Distance(still[i], moved[i]));
  }
  block.greatest_displacement_um = most;
  const Box<FrameUm> box = BoundingBox(problem.problem().outer);
  const double wanted = 0.02 * (box.greatest.x - box.least.x);
  block.times = most > 0 ? std::max(1.0, std::floor(wanted / most)) : 1;
  for (std::size_t c = 0; c < problem.names().size(); ++c)
    block.displaced.push_back({problem.names()[c], solution->Displaced(c, block.times)});
}

}  // namespace

std::span<const std::string_view> ElementWords() { return kOfElements; }

bool IsPressureWord(std::string_view word) {
  const auto in = [&](const auto& list) {
    return std::find(list.begin(), list.end(), word) != list.end();
  };
  return in(kOfElements) || in(kOfFormulas);
}

PressureBlock MeasurePressure(const Section& section, const Design& design,
                              const PressureLoads& loads, std::vector<Measurement>& measurements) {
  PressureBlock block;
  block.lumens_mpa = loads.lumens_mpa;
  block.wires_free = loads.wires_free;
  const auto own = [](const Measurement& m) { return !IsPressureWord(m.quantity); };
  const auto split = std::stable_partition(measurements.begin(), measurements.end(), own);
  block.figures.assign(split, measurements.end());
  measurements.erase(split, measurements.end());
  SolveSection(section, design, loads, measurements, block);
  return block;
}

}  // namespace cutface
