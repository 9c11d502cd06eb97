// Do the 95 % intervals hold the truth in 95 % of faces, and are they not wider than they need be?
// Known faces, seen through the stated error model by a generator of the tests' own, scale
// included.
#include <gtest/gtest.h>

#include <map>

#include "cutface/measure.h"
#include "cutface/quantity.h"
#include "measure/faces.h"

namespace cutface {
namespace {

using faces::ErrorModel;
using faces::Find;

constexpr int kFaces = 1000;
constexpr double kPitchU = 2.5e-4;

struct Truth {
  ContourUm outline;
  std::vector<std::pair<std::string, ContourUm>> lumens;
};

// A small shaft: a D beside a round and an oval lumen; flat and curved septa.
Truth SmallShaft() {
  Truth truth;
  truth.outline = faces::EllipsePoints({0, 0}, 604, 596, 940);
  truth.lumens.emplace_back("d", faces::SegmentPoints({0, 0}, 480, -40, 4.0));
  ContourUm lower = faces::SegmentPoints({0, 0}, 470, -35, 4.0);
  for (PointUm& p : lower) p = {-p.x, -p.y};  // the D turned round: a flat septum 75 um wide
  truth.lumens.emplace_back("turned", lower);
  return truth;
}

Truth RoundShaft() {
  Truth truth;
  truth.outline = faces::EllipsePoints({0, 0}, 606, 594, 940);
  truth.lumens.emplace_back("a", faces::CirclePoints({-230, 0}, 180, 280));
  truth.lumens.emplace_back("b", faces::EllipsePoints({220, 60}, 200, 150, 280));
  return truth;
}

Section SectionOf(const Truth& truth) {
  Section section;
  section.outline = faces::Traced(truth.outline);
  for (const auto& [name, points] : truth.lumens) {
    section.lumens.push_back(faces::Lumen(name, points));
  }
  return section;
}

struct Tally {
  int inside = 0, all = 0;
  double half_width = 0, square_error = 0, error = 0;
  QuantityKind kind = QuantityKind::kMean;
};

std::map<std::string, Tally> Score(
    const Truth& truth, const ErrorModel& model,
    const std::vector<std::pair<std::vector<std::string>, std::string>>& words) {
  const Scale exact = Scale::Isotropic(1.0), scale = Scale::Isotropic(1.0, kPitchU);
  const auto right =
      MeasureSection(SectionOf(truth), nullptr, nullptr, exact, MeasureOptions{0, 1, 0, false});
  std::map<std::string, Tally> tallies;
  Random random(20260311);
  for (int face = 0; face < kFaces; ++face) {
    const double sx = 1 + kPitchU * random.Normal(), sy = 1 + kPitchU * random.Normal();
    Section seen;
    seen.outline = faces::Seen(truth.outline, model, sx, sy, random);
    for (const auto& [name, points] : truth.lumens) {
      LumenTrace lumen;
      lumen.names = {name};
      lumen.bore = faces::Seen(points, model, sx, sy, random);
      seen.lumens.push_back(std::move(lumen));
    }
    const auto measured =
        MeasureSection(seen, nullptr, nullptr, scale, MeasureOptions{64, 1, 0.0, false});
    for (const auto& [of, word] : words) {
      const Measurement* m = Find(measured, of, word);
      const Measurement* t = Find(right, of, word);
      EXPECT_NE(m, nullptr);
      EXPECT_NE(t, nullptr);
      if (m == nullptr || t == nullptr) return tallies;
      Tally& tally = tallies[of.back() + " " + word];
      ++tally.all;
      const QuantityOf kind = of.size() == 2       ? QuantityOf::kLumenPair
                              : of[0] == "outline" ? QuantityOf::kOutline
                                                   : QuantityOf::kLumen;
      tally.kind = FindQuantity(word, kind)->kind;
      tally.inside += m->lo <= t->value && t->value <= m->hi;
      tally.half_width += 0.5 * (m->hi - m->lo);
      tally.error += m->value - t->value;
      tally.square_error += (m->value - t->value) * (m->value - t->value);
    }
  }
  return tallies;
}

// Within 93 to 97 %, or the binomial interval of the count overlaps that range. Lower limits of
// minima never profit from a bias correction that raises them: where noise biases a minimum, its
// interval covers up to 97.5 % and is wider than 2 x RMS by intent.
void ExpectCovered(const std::map<std::string, Tally>& tallies) {
  EXPECT_FALSE(tallies.empty());
  for (const auto& [name, t] : tallies) {
    ASSERT_EQ(t.all, kFaces) << name;
    const auto [least, most] = BinomialInterval(t.inside, t.all);
    const double rms = std::sqrt(t.square_error / t.all);
    const double sharpness = t.half_width / t.all / (2 * rms);
    std::printf("  %-26s covered %5.1f %%  mean error %+8.4f  rms %8.4f  half width / 2 rms %.2f\n",
                name.c_str(), 100.0 * t.inside / t.all, t.error / t.all, rms, sharpness);
    const bool minimum = t.kind == QuantityKind::kLeast;
    EXPECT_LE(least, minimum ? 0.975 : 0.97) << name << ": " << t.inside << " of " << t.all;
    EXPECT_GE(most, 0.93) << name << ": " << t.inside << " of " << t.all;
    EXPECT_LE(sharpness, minimum ? 2.0 : 1.3) << name;
  }
}

// The share of the doubt that moves a whole contour differs from picture to picture: one set where
// it rules, one where noise along the contour does.
TEST(Coverage, HoldsWhereTheEdgeModelIsTheMainDoubt) {
  const ErrorModel model{0.15, 5.0, 0.15, 0.08, 150.0};
  ExpectCovered(Score(RoundShaft(), model,
                      {{{"outline"}, "diameter"},
                       {{"outline"}, "area"},
                       {{"outline"}, "width_min"},
                       {{"outline"}, "width_max"},
                       {{"a"}, "diameter"},
                       {{"a"}, "area"},
                       {{"a"}, "inscribed_diameter"},
                       {{"a"}, "wall"},
                       {{"b"}, "width_min"},
                       {{"b"}, "width_max"},
                       {{"b"}, "offset"},
                       {{"b"}, "clock"},
                       {{"a", "b"}, "septum"},
                       {{"b"}, "enclosing_diameter"},
                       {{"b"}, "hydraulic_diameter"}}));
}

TEST(Coverage, HoldsWhereNoiseAlongTheContourIsTheMainDoubt) {
  const ErrorModel model{0.2, 6.0, 0.06, 0.0, 0.0};
  ExpectCovered(Score(SmallShaft(), model,
                      {{{"outline"}, "diameter"},
                       {{"outline"}, "area"},
                       {{"outline"}, "width_min"},
                       {{"outline"}, "width_max"},
                       {{"d"}, "area"},
                       {{"d"}, "width_min"},
                       {{"d"}, "width_max"},
                       {{"d"}, "inscribed_diameter"},
                       {{"d"}, "wall"},
                       {{"d", "turned"}, "septum"},
                       {{"d", "turned"}, "barrier"}}));
}

}  // namespace
}  // namespace cutface
