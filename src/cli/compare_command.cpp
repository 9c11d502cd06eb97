#include "cli/compare_command.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <filesystem>
#include <future>
#include <ostream>

#include "cli/compare_input.h"
#include "cli/exits.h"
#include "cli/text.h"
#include "cutface/compare.h"
#include "cutface/job.h"
#include "cutface/report.h"

namespace cutface {
namespace {

// "critical=95/99": confidence and coverage in percent.
Status TakeBound(const std::string& text, std::map<std::string, BoundWish>& bounds) {
  const std::size_t equals = text.find('='), slash = text.find('/');
  const auto wrong = [&] {
    return Fail(Code::kUsage, fmt::format("--bound {}: must read CLASS=CONFIDENCE/COVERAGE in "
                                          "percent with critical, major or minor, as "
                                          "critical=95/99",
                                          text));
  };
  if (equals == std::string::npos || slash == std::string::npos || slash < equals) return wrong();
  const auto found = bounds.find(text.substr(0, equals));
  if (found == bounds.end()) return wrong();
  const auto number = [](const std::string& word, double& out) {
    try {
      std::size_t used = 0;
      out = std::stod(word, &used) / 100;
      return used == word.size() && out >= 0.5 && out < 1;
    } catch (const std::exception&) {
      return false;
    }
  };
  BoundWish wish;
  if (!number(text.substr(equals + 1, slash - equals - 1), wish.confidence) ||
      !number(text.substr(slash + 1), wish.coverage))
    return wrong();
  found->second = wish;
  return {};
}

// "5um", "20%", or for one row "8=5um".
Status TakeMargin(const std::string& text, MarginWish& margin) {
  const std::size_t equals = text.find('=');
  const std::string word = equals == std::string::npos ? text : text.substr(equals + 1);
  MarginWish::Size size;
  bool good = false;
  if (word.ends_with("%")) {
    try {
      std::size_t used = 0;
      size.share = std::stod(word, &used) / 100;
      good = used + 1 == word.size() && *size.share > 0 && *size.share <= 10;
    } catch (const std::exception&) {
      good = false;
    }
  } else if (const auto um = ParseLength(word)) {
    size.um = *um;
    good = size.um > 0;
  }
  if (!good || equals == 0) {
    return Fail(Code::kUsage,
                fmt::format("--margin {}: must read LENGTH or PERCENT of the tolerance, or "
                            "NO=LENGTH for one row, as 5um, 20% or 8=5um",
                            text));
  }
  if (equals == std::string::npos) {
    margin.all = size;
  } else {
    margin.of_row[text.substr(0, equals)] = size;
  }
  return {};
}

// Only what this program wrote is overwritten: a file of the name that does not say so is kept.
Status CheckComparisonFiles(const std::string& folder) {
  const auto ours = [&](const char* name, std::string_view mark) -> Status {
    const std::string path = (std::filesystem::path(folder) / name).string();
    std::error_code ignored;
    if (!std::filesystem::exists(path, ignored)) return {};
    const auto text = ReadTextFile(path, std::uint64_t{1} << 30);
    if (text && text->find(mark) != std::string::npos) return {};
    return Fail(Code::kUsage, fmt::format("{}: is there already and was not written by this "
                                          "program; move it or name another folder with --out",
                                          path));
  };
  if (auto status = ours("comparison.json", "\"cutface/comparison\""); !status) return status;
  if (auto status = ours("comparison.html", "content=\"cutface "); !status) return status;
  return ours("comparison.pdf", "cutface");
}

std::string Figures(const RowStudy& study) {
  const Capability* c = study.capability ? &*study.capability : nullptr;
  if (c == nullptr) return "";
  if (c->cpk) return fmt::format("Cpk {:.2f}, Ppk {:.2f}", c->cpk->value, c->ppk->value);
  if (c->ppk) return fmt::format("Ppk {:.2f}", c->ppk->value);
  if (c->percentile)
    return fmt::format("Ppk {:.2f}{}", c->percentile->value,
                       c->percentile->extrapolated ? " (extrapolated)" : "");
  return "";
}

std::string ComparisonTable(const RunComparison& comparison) {
  std::string text = fmt::format("{} revision {}\n{}\n\n", Escaped(comparison.part),
                                 Escaped(comparison.revision), Escaped(comparison.counts_line));
  std::vector<std::vector<std::string>> rows = {
      {"no.", "plane", "characteristic", "n", "missing", "answer", "capability"}};
  for (const RowStudy& study : comparison.rows) {
    rows.push_back({Escaped(study.row.no), Escaped(study.row.plane), Escaped(study.row.subject),
                    study.n ? std::to_string(*study.n) : "unknown",
                    study.missing.empty() ? "" : std::to_string(study.missing.size()),
                    std::string(RowAnswerName(study.answer)), Figures(study)});
  }
  text += Columns(rows) + "\n";
  for (const RowStudy& study : comparison.rows) {
    text += fmt::format("{} {}, {}: {}\n", Escaped(study.row.no), Escaped(study.row.plane),
                        Escaped(study.row.subject), Escaped(study.sentence));
    for (const std::string& doubt : study.doubts) text += "    " + Escaped(doubt) + "\n";
    for (const std::string& advice : study.advice) text += "    advice: " + Escaped(advice) + "\n";
  }
  for (const FactorEffect& effect : comparison.effects)
    text += fmt::format("factor, {}: {}\n", Escaped(effect.row.subject), Escaped(effect.sentence));
  if (comparison.against) {
    text += "\nAgainst the other run (" + Escaped(comparison.against->reference_counts) + "):\n";
    for (const RowDifference& d : comparison.against->rows) {
      text += fmt::format("{} {}, {}: {}\n", Escaped(d.row.no), Escaped(d.row.plane),
                          Escaped(d.row.subject), Escaped(d.sentence));
      for (const std::string& doubt : d.doubts) text += "    " + Escaped(doubt) + "\n";
    }
    for (const std::string& line : comparison.against->unmatched)
      text += "    " + Escaped(line) + "\n";
  }
  for (const MeanFace& face : comparison.mean_faces) {
    text += fmt::format("mean face, {}: {}\n", Escaped(face.plane), Escaped(face.sentence));
    for (const FeatureDirections& d : face.directions) text += "    " + Escaped(d.sentence) + "\n";
  }
  for (const StationTrend& trend : comparison.trends)
    text +=
        fmt::format("along the part, {}: {}\n", Escaped(trend.subject), Escaped(trend.sentence));
  text += "\nWhat this can show:\n";
  for (const std::string& line : comparison.can_show) text += "  " + Escaped(line) + "\n";
  text += "What it cannot show:\n";
  for (const std::string& line : comparison.cannot_show) text += "  " + Escaped(line) + "\n";
  for (const std::string& note : comparison.notes) text += "note: " + Escaped(note) + "\n";
  return text;
}

int ExitOfComparison(const RunComparison& comparison) {
  for (const RowStudy& study : comparison.rows) {
    if (study.answer == RowAnswer::kBroken || study.answer == RowAnswer::kNotShown)
      return kExitNotAllConform;
  }
  return kExitFine;
}

}  // namespace

void AddCompareOptions(CLI::App& app, Call& call) {
  app.add_option("what", call.images,
                 "The folder that cutface batch wrote (with run.json), or result files and folders "
                 "of them, of one part")
      ->required()
      ->type_name("RUN|RESULT");
  app.add_option("--part", call.compare.part, "Only this part of a run")->type_name("P");
  app.add_option("--design", call.design,
                 "The drawing, for the mean face; default: the one that the run names")
      ->type_name("D");
  app.add_option("--bound", call.compare.bounds,
                 "Tolerance bound of a class, confidence/coverage in percent (default: "
                 "critical=95/99, major=95/95, minor=95/95); may be repeated")
      ->type_name("CLASS=C/P");
  app.add_option("--subgroup", call.compare.options.subgroup,
                 "What makes parts one rational subgroup: lot, block, day, operator or a factor of "
                 "the run. Without it there is no Cp and Cpk")
      ->type_name("WORD");
  app.add_option("--against", call.compare.against,
                 "Another run of the part: differences, equivalence, spreads, directions")
      ->type_name("RUN");
  app.add_option("--margin", call.compare.margins,
                 "How far runs may differ and be called equivalent: 5um, 20% of the tolerance, or "
                 "for one row 8=5um; may be repeated")
      ->type_name("SIZE");
  app.add_option("--factor", call.compare.options.factors,
                 "A factor of the run (column factor:NAME of the manifest) whose effect is told; "
                 "may be repeated")
      ->type_name("NAME");
  app.add_option(
         "--out", call.out,
         "Folder for comparison.html, .pdf and .json, made when missing (default: the current "
         "one)")
      ->type_name("DIR");
  app.add_flag("--json", call.json, "Print the comparison as JSON in place of tables");
  app.footer(
      "n counts parts: planes, re-images and recuts are nested in their part. A row with one limit "
      "gets a\ntolerance bound and no Cp; a row with a missing value is never called shown.\n\n"
      "Exit status: 0 every row with limits is shown; 1 a row is broken or not shown; 2 the call "
      "or a file it\nnames is wrong.");
}

Status TakeCompareWords(Call& call) {
  for (const std::string& text : call.compare.bounds) {
    if (auto status = TakeBound(text, call.compare.options.bounds); !status) return status;
  }
  for (const std::string& text : call.compare.margins) {
    if (auto status = TakeMargin(text, call.compare.options.margin); !status) return status;
  }
  if (!call.compare.margins.empty() && call.compare.against.empty())
    return Fail(Code::kUsage, "--margin speaks of another run: name it with --against");
  return {};
}

int RunCompare(const Call& call, const Terminal& terminal) {
  const auto failed = [&](const Error& error) {
    PrintError(terminal, error);
    return ExitOf(error.code);
  };
  auto gathered = GatherRun(call.images, call.compare.part, call.design);
  if (!gathered) return failed(gathered.error());
  auto comparison = CompareRun(gathered->run, call.compare.options, gathered->nominals);
  if (!comparison) return failed(comparison.error());
  if (!call.compare.against.empty()) {
    // The other run goes by its own drawing, which may be another revision.
    std::error_code ignored;
    const bool has_run =
        std::filesystem::exists(std::filesystem::path(call.compare.against) / "run.json", ignored);
    auto other = GatherRun({call.compare.against}, call.compare.part, has_run ? "" : call.design);
    if (!other) return failed(other.error());
    auto against = CompareAgainst(gathered->run, other->run, call.compare.options);
    if (!against) return failed(against.error());
    against->mean_faces = MeanFaces(other->run, other->nominals);
    comparison->against = std::move(*against);
  }
  if (auto status = MakeFolder(call.out); !status) return failed(status.error());
  if (auto status = CheckComparisonFiles(call.out); !status) return failed(status.error());
  const ComparisonHead head{CUTFACE_VERSION, NowUtc()};
  // Side by side: of thousands of parts each takes as long as half of the reading.
  auto pages =
      std::async(std::launch::async, [&] { return RenderComparisonPdf(*comparison, head); });
  const std::string json = ComparisonToJson(*comparison);
  auto html = RenderComparisonHtml(*comparison, head);
  auto pdf = pages.get();
  if (!html) return failed(html.error());
  if (!pdf) return failed(pdf.error());
  const auto path = [&](const char* name) {
    return (std::filesystem::path(call.out) / name).string();
  };
  if (auto status = WriteWhole(path("comparison.json"), json); !status)
    return failed(status.error());
  if (auto status = WriteWhole(path("comparison.html"), *html); !status)
    return failed(status.error());
  if (auto status = WriteWhole(path("comparison.pdf"), *pdf); !status)
    return failed(status.error());
  for (const std::string& warning : gathered->warnings) PrintWarning(terminal, warning);
  if (call.json) {
    terminal.out << json << std::flush;
  } else {
    terminal.out << ComparisonTable(*comparison)
                 << "\nwritten: " << Escaped(path("comparison.html")) << ", .pdf, .json\n"
                 << std::flush;
  }
  return ExitOfComparison(*comparison);
}

}  // namespace cutface
