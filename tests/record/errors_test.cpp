// include/cutface/errors.md explains every code, and no code that does not exist.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <set>
#include <sstream>

#include "cutface/base.h"
#include "support/matchers.h"

namespace cutface {
namespace {

constexpr char kErrors[] = CUTFACE_SOURCE_DIR "/include/cutface/errors.md";
constexpr char kBase[] = CUTFACE_SOURCE_DIR "/include/cutface/base.h";

// Number of enumerators between "enum class Code {" and "};", one per line.
int CodesInHeader(const std::string& header) {
  std::istringstream lines(header.substr(header.find("enum class Code {")));
  std::string line;
  std::getline(lines, line);
  int count = 0;
  while (std::getline(lines, line) && line != "};") count += line.rfind("  k", 0) == 0;
  return count;
}

TEST(ErrorsPage, ExplainsCauseAndRemedyOfEveryCode) {
  const auto page = ReadTextFile(kErrors);
  const auto header = ReadTextFile(kBase);
  ASSERT_THAT(page, IsOk());
  ASSERT_THAT(header, IsOk());
  const int codes = static_cast<int>(Code::kInternal) + 1;
  // A code added behind kInternal would otherwise escape the loop below.
  ASSERT_EQ(CodesInHeader(*header), codes);

  std::set<std::string> names;
  for (int i = 0; i < codes; ++i) {
    const std::string name(CodeName(static_cast<Code>(i)));
    SCOPED_TRACE(name);
    EXPECT_TRUE(names.insert(name).second) << "two codes share a name";
    const std::size_t at = page->find("\n### `" + name + "`\n");
    ASSERT_NE(at, std::string::npos);
    const std::string part = page->substr(at, page->find("\n### ", at + 1) - at);
    EXPECT_NE(part.find("\n- Cause: "), std::string::npos);
    EXPECT_NE(part.find("\n- Remedy: "), std::string::npos);
  }
}

TEST(ErrorsPage, ExplainsNoCodeThatDoesNotExist) {
  const auto page = ReadTextFile(kErrors);
  ASSERT_THAT(page, IsOk());
  std::set<std::string> names;
  for (int i = 0; i <= static_cast<int>(Code::kInternal); ++i) {
    names.insert(std::string(CodeName(static_cast<Code>(i))));
  }
  int headings = 0;
  for (std::size_t at = page->find("\n### `"); at != std::string::npos;
       at = page->find("\n### `", at + 1)) {
    const std::size_t begin = at + 6;
    const std::string name = page->substr(begin, page->find('`', begin) - begin);
    EXPECT_TRUE(names.count(name)) << name;
    ++headings;
  }
  EXPECT_EQ(headings, static_cast<int>(names.size()));
}

}  // namespace
}  // namespace cutface
