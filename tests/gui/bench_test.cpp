// The bench through the window's state, held against the command line: a certified circle, a
// camera's light from an exposure pair and a blank, and the steps in their order.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>
#include <opencv2/core.hpp>
#include <random>
#include <sstream>

#include "cutface/cli.h"
#include "gui/demo.h"

namespace cutface::window {
namespace {

using testing::HasSubstr;

constexpr double kGamma = 1.8;

// Light by place, with noise, through a camera of this gamma.
template <class Light>
void WritePicture(const std::string& path, double gamma, unsigned seed, const Light& light) {
  cv::Mat tone(600, 800, CV_8UC1);
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(0, 0.008);
  for (int y = 0; y < tone.rows; ++y)
    for (int x = 0; x < tone.cols; ++x)
      tone.at<std::uint8_t>(y, x) =
          cv::saturate_cast<std::uint8_t>(255 * (std::pow(light(x, y), 1 / gamma) + noise(random)));
  const auto png = EncodePng(tone);
  ASSERT_THAT(png, IsOk());
  ASSERT_THAT(WriteWhole(path, *png), IsOk());
}

// A bright disc of 1200 um, 2.5 by 2.52 um per px: a step blurred by a Gaussian of 1 px.
double Disc(int x, int y) {
  const double r = std::hypot((x - 402.3) * 2.5, (y - 296.8) * 2.52);
  return 0.2 + 0.25 * (1 - std::erf((r - 600) / 2.51 / std::sqrt(2)));
}

class BenchTest : public AppTest {
 protected:
  void Look(App& app) {
    app.Apply({{Do::kBenchForm}, {Do::kBenchLook}});
    app.WaitUntilIdle();
  }
  // A circle, the empty field, and one field at two exposures.
  void WritePictures() const {
    WritePicture(Path("circle.png"), kGamma, 1, Disc);
    const auto lamp = [](int x, int y) {
      return 0.7 * (1 - 0.3 * (std::pow(x - 400, 2) + std::pow(y - 300, 2)) / 250000);
    };
    WritePicture(Path("blank.png"), kGamma, 2, lamp);
    const auto steps = [&](int x, int y) { return 0.4 * lamp(x, y) * (0.3 + 0.7 * x / 800); };
    WritePicture(Path("once.png"), kGamma, 3, steps);
    WritePicture(Path("twice.png"), kGamma, 4, [&](int x, int y) { return 2 * steps(x, y); });
  }
  void GiveNames(BenchForm& form) const {
    form.by = "desk";
    form.id = "window";
    form.made = "2026-03-02";
    form.due = "2026-09-02";
    form.folder = Path("records");
    form.copy_evidence = true;
  }
  // Everything but the record's own name.
  std::string RecordText(const std::string& file, const std::string& id) const {
    auto text = ReadTextFile(Path(file));
    EXPECT_THAT(text, IsOk()) << file;
    if (!text) return "";
    for (std::size_t at = text->find(id); at != std::string::npos; at = text->find(id, at))
      text->replace(at, id.size(), "ID");
    return *text;
  }
};

TEST_F(BenchTest, ACircleWithItsLightMakesTheRecordThatTheCommandLineMakes) {
  WritePictures();
  App app(Settings{}, "");
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kBench)}});
  BenchForm& form = app.bench_form;
  form.kind = TargetKind::kCircle;
  form.pictures = {Path("circle.png")};
  app.Apply({{Do::kBenchForm}});
  EXPECT_THAT(app.panels().bench.hindrance, HasSubstr("diameter"));
  form.diameter_um = "1200";
  form.certificate_u_um = "0.3";
  form.certificate = "K-7";
  form.blank = Path("blank.png");
  Look(app);
  EXPECT_THAT(app.notice(), HasSubstr("gamma"));  // a blank is nothing without it
  EXPECT_EQ(app.notice().find("--"), std::string::npos) << app.notice();
  form.exposure_first = Path("once.png");
  app.Apply({{Do::kBenchForm}});
  EXPECT_THAT(app.panels().bench.hindrance, HasSubstr("name both"));
  form.exposure_second = Path("twice.png");
  Look(app);
  ASSERT_FALSE(app.panels().bench.found.empty()) << app.notice();
  EXPECT_THAT(app.panels().bench.pictures[0].value, HasSubstr("diameter"));
  GiveNames(form);
  app.Apply({{Do::kBenchKeep}});
  EXPECT_THAT(app.notice(), HasSubstr("kept as"));
  for (const char* file : {"window.blank.png", "window.residuals.png", "window.residuals.svg",
                           "window.evidence-1.png"})
    EXPECT_TRUE(fs::exists(folder_ / "records" / file)) << file;

  std::ostringstream out, err;
  RunProgram({"calibrate",
              Path("circle.png"),
              "--target",
              "circle",
              "--diameter",
              "1.2mm",
              "--u",
              "0.3um",
              "--artefact",
              "check standard",
              "--certificate",
              "K-7",
              "--by",
              "desk",
              "--made",
              "2026-03-02",
              "--due",
              "2026-09-02",
              "--blank",
              Path("blank.png"),
              "--exposure-pair",
              Path("once.png"),
              Path("twice.png"),
              "--out",
              Path("called.calibration.json")},
             {out, err});
  EXPECT_EQ(RecordText("records/window.calibration.json", "window"),
            RecordText("called.calibration.json", "called"))
      << err.str();
  const auto kept = ReadCalibration(Path("records/window.calibration.json"));
  ASSERT_THAT(kept, IsOk());
  EXPECT_NEAR(*kept->gamma, kGamma, 0.05);
  EXPECT_NEAR(*kept->pitch_x_um, 2.5, 0.005);

  // The same disc as a pin, measured with that record as the product is.
  app.Apply({{Do::kBenchWhat, 1}});
  form.kind = TargetKind::kPin;
  form.record = Path("records/window.calibration.json");
  form.taken = "2026-03-03T09:15";
  Look(app);
  EXPECT_EQ(app.panels().bench.verdict, "passed") << app.notice();
  app.Apply({{Do::kBenchKeep}});
  EXPECT_TRUE(fs::exists(Path("records/checks.jsonl"))) << app.notice();
  EXPECT_TRUE(fs::exists(Path("records/window.drift.png")));
}

TEST_F(BenchTest, StepsSayWhatTheyStillNeedAndKindsThatDoNotGoAreLeft) {
  App app(Settings{}, "");
  app.Apply({{Do::kShowRoom, static_cast<int>(Room::kBench)}});
  const auto step = [&](BenchStep which) {
    for (const BenchPanel::Step& s : app.panels().bench.steps)
      if (s.step == which) return s;
    return BenchPanel::Step{};
  };
  EXPECT_THAT(step(BenchStep::kTarget).missing, HasSubstr("division"));
  EXPECT_THAT(step(BenchStep::kPictures).missing, HasSubstr("picture"));
  EXPECT_TRUE(step(BenchStep::kLight).optional);
  app.bench_form.kind = TargetKind::kDotGrid;
  app.Apply({{Do::kBenchWhat, 1}});
  EXPECT_EQ(app.bench_form.kind, TargetKind::kLineScale);  // a grid checks nothing
  EXPECT_THAT(step(BenchStep::kRecord).missing, HasSubstr("record"));
  app.bench_form.kind = TargetKind::kPin;
  app.Apply({{Do::kBenchWhat, 0}});
  EXPECT_EQ(app.bench_form.kind, TargetKind::kLineScale);  // a pin makes no record
  for (int i = 0; i < 9; ++i) app.Apply({{Do::kBenchStep, -1}});
  EXPECT_EQ(app.bench_form.step, static_cast<int>(app.panels().bench.steps.size()) - 1);
}

}  // namespace
}  // namespace cutface::window
