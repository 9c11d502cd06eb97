#include "phantom/inserts_dress.h"

#include <algorithm>
#include <cmath>

#include "phantom/shapes.h"

namespace cutface::phantom {
namespace {

class Dresser {
 public:
  Dresser(PhantomScene& scene, const BuiltPart& part, bool hard, Random& random)
      : scene_(scene), part_(part), hard_(hard), random_(random) {}

  void Run() {
    PaintRings();
    PaintLiners();
    PaintFibres();
    PaintArtefacts();
    PaintWires();
  }

 private:
  bool Transmitted() const { return scene_.light == PhantomLight::kTransmitted; }

  // A tone that differs from its neighbours by at least `step` each.
  double ToneBeside(double base, double least, double most, double other, double other_least) {
    double tone = base;
    for (int tries = 0; tries < 40; ++tries) {
      const double sign = random_.Chance(0.6) ? 1 : -1;
      tone = std::clamp(base + sign * random_.Uniform(least, most), 0.08, 0.95);
      if (std::abs(tone - base) >= 0.9 * least && std::abs(tone - other) >= other_least) break;
    }
    return tone;
  }

  void PaintRings() {
    const Inserts& in = part_.inserts;
    const double share = scene_.light == PhantomLight::kWeak ? 0.5 : 1;
    const bool bond = !in.adhesive.empty();
    double tone = scene_.body_tone;
    for (const BuiltRing& ring : in.rings) {
      // Sleeve and adhesive are nearly alike; what is seen is the line between them.
      const double least = bond ? (hard_ ? 0.008 : 0.02) : hard_ ? 0.04 : 0.06;
      const double most = bond ? (hard_ ? 0.04 : 0.06) : 0.15;
      const double inner =
          ToneBeside(tone, share * least, share * most, scene_.resin_tone, bond ? 0.05 : 0.03);
      if (bond || random_.Chance(0.3)) {
        const double half = 0.5 * random_.Uniform(0.8, hard_ ? 2.0 : 2.4);
        const double dark = Transmitted()
                                ? random_.Uniform(0.12, 0.3)
                                : random_.Uniform(hard_ ? 0.05 : 0.08, hard_ ? 0.2 : 0.25);
        const double line = std::clamp(0.5 * (tone + inner) - dark, 0.02, 0.95);
        scene_.inlays.push_back({OffsetBy(ring.inner, half), line, 1, 2 * half, -1});
        scene_.inlays.push_back({OffsetBy(ring.inner, -half), inner, 1, 0, -1});
      } else {
        scene_.inlays.push_back({ring.inner, inner, 1, 0, -1});
      }
      tone = inner;
    }
    core_ = tone;
  }

  static ContourPx OffsetBy(const ContourPx& contour, double by) {
    ContourPx out;
    for (std::size_t i = 0; i < contour.size(); ++i) {
      out.push_back(contour[i] + by * OutwardNormalAt(contour, i));
    }
    return out;
  }

  void PaintLiners() {
    const double share = scene_.light == PhantomLight::kWeak ? 0.6 : 1;
    for (const BuiltLiner& liner : part_.inserts.liners) {
      double bore = scene_.resin_tone;
      for (const PhantomLumen& lumen : scene_.lumens) {
        if (lumen.names[0] == liner.lumen) bore = lumen.tone;
      }
      const double tone = ToneBeside(core_, share * (hard_ ? 0.06 : 0.1), share * 0.25, bore,
                                     share * (hard_ ? 0.08 : 0.12));
      scene_.inlays.push_back({liner.outer, tone, 1, 0, -1});
    }
  }

  void PaintFibres() {
    for (const BuiltFibre& fibre : part_.inserts.fibres) {
      const double tone = ToneBeside(core_, 0.1, 0.3, core_, 0.08);
      for (const ContourPx& filament : fibre.filaments) {
        scene_.inlays.push_back({filament, tone, 1, 0, -1});
      }
    }
  }

  double HoleTone() {
    return Transmitted() ? random_.Uniform(0.08, 0.25) : random_.Uniform(0.03, 0.14);
  }

  void PaintArtefacts() {
    for (const BuiltArtefact& artefact : part_.inserts.artefacts) {
      if (artefact.kind == "mandrel") {
        scene_.metals.push_back({artefact.contour, MetalLight()});
        continue;
      }
      scene_.inlays.push_back({artefact.contour, HoleTone(), 1, artefact.width_px, -1});
    }
  }

  double MetalLight() {
    return Transmitted() ? random_.Uniform(0.002, 0.02) : random_.Uniform(1.05, hard_ ? 2.6 : 1.8);
  }

  void PaintWires() {
    PhantomEffects& e = scene_.effects;
    const double light = MetalLight();
    for (const BuiltWire& wire : part_.inserts.wires) {
      if (wire.state == BuiltWireState::kMissing) continue;
      if (wire.state == BuiltWireState::kPulledOut) {
        scene_.inlays.push_back({wire.contour, HoleTone(), 1, 0, -1});
        continue;
      }
      // Each is polished a little differently.
      scene_.metals.push_back(
          {wire.contour, light * std::exp((hard_ ? 0.15 : 0.05) * random_.Normal())});
    }
    if (scene_.metals.empty() || Transmitted()) return;
    e.halo_px = random_.Uniform(2.5, hard_ ? 9 : 6);
    e.halo_share = random_.Uniform(0.01, hard_ ? 0.10 : 0.04);
  }

  PhantomScene& scene_;
  const BuiltPart& part_;
  bool hard_;
  Random& random_;
  double core_ = 0.5;
};

}  // namespace

void DressInserts(PhantomScene& scene, const BuiltPart& part, bool hard, Random& random) {
  if (!part.inserts.Any()) return;
  Dresser(scene, part, hard, random).Run();
}

}  // namespace cutface::phantom
