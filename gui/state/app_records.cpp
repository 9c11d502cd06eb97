// What outlives the window: signatures in the store of records, marked pictures, and work that was
// not saved.
#include <algorithm>
#include <filesystem>

#include "gui/state/app.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

std::string MarkedPath(const Sample& sample) {
  const std::string folder = sample.order.out.empty() ? "." : sample.order.out;
  return (fs::path(folder) / (fs::path(sample.order.image).stem().string() + ".marked.svg"))
      .string();
}

}  // namespace

bool App::DoRecords(const Intent& intent) {
  switch (intent.what) {
    case Do::kSignForm:
      settings_.records = sign_form.store;
      Remember();
      if (const Sample* sample = current(); sample != nullptr) ReadSignatures(sample->id);
      return true;
    case Do::kSign:
      Sign();
      return true;
    case Do::kPicture:
      ExportMarked(intent.text);
      return true;
    case Do::kRecover:
      Recover(intent.number == 1);
      return true;
    default:
      return false;
  }
}

void App::BuildSign() {
  const Sample* sample = current();
  SignPanel& panel = panels_.sign;
  if (sample == nullptr || !sample->measured) {
    panel.hindrance = "Measure a sample first.";
    return;
  }
  panels_.picture_path = MarkedPath(*sample);
  panel.about = sample->saved_as;
  panel.state = sample->signed_state;
  panel.store_is_there = store_is_there_;
  if (sample->saved_as.empty() || sample->unsaved)
    panel.hindrance = "Save first: the file is signed, as it lies there.";
  sign_form.decisions.resize(panel.state.open.size());
  if (sign_form.person.empty()) sign_form.person = form.inspector;
}

// In the background: the store may lie far away.
void App::ReadSignatures(int id) {
  const Sample* sample = FindSample(id);
  if (sample == nullptr || sample->saved_as.empty() || settings_.records.empty()) return;
  background_.Start("reading the records",
                    [this, id, store = settings_.records,
                     path = sample->saved_as](const Progress&) -> Background::Outcome {
                      const SignedState state = ReadSigned(store, path);
                      const bool there = StoreIsThere(store);
                      return [this, id, path, state, there] {
                        Changed();
                        store_is_there_ = there;
                        Sample* now = FindSample(id);
                        if (now != nullptr && now->saved_as == path) now->signed_state = state;
                        if (!state.trouble.empty()) Tell(state.trouble, true);
                      };
                    });
}

void App::Sign() {
  const Sample* sample = current();
  if (sample == nullptr || !panels_.sign.hindrance.empty()) return;
  auto passphrase = std::make_shared<Passphrase>(std::move(sign_form.passphrase));
  sign_form.passphrase.clear();
  SignWish wish;
  wish.store = sign_form.store;
  wish.person = sign_form.person;
  if (sign_form.meaning >= 0) wish.meaning = static_cast<SignatureMeaning>(sign_form.meaning);
  wish.start = !StoreIsThere(wish.store);
  if (sign_form.release || wish.start) wish.release = sample->order.design;
  wish.result_path = sample->saved_as;
  wish.beside = {sample->order.image, sample->order.design, sample->order.calibration};
  const std::vector<OpenDecision>& open = sample->signed_state.open;
  for (std::size_t i = 0; i < open.size() && i < sign_form.decisions.size(); ++i) {
    const SignForm::Decision& said = sign_form.decisions[i];
    if (said.what < 0 || !open[i].can_decide) continue;
    Disposition decision;
    decision.what = static_cast<DispositionKind>(said.what);
    if (decision.what == DispositionKind::kConcession) decision.reference = said.reason;
    decision.row = open[i].row;
    decision.finding = open[i].finding;
    decision.reason = said.reason;
    wish.decisions.push_back(std::move(decision));
  }
  background_.Start(
      "signing", [this, wish, passphrase, id = sample->id](const Progress&) -> Background::Outcome {
        const Status status = SignResult(wish, *passphrase);
        const SignedState state = ReadSigned(wish.store, wish.result_path);
        return [this, id, status, state, wish] {
          Changed();
          store_is_there_ = StoreIsThere(wish.store);
          Sample* now = FindSample(id);
          if (now != nullptr && now->saved_as == wish.result_path) now->signed_state = state;
          sign_form.decisions.clear();
          sign_form.release = false;
          if (!status) return Tell("not signed: " + status.error().message, true);
          if (!wish.meaning) return Tell("the decisions are recorded");
          sheet_ = Sheet::kNone;
          Tell("signed as " + std::string(SignatureMeaningName(*wish.meaning)) + " by " +
               wish.person);
        };
      });
}

void App::ExportMarked(const std::string& path) {
  const Sample* sample = current();
  sheet_ = Sheet::kNone;
  if (sample == nullptr || !sample->measured || !sample->picture)
    return Tell("there is no measured picture to write", true);
  background_.Start("drawing the picture",
                    [this, path, picture = sample->picture, measured = sample->measured,
                     order = sample->order](const Progress&) -> Background::Outcome {
                      const Status status = ExportPicture(*picture, *measured, order, path);
                      return [this, path, status] {
                        if (!status) return Tell("no picture: " + status.error().message, true);
                        Tell("picture written as " + path);
                      };
                    });
}

// After every change, so that a kill loses at most the one in the making.
void App::KeepUnsaved(const Sample& sample) {
  if (!sample.measured) return;
  UnsavedWork work{sample.order, sample.measured->result.image_sha256, sample.corrections,
                   sample.measured->result.asked};
  if (work.corrections.empty() && work.asked.empty()) return LetUnsavedGo(sample.id);
  background_.Start("keeping unsaved work",
                    [this, keeper = keeper_, id = sample.id,
                     work = std::move(work)](const Progress&) -> Background::Outcome {
                      const Status status = keeper->Put(id, work);
                      return [this, status] {
                        if (!status) Tell(status.error().message, true);
                      };
                    });
}

void App::LetUnsavedGo(int id) {
  background_.Start("keeping unsaved work", [keeper = keeper_, id](const Progress&) {
    keeper->Drop(id);
    return Background::Outcome{};
  });
}

void App::LookForLeftBehind(const std::string& folder) {
  for (const std::string& file : Keeper::LeftBehind(folder)) {
    const auto text = ReadTextFile(file);
    const auto work = text ? ParseUnsaved(*text, file) : tl::unexpected(text.error());
    if (!work) continue;  // damaged: it can give nothing back, and stays for a person to look at
    const auto counted = [](std::size_t n, const char* one, const char* many) {
      return std::to_string(n) + " " + (n == 1 ? one : many);
    };
    left_behind_.push_back(file);
    left_behind_text_.push_back(fs::path(work->order.image).filename().string() + ": " +
                                counted(work->corrections.size(), "correction", "corrections") +
                                ", " + counted(work->asked.size(), "question", "questions"));
  }
  if (!left_behind_.empty()) sheet_ = Sheet::kRecover;
}

void App::Recover(bool take) {
  sheet_ = Sheet::kNone;
  for (const std::string& file : std::exchange(left_behind_, {})) {
    if (!take) {
      Keeper::Remove(file);
      continue;
    }
    const auto text = ReadTextFile(file);
    auto work = text ? ParseUnsaved(*text, file) : tl::unexpected(text.error());
    if (!work) {
      Tell(work.error().message, true);
      continue;
    }
    auto sample = std::make_unique<Sample>();
    sample->id = next_id_++;
    sample->order = work->order;
    sample->left_behind = file;
    sample->to_restore = std::make_shared<const UnsavedWork>(std::move(*work));
    const int id = sample->id;
    samples_.push_back(std::move(sample));
    LoadInto(id);
    Show(id);
  }
}

void App::Restore(int id) {
  const Sample* sample = FindSample(id);
  background_.Start("taking up unsaved work",
                    [this, id, picture = sample->picture, fresh = sample->measured,
                     work = sample->to_restore](const Progress& progress) -> Background::Outcome {
                      auto restored = RestoreWork(*picture, *fresh, *work, progress);
                      return [this, id, work, restored = std::move(restored)] {
                        Sample* now = FindSample(id);
                        if (now == nullptr) return;
                        Changed();
                        now->to_restore.reset();
                        if (!restored)
                          return Tell("not taken up: " + restored.error().message, true);
                        now->measured = std::make_shared<const Measured>(*restored);
                        now->corrections = work->corrections;
                        now->unsaved = true;
                        ++now->revision;
                        KeepUnsaved(*now);
                        Keeper::Remove(std::exchange(now->left_behind, ""));
                        Tell("unsaved work is taken up again; save it");
                      };
                    });
}

}  // namespace cutface::window
