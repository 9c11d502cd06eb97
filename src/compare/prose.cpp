// What these sections can and cannot show.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "compare/internal.h"

namespace cutface {
namespace {

std::string NestedSentence(const Counts& counts) {
  std::string text =
      "Planes, re-images and recuts of one part are nested in it: every part enters a row with one "
      "value (towards the limit where there is one, else the mean), and n counts parts.";
  if (counts.reimages > 0 || counts.recuts > 0)
    text +=
        fmt::format(" Here: {}, {}.",
                    CountedWord(static_cast<std::size_t>(counts.reimages), "re-image", "re-images"),
                    CountedWord(static_cast<std::size_t>(counts.recuts), "recut", "recuts"));
  return text;
}

}  // namespace

void WriteLimits(const Run& run, RunComparison& c) {
  const Counts& counts = run.counts;
  std::set<std::string> lots, planes;
  for (const FaceEntry& entry : run.roster.faces) {
    if (!entry.sample.lot.empty()) lots.insert(entry.sample.lot);
    if (!entry.plane.empty()) planes.insert(entry.plane);
  }
  const auto number = [](int n) { return static_cast<std::size_t>(n); };
  c.can_show.push_back(fmt::format(
      "{} of {} in {}, {}.", CountedWord(number(counts.faces_cut), "cut face", "cut faces"),
      counts.n ? CountedWord(number(*counts.n), "part", "parts") : "an unknown number of parts",
      CountedWord(planes.size(), "section plane", "section planes"),
      lots.empty() ? "lot not stated" : CountedWord(lots.size(), "lot", "lots")));
  c.can_show.push_back(NestedSentence(counts));
  c.can_show.emplace_back(
      "A tolerance bound is where, with the stated confidence, at least the stated share of parts "
      "made the same way lies; it takes the values for normal unless it says otherwise.");
  c.cannot_show.emplace_back(
      "Figures speak of a lot only if its parts were drawn at random; of parts picked by eye, or "
      "the first ones off a machine, they describe those parts alone.");
  c.cannot_show.emplace_back(
      "A section shows one plane of one destroyed sample, altered by cutting; between stations, "
      "and in parts that were not cut, nothing was seen.");
  c.cannot_show.emplace_back(
      "The spread between parts contains the spread of cutting, polishing and measuring; a study "
      "of repeats tells how much that is.");
  c.cannot_show.emplace_back(
      "Many rows are read at once: at 95 % about one row in twenty would mislead by chance alone.");
  if (!counts.n)
    c.notes.push_back("parts cannot be counted: " + counts.n_unknown +
                      "; values are told, nothing is inferred");
  const auto unproven = std::count_if(run.faces.begin(), run.faces.end(),
                                      [](const RunFace& face) { return !face.names_proven; });
  if (unproven > 0)
    c.notes.push_back(
        fmt::format("the names of the lumens are not proven on {}",
                    CountedWord(static_cast<std::size_t>(unproven), "face", "faces")));
  if (counts.rejected > 0 || counts.waiting > 0)
    c.notes.push_back(fmt::format(
        "{} without a result, in no figure: {}",
        CountedWord(number(counts.rejected + counts.waiting), "face", "faces"), c.counts_line));
  const auto few = [](const RowStudy& row) { return row.bound && !row.normality; };
  if (std::any_of(c.rows.begin(), c.rows.end(), few))
    c.notes.emplace_back(
        "under 8 parts it cannot be tested whether values are normal; bounds of such rows take it "
        "for granted");
  const auto guessed = [](const RowStudy& row) {
    return row.capability && row.capability->percentile && row.capability->percentile->extrapolated;
  };
  if (std::any_of(c.rows.begin(), c.rows.end(), guessed))
    c.notes.emplace_back(
        "a percentile Ppk of fewer than 100 parts is extrapolated: its far percentile comes from "
        "the fitted curve alone");
  std::map<std::string, std::set<std::string>> levels;
  for (const FaceEntry& entry : run.roster.faces) {
    for (const auto& [name, level] : entry.factors) levels[name].insert(level);
  }
  std::set<std::string> factors;
  for (const auto& [name, of] : levels) {
    if (of.size() > 1) factors.insert(name);
  }
  for (const std::string& name : c.options.factors) factors.erase(name);
  if (!factors.empty()) {
    std::string names;
    for (const std::string& name : factors) names += (names.empty() ? "" : ", ") + name;
    c.notes.push_back(
        fmt::format("the run's parts were made in more than one way ({}): figures over all of them "
                    "mix these; --factor tells the effect",
                    names));
  }
  const bool timed = std::all_of(c.rows.begin(), c.rows.end(), [](const RowStudy& row) {
    return row.timed || row.parts.empty();
  });
  if (!timed)
    c.notes.emplace_back(
        "not every picture has a time with hours: parts stand in the order of the list, which is "
        "not taken for the order of making");
  for (const std::string& warning : run.roster.warnings) c.notes.push_back(warning);
}

}  // namespace cutface
