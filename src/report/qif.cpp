// Results as ISO 23952 (QIF 3.0), written with pugixml.
//
// A row of the drawing becomes a characteristic of the standard's user-defined kinds (linear,
// angular, area, other unit, attribute): the standard's own kinds carry definitions (of a diameter,
// of a thickness) that are not those of the table here. Each face is one set of measurements. What
// the standard has no place for, such as the reason of a row that was not measured and the
// interval, stands in attributes and descriptions.
#include <fmt/format.h>

#include <pugixml.hpp>
#include <sstream>

#include "report/internal.h"

namespace cutface {
namespace {

using Node = pugi::xml_node;

// xs:decimal knows no exponent.
std::string Decimal(double value) {
  std::string text = fmt::format("{:.9f}", value);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text == "-0" ? "0" : text;
}

Node Text(Node parent, const char* name, const std::string& text) {
  Node node = parent.append_child(name);
  node.text().set(text.c_str());
  return node;
}

bool IsLength(const std::string& unit) { return unit == "um" || unit == "mm" || unit == "in"; }
bool IsArea(const std::string& unit) { return unit == "um2" || unit == "mm2" || unit == "in2"; }

enum class Kind { kLinear, kAngular, kArea, kUnit, kAttribute };
const char* KindWord(Kind kind) {
  switch (kind) {
    case Kind::kLinear:
      return "UserDefinedLinear";
    case Kind::kAngular:
      return "UserDefinedAngular";
    case Kind::kArea:
      return "UserDefinedArea";
    case Kind::kUnit:
      return "UserDefinedUnit";
    case Kind::kAttribute:
      break;
  }
  return "UserDefinedAttribute";
}

Kind KindOf(const SheetRow& row) {
  if (IsLength(row.unit)) return Kind::kLinear;
  if (IsArea(row.unit)) return Kind::kArea;
  if (row.unit == "deg") return Kind::kAngular;
  const bool limited = row.min || row.max;
  return limited ? Kind::kUnit : Kind::kAttribute;
}

std::string UnitName(const SheetRow& row) { return row.unit.empty() ? "1" : row.unit; }

const char* StatusWord(Verdict verdict) {
  switch (verdict) {
    case Verdict::kConforms:
      return "PASS";
    case Verdict::kDoesNotConform:
      return "FAIL";
    case Verdict::kNotProven:
      return "INDETERMINATE";
    default:
      return "NOT_ANALYZED";
  }
}

const char* InspectionWord(Verdict verdict) {
  switch (verdict) {
    case Verdict::kConforms:
      return "PASS";
    case Verdict::kDoesNotConform:
      return "FAIL";
    case Verdict::kNotMeasured:
      return "NOT_MEASURED";
    case Verdict::kNotProven:
      return "UNKNOWN";
    default:
      return "NOT_CALCULATED";
  }
}

// A UUID's form from a hash: the same report has the same one.
std::string UuidOf(const std::string& text) {
  std::string h = Sha256Hex(text).substr(0, 32);
  h[12] = '8';  // RFC 9562: version 8, free use
  h[16] = "89ab"[std::stoi(h.substr(16, 1), nullptr, 16) & 3];
  return fmt::format("{}-{}-{}-{}-{}", h.substr(0, 8), h.substr(8, 4), h.substr(12, 4),
                     h.substr(16, 4), h.substr(20));
}

// "2026-03-02T09:15:00Z" or without Z; else nothing.
std::string DateTime(const std::string& text) {
  int y, mo, d, h, mi, s, used = 0;
  if (std::sscanf(text.c_str(), "%4d-%2d-%2dT%2d:%2d:%2d%n", &y, &mo, &d, &h, &mi, &s, &used) ==
          6 &&
      used == 19 && (text.size() == 19 || text.substr(19) == "Z"))
    return text;
  return "";
}
std::string DayAsTime(const std::string& day) { return DateTime(day + "T00:00:00"); }

class Document {
 public:
  explicit Document(const Sheet& sheet) : sheet_(sheet) {}

  std::string Write() {
    Node declaration = document_.append_child(pugi::node_declaration);
    declaration.append_attribute("version") = "1.0";
    declaration.append_attribute("encoding") = "UTF-8";
    root_ = document_.append_child("QIFDocument");
    root_.append_attribute("xmlns") = "http://qifstandards.org/xsd/qif3";
    root_.append_attribute("xmlns:xsi") = "http://www.w3.org/2001/XMLSchema-instance";
    root_.append_attribute("versionQIF") = "3.0.0";
    pugi::xml_attribute most = root_.append_attribute("idMax");
    std::string seed = sheet_.made + sheet_.run_sha256 + sheet_.design_sha256;
    for (const SheetFace& face : sheet_.faces) seed += face.result_sha256;
    Text(root_, "QPId", UuidOf(seed));
    Header();
    Units();
    Devices();
    Product();
    Characteristics();
    Results();
    most = last_;
    std::ostringstream out;
    document_.save(out, "  ", pugi::format_default, pugi::encoding_utf8);
    return out.str();
  }

 private:
  unsigned Id(Node node) {
    node.append_attribute("id") = ++last_;
    return last_;
  }
  static Node Counted(Node parent, const char* name, std::size_t n) {
    Node node = parent.append_child(name);
    node.append_attribute("n") = static_cast<unsigned>(n);
    return node;
  }
  static void Reference(Node parent, const char* name, unsigned id) {
    Text(parent, name, std::to_string(id));
  }

  void Attributes(Node parent, const std::vector<std::pair<const char*, std::string>>& given) {
    std::size_t n = 0;
    for (const auto& [name, value] : given) n += value.empty() ? 0 : 1;
    if (n == 0) return;
    Node list = Counted(parent, "Attributes", n);
    for (const auto& [name, value] : given) {
      if (value.empty()) continue;
      Node a = list.append_child("AttributeStr");
      a.append_attribute("name") = name;
      a.append_attribute("value") = value.c_str();
    }
  }

  void Header() {
    Node header = root_.append_child("Header");
    Text(header.append_child("Application"), "Name", "cutface " + sheet_.software);
    Text(header, "Description",
         JoinTexts({"Section report " + sheet_.part + " revision " + sheet_.revision,
                    sheet_.counts_line}));
    Text(header, "Scope",
         "Cut faces under the microscope; each value holds for the plane and the part that were "
         "cut. "
         "Uncertainty covers: " +
             sheet_.u_scope);
    Node standards = Counted(root_, "StandardsDefinitions", 1);
    Node standard = standards.append_child("Standard");
    standard_ = Id(standard);
    Text(standard.append_child("Organization"), "StandardsOrganizationEnum", "ISO");
    Text(standard, "Designator", "ISO 14253-1");
    Text(standard, "Description", "Decision rule: " + sheet_.decision_rule);
  }

  void Units() {
    Node file = root_.append_child("FileUnits");
    Node primary = file.append_child("PrimaryUnits");
    const bool inch = sheet_.unit == "in";
    const double metres = sheet_.unit == "um" ? 1e-6 : inch ? 0.0254 : 1e-3;
    Node area = primary.append_child("AreaUnit");
    Text(area, "SIUnitName", "square meter");
    Text(area, "UnitName", sheet_.unit + "2");
    Text(area.append_child("UnitConversion"), "Factor", fmt::format("{:.14f}", metres * metres));
    Node angle = primary.append_child("AngularUnit");
    Text(angle, "SIUnitName", "radian");
    Text(angle, "UnitName", "degree");
    Text(angle.append_child("UnitConversion"), "Factor", "0.017453292519943");
    Node length = primary.append_child("LinearUnit");
    Text(length, "SIUnitName", "meter");
    Text(length, "UnitName", sheet_.unit);
    Text(length.append_child("UnitConversion"), "Factor", Decimal(metres));
    std::map<std::string, std::string> own;
    for (const SheetRow& row : sheet_.rows) {
      if (KindOf(row) == Kind::kUnit)
        own.emplace(UnitName(row), row.count ? "number or ratio" : "ratio or density");
    }
    if (own.empty()) return;
    Node units = Counted(file, "UserDefinedUnits", own.size());
    for (const auto& [name, what] : own) {
      Node unit = units.append_child("UserDefinedUnit");
      Text(unit, "WhatIsMeasured", what);
      Text(unit, "UnitName", name);
    }
  }

  void Devices() {
    if (sheet_.benches.empty()) return;
    Node devices = Counted(root_.append_child("MeasurementResources"), "MeasurementDevices",
                           sheet_.benches.size());
    for (const SheetBench& bench : sheet_.benches) {
      Node device = devices.append_child("Microscope");
      devices_[bench.id] = Id(device);
      Text(device, "Name", bench.id.empty() ? "calibration without a name" : bench.id);
      Text(device, "Description",
           fmt::format("microscope by its calibration record; certificate {}; due {}; {}; record's "
                       "SHA-256 {}",
                       bench.certificate, bench.due, bench.pitch, bench.sha256));
      const std::string due = DayAsTime(bench.due);
      if (due.empty()) continue;
      Node calibration = Counted(device, "Calibrations", 1).append_child("Calibration");
      if (const std::string made = DayAsTime(bench.made); !made.empty())
        Text(calibration, "CalibrationDate", made);
      Text(calibration, "ExpirationDate", due);
    }
  }

  void Product() {
    Node product = root_.append_child("Product");
    Node part = Counted(product, "PartSet", 1).append_child("Part");
    const unsigned id = Id(part);
    Text(part.append_child("Header"), "Name", sheet_.title.empty() ? sheet_.part : sheet_.title);
    Text(part, "ModelNumber", sheet_.part);
    Text(part, "Version", sheet_.revision);
    Reference(product.append_child("RootPart"), "Id", id);
  }

  std::string Element(const SheetRow& row, const char* aspect) const {
    return std::string(KindWord(KindOf(row))) + "Characteristic" + aspect;
  }

  void Designator(Node parent, const SheetRow& row) {
    Node designator = parent.append_child("CharacteristicDesignator");
    Text(designator, "Designator", row.no);
    const char* level = row.criticality == "critical" ? "CRITICAL"
                        : row.criticality == "major"  ? "MAJOR"
                        : row.criticality == "minor"  ? "MINOR"
                                                      : nullptr;
    if (level != nullptr) Text(designator.append_child("Criticality"), "LevelEnum", level);
  }

  void Limits(Node parent, const SheetRow& row, bool with_unit) {
    const auto value = [&](const char* name, double number) {
      Node node = Text(parent, name, Decimal(number));
      if (with_unit) node.append_attribute("unitName") = UnitName(row).c_str();
    };
    if (row.max) value("MaxValue", *row.max);
    if (row.min) value("MinValue", *row.min);
    Text(parent, "DefinedAsLimit", "true");
  }

  void Characteristics() {
    if (sheet_.rows.empty()) return;
    Node all = root_.append_child("Characteristics");
    Reference(all, "FormalStandardId", standard_);
    Node definitions = Counted(all, "CharacteristicDefinitions", sheet_.rows.size());
    std::vector<unsigned> definition, nominal;
    for (const SheetRow& row : sheet_.rows) {
      Node node = definitions.append_child(Element(row, "Definition").c_str());
      definition.push_back(Id(node));
      const Kind kind = KindOf(row);
      Text(node, "Description", JoinTexts({row.subject, row.requirement, row.method}, "; "));
      Text(node, "Name", row.subject);
      Designator(node, row);
      if (kind == Kind::kUnit) continue;
      if (kind != Kind::kAttribute) {
        if (row.min || row.max) {
          Limits(node.append_child("Tolerance"), row, false);
        } else {
          Text(node, "NonTolerance", "MEASURED");
        }
      }
      Text(node, "WhatToMeasure", row.subject);
    }
    Node nominals = Counted(all, "CharacteristicNominals", sheet_.rows.size());
    for (std::size_t i = 0; i < sheet_.rows.size(); ++i) {
      const SheetRow& row = sheet_.rows[i];
      Node node = nominals.append_child(Element(row, "Nominal").c_str());
      nominal.push_back(Id(node));
      const Kind kind = KindOf(row);
      if (kind == Kind::kUnit && !row.nominal)
        Text(node, "Description",
             "the drawing gives no nominal; the target, which the form asks for, repeats a limit");
      Reference(node, "CharacteristicDefinitionId", definition[i]);
      if (kind == Kind::kUnit) {
        const double target = row.nominal ? *row.nominal : row.max ? *row.max : *row.min;
        Text(node, "TargetValue", Decimal(target)).append_attribute("unitName") =
            UnitName(row).c_str();
        Limits(node, row, true);
      } else if (kind != Kind::kAttribute && row.nominal) {
        Text(node, "TargetValue", Decimal(*row.nominal));
      }
    }
    Node items = Counted(all, "CharacteristicItems", sheet_.rows.size());
    for (std::size_t i = 0; i < sheet_.rows.size(); ++i) {
      const SheetRow& row = sheet_.rows[i];
      Node node = items.append_child(Element(row, "Item").c_str());
      items_.push_back(Id(node));
      Text(node, "Description", "section " + row.plane);
      Text(node, "Name", row.subject);
      Designator(node, row);
      Reference(node, "CharacteristicNominalId", nominal[i]);
    }
  }

  void Value(Node measurement, const SheetRow& row, const SheetCell& cell) {
    if (!cell.value) return;
    Node value = Text(measurement, "Value",
                      KindOf(row) == Kind::kAttribute ? cell.actual : Decimal(*cell.value));
    if (KindOf(row) == Kind::kAttribute) return;
    if (cell.u) value.append_attribute("combinedUncertainty") = Decimal(*cell.u).c_str();
    if (KindOf(row) == Kind::kUnit) value.append_attribute("unitName") = UnitName(row).c_str();
  }

  void Measurement(Node parent, std::size_t r, const SheetCell& cell, const SheetFace& face) {
    const SheetRow& row = sheet_.rows[r];
    Node node = parent.append_child(Element(row, "Measurement").c_str());
    Id(node);
    Attributes(node, {{"verdict", std::string(VerdictName(cell.verdict))},
                      {"lo", cell.lo ? Decimal(*cell.lo) : ""},
                      {"hi", cell.hi ? Decimal(*cell.hi) : ""},
                      {"probability of conformance", cell.p ? Decimal(*cell.p) : ""},
                      {"reason", cell.reason},
                      {"disposition", cell.disposition},
                      {"uncertainty covers", row.u_scope}});
    Text(node.append_child("Status"), "CharacteristicStatusEnum", StatusWord(cell.verdict));
    Reference(node, "CharacteristicItemId", items_[r]);
    if (const std::string time = DateTime(face.time); !time.empty()) Text(node, "TimeStamp", time);
    Reference(node, "ActualComponentId", components_.at(ComponentKey(face)));
    if (const auto device = devices_.find(face.calibration);
        device != devices_.end() && cell.verdict != Verdict::kElsewhere)
      Reference(Counted(node, "MeasurementDeviceIds", 1), "Id", device->second);
    Value(node, row, cell);
  }

  static std::string ComponentKey(const SheetFace& face) {
    return face.part_key.empty() ? face.label : face.part_key;
  }

  // Ids first: the measurements stand before the parts that they refer to.
  void NumberComponents() {
    for (const SheetFace& face : sheet_.faces) {
      if (components_.emplace(ComponentKey(face), last_ + 1).second) ++last_;
    }
  }

  void Results() {
    NumberComponents();
    Node results = root_.append_child("Results");
    Node set = Counted(results, "MeasurementResultsSet", sheet_.faces.size());
    for (std::size_t f = 0; f < sheet_.faces.size(); ++f) {
      const SheetFace& face = sheet_.faces[f];
      Node one = set.append_child("MeasurementResults");
      Id(one);
      Attributes(one, {{"face", face.label},
                       {"section plane", face.plane},
                       {"station", face.station},
                       {"side", face.side},
                       {"repeat", face.repeat},
                       {"picture", face.image},
                       {"picture SHA-256", face.image_sha256},
                       {"result SHA-256", face.result_sha256},
                       {"operator", face.operator_name},
                       {"factors", face.factors}});
      if (!face.rows.empty()) {
        Node list = Counted(one.append_child("MeasuredCharacteristics"),
                            "CharacteristicMeasurements", face.rows.size());
        for (const std::size_t r : face.rows) {
          for (const SheetCell& cell : sheet_.rows[r].cells) {
            if (cell.face == f) Measurement(list, r, cell, face);
          }
        }
      }
      Text(one.append_child("InspectionStatus"), "InspectionStatusEnum",
           InspectionWord(face.verdict));
      Reference(Counted(one, "ActualComponentIds", 1), "Id", components_.at(ComponentKey(face)));
    }
    Components(results);
  }

  void Components(Node results) {
    Node set = Counted(Counted(results, "ActualComponentSets", 1), "ActualComponentSet",
                       components_.size());
    std::map<std::string, const SheetFace*> first;
    for (const SheetFace& face : sheet_.faces) first.emplace(ComponentKey(face), &face);
    for (const auto& [key, id] : components_) {
      const SheetFace& face = *first.at(key);
      Node component = set.append_child("ActualComponent");
      component.append_attribute("id") = id;
      if (!face.serial.empty()) Text(component, "SerialNumber", face.serial);
      Verdict worst = Verdict::kNotJudged;
      for (const SheetFace& other : sheet_.faces) {
        if (ComponentKey(other) == key && Rank(other.verdict) > Rank(worst)) worst = other.verdict;
      }
      Text(component.append_child("Status"), "InspectionStatusEnum", InspectionWord(worst));
      if (!face.lot.empty()) Text(component.append_child("Traceability"), "LotNumber", face.lot);
    }
  }
  static int Rank(Verdict v) {
    return v == Verdict::kDoesNotConform ? 4
           : v == Verdict::kNotMeasured  ? 3
           : v == Verdict::kNotProven    ? 2
           : v == Verdict::kConforms     ? 1
                                         : 0;
  }

  const Sheet& sheet_;
  pugi::xml_document document_;
  Node root_;
  unsigned last_ = 0, standard_ = 0;
  std::map<std::string, unsigned> devices_, components_;
  std::vector<unsigned> items_;
};

}  // namespace

Result<std::string> RenderQif(const Sheet& sheet) {
  for (const SheetRow& row : sheet.rows) {
    if ((IsLength(row.unit) && row.unit != sheet.unit) ||
        (IsArea(row.unit) && row.unit != sheet.unit + "2")) {
      return Fail(Code::kDesignMismatch,
                  fmt::format("number {}: in {}, but the drawing is in {}; units are not mixed in "
                              "one report",
                              row.no, row.unit, sheet.unit));
    }
  }
  return Document(sheet).Write();
}

}  // namespace cutface
