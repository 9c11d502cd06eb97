#include "cli/report.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <ostream>

#include "cli/exits.h"
#include "cli/report_input.h"
#include "cutface/job.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

constexpr const char* kIndex = "report.files.json";  // what this program wrote, with hashes

std::string SizeText(std::size_t bytes) {
  return bytes >= 1000000 ? fmt::format("{:.1f} MB", static_cast<double>(bytes) / 1e6)
                          : fmt::format("{:.0f} kB", static_cast<double>(bytes) / 1e3);
}

// Hashes by name of the reports written into this folder before; empty when there are none.
std::map<std::string, std::string> Written(const std::string& folder) {
  std::map<std::string, std::string> files;
  auto text = ReadTextFile((fs::path(folder) / kIndex).string());
  if (!text) return files;
  const nlohmann::json json = nlohmann::json::parse(*text, nullptr, /*allow_exceptions=*/false);
  if (!json.is_object() || json.value("format", nlohmann::json()) != "cutface/report-files")
    return files;
  const auto list = json.find("files");
  if (list == json.end() || !list->is_object()) return files;
  for (const auto& [name, sha] : list->items()) {
    if (sha.is_string()) files[name] = sha.get<std::string>();
  }
  return files;
}

// A file that somebody changed or made is not overwritten.
Status CheckReplacing(const std::string& folder, const std::vector<std::string>& names) {
  const auto written = Written(folder);
  for (const std::string& name : names) {
    const std::string path = (fs::path(folder) / name).string();
    std::error_code error;
    if (!fs::exists(path, error)) continue;
    auto bytes = ReadFile(path);
    const auto known = written.find(name);
    if (bytes && known != written.end() && known->second == Sha256Hex(*bytes)) continue;
    return Fail(Code::kUsage,
                fmt::format("{}: is there already and is not as this program wrote it; move it or "
                            "name another folder with --out",
                            path));
  }
  return {};
}

std::vector<std::string> Names(const ReportFormats& f) {
  std::vector<std::string> names;
  if (f.xlsx) names.emplace_back("report.xlsx");
  if (f.csv) names.emplace_back("report.csv");
  if (f.qif) names.emplace_back("report.qif");
  if (f.pdf) names.emplace_back("report.pdf");
  if (f.html) names.emplace_back("report.html");
  return names;
}

Status WriteAll(const std::string& folder, const std::vector<ReportFile>& files) {
  auto index = Written(folder);
  std::vector<std::string> fresh;  // taken away again when a later one cannot be written
  for (const ReportFile& file : files) {
    const std::string path = (fs::path(folder) / file.name).string();
    std::error_code ignored;
    const bool is_new = !fs::exists(path, ignored);
    if (auto status = WriteWhole(path, file.bytes); !status) {
      for (const std::string& left : fresh) fs::remove(left, ignored);
      return status;
    }
    if (is_new) fresh.push_back(path);
    index[file.name] = Sha256Hex(file.bytes);
  }
  nlohmann::ordered_json json;
  json["format"] = "cutface/report-files";
  json["version"] = 1;
  json["files"] = index;
  return WriteWhole((fs::path(folder) / kIndex).string(), json.dump(1) + "\n");
}

std::string Table(const Sheet& sheet) {
  std::string text = fmt::format("{} revision {}: {}\n{}\n\n", sheet.part, sheet.revision,
                                 VerdictName(sheet.verdict), sheet.counts_line);
  std::vector<std::vector<std::string>> rows = {
      {"no.", "plane", "characteristic", "requirement", "n", "verdict"}};
  for (const SheetRow& row : sheet.rows) {
    rows.push_back({row.no, row.plane, row.subject, row.requirement,
                    row.n ? std::to_string(*row.n) : "unknown",
                    std::string(VerdictName(row.verdict))});
  }
  text += Columns(rows) + "\n";
  text += sheet.Standing() + "\n";
  rows.clear();
  for (const SheetLine& line : sheet.open) rows.push_back({"  open", line.label, line.text});
  for (const SheetLine& line : sheet.settled) rows.push_back({"  settled", line.label, line.text});
  text += Columns(rows);
  for (const SheetLine& line : sheet.signatures)
    text += fmt::format("  signed as {}: {}\n", line.label, line.text);
  if (!sheet.records.empty()) text += "records " + sheet.records + "\n";
  return text;
}

int ExitOfSheet(const Sheet& sheet) {
  const bool fine = sheet.verdict == Verdict::kConforms || sheet.verdict == Verdict::kNotJudged ||
                    sheet.verdict == Verdict::kElsewhere;
  return fine && sheet.ready() ? kExitFine : kExitNotAllConform;
}

// Mapped, not read: the program may be large, and hashing is quick.
std::string OwnHash() {
  const int file = open("/proc/self/exe", O_RDONLY | O_CLOEXEC);
  if (file < 0) return "";
  std::string hash;
  struct stat info = {};
  if (fstat(file, &info) == 0 && info.st_size > 0) {
    const auto size = static_cast<std::size_t>(info.st_size);
    void* bytes = mmap(nullptr, size, PROT_READ, MAP_PRIVATE, file, 0);
    if (bytes != MAP_FAILED) {
      hash = Sha256Hex(std::span(static_cast<const std::byte*>(bytes), size));
      munmap(bytes, size);
    }
  }
  close(file);
  return hash;
}

}  // namespace

void AddReportOptions(CLI::App& app, Call& call) {
  app.add_option("what", call.images,
                 "The folder that cutface batch wrote (with run.json), or result files of one part")
      ->required()
      ->type_name("RUN|RESULT");
  app.add_option("--design", call.design, "The drawing; default: the one that the run names")
      ->type_name("D");
  app.add_option("--calibration", call.calibration,
                 "Calibration record or a folder of them; default: what the run names")
      ->type_name("C");
  CLI::Option* typed = app.add_option("--dispositions", call.report.dispositions,
                                      "What people decided and signed (cutface/dispositions)")
                           ->type_name("FILE");
  app.add_option("--records", call.report.records,
                 "Store (see cutface records) that holds these results: its dispositions and "
                 "signatures are shown and what it wants decided is open; it is verified first")
      ->excludes(typed)
      ->type_name("STORE");
  app.add_option("--draft-dispositions", call.report.draft,
                 "Write a list of all that is open to this new file, to be filled in")
      ->type_name("FILE");
  app.add_option("--images", call.report.images,
                 "Folder of the pictures, where they are not where the run or the results say")
      ->type_name("DIR");
  app.add_option("--part", call.report.part, "Only this part of a run")->type_name("P");
  app.add_option("--lot", call.report.lot, "Only this lot of a run")->type_name("L");
  app.add_option("--out", call.out,
                 "Folder for the report, made when missing (default: the run's folder, or the "
                 "current one)")
      ->type_name("DIR");
  app.add_flag("--pdf", call.report.formats.pdf, "report.pdf");
  app.add_flag("--xlsx", call.report.formats.xlsx, "report.xlsx");
  app.add_flag("--html", call.report.formats.html, "report.html: one file, works without network");
  app.add_flag("--csv", call.report.formats.csv, "report.csv: one line a value");
  app.add_flag("--qif", call.report.formats.qif, "report.qif: ISO 23952 results");
  app.add_flag("--json", call.json, "Print the rows, counts and what is open as JSON");
  app.footer(
      "Without a format all but QIF are written; with some, these only. Files that are there "
      "already\nare overwritten only as this program left them (report.files.json has their "
      "hashes).\nA row that does not conform, is not proven or not measured needs a disposition "
      "before the report\nis ready to sign: accept, recut, rework, scrap, or a concession with its "
      "reference; what does not\nconform is not simply accepted. Of results that a store keeps, "
      "--records takes dispositions and\nsignatures from there, sealed.\n\n"
      "Exit status: 0 all conform and nothing is open; 1 else; 2 the call or a file it names is "
      "wrong;\n3 a file could not be made.");
}

int RunReport(const Call& call, const Terminal& terminal) {
  const auto failed = [&](const Error& error) {
    PrintError(terminal, error);
    return ExitOf(error.code);
  };
  std::vector<std::string> warnings;
  auto input = GatherReport(call, warnings);
  if (!input) return failed(input.error());
  input->software = CUTFACE_VERSION;
  input->program_sha256 = OwnHash();
  input->made = NowUtc();
  if (!call.report.records.empty()) {
    const Status taken = [&] {
      ProgressLine line(terminal, call.report.records, 1, 1);
      const auto show = [&](double share, std::string_view what) {
        line.Show(2 * share, what);  // entries are the first half of verifying, files the other
        return true;
      };
      return TakeFromRecords(call.report.records, show, *input);
    }();
    if (!taken) return failed(taken.error());
  }
  auto sheet = BuildSheet(*input);
  if (!sheet) return failed(sheet.error());

  ReportFormats formats = call.report.formats;
  if (!formats.any()) formats = ReportFormats{};
  const bool run = !input->run_sha256.empty();
  const std::string out = !call.out.empty() && call.out != "." ? call.out
                          : run                                ? call.images.front()
                                                               : ".";
  if (auto status = MakeFolder(out); !status) return failed(status.error());
  if (auto status = CheckReplacing(out, Names(formats)); !status) return failed(status.error());
  std::error_code ignored;
  if (!call.report.draft.empty() && fs::exists(call.report.draft, ignored)) {
    return failed({Code::kUsage, call.report.draft +
                                     ": is there already; decisions are never overwritten, name a "
                                     "new file with --draft-dispositions"});
  }
  for (const std::string& warning : warnings) PrintWarning(terminal, warning);
  Result<std::vector<ReportFile>> files = [&] {
    ProgressLine progress(terminal, "report", 1, 1);
    return RenderReport(*input, *sheet, formats, out, [&](double share, std::string_view what) {
      progress.Show(share, what);
      return true;
    });
  }();
  if (!files) return failed(files.error());
  if (auto status = WriteAll(out, *files); !status) return failed(status.error());
  if (!call.report.draft.empty()) {
    if (auto status = WriteWhole(call.report.draft, DraftDispositions(*sheet)); !status)
      return failed(status.error());
  }
  if (call.json) {
    terminal.out << SheetToJson(*sheet) << std::flush;
    return ExitOfSheet(*sheet);
  }
  terminal.out << Table(*sheet) << "\nwritten:";
  for (const ReportFile& file : *files) {
    terminal.out << " " << Escaped((fs::path(out) / file.name).string()) << " ("
                 << SizeText(file.bytes.size()) << ")";
  }
  terminal.out << "\n" << std::flush;
  return ExitOfSheet(*sheet);
}

}  // namespace cutface
