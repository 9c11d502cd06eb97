#include "cutface/correction.h"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdio>

namespace cutface {
namespace {

constexpr std::array<std::string_view, 8> kNames = {"say what", "rename", "redraw", "leave out",
                                                    "add",      "split",  "join",   "dispose"};

// A part must not look like the mark between parts.
std::string Plain(const std::string& text, bool keep_semicolons = false) {
  std::string plain = text;
  for (char& c : plain) {
    if (c == '\n' || c == '\r' || c == '\t') c = ' ';
    if (c == ';' && !keep_semicolons) c = ',';
  }
  return plain;
}

std::string Coordinate(double um) {
  std::array<char, 40> buffer;
  const double rounded = std::round(um * 1e3) / 1e3;
  std::snprintf(buffer.data(), buffer.size(), "%.3f", rounded == 0 ? 0.0 : rounded);
  std::string text = buffer.data();
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return text;
}

// A kilometre: no picture is so large, and every coordinate below it is written whole.
constexpr double kFarthestUm = 1e9;

std::optional<ContourUm> ParsePoints(std::string_view text) {
  ContourUm points;
  while (!text.empty()) {
    const std::string_view one = text.substr(0, text.find(','));
    text.remove_prefix(std::min(text.size(), one.size() + 1));
    while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
    PointUm p;
    const std::size_t gap = one.find(' ');
    if (gap == std::string_view::npos) return std::nullopt;
    const auto x = std::from_chars(one.data(), one.data() + gap, p.x);
    const auto y = std::from_chars(one.data() + gap + 1, one.data() + one.size(), p.y);
    // Written so that what is no number is refused too.
    if (x.ec != std::errc() || y.ec != std::errc() ||
        !(std::abs(p.x) <= kFarthestUm && std::abs(p.y) <= kFarthestUm))
      return std::nullopt;
    points.push_back(p);
  }
  return points;
}

// Takes "MARK part" off the text, up to the next semicolon; false when it does not begin so.
bool Take(std::string_view& text, std::string_view mark, std::string& part) {
  if (!text.starts_with(mark)) return false;
  const std::size_t end = text.find(';');
  if (end == std::string_view::npos) return false;
  part = std::string(text.substr(mark.size(), end - mark.size()));
  text.remove_prefix(end + 1);
  if (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  return true;
}

}  // namespace

std::string_view CorrectionName(Correction::Kind kind) {
  return kNames[static_cast<std::size_t>(kind)];
}

std::optional<Correction::Kind> ParseCorrectionName(std::string_view name) {
  const auto at = std::find(kNames.begin(), kNames.end(), name);
  if (at == kNames.end()) return std::nullopt;
  return static_cast<Correction::Kind>(at - kNames.begin());
}

std::string CorrectionText(const Correction& c) {
  std::string text = std::string(CorrectionName(c.kind)) + " of " + Plain(c.of);
  text += "; to " + Plain(c.to) + "; was " + Plain(c.before) + "; now " + Plain(c.after);
  if (!c.points.empty()) {
    text += "; along ";
    for (std::size_t i = 0; i < c.points.size(); ++i)
      text += (i == 0 ? "" : ", ") + Coordinate(c.points[i].x) + " " + Coordinate(c.points[i].y);
  }
  text += "; by " + Plain(c.who) + "; on " + Plain(c.when) + "; because " + Plain(c.why, true);
  return text;
}

std::optional<Correction> ParseCorrection(std::string_view text) {
  Correction c;
  bool known = false;
  for (std::size_t k = 0; k < kNames.size() && !known; ++k) {
    const std::string start = std::string(kNames[k]) + " of ";
    if (!text.starts_with(start)) continue;
    c.kind = static_cast<Correction::Kind>(k);
    known = Take(text, start, c.of);
  }
  std::string along;
  constexpr std::string_view kBecause = "because ";
  if (!known || !Take(text, "to ", c.to) || !Take(text, "was ", c.before) ||
      !Take(text, "now ", c.after))
    return std::nullopt;
  if (Take(text, "along ", along)) {
    auto points = ParsePoints(along);
    if (!points) return std::nullopt;
    c.points = std::move(*points);
  }
  if (!Take(text, "by ", c.who) || !Take(text, "on ", c.when) || !text.starts_with(kBecause))
    return std::nullopt;
  c.why = std::string(text.substr(kBecause.size()));
  return c;
}

std::vector<Correction> CorrectionsOf(const SectionResult& result) {
  std::vector<Correction> corrections;
  for (const std::string& edit : result.edits)
    if (auto correction = ParseCorrection(edit)) corrections.push_back(std::move(*correction));
  return corrections;
}

}  // namespace cutface
