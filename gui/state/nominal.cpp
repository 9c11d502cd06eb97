#include "gui/state/nominal.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>

#include "cutface/picture.h"
#include "cutface/quantity.h"
#include "gui/state/panels.h"

namespace cutface::window {
namespace {

constexpr const char* kUnnamedFile = "the drawing";
constexpr std::size_t kMostOffers = 24;

// An SVG path moved: absolute coordinates take the shift, relative ones stay. The first command is
// absolute in SVG whatever its case.
std::string MovedPath(const std::string& path, double dx, double dy) {
  std::string out;
  char command = 'M';
  int index = 0;
  bool first = true;
  for (std::size_t i = 0; i < path.size();) {
    const char c = path[i];
    if (std::isalpha(static_cast<unsigned char>(c)) != 0 && c != 'e' && c != 'E') {
      command = c;
      index = 0;
      out += c;
      ++i;
      continue;
    }
    double value = 0;
    const auto [end, error] = std::from_chars(path.data() + i, path.data() + path.size(), value);
    if (error != std::errc()) {
      out += c;
      ++i;
      continue;
    }
    const bool absolute = std::isupper(static_cast<unsigned char>(command)) != 0 || first;
    const char kind = static_cast<char>(std::toupper(static_cast<unsigned char>(command)));
    const int place = kind == 'A' ? index % 7 - 5 : kind == 'H' ? 0 : kind == 'V' ? 1 : index % 2;
    if (absolute && place == 0) value += dx;
    if (absolute && place == 1) value += dy;
    out += fmt::format("{:.6g}", value);
    i = static_cast<std::size_t>(end - path.data());
    if (++index == 2) first = false;
  }
  return out;
}

bool Move(Shape& shape, PointUm by, double um_per_unit) {
  if (shape.kind == Shape::Kind::kPath)
    shape.path = MovedPath(shape.path, by.x / um_per_unit, by.y / um_per_unit);
  else
    shape.centre = shape.centre + by;
  return FlattenShape(shape, um_per_unit).has_value();
}

void TakeDesign(Nominal& nominal, Design design) {
  nominal.text = DesignToJson(design);
  CheckNominal(nominal);
}

SectionDesign* PlaneOf(Design& design, const std::string& name) {
  for (SectionDesign& section : design.sections)
    if (section.name == name) return &section;
  return nullptr;
}

std::string NextNumber(const SectionDesign& plane) {
  int next = 1;
  const auto taken = [&] {
    return std::any_of(plane.characteristics.begin(), plane.characteristics.end(),
                       [&](const Characteristic& c) { return c.no == std::to_string(next); });
  };
  while (taken()) ++next;
  return std::to_string(next);
}

}  // namespace

const SectionDesign* Nominal::Plane() const {
  return design == nullptr ? nullptr : design->FindSection(plane);
}

void CheckNominal(Nominal& nominal) {
  auto design = ParseDesign(nominal.text, kUnnamedFile);
  nominal.error = design ? "" : design.error().message;
  if (!design) return;
  nominal.design = std::make_shared<const Design>(std::move(*design));
  if (nominal.Plane() == nullptr && !nominal.design->sections.empty())
    nominal.plane = nominal.design->sections.front().name;
  nominal.measured_is_old = true;
}

bool MoveShape(Nominal& nominal, const std::string& name, PointUm by) {
  if (!nominal.design || !nominal.error.empty()) return false;
  Design design = *nominal.design;
  SectionDesign* plane = PlaneOf(design, nominal.plane);
  if (plane == nullptr) return false;
  Shape* shape = name == "outline" ? &plane->outline : nullptr;
  for (LumenDesign& lumen : plane->lumens)
    if (lumen.name == name) shape = &lumen.shape;
  if (shape == nullptr || !Move(*shape, by, UmPer(design.units))) return false;
  Nominal moved = nominal;
  TakeDesign(moved, std::move(design));
  if (!moved.error.empty()) return false;
  nominal = std::move(moved);
  return true;
}

bool AddRow(Nominal& nominal, const std::vector<std::string>& of, const std::string& quantity) {
  if (!nominal.design || !nominal.error.empty() || !nominal.measured) return false;
  for (const Measurement& m : nominal.measured->result.measurements) {
    if (m.of != of || m.quantity != quantity || m.state != Measurement::State::kMeasured) continue;
    Design design = *nominal.design;
    SectionDesign* plane = PlaneOf(design, nominal.plane);
    if (plane == nullptr) return false;
    Characteristic row;
    row.no = NextNumber(*plane);
    row.of = of;
    row.quantity = quantity;
    row.is_length = m.unit == "um";
    row.is_area = m.unit == "um2";
    // As people read it: a drawing's nominal has no digits of a measurement.
    const std::string text = Format(m.value, m.unit, design.units, /*with_unit=*/false);
    double shown = 0;
    std::from_chars(text.data(), text.data() + text.size(), shown);
    const double back = ToDisplay(1, m.unit, design.units);
    row.nominal = back > 0 ? shown / back : m.value;
    row.plus = row.minus = 0;  // no limits are made up: they are typed
    plane->characteristics.push_back(std::move(row));
    TakeDesign(nominal, std::move(design));
    return nominal.error.empty();
  }
  return false;
}

PointUm ToDrawing(const Measured& measured, PointPx p) {
  const Placement& placement = measured.result.section.placement;
  const PointUm centre = measured.scale.ToUm(placement.centre_px);
  const double c = std::cos(-placement.rotation_rad), s = std::sin(-placement.rotation_rad);
  const PointUm d = measured.scale.ToUm(p) - centre;
  PointUm out{c * d.x - s * d.y, s * d.x + c * d.y};
  if (placement.mirrored) out.x = -out.x;
  return out;
}

PointPx FromDrawing(const Measured& measured, PointUm p) {
  const Placement& placement = measured.result.section.placement;
  if (placement.mirrored) p.x = -p.x;
  const double c = std::cos(placement.rotation_rad), s = std::sin(placement.rotation_rad);
  const PointUm centre = measured.scale.ToUm(placement.centre_px);
  return measured.scale.ToPx(centre + PointUm{c * p.x - s * p.y, s * p.x + c * p.y});
}

std::vector<Mark> NominalMarks(const Nominal& nominal) {
  std::vector<Mark> marks;
  const SectionDesign* plane = nominal.Plane();
  if (plane == nullptr || !nominal.measured) return marks;
  const auto add = [&](const std::string& name, const Shape& shape, Ink ink) {
    Mark mark;
    mark.ink = ink;
    mark.style = LineStyle::kDashed;
    mark.feature = name;
    for (const PointUm p : shape.contour) mark.points.push_back(FromDrawing(*nominal.measured, p));
    Mark text;
    text.kind = DisplayItem::Kind::kText;
    text.ink = ink;
    text.text = text.feature = name;
    if (name != "outline" && !mark.points.empty()) text.points = {Centroid(mark.points)};
    marks.push_back(std::move(mark));
    if (!text.points.empty()) marks.push_back(std::move(text));
  };
  add("outline", plane->outline, Ink::kOutline);
  for (const LumenDesign& lumen : plane->lumens) add(lumen.name, lumen.shape, Ink::kLumen);
  return marks;
}

Result<Nominal> SurveyNominal(const Micrograph& picture, const Order& order,
                              const Progress& progress) {
  auto benches = Benches::Open({order.calibration, "", ""});
  if (!benches) return tl::unexpected(benches.error());
  auto face = MeasureFace(picture, *benches, Design{}, nullptr, order.ForJob(progress));
  if (!face) return tl::unexpected(face.error());
  CF_CHECK(face->draft);
  Nominal nominal;
  Measured measured;
  measured.result = std::move(face->result);
  measured.found = measured.result;
  measured.scale = face->ready.bench.scale;
  Finish(measured);
  nominal.measured = std::make_shared<const Measured>(std::move(measured));
  TakeDesign(nominal, std::move(*face->draft));
  return nominal;
}

Result<Measured> TryNominal(const Micrograph& picture, const Order& order, const Design& design,
                            const std::string& plane, const Progress& progress) {
  auto benches = Benches::Open({order.calibration, "", ""});
  if (!benches) return tl::unexpected(benches.error());
  Measured measured;
  measured.design = design;
  auto section = ChooseSection(measured.design, plane);
  if (!section) return tl::unexpected(section.error());
  measured.plane = (*section)->name;
  auto face = MeasureFace(picture, *benches, measured.design, *section, order.ForJob(progress));
  if (!face) return tl::unexpected(face.error());
  measured.result = std::move(face->result);
  measured.found = measured.result;
  measured.scale = face->ready.bench.scale;
  Finish(measured);
  return measured;
}

NominalPanel BuildNominal(const Nominal& nominal, const std::string& feature, LengthUnit units) {
  NominalPanel panel;
  panel.started = !nominal.text.empty();
  panel.error = nominal.error;
  panel.plane = nominal.plane;
  panel.old = nominal.measured_is_old;
  panel.feature = feature;
  if (nominal.design)
    for (const SectionDesign& section : nominal.design->sections)
      panel.planes.push_back(section.name);
  if (!nominal.measured) return panel;
  const SectionResult& result = nominal.measured->result;
  if (!result.characteristics.empty()) panel.verdict = VerdictName(result.verdict);
  for (const CharacteristicResult& c : result.characteristics)
    panel.rows.push_back({c.no, SubjectText(c), RequirementText(c),
                          c.actual ? ActualText(c) : c.reason, std::string(VerdictName(c.verdict)),
                          c.verdict});
  for (const Measurement& m : result.measurements) {
    if (m.state != Measurement::State::kMeasured || panel.offers.size() == kMostOffers) continue;
    if (feature.empty() || std::find(m.of.begin(), m.of.end(), feature) == m.of.end()) continue;
    const ValueLine line = ValueLineOf(m, 0, false, units);
    const std::string other =
        m.of.size() == 2 ? " to " + (m.of.front() == feature ? m.of.back() : m.of.front()) : "";
    panel.offers.push_back({m.of, m.quantity, line.title + other, line.value});
  }
  return panel;
}

}  // namespace cutface::window
