#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "batch/fields.h"
#include "batch/table.h"
#include "cutface/batch.h"

namespace cutface {
namespace {

// The word of each column; "" for one without a head.
Result<std::vector<std::string>> ColumnsOf(const TextRow& head, const std::string& name) {
  std::vector<std::string> words;
  for (std::size_t i = 0; i < head.cells.size(); ++i) {
    const std::string typed = Trimmed(head.cells[i]);
    if (typed.empty()) {
      words.emplace_back();
      continue;
    }
    const std::string word = ColumnWord(typed);
    if (word.empty()) {
      const std::string near = NearestWord(typed, ManifestColumns());
      return Fail(Code::kJsonUnknownKey,
                  fmt::format("{}: row {}: unknown column \"{}\"{}; own columns are called "
                              "factor:NAME or remark",
                              name, head.line, ForMessage(typed),
                              near.empty() ? "" : fmt::format(", perhaps \"{}\"", near)));
    }
    if (std::find(words.begin(), words.end(), word) != words.end()) {
      return Fail(Code::kJsonUnknownKey, fmt::format("{}: row {}: column \"{}\" stands twice; "
                                                     "leave one out",
                                                     name, head.line, ForMessage(word)));
    }
    words.push_back(word);
  }
  if (std::find(words.begin(), words.end(), "image") == words.end()) {
    return Fail(Code::kJsonMissingKey,
                fmt::format("{}: row {}: has no column \"image\"; its first row must name the "
                            "columns",
                            name, head.line));
  }
  return words;
}

Result<ManifestRow> RowOf(const TextRow& from, const std::vector<std::string>& words,
                          const std::string& name) {
  ManifestRow row;
  row.line = from.line;
  // Cells missing at the end of a row are empty ones.
  for (std::size_t i = 0; i < std::max(from.cells.size(), words.size()); ++i) {
    const std::string value = i < from.cells.size() ? Trimmed(from.cells[i]) : "";
    if (i >= words.size() || words[i].empty()) {
      if (value.empty()) continue;
      return Fail(Code::kJsonValue,
                  fmt::format("{}: row {}: \"{}\" stands in a column without a head; name it "
                              "remark or factor:NAME",
                              name, from.line, ForMessage(value)));
    }
    if (words[i] == "remark") continue;
    if (const std::string fault = SetField(row, words[i], value); !fault.empty()) {
      return Fail(Code::kJsonValue, fmt::format("{}: row {}: {} \"{}\" {}", name, from.line,
                                                words[i], ForMessage(value), fault));
    }
  }
  if (row.image.empty()) {
    return Fail(Code::kJsonMissingKey, fmt::format("{}: row {}: names no image", name, from.line));
  }
  if (!row.reimage_of.empty() && !row.recut_of.empty()) {
    return Fail(
        Code::kJsonValue,
        fmt::format("{}: row {}: is a face a re-image or a recut? name one", name, from.line));
  }
  return row;
}

// A face that repeats another one needs that other one in the manifest, and of the same part.
Status CheckRepeats(const std::vector<ManifestRow>& rows, const std::string& name) {
  std::map<std::string, const ManifestRow*> by_image;
  for (const ManifestRow& row : rows) {
    const auto [other, is_new] = by_image.try_emplace(row.image, &row);
    if (!is_new) {
      return Fail(Code::kJsonValue,
                  fmt::format("{}: row {}: image \"{}\" stands in row {} already", name, row.line,
                              ForMessage(row.image), other->second->line));
    }
  }
  for (const ManifestRow& row : rows) {
    const std::string& wanted = row.reimage_of.empty() ? row.recut_of : row.reimage_of;
    if (wanted.empty()) continue;
    const auto found = by_image.find(wanted);
    if (found == by_image.end() || wanted == row.image) {
      return Fail(
          Code::kJsonValue,
          fmt::format("{}: row {}: repeats \"{}\", which {}", name, row.line, ForMessage(wanted),
                      wanted == row.image ? "is itself" : "no other row names"));
    }
    const ManifestRow& first = *found->second;
    if (first.sample.serial != row.sample.serial || first.sample.lot != row.sample.lot ||
        first.part != row.part || first.plane != row.plane) {
      return Fail(Code::kJsonValue,
                  fmt::format("{}: row {}: repeats row {}, which is of another part, lot, serial "
                              "number or plane",
                              name, row.line, first.line));
    }
  }
  return {};
}

// One cell: in quotes where the form asks for it, and never a formula.
std::string CsvCell(std::string text) {
  constexpr std::string_view kFormulas = "=+-@'";
  if (!text.empty() && kFormulas.find(text.front()) != std::string_view::npos)
    text.insert(text.begin(), '\'');
  if (text.find_first_of(",;\t\"\r\n") == std::string::npos && text == Trimmed(text)) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

}  // namespace

std::string ManifestToCsv(const Roster& roster) {
  std::set<std::string> factors;
  for (const FaceEntry& face : roster.faces) {
    for (const auto& [name, level] : face.factors) factors.insert(name);
  }
  std::string text =
      "image,part,revision,serial,lot,block,plane,station,face,taken,operator,trial,prepared by,"
      "reimage of,recut of,remark";
  for (const std::string& name : factors) text += "," + CsvCell("factor:" + name);
  text += "\r\n";
  for (const FaceEntry& f : roster.faces) {
    std::string planes;
    for (const std::string& plane : f.proposed_planes)
      planes += (planes.empty() ? "may be: " : " or ") + plane;
    const bool one = f.plane.empty() && f.proposed_planes.size() == 1;
    const bool recut = f.repeat == RepeatKind::kRecut, again = f.repeat == RepeatKind::kReimage;
    std::vector<std::string> cells = {
        f.image,
        f.part,
        f.revision,
        f.sample.serial,
        f.sample.lot,
        f.sample.block,
        one ? f.proposed_planes.front() : f.plane,
        f.sample.station_mm ? fmt::format("{}", *f.sample.station_mm) : "",
        f.sample.face,
        f.sample.taken,
        f.operator_name,
        f.trial,
        f.sample.prepared_by,
        again ? f.repeat_of : "",
        recut ? f.repeat_of : "",
        one ? "proposed from the picture, to be confirmed" : planes};
    for (const std::string& name : factors)
      cells.push_back(f.factors.contains(name) ? f.factors.at(name) : "");
    for (std::size_t i = 0; i < cells.size(); ++i) text += (i > 0 ? "," : "") + CsvCell(cells[i]);
    text += "\r\n";
  }
  return text;
}

namespace {

Result<Table> TableOf(std::span<const std::byte> bytes, const std::string& name) {
  const std::string_view text(reinterpret_cast<const char*>(bytes.data()), bytes.size());
  // A ZIP begins with a local header, PK 3 4 (APPNOTE 4.3.7); so does every XLSX.
  return text.starts_with("PK\x03\x04") ? ParseXlsxTable(bytes, name) : ParseCsvTable(text, name);
}

}  // namespace

Result<std::vector<std::vector<std::string>>> ReadTableRows(const std::string& path) {
  const auto bytes = ReadFile(path, std::uint64_t{64} << 20);
  if (!bytes) return tl::unexpected(bytes.error());
  auto table = TableOf(*bytes, path);
  if (!table) return tl::unexpected(table.error());
  std::vector<std::vector<std::string>> rows;
  for (TextRow& row : table->rows) rows.push_back(std::move(row.cells));
  return rows;
}

Result<Manifest> ParseManifest(std::span<const std::byte> bytes, const std::string& name) {
  auto table = TableOf(bytes, name);
  if (!table) return tl::unexpected(table.error());
  if (table->rows.empty()) {
    return Fail(
        Code::kJsonMissingKey,
        fmt::format("{}: is empty; its first row must name the columns, one of them image", name));
  }
  const auto words = ColumnsOf(table->rows.front(), name);
  if (!words) return tl::unexpected(words.error());
  Manifest manifest;
  manifest.warnings = std::move(table->warnings);
  for (std::size_t i = 1; i < table->rows.size(); ++i) {
    auto row = RowOf(table->rows[i], *words, name);
    if (!row) return tl::unexpected(row.error());
    manifest.rows.push_back(std::move(*row));
  }
  if (auto status = CheckRepeats(manifest.rows, name); !status)
    return tl::unexpected(status.error());
  return manifest;
}

Result<Manifest> ReadManifest(const std::string& path) {
  const auto bytes = ReadFile(path, std::uint64_t{64} << 20);
  if (!bytes) return tl::unexpected(bytes.error());
  return ParseManifest(*bytes, path);
}

}  // namespace cutface
