#include "gui/state/nominal.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>

#include "cutface/picture.h"
#include "cutface/quantity.h"
#include "gui/state/panels.h"
#include "gui/state/shape_edit.h"

namespace cutface::window {
namespace {

constexpr const char* kUnnamedFile = "the drawing";
constexpr std::size_t kMostOffers = 24;
const char* const kHandle = "handle/";

void TakeDesign(Nominal& nominal, const Design& design) {
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

const Shape* Nominal::ShapeNamed(const std::string& name) const {
  const SectionDesign* section = Plane();
  if (section == nullptr) return nullptr;
  if (name == "outline") return &section->outline;
  for (const LumenDesign& lumen : section->lumens)
    if (lumen.name == name) return &lumen.shape;
  for (const RingDesign& ring : section->rings)
    if (ring.name == name) return &ring.inner;
  return nullptr;
}

bool ChangeShape(Nominal& nominal, const std::string& name,
                 const std::function<bool(Shape&, double um_per_unit)>& change) {
  if (!nominal.design || !nominal.error.empty()) return false;
  Nominal changed = nominal;
  Design design = *nominal.design;
  SectionDesign* plane = PlaneOf(design, nominal.plane);
  if (plane == nullptr) return false;
  Shape* shape = name == "outline" ? &plane->outline : nullptr;
  for (LumenDesign& lumen : plane->lumens)
    if (lumen.name == name) shape = &lumen.shape;
  for (RingDesign& ring : plane->rings)
    if (ring.name == name) shape = &ring.inner;
  if (shape == nullptr || !change(*shape, UmPer(design.units))) return false;
  TakeDesign(changed, design);
  if (!changed.error.empty()) return false;
  nominal = std::move(changed);
  return true;
}

bool MoveShape(Nominal& nominal, const std::string& name, PointUm by) {
  return ChangeShape(nominal, name,
                     [&](Shape& shape, double unit) { return MovedBy(shape, by, unit); });
}

bool ResizeShape(Nominal& nominal, const std::string& name, int handle, PointUm to) {
  return ChangeShape(nominal, name, [&](Shape& shape, double unit) {
    return handle >= 0 && DragHandle(shape, static_cast<std::size_t>(handle), to, unit);
  });
}

Status TypeSize(Nominal& nominal, const std::string& name, const std::string& id,
                const std::string& text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size())
    return Fail(Code::kUsage, id + ": \"" + text + "\" is no number");
  const bool done = ChangeShape(nominal, name, [&](Shape& shape, double unit) {
    return SetSize(shape, id, value * unit, unit);
  });
  if (!done) return Fail(Code::kUsage, name + ": its " + id + " cannot be " + text);
  return {};
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
    TakeDesign(nominal, design);
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

std::vector<Mark> NominalMarks(const Nominal& nominal, const std::string& chosen) {
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
  for (const RingDesign& ring : plane->rings) add(ring.name, ring.inner, Ink::kRing);
  for (const LumenDesign& lumen : plane->lumens) add(lumen.name, lumen.shape, Ink::kLumen);
  const Shape* shape = nominal.ShapeNamed(chosen);
  if (shape == nullptr) return marks;
  int no = 0;
  for (const PointUm at : HandlesOf(*shape)) {
    Mark handle;
    handle.kind = DisplayItem::Kind::kDot;
    handle.ink = Ink::kNeutral;
    handle.feature = kHandle + std::to_string(no++);
    handle.weight = 1.6;
    handle.points = {FromDrawing(*nominal.measured, at)};
    marks.push_back(std::move(handle));
  }
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
  TakeDesign(nominal, *face->draft);
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

int HandleAt(const std::vector<Mark>& marks, const CanvasTransform& transform, ScreenPoint at,
             float reach) {
  int nearest = -1;
  for (const Mark& mark : marks) {
    if (!mark.feature.starts_with(kHandle) || mark.points.empty()) continue;
    const ScreenPoint p = transform.ToScreen(mark.points.front());
    const float d = std::hypot(p.x - at.x, p.y - at.y);
    if (d >= reach) continue;
    reach = d;
    nearest = mark.feature.back() - '0';  // four at most
  }
  return nearest;
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
  if (const Shape* shape = nominal.ShapeNamed(feature)) {
    const double unit = UmPer(nominal.design->units);
    for (const ShapeSize& size : SizesOf(*shape))
      panel.sizes.push_back({size.id,
                             size.label + ", " + std::string(UnitName(nominal.design->units)),
                             fmt::format("{:.6g}", size.um / unit)});
  }
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
