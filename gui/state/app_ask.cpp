// Asking the face: the clicks, the answer in the background, and what is kept.
#include <algorithm>

#include "cutface/picture.h"
#include "gui/state/app.h"

namespace cutface::window {

bool App::DoAsk(const Intent& intent) {
  switch (intent.what) {
    case Do::kAskPoint:
      AskPoint(intent.text, intent.at);
      return true;
    case Do::kAskTurn:
      pointed_.Turn(static_cast<std::size_t>(intent.number));
      Ask();
      return true;
    case Do::kAskClear:
      ClearAsk();
      return true;
    case Do::kAskKeep:
      KeepAsked(intent.number);
      return true;
    case Do::kAskDrop:
      DropAsked(intent.number);
      return true;
    case Do::kAskShow:
      ShowAsked(intent.number, /*kept=*/false);
      return true;
    case Do::kAskShowKept:
      ShowAsked(intent.number, /*kept=*/true);
      return true;
    default:
      return false;
  }
}

void App::ClearAsk() {
  pointed_.Clear();
  asked_.clear();
  asked_trouble_.clear();
  asked_open_ = kept_open_ = -1;
  ++asked_turn_;
  ClearChoice();
}

void App::AskPoint(const std::string& feature, PointPx at) {
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured) return;
  if (!sample->measured->ready)
    return Tell("this result was read from a file; measure the picture again, then ask", true);
  if (!AskedStretch(sample->measured->result.section, {feature})) {
    return Tell(feature + " is no edge that can be asked about", true);
  }
  pointed_.Point(feature, sample->measured->scale.ToUm(at));
  Tell("");
  Ask();
}

void App::Ask() {
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured || pointed_.empty()) return;
  asked_.clear();
  asked_trouble_.clear();
  asked_open_ = kept_open_ = -1;
  ClearChoice();
  const std::vector<AskedEdge> edges = pointed_.Edges();
  ShowEdges(edges);
  background_.Start("asking the face",
                    [this, edges, turn = ++asked_turn_,
                     measured = sample->measured](const Progress&) -> Background::Outcome {
                      auto figures = AskEdges(measured->result.section, measured->scale, edges,
                                              measured->ready->options.measure);
                      return [this, turn, figures = std::move(figures)] {
                        if (turn != asked_turn_) return;  // something else was asked meanwhile
                        Changed();
                        if (!figures) {
                          asked_trouble_ = figures.error().message;
                          return;
                        }
                        asked_ = *figures;
                        ShowAsked(0, /*kept=*/false);
                      };
                    });
}

// The asked stretches, thick on the face.
void App::ShowEdges(const std::vector<AskedEdge>& edges) {
  const Measured& measured = *current()->measured;
  chosen_.stretches.clear();
  for (const AskedEdge& edge : edges) {
    if (const auto line = AskedStretch(measured.result.section, edge))
      chosen_.stretches.push_back(measured.scale.ToPx(*line));
  }
}

void App::ShowAsked(int index, bool kept) {
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured || index < 0) return;
  const auto i = static_cast<std::size_t>(index);
  const std::vector<AskedFigure>& all = sample->measured->result.asked;
  if (i >= (kept ? all.size() : asked_.size())) return;
  const Measurement& m = kept ? all[i].figure : asked_[i];
  chosen_ = {};
  ShowEdges(kept ? all[i].edges : pointed_.Edges());
  asked_open_ = kept ? -1 : index;
  kept_open_ = kept ? index : -1;
  if (m.state == Measurement::State::kMeasured) SetPlaces(m.at, FormatValue(m, units()));
}

// One figure, or (below 0) all that were measured.
void App::KeepAsked(int index) {
  Sample* sample = FindSample(current_);
  if (sample == nullptr || !sample->measured || asked_.empty()) return;
  if (form.inspector.empty()) {
    page_ = Page::kSample;
    return Tell("give the inspector's name first: it is written beside what was asked", true);
  }
  std::vector<AskedFigure> asked = sample->measured->result.asked;
  for (std::size_t i = 0; i < asked_.size(); ++i) {
    if (index >= 0 && i != static_cast<std::size_t>(index)) continue;
    if (asked_[i].state != Measurement::State::kMeasured) continue;
    asked.push_back({pointed_.Edges(), asked_[i], form.inspector, NowUtc()});
  }
  SetAsked(*sample, std::move(asked));
  ClearAsk();
  Tell("kept with the result");
}

void App::DropAsked(int index) {
  Sample* sample = FindSample(current_);
  if (sample == nullptr || !sample->measured) return;
  std::vector<AskedFigure> asked = sample->measured->result.asked;
  if (index < 0 || static_cast<std::size_t>(index) >= asked.size()) return;
  asked.erase(asked.begin() + index);
  SetAsked(*sample, std::move(asked));
  ClearAsk();
}

// What is asked changes no other number; a correction asks again.
void App::SetAsked(Sample& sample, std::vector<AskedFigure> asked) {
  auto measured = std::make_shared<Measured>(*sample.measured);
  measured->found.asked = asked;
  measured->result.asked = std::move(asked);
  sample.measured = std::move(measured);
  sample.unsaved = true;
  ++sample.revision;
  KeepUnsaved(sample);
  Changed();
}

}  // namespace cutface::window
