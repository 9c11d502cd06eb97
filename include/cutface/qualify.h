// Proof that this installation measures right, on phantoms of the site's own drawing and camera.
//
// Faces of the drawing's section are rendered with the site's pitch, blur, noise and gamma, with
// geometry that is known exactly, and measured here by the same pipeline that measures pictures.
// Told are: errors by quantity, whether the 95 % intervals hold the truth, the smallest void and
// septum reliably found, all against the site's limits; how errors change with blur, noise, gamma
// and tilt, which are varied together (Halton points, so that no two go hand in hand); and whether
// the known answers (faces whose values stand in this program) come out again. The scale's doubt is
// in all of it: each face has a true pitch of its own, drawn from the record's uncertainty.
// Phantoms are not the site's microscope: evidence is incomplete until a check of the bench with a
// potted pin or wire stands beside it.
// Keywords: qualification, validation, phantom, coverage, known answers, ISO 13485 4.1.6.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/design.h"
#include "cutface/micrograph.h"
#include "cutface/phantom.h"
#include "cutface/scale.h"

namespace cutface {

// Tones (0 to 1, as stored), the polished edge and dirt of a site's picture.
struct SiteLook {
  std::optional<double> body_tone, surround_tone, lumen_tone;  // lumen: of open ones
  double rim_px = 0, rim_depth = 0;  // share of light lost at the edge; negative: a bright rim
  double odd_share = 0;              // of places beside the outline that stand out
  bool dirt = false;                 // enough of them for scratches, dust or smear
};

// What the phantoms' pictures are to be like.
struct SiteCamera {
  int width_px = 0, height_px = 0;
  double pitch_um = 1;
  double u_pitch = 0;  // standard uncertainty / pitch
  double blur_px = 1, noise = 0.01, gamma = 1;
  PhantomLight light = PhantomLight::kReflected;
  std::optional<SiteLook> look;      // of an image; not set: drawn, clean
  std::string image;                 // that it was told from, "" none
  std::vector<std::string> assumed;  // what was not told by an image or the record
};
// From the record alone: its picture size, pitch and, where it has them, blur and gamma.
SiteCamera CameraOfRecord(const CalibrationRecord& record, const Scale& scale);
// And from a picture of a cut face of this section, measured here. Errors: those of Inspect.
Result<SiteCamera> CameraOfImage(const Micrograph& image, const CalibrationRecord& record,
                                 const Scale& scale, const Design& design,
                                 const SectionDesign& plane);

// What the site asks for. Without limits of its own a figure is told and not judged.
struct SiteLimits {
  std::map<std::string, double> error_um;  // by word: |mean error| + 2 standard deviations
  std::optional<double> smallest_void_um, smallest_septum_um;  // to be found reliably
  // Intervals of 95 % are refused where the share that holds the truth is below this beyond doubt.
  double coverage = 0.93;
  double reliability = 0.90;  // share to be found, with 95 % confidence (one-sided)
};

// A check of the bench with an artefact, out of its log.
struct BenchEvidence {
  std::string kind, serial, taken, calibration_id;  // kind: "line distance", "circle", "pin"
  double certified_um = 0, error_um = 0, expanded_u_um = 0;
  bool passed = false;
  bool this_record = false;  // made with the record that is qualified
};

struct QualifyOrder {
  SiteCamera camera;
  SiteLimits limits;
  int faces = 60;  // REQUIRES: 3 to 10000
  std::uint64_t seed = 1;
  int jobs = 1;
  // Faces are cut askew by up to this: what a site's cutting leaves. Lengths are held against the
  // part as it is, not as the slanting cut shows it. REQUIRES: 0 to 15.
  double tilt_deg = 2;
  std::vector<BenchEvidence> checks;
  bool known_answers = true;  // false leaves them out, and nothing is then called a pass
  Progress progress;
};

// Errors of one word over all features and faces, in micrometres.
struct WordErrors {
  std::string word;
  std::size_t n = 0, not_measured = 0, faces = 0;
  double mean_um = 0, sd_um = 0, rms_um = 0, worst_um = 0;
  double median_u_um = 0;  // expanded uncertainty: half of the interval
  std::size_t covered = 0;
  double coverage_lo = 0, coverage_hi = 1;  // Clopper-Pearson, 95 %
  std::optional<double> limit_um;
  std::string verdict;  // "pass", "fail", "not judged"
  std::string reason;
};

// Voids or septa of one class of size.
struct SizeClass {
  double least_um = 0, greatest_um = 0;
  std::size_t of = 0, found = 0;
  double share_lo = 0;  // one-sided 95 % bound of the share found (Clopper-Pearson)
};
struct FoundFigure {
  std::vector<SizeClass> classes;     // from the smallest
  std::optional<double> smallest_um;  // from here on found reliably
  std::size_t invented = 0;           // told where there is none
  std::optional<double> limit_um;
  std::string verdict, reason;
};

// Wires of a braid or coil: rendered ones that were found at their place, none told elsewhere.
struct WireFigure {
  std::size_t of = 0, found = 0, invented = 0;
  std::size_t missing = 0, missing_told = 0;  // rendered missing or pulled out; told so
  double rms_off_um = 0;                      // of the found ones' centres
};

// One of the things that are varied together from face to face, and what errors do with it.
struct FactorFigure {
  std::string name, unit;  // "blur", "px"
  double least = 0, greatest = 0;
  std::array<double, 3> rms_um{};  // of all lengths: lower, middle, upper third of the range
  std::array<std::size_t, 3> faces{};
  double p = 1, p_all = 1;  // of no trend of a face's RMS error; Holm's, all factors together
  std::string sentence;
};

struct KnownAnswer {
  std::string name;
  std::size_t values = 0;
  bool same_picture = false;  // the rendered bytes are the ones the answers were made from
  double greatest_px = 0;     // difference of a length to its answer
  std::string greatest_what;
  bool same_twice = false;  // a second run gave every digit again
  bool ok = false;
  std::string reason;
};

struct Qualification {
  std::string part, revision, section, design_sha256, calibration_id, calibration_sha256;
  SiteCamera camera;
  SiteLimits limits;
  int faces = 0, measured = 0;
  std::uint64_t seed = 0;
  std::vector<std::string> failed_faces;  // "face-7: no-section: ..."
  std::vector<std::string> not_tried;     // "face-7: septum of 6 um between a and b: why"
  WireFigure wires;
  std::vector<FactorFigure> factors;
  std::vector<WordErrors> words;
  FoundFigure voids, septa;
  std::size_t broken = 0, broken_told = 0;  // septa that were rendered broken; told as merged
  std::vector<KnownAnswer> known;
  std::vector<BenchEvidence> checks;
  bool evidence_complete = false;
  std::string evidence;                            // a sentence
  std::string verdict;                             // "pass", "fail", "not judged"
  std::string answer;                              // a sentence
  std::vector<std::string> can_show, not_covered;  // what the phantoms show and do not show
  double seconds = 0;
};

// Errors: kUsage (numbers out of range; the part does not fit into the picture; a lengthwise
// section), kCancelled, those of DrawPhantomOfDesign.
Result<Qualification> Qualify(const Design& design, const SectionDesign& plane,
                              const CalibrationRecord& record, const QualifyOrder& order);

// The known answers alone. `draft` (may be null) takes a file of answers as this build gives them.
std::vector<KnownAnswer> CheckKnownAnswers(std::string* draft = nullptr);
inline constexpr double kKnownAnswerPx = 0.001;

struct InstalledProgram {
  std::string version, program_sha256, machine, made;
};
// src/data/qualify.schema.json.
std::string QualificationToJson(const Qualification& q, const InstalledProgram& program);
std::string QualificationText(const Qualification& q);

// --- for whoever shows it
// -------------------------------------------------------------------------

// Rows of text, the first of them titles: lengths, sizes found ("void" or "septum"), factors.
using TextRows = std::vector<std::vector<std::string>>;
TextRows QualifiedLengths(const Qualification& q);
TextRows QualifiedSizes(const FoundFigure& figure, const std::string& what);
TextRows QualifiedFactors(const Qualification& q);
std::string CameraSentence(const SiteCamera& camera);
std::string KnownSentence(const Qualification& q);
std::string FoundSentence(const FoundFigure& figure, const std::string& what);
std::string WireSentence(const WireFigure& wires);  // "" without wires

}  // namespace cutface
