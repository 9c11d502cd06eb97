// CSV as RFC 4180 describes it, and the values of a workbook as ISO/IEC 29500-1 does.
#include "batch/table.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "batch/xlsx_values.h"
#include "support/matchers.h"

namespace cutface {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

// The rows' cells; "|" between cells and a line end behind each row.
std::string Cells(const Table& table) {
  std::string text;
  for (const TextRow& row : table.rows) {
    for (std::size_t i = 0; i < row.cells.size(); ++i) text += (i > 0 ? "|" : "") + row.cells[i];
    text += "\n";
  }
  return text;
}

std::string Read(std::string_view csv) {
  const auto table = ParseCsvTable(csv, "m.csv");
  return table ? Cells(*table) : std::string(CodeName(table.error().code));
}

TEST(CsvTable, ReadsTheFormsOfRfc4180) {
  // The numbered rules of section 2 there.
  EXPECT_EQ(Read("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"), "aaa|bbb|ccc\nzzz|yyy|xxx\n");          // 1
  EXPECT_EQ(Read("aaa,bbb,ccc\r\nzzz,yyy,xxx"), "aaa|bbb|ccc\nzzz|yyy|xxx\n");              // 2
  EXPECT_EQ(Read("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx"), "aaa|bbb|ccc\nzzz|yyy|xxx\n");  // 5
  EXPECT_EQ(Read("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
            "aaa|b\r\nbb|ccc\nzzz|yyy|xxx\n");                        // 6
  EXPECT_EQ(Read("\"aaa\",\"b\"\"bb\",\"ccc\""), "aaa|b\"bb|ccc\n");  // 7
  EXPECT_EQ(Read("a, b ,c"), "a| b |c\n");                            // 4: blanks count
}

TEST(CsvTable, EndsOfLinesOfAllSystemsAndTheByteOrderMarkAreRead) {
  EXPECT_EQ(Read("a,b\n1,2\n"), "a|b\n1|2\n");
  EXPECT_EQ(Read("a,b\r1,2\r"), "a|b\n1|2\n");
  EXPECT_EQ(Read("\xef\xbb\xbf"
                 "a,b\n1,2"),
            "a|b\n1|2\n");
}

TEST(CsvTable, TheSeparatorIsTheOneOfTheFirstLine) {
  EXPECT_EQ(Read("a;b;c\n1,5;2;3"), "a|b|c\n1,5|2|3\n");
  EXPECT_EQ(Read("a\tb\n1;2\t3"), "a|b\n1;2|3\n");
  EXPECT_EQ(Read("\"a;;;;\",b\n1,2"), "a;;;;|b\n1|2\n");
}

TEST(CsvTable, EmptyCellsStayAndRowsWithoutTextDoNot) {
  EXPECT_EQ(Read("a,,c\n,,\n \t,,\n1,,\n\n"), "a||c\n1||\n");
  const auto table = ParseCsvTable("a,b\n,\n\n\"x\ny\",1\n2,3", "m.csv");
  ASSERT_THAT(table, IsOk());
  ASSERT_EQ(table->rows.size(), 3u);
  EXPECT_EQ(table->rows[1].line, 4);
  EXPECT_EQ(table->rows[2].line, 6);  // behind a cell of two lines
}

TEST(CsvTable, BrokenQuotesAreRefusedWithTheirLine) {
  const auto open = ParseCsvTable("a,b\n1,\"2\n3,4\n", "m.csv");
  ASSERT_THAT(open, FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(open.error().message, HasSubstr("m.csv: line 2: a quote is never closed"));
  EXPECT_THAT(ParseCsvTable("a,\"b\"c\n", "m.csv"), FailsWith(Code::kJsonSyntax));
}

TEST(CsvTable, WhatIsNoTextIsRefused) {
  EXPECT_THAT(ParseCsvTable("a,b\n\xe9,2", "m.csv"), FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ParseCsvTable(std::string_view("a\0b", 3), "m.csv"), FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ParseCsvTable("\xff\xfe"
                            "a",
                            "m.csv"),
              FailsWith(Code::kJsonSyntax));
  EXPECT_THAT(ParseCsvTable(std::string(5000, 'x'), "m.csv"), FailsWith(Code::kJsonValue));
  EXPECT_THAT(ParseCsvTable(std::string(300, ','), "m.csv"), FailsWith(Code::kJsonValue));
}

// A quote before what a spreadsheet would take for a formula is not part of the text.
TEST(CsvTable, AQuoteBeforeAFormulaIsTakenAway) {
  EXPECT_EQ(Read("'=1+1,'+1,'-1,'@x,''=1,'tis,=1"), "=1+1|+1|-1|@x|'=1|'tis|=1\n");
}

// RFC 3629, section 10 and the table of section 4: overlong forms, surrogates, beyond U+10FFFF.
TEST(IsUtf8, TellsTextFromBytes) {
  for (const char* good : {"", "a", "\xc3\xa9", "\xe2\x82\xac", "\xf0\x9f\x98\x80", "\xed\x9f\xbf",
                           "\xf4\x8f\xbf\xbf"})
    EXPECT_TRUE(IsUtf8(good)) << good;
  for (const char* bad :
       {"\x80", "\xc0\x80", "\xc1\xbf", "\xe0\x80\xaf", "\xed\xa0\x80", "\xe2\x82",
        "\xf0\x80\x80\xaf", "\xf4\x90\x80\x80", "\xf8\x88\x80\x80\x80"})
    EXPECT_FALSE(IsUtf8(bad));
}

TEST(WorkbookValues, ColumnsCountInLetters) {
  EXPECT_EQ(ColumnOf("A1"), 0u);
  EXPECT_EQ(ColumnOf("Z9"), 25u);
  EXPECT_EQ(ColumnOf("AA10"), 26u);
  EXPECT_EQ(ColumnOf("XFD1048576"), 16383u);
  for (const char* wrong : {"", "A", "1", "a1", "XFE1", "A1B", "ZZZZZZZZZZZZZZZZZ1"})
    EXPECT_EQ(ColumnOf(wrong), std::nullopt) << wrong;
}

// Examples of ISO/IEC 29500-1, 18.17.4.1 and 18.17.4.2 (from memory), and days that any calendar
// tells: 1 January 1970 is day 25569.
TEST(WorkbookValues, SerialNumbersAreDays) {
  EXPECT_EQ(TimeOfSerial(1, false), "1900-01-01");
  EXPECT_EQ(TimeOfSerial(59, false), "1900-02-28");
  EXPECT_EQ(TimeOfSerial(60, false), "");
  EXPECT_EQ(TimeOfSerial(61, false), "1900-03-01");
  EXPECT_EQ(TimeOfSerial(25569, false), "1970-01-01");
  EXPECT_EQ(TimeOfSerial(25569.5, false), "1970-01-01T12:00:00");
  EXPECT_EQ(TimeOfSerial(2958465, false), "9999-12-31");
  EXPECT_EQ(TimeOfSerial(0, true), "1904-01-01");
  EXPECT_EQ(TimeOfSerial(24107, true), "1970-01-01");
  EXPECT_EQ(TimeOfSerial(-1, false), "");
  EXPECT_EQ(TimeOfSerial(1e9, false), "");
}

TEST(WorkbookValues, FormatsOfDatesAreKnownByTheirLetters) {
  for (const char* date :
       {"yyyy-mm-dd", "dd/mm/yy hh:mm", "[$-409]d-mmm-yy", "[h]:mm", "mm:ss", "\"on\" d"})
    EXPECT_TRUE(IsDateFormat(date)) << date;
  for (const char* other :
       {"0.00", "General", "[Red]0", "\"days\" 0", "0\\d", "#,##0_d", "@", "0.00;d"})
    EXPECT_FALSE(IsDateFormat(other)) << other;
}

TEST(WorkbookValues, NumbersReadAsTyped) {
  EXPECT_EQ(PlainNumber(7), "7");
  EXPECT_EQ(PlainNumber(-0.0), "0");
  EXPECT_EQ(PlainNumber(400.5), "400.5");
  EXPECT_EQ(PlainNumber(0.1), "0.1");
  EXPECT_EQ(PlainNumber(123456789012345), "123456789012345");
}

TEST(WorkbookValues, EscapedCharactersOfATextAreRead) {
  EXPECT_EQ(UnescapedText("a_x000A_b"), "a\nb");
  EXPECT_EQ(UnescapedText("_x005F_x000A_"), "_x000A_");
  EXPECT_EQ(UnescapedText("_x20AC_"), "\xe2\x82\xac");
  EXPECT_EQ(UnescapedText("_x12_ _xZZZZ_ _xD800_"), "_x12_ _xZZZZ_ _xD800_");
}

TEST(XlsxTable, WhatOnlyBeginsLikeAWorkbookIsRefused) {
  const std::string magic = "PK\x03\x04";
  const std::vector<std::string> texts = {magic, magic + "rubbish", ""};
  for (const std::string& text : texts) {
    EXPECT_THAT(ParseXlsxTable(std::as_bytes(std::span(text.data(), text.size())), "m.xlsx"),
                FailsWith(Code::kJsonSyntax));
  }
}

}  // namespace
}  // namespace cutface
