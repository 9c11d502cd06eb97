// The panel's text: what a reader of the picture must know without the result file.
#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "cutface/picture.h"
#include "cutface/quantity.h"
#include "picture/build.h"

namespace cutface {
namespace {

constexpr std::string_view kCaution =
    "One plane of one destroyed sample, altered by cutting: it proves nothing about the rest of "
    "the lot "
    "without a sampling plan. An engineering aid; acceptance is by your approved procedure.";

std::string Joined(const std::vector<std::string>& parts, std::string_view separator = ", ") {
  std::string text;
  for (const std::string& part : parts) {
    if (!part.empty()) text += (text.empty() ? std::string() : std::string(separator)) + part;
  }
  return text;
}

std::string Named(std::string_view word, const std::string& value) {
  return value.empty() ? "" : fmt::format("{} {}", word, value);
}

void Add(std::vector<std::string>& lines, std::string_view label, const std::string& value) {
  if (!value.empty()) lines.push_back(fmt::format("{}\t{}", label, value));
}

std::string Counts(const SectionResult& result) {
  constexpr std::array kOrder = {Verdict::kDoesNotConform, Verdict::kNotMeasured,
                                 Verdict::kNotProven, Verdict::kConforms, Verdict::kElsewhere};
  std::vector<std::string> parts;
  for (Verdict verdict : kOrder) {
    const auto n =
        std::count_if(result.characteristics.begin(), result.characteristics.end(),
                      [&](const CharacteristicResult& r) { return r.verdict == verdict; });
    if (n > 0) parts.push_back(fmt::format("{}: {}", VerdictName(verdict), n));
  }
  return Joined(parts);
}

std::string Sample(const SampleIdentity& sample) {
  return Joined({Named("serial", sample.serial), Named("lot", sample.lot),
                 Named("block", sample.block), Named("face", sample.face),
                 sample.station_mm ? fmt::format("station {} mm", *sample.station_mm) : ""});
}

std::string Uncertainty(const SectionResult& result) {
  std::vector<std::string> scopes;
  for (const CharacteristicResult& row : result.characteristics) {
    if (row.verdict == Verdict::kElsewhere || row.u_scope.empty()) continue;
    if (std::find(scopes.begin(), scopes.end(), row.u_scope) == scopes.end()) {
      scopes.push_back(row.u_scope);
    }
  }
  if (scopes.empty()) scopes.push_back("image only");
  return "95 % intervals, " + Joined(scopes, " / ");
}

void AddBlock(std::vector<std::string>& lines, std::string_view heading,
              const std::vector<std::string>& block) {
  if (block.empty()) return;
  lines.emplace_back();
  lines.emplace_back(heading);
  lines.insert(lines.end(), block.begin(), block.end());
}

const Measurement* Measured(const SectionResult& result, const std::string& of,
                            std::string_view quantity) {
  for (const Measurement& m : result.measurements) {
    if (m.of.size() == 1 && m.of.front() == of && m.quantity == quantity &&
        m.state == Measurement::State::kMeasured) {
      return &m;
    }
  }
  return nullptr;
}

// Without a drawing there are no rows: the panel then says what was found.
std::vector<std::string> MeasuredLines(const SectionResult& result) {
  std::vector<std::string> lines;
  if (!result.characteristics.empty()) return lines;
  if (const Measurement* m = Measured(result, "outline", "diameter")) {
    lines.push_back(fmt::format("outline, diameter\t{} ({})",
                                Format(m->value, m->unit, result.units), FormatFrench(m->value)));
  }
  for (const LumenTrace& lumen : result.section.lumens) {
    if (const Measurement* m = Measured(result, lumen.Key(), "equivalent_diameter")) {
      lines.push_back(fmt::format("{}, equal-area diameter\t{}", lumen.Key(),
                                  Format(m->value, m->unit, result.units)));
    }
  }
  return lines;
}

// Rows that need a reader first.
std::vector<std::string> RowLines(const SectionResult& result) {
  constexpr std::array kOrder = {Verdict::kDoesNotConform, Verdict::kNotMeasured,
                                 Verdict::kNotProven, Verdict::kConforms, Verdict::kNotJudged};
  std::vector<std::string> lines;
  for (Verdict verdict : kOrder) {
    for (const CharacteristicResult& row : result.characteristics) {
      if (row.verdict != verdict) continue;
      std::string value = row.actual ? ActualText(row) + ": " : std::string();
      const bool outside =
          row.of == std::vector<std::string>{"outline"} && row.quantity == "diameter";
      const Measurement* m = outside ? Measured(result, "outline", "diameter") : nullptr;
      if (m != nullptr) value = FormatFrench(m->value) + ", " + value;
      value += VerdictName(row.verdict);
      if (!row.actual && !row.reason.empty()) value += ": " + row.reason;
      lines.push_back(fmt::format("{}  {}\t{}", row.no, SubjectText(row), value));
    }
  }
  return lines;
}

// File names and typed-in texts may hold anything; a line break in one must not start a block.
std::string OneLine(std::string line) {
  bool tab = false;
  for (char& c : line) {
    const bool first_tab = c == '\t' && !tab;
    tab = tab || c == '\t';
    if (static_cast<unsigned char>(c) < 0x20 && !first_tab) c = ' ';
  }
  return line;
}

}  // namespace

void AddIdentities(const SectionResult& result, std::vector<std::string>& lines) {
  Add(lines, "Part",
      result.part.empty() ? "no drawing" : Joined({result.part, Named("rev.", result.revision)}));
  Add(lines, "Section", result.section_name);
  Add(lines, "Sample", Sample(result.sample));
  Add(lines, "Image",
      Joined({result.image_file,
              fmt::format("{} x {} px", result.image_width_px, result.image_height_px),
              Named("hash", result.image_sha256.substr(0, 12))}));
  Add(lines, "Taken", result.sample.taken.empty() ? "unknown" : result.sample.taken);
  Add(lines, "Scale",
      Joined({result.calibration_id, fmt::format("{:.4f} um/px", result.mean_pitch_um),
              result.calibration_certified ? "" : "UNCERTIFIED"}));
  Add(lines, "Uncertainty", Uncertainty(result));
  Add(lines, "View", result.section.placement.mirrored ? "mirrored against the drawing" : "");
  Add(lines, "Picture",
      result.section.picture.grade == "clean"
          ? ""
          : Joined({result.section.picture.grade, Joined(result.section.picture.reasons)}, ": "));
  Add(lines, "Inspector", result.inspector);
  Add(lines, "Software", Joined({"cutface " + result.software, result.time}));
}

void AddCaption(const SectionResult& result, DisplayList& list) {
  std::vector<std::string>& lines = list.caption;
  lines.emplace_back(VerdictName(result.verdict));
  if (const std::string counts = Counts(result); !counts.empty()) lines.push_back(counts);
  AddIdentities(result, lines);

  std::vector<std::string> findings;
  for (const Finding& finding : result.findings) {
    std::string text = finding.text.empty() ? finding.kind : finding.text;
    if (!finding.disposed_by.empty()) {
      text += fmt::format(" (disposed of by {}: {})", finding.disposed_by, finding.disposition);
    }
    findings.push_back(fmt::format("{}\t{}", finding.kind, text));
  }
  for (const LumenTrace& lumen : result.section.lumens) {
    if (lumen.state == LumenState::kNotFound) findings.push_back("not found\t" + lumen.Key());
  }
  AddBlock(lines, "Findings:", findings);
  AddBlock(lines, "Hints:", HintLines(result));

  std::vector<std::string> remarks;
  for (const std::string& overrule : result.overrules) remarks.push_back("Overruled\t" + overrule);
  for (const std::string& edit : result.edits) remarks.push_back("Edited\t" + edit);
  for (const std::string& warning : result.warnings) remarks.push_back("Note\t" + warning);
  if (!result.section.placement.names_proven) {
    remarks.emplace_back(
        "Note\tnames are not proven: another placing of the drawing fits almost as well");
  }
  for (const auto& group : result.section.placement.interchangeable) {
    remarks.push_back("Note\tinterchangeable by symmetry: " + Joined(group));
  }
  AddBlock(lines, "Remarks:", remarks);
  // Last, because these may be cut short where there are many: an overrule may not.
  AddBlock(lines, "Rows of the drawing:", RowLines(result));
  AddBlock(lines, "Measured:", MeasuredLines(result));
  lines.emplace_back();
  lines.emplace_back(kCaution);
  for (std::string& line : lines) line = OneLine(std::move(line));
}

std::vector<CaptionBlock> CaptionBlocks(const std::vector<std::string>& caption) {
  std::vector<CaptionBlock> blocks(1);
  for (std::size_t i = 0; i < caption.size(); ++i) {
    const std::string& line = caption[i];
    if (line.empty()) {
      blocks.emplace_back();
      continue;
    }
    CaptionBlock& block = blocks.back();
    const std::size_t tab = line.find('\t');
    if (block.lines.empty() && block.heading.empty() && i > 0 && caption[i - 1].empty() &&
        tab == std::string::npos && line.back() == ':') {
      block.heading = line.substr(0, line.size() - 1);
    } else if (tab == std::string::npos) {
      block.lines.emplace_back("", line);
    } else {
      block.lines.emplace_back(line.substr(0, tab), line.substr(tab + 1));
    }
  }
  return blocks;
}

}  // namespace cutface
