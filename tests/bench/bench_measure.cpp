// Time of MeasureSection on a six-lumen face with about a thousand vertices per contour, on one
// core. Budget: 80 ms with 64 draws. Prints milliseconds per face; no verdict of its own.
#include <cstdio>
#include <ctime>

#include "cutface/measure.h"
#include "measure/faces.h"

int main() {
  using namespace cutface;
  const faces::ErrorModel model{0.15, 4.0, 0.1, 0.05, 200.0};
  Section section;
  Random random(7);
  Design design;
  SectionDesign plane;
  plane.name = "bench";
  plane.outline = faces::CircleShape({0, 0}, 2500);
  section.outline = faces::Seen(faces::CirclePoints({0, 0}, 1250, 2000), model, 1, 1, random);
  for (int k = 0; k < 6; ++k) {
    const double a = 2 * kPi * k / 6;
    const PointUm centre = 750.0 * PointUm{std::cos(a), std::sin(a)};
    const std::string name(1, static_cast<char>('a' + k));
    LumenTrace lumen;
    lumen.names = {name};
    lumen.bore = faces::Seen(faces::CirclePoints(centre, 320, 1000), model, 1, 1, random);
    section.lumens.push_back(lumen);
    plane.lumens.push_back(faces::LumenOf(name, faces::CircleShape(centre, 640)));
  }
  const Scale scale = Scale::Isotropic(2.4, 3e-4);
  for (int draws : {0, 64}) {
    MeasureOptions options;
    options.draws = draws;
    const std::clock_t start = std::clock();  // processor time: the machine may be shared
    constexpr int kRounds = 10;
    std::size_t count = 0;
    for (int round = 0; round < kRounds; ++round) {
      count = MeasureSection(section, &design, &plane, scale, options).size();
    }
    const double ms = 1000.0 * static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC / kRounds;
    std::printf("draws %2d: %6.1f ms for %zu quantities\n", draws, ms, count);
  }
}
