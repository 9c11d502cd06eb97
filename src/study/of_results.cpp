// Readings out of result files.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "cutface/quantity.h"
#include "study/internal.h"

namespace cutface {
namespace {

std::string Joined(std::initializer_list<std::string> words) {
  std::string text;
  for (const std::string& word : words)
    if (!word.empty()) text += (text.empty() ? "" : " ") + word;
  return text;
}

std::string StationText(const SampleIdentity& sample) {
  return sample.station_mm ? fmt::format("at {:g} mm", *sample.station_mm) : "";
}

// What is measured again. A recut is another face of the same place, so that block, side and the
// exact station may change with it.
std::string PieceOf(const StudyFace& face, StudyLevel level) {
  const SampleIdentity& s = face.result.sample;
  if (level == StudyLevel::kSameImage)
    return Joined(
        {s.serial, s.block, face.result.image_file, face.result.image_sha256.substr(0, 8)});
  if (level == StudyLevel::kRecut) return Joined({s.lot, s.serial, face.result.section_name});
  return Joined({s.lot, s.serial, s.block, face.result.section_name, StationText(s), s.face});
}

// Images that are repeats of one another, by the picture that began it: re-images share a cut.
std::map<std::string, std::string> CutsOf(std::span<const StudyFace> faces) {
  std::map<std::string, std::string> cuts;
  std::map<std::string, const FaceEntry*> entries;
  for (const StudyFace& face : faces) entries[face.entry.image] = &face.entry;
  for (const StudyFace& face : faces) {
    const FaceEntry* at = &face.entry;
    std::set<std::string> seen;
    while (at->repeat == RepeatKind::kReimage && seen.insert(at->image).second &&
           entries.contains(at->repeat_of))
      at = entries[at->repeat_of];
    cuts[face.entry.image] = at->image;
  }
  return cuts;
}

Status CheckFaces(std::span<const StudyFace> faces, StudyLevel level) {
  std::set<std::string> results, images;
  const SectionResult& first = faces.front().result;
  for (const StudyFace& face : faces) {
    const SectionResult& r = face.result;
    if (!results.insert(face.entry.result_sha256).second) {
      return Fail(Code::kUsage, fmt::format("{}: the same result stands twice in the study; name "
                                            "each repeat once",
                                            face.entry.result_file));
    }
    if (level != StudyLevel::kSameImage && !images.insert(r.image_sha256).second) {
      return Fail(
          Code::kUsage,
          fmt::format("{}: its picture stands twice in the study; a picture evaluated again "
                      "is --level same-image",
                      face.entry.result_file));
    }
    if (r.part != first.part || r.revision != first.revision ||
        r.design_sha256 != first.design_sha256 || r.section_name != first.section_name) {
      return Fail(Code::kDesignMismatch,
                  fmt::format("{}: measured against {} {} {}, the others against {} {} {}; one "
                              "drawing and section a study",
                              face.entry.result_file, r.part, r.revision, r.section_name,
                              first.part, first.revision, first.section_name));
    }
    if (level != StudyLevel::kSameImage && r.sample.serial.empty() && r.sample.block.empty()) {
      return Fail(Code::kUsage,
                  fmt::format("{}: has no serial number and no block: what was measured again "
                              "cannot be told; say it when measuring (--serial, --block, or the "
                              "manifest)",
                              face.entry.result_file));
    }
  }
  return {};
}

std::string TitleOf(const CharacteristicResult& row) {
  std::string title = row.quantity;
  for (std::size_t i = 0; i < row.of.size(); ++i) title += (i == 0 ? ", " : " and ") + row.of[i];
  return title;
}

void AddWarnings(std::span<const StudyFace> faces, StudyLevel level, StudyInput& input) {
  std::set<std::string> software, calibrations;
  std::size_t unnamed = 0, recuts = 0;
  for (const StudyFace& face : faces) {
    software.insert(face.result.software);
    calibrations.insert(face.result.calibration_sha256);
    unnamed += face.entry.operator_name.empty() ? 1 : 0;
    recuts += face.entry.repeat == RepeatKind::kRecut ? 1 : 0;
  }
  if (software.size() > 1)
    input.warnings.push_back(
        "results of several versions of the program: what versions differ by "
        "is in the spread");
  if (calibrations.size() > 1)
    input.warnings.push_back(
        "results of several calibrations: what they differ by is in the "
        "spread");
  if (unnamed > 0 && level != StudyLevel::kRecut)
    input.warnings.push_back(
        fmt::format("{} results name no operator: they count as one more "
                    "person",
                    unnamed));
  if (recuts > 0 && level == StudyLevel::kSameBlock)
    input.warnings.push_back(
        fmt::format("{} recuts are left out: they are other faces (--level "
                    "recut)",
                    recuts));
}

}  // namespace

Result<StudyInput> StudyOfResults(std::span<const StudyFace> faces, StudyLevel level) {
  if (faces.empty()) return Fail(Code::kUsage, "study: no result; name a run's folder or results");
  if (auto status = CheckFaces(faces, level); !status) return tl::unexpected(status.error());
  StudyInput input;
  input.level = level;
  input.part = faces.front().result.part;
  input.section = faces.front().result.section_name;
  AddWarnings(faces, level, input);
  const auto cuts = CutsOf(faces);
  for (const CharacteristicResult& row : faces.front().result.characteristics) {
    if (row.quantity.empty() || row.verdict == Verdict::kElsewhere) continue;
    StudySubject subject;
    subject.no = row.no;
    subject.title = TitleOf(row);
    subject.quantity = row.quantity;
    subject.unit = row.unit;
    if (const auto unit = ParseLengthUnit(row.unit)) subject.um_per_unit = UmPer(*unit);
    subject.min = row.min;
    subject.max = row.max;
    for (const StudyFace& face : faces) {
      if (level == StudyLevel::kSameBlock && face.entry.repeat == RepeatKind::kRecut) continue;
      StudyReading reading;
      reading.piece = PieceOf(face, level);
      reading.cut = cuts.at(face.entry.image);
      reading.person = face.entry.operator_name;
      reading.trial = face.entry.trial;
      reading.taken = face.result.sample.taken;
      reading.edited = !face.result.edits.empty();
      reading.reason = "the result has no such row";
      for (const CharacteristicResult& own : face.result.characteristics) {
        if (own.no != row.no || own.quantity != row.quantity || own.of != row.of) continue;
        reading.value = own.actual;
        reading.reason = own.actual ? "" : own.reason;
        reading.verdict = VerdictName(own.verdict);
      }
      subject.readings.push_back(std::move(reading));
    }
    input.subjects.push_back(std::move(subject));
  }
  if (input.subjects.empty()) {
    return Fail(Code::kUsage,
                "study: the drawing has no row on a measured quantity; add the rows that are to be "
                "studied");
  }
  return input;
}

}  // namespace cutface
