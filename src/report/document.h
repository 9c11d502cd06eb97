// A report as a list of blocks that its HTML and its PDF are both made from: text, tables and plots
// stand once and cannot differ.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "cutface/plot.h"
#include "report/pages.h"

namespace cutface {

struct DocumentBlock {
  enum class Kind { kText, kStrong, kQuiet, kHeading, kBullets, kPairs, kTable, kPlot };
  Kind kind = Kind::kText;
  std::string text;                // of a table its id
  std::vector<std::string> texts;  // bullets
  std::vector<std::pair<std::string, std::string>> pairs;
  std::vector<Column> columns;
  std::vector<std::vector<std::string>> rows;
  Graph graph;
};

// Texts are plain (PlainText) when they come in here; HTML is escaped by the writer.
struct DocumentSection {
  std::string id, heading;  // of a link; of the section
  bool new_page = false;    // in the PDF
  bool in_menu = true;
  std::vector<DocumentBlock> blocks;

  void Text(std::string text) { Add(DocumentBlock::Kind::kText, std::move(text)); }
  void Strong(std::string text) { Add(DocumentBlock::Kind::kStrong, std::move(text)); }
  void Faint(std::string text) { Add(DocumentBlock::Kind::kQuiet, std::move(text)); }
  void Heading(std::string text) { Add(DocumentBlock::Kind::kHeading, std::move(text)); }
  void Bullets(std::vector<std::string> texts);
  void Pairs(std::vector<std::pair<std::string, std::string>> pairs);
  void Table(std::string id, std::vector<Column> columns,
             std::vector<std::vector<std::string>> rows);
  void Plot(Graph graph);

 private:
  void Add(DocumentBlock::Kind kind, std::string text);
};

struct ReportDocument {
  std::string kicker, title;       // "Study of the gauge"; what it is about
  std::vector<std::string> leads;  // below the title; the first is strong
  std::vector<DocumentSection> sections;
  std::string software, made;
};

// Errors of both: kInternal.
Result<std::string> DocumentHtml(const ReportDocument& document);
Result<std::vector<std::byte>> DocumentPdf(const ReportDocument& document);

}  // namespace cutface
