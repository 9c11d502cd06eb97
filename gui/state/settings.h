// What the window remembers for a person between runs.
// Keywords: recent, remembered calibration, theme, units, text size.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cutface/base.h"

namespace cutface::window {

struct Settings {
  std::vector<std::string> recent;  // pictures, newest first
  std::string design, section, calibration, out, inspector, lot, block;
  std::string records;                    // the store that results are signed in
  std::string run_pictures, run_results;  // folders of the run page
  std::string folder;                     // where the file dialog opens
  bool dark = false;
  double text_scale = 1;            // 0.8 to 2
  std::optional<LengthUnit> units;  // none: the drawing's
  static constexpr std::size_t kMostRecent = 12;

  void AddRecent(const std::string& path);
};

// "" when there is no home to keep it in.
std::string SettingsPath();
// A missing or damaged file gives the defaults: settings are never a reason not to start.
Settings ParseSettings(std::string_view text);
std::string SettingsToJson(const Settings& settings);
Settings ReadSettings(const std::string& path);
Status WriteSettings(const std::string& path, const Settings& settings);

}  // namespace cutface::window
