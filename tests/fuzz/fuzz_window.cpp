// What the window keeps for itself: settings, and work that was not saved. Settings are never a
// reason not to start, so everything is accepted; unsaved work that is accepted survives writing.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "gui/state/recovery.h"
#include "gui/state/settings.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  using namespace cutface::window;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const std::string_view text(copy.get(), size);
  const Settings settings = ParseSettings(text);
  CF_CHECK(settings.recent.size() <= Settings::kMostRecent);
  CF_CHECK(settings.text_scale >= 0.8 && settings.text_scale <= 2);
  const std::string written = SettingsToJson(settings);
  CF_CHECK(SettingsToJson(ParseSettings(written)) == written);

  // What stands in the file as the text of a result, on its own too: it gets past the quotes that
  // no mutation would meet.
  std::string quoted = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') quoted += '\\';
    quoted += static_cast<unsigned char>(c) < 0x20 ? ' ' : c;
  }
  quoted += '"';
  for (const std::string& file :
       {std::string(text), R"({"format": "cutface/unsaved", "done": )" + quoted + "}"}) {
    const auto work = ParseUnsaved(file, "fuzz");
    if (!work) {
      CF_CHECK(!work.error().message.empty());
      continue;
    }
    const auto json = UnsavedToJson(*work);
    if (!json) continue;  // coordinates near the end of double
    const auto again = ParseUnsaved(*json, "again");
    CF_CHECK(again.has_value());
    CF_CHECK(again->corrections.size() == work->corrections.size());
    CF_CHECK(UnsavedToJson(*again) == *json);
  }
  return 0;
}
