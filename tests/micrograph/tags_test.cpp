// What a file says beside its pixels: scale, time, orientation. Files ending in .tag come from
// make_pictures.py.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "cutface/micrograph.h"
#include "support/matchers.h"

namespace cutface {
namespace {

Micrograph Read(const std::string& name) {
  auto m = ReadMicrograph(PICTURES + name);
  EXPECT_THAT(m, IsOk()) << name;
  return m ? *m : Micrograph{};
}

TEST(EmbeddedScale, ScreenAndPrintDefaultsAreNoScale) {
  for (int dpi : {72, 96, 150, 300, 600, 1200}) {
    for (const char* ending : {"png", "tif", "jpg", "bmp"}) {
      const std::string name = "dpi" + std::to_string(dpi) + "." + ending + ".tag";
      EXPECT_FALSE(Read(name).embedded.has_value()) << name;
    }
  }
}

// 2540 per inch are 10 um, 5080 per inch 5 um. PNG and BMP hold whole pixels per metre (100 000 and
// 200 000: exact here).
TEST(EmbeddedScale, OtherDensitiesAreReadInEveryFormat) {
  const std::pair<const char*, const char*> formats[] = {{"png", "PNG pHYs"},
                                                         {"tif", "TIFF resolution"},
                                                         {"jpg", "JFIF density"},
                                                         {"bmp", "BMP resolution"}};
  for (const auto& [ending, source] : formats) {
    const auto ten = Read(std::string("dpi2540.") + ending + ".tag").embedded;
    ASSERT_TRUE(ten.has_value()) << ending;
    EXPECT_NEAR(ten->pitch_x_um, 10.0, 1e-6) << ending;
    EXPECT_NEAR(ten->pitch_y_um, 10.0, 1e-6) << ending;
    EXPECT_EQ(ten->source, source);
    const auto five = Read(std::string("dpi5080.") + ending + ".tag").embedded;
    ASSERT_TRUE(five.has_value()) << ending;
    EXPECT_NEAR(five->pitch_x_um, 5.0, 1e-6) << ending;
  }
}

TEST(EmbeddedScale, CentimetresAndMetresGiveBothDirections) {
  const auto tiff = Read("percm.tif.tag").embedded;
  ASSERT_TRUE(tiff.has_value());
  EXPECT_NEAR(tiff->pitch_x_um, 1e4 / 4161.3, 1e-6);  // the library keeps 24 bits
  EXPECT_NEAR(tiff->pitch_y_um, 1e4 / 4158.0, 1e-6);
  const auto png = Read("metre.png.tag").embedded;
  ASSERT_TRUE(png.has_value());
  EXPECT_DOUBLE_EQ(png->pitch_x_um, 1e6 / 416130);
  EXPECT_DOUBLE_EQ(png->pitch_y_um, 1e6 / 415800);
}

TEST(EmbeddedScale, TagsWithoutUnitOrOfOnePixelAUnitAreNoScale) {
  for (const char* name :
       {"unitless.tif.tag", "unitless.png.tag", "unitless.jpg.tag", "one.tif.tag"}) {
    EXPECT_FALSE(Read(name).embedded.has_value()) << name;
  }
}

TEST(EmbeddedScale, OmeXmlIsReadWithItsUnits) {
  const auto ome = Read("twelve-said-by-ome.tif").embedded;
  ASSERT_TRUE(ome.has_value());
  EXPECT_DOUBLE_EQ(ome->pitch_x_um, 0.65);  // the default unit is the micrometre
  EXPECT_DOUBLE_EQ(ome->pitch_y_um, 0.65);  // 650 nm
  EXPECT_EQ(ome->source, "OME-XML");
}

TEST(Exif, OrientationIsReportedAndNeverApplied) {
  for (const char* name : {"exif.jpg.tag", "exif.png.tag", "exif.tif.tag"}) {
    const Micrograph m = Read(name);
    EXPECT_EQ(m.exif_orientation, 6) << name;
    EXPECT_EQ(m.width(), 30) << name;
    EXPECT_EQ(m.height(), 20) << name;
  }
}

TEST(Exif, TimeOfCaptureIsIso8601WithItsOffset) {
  EXPECT_EQ(Read("exif.jpg.tag").taken, "2026-03-02T09:15:00+01:00");
  EXPECT_EQ(Read("exif.png.tag").taken, "2026-03-02T09:15:00+01:00");
  EXPECT_EQ(Read("exif.tif.tag").taken, "2026-03-02T09:15:00+01:00");
  EXPECT_EQ(Read("digitized.jpg.tag").taken, "2026-03-02T09:15:01");
  EXPECT_EQ(Read("datetime.tif.tag").taken, "2025-12-31T23:59:58");
}

// EXIF's DateTime is when the file was last changed; zeros mean unknown.
TEST(Exif, TimeOfChangeAndZerosAreNoTimeOfCapture) {
  EXPECT_EQ(Read("changed.jpg.tag").taken, "");
  EXPECT_EQ(Read("zeros.jpg.tag").taken, "");
  EXPECT_EQ(Read("grey8.png").taken, "");
}

}  // namespace
}  // namespace cutface
