// Options of calibrate and check.
#include "cli/bench_options.h"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <charconv>
#include <cmath>
#include <map>

namespace cutface {

const std::map<std::string, Channel>& Channels() {
  static const std::map<std::string, Channel> channels = {{"green", Channel::kGreen},
                                                          {"luminance", Channel::kLuminance},
                                                          {"red", Channel::kRed},
                                                          {"blue", Channel::kBlue}};
  return channels;
}

Result<double> ParseLength(const std::string& text) {
  double value = 0;
  const char* end = text.data() + text.size();
  const auto [rest, problem] = std::from_chars(text.data(), end, value);
  std::string_view unit(rest, static_cast<std::size_t>(end - rest));
  while (!unit.empty() && unit.front() == ' ') unit.remove_prefix(1);
  auto known = ParseLengthUnit(unit);
  if (problem != std::errc() || !std::isfinite(value) || value < 0 || !known) {
    return Fail(Code::kUsage, fmt::format("\"{}\" is no length; write it with its unit, as 10um, "
                                          "0.1mm or 0.001in",
                                          text));
  }
  return value * UmPer(*known);
}

// 2026-03-02 or 2026-03-02T09:15[:30][Z]: the forms that compare with a calibration's due date.
std::string CheckTaken(const std::string& text) {
  const auto shape = [&](const char* form) {
    const std::string wanted = form;
    if (text.size() != wanted.size()) return false;
    for (std::size_t i = 0; i < text.size(); ++i) {
      const bool digit = text[i] >= '0' && text[i] <= '9';
      if (wanted[i] == '0' ? !digit : text[i] != wanted[i]) return false;
    }
    return true;
  };
  const bool known = shape("0000-00-00") || shape("0000-00-00T00:00") ||
                     shape("0000-00-00T00:00:00") || shape("0000-00-00T00:00Z") ||
                     shape("0000-00-00T00:00:00Z");
  if (!known) return "write 2026-03-02 or 2026-03-02T09:15:00";
  const int month = (text[5] - '0') * 10 + text[6] - '0',
            day = (text[8] - '0') * 10 + text[9] - '0';
  const int hour = text.size() >= 13 ? (text[11] - '0') * 10 + text[12] - '0' : 0;
  if (month < 1 || month > 12 || day < 1 || day > 31 || hour > 23) return "no such date";
  return "";
}

namespace {

std::string CheckDate(const std::string& text) {
  return text.size() == 10 ? CheckTaken(text) : "write a date as 2026-03-02";
}

// A length option: its text must parse, `into` takes micrometres.
template <class Into>
CLI::Option* AddLength(CLI::App& app, const std::string& name, Into& into,
                       const std::string& what) {
  return app
      .add_option_function<std::string>(
          name,
          [&into, name](const std::string& text) {
            auto length = ParseLength(text);
            if (!length) throw CLI::ValidationError(name, length.error().message);
            into = *length;
          },
          what)
      ->type_name("LENGTH");
}

void AddTarget(CLI::App& app, Call& call, std::string& channel) {
  TargetCall& target = call.target;
  app.add_option("--target", target.target,
                 "What the picture shows: line scale, dot grid, cross grid, circle, pin")
      ->check(CLI::IsMember({"line scale", "dot grid", "cross grid", "circle", "pin"}))
      ->type_name("KIND");
  AddLength(app, "--division", target.division_um,
            "Distance of neighbouring lines or dots, as 10um, 0.1mm, 0.001in");
  AddLength(app, "--diameter", target.diameter_um, "Certified diameter of a circle or pin");
  AddLength(app, "--u", target.u_um,
            "Standard uncertainty of the certificate's distances, as 0.15um (half of U at k = 2)");
  app.add_option("--serial-number", target.serial, "Serial number of the artefact")
      ->type_name("TEXT");
  app.add_option("--certificate", target.certificate,
                 "Certificate of the artefact; without one everything is \"uncertified\"")
      ->type_name("TEXT");
  app.add_option("--certificate-due", target.certificate_due,
                 "Last day on which the certificate holds; later it is refused")
      ->type_name("DATE");
  app.add_option("--temperature", target.temperature_c,
                 "Of the artefact in degrees Celsius (not given: 20 +- 3)")
      ->check(CLI::Range(-50.0, 150.0))
      ->type_name("C");
  app.add_option("--channel", channel, "Channel of colour pictures: green, luminance, red, blue")
      ->check(CLI::IsMember(Channels()))
      ->type_name("NAME");
  app.add_flag("--json", call.json, "Print as JSON");
}

}  // namespace

void AddCalibrateOptions(CLI::App& app, Call& call, std::string& channel) {
  CalibrateCall& options = call.calibrate;
  app.add_option("images", call.images, "Pictures of one target: along x, along y, at angles")
      ->required()
      ->type_name("IMAGE");
  app.add_option("--out", call.out, "New record NAME.calibration.json, or a folder for ID's")
      ->required()
      ->type_name("C");
  app.add_option("--artefact", call.target.artefact, "stage micrometer, dot grid or check standard")
      ->required()
      ->check(CLI::IsMember({"stage micrometer", "dot grid", "check standard"}))
      ->type_name("KIND");
  AddTarget(app, call, channel);
  app.add_option("--id", options.id, "Id of the record (default: NAME)")->type_name("ID");
  app.add_option("--supersedes", options.supersedes, "Id of the record that this one replaces")
      ->type_name("ID");
  app.add_option("--objective", options.objective, "Objective, as 5x")->group("Bench");
  app.add_option("--microscope", options.microscope, "Microscope")->group("Bench");
  app.add_option("--zoom-stop", options.zoom_stop, "Click stop of the zoom")->group("Bench");
  app.add_option("--binning", options.binning, "Of the camera, as 2x2")->group("Bench");
  AddLength(app, "--nominal-pitch", options.nominal_pitch_um,
            "What a pixel should be worth by the objective: warns of a wrong division")
      ->group("Bench");
  app.add_option("--square-pixels", options.square_pixels_u,
                 "The camera's pixels are square to this relative standard uncertainty: one line "
                 "scale then tells both pitches")
      ->check(CLI::Range(0.0, 0.1))
      ->type_name("U")
      ->group("Bench");
  app.add_option("--by", options.by, "Who calibrates")->required()->type_name("NAME");
  app.add_option("--made", options.made, "Date (default: today)")->check(CheckDate);
  app.add_option("--due", options.due, "Last day on which the record holds")->check(CheckDate);
  app.add_option("--blank", options.blank,
                 "Picture of the empty field, to even out the light; copied beside the record")
      ->type_name("IMAGE");
  app.add_option("--exposure-pair", options.exposure_pair,
                 "Two pictures of one field, differently exposed: tells the camera's gamma")
      ->expected(2)
      ->type_name("IMAGE");
  app.add_option("--exposure-ratio", options.exposure_ratio,
                 "Exposure of the second over the first (default 2)")
      ->type_name("R");
  app.add_flag("--copy-evidence", options.copy_evidence,
               "Copy the pictures beside the record; otherwise it holds their hash only");
  app.footer(
      "Writes the record, and beside it the residuals as a plot (.residuals.png, .residuals.svg).\n"
      "Nothing that is there is overwritten: a new record has an id of its own and names the old\n"
      "one in --supersedes. Uncertainty is a budget by JCGM 100.");
}

void AddCheckOptions(CLI::App& app, Call& call, std::string& channel) {
  app.add_option("image", call.images, "Picture of the check standard")
      ->required()
      ->expected(1)
      ->type_name("IMAGE");
  app.add_option("--calibration", call.calibration,
                 "The record to be checked, or a folder of records")
      ->required()
      ->type_name("C");
  app.add_option("--bench", call.bench, "Id of the record in the folder")->type_name("ID");
  app.add_option("--objective", call.objective, "Objective, to choose in a folder")->type_name("O");
  AddTarget(app, call, channel);
  AddLength(app, "--limit", call.check.limit_um,
            "Greatest error allowed; without one |En| <= 1 decides");
  app.add_option("--by", call.check.by, "Who checks")->required()->type_name("NAME");
  app.add_option("--taken", call.sample.taken, "When the picture was taken, 2026-03-02T09:15:00")
      ->check(CheckTaken)
      ->type_name("TIME");
  app.add_option("--results", call.check.results,
                 "Folder of results: a failed check lists those made since the last good one")
      ->type_name("DIR");
  app.footer(
      "Adds one line to checks.jsonl beside the record and draws ID.drift.png and .svg there.\n"
      "Exit status: 0 the bench holds; 1 it does not; 2 the call is wrong; 3 the picture cannot "
      "be\n"
      "measured. Best is a pin or wire of known diameter, potted, cut and pictured as the "
      "product.");
}

}  // namespace cutface
