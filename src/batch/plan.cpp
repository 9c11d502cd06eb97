// Which face is measured against what.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>
#include <set>
#include <system_error>

#include "batch/table.h"
#include "cutface/batch.h"

namespace cutface {
namespace {

namespace fs = std::filesystem;

void Hold(PlannedFace& face, FaceState state, Code code, std::string reason) {
  face.entry.state = state;
  face.entry.code = CodeName(code);
  face.entry.reason = std::move(reason);
}

// A path of a manifest as one from the folder: '\' as '/', no "./" and "x/../". "" when it leaves
// the folder.
std::string Within(const std::string& image) {
  std::string text = image;
  std::replace(text.begin(), text.end(), '\\', '/');
  const fs::path path = fs::path(text).lexically_normal();
  if (path.is_absolute() || path.empty() || *path.begin() == "..") return "";
  return path.string();
}

std::string Listed(const std::vector<std::string>& names) {
  constexpr std::size_t kMostNamed = 5;
  std::string text;
  for (std::size_t i = 0; i < std::min(names.size(), kMostNamed); ++i)
    text += (i > 0 ? ", " : "") + names[i];
  return text + (names.size() > kMostNamed ? ", ..." : "");
}

std::string SectionsOf(std::span<const Design> designs) {
  std::vector<std::string> names;
  for (const Design& design : designs) {
    for (const SectionDesign& section : design.sections) {
      if (std::find(names.begin(), names.end(), section.name) == names.end())
        names.push_back(section.name);
    }
  }
  return Listed(names);
}

class Planner {
 public:
  Planner(const PlanRequest& request, std::span<const Design> designs)
      : request_(request), designs_(designs) {}

  Result<Plan> Make() {
    auto images = FindImages(request_.folder, request_.recursive, request_.results);
    if (!images) return tl::unexpected(images.error());
    std::vector<ManifestRow> rows;
    std::vector<std::string> faults;  // of the rows, "" where there is none
    if (request_.manifest != nullptr) {
      rows = request_.manifest->rows;
      faults.resize(rows.size());
      CompareWithFolder(*images, rows, faults);
      plan_.warnings.insert(plan_.warnings.begin(), request_.manifest->warnings.begin(),
                            request_.manifest->warnings.end());
    } else {
      for (const std::string& image : *images) {
        // Without a manifest a file that is still being written is not there yet.
        if (request_.whole && !request_.whole(PathOf(image))) continue;
        auto row = RowOfName(image);
        faults.push_back(row ? "" : row.error().message);
        rows.push_back(row ? std::move(*row) : ManifestRow{});
        rows.back().image = image;
      }
    }
    std::vector<std::string> names;
    for (const ManifestRow& row : rows) names.push_back(row.image);
    const std::vector<std::string> stems = OutputStems(names);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      auto face = FaceOf(rows[i], faults[i]);
      if (!face) return tl::unexpected(face.error());
      face->stem = stems[i];
      plan_.faces.push_back(std::move(*face));
    }
    return std::move(plan_);
  }

 private:
  std::string PathOf(const std::string& image) const {
    return (fs::path(request_.folder) / image).string();
  }

  Result<ManifestRow> RowOfName(const std::string& image) const {
    if (request_.pattern != nullptr) return request_.pattern->Match(image, designs_);
    ManifestRow row;
    row.image = image;
    return row;
  }

  void CompareWithFolder(const std::vector<std::string>& images, std::vector<ManifestRow>& rows,
                         std::vector<std::string>& faults) {
    std::set<std::string> named;
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const std::string within = Within(rows[i].image);
      if (within.empty()) {
        faults[i] = fmt::format(
            "row {} of the manifest: image \"{}\" lies outside the folder; put "
            "it there",
            rows[i].line, ForMessage(rows[i].image));
        continue;
      }
      if (!named.insert(within).second) {
        faults[i] = fmt::format("row {} of the manifest: image \"{}\" stands in another row too",
                                rows[i].line, ForMessage(rows[i].image));
        continue;
      }
      rows[i].image = within;
      if (!rows[i].reimage_of.empty()) rows[i].reimage_of = Within(rows[i].reimage_of);
      if (!rows[i].recut_of.empty()) rows[i].recut_of = Within(rows[i].recut_of);
    }
    std::vector<std::string> others;
    for (const std::string& image : images) {
      if (!named.contains(image)) others.push_back(image);
    }
    if (others.empty()) return;
    plan_.warnings.push_back(
        fmt::format("{} {} of the folder {} not in the manifest and {} left out: {}", others.size(),
                    others.size() == 1 ? "picture" : "pictures", others.size() == 1 ? "is" : "are",
                    others.size() == 1 ? "is" : "are", Listed(others)));
  }

  Result<PlannedFace> FaceOf(const ManifestRow& row, const std::string& fault) const {
    PlannedFace face;
    face.path = PathOf(row.image);
    face.objective = row.objective;
    face.calibration = row.calibration;
    FaceEntry& entry = face.entry;
    entry.image = row.image;
    entry.part = row.part;
    entry.revision = row.revision;
    entry.plane = row.plane;
    entry.sample = row.sample;
    entry.factors = row.factors;
    entry.operator_name = row.operator_name;
    entry.trial = row.trial;
    if (!row.reimage_of.empty() || !row.recut_of.empty()) {
      entry.repeat = row.recut_of.empty() ? RepeatKind::kReimage : RepeatKind::kRecut;
      entry.repeat_of = row.recut_of.empty() ? row.reimage_of : row.recut_of;
    }
    if (!fault.empty()) {
      Hold(face, FaceState::kWaiting, Code::kUsage, fault);
      return face;
    }
    if (auto status = ChoosePlane(row, face); !status) return tl::unexpected(status.error());
    std::error_code ignored;
    if (!IsUtf8(entry.image)) {
      Hold(face, FaceState::kWaiting, Code::kUsage, "the name is no UTF-8 text; rename the file");
    } else if (!fs::exists(face.path, ignored)) {
      Hold(face, FaceState::kWaiting, Code::kFileMissing,
           fmt::format("{}: there is no such picture; check the manifest", face.path));
    } else if (request_.whole && !request_.whole(face.path)) {
      Hold(face, FaceState::kWaiting, Code::kFileMissing,
           fmt::format("{}: is still being written", face.path));
    } else if (entry.code.empty()) {
      face.propose = entry.plane.empty();
      face.ready = !face.propose;
    }
    return face;
  }

  // The drawing of the face's part. A part that is named must be the drawing's.
  const Design* DesignOf(const ManifestRow& row, PlannedFace& face) const {
    std::vector<const Design*> fitting;
    std::string known;
    for (const Design& design : designs_) {
      known +=
          fmt::format("{}{} {}", known.empty() ? "" : ", ", design.part_number, design.revision);
      if (!row.part.empty() && row.part != design.part_number) continue;
      if (!row.revision.empty() && row.revision != design.revision) continue;
      fitting.push_back(&design);
    }
    if (fitting.size() == 1) return fitting.front();
    const std::string part =
        row.part.empty() && row.revision.empty()
            ? "no part is named"
            : fmt::format("part {}{}{}", row.part, row.revision.empty() ? "" : " revision ",
                          row.revision);
    Hold(face, FaceState::kRejected, Code::kDesignMismatch,
         fitting.empty()
             ? fmt::format("{}: {} has no drawing in this call, which has: {}", row.image, part,
                           known)
             : fmt::format("{}: {} and {} drawings could be meant; name part and revision: {}",
                           row.image, part, fitting.size(), known));
    return nullptr;
  }

  Status ChoosePlane(const ManifestRow& row, PlannedFace& face) const {
    FaceEntry& entry = face.entry;
    if (!request_.section.empty() && !entry.plane.empty() && entry.plane != request_.section) {
      return Fail(
          Code::kUsage,
          fmt::format("{}: {} has plane {}, the call says --section {}; leave the option "
                      "out or put the manifest right",
                      row.image, row.line > 0 ? fmt::format("row {}", row.line) : "the name",
                      entry.plane, request_.section));
    }
    if (entry.plane.empty()) entry.plane = request_.section;
    face.design = DesignOf(row, face);
    if (face.design == nullptr) return {};
    entry.part = face.design->part_number;
    entry.revision = face.design->revision;
    if (entry.plane.empty() && face.design->sections.size() == 1)
      entry.plane = face.design->sections.front().name;
    if (entry.plane.empty() || face.design->FindSection(entry.plane) != nullptr) return {};
    std::vector<std::string_view> known;
    for (const SectionDesign& section : face.design->sections) known.push_back(section.name);
    const std::string near = NearestWord(entry.plane, known);
    const std::string text = fmt::format(
        "{}: the drawing of {} has no section \"{}\"{}; its sections: {}", row.image, entry.part,
        ForMessage(entry.plane), near.empty() ? "" : fmt::format(", perhaps \"{}\"", near),
        SectionsOf({face.design, 1}));
    if (!request_.section.empty() && row.plane.empty()) return Fail(Code::kNotFound, text);
    Hold(face, FaceState::kRejected, Code::kNotFound, text);
    return {};
  }

  const PlanRequest& request_;
  std::span<const Design> designs_;
  Plan plan_;
};

}  // namespace

Result<Plan> MakePlan(const PlanRequest& request, std::span<const Design> designs) {
  return Planner(request, designs).Make();
}

}  // namespace cutface
