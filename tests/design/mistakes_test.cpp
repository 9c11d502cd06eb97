// Every mistake in a drawing gives its own line: code, place and what to do.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/design.h"
#include "design/drawings.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::HasSubstr;
using testing::Not;

struct Mistake {
  const char* pointer;  // where the full drawing is edited
  DrawingJson value;
  Code code;
  const char* words;  // of the message, path first
};

void ExpectMistakes(const std::vector<Mistake>& mistakes) {
  for (const Mistake& mistake : mistakes) {
    SCOPED_TRACE(testing::Message() << mistake.pointer << " = " << mistake.value.dump());
    const auto design = ParseDesign(Edited(mistake.pointer, mistake.value), "d.json");
    ASSERT_THAT(design, FailsWith(mistake.code));
    EXPECT_THAT(design.error().message, HasSubstr(mistake.words));
    EXPECT_THAT(design.error().message, testing::StartsWith("d.json: "));
    EXPECT_THAT(design.error().message, Not(HasSubstr("\n")));
  }
}

#define SHAFT "/sections/shaft-mid"
#define ROWS SHAFT "/characteristics"

TEST(DesignMistakes, UnknownKeysNameTheNearestKnownOne) {
  const Code code = Code::kJsonUnknownKey;
  ExpectMistakes({
      {"/unit", "mm", code, "unknown key \"unit\"; did you mean \"units\"?"},
      {"/part/rev", "C", code, "part: unknown key \"rev\"; known: number, revision, title"},
      {SHAFT "/lumen", 1, code,
       "sections.shaft-mid: unknown key \"lumen\"; did you mean \"lumens\"?"},
      {SHAFT "/lumens/scope/circle/diametre", 1, code,
       "sections.shaft-mid.lumens.scope.circle: unknown key \"diametre\"; did you mean "
       "\"diameter\"?"},
      {SHAFT "/outline/circle/centre", 1, code, "did you mean \"center\"?"},
      {SHAFT "/wires/braid/angle", 1, code, "sections.shaft-mid.wires.braid: unknown key"},
      {ROWS "/0/maximum", 1, code, "sections.shaft-mid.characteristics[0]: unknown key"},
      {"/decision_rule/conformence", 1, code, "did you mean \"conformance\"?"},
      {"/limits/flow", 1, code, "limits: unknown key"},
      {"/pins/steps", 1, code, "did you mean \"step\"?"},
      {"/sections/bond-distal/fibers", nullptr, code, "did you mean \"fibres\"?"},
  });
}

TEST(DesignMistakes, MissingKeysAreNamed) {
  struct Missing {
    const char* parent;
    const char* key;
    const char* words;
  };
  for (const Missing& missing : {Missing{"", "format", "key \"format\" is missing"},
                                 Missing{"", "version", "key \"version\" is missing"},
                                 Missing{"", "units", "key \"units\" is missing"},
                                 Missing{"", "part", "key \"part\" is missing"},
                                 Missing{"", "sections", "key \"sections\" is missing"},
                                 Missing{"/part", "number", "part: key \"number\" is missing"},
                                 Missing{SHAFT, "kind", "sections.shaft-mid: key \"kind\""},
                                 Missing{SHAFT, "outline", "sections.shaft-mid: key \"outline\""},
                                 Missing{SHAFT "/outline", "circle", "has no shape; add circle"},
                                 Missing{SHAFT "/outline/circle", "diameter", "key \"diameter\""},
                                 Missing{SHAFT "/rings/0", "inner", "rings[0]: key \"inner\""},
                                 Missing{SHAFT "/fibres/axial-1", "filaments", "\"filaments\""},
                                 Missing{ROWS "/0", "no", "characteristics[0]: key \"no\""},
                                 Missing{ROWS "/0", "of", "characteristics[0]: key \"of\""},
                                 Missing{ROWS "/0", "quantity", "add quantity, finding or text"},
                                 Missing{ROWS "/0", "plus", "plus and minus need each other"},
                                 Missing{ROWS "/0", "nominal", "plus and minus need each other"},
                                 Missing{ROWS "/8", "max", "has no limit; add min or max"}}) {
    SCOPED_TRACE(std::string(missing.parent) + "/" + missing.key);
    const auto design = ParseDesign(Without(missing.parent, missing.key), "d.json");
    ASSERT_THAT(design, FailsWith(Code::kJsonMissingKey));
    EXPECT_THAT(design.error().message, HasSubstr(missing.words));
  }
}

TEST(DesignMistakes, WrongValuesAreNamedWithTheirPath) {
  const Code code = Code::kJsonValue;
  ExpectMistakes({
      {"/format", "cutface/result", code, "format: must be \"cutface/design\""},
      {"/version", 2, code, "version: must be 1, is 2"},
      {"/units", "cm", code, "units: \"cm\" is not known here"},
      {"/part", 3, code, "part: must be an object {...}, is number"},
      {"/sections", DrawingJson::object(), code, "sections: must hold 1 to"},
      {"/decision_rule/kind", "guard", code, "did you mean \"guarded\"?"},
      {"/decision_rule/conformance", 1.0, code, "must lie from 0.5 to 0.9999, is 1"},
      {"/edge_cutoff_um", -1, code, "edge_cutoff_um: must lie from 0 to 1000, is -1"},
      {"/preparation_u/septa", DrawingJson{{"um", 1}}, code, "did you mean \"septum\"?"},
      {"/preparation_u/area", DrawingJson{{"um", 1}}, code, "\"area\" is no length"},
      {"/materials/body/poisson", 0.6, code, "materials.body.poisson: must lie from 0 to 0.5"},
      {"/method/locked", 1, code, "method.locked: must be true or false, is number"},
      {"/method/image_kind", "stiched", code, "did you mean \"stitched\"?"},
      {SHAFT "/kind", "tube", code, "sections.shaft-mid.kind: \"tube\" is not known here"},
      {SHAFT "/seen_from", "distall", code, "did you mean \"distal\"?"},
      {SHAFT "/lumens/scope/circle/diameter", -0.95, code,
       "sections.shaft-mid.lumens.scope.circle.diameter: must be above 0, is -0.95"},
      {SHAFT "/lumens/scope/circle/diameter", "0.95", code,
       "sections.shaft-mid.lumens.scope.circle.diameter: must be a number, is string"},
      {SHAFT "/lumens/scope/circle/diameter", 1e6, code,
       "sections.shaft-mid.lumens.scope.circle: diameter must be above 0 and at most 1 m"},
      {SHAFT "/lumens/scope/circle/center", DrawingJson::array({1}), code,
       "sections.shaft-mid.lumens.scope.circle.center: must hold 2 numbers, holds 1"},
      {SHAFT "/lumens/scope/path", "M0,0", code, "lumens.scope: says both circle and path"},
      {SHAFT "/lumens/wash/path", "M0,0 L1", code,
       "sections.shaft-mid.lumens.wash: path, character 8: a number is missing"},
      {SHAFT "/lumens/scope/opens_to", "inside", code, "lumens.scope.opens_to: \"inside\""},
      {SHAFT "/lumens/scope/liner/thickness", 0, code, "liner.thickness: must be above 0"},
      {SHAFT "/lumens/cuff/rectangle/corner_radius", 0.2, code, "half the shorter edge"},
      {SHAFT "/wires/braid/carriers", 16.5, code, "must be a whole number from 2 to 1000"},
      {SHAFT "/wires/axial/flat", DrawingJson::array({0.1, -1}), code, "flat[1]: must be above 0"},
      {SHAFT "/rings", 5, code, "sections.shaft-mid.rings: must be a list [...], is number"},
      {ROWS "/0/no", 7, code, "characteristics[0].no: must be text in quotes, is number"},
      {ROWS "/0/class", "mayor", code, "did you mean \"major\"?"},
      {ROWS "/0/min", 2.4, code, "says both plus/minus and min/max"},
      {ROWS "/0/plus", -0.05, code, "characteristics[0].plus: must lie from 0"},
      {ROWS "/0/of", DrawingJson::array(), code, "must hold one name, or two"},
      {ROWS "/10/finding", "crosstalks", code, "did you mean \"crosstalk\"?"},
      {ROWS "/10/max", 1, code, "a finding has no limits; use allowed"},
      {ROWS "/0/finding", "void", code, "says both quantity and finding"},
      {ROWS "/11/max", 1, code, "limits need a quantity"},
  });
}

TEST(DesignMistakes, ADrawingThatContradictsItselfSaysWhere) {
  const Code code = Code::kDesignInvalid;
  ExpectMistakes({
      {SHAFT "/lumens/scope/circle/center/1", 1.0, code,
       "sections.shaft-mid.lumens.scope: is not inside the outline near"},
      {SHAFT "/lumens/scope/circle/center/1", 5.0, code, "is not inside the outline"},
      {SHAFT "/lumens/return/ellipse/center", DrawingJson::array({0.0, 0.1}), code,
       "sections.shaft-mid.lumens.return: overlaps lumen \"scope\" near"},
      {SHAFT "/lumens/return", DrawingJson{{"circle", {{"center", {0, 0.47}}, {"diameter", 0.2}}}},
       code, "lumens.return: overlaps lumen \"scope\""},
      {SHAFT "/lumens/scope/liner/thickness", 0.2, code,
       "lumens.wash: its liner overlaps that of lumen \"scope\""},
      {SHAFT "/lumens/scope/liner/thickness", 0.5, code, "thicker than the wall to the outside"},
      {SHAFT "/lumens/wash/path", "M-0.8,-0.2 L-0.1,-0.8 L-0.1,-0.2 L-0.8,-0.6 Z", code,
       "lumens.wash: the path crosses or touches itself"},
      {"/sections/port/lumens/slot/rectangle/center", DrawingJson::array({0, 0}), code,
       "lumens.slot: opens to the outside but does not reach the outline"},
      {SHAFT "/rings/0/inner/circle/diameter", 2.6, code,
       "sections.shaft-mid.rings.jacket: its inner boundary is not inside the outline"},
      {"/sections/bond-distal/rings/1/inner/circle/diameter", 2.7, code,
       "rings.adhesive: its inner boundary is not inside that of ring \"sleeve\""},
      {SHAFT "/datum/centre", "outlin", code,
       "datum.centre: \"outlin\" is no lumen of this section; "
       "did you mean \"outline\"?"},
      {SHAFT "/datum/clock", "scop", code, "did you mean \"scope\"?"},
      {SHAFT "/datum/clock", "jacket", code, "datum.clock: \"jacket\" is no lumen"},
      {SHAFT "/datum/centre", "scope", code, "datum.clock: \"scope\" sits on the datum centre"},
      {SHAFT "/wires/braid/carriers", 15, code, "wires.braid.carriers: must be even"},
      {SHAFT "/wires/braid/count", 4, code, "says both count and carriers"},
      {SHAFT "/wires/braid/flat", DrawingJson::array({0.1, 0.2}), code, "says both round and flat"},
      {SHAFT "/wires/braid/on_diameters/0", 2.6, code, "on_diameters: 2.6 is outside the outline"},
      {SHAFT "/fibres/axial-1/center/1", -2.0, code,
       "fibres.axial-1.center: is outside the outline"},
      {"/sections/bond-distal/bond/sleeve", "sleev", code,
       "bond.sleeve: \"sleev\" is no ring of this section; did you mean \"sleeve\"?"},
      {"/sections/bond-distal/bond/sleeve", "adhesive", code, "are the same ring"},
      {"/sections/bond-distal/like", "shaft", code,
       "sections.bond-distal.like: no section \"shaft\""},
      {"/sections/shaft-mid/like", "bond-distal", code, "refer to each other in a ring"},
      {SHAFT "/rings/0/name", "scope", code, "lumens.scope: the name also stands in rings"},
      {SHAFT "/rings/0/name", "voids", code, "rings.voids: the name is reserved"},
      {SHAFT "/lumens/a+b", DrawingJson{{"circle", {{"diameter", 0.1}}}}, code,
       "name \"a+b\" holds a character that names cannot have"},
      {SHAFT "/lumens/ a", DrawingJson{{"circle", {{"diameter", 0.1}}}}, code,
       "begins or ends with"},
  });
}

TEST(DesignMistakes, RowsMustBePossible) {
  const Code code = Code::kDesignInvalid;
  ExpectMistakes({
      {ROWS "/1/no", "1", code, "characteristics[1].no: \"1\" stands twice"},
      {ROWS "/1/min", 0.9, code, "characteristics[1]: min 0.9 is above max 0.8"},
      {ROWS "/1/nominal", 0.9, code, "nominal: 0.9 lies outside its own limits"},
      {ROWS "/8/max", -0.1, code, "no longest can meet this limit; it is at least 0"},
      {ROWS "/4/min", 101, code, "no concentricity can meet this limit"},
      {ROWS "/0/of", "outlines", code,
       "\"outlines\": the section has no such feature; did you mean "
       "\"outline\"?"},
      {ROWS "/0/of", "bond", code, "the section has no key \"bond\""},
      {ROWS "/0/of", "wash/liner", code, "has no such feature"},
      {ROWS "/9/of", "braid/17", code, "has no such feature"},
      {ROWS "/9/of", "braid/0", code, "has no such feature"},
      {ROWS "/0/of", "axial-1", code, "nothing is measured of the fibres"},
      {ROWS "/6/of", DrawingJson::array({"scope", "scope"}), code, "names \"scope\" twice"},
      {ROWS "/6/of", DrawingJson::array({"scope", "outline"}), code, "a pair is of two lumens"},
      {ROWS "/0/quantity", "diametre", code,
       "characteristics[0].quantity: \"diametre\" is not "
       "measured of"},
      {ROWS "/0/quantity", "diametre", code, "did you mean \"diameter\"?"},
      {ROWS "/0/quantity", "septum", code, "\"septum\" is measured of"},
      {ROWS "/6/quantity", "barier", code, "did you mean \"barrier\"?"},
      {ROWS "/11/elsewhere", false, code, "add \"elsewhere\": true"},
      {ROWS "/10/of", "nobody", code, "has no such feature"},
  });
}

TEST(DesignMistakes, BrokenTextIsPlacedByLineAndColumn) {
  struct Broken {
    const char* text;
    Code code;
    const char* words;
  };
  for (const Broken& broken : {
           Broken{"", Code::kJsonSyntax, "line 1, column 1: not JSON"},
           Broken{"{\n \"format\": \"cutface/design\",\n}", Code::kJsonSyntax, "line 3, column 1"},
           Broken{"{\"version\": NaN}", Code::kJsonSyntax, "line 1, column 13"},
           Broken{"{\"version\": 01}", Code::kJsonSyntax, "not JSON"},
           Broken{"{\"version\": 1} x", Code::kJsonSyntax, "not JSON"},
           Broken{"// no\n{}", Code::kJsonSyntax, "line 1"},
           Broken{"{\"a\": \"\xff\"}", Code::kJsonSyntax, "not JSON"},
           Broken{"\xFF\xFE{", Code::kJsonSyntax, "not JSON"},
           Broken{"{\"version\": 1e999}", Code::kJsonValue, "'1e999' is too large"},
           Broken{"{\"version\": 1, \"version\": 1}", Code::kJsonValue,
                  "top level: key \"version\" stands twice"},
           Broken{"{\"part\": {\"a\": [{\"b\": 1, \"b\": 2}]}}", Code::kJsonValue,
                  "part.a: key \"b\" stands twice"},
           Broken{"[]", Code::kJsonValue, "must be an object"},
           Broken{"7", Code::kJsonValue, "must be an object"},
       }) {
    SCOPED_TRACE(broken.text);
    const auto design = ParseDesign(broken.text, "d.json");
    ASSERT_THAT(design, FailsWith(broken.code));
    EXPECT_THAT(design.error().message, HasSubstr(broken.words));
    EXPECT_THAT(design.error().message, Not(HasSubstr("json.exception")));
    EXPECT_THAT(design.error().message, Not(HasSubstr("\n")));
  }
}

TEST(DesignMistakes, DeepNestingAndHugeObjectsAreRefusedQuickly) {
  const std::string deep = "{\"sections\": " + std::string(100'000, '[');
  EXPECT_THAT(ParseDesign(deep, "d.json"), FailsWith(Code::kJsonSyntax));
  const auto closed =
      ParseDesign("{\"part\": " + std::string(100, '[') + std::string(100, ']') + "}", "d");
  ASSERT_THAT(closed, FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(closed.error().message, HasSubstr("nested more than 64 levels"));
  std::string wide = "{";
  for (int i = 0; i < 50'000; ++i) wide += "\"" + std::to_string(i) + "\": 0, ";
  EXPECT_THAT(ParseDesign(wide + "\"x\": 0}", "d.json"), FailsWith(Code::kJsonValue));
  DrawingJson many = FullDrawing();
  for (int i = 0; i < 300; ++i) {
    many["sections"]["shaft-mid"]["lumens"]["l" + std::to_string(i)] = {
        {"circle", {{"diameter", 1}}}};
  }
  EXPECT_THAT(ParseDesign(many.dump(), "d.json"), FailsWith(Code::kJsonValue));
}

}  // namespace
}  // namespace cutface
