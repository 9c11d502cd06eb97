#include "first_article.h"

#include <fmt/format.h>

namespace cutface {
namespace {

// Pictures averaged over several exposures: little noise, and small files.
constexpr double kNoise = 0.0018;

struct Maker {
  double pitch, record_pitch, hub_pitch, hub_record_pitch;
  std::vector<ArticleFace> faces;

  // `more`: what stands behind the objective in the manifest's row.
  PhantomOrder& Add(int serial, const std::string& section, const std::string& name,
                    const std::string& again = ",") {
    const bool hub = section.starts_with("hub");
    const int no = static_cast<int>(faces.size());
    ArticleFace face;
    face.section = section;
    face.seed = static_cast<std::uint64_t>(7504'00 + no);
    face.order.name = name;
    face.order.design_file = "../LV-7504.design.json";
    face.order.calibration_file = hub ? "../../calibration/hub-bench-1x.calibration.json"
                                      : "../../calibration/demo-bench-5x.calibration.json";
    face.order.pitch_um = hub ? hub_pitch : pitch;
    face.order.record_pitch_um = hub ? hub_record_pitch : record_pitch;
    face.order.noise = kNoise;
    // A hub fits the frame lying along it only.
    face.order.rotation_deg = hub ? (no * 7) % 17 - 8 : (no * 67) % 180 - 90;
    face.order.shift_px = {static_cast<double>((no * 13) % 41 - 20),
                           static_cast<double>((no * 29) % 31 - 15)};
    const bool second = again != ",";
    face.row =
        fmt::format("LV-7504,C,{:03},FA-1,{},proximal,2026-04-{:02}T{:02}:{:02},{},{},{},{},{}",
                    serial, section, second ? 9 : 8, 8 + no / 6, 10 * (no % 6),
                    no % 2 == 0 ? "operator 1" : "operator 2", second ? 2 : 1, hub ? "1x" : "5x",
                    again, serial <= 3 ? "yes" : "no");
    faces.push_back(face);
    return faces.back().order;
  }
  void Remark(const std::string& text) { faces.back().row += "," + text; }
};

std::string NameOf(int serial, const std::string& section) {
  return fmt::format("FA-{:03}-{}", serial, section);
}

}  // namespace

std::vector<ArticleFace> FirstArticle(double pitch_um, double record_pitch_um, double hub_pitch_um,
                                      double hub_record_pitch_um) {
  Maker m{pitch_um, record_pitch_um, hub_pitch_um, hub_record_pitch_um, {}};
  for (int serial = 1; serial <= 6; ++serial) {
    for (const char* section : {"extrusion", "shaft-mid", "bond-distal", "hub-1"}) {
      const std::string plane = section;
      if (serial == 6 && (plane == "shaft-mid" || plane == "bond-distal")) continue;
      PhantomOrder& order = m.Add(serial, plane, NameOf(serial, plane));
      std::string remark;
      if (plane == "hub-1") order.shrinkage_voids = serial == 4 ? 3 : 0;
      if (serial == 2 && plane == "shaft-mid") order.missing_wires = 1;
      if (serial == 4 && plane == "bond-distal") {
        order.bond_gaps_deg = {26};
        order.bond_offset_um = 15;
      }
      if (serial == 5 && plane == "extrusion") {
        order.first = "scope";
        order.second = "wash";
        order.thin_septum_um = 60;
      }
      if (serial == 6 && plane == "extrusion") {
        order.collapsed = "scope";
        order.collapse = 0.3;
      }
      if (serial == 3 && plane == "extrusion") {
        order.blur_px = 14;
        remark = "out of focus; pictured again";
      }
      if (serial == 4 && plane == "shaft-mid") {
        order.dirt = true;
        remark = "scratched; cut again";
      }
      m.Remark(remark);
    }
  }
  m.Add(3, "extrusion", NameOf(3, "extrusion") + "-again", NameOf(3, "extrusion") + ".png,");
  m.Remark("");
  m.Add(4, "shaft-mid", NameOf(4, "shaft-mid") + "-recut", "," + NameOf(4, "shaft-mid") + ".png");
  m.Remark("");
  return m.faces;
}

}  // namespace cutface
