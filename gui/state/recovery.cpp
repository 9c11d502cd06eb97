#include "gui/state/recovery.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "cutface/record.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;
constexpr const char* kLockName = "lock";

std::string Text(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_string() ? found->get<std::string>() : "";
}
bool Flag(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_boolean() && found->get<bool>();
}

}  // namespace

Result<std::string> UnsavedToJson(const UnsavedWork& work) {
  // The result file has the form for what people did already.
  SectionResult carrier;
  carrier.sample = work.order.sample;
  carrier.image_sha256 = work.image_sha256;
  for (const Correction& c : work.corrections) carrier.edits.push_back(CorrectionText(c));
  carrier.asked = work.asked;
  auto result = TryResultToJson(carrier);
  if (!result) return tl::unexpected(result.error());
  const Order& o = work.order;
  Json json{{"format", "cutface/unsaved"},
            {"image", o.image},
            {"design", o.design},
            {"section", o.section},
            {"calibration", o.calibration},
            {"out", o.out},
            {"inspector", o.inspector},
            {"accept_overdue", o.accept_overdue},
            {"accept_scale_mismatch", o.accept_scale_mismatch},
            {"done", *result}};
  return json.dump(1, ' ', false, Json::error_handler_t::replace);
}

Result<UnsavedWork> ParseUnsaved(const std::string& text, const std::string& name) {
  const Json json = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object() || Text(json, "format") != "cutface/unsaved")
    return Fail(Code::kJsonValue, name + ": holds no unsaved work of the window");
  auto carrier = ParseResult(Text(json, "done"), name);
  if (!carrier) return tl::unexpected(carrier.error());
  UnsavedWork work;
  Order& o = work.order;
  o.image = Text(json, "image");
  o.design = Text(json, "design");
  o.section = Text(json, "section");
  o.calibration = Text(json, "calibration");
  o.out = Text(json, "out");
  o.inspector = Text(json, "inspector");
  o.accept_overdue = Flag(json, "accept_overdue");
  o.accept_scale_mismatch = Flag(json, "accept_scale_mismatch");
  o.sample = carrier->sample;
  work.image_sha256 = carrier->image_sha256;
  work.corrections = CorrectionsOf(*carrier);
  work.asked = carrier->asked;
  return work;
}

Keeper::Keeper(std::string root) : root_(std::move(root)) {}

Keeper::~Keeper() {
  if (lock_ < 0) return;
  std::error_code ignored;
  const bool empty =
      std::all_of(fs::directory_iterator(folder_, ignored), fs::directory_iterator(),
                  [](const auto& file) { return file.path().filename() == kLockName; });
  if (empty) fs::remove_all(folder_, ignored);
  ::close(lock_);
}

// Made with the first work to keep: most windows need none.
Status Keeper::Open() {
  if (lock_ >= 0) return {};
  std::error_code error;
  for (int n = 0; n < 1000; ++n) {
    folder_ = (fs::path(root_) / (std::to_string(::getpid()) + "-" + std::to_string(n))).string();
    if (fs::exists(folder_, error)) continue;
    fs::create_directories(folder_, error);
    if (error) break;
    const std::string lock = (fs::path(folder_) / kLockName).string();
    lock_ = ::open(lock.c_str(), O_CREAT | O_RDWR | O_CLOEXEC, 0600);
    if (lock_ >= 0 && ::flock(lock_, LOCK_EX | LOCK_NB) == 0) return {};
    if (lock_ >= 0) ::close(lock_);
    lock_ = -1;
  }
  return Fail(Code::kFileUnwritable, root_ + ": unsaved work cannot be kept here");
}

Status Keeper::Put(int id, const UnsavedWork& work) {
  if (root_.empty()) return {};
  if (auto status = Open(); !status) return status;
  auto text = UnsavedToJson(work);
  if (!text) return tl::unexpected(text.error());
  return WriteWhole((fs::path(folder_) / (std::to_string(id) + ".unsaved.json")).string(), *text);
}

void Keeper::Drop(int id) {
  if (lock_ < 0) return;
  std::error_code ignored;
  fs::remove(fs::path(folder_) / (std::to_string(id) + ".unsaved.json"), ignored);
}

std::vector<std::string> Keeper::LeftBehind(const std::string& root) {
  std::vector<std::string> files;
  std::error_code ignored;
  if (root.empty()) return files;
  for (const auto& folder : fs::directory_iterator(root, ignored)) {
    const std::string lock = (folder.path() / kLockName).string();
    const int file = ::open(lock.c_str(), O_RDWR | O_CLOEXEC);
    const bool alive = file >= 0 && ::flock(file, LOCK_EX | LOCK_NB) != 0;
    if (file >= 0) ::close(file);
    if (alive) continue;
    for (const auto& entry : fs::directory_iterator(folder.path(), ignored))
      if (entry.path().string().ends_with(".unsaved.json")) files.push_back(entry.path().string());
  }
  std::sort(files.begin(), files.end());
  return files;
}

void Keeper::Remove(const std::string& file) {
  std::error_code ignored;
  const fs::path folder = fs::path(file).parent_path();
  fs::remove(file, ignored);
  const bool empty = std::all_of(fs::directory_iterator(folder, ignored), fs::directory_iterator(),
                                 [](const auto& f) { return f.path().filename() == kLockName; });
  if (empty) fs::remove_all(folder, ignored);
}

}  // namespace cutface::window
