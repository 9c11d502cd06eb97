// The known answers: small faces that are rendered from a seed, and what this program's release
// measured on them (src/data/known-answers.json). They tell whether this build, on this processor
// and with these libraries, still computes the same.
#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstdint>
#include <map>
#include <nlohmann/json.hpp>

#include "cutface/inspect.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

using Json = nlohmann::ordered_json;

constexpr char kKnownAnswers[] =
#include "known_answers.inc"
    ;

constexpr double kKnownPitchUm = 2.0;
constexpr int kKnownWidth = 480, kKnownHeight = 400;

// A shaft of 0.7 mm with a round, a shaped and a small lumen; invented for this purpose.
constexpr std::string_view kKnownDesign = R"json({
 "format": "cutface/design", "version": 1, "units": "mm",
 "part": {"number": "KNOWN-1", "revision": "A", "title": "faces with known answers"},
 "sections": {"face": {"kind": "shaft", "outline": {"circle": {"diameter": 0.70}},
  "datum": {"centre": "outline", "clock": "round"},
  "lumens": {
   "round": {"circle": {"center": [0.0, 0.14], "diameter": 0.26}},
   "shaped": {"path": "M-0.24,-0.05 L-0.04,-0.05 L-0.04,-0.25 A0.27,0.27 0 0 0 -0.24,-0.05 Z"},
   "small": {"circle": {"center": [0.14, -0.14], "diameter": 0.10}}}}}})json";

struct KnownOrder {
  const char* name;
  PhantomLight light;
  double rotation_deg, blur_px, noise, thin_septum_um;
  bool dirt;
  std::uint64_t seed;
};
constexpr KnownOrder kKnownOrders[] = {
    {"clean", PhantomLight::kReflected, 20, 0.9, 0.006, 0, false, 11},
    {"thin septum", PhantomLight::kReflected, 140, 1.2, 0.010, 14, false, 12},
    {"through light", PhantomLight::kTransmitted, 260, 1.0, 0.008, 0, true, 13},
};

CalibrationRecord KnownRecord() {
  CalibrationRecord record;
  record.id = "known-answers";
  record.image_width_px = kKnownWidth;
  record.image_height_px = kKnownHeight;
  record.pitch_x_um = record.pitch_y_um = kKnownPitchUm;
  record.pitch_u_x_um = record.pitch_u_y_um = 0.0005;
  record.distortion_centre = {0.5 * (kKnownWidth - 1), 0.5 * (kKnownHeight - 1)};
  record.gamma = 1.0;
  return record;
}

Result<PhantomFace> DrawKnown(const Design& design, const KnownOrder& known) {
  PhantomOrder order;
  order.name = known.name;
  order.width_px = kKnownWidth;
  order.height_px = kKnownHeight;
  order.pitch_um = order.record_pitch_um = kKnownPitchUm;
  order.light = known.light;
  order.rotation_deg = known.rotation_deg;
  order.blur_px = known.blur_px;
  order.noise = known.noise;
  order.dirt = known.dirt;
  if (known.thin_septum_um > 0) {
    order.first = "round";
    order.second = "small";
    order.thin_septum_um = known.thin_septum_um;
  }
  return DrawPhantomOfDesign(design, "face", order, known.seed);
}

// Lengths of a result in pixels, "round septum small" -> value.
std::vector<std::pair<std::string, double>> KnownValues(const SectionResult& result) {
  std::vector<std::pair<std::string, double>> values;
  for (const Measurement& m : result.measurements) {
    if (m.state != Measurement::State::kMeasured || m.unit != "um") continue;
    std::string name = m.quantity;
    for (const std::string& of : m.of) name += " " + of;
    values.emplace_back(std::move(name), m.value / kKnownPitchUm);
  }
  return values;
}

bool SameBits(double a, double b) {
  return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
}

bool SameDigits(const SectionResult& a, const SectionResult& b) {
  if (a.measurements.size() != b.measurements.size()) return false;
  for (std::size_t i = 0; i < a.measurements.size(); ++i) {
    const Measurement &x = a.measurements[i], &y = b.measurements[i];
    if (x.quantity != y.quantity || x.of != y.of || x.state != y.state) return false;
    if (!SameBits(x.value, y.value) || !SameBits(x.u, y.u) || !SameBits(x.lo, y.lo) ||
        !SameBits(x.hi, y.hi))
      return false;
  }
  return true;
}

void CompareKnown(const Json& answers, const std::string& hash, const SectionResult& result,
                  KnownAnswer& face) {
  face.same_picture = answers.at("pixels_sha256").get<std::string>() == hash;
  std::map<std::string, double> found;
  for (const auto& [name, value] : KnownValues(result)) found[name] = value;
  const Json& wanted = answers.at("lengths_px");
  face.values = wanted.size();
  face.ok = face.same_twice && found.size() == wanted.size();
  if (found.size() != wanted.size())
    face.reason = fmt::format("{} lengths were measured, not {}", found.size(), wanted.size());
  for (const auto& [name, value] : wanted.items()) {
    const auto own = found.find(name);
    if (own == found.end()) {
      face.ok = false;
      face.reason = name + " was not measured";
      continue;
    }
    const double off = std::abs(own->second - value.get<double>());
    if (!(off <= face.greatest_px)) {
      face.greatest_px = off;
      face.greatest_what = name;
    }
  }
  if (!(face.greatest_px <= kKnownAnswerPx)) {
    face.ok = false;
    face.reason = fmt::format("{} is off by {:.3g} px", face.greatest_what, face.greatest_px);
  }
  if (!face.same_twice) face.reason = "two runs gave different digits";
  if (!face.ok && !face.same_picture) face.reason += "; the rendered picture is another one here";
}

}  // namespace

std::vector<KnownAnswer> CheckKnownAnswers(std::string* draft) {
  std::vector<KnownAnswer> faces;
  const auto design = ParseDesign(kKnownDesign, "known answers");
  const CalibrationRecord record = KnownRecord();
  const auto scale = Scale::FromRecord(record);
  CF_CHECK(design && scale);
  const Json file = Json::parse(kKnownAnswers);
  Json fresh = {{"format", "cutface/known-answers"}, {"version", 1}, {"faces", Json::array()}};
  for (const KnownOrder& known : kKnownOrders) {
    KnownAnswer face;
    face.name = known.name;
    const auto drawn = DrawKnown(*design, known);
    CF_CHECK(drawn);
    const cv::Mat pixels = RenderPhantom(drawn->scene, drawn->picture_seed);
    const std::string hash = Sha256Hex(
        std::as_bytes(std::span(pixels.ptr<std::uint8_t>(0), pixels.total() * pixels.elemSize())));
    const Micrograph picture = MicrographFromPixels(pixels, drawn->scene.bits, known.name);
    const auto first = Inspect(picture, record, *scale, *design, design->sections.front());
    const auto second = Inspect(picture, record, *scale, *design, design->sections.front());
    if (!first || !second) {
      face.reason = first ? second.error().message : first.error().message;
      faces.push_back(std::move(face));
      continue;
    }
    face.same_twice = SameDigits(*first, *second);
    Json one = {{"name", known.name}, {"pixels_sha256", hash}};
    for (const auto& [name, value] : KnownValues(*first)) one["lengths_px"][name] = value;
    fresh["faces"].push_back(std::move(one));
    face.reason = "there is no answer for it";
    for (const Json& answers : file.at("faces")) {
      if (answers.at("name").get<std::string>() != known.name) continue;
      face.reason.clear();
      CompareKnown(answers, hash, *first, face);
    }
    faces.push_back(std::move(face));
  }
  if (draft != nullptr) *draft = fresh.dump(1) + "\n";
  return faces;
}

}  // namespace cutface
