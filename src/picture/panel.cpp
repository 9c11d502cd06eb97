#include "picture/panel.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "picture/build.h"
#include "picture/theme.h"

namespace cutface {
namespace {

constexpr double kLineGap = 0.28;     // em between lines
constexpr double kBlockGap = 0.85;    // em between blocks
constexpr double kLeastLabel = 0.24;  // of the column: where values begin
constexpr double kGreatestLabel = 0.52;
constexpr double kKeyFont = 0.86, kKeySample = 2.6, kKeyGap = 0.45;  // em
constexpr double kKeyRow = 1.45, kKeyApart = 1.2;
constexpr std::array kTextShares = {1.0, 0.9, 0.8, 0.7};

// The verdict's own frame: a form for each word, so that a grey print tells them apart.
void DrawVerdict(Canvas& canvas, const Rect& box, Verdict verdict, double em) {
  const std::string word(VerdictName(verdict));
  Font font{1.55 * em, true, 0};
  Rect size = canvas.Measure(word, font);
  const double room = box.w - 1.6 * em;
  if (size.w > room) {
    font.px *= room / size.w;
    size = canvas.Measure(word, font);
  }
  const bool solid = verdict == Verdict::kDoesNotConform;
  const double pen = std::max(1.5, em / 9);
  const std::vector<Place> frame = {{box.x + pen / 2, box.y + pen / 2},
                                    {box.x + box.w - pen / 2, box.y + pen / 2},
                                    {box.x + box.w - pen / 2, box.y + box.h - pen / 2},
                                    {box.x + pen / 2, box.y + box.h - pen / 2}};
  if (solid) {
    canvas.Fill(box, {0.62, 0.21, 0.03});
  } else {
    const LineStyle style = verdict == Verdict::kConforms    ? LineStyle::kSolid
                            : verdict == Verdict::kNotProven ? LineStyle::kDashed
                                                             : LineStyle::kDotted;
    if (verdict != Verdict::kNotJudged) canvas.Line(frame, true, {kText, pen, style, 1});
    if (verdict == Verdict::kConforms) {
      canvas.Fill(Rect{box.x, box.y, 0.5 * em, box.h}, {0.0, 0.45, 0.70});
    }
  }
  canvas.Text(word, font, box.x + 0.9 * em, box.y + (box.h - size.h) / 2, solid ? kWhite : kText);
}

class Column {
 public:
  Column(Canvas& canvas, const Rect& where, double em)
      : canvas_(&canvas), where_(where), em_(em), y_(where.y) {}

  // One tab stop for the lines that follow, so that their values stand in one column.
  void SetStop(const CaptionBlock& block) {
    double widest = kLeastLabel * where_.w;
    for (const auto& line : block.lines) {
      if (line.first.empty()) continue;
      widest = std::max(widest, canvas_->Measure(line.first, {em_, false, 0}).w + 0.8 * em_);
    }
    stop_ = std::min(widest, kGreatestLabel * where_.w);
  }
  // Draws a line when it fits above `reserve`; false when it does not.
  bool Line(const std::string& label, const std::string& text, double reserve) {
    const double stop = label.empty() ? 0 : stop_;
    const Font font{em_, false, where_.w - stop};
    const Font label_font{em_, false, stop - 0.5 * em_};
    double height = canvas_->Measure(text, font).h;
    if (stop > 0) height = std::max(height, canvas_->Measure(label, label_font).h);
    if (y_ + height > where_.y + where_.h - reserve) return false;
    if (stop > 0) canvas_->Text(label, label_font, where_.x, y_, kQuiet);
    canvas_->Text(text, font, where_.x + stop, y_, kText);
    y_ += height + kLineGap * em_;
    return true;
  }
  void Heading(const std::string& text) {
    const Font font{em_, true, where_.w};
    canvas_->Text(text, font, where_.x, y_, kText);
    y_ += canvas_->Measure(text, font).h + kLineGap * em_;
  }
  void Gap() {
    canvas_->Line(
        {{where_.x, y_ + 0.4 * kBlockGap * em_}, {where_.x + where_.w, y_ + 0.4 * kBlockGap * em_}},
        false, {kQuiet, 1, LineStyle::kSolid, 0.45});
    y_ += kBlockGap * em_;
  }
  double Left() const { return where_.y + where_.h - y_; }
  double em() const { return em_; }

 private:
  Canvas* canvas_;
  Rect where_;
  double em_, y_;
  double stop_ = 0;
};

// Draws the block; returns the number of lines that found no room.
int DrawBlock(Column& column, const CaptionBlock& block, double reserve, bool first) {
  const double least = (block.heading.empty() ? 1.6 : 3.2) * column.em() + kBlockGap * column.em();
  if (column.Left() < reserve + least) return static_cast<int>(block.lines.size());
  if (!first) column.Gap();
  if (!block.heading.empty()) column.Heading(block.heading);
  column.SetStop(block);
  for (std::size_t i = 0; i < block.lines.size(); ++i) {
    if (!column.Line(block.lines[i].first, block.lines[i].second, reserve)) {
      return static_cast<int>(block.lines.size() - i);
    }
  }
  return 0;
}

struct KeyEntry {
  Ink ink;
  LineStyle style;
  std::string word;
  double weight = 1;
};

// What the strokes of this picture mean, in the order in which they are drawn; only those that it
// has.
std::vector<KeyEntry> KeyEntries(const DisplayList& list) {
  std::vector<KeyEntry> entries;
  for (const DisplayItem& item : list.items) {
    if (item.key.empty()) continue;
    const bool known = std::any_of(entries.begin(), entries.end(),
                                   [&](const KeyEntry& e) { return e.word == item.key; });
    if (!known) entries.push_back({item.ink, item.style, item.key, item.weight});
  }
  return entries;
}

// Entries in lines as long as `width` allows.
std::vector<std::vector<const KeyEntry*>> KeyRows(const Canvas& canvas,
                                                  const std::vector<KeyEntry>& entries,
                                                  double width, double em) {
  const Font font{kKeyFont * em, false, 0};
  std::vector<std::vector<const KeyEntry*>> rows(1);
  double used = 0;
  for (const KeyEntry& entry : entries) {
    const double w = (kKeySample + kKeyGap + kKeyApart) * em + canvas.Measure(entry.word, font).w;
    if (used > 0 && used + w > width) {
      rows.emplace_back();
      used = 0;
    }
    rows.back().push_back(&entry);
    used += w;
  }
  return rows;
}

}  // namespace

double KeyHeight(const Canvas& canvas, const DisplayList& list, double width, double em) {
  const std::vector<KeyEntry> entries = KeyEntries(list);
  if (entries.empty()) return 0;
  return kKeyRow * em * static_cast<double>(KeyRows(canvas, entries, width, em).size());
}

double DrawKey(Canvas& canvas, const DisplayList& list, const Rect& where, double bottom,
               double em) {
  const std::vector<KeyEntry> entries = KeyEntries(list);
  if (entries.empty()) return 0;
  const Font font{kKeyFont * em, false, 0};
  const double sample = kKeySample * em, gap = kKeyGap * em, row = kKeyRow * em;
  const auto rows = KeyRows(canvas, entries, where.w, em);
  const double height = row * static_cast<double>(rows.size());
  for (std::size_t r = 0; r < rows.size(); ++r) {
    double x = where.x;
    const double y = bottom - height + row * (static_cast<double>(r) + 0.5);
    for (const KeyEntry* entry : rows[r]) {
      canvas.Line({{x, y}, {x + sample, y}}, false, {kCasing, 0.42 * em, LineStyle::kSolid, 0.9});
      canvas.Line(
          {{x, y}, {x + sample, y}}, false,
          {Colour(entry->ink),
           (entry->style == LineStyle::kDotted ? 0.22 : 0.16) * em * std::max(0.7, entry->weight),
           entry->style, 1});
      const Rect text = canvas.Measure(entry->word, font);
      canvas.Text(entry->word, font, x + sample + gap, y - text.h / 2, kText);
      x += sample + gap + text.w + kKeyApart * em;
    }
  }
  return height;
}

namespace {

// Returns the number of lines that found no room.
int DrawAll(Canvas& canvas, const Rect& where, const DisplayList& list, double em) {
  const double pad = 1.1 * em;
  // A bright photo would run into the paper.
  const bool beside = where.h > 0 && where.x > 0;
  const Place corner =
      beside ? Place{where.x, where.y + where.h} : Place{where.x + where.w, where.y};
  canvas.Line({{where.x, where.y}, corner}, false, {kQuiet, 1.5, LineStyle::kSolid, 0.8});
  std::vector<CaptionBlock> blocks = CaptionBlocks(list.caption);
  CF_CHECK(!blocks.empty() && !blocks.front().lines.empty());
  blocks.front().lines.erase(blocks.front().lines.begin());  // the verdict, drawn apart
  const CaptionBlock caution = blocks.back();
  blocks.pop_back();

  const int columns = where.w > 1.6 * where.h ? 3 : 1;
  const double gutter = 1.6 * em;
  const double width = (where.w - 2 * pad - (columns - 1) * gutter) / columns;
  const double verdict_h = 2.7 * em;
  DrawVerdict(canvas, {where.x + pad, where.y + pad, width, verdict_h}, list.verdict, em);

  const auto area = [&](int i) {
    const double top = where.y + pad + (i == 0 ? verdict_h + 0.8 * em : 0);
    return Rect{where.x + pad + i * (width + gutter), top, width, where.y + where.h - pad - top};
  };
  const std::string& warning = caution.lines.front().second;
  const Font small{0.86 * em, false, width};
  const double caution_h = canvas.Measure(warning, small).h;
  const Rect last = area(columns - 1);
  const double key_bottom = last.y + last.h - caution_h - 0.5 * em;
  const double foot = caution_h + 0.5 * em + DrawKey(canvas, list, last, key_bottom, em);
  const double reserve = foot + 2.2 * em;  // the closing line and a gap

  int column_no = 0, left_out = 0;
  Column column(canvas, area(0), em);
  bool first = true;
  for (const CaptionBlock& block : blocks) {
    const double needed = 1.5 * em * static_cast<double>(block.lines.size());
    if (!first && column_no + 1 < columns && column.Left() < needed + reserve) {
      ++column_no;
      column = Column(canvas, area(column_no), em);
      first = true;
    }
    left_out += DrawBlock(column, block, column_no + 1 == columns ? reserve : 0, first);
    first = false;
  }
  if (left_out > 0) {
    canvas.Text(fmt::format("and {} more lines in the result file", left_out), {em, false, width},
                last.x, last.y + last.h - foot - 1.7 * em, kQuiet);
  }
  canvas.Text(warning, small, last.x, last.y + last.h - caution_h, kQuiet);
  return left_out;
}

}  // namespace

Status DrawPanel(Canvas& canvas, const Rect& where, const DisplayList& list, double em) {
  // The greatest text that holds everything, tried on scratch paper; the smallest in any case.
  double size = em;
  for (const double share : kTextShares) {
    size = share * em;
    auto scratch = PixelCanvas::Make(static_cast<int>(where.w), static_cast<int>(where.h), kPaper);
    if (!scratch) return tl::unexpected(scratch.error());
    if (DrawAll(*scratch, {0, 0, where.w, where.h}, list, size) == 0) break;
  }
  DrawAll(canvas, where, list, size);
  return {};
}

}  // namespace cutface
