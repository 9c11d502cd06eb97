#include "cli/options.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <map>

#include "cli/bench_options.h"

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
  app.add_flag("--svg", call.svg, "Write the annotated picture as STEM.svg too, beside STEM.png");
  app.add_flag("--edge-map", call.edge_map,
               "Write STEM.edges.png too: how well every stretch of every edge is known");
  app.add_option(
         "--hints", call.hints,
         "A site's own file of hints (usual causes and checks of findings), in the form of\n"
         "src/data/hints.json; it replaces the built-in ones, which are common practice")
      ->type_name("FILE");
  app.add_option("--channel", channel, "Channel of colour pictures: green, luminance, red, blue")
      ->check(CLI::IsMember(Channels()))
      ->type_name("NAME");
  app.add_option("--image-kind", call.image_kind,
                 "What the picture is: single, stitched, stacked or crop; stitched and crop may\n"
                 "differ in size from the calibration's and take its pitch only")
      ->check(CLI::IsMember({"single", "stitched", "stacked", "crop"}))
      ->type_name("KIND");
  app.add_option("--u-floor", call.u_floor_um,
                 "Least standard uncertainty of a length in um (default 0.5)")
      ->check(CLI::Range(0.0, 1000.0))
      ->type_name("UM");
  CLI::Option* inspector =
      app.add_option("--inspector", call.inspector, "Who measures; recorded")->type_name("NAME");
  app.add_flag("--accept-overdue", call.accept_overdue,
               "Overrule an overdue calibration; recorded with the inspector's name")
      ->needs(inspector);
  app.add_flag("--accept-scale-mismatch", call.accept_scale_mismatch,
               "Overrule a scale inside the picture that contradicts the calibration; recorded")
      ->needs(inspector);
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

// CLI11 reports in one or more lines; a message of ours has one.
std::string OneLine(std::string text) {
  for (char& c : text) c = c == '\n' ? ' ' : c;
  while (!text.empty() && text.back() == ' ') text.pop_back();
  return text;
}

}  // namespace

Result<Call> ParseCall(const std::vector<std::string>& words) {
  Call call;
  std::string channel = "green";
  CLI::App app{kDescription, "cutface"};
  app.footer(kFooter);
  app.set_version_flag("--version", std::string("cutface ") + CUTFACE_VERSION);
  app.require_subcommand(1);

  CLI::App* measure = app.add_subcommand("measure", "Measure faces against a drawing");
  measure->add_option("images", call.images, "Pictures: PNG, JPEG, BMP or TIFF")
      ->required()
      ->type_name("IMAGE");
  measure->add_option("--design", call.design, "The drawing (*.design.json)")
      ->required()
      ->type_name("D");
  measure
      ->add_option("--section", call.section,
                   "Section of the drawing; may be left out when it has one only")
      ->type_name("S");
  measure->add_flag("--correct-oblique", call.correct_oblique,
                    "Correct all values for the tilt of an oblique cut where one is shown; the\n"
                    "values as seen stay in the result");
  AddCommon(*measure, call, channel);
  measure->footer(
      std::string(
          "Writes STEM.result.json and STEM.png for every IMAGE into DIR; of files that are\n"
          "there already only its own are overwritten.\n\n") +
      kFooter);

  CLI::App* survey =
      app.add_subcommand("survey", "Measure what is there, without a drawing, and draft one");
  survey->add_option("image", call.images, "Picture: PNG, JPEG, BMP or TIFF")
      ->required()
      ->expected(1)
      ->type_name("IMAGE");
  survey
      ->add_option("--draft-design", call.draft_design, "Write a drafted drawing to this new file")
      ->type_name("F");
  AddCommon(*survey, call, channel);
  survey->footer(kFooter);

  CLI::App* calibrate =
      app.add_subcommand("calibrate", "Make a calibration record from pictures of a known target");
  AddCalibrateOptions(*calibrate, call, channel);
  CLI::App* check = app.add_subcommand(
      "check", "Measure a check standard: does the bench still hold its record?");
  AddCheckOptions(*check, call, channel);

  try {
    app.parse(
        std::vector<std::string>(words.rbegin(), words.rend()));  // CLI11 takes them backwards
  } catch (const CLI::CallForHelp&) {
    call.answer = app.help();
    return call;
  } catch (const CLI::CallForVersion&) {
    call.answer = std::string("cutface ") + CUTFACE_VERSION + "\n";
    return call;
  } catch (const CLI::Error& e) {
    return Fail(Code::kUsage, OneLine(e.what()) + "; see cutface --help");
  }
  call.command = *measure     ? Call::Command::kMeasure
                 : *survey    ? Call::Command::kSurvey
                 : *calibrate ? Call::Command::kCalibrate
                              : Call::Command::kCheck;
  call.channel = Channels().at(channel);
  return call;
}

}  // namespace cutface
