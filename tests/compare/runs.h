// Runs by hand: faces with one row on a septum (one limit) and one on a diameter (two limits).
#pragma once

#include <string>

#include "cutface/compare.h"

namespace cutface::sample {

inline CharacteristicResult LimitRow(const std::string& no, const std::string& quantity,
                                     double actual, std::optional<double> min,
                                     std::optional<double> max, const std::string& criticality) {
  CharacteristicResult row;
  row.no = no;
  row.of = quantity == "septum"  ? std::vector<std::string>{"scope", "wash"}
           : quantity == "clock" ? std::vector<std::string>{"scope"}
                                 : std::vector<std::string>{"outline"};
  row.quantity = quantity;
  row.unit = quantity == "clock" ? "deg" : "mm";
  row.actual = actual;
  row.lo = actual - 0.001, row.hi = actual + 0.001;
  row.min = min, row.max = max;
  row.criticality = criticality;
  const bool inside = (!min || actual >= *min) && (!max || actual <= *max);
  row.verdict = inside ? Verdict::kConforms : Verdict::kDoesNotConform;
  return row;
}

inline SectionResult Face(const std::string& serial, std::vector<CharacteristicResult> rows,
                          const std::string& plane = "extrusion", int picture = 1) {
  SectionResult r;
  r.part = "LV-7504", r.revision = "C", r.design_sha256 = "d";
  r.section_name = plane;
  r.sample.serial = serial;
  r.sample.lot = "L1";
  r.image_file = serial + plane + std::to_string(picture) + ".png";
  r.image_sha256 = r.image_file;
  r.characteristics = std::move(rows);
  return r;
}

inline FaceEntry EntryOf(const SectionResult& r) {
  FaceEntry entry;
  entry.image = r.image_file, entry.image_sha256 = r.image_sha256;
  entry.part = r.part, entry.revision = r.revision, entry.plane = r.section_name;
  entry.sample = r.sample;
  entry.state = FaceState::kMeasured;
  entry.result_file = r.image_file + ".result.json";
  return entry;
}

inline std::string Serial(std::size_t i) {
  std::string text = std::to_string(i + 1);
  return std::string(4 - text.size(), '0') + text;
}

}  // namespace cutface::sample
