// Checks a JSON text against a schema with python3-jsonschema, a validator that is not ours.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <sstream>
#include <string>
#include <vector>

#include "cutface/base.h"

namespace cutface {

// The validator's complaints about each text, one per line; "" when it is valid. `strict` also
// complains about keys that the schema does not describe. One start of the validator for all texts.
inline std::vector<std::string> Violations(const std::string& schema,
                                           const std::vector<std::string>& texts,
                                           bool strict = false) {
  const auto* test = testing::UnitTest::GetInstance()->current_test_info();
  const std::filesystem::path folder = std::filesystem::temp_directory_path() /
                                       (std::string("cutface-") + test->test_suite_name() + "-" +
                                        test->name() + "-" + std::to_string(::getpid()));
  std::filesystem::create_directory(folder);
  std::string command = std::string("/usr/bin/python3 \"") + CUTFACE_SOURCE_DIR +
                        "/tests/support/validate_json.py\" " + (strict ? "--strict " : "") + "\"" +
                        schema + "\"";
  std::vector<std::string> files, complaints(texts.size());
  for (std::size_t i = 0; i < texts.size(); ++i) {
    files.push_back(folder / (std::to_string(i) + ".json"));
    if (!WriteWhole(files.back(), texts[i])) complaints[i] = "cannot write " + files.back();
    command += " \"" + files.back() + "\"";
  }
  std::string output;
  std::FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
  std::array<char, 4096> buffer;
  while (pipe != nullptr && std::fgets(buffer.data(), buffer.size(), pipe) != nullptr) {
    output += buffer.data();
  }
  const int status = pipe == nullptr ? -1 : ::pclose(pipe);
  std::filesystem::remove_all(folder);
  std::size_t told = 0;
  std::istringstream lines(output);
  for (std::string line; std::getline(lines, line);) {
    for (std::size_t i = 0; i < files.size(); ++i) {
      if (line.rfind(files[i] + ": ", 0) != 0) continue;
      complaints[i] += line.substr(files[i].size() + 2) + "\n";
      ++told;
    }
  }
  // A validator that could not do its work must not look like consent.
  if ((status == 0) != (told == 0)) complaints.assign(texts.size(), "validator failed: " + output);
  return complaints;
}

inline std::string Violations(const std::string& schema, const std::string& text,
                              bool strict = false) {
  return Violations(schema, std::vector<std::string>{text}, strict).front();
}

}  // namespace cutface
