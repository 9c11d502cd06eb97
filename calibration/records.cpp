// The folder of a laboratory's records: which one holds, and that none is lost.
#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <filesystem>
#include <map>
#include <set>
#include <system_error>

#include "cutface/calibration_keeping.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
constexpr std::string_view kEnding = ".calibration.json";

bool IsRecordName(const std::string& name) {
  return name.size() > kEnding.size() && name.ends_with(kEnding);
}

// Ids once, heirs once, no rings.
Status CheckChains(const RecordFolder& folder) {
  std::map<std::string, std::string> file_of, heir_of;
  for (const CalibrationRecord& record : folder.records) {
    const auto [other, is_new] = file_of.try_emplace(record.id, record.file_name);
    if (!is_new) {
      return Fail(
          Code::kCalibrationInvalid,
          fmt::format("{}: id \"{}\" stands in {} and {}; give each record an id of its own",
                      folder.path, record.id, other->second, record.file_name));
    }
    if (record.supersedes.empty()) continue;
    const auto [heir, first] = heir_of.try_emplace(record.supersedes, record.id);
    if (!first) {
      return Fail(Code::kCalibrationInvalid,
                  fmt::format("{}: \"{}\" is superseded by \"{}\" and by \"{}\"; let one of them "
                              "supersede the other",
                              folder.path, record.supersedes, heir->second, record.id));
    }
  }
  for (const auto& [id, heir] : heir_of) {
    std::set<std::string> seen = {id};
    for (auto at = heir_of.find(id); at != heir_of.end(); at = heir_of.find(at->second)) {
      if (seen.insert(at->second).second) continue;
      return Fail(Code::kCalibrationInvalid,
                  fmt::format("{}: records supersede one another in a ring through \"{}\"; correct "
                              "their \"supersedes\"",
                              folder.path, id));
    }
  }
  return {};
}

std::string Described(const RecordWish& wish) {
  std::string text;
  if (!wish.microscope.empty()) text += fmt::format(" microscope {},", wish.microscope);
  if (!wish.objective.empty()) text += fmt::format(" objective {},", wish.objective);
  if (wish.width_px > 0)
    text += fmt::format(" images of {} x {} px,", wish.width_px, wish.height_px);
  if (text.empty()) return "any bench";
  text.pop_back();
  return text.substr(1);
}

}  // namespace

std::string RecordFolder::SupersededBy(std::string_view id) const {
  std::string last;
  std::string current(id);
  // The chains of a folder that was read have no rings.
  for (;;) {
    const auto heir = std::find_if(records.begin(), records.end(), [&](const auto& record) {
      return record.supersedes == current;
    });
    if (heir == records.end()) return last;
    last = current = heir->id;
  }
}

Result<RecordFolder> ReadRecordFolder(const std::string& path) {
  std::error_code error;
  std::vector<std::string> names;
  for (fs::directory_iterator it(path, error), end; !error && it != end; it.increment(error)) {
    const std::string name = it->path().filename().string();
    if (IsRecordName(name)) names.push_back(name);
  }
  if (error) {
    return Fail(Code::kFileMissing, fmt::format("{}: cannot be read as a folder of calibration "
                                                "records: {}; name another",
                                                path, error.message()));
  }
  if (names.empty()) {
    return Fail(
        Code::kCalibrationInvalid,
        fmt::format("{}: holds no *.calibration.json; calibrate, or name another folder", path));
  }
  std::sort(names.begin(), names.end());
  RecordFolder folder;
  folder.path = path;
  for (const std::string& name : names) {
    auto record = ReadCalibration((fs::path(path) / name).string());
    if (!record) return tl::unexpected(record.error());
    folder.records.push_back(std::move(*record));
  }
  if (auto status = CheckChains(folder); !status) return tl::unexpected(status.error());
  return folder;
}

Result<CalibrationRecord> ChooseRecord(const RecordFolder& folder, const RecordWish& wish) {
  if (!wish.id.empty()) {
    std::vector<std::string_view> known;
    for (const CalibrationRecord& record : folder.records) {
      known.push_back(record.id);
      if (record.id != wish.id) continue;
      const std::string heir = folder.SupersededBy(record.id);
      if (heir.empty()) return record;
      return Fail(Code::kUsage,
                  fmt::format("{}: \"{}\" is superseded by \"{}\"; take that, or name the old "
                              "record's file for an old picture",
                              folder.path, wish.id, heir));
    }
    const std::string near = NearestWord(wish.id, known);
    return Fail(Code::kNotFound,
                fmt::format("{}: has no record \"{}\"{}", folder.path, wish.id,
                            near.empty() ? "; look at the ids in the folder's records"
                                         : fmt::format("; perhaps \"{}\"", near)));
  }
  std::vector<const CalibrationRecord*> fitting;
  for (const CalibrationRecord& record : folder.records) {
    if (!folder.SupersededBy(record.id).empty()) continue;
    if (!wish.objective.empty() && record.objective != wish.objective) continue;
    if (!wish.microscope.empty() && record.microscope != wish.microscope) continue;
    if (wish.width_px > 0 &&
        (record.image_width_px != wish.width_px || record.image_height_px != wish.height_px)) {
      continue;
    }
    fitting.push_back(&record);
  }
  if (fitting.size() == 1) return *fitting.front();
  if (fitting.empty()) {
    return Fail(Code::kNotFound,
                fmt::format("{}: no record that holds fits {}; calibrate this bench, or name a "
                            "record's file",
                            folder.path, Described(wish)));
  }
  std::string ids;
  for (const CalibrationRecord* record : fitting) ids += (ids.empty() ? "" : ", ") + record->id;
  return Fail(Code::kUsage, fmt::format("{}: {} records fit {}: {}; choose one with --bench ID",
                                        folder.path, fitting.size(), Described(wish), ids));
}

Status KeepRecord(const std::string& path, const CalibrationRecord& record) {
  std::error_code error;
  const fs::path file(path);
  const std::string folder = file.has_parent_path() ? file.parent_path().string() : ".";
  const auto never = [&](const std::string& what) {
    return Fail(Code::kUsage,
                fmt::format("{}: {}; a record is never overwritten: give the new one an id and a "
                            "file of its own and name the old in --supersedes",
                            path, what));
  };
  if (fs::exists(file, error)) return never("is there already");
  if (!IsRecordName(file.filename().string())) {
    return Fail(Code::kUsage, fmt::format("{}: name it NAME{}", path, kEnding));
  }
  // The folder with the new record in it must be sound; an empty one is.
  RecordFolder kept;
  bool any = false;
  for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error))
    any = any || IsRecordName(it->path().filename().string());
  if (any) {
    auto read = ReadRecordFolder(folder);
    if (!read) return tl::unexpected(read.error());
    kept = std::move(*read);
  }
  kept.path = folder;
  for (const CalibrationRecord& other : kept.records) {
    if (other.id == record.id)
      return never(fmt::format("id \"{}\" stands in {} already", record.id, other.file_name));
  }
  kept.records.push_back(record);
  kept.records.back().file_name = file.filename().string();
  if (auto status = CheckChains(kept); !status) return status;
  const std::string text = CalibrationToJson(record);
  if (auto back = ParseCalibration(text, file.filename().string()); !back)
    return tl::unexpected(back.error());
  // Whole under another name, then linked: link() refuses a name that somebody took meanwhile.
  const std::string draft = path + ".new";
  if (auto status = WriteWhole(draft, text); !status) return status;
  const int linked = ::link(draft.c_str(), path.c_str());
  const int cause = errno;
  ::unlink(draft.c_str());
  if (linked == 0) return {};
  if (cause == EEXIST) return never("is there already");
  return Fail(Code::kFileUnwritable, fmt::format("{}: {}; check the folder", path,
                                                 std::generic_category().message(cause)));
}

}  // namespace cutface
