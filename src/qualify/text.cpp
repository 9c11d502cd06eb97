// The qualification as words on the terminal and as a page for the site's validation file.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "qualify/internal.h"

namespace cutface {
namespace {

constexpr std::string_view kQualifyStyle =
    ":root{--ink:#1a1c21;--faint:#5f6167;--rule:#d5d2c9;--blue:#005c8f;--rust:#9e3608}"
    "body{font:15px/1.5 \"DejaVu Sans\",sans-serif;color:var(--ink);background:#f6f4ee;margin:0}"
    "main{max-width:62rem;margin:0 auto;padding:1rem 1.5rem 3rem}"
    "section{background:#fff;border:1px solid var(--rule);padding:.2rem 1.4rem 1rem;margin-top:"
    "1.2rem}h1{font-size:1.6rem}h2{font-size:1.1rem}p.answer{font-weight:600}"
    "table{border-collapse:collapse;font-size:.86rem;font-variant-numeric:tabular-nums;margin:."
    "8rem "
    "0}th,td{text-align:right;padding:.3rem .7rem;border-bottom:1px solid var(--rule)}"
    "th:first-child,td:first-child,td.words{text-align:left}svg{width:100%;height:auto;"
    "display:block}svg text{font:13px \"DejaVu Sans\",sans-serif;fill:var(--ink)}"
    "dl{display:grid;grid-template-columns:max-content 1fr;gap:.2rem 1.2rem;font-size:.9rem}"
    "dt{color:var(--faint)}dd{margin:0;overflow-wrap:anywhere}.faint{color:var(--faint);"
    "font-size:.85rem}@media print{body{background:#fff}section{break-inside:avoid}}";

std::string SafeHtml(const std::string& text) {
  std::string safe;
  for (const char c : text) {
    const auto u = static_cast<unsigned char>(c);
    safe += c == '&'    ? "&amp;"
            : c == '<'  ? "&lt;"
            : c == '>'  ? "&gt;"
            : c == '"'  ? "&quot;"
            : c == '\'' ? "&#39;"
            : u < 0x20  ? "?"
                        : std::string(1, c);
  }
  return safe;
}

std::string SafeText(const std::string& text) {
  std::string safe;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto c = static_cast<unsigned char>(text[i]);
    const bool c1 = c == 0xc2 && i + 1 < text.size() &&
                    static_cast<unsigned char>(text[i + 1]) >= 0x80 &&
                    static_cast<unsigned char>(text[i + 1]) < 0xa0;
    if (c1) ++i;
    safe += c < 0x20 || c == 0x7f || c1 ? '?' : text[i];
  }
  return safe;
}

std::vector<std::vector<std::string>> WordRows(const Qualification& q) {
  std::vector<std::vector<std::string>> rows = {
      {"quantity", "n", "not measured", "mean error um", "sd um", "worst um", "median U um",
       "interval holds", "95 % of that", "limit um", "verdict"}};
  for (const WordErrors& w : q.words) {
    if (w.n == 0) {
      rows.push_back({w.word, "0", std::to_string(w.not_measured), "-", "-", "-", "-", "-", "-",
                      w.limit_um ? fmt::format("{:g}", *w.limit_um) : "-", w.verdict});
      continue;
    }
    rows.push_back(
        {w.word, std::to_string(w.n), std::to_string(w.not_measured),
         fmt::format("{:+.3f}", w.mean_um), fmt::format("{:.3f}", w.sd_um),
         fmt::format("{:+.2f}", w.worst_um), fmt::format("{:.2f}", w.median_u_um),
         fmt::format("{:.1f} %", 100.0 * static_cast<double>(w.covered) / static_cast<double>(w.n)),
         fmt::format("{:.0f} to {:.0f} %", 100 * w.coverage_lo, 100 * w.coverage_hi),
         w.limit_um ? fmt::format("{:g}", *w.limit_um) : "-", w.verdict});
  }
  return rows;
}

std::vector<std::vector<std::string>> FoundRows(const FoundFigure& figure, const char* what) {
  std::vector<std::vector<std::string>> rows = {
      {what, "rendered", "found", "share at least (95 %)"}};
  for (const SizeClass& c : figure.classes)
    rows.push_back({fmt::format("{:.3g} to {:.3g} um", c.least_um, c.greatest_um),
                    std::to_string(c.of), std::to_string(c.found),
                    c.of > 0 ? fmt::format("{:.0f} %", 100 * c.share_lo) : "-"});
  return rows;
}

std::string FoundSentence(const FoundFigure& figure, const std::string& what) {
  return what + ": " + figure.reason + (figure.limit_um ? ": " + figure.verdict : "") +
         fmt::format("; {} told where there is none.", figure.invented);
}

std::string KnownSentence(const Qualification& q) {
  if (q.known.empty()) return "Known answers: left out.";
  double greatest = 0;
  std::size_t values = 0;
  bool ok = !q.known.empty(), same = ok, twice = ok;
  for (const KnownAnswer& k : q.known) {
    greatest = std::max(greatest, k.greatest_px);
    values += k.values;
    ok = ok && k.ok;
    same = same && k.same_picture;
    twice = twice && k.same_twice;
  }
  return fmt::format(
      "Known answers: {} lengths on {} faces, greatest difference {:.2g} px (limit {:g}): {}; two "
      "runs "
      "gave {} digits{}.",
      values, q.known.size(), greatest, kKnownAnswerPx, ok ? "pass" : "fail",
      twice ? "the same" : "DIFFERENT",
      same ? "" : "; the rendered pictures differ from those of the release in some bytes");
}

std::string PaddedRows(const std::vector<std::vector<std::string>>& rows) {
  std::vector<std::size_t> width(rows.front().size(), 0);
  for (const auto& row : rows)
    for (std::size_t c = 0; c < row.size(); ++c) width[c] = std::max(width[c], row[c].size());
  std::string text;
  for (const auto& row : rows) {
    std::string line;
    for (std::size_t c = 0; c < row.size(); ++c) {
      const std::string pad(width[c] - row[c].size(), ' ');
      line += (c == 0 ? row[c] + pad : pad + row[c]) + "  ";
    }
    text += "  " + line.substr(0, line.find_last_not_of(' ') + 1) + "\n";
  }
  return text;
}

std::string CameraSentence(const SiteCamera& c) {
  std::string text = fmt::format(
      "{} x {} px, {:.4g} um a pixel (u {:.2g} %), blur {:.2f} px, noise {:.2g} % of full scale, "
      "gamma {:.3g}, {} light",
      c.width_px, c.height_px, c.pitch_um, 100 * c.u_pitch, c.blur_px, 100 * c.noise, c.gamma,
      PhantomLightName(c.light));
  if (!c.image.empty()) text += ", told from " + c.image;
  for (std::size_t i = 0; i < c.assumed.size(); ++i)
    text += (i == 0 ? "; assumed: " : ", ") + c.assumed[i];
  return text;
}

std::string HtmlTable(const std::vector<std::vector<std::string>>& rows) {
  std::string text = "<table>";
  for (std::size_t r = 0; r < rows.size(); ++r) {
    text += "<tr>";
    for (const std::string& cell : rows[r])
      text += fmt::format("<{0}>{1}</{0}>", r == 0 ? "th" : "td", SafeHtml(cell));
    text += "</tr>";
  }
  return text + "</table>";
}

// Share found over size: a bar for each class, hollow up to the share found, filled up to what is
// sure.
std::string FoundPlot(const FoundFigure& figure, double reliability) {
  constexpr double kLeft = 60, kTop = 16, kHigh = 150, kStep = 130;
  std::string svg = "<svg viewBox=\"0 0 860 215\" role=\"img\" aria-label=\"share found by size\">";
  const double line = kTop + kHigh * (1 - reliability);
  double x = kLeft;
  for (const SizeClass& c : figure.classes) {
    const double share = c.of > 0 ? static_cast<double>(c.found) / static_cast<double>(c.of) : 0;
    svg += fmt::format(
        "<rect x=\"{:.0f}\" y=\"{:.1f}\" width=\"70\" height=\"{:.1f}\" fill=\"#fff\" "
        "stroke=\"#1a1c21\"/><rect x=\"{:.0f}\" y=\"{:.1f}\" width=\"70\" height=\"{:.1f}\" "
        "fill=\"#005c8f\"/><text x=\"{:.0f}\" y=\"185\" text-anchor=\"middle\">{:.3g} to {:.3g} um"
        "</text><text x=\"{:.0f}\" y=\"203\" text-anchor=\"middle\">{} of {}</text>",
        x, kTop + kHigh * (1 - share), kHigh * share, x, kTop + kHigh * (1 - c.share_lo),
        kHigh * c.share_lo, x + 35, c.least_um, c.greatest_um, x + 35, c.found, c.of);
    x += kStep;
  }
  svg += fmt::format(
      "<path d=\"M40 {0:.1f}H840\" stroke=\"#9e3608\" stroke-width=\"2\" stroke-dasharray=\"7 4\"/>"
      "<text x=\"36\" y=\"{1:.1f}\" text-anchor=\"end\">{2:.0f} %</text>",
      line, line + 4, 100 * reliability);
  return svg + "</svg>";
}

std::string ValidationSection(const Qualification& q, const InstalledProgram& program) {
  const auto row = [](const std::string& label, const std::string& text) {
    return "<dt>" + SafeHtml(label) + "</dt><dd>" + SafeHtml(text) + "</dd>";
  };
  std::string text =
      "<section><h2>For your software validation (ISO 13485:2016, 4.1.6 and 7.6)</h2><p>Software "
      "that the quality system uses is to be validated for its intended use before first use and "
      "after changes, in proportion to the risk. These are the numbers of this installation; the "
      "plan, the acceptance criteria and the signature are yours.</p><dl>";
  text += row("program", "cutface " + program.version + ", SHA-256 " + program.program_sha256);
  text += row("machine", program.machine);
  text += row("made", program.made);
  text +=
      row("drawing", q.part + " " + q.revision + ", " + q.section + ", SHA-256 " + q.design_sha256);
  text += row("calibration", q.calibration_id + ", SHA-256 " + q.calibration_sha256);
  text += row("camera", CameraSentence(q.camera));
  text += row("faces", fmt::format("{} rendered from seed {}, {} measured; the same call gives the "
                                   "same faces",
                                   q.faces, q.seed, q.measured));
  text += row("intended use that was tried",
              "lengths (diameters, widths, walls, septa), voids and broken septa of this section "
              "in pictures of this camera");
  text +=
      row("acceptance criteria",
          fmt::format("the limits in the tables; intervals of 95 % that hold the truth in {:.0f} "
                      "% or more; found in {:.0f} % with 95 % confidence; known answers within "
                      "{:g} px",
                      100 * q.limits.coverage, 100 * q.limits.reliability, kKnownAnswerPx));
  text += row("result", q.answer);
  text += row("repeat it",
              "after every change of program, operating system, processor, camera, "
              "objective or drawing");
  return text + "</dl></section>";
}

}  // namespace

std::string QualificationText(const Qualification& q) {
  std::string text = SafeText(q.part + ", " + q.section) + ": " + q.answer + "\n\n";
  text += "camera: " + SafeText(CameraSentence(q.camera)) + "\n";
  text += fmt::format("{} faces from seed {}, {} measured\n\n", q.faces, q.seed, q.measured);
  text += PaddedRows(WordRows(q));
  for (const WordErrors& w : q.words)
    if (w.verdict == "fail") text += "  " + w.word + " fails: " + w.reason + "\n";
  text += "\n" + PaddedRows(FoundRows(q.voids, "void, equal-area diameter"));
  text += "  " + FoundSentence(q.voids, "voids") + "\n\n";
  text += PaddedRows(FoundRows(q.septa, "septum (told within 1 px)"));
  text += "  " + FoundSentence(q.septa, "septa") +
          fmt::format(" Broken ones told as broken: {} of {}.\n\n", q.broken_told, q.broken);
  text += KnownSentence(q) + "\n";
  text += "Evidence: " + SafeText(q.evidence) + "\n";
  for (const std::string& line : q.failed_faces) text += "  " + SafeText(line) + "\n";
  text += "Not covered:\n";
  for (const std::string& line : q.not_covered) text += "  - " + line + "\n";
  return text;
}

std::string QualificationPage(const Qualification& q, const InstalledProgram& program) {
  std::string page =
      "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta "
      "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
      "'unsafe-inline'\"><title>Does this installation measure right?</title><style>";
  page += kQualifyStyle;
  page +=
      "</style></head><body><main><h1>Does this installation measure right?</h1><p "
      "class=\"answer\">" +
      SafeHtml(q.answer) + "</p>";
  page += "<section><h2>Evidence with a real artefact</h2><p" +
          std::string(q.evidence_complete ? "" : " class=\"answer\"") + ">" + SafeHtml(q.evidence) +
          "</p>";
  if (!q.checks.empty()) {
    std::vector<std::vector<std::string>> rows = {
        {"check", "serial", "taken", "certified um", "error um", "U um", "passed", "this record"}};
    for (const BenchEvidence& c : q.checks)
      rows.push_back({c.kind, c.serial, c.taken, fmt::format("{:.2f}", c.certified_um),
                      fmt::format("{:+.2f}", c.error_um), fmt::format("{:.2f}", c.expanded_u_um),
                      c.passed ? "yes" : "no", c.this_record ? "yes" : "no"});
    page += HtmlTable(rows);
  }
  page +=
      "</section><section><h2>How far off are lengths?</h2><p>Errors against the true geometry "
      "of the rendered faces, the scale's own doubt included; U is half of the 95 % interval. "
      "The interval of its share counts every face once.</p>" +
      HtmlTable(WordRows(q)) + "</section>";
  page +=
      "<section><h2>" + SafeHtml(FoundSentence(q.voids, "Voids")) + "</h2>" +
      FoundPlot(q.voids, q.limits.reliability) +
      "<p class=\"faint\">Outlined: share found. Filled: what is sure of it (95 %). Dashed: what "
      "is asked for. Sizes are equal-area diameters.</p></section>";
  page += "<section><h2>" + SafeHtml(FoundSentence(q.septa, "Septa")) + "</h2>" +
          FoundPlot(q.septa, q.limits.reliability) +
          fmt::format(
              "<p class=\"faint\">Found: told as a septum within one pixel of the truth. "
              "Broken ones told as broken: {} of {}.</p></section>",
              q.broken_told, q.broken);
  page += "<section><h2>Does it still compute what it did?</h2><p>" + SafeHtml(KnownSentence(q)) +
          "</p></section>";
  page += ValidationSection(q, program);
  page += "<section><h2>What this cannot show</h2><ul>";
  for (const std::string& line : q.not_covered) page += "<li>" + SafeHtml(line) + "</li>";
  for (const std::string& line : q.failed_faces) page += "<li>" + SafeHtml(line) + "</li>";
  return page + "</ul></section></main></body></html>\n";
}

}  // namespace cutface
