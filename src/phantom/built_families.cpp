#include "phantom/built_families.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "phantom/families.h"
#include "phantom/shapes.h"

namespace cutface::phantom {
namespace {

using Json = nlohmann::ordered_json;

class Drafter {
 public:
  Drafter(double diameter_px, double mm_per_px, bool hard, Random& random)
      : diameter_(diameter_px), mm_(mm_per_px), hard_(hard), random_(random) {}

  Json section = Json::object();

  double Mm(double px) const { return std::round(px * mm_ * 1e4) / 1e4; }

  void Row(const Json& of, const char* word, const char* limit, double px) {
    Json row;
    row["no"] = std::to_string(section["characteristics"].size() + 1);
    row["of"] = of;
    row["quantity"] = word;
    row[limit] = std::max(0.001, Mm(px));
    if (std::string(limit) == "nominal")
      row["plus"] = row["minus"] = std::max(0.001, Mm(0.02 * px));
    row["class"] = "major";
    section["characteristics"].push_back(row);
  }

  void Start(const char* kind) {
    section["kind"] = kind;
    section["outline"] = {{"circle", {{"diameter", Mm(diameter_)}}}};
    section["lumens"] = Json::object();
    section["characteristics"] = Json::array();
    if (std::string(kind) != "hub" && std::string(kind) != "lengthwise") {
      Row("outline", "diameter", "nominal", diameter_);
    }
  }

  // Wires on one or two radii outside `inside` px from the centre; gives the radius they reach to.
  double Braid(const char* name, double inside, bool flat) {
    const double d =
        flat ? random_.Uniform(5, hard_ ? 9 : 11) : random_.Uniform(hard_ ? 7 : 10, 20);
    const double angle = random_.Uniform(20, 60), stretch = 1 / std::cos(angle * kPi / 180);
    const double width = flat ? d * random_.Uniform(2.5, 4.5) : d;
    const double low = inside + 0.5 * d + random_.Uniform(2, 6), high = low + 1.02 * d;
    Json wires;
    // Two hands meet everywhere: each carrier needs half its share of the round.
    const double room = 2 * kPi * low / (1.35 * width * stretch);
    std::vector<int> fitting;
    for (const int carriers : {8, 16, 24, 32}) {
      if (carriers <= room) fitting.push_back(carriers);
    }
    if (fitting.empty()) fitting.push_back(8);
    const int carriers =
        fitting[static_cast<std::size_t>(random_.Integer(0, static_cast<int>(fitting.size()) - 1))];
    wires["carriers"] = carriers;
    wires["ends"] = !flat && 2 * carriers <= 0.8 * room && random_.Chance(0.2) ? 2 : 1;
    if (flat) {
      wires["flat"] = {Mm(d), Mm(width)};
    } else {
      wires["round"] = Mm(d);
    }
    wires["on_diameters"] = {Mm(2 * low), Mm(2 * high)};
    wires["braid_angle_deg"] = std::round(10 * angle) / 10;
    section["wires"][name] = wires;
    return high + 0.5 * d;
  }

  void Ring(const char* name, double radius) {
    section["rings"].push_back(
        {{"name", name}, {"inner", {{"circle", {{"diameter", Mm(2 * radius)}}}}}});
    Row(name, "thickness_min", "min", 6);
  }

  void Lumen(const std::string& name, PointPx c, double r, double liner) {
    Json lumen;
    lumen["circle"] = {{"center", {Mm(c.x), Mm(c.y)}}, {"diameter", Mm(2 * r)}};
    if (liner > 0) {
      lumen["liner"] = {{"thickness", Mm(liner)}};
      Row(name + "/liner", "thickness_mean", "min", 0.7 * liner);
    }
    section["lumens"][name] = lumen;
    Row(name, "diameter", "nominal", 2 * r);
  }

  double Liner() { return 3 * std::pow(hard_ ? 8.0 : 6.0, random_.Uniform()); }

  // Around one lined bore: wires in one or two layers, perhaps a jacket of its own tone.
  bool Shaft(int layers, bool flat) {
    Start("shaft");
    const double out = 0.5 * diameter_, t = Liner();
    const double bore =
        out * (layers == 1 ? random_.Uniform(0.5, 0.74) : random_.Uniform(0.42, 0.62));
    double at = bore + t + random_.Uniform(5, 12);
    const bool jacket = random_.Chance(0.5);
    if (jacket) Ring("jacket", at);
    at = Braid("braid", at + 1, flat);
    if (layers == 2) at = Braid("outer-braid", at + random_.Uniform(3, 8), false);
    if (at + (hard_ ? 6 : 10) > out) return false;
    Lumen("scope", {0, 0}, bore, t);
    Row("scope", "wall", "min", 0.8 * (out - bore));
    if (layers == 1 && random_.Chance(0.3)) AddFibres(at, out);
    return true;
  }

  // Bundles outside the braid where there is room.
  void AddFibres(double from, double out) {
    const double d = random_.Uniform(5, 9);
    const double radius = 0.5 * (from + out);
    const int n = random_.Integer(7, 19);
    if (out - from < d * (1.3 * std::sqrt(n) + 2)) return;
    const int bundles = random_.Integer(2, 4);
    for (int i = 0; i < bundles; ++i) {
      const double a = 2 * kPi * i / bundles;
      Json fibre;
      fibre["center"] = {Mm(radius * std::cos(a)), Mm(radius * std::sin(a))};
      fibre["filaments"] = n;
      fibre["filament_diameter"] = Mm(d);
      section["fibres"]["axial-" + std::to_string(i + 1)] = fibre;
    }
  }

  // Plain lumens inside a core; round ones may be lined.
  bool Core(double radius, const char* family_word, int family) {
    NominalLimits limits;
    limits.diameter_px = 2 * radius;
    limits.mm_per_px = mm_;
    limits.least_septum_px = hard_ ? 8 : 12;
    limits.least_wall_px = hard_ ? 9 : 12;
    const Nominal nominal = DrawNominal(family, limits, random_);
    std::vector<ContourPx> bores;
    for (const NominalLumen& lumen : nominal.lumens) bores.push_back(lumen.shape.contour);
    for (std::size_t i = 0; i < nominal.lumens.size(); ++i) {
      const NominalLumen& lumen = nominal.lumens[i];
      section["lumens"][lumen.name] = Json::parse(lumen.shape.json);
      const double area = std::abs(AreaOf(lumen.shape.contour));
      Row(lumen.name, "equivalent_diameter", "nominal", 2 * std::sqrt(area / kPi));
      double room = LeastGap(bores[i], nominal.outline.contour).distance - 5;
      for (std::size_t j = 0; j < bores.size(); ++j) {
        if (j != i) room = std::min(room, 0.5 * LeastGap(bores[i], bores[j]).distance - 2);
      }
      if (!lumen.round || room < 3 || !random_.Chance(0.7)) continue;
      const double t = random_.Uniform(3, std::min(room, 14.0));
      section["lumens"][lumen.name]["liner"] = {{"thickness", Mm(t)}};
      Row(lumen.name + "/liner", "thickness_mean", "min", 0.7 * t);
    }
    return family_word != nullptr;
  }

  bool FourLumenShaft() {
    Start("shaft");
    const double out = 0.5 * diameter_, core = out * random_.Uniform(0.72, 0.82);
    Ring("jacket", core);
    const double at = Braid("braid", core + 1, false);
    if (at + (hard_ ? 5 : 8) > out) return false;
    return Core(core, "four-lumen", random_.Chance(0.7) ? 6 : 4);
  }

  bool Tubes() {
    Start("shaft");
    const double out = 0.5 * diameter_, bore = out * random_.Uniform(0.4, 0.52), t = Liner();
    Lumen("scope", {0, 0}, bore, t);
    const double from = bore + t, room = out - from;
    const int n = random_.Integer(2, 6);
    const double wall = random_.Uniform(3, hard_ ? 8 : 10);
    const double r = 0.5 * (room - random_.Uniform(18, 28)) - wall;
    if (0.78 * r < 11) return false;
    // A drawing that can be told when it is turned or mirrored: the first tube is the largest by
    // more than sizes scatter, and the gaps grow from tube to tube by a quarter in all.
    const double whole = n + 0.125 * n, least = 2 * kPi / whole;
    if (2 * (r + wall) + 8 > 2 * (from + 0.5 * room) * std::sin(0.5 * least)) return false;
    double a = random_.Uniform(0, 2 * kPi);
    for (int i = 0; i < n; ++i) {
      const double middle = from + 0.5 * room, share = random_.Uniform(0.78, 0.9);
      Lumen("tube-" + std::to_string(i + 1), {middle * std::cos(a), middle * std::sin(a)},
            r * (i == 0 ? 1.0 : share), wall);
      a += least * (1 + 0.25 * i / (n - 1));
    }
    return true;
  }

  bool Hub() {
    Start("hub");
    const double w = diameter_, h = diameter_ * random_.Uniform(0.6, 0.85);
    section["outline"] = {
        {"rectangle",
         {{"size", {Mm(w), Mm(h)}}, {"corner_radius", Mm(h * random_.Uniform(0.12, 0.4))}}}};
    Row("outline", "equivalent_diameter", "nominal", 2 * std::sqrt(w * h / kPi) * 0.98);
    const int n = random_.Integer(4, 7);
    std::vector<Disc> placed;
    for (int tries = 0; tries < 4000 && static_cast<int>(placed.size()) < n; ++tries) {
      const double r = h * random_.Uniform(0.06, 0.14), wall = 0.05 * w;
      const PointPx c{random_.Uniform(-0.5, 0.5) * (w - 2 * r - 2 * wall),
                      random_.Uniform(-0.5, 0.5) * (h - 2 * r - 2 * wall)};
      bool fits = r > 14;
      for (const Disc& other : placed) {
        fits = fits && Distance(c, other.centre) > r + other.radius + 0.035 * w;
      }
      if (fits) placed.push_back({c, r, 0});
    }
    if (placed.size() < 4) return false;
    for (std::size_t i = 0; i < placed.size(); ++i) {
      Lumen("port-" + std::to_string(i + 1), placed[i].centre, placed[i].radius, 0);
    }
    Json voids;
    voids["no"] = std::to_string(section["characteristics"].size() + 1);
    voids["of"] = "voids";
    voids["quantity"] = "longest";
    voids["max"] = Mm(30);
    voids["class"] = "minor";
    section["characteristics"].push_back(voids);
    return true;
  }

  bool Bond() {
    Start("bond");
    const double out = 0.5 * diameter_;
    const double sleeve = out * random_.Uniform(0.80, 0.88);
    const double shaft = sleeve - random_.Uniform(10, hard_ ? 26 : 30);
    Ring("sleeve", sleeve);
    Ring("adhesive", shaft);
    section["bond"] = {{"adhesive", "adhesive"}, {"sleeve", "sleeve"}, {"gap_um", 5}};
    if (random_.Chance(0.5)) {
      const double bore = shaft * random_.Uniform(0.4, 0.6);
      Lumen("scope", {0, 0}, bore, Liner());
      return true;
    }
    return Core(shaft, "bond", random_.Integer(0, 4));
  }

  bool Lengthwise() {
    Start("lengthwise");
    const double length = diameter_, height = diameter_ * random_.Uniform(0.35, 0.55);
    const double wall = height * random_.Uniform(0.18, 0.26);
    section["outline"] = {
        {"rectangle", {{"size", {Mm(length), Mm(height)}}, {"corner_radius", Mm(3)}}}};
    section["lumens"]["scope"] = {
        {"rectangle",
         {{"size", {Mm(length - 24), Mm(height - 2 * wall)}}, {"corner_radius", Mm(3)}}}};
    const double d = std::min(0.4 * wall, random_.Uniform(9, 20));
    const int turns = std::max(4, static_cast<int>(length / (d * random_.Uniform(1.6, 4.0))));
    Json wires;
    wires["count"] = 2 * turns;
    wires["round"] = Mm(d);
    wires["on_diameters"] = {Mm(height - wall)};
    section["wires"]["coil"] = wires;
    Row("scope", "equivalent_diameter", "nominal",
        2 * std::sqrt((length - 24) * (height - 2 * wall) / kPi));
    return true;
  }

 private:
  double diameter_, mm_;
  bool hard_;
  Random& random_;
};

}  // namespace

BuiltDrawing DrawBuiltDrawing(int family, double diameter_px, double mm_per_px, bool hard,
                              const std::string& number, Random& random) {
  static constexpr const char* kFamilyNames[kBuiltFamilies] = {
      "lined braid", "four-lumen braid", "tubes", "double braid", "flat braid", "hub",
      "bond",        "lengthwise"};
  Drafter d(diameter_px, mm_per_px, hard, random);
  const bool fits = family == 0   ? d.Shaft(1, false)
                    : family == 1 ? d.FourLumenShaft()
                    : family == 2 ? d.Tubes()
                    : family == 3 ? d.Shaft(2, false)
                    : family == 4 ? d.Shaft(1, true)
                    : family == 5 ? d.Hub()
                    : family == 6 ? d.Bond()
                                  : d.Lengthwise();
  BuiltDrawing drawing;
  drawing.family = kFamilyNames[family];
  if (!fits) return drawing;
  Json design;
  design["format"] = "cutface/design";
  design["version"] = 1;
  design["units"] = "mm";
  design["part"] = {{"number", number}, {"revision", "A"}, {"title", drawing.family + " phantom"}};
  design["edge_cutoff_um"] = 10;
  design["sections"]["face"] = d.section;
  drawing.json = design.dump(1) + "\n";
  return drawing;
}

}  // namespace cutface::phantom
