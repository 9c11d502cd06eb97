// Results as files: every field survives, bad numbers are refused, foreign files are judged fairly.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <limits>
#include <nlohmann/json.hpp>

#include "cutface/record.h"
#include "record/results.h"
#include "support/matchers.h"
#include "support/validate.h"

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::Optional;
using Json = nlohmann::ordered_json;

// Half of the coordinates' printed step.
constexpr double kCoordinateSlackUm = 0.5001e-3;
// 9 significant digits.
constexpr double kValueSlack = 0.51e-8;
// 4 significant digits: at worst half a unit of the last on 1000.
constexpr double kSigmaSlack = 0.51e-3;

constexpr char kSchema[] = CUTFACE_SOURCE_DIR "/src/data/result.schema.json";

void ExpectSameContour(const TracedContour& a, const TracedContour& b) {
  ASSERT_EQ(a.vertices.size(), b.vertices.size());
  for (std::size_t i = 0; i < a.vertices.size(); ++i) {
    EXPECT_NEAR(a.vertices[i].at.x, b.vertices[i].at.x, kCoordinateSlackUm);
    EXPECT_NEAR(a.vertices[i].at.y, b.vertices[i].at.y, kCoordinateSlackUm);
    EXPECT_NEAR(a.vertices[i].sigma_um, b.vertices[i].sigma_um,
                kSigmaSlack * a.vertices[i].sigma_um);
    EXPECT_EQ(a.vertices[i].state, b.vertices[i].state);
    // Normals come back from the edges: of a circle's even vertices, exactly radial.
    EXPECT_NEAR(Dot(a.vertices[i].normal, b.vertices[i].normal), 1, 1e-6);
  }
  EXPECT_EQ(a.u_common_um, b.u_common_um);
  EXPECT_EQ(a.u_arc_um, b.u_arc_um);
  EXPECT_EQ(a.arc_length_um, b.arc_length_um);
  EXPECT_EQ(a.noise_length_um, b.noise_length_um);
  EXPECT_EQ(a.bias_um, b.bias_um);
  EXPECT_EQ(a.edge_model, b.edge_model);
  EXPECT_EQ(a.edge_blur_px, b.edge_blur_px);
  EXPECT_EQ(a.contrast, b.contrast);
  EXPECT_EQ(a.whole, b.whole);
  EXPECT_EQ(a.doubt, b.doubt);
}

void ExpectSameHead(const SectionResult& a, const SectionResult& b) {
  EXPECT_EQ(a.software, b.software);
  EXPECT_EQ(a.time, b.time);
  EXPECT_EQ(a.inspector, b.inspector);
  EXPECT_EQ(a.sample.serial, b.sample.serial);
  EXPECT_EQ(a.sample.lot, b.sample.lot);
  EXPECT_EQ(a.sample.block, b.sample.block);
  EXPECT_EQ(a.sample.face, b.sample.face);
  EXPECT_EQ(a.sample.prepared_by, b.sample.prepared_by);
  EXPECT_EQ(a.sample.taken, b.sample.taken);
  EXPECT_EQ(a.sample.station_mm, b.sample.station_mm);
  EXPECT_EQ(a.sample.cut_direction_deg, b.sample.cut_direction_deg);
  EXPECT_EQ(a.sample.dyed, b.sample.dyed);
  EXPECT_EQ(a.image_file, b.image_file);
  EXPECT_EQ(a.image_sha256, b.image_sha256);
  EXPECT_EQ(a.image_kind, b.image_kind);
  EXPECT_EQ(a.image_width_px, b.image_width_px);
  EXPECT_EQ(a.image_height_px, b.image_height_px);
  EXPECT_EQ(a.calibration_id, b.calibration_id);
  EXPECT_EQ(a.calibration_sha256, b.calibration_sha256);
  EXPECT_EQ(a.calibration_certified, b.calibration_certified);
  EXPECT_EQ(a.part, b.part);
  EXPECT_EQ(a.revision, b.revision);
  EXPECT_EQ(a.section_name, b.section_name);
  EXPECT_EQ(a.design_sha256, b.design_sha256);
  EXPECT_EQ(a.units, b.units);
  EXPECT_EQ(a.mean_pitch_um, b.mean_pitch_um);
  EXPECT_EQ(a.edits, b.edits);
  EXPECT_EQ(a.overrules, b.overrules);
  EXPECT_EQ(a.warnings, b.warnings);
  EXPECT_EQ(a.verdict, b.verdict);
}

void ExpectSameSection(const Section& a, const Section& b) {
  EXPECT_NEAR(a.placement.centre_px.x, b.placement.centre_px.x, 0.51e-4);
  EXPECT_NEAR(a.placement.centre_px.y, b.placement.centre_px.y, 0.51e-4);
  EXPECT_NEAR(a.placement.rotation_rad, b.placement.rotation_rad, kValueSlack);
  EXPECT_EQ(a.placement.mirrored, b.placement.mirrored);
  EXPECT_NEAR(a.placement.oblique_rad, b.placement.oblique_rad, kValueSlack);
  EXPECT_NEAR(a.placement.oblique_axis_rad, b.placement.oblique_axis_rad, kValueSlack);
  EXPECT_EQ(a.placement.interchangeable, b.placement.interchangeable);
  EXPECT_EQ(a.placement.names_proven, b.placement.names_proven);
  EXPECT_EQ(a.picture.noise, b.picture.noise);
  EXPECT_EQ(a.picture.blur_px, b.picture.blur_px);
  EXPECT_EQ(a.picture.contrast, b.picture.contrast);
  EXPECT_EQ(a.picture.gamma, b.picture.gamma);
  EXPECT_EQ(a.picture.u_gamma, b.picture.u_gamma);
  EXPECT_EQ(a.picture.saturated_share, b.picture.saturated_share);
  EXPECT_EQ(a.picture.grade, b.picture.grade);
  EXPECT_EQ(a.picture.reasons, b.picture.reasons);
  EXPECT_EQ(a.picture.smallest_void_px, b.picture.smallest_void_px);
  ASSERT_EQ(a.outline.has_value(), b.outline.has_value());
  if (a.outline) ExpectSameContour(*a.outline, *b.outline);
  ASSERT_EQ(a.rings.size(), b.rings.size());
  for (std::size_t i = 0; i < a.rings.size(); ++i) {
    EXPECT_EQ(a.rings[i].name, b.rings[i].name);
    ExpectSameContour(a.rings[i].inner, b.rings[i].inner);
  }
  ASSERT_EQ(a.lumens.size(), b.lumens.size());
  for (std::size_t i = 0; i < a.lumens.size(); ++i) {
    EXPECT_EQ(a.lumens[i].names, b.lumens[i].names);
    EXPECT_EQ(a.lumens[i].state, b.lumens[i].state);
    ExpectSameContour(a.lumens[i].bore, b.lumens[i].bore);
    ASSERT_EQ(a.lumens[i].breach.has_value(), b.lumens[i].breach.has_value());
    if (!a.lumens[i].breach) continue;
    EXPECT_EQ(a.lumens[i].breach->a, b.lumens[i].breach->a);
    EXPECT_EQ(a.lumens[i].breach->b, b.lumens[i].breach->b);
  }
  ASSERT_EQ(a.voids.size(), b.voids.size());
  for (std::size_t i = 0; i < a.voids.size(); ++i) {
    EXPECT_EQ(a.voids[i].no, b.voids[i].no);
    EXPECT_EQ(a.voids[i].kind, b.voids[i].kind);
    EXPECT_NEAR(a.voids[i].centroid.x, b.voids[i].centroid.x, kCoordinateSlackUm);
    EXPECT_NEAR(a.voids[i].area_um2, b.voids[i].area_um2, kValueSlack * a.voids[i].area_um2);
    EXPECT_EQ(a.voids[i].u_area_um2, b.voids[i].u_area_um2);
    EXPECT_EQ(a.voids[i].evidence, b.voids[i].evidence);
    ExpectSameContour(a.voids[i].contour, b.voids[i].contour);
  }
}

void ExpectSameWires(const Section& a, const Section& b) {
  ASSERT_EQ(a.wire_layers.size(), b.wire_layers.size());
  for (std::size_t i = 0; i < a.wire_layers.size(); ++i) {
    const WireLayerTrace &k = a.wire_layers[i], &l = b.wire_layers[i];
    EXPECT_EQ(k.name, l.name);
    EXPECT_EQ(k.centre, l.centre);
    EXPECT_EQ(k.expected, l.expected);
    EXPECT_EQ(k.turns, l.turns);
    for (int hand = 0; hand < 2; ++hand) {
      EXPECT_NEAR(k.phase_rad[hand], l.phase_rad[hand], 1e-6);
      EXPECT_NEAR(k.u_phase_rad[hand], l.u_phase_rad[hand], 1e-6);
    }
    EXPECT_EQ(k.halo_um, l.halo_um);
    EXPECT_EQ(k.u_halo_um, l.u_halo_um);
    EXPECT_EQ(k.doubt, l.doubt);
  }
  ASSERT_EQ(a.wires.size(), b.wires.size());
  for (std::size_t i = 0; i < a.wires.size(); ++i) {
    const WireTrace &v = a.wires[i], &w = b.wires[i];
    EXPECT_EQ(v.layer, w.layer);
    EXPECT_EQ(v.no, w.no);
    EXPECT_EQ(v.family, w.family);
    EXPECT_EQ(v.state, w.state);
    EXPECT_EQ(v.centroid, w.centroid);
    EXPECT_EQ(v.u_centroid_um, w.u_centroid_um);
    EXPECT_EQ(v.long_um, w.long_um);
    EXPECT_EQ(v.short_um, w.short_um);
    EXPECT_NEAR(v.axis_rad, w.axis_rad, 1e-6);
    EXPECT_EQ(v.exposed_to, w.exposed_to);
    ASSERT_EQ(v.contour.vertices.empty(), w.contour.vertices.empty());
    if (!v.contour.vertices.empty()) ExpectSameContour(v.contour, w.contour);
  }
  ASSERT_EQ(a.fibres.size(), b.fibres.size());
  for (std::size_t i = 0; i < a.fibres.size(); ++i) {
    EXPECT_EQ(a.fibres[i].name, b.fibres[i].name);
    EXPECT_EQ(a.fibres[i].centre, b.fibres[i].centre);
    EXPECT_EQ(a.fibres[i].filaments, b.fibres[i].filaments);
    EXPECT_EQ(a.fibres[i].radius_um, b.fibres[i].radius_um);
    EXPECT_EQ(a.fibres[i].at, b.fibres[i].at);
    EXPECT_EQ(a.fibres[i].doubt, b.fibres[i].doubt);
  }
}

void ExpectNear(const std::optional<double>& a, const std::optional<double>& b) {
  ASSERT_EQ(a.has_value(), b.has_value());
  EXPECT_NEAR(a.value_or(0), b.value_or(0), kValueSlack * a.value_or(0));
}

void ExpectSameRows(const SectionResult& a, const SectionResult& b) {
  ASSERT_EQ(a.measurements.size(), b.measurements.size());
  for (std::size_t i = 0; i < a.measurements.size(); ++i) {
    const Measurement &m = a.measurements[i], &n = b.measurements[i];
    EXPECT_EQ(m.of, n.of);
    EXPECT_EQ(m.quantity, n.quantity);
    EXPECT_EQ(m.state, n.state);
    EXPECT_EQ(m.reason, n.reason);
    EXPECT_NEAR(m.value, n.value, kValueSlack * std::abs(m.value));
    EXPECT_EQ(m.u, n.u);
    EXPECT_EQ(m.lo, n.lo);
    EXPECT_EQ(m.hi, n.hi);
    EXPECT_EQ(m.raw, n.raw);
    EXPECT_EQ(m.unit, n.unit);
    EXPECT_EQ(m.at, n.at);
    EXPECT_EQ(m.grade, n.grade);
    ASSERT_EQ(m.budget.size(), n.budget.size());
    for (std::size_t j = 0; j < m.budget.size(); ++j) {
      EXPECT_EQ(m.budget[j].source, n.budget[j].source);
      EXPECT_EQ(m.budget[j].u, n.budget[j].u);
    }
  }
  ASSERT_EQ(a.characteristics.size(), b.characteristics.size());
  for (std::size_t i = 0; i < a.characteristics.size(); ++i) {
    const CharacteristicResult &c = a.characteristics[i], &d = b.characteristics[i];
    EXPECT_EQ(c.no, d.no);
    EXPECT_EQ(c.of, d.of);
    EXPECT_EQ(c.quantity, d.quantity);
    EXPECT_EQ(c.finding, d.finding);
    EXPECT_EQ(c.text, d.text);
    EXPECT_EQ(c.criticality, d.criticality);
    ExpectNear(c.actual, d.actual);
    ExpectNear(c.lo, d.lo);
    ExpectNear(c.hi, d.hi);
    EXPECT_EQ(c.min, d.min);
    EXPECT_EQ(c.max, d.max);
    EXPECT_EQ(c.nominal, d.nominal);
    EXPECT_EQ(c.unit, d.unit);
    EXPECT_EQ(c.verdict, d.verdict);
    EXPECT_EQ(c.reason, d.reason);
    EXPECT_EQ(c.p_conform, d.p_conform);
    EXPECT_EQ(c.u_scope, d.u_scope);
    EXPECT_EQ(c.at, d.at);
  }
  ASSERT_EQ(a.findings.size(), b.findings.size());
  for (std::size_t i = 0; i < a.findings.size(); ++i) {
    const Finding &f = a.findings[i], &g = b.findings[i];
    EXPECT_EQ(f.kind, g.kind);
    EXPECT_EQ(f.where, g.where);
    EXPECT_EQ(f.severity, g.severity);
    EXPECT_EQ(f.evidence, g.evidence);
    EXPECT_EQ(f.text, g.text);
    EXPECT_EQ(f.at, g.at);
    EXPECT_EQ(f.disposed_by, g.disposed_by);
    EXPECT_EQ(f.disposition, g.disposition);
  }
}

TEST(ResultFile, EveryFieldSurvivesTheFile) {
  const SectionResult result = FullResult();
  const auto read = ParseResult(ResultToJson(result), "r.json");
  ASSERT_THAT(read, IsOk());
  ExpectSameHead(result, *read);
  ExpectSameSection(result.section, read->section);
  ExpectSameWires(result.section, read->section);
  ExpectSameRows(result, *read);
}

TEST(ResultFile, WhatWasAskedOfTheFaceSurvivesTheFile) {
  const SectionResult result = FullResult();
  const auto read = ParseResult(ResultToJson(result), "r.json");
  ASSERT_THAT(read, IsOk());
  ASSERT_EQ(read->asked.size(), 1u);
  const AskedFigure &a = result.asked[0], &b = read->asked[0];
  ASSERT_EQ(b.edges.size(), 2u);
  EXPECT_EQ(b.edges[0].feature, "scope");
  EXPECT_EQ(b.edges[0].ends, a.edges[0].ends);
  EXPECT_TRUE(b.edges[0].longer);
  EXPECT_TRUE(b.edges[1].ends.empty());
  EXPECT_EQ(b.figure.value, 120.5);
  EXPECT_EQ(b.figure.at, a.figure.at);
  EXPECT_EQ(b.who, a.who);
  EXPECT_EQ(b.when, a.when);
}

TEST(ResultFile, ReadingAndWritingAgainChangesNoByte) {
  const std::string text = ResultToJson(FullResult());
  const auto read = ParseResult(text, "r.json");
  ASSERT_THAT(read, IsOk());
  EXPECT_EQ(ResultToJson(*read), text);
}

TEST(ResultFile, AnEmptyResultIsAFileToo) {
  const std::string text = ResultToJson(SectionResult{});
  const auto read = ParseResult(text, "r.json");
  ASSERT_THAT(read, IsOk());
  EXPECT_FALSE(read->section.outline.has_value());
  EXPECT_EQ(read->verdict, Verdict::kNotJudged);
  EXPECT_EQ(ResultToJson(*read), text);
  EXPECT_EQ(Json::parse(text)["design"], nullptr);
}

// The words and places that outside readers of the format rely on.
TEST(ResultFile, TheFormIsTheDocumentedOne) {
  const Json json = Json::parse(ResultToJson(FullResult()));
  EXPECT_EQ(json["format"], "cutface/result");
  EXPECT_EQ(json["image"]["size_px"], Json::array({1600, 1200}));
  EXPECT_EQ(json["placement"]["names"], "not proven");
  EXPECT_EQ(json["placement"]["rotation_deg"], 34.3774677);  // 0.6 rad
  const Json& lumens = json["features"]["lumens"];
  EXPECT_EQ(lumens["scope+wash"]["state"], "merged");
  EXPECT_EQ(lumens["scope+wash"]["of"], Json::array({"scope", "wash"}));
  EXPECT_EQ(lumens["return"]["state"], "not found");
  EXPECT_FALSE(lumens["return"].contains("contour_um"));
  EXPECT_EQ(lumens["cuff"]["centroid_um"], Json::array({2500.0, 1500.0}));
  EXPECT_EQ(lumens["cuff"]["sigma_um"].size(), lumens["cuff"]["contour_um"].size());
  EXPECT_EQ(json["features"]["rings"]["jacket"]["inner"]["whole"], true);
  EXPECT_EQ(json["features"]["outline"]["states"][0], Json::array({"cut off", 1}));
  const Json& septum = json["measurements"][0];
  EXPECT_EQ(septum["of"], Json::array({"scope", "cuff"}));
  EXPECT_EQ(septum["value"], 112.412346);
  EXPECT_EQ(septum["at_um"][1], Json::array({2400.0, 1550.25}));
  const Json& lost = json["measurements"][1];
  EXPECT_EQ(lost["of"], "return");
  EXPECT_EQ(lost["value"], nullptr);
  EXPECT_EQ(lost["state"], "not measured");
  EXPECT_EQ(lost["reason"], "lumen not found");
  EXPECT_EQ(json["characteristics"][0]["verdict"], "conforms");
  EXPECT_EQ(json["characteristics"][1]["actual"], nullptr);
  EXPECT_EQ(json["findings"][0]["severity"], "high");
  EXPECT_EQ(json["verdict"], "does not conform");
}

TEST(ResultFile, FeaturesThatWereNotFoundHaveNoContour) {
  SectionResult result;
  result.section.outline = TracedContour{};
  result.section.rings.push_back({"jacket", {}});
  result.section.lumens.resize(1);
  result.section.lumens[0].names = {"scope"};
  result.section.lumens[0].state = LumenState::kNotFound;
  const std::string text = ResultToJson(result);
  const Json json = Json::parse(text);
  EXPECT_EQ(json["features"]["outline"], nullptr);
  EXPECT_EQ(json["features"]["rings"]["jacket"]["inner"], nullptr);
  EXPECT_EQ(json["features"]["lumens"]["scope"], Json({{"state", "not found"}}));
  const auto read = ParseResult(text, "r.json");
  ASSERT_THAT(read, IsOk());
  ASSERT_EQ(read->section.rings.size(), 1u);
  EXPECT_TRUE(read->section.rings[0].inner.vertices.empty());
  EXPECT_EQ(ResultToJson(*read), text);
}

TEST(ResultFile, CoordinatesAndValuesArePrintedShort) {
  SectionResult result;
  result.section.outline = Ring({0.1 + 0.2, 1e-9}, 1000, 4);
  const std::string text = ResultToJson(result);
  EXPECT_THAT(text,
              HasSubstr("\"contour_um\":[[1000.3,0.0],[0.3,1000.0],[-999.7,0.0],[0.3,-1000.0]]"));
  EXPECT_THAT(text, testing::Not(HasSubstr("-0.0,")));
}

TEST(ResultFile, ANumberThatIsNoneIsRefusedWithItsPlace) {
  const double bad[] = {std::numeric_limits<double>::quiet_NaN(),
                        std::numeric_limits<double>::infinity()};
  for (const double number : bad) {
    SectionResult result = FullResult();
    result.measurements[0].u = number;
    const auto text = TryResultToJson(result);
    ASSERT_THAT(text, FailsWith(Code::kInternal));
    EXPECT_THAT(text.error().message, HasSubstr("measurement septum of scope, cuff"));
    result = FullResult();
    result.section.outline->vertices[3].at.y = number;
    EXPECT_THAT(TryResultToJson(result), FailsWith(Code::kInternal));
    result = FullResult();
    result.findings[0].evidence["share"] = number;
    EXPECT_THAT(TryResultToJson(result), FailsWith(Code::kInternal));
    EXPECT_DEATH(ResultToJson(result), "broken invariant");
  }
}

// A value without meaning (not measured) may hold anything: it is not written.
TEST(ResultFile, ValuesOfWhatWasNotMeasuredAreNotWritten) {
  SectionResult result = FullResult();
  result.measurements[1].value = std::numeric_limits<double>::quiet_NaN();
  const auto text = TryResultToJson(result);
  ASSERT_THAT(text, IsOk());
  EXPECT_EQ(Json::parse(*text)["measurements"][1]["value"], nullptr);
}

TEST(ResultFile, UnknownKeysAreWarningsWithTheirPath) {
  Json json = Json::parse(ResultToJson(SectionResult{}));
  json["colour"] = "red";
  json["image"]["bits"] = 8;
  json["features"]["bands"] = Json::array({1});
  const auto read = ParseResult(json.dump(), "r.json");
  ASSERT_THAT(read, IsOk());
  EXPECT_THAT(read->warnings, ElementsAre("r.json: unknown key \"colour\" left out",
                                          "r.json: image: unknown key \"bits\" left out",
                                          HasSubstr("unknown key \"bands\"")));
}

struct Damage {
  const char* pointer;
  Json value;
  Code code;
  const char* words;
};

TEST(ResultFile, WrongValuesAreErrorsWithTheirPath) {
  const Damage damages[] = {
      {"/format", "cutface/design", Code::kJsonValue, "is this a result file?"},
      {"/version", 2, Code::kJsonValue, "version: must be 1"},
      {"/units", "cm", Code::kJsonValue, "units: must be mm, in or um"},
      {"/image", 3, Code::kJsonValue, "image: must be an object"},
      {"/image/size_px", Json::array({1.5, 2}), Code::kJsonValue, "image.size_px"},
      {"/sample/dyed", "no", Code::kJsonValue, "sample.dyed: must be true or false"},
      {"/placement/names", "sure", Code::kJsonValue, "placement.names"},
      {"/placement/interchangeable", Json::array({"a"}), Code::kJsonValue, "interchangeable[0]"},
      {"/features/outline/contour_um", Json::array({Json::array({1, 2})}), Code::kJsonValue,
       "features.outline.contour_um: must hold at least 3 points, holds 1"},
      {"/features/outline/contour_um/1", Json::array({1}), Code::kJsonValue,
       "features.outline.contour_um: must be a list of points"},
      {"/features/outline/sigma_um", Json::array({1, 2}), Code::kJsonValue, "one number per point"},
      {"/features/outline/states", Json::array({Json::array({"measured", 5})}), Code::kJsonValue,
       "must be runs"},
      {"/features/outline/states", Json::array({Json::array({"measured", 5000})}), Code::kJsonValue,
       "must be runs"},
      {"/features/outline/states/0/0", "guessed", Code::kJsonValue, "must be runs"},
      {"/features/lumens/cuff/state", "shut", Code::kJsonValue, "features.lumens.cuff.state"},
      {"/features/voids/0/class", "hole", Code::kJsonValue, "features.voids[0].class"},
      {"/measurements/0/value", nullptr, Code::kJsonValue, "measurements[0].value"},
      {"/measurements/1/value", 5, Code::kJsonValue, "measurements[1].value"},
      {"/measurements/0/unit", 5, Code::kJsonValue, "measurements[0].unit: must be text"},
      {"/characteristics/0/verdict", "good", Code::kJsonValue, "characteristics[0].verdict"},
      {"/findings/0/severity", "fatal", Code::kJsonValue, "findings[0].severity"},
      {"/findings/0/evidence/share", "x", Code::kJsonValue, "findings[0].evidence.share"},
      {"/verdict", "fine", Code::kJsonValue, "verdict"},
  };
  const Json good = Json::parse(ResultToJson(FullResult()));
  for (const Damage& damage : damages) {
    SCOPED_TRACE(testing::Message() << damage.pointer << " = " << damage.value.dump());
    Json json = good;
    json[Json::json_pointer(damage.pointer)] = damage.value;
    const auto read = ParseResult(json.dump(), "r.json");
    ASSERT_THAT(read, FailsWith(damage.code));
    EXPECT_THAT(read.error().message, HasSubstr(damage.words));
  }
}

TEST(ResultFile, MissingKeysAndBrokenTextAreErrors) {
  for (const char* key :
       {"format", "version", "image", "features", "measurements", "findings", "verdict"}) {
    Json json = Json::parse(ResultToJson(FullResult()));
    json.erase(key);
    const auto read = ParseResult(json.dump(), "r.json");
    ASSERT_THAT(read, FailsWith(Code::kJsonMissingKey)) << key;
    EXPECT_THAT(read.error().message, HasSubstr(key));
  }
  EXPECT_THAT(ParseResult("", "r.json"), FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ParseResult("{\"version\": NaN}", "r.json"), FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ParseResult("{\"version\": 1e999}", "r.json"), FailsWith(Code::kJsonValue));
  EXPECT_THAT(ParseResult("[1]", "r.json"), FailsWith(Code::kJsonValue));
  EXPECT_THAT(ParseResult(std::string(200'000, '['), "r.json"), FailsWith(Code::kJsonSyntax));
}

TEST(ResultFile, ATruncatedFileNeverReadsAsAResult) {
  const std::string text = ResultToJson(FullResult());
  for (std::size_t size = 0; size + 2 < text.size(); size += 997) {
    EXPECT_THAT(ParseResult(text.substr(0, size), "r.json"), FailsWith(Code::kJsonSyntax)) << size;
  }
}

TEST(WriteResult, WritesTheWholeFileOrLeavesTheOldOne) {
  const std::filesystem::path folder =
      std::filesystem::temp_directory_path() / "cutface-record-test";
  std::filesystem::create_directories(folder);
  const std::string path = folder / "a.result.json";
  ASSERT_THAT(WriteResult(path, FullResult()), IsOk());
  const auto read = ReadResult(path);
  ASSERT_THAT(read, IsOk());
  EXPECT_EQ(ResultToJson(*read), ResultToJson(FullResult()));

  SectionResult bad = FullResult();
  bad.mean_pitch_um = std::numeric_limits<double>::infinity();
  EXPECT_THAT(WriteResult(path, bad), FailsWith(Code::kInternal));
  EXPECT_THAT(ReadResult(path), IsOk());  // the earlier file is untouched
  int files = 0;
  for ([[maybe_unused]] const auto& entry : std::filesystem::directory_iterator(folder)) ++files;
  EXPECT_EQ(files, 1);
  EXPECT_THAT(WriteResult(folder / "none" / "a.json", FullResult()),
              FailsWith(Code::kFileUnwritable));
  EXPECT_THAT(ReadResult(folder / "b.json"), FailsWith(Code::kFileMissing));
  std::filesystem::remove_all(folder);
}

TEST(ResultSchema, DescribesEveryKeyThatTheProgramWrites) {
  SectionResult lost;  // nothing found, nothing measured
  lost.section.rings.push_back({"jacket", {}});
  EXPECT_THAT(
      Violations(kSchema, {ResultToJson(FullResult()), ResultToJson(lost)}, /*strict=*/true),
      testing::Each(""));
}

TEST(ResultSchema, RejectsResultsThatLackTheirMeaning) {
  const Damage damages[] = {
      {"/version", 2, Code::kJsonValue, ""},
      {"/verdict", "fine", Code::kJsonValue, ""},
      {"/features/outline/contour_um", Json::array(), Code::kJsonValue, ""},
      {"/features/lumens/cuff/state", "shut", Code::kJsonValue, ""},
      {"/features/lumens/return/state", "open", Code::kJsonValue, ""},
      {"/features/voids/0/class", "hole", Code::kJsonValue, ""},
      {"/measurements/0/value", nullptr, Code::kJsonValue, ""},
      {"/measurements/1/value", 3, Code::kJsonValue, ""},
      {"/measurements/0/unit", "mm", Code::kJsonValue, ""},
      {"/characteristics/0/p_conform", 1.5, Code::kJsonValue, ""},
      {"/image/sha256", "abc", Code::kJsonValue, ""},
  };
  const Json good = Json::parse(ResultToJson(FullResult()));
  std::vector<std::string> texts;
  for (const Damage& damage : damages) {
    Json json = good;
    json[Json::json_pointer(damage.pointer)] = damage.value;
    texts.push_back(json.dump());
  }
  const std::vector<std::string> violations = Violations(kSchema, texts);
  for (std::size_t i = 0; i < texts.size(); ++i) EXPECT_NE(violations[i], "") << damages[i].pointer;
}

TEST(ResultSchema, ToleratesKeysOfLaterPrograms) {
  Json json = Json::parse(ResultToJson(FullResult()));
  json["later"] = 1;
  json["features"]["lumens"]["cuff"]["later"] = 1;
  EXPECT_EQ(Violations(kSchema, json.dump()), "");
  EXPECT_NE(Violations(kSchema, json.dump(), /*strict=*/true), "");
}

}  // namespace
}  // namespace cutface
