// How many parts, faces and pictures a run speaks of.
#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <tuple>

#include "cutface/roster.h"

namespace cutface {
namespace {

using PartKey = std::tuple<std::string, std::string, std::string>;  // part, lot, serial

PartKey KeyOf(const FaceEntry& f) { return {f.part, f.sample.lot, f.sample.serial}; }

// Why parts cannot be told apart, or "".
std::string Untold(const std::vector<FaceEntry>& faces) {
  std::size_t without = 0;
  const FaceEntry* first = nullptr;
  for (const FaceEntry& f : faces) {
    if (!f.sample.serial.empty()) continue;
    ++without;
    if (first == nullptr) first = &f;
  }
  if (without > 0) {
    return fmt::format("{} of {} faces have no serial number ({}{})", without, faces.size(),
                       first->image, without > 1 ? " ..." : "");
  }
  // One serial with a lot (or part number) and without: the same part or another one?
  std::map<std::string, std::set<bool>> with_lot, with_part;
  for (const FaceEntry& f : faces) {
    with_lot[f.part + '\0' + f.sample.serial].insert(!f.sample.lot.empty());
    with_part[f.sample.serial].insert(!f.part.empty());
  }
  for (const FaceEntry& f : faces) {
    if (with_lot[f.part + '\0' + f.sample.serial].size() > 1)
      return fmt::format("serial number {} stands both with and without a lot", f.sample.serial);
    if (with_part[f.sample.serial].size() > 1)
      return fmt::format("serial number {} stands both with and without a part number",
                         f.sample.serial);
  }
  return "";
}

// Which entries show a face that an entry before them showed already.
std::vector<bool> Reimages(const std::vector<FaceEntry>& faces) {
  using Place = std::tuple<PartKey, std::string, std::optional<double>, std::string, std::string>;
  std::set<Place> seen;
  std::vector<bool> again(faces.size());
  for (std::size_t i = 0; i < faces.size(); ++i) {
    const FaceEntry& f = faces[i];
    if (f.repeat == RepeatKind::kReimage) {
      again[i] = true;
      continue;
    }
    // Without serial number or plane nothing says that two pictures show one face.
    if (f.repeat == RepeatKind::kRecut || f.sample.serial.empty() || f.plane.empty()) continue;
    again[i] = !seen.insert({KeyOf(f), f.plane, f.sample.station_mm, f.sample.face, f.sample.block})
                    .second;
  }
  return again;
}

// `key` counts entries: "image-truncated" -> 2.
void Tell(std::string& line, int count, std::string_view word,
          const std::map<std::string, int>& by) {
  if (count == 0) return;
  line += fmt::format(", {} {}", count, word);
  std::string reasons;
  for (const auto& [code, times] : by) {
    reasons += reasons.empty() ? "" : ", ";
    reasons += by.size() > 1 ? fmt::format("{} {}", times, code) : code;
  }
  if (!reasons.empty()) line += " (" + reasons + ")";
}

// A picture that is there may be unreadable, and then has no hash.
bool IsImaged(const FaceEntry& f) {
  return f.state != FaceState::kWaiting || !f.image_sha256.empty();
}

void AddTo(PartCount& part, const FaceEntry& f, bool reimage) {
  part.imaged += IsImaged(f) ? 1 : 0;
  part.faces += reimage ? 0 : 1;
  part.reimages += reimage ? 1 : 0;
  part.recuts += f.repeat == RepeatKind::kRecut ? 1 : 0;
  part.measured += f.state == FaceState::kMeasured ? 1 : 0;
  part.rejected += f.state == FaceState::kRejected ? 1 : 0;
  part.waiting += f.state == FaceState::kWaiting ? 1 : 0;
  if (!f.plane.empty() &&
      std::find(part.planes.begin(), part.planes.end(), f.plane) == part.planes.end())
    part.planes.push_back(f.plane);
}

}  // namespace

Counts Count(const Roster& roster) {
  Counts counts;
  const std::vector<bool> again = Reimages(roster.faces);
  std::map<PartKey, PartCount> parts;
  std::map<std::string, std::set<PartKey>> of_plane;
  for (std::size_t i = 0; i < roster.faces.size(); ++i) {
    const FaceEntry& f = roster.faces[i];
    counts.imaged += IsImaged(f) ? 1 : 0;
    counts.faces_cut += again[i] ? 0 : 1;
    counts.reimages += again[i] ? 1 : 0;
    counts.recuts += f.repeat == RepeatKind::kRecut ? 1 : 0;
    counts.measured += f.state == FaceState::kMeasured ? 1 : 0;
    if (f.state == FaceState::kRejected) {
      ++counts.rejected;
      ++counts.rejected_by[f.code];
    }
    if (f.state == FaceState::kWaiting) {
      ++counts.waiting;
      ++counts.waiting_by[f.code];
    }
    PartCount& part = parts[KeyOf(f)];
    std::tie(part.part, part.lot, part.serial) = KeyOf(f);
    AddTo(part, f, again[i]);
    if (f.state == FaceState::kMeasured) of_plane[f.plane].insert(KeyOf(f));
  }
  counts.n_unknown = Untold(roster.faces);
  if (!counts.n_unknown.empty()) return counts;
  counts.n = static_cast<int>(parts.size());
  counts.n_measured = 0;
  for (auto& [key, part] : parts) {
    std::sort(part.planes.begin(), part.planes.end());
    *counts.n_measured += part.measured > 0 ? 1 : 0;
    counts.parts.push_back(std::move(part));
  }
  for (const auto& [plane, keys] : of_plane)
    counts.n_of_plane[plane] = static_cast<int>(keys.size());
  return counts;
}

std::string CountsLine(const Counts& counts) {
  std::string line =
      fmt::format("{} {} cut, {} imaged, {} measured", counts.faces_cut,
                  counts.faces_cut == 1 ? "face" : "faces", counts.imaged, counts.measured);
  Tell(line, counts.rejected, "rejected", counts.rejected_by);
  Tell(line, counts.waiting, "waiting", counts.waiting_by);
  if (counts.reimages > 0)
    line +=
        fmt::format(", {} {}", counts.reimages, counts.reimages == 1 ? "re-image" : "re-images");
  if (counts.recuts > 0)
    line += fmt::format(", {} {}", counts.recuts, counts.recuts == 1 ? "recut" : "recuts");
  if (!counts.n) return line + "; n unknown: " + counts.n_unknown;
  line += fmt::format("; n = {} {}", *counts.n, *counts.n == 1 ? "part" : "parts");
  if (*counts.n_measured != *counts.n)
    line += fmt::format(", {} of them with a measured face", *counts.n_measured);
  return line;
}

}  // namespace cutface
