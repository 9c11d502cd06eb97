// The table: faces, rows and cells out of results, refused where they do not belong together.
#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "cutface/picture.h"
#include "cutface/quantity.h"
#include "report/internal.h"

namespace cutface {
namespace {

int Badness(Verdict verdict) {
  switch (verdict) {
    case Verdict::kDoesNotConform:
      return 4;
    case Verdict::kNotMeasured:
      return 3;
    case Verdict::kNotProven:
      return 2;
    case Verdict::kConforms:
      return 1;
    default:
      return 0;
  }
}

Verdict Worse(Verdict a, Verdict b) { return Badness(b) > Badness(a) ? b : a; }

bool IsCount(const CharacteristicResult& row) {
  if (!row.finding.empty()) return true;
  for (const QuantityRow& quantity : QuantityTable()) {
    if (quantity.word == row.quantity) return quantity.kind == QuantityKind::kCount;
  }
  return false;
}

Status CheckBelonging(const ReportInput& input) {
  if (input.faces.empty()) {
    return Fail(Code::kUsage,
                "there is no measured face to report; measure some first (cutface batch, measure)");
  }
  const ReportFace& first = input.faces.front();
  std::set<std::pair<std::string, std::string>> seen;
  for (const ReportFace& face : input.faces) {
    const SectionResult& r = face.result;
    const auto differs = [&](std::string_view what, const std::string& is, const std::string& other,
                             const std::string& of) {
      return Fail(
          Code::kDesignMismatch,
          fmt::format("{}: measured against {} \"{}\", but {} is {} \"{}\"; one report holds "
                      "one drawing: measure again or leave the file out",
                      face.result_file, what, PlainText(is, 80), of, what, PlainText(other, 80)));
    };
    const std::string drawing = input.design ? "the drawing" : first.result_file;
    const std::string& part = input.design ? input.design->part_number : first.result.part;
    const std::string& revision = input.design ? input.design->revision : first.result.revision;
    if (r.part != part) return differs("part", r.part, part, drawing);
    if (r.revision != revision) return differs("revision", r.revision, revision, drawing);
    const std::string& sha = input.design ? input.design->sha256 : first.result.design_sha256;
    if (r.design_sha256 != sha)
      return differs("the file with hash", r.design_sha256.substr(0, 12), sha.substr(0, 12),
                     drawing);
    const LengthUnit units = input.design ? input.design->units : first.result.units;
    if (r.units != units) {
      return Fail(Code::kDesignMismatch,
                  fmt::format("{}: in {}, but {} is in {}; units are not mixed in one report",
                              face.result_file, UnitName(r.units), drawing, UnitName(units)));
    }
    if (!seen.emplace(r.image_sha256, r.section_name).second) {
      return Fail(Code::kUsage,
                  fmt::format("{}: the picture {} stands in this report already; name each result "
                              "once",
                              face.result_file, PlainText(r.image_file, 80)));
    }
  }
  return {};
}

// The rows of a plane as the drawing numbers them: every result of the plane has each exactly once.
Status CheckRows(const ReportInput& input) {
  std::map<std::string, const ReportFace*> first_of;
  for (const ReportFace& face : input.faces) {
    const SectionResult& r = face.result;
    std::map<std::string, const CharacteristicResult*> rows;
    for (const CharacteristicResult& row : r.characteristics) {
      if (row.no.empty() || !rows.emplace(row.no, &row).second) {
        return Fail(Code::kDesignInvalid,
                    fmt::format("{}: number \"{}\" stands {}; every row of a drawing has a number "
                                "of its own",
                                face.result_file, PlainText(row.no, 40),
                                row.no.empty() ? "for a row without one" : "twice"));
      }
    }
    std::vector<std::string> wanted;
    std::string by;
    if (input.design) {
      const SectionDesign* plane = input.design->FindSection(r.section_name);
      if (plane == nullptr) {
        return Fail(Code::kDesignMismatch,
                    fmt::format("{}: the drawing {} has no section \"{}\"", face.result_file,
                                input.design->file_name, PlainText(r.section_name, 60)));
      }
      for (const Characteristic& c : plane->characteristics) wanted.push_back(c.no);
      by = "the drawing";
    } else {
      const ReportFace* first = first_of.emplace(r.section_name, &face).first->second;
      for (const CharacteristicResult& c : first->result.characteristics) wanted.push_back(c.no);
      by = first->result_file;
    }
    for (const std::string& no : wanted) {
      if (rows.count(no) > 0) continue;
      return Fail(Code::kDesignMismatch,
                  fmt::format("{}: number {} of {} is missing; measure the face again",
                              face.result_file, PlainText(no, 40), by));
    }
    if (rows.size() != wanted.size()) {
      for (const auto& [no, row] : rows) {
        if (std::find(wanted.begin(), wanted.end(), no) != wanted.end()) continue;
        return Fail(Code::kDesignMismatch,
                    fmt::format("{}: number {} is not in {}; measure the face again",
                                face.result_file, PlainText(no, 40), by));
      }
    }
    const ReportFace* first = first_of.emplace(r.section_name, &face).first->second;
    for (const CharacteristicResult& c : first->result.characteristics) {
      const CharacteristicResult& own = *rows.at(c.no);
      if (own.unit == c.unit && own.min == c.min && own.max == c.max) continue;
      return Fail(Code::kDesignMismatch,
                  fmt::format("{}: number {} reads \"{}\", but \"{}\" in {}; limits and units are "
                              "not mixed in one report",
                              face.result_file, PlainText(c.no, 40), RequirementText(own),
                              RequirementText(c), first->result_file));
    }
  }
  return {};
}

std::vector<std::string> PlanesOf(const ReportInput& input) {
  std::vector<std::string> planes;
  const auto add = [&](const std::string& plane) {
    if (std::find(planes.begin(), planes.end(), plane) == planes.end()) planes.push_back(plane);
  };
  if (input.design) {
    for (const SectionDesign& section : input.design->sections) add(section.name);
  }
  for (const ReportFace& face : input.faces) add(face.result.section_name);
  return planes;
}

// Which planes have a number, in the order of the drawing: the place in it is the sub-number.
std::map<std::string, std::vector<std::string>> PlanesOfNumbers(
    const ReportInput& input, const std::vector<std::string>& planes) {
  std::map<std::string, std::vector<std::string>> of;
  for (const std::string& plane : planes) {
    if (const SectionDesign* s = input.design ? input.design->FindSection(plane) : nullptr) {
      for (const Characteristic& c : s->characteristics) of[c.no].push_back(plane);
      continue;
    }
    for (const ReportFace& face : input.faces) {
      if (face.result.section_name != plane) continue;
      for (const CharacteristicResult& c : face.result.characteristics) of[c.no].push_back(plane);
      break;
    }
  }
  return of;
}

const FaceEntry* EntryOf(const Roster& roster, const ReportFace& face) {
  for (const FaceEntry& entry : roster.faces) {
    if (entry.result_sha256 == face.result_sha256 && entry.state == FaceState::kMeasured)
      return &entry;
  }
  return nullptr;
}

std::string Factors(const std::map<std::string, std::string>& factors) {
  std::vector<std::string> texts;
  for (const auto& [name, level] : factors) texts.push_back(name + " " + level);
  return JoinTexts(texts);
}

SheetFace MakeFace(const ReportInput& input, std::size_t at) {
  const ReportFace& in = input.faces[at];
  const SectionResult& r = in.result;
  const FaceEntry* entry = EntryOf(input.roster, in);
  SheetFace face;
  face.input = at;
  face.label = fmt::format("F{}", at + 1);
  face.serial = PlainText(r.sample.serial);
  face.lot = PlainText(r.sample.lot);
  face.block = PlainText(r.sample.block);
  face.side = PlainText(r.sample.face);
  if (r.sample.station_mm) face.station = fmt::format("{:g} mm", *r.sample.station_mm);
  face.plane = PlainText(r.section_name);
  face.part_key = r.sample.serial.empty() ? "" : r.sample.lot + "\n" + r.sample.serial;
  face.image = PlainText(r.image_file);
  face.image_sha256 = r.image_sha256;
  face.taken = PlainText(r.sample.taken);
  if (entry != nullptr) {
    face.operator_name = PlainText(entry->operator_name);
    face.trial = PlainText(entry->trial);
    face.factors = PlainText(Factors(entry->factors));
    if (entry->repeat != RepeatKind::kNone) {
      face.repeat = std::string(RepeatKindName(entry->repeat)) +
                    (entry->repeat_of.empty() ? "" : " of " + PlainText(entry->repeat_of, 80));
    }
  }
  face.result_file = PlainText(in.result_file);
  face.result_sha256 = in.result_sha256;
  face.calibration = PlainText(r.calibration_id);
  face.inspector = PlainText(r.inspector);
  face.time = PlainText(r.time);
  face.software = PlainText(r.software);
  face.verdict = r.verdict;
  face.name = face.serial.empty() ? face.image : "serial " + face.serial;
  if (face.name.size() > 60) face.name = PlainText(face.name, 56);
  if (!face.repeat.empty()) face.name += ", " + face.repeat.substr(0, face.repeat.find(' '));
  const auto remark = [&](std::string_view what, const std::vector<std::string>& texts) {
    for (const std::string& text : texts)
      face.remarks.push_back(fmt::format("{}: {}", what, PlainText(text, 600)));
  };
  remark("overruled", r.overrules);
  remark("edited", r.edits);
  if (r.section.picture.grade != "clean")
    remark("picture " + r.section.picture.grade, {JoinTexts(r.section.picture.reasons)});
  if (!r.section.placement.names_proven)
    remark("note", {"names are not proven: another placing of the drawing fits almost as well"});
  remark("note", r.warnings);
  for (const Finding& f : r.findings) {
    SheetFinding finding;
    finding.kind = PlainText(f.kind);
    finding.where = PlainText(JoinTexts(f.where));
    finding.text = PlainText(f.text.empty() ? f.kind : f.text, 600);
    finding.severity = SeverityName(f.severity);
    finding.hints = f.hints;
    for (Hint& hint : finding.hints) {
      hint = {PlainText(hint.cause, 400), PlainText(hint.check, 400), PlainText(hint.basis, 80)};
    }
    if (!f.disposed_by.empty())
      finding.disposition =
          fmt::format("{}: {}", PlainText(f.disposed_by, 80), PlainText(f.disposition));
    face.findings.push_back(std::move(finding));
  }
  return face;
}

std::string MethodOf(const SectionResult& r, const CharacteristicResult& row) {
  if (row.verdict == Verdict::kElsewhere) return "by other means";
  return fmt::format("cut face under the microscope, {} picture", PlainText(r.image_kind, 40));
}

SheetCell MakeCell(const SectionResult& r, const CharacteristicResult& row, std::size_t face) {
  SheetCell cell;
  cell.face = face;
  cell.verdict = row.verdict;
  cell.reason = PlainText(row.reason, 400);
  cell.p = row.p_conform;
  if (!row.actual) return cell;
  cell.value = row.actual;
  cell.lo = row.lo;
  cell.hi = row.hi;
  const bool count = IsCount(row);
  cell.actual = count ? ActualText(row) : FormatRowValue(*row.actual, row.unit, false);
  cell.interval = IntervalText(row);
  if (const Measurement* m = MeasurementOf(r, row)) cell.u = RowUnits(m->u, m->unit, row.unit);
  return cell;
}

void FillStatistics(const Sheet& sheet, SheetRow& row) {
  struct Part {
    double least, greatest, sum;
    int n;
  };
  std::map<std::string, Part> parts;
  bool counted = sheet.counts.n.has_value();
  for (const SheetCell& cell : row.cells) {
    if (!cell.value) continue;
    ++row.measured;
    const SheetFace& face = sheet.faces[cell.face];
    const std::string key = counted ? face.part_key : face.label;
    const auto [at, fresh] = parts.emplace(key, Part{*cell.value, *cell.value, *cell.value, 1});
    if (fresh) continue;
    at->second.least = std::min(at->second.least, *cell.value);
    at->second.greatest = std::max(at->second.greatest, *cell.value);
    at->second.sum += *cell.value;
    ++at->second.n;
  }
  if (counted) row.n = static_cast<int>(parts.size());
  if (parts.empty()) return;
  double sum = 0;
  for (const auto& [key, part] : parts) {
    row.least = std::min(row.least.value_or(part.least), part.least);
    row.greatest = std::max(row.greatest.value_or(part.greatest), part.greatest);
    sum += part.sum / part.n;
  }
  row.mean = sum / static_cast<double>(parts.size());
}

std::string Gauges(const Sheet& sheet, const SheetRow& row) {
  std::vector<std::string> ids;
  for (const SheetCell& cell : row.cells) {
    const std::string& id = sheet.faces[cell.face].calibration;
    if (std::find(ids.begin(), ids.end(), id) == ids.end()) ids.push_back(id);
  }
  return row.method == "by other means" ? "" : JoinTexts(ids);
}

Status FillRows(const ReportInput& input, Sheet& sheet) {
  const auto planes_of = PlanesOfNumbers(input, sheet.planes);
  std::map<std::string, std::string> taken;  // printed number -> plane
  for (const std::string& plane : sheet.planes) {
    const std::size_t before = sheet.rows.size();
    for (std::size_t f = 0; f < sheet.faces.size(); ++f) {
      const SectionResult& r = input.faces[sheet.faces[f].input].result;
      if (r.section_name != plane) continue;
      if (sheet.rows.size() == before) {
        for (const CharacteristicResult& c : r.characteristics) {
          SheetRow row;
          row.drawing_no = c.no;
          const auto& with = planes_of.at(c.no);
          const auto place = std::find(with.begin(), with.end(), plane) - with.begin();
          row.no = with.size() > 1 ? fmt::format("{}.{}", c.no, place + 1) : c.no;
          row.no = PlainText(row.no, 40);
          if (const auto [at, fresh] = taken.emplace(row.no, plane); !fresh) {
            return Fail(Code::kDesignInvalid,
                        fmt::format("number {} of section {} and number {} of section {} would "
                                    "both print as {}; renumber one in the drawing",
                                    c.no, plane, at->first, at->second, row.no));
          }
          row.plane = plane;
          row.subject = PlainText(SubjectText(c));
          row.requirement = PlainText(RequirementText(c));
          row.min = c.min, row.max = c.max, row.nominal = c.nominal;
          row.unit = PlainText(c.unit, 20), row.criticality = PlainText(c.criticality, 20);
          row.quantity = c.finding.empty() && c.text.empty() ? c.quantity : "";
          row.method = MethodOf(r, c);
          row.u_scope = PlainText(c.u_scope);
          row.count = IsCount(c);
          row.verdict = Verdict::kNotJudged;
          sheet.rows.push_back(std::move(row));
        }
      }
      for (std::size_t i = before; i < sheet.rows.size(); ++i) {
        SheetRow& row = sheet.rows[i];
        const CharacteristicResult* c = RowOf(r, row);
        row.cells.push_back(MakeCell(r, *c, f));
        sheet.faces[f].rows.push_back(i);
        if (c->verdict == Verdict::kElsewhere && row.verdict == Verdict::kNotJudged)
          row.verdict = Verdict::kElsewhere;
        row.verdict = Worse(row.verdict, c->verdict);
      }
    }
  }
  for (SheetRow& row : sheet.rows) {
    FillStatistics(sheet, row);
    row.gauge = Gauges(sheet, row);
  }
  return {};
}

SheetBench MakeBench(const ReportInput& input, const std::string& id) {
  SheetBench bench;
  bench.id = PlainText(id);
  const CalibrationRecord* record = nullptr;
  std::string sha;
  for (const ReportFace& face : input.faces) {
    if (face.result.calibration_id == id) sha = face.result.calibration_sha256;
  }
  for (const CalibrationRecord& r : input.calibrations) {
    if (r.id == id && r.sha256 == sha) record = &r;
  }
  bench.sha256 = sha;
  if (record == nullptr) {
    const bool certified =
        std::any_of(input.faces.begin(), input.faces.end(), [&](const ReportFace& f) {
          return f.result.calibration_id == id && f.result.calibration_certified;
        });
    bench.certificate = certified ? "certified, see the record" : "UNCERTIFIED";
    bench.due = "unknown";
    bench.pitch = "pitch unknown";
    bench.remark = "the record itself was not given to this report (--calibration)";
    return bench;
  }
  bench.certificate = record->Certified() ? PlainText(record->artefact_certificate) : "UNCERTIFIED";
  bench.certificate_due = PlainText(record->artefact_certificate_due);
  bench.due = record->due.empty() ? "not stated" : PlainText(record->due);
  bench.made = PlainText(record->made);
  bench.by = PlainText(record->by);
  bench.artefact = PlainText(JoinTexts({record->artefact_kind, record->artefact_serial}));
  const auto pitch = [](const std::optional<double>& p, const std::optional<double>& u) {
    return p ? fmt::format("{:.4f}{}", *p, u ? fmt::format(" (u {:.4f})", *u) : "") : "unknown";
  };
  const std::string x = pitch(record->pitch_x_um, record->pitch_u_x_um);
  const std::string y = pitch(record->pitch_y_um, record->pitch_u_y_um);
  bench.pitch = (x == y ? x : x + " x " + y) + " um/px";
  return bench;
}

void FillBenches(const ReportInput& input, Sheet& sheet) {
  std::vector<std::string> ids;
  for (const ReportFace& face : input.faces) {
    const std::string& id = face.result.calibration_id;
    if (std::find(ids.begin(), ids.end(), id) == ids.end()) ids.push_back(id);
  }
  for (const std::string& id : ids) sheet.benches.push_back(MakeBench(input, id));
}

std::string Distinct(const std::vector<std::string>& texts) {
  std::vector<std::string> kept;
  for (const std::string& text : texts) {
    if (!text.empty() && std::find(kept.begin(), kept.end(), text) == kept.end())
      kept.push_back(text);
  }
  return JoinTexts(kept);
}

void FillHead(const ReportInput& input, Sheet& sheet) {
  const SectionResult& first = input.faces.front().result;
  sheet.part = PlainText(first.part);
  sheet.revision = PlainText(first.revision);
  sheet.design_sha256 = first.design_sha256;
  sheet.unit = UnitName(first.units);
  if (input.design) {
    sheet.title = PlainText(input.design->title);
    sheet.design_file = PlainText(input.design->file_name);
    const DecisionRule& rule = input.design->decision_rule;
    sheet.decision_rule =
        rule.kind == DecisionRule::Kind::kGuarded
            ? fmt::format(
                  "guarded: probability of conformance {:g} or more (ISO 14253-1, JCGM 106)",
                  rule.conformance)
            : "simple: the value itself decides, where half the interval is at most a quarter of "
              "the tolerance";
  } else {
    sheet.decision_rule = "as in the drawing, which was not given to this report";
  }
  sheet.software = PlainText(input.software);
  sheet.program_sha256 = input.program_sha256;
  sheet.run_sha256 = input.run_sha256;
  sheet.made = PlainText(input.made);
  std::vector<std::string> lots, inspectors, scopes, programs;
  for (const ReportFace& face : input.faces) {
    lots.push_back(PlainText(face.result.sample.lot));
    inspectors.push_back(PlainText(face.result.inspector));
    programs.push_back(face.result.software);
    for (const CharacteristicResult& row : face.result.characteristics) {
      if (row.verdict != Verdict::kElsewhere) scopes.push_back(PlainText(row.u_scope));
    }
  }
  sheet.lots = Distinct(lots);
  sheet.inspectors = Distinct(inspectors);
  sheet.u_scope = Distinct(scopes);
  if (sheet.u_scope.empty()) sheet.u_scope = "image only";
  if (const std::string all = Distinct(programs); all.find(',') != std::string::npos)
    sheet.notes.push_back("faces were measured by different versions: " + PlainText(all));
}

}  // namespace

const CharacteristicResult* RowOf(const SectionResult& result, const SheetRow& row) {
  if (PlainText(result.section_name) != PlainText(row.plane)) return nullptr;
  for (const CharacteristicResult& c : result.characteristics) {
    if (c.no == row.drawing_no) return &c;
  }
  return nullptr;
}

const Measurement* MeasurementOf(const SectionResult& result, const CharacteristicResult& row) {
  if (!row.finding.empty() || row.quantity.empty()) return nullptr;
  for (const Measurement& m : result.measurements) {
    if (m.quantity != row.quantity || m.state != Measurement::State::kMeasured) continue;
    if (std::is_permutation(m.of.begin(), m.of.end(), row.of.begin(), row.of.end())) return &m;
  }
  return nullptr;
}

double RowUnits(double value, const std::string& unit, const std::string& row_unit) {
  const auto length = [](std::string name) {
    if (!name.empty() && name.back() == '2') name.pop_back();
    auto parsed = ParseLengthUnit(name);
    return parsed ? UmPer(*parsed) : 0.0;
  };
  if (unit == row_unit) return value;
  const double from = length(unit), to = length(row_unit);
  if (from <= 0 || to <= 0) return value;
  const double factor = from / to;
  return unit.back() == '2' ? value * factor * factor : value * factor;
}

Result<Sheet> BuildSheet(const ReportInput& input) {
  if (auto status = CheckBelonging(input); !status) return tl::unexpected(status.error());
  if (auto status = CheckRows(input); !status) return tl::unexpected(status.error());
  Sheet sheet;
  FillHead(input, sheet);
  sheet.counts = Count(input.roster);
  sheet.counts_line = PlainText(CountsLine(sheet.counts), 2000);
  const std::vector<std::string> planes = PlanesOf(input);
  for (std::size_t i = 0; i < input.faces.size(); ++i) sheet.faces.push_back(MakeFace(input, i));
  sheet.planes = planes;
  if (auto status = FillRows(input, sheet); !status) return tl::unexpected(status.error());
  sheet.planes.clear();
  for (const std::string& plane : planes) {
    const bool seen =
        std::any_of(input.faces.begin(), input.faces.end(),
                    [&](const ReportFace& face) { return face.result.section_name == plane; });
    (seen ? sheet.planes : sheet.planes_missing).push_back(PlainText(plane));
  }
  for (SheetRow& row : sheet.rows) row.plane = PlainText(row.plane);
  FillBenches(input, sheet);
  for (const SheetFace& face : sheet.faces) sheet.verdict = Worse(sheet.verdict, face.verdict);
  SettleSheet(input, sheet);
  WriteProse(input, sheet);
  return sheet;
}

}  // namespace cutface
