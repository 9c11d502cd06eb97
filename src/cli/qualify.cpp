#include "cli/qualify.h"

#include <fmt/format.h>
#include <sys/utsname.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <ostream>
#include <thread>

#include "cli/exits.h"
#include "cli/interrupt.h"
#include "cli/own_files.h"
#include "cutface/calibration_keeping.h"
#include "cutface/job.h"
#include "cutface/qualify.h"
#include "cutface/quantity.h"
#include "cutface/report.h"

namespace cutface {
namespace {

Result<SiteLimits> LimitsOf(const QualifyCall& words) {
  SiteLimits limits;
  limits.reliability = words.reliability;
  const std::vector<std::string_view> known = {
      "diameter",     "equivalent_diameter", "width_min",
      "width_max",    "inscribed_diameter",  "wall",
      "septum",       "thickness_min",       "thickness_mean",
      "thickness_max"};
  for (const std::string& text : words.limits) {
    const auto equals = text.find('=');
    const std::string word = text.substr(0, equals);
    if (equals == std::string::npos || std::find(known.begin(), known.end(), word) == known.end()) {
      const std::string near = NearestWord(word, known);
      return Fail(Code::kUsage,
                  fmt::format("--limit {}: must read WORD=LENGTH, as septum=3um; words: {}{}", text,
                              fmt::join(known, ", "),
                              near.empty() ? "" : "; did you mean \"" + near + "\"?"));
    }
    const auto length = ParseLength(text.substr(equals + 1));
    if (!length) return tl::unexpected(length.error());
    if (!limits.error_um.emplace(word, *length).second)
      return Fail(Code::kUsage, fmt::format("--limit: {} is given two limits", word));
  }
  for (const auto& [text, target] :
       {std::pair{&words.smallest_void, &limits.smallest_void_um},
        std::pair{&words.smallest_septum, &limits.smallest_septum_um}}) {
    if (text->empty()) continue;
    const auto length = ParseLength(*text);
    if (!length) return tl::unexpected(length.error());
    *target = *length;
  }
  return limits;
}

// Checks of the bench: of the log that is named, or beside the record where there is one.
Result<std::vector<BenchEvidence>> EvidenceOf(const Call& call, const Bench& bench) {
  const bool named = !call.qualify.check_log.empty();
  const std::string path = named ? call.qualify.check_log : CheckLogPath(bench.record_path);
  const auto log = ReadCheckLog(path);
  if (!log && !named && log.error().code == Code::kFileMissing) return std::vector<BenchEvidence>();
  if (!log) return tl::unexpected(log.error());
  std::vector<BenchEvidence> evidence;
  for (const BenchCheck& check : *log) {
    BenchEvidence one;
    one.kind = check.standard_kind;
    one.serial = check.serial;
    one.taken = check.taken;
    one.calibration_id = check.calibration_id;
    one.certified_um = check.certified_um;
    one.error_um = check.ErrorUm();
    one.expanded_u_um = 2 * std::hypot(check.measured_u_um, check.certified_u_um);
    one.passed = check.passed;
    one.this_record =
        check.calibration_id == bench.record.id && check.calibration_sha256 == bench.record.sha256;
    evidence.push_back(std::move(one));
  }
  return evidence;
}

InstalledProgram ThisProgram() {
  InstalledProgram program;
  program.version = CUTFACE_VERSION;
  program.made = NowUtc();
  if (const auto bytes = ReadFile("/proc/self/exe")) program.program_sha256 = Sha256Hex(*bytes);
  utsname machine{};
  if (uname(&machine) == 0)
    program.machine = fmt::format("{} {} {}", machine.sysname, machine.release, machine.machine);
  return program;
}

Result<Qualification> QualifyHere(const Call& call, const Terminal& terminal) {
  auto limits = LimitsOf(call.qualify);
  if (!limits) return tl::unexpected(limits.error());
  auto design = ReadDesign(call.design);
  if (!design) return tl::unexpected(design.error());
  const auto plane = ChooseSection(*design, call.section);
  if (!plane) return tl::unexpected(plane.error());
  auto benches = Benches::Open({call.calibration, call.bench, call.objective});
  if (!benches) return tl::unexpected(benches.error());
  std::optional<Micrograph> image;
  if (!call.qualify.image.empty()) {
    auto read = ReadMicrograph(call.qualify.image);
    if (!read) return tl::unexpected(read.error());
    image = std::move(*read);
  }
  auto bench = benches->For(image ? image->width() : 0, image ? image->height() : 0);
  if (!bench) return tl::unexpected(bench.error());
  if (image && (image->width() != bench->record.image_width_px ||
                image->height() != bench->record.image_height_px)) {
    return Fail(Code::kCalibrationMismatch,
                fmt::format("{}: {} x {} px, the record {} is for {} x {}", call.qualify.image,
                            image->width(), image->height(), bench->record.id,
                            bench->record.image_width_px, bench->record.image_height_px));
  }
  QualifyOrder order;
  order.limits = *limits;
  order.faces = call.qualify.faces;
  order.seed = call.qualify.seed;
  order.tilt_deg = call.qualify.tilt_deg;
  order.jobs = call.qualify.jobs > 0
                   ? call.qualify.jobs
                   : static_cast<int>(std::max(1u, std::thread::hardware_concurrency()));
  auto checks = EvidenceOf(call, *bench);
  if (!checks) return tl::unexpected(checks.error());
  order.checks = std::move(*checks);
  auto camera = image ? CameraOfImage(*image, bench->record, bench->scale, *design, **plane)
                      : Result<SiteCamera>(CameraOfRecord(bench->record, bench->scale));
  if (!camera) return tl::unexpected(camera.error());
  order.camera = std::move(*camera);
  Interrupt interrupt;
  ProgressLine line(terminal, "qualify", 1, 1);
  order.progress = [&](double share, std::string_view what) {
    line.Show(share, what);
    return !interrupt.Asked();
  };
  return Qualify(*design, **plane, bench->record, order);
}

}  // namespace

void AddQualifyCommand(CLI::App& program, Call& call) {
  CLI::App& app = *program.add_subcommand(
      "qualify",
      "Proof that this installation measures right, on phantoms of a drawing and camera");
  app.callback([&call] { call.command = Call::Command::kQualify; });
  QualifyCall& q = call.qualify;
  app.add_option("--design", call.design, "The site's drawing (*.design.json)")
      ->required()
      ->type_name("D");
  app.add_option("--section", call.section, "Section of the drawing")->type_name("S");
  app.add_option("--calibration", call.calibration,
                 "Calibration record (*.calibration.json) or a folder of them")
      ->required()
      ->type_name("C");
  app.add_option("--bench", call.bench, "Id of the record to take from a folder")->type_name("ID");
  app.add_option("--objective", call.objective, "Objective, to choose in a folder of records");
  app.add_option(
         "--image", q.image,
         "A picture of a cut face of this section: blur, noise, gamma, light, tones, rims and "
         "dirt of the phantoms are told from it")
      ->type_name("I");
  app.add_option("--faces", q.faces, "How many phantoms (default 60)")
      ->check(CLI::Range(3, 10000))
      ->type_name("N");
  app.add_option("--seed", q.seed, "Other phantoms (default 1); the same seed gives the same ones")
      ->type_name("N");
  app.add_option("--tilt", q.tilt_deg,
                 "Faces are cut askew by up to this, degrees (default 2); lengths are held against "
                 "the part cut straight")
      ->check(CLI::Range(0.0, 15.0))
      ->type_name("DEG");
  app.add_option("--limit", q.limits,
                 "Greatest |mean error| + 2 standard deviations of a word, as septum=3um; may be "
                 "repeated")
      ->type_name("WORD=L");
  app.add_option("--smallest-void", q.smallest_void,
                 "Voids of this equal-area diameter are to be found reliably")
      ->type_name("L");
  app.add_option("--smallest-septum", q.smallest_septum,
                 "Septa of this thickness are to be told reliably, within a pixel")
      ->type_name("L");
  app.add_option("--reliability", q.reliability,
                 "Share that counts as reliable, with 95 % confidence (default 0.9)")
      ->check(CLI::Range(0.5, 0.999))
      ->type_name("P");
  app.add_option("--check-log", q.check_log,
                 "Log of cutface check (default: checks.jsonl beside the record)")
      ->type_name("FILE");
  app.add_option("--jobs", q.jobs, "Faces at a time (default: one a core)")
      ->check(CLI::Range(1, 256))
      ->type_name("N");
  app.add_option("--out", call.out, "Folder for qualify.json, qualify.html and qualify.pdf")
      ->type_name("DIR");
  app.add_flag("--json", call.json, "Print JSON in place of tables");
  app.footer(
      "Exit status: 0 all limits are reached, or none was given; 1 one is not, or a known answer "
      "is off;\n2 the call or a file it names is wrong; 3 --image cannot be measured, or it was "
      "stopped.\nWithout a check with a potted pin (cutface check --target pin) the evidence is "
      "called incomplete.");
}

int RunQualifyCommand(const Call& call, const Terminal& terminal) {
  const auto done = QualifyHere(call, terminal);
  if (!done) {
    PrintError(terminal, done.error());
    return ExitOf(done.error().code);
  }
  const InstalledProgram program = ThisProgram();
  const std::string json = QualificationToJson(*done, program);
  const auto html = RenderQualificationHtml(*done, program);
  const auto pdf = html ? RenderQualificationPdf(*done, program)
                        : Result<std::vector<std::byte>>(tl::unexpected(html.error()));
  if (!pdf) {
    PrintError(terminal, pdf.error());
    return ExitOf(pdf.error().code);
  }
  std::vector<std::string> written;
  if (auto status = WriteOwnFiles(
          call.out, "qualify.files.json",
          {{"qualify.json", json},
           {"qualify.html", *html},
           {"qualify.pdf", std::string(reinterpret_cast<const char*>(pdf->data()), pdf->size())}},
          written);
      !status) {
    PrintError(terminal, status.error());
    return kExitWrongCall;
  }
  if (call.json) {
    terminal.out << json << std::flush;
  } else {
    terminal.out << QualificationText(*done) << fmt::format("\n{:.0f} s; written:", done->seconds);
    for (const std::string& path : written) terminal.out << " " << Escaped(path);
    terminal.out << "\n" << std::flush;
  }
  return done->verdict == "fail" ? kExitNotAllConform : kExitFine;
}

}  // namespace cutface
