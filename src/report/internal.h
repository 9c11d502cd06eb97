// What the files of this room share.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cutface/micrograph.h"
#include "cutface/picture.h"
#include "cutface/report.h"

namespace cutface {

// "a, b" of what is not empty.
std::string JoinTexts(const std::vector<std::string>& parts, std::string_view separator = ", ");
// The row of a result's drawing on a face, and the measurement behind it; nullptr without one.
const CharacteristicResult* RowOf(const SectionResult& result, const SheetRow& row);
const Measurement* MeasurementOf(const SectionResult& result, const CharacteristicResult& row);
// u of a measurement in the row's unit.
double RowUnits(double value, const std::string& unit, const std::string& row_unit);
// Verdict words get a sign besides, so that no colour is needed: "OK", "NOT OK" ...
std::string_view VerdictSign(Verdict verdict);
// A value in the row's unit as the faces print it, "" without one; the unit, "" for plain numbers.
std::string Figure(const std::optional<double>& value, const SheetRow& row);
std::string UnitText(const SheetRow& row);

// Settles cells and findings by dispositions and lists what is open. decisions.cpp
void SettleSheet(const ReportInput& input, Sheet& sheet);
// What the records say of the faces; who signed, over all faces and face by face. signatures.cpp
void TakeRecords(const ReportInput& input, Sheet& sheet);
void FillSignatures(const ReportInput& input, Sheet& sheet);
// "entry 8", "" without a store.
std::string RecordText(const SheetFace& face);
// Counts, cautions, what these sections can and cannot show. prose.cpp
void WriteProse(const ReportInput& input, Sheet& sheet);

// A face's picture for drawing; blank ground and a note when there is none. face_picture.cpp
struct FacePicture {
  Micrograph micrograph;
  Scale scale;
  std::string note;
  SharedFace ready;  // what PDF and HTML share
};
// The photo's longest edge in PDF and HTML, px, and its JPEG quality.
constexpr int kFaceEdgePx = 1600, kFaceQuality = 82;
FacePicture LoadFacePicture(const ReportInput& input, const ReportFace& face);

// A formula of the table that the rows use, once each.
struct FormulaLine {
  std::string word, title, definition, formula, source;
};
std::vector<FormulaLine> FormulasOf(const Sheet& sheet);
// The budget of the face whose u is greatest, row by row.
struct BudgetOfRow {
  std::string no, subject, face, unit;
  double u = 0;
  std::vector<std::pair<std::string, double>> lines;  // source, u in the row's unit
};
std::vector<BudgetOfRow> BudgetsOf(const ReportInput& input, const Sheet& sheet);

std::string RenderCsv(const Sheet& sheet);
Result<std::vector<std::byte>> RenderXlsx(const ReportInput& input, const Sheet& sheet,
                                          const std::string& scratch);
Result<std::string> RenderQif(const Sheet& sheet);

// A face in the HTML file, made while its picture is at hand.
struct HtmlFace {
  std::string svg, thumbnail_base64;
};
Result<HtmlFace> MakeHtmlFace(const FacePicture& picture, const SectionResult& result);
std::string RenderHtml(const Sheet& sheet, const std::vector<HtmlFace>& faces);

}  // namespace cutface
