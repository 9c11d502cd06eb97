#include "cutface/qualify.h"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <mutex>
#include <thread>

#include "cutface/inspect.h"
#include "cutface/stats.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

// Sizes that are tried, in pixels: from what no picture shows to what every picture does.
constexpr double kVoidsFrom = 3, kVoidsTo = 30;
constexpr double kSeptaFrom = 2, kSeptaTo = 16;
constexpr int kVoidsAFace = 6;

// What is varied together, over these shares of the camera's own value. Bases of the Halton
// sequences (Halton, Numerische Mathematik 2, 1960) share no factor with the ten kinds of faces.
constexpr double kBlurFrom = 0.85, kBlurTo = 1.3, kNoiseFrom = 0.6, kNoiseTo = 1.6;
constexpr double kGammaFrom = 0.95, kGammaTo = 1.05;
constexpr int kBases[] = {3, 7, 11, 13};

struct PlannedPhantom {
  PhantomOrder order;
  FacePlan plan;
  std::uint64_t seed = 0;
  std::string fault;  // in words, "" none
};

// Names of two neighbouring lumens: the pair whose nominal contours are nearest, of all pairs in
// turn.
std::vector<std::pair<std::string, std::string>> Pairs(const SectionDesign& plane) {
  std::vector<std::pair<std::string, std::string>> pairs;
  std::vector<double> gaps;
  for (std::size_t i = 0; i < plane.lumens.size(); ++i)
    for (std::size_t j = i + 1; j < plane.lumens.size(); ++j) {
      pairs.emplace_back(plane.lumens[i].name, plane.lumens[j].name);
      gaps.push_back(
          LeastDistance(plane.lumens[i].shape.contour, plane.lumens[j].shape.contour).distance);
    }
  if (pairs.empty()) return pairs;
  // Lumens that are far apart have no septum that could be thinned.
  const double least = *std::min_element(gaps.begin(), gaps.end());
  std::vector<std::pair<std::string, std::string>> near;
  for (std::size_t i = 0; i < pairs.size(); ++i)
    if (gaps[i] <= 2.5 * least) near.push_back(pairs[i]);
  return near;
}

void PlanFactors(const QualifyOrder& order, int no, PlannedPhantom& planned) {
  Random shifts(order.seed);
  double at[4];
  for (int i = 0; i < 4; ++i) at[i] = HaltonPoint(no + 1, kBases[i], shifts.Uniform());
  const SiteCamera& camera = order.camera;
  FacePlan& plan = planned.plan;
  plan.blur_px = std::max(0.5, camera.blur_px * (kBlurFrom + (kBlurTo - kBlurFrom) * at[0]));
  plan.noise = camera.noise * (kNoiseFrom + (kNoiseTo - kNoiseFrom) * at[1]);
  plan.gamma = camera.gamma * (kGammaFrom + (kGammaTo - kGammaFrom) * at[2]);
  plan.tilt_deg = order.tilt_deg * at[3];
  planned.order.blur_px = plan.blur_px;
  planned.order.noise = plan.noise;
  planned.order.gamma = plan.gamma;
  planned.order.oblique_deg = plan.tilt_deg;
}

// Tones and edges of the site's picture. Where it has dirt, two faces of three have it.
void TakeLook(const SiteCamera& camera, int no, PhantomOrder& order) {
  if (!camera.look) return;
  order.look.body_tone = camera.look->body_tone;
  order.look.resin_tone = camera.look->surround_tone;
  order.look.lumen_tone = camera.look->lumen_tone;
  order.look.rim_px = camera.look->rim_px;
  order.look.rim_depth = camera.look->rim_depth;
  order.dirt = camera.look->dirt && no % 3 != 0;
}

PlannedPhantom PlanFace(const QualifyOrder& order, const SectionDesign& plane, int no) {
  Random random(order.seed * 1000003 + static_cast<std::uint64_t>(no));
  const auto pairs = Pairs(plane);
  PlannedPhantom planned;
  planned.seed = random.Next() >> 16;
  PhantomOrder& o = planned.order;
  o.name = fmt::format("face-{}", no + 1);
  o.design_file = "site.design.json";
  o.calibration_file = "site.calibration.json";
  o.width_px = order.camera.width_px;
  o.height_px = order.camera.height_px;
  o.record_pitch_um = order.camera.pitch_um;
  o.pitch_um = order.camera.pitch_um * (1 + order.camera.u_pitch * random.Normal());
  o.light = order.camera.light;
  PlanFactors(order, no, planned);
  TakeLook(order.camera, no, o);
  o.oblique_axis_deg = random.Uniform(0, 180);
  o.rotation_deg = random.Uniform(0, 360);
  o.shift_px = {random.Uniform(-3, 3), random.Uniform(-3, 3)};
  // Of ten faces one is as good as the section gets and one has a broken septum; the others have a
  // thin one, and every second has voids too.
  if (no % 10 == 0) return planned;
  if (no % 2 == 1) {
    o.voids = kVoidsAFace;
    o.least_void_px = kVoidsFrom;
    o.greatest_void_px = kVoidsTo;
  }
  if (o.voids > 0) planned.fault = fmt::format("{} voids", o.voids);
  if (no % 10 == 7 && !plane.wires.empty()) {
    o.missing_wires = o.pulled_out_wires = 1;
    planned.fault += std::string(planned.fault.empty() ? "" : ", ") + "two wires missing";
  }
  if (pairs.empty()) return planned;
  const auto& pair =
      pairs[static_cast<std::size_t>(random.Integer(0, static_cast<int>(pairs.size()) - 1))];
  o.first = pair.first;
  o.second = pair.second;
  if (no % 10 == 5) {
    o.breach_um = random.Uniform(6, 20) * o.pitch_um;
  } else {
    // Even on a scale of ratios: small ones are where it is decided.
    o.thin_septum_um = kSeptaFrom * std::pow(kSeptaTo / kSeptaFrom, random.Uniform()) * o.pitch_um;
  }
  planned.fault +=
      std::string(planned.fault.empty() ? "" : ", ") +
      (o.breach_um > 0 ? fmt::format("a septum broken over {}", Micrometres(o.breach_um))
                       : fmt::format("a septum of {}", Micrometres(o.thin_septum_um))) +
      fmt::format(" between {} and {}", o.first, o.second);
  return planned;
}

CalibrationRecord RecordOf(const CalibrationRecord& site, const SiteCamera& camera) {
  CalibrationRecord record = site;
  record.image_width_px = camera.width_px;
  record.image_height_px = camera.height_px;
  record.pitch_x_um = record.pitch_y_um = camera.pitch_um;
  // One scale for both directions, as the phantoms have it.
  record.pitch_u_x_um = record.pitch_u_y_um = camera.u_pitch * camera.pitch_um;
  record.shear = 0;
  record.shear_u.reset();
  record.k1_per_px2 = 0;
  record.k1_u_per_px2.reset();
  record.distortion_centre = {0.5 * (camera.width_px - 1), 0.5 * (camera.height_px - 1)};
  record.flat_field_image.clear();
  return record;
}

Result<FaceScore> RunFace(const Design& design, const SectionDesign& plane,
                          const CalibrationRecord& record, const Scale& scale,
                          PlannedPhantom planned, const std::function<bool()>& go_on) {
  auto face = DrawPhantomOfDesign(design, plane.name, planned.order, planned.seed);
  std::string not_tried;
  if (!face && !planned.fault.empty()) {
    // A good face in its place still tells lengths; that the fault was not tried is said.
    not_tried = fmt::format("{}: not tried: {}: {}", planned.order.name, planned.fault,
                            face.error().message);
    PhantomOrder& plain = planned.order;
    plain.voids = plain.missing_wires = plain.pulled_out_wires = 0;
    plain.thin_septum_um = plain.breach_um = 0;
    plain.first = plain.second = "";
    face = DrawPhantomOfDesign(design, plane.name, plain, planned.seed);
  }
  if (!face) return tl::unexpected(face.error());
  const std::size_t drawn = face->scene.voids.size();
  if (drawn < static_cast<std::size_t>(planned.order.voids))
    not_tried = fmt::format(
        "{}: not tried: {} of {} voids: no room for them in the section", planned.order.name,
        static_cast<std::size_t>(planned.order.voids) - drawn, planned.order.voids);
  // The same part cut straight: the seed draws the part, the pose only places it.
  PhantomOrder straight = planned.order;
  straight.oblique_deg = 0;
  const auto upright = DrawPhantomOfDesign(design, plane.name, straight, planned.seed);
  if (!upright) return tl::unexpected(upright.error());
  const Micrograph picture = MicrographFromPixels(RenderPhantom(face->scene, face->picture_seed),
                                                  face->scene.bits, planned.order.name);
  InspectOptions options;
  options.progress = [&](double, std::string_view) { return go_on(); };
  const auto result = Inspect(picture, record, scale, design, plane, options);
  if (!result) {
    if (result.error().code == Code::kCancelled) return tl::unexpected(result.error());
    FaceScore score;
    score.plan = planned.plan;
    score.not_tried = not_tried;
    score.failure = fmt::format("{}: {}: {}", planned.order.name, CodeName(result.error().code),
                                result.error().message);
    return score;
  }
  auto score = ScoreFace(*result, face->truth_json, upright->truth_json, planned.order.pitch_um);
  if (!score) return score;
  score->plan = planned.plan;
  score->not_tried = not_tried;
  return score;
}

Status CheckOrder(const QualifyOrder& order, const SectionDesign& plane) {
  if (order.faces < 3 || order.faces > 10000)
    return Fail(Code::kUsage, "--faces: 3 to 10000; 60 or more tell something");
  if (!(order.tilt_deg >= 0 && order.tilt_deg <= 15))
    return Fail(Code::kUsage, "--tilt: 0 to 15 degrees");
  if (plane.kind == "lengthwise")
    return Fail(Code::kUsage, "qualify: for cross sections; name another section of the drawing");
  const SiteCamera& c = order.camera;
  if (!(c.pitch_um > 0) || c.width_px < 64 || c.height_px < 64 || !(c.blur_px > 0) ||
      !(c.noise >= 0) || !(c.gamma > 0))
    return Fail(Code::kUsage, "qualify: the camera's figures make no sense; give --image");
  double reach = 0;
  for (const PointUm p : plane.outline.contour) reach = std::max(reach, std::hypot(p.x, p.y));
  const double room = 0.5 * std::min(c.width_px, c.height_px) * c.pitch_um;
  if (reach * 1.02 > room)
    return Fail(Code::kUsage,
                fmt::format("qualify: {} is {:.0f} um across and the picture only {:.0f} um: the "
                            "record is of another objective",
                            plane.name, 2 * reach, 2 * room));
  return {};
}

struct Workers {
  std::atomic<int> next = 0, done = 0;
  std::atomic<bool> stop = false;
  std::mutex lock;
  std::optional<Error> error;
};

Result<std::vector<FaceScore>> RunFaces(const Design& design, const SectionDesign& plane,
                                        const CalibrationRecord& record, const Scale& scale,
                                        const QualifyOrder& order) {
  std::vector<FaceScore> scores(static_cast<std::size_t>(order.faces));
  Workers shared;
  const auto go_on = [&] { return !shared.stop.load(); };
  const auto work = [&] {
    for (int no = shared.next++; no < order.faces && go_on(); no = shared.next++) {
      auto score = RunFace(design, plane, record, scale, PlanFace(order, plane, no), go_on);
      if (score) {
        scores[static_cast<std::size_t>(no)] = std::move(*score);
        ++shared.done;
        continue;
      }
      const std::lock_guard hold(shared.lock);
      if (!shared.error) shared.error = score.error();
      shared.stop = true;
    }
  };
  std::vector<std::thread> threads;
  for (int i = 0; i < std::clamp(order.jobs, 1, order.faces); ++i) threads.emplace_back(work);
  bool cancelled = false;
  while (shared.done < order.faces && go_on()) {
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
    const int done = shared.done;
    if (!order.progress) continue;
    if (order.progress(static_cast<double>(done) / order.faces,
                       fmt::format("{} of {} faces", done, order.faces)))
      continue;
    cancelled = true;
    shared.stop = true;
  }
  for (std::thread& thread : threads) thread.join();
  if (cancelled) return Fail(Code::kCancelled, "qualify: stopped; nothing was written");
  if (shared.error) return tl::unexpected(*shared.error);
  return scores;
}

void FillEvidence(const QualifyOrder& order, Qualification& out) {
  out.checks = order.checks;
  // The last one counts: a bench that held once and holds no longer proves nothing.
  const auto last = std::find_if(order.checks.rbegin(), order.checks.rend(), [](const auto& check) {
    return check.this_record && check.kind == "pin";
  });
  const BenchEvidence* good = last != order.checks.rend() && last->passed ? &*last : nullptr;
  out.evidence_complete = good != nullptr;
  out.evidence =
      out.evidence_complete
          ? fmt::format(
                "The check of {} with pin or wire {} stands beside the phantoms: error {}, "
                "expanded uncertainty {}.",
                good->taken, good->serial, Micrometres(good->error_um),
                Micrometres(good->expanded_u_um))
      : last != order.checks.rend()
          ? fmt::format(
                "INCOMPLETE: the last check with a pin or wire, of {} with {}, did not hold: "
                "error {}. Find out why, and check again.",
                last->taken, last->serial, Micrometres(last->error_um))
          : "INCOMPLETE: phantoms are not your microscope. Pot a pin or wire of certified "
            "diameter, "
            "cut, polish and picture it like a part, run cutface check on it with this record, and "
            "qualify again.";
}

void Decide(Qualification& out) {
  std::vector<std::string> failed;
  bool judged = false;
  for (const WordErrors& word : out.words) {
    judged = judged || word.verdict == "pass";
    if (word.verdict == "fail") failed.push_back(word.word + ": " + word.reason);
  }
  for (const auto& [figure, name] :
       {std::pair{&out.voids, "voids"}, std::pair{&out.septa, "septa"}}) {
    judged = judged || figure->verdict == "pass";
    if (figure->verdict == "fail") failed.push_back(std::string(name) + ": " + figure->reason);
  }
  for (const KnownAnswer& face : out.known)
    if (!face.ok) failed.push_back("known answer " + face.name + ": " + face.reason);
  if (out.measured < out.faces)
    failed.push_back(
        fmt::format("{} of {} faces could not be measured", out.faces - out.measured, out.faces));
  if (!failed.empty()) {
    out.verdict = "fail";
    out.answer =
        fmt::format("This installation does not reach what is asked of it: {}{}.", failed.front(),
                    failed.size() > 1 ? fmt::format(" (and {} more)", failed.size() - 1) : "");
  } else if (judged && !out.known.empty()) {
    out.verdict = "pass";
    out.answer = fmt::format(
        "On {} phantoms of this drawing and camera this installation reaches "
        "what is asked of it.",
        out.faces);
  } else {
    out.verdict = "not judged";
    out.answer = judged ? "Figures are told and not judged: the known answers were left out."
                        : "Figures are told and not judged: no limit was given.";
  }
  if (!out.evidence_complete)
    out.answer +=
        out.evidence.find("did not hold") != std::string::npos
            ? " The evidence is incomplete: the last check with a potted pin or wire did not hold."
            : " The evidence is incomplete: no check with a potted pin or wire.";
}

void SayWhatQualifies(const SectionDesign& plane, const QualifyOrder& order, Qualification& out) {
  out.can_show = {
      fmt::format("errors and intervals of lengths on {} rendered faces of section {} (of {} "
                  "ordered), whose geometry is known exactly, with the scale's own doubt in them",
                  out.measured, plane.name, out.faces),
      "from which size on voids and thin septa are found, and whether broken septa are told",
      fmt::format("how errors change with blur, noise, gamma and a tilt of up to {:g} degrees, "
                  "varied together",
                  order.tilt_deg)};
  if (!plane.wires.empty())
    out.can_show.push_back("whether wires are found, counted and placed, missing ones told");
  if (!plane.rings.empty())
    out.can_show.push_back("thickness of rings and liners, scored as the other lengths");
  out.not_covered = {
      "phantoms are no pictures of your microscope: they have one pitch in x and y, no shear and "
      "no "
      "distortion: the record's own are not tried",
      order.camera.look
          ? "tones, rims and dirt are those of one picture of the site; resin gaps, smear and "
            "other "
            "lights are rendered only as far as the phantoms know them"
          : "tones, rims and dirt of this site: no --image was given, so clean pictures with drawn "
            "tones were tried",
      "preparation: what cutting and polishing do to a part (a recut study tells)",
      "persons: corrections by hand (a same-image study tells)"};
  if (!plane.fibres.empty()) out.not_covered.push_back("fibres are rendered and not scored");
  if (!out.not_tried.empty())
    out.not_covered.push_back(
        fmt::format("{} faces have no fault, since theirs does not fit into "
                    "this section (see \"not tried\")",
                    out.not_tried.size()));
}

}  // namespace

std::string Micrometres(double um) { return fmt::format("{:.3g} um", um == 0 ? 0.0 : um); }

Result<Qualification> Qualify(const Design& design, const SectionDesign& plane,
                              const CalibrationRecord& record, const QualifyOrder& order) {
  if (auto status = CheckOrder(order, plane); !status) return tl::unexpected(status.error());
  const auto begun = std::chrono::steady_clock::now();
  const CalibrationRecord isotropic = RecordOf(record, order.camera);
  const auto scale = Scale::FromRecord(isotropic);
  if (!scale) return tl::unexpected(scale.error());
  Qualification out;
  out.part = design.part_number;
  out.revision = design.revision;
  out.section = plane.name;
  out.design_sha256 = design.sha256;
  out.calibration_id = record.id;
  out.calibration_sha256 = record.sha256;
  out.camera = order.camera;
  out.limits = order.limits;
  out.faces = order.faces;
  out.seed = order.seed;
  const auto scores = RunFaces(design, plane, isotropic, *scale, order);
  if (!scores) return tl::unexpected(scores.error());
  SumUp(*scores, order, out);
  if (order.known_answers) out.known = CheckKnownAnswers();
  FillEvidence(order, out);
  SayWhatQualifies(plane, order, out);
  Decide(out);
  out.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  return out;
}

}  // namespace cutface
