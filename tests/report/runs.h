// A run for the tests: faces made by hand, a text put wherever a person may type one.
#pragma once

#include <string>
#include <vector>

#include "cutface/report.h"
#include "picture/sample.h"

namespace cutface::sample {

inline SectionResult FaceOf(const std::string& serial, const std::string& plane = "shaft-mid") {
  SectionResult r = FourLumens();
  r.sample.serial = serial;
  r.section_name = plane;
  r.image_file = serial + "-" + plane + ".png";
  r.image_sha256 = Sha256Hex(r.image_file);
  r.design_sha256 = Sha256Hex(std::string_view("drawing"));
  r.calibration_sha256 = Sha256Hex(std::string_view("calibration"));
  r.calibration_certified = true;
  r.characteristics[0].unit = "mm";
  return r;
}

// A face whose rows all conform.
inline SectionResult GoodFace(const std::string& serial, const std::string& plane = "shaft-mid") {
  SectionResult r = FaceOf(serial, plane);
  for (CharacteristicResult& row : r.characteristics) row.verdict = Verdict::kConforms;
  r.findings.clear();
  r.warnings.clear();
  r.verdict = Verdict::kConforms;
  return r;
}

inline ReportFace Faced(const SectionResult& result) {
  ReportFace face;
  face.result = result;
  face.result_file = result.image_file + ".result.json";
  face.result_sha256 = Sha256Hex(face.result_file + result.section_name);
  return face;
}

inline FaceEntry EntryFor(const ReportFace& face) {
  const SectionResult& r = face.result;
  FaceEntry entry;
  entry.image = r.image_file;
  entry.image_sha256 = r.image_sha256;
  entry.part = r.part, entry.revision = r.revision, entry.plane = r.section_name;
  entry.sample = r.sample;
  entry.state = FaceState::kMeasured;
  entry.result_file = face.result_file;
  entry.result_sha256 = face.result_sha256;
  entry.verdict = r.verdict;
  return entry;
}

inline ReportInput RunOf(const std::vector<SectionResult>& results) {
  ReportInput input;
  for (const SectionResult& result : results) {
    input.faces.push_back(Faced(result));
    input.roster.faces.push_back(EntryFor(input.faces.back()));
  }
  input.software = "0.1.0";
  input.program_sha256 = Sha256Hex(std::string_view("program"));
  input.made = "2026-03-20T08:00:00Z";
  return input;
}

inline Disposition Decided(const ReportInput& input, std::size_t face, const std::string& row,
                           DispositionKind what, const std::string& reference = "") {
  Disposition d;
  d.what = what;
  d.reference = reference;
  d.result_sha256 = input.faces[face].result_sha256;
  d.row = row;
  d.reason = "agreed with design";
  d.by = "Q. Engineer";
  d.when = "2026-03-19";
  return d;
}

}  // namespace cutface::sample
