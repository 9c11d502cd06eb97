#include "cli/face_options.h"

#include <map>

#include "cli/bench_options.h"

namespace cutface {

CLI::Option* AddFaceOptions(CLI::App& app, Call& call, std::string& channel) {
  app.add_flag("--svg", call.svg, "Write the annotated picture as STEM.svg too, beside STEM.png");
  app.add_flag("--edge-map", call.edge_map,
               "Write STEM.edges.png too: how well every stretch of every edge is known");
  app.add_option(
         "--hints", call.hints,
         "A site's own file of hints (usual causes and checks of findings), in the form of\n"
         "src/data/hints.json; it replaces the built-in ones, which are common practice")
      ->type_name("FILE");
  app.add_option("--channel", channel, "Channel of colour pictures: green, luminance, red, blue")
      ->check(CLI::IsMember(Channels()))
      ->type_name("NAME");
  app.add_option("--image-kind", call.image_kind,
                 "What the picture is: single, stitched, stacked or crop; stitched and crop may\n"
                 "differ in size from the calibration's and take its pitch only")
      ->check(CLI::IsMember({"single", "stitched", "stacked", "crop"}))
      ->type_name("KIND");
  app.add_option("--u-floor", call.u_floor_um,
                 "Least standard uncertainty of a length in um (default 0.5)")
      ->check(CLI::Range(0.0, 1000.0))
      ->type_name("UM");
  CLI::Option* inspector =
      app.add_option("--inspector", call.inspector, "Who measures; recorded")->type_name("NAME");
  app.add_flag("--accept-overdue", call.accept_overdue,
               "Overrule an overdue calibration; recorded with the inspector's name")
      ->needs(inspector);
  app.add_flag("--accept-scale-mismatch", call.accept_scale_mismatch,
               "Overrule a scale inside the picture that contradicts the calibration; recorded")
      ->needs(inspector);
  return inspector;
}

void AddDrawnFaceOptions(CLI::App& app, Call& call, PressureWords& words) {
  app.add_flag("--correct-oblique", call.correct_oblique,
               "Correct all values for the tilt of an oblique cut where one is shown; the\n"
               "values as seen stay in the result");
  app.add_option("--pressure", words.pressures,
                 "Pressure in a lumen, as scope=3bar (bar, kPa, MPa, psi, atm); may be repeated. "
                 "Septa and walls are\nscreened by formula and finite elements with the "
                 "drawing's materials.body; STEM.pressure.png shows it.\nFor screening, never "
                 "in place of burst and leak tests")
      ->type_name("LUMEN=P");
  app.add_option("--wires", words.wires,
                 "Under pressure wires count as body (bonded) or carry nothing (free)")
      ->check(CLI::IsMember({"bonded", "free"}))
      ->type_name("HOW");
}

Status TakePressureWords(const PressureWords& words, Call& call) {
  for (const std::string& pressure : words.pressures) {
    if (auto status = ParsePressures(pressure, call.pressures_mpa); !status) return status;
  }
  call.wires_free = words.wires == "free";
  return {};
}

}  // namespace cutface
