#include "gui/state/bench_panel.h"

#include <fmt/format.h>

#include <filesystem>

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

std::string PitchText(const std::optional<double>& pitch, const std::optional<double>& u,
                      double k) {
  if (!pitch) return "not told by these pictures";
  return fmt::format("{:.6g} um per px", *pitch) +
         (u ? fmt::format(", U = {:.2g} um (k = {:.2f})", k * *u, k) : "");
}

void Found(const Calibration& c, BenchPanel& panel) {
  const CalibrationRecord& r = c.record;
  panel.found.push_back(
      {"pitch across", PitchText(r.pitch_x_um, r.pitch_u_x_um, c.coverage_factor_x), ""});
  panel.found.push_back(
      {"pitch down", PitchText(r.pitch_y_um, r.pitch_u_y_um, c.coverage_factor_y), ""});
  if (r.shear_u) panel.found.push_back({"shear", fmt::format("{:.3g}", r.shear), ""});
  if (r.k1_per_px2 != 0)
    panel.found.push_back({"distortion k1", fmt::format("{:.4g} per px2", r.k1_per_px2), ""});
  if (r.gamma) panel.found.push_back({"gamma", fmt::format("{:.3g}", *r.gamma), ""});
  if (r.blur_px) panel.found.push_back({"blur", fmt::format("{:.3g} px", *r.blur_px), ""});
  for (const auto& [axis, lines] :
       {std::pair("across", &c.budget_x), std::pair("down", &c.budget_y)})
    for (const CalibrationBudgetLine& line : *lines)
      panel.budget.push_back({std::string(axis) + ", " + line.source,
                              fmt::format("{:.0f} ppm", 1e6 * line.u_relative), line.remark});
  panel.untold = c.untold;
  panel.cautions = c.warnings;
  if (!r.Certified())
    panel.cautions.push_back("no certificate: the record is uncertified and every report says so");
}

void Found(const BenchCheck& check, BenchPanel& panel) {
  const auto um = [](double value, double u) {
    return fmt::format("{:.3f} um, u = {:.2g} um", value, u);
  };
  panel.found = {{"certified", um(check.certified_um, check.certified_u_um), ""},
                 {"measured", um(check.measured_um, check.measured_u_um), ""},
                 {"error", fmt::format("{:+.3f} um", check.ErrorUm()), ""},
                 {"En", fmt::format("{:+.2f}", check.En()), "within 1 passes"}};
  if (check.limit_um) panel.found.push_back({"limit", fmt::format("{:g} um", *check.limit_um), ""});
  panel.failed = !check.passed;
  panel.verdict = check.passed ? "passed" : "not passed: " + check.reason;
}

std::string SizeOf(const BenchForm& form) {
  return IsRound(form.kind) ? form.diameter_um : form.division_um;
}

std::string FileOf(const std::string& path) { return fs::path(path).filename().string(); }

// One line that says what a step has.
std::string Joined(std::initializer_list<std::string> parts) {
  std::string text;
  for (const std::string& part : parts)
    if (!part.empty()) text += (text.empty() ? "" : ", ") + part;
  return text;
}

BenchPanel::Step TargetStep(const BenchForm& form) {
  BenchPanel::Step step{BenchStep::kTarget, "The target", "", "", false};
  const bool round = IsRound(form.kind);
  const std::string size = SizeOf(form);
  step.summary =
      Joined({std::string(TargetKindName(form.kind)), size.empty() ? "" : size + " um",
              form.certificate.empty() ? "no certificate" : "certificate " + form.certificate});
  if (size.empty())
    step.missing =
        round ? "Give the certified diameter of the target." : "Give the division of the target.";
  return step;
}

BenchPanel::Step PictureStep(const BenchForm& form) {
  BenchPanel::Step step{BenchStep::kPictures, "Its pictures", "", "", false};
  for (const std::string& picture : form.pictures)
    step.summary += (step.summary.empty() ? "" : ", ") + FileOf(picture);
  if (form.pictures.empty()) step.missing = "Name a picture of the target.";
  return step;
}

BenchPanel::Step LightStep(const BenchForm& form) {
  BenchPanel::Step step{BenchStep::kLight, "Its light", "", "", true};
  const bool first = !form.exposure_first.empty(), second = !form.exposure_second.empty();
  step.summary = Joined({first && second ? "exposure pair" : "",
                         form.blank.empty() ? "" : "blank " + FileOf(form.blank)});
  if (step.summary.empty()) step.summary = "left out: the light is taken for even";
  if (first != second) step.missing = "An exposure pair is two pictures; name both.";
  return step;
}

BenchPanel::Step RecordStep(const BenchForm& form) {
  BenchPanel::Step step{BenchStep::kRecord, "The record", FileOf(form.record), "", false};
  if (form.record.empty()) step.missing = "Name the record that is checked.";
  return step;
}

BenchPanel::Step NameStep(const BenchForm& form, const BenchOutcome* outcome) {
  BenchPanel::Step step{BenchStep::kNames, "Names", "", "", false};
  step.summary = form.checks
                     ? form.by
                     : Joined({form.id, form.objective, form.by.empty() ? "" : "by " + form.by,
                               form.due.empty() ? "" : "due " + form.due});
  if (outcome != nullptr) step.missing = KeepHindrance(form, outcome);
  return step;
}

std::string AdviceFor(const BenchForm& form) {
  switch (form.kind) {
    case TargetKind::kLineScale:
      return form.checks ? "One sharp picture with the scale across or upright."
                         : "One picture with the scale across and one with it upright tell both "
                           "pitches; a third aslant tells the shear.";
    case TargetKind::kDotGrid:
    case TargetKind::kCrossGrid:
      return "One picture that the grid fills tells pitches, shear and the lens's distortion.";
    case TargetKind::kCircle:
      return "One picture of the whole circle, sharp, about half as wide as the frame. It tells "
             "both pitches and the shear, and nothing of the lens's distortion.";
    case TargetKind::kPin:
      return "The cut face of a pin or wire of known diameter, potted, cut and pictured as the "
             "product is: it tries edges and light too.";
  }
  return "";
}

}  // namespace

std::string KeepHindrance(const BenchForm& form, const BenchOutcome* outcome) {
  if (outcome == nullptr) return "Look at the pictures first.";
  if (form.by.empty()) return "Give the name of who does it.";
  if (form.checks) return outcome->check ? "" : "Look at the picture first.";
  if (!outcome->calibration) return "Look at the pictures first.";
  if (form.id.empty()) return "Give the record an id.";
  if (form.id.find('/') != std::string::npos) return "An id has no \"/\".";
  if (form.due.empty()) return "Say when it is due again.";
  if (form.folder.empty()) return "Name the folder of the records.";
  return "";
}

BenchPanel BuildBench(const BenchForm& form, const BenchOutcome* outcome) {
  BenchPanel panel;
  if (form.checks)
    panel.kinds = {TargetKind::kLineScale, TargetKind::kCircle, TargetKind::kPin};
  else
    panel.kinds = {TargetKind::kLineScale, TargetKind::kDotGrid, TargetKind::kCrossGrid,
                   TargetKind::kCircle};
  panel.picture_advice = AdviceFor(form);
  panel.steps.push_back({BenchStep::kWhat, "What is done",
                         form.checks ? "a record is checked" : "a new record is made", "", false});
  panel.steps.push_back(TargetStep(form));
  panel.steps.push_back(PictureStep(form));
  panel.steps.push_back(form.checks ? RecordStep(form) : LightStep(form));
  for (const BenchPanel::Step& step : panel.steps)
    if (panel.hindrance.empty()) panel.hindrance = step.missing;
  panel.steps.push_back(NameStep(form, outcome));
  panel.keep_hindrance = KeepHindrance(form, outcome);
  panel.keep_as = form.checks ? (form.record.empty() ? "" : CheckLogPath(form.record))
                              : (fs::path(form.folder) / (form.id + ".calibration.json")).string();
  if (outcome == nullptr) return panel;
  if (outcome->calibration) Found(*outcome->calibration, panel);
  if (outcome->check) Found(*outcome->check, panel);
  for (const TargetFit& fit : outcome->fits) {
    const std::string seen =
        IsRound(fit.kind) ? fmt::format("diameter {:.3f} px", fit.diameter_px)
                          : fmt::format("{} of {} marks", fit.lines_seen, fit.lines_expected);
    panel.pictures.push_back(
        {FileOf(fit.image_file), seen, fmt::format("scatter {:.3f} px", fit.residual_rms_px)});
    // Of a record they stand among its warnings already.
    if (outcome->check)
      panel.cautions.insert(panel.cautions.end(), fit.remarks.begin(), fit.remarks.end());
  }
  return panel;
}

}  // namespace cutface::window
