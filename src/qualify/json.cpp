// The qualification as JSON (src/data/qualify.schema.json).
#include <cmath>
#include <nlohmann/json.hpp>

#include "qualify/internal.h"

namespace cutface {
namespace {

using Json = nlohmann::ordered_json;

Json Finite(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }
Json OrNull(const std::optional<double>& value) { return value ? Finite(*value) : Json(nullptr); }

Json LookJson(const std::optional<SiteLook>& look) {
  if (!look) return nullptr;
  return Json{{"body_tone", OrNull(look->body_tone)},
              {"surround_tone", OrNull(look->surround_tone)},
              {"lumen_tone", OrNull(look->lumen_tone)},
              {"rim_px", Finite(look->rim_px)},
              {"rim_depth", Finite(look->rim_depth)},
              {"odd_share", Finite(look->odd_share)},
              {"dirt", look->dirt}};
}

Json FactorsJson(const Qualification& q) {
  Json out = Json::array();
  for (const FactorFigure& f : q.factors)
    out.push_back(Json{{"name", f.name},
                       {"unit", f.unit},
                       {"least", Finite(f.least)},
                       {"greatest", Finite(f.greatest)},
                       {"rms_um", f.rms_um},
                       {"faces", f.faces},
                       {"p", Finite(f.p)},
                       {"p_all", Finite(f.p_all)},
                       {"told", f.sentence}});
  return out;
}

Json CameraJson(const SiteCamera& c) {
  return Json{{"image", c.image},
              {"size_px", {c.width_px, c.height_px}},
              {"pitch_um", Finite(c.pitch_um)},
              {"u_pitch_relative", Finite(c.u_pitch)},
              {"blur_px", Finite(c.blur_px)},
              {"noise", Finite(c.noise)},
              {"gamma", Finite(c.gamma)},
              {"light", std::string(PhantomLightName(c.light))},
              {"look", LookJson(c.look)},
              {"assumed", c.assumed}};
}

Json WordJson(const WordErrors& w) {
  return Json{{"word", w.word},
              {"n", w.n},
              {"faces", w.faces},
              {"not_measured", w.not_measured},
              {"mean_error_um", Finite(w.mean_um)},
              {"sd_um", Finite(w.sd_um)},
              {"rms_um", Finite(w.rms_um)},
              {"worst_um", Finite(w.worst_um)},
              {"median_expanded_u_um", Finite(w.median_u_um)},
              {"covered", w.covered},
              {"coverage_lo", Finite(w.coverage_lo)},
              {"coverage_hi", Finite(w.coverage_hi)},
              {"limit_um", OrNull(w.limit_um)},
              {"verdict", w.verdict},
              {"reason", w.reason}};
}

Json FoundJson(const FoundFigure& f) {
  Json classes = Json::array();
  for (const SizeClass& c : f.classes)
    classes.push_back(Json{{"least_um", Finite(c.least_um)},
                           {"greatest_um", Finite(c.greatest_um)},
                           {"of", c.of},
                           {"found", c.found},
                           {"share_lo", Finite(c.share_lo)}});
  return Json{{"classes", classes},     {"smallest_um", OrNull(f.smallest_um)},
              {"invented", f.invented}, {"limit_um", OrNull(f.limit_um)},
              {"verdict", f.verdict},   {"reason", f.reason}};
}

Json KnownJson(const KnownAnswer& k) {
  return Json{{"name", k.name},
              {"values", k.values},
              {"same_picture", k.same_picture},
              {"greatest_difference_px", Finite(k.greatest_px)},
              {"of", k.greatest_what},
              {"same_twice", k.same_twice},
              {"ok", k.ok},
              {"reason", k.reason}};
}

}  // namespace

std::string QualificationToJson(const Qualification& q, const InstalledProgram& program) {
  Json out = Json::object();
  out["format"] = "cutface/qualify";
  out["version"] = 1;
  out["software"] = program.version;
  out["program_sha256"] = program.program_sha256;
  out["machine"] = program.machine;
  out["made"] = program.made;
  out["design"] = {{"part", q.part},
                   {"revision", q.revision},
                   {"section", q.section},
                   {"sha256", q.design_sha256}};
  out["calibration"] = {{"id", q.calibration_id}, {"sha256", q.calibration_sha256}};
  out["camera"] = CameraJson(q.camera);
  out["faces"] = q.faces;
  out["measured"] = q.measured;
  out["seed"] = q.seed;
  out["failed_faces"] = q.failed_faces;
  out["limits"] = {{"coverage", Finite(q.limits.coverage)},
                   {"reliability", Finite(q.limits.reliability)}};
  out["errors"] = Json::array();
  for (const WordErrors& w : q.words) out["errors"].push_back(WordJson(w));
  out["not_tried"] = q.not_tried;
  out["factors"] = FactorsJson(q);
  out["wires"] = {{"of", q.wires.of},
                  {"found", q.wires.found},
                  {"invented", q.wires.invented},
                  {"missing", q.wires.missing},
                  {"missing_told", q.wires.missing_told},
                  {"rms_off_um", Finite(q.wires.rms_off_um)}};
  out["can_show"] = q.can_show;
  out["voids"] = FoundJson(q.voids);
  out["septa"] = FoundJson(q.septa);
  out["broken_septa"] = {{"of", q.broken}, {"told", q.broken_told}};
  out["known_answers"] = Json::array();
  for (const KnownAnswer& k : q.known) out["known_answers"].push_back(KnownJson(k));
  out["checks"] = Json::array();
  for (const BenchEvidence& c : q.checks)
    out["checks"].push_back(Json{{"kind", c.kind},
                                 {"serial", c.serial},
                                 {"taken", c.taken},
                                 {"calibration", c.calibration_id},
                                 {"certified_um", Finite(c.certified_um)},
                                 {"error_um", Finite(c.error_um)},
                                 {"expanded_u_um", Finite(c.expanded_u_um)},
                                 {"passed", c.passed},
                                 {"this_record", c.this_record}});
  out["evidence_complete"] = q.evidence_complete;
  out["evidence"] = q.evidence;
  out["not_covered"] = q.not_covered;
  out["verdict"] = q.verdict;
  out["answer"] = q.answer;
  return out.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace cutface
