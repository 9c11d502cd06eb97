#include "gui/state/settings.h"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

namespace cutface::window {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

std::string Environment(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? "" : value;
}

std::string TextOf(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}

}  // namespace

void Settings::AddRecent(const std::string& path) {
  std::erase(recent, path);
  recent.insert(recent.begin(), path);
  if (recent.size() > kMostRecent) recent.resize(kMostRecent);
}

std::string SettingsPath() {
  std::string base = Environment("XDG_CONFIG_HOME");
  if (base.empty()) {
    const std::string home = Environment("HOME");
    if (home.empty()) return "";
    base = home + "/.config";
  }
  return base + "/cutface/window.json";
}

Settings ParseSettings(std::string_view text) {
  Settings settings;
  const Json json = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object()) return settings;
  const auto recent = json.find("recent");
  if (recent != json.end() && recent->is_array()) {
    for (const Json& entry : *recent) {
      if (entry.is_string() && settings.recent.size() < Settings::kMostRecent)
        settings.recent.push_back(entry.get<std::string>());
    }
  }
  settings.design = TextOf(json, "design");
  settings.section = TextOf(json, "section");
  settings.calibration = TextOf(json, "calibration");
  settings.out = TextOf(json, "out");
  settings.inspector = TextOf(json, "inspector");
  settings.lot = TextOf(json, "lot");
  settings.block = TextOf(json, "block");
  settings.records = TextOf(json, "records");
  settings.run_pictures = TextOf(json, "run_pictures");
  settings.run_results = TextOf(json, "run_results");
  settings.folder = TextOf(json, "folder");
  settings.dark = TextOf(json, "theme") == "dark";
  const auto scale = json.find("text_scale");
  if (scale != json.end() && scale->is_number())
    settings.text_scale = std::clamp(scale->get<double>(), 0.8, 2.0);
  if (const auto units = ParseLengthUnit(TextOf(json, "units"))) settings.units = *units;
  return settings;
}

Settings ReadSettings(const std::string& path) {
  if (path.empty()) return {};
  const auto text = ReadTextFile(path);
  return text ? ParseSettings(*text) : Settings{};
}

std::string SettingsToJson(const Settings& settings) {
  Json json;
  json["format"] = "cutface/window";
  json["recent"] = settings.recent;
  json["design"] = settings.design;
  json["section"] = settings.section;
  json["calibration"] = settings.calibration;
  json["out"] = settings.out;
  json["inspector"] = settings.inspector;
  json["lot"] = settings.lot;
  json["block"] = settings.block;
  json["records"] = settings.records;
  json["run_pictures"] = settings.run_pictures;
  json["run_results"] = settings.run_results;
  json["folder"] = settings.folder;
  json["theme"] = settings.dark ? "dark" : "light";
  json["text_scale"] = settings.text_scale;
  json["units"] = settings.units ? std::string(UnitName(*settings.units)) : "";
  return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

Status WriteSettings(const std::string& path, const Settings& settings) {
  if (path.empty()) return {};
  std::error_code ignored;
  fs::create_directories(fs::path(path).parent_path(), ignored);
  return WriteWhole(path, SettingsToJson(settings));
}

}  // namespace cutface::window
