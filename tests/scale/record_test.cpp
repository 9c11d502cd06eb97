// Calibration records: what is read, what is refused and in which words.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdio>
#include <nlohmann/json.hpp>
#include <sstream>

#include "cutface/scale.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using Json = nlohmann::json;
using testing::HasSubstr;

// The example of the file format, all keys.
Json Whole() {
  return Json::parse(R"({
    "format": "cutface/calibration", "version": 1, "id": "bench2-5x-2026-03", "objective": "5x",
    "image_size_px": [2592, 1944], "pixel_pitch_um": [2.4031, 2.4044], "pitch_u_um": [0.0006, 0.0007],
    "shear": 0.001, "distortion": {"k1_per_px2": 1e-9, "k1_u_per_px2": 1e-10, "centre_px": [1290.5, 970.25]}, "gamma": 1.8,
    "made": "2026-03-02", "due": "2026-09-02", "by": "the lab", "supersedes": "bench2-5x-2025-09",
    "microscope": "bench 2", "zoom_stop": "2.0", "binning": "1x1",
    "shear_u": 0.0002, "gamma_u": 0.03, "blur_px": 1.4, "blur_u_px": 0.05,
    "artefact": {"kind": "stage micrometer", "serial": "SM-17", "certificate": "C-2025-113", "u_um": 0.15,
                 "division_um": 10, "temperature_c": 21.5},
    "evidence": {"image_sha256": "00ff", "lines": 101, "residual_rms_um": 0.12},
    "flat_field": {"image": "blank.png",
                   "sha256": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
    "budget": [{"axis": "x", "source": "certificate", "u_relative": 1.5e-4}]})");
}

Json Least() {
  return Json::parse(R"({"format": "cutface/calibration", "version": 1, "id": "a",
                         "image_size_px": [640, 480], "pixel_pitch_um": [2.0, null]})");
}

Json With(Json json, const char* pointer, Json value) {
  json[Json::json_pointer(pointer)] = std::move(value);
  return json;
}

Json Without(Json json, const char* key) {
  json.erase(key);
  return json;
}

Result<CalibrationRecord> Parse(const Json& json) {
  return ParseCalibration(json.dump(), "c.json");
}

TEST(Record, EveryKeyArrives) {
  const auto r = Parse(Whole());
  ASSERT_THAT(r, IsOk());
  EXPECT_EQ(r->id, "bench2-5x-2026-03");
  EXPECT_EQ(r->objective, "5x");
  EXPECT_EQ(r->microscope, "bench 2");
  EXPECT_EQ(r->zoom_stop, "2.0");
  EXPECT_EQ(r->binning, "1x1");
  EXPECT_EQ(r->shear_u, 0.0002);
  EXPECT_EQ(r->k1_u_per_px2, 1e-10);
  EXPECT_EQ(r->gamma_u, 0.03);
  EXPECT_EQ(r->blur_px, 1.4);
  EXPECT_EQ(r->blur_u_px, 0.05);
  EXPECT_EQ(r->artefact_division_um, 10.0);
  EXPECT_EQ(r->artefact_temperature_c, 21.5);
  EXPECT_EQ(r->flat_field_image, "blank.png");
  EXPECT_EQ(r->flat_field_sha256.substr(0, 4), "e3b0");
  ASSERT_EQ(r->budget.size(), 1u);
  EXPECT_EQ(r->budget[0].axis + " " + r->budget[0].source, "x certificate");
  EXPECT_EQ(r->budget[0].u_relative, 1.5e-4);
  EXPECT_EQ(r->image_width_px, 2592);
  EXPECT_EQ(r->image_height_px, 1944);
  EXPECT_EQ(r->pitch_x_um, 2.4031);
  EXPECT_EQ(r->pitch_y_um, 2.4044);
  EXPECT_EQ(r->pitch_u_x_um, 0.0006);
  EXPECT_EQ(r->pitch_u_y_um, 0.0007);
  EXPECT_EQ(r->shear, 0.001);
  EXPECT_EQ(r->k1_per_px2, 1e-9);
  EXPECT_EQ(r->distortion_centre, (PointPx{1290.5, 970.25}));
  EXPECT_EQ(r->gamma, 1.8);
  EXPECT_EQ(r->made, "2026-03-02");
  EXPECT_EQ(r->due, "2026-09-02");
  EXPECT_EQ(r->by, "the lab");
  EXPECT_EQ(r->supersedes, "bench2-5x-2025-09");
  EXPECT_EQ(r->artefact_kind, "stage micrometer");
  EXPECT_EQ(r->artefact_serial, "SM-17");
  EXPECT_EQ(r->artefact_certificate, "C-2025-113");
  EXPECT_EQ(r->artefact_u_um, 0.15);
  EXPECT_EQ(r->evidence_image_sha256, "00ff");
  EXPECT_EQ(r->evidence_lines, 101);
  EXPECT_EQ(r->evidence_residual_rms_um, 0.12);
  EXPECT_TRUE(r->Certified());
  EXPECT_EQ(r->sha256, Sha256Hex(Whole().dump()));
  EXPECT_EQ(r->file_name, "c.json");
}

TEST(Record, OnlyFiveKeysAreNeeded) {
  const auto r = Parse(Least());
  ASSERT_THAT(r, IsOk());
  EXPECT_FALSE(r->pitch_y_um.has_value());
  EXPECT_FALSE(r->Certified());
  EXPECT_EQ(r->distortion_centre, (PointPx{319.5, 239.5}));  // the middle of the image
  for (const char* key : {"format", "version", "id", "image_size_px", "pixel_pitch_um"}) {
    const auto failed = Parse(Without(Least(), key));
    ASSERT_THAT(failed, FailsWith(Code::kJsonMissingKey));
    EXPECT_EQ(failed.error().message, std::string("c.json: ") + key + ": missing key; add it");
  }
}

TEST(Record, WrittenAndReadAgainIsTheSame) {
  for (const Json& json : {Whole(), Least()}) {
    const auto first = Parse(json);
    ASSERT_THAT(first, IsOk());
    const std::string text = CalibrationToJson(*first);
    const auto second = ParseCalibration(text, "again");
    ASSERT_THAT(second, IsOk());
    EXPECT_EQ(CalibrationToJson(*second), text);
    // Nothing of the original is lost or changed; keys it left out are null or their defaults.
    const Json again = Json::parse(text);
    for (const auto& item : json.items())
      EXPECT_EQ(again.at(item.key()), item.value()) << item.key();
  }
}

TEST(Record, UnknownKeyIsNamedWithTheNearestKnownOne) {
  const std::tuple<const char*, const char*, const char*> cases[] = {
      {"/pixel_pich_um", "c.json: pixel_pich_um", "did you mean \"pixel_pitch_um\"?"},
      {"/artefact/cert", "c.json: artefact.cert", "unknown key"},
      {"/artefact/certifikate", "c.json: artefact.certifikate", "did you mean \"certificate\"?"},
      {"/distortion/center_px", "c.json: distortion.center_px", "did you mean \"centre_px\"?"},
      {"/evidence/line", "c.json: evidence.line", "did you mean \"lines\"?"},
      {"/zzzzzzzzzz", "c.json: zzzzzzzzzz", "known are format, version"}};
  for (const auto& [pointer, where, what] : cases) {
    const auto failed = Parse(With(Whole(), pointer, 1));
    ASSERT_THAT(failed, FailsWith(Code::kJsonUnknownKey));
    EXPECT_THAT(failed.error().message, HasSubstr(where));
    EXPECT_THAT(failed.error().message, HasSubstr(what));
  }
}

TEST(Record, AnUnknownKeyWithALineEndStandsInOneLine) {
  const auto failed = Parse(With(Whole(), "/pixel\npitch", 1));
  ASSERT_THAT(failed, FailsWith(Code::kJsonUnknownKey));
  EXPECT_THAT(failed.error().message, HasSubstr("c.json: pixel\\x0apitch: "));
}

TEST(Record, SyntaxErrorsTellLineAndColumn) {
  const auto failed =
      ParseCalibration("{\n  \"format\": \"cutface/calibration\",\n  oops\n}", "c.json");
  ASSERT_THAT(failed, FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(failed.error().message, HasSubstr("c.json: line 3, column 3: not JSON"));
  EXPECT_THAT(ParseCalibration("", "c.json"), FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ParseCalibration("{\"shear\": 1e999}", "c.json"), FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ParseCalibration("\xff\xfe", "c.json"), FailsWith(Code::kJsonSyntax));
}

TEST(Record, KeyThatStandsTwiceIsAnError) {
  const auto failed = ParseCalibration("{\"id\": \"a\", \"gamma\": 1, \"gamma\": 2}", "c.json");
  ASSERT_THAT(failed, FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(failed.error().message, HasSubstr("\"gamma\" stands twice"));
  // The same name in two objects is no repetition.
  Json json = Whole();
  EXPECT_THAT(Parse(json), IsOk());
}

TEST(Record, MissingFileIsTold) {
  EXPECT_THAT(ReadCalibration("/no/such/c.json"), FailsWith(Code::kFileMissing));
}

TEST(Record, ContradictionsBetweenKeysAreInvalid) {
  const std::pair<Json, const char*> cases[] = {
      {With(Whole(), "/due", "2026-03-01"), "due: 2026-03-01 lies before made"},
      {With(Whole(), "/pixel_pitch_um", {nullptr, nullptr}), "both entries are null"},
      {With(Whole(), "/pitch_u_um", {2.5, 0.1}), "as large as the pitch itself"},
      // The corner lies 1620 px from the centre: 1e-7 * 1620^2 = 26 %.
      {With(Whole(), "/distortion/k1_per_px2", 1e-7),
       "distortion.k1_per_px2: shifts an image corner"},
      {With(Whole(), "/distortion/k1_per_px2", -1e-7), "distortion.k1_per_px2"}};
  for (const auto& [json, words] : cases) {
    const auto failed = Parse(json);
    ASSERT_THAT(failed, FailsWith(Code::kCalibrationInvalid)) << words;
    EXPECT_THAT(failed.error().message, HasSubstr(words));
  }
}

TEST(Record, DayThatTheCalendarDoesNotHaveIsRefused) {
  EXPECT_THAT(Parse(With(Whole(), "/due", "2027-02-29")), FailsWith(Code::kJsonValue));
  EXPECT_THAT(Parse(With(Whole(), "/due", "2028-02-29")), IsOk());
}

// The schema and the reader are two statements of one format: they must say the same. Each line is
// a record and whether it is one.
std::vector<std::pair<Json, bool>> SchemaCases() {
  std::vector<std::pair<Json, bool>> cases = {{Whole(), true}, {Least(), true}};
  const auto good = [&](const char* pointer, Json value) {
    cases.emplace_back(With(Whole(), pointer, std::move(value)), true);
  };
  const auto bad = [&](const char* pointer, Json value) {
    cases.emplace_back(With(Whole(), pointer, std::move(value)), false);
  };
  const Json whole = Whole();
  for (const auto& item : whole.items()) {
    const bool needed = Least().contains(item.key());
    cases.emplace_back(Without(Whole(), item.key().c_str()), !needed);
    cases.emplace_back(With(Whole(), ("/" + item.key()).c_str(), nullptr), !needed);
    bad(("/" + item.key()).c_str(), true);
    bad(("/x" + item.key()).c_str(), item.value());
  }
  for (const char* key :
       {"/artefact/kind", "/artefact/serial", "/artefact/certificate", "/artefact/u_um",
        "/distortion/k1_per_px2", "/distortion/centre_px", "/evidence/lines",
        "/evidence/image_sha256", "/evidence/residual_rms_um"}) {
    good(key, nullptr);
    bad(key, Json::object());
  }
  good("/artefact/kind", "dot grid");
  good("/artefact/kind", "check standard");
  bad("/artefact/kind", "ruler");
  bad("/artefact/u_um", -0.1);
  bad("/artefact/more", 1);
  bad("/distortion/more", 1);
  bad("/evidence/more", 1);
  bad("/evidence/lines", 1.5);
  bad("/evidence/lines", -1);
  bad("/distortion/centre_px", {1});
  bad("/distortion/centre_px", {1, nullptr});
  bad("/format", "cutface/design");
  bad("/version", 2);
  bad("/id", "");
  bad("/image_size_px", {0, 10});
  bad("/image_size_px", {10.5, 10});
  bad("/image_size_px", {10, 10, 10});
  bad("/pixel_pitch_um", {0, 1});
  bad("/pixel_pitch_um", {-2.4, 2.4});
  bad("/pixel_pitch_um", {"2.4", 2.4});
  bad("/pixel_pitch_um", 2.4);
  good("/pixel_pitch_um", {nullptr, 2.4});
  good("/pitch_u_um", {nullptr, 0.0});
  bad("/pitch_u_um", {-0.1, 0.1});
  bad("/gamma", 0);
  bad("/gamma", 22);
  bad("/shear", 0.5);
  bad("/made", "2 March 2026");
  bad("/due", "2026-9-2");
  bad("/flat_field/image", "../blank.png");
  bad("/flat_field/image", nullptr);
  bad("/flat_field/sha256", "e3b0");
  bad("/budget/0/axis", "z");
  bad("/budget/0/u_relative", -1);
  bad("/budget/0/more", 1);
  bad("/gamma_u", -0.1);
  bad("/blur_px", "sharp");
  good("/blur_px", 0);
  cases.emplace_back(Json::array(), false);
  cases.emplace_back(Json(1), false);
  return cases;
}

TEST(Record, SchemaAndReaderAcceptAndRefuseTheSame) {
  const auto cases = SchemaCases();
  std::string lines;
  for (const auto& one : cases) lines += one.first.dump() + "\n";
  const std::string list = CUTFACE_BINARY_DIR "/tests/scale/schema_cases.jsonl";
  ASSERT_THAT(WriteWhole(list, lines), IsOk());
  const std::string command = "/usr/bin/python3 '" CUTFACE_SOURCE_DIR
                              "/tests/scale/validate.py' '" CUTFACE_SOURCE_DIR
                              "/src/data/calibration.schema.json' '" +
                              list + "' 2>&1";
  FILE* pipe = popen(command.c_str(), "r");
  ASSERT_NE(pipe, nullptr);
  std::string said;
  char buffer[4096];
  for (std::size_t got; (got = fread(buffer, 1, sizeof buffer, pipe)) > 0;)
    said.append(buffer, got);
  ASSERT_EQ(pclose(pipe), 0) << said;
  std::istringstream verdicts(said);
  std::string verdict;
  for (const auto& [json, is_record] : cases) {
    ASSERT_TRUE(std::getline(verdicts, verdict)) << "the validator stopped early";
    EXPECT_EQ(verdict == "valid", is_record) << json << "\n" << verdict;
    const auto parsed = Parse(json);
    EXPECT_EQ(parsed.has_value(), is_record) << json << "\n"
                                             << (parsed ? "read" : parsed.error().message);
  }
}

}  // namespace
}  // namespace cutface
