// Drawing a nominal in the window: what starts a draft, what changes it, and the live rows.
#include <filesystem>

#include "gui/state/app.h"

namespace cutface::window {

bool App::DoNominal(const Intent& intent) {
  switch (intent.what) {
    case Do::kNominalSurvey:
      StartNominal(/*survey=*/true);
      return true;
    case Do::kNominalOpen:
      StartNominal(/*survey=*/false);
      return true;
    case Do::kNominalTyped:
      CheckNominal(nominal_);
      TryAgain();
      return true;
    case Do::kNominalPlane:
      nominal_.plane = intent.text;
      TryAgain();
      return true;
    case Do::kNominalChoose:
      nominal_feature_ = intent.text;
      return true;
    case Do::kNominalMove:
      if (nominal_.measured) {
        nominal_feature_ = intent.text;
        const PointUm from = ToDrawing(*nominal_.measured, intent.from);
        MoveShape(nominal_, intent.text, ToDrawing(*nominal_.measured, intent.at) - from);
      }
      return true;
    case Do::kNominalResize:
      if (nominal_.measured)
        ResizeShape(nominal_, nominal_feature_, intent.number,
                    ToDrawing(*nominal_.measured, intent.at));
      return true;
    case Do::kNominalSize:
      if (auto status = TypeSize(nominal_, nominal_feature_, intent.text, intent.more); !status)
        Tell(status.error().message, true);
      else
        TryAgain();
      return true;
    case Do::kNominalMoved:
      TryAgain();
      return true;
    case Do::kNominalRow: {
      const NominalPanel& panel = panels_.nominal;
      const auto i = static_cast<std::size_t>(intent.number);
      if (i < panel.offers.size() && AddRow(nominal_, panel.offers[i].of, panel.offers[i].quantity))
        TryAgain();
      return true;
    }
    case Do::kNominalSave:
      SaveNominal(intent.text, intent.number == 1);
      return true;
    default:
      return false;
  }
}

void App::StartNominal(bool survey) {
  const Sample* sample = current();
  if (sample == nullptr || !sample->picture) return Tell("open a picture of the face first", true);
  if (sample->order.calibration.empty())
    return Tell("choose the calibration record of the bench on the page Sample first", true);
  if (!survey) {
    auto text = ReadTextFile(form.design);
    if (!text) return Tell(text.error().message, true);
    nominal_ = {};
    nominal_.text = std::move(*text);
    nominal_.plane = form.section;
    nominal_.measured = sample->measured;
    CheckNominal(nominal_);
    return TryAgain();
  }
  background_.Start("making a draft of what is there",
                    [this, picture = sample->picture,
                     order = sample->order](const Progress& progress) -> Background::Outcome {
                      auto nominal = SurveyNominal(*picture, order, progress);
                      return [this, nominal = std::move(nominal)] {
                        Changed();
                        if (!nominal) return Tell(nominal.error().message, true);
                        nominal_ = *nominal;
                        TryAgain();
                      };
                    });
}

// The picture measured against the text as it stands; what was begun for an earlier text is
// dropped.
void App::TryAgain() {
  const Sample* sample = current();
  Changed();
  if (sample == nullptr || !sample->picture || !nominal_.design || !nominal_.error.empty()) return;
  background_.Start("measuring against the draft",
                    [this, turn = ++nominal_turn_, picture = sample->picture, order = sample->order,
                     design = nominal_.design,
                     plane = nominal_.plane](const Progress& progress) -> Background::Outcome {
                      if (turn != nominal_turn_.load()) return {};
                      auto measured = TryNominal(*picture, order, *design, plane, progress);
                      return [this, turn, measured = std::move(measured)] {
                        if (turn != nominal_turn_.load()) return;
                        Changed();
                        if (!measured) return Tell(measured.error().message, true);
                        nominal_.measured = std::make_shared<const Measured>(*measured);
                        nominal_.measured_is_old = false;
                      };
                    });
}

// A file that is there is replaced only when a person said so; the text must be sound.
void App::SaveNominal(const std::string& path, bool replace) {
  nominal_replaces_.clear();
  if (!nominal_.error.empty()) return Tell("not saved: " + nominal_.error, true);
  if (!path.ends_with(".design.json"))
    return Tell(path + ": a drawing's name ends in .design.json", true);
  std::error_code ignored;
  if (!replace && std::filesystem::exists(path, ignored)) {
    nominal_replaces_ = path;
    return Tell("not saved yet: " + path + " is there already", true);
  }
  if (auto status = WriteWhole(path, nominal_.text); !status)
    return Tell("not saved: " + status.error().message, true);
  form.design = path;
  form.section = nominal_.plane;
  TakeOrder();
  Tell("saved as " + path);
}

std::vector<Mark> App::FaceMarks() const {
  if (room_ == Room::kNominal) return NominalMarks(nominal_, nominal_feature_);
  const Measured* measured = FaceMeasured();
  return measured != nullptr ? measured->marks : std::vector<Mark>{};
}

const Measured* App::FaceMeasured() const {
  if (room_ == Room::kNominal) return nominal_.measured.get();
  const Sample* sample = current();
  return sample != nullptr ? sample->measured.get() : nullptr;
}

}  // namespace cutface::window
