// One section plane of the drawing: shapes, rings, lumens, wires, fibres, bond.
#include <fmt/format.h>

#include <cmath>
#include <numbers>

#include "design/parse.h"

namespace cutface {
namespace {

// More than any catheter has; keeps the pairwise checks short on damaged files.
constexpr std::size_t kMostLumens = 100;
constexpr std::size_t kMostRings = 32;
constexpr std::size_t kMostLayers = 32;
constexpr std::size_t kMostDiameters = 16;

bool TooMany(std::size_t count, std::size_t most, const std::string& path, JsonTrouble& trouble) {
  if (count <= most) return false;
  trouble.Add(Code::kJsonValue, path, fmt::format("holds {} entries, more than {}", count, most));
  return true;
}

PointUm ReadPoint(JsonObject& object, std::string_view key, const ParseContext& context) {
  const std::vector<double> xy = object.NeedNumbers(key, 2);
  if (xy.size() != 2) return {};
  return {context.Um(xy[0]), context.Um(xy[1])};
}

PointUm ReadOptionalPoint(JsonObject& object, std::string_view key, const ParseContext& context) {
  return object.Has(key) ? ReadPoint(object, key, context) : PointUm{};
}

void ReadSize(JsonObject& object, Shape& shape, const ParseContext& context) {
  const std::vector<double> size = object.NeedNumbers("size", 2);
  if (size.size() != 2) return;
  for (std::size_t i = 0; i < 2; ++i) {
    if (!(size[i] > 0)) {
      context.trouble.Add(Code::kJsonValue, PathIndex(object.Path("size"), i),
                          fmt::format("must be above 0, is {}", size[i]));
    }
  }
  shape.size_x_um = context.Um(size[0]);
  shape.size_y_um = context.Um(size[1]);
}

double Radians(double degrees) { return degrees * std::numbers::pi / 180; }

// The path (in the file) of the key that says the shape, for messages about it.
std::string ReadShapeFields(JsonObject& owner, std::string_view key, Shape& shape,
                            const ParseContext& context) {
  if (key == "path") {
    shape.kind = Shape::Kind::kPath;
    shape.path = owner.Text("path");
    return owner.path();
  }
  std::string path = owner.Path(key);
  if (key == "circle") {
    JsonObject circle(owner.Find(key), path, {"diameter", "center"}, context.trouble);
    shape.kind = Shape::Kind::kCircle;
    shape.diameter_um = context.Um(circle.NeedPositive("diameter"));
    shape.centre = ReadOptionalPoint(circle, "center", context);
  } else if (key == "ellipse") {
    JsonObject ellipse(owner.Find(key), path, {"size", "center", "angle_deg"}, context.trouble);
    shape.kind = Shape::Kind::kEllipse;
    ReadSize(ellipse, shape, context);
    shape.centre = ReadOptionalPoint(ellipse, "center", context);
    shape.angle_rad = Radians(ellipse.Within("angle_deg", -360, 360).value_or(0));
  } else {
    JsonObject rectangle(owner.Find(key), path, {"size", "center", "corner_radius", "angle_deg"},
                         context.trouble);
    shape.kind = Shape::Kind::kRectangle;
    ReadSize(rectangle, shape, context);
    shape.centre = ReadOptionalPoint(rectangle, "center", context);
    shape.corner_radius_um = context.Um(rectangle.Within("corner_radius", 0, 1e9).value_or(0));
    shape.angle_rad = Radians(rectangle.Within("angle_deg", -360, 360).value_or(0));
  }
  return path;
}

void ReadRings(JsonObject& object, SectionDesign& section, const ParseContext& context) {
  const std::string path = object.Path("rings");
  const Json* array = AsArray(object.Find("rings"), path, context.trouble);
  if (array == nullptr || TooMany(array->size(), kMostRings, path, context.trouble)) return;
  for (std::size_t i = 0; i < array->size(); ++i) {
    JsonObject ring(&(*array)[i], PathIndex(path, i), {"name", "inner"}, context.trouble);
    RingDesign read;
    read.name = ring.NeedText("name");
    JsonObject inner(ring.Need("inner"), ring.Path("inner"),
                     {"circle", "ellipse", "rectangle", "path"}, context.trouble);
    read.inner = ReadShape(inner, context);
    section.rings.push_back(std::move(read));
  }
}

void ReadLumens(JsonObject& object, SectionDesign& section, const ParseContext& context) {
  JsonObject map(object.Find("lumens"), object.Path("lumens"), {}, context.trouble);
  if (map.value() == nullptr) return;
  if (TooMany(map.value()->size(), kMostLumens, map.path(), context.trouble)) return;
  for (const auto& item : map.value()->items()) {
    JsonObject lumen(&item.value(), map.Path(item.key()),
                     {"circle", "ellipse", "rectangle", "path", "liner", "opens_to", "filled"},
                     context.trouble);
    LumenDesign read;
    read.name = item.key();
    read.shape = ReadShape(lumen, context);
    if (lumen.Has("liner")) {
      JsonObject liner(lumen.Find("liner"), lumen.Path("liner"), {"thickness"}, context.trouble);
      read.liner_thickness_um = context.Um(liner.NeedPositive("thickness"));
    }
    read.opens_to = lumen.Word("opens_to", {"outside"}, "");
    read.filled = lumen.Text("filled");
    section.lumens.push_back(std::move(read));
  }
}

WireLayerDesign ReadWireLayer(const std::string& name, JsonObject& layer,
                              const ParseContext& context) {
  constexpr int kMostWires = 1000;
  WireLayerDesign read;
  read.name = name;
  read.carriers = layer.Count("carriers", 2, kMostWires);
  read.ends = layer.Count("ends", 1, 16);
  read.count = layer.Count("count", 1, kMostWires);
  if (const auto round = layer.Positive("round")) read.round_um = context.Um(*round);
  if (layer.Has("flat")) {
    const std::vector<double> flat = layer.NeedNumbers("flat", 2);
    for (std::size_t i = 0; i < flat.size(); ++i) {
      if (!(flat[i] > 0)) {
        context.trouble.Add(Code::kJsonValue, PathIndex(layer.Path("flat"), i),
                            fmt::format("must be above 0, is {}", flat[i]));
      }
    }
    if (flat.size() == 2) read.flat_um = std::make_pair(context.Um(flat[0]), context.Um(flat[1]));
  }
  const std::string path = layer.Path("on_diameters");
  const Json* array = AsArray(layer.Find("on_diameters"), path, context.trouble);
  if (array != nullptr && !TooMany(array->size(), kMostDiameters, path, context.trouble)) {
    for (std::size_t i = 0; i < array->size(); ++i) {
      const auto drawn = AsNumber((*array)[i], PathIndex(path, i), context.trouble);
      if (drawn && !(*drawn > 0)) {
        context.trouble.Add(Code::kJsonValue, PathIndex(path, i),
                            fmt::format("must be above 0, is {}", *drawn));
      }
      read.on_diameters_um.push_back(context.Um(drawn.value_or(0)));
    }
  }
  read.braid_angle_deg = layer.Within("braid_angle_deg", 0, 90);
  return read;
}

void CheckWireLayer(const WireLayerDesign& read, const std::string& path, JsonTrouble& trouble) {
  if (read.carriers.has_value() == read.count.has_value()) {
    trouble.Add(Code::kDesignInvalid, path,
                read.count ? "says both count and carriers; keep one"
                           : "needs carriers (a braid) or count (other wires)");
  } else if (read.count && read.ends) {
    trouble.Add(Code::kDesignInvalid, path, "ends belong to carriers; leave them out beside count");
  } else if (read.carriers && *read.carriers % 2 != 0) {
    trouble.Add(Code::kDesignInvalid, PathJoin(path, "carriers"),
                fmt::format("must be even (half run each way), is {}", *read.carriers));
  } else if (read.round_um.has_value() == read.flat_um.has_value()) {
    trouble.Add(Code::kDesignInvalid, path,
                read.round_um ? "says both round and flat; keep one"
                              : "needs round (diameter) or flat [thickness, width]");
  }
}

void ReadWires(JsonObject& object, SectionDesign& section, const ParseContext& context) {
  JsonObject map(object.Find("wires"), object.Path("wires"), {}, context.trouble);
  if (map.value() == nullptr) return;
  if (TooMany(map.value()->size(), kMostLayers, map.path(), context.trouble)) return;
  for (const auto& item : map.value()->items()) {
    JsonObject layer(
        &item.value(), map.Path(item.key()),
        {"carriers", "ends", "count", "round", "flat", "on_diameters", "braid_angle_deg"},
        context.trouble);
    section.wires.push_back(ReadWireLayer(item.key(), layer, context));
    CheckWireLayer(section.wires.back(), layer.path(), context.trouble);
  }
}

void ReadFibres(JsonObject& object, SectionDesign& section, const ParseContext& context) {
  JsonObject map(object.Find("fibres"), object.Path("fibres"), {}, context.trouble);
  if (map.value() == nullptr) return;
  if (TooMany(map.value()->size(), kMostLumens, map.path(), context.trouble)) return;
  for (const auto& item : map.value()->items()) {
    JsonObject bundle(&item.value(), map.Path(item.key()),
                      {"center", "filaments", "filament_diameter"}, context.trouble);
    FibreDesign read;
    read.name = item.key();
    read.centre = ReadPoint(bundle, "center", context);
    if (bundle.Need("filaments") != nullptr) {
      read.filaments = bundle.Count("filaments", 1, 100'000).value_or(1);
    }
    read.filament_diameter_um = context.Um(bundle.NeedPositive("filament_diameter"));
    section.fibres.push_back(std::move(read));
  }
}

void ReadBond(JsonObject& object, SectionDesign& section, const ParseContext& context) {
  JsonObject bond(object.Find("bond"), object.Path("bond"), {"adhesive", "sleeve", "gap_um"},
                  context.trouble);
  if (bond.value() == nullptr) return;
  BondDesign read;
  read.adhesive = bond.NeedText("adhesive");
  read.sleeve = bond.NeedText("sleeve");
  read.gap_um = bond.Within("gap_um", 0, 1000).value_or(read.gap_um);
  section.bond = read;
}

}  // namespace

Shape ReadShape(JsonObject& owner, const ParseContext& context) {
  Shape shape;
  if (owner.value() == nullptr) return shape;
  std::string_view found;
  for (const std::string_view key : {"circle", "ellipse", "rectangle", "path"}) {
    if (!owner.Has(key)) continue;
    if (!found.empty()) {
      context.trouble.Add(Code::kJsonValue, owner.path(),
                          fmt::format("says both {} and {}; keep one shape", found, key));
      return shape;
    }
    found = key;
  }
  if (found.empty()) {
    context.trouble.Add(Code::kJsonMissingKey, owner.path(),
                        "has no shape; add circle, ellipse, rectangle or path");
    return shape;
  }
  const std::string path = ReadShapeFields(owner, found, shape, context);
  if (context.trouble.any()) return shape;
  if (const Status status = FlattenShape(shape, context.um_per_unit); !status) {
    context.trouble.Add(status.error().code, path, status.error().message);
  }
  return shape;
}

std::vector<std::string_view> SectionKeys() {
  return {"like",  "kind",   "station_mm", "seen_from", "datum", "outline",
          "rings", "lumens", "wires",      "fibres",    "bond",  "characteristics"};
}

SectionDesign ReadSection(const std::string& name, const Json& value, const std::string& path,
                          const ParseContext& context) {
  JsonObject object(&value, path, SectionKeys(), context.trouble);
  SectionDesign section;
  section.name = name;
  if (object.Need("kind") != nullptr) {
    section.kind = object.Word("kind", {"shaft", "hub", "bond", "lengthwise"}, "shaft");
  }
  section.station_mm = object.Within("station_mm", -1e5, 1e5);
  section.seen_from = object.Word("seen_from", {"proximal", "distal"}, "");
  if (object.Has("datum")) {
    JsonObject datum(object.Find("datum"), object.Path("datum"), {"centre", "clock"},
                     context.trouble);
    section.datum.centre = datum.Text("centre", "outline");
    section.datum.clock = datum.Text("clock");
  }
  JsonObject outline(object.Need("outline"), object.Path("outline"),
                     {"circle", "ellipse", "rectangle", "path"}, context.trouble);
  section.outline = ReadShape(outline, context);
  ReadRings(object, section, context);
  ReadLumens(object, section, context);
  ReadWires(object, section, context);
  ReadFibres(object, section, context);
  ReadBond(object, section, context);
  if (!context.trouble.any()) CheckSection(section, path, context);
  if (!context.trouble.any()) ReadCharacteristics(object, section, context);
  return section;
}

}  // namespace cutface
