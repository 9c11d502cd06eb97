// Runs a fuzz target over saved inputs (files, or folders of files) and over damaged copies of
// each: cut off, bytes changed, spans taken out, doubled or taken from another seed. Without
// libFuzzer, so that every compiler and each plain test run can do it; the same copies each time.
//
//   fuzz_NAME tests/fuzz/corpus/NAME [--copies 1000]
//
// An input on which the program dies is left as fuzz-failed.bin in the working folder.
#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <string>
#include <vector>

#include "cutface/base.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

using Bytes = std::vector<std::uint8_t>;

// What the target has in hand: for the signal handler alone, which can be given nothing.
const Bytes* in_hand = nullptr;

void LeaveInput(int signal) {
  const int file = ::open("fuzz-failed.bin", O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
  const bool left =
      file >= 0 && in_hand != nullptr && ::write(file, in_hand->data(), in_hand->size()) >= 0;
  constexpr char kTold[] = "the input lies in fuzz-failed.bin\n";
  if (left && ::write(STDERR_FILENO, kTold, sizeof kTold - 1) < 0) ::_exit(2);
  std::signal(signal, SIG_DFL);
  std::raise(signal);
}

void Try(const Bytes& bytes) {
  in_hand = &bytes;
  LLVMFuzzerTestOneInput(bytes.data(), bytes.size());
  in_hand = nullptr;
}

// One of the ways in which files come to harm, by the generator's next words: plain remainders, so
// that every standard library makes the same copies.
Bytes Damaged(const Bytes& seed, const Bytes& other, std::mt19937& random) {
  const auto below = [&](std::size_t n) { return n == 0 ? std::size_t{0} : random() % n; };
  const auto at = [](Bytes& bytes, std::size_t i) {
    return bytes.begin() + static_cast<std::ptrdiff_t>(i);
  };
  Bytes copy = seed;
  for (std::size_t changes = 1 + below(4); changes > 0 && !copy.empty(); --changes) {
    const std::size_t from = below(copy.size());
    const std::size_t to = std::min(copy.size(), from + 1 + below(std::size_t{1} << below(7)));
    const Bytes span(at(copy, from), at(copy, to));
    const std::size_t start = below(other.size());
    const auto taken = static_cast<std::ptrdiff_t>(std::min(other.size() - start, span.size()));
    const auto source = other.begin() + static_cast<std::ptrdiff_t>(start);
    constexpr std::uint8_t kTelling[] = {0,   1,   0x7f, 0x80, 0xff, '"',
                                         '{', '[', '\n', '9',  '-',  ','};
    switch (below(7)) {
      case 0:
        copy.resize(from);
        break;
      case 1:
        copy[from] ^= static_cast<std::uint8_t>(1U << below(8));
        break;
      case 2:
        copy[from] = kTelling[below(std::size(kTelling))];
        break;
      case 3:
        copy.erase(at(copy, from), at(copy, to));
        break;
      case 4:
        copy.insert(at(copy, to), span.begin(), span.end());
        break;
      case 5:
        std::copy_n(source, taken, at(copy, from));
        break;
      default:
        copy.insert(at(copy, from), source, source + taken);
    }
  }
  return copy;
}

}  // namespace

int main(int argc, char** argv) {
  namespace fs = std::filesystem;
  std::vector<fs::path> files;
  long copies = 1000;
  for (int i = 1; i < argc; ++i) {
    if (std::string(argv[i]) == "--copies" && i + 1 < argc)
      copies = std::strtol(argv[++i], nullptr, 10);
    else if (!fs::is_directory(argv[i]))
      files.emplace_back(argv[i]);
    else
      for (const auto& entry : fs::recursive_directory_iterator(argv[i]))
        if (entry.is_regular_file()) files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  std::vector<Bytes> seeds;
  for (const fs::path& file : files) {
    const auto bytes = cutface::ReadFile(file.string());
    if (!bytes) {
      std::fprintf(stderr, "%s\n", bytes.error().message.c_str());
      return 1;
    }
    const auto* first = reinterpret_cast<const std::uint8_t*>(bytes->data());
    seeds.emplace_back(first, first + bytes->size());
  }
  for (const int fault : {SIGABRT, SIGSEGV, SIGFPE, SIGBUS, SIGILL}) std::signal(fault, LeaveInput);
  std::mt19937 random(1);
  for (const Bytes& seed : seeds) {
    Try(seed);
    for (long i = 0; i < copies; ++i) Try(Damaged(seed, seeds[random() % seeds.size()], random));
  }
  std::printf("%zu inputs, %ld damaged copies of each\n", seeds.size(), copies);
  // An empty folder would be a test that tests nothing.
  return seeds.empty() ? 1 : 0;
}
