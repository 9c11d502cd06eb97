// The HTML report: one file that needs nothing else, no network, and runs no code but its own (a
// content security policy names the hashes of its style and script).
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "cutface/picture.h"
#include "report/html_parts.h"
#include "report/internal.h"

namespace cutface {
namespace {

using html::Base64;
using html::kTableClose;
using html::List;
using html::Pair;
using html::PolicyHash;
using html::TableOpen;
using html::Title;

constexpr char kStyle[] =
#include "report_css.inc"
    ;
constexpr char kScript[] =
#include "report_js.inc"
    ;

std::string Class(Verdict verdict) {
  std::string word(VerdictName(verdict));
  std::replace(word.begin(), word.end(), ' ', '-');
  return word;
}

std::string VerdictSpan(Verdict verdict) {
  return fmt::format(
      "<span class=\"verdict\"><span class=\"sign\" aria-hidden=\"true\">{}</span> {}"
      "</span>",
      VerdictSign(verdict), VerdictName(verdict));
}

std::string RowOpen(Verdict verdict) {
  return fmt::format("<tr{} data-verdict=\"{}\">",
                     NeedsDisposition(verdict) ? " class=\"bad\"" : "", VerdictName(verdict));
}

std::string Cell(const std::string& text) { return "<td>" + HtmlEscaped(text) + "</td>"; }

std::string NumberCell(const std::optional<double>& value, const std::string& text) {
  return value ? fmt::format("<td class=\"num\" data-v=\"{:.12g}\">{}</td>", *value,
                             HtmlEscaped(text))
               : "<td class=\"num\" data-v=\"NaN\"></td>";
}

std::string OrderCell(std::size_t place, const std::string& text) {
  return fmt::format("<td data-v=\"{}\">{}</td>", place, HtmlEscaped(text));
}

int Order(Verdict verdict) {
  constexpr std::array kOrder = {Verdict::kDoesNotConform, Verdict::kNotMeasured,
                                 Verdict::kNotProven,      Verdict::kConforms,
                                 Verdict::kElsewhere,      Verdict::kNotJudged};
  return static_cast<int>(std::find(kOrder.begin(), kOrder.end(), verdict) - kOrder.begin());
}

std::string VerdictCell(Verdict verdict) {
  return fmt::format("<td data-v=\"{}\">{}</td>", Order(verdict), VerdictSpan(verdict));
}

std::string Head(const Sheet& sheet) {
  std::string html = fmt::format(
      "<header class=\"top\"><div><p class=\"faint\">Section report</p><h1>{}</h1><p>{}</p>"
      "<p>{}</p></div><div><p class=\"stamp {}\">{} {}</p><p id=\"ready\"><strong>{}</strong></p>"
      "</div></header>\n",
      HtmlEscaped(sheet.part.empty() ? "no drawing" : sheet.part), HtmlEscaped(sheet.title),
      HtmlEscaped(JoinTexts({sheet.revision.empty() ? "" : "revision " + sheet.revision,
                             sheet.lots.empty() ? "lot not stated" : "lot " + sheet.lots})),
      Class(sheet.verdict), VerdictSign(sheet.verdict), VerdictName(sheet.verdict),
      HtmlEscaped(sheet.Standing()));
  html += "<nav class=\"parts\" aria-label=\"Parts of the report\"><a href=\"#about\">About</a>";
  if (!sheet.open.empty()) html += "<a href=\"#open\">Open before signing</a>";
  if (!sheet.settled.empty()) html += "<a href=\"#settled\">Dispositions</a>";
  html +=
      "<a href=\"#rows\">Rows</a><a href=\"#faces\">Faces</a><a href=\"#values\">Values</a>"
      "<a href=\"#limits\">What sections show</a><a href=\"#formulas\">Formulas</a></nav>\n";
  return html;
}

std::string About(const Sheet& sheet) {
  std::string html = "<section id=\"about\"><h2>About</h2><dl>";
  html += Pair("Faces", sheet.counts_line) + Pair("Section planes", JoinTexts(sheet.planes));
  html += Pair("Drawing", JoinTexts({sheet.design_file, "SHA-256 " + sheet.design_sha256}));
  html += Pair("Decision rule", sheet.decision_rule);
  for (const SheetBench& b : sheet.benches) {
    html += Pair("Calibration", fmt::format("{}: certificate {}; due {}; {}", b.id, b.certificate,
                                            b.due, b.pitch));
  }
  html += Pair("Uncertainty", "95 % intervals; covers: " + sheet.u_scope);
  html += Pair("Inspector", sheet.inspectors);
  html += Pair("Program",
               JoinTexts({"cutface " + sheet.software,
                          sheet.program_sha256.empty() ? "" : "SHA-256 " + sheet.program_sha256}));
  html += Pair("Run", sheet.run_sha256.empty() ? "" : "SHA-256 " + sheet.run_sha256);
  html += Pair("Report made", sheet.made);
  html += Pair("Records", sheet.records);
  for (const SheetLine& line : sheet.signatures) html += Pair("Signed: " + line.label, line.text);
  html += "</dl>";
  if (!sheet.notes.empty()) html += "<h3>To be noted</h3>" + List(sheet.notes);
  html += "<h3>Cautions</h3>" + List(sheet.cautions);
  return html + "</section>\n";
}

std::string Lines(const std::string& id, const std::string& heading, const std::string& left,
                  const std::string& right, const std::vector<SheetLine>& lines) {
  if (lines.empty()) return "";
  std::string html = fmt::format("<section id=\"{}\"><h2>{}</h2>", id, heading) +
                     TableOpen(id + "-table", {{left}, {right}}, false);
  for (const SheetLine& line : lines)
    html += "<tr>" + Cell(line.label) + Cell(line.text) + "</tr>\n";
  return html + std::string(kTableClose) + "</section>\n";
}

std::string Rows(const Sheet& sheet) {
  std::string html =
      "<section id=\"rows\"><h2>Rows of the drawing</h2><p class=\"small faint\">n is the number "
      "of "
      "parts; each part enters least, mean and greatest with one value. Verdicts are the worst of "
      "all faces.</p>" +
      TableOpen("rows-table",
                {{"No."},
                 {"Plane"},
                 {"Characteristic"},
                 {"Requirement"},
                 {"n", true},
                 {"Least", true},
                 {"Mean", true},
                 {"Greatest", true},
                 {"Unit"},
                 {"Verdict"},
                 {"Remark"}},
                true);
  for (std::size_t i = 0; i < sheet.rows.size(); ++i) {
    const SheetRow& row = sheet.rows[i];
    html += RowOpen(row.verdict) + OrderCell(i, row.no) + Cell(row.plane) + Cell(row.subject) +
            Cell(row.requirement);
    html += row.n ? NumberCell(*row.n, std::to_string(*row.n))
                  : NumberCell(row.measured, fmt::format("? ({} faces)", row.measured));
    html += NumberCell(row.least, Figure(row.least, row)) +
            NumberCell(row.mean, Figure(row.mean, row)) +
            NumberCell(row.greatest, Figure(row.greatest, row));
    html += Cell(UnitText(row)) + VerdictCell(row.verdict) + Cell(row.remark) + "</tr>\n";
  }
  return html + std::string(kTableClose) + "</section>\n";
}

std::string Thumbnails(const Sheet& sheet, const std::vector<HtmlFace>& faces) {
  std::string html =
      "<section id=\"faces\"><h2>Faces</h2><p class=\"small faint\">A picture opens with its "
      "marks; "
      "arrow keys go to the next one.</p><noscript><p>Opening pictures and sorting tables needs "
      "scripts; everything else is here without.</p></noscript><div class=\"faces\">\n";
  for (std::size_t i = 0; i < faces.size(); ++i) {
    const SheetFace& f = sheet.faces[i];
    const std::string title = JoinTexts({f.label + " " + f.name, f.plane, f.station});
    html += fmt::format(
        "<button type=\"button\" aria-haspopup=\"dialog\" data-title=\"{}: {}\"><img alt=\"\" "
        "src=\"data:image/jpeg;base64,{}\"><span class=\"words\"><strong>{}</strong><br>{}<br>{}"
        "</span></button>\n",
        HtmlEscaped(title), VerdictName(f.verdict), faces[i].thumbnail_base64,
        HtmlEscaped(f.label + "  " + f.name), HtmlEscaped(JoinTexts({f.plane, f.station, f.side})),
        VerdictSpan(f.verdict));
  }
  return html + "</div></section>\n";
}

std::string FaceDetail(const Sheet& sheet, std::size_t at) {
  const SheetFace& face = sheet.faces[at];
  std::string html = "<div class=\"rows\"><dl>";
  html += Pair("Serial", face.serial) + Pair("Lot", face.lot) + Pair("Block", face.block) +
          Pair("Repeat", face.repeat) + Pair("Factors", face.factors) +
          Pair("Picture", JoinTexts({face.image, face.taken})) +
          Pair("Calibration", face.calibration) + Pair("Record", RecordText(face));
  for (const auto& [meaning, who] : face.signatures) html += Pair("Signed: " + meaning, who);
  html += "</dl>" + TableOpen(fmt::format("face-{}-table", at),
                              {{"No."},
                               {"Characteristic"},
                               {"Requirement"},
                               {"Actual", true},
                               {"95 % interval", true},
                               {"Unit"},
                               {"Verdict"},
                               {"Remark"}},
                              false);
  for (const std::size_t r : face.rows) {
    const SheetRow& row = sheet.rows[r];
    for (const SheetCell& cell : row.cells) {
      if (cell.face != at) continue;
      html +=
          RowOpen(cell.verdict) + Cell(row.no) + Cell(row.subject) + Cell(row.requirement) +
          NumberCell(cell.value, cell.actual) +
          fmt::format("<td class=\"num\">{}</td>", HtmlEscaped(cell.interval)) +
          Cell(UnitText(row)) + VerdictCell(cell.verdict) +
          Cell(JoinTexts({cell.reason, cell.disposition, cell.settled ? "" : "needs a disposition"},
                         "; ")) +
          "</tr>\n";
    }
  }
  html += kTableClose;
  for (const SheetFinding& f : face.findings) {
    html += fmt::format("<h3>{} <span class=\"faint\">({})</span></h3><p>{}</p>",
                        HtmlEscaped(JoinTexts({f.kind, f.where})), f.severity, HtmlEscaped(f.text));
    std::vector<std::string> hints;
    for (const Hint& hint : f.hints)
      hints.push_back(
          fmt::format("usual cause: {}; check: {} ({})", hint.cause, hint.check, hint.basis));
    if (!hints.empty()) html += "<div class=\"small faint\">" + List(hints) + "</div>";
    const std::string decided =
        JoinTexts({f.disposition, f.settled ? "" : "needs a disposition"}, "; ");
    if (!decided.empty()) html += "<p><strong>" + HtmlEscaped(decided) + "</strong></p>";
  }
  if (!face.remarks.empty()) html += "<h3>Remarks</h3>" + List(face.remarks);
  return html + "</div>";
}

std::string Dialog() {
  struct Switch {
    std::string_view value, word;
    bool on;
  };
  constexpr std::array kSwitches = {Switch{"outline", "outline", true},
                                    Switch{"lumen", "lumens", true},
                                    Switch{"ring", "rings", true},
                                    Switch{"liner", "liners", true},
                                    Switch{"wire", "wires", true},
                                    Switch{"void", "voids", true},
                                    Switch{"least", "least distances", true},
                                    Switch{"finding", "findings", true},
                                    Switch{"neutral", "clock", true},
                                    Switch{"label", "labels", true},
                                    Switch{"photo", "photo", true},
                                    Switch{"large", "full size", false}};
  std::string html =
      "<dialog id=\"face\" aria-labelledby=\"face-title\"><form method=\"dialog\"><h2 "
      "id=\"face-title\"></h2><button type=\"button\" id=\"before\">previous</button><button "
      "type=\"button\" id=\"after\">next</button><button>close</button></form><fieldset "
      "class=\"switches\"><legend class=\"sr\">Marks to show</legend>";
  for (const Switch& s : kSwitches) {
    const bool ink =
        s.value != "label" && s.value != "photo" && s.value != "large" && s.value != "neutral";
    html += fmt::format("<label><input type=\"checkbox\" value=\"{}\"{}>{}{}</label>", s.value,
                        s.on ? " checked" : "",
                        ink ? fmt::format("<i class=\"ink-{}\"></i>", s.value) : "", s.word);
  }
  return html +
         "</fieldset><div class=\"stage\" id=\"stage\"></div><div class=\"detail\" "
         "id=\"detail\"></div></dialog>\n";
}

std::string Values(const Sheet& sheet) {
  std::string html =
      "<section id=\"values\"><h2>Values</h2><div class=\"tools\"><label>Find<input "
      "type=\"search\" "
      "id=\"find\"></label><label>Verdict<select id=\"find-verdict\"><option value=\"\">all"
      "</option>";
  for (const Verdict v : {Verdict::kDoesNotConform, Verdict::kNotMeasured, Verdict::kNotProven,
                          Verdict::kConforms, Verdict::kElsewhere})
    html += fmt::format("<option>{}</option>", VerdictName(v));
  html += "</select></label><span id=\"found\" role=\"status\"></span></div>" +
          TableOpen("values-table",
                    {{"No."},
                     {"Characteristic"},
                     {"Face"},
                     {"Serial"},
                     {"Plane"},
                     {"Actual", true},
                     {"Lo", true},
                     {"Hi", true},
                     {"Unit"},
                     {"Verdict"},
                     {"Remark"}},
                    true);
  for (std::size_t i = 0; i < sheet.rows.size(); ++i) {
    const SheetRow& row = sheet.rows[i];
    for (const SheetCell& cell : row.cells) {
      const SheetFace& face = sheet.faces[cell.face];
      html += RowOpen(cell.verdict) + OrderCell(i, row.no) + Cell(row.subject) +
              OrderCell(cell.face, face.label) + Cell(face.serial) + Cell(row.plane) +
              NumberCell(cell.value, cell.actual) + NumberCell(cell.lo, Figure(cell.lo, row)) +
              NumberCell(cell.hi, Figure(cell.hi, row)) + Cell(UnitText(row)) +
              VerdictCell(cell.verdict) + Cell(JoinTexts({cell.reason, cell.disposition}, "; ")) +
              "</tr>\n";
    }
  }
  return html + std::string(kTableClose) + "</section>\n";
}

std::string Formulas(const Sheet& sheet) {
  std::string html =
      "<section id=\"formulas\"><h2>Formulas</h2>" +
      TableOpen("formulas-table", {{"Word"}, {"Definition"}, {"Formula"}, {"Source"}}, false);
  for (const FormulaLine& f : FormulasOf(sheet))
    html +=
        "<tr>" + Cell(f.word) + Cell(f.definition) + Cell(f.formula) + Cell(f.source) + "</tr>\n";
  return html + std::string(kTableClose) + "</section>\n";
}

}  // namespace

Result<HtmlFace> MakeHtmlFace(const FacePicture& picture, const SectionResult& result) {
  PictureOptions options;
  options.with_caption = false;
  options.longest_edge_px = kFaceEdgePx;
  options.jpeg_quality = kFaceQuality;
  options.ready = &picture.ready;
  auto svg = RenderSvg(picture.micrograph, picture.scale, result, options);
  if (!svg) return tl::unexpected(svg.error());
  options.longest_edge_px = 480;
  options.with_labels = false;
  auto small = RenderJpeg(picture.micrograph, picture.scale, result, 80, options);
  if (!small) return tl::unexpected(small.error());
  HtmlFace face;
  // Within HTML the element stands alone, without the file's first lines.
  face.svg = svg->substr(svg->find("<svg "));
  face.thumbnail_base64 = Base64(*small);
  return face;
}

std::string RenderHtml(const Sheet& sheet, const std::vector<HtmlFace>& faces) {
  std::string html = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta "
      "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; "
      "style-src "
      "{}; script-src {}; base-uri 'none'; form-action 'none'\"><meta name=\"viewport\" "
      "content=\"width=device-width\"><meta name=\"generator\" content=\"cutface "
      "{}\"><title>Section "
      "report {} rev. {}</title>\n<style>{}</style></head><body>\n",
      PolicyHash(kStyle), PolicyHash(kScript), HtmlEscaped(sheet.software), HtmlEscaped(sheet.part),
      HtmlEscaped(sheet.revision), kStyle);
  html += Head(sheet) + "<main>" + About(sheet);
  html += Lines("open", "Open before signing", "Where", "What is open", sheet.open);
  html += Lines("settled", "Settled by a disposition", "Where", "What was decided", sheet.settled);
  html += Lines("without", "Pictures without a result", "Picture", "Why", sheet.unmeasured);
  html += Rows(sheet) + Thumbnails(sheet, faces) + Values(sheet);
  html +=
      "<section id=\"limits\"><h2>What these sections can and cannot show</h2><h3>They can</h3>" +
      List(sheet.can_show) + "<h3>They cannot</h3>" + List(sheet.cannot_show) + "</section>\n";
  html += Formulas(sheet) + "</main>\n" + Dialog();
  for (std::size_t i = 0; i < faces.size(); ++i) {
    html += fmt::format("<template id=\"face-{}\">", i) + faces[i].svg + FaceDetail(sheet, i) +
            "</template>\n";
  }
  return html + "<script>" + kScript + "</script></body></html>\n";
}

}  // namespace cutface
