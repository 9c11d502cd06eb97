#include "cli/options.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <map>

#include "cli/batch_command.h"
#include "cli/bench_options.h"
#include "cli/compare_command.h"
#include "cli/face_options.h"
#include "cli/man.h"
#include "cli/qualify.h"
#include "cli/report.h"
#include "cli/study.h"

namespace cutface {
namespace {

constexpr const char* kDescription =
    "Measures the cut face of a catheter: lumens, septa and walls in a calibrated picture of a\n"
    "sectioned tube, with 95 % intervals and a verdict for every row of the drawing.";

constexpr const char* kFooter =
    "Exit status: 0 all conform or nothing is judged; 1 something does not conform, is not proven "
    "or\n"
    "not measured; 2 the call or a file it names is wrong; 3 an image could not be measured. Of "
    "several\n"
    "images the worst decides, in the order 2, 3, 1, 0.\n"
    "\n"
    "Cautions: a section shows one plane of one destroyed sample, altered by cutting. Pressure and "
    "flow\n"
    "figures are for screening. Validate the program for your use before relying on it. Blades, "
    "resins,\n"
    "solvents and dust are hazardous. In full: README.md.";

void AddCommon(CLI::App& app, Call& call, std::string& channel) {
  app.add_option("--calibration", call.calibration,
                 "Calibration record of the picture (*.calibration.json), or a folder of records: "
                 "the one that fits the picture is taken")
      ->required()
      ->type_name("C");
  app.add_option("--bench", call.bench, "Id of the record to take from a folder")->type_name("ID");
  app.add_option("--objective", call.objective,
                 "Objective that the picture was taken with, to choose in a folder")
      ->type_name("O");
  app.add_option("--require-check", call.require_check_h,
                 "Refuse pictures without a passed check of the bench within so many hours")
      ->check(CLI::Range(0.01, 1e6))
      ->type_name("HOURS");
  app.add_option("--out", call.out,
                 "Folder for results and pictures, made when missing (default: the current one)")
      ->type_name("DIR");
  app.add_flag("--json", call.json,
               "Print the result as JSON instead of a table, one line an image");
  AddFaceOptions(app, call, channel);
  app.add_option("--serial", call.sample.serial, "Serial number of the sample")->group("Sample");
  app.add_option("--lot", call.sample.lot, "Lot")->group("Sample");
  app.add_option("--block", call.sample.block, "Potted block")->group("Sample");
  app.add_option("--face", call.sample.face, "Which face of the cut: proximal or distal")
      ->check(CLI::IsMember({"proximal", "distal"}))
      ->group("Sample");
  app.add_option("--station", call.sample.station_mm, "Distance along the catheter in mm")
      ->group("Sample");
  app.add_option("--taken", call.sample.taken, "When the picture was taken, 2026-03-02[T09:15:00]")
      ->check(CheckTaken)
      ->group("Sample");
}

void AddMeasureOptions(CLI::App& app, Call& call, std::string& channel, PressureWords& words) {
  app.add_option("images", call.images, "Pictures: PNG, JPEG, BMP or TIFF")
      ->required()
      ->type_name("IMAGE");
  app.add_option("--design", call.design, "The drawing (*.design.json)")
      ->required()
      ->type_name("D");
  app.add_option("--section", call.section,
                 "Section of the drawing; may be left out when it has one only")
      ->type_name("S");
  AddDrawnFaceOptions(app, call, words);
  AddCommon(app, call, channel);
  app.footer(
      std::string(
          "Writes STEM.result.json and STEM.png for every IMAGE into DIR; of files that are\n"
          "there already only its own are overwritten.\n\n") +
      kFooter);
}

void AddSurveyOptions(CLI::App& app, Call& call, std::string& channel) {
  app.add_option("image", call.images, "Picture: PNG, JPEG, BMP or TIFF")
      ->required()
      ->expected(1)
      ->type_name("IMAGE");
  app.add_option("--draft-design", call.draft_design, "Write a drafted drawing to this new file")
      ->type_name("F");
  AddCommon(app, call, channel);
  app.footer(kFooter);
}

// Lengths as typed, before they are parsed.
struct PlaneWords {
  std::string spacing, u_station, align;
  std::vector<std::string> voids;
};

void AddPlanesOptions(CLI::App& app, Call& call, PlaneWords& words) {
  app.add_option("results", call.images, "Result files of one part (*.result.json)")
      ->required()
      ->type_name("RESULT");
  app.add_option(
         "--spacing", words.spacing,
         "Equal spacing of the planes, in the order given (0.5mm); default: the stations of "
         "the results")
      ->type_name("L");
  app.add_option("--u-station", words.u_station,
                 "Standard uncertainty of the distance of two planes (default 10um)")
      ->type_name("L");
  app.add_option(
         "--align", words.align,
         "Voids of neighbouring planes this near to one another count as one (default 10um)")
      ->type_name("L");
  app.add_option("--void", words.voids,
                 "Diameter of a void whose chance to be missed is told; may be repeated")
      ->type_name("L");
  app.add_option("--carriers", call.planes.carriers,
                 "Carriers of the braid (default: as many as it has wires)")
      ->check(CLI::Range(2, 1000))
      ->type_name("N");
  app.add_option("--out", call.planes.out, "Write the figures as JSON to this new file")
      ->type_name("FILE");
  app.add_flag("--json", call.json, "Print JSON in place of tables");
  app.footer(
      "Exit status: 0, or 2 when the call or a file it names is wrong. Whether voids join between "
      "planes\nis not seen: a barrier is no proof of a leak or of tightness.");
}

void AddOpeningOptions(CLI::App& app, Call& call) {
  app.add_option("result", call.images, "A result file (*.result.json)")
      ->required()
      ->expected(1)
      ->type_name("RESULT");
  app.add_option("--sleeve", call.sleeve, "Ring of the drawing that is inflated")
      ->required()
      ->type_name("RING");
  app.add_option(
         "--stiffness", call.stiffness,
         "The site's curve of nominal stress against stretch (cutface/stiffness); without it "
         "only\norder and direction are told. The model holds to 10 times the starting "
         "diameter and more")
      ->type_name("FILE");
  app.add_flag("--json", call.json, "Print JSON in place of tables");
  app.footer("Exit status: 0, or 2 when the call or a file it names is wrong. For screening only.");
}

Status TakePlaneWords(const PlaneWords& words, Call& call) {
  const auto take = [](const std::string& text, double& out) -> Status {
    if (text.empty()) return {};
    auto um = ParseLength(text);
    if (!um) return tl::unexpected(um.error());
    if (!(*um > 0)) return Fail(Code::kUsage, text + ": must be above 0");
    out = *um;
    return {};
  };
  for (const auto& [text, out] : {std::pair{&words.spacing, &call.planes.spacing_um},
                                  std::pair{&words.u_station, &call.planes.u_station_um},
                                  std::pair{&words.align, &call.planes.align_um}}) {
    if (auto status = take(*text, *out); !status) return status;
  }
  for (const std::string& text : words.voids) {
    double um = 0;
    if (auto status = take(text, um); !status) return status;
    call.planes.void_sizes_um.push_back(um);
  }
  return {};
}

// CLI11 reports in one or more lines; a message of ours has one.
std::string OneLine(std::string text) {
  for (char& c : text) c = c == '\n' ? ' ' : c;
  while (!text.empty() && text.back() == ' ') text.pop_back();
  return text;
}

// The command by the name of the one subcommand that was given.
Call::Command CommandOf(const CLI::App& app) {
  static const std::map<std::string, Call::Command> kCommands = {
      {"measure", Call::Command::kMeasure},     {"survey", Call::Command::kSurvey},
      {"calibrate", Call::Command::kCalibrate}, {"check", Call::Command::kCheck},
      {"batch", Call::Command::kBatch},         {"planes", Call::Command::kPlanes},
      {"opening", Call::Command::kOpening},     {"report", Call::Command::kReport},
      {"records", Call::Command::kRecords},     {"study", Call::Command::kStudy},
      {"compare", Call::Command::kCompare}};
  return kCommands.at(app.get_subcommands().front()->get_name());
}

}  // namespace

Status ParsePressures(const std::string& text, std::map<std::string, double>& out) {
  // psi: pound-force per square inch, 0.45359237 kg x 9.80665 m/s2 over 25.4 mm squared.
  static const std::map<std::string, double> kUnits = {
      {"bar", 0.1},
      {"kPa", 1e-3},
      {"MPa", 1},
      {"psi", 0.45359237 * 9.80665 / (25.4 * 25.4)},
      {"atm", 0.101325}};
  for (std::size_t at = 0; at <= text.size();) {
    const std::size_t end = std::min(text.find(',', at), text.size());
    const std::string one = text.substr(at, end - at);
    at = end + 1;
    const std::size_t equals = one.find('=');
    std::size_t used = 0;
    double value = -1;
    if (equals != std::string::npos && equals > 0) {
      try {
        value = std::stod(one.substr(equals + 1), &used);
      } catch (const std::exception&) {
        used = 0;
      }
    }
    std::string unit = used > 0 ? one.substr(equals + 1 + used) : "";
    unit.erase(0,
               unit.find_first_not_of(' ') == std::string::npos ? 0 : unit.find_first_not_of(' '));
    const auto factor = kUnits.find(unit);
    if (used == 0 || factor == kUnits.end() || !(value >= 0) || value * factor->second > 1000) {
      return Fail(
          Code::kUsage,
          fmt::format("--pressure {}: must read LUMEN=VALUE with bar, kPa, MPa, psi or atm, as "
                      "scope=3bar",
                      text));
    }
    const std::string lumen = one.substr(0, equals);
    if (!out.emplace(lumen, value * factor->second).second) {
      return Fail(Code::kUsage,
                  fmt::format("--pressure: {} is given two pressures; which one holds?", lumen));
    }
  }
  return {};
}

Result<Call> ParseCall(const std::vector<std::string>& words) {
  Call call;
  std::string channel = "green";
  CLI::App app{kDescription, "cutface"};
  app.footer(kFooter);
  app.set_version_flag("--version", std::string("cutface ") + CUTFACE_VERSION);
  app.require_subcommand(1);

  CLI::App* measure = app.add_subcommand("measure", "Measure faces against a drawing");
  PressureWords pressure_words;
  AddMeasureOptions(*measure, call, channel, pressure_words);

  CLI::App* survey =
      app.add_subcommand("survey", "Measure what is there, without a drawing, and draft one");
  AddSurveyOptions(*survey, call, channel);

  CLI::App* calibrate =
      app.add_subcommand("calibrate", "Make a calibration record from pictures of a known target");
  AddCalibrateOptions(*calibrate, call, channel);
  CLI::App* check = app.add_subcommand(
      "check", "Measure a check standard: does the bench still hold its record?");
  AddCheckOptions(*check, call, channel);
  AddQualifyCommand(app, call);

  CLI::App* batch =
      app.add_subcommand("batch", "Measure a folder of pictures: manifest, resume, watch");
  AddBatchOptions(*batch, call, channel, pressure_words);
  CLI::App* planes = app.add_subcommand(
      "planes", "Read results of serial planes together: voids, barriers, braid, bond tilt");
  CLI::App* opening = app.add_subcommand(
      "opening", "In which order and direction an uneven sleeve opens when it is inflated");
  AddOpeningOptions(*opening, call);
  PlaneWords plane_words;
  AddPlanesOptions(*planes, call, plane_words);
  CLI::App* report =
      app.add_subcommand("report", "Reports of a run or of results: PDF, XLSX, HTML, CSV, QIF");
  AddReportOptions(*report, call);

  CLI::App* study = app.add_subcommand(
      "study", "How much of the spread is the measuring: same image, same block, recut");
  AddStudyOptions(*study, call);

  CLI::App* compare = app.add_subcommand(
      "compare", "What the results of a run say together: bounds, capability, charts, trends");
  AddCompareOptions(*compare, call);
  CLI::App* records = app.add_subcommand(
      "records", "Keep results, signatures and originals in a store that shows every change");
  AddRecordsOptions(*records, call.records);

  AddManual(app);
  try {
    app.parse(
        std::vector<std::string>(words.rbegin(), words.rend()));  // CLI11 takes them backwards
  } catch (const CLI::CallForAllHelp&) {                          // what --man throws
    call.answer = ManPage(app, CUTFACE_VERSION);
    return call;
  } catch (const CLI::CallForHelp&) {
    call.answer = app.help();
    return call;
  } catch (const CLI::CallForVersion&) {
    call.answer = std::string("cutface ") + CUTFACE_VERSION + "\n";
    return call;
  } catch (const CLI::Error& e) {
    return Fail(Code::kUsage, OneLine(e.what()) + "; see cutface --help");
  }
  if (call.command == Call::Command::kQualify) return call;
  if (auto status = TakePressureWords(pressure_words, call); !status)
    return tl::unexpected(status.error());
  call.command = CommandOf(app);
  if (*planes) {
    if (auto status = TakePlaneWords(plane_words, call); !status)
      return tl::unexpected(status.error());
  }
  if (*compare) {
    if (auto status = TakeCompareWords(call); !status) return tl::unexpected(status.error());
  }
  if (*batch && batch->count("--out") == 0) call.out = "results";
  call.channel = Channels().at(channel);
  return call;
}

}  // namespace cutface
