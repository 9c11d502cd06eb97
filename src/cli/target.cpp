#include "cli/target.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/calibration_keeping.h"
#include "cutface/inspect.h"

namespace cutface {

Result<TargetSpec> SpecOf(const Call& call) {
  const TargetCall& target = call.target;
  TargetSpec spec;
  std::string kind = target.target;
  if (kind.empty()) {
    kind = target.artefact == "dot grid"         ? "dot grid"
           : target.artefact == "check standard" ? "circle"
           : target.diameter_um > 0              ? "circle"
                                                 : "line scale";
  }
  auto parsed = ParseTargetKind(kind);
  if (!parsed) return tl::unexpected(parsed.error());
  spec.kind = *parsed;
  const bool round = spec.kind == TargetKind::kCircle || spec.kind == TargetKind::kPin;
  if (round && !(target.diameter_um > 0))
    return Fail(Code::kUsage, fmt::format("a {} needs its --diameter, as 0.5mm", kind));
  if (!round && !(target.division_um > 0))
    return Fail(Code::kUsage, fmt::format("a {} needs its --division, as 10um", kind));
  spec.division_um = target.division_um;
  spec.diameter_um = target.diameter_um;
  spec.certificate_u_um = target.u_um;
  spec.temperature_c = target.temperature_c;
  spec.nominal_pitch_um = call.calibrate.nominal_pitch_um;
  return spec;
}

Status CheckCertificate(const Call& call, const std::string& used) {
  const std::string& due = call.target.certificate_due;
  if (due.empty()) return {};
  if (!ParseClockTime(due + "T00:00")) {
    return Fail(Code::kUsage,
                fmt::format("--certificate-due {}: is no date, write it as 2027-03-02", due));
  }
  if (used.substr(0, 10) <= due) return {};
  return Fail(Code::kCalibrationOverdue,
              fmt::format("certificate {} ran out on {}, the artefact was used on {}; have it "
                          "certified again",
                          call.target.certificate, due, used.substr(0, 10)));
}

namespace {

// The edge of a round target, found as a product's outline is: by the whole pipeline, in pixels.
Result<TargetFit> FindCircle(const Micrograph& picture, const TargetSpec& spec) {
  CalibrationRecord pixels;
  pixels.id = "pixels";
  pixels.image_width_px = picture.width();
  pixels.image_height_px = picture.height();
  pixels.pitch_x_um = pixels.pitch_y_um = 1;
  const Scale scale = Scale::Isotropic(1);
  auto survey = SurveySection(picture, pixels, scale);
  if (!survey) return tl::unexpected(survey.error());
  const auto& outline = survey->result.section.outline;
  if (!outline || !outline->whole) {
    return Fail(Code::kNoPattern, fmt::format("{}: the {}'s edge is not seen all round; picture it "
                                              "whole and clean",
                                              picture.file_name, TargetKindName(spec.kind)));
  }
  CircleEdge edge;
  edge.contour = scale.ToPx(outline->Points());
  edge.u_common_px = outline->u_common_um;
  double square = 0;
  for (const ContourVertex& v : outline->vertices) {
    square += v.sigma_um * v.sigma_um + v.doubt_um * v.doubt_um;
  }
  const auto places = static_cast<double>(outline->vertices.size());
  edge.u_along_px = std::hypot(outline->u_arc_um, std::sqrt(square / std::max(1.0, places)));
  const double around = Perimeter(edge.contour);
  edge.independent = std::clamp(around / std::max(1.0, outline->arc_length_um), 1.0, places);
  auto fit = FitCircleTarget(edge, picture, spec);
  if (fit && !outline->doubt.empty())
    fit->remarks.push_back("its edge is doubtful: " + outline->doubt);
  return fit;
}

}  // namespace

Result<TargetFit> FindTarget(const Micrograph& picture, const TargetSpec& spec) {
  if (spec.kind == TargetKind::kLineScale) return FindLineScale(picture, spec);
  if (spec.kind == TargetKind::kDotGrid || spec.kind == TargetKind::kCrossGrid) {
    return FindGrid(picture, spec);
  }
  if (spec.kind == TargetKind::kCircle) return FindCircle(picture, spec);
  return Fail(Code::kUsage,
              "a pin cannot make a record: where it was cut and polished is not certified; "
              "calibrate with a line scale, a grid or a circle, then `cutface check` with the pin");
}

}  // namespace cutface
