#include "cli/study.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <ostream>

#include "cli/exits.h"
#include "cli/own_files.h"
#include "cli/report_input.h"
#include "cutface/batch.h"
#include "cutface/report.h"
#include "cutface/study.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

constexpr const char *kStudyFile = "study.json";
constexpr const char *kStudyPage = "study.html";
constexpr const char *kStudyPages = "study.pdf";
constexpr const char *kPreparation = "preparation_u.json";

// A file of another kind was named: what to name instead.
Error WithWhatToName(Error error) {
  if (error.code == Code::kJsonSyntax || error.code == Code::kJsonMissingKey)
    error.message +=
        "; name results of cutface measure (NAME.result.json), the folder of a run of "
        "cutface batch, or plain values with --table FILE";
  return error;
}

Result<StudyInput> GatherStudy(const Call &call, StudyLevel level,
                               std::vector<std::string> &warnings) {
  if (!call.study.table.empty()) {
    if (!call.images.empty())
      return Fail(Code::kUsage, "--table: name a table or results, not both");
    auto rows = ReadTableRows(call.study.table);
    if (!rows) return tl::unexpected(rows.error());
    return StudyOfTable(*rows, level, call.study.table);
  }
  if (call.images.empty())
    return Fail(Code::kUsage, "name the folder of a run, result files, or a --table");
  // What a report would lack (drawing, records) is not needed here.
  std::vector<std::string> of_reports;
  auto gathered = GatherReport(call, of_reports);
  if (!gathered) return tl::unexpected(WithWhatToName(gathered.error()));
  std::vector<StudyFace> faces;
  std::size_t next = 0;
  for (const FaceEntry &entry : gathered->roster.faces) {
    if (entry.state != FaceState::kMeasured) {
      warnings.push_back(fmt::format("{}: not in the study: {}", entry.image,
                                     entry.reason.empty() ? "not measured" : entry.reason));
      continue;
    }
    StudyFace face;
    face.result = std::move(gathered->faces[next++].result);
    face.entry = entry;
    if (!call.section.empty() && face.result.section_name != call.section) continue;
    faces.push_back(std::move(face));
  }
  return StudyOfResults(faces, level);
}

int ExitOfStudy(const Study &study) {
  for (const SubjectStudy &subject : study.subjects)
    if (subject.grade == "not good enough" || subject.grade == "not told")
      return kExitNotAllConform;
  return kExitFine;
}

Status WriteStudy(const Call &call, const Study &study, std::vector<std::string> &written) {
  const ComparisonHead head{CUTFACE_VERSION, NowUtc()};
  const auto html = RenderStudyHtml(study, head);
  if (!html) return tl::unexpected(html.error());
  const auto pdf = RenderStudyPdf(study, head);
  if (!pdf) return tl::unexpected(pdf.error());
  std::vector<OwnFile> files = {
      {kStudyFile, StudyToJson(study)},
      {kStudyPage, *html},
      {kStudyPages, std::string(reinterpret_cast<const char *>(pdf->data()), pdf->size())}};
  if (const auto preparation = PreparationJson(study))
    files.push_back({kPreparation, *preparation});
  return WriteOwnFiles(call.out, "study.files.json", files, written);
}

}  // namespace

void AddStudyOptions(CLI::App &app, Call &call) {
  app.add_option("inputs", call.images,
                 "Folder of a run (with run.json: operator and trial come from "
                 "its manifest), or "
                 "result files (the inspector counts as operator)")
      ->type_name("RUN|RESULT");
  app.add_option("--table", call.study.table,
                 "Plain values in place of results, CSV or XLSX: columns piece "
                 "(or part), value, "
                 "operator, trial, and as known cut, characteristic, unit, "
                 "min, max, reference, "
                 "taken, verdict, reference verdict")
      ->type_name("FILE");
  app.add_option("--level", call.study.level,
                 "What was done again: same-image (corrections by hand only), "
                 "same-block (mounted, "
                 "focused and lit again), recut (ground or cut again)")
      ->required()
      ->check(CLI::IsMember({"same-image", "same-block", "recut"}))
      ->type_name("LEVEL");
  app.add_option("--section", call.section, "Only faces of this section of the drawing")
      ->type_name("NAME");
  app.add_option("--name", call.study.name,
                 "Name of the study, as preparation_u cites it (default: the "
                 "folder's of --out)")
      ->type_name("NAME");
  app.add_option("--pool", call.study.pool_above,
                 "Persons x pieces is pooled into the repeats above this p "
                 "(default 0.25)")
      ->check(CLI::Range(0.0, 1.0))
      ->type_name("P");
  app.add_option("--good", call.study.good_percent,
                 "Percentage of the limits up to which a gauge is good "
                 "(default 10, common practice)")
      ->check(CLI::Range(0.0, 1000.0))
      ->type_name("%");
  app.add_option("--usable", call.study.limit_percent,
                 "... up to which it is usable with care (default 30, common practice)")
      ->check(CLI::Range(0.0, 1000.0))
      ->type_name("%");
  app.add_option("--out", call.out,
                 "Folder for study.json, study.html, study.pdf and preparation_u.json")
      ->type_name("DIR");
  app.add_flag("--json", call.json, "Print JSON in place of tables");
  app.footer(
      "Exit status: 0 every row good or usable with care; 1 a row is "
      "not good enough, or nothing "
      "is told;\n2 the call or a file it names is wrong.");
}

int RunStudyCommand(const Call &call, const Terminal &terminal) {
  const auto level = ParseStudyLevel(call.study.level);
  CF_CHECK(level);
  if (call.study.good_percent > call.study.limit_percent) {
    PrintError(terminal, Error{Code::kUsage, "--good must not be above --usable"});
    return kExitWrongCall;
  }
  std::vector<std::string> warnings;
  auto input = GatherStudy(call, *level, warnings);
  if (!input) {
    PrintError(terminal, input.error());
    return kExitWrongCall;
  }
  input->warnings.insert(input->warnings.begin(), warnings.begin(), warnings.end());
  std::error_code ignored;
  const fs::path folder = fs::absolute(call.out, ignored).lexically_normal();
  input->name = !call.study.name.empty() ? call.study.name
                : folder.has_filename()  ? folder.filename().string()
                                         : folder.parent_path().filename().string();
  StudyOptions options;
  options.pool_above = call.study.pool_above;
  options.good_percent = call.study.good_percent;
  options.limit_percent = call.study.limit_percent;
  const auto study = RunStudy(*input, options);
  if (!study) {
    PrintError(terminal, study.error());
    return kExitWrongCall;
  }
  std::vector<std::string> written;
  if (auto status = WriteStudy(call, *study, written); !status) {
    PrintError(terminal, status.error());
    return kExitWrongCall;
  }
  if (call.json) {
    terminal.out << StudyToJson(*study) << std::flush;
  } else {
    terminal.out << StudyText(*study) << "\nwritten:";
    for (const std::string &path : written) terminal.out << " " << Escaped(path);
    terminal.out << "\n" << std::flush;
  }
  return ExitOfStudy(*study);
}

}  // namespace cutface
