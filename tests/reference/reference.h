// Reads published values under tests/reference: text lines "word number number ...", '#' starts a
// line of provenance. Rows keep their order.
#pragma once

#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace cutface {

struct ReferenceRow {
  std::string word;
  std::vector<double> values;
};

inline std::vector<ReferenceRow> ReadReference(const std::string& file) {
  std::ifstream in(std::string(CUTFACE_SOURCE_DIR) + "/tests/reference/" + file);
  if (!in) throw std::runtime_error("no reference file " + file);
  std::vector<ReferenceRow> rows;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line[0] == '#') continue;
    std::istringstream words(line);
    ReferenceRow row;
    words >> row.word;
    for (std::string number; words >> number;) row.values.push_back(std::stod(number));
    rows.push_back(row);
  }
  return rows;
}

// The numbers of the only row with that word.
inline std::vector<double> ReferenceValues(const std::vector<ReferenceRow>& rows,
                                           const std::string& word) {
  for (const ReferenceRow& row : rows) {
    if (row.word == word) return row.values;
  }
  throw std::runtime_error("no row " + word);
}

}  // namespace cutface
