// A drawing that uses every key of the format, and edits of it for failure tests.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace cutface {

// The shaft, bond and hub of the format's description, with the optional keys filled in.
inline constexpr char kFullDrawing[] = R"({
  "format": "cutface/design", "version": 1, "units": "mm",
  "part": {"number": "LV-7504", "revision": "C", "title": "four-lumen lavage shaft"},
  "decision_rule": {"kind": "guarded", "conformance": 0.95}, "edge_cutoff_um": 12,
  "preparation_u": {"septum": {"um": 1.5, "study": "recut-07"}},
  "materials": {"body": {"modulus_mpa": 50, "poisson": 0.48}},
  "method": {"locked": true, "image_kind": "single"},
  "limits": {"flow_ratio": 0.75, "inscribed_ratio": 0.7, "area_ratio": 0.9, "thin_share": 0.5,
             "off_centre_share": 0.2},
  "pins": {"step": 0.01, "clearance": 0.005},
  "sections": {
    "shaft-mid": {
      "kind": "shaft", "station_mm": 400, "seen_from": "proximal",
      "datum": {"centre": "outline", "clock": "scope"},
      "outline": {"circle": {"diameter": 2.50}},
      "rings": [{"name": "jacket", "inner": {"circle": {"diameter": 2.08}}}],
      "lumens": {
        "scope": {"circle": {"center": [0.0, 0.47], "diameter": 0.95}, "liner": {"thickness": 0.025}},
        "wash": {"path": "M-0.75,-0.15 L-0.1,-0.15 L-0.1,-0.85 A0.86,0.86 0 0 1 -0.75,-0.15 Z"},
        "return": {"ellipse": {"center": [0.45, -0.45], "size": [0.5, 0.3], "angle_deg": -30}},
        "cuff": {"rectangle": {"center": [0.78, 0.3], "size": [0.2, 0.1], "corner_radius": 0.03,
                               "angle_deg": 15}, "filled": "mandrel"}},
      "wires": {"braid": {"carriers": 16, "ends": 1, "round": 0.050, "on_diameters": [2.10, 2.20],
                          "braid_angle_deg": 50},
                "axial": {"count": 2, "flat": [0.03, 0.1]}},
      "fibres": {"axial-1": {"center": [0.0, -0.95], "filaments": 40, "filament_diameter": 0.014}},
      "characteristics": [
        {"no": "1", "of": "outline", "quantity": "diameter", "nominal": 2.50, "plus": 0.05,
         "minus": 0.05, "class": "major"},
        {"no": "2", "of": "scope", "quantity": "area", "nominal": 0.7, "min": 0.6, "max": 0.8},
        {"no": "3", "of": "cuff", "quantity": "clock", "nominal": 111, "plus": 5, "minus": 4},
        {"no": "4", "of": "scope/liner", "quantity": "thickness_min", "min": 0.01},
        {"no": "5", "of": "jacket", "quantity": "concentricity", "min": 80},
        {"no": "6", "of": "braid", "quantity": "count", "min": 16, "max": 16},
        {"no": "7", "of": ["scope", "wash"], "quantity": "septum", "min": 0.100, "class": "critical"},
        {"no": "8", "of": "wash", "quantity": "flow_ratio", "min": 0.8},
        {"no": "9", "of": "voids", "quantity": "longest", "max": 0.060, "class": "major"},
        {"no": "10", "of": "braid/3", "quantity": "outer_cover", "min": 0.1},
        {"no": "12", "finding": "crosstalk", "allowed": 0, "class": "critical"},
        {"no": "13", "text": "length 1100", "elsewhere": true}]},
    "bond-distal": {
      "like": "shaft-mid", "kind": "bond", "outline": {"circle": {"diameter": 3.10}},
      "rings": [{"name": "sleeve", "inner": {"circle": {"diameter": 2.60}}},
                {"name": "adhesive", "inner": {"circle": {"diameter": 2.50}}},
                {"name": "jacket", "inner": {"circle": {"diameter": 2.08}}}],
      "bond": {"adhesive": "adhesive", "sleeve": "sleeve", "gap_um": 4},
      "fibres": null},
    "hub-2": {"kind": "hub", "station_mm": 6,
              "outline": {"rectangle": {"size": [12, 8], "corner_radius": 2}}},
    "port": {"kind": "hub", "outline": {"circle": {"diameter": 4}},
             "lumens": {"slot": {"rectangle": {"size": [2, 1], "center": [2, 0]}, "opens_to": "outside"}}}}
})";

using DrawingJson = nlohmann::ordered_json;

inline DrawingJson FullDrawing() { return DrawingJson::parse(kFullDrawing); }

// The drawing with the value at `pointer` (RFC 6901) replaced; a null pointer value removes
// nothing.
inline std::string Edited(const std::string& pointer, const DrawingJson& value) {
  DrawingJson drawing = FullDrawing();
  drawing[DrawingJson::json_pointer(pointer)] = value;
  return drawing.dump(1);
}

inline std::string Without(const std::string& parent, const std::string& key) {
  DrawingJson drawing = FullDrawing();
  drawing[DrawingJson::json_pointer(parent)].erase(key);
  return drawing.dump(1);
}

}  // namespace cutface
