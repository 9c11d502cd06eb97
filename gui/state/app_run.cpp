// The run: a folder loaded or measured, and what is chosen in it.
#include <algorithm>

#include "gui/state/app.h"

namespace cutface::window {

bool App::DoRun(const Intent& intent) {
  switch (intent.what) {
    case Do::kShowRoom:
      room_ = static_cast<Room>(intent.number);
      ClearAsk();
      if (bench_form.by.empty()) bench_form.by = form.inspector;
      return true;
    case Do::kRunForm:
      settings_.run_pictures = run_form.pictures;
      settings_.run_results = run_form.results;
      Remember();
      return true;
    case Do::kRunMeasure:
      MeasureFolder();
      return true;
    case Do::kRunLoad:
      LoadRunFrom(intent.text);
      return true;
    case Do::kRunPlane:
      run_panel_.reset();
      run_choice_ = {intent.text, "", run_choice_.by_station, -1, run_choice_.question};
      return true;
    case Do::kRunColumn:
      run_panel_.reset();
      run_choice_.no = run_choice_.no == intent.text ? "" : intent.text;
      return true;
    case Do::kRunByStation:
      run_panel_.reset();
      run_choice_.by_station = !run_choice_.by_station;
      return true;
    case Do::kRunQuestion:
      run_panel_.reset();
      run_choice_.question = intent.text;
      return true;
    case Do::kRunFace:
      run_panel_.reset();
      run_choice_.face = intent.number;
      return true;
    case Do::kRunOpenFace:
      OpenRunFace(intent.number, intent.text);
      return true;
    default:
      return false;
  }
}

RunOrder App::FullRunOrder() const {
  RunOrder order = run_form;
  order.design = form.design;
  order.section = form.section;
  order.calibration = form.calibration;
  order.inspector = form.inspector;
  return order;
}

void App::TakeRun(RunData run) {
  if (run_ == nullptr || run_->folder != run.folder) run_choice_ = {};
  run_ = std::make_shared<const RunData>(std::move(run));
  run_panel_.reset();
  Changed();
}

void App::LoadRunFrom(const std::string& place) {
  background_.Start(
      "reading the run",
      [this, place, design = form.design](const Progress& progress) -> Background::Outcome {
        auto run = LoadRun(place, design, progress);
        return [this, place, run = std::move(run)] {
          Changed();
          if (!run) return Tell(run.error().message, true);
          run_form.results = settings_.run_results = run->folder;
          if (run_form.pictures.empty()) run_form.pictures = run->roster.folder;
          Remember();
          TakeRun(*run);
          Tell("");
        };
      });
}

void App::MeasureFolder() {
  const RunOrder order = FullRunOrder();
  if (const std::string missing = order.Missing(); !missing.empty())
    return Tell("choose " + missing, true);
  background_.Start("measuring the folder",
                    [this, order](const Progress& progress) -> Background::Outcome {
                      // Faces appear as they are done.
                      auto end = MeasureRun(
                          order,
                          [this](const FaceEntry& entry) {
                            background_.Post([this, entry] { FaceOfRunIsDone(entry); });
                          },
                          progress);
                      std::shared_ptr<const RunData> run;
                      if (end) {
                        if (auto loaded = LoadRun(order.results, order.design))
                          run = std::make_shared<const RunData>(std::move(*loaded));
                      }
                      return [this, end, run] {
                        Changed();
                        if (!end) return Tell(end.error().message, true);
                        if (run) TakeRun(*run);
                        Tell((end->stopped ? "stopped; " : "") + std::to_string(end->measured) +
                             " measured anew, of " + std::to_string(end->of));
                      };
                    });
}

// Until the whole run is read back: what is done so far.
void App::FaceOfRunIsDone(const FaceEntry& entry) {
  RunData run;
  if (run_ && run_->folder == run_form.results && !run_->has_roster) run = *run_;
  run.folder = run_form.results;
  if (run.designs.empty()) {
    if (auto design = ReadDesign(form.design)) run.designs.push_back(std::move(*design));
  }
  run.faces.push_back(ReadRunFace(entry, run.folder, run.designs));
  run.counts = std::to_string(run.faces.size()) + " done so far";
  TakeRun(std::move(run));
}

void App::OpenRunFace(int index, const std::string& row) {
  if (!run_ || index < 0 || static_cast<std::size_t>(index) >= run_->faces.size()) return;
  const RunFace& face = run_->faces[static_cast<std::size_t>(index)];
  if (face.path.empty()) return Tell(face.Name() + ": has no result; " + face.trouble, true);
  const auto open = std::find_if(samples_.begin(), samples_.end(),
                                 [&](const auto& sample) { return sample->saved_as == face.path; });
  if (open != samples_.end())
    Show((*open)->id);
  else
    OpenResult(face.path, {run_->roster.folder});
  room_ = Room::kFace;
  page_ = Page::kRows;
  if (!row.empty()) ChooseRow(row);
}

}  // namespace cutface::window
