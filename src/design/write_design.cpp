// A drawing as a file.
#include <fmt/format.h>

#include <cmath>
#include <cstdlib>
#include <numbers>

#include "cutface/design.h"
#include "design/json_io.h"

namespace cutface {
namespace {

// The shortest number n for which the reader's n * factor is `value` again, to the last bit where
// that exists (it does but for rare products, where 17 digits come within one bit).
double Drawn(double value, double factor) {
  double drawn = value / factor;
  for (int digits = 1; digits <= 17; ++digits) {
    drawn = std::strtod(fmt::format("{:.{}g}", value / factor, digits).c_str(), nullptr);
    if (drawn * factor == value) return drawn;
  }
  return drawn;
}

class Writer {
 public:
  explicit Writer(LengthUnit units) : um_(UmPer(units)) {}

  Json Length(double um) const { return Drawn(um, um_); }
  Json Point(PointUm at) const { return Json::array({Length(at.x), Length(at.y)}); }
  static Json Degrees(double rad) {
    // The reader multiplies before it divides.
    for (int digits = 1; digits <= 17; ++digits) {
      const double deg = std::strtod(
          fmt::format("{:.{}g}", rad * 180 / std::numbers::pi, digits).c_str(), nullptr);
      if (deg * std::numbers::pi / 180 == rad) return deg;
    }
    return rad * 180 / std::numbers::pi;
  }

  void PutShape(const Shape& shape, Json& out) const {
    Json fields = Json::object();
    if (shape.kind == Shape::Kind::kPath) {
      out["path"] = shape.path;
      return;
    }
    if (shape.kind == Shape::Kind::kCircle) {
      fields["diameter"] = Length(shape.diameter_um);
    } else {
      fields["size"] = Json::array({Length(shape.size_x_um), Length(shape.size_y_um)});
    }
    if (!(shape.centre == PointUm{})) fields["center"] = Point(shape.centre);
    if (shape.corner_radius_um > 0) fields["corner_radius"] = Length(shape.corner_radius_um);
    if (shape.angle_rad != 0) fields["angle_deg"] = Degrees(shape.angle_rad);
    out[shape.kind == Shape::Kind::kCircle    ? "circle"
        : shape.kind == Shape::Kind::kEllipse ? "ellipse"
                                              : "rectangle"] = std::move(fields);
  }
  Json ShapeOf(const Shape& shape) const {
    Json out = Json::object();
    PutShape(shape, out);
    return out;
  }

  Json Lumen(const LumenDesign& lumen) const {
    Json out = ShapeOf(lumen.shape);
    if (lumen.liner_thickness_um) {
      out["liner"] = Json{{"thickness", Length(*lumen.liner_thickness_um)}};
    }
    if (!lumen.opens_to.empty()) out["opens_to"] = lumen.opens_to;
    if (!lumen.filled.empty()) out["filled"] = lumen.filled;
    return out;
  }

  Json Layer(const WireLayerDesign& layer) const {
    Json out = Json::object();
    if (layer.carriers) out["carriers"] = *layer.carriers;
    if (layer.ends) out["ends"] = *layer.ends;
    if (layer.count) out["count"] = *layer.count;
    if (layer.round_um) out["round"] = Length(*layer.round_um);
    if (layer.flat_um) {
      out["flat"] = Json::array({Length(layer.flat_um->first), Length(layer.flat_um->second)});
    }
    if (!layer.on_diameters_um.empty()) {
      Json diameters = Json::array();
      for (const double um : layer.on_diameters_um) diameters.push_back(Length(um));
      out["on_diameters"] = std::move(diameters);
    }
    if (layer.braid_angle_deg) out["braid_angle_deg"] = *layer.braid_angle_deg;
    return out;
  }

  Json Row(const Characteristic& row) const {
    Json out = Json::object();
    out["no"] = row.no;
    if (row.of.size() == 1) out["of"] = row.of[0];
    if (row.of.size() > 1) out["of"] = row.of;
    if (!row.quantity.empty()) PutLimits(row, out);
    if (!row.finding.empty()) {
      out["finding"] = row.finding;
      out["allowed"] = row.allowed;
    }
    if (!row.text.empty()) out["text"] = row.text;
    if (row.elsewhere) out["elsewhere"] = true;
    out["class"] = row.criticality == CharacteristicClass::kCritical ? "critical"
                   : row.criticality == CharacteristicClass::kMajor  ? "major"
                                                                     : "minor";
    return out;
  }

  Json Section(const SectionDesign& section) const {
    Json out = Json::object();
    out["kind"] = section.kind;
    if (section.station_mm) out["station_mm"] = *section.station_mm;
    if (!section.seen_from.empty()) out["seen_from"] = section.seen_from;
    Json datum = Json::object();
    datum["centre"] = section.datum.centre;
    if (!section.datum.clock.empty()) datum["clock"] = section.datum.clock;
    out["datum"] = std::move(datum);
    out["outline"] = ShapeOf(section.outline);
    for (const RingDesign& ring : section.rings) {
      Json item = Json::object();
      item["name"] = ring.name;
      item["inner"] = ShapeOf(ring.inner);
      out["rings"].push_back(std::move(item));
    }
    for (const LumenDesign& lumen : section.lumens) out["lumens"][lumen.name] = Lumen(lumen);
    for (const WireLayerDesign& layer : section.wires) out["wires"][layer.name] = Layer(layer);
    for (const FibreDesign& fibre : section.fibres) {
      Json item = Json::object();
      item["center"] = Point(fibre.centre);
      item["filaments"] = fibre.filaments;
      item["filament_diameter"] = Length(fibre.filament_diameter_um);
      out["fibres"][fibre.name] = std::move(item);
    }
    if (section.bond) {
      Json bond = Json::object();
      bond["adhesive"] = section.bond->adhesive;
      bond["sleeve"] = section.bond->sleeve;
      bond["gap_um"] = section.bond->gap_um;
      out["bond"] = std::move(bond);
    }
    for (const Characteristic& row : section.characteristics) {
      out["characteristics"].push_back(Row(row));
    }
    return out;
  }

 private:
  void PutLimits(const Characteristic& row, Json& out) const {
    out["quantity"] = row.quantity;
    if (row.nominal) out["nominal"] = *row.nominal;
    if (row.plus || row.minus) {
      if (row.plus) out["plus"] = *row.plus;
      if (row.minus) out["minus"] = *row.minus;
      return;
    }
    const double factor = row.is_length ? um_ : row.is_area ? um_ * um_ : 1;
    if (row.lower) out["min"] = Drawn(*row.lower, factor);
    if (row.upper) out["max"] = Drawn(*row.upper, factor);
  }

  double um_;
};

void PutSettings(const Design& design, const Writer& writer, Json& out) {
  Json rule = Json::object();
  const bool simple = design.decision_rule.kind == DecisionRule::Kind::kSimple;
  rule["kind"] = simple ? "simple" : "guarded";
  rule["conformance"] = design.decision_rule.conformance;
  out["decision_rule"] = std::move(rule);
  out["edge_cutoff_um"] = design.edge_cutoff_um;
  for (const auto& [word, preparation] : design.preparation_u) {
    Json entry = Json::object();
    entry["um"] = preparation.um;
    if (!preparation.study.empty()) entry["study"] = preparation.study;
    out["preparation_u"][word] = std::move(entry);
  }
  for (const auto& [name, material] : design.materials) {
    Json entry = Json::object();
    if (material.modulus_mpa) entry["modulus_mpa"] = *material.modulus_mpa;
    if (material.poisson) entry["poisson"] = *material.poisson;
    if (material.strength_mpa) entry["strength_mpa"] = *material.strength_mpa;
    out["materials"][name] = std::move(entry);
  }
  Json method = Json::object();
  method["locked"] = design.method_locked;
  method["image_kind"] = design.image_kind;
  out["method"] = std::move(method);
  Json limits = Json::object();
  limits["flow_ratio"] = design.limits.flow_ratio_least;
  limits["inscribed_ratio"] = design.limits.inscribed_ratio_least;
  limits["area_ratio"] = design.limits.area_ratio_least;
  limits["thin_share"] = design.limits.thin_share;
  limits["off_centre_share"] = design.limits.off_centre_share;
  out["limits"] = std::move(limits);
  Json pins = Json::object();
  pins["step"] = writer.Length(design.pins.step_um);
  pins["clearance"] = writer.Length(design.pins.clearance_um);
  if (!design.pins.grade.empty()) {
    pins["class"] = design.pins.grade;
    pins["sign"] = design.pins.is_plus ? "plus" : "minus";
  }
  out["pins"] = std::move(pins);
}

}  // namespace

std::string DesignToJson(const Design& design) {
  const Writer writer(design.units);
  Json out = Json::object();
  out["format"] = "cutface/design";
  out["version"] = 1;
  out["units"] = UnitName(design.units);
  Json part = Json::object();
  part["number"] = design.part_number;
  if (!design.revision.empty()) part["revision"] = design.revision;
  if (!design.title.empty()) part["title"] = design.title;
  out["part"] = std::move(part);
  PutSettings(design, writer, out);
  out["sections"] = Json::object();
  for (const SectionDesign& section : design.sections) {
    out["sections"][section.name] = writer.Section(section);
  }
  return JsonToText(out);
}

}  // namespace cutface
