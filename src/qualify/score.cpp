// One rendered face against its truth. Truth is in pixels of the rendered picture and becomes
// micrometres with the true pitch, so that what the record has wrong counts as error.
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "cutface/geometry.h"
#include "qualify/internal.h"

namespace cutface {
namespace {

using Json = nlohmann::ordered_json;

// Words whose truth the phantoms hold and whose unit is a length.
constexpr std::string_view kLengths[] = {"diameter",     "equivalent_diameter", "width_min",
                                         "width_max",    "inscribed_diameter",  "wall",
                                         "septum",       "thickness_min",       "thickness_mean",
                                         "thickness_max"};

// "scope" for "scope+wash": the first of a merged name.
bool SameOf(const std::vector<std::string>& of, const Json& truth) {
  if (!truth.is_array() || truth.size() != of.size()) return false;
  std::vector<std::string> a = of, b;
  for (const Json& name : truth) b.push_back(name.get<std::string>());
  std::sort(a.begin(), a.end());
  std::sort(b.begin(), b.end());
  return a == b;
}

const Measurement* FindMeasurement(const SectionResult& result, const Json& of,
                                   const std::string& word) {
  for (const Measurement& m : result.measurements)
    if (m.quantity == word && SameOf(m.of, of)) return &m;
  return nullptr;
}

ContourUm ContourOf(const Json& points, double pitch_um) {
  ContourUm contour;
  for (const Json& p : points)
    contour.push_back({p.at(0).get<double>() * pitch_um, p.at(1).get<double>() * pitch_um});
  return contour;
}

bool ToldMerged(const SectionResult& result, const Json& of) {
  for (const LumenTrace& lumen : result.section.lumens) {
    if (lumen.state != LumenState::kMerged) continue;
    const bool all = std::all_of(of.begin(), of.end(), [&](const Json& name) {
      return std::find(lumen.names.begin(), lumen.names.end(), name.get<std::string>()) !=
             lumen.names.end();
    });
    if (all) return true;
  }
  return false;
}

void ScoreQuantities(const SectionResult& result, const Json& truth, double pitch_um,
                     FaceScore& score) {
  for (const Json& q : truth.at("quantities")) {
    const std::string word = q.at("quantity").get<std::string>();
    if (std::find(std::begin(kLengths), std::end(kLengths), word) == std::end(kLengths)) continue;
    const Json& of = q.at("of");
    const bool septum = word == "septum";
    const bool breach = septum && q.value("breach", false);
    if (breach) {
      ++score.broken;
      score.broken_told += ToldMerged(result, of) ? 1 : 0;
      continue;
    }
    TruthPair pair;
    pair.word = word;
    pair.truth = q.at("value_px").get<double>() * pitch_um;
    const Measurement* m = FindMeasurement(result, of, word);
    if (m != nullptr && m->state == Measurement::State::kMeasured) {
      pair.measured = true;
      pair.value = m->value;
      pair.lo = m->lo;
      pair.hi = m->hi;
    }
    const bool merged = septum && ToldMerged(result, of);
    score.invented_breaks += merged ? 1 : 0;
    if (septum)
      score.septa.push_back(
          {pair.truth, pair.measured && !merged && std::abs(pair.value - pair.truth) <= pitch_um});
    score.pairs.push_back(std::move(pair));
  }
}

// Told voids that count: what may be the part's. One is right when a third of it lies in true ones;
// a true one is found when a third of it lies in right ones.
constexpr double kShare = 0.3;

bool CountsAsVoid(VoidClass kind) {
  return kind == VoidClass::kVoid || kind == VoidClass::kBondGap || kind == VoidClass::kLinerGap ||
         kind == VoidClass::kDelamination || kind == VoidClass::kDoubtful;
}

void ScoreVoids(const SectionResult& result, const Json& truth, double pitch_um, FaceScore& score) {
  std::vector<ContourUm> there;
  for (const Json& one : truth.at("voids"))
    there.push_back(ContourOf(one.at("contour_px"), pitch_um));
  std::vector<double> covered(there.size(), 0);
  // Told contours are in the record's micrometres, which differ by the scale's error only.
  for (const Void& told : result.section.voids) {
    if (!CountsAsVoid(told.kind)) continue;
    const ContourUm contour = told.contour.Points();
    double inside = 0;
    std::vector<double> shares(there.size(), 0);
    for (std::size_t i = 0; i < there.size(); ++i) {
      shares[i] = IntersectionArea(contour, there[i]);
      inside += shares[i];
    }
    if (inside < kShare * Area(contour)) {
      score.invented_voids += told.kind == VoidClass::kDoubtful ? 0 : 1;
      continue;
    }
    for (std::size_t i = 0; i < there.size(); ++i) covered[i] += shares[i];
  }
  for (std::size_t i = 0; i < there.size(); ++i) {
    const double area = Area(there[i]);
    score.voids.push_back({std::sqrt(4 * area / kPi), covered[i] >= kShare * area});
  }
}

}  // namespace

Result<FaceScore> ScoreFace(const SectionResult& result, const std::string& truth_json,
                            const std::string& straight_json, double pitch_um) {
  FaceScore score;
  score.measured = true;
  try {
    const Json truth = Json::parse(truth_json);
    ScoreQuantities(result, Json::parse(straight_json), pitch_um, score);
    ScoreVoids(result, truth, pitch_um, score);
    ScoreWires(result, truth_json, pitch_um, score);
  } catch (const Json::exception& e) {
    return Fail(Code::kInternal, std::string("qualify: the phantom's truth: ") + e.what());
  }
  return score;
}

}  // namespace cutface
