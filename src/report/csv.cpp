// CSV, one line a value (RFC 4180; UTF-8, lines end in CR LF).
#include <fmt/format.h>

#include "report/internal.h"

namespace cutface {
namespace {

std::string Number(const std::optional<double>& value) {
  return value ? fmt::format("{:.9g}", *value) : "";
}

void Line(std::string& csv, const std::vector<std::string>& fields) {
  for (std::size_t i = 0; i < fields.size(); ++i) csv += (i == 0 ? "" : ",") + fields[i];
  csv += "\r\n";
}

}  // namespace

std::string RenderCsv(const Sheet& sheet) {
  std::string csv;
  Line(csv, {"part",
             "revision",
             "lot",
             "serial",
             "plane",
             "station",
             "face",
             "repeat",
             "operator",
             "trial",
             "factors",
             "number",
             "drawing_number",
             "characteristic",
             "requirement",
             "min",
             "max",
             "nominal",
             "unit",
             "class",
             "method",
             "gauge",
             "actual",
             "lo",
             "hi",
             "u",
             "verdict",
             "p_conform",
             "reason",
             "disposition",
             "settled",
             "u_scope",
             "image",
             "image_sha256",
             "result_file",
             "result_sha256",
             "taken",
             "inspector",
             "record",
             "signatures"});
  for (const SheetRow& row : sheet.rows) {
    for (const SheetCell& cell : row.cells) {
      const SheetFace& face = sheet.faces[cell.face];
      std::vector<std::string> fields;
      const auto text = [&](const std::string& t) { fields.push_back(CsvText(t)); };
      const auto number = [&](const std::optional<double>& v) { fields.push_back(Number(v)); };
      for (const std::string* t :
           {&sheet.part, &sheet.revision, &face.lot, &face.serial, &row.plane, &face.station,
            &face.side, &face.repeat, &face.operator_name, &face.trial, &face.factors, &row.no})
        text(*t);
      text(PlainText(row.drawing_no));
      text(row.subject), text(row.requirement);
      number(row.min), number(row.max), number(row.nominal);
      for (const std::string* t : {&row.unit, &row.criticality, &row.method, &row.gauge}) text(*t);
      number(cell.value), number(cell.lo), number(cell.hi), number(cell.u);
      text(std::string(VerdictName(cell.verdict)));
      number(cell.p);
      text(cell.reason), text(cell.disposition), text(cell.settled ? "yes" : "no");
      for (const std::string* t : {&row.u_scope, &face.image, &face.image_sha256, &face.result_file,
                                   &face.result_sha256, &face.taken, &face.inspector})
        text(*t);
      text(RecordText(face));
      std::vector<std::string> signatures;
      for (const auto& [meaning, who] : face.signatures) signatures.push_back(meaning + ": " + who);
      text(JoinTexts(signatures, "; "));
      Line(csv, fields);
    }
  }
  return csv;
}

}  // namespace cutface
