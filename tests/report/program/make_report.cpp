// Writes the files of an invented run into a folder, for the checks by other programs.
//
// usage: make_report DIR [TEXT]
//
// Two parts, two planes, one recut, one rejected picture; one photo is there and the others are
// not. TEXT is put wherever a person may type something.
#include <cstdio>
#include <fstream>
#include <iostream>

#include "cutface/report.h"
#include "report/runs.h"

namespace {

using namespace cutface;

void Everywhere(SectionResult& r, const std::string& text) {
  r.inspector = r.sample.lot = r.sample.block = r.sample.face = r.sample.taken = text;
  r.part = r.revision = r.calibration_id = text;
  r.image_file += text;
  for (CharacteristicResult& row : r.characteristics) {
    row.reason = text;
    row.u_scope = text;
  }
  for (Finding& f : r.findings) {
    f.text = text;
    f.hints = {{text, text, text}};
  }
  r.warnings = r.edits = r.overrules = {text};
  for (Measurement& m : r.measurements) m.budget = {{text, 0.4}};
}

ReportInput MakeRun(const std::string& text) {
  SectionResult a = sample::FaceOf("B-07"), b = sample::GoodFace("B-08"),
                c = sample::GoodFace("B-08"), d = sample::GoodFace("B-07", "bond-distal");
  c.image_file = "B-08-recut.png";
  c.image_sha256 = Sha256Hex(c.image_file);
  a.findings[0].hints = {{"a worn mandrel", "measure the mandrel", "common practice"}};
  for (SectionResult* r : {&a, &b, &c, &d}) {
    CharacteristicResult elsewhere;
    elsewhere.no = "13";
    elsewhere.text = "length 1100";
    elsewhere.verdict = Verdict::kElsewhere;
    r->characteristics.push_back(elsewhere);
    CharacteristicResult count;
    count.no = "12";
    count.finding = "crosstalk";
    count.max = 0;
    count.unit = "1";
    count.actual = 0;
    count.criticality = "major";
    count.verdict = Verdict::kConforms;
    r->characteristics.push_back(count);
    CharacteristicResult clock;
    clock.no = "14";
    clock.of = {"cuff"};
    clock.quantity = "clock";
    clock.unit = "deg";
    clock.nominal = 180;
    clock.min = 174, clock.max = 186, clock.actual = 181.25, clock.lo = 180.6, clock.hi = 181.9;
    clock.criticality = "minor";
    clock.verdict = Verdict::kConforms;
    r->characteristics.push_back(clock);
    CharacteristicResult area;
    area.no = "15";
    area.of = {"wash"};
    area.quantity = "area";
    area.unit = "mm2";
    area.min = 0.3, area.nominal = 0.4;
    area.verdict = Verdict::kNotMeasured;
    area.reason = "wash is cut off by the frame";
    r->characteristics.push_back(area);
    r->verdict = r == &a ? Verdict::kDoesNotConform : Verdict::kNotMeasured;
    if (!text.empty()) Everywhere(*r, text);
  }
  if (!text.empty()) {
    for (SectionResult* r : {&a, &b, &c, &d}) r->sample.serial += text;
  }
  ReportInput input = sample::RunOf({a, b, c, d});
  FaceEntry rejected = input.roster.faces[0];
  rejected.state = FaceState::kRejected;
  rejected.image = "B-09.png" + text;
  rejected.code = "out-of-focus";
  rejected.reason = text.empty() ? "edges too soft to measure" : text;
  rejected.result_sha256 = rejected.result_file = "";
  rejected.sample.serial = "B-09";
  input.roster.faces.push_back(rejected);
  input.roster.faces[2].repeat = RepeatKind::kRecut;
  input.roster.faces[2].repeat_of = b.image_file;
  for (FaceEntry& entry : input.roster.faces) {
    entry.operator_name = text.empty() ? "operator 1" : text;
    entry.trial = text;
    entry.factors = {{"oven" + text, "left" + text}};
  }
  input.run_sha256 = Sha256Hex(std::string_view("run"));
  Disposition d1 =
      sample::Decided(input, 1, "15", DispositionKind::kConcession, text.empty() ? "C-12" : text);
  if (!text.empty()) d1.reason = d1.by = text;
  input.decisions.dispositions = {d1};
  // The second face is settled; the run is not, and its signature does not count.
  const std::string signer = text.empty() ? "R. Alder" : text;
  input.decisions.signatures = {
      {SignatureMeaning::kMeasured, signer, "2026-03-20", input.faces[1].result_sha256},
      {SignatureMeaning::kReviewed, signer, "2026-03-21", input.run_sha256}};
  if (!text.empty()) input.roster.warnings = {text};
  return input;
}

// The photo of the first face, and its hash in the result.
void PaintPhoto(ReportInput& input, const std::string& folder) {
  auto png = EncodePng(sample::Paint(input.faces[0].result, {}));
  if (!png) return;
  const std::string path = folder + "/photo.png";
  std::ofstream(path, std::ios::binary)
      .write(reinterpret_cast<const char*>(png->data()), static_cast<std::streamsize>(png->size()));
  input.faces[0].result.image_sha256 = Sha256Hex(*png);
  input.faces[0].image_paths = {path};
  input.faces[1].image_paths = {path};  // not the one that was measured
}

}  // namespace

int main(int argc, char** argv) {
  if (argc < 2) return 2;
  const std::string folder = argv[1], text = argc > 2 ? argv[2] : "";
  ReportInput input = MakeRun(text);
  PaintPhoto(input, folder);
  const auto sheet = BuildSheet(input);
  if (!sheet) {
    std::cerr << sheet.error().message << "\n";
    return 1;
  }
  const auto files = RenderReport(input, *sheet, {true, true, true, true, true}, folder);
  if (!files) {
    std::cerr << files.error().message << "\n";
    return 1;
  }
  for (const ReportFile& file : *files) {
    if (auto status = WriteWhole(folder + "/" + file.name, file.bytes); !status) {
      std::cerr << status.error().message << "\n";
      return 1;
    }
  }
  std::cout << SheetToJson(*sheet);
  return 0;
}
