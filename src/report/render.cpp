// All files of a report; each picture is read once for all of them.
#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "report/internal.h"
#include "report/pdf.h"

namespace cutface {
namespace {

std::vector<std::byte> Bytes(const std::string& text) {
  const auto* data = reinterpret_cast<const std::byte*>(text.data());
  return {data, data + text.size()};
}

// Hands out pictures one after another; keeps one, and makes the HTML's part of it meanwhile.
class Pictures {
 public:
  Pictures(const ReportInput& input, const Sheet& sheet, bool html, const Progress& progress)
      : input_(input), sheet_(sheet), html_(html), progress_(progress) {}

  Result<const FacePicture*> Load(std::size_t at) {
    if (progress_ &&
        !progress_(static_cast<double>(at) / static_cast<double>(sheet_.faces.size()), "drawing"))
      return Fail(Code::kCancelled, "report: cancelled; nothing was written");
    const ReportFace& face = input_.faces[sheet_.faces[at].input];
    picture_ = LoadFacePicture(input_, face);
    if (html_) {
      auto made = MakeHtmlFace(picture_, face.result);
      if (!made) return tl::unexpected(made.error());
      faces.push_back(std::move(*made));
    }
    return &picture_;
  }

  std::vector<HtmlFace> faces;

 private:
  const ReportInput& input_;
  const Sheet& sheet_;
  bool html_;
  const Progress& progress_;
  FacePicture picture_;
};

}  // namespace

Result<std::vector<ReportFile>> RenderReport(const ReportInput& input, const Sheet& sheet,
                                             const ReportFormats& formats,
                                             const std::string& scratch, const Progress& progress) {
  std::vector<ReportFile> files;
  // Quick ones first: what cannot be written shows before the pictures are drawn.
  if (formats.xlsx) {
    auto xlsx = RenderXlsx(input, sheet, scratch);
    if (!xlsx) return tl::unexpected(xlsx.error());
    files.push_back({"report.xlsx", std::move(*xlsx)});
  }
  if (formats.csv) files.push_back({"report.csv", Bytes(RenderCsv(sheet))});
  if (formats.qif) {
    auto qif = RenderQif(sheet);
    if (!qif) return tl::unexpected(qif.error());
    files.push_back({"report.qif", Bytes(*qif)});
  }
  Pictures pictures(input, sheet, formats.html, progress);
  if (formats.pdf) {
    auto pdf = RenderPdf(input, sheet, [&](std::size_t at) { return pictures.Load(at); });
    if (!pdf) return tl::unexpected(pdf.error());
    files.push_back({"report.pdf", std::move(*pdf)});
  } else if (formats.html) {
    for (std::size_t i = 0; i < sheet.faces.size(); ++i) {
      if (auto loaded = pictures.Load(i); !loaded) return tl::unexpected(loaded.error());
    }
  }
  if (formats.html) files.push_back({"report.html", Bytes(RenderHtml(sheet, pictures.faces))});
  return files;
}

std::string SheetToJson(const Sheet& sheet) {
  using Json = nlohmann::ordered_json;
  const auto number = [](const std::optional<double>& v) { return v ? Json(*v) : Json(nullptr); };
  Json json;
  json["format"] = "cutface/report";
  json["version"] = 1;
  json["part"] = sheet.part;
  json["revision"] = sheet.revision;
  json["verdict"] = VerdictName(sheet.verdict);
  json["ready_to_sign"] = sheet.ready();
  json["counts"] = sheet.counts_line;
  json["n"] = sheet.counts.n ? Json(*sheet.counts.n) : Json(nullptr);
  json["open"] = Json::array();
  for (const SheetLine& line : sheet.open)
    json["open"].push_back({{"where", line.label}, {"what", line.text}});
  json["notes"] = sheet.notes;
  json["rows"] = Json::array();
  for (const SheetRow& row : sheet.rows) {
    Json one;
    one["no"] = row.no;
    one["drawing_no"] = PlainText(row.drawing_no);
    one["plane"] = row.plane;
    one["characteristic"] = row.subject;
    one["unit"] = row.unit;
    one["min"] = number(row.min), one["max"] = number(row.max);
    one["n"] = row.n ? Json(*row.n) : Json(nullptr);
    one["least"] = number(row.least), one["mean"] = number(row.mean);
    one["greatest"] = number(row.greatest);
    one["verdict"] = VerdictName(row.verdict);
    json["rows"].push_back(std::move(one));
  }
  return json.dump(1) + "\n";
}

}  // namespace cutface
