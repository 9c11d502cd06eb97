#include "gui/state/wall_panel.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "cutface/picture.h"
#include "cutface/quantity.h"

namespace cutface::window {
namespace {

constexpr double kHead = 0.12;  // of the strip, above the thickest place
constexpr float kGap = 0.02f;   // of the clock, without places
constexpr int kWavePlaces = 180;

struct Words {
  const SectionResult& result;
  const std::string& name;
  std::optional<double> Value(const char* quantity) const {
    for (const Measurement& m : result.measurements) {
      if (m.quantity == quantity && m.of == std::vector<std::string>{name} &&
          m.state == Measurement::State::kMeasured)
        return m.value;
    }
    return std::nullopt;
  }
};

double PerUnit(const std::string& unit) {
  const auto length = ParseLengthUnit(unit);
  return length ? UmPer(*length) : 0;
}

struct Wave {
  int order;
  const char* amplitude;
  const char* clock;
  const char* word;
};
constexpr Wave kWaves[] = {{1, "first_harmonic", "first_harmonic_clock", "off centre"},
                           {2, "second_harmonic", "second_harmonic_clock", "oval"},
                           {3, "third_harmonic", "third_harmonic_clock", "irregular"}};

}  // namespace

std::string ClockText(double deg) {
  int minutes = static_cast<int>(std::lround(deg * 2)) % 720;
  if (minutes < 0) minutes += 720;
  const int hour = minutes / 60 == 0 ? 12 : minutes / 60;
  return fmt::format("{}:{:02}", hour, minutes % 60);
}

const WallProfile* FindWall(const std::vector<WallProfile>& walls, const std::string& name) {
  for (const WallProfile& wall : walls) {
    if (wall.name == name) return &wall;
  }
  return nullptr;
}

const WallPlace* PlaceAt(const WallProfile& profile, double share) {
  const double deg = 360 * (share - std::floor(share));
  const WallPlace* best = nullptr;
  double least = 1e300;
  for (const WallPlace& place : profile.places) {
    double away = std::abs(place.clock_deg - deg);
    away = std::min(away, 360 - away);
    if (away < least) {
      least = away;
      best = &place;
    }
  }
  return best;
}

WallPanel BuildWall(const SectionResult& result, const std::vector<WallProfile>& walls,
                    const std::string& name, LengthUnit units) {
  WallPanel panel;
  for (const WallProfile& wall : walls) panel.names.push_back(wall.name);
  const WallProfile* wall = FindWall(walls, name);
  if (wall == nullptr && !walls.empty()) wall = &walls.front();
  if (wall == nullptr || wall->places.empty()) return panel;
  panel.name = wall->name;
  double top = wall->places[wall->greatest].thickness_um;
  for (const CharacteristicResult& row : result.characteristics) {
    const bool thickness = row.quantity.starts_with("thickness_") || row.quantity == "wall";
    if (!thickness || row.of != std::vector<std::string>{panel.name}) continue;
    for (const auto& [limit, word] :
         {std::pair{row.min, "at least "}, std::pair{row.max, "at most "}}) {
      if (!limit || !(PerUnit(row.unit) > 0)) continue;
      const double um = *limit * PerUnit(row.unit);
      panel.levels.push_back(
          {static_cast<float>(um), word + Format(um, "um", units) + ", row " + row.no, true});
      top = std::max(top, um);
    }
  }
  const double scale = (1 - kHead) / std::max(1e-9, top);
  for (WallPanel::Level& level : panel.levels) level.y = static_cast<float>(level.y * scale);
  const RoundLength step = RoundLengthBelow(0.45 * top, units);
  for (int k = 1; step.um > 0 && k * step.um < top; ++k)
    panel.levels.push_back(
        {static_cast<float>(k * step.um * scale), Format(k * step.um, "um", units), false});
  const auto place = [&](const WallPlace& p) {
    return WallPanel::Place{static_cast<float>(p.clock_deg / 360),
                            static_cast<float>(p.thickness_um * scale), p.seen};
  };
  for (const WallPlace& p : wall->places) {
    panel.places.push_back(place(p));
    const std::size_t n = panel.places.size();
    panel.places.back().joined = n > 1 && panel.places[n - 1].x - panel.places[n - 2].x < kGap;
  }
  panel.least = panel.places[wall->least];
  panel.greatest = panel.places[wall->greatest];
  const auto at = [&](const WallPlace& p) {
    return Format(p.thickness_um, "um", units) + " at " + ClockText(p.clock_deg);
  };
  panel.least_text = at(wall->places[wall->least]);
  panel.greatest_text = at(wall->places[wall->greatest]);
  panel.mean_text = Format(wall->mean_um, "um", units);
  const Words words{result, panel.name};
  std::vector<double> sum(kWavePlaces + 1, wall->mean_um);
  bool any = false;
  for (const Wave& wave : kWaves) {
    const auto amplitude = words.Value(wave.amplitude), clock = words.Value(wave.clock);
    if (!amplitude || !clock) continue;
    any = true;
    for (int i = 0; i <= kWavePlaces; ++i) {
      const double deg = 360.0 * i / kWavePlaces;
      sum[static_cast<std::size_t>(i)] +=
          *amplitude * std::cos(wave.order * (deg - *clock) * std::numbers::pi / 180);
    }
    panel.wave_text +=
        (panel.wave_text.empty() ? "" : ", ") +
        fmt::format("{} {} to {}", wave.word, Format(*amplitude, "um", units), ClockText(*clock));
  }
  for (int i = 0; any && i <= kWavePlaces; ++i)
    panel.wave.push_back({static_cast<float>(i) / kWavePlaces,
                          static_cast<float>(sum[static_cast<std::size_t>(i)] * scale), true});
  return panel;
}

WallPanel::Hand HandAt(const WallProfile& profile, const WallPanel& panel, double share,
                       LengthUnit units) {
  WallPanel::Hand hand;
  const WallPlace* place = PlaceAt(profile, share);
  if (place == nullptr || panel.places.empty()) return hand;
  hand.shown = true;
  hand.place = *place;
  const auto index = static_cast<std::size_t>(place - profile.places.data());
  hand.x = panel.places[index].x;
  hand.y = panel.places[index].y;
  hand.text = ClockText(place->clock_deg) + "   " + Format(place->thickness_um, "um", units) +
              (place->seen ? "" : "   edge not seen here");
  return hand;
}

}  // namespace cutface::window
