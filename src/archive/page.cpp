#include "archive/page.h"

#include <fmt/format.h>

#include "archive/bodies.h"

namespace cutface {
namespace {

constexpr const char* kStyle =
    "body{font:15px/1.45 sans-serif;max-width:62em;margin:2em auto;padding:0 1em;color:#1c2430}"
    "table{border-collapse:collapse;margin:.6em 0 1.2em}td,th{border:1px solid "
    "#b9c2cc;padding:.25em "
    ".6em;text-align:left;vertical-align:top}th{background:#eef1f4}td.n{text-align:right;"
    "font-variant-numeric:tabular-nums}code{font-size:.85em;word-break:break-all}img{max-width:100%"
    ";"
    "border:1px solid #b9c2cc}.open{border-left:.4em solid #8a4b00;padding-left:.6em}"
    "h2{border-top:2px solid #1c2430;padding-top:.6em;margin-top:2em}";

std::string Cell(std::string_view text) { return "<td>" + HtmlText(text) + "</td>"; }

std::string NumberCell(const Json& object, const char* key) {
  const auto found = object.find(key);
  if (found == object.end() || !found->is_number()) return "<td class=\"n\"></td>";
  return fmt::format("<td class=\"n\">{:.6g}</td>", found->get<double>());
}

std::string Words(const Json& object, const char* key) {
  std::string all;
  const auto found = object.find(key);
  if (found == object.end() || !found->is_array()) return all;
  for (const Json& word : *found) {
    if (word.is_string()) all += (all.empty() ? "" : ", ") + word.get<std::string>();
  }
  return all;
}

std::string FileLink(const ExportPage& page, const std::string& sha256, std::string_view what) {
  const auto file = page.files.find(sha256);
  if (sha256.empty()) return "";
  if (file == page.files.end())
    return fmt::format("<tr><th>{}</th><td>not kept; SHA-256 <code>{}</code></td></tr>\n",
                       HtmlText(what), HtmlText(sha256));
  return fmt::format("<tr><th>{}</th><td><a href=\"{}\">{}</a><br><code>{}</code></td></tr>\n",
                     HtmlText(what), file->second.path, HtmlText(file->second.name),
                     HtmlText(sha256));
}

std::string RowTable(const Json& body) {
  const auto rows = body.find("rows");
  if (rows == body.end() || !rows->is_array() || rows->empty())
    return "<p>Nothing was judged.</p>\n";
  std::string html =
      "<table><tr><th>no</th><th>what</th><th>min</th><th>max</th><th>actual</th><th>from</th>"
      "<th>to</th><th>unit</th><th>verdict</th><th>reason</th></tr>\n";
  for (const Json& row : *rows) {
    if (!row.is_object()) continue;
    std::string what = TextOf(row, "quantity") + TextOf(row, "finding") + TextOf(row, "text");
    const std::string of = Words(row, "of");
    if (!of.empty()) what += " of " + of;
    html += "<tr>" + Cell(TextOf(row, "no")) + Cell(what);
    for (const char* key : {"min", "max", "actual", "lo", "hi"}) html += NumberCell(row, key);
    html += Cell(TextOf(row, "unit")) + Cell(TextOf(row, "verdict")) + Cell(TextOf(row, "reason")) +
            "</tr>\n";
  }
  return html + "</table>\n";
}

std::string FindingTable(const Json& body) {
  const auto findings = body.find("findings");
  if (findings == body.end() || !findings->is_array() || findings->empty())
    return "<p>No findings.</p>\n";
  std::string html =
      "<table><tr><th>finding</th><th>severity</th><th>where</th><th>text</th></tr>\n";
  for (const Json& finding : *findings) {
    if (!finding.is_object()) continue;
    html += "<tr>" + Cell(TextOf(finding, "kind")) + Cell(TextOf(finding, "severity")) +
            Cell(Words(finding, "where")) + Cell(TextOf(finding, "text")) + "</tr>\n";
  }
  return html + "</table>\n";
}

std::string DecisionTables(const RecordState& state) {
  std::string html;
  if (!state.open.empty()) {
    html += "<div class=\"open\"><p>Stands open:</p><ul>\n";
    for (const OpenItem& item : state.open) html += "<li>" + HtmlText(item.text) + "</li>\n";
    html += "</ul></div>\n";
  }
  if (!state.settled.empty()) {
    html +=
        "<table><tr><th>settled</th><th>as</th><th>reference</th><th>reason</th><th>by</th>"
        "<th>when</th><th>entry</th></tr>\n";
    for (const SettledItem& s : state.settled) {
      const auto d = DispositionOf(s.disposition);
      if (!d) continue;
      html += "<tr>" + Cell(s.item.text) + Cell(DispositionKindName(d->what)) + Cell(d->reference) +
              Cell(d->reason) + Cell(d->by) + Cell(d->when) +
              Cell(std::to_string(s.disposition.seq)) + "</tr>\n";
    }
    html += "</table>\n";
  }
  if (state.signatures.empty()) return html + "<p>Nobody has signed this result.</p>\n";
  html +=
      "<table><tr><th>signed "
      "by</th><th>role</th><th>meaning</th><th>when</th><th>entry</th></tr>\n";
  for (const ArchiveEntry& entry : state.signatures) {
    const auto s = SignatureOf(entry);
    if (!s) continue;
    const Json body = Json::parse(entry.body, nullptr, /*allow_exceptions=*/false);
    html += "<tr>" + Cell(s->by) + Cell(TextOf(body, "role")) +
            Cell(SignatureMeaningName(s->meaning)) + Cell(s->when) +
            Cell(std::to_string(entry.seq)) + "</tr>\n";
  }
  return html + "</table>\n";
}

std::string ResultHtml(const ExportPage& page, const RecordState& state) {
  const ArchiveEntry& e = state.result;
  const Json body = Json::parse(e.body, nullptr, /*allow_exceptions=*/false);
  if (!body.is_object()) return "";
  std::string html = fmt::format("<h2 id=\"entry-{}\">Entry {}: {}, serial {}, {}</h2>\n", e.seq,
                                 e.seq, HtmlText(e.part.empty() ? "no part named" : e.part),
                                 HtmlText(e.serial.empty() ? "not named" : e.serial),
                                 HtmlText(TextOf(body, "verdict")));
  if (state.replaced_by != 0)
    html += fmt::format("<p class=\"open\">Replaced by entry {}.</p>\n", state.replaced_by);
  html += "<table>\n";
  const std::pair<const char*, std::string> facts[] = {
      {"part, revision, section",
       e.part + ", " + TextOf(body, "revision") + ", " + TextOf(body, "section")},
      {"lot, serial, block", e.lot + ", " + e.serial + ", " + TextOf(body, "block")},
      {"picture taken", TextOf(body, "taken")},
      {"measured", TextOf(body, "measured") + " by " + TextOf(body, "inspector") + ", version " +
                       TextOf(body, "software")},
      {"calibration", TextOf(body, "calibration")},
      {"written into the store", e.written + " by " + e.who}};
  for (const auto& [name, text] : facts)
    html += fmt::format("<tr><th>{}</th>{}</tr>\n", name, Cell(text));
  html += FileLink(page, TextOf(body, "image_sha256"), "picture") +
          FileLink(page, TextOf(body, "file_sha256"), "result file") +
          FileLink(page, TextOf(body, "drawing_sha256"), "drawing") +
          FileLink(page, TextOf(body, "calibration_sha256"), "calibration record");
  html += "</table>\n<h3>Rows of the drawing</h3>\n" + RowTable(body) + "<h3>Findings</h3>\n" +
          FindingTable(body) + "<h3>Decisions and signatures</h3>\n" + DecisionTables(state);
  return html;
}

std::string TrailTable(const ExportPage& page) {
  std::string html =
      "<h2>All entries of this record</h2>\n<table><tr><th>entry</th><th>kind</th><th>written</th>"
      "<th>by</th><th>about</th><th>hash</th></tr>\n";
  for (const ArchiveEntry& e : page.entries) {
    const auto file = page.files.find(e.about);
    html += fmt::format(
        "<tr><td class=\"n\">{}</td>{}{}{}<td>{}</td><td><code>{}</code></td></tr>\n", e.seq,
        Cell(e.kind), Cell(e.written), Cell(e.who),
        file != page.files.end()
            ? fmt::format("<a href=\"{}\">{}</a>", file->second.path, HtmlText(file->second.name))
            : "<code>" + HtmlText(e.about.substr(0, 12)) + "</code>",
        HtmlText(e.hash));
  }
  return html + "</table>\n";
}

// U+202A..U+202E, U+2066..U+2069, U+200E, U+200F, U+061C turn the direction of what follows.
bool IsDirectionMark(unsigned code) {
  return (code >= 0x202A && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069) ||
         code == 0x200E || code == 0x200F || code == 0x061C;
}

}  // namespace

std::string HtmlText(std::string_view text) {
  const std::string clean = Utf8(text);
  std::string html;
  for (std::size_t at = 0; at < clean.size();) {
    const auto lead = static_cast<unsigned char>(clean[at]);
    const std::size_t size = lead < 0x80 ? 1 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
    unsigned code = size == 1 ? lead : lead & (0xFFu >> (size + 1));
    for (std::size_t i = 1; i < size && at + i < clean.size(); ++i)
      code = code << 6 | (static_cast<unsigned char>(clean[at + i]) & 0x3F);
    if (code < 0x20 || (code >= 0x7F && code < 0xA0) || IsDirectionMark(code))
      html += fmt::format("[U+{:04X}]", code);
    else if (code == '&')
      html += "&amp;";
    else if (code == '<')
      html += "&lt;";
    else if (code == '>')
      html += "&gt;";
    else if (code == '"')
      html += "&quot;";
    else if (code == '\'')
      html += "&#39;";
    else
      html += clean.substr(at, size);
    at += size;
  }
  return html;
}

std::string PageHtml(const ExportPage& page) {
  std::string html = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Record</title>"
      "<style>{}</style></head><body>\n<h1>Record</h1>\n<p>{} result{}, exported {} out of a store "
      "of "
      "{} entries whose last has the hash <code>{}</code>.</p>\n<p>Every entry stands in "
      "<code>entries.jsonl</code>. Its hash is the SHA-256 of the JSON array "
      "<code>[\"cutface/entry\",1,seq,kind,written,who,part,lot,serial,about,body,previous]</code> "
      "without blanks, in UTF-8. Entries of other records lie between these, so the chain from one "
      "to the next can be followed in the store and its backups, not here.</p>\n<p>A section shows "
      "one plane of one destroyed sample, altered by cutting; it proves nothing about the rest of "
      "the "
      "lot without a sampling plan.</p>\n",
      kStyle, page.results.size(), page.results.size() == 1 ? "" : "s", HtmlText(page.made),
      page.head.entries, page.head.hash);
  for (const RecordState& state : page.results) html += ResultHtml(page, state);
  return html + TrailTable(page) + "</body></html>\n";
}

}  // namespace cutface
