// All files of a report; each picture is read once for all of them.
#include <fmt/format.h>

#include <condition_variable>
#include <deque>
#include <mutex>
#include <nlohmann/json.hpp>
#include <thread>

#include "report/internal.h"
#include "report/pdf.h"

namespace cutface {
namespace {

std::vector<std::byte> Bytes(const std::string& text) {
  const auto* data = reinterpret_cast<const std::byte*>(text.data());
  return {data, data + text.size()};
}

// Pictures one after another, read ahead by a thread of its own, which also makes the HTML's part
// of each: pages are drawn meanwhile. At most kAhead pictures wait.
class Pictures {
 public:
  Pictures(const ReportInput& input, const Sheet& sheet, bool html, const Progress& progress)
      : input_(input), sheet_(sheet), html_(html), progress_(progress), worker_([this] {
          Work();
        }) {}
  ~Pictures() {
    {
      const std::lock_guard lock(mutex_);
      stop_ = true;
    }
    changed_.notify_all();
    worker_.join();
  }
  Pictures(const Pictures&) = delete;
  Pictures& operator=(const Pictures&) = delete;

  // The next one; faces are asked for in order.
  Result<const FacePicture*> Load(std::size_t at) {
    if (progress_ &&
        !progress_(static_cast<double>(at) / static_cast<double>(sheet_.faces.size()), "drawing"))
      return Fail(Code::kCancelled, "report: cancelled; nothing was written");
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return !ready_.empty(); });
    Result<Made> made = std::move(ready_.front());
    ready_.pop_front();
    lock.unlock();
    changed_.notify_all();
    if (!made) return tl::unexpected(made.error());
    current_ = std::move(made->picture);
    if (html_) faces.push_back(std::move(made->html));
    return &current_;
  }

  std::vector<HtmlFace> faces;

 private:
  static constexpr std::size_t kAhead = 2;
  struct Made {
    FacePicture picture;
    HtmlFace html;
  };

  Result<Made> Make(std::size_t at) const {
    const ReportFace& face = input_.faces[sheet_.faces[at].input];
    try {
      Made made{LoadFacePicture(input_, face), {}};
      auto ready = MakeShared(made.picture.micrograph, face.result, kFaceEdgePx, kFaceQuality);
      if (!ready) return tl::unexpected(ready.error());
      made.picture.ready = std::move(*ready);
      if (html_) {
        auto html = MakeHtmlFace(made.picture, face.result);
        if (!html) return tl::unexpected(html.error());
        made.html = std::move(*html);
      }
      return made;
    } catch (const std::exception& e) {
      return Fail(Code::kInternal, fmt::format("{}: the picture could not be drawn: {}",
                                               face.result_file, e.what()));
    }
  }

  void Work() {
    for (std::size_t at = 0; at < sheet_.faces.size(); ++at) {
      Result<Made> made = Make(at);
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return stop_ || ready_.size() < kAhead; });
      if (stop_) return;
      const bool failed = !made;
      ready_.push_back(std::move(made));
      lock.unlock();
      changed_.notify_all();
      if (failed) return;
    }
  }

  const ReportInput& input_;
  const Sheet& sheet_;
  bool html_;
  const Progress& progress_;
  FacePicture current_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Result<Made>> ready_;
  bool stop_ = false;
  std::thread worker_;  // last: it uses all of the above
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
  if (!formats.pdf && !formats.html) return files;
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

std::string DraftDispositions(const Sheet& sheet) {
  nlohmann::ordered_json json;
  json["format"] = "cutface/dispositions";
  json["version"] = 1;
  json["dispositions"] = nlohmann::ordered_json::array();
  for (const SheetLine& line : sheet.open) {
    if (line.result_sha256.empty()) continue;
    nlohmann::ordered_json one;
    if (line.finding) {
      one["finding"] = *line.finding;
    } else {
      one["row"] = line.drawing_no;
    }
    one["about"] = PlainText(line.label + ": " + line.text, 300);
    one["result_sha256"] = line.result_sha256;
    for (const char* key : {"what", "reason", "by", "when"}) one[key] = "";
    json["dispositions"].push_back(std::move(one));
  }
  return json.dump(1, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
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
  json["standing"] = sheet.Standing();
  json["counts"] = sheet.counts_line;
  json["n"] = sheet.counts.n ? Json(*sheet.counts.n) : Json(nullptr);
  json["open"] = Json::array();
  for (const SheetLine& line : sheet.open)
    json["open"].push_back({{"where", line.label}, {"what", line.text}});
  json["settled"] = Json::array();
  for (const SheetLine& line : sheet.settled)
    json["settled"].push_back({{"where", line.label}, {"what", line.text}});
  json["signatures"] = Json::array();
  for (const SheetLine& line : sheet.signatures)
    json["signatures"].push_back({{"meaning", line.label}, {"who", line.text}});
  json["records"] = sheet.records.empty() ? Json(nullptr) : Json(sheet.records);
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
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace cutface
