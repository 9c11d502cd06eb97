#include "cutface/keeping.h"

#include <filesystem>

#include "cutface/record.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

// The first of the files that has the hash; "" when none.
std::string WithHash(const std::vector<std::string>& paths, const std::string& sha256) {
  std::error_code ignored;
  for (const std::string& path : paths) {
    if (!fs::is_regular_file(path, ignored)) continue;
    auto bytes = ReadFile(path);
    if (bytes && Sha256Hex(*bytes) == sha256) return path;
  }
  return "";
}

}  // namespace

Result<KeptResult> KeepResultFile(Archive& store, const std::string& result_path,
                                  const KeepWish& wish) {
  auto result = ReadResult(result_path);
  if (!result) return tl::unexpected(result.error());
  const fs::path folder = fs::path(result_path).parent_path();
  std::vector<std::string> pictures = wish.beside;
  const fs::path name = fs::path(result->image_file).filename();
  if (!wish.images.empty()) pictures.push_back((fs::path(wish.images) / name).string());
  pictures.push_back((folder / name).string());
  pictures.push_back(result->image_file);
  ResultToKeep keep;
  keep.result = &*result;
  keep.path = result_path;
  keep.who = wish.who;
  keep.how = wish.how;
  const auto take = [&](const char* role, const std::vector<std::string>& from,
                        const std::string& sha256, bool copy) {
    const std::string path = sha256.empty() ? "" : WithHash(from, sha256);
    if (!path.empty()) keep.originals.push_back({role, path, copy});
  };
  take("picture", pictures, result->image_sha256, !wish.reference);
  take("drawing", wish.beside, result->design_sha256, true);
  take("calibration", wish.beside, result->calibration_sha256, true);
  take("blank", wish.beside, result->flat_field_sha256, true);
  // measure writes the marked picture beside the result, under the same stem.
  std::string stem = fs::path(result_path).filename().string();
  if (stem.ends_with(".result.json")) {
    stem.resize(stem.size() - std::string_view(".result.json").size());
    const fs::path marked = folder / (stem + ".png");
    std::error_code ignored;
    auto bytes = fs::is_regular_file(marked, ignored) ? ReadFile(marked.string())
                                                      : Result<std::vector<std::byte>>();
    if (bytes && !bytes->empty() && Sha256Hex(*bytes) != result->image_sha256)
      keep.originals.push_back({"marked picture", marked.string()});
  }
  return store.AddResult(keep);
}

}  // namespace cutface
