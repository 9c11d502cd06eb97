// run.ledger and run.lock.
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <filesystem>
#include <limits>
#include <mutex>
#include <nlohmann/json.hpp>
#include <unordered_map>
#include <unordered_set>

#include "cutface/batch.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr std::string_view kHead = R"({"format": "cutface/ledger", "version": 1})";

}  // namespace

std::string LedgerLineToJson(const LedgerLine& line) {
  Json out = Json::object();
  out["image"] = line.image;
  out["stat"] = line.stat;
  out["image_sha256"] = line.image_sha256;
  out["size_px"] = Json::array({line.width_px, line.height_px});
  out["key"] = line.key;
  out["stem"] = line.stem;
  out["result_stat"] = line.result_stat;
  out["result_sha256"] = line.result_sha256;
  out["design_sha256"] = line.design_sha256;
  out["calibration_sha256"] = line.calibration_sha256;
  out["verdict"] = line.verdict;
  out["code"] = line.code;
  out["reason"] = line.reason;
  out["planes"] = line.planes;
  out["warnings"] = line.warnings;
  return out.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n";
}

namespace {

// A picture's side in pixels, as it was written.
std::optional<int> SideOf(const Json& json) {
  if (!json.is_number_integer()) return std::nullopt;
  const auto side = json.get<std::int64_t>();
  if (side < 0 || side > std::numeric_limits<int>::max()) return std::nullopt;
  return static_cast<int>(side);
}

// nullopt for a line that was cut off or is none: the face is then measured again.
std::optional<LedgerLine> ParseLine(std::string_view text) {
  const Json json = Json::parse(text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object()) return std::nullopt;
  LedgerLine line;
  const auto take = [&](const char* key, std::string& out) {
    const auto found = json.find(key);
    if (found == json.end() || !found->is_string()) return false;
    out = found->get<std::string>();
    return true;
  };
  const auto texts = [&](const char* key, std::vector<std::string>& out) {
    const auto found = json.find(key);
    if (found == json.end() || !found->is_array()) return false;
    for (const Json& one : *found) {
      if (!one.is_string()) return false;
      out.push_back(one.get<std::string>());
    }
    return true;
  };
  const auto size = json.find("size_px");
  const bool whole =
      take("image", line.image) && take("stat", line.stat) &&
      take("image_sha256", line.image_sha256) && take("key", line.key) && take("stem", line.stem) &&
      take("result_stat", line.result_stat) && take("result_sha256", line.result_sha256) &&
      take("design_sha256", line.design_sha256) &&
      take("calibration_sha256", line.calibration_sha256) && take("verdict", line.verdict) &&
      take("code", line.code) && take("reason", line.reason) && texts("planes", line.planes) &&
      texts("warnings", line.warnings) && size != json.end() && size->is_array() &&
      size->size() == 2;
  if (!whole || line.image.empty()) return std::nullopt;
  const auto width = SideOf((*size)[0]), height = SideOf((*size)[1]);
  if (!width || !height) return std::nullopt;
  line.width_px = *width;
  line.height_px = *height;
  return line;
}

tl::unexpected<Error> FailWrite(const std::string& path, int error) {
  return Fail(Code::kFileUnwritable,
              fmt::format("{}: {}; make room, or name another folder with --out", path,
                          std::strerror(error)));
}

// What a run that was killed had begun to write (WriteWhole's own names).
void TakeDraftsAway(const std::string& folder) {
  constexpr std::string_view kMark = ".draft-";
  constexpr std::size_t kLetters = 6;
  std::error_code error;
  std::vector<fs::path> drafts;
  for (fs::recursive_directory_iterator it(folder, error), end; !error && it != end;
       it.increment(error)) {
    const std::string name = it->path().filename().string();
    const std::size_t at = name.rfind(kMark);
    if (at != std::string::npos && name.size() == at + kMark.size() + kLetters &&
        it->is_regular_file(error))
      drafts.push_back(it->path());
  }
  for (const fs::path& draft : drafts) fs::remove(draft, error);
}

}  // namespace

Result<LedgerText> ParseLedger(std::string_view text, const std::string& name) {
  const std::string head = std::string(kHead) + "\n";
  if (!text.starts_with(head) && !head.starts_with(text)) {
    return Fail(Code::kUsage, fmt::format("{}: is there already and is no ledger of this program; "
                                          "move it or name another folder with --out",
                                          name));
  }
  LedgerText ledger;
  while (ledger.whole_bytes < text.size()) {
    const std::size_t at = ledger.whole_bytes, line_end = text.find('\n', at);
    if (line_end == std::string_view::npos) break;  // cut off by a crash
    if (auto line = ParseLine(text.substr(at, line_end - at)))
      ledger.lines.push_back(std::move(*line));
    ledger.whole_bytes = line_end + 1;
  }
  return ledger;
}

struct Ledger::State {
  std::string path;
  int lock = -1, file = -1;
  off_t end = 0;
  std::size_t lines_in_file = 0;
  std::unordered_map<std::string, LedgerLine> lines;
  std::mutex mutex;

  bool locked = false;

  ~State() {
    if (file >= 0) ::close(file);
    // An empty lock says that the run came to its end.
    if (locked && ::ftruncate(lock, 0) != 0) locked = false;
    if (lock >= 0) ::close(lock);  // and the lock is free
  }

  Status TakeLock(const std::string& folder) {
    const std::string lock_path = (fs::path(folder) / "run.lock").string();
    lock = ::open(lock_path.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0644);
    if (lock < 0) return FailWrite(lock_path, errno);
    if (::flock(lock, LOCK_EX | LOCK_NB) == 0) {
      locked = true;
      struct stat info {};
      if (::fstat(lock, &info) == 0 && info.st_size > 0) TakeDraftsAway(folder);
      // A full disk is noticed where a result is written; here it costs a few drafts at most.
      if (::pwrite(lock, "at work\n", 8, 0) < 0) return {};
      return {};
    }
    return Fail(Code::kUsage,
                fmt::format("{}: another run is at work in this folder; wait for it, or name "
                            "another folder with --out",
                            folder));
  }

  Status Read() {
    std::error_code ignored;
    std::string text;
    if (fs::exists(path, ignored)) {
      auto file_text = ReadTextFile(path, std::uint64_t{1} << 30);
      if (!file_text) return tl::unexpected(file_text.error());
      text = std::move(*file_text);
    }
    auto read = ParseLedger(text, path);
    if (!read) return tl::unexpected(read.error());
    lines_in_file = read->lines.size();
    for (LedgerLine& line : read->lines) lines[line.image] = std::move(line);
    end = static_cast<off_t>(read->whole_bytes);
    return OpenFile();
  }

  // At `end`: what stands behind it, a line cut off, is taken away.
  Status OpenFile() {
    if (file >= 0) ::close(file);
    file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_CLOEXEC, 0644);
    if (file < 0 || ::ftruncate(file, end) != 0) return FailWrite(path, errno);
    return end == 0 ? Append(std::string(kHead) + "\n") : Status{};
  }

  Status Append(const std::string& text) {
    std::size_t done = 0;
    int error = 0;
    while (done < text.size() && error == 0) {
      const ssize_t put =
          ::pwrite(file, text.data() + done, text.size() - done, end + static_cast<off_t>(done));
      if (put < 0 && errno == EINTR) continue;
      if (put < 0)
        error = errno;
      else
        done += static_cast<std::size_t>(put);
    }
    if (error == 0 && ::fdatasync(file) != 0) error = errno;
    if (error != 0) {
      // Half a line would spoil the next one.
      if (::ftruncate(file, end) != 0) error = errno;
      return FailWrite(path, error);
    }
    end += static_cast<off_t>(text.size());
    return {};
  }
};

Ledger::Ledger(std::unique_ptr<State> state) : state_(std::move(state)) {}
Ledger::Ledger(Ledger&&) noexcept = default;
Ledger& Ledger::operator=(Ledger&&) noexcept = default;
Ledger::~Ledger() = default;

Result<Ledger> Ledger::Open(const std::string& folder) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (error || !fs::is_directory(folder, error)) {
    return Fail(Code::kFileUnwritable,
                fmt::format("{}: cannot be made a folder for results: {}; name another --out",
                            folder, error ? error.message() : "it is a file"));
  }
  auto state = std::make_unique<State>();
  state->path = (fs::path(folder) / "run.ledger").string();
  if (auto status = state->TakeLock(folder); !status) return tl::unexpected(status.error());
  if (auto status = state->Read(); !status) return tl::unexpected(status.error());
  return Ledger(std::move(state));
}

const LedgerLine* Ledger::Find(const std::string& image) const {
  const auto found = state_->lines.find(image);
  return found == state_->lines.end() ? nullptr : &found->second;
}

Status Ledger::Put(LedgerLine line) {
  const std::lock_guard<std::mutex> guard(state_->mutex);
  if (auto status = state_->Append(LedgerLineToJson(line)); !status) return status;
  ++state_->lines_in_file;
  state_->lines[line.image] = std::move(line);
  return {};
}

Status Ledger::Tidy(std::span<const PlannedFace> faces) {
  std::string text = std::string(kHead) + "\n";
  std::size_t kept = 0;
  for (const PlannedFace& face : faces) {
    if (const LedgerLine* line = Find(face.entry.image)) {
      text += LedgerLineToJson(*line);
      ++kept;
    }
  }
  if (kept == state_->lines_in_file) return {};
  if (auto status = WriteWhole(state_->path, text); !status) return status;
  state_->end = static_cast<off_t>(text.size());
  state_->lines_in_file = kept;
  std::unordered_set<std::string_view> named;
  for (const PlannedFace& face : faces) named.insert(face.entry.image);
  std::erase_if(state_->lines, [&](const auto& item) { return !named.contains(item.first); });
  return state_->OpenFile();
}

}  // namespace cutface
