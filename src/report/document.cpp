// A document as one HTML file (nothing is loaded, no script runs) and as pages.
#include "report/document.h"

#include <fmt/format.h>

#include "report/html_parts.h"
#include "report/internal.h"

namespace cutface {
namespace {

constexpr char kDocumentStyle[] =
#include "report_css.inc"
    ;

using Kind = DocumentBlock::Kind;

std::string HtmlTable(const DocumentBlock& block) {
  std::vector<html::Title> titles;
  for (const Column& column : block.columns) titles.push_back({column.title, column.right});
  std::string text = html::TableOpen(block.text, titles, false);
  for (const auto& row : block.rows) {
    text += "<tr>";
    for (std::size_t c = 0; c < row.size(); ++c)
      text += fmt::format("<td{}>{}</td>", block.columns[c].right ? " class=\"num\"" : "",
                          HtmlEscaped(row[c]));
    text += "</tr>\n";
  }
  return text + std::string(html::kTableClose);
}

Result<std::string> HtmlBlock(const DocumentBlock& block) {
  const std::string safe = HtmlEscaped(block.text);
  switch (block.kind) {
    case Kind::kText:
      return "<p>" + safe + "</p>\n";
    case Kind::kStrong:
      return "<p><strong>" + safe + "</strong></p>\n";
    case Kind::kQuiet:
      return "<p class=\"small faint\">" + safe + "</p>\n";
    case Kind::kHeading:
      return "<h3>" + safe + "</h3>\n";
    case Kind::kBullets:
      return html::List(block.texts);
    case Kind::kPairs: {
      std::string text = "<dl>";
      for (const auto& [label, value] : block.pairs) text += html::Pair(HtmlEscaped(label), value);
      return text + "</dl>\n";
    }
    case Kind::kTable:
      return HtmlTable(block);
    case Kind::kPlot: {
      const auto svg = PlotSvg(block.graph);
      if (!svg) return tl::unexpected(svg.error());
      return fmt::format(
          "<figure data-plot=\"{}\"><figcaption><span class=\"faint\">{}</span> "
          "<strong>{}</strong></figcaption>{}</figure>\n",
          block.graph.id, HtmlEscaped(block.graph.question), HtmlEscaped(block.graph.answer), *svg);
    }
  }
  return std::string();
}

class DocumentWriter {
 public:
  DocumentWriter(Pages& pages, const ReportDocument& document)
      : pages_(pages), document_(document) {}

  Status All() {
    Begin();
    pages_.Paragraph(document_.title, {20, true}, 4);
    bool first = true;
    for (const std::string& lead : document_.leads) {
      pages_.Paragraph(lead, {9, first, kInk}, 4);
      first = false;
    }
    pages_.Skip(4);
    first = true;
    for (const DocumentSection& section : document_.sections) {
      if (section.new_page && !first) Begin();
      first = false;
      // A heading is not left alone at the foot of a page.
      if (!section.blocks.empty() && section.blocks.front().kind == Kind::kPlot)
        pages_.Need(kWide * section.blocks.front().graph.aspect + 90);
      pages_.Heading(section.heading);
      pages_.Bookmark(section.heading);
      for (const DocumentBlock& block : section.blocks)
        if (auto status = Block(block); !status) return status;
    }
    return {};
  }

 private:
  static constexpr double kWide = Pages::kRight - Pages::kLeft;

  void Begin() { pages_.NewPage(document_.kicker + "  \u00b7  " + document_.title); }

  Status Block(const DocumentBlock& block) {
    switch (block.kind) {
      case Kind::kText:
        pages_.Paragraph(block.text);
        break;
      case Kind::kStrong:
        pages_.Paragraph(block.text, {9.2, true});
        break;
      case Kind::kQuiet:
        pages_.Paragraph(block.text, {7.6, false, kFaint});
        break;
      case Kind::kHeading:
        pages_.Need(40);
        pages_.Skip(4);
        pages_.Paragraph(block.text, {9.6, true}, 3);
        break;
      case Kind::kBullets:
        pages_.Bullets(block.texts);
        break;
      case Kind::kPairs:
        pages_.Pairs(block.pairs, 130);
        break;
      case Kind::kTable:
        Table(block);
        break;
      case Kind::kPlot:
        return pages_.Plot(block.graph, block.graph.answer);
    }
    return {};
  }

  void Table(const DocumentBlock& block) {
    std::vector<TableRow> rows;
    for (const auto& texts : block.rows) {
      TableRow row;
      for (const std::string& text : texts) row.cells.push_back({text});
      rows.push_back(std::move(row));
    }
    pages_.Table(block.columns, rows);
    pages_.Skip(8);
  }

  Pages& pages_;
  const ReportDocument& document_;
};

}  // namespace

void DocumentSection::Add(Kind kind, std::string text) {
  DocumentBlock block;
  block.kind = kind;
  block.text = std::move(text);
  blocks.push_back(std::move(block));
}

void DocumentSection::Bullets(std::vector<std::string> texts) {
  if (texts.empty()) return;
  Add(Kind::kBullets, "");
  blocks.back().texts = std::move(texts);
}

void DocumentSection::Pairs(std::vector<std::pair<std::string, std::string>> pairs) {
  Add(Kind::kPairs, "");
  blocks.back().pairs = std::move(pairs);
}

void DocumentSection::Table(std::string table_id, std::vector<Column> columns,
                            std::vector<std::vector<std::string>> rows) {
  for (const auto& row : rows) CF_CHECK(row.size() == columns.size());
  Add(Kind::kTable, std::move(table_id));
  blocks.back().columns = std::move(columns);
  blocks.back().rows = std::move(rows);
}

void DocumentSection::Plot(Graph graph) {
  Add(Kind::kPlot, "");
  blocks.back().graph = std::move(graph);
}

Result<std::string> DocumentHtml(const ReportDocument& d) {
  std::string menu, body;
  for (const DocumentSection& section : d.sections) {
    if (section.in_menu)
      menu += fmt::format("<a href=\"#{}\">{}</a>", section.id, HtmlEscaped(section.heading));
    body += fmt::format("<section id=\"{}\"><h2>{}</h2>", section.id, HtmlEscaped(section.heading));
    for (const DocumentBlock& block : section.blocks) {
      auto text = HtmlBlock(block);
      if (!text) return text;
      body += *text;
    }
    body += "</section>\n";
  }
  std::string leads;
  bool first = true;
  for (const std::string& lead : d.leads) {
    const std::string safe = HtmlEscaped(lead);
    leads += first ? "<p><strong>" + safe + "</strong></p>" : "<p>" + safe + "</p>";
    first = false;
  }
  return fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta "
      "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src {}; base-uri "
      "'none'; form-action 'none'\"><meta name=\"viewport\" content=\"width=device-width\"><meta "
      "name=\"generator\" content=\"cutface {}\"><title>{}</title>\n<style>{}</style></head><body>"
      "\n<header class=\"top\"><div><p class=\"faint\">{}</p><h1>{}</h1>{}</div></header>\n<nav "
      "class=\"parts\" aria-label=\"Parts of the page\">{}</nav><main>\n{}<p class=\"small "
      "faint\">cutface {}, made {}</p></main></body></html>\n",
      html::PolicyHash(kDocumentStyle), HtmlEscaped(d.software),
      HtmlEscaped(d.kicker + ": " + d.title), kDocumentStyle, HtmlEscaped(d.kicker),
      HtmlEscaped(d.title), leads, menu, body, HtmlEscaped(d.software), HtmlEscaped(d.made));
}

Result<std::vector<std::byte>> DocumentPdf(const ReportDocument& d) {
  const std::string running =
      fmt::format("cutface {}  \u00b7  {}  \u00b7  made {}", d.software, d.kicker, d.made);
  int total = 0;
  Pages::Heights heights;
  {
    Pages counting(running, 0, heights);
    if (auto status = DocumentWriter(counting, d).All(); !status)
      return tl::unexpected(status.error());
    total = counting.page();
  }
  Pages pages(running, total, heights);
  pages.SetHead({d.kicker + ": " + d.title, "", d.kicker, d.leads.empty() ? "" : d.leads.front(),
                 "cutface " + d.software, d.made});
  if (auto status = DocumentWriter(pages, d).All(); !status) return tl::unexpected(status.error());
  return pages.Finish();
}

}  // namespace cutface
