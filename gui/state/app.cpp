#include "gui/state/app.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>

#include "cutface/picture.h"
#include "cutface/quantity.h"
#include "gui/state/plain_words.h"

namespace cutface::window {
namespace {

namespace fs = std::filesystem;

std::string Absolute(const std::string& path) {
  std::error_code error;
  const fs::path absolute = fs::absolute(path, error);
  return error ? path : absolute.lexically_normal().string();
}

std::string UnsavedFolder(const std::string& settings_path) {
  return settings_path.empty() ? "" : (fs::path(settings_path).parent_path() / "unsaved").string();
}

}  // namespace

App::App(Settings settings, std::string settings_path, std::function<void()> wake)
    : settings_(std::move(settings)),
      settings_path_(std::move(settings_path)),
      keeper_(std::make_shared<Keeper>(UnsavedFolder(settings_path_))),
      background_(std::move(wake)) {
  defaults_.design = settings_.design;
  defaults_.section = settings_.section;
  defaults_.calibration = settings_.calibration;
  defaults_.out = settings_.out;
  defaults_.inspector = settings_.inspector;
  defaults_.sample.lot = settings_.lot;
  defaults_.sample.block = settings_.block;
  form = defaults_;
  sign_form.store = settings_.records;
  bench_form.by = settings_.inspector;
  run_form.pictures = settings_.run_pictures;
  run_form.results = settings_.run_results;
  LookForLeftBehind(UnsavedFolder(settings_path_));
  Rebuild();
}

App::~App() { background_.Cancel(); }

void App::Start(const Order& order, const std::vector<std::string>& paths) {
  const auto take = [](std::string& to, const std::string& from) {
    if (!from.empty()) to = from;
  };
  take(defaults_.design, order.design.empty() ? "" : Absolute(order.design));
  if (!order.design.empty()) defaults_.section = order.section;
  take(defaults_.section, order.section);
  take(defaults_.calibration, order.calibration.empty() ? "" : Absolute(order.calibration));
  take(defaults_.out, order.out);
  take(defaults_.inspector, order.inspector);
  const SampleIdentity remembered = defaults_.sample;
  defaults_.sample = order.sample;
  if (defaults_.sample.lot.empty()) defaults_.sample.lot = remembered.lot;
  if (defaults_.sample.block.empty()) defaults_.sample.block = remembered.block;
  form = defaults_;
  for (const std::string& path : paths) OpenPath(path);
  // The serial names one sample; the next one in the tray has its own.
  defaults_.sample.serial.clear();
  defaults_.sample.taken.clear();
  Changed();
  Rebuild();
}

const Sample* App::current() const {
  for (const auto& sample : samples_)
    if (sample->id == current_) return sample.get();
  return nullptr;
}

Sample* App::FindSample(int id) {
  for (const auto& sample : samples_)
    if (sample->id == id) return sample.get();
  return nullptr;
}

LengthUnit App::units() const {
  if (settings_.units) return *settings_.units;
  const Sample* sample = current();
  return sample != nullptr && sample->measured ? sample->measured->result.units
                                               : LengthUnit::kMillimetre;
}

void App::OpenPath(const std::string& path) {
  switch (KindOf(path)) {
    case FileKind::kPicture:
      if (room_ == Room::kBench) {
        bench_form.pictures.push_back(Absolute(path));
        bench_outcome_.reset();
        break;
      }
      OpenPicture(path);
      break;
    case FileKind::kResult:
      OpenResult(path);
      break;
    case FileKind::kDesign:
      defaults_.design = form.design = Absolute(path);
      form.section.clear();
      TakeOrder();
      break;
    case FileKind::kCalibration:
      defaults_.calibration = form.calibration = Absolute(path);
      TakeOrder();
      break;
    case FileKind::kRun:
      room_ = Room::kRun;
      LoadRunFrom(Absolute(path));
      break;
    case FileKind::kFolder:
      Tell(path + ": is no picture, drawing, calibration record or result; open one of these",
           true);
      break;
  }
}

void App::OpenPicture(const std::string& path) {
  auto sample = std::make_unique<Sample>();
  sample->id = next_id_++;
  sample->order = defaults_;
  sample->order.image = path;
  const int id = sample->id;
  samples_.push_back(std::move(sample));
  settings_.AddRecent(Absolute(path));
  Remember();
  LoadInto(id);
  Show(id);
}

void App::OpenResult(const std::string& path, const std::vector<std::string>& folders) {
  auto reopened = ReopenResult(path, folders);
  if (!reopened) return Tell(reopened.error().message, true);
  auto sample = std::make_unique<Sample>();
  sample->id = next_id_++;
  sample->order = reopened->order;
  sample->order.design = defaults_.design;
  sample->order.calibration = defaults_.calibration;
  sample->stage = Stage::kMeasured;
  sample->corrections = std::move(reopened->corrections);
  sample->saved_as = path;
  sample->measured = std::make_shared<const Measured>(std::move(reopened->measured));
  const int id = sample->id;
  const bool has_picture = !reopened->picture.empty();
  samples_.push_back(std::move(sample));
  settings_.AddRecent(Absolute(path));
  Remember();
  if (has_picture) {
    LoadInto(id);
  } else {
    Tell("the picture does not lie beside the result; contours and values are shown without it");
  }
  ReadSignatures(id);
  Show(id);
}

void App::LoadInto(int id) {
  const std::string path = FindSample(id)->order.image;
  background_.Start(
      "opening " + fs::path(path).filename().string(),
      [this, id, path](const Progress& progress) -> Background::Outcome {
        auto picture = LoadPicture(path, progress);
        return [this, id, picture = std::move(picture)] {
          Sample* sample = FindSample(id);
          if (sample == nullptr) return;
          Changed();
          if (!picture) {
            sample->error = picture.error();
            sample->stage = Stage::kFailed;
            return;
          }
          sample->picture = picture->micrograph;
          sample->tiles = picture->tiles;
          sample->range = picture->range;
          const Box<FramePx> all{{0, 0},
                                 {1.0 * picture->tiles->width(), 1.0 * picture->tiles->height()}};
          const bool reopened = sample->measured != nullptr;
          sample->thumbnail =
              sample->tiles->Thumbnail(reopened ? sample->measured->face : all, 96, sample->range);
          if (id == current_) goto_ = {true, false, reopened ? sample->measured->face : all};
          if (reopened) return;
          sample->stage = Stage::kShown;
          if (sample->order.Missing().empty()) Measure(id);
        };
      });
}

void App::Measure(int id) {
  Sample* sample = FindSample(id);
  if (sample == nullptr || !sample->picture || !sample->order.Missing().empty()) return;
  sample->stage = Stage::kMeasuring;
  sample->error.reset();
  Changed();
  background_.Start("measuring " + sample->Name(),
                    [this, id, picture = sample->picture,
                     order = sample->order](const Progress& progress) -> Background::Outcome {
                      auto measured = MeasureSample(*picture, order, progress);
                      return [this, id, measured = std::move(measured)] {
                        Sample* now = FindSample(id);
                        if (now == nullptr) return;
                        Changed();
                        now->out_of_date = false;
                        if (!measured) {
                          const bool stopped = measured.error().code == Code::kCancelled;
                          now->stage = stopped ? (now->measured ? Stage::kMeasured : Stage::kShown)
                                               : Stage::kFailed;
                          if (stopped)
                            Tell("stopped; nothing was changed");
                          else
                            now->error = measured.error();
                          return;
                        }
                        now->measured = std::make_shared<const Measured>(*measured);
                        now->stage = Stage::kMeasured;
                        now->corrections.clear();
                        now->undone.clear();
                        now->unsaved = true;
                        now->saved_as.clear();
                        now->signed_state = {};
                        LetUnsavedGo(id);
                        ++now->revision;
                        now->thumbnail = now->tiles->Thumbnail(now->measured->face, 96, now->range);
                        if (id == current_) {
                          goto_ = {true, false, now->measured->face};
                          ClearAsk();
                        }
                        if (now->to_restore) Restore(id);
                      };
                    });
}

void App::Correct(int id, std::vector<Correction> corrections, std::vector<Correction> undone) {
  Sample* sample = FindSample(id);
  if (sample == nullptr || !sample->measured || !sample->picture) return;
  background_.Start(
      "measuring again",
      [this, id, picture = sample->picture, before = sample->measured,
       corrections = std::move(corrections),
       undone = std::move(undone)](const Progress& progress) -> Background::Outcome {
        auto after = CorrectSample(*picture, *before, corrections, progress);
        return [this, id, corrections, undone, after = std::move(after)] {
          Sample* now = FindSample(id);
          if (now == nullptr) return;
          Changed();
          if (!after) {
            Tell("not changed: " + after.error().message, true);
            return;
          }
          now->measured = std::make_shared<const Measured>(*after);
          now->corrections = corrections;
          now->undone = undone;
          now->unsaved = true;
          ++now->revision;
          KeepUnsaved(*now);
          ClearAsk();
          Tell(corrections.empty() ? "as it was found" : now->measured->result.edits.back());
        };
      });
}

void App::Save(int id) {
  Sample* sample = FindSample(id);
  if (sample == nullptr || !sample->measured || !sample->picture)
    return Tell("there is nothing to save yet", true);
  if (sample->out_of_date || sample->stage != Stage::kMeasured)
    return Tell("not saved: measure again first", true);
  if (sample->order.inspector.empty()) {
    page_ = Page::kSample;
    return Tell("not saved: give the inspector's name first", true);
  }
  background_.Start("saving",
                    [this, id, picture = sample->picture, measured = sample->measured,
                     order = sample->order](const Progress&) -> Background::Outcome {
                      auto path = SaveSample(*picture, *measured, order);
                      return [this, id, measured, path = std::move(path)] {
                        Sample* now = FindSample(id);
                        Changed();
                        if (!path) return Tell("not saved: " + path.error().message, true);
                        if (now != nullptr) {
                          now->saved_as = *path;
                          if (now->measured == measured) {
                            now->unsaved = false;
                            LetUnsavedGo(id);
                          }
                          ReadSignatures(id);
                        }
                        Tell("saved as " + *path);
                      };
                    });
}

void App::Show(int id) {
  Sample* sample = FindSample(id);
  if (sample == nullptr) return;
  current_ = id;
  room_ = Room::kFace;
  form = sample->order;
  ClearAsk();
  draft_ = {};
  if (sample->tiles) {
    const Box<FramePx> all{{0, 0}, {1.0 * sample->tiles->width(), 1.0 * sample->tiles->height()}};
    goto_ = {true, false, sample->measured ? sample->measured->face : all};
  } else if (sample->measured) {
    goto_ = {true, false, sample->measured->face};
  }
  Changed();
}

void App::Close(int id) {
  const Sample* sample = FindSample(id);
  if (sample == nullptr) return;
  if (sample->unsaved && notice_ != "not saved yet: close once more to let it go") {
    return Tell("not saved yet: close once more to let it go", true);
  }
  LetUnsavedGo(id);
  std::erase_if(samples_, [&](const auto& s) { return s->id == id; });
  if (current_ == id) {
    current_ = 0;
    ClearChoice();
    if (!samples_.empty()) Show(samples_.back()->id);
  }
  Tell("");
}

// The form is the current sample's order and what the next picture starts from.
void App::TakeOrder() {
  const SampleIdentity identity = form.sample;
  defaults_ = form;
  defaults_.image.clear();
  defaults_.accept_overdue = defaults_.accept_scale_mismatch = false;
  defaults_.sample = {};
  defaults_.sample.lot = identity.lot;
  defaults_.sample.block = identity.block;
  settings_.design = form.design;
  settings_.section = form.section;
  settings_.calibration = form.calibration;
  settings_.out = form.out;
  settings_.inspector = form.inspector;
  settings_.lot = identity.lot;
  settings_.block = identity.block;
  Remember();
  Changed();
  Sample* sample = FindSample(current_);
  if (sample == nullptr) return;
  const Order before = sample->order;
  form.image = before.image;
  sample->order = form;
  const bool other = before.design != form.design || before.section != form.section ||
                     before.calibration != form.calibration ||
                     before.sample.taken != form.sample.taken ||
                     before.accept_overdue != form.accept_overdue ||
                     before.accept_scale_mismatch != form.accept_scale_mismatch;
  if (other && sample->picture) {
    sample->out_of_date = sample->measured != nullptr;
    if (form.Missing().empty()) Measure(current_);
  } else if (sample->measured) {
    // Identity changes no number.
    auto named = std::make_shared<Measured>(*sample->measured);
    const SampleIdentity old = named->result.sample;
    named->result.sample = form.sample;
    if (named->result.sample.taken.empty()) named->result.sample.taken = old.taken;
    if (!named->result.sample.station_mm) named->result.sample.station_mm = old.station_mm;
    named->result.inspector = form.inspector;
    sample->measured = std::move(named);
    sample->unsaved = true;
    KeepUnsaved(*sample);
  }
}

void App::Remember() {
  if (auto status = WriteSettings(settings_path_, settings_); !status)
    Tell("settings could not be kept: " + status.error().message, true);
}

void App::Tell(std::string text, bool is_error) {
  notice_ = InWindowWords(std::move(text));
  notice_is_error_ = is_error;
  Changed();
}

bool App::TakeOutcomes() {
  const bool some = background_.TakeOutcomes();
  if (built_ != revision_) Rebuild();
  return some;
}

void App::WaitUntilIdle() {
  do {
    background_.WaitUntilIdle();
  } while (TakeOutcomes() || background_.state().busy);
}

App::Goto App::TakeGoto() {
  const Goto taken = goto_;
  goto_ = {};
  return taken;
}

std::string App::PointerText(PointPx p) const {
  const Sample* sample = current();
  if (sample == nullptr || !sample->picture) return "";
  const Micrograph& picture = *sample->picture;
  const int x = static_cast<int>(std::lround(p.x)), y = static_cast<int>(std::lround(p.y));
  if (x < 0 || y < 0 || x >= picture.width() || y >= picture.height()) return "";
  const double tone = picture.At(x, y) * (picture.bits <= 8 ? 255.0 : picture.full_scale());
  if (!sample->measured) return fmt::format("{}, {} px   tone {:.0f}", x, y, tone);
  const Measured& m = *sample->measured;
  const PointUm um = m.scale.ToUm(p), d = m.frame.FromPicture(um);
  return fmt::format("x {}   y {}   from the centre {}   {}   tone {:.0f}",
                     Format(d.x, "um", units(), false), Format(-d.y, "um", units(), false),
                     Format(Norm(d), "um", units()), ClockText(m.frame.ClockDeg(um)), tone);
}

bool App::edges_locked() const {
  const Sample* sample = current();
  return sample != nullptr && sample->measured && sample->measured->design.method_locked;
}

std::vector<std::string> App::WordsFor(Correction::Kind kind) const {
  std::vector<std::string> words;
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured) return words;
  const Section& section = sample->measured->result.section;
  if (kind == Correction::Kind::kSayWhat || kind == Correction::Kind::kAdd) {
    for (int k = 0; k <= static_cast<int>(VoidClass::kDoubtful); ++k)
      words.emplace_back(VoidClassName(static_cast<VoidClass>(k)));
  }
  if (kind == Correction::Kind::kAdd) {
    for (const LumenTrace& lumen : section.lumens)
      if (lumen.state == LumenState::kNotFound) words.push_back(lumen.Key());
  }
  if (kind == Correction::Kind::kRename) {
    for (const LumenTrace& lumen : section.lumens)
      words.insert(words.end(), lumen.names.begin(), lumen.names.end());
  }
  if (kind == Correction::Kind::kDispose)
    words = {"accept", "recut", "rework", "scrap", "concession"};
  return words;
}

}  // namespace cutface::window
