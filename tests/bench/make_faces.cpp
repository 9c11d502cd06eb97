// make_faces: writes faces of known geometry for the accuracy bench.
//
//   make_faces --set plain|hard|harsh|built-plain|built-hard|hostile|hostile-built --first-seed S
//     --count N --out DIR [--jobs 1]
//
// Each face gives NAME.png, NAME.design.json, NAME.calibration.json and NAME.truth.json, where NAME
// is set-seed. The same seed gives the same bytes, whatever --jobs.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <atomic>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <mutex>
#include <thread>

#include "cutface/base.h"
#include "cutface/micrograph.h"
#include "cutface/phantom.h"

namespace cutface {
namespace {

Status WriteFace(PhantomSet set, std::uint64_t seed, const std::string& folder) {
  const PhantomFace face = DrawPhantomFace(set, seed);
  const auto png = EncodePng(RenderFace(face));
  if (!png) return tl::unexpected<Error>(png.error());
  const std::string stem = folder + "/" + face.name;
  if (Status s = WriteWhole(stem + ".png", std::span<const std::byte>(*png)); !s) return s;
  if (Status s = WriteWhole(stem + ".design.json", face.design_json); !s) return s;
  if (Status s = WriteWhole(stem + ".calibration.json", face.calibration_json); !s) return s;
  return WriteWhole(stem + ".truth.json", face.truth_json);
}

int Run(PhantomSet set, std::uint64_t first, int count, const std::string& folder, int jobs) {
  std::atomic<int> next{0};
  std::mutex guard;
  int failed = 0;
  const auto work = [&] {
    for (int i = next++; i < count; i = next++) {
      const Status done = WriteFace(set, first + static_cast<std::uint64_t>(i), folder);
      if (done) continue;
      const std::lock_guard<std::mutex> lock(guard);
      fmt::print(stderr, "make_faces: {}\n", done.error().message);
      ++failed;
    }
  };
  std::vector<std::thread> others;
  for (int i = 1; i < jobs; ++i) others.emplace_back(work);
  work();
  for (std::thread& thread : others) thread.join();
  return failed == 0 ? 0 : 1;
}

int Main(int argc, char** argv) {
  CLI::App app{"Writes rendered cut faces of known geometry."};
  std::string set_name, folder;
  std::uint64_t first = 1;
  int count = 1, jobs = 1;
  app.add_option("--set", set_name,
                 "plain, hard, harsh, built-plain, built-hard, hostile or hostile-built")
      ->required();
  app.add_option("--first-seed", first, "seed of the first face")->required();
  app.add_option("--count", count, "number of faces")->required()->check(CLI::PositiveNumber);
  app.add_option("--out", folder, "folder to write to (made when missing)")->required();
  app.add_option("--jobs", jobs, "threads")->check(CLI::Range(1, 64));
  CLI11_PARSE(app, argc, argv);
  const auto set = ParsePhantomSet(set_name);
  if (!set) {
    fmt::print(stderr, "make_faces: {}\n", set.error().message);
    return 2;
  }
  std::error_code trouble;
  std::filesystem::create_directories(folder, trouble);
  if (trouble) {
    fmt::print(stderr, "make_faces: cannot make folder {}: {}\n", folder, trouble.message());
    return 2;
  }
  return Run(*set, first, count, folder, jobs);
}

}  // namespace
}  // namespace cutface

int main(int argc, char** argv) {
  try {
    return cutface::Main(argc, argv);
  } catch (const std::exception& e) {
    std::fprintf(stderr, "make_faces: %s\n", e.what());
    return 1;
  }
}
