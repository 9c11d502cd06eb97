// Where the time of a measurement goes, on pictures of any size with any number of lumens.
//
//   bench_speed make DIR MEGAPIXELS LUMENS
//       draws DIR/speed-MP-N.png, its drawing and its record, unless they are there
//   bench_speed measure DIR MEGAPIXELS LUMENS [ROUNDS [PICTURE]]
//       one line of JSON: seconds of each stage (least of the rounds, wall and processor), on one
//       thread and on two, and peak memory; PICTURE is the same face in another file
//
// speed_table.py calls it and puts the figures beside the baseline's.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <exception>
#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <numbers>
#include <opencv2/core.hpp>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>
#include <string>

#include "cutface/inspect.h"
#include "cutface/phantom.h"
#include "cutface/picture.h"
#include "cutface/record.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr double kPitchUm = 1.0;
constexpr double kAspect = 4.0 / 3;

struct Order {
  double megapixels = 1;
  int lumens = 4;
  int width() const { return static_cast<int>(std::lround(std::sqrt(megapixels * 1e6 * kAspect))); }
  int height() const { return static_cast<int>(std::lround(width() / kAspect)); }
  std::string name() const { return fmt::format("speed-{:g}-{}", megapixels, lumens); }
};

// Round lumens on rings about the middle, of three sizes, so that no turn brings the face onto
// itself.
Json DesignJson(const Order& order) {
  const double outline_mm = 0.82 * order.height() * kPitchUm / 1000;
  Json lumens = Json::object();
  const int rings = order.lumens <= 6 ? 1 : order.lumens <= 20 ? 2 : 4;
  const int shares = rings * (rings + 1) / 2;
  int placed = 0;
  for (int r = rings; r >= 1; --r) {
    const int here = r == 1 ? order.lumens - placed : order.lumens * r / shares;
    const double radius = outline_mm * (rings == 1 ? 0.27 : 0.41 * r / rings);
    const double room = std::min(2 * radius * std::sin(std::numbers::pi / std::max(2, here)),
                                 outline_mm * (rings == 1 ? 0.4 : 0.41 / rings));
    for (int k = 0; k < here; ++k, ++placed) {
      const double angle = 2 * std::numbers::pi * k / here;
      const double size = room * (placed == 0 ? 0.74 : placed == 2 ? 0.5 : 0.62);
      lumens[fmt::format("l{}", placed + 1)] = {
          {"circle",
           {{"center", {radius * std::cos(angle), radius * std::sin(angle)}}, {"diameter", size}}}};
    }
  }
  Json face = {{"kind", "shaft"}, {"station_mm", 1}, {"seen_from", "proximal"}};
  face["datum"] = {{"centre", "outline"}, {"clock", "l1"}};
  face["outline"] = {{"circle", {{"diameter", outline_mm}}}};
  face["lumens"] = std::move(lumens);
  Json design = {{"format", "cutface/design"}, {"version", 1}, {"units", "mm"}};
  design["part"] = {{"number", "SPEED"}, {"revision", "A"}, {"title", "any size, any number"}};
  design["decision_rule"] = {{"kind", "guarded"}, {"conformance", 0.95}};
  design["sections"]["face"] = std::move(face);
  return design;
}

Json RecordJson(const Order& order) {
  Json record = {{"format", "cutface/calibration"}, {"version", 1}, {"id", "speed"}};
  record["objective"] = "1x";
  record["image_size_px"] = {order.width(), order.height()};
  record["pixel_pitch_um"] = {kPitchUm, kPitchUm};
  record["pitch_u_um"] = {kPitchUm * 3e-4, kPitchUm * 3e-4};
  record["shear"] = 0.0;
  record["distortion"] = {{"k1_per_px2", 0.0},
                          {"centre_px", {order.width() / 2.0, order.height() / 2.0}}};
  record["gamma"] = 1.0;
  record["made"] = "2026-03-02", record["due"] = "2027-03-02", record["by"] = "bench";
  record["supersedes"] = nullptr;
  return record;
}

int Failed(const Error& error) {
  fmt::print(stderr, "bench_speed: {}\n", error.message);
  return 1;
}

int Make(const std::string& stem, const Order& order) {
  if (fs::exists(stem + ".png")) return 0;
  const std::string text = DesignJson(order).dump(1) + "\n";
  if (auto status = WriteWhole(stem + ".design.json", text); !status) return Failed(status.error());
  if (auto status = WriteWhole(stem + ".calibration.json", RecordJson(order).dump(1) + "\n");
      !status)
    return Failed(status.error());
  auto design = ReadDesign(stem + ".design.json");
  if (!design) return Failed(design.error());
  PhantomOrder face;
  // The renderer holds several numbers a pixel: beyond this a smaller face is enlarged.
  const int times = order.megapixels > 150 ? 2 : 1;
  face.width_px = (order.width() + times - 1) / times;
  face.height_px = (order.height() + times - 1) / times;
  face.pitch_um = face.record_pitch_um = kPitchUm * times;
  face.rotation_deg = 17;
  auto drawn = DrawPhantomOfDesign(*design, "face", face, 9);
  if (!drawn) return Failed(drawn.error());
  cv::Mat picture = RenderPhantom(drawn->scene, drawn->picture_seed);
  if (times > 1)
    cv::resize(picture, picture, cv::Size(order.width(), order.height()), 0, 0, cv::INTER_LINEAR);
  auto png = EncodePng(picture);
  if (!png) return Failed(png.error());
  if (auto status = WriteWhole(stem + ".png", std::span<const std::byte>(*png)); !status)
    return Failed(status.error());
  return 0;
}

// Wall and processor seconds of each stage, the least of the rounds.
class Stages {
 public:
  void Begin() {
    wall_ = std::chrono::steady_clock::now();
    cpu_ = std::clock();
  }
  void End(const std::string& name) {
    const double wall =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - wall_).count();
    const double cpu = static_cast<double>(std::clock() - cpu_) / CLOCKS_PER_SEC;
    const auto [at, fresh] = seconds_.try_emplace(name, wall, cpu);
    if (!fresh) at->second = {std::min(at->second.first, wall), std::min(at->second.second, cpu)};
    Begin();
  }
  Json ToJson() const {
    Json json = Json::object();
    for (const auto& [name, s] : seconds_) json[name] = {{"wall", s.first}, {"cpu", s.second}};
    return json;
  }

 private:
  std::map<std::string, std::pair<double, double>> seconds_;
  std::chrono::steady_clock::time_point wall_;
  std::clock_t cpu_ = 0;
};

// Of this program alone: what getrusage says begins with the peak of the program that started it
// (proc(5), VmHWM).
double PeakMebibytes() {
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);) {
    if (line.rfind("VmHWM:", 0) == 0) return std::atof(line.c_str() + 6) / 1024;
  }
  return 0;
}

int Measure(const std::string& stem, const std::string& picture, int rounds) {
  auto design = ReadDesign(stem + ".design.json");
  if (!design) return Failed(design.error());
  auto record = ReadCalibration(stem + ".calibration.json");
  if (!record) return Failed(record.error());
  auto scale = Scale::FromRecord(*record);
  if (!scale) return Failed(scale.error());
  Stages on_one, on_two;
  Json json;
  ReadOptions reading;
  reading.max_pixels = std::int64_t{1} << 32;
  for (int round = 0; round < 2 * rounds; ++round) {
    const bool one = round < rounds;
    cv::setNumThreads(one ? 1 : 2);
    Stages& stages = one ? on_one : on_two;
    stages.Begin();
    auto micrograph = ReadMicrograph(picture, reading);
    if (!micrograph) return Failed(micrograph.error());
    stages.End("decode");
    InspectOptions options;
    std::string stage;
    options.progress = [&](double, std::string_view next) {
      if (!stage.empty()) stages.End(stage);
      stage = next;
      return true;
    };
    stages.Begin();
    auto result =
        Inspect(*micrograph, *record, *scale, *design, *design->FindSection("face"), options);
    if (!result) return Failed(result.error());
    stages.End("measuring");
    if (round == 0) json["peak_mib_without_picture"] = PeakMebibytes();
    auto text = TryResultToJson(*result);
    if (!text) return Failed(text.error());
    stages.End("result file");
    auto png = RenderPng(*micrograph, *scale, *result);
    if (!png) return Failed(png.error());
    stages.End("picture");
    json["lumens_found"] = result->section.lumens.size();
    json["megapixels"] = 1e-6 * micrograph->width() * micrograph->height();
  }
  json["peak_mib"] = PeakMebibytes();
  json["seconds"] = on_one.ToJson();
  json["seconds_on_two_cores"] = on_two.ToJson();
  fmt::print("{}\n", json.dump());
  return 0;
}

int Run(int argc, char** argv) {
  const std::string what = argc > 1 ? argv[1] : "";
  if (argc < 5 || (what != "make" && what != "measure")) {
    fmt::print(stderr,
               "usage: bench_speed make DIR MEGAPIXELS LUMENS\n"
               "       bench_speed measure DIR MEGAPIXELS LUMENS [ROUNDS [PICTURE]]\n");
    return 2;
  }
  const Order order{std::atof(argv[3]), std::atoi(argv[4])};
  const std::string stem = std::string(argv[2]) + "/" + order.name();
  if (what == "make") return Make(stem, order);
  return Measure(stem, argc > 6 ? argv[6] : stem + ".png", argc > 5 ? std::atoi(argv[5]) : 3);
}

}  // namespace
}  // namespace cutface

int main(int argc, char** argv) {
  try {
    return cutface::Run(argc, argv);
  } catch (const std::exception& e) {
    std::fprintf(stderr, "bench_speed: %s\n", e.what());
    return 1;
  }
}
