// The wall by the clock as a strip: thickness from 12 to 12, with limits, extremes and the waves
// that the result's harmonics tell. Keywords: wall, clock, strip, harmonics, limits.
#pragma once

#include <string>
#include <vector>

#include "cutface/profile.h"
#include "cutface/section.h"

namespace cutface::window {

struct WallPanel {
  std::vector<std::string> names;
  std::string name;  // the chosen one; "" when there is none
  struct Place {
    float x = 0, y = 0;  // shares of the strip: clock / 360, thickness from the bottom
    bool seen = true;
    bool joined = true;  // with the place before: nothing is left out between
  };
  std::vector<Place> places;
  std::vector<Place> wave;  // mean and first three harmonics; empty where they are not told
  struct Level {
    float y = 0;
    std::string text;
    bool is_limit = false;
  };
  std::vector<Level> levels;
  Place least, greatest;
  std::string least_text, greatest_text, mean_text, wave_text;
  std::string clock_text;  // what its 12 o'clock is where that is not the drawing's; else ""
  struct Hand {
    bool shown = false;
    float x = 0, y = 0;
    std::string text;
    WallPlace place;
  };
};

WallPanel BuildWall(const SectionResult& result, const std::vector<WallProfile>& walls,
                    const std::string& name, LengthUnit units);
// The profile's place at a clock share 0..1, nearest in angle; nullptr without places.
const WallPlace* PlaceAt(const WallProfile& profile, double share);
WallPanel::Hand HandAt(const WallProfile& profile, const WallPanel& panel, double share,
                       LengthUnit units);
const WallProfile* FindWall(const std::vector<WallProfile>& walls, const std::string& name);
// "3:30" for 105 degrees: as people say a clock position.
std::string ClockText(double deg);

}  // namespace cutface::window
