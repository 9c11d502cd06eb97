// Where results go, and whether they may.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <boost/crc.hpp>
#include <cstring>
#include <filesystem>
#include <iterator>
#include <map>
#include <nlohmann/json.hpp>
#include <system_error>

#include "cutface/job.h"
#include "cutface/record.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t kSignature = 8;
constexpr std::size_t kHeaderChunk = 25;  // length, "IHDR", 13 bytes, CRC
constexpr std::string_view kKeyword{"Software\0cutface ", 17};

std::string StemOf(const std::string& image) { return fs::path(image).stem().string(); }

void AppendBigEndian(std::string& bytes, std::uint32_t value) {
  for (int shift = 24; shift >= 0; shift -= 8) bytes += static_cast<char>((value >> shift) & 0xff);
}

bool IsOurResult(const std::string& path) {
  auto text = ReadTextFile(path);
  if (!text) return false;
  const nlohmann::json json = nlohmann::json::parse(*text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object()) return false;
  const auto format = json.find("format");
  return format != json.end() && format->is_string() && *format == "cutface/result";
}

}  // namespace

OutputPaths PathsFor(const std::string& image, const std::string& folder, bool with_svg,
                     bool with_edges, bool with_pressure) {
  return PathsOfBase((fs::path(folder) / StemOf(image)).string(), with_svg, with_edges,
                     with_pressure);
}

OutputPaths PathsOfBase(const std::string& base, bool with_svg, bool with_edges,
                        bool with_pressure) {
  return {base + ".result.json", base + ".png", with_svg ? base + ".svg" : "",
          with_edges ? base + ".edges.png" : "", with_pressure ? base + ".pressure.png" : ""};
}

Status CheckStems(const std::vector<std::string>& images) {
  std::map<std::string, std::string> seen;
  for (const std::string& image : images) {
    const auto [other, is_new] = seen.try_emplace(StemOf(image), image);
    if (is_new) continue;
    return Fail(Code::kUsage,
                fmt::format("{} and {} would both write {}.result.json; rename one or measure "
                            "them in two calls with different --out",
                            other->second, image, StemOf(image)));
  }
  return {};
}

Status MakeFolder(const std::string& folder) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (!error && fs::is_directory(folder, error)) return {};
  return Fail(Code::kFileUnwritable,
              fmt::format("{}: cannot be made a folder for results: {}; name another --out", folder,
                          error ? error.message() : "it is a file"));
}

Status CheckOverwriting(const OutputPaths& paths) {
  std::error_code error;
  if (fs::exists(paths.result, error) && !IsOurResult(paths.result)) {
    return Fail(Code::kUsage,
                fmt::format("{}: is there already and is no result of this program; move it or "
                            "name another folder with --out",
                            paths.result));
  }
  const auto not_ours = [](const std::string& path) {
    return Fail(Code::kUsage,
                fmt::format("{}: is there already and was not drawn by this program; move it or "
                            "name another folder with --out",
                            path));
  };
  for (const std::string& picture : {paths.picture, paths.edges, paths.pressed}) {
    if (picture.empty() || !fs::exists(picture, error)) continue;
    auto bytes = ReadFile(picture);
    if (!bytes || !IsMarkedPicture(*bytes)) return not_ours(picture);
  }
  if (!paths.drawing.empty() && fs::exists(paths.drawing, error)) {
    auto text = ReadTextFile(paths.drawing);
    if (!text || !IsMarkedDrawing(*text)) return not_ours(paths.drawing);
  }
  return {};
}

std::vector<std::byte> MarkedPicture(std::span<const std::byte> png, const std::string& software) {
  CF_CHECK(png.size() > kSignature + kHeaderChunk);
  const std::string content = std::string(kKeyword) + software;
  std::string typed = "tEXt" + content;
  boost::crc_32_type crc;
  crc.process_bytes(typed.data(), typed.size());
  std::string chunk;
  AppendBigEndian(chunk, static_cast<std::uint32_t>(content.size()));
  chunk += typed;
  AppendBigEndian(chunk, crc.checksum());

  const auto head = png.first(kSignature + kHeaderChunk), rest = png.subspan(head.size());
  const auto text = std::as_bytes(std::span(chunk.data(), chunk.size()));
  std::vector<std::byte> marked;
  marked.reserve(png.size() + text.size());
  for (const auto& part : {head, text, rest})
    std::copy(part.begin(), part.end(), std::back_inserter(marked));
  return marked;
}

bool IsMarkedPicture(std::span<const std::byte> png) {
  constexpr std::size_t kText = kSignature + kHeaderChunk + 4;  // after the chunk's length
  const std::string wanted = "tEXt" + std::string(kKeyword);
  if (png.size() < kText + wanted.size()) return false;
  return std::memcmp(png.data(), "\x89PNG\r\n\x1a\n", kSignature) == 0 &&
         std::memcmp(png.data() + kText, wanted.data(), wanted.size()) == 0;
}

bool IsMarkedDrawing(std::string_view svg) {
  const std::size_t line = svg.find('\n');
  return svg.starts_with("<?xml") && line != std::string_view::npos &&
         svg.substr(line + 1).starts_with("<!-- Software: cutface ");
}

Status WriteOutputs(const OutputPaths& paths, const Drawn& drawn, const SectionResult& result) {
  std::error_code ignored;
  std::vector<std::string> fresh;  // taken away again when something later fails
  const auto write = [&](const std::string& path, const auto& writing) -> Status {
    if (path.empty()) return {};
    const bool is_new = !fs::exists(path, ignored);
    Status status = writing(path);
    if (status && is_new) fresh.push_back(path);
    if (!status) {
      for (const std::string& left : fresh) fs::remove(left, ignored);
    }
    return status;
  };
  const auto picture = [&](const std::vector<std::byte>& png) {
    return [&](const std::string& path) {
      return WriteWhole(path, MarkedPicture(png, result.software));
    };
  };
  if (auto status = write(paths.picture, picture(drawn.png)); !status) return status;
  if (auto status = write(paths.edges, picture(drawn.edges)); !status) return status;
  if (auto status = write(paths.pressed, picture(drawn.pressed)); !status) return status;
  if (auto status = write(paths.drawing,
                          [&](const std::string& path) { return WriteWhole(path, drawn.svg); });
      !status)
    return status;
  return write(paths.result, [&](const std::string& path) { return WriteResult(path, result); });
}

}  // namespace cutface
