// The window's other rooms through its state: a folder measured with the batch's queue, the bench,
// and a nominal drawn on a picture; held against the command line where it does the same.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <sstream>

#include "cutface/cli.h"
#include "cutface/record.h"
#include "gui/demo.h"
#include "gui/state/nominal.h"
#include "gui/state/shape_edit.h"

namespace cutface::window {
namespace {

using testing::HasSubstr;
using testing::Not;

class RoomsTest : public AppTest {
 protected:
  std::string WithoutTimeOf(const std::string& name) const {
    auto text = ReadTextFile(Path(name));
    EXPECT_THAT(text, IsOk()) << name;
    if (!text) return "";
    const std::size_t at = text->find("\"time\"");
    return text->erase(at, text->find('\n', at) - at);
  }
};

// One good picture and one that is none, with a manifest.
TEST_F(RoomsTest, AFolderIsMeasuredAsTheBatchDoesAndItsFacesOpen) {
  fs::create_directories(folder_ / "pictures");
  fs::copy_file(Demo(kThin), folder_ / "pictures/a.png");
  ASSERT_THAT(WriteWhole(Path("pictures/b.png"), std::string_view("no picture")), IsOk());
  ASSERT_THAT(WriteWhole(Path("pictures/manifest.csv"),
                         std::string_view("image,part,revision,serial,lot,plane,taken\n"
                                          "a.png,LV-7504,C,0007,L1,extrusion,2026-04-01\n"
                                          "b.png,LV-7504,C,0008,L1,extrusion,2026-04-01\n")),
              IsOk());
  App app(Settings{}, "");
  app.Start(DemoOrder(""), {});
  app.run_form.pictures = Path("pictures");
  app.run_form.results = Path("window");
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kRun)}, {Do::kRunForm}});
  EXPECT_EQ(app.panels().run_hindrance, "");
  app.Apply({{Do::kRunMeasure}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("1 measured anew, of 2"));
  ASSERT_NE(app.panels().run, nullptr);
  const RunPanel& run = *app.panels().run;
  EXPECT_THAT(run.counts, HasSubstr("1 measured, 1 rejected"));
  ASSERT_EQ(run.lines.size(), 2u);
  EXPECT_EQ(run.lines[0].name, "0007");
  EXPECT_EQ(run.lines[0].word, Verdict::kDoesNotConform);
  EXPECT_EQ(run.lines[1].verdict, "rejected");
  EXPECT_THAT(run.lines[1].trouble, Not(testing::IsEmpty()));
  EXPECT_TRUE(run.has_nominal);
  EXPECT_EQ(run.edges.size(), 2 * 5u);  // outline and four bores, found and drawn

  std::ostringstream out, err;
  const Order o = DemoOrder("");
  RunProgram(
      {"batch", Path("pictures"), "--design", o.design, "--manifest", Path("pictures/manifest.csv"),
       "--calibration", o.calibration, "--inspector", "A. Measurer", "--out", Path("line")},
      {out, err});
  EXPECT_EQ(WithoutTimeOf("window/a.result.json"), WithoutTimeOf("line/a.result.json"))
      << err.str();

  // What one has done the other does not do again, and a run where nothing changed stays as it is.
  const auto before = ReadTextFile(Path("window/run.json"));
  std::ostringstream again, trouble;
  RunProgram({"batch", Path("pictures"), "--design", o.design, "--manifest",
              Path("pictures/manifest.csv"), "--calibration", o.calibration, "--inspector",
              "A. Measurer", "--out", Path("window"), "--json"},
             {again, trouble});
  EXPECT_THAT(again.str(), HasSubstr("\"anew\":0")) << trouble.str();
  EXPECT_EQ(*ReadTextFile(Path("window/run.json")), *before);
  app.run_form.results = Path("line");
  app.Apply({{Do::kRunForm}, {Do::kRunMeasure}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("0 measured anew, of 2"));
  app.run_form.results = Path("window");

  app.Apply({{Do::kRunMeasure}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("0 measured anew"));  // the ledger knows it
  app.Apply({{Do::kRunColumn, 0, "8"}});
  ASSERT_EQ(app.panels().run->values.size(), 1u);
  EXPECT_LT(app.panels().run->values[0].hi, *app.panels().run->min);  // all below the limit
  EXPECT_THAT(app.panels().run->left_out, testing::Contains(HasSubstr("0008")));
  // One part shows nothing of others, and the sentence says what was asked.
  EXPECT_THAT(app.panels().run->sentence, HasSubstr("0.09"));
  EXPECT_EQ(app.panels().run->statistics_trouble, "");
  app.Apply({{Do::kRunQuestion, 0, "mean-face"}});
  ASSERT_TRUE(app.panels().run->graph.has_value());
  EXPECT_TRUE(app.panels().run->graph->map);
  EXPECT_THAT(app.TableText(), HasSubstr("0007\tdoes not conform"));
  app.Apply({{Do::kRunQuestion, 0, ""}, {Do::kRunByStation}});
  ASSERT_EQ(app.panels().run->stations.size(), 1u);
  EXPECT_EQ(app.panels().run->stations[0].text, "400 mm");
  app.Apply({{Do::kRunOpenFace, 0, "8"}});
  app.WaitUntilIdle();
  EXPECT_EQ(app.room(), Room::kFace);
  EXPECT_EQ(app.chosen_row(), "8");
  EXPECT_NE(app.current()->picture, nullptr);  // found by its hash in the folder of the pictures
}

TEST_F(RoomsTest, AFolderThatCannotBeMeasuredSaysWhy) {
  App app(Settings{}, "");
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kRun)}});
  EXPECT_THAT(app.panels().run_hindrance, HasSubstr("the folder of the pictures"));
  app.Apply({{Do::kRunLoad, 0, Path("nothing")}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("holds no run.json and no result"));
}

// The demo's stage micrometer, 100 um a division, as README's call; the record's numbers must be
// the command line's.
TEST_F(RoomsTest, TheBenchKeepsTheRecordThatTheCommandLineKeeps) {
  const std::string x = Demo("calibration/demo-stage-micrometer-x.png");
  const std::string y = Demo("calibration/demo-stage-micrometer-y.png");
  App app(Settings{}, "");
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kBench)}});
  EXPECT_THAT(app.panels().bench.hindrance, HasSubstr("division"));
  BenchForm& form = app.bench_form;
  form.division_um = "ten";
  form.pictures = {x, y};
  app.Apply({{Do::kBenchForm}, {Do::kBenchLook}});
  app.WaitUntilIdle();
  EXPECT_THAT(app.notice(), HasSubstr("no number"));
  form.division_um = "100";
  form.certificate_u_um = "0.15";
  app.Apply({{Do::kBenchForm}, {Do::kBenchLook}});
  app.WaitUntilIdle();
  ASSERT_FALSE(app.panels().bench.found.empty()) << app.notice();
  EXPECT_THAT(app.panels().bench.cautions, testing::Contains(HasSubstr("no certificate")));
  EXPECT_THAT(app.panels().bench.untold, testing::Contains(HasSubstr("shear")));
  EXPECT_THAT(app.panels().bench.keep_hindrance, HasSubstr("who"));
  form.by = "A. Measurer";
  form.id = "window";
  form.made = "2026-03-02";
  form.due = "2026-09-02";
  form.folder = Path("records");
  app.Apply({{Do::kBenchKeep}});
  EXPECT_THAT(app.notice(), HasSubstr("kept as"));
  EXPECT_THAT(app.form.calibration, HasSubstr("window.calibration.json"));

  std::ostringstream out, err;
  RunProgram({"calibrate", x, y, "--division", "0.1mm", "--artefact", "stage micrometer", "--u",
              "0.15um", "--id", "line", "--made", "2026-03-02", "--due", "2026-09-02", "--by",
              "A. Measurer", "--out", Path("line.calibration.json")},
             {out, err});
  const auto ours = ReadCalibration(Path("records/window.calibration.json"));
  const auto theirs = ReadCalibration(Path("line.calibration.json"));
  ASSERT_THAT(ours, IsOk());
  ASSERT_THAT(theirs, IsOk()) << err.str();
  EXPECT_EQ(ours->pitch_x_um, theirs->pitch_x_um);
  EXPECT_EQ(ours->pitch_y_um, theirs->pitch_y_um);
  EXPECT_EQ(ours->pitch_u_x_um, theirs->pitch_u_x_um);
  // And the same picture checked with it: 100 um a division again, so En is within one.
  form.checks = true;
  form.pictures = {x};
  form.record = Path("records/window.calibration.json");
  form.taken = "2026-03-03T09:15";
  app.Apply({{Do::kBenchForm}, {Do::kBenchLook}});
  app.WaitUntilIdle();
  EXPECT_EQ(app.panels().bench.verdict, "passed") << app.notice();
  app.Apply({{Do::kBenchKeep}});
  EXPECT_TRUE(fs::exists(Path("records/checks.jsonl"))) << app.notice();
}

TEST_F(RoomsTest, ANominalIsDrawnOnThePictureCheckedDraggedAndGivenRows) {
  App app(Settings{}, "");
  Order order = DemoOrder("");
  order.design.clear();
  order.section.clear();
  app.Start(order, {Demo(kThin)});
  app.WaitUntilIdle();
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kNominal)}, {Do::kNominalSurvey}});
  app.WaitUntilIdle();
  ASSERT_TRUE(app.panels().nominal.started) << app.notice();
  EXPECT_EQ(app.panels().nominal.error, "");
  EXPECT_FALSE(app.FaceMarks().empty());
  app.Apply({{Do::kNominalChoose, 0, "outline"}});
  const auto& offers = app.panels().nominal.offers;
  const auto diameter = std::find_if(offers.begin(), offers.end(),
                                     [](const auto& o) { return o.quantity == "diameter"; });
  ASSERT_NE(diameter, offers.end());
  app.Apply({{Do::kNominalRow, static_cast<int>(diameter - offers.begin())}});
  app.WaitUntilIdle();
  ASSERT_EQ(app.panels().nominal.rows.size(), 1u) << app.notice();
  EXPECT_THAT(app.panels().nominal.rows[0].actual, HasSubstr("2.49"));
  const std::string sound = app.nominal_text();
  app.nominal_text().insert(1, "\"colour\": 1,");
  app.Apply({{Do::kNominalTyped}});
  EXPECT_THAT(app.panels().nominal.error, HasSubstr("colour"));
  app.Apply({{Do::kNominalSave, 0, Path("part.design.json")}});
  EXPECT_FALSE(fs::exists(Path("part.design.json")));
  app.nominal_text() = sound;
  app.Apply({{Do::kNominalTyped}});
  EXPECT_EQ(app.panels().nominal.error, "");
  app.WaitUntilIdle();
  ASSERT_THAT(WriteWhole(Path("part.design.json"), std::string_view("somebody's")), IsOk());
  app.Apply({{Do::kNominalSave, 0, Path("part.design.json")}});
  EXPECT_EQ(app.panels().nominal.replaces, Path("part.design.json"));
  EXPECT_EQ(*ReadTextFile(Path("part.design.json")), "somebody's");
  app.Apply({{Do::kNominalSave, 1, Path("part.design.json")}});
  EXPECT_EQ(app.panels().nominal.replaces, "");
  const auto saved = ReadDesign(Path("part.design.json"));
  ASSERT_THAT(saved, IsOk());
  EXPECT_EQ(saved->sections[0].characteristics.size(), 1u);
}

TEST(Nominal, ShapesMoveByTheirTextAndStaySound) {
  Nominal nominal;
  nominal.text =
      R"({"format": "cutface/design", "version": 1, "units": "mm",
          "part": {"number": "P", "revision": "A", "title": "t"},
          "sections": {"s": {"kind": "shaft", "outline": {"circle": {"diameter": 2.5}},
            "lumens": {"round": {"circle": {"center": [0.0, 0.5], "diameter": 0.5}},
                       "wedge": {"path": "M-0.75,-0.15 L-0.1,-0.15 L-0.1,-0.85 A0.86,0.86 0 0 1 -0.75,-0.15 Z"}}}}})";
  CheckNominal(nominal);
  ASSERT_EQ(nominal.error, "");
  const auto centre = [&](const char* name) {
    return Centroid(nominal.Plane()->FindLumen(name)->shape.contour);
  };
  const auto area = [&](const char* name) {
    return Area(nominal.Plane()->FindLumen(name)->shape.contour);
  };
  for (const char* name : {"round", "wedge"}) {
    const PointUm before = centre(name);
    const double size = area(name);
    ASSERT_TRUE(MoveShape(nominal, name, {20, -30})) << nominal.error;
    EXPECT_NEAR(centre(name).x, before.x + 20, 1e-2);
    EXPECT_NEAR(centre(name).y, before.y - 30, 1e-2);
    EXPECT_NEAR(area(name) / size, 1, 1e-6);
  }
  // Twice as large at a handle, about the same middle; the wedge keeps its form.
  for (const char* name : {"round", "wedge"}) {
    const Shape& shape = *nominal.ShapeNamed(name);
    const Box<FrameUm> box = BoundingBox(shape.contour);
    const PointUm middle = 0.5 * (box.least + box.greatest);
    const double size = area(name);
    const PointUm handle = HandlesOf(shape).front();
    ASSERT_TRUE(ResizeShape(nominal, name, 0, middle + 0.5 * (handle - middle)));
    EXPECT_NEAR(area(name) / size, 0.25, 1e-3);
    const Box<FrameUm> after = BoundingBox(nominal.ShapeNamed(name)->contour);
    EXPECT_NEAR(0.5 * (after.least.x + after.greatest.x), middle.x, 0.1);
    EXPECT_NEAR(0.5 * (after.least.y + after.greatest.y), middle.y, 0.1);
    EXPECT_FALSE(ResizeShape(nominal, name, 9, middle));
  }
  // Sizes as typed, in the drawing's unit.
  EXPECT_THAT(TypeSize(nominal, "round", "diameter", "0.4"), IsOk());
  EXPECT_DOUBLE_EQ(nominal.ShapeNamed("round")->diameter_um, 400);
  EXPECT_THAT(TypeSize(nominal, "wedge", "width", "0.3"), IsOk());
  EXPECT_NEAR(SizesOf(*nominal.ShapeNamed("wedge"))[0].um, 300, 0.1);
  EXPECT_THAT(TypeSize(nominal, "round", "x", "0.1"), IsOk());
  EXPECT_DOUBLE_EQ(nominal.ShapeNamed("round")->centre.x, 100);
  EXPECT_THAT(TypeSize(nominal, "round", "diameter", "wide"), FailsWith(Code::kUsage));
  EXPECT_THAT(TypeSize(nominal, "round", "diameter", "-1"), FailsWith(Code::kUsage));
  EXPECT_THAT(TypeSize(nominal, "round", "width", "1"), FailsWith(Code::kUsage));
  EXPECT_EQ(BuildNominal(nominal, "round", LengthUnit::kMillimetre).sizes[0].text, "0.4");
  // Out of the part it does not go.
  const PointUm last = centre("round");
  EXPECT_FALSE(MoveShape(nominal, "round", {5000, 0}));
  EXPECT_EQ(nominal.error, "");
  EXPECT_EQ(centre("round").x, last.x);
  EXPECT_FALSE(MoveShape(nominal, "nobody", {1, 1}));
}

}  // namespace
}  // namespace cutface::window
