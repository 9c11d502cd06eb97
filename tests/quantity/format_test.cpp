#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "cutface/base.h"
#include "cutface/quantity.h"
#include "reference/reference.h"

namespace cutface {
namespace {

constexpr LengthUnit kMm = LengthUnit::kMillimetre, kIn = LengthUnit::kInch,
                     kUm = LengthUnit::kMicrometre;

TEST(Format, LengthsFollowTheReadersUnit) {
  EXPECT_EQ(Format(112.4, "um", kMm), "0.1124 mm");
  EXPECT_EQ(Format(112.4, "um", kIn), "0.00443 in");
  EXPECT_EQ(Format(112.4, "um", kUm), "112.4 um");
  EXPECT_EQ(Format(2500, "um", kMm), "2.5000 mm");
  EXPECT_EQ(Format(25400, "um", kIn, false), "1.00000");
  EXPECT_EQ(Format(0, "um", kMm, false), "0.0000");
}

TEST(Format, AreasFollowTheReadersUnitSquared) {
  EXPECT_EQ(Format(4908738.5, "um2", kMm), "4.90874 mm2");
  EXPECT_EQ(Format(645160000, "um2", kIn), "1.00000000 in2");
  EXPECT_EQ(Format(1234.5, "um2", kUm), "1235 um2");
}

TEST(Format, OtherUnitsKeepTheirs) {
  EXPECT_EQ(Format(12.34, "deg", kMm), "12.3 deg");
  EXPECT_EQ(Format(0.8434, "1", kIn), "0.843");
  EXPECT_EQ(Format(86.3636, "%", kMm), "86.4 %");
  EXPECT_EQ(Format(2.3622, "1/mm", kMm), "2.362 1/mm");
  EXPECT_EQ(Format(2.3622, "1/mm", kIn, false), "2.362");
}

TEST(Format, CountsPrintWithoutDecimals) {
  const QuantityRow* count = FindQuantity("count", QuantityOf::kWireLayer);
  const QuantityRow* septum = FindQuantity("septum", QuantityOf::kLumenPair);
  ASSERT_TRUE(count && septum);
  EXPECT_EQ(Format(16, *count, kMm), "16");
  EXPECT_EQ(Format(15.5, *count, kMm), "16");
  EXPECT_EQ(Format(112.4, *septum, kMm), "0.1124 mm");
}

TEST(Format, RoundsHalvesAwayFromZeroAsTheyRead) {
  EXPECT_EQ(Format(0.125, "1", kMm), "0.125");
  EXPECT_EQ(Format(0.0005, "1", kMm), "0.001");
  EXPECT_EQ(Format(1.0005, "1", kMm), "1.001");  // lies below in binary
  EXPECT_EQ(Format(-1.0005, "1", kMm), "-1.001");
  EXPECT_EQ(Format(112.45, "um", kMm), "0.1125 mm");
  EXPECT_EQ(Format(0.25, "deg", kMm), "0.3 deg");
  EXPECT_EQ(Format(2.5, *FindQuantity("count", QuantityOf::kWireLayer), kMm), "3");
}

TEST(Format, CarriesThroughNines) {
  EXPECT_EQ(Format(9.95, "deg", kMm), "10.0 deg");
  EXPECT_EQ(Format(999.9996, "1", kMm), "1000.000");
  EXPECT_EQ(Format(-0.9999, "1", kMm), "-1.000");
  EXPECT_EQ(Format(9.5, *FindQuantity("count", QuantityOf::kWireLayer), kMm), "10");
}

TEST(Format, NeverPrintsAMinusBeforeZero) {
  EXPECT_EQ(Format(-0.0, "deg", kMm), "0.0 deg");
  EXPECT_EQ(Format(-0.04, "deg", kMm), "0.0 deg");
  EXPECT_EQ(Format(-0.05, "deg", kMm), "-0.1 deg");
  EXPECT_EQ(Format(-1e-300, "um", kMm), "0.0000 mm");
}

TEST(Format, PrintsVeryLargeNumbersInFull) {
  EXPECT_EQ(Format(1e20, "1", kMm), "100000000000000000000.000");
  EXPECT_EQ(Format(1e300, "1", kMm).size(), 305u);
}

TEST(Format, StopsOnWhatIsNoNumber) {
  EXPECT_DEATH(Format(std::nan(""), "um", kMm), "broken invariant");
}

// Property: apart from halves it agrees with the C library's rounding to nearest.
TEST(Format, AgreesWithTheLibraryAwayFromHalves) {
  for (int i = -20000; i <= 20000; ++i) {
    const double value = i * 0.0137 + 1e-7;
    std::string expected = fmt::format("{:.1f}", value);
    if (expected == "-0.0") expected = "0.0";
    EXPECT_EQ(Format(value, "deg", kMm, false), expected);
  }
}

TEST(ToDisplay, ConvertsWithoutRounding) {
  EXPECT_EQ(ToDisplay(112.4, "um", kMm), 0.1124);
  EXPECT_EQ(ToDisplay(25400, "um", kIn), 1);
  EXPECT_EQ(ToDisplay(86.4, "%", kIn), 86.4);
  EXPECT_EQ(DisplayUnit("um2", kIn), "in2");
  EXPECT_EQ(DisplayUnit("1", kIn), "");
}

TEST(FormatProbability, NeverRoundsToCertainty) {
  EXPECT_EQ(FormatProbability(0.98), "0.98");
  EXPECT_EQ(FormatProbability(0.948), "0.948");
  EXPECT_EQ(FormatProbability(0.5), "0.50");
  EXPECT_EQ(FormatProbability(0.9), "0.90");
  EXPECT_EQ(FormatProbability(0.999), "0.999");
  EXPECT_EQ(FormatProbability(0.99901), "> 0.999");
  EXPECT_EQ(FormatProbability(1), "> 0.999");
  EXPECT_EQ(FormatProbability(0.001), "0.001");
  EXPECT_EQ(FormatProbability(0.0009), "< 0.001");
  EXPECT_EQ(FormatProbability(0), "< 0.001");
}

// French scale: Fr = 3 x outside diameter in mm (trade's definition; table of whole sizes).
TEST(FormatFrench, IsThreeTimesTheDiameterInMillimetres) {
  EXPECT_EQ(FormatFrench(2500), "7.5 Fr");
  for (const ReferenceRow& row : ReadReference("french-scale/sizes.txt")) {
    EXPECT_EQ(FormatFrench(1000 * row.values[1]), fmt::format("{:.1f} Fr", row.values[0]));
  }
}

}  // namespace
}  // namespace cutface
