// Runs a fuzz target over saved inputs: files, or folders of files. Without libFuzzer, so that
// every compiler and each plain test run can do it.
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <vector>

#include "cutface/base.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

int main(int argc, char** argv) {
  namespace fs = std::filesystem;
  std::vector<fs::path> files;
  for (int i = 1; i < argc; ++i) {
    if (!fs::is_directory(argv[i]))
      files.emplace_back(argv[i]);
    else
      for (const auto& entry : fs::directory_iterator(argv[i])) files.push_back(entry.path());
  }
  for (const fs::path& file : files) {
    const auto bytes = cutface::ReadFile(file.string());
    if (!bytes) {
      std::fprintf(stderr, "%s\n", bytes.error().message.c_str());
      return 1;
    }
    LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(bytes->data()), bytes->size());
  }
  std::printf("%zu inputs\n", files.size());
  // An empty folder would be a test that tests nothing.
  return files.empty() ? 1 : 0;
}
