// Targets on the bench, from their pictures to what is kept: the finder of each kind, a round
// standard measured as the product is, the camera's gamma and the blank that go with a record, and
// the files that lie beside it. The command line and the window both call this, so that both make
// the same record and the same check. Keywords: circle, pin, blank, flat field, exposure pair,
// evidence, residuals, drift.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/calibration_keeping.h"
#include "cutface/job.h"

namespace cutface {

bool IsRound(TargetKind kind);  // circle or pin

// What `spec` says in a picture, with the finder of its kind; a circle's edge is found as a
// product's outline is. Errors: those of the finders; kNoPattern (an edge that is not whole);
// kUsage (a pin: where it was cut and polished is not certified).
Result<TargetFit> FindTarget(const Micrograph& picture, const TargetSpec& spec);

// A circle or pin measured as the product is: by the whole pipeline, as the outline of a face
// without a drawing, so that a check holds for edges and light too, not for the scale alone.
// Errors: those of ReadFlatField and SurveySection; kNoPattern (its edge is not whole).
Result<BenchCheck> MeasureRound(const Micrograph& picture, const TargetSpec& spec,
                                const Bench& bench, Channel channel = Channel::kGreen);

// Two pictures of one field, the second with `ratio` times the exposure of the first. Their gamma
// is kept before the target's own, which it should agree with (else a warning). Errors: those of
// ReadMicrograph and GammaFromExposures.
struct ExposurePair {
  std::string first, second;
  double ratio = 2;
};
Status TakeExposurePair(const ExposurePair& pair, Channel channel, CalibrationRecord& record,
                        std::vector<std::string>& warnings);

// A file that is kept beside a record.
struct RecordFile {
  std::string path;
  std::vector<std::byte> bytes;
};
// The picture of the empty field, to lie beside BASE.calibration.json; the record names it with
// its hash. Errors: kUsage (gamma unknown), kCalibrationMismatch (another size), those of
// ReadMicrograph and FlatField::FromBlank.
Result<RecordFile> TakeBlank(const std::string& path, const std::string& base, Channel channel,
                             CalibrationRecord& record);
// BASE.residuals.png and .svg: what the fits leave over. Errors: those of PlotResiduals.
Result<std::vector<RecordFile>> ResidualPlots(std::span<const TargetFit> fits,
                                              const CalibrationRecord& record,
                                              const std::string& base);
// The record with its files; nothing is overwritten, and nothing stays when the record cannot be
// kept. Errors: kUsage (a file is there already), those of KeepRecord, kFileUnwritable.
Status KeepWithFiles(const std::vector<RecordFile>& files, const std::string& path,
                     const CalibrationRecord& record);

// ID.drift.png and .svg beside the log, drawn anew; only plots of ours are replaced. Returns their
// paths. Errors: kUsage (a picture of somebody else's stands there), those of PlotDrift.
Result<std::vector<std::string>> DrawDrift(std::span<const BenchCheck> log, const std::string& id,
                                           const std::string& log_path);

}  // namespace cutface
