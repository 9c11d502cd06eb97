#include "cli/own_files.h"

#include <fmt/format.h>

#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>

#include "cutface/job.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

std::map<std::string, std::string> HashesOf(const std::string& path) {
  std::map<std::string, std::string> hashes;
  const auto text = ReadTextFile(path);
  if (!text) return hashes;
  const auto json = nlohmann::json::parse(*text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object() || json.value("format", nlohmann::json()) != "cutface/files") return hashes;
  const auto list = json.find("files");
  if (list == json.end() || !list->is_object()) return hashes;
  for (const auto& [name, hash] : list->items())
    if (hash.is_string()) hashes[name] = hash.get<std::string>();
  return hashes;
}

bool IsThere(const std::string& path) {
  std::error_code ignored;
  return fs::exists(fs::symlink_status(path, ignored));
}

}  // namespace

Status WriteOwnFiles(const std::string& folder, const std::string& index,
                     const std::vector<OwnFile>& files, std::vector<std::string>& written) {
  if (auto status = MakeFolder(folder); !status) return status;
  const std::string index_path = (fs::path(folder) / index).string();
  const auto known = HashesOf(index_path);
  if (IsThere(index_path) && known.empty())
    return Fail(Code::kUsage, index_path + ": is not this program's; name another folder");
  nlohmann::ordered_json list = nlohmann::ordered_json::object();
  for (const OwnFile& file : files) {
    list[file.name] = Sha256Hex(file.text);
    const std::string path = (fs::path(folder) / file.name).string();
    if (!IsThere(path)) continue;
    const auto text = ReadTextFile(path);
    const auto hash = known.find(file.name);
    if (text && hash != known.end() && Sha256Hex(*text) == hash->second) continue;
    return Fail(Code::kUsage, fmt::format("{}: is there already and is not as "
                                          "this program wrote it; move it or "
                                          "name another folder with --out",
                                          path));
  }
  for (const OwnFile& file : files) {
    const std::string path = (fs::path(folder) / file.name).string();
    if (auto status = WriteWhole(path, file.text); !status) return status;
    written.push_back(path);
  }
  // What an earlier call wrote and this one has no more would be taken for a
  // part of it.
  for (const auto& [name, hash] : known) {
    const std::string path = (fs::path(folder) / name).string();
    const auto text =
        list.contains(name) ? Result<std::string>(Fail(Code::kNotFound, "")) : ReadTextFile(path);
    std::error_code ignored;
    if (text && fs::path(name).filename() == name && Sha256Hex(*text) == hash)
      fs::remove(path, ignored);
  }
  const nlohmann::ordered_json all = {{"format", "cutface/files"}, {"files", list}};
  return WriteWhole(index_path, all.dump(1) + "\n");
}

}  // namespace cutface
