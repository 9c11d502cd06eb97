// The first sheet of a workbook (ISO/IEC 29500: a ZIP with XML parts) as rows of text.
#include <fmt/format.h>
#include <zip.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <memory>
#include <optional>
#include <pugixml.hpp>
#include <set>

#include "batch/table.h"
#include "batch/xlsx_values.h"

namespace cutface {
namespace {

// A part that unpacks to more is an attack, not a manifest.
constexpr std::uint64_t kMostBytes = std::uint64_t{32} << 20;

struct ZipDeleter {
  void operator()(zip_t* zip) const { zip_discard(zip); }
  void operator()(zip_file_t* file) const { zip_fclose(file); }
};
using Zip = std::unique_ptr<zip_t, ZipDeleter>;

// Names of elements may carry a prefix ("x:row"); what counts is the local name.
std::string_view Local(const char* name) {
  const std::string_view whole(name);
  const std::size_t colon = whole.rfind(':');
  return colon == std::string_view::npos ? whole : whole.substr(colon + 1);
}

pugi::xml_node Child(pugi::xml_node node, std::string_view name) {
  for (const pugi::xml_node child : node.children()) {
    if (Local(child.name()) == name) return child;
  }
  return {};
}

std::string_view Attribute(pugi::xml_node node, std::string_view name) {
  for (const pugi::xml_attribute attribute : node.attributes()) {
    if (Local(attribute.name()) == name) return attribute.value();
  }
  return {};
}

// "xl/worksheets/sheet1.xml" from the folder of `from` and a target that may begin with '/'.
std::string PartAt(std::string_view from, std::string_view target) {
  std::string whole(target);
  if (!target.empty() && target.front() == '/') {
    whole.erase(0, 1);
  } else if (const std::size_t slash = from.rfind('/'); slash != std::string_view::npos) {
    whole = std::string(from.substr(0, slash + 1)) + whole;
  }
  std::vector<std::string> kept;
  for (std::size_t at = 0; at <= whole.size();) {
    const std::size_t end = std::min(whole.find('/', at), whole.size());
    const std::string piece = whole.substr(at, end - at);
    at = end + 1;
    if (piece == "..") {
      if (!kept.empty()) kept.pop_back();
    } else if (!piece.empty() && piece != ".") {
      kept.push_back(piece);
    }
  }
  std::string joined;
  for (const std::string& piece : kept) joined += (joined.empty() ? "" : "/") + piece;
  return joined;
}

class Workbook {
 public:
  Workbook(Zip zip, const std::string& name) : zip_(std::move(zip)), name_(name) {}

  Result<Table> Read() {
    if (auto status = FindParts(); !status) return tl::unexpected(status.error());
    if (!shared_part_.empty()) {
      if (auto status = ReadShared(); !status) return tl::unexpected(status.error());
    }
    if (!styles_part_.empty()) {
      pugi::xml_document styles;
      if (auto status = Load(styles_part_, styles); !status) return tl::unexpected(status.error());
      dates_ = DateStyles(styles);
    }
    return ReadSheet();
  }

 private:
  tl::unexpected<Error> Damaged(const std::string& what) const {
    return Fail(
        Code::kJsonSyntax,
        fmt::format("{}: {}; save the manifest again as XLSX, or as CSV in UTF-8", name_, what));
  }

  bool Has(const std::string& part) const {
    return zip_name_locate(zip_.get(), part.c_str(), 0) >= 0;
  }

  Status Load(const std::string& part, pugi::xml_document& out) {
    zip_stat_t info;
    zip_stat_init(&info);
    if (zip_stat(zip_.get(), part.c_str(), 0, &info) != 0 || (info.valid & ZIP_STAT_SIZE) == 0)
      return Damaged(fmt::format("lacks its part {}", ForMessage(part)));
    if (info.size > kMostBytes)
      return Damaged(
          fmt::format("its part {} unpacks to {} MB", ForMessage(part), info.size >> 20));
    std::unique_ptr<zip_file_t, ZipDeleter> file(zip_fopen(zip_.get(), part.c_str(), 0));
    std::string text(info.size, '\0');
    std::size_t done = 0;
    while (file != nullptr && done < text.size()) {
      const zip_int64_t got = zip_fread(file.get(), text.data() + done, text.size() - done);
      if (got <= 0) break;
      done += static_cast<std::size_t>(got);
    }
    // At the end the library holds the checksum against the bytes.
    char more = 0;
    if (file == nullptr || done < text.size() || zip_fread(file.get(), &more, 1) != 0)
      return Damaged(fmt::format("its part {} is damaged", ForMessage(part)));
    // White space of a cell's text counts; entities that the file defines itself are not expanded.
    constexpr unsigned kParsing = pugi::parse_default | pugi::parse_ws_pcdata;
    if (!out.load_buffer(text.data(), text.size(), kParsing, pugi::encoding_auto))
      return Damaged(fmt::format("its part {} is no XML", ForMessage(part)));
    return {};
  }

  // Target of the first relation of a kind ("officeDocument", "sharedStrings"), or of an id.
  static std::string Target(const pugi::xml_document& relations, std::string_view kind,
                            std::string_view id) {
    for (const pugi::xml_node relation : relations.document_element().children()) {
      const std::string_view type = Attribute(relation, "Type");
      const bool of_kind = type.size() > kind.size() && type.ends_with(kind) &&
                           type[type.size() - kind.size() - 1] == '/';
      if (kind.empty() ? Attribute(relation, "Id") == id : of_kind)
        return std::string(Attribute(relation, "Target"));
    }
    return "";
  }

  Status FindParts() {
    pugi::xml_document root, book, relations;
    if (auto status = Load("_rels/.rels", root); !status) return status;
    const std::string workbook = PartAt("", Target(root, "officeDocument", ""));
    if (workbook.empty()) return Damaged("holds no workbook");
    if (auto status = Load(workbook, book); !status) return status;
    const std::size_t slash = workbook.rfind('/');
    const std::string folder = slash == std::string::npos ? "" : workbook.substr(0, slash + 1);
    const std::string file = workbook.substr(folder.size());
    if (auto status = Load(folder + "_rels/" + file + ".rels", relations); !status) return status;
    const pugi::xml_node properties = Child(book.document_element(), "workbookPr");
    const std::string_view from_1904 = Attribute(properties, "date1904");
    from_1904_ = from_1904 == "1" || from_1904 == "true";
    std::string first;
    int sheets = 0;
    for (const pugi::xml_node sheet : Child(book.document_element(), "sheets").children()) {
      if (Local(sheet.name()) != "sheet") continue;
      if (++sheets == 1) {
        first = Attribute(sheet, "id");
        sheet_name_ = Attribute(sheet, "name");
      }
    }
    if (sheets == 0) return Damaged("its workbook has no sheet");
    if (sheets > 1) {
      table_.warnings.push_back(fmt::format("{}: has {} sheets; only the first one is read, \"{}\"",
                                            name_, sheets, ForMessage(sheet_name_)));
    }
    sheet_part_ = PartAt(workbook, Target(relations, "", first));
    if (sheet_part_.empty() || !Has(sheet_part_)) return Damaged("lacks its first sheet");
    for (auto& [kind, part] :
         {std::pair{"sharedStrings", &shared_part_}, std::pair{"styles", &styles_part_}}) {
      const std::string target = Target(relations, kind, "");
      if (!target.empty()) *part = PartAt(workbook, target);
      if (!Has(*part)) part->clear();
    }
    return {};
  }

  // Text of a string item: one run or several, without the guides to pronunciation.
  static std::string TextOf(pugi::xml_node item) {
    std::string text;
    for (const pugi::xml_node child : item.children()) {
      const std::string_view name = Local(child.name());
      if (name == "t") text += child.child_value();
      if (name == "r") text += Child(child, "t").child_value();
    }
    return UnescapedText(text);
  }

  Status ReadShared() {
    pugi::xml_document document;
    if (auto status = Load(shared_part_, document); !status) return status;
    for (const pugi::xml_node item : document.document_element().children()) {
      if (Local(item.name()) == "si") shared_.push_back(TextOf(item));
    }
    return {};
  }

  Result<Table> ReadSheet() {
    pugi::xml_document document;
    if (auto status = Load(sheet_part_, document); !status) return tl::unexpected(status.error());
    int line = 0;
    for (const pugi::xml_node row : Child(document.document_element(), "sheetData").children()) {
      if (Local(row.name()) != "row") continue;
      const std::string_view number = Attribute(row, "r");
      int stated = line + 1;
      if (!number.empty()) std::from_chars(number.data(), number.data() + number.size(), stated);
      line = std::max(stated, line + 1);
      TextRow out;
      out.line = line;
      if (auto status = ReadRow(row, out); !status) return tl::unexpected(status.error());
      const bool empty = std::all_of(out.cells.begin(), out.cells.end(),
                                     [](const auto& cell) { return Trimmed(cell).empty(); });
      if (empty) continue;
      if (table_.rows.size() >= kMostRows)
        return Fail(Code::kJsonValue,
                    fmt::format("{}: more than {} rows; split the manifest", name_, kMostRows));
      table_.rows.push_back(std::move(out));
    }
    return std::move(table_);
  }

  Status ReadRow(pugi::xml_node row, TextRow& out) {
    std::size_t next = 0;
    for (const pugi::xml_node cell : row.children()) {
      if (Local(cell.name()) != "c") continue;
      const std::string_view reference = Attribute(cell, "r");
      std::size_t column = next;
      if (!reference.empty()) {
        const std::optional<std::size_t> stated = ColumnOf(reference);
        if (!stated) return Damaged(fmt::format("has a cell at \"{}\"", ForMessage(reference)));
        column = *stated;
      }
      const std::string where = reference.empty() ? fmt::format("row {}", out.line)
                                                  : fmt::format("cell {}", ForMessage(reference));
      if (column >= kMostColumns || column < next) {
        // Far columns are empty more often than not: formats that were dragged along.
        if (column >= kMostColumns && Child(cell, "v").empty() && Child(cell, "is").empty())
          continue;
        return Fail(Code::kJsonValue,
                    fmt::format("{}: {}: {}; is this a manifest?", name_, where,
                                column < next ? "stands out of order" : "more than 200 columns"));
      }
      auto text = CellText(cell, where);
      if (!text) return tl::unexpected(text.error());
      if (text->size() > kLongestCell)
        return Fail(Code::kJsonValue,
                    fmt::format("{}: {}: over 4096 bytes; is this a manifest?", name_, where));
      out.cells.resize(column + 1);
      out.cells[column] = std::move(*text);
      next = column + 1;
    }
    return {};
  }

  Result<std::string> CellText(pugi::xml_node cell, const std::string& where) const {
    const std::string_view type = Attribute(cell, "t");
    const pugi::xml_node value_node = Child(cell, "v");
    const std::string value = value_node.child_value();
    const auto wrong = [&](std::string_view what) {
      return Fail(Code::kJsonValue, fmt::format("{}: {}: {}", name_, where, what));
    };
    if (type == "inlineStr") return TextOf(Child(cell, "is"));
    if (value.empty() && type != "str" && !Child(cell, "f").empty())
      return wrong("a formula without its value; open the file in a spreadsheet and save it");
    if (type == "e") return wrong("holds an error value, " + ForMessage(value) + "; put it right");
    if (type == "str") return UnescapedText(value);
    if (type == "d") return value;
    if (type == "b") return std::string(value == "1" ? "true" : "false");
    if (value.empty()) return std::string();
    if (type == "s") {
      std::size_t index = 0;
      const auto end = std::from_chars(value.data(), value.data() + value.size(), index);
      if (end.ec != std::errc() || index >= shared_.size())
        return wrong("names a text that the file does not hold");
      return shared_[index];
    }
    double number = 0;
    const auto end = std::from_chars(value.data(), value.data() + value.size(), number);
    if (end.ec != std::errc() || end.ptr != value.data() + value.size() || !std::isfinite(number))
      return wrong("holds no number: " + ForMessage(value));
    std::size_t style = 0;
    const std::string_view style_text = Attribute(cell, "s");
    std::from_chars(style_text.data(), style_text.data() + style_text.size(), style);
    if (dates_.contains(style)) {
      const std::string time = TimeOfSerial(number, from_1904_);
      if (time.empty()) return wrong("holds no date: " + ForMessage(value));
      return time;
    }
    return PlainNumber(number);
  }

  Zip zip_;
  const std::string& name_;
  std::string sheet_part_, sheet_name_, shared_part_, styles_part_;
  std::vector<std::string> shared_;
  std::set<std::size_t> dates_;
  bool from_1904_ = false;
  Table table_;
};

}  // namespace

Result<Table> ParseXlsxTable(std::span<const std::byte> bytes, const std::string& name) {
  zip_error_t error;
  zip_error_init(&error);
  zip_source_t* source = zip_source_buffer_create(bytes.data(), bytes.size(), 0, &error);
  zip_t* opened = source == nullptr ? nullptr : zip_open_from_source(source, ZIP_RDONLY, &error);
  if (opened == nullptr) {
    if (source != nullptr) zip_source_free(source);
    const std::string why = zip_error_strerror(&error);
    zip_error_fini(&error);
    return Fail(Code::kJsonSyntax,
                fmt::format("{}: cannot be opened as XLSX ({}); save the manifest again, or as "
                            "CSV in UTF-8",
                            name, why));
  }
  zip_error_fini(&error);
  auto table = Workbook(Zip(opened), name).Read();
  if (!table) return table;
  for (const TextRow& row : table->rows) {
    for (const std::string& cell : row.cells) {
      if (!IsUtf8(cell) || cell.find('\0') != std::string::npos)
        return Fail(Code::kJsonValue,
                    fmt::format("{}: row {}: a cell that is no text", name, row.line));
    }
  }
  return table;
}

}  // namespace cutface
