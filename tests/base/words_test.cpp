// Hash, units, UTF-8 and texts made harmless.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <regex>

#include "cutface/texts.h"
#include "support/matchers.h"

namespace cutface {
namespace {

// FIPS 180-4, examples of SHA-256 published with it by NIST ("SHA256.pdf", Cryptographic Standards
// and Guidelines, example values), the long one and the empty one from the test vectors of the
// Secure Hash Standard Validation System.
TEST(Sha256, IsThatOfThePublishedExamples) {
  EXPECT_EQ(Sha256Hex(std::string_view("abc")),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(Sha256Hex(std::string_view("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq")),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  EXPECT_EQ(Sha256Hex(std::string_view("")),
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
  EXPECT_EQ(Sha256Hex(std::string(1'000'000, 'a')),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
}

TEST(Units, AnInchIs25400MicrometresAndNamesComeBack) {
  EXPECT_EQ(UmPer(LengthUnit::kMicrometre), 1);
  EXPECT_EQ(UmPer(LengthUnit::kMillimetre), 1000);
  EXPECT_EQ(UmPer(LengthUnit::kInch), 25400);  // exact since 1959
  for (const LengthUnit unit :
       {LengthUnit::kMicrometre, LengthUnit::kMillimetre, LengthUnit::kInch}) {
    const auto again = ParseLengthUnit(UnitName(unit));
    ASSERT_THAT(again, IsOk());
    EXPECT_EQ(*again, unit);
  }
  for (const char* other : {"", "inch", "MM", "m", "mm "})
    EXPECT_THAT(ParseLengthUnit(other), FailsWith(Code::kJsonValue)) << other;
}

TEST(NowUtc, IsATimeOfIso8601) {
  EXPECT_TRUE(std::regex_match(NowUtc(), std::regex(R"(20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ)")));
}

std::vector<char32_t> Points(std::string_view text) {
  std::vector<char32_t> points;
  while (!text.empty()) {
    char32_t point = 0;
    const std::size_t n = Utf8Sequence(text, point);
    if (n == 0) return {};
    points.push_back(point);
    text.remove_prefix(n);
  }
  return points;
}

// RFC 3629, section 7.
TEST(Utf8, TheExamplesOfTheStandardAreRead) {
  using testing::ElementsAre;
  EXPECT_THAT(Points("\x41\xE2\x89\xA2\xCE\x91\x2E"),
              ElementsAre(char32_t{0x41}, char32_t{0x2262}, char32_t{0x391}, char32_t{0x2e}));
  EXPECT_THAT(Points("\xED\x95\x9C\xEA\xB5\xAD\xEC\x96\xB4"),
              ElementsAre(char32_t{0xd55c}, char32_t{0xad6d}, char32_t{0xc5b4}));
  EXPECT_THAT(Points("\xE6\x97\xA5\xE6\x9C\xAC\xE8\xAA\x9E"),
              ElementsAre(char32_t{0x65e5}, char32_t{0x672c}, char32_t{0x8a9e}));
  EXPECT_THAT(Points("\xEF\xBB\xBF\xF0\xA3\x8E\xB4"),
              ElementsAre(char32_t{0xfeff}, char32_t{0x233b4}));
}

// RFC 3629, sections 3, 4 and 10.
TEST(Utf8, WhatTheStandardForbidsIsRefused) {
  for (const char* bad : {
           "\xC0\x80",          // overlong NUL
           "\x2F\xC0\xAE\x2E",  // overlong full stop
           "\xC1\xBF",          // overlong, two bytes
           "\xE0\x9F\xBF",      // overlong, three
           "\xF0\x8F\xBF\xBF",  // overlong, four
           "\xED\xA0\x80",      // first surrogate
           "\xED\xBF\xBF",      // last surrogate
           "\xF4\x90\x80\x80",  // U+110000
           "\xF5\x80\x80\x80",
           "\xFF",
           "\x80",
           "\xE2\x89",
           "\xE2\x28\xA1",
           "\xF0\xA3\x8E",
       }) {
    EXPECT_FALSE(IsUtf8(bad)) << testing::PrintToString(std::string(bad));
  }
  for (const char* good : {"", "a", "\xC2\x80", "\xDF\xBF", "\xE0\xA0\x80", "\xED\x9F\xBF",
                           "\xEE\x80\x80", "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"}) {
    EXPECT_TRUE(IsUtf8(good)) << testing::PrintToString(std::string(good));
  }
}

TEST(PlainText, MarksThatSteerAreShownAndNotObeyed) {
  EXPECT_EQ(PlainText("a\x1b[2J\nb\x7f"), "a\\x1b[2J\\x0ab\\x7f");
  EXPECT_EQ(PlainText("\xE2\x80\xAE"
                      "gpj.exe"),
            "\\u202egpj.exe");
  EXPECT_EQ(PlainText("\xC2\x9B"), "\\x9b");       // the terminal's CSI as one character
  EXPECT_EQ(PlainText("\xff\xC0"), "\\xff\\xc0");  // bytes that are no UTF-8
  EXPECT_EQ(PlainText("\xCE\x91 \xC2\xB5m"), "\xCE\x91 \xC2\xB5m");
  EXPECT_EQ(PlainText(PlainText("\x1b")), "\\x1b");
}

TEST(PlainText, IsCutBetweenCharactersAndSaysSo) {
  const std::string alpha = "\xCE\x91";
  EXPECT_EQ(PlainText(alpha + alpha + alpha, 3), alpha + alpha + alpha);
  EXPECT_EQ(PlainText(alpha + alpha + alpha, 2), alpha + alpha + "...");
}

TEST(HtmlEscaped, NothingOfATextIsTakenForMarkup) {
  EXPECT_EQ(HtmlEscaped("<a href=\"x\">&'</a>"),
            "&lt;a href=&quot;x&quot;&gt;&amp;&#39;&lt;/a&gt;");
  EXPECT_EQ(HtmlEscaped("\xC2\xB5m"), "\xC2\xB5m");
}

TEST(NumberRows, NumbersStandUnderEachOther) {
  EXPECT_EQ(TextWidth("\xC2\xB5m"), 2U);
  EXPECT_EQ(NumberRows({{"bore", "9.5", "\xC2\xB5m"}, {"l", "112.25"}, {}, {"", "", "x"}}),
            "  bore     9.5  \xC2\xB5m\n"
            "  l     112.25\n"
            "\n"
            "                 x\n");
  EXPECT_EQ(NumberRows({}), "");
}

TEST(NearestWord, OnlyANearOneIsOffered) {
  const std::vector<std::string_view> known = {"diameter", "septum", "wall", "of"};
  EXPECT_EQ(NearestWord("diamter", known), "diameter");
  EXPECT_EQ(NearestWord("walls", known), "wall");
  EXPECT_EQ(NearestWord("septum", known), "septum");
  EXPECT_EQ(NearestWord("perimeter_of_everything", known), "");
  EXPECT_EQ(NearestWord("x", {}), "");
}

TEST(CfCheck, ABrokenInvariantSaysWhereAndEndsTheProgram) {
  testing::FLAGS_gtest_death_test_style = "threadsafe";
  CF_CHECK(1 + 1 == 2);
  EXPECT_DEATH(CF_CHECK(1 + 1 == 3), R"(broken invariant 1 \+ 1 == 3 at .*words_test\.cpp:[0-9]+)");
}

}  // namespace
}  // namespace cutface
