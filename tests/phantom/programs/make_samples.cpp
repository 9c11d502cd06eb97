// make_samples: draws the demo faces of part LV-7504 into sample-images.
//
//   make_samples SOURCE_FOLDER
//   make_samples --large FOLDER COUNT DESIGN    faces of 5 megapixels and their record, for the
//   bench
//   make_samples --runs FOLDER COUNT DESIGN    runs A (no mandrels in reflow: the scope lumen gives
//   way, more so towards the tip) and B (supported): COUNT parts each, cut at two stations, with
//   their manifests; for the demo's comparison
//
// SOURCE_FOLDER is the project's folder: reads sample-images/LV-7504.design.json, writes
// sample-images/LV-7504-*.png and .truth.json, the built-up ones in sample-images/built, the
// first-article folder, and the
// two records calibration/demo-bench-5x and hub-bench-1x. The same program gives the same bytes.
#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "cutface/base.h"
#include "cutface/design.h"
#include "cutface/micrograph.h"
#include "cutface/phantom.h"
#include "cutface/scale.h"
#include "first_article.h"

namespace cutface {
namespace {

constexpr double kRecordPitchUm = 2.4031;
constexpr double kTruePitchUm = 2.4034;  // half the record's stated uncertainty away

constexpr double kHubPitchUm = 8.5, kHubTruePitchUm = 8.4993;

struct Sample {
  PhantomOrder order;
  std::uint64_t seed = 0;
  std::string section = "extrusion", folder = "/sample-images";
};

PhantomOrder Order(const char* name, PhantomLight light, double rotation_deg) {
  PhantomOrder order;
  order.name = std::string("LV-7504-") + name;
  order.design_file = "LV-7504.design.json";
  order.calibration_file = "../calibration/demo-bench-5x.calibration.json";
  order.pitch_um = kTruePitchUm;
  order.record_pitch_um = kRecordPitchUm;
  order.light = light;
  order.rotation_deg = rotation_deg;
  return order;
}

std::vector<Sample> Samples() {
  std::vector<Sample> samples;
  PhantomOrder good = Order("good", PhantomLight::kReflected, 14);
  good.shift_px = {-35, 12};
  samples.push_back({good, 4, "extrusion", "/sample-images"});

  PhantomOrder potted = Order("potted", PhantomLight::kFilled, -38);
  potted.shift_px = {60, -20};
  potted.blur_px = 1.2;
  samples.push_back({potted, 8, "extrusion", "/sample-images"});

  PhantomOrder thin = Order("thin-septum", PhantomLight::kTransmitted, 71);
  thin.first = "scope";
  thin.second = "wash";
  thin.thin_septum_um = 62;
  thin.shift_px = {20, 25};
  samples.push_back({thin, 5, "extrusion", "/sample-images"});

  PhantomOrder broken = Order("broken-septum", PhantomLight::kReflected, -112);
  broken.first = "wash";
  broken.second = "return";
  broken.breach_um = 85;
  broken.voids = 2;
  broken.least_void_px = 9;
  broken.greatest_void_px = 18;
  samples.push_back({broken, 12, "extrusion", "/sample-images"});

  PhantomOrder collapsed = Order("collapsed", PhantomLight::kReflected, 160);
  collapsed.collapsed = "scope";
  collapsed.collapse = 0.3;
  collapsed.first = "return";
  collapsed.second = "cuff";
  collapsed.void_chain = true;
  collapsed.dirt = true;
  collapsed.noise = 0.012;
  collapsed.blur_px = 1.3;
  samples.push_back({collapsed, 21, "extrusion", "/sample-images"});
  return samples;
}

// Runs A (no mandrels in reflow: lumens collapse) and B (supported), and the other planes.
std::vector<Sample> BuiltSamples() {
  std::vector<Sample> samples;
  const auto add = [&](const char* section, PhantomOrder order, std::uint64_t seed) {
    order.design_file = "../LV-7504.design.json";
    order.calibration_file = "../../calibration/demo-bench-5x.calibration.json";
    order.noise = 0.005;
    samples.push_back({order, seed, section, "/sample-images/built"});
  };
  PhantomOrder a = Order("A-shaft-mid", PhantomLight::kReflected, 33);
  a.collapsed = "scope";
  a.collapse = 0.22;
  a.missing_wires = 1;
  a.pulled_out_wires = 1;
  a.liner_gap_deg = 40;
  add("shaft-mid", a, 31);
  PhantomOrder b = Order("B-shaft-mid", PhantomLight::kReflected, -51);
  add("shaft-mid", b, 32);
  PhantomOrder bond = Order("B-bond-distal", PhantomLight::kReflected, 12);
  bond.bond_gaps_deg = {24, 9};
  bond.bond_offset_um = 12;
  add("bond-distal", bond, 33);
  add("lengthwise", Order("B-lengthwise", PhantomLight::kReflected, 2), 34);
  for (const char* plane : {"hub-1", "hub-2"}) {
    PhantomOrder hub = Order((std::string("B-") + plane).c_str(), PhantomLight::kReflected, 5);
    hub.pitch_um = kHubTruePitchUm;
    hub.record_pitch_um = kHubPitchUm;
    hub.shrinkage_voids = 3;
    add(plane, hub, 35);
    samples.back().order.calibration_file = "../../calibration/hub-bench-1x.calibration.json";
  }
  return samples;
}

CalibrationRecord Record() {
  CalibrationRecord record;
  record.id = "demo-bench-5x";
  record.objective = "5x";
  record.image_width_px = 1600;
  record.image_height_px = 1200;
  record.pitch_x_um = record.pitch_y_um = kRecordPitchUm;
  record.pitch_u_x_um = record.pitch_u_y_um = 0.0006;
  record.distortion_centre = {799.5, 599.5};
  record.gamma = 1.0;
  record.made = "2026-03-02";
  record.due = "2027-03-02";
  record.by = "demo bench";
  record.artefact_kind = "stage micrometer";
  record.artefact_serial = "DEMO-SM-1";
  record.artefact_certificate = "DEMO-2026-1 (invented, for the demo)";
  record.artefact_u_um = 0.15;
  return record;
}

CalibrationRecord HubRecord() {
  CalibrationRecord record = Record();
  record.id = "hub-bench-1x";
  record.objective = "1x";
  record.pitch_x_um = record.pitch_y_um = kHubPitchUm;
  record.pitch_u_x_um = record.pitch_u_y_um = 0.0015;
  return record;
}

Status WriteSample(const Design& design, const Sample& sample, const std::string& source) {
  const std::string folder = source + sample.folder;
  const auto face = DrawPhantomOfDesign(design, sample.section, sample.order, sample.seed);
  if (!face) return tl::unexpected<Error>(face.error());
  const auto png = EncodePng(RenderPhantom(face->scene, face->picture_seed));
  if (!png) return tl::unexpected<Error>(png.error());
  const std::string stem = folder + "/" + sample.order.name;
  if (Status s = WriteWhole(stem + ".png", std::span<const std::byte>(*png)); !s) return s;
  return WriteWhole(stem + ".truth.json", face->truth_json);
}

Status WritePicture(const Design& design, const std::string& section, const PhantomOrder& order,
                    std::uint64_t seed, const std::string& path) {
  const auto face = DrawPhantomOfDesign(design, section, order, seed);
  if (!face) return tl::unexpected<Error>(face.error());
  const auto png = EncodePng(RenderPhantom(face->scene, face->picture_seed));
  if (!png) return tl::unexpected<Error>(png.error());
  return WriteWhole(path, std::span<const std::byte>(*png));
}

// The pictures and the manifest, but no truth files: the repository is to stay small, and the same
// orders give the same truth.
Status WriteFirstArticle(const Design& design, const std::string& source) {
  const std::string folder = source + "/sample-images/first-article/";
  std::string manifest = kArticleHead;
  for (const ArticleFace& face :
       FirstArticle(kTruePitchUm, kRecordPitchUm, kHubTruePitchUm, kHubPitchUm)) {
    const std::string name = face.order.name + ".png";
    if (Status s = WritePicture(design, face.section, face.order, face.seed, folder + name); !s)
      return s;
    manifest += name + "," + face.row + "\r\n";
  }
  return WriteWhole(folder + "manifest.csv", manifest);
}

// Good parts and bad ones in turn.
Status WriteLarge(const std::string& folder, int count, const std::string& design_file) {
  const auto design = ReadDesign(design_file);
  if (!design) return tl::unexpected<Error>(design.error());
  std::filesystem::create_directories(folder);
  constexpr double kFiner = 1600.0 / 2592.0;
  for (int i = 0; i < count; ++i) {
    PhantomOrder order = Order("large", PhantomLight::kReflected, 17 * i % 180);
    order.width_px = 2592;
    order.height_px = 1944;
    order.pitch_um = order.record_pitch_um = kRecordPitchUm * kFiner;
    order.blur_px = 1.5;
    order.voids = i % 3;
    const std::string path = fmt::format("{}/large-{:03}.png", folder, i);
    if (Status s =
            WritePicture(*design, "extrusion", order, 9000 + static_cast<std::uint64_t>(i), path);
        !s)
      return s;
  }
  CalibrationRecord record = Record();
  record.id = "large";
  record.image_width_px = 2592;
  record.image_height_px = 1944;
  record.pitch_x_um = record.pitch_y_um = kRecordPitchUm * kFiner;
  record.distortion_centre = {1295.5, 971.5};
  return WriteWhole(folder + "/large.calibration.json", CalibrationToJson(record));
}

Status WriteRuns(const std::string& folder, int count, const std::string& design_file) {
  const auto design = ReadDesign(design_file);
  if (!design) return tl::unexpected<Error>(design.error());
  constexpr int kStations[] = {250, 700};
  for (const char run : {'A', 'B'}) {
    const std::string place = fmt::format("{}/{}/", folder, run);
    std::filesystem::create_directories(place);
    std::string manifest =
        "image,part,revision,serial,lot,plane,station,taken,operator,factor:mandrels\r\n";
    for (int part = 1; part <= count; ++part) {
      for (int at = 0; at < 2; ++at) {
        const std::string name = fmt::format("{}-{:03}-{}.png", run, part, kStations[at]);
        PhantomOrder order =
            Order("run", PhantomLight::kReflected, 29 * (2 * part + at) % 180 - 90);
        order.noise = 0.005;
        if (run == 'A') {
          order.collapsed = "scope";
          order.collapse = 0.05 + 0.012 * (part % 4) + 0.05 * at;
        }
        const auto seed = static_cast<std::uint64_t>(5000 + 100 * (run - 'A') + 2 * part + at);
        if (Status s = WritePicture(*design, "extrusion", order, seed, place + name); !s) return s;
        manifest += fmt::format(
            "{},LV-7504,C,{:03},{},extrusion,{},2026-04-{:02}T{:02}:00,desk,{}\r\n", name, part,
            run, kStations[at], 6 + part, 8 + at, run == 'A' ? "no" : "yes");
      }
    }
    if (Status s = WriteWhole(place + "manifest.csv", manifest); !s) return s;
  }
  return {};
}

Status Run(const std::string& source) {
  const auto design = ReadDesign(source + "/sample-images/LV-7504.design.json");
  if (!design) return tl::unexpected<Error>(design.error());
  const std::string record = source + "/calibration/demo-bench-5x.calibration.json";
  if (Status s = WriteWhole(record, CalibrationToJson(Record())); !s) return s;
  const std::string hub = source + "/calibration/hub-bench-1x.calibration.json";
  if (Status s = WriteWhole(hub, CalibrationToJson(HubRecord())); !s) return s;
  for (const auto& samples : {Samples(), BuiltSamples()}) {
    for (const Sample& sample : samples) {
      if (Status s = WriteSample(*design, sample, source); !s) return s;
    }
  }
  return WriteFirstArticle(*design, source);
}

}  // namespace
}  // namespace cutface

int main(int argc, char** argv) {
  const bool large = argc == 5 && std::string(argv[1]) == "--large";
  const bool runs = argc == 5 && std::string(argv[1]) == "--runs";
  if (argc != 2 && !large && !runs) {
    fmt::print(stderr, "make_samples: name the project's folder\n");
    return 2;
  }
  if (const cutface::Status done = large ? cutface::WriteLarge(argv[2], std::atoi(argv[3]), argv[4])
                                   : runs ? cutface::WriteRuns(argv[2], std::atoi(argv[3]), argv[4])
                                          : cutface::Run(argv[1]);
      !done) {
    fmt::print(stderr, "make_samples: {}\n", done.error().message);
    return 1;
  }
  return 0;
}
