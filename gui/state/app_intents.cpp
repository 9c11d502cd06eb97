// What intents do, and the panels that follow.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "cutface/picture.h"
#include "gui/state/app.h"
#include "gui/state/plain_words.h"

namespace cutface::window {
namespace {

std::string Prompt(Correction::Kind kind, const std::string& of) {
  switch (kind) {
    case Correction::Kind::kRedraw:
      return "Click along the true edge of " + of + ", from edge to edge. Enter ends the line.";
    case Correction::Kind::kLeaveOut:
      return "Click where the damage of " + of + " begins, along it, and where it ends. Enter.";
    case Correction::Kind::kAdd:
      return "Click around what was missed. Enter closes the line.";
    case Correction::Kind::kSplit:
      return "Click along the septum of " + of + ", from edge to edge. Enter ends the line.";
    case Correction::Kind::kJoin:
      return "Click the region that " + of + " belongs to.";
    default:
      return "";
  }
}

bool TakesPoints(Correction::Kind kind) {
  return kind == Correction::Kind::kRedraw || kind == Correction::Kind::kLeaveOut ||
         kind == Correction::Kind::kAdd || kind == Correction::Kind::kSplit;
}

}  // namespace

void App::Apply(const Intents& intents) {
  for (const Intent& intent : intents) Do_(intent);
  if (built_ != revision_) Rebuild();
}

bool App::DoTray(const Intent& intent) {
  switch (intent.what) {
    case Do::kShowSample:
      Show(intent.number);
      return true;
    case Do::kCloseSample:
      Close(intent.number == 0 ? current_ : intent.number);
      return true;
    case Do::kNextSample: {
      const auto at = std::find_if(samples_.begin(), samples_.end(),
                                   [&](const auto& s) { return s->id == current_; });
      if (at == samples_.end()) return true;
      const auto n = static_cast<std::ptrdiff_t>(samples_.size());
      const std::ptrdiff_t i = (at - samples_.begin() + intent.number + n) % n;
      Show(samples_[static_cast<std::size_t>(i)]->id);
      return true;
    }
    default:
      return false;
  }
}

void App::Do_(const Intent& intent) {
  Changed();
  if (DoTray(intent) || DoChoice(intent) || DoCorrection(intent) || DoView(intent) ||
      DoAsk(intent) || DoRecords(intent) || DoRun(intent) || DoBench(intent) || DoNominal(intent))
    return;
  switch (intent.what) {
    case Do::kOpenSheet:
      sheet_ = static_cast<Sheet>(intent.number);
      if (sheet_ == Sheet::kOpen)
        files_ = ListFolder(settings_.folder.empty() ? "." : settings_.folder);
      if (sheet_ == Sheet::kSign && current() != nullptr) ReadSignatures(current_);
      break;
    case Do::kCloseSheet:
      sheet_ = Sheet::kNone;
      sign_form.passphrase.clear();
      if (draft_.wants_reason) draft_ = {};
      break;
    case Do::kOpenFolder:
      files_ = ListFolder(intent.text);
      if (files_.trouble.empty()) settings_.folder = files_.folder;
      break;
    case Do::kOpenPath:
      sheet_ = Sheet::kNone;
      OpenPath(intent.text);
      break;
    case Do::kOrder:
      TakeOrder();
      break;
    case Do::kMeasure:
      if (const Sample* s = current(); s != nullptr && !s->order.Missing().empty()) {
        page_ = Page::kSample;
        Tell("to measure, choose " + s->order.Missing(), true);
        break;
      }
      Measure(current_);
      break;
    case Do::kStop:
      background_.Cancel();
      for (const auto& sample : samples_) {
        // Those whose job had not begun will hear of nothing.
        if (sample->stage == Stage::kMeasuring)
          sample->stage = sample->measured ? Stage::kMeasured : Stage::kShown;
        if (sample->stage == Stage::kReading && !background_.state().busy) {
          sample->stage = Stage::kFailed;
          sample->error = Error{Code::kCancelled, "stopped; open it again"};
        }
      }
      break;
    case Do::kAcceptScale: {
      const Sample* sample = current();
      if (sample == nullptr || !sample->error) break;
      if (form.inspector.empty()) {
        page_ = Page::kSample;
        Tell("give the inspector's name first: it is recorded with the acceptance", true);
        break;
      }
      (sample->error->code == Code::kCalibrationOverdue ? form.accept_overdue
                                                        : form.accept_scale_mismatch) = true;
      TakeOrder();
      break;
    }
    case Do::kSave:
      Save(current_);
      break;
    case Do::kLeave: {
      constexpr const char* kAsked = "something is not saved yet: Ctrl Q once more to leave";
      const bool unsaved = std::any_of(samples_.begin(), samples_.end(),
                                       [](const auto& sample) { return sample->unsaved; });
      leaving_ = !unsaved || notice_ == kAsked;
      if (!leaving_) Tell(kAsked, true);
      break;
    }
    default:
      break;
  }
}

bool App::DoChoice(const Intent& intent) {
  switch (intent.what) {
    case Do::kShowPage:
      if (page_ == Page::kAsk && intent.number != static_cast<int>(Page::kAsk)) ClearAsk();
      page_ = static_cast<Page>(intent.number);
      return true;
    case Do::kChooseRow:
      ChooseRow(intent.text);
      return true;
    case Do::kStepRow: {
      const std::vector<RowLine>& rows = panels_.rows.rows;
      if (rows.empty()) return true;
      page_ = Page::kRows;
      const auto at = std::find_if(rows.begin(), rows.end(),
                                   [&](const RowLine& r) { return r.no == chosen_row_; });
      std::ptrdiff_t i = at == rows.end() ? (intent.number > 0 ? -1 : 0) : at - rows.begin();
      i = std::clamp<std::ptrdiff_t>(i + intent.number, 0,
                                     static_cast<std::ptrdiff_t>(rows.size()) - 1);
      ChooseRow(rows[static_cast<std::size_t>(i)].no);
      return true;
    }
    case Do::kChooseFinding:
      ChooseFinding(intent.number);
      return true;
    case Do::kChooseFeature:
      ChooseFeature(intent.text);
      return true;
    case Do::kChooseValue:
      ChooseValue(intent.number);
      return true;
    case Do::kChooseNothing:
      ClearAsk();
      return true;
    case Do::kChooseWall:
      chosen_wall_ = intent.text;
      PointWall(wall_share_);
      return true;
    case Do::kPointFace:
      PointFace(intent.at, intent.share);
      return true;
    case Do::kPointWall:
      PointWall(intent.share);
      return true;
    default:
      return false;
  }
}

void App::StartDraft(const Intent& intent) {
  const bool joins = intent.what == Do::kStartJoin;
  const auto kind = joins ? Correction::Kind::kJoin : static_cast<Correction::Kind>(intent.number);
  if (edges_locked() && IsEdgeChoice(kind)) {
    Tell("the drawing locks its method: edges are not chosen by hand", true);
    return;
  }
  if (form.inspector.empty()) {
    page_ = Page::kSample;
    Tell("give the inspector's name first: it is written beside every correction", true);
    return;
  }
  draft_ = {};
  draft_.active = true;
  draft_.kind = kind;
  draft_.of = intent.text;
  draft_.to = intent.more;
  draft_.takes_points = TakesPoints(kind) && intent.what == Do::kStartLine;
  draft_.picks_region = joins;
  draft_.prompt = Prompt(kind, intent.text);
  if (!draft_.takes_points && !draft_.picks_region) {
    draft_.wants_reason = true;
    sheet_ = Sheet::kReason;
  }
}

bool App::DoCorrection(const Intent& intent) {
  switch (intent.what) {
    case Do::kUndo:
    case Do::kRedo: {
      Sample* sample = FindSample(current_);
      if (sample == nullptr) return true;
      std::vector<Correction> done = sample->corrections, undone = sample->undone;
      std::vector<Correction>& from = intent.what == Do::kUndo ? done : undone;
      std::vector<Correction>& to = intent.what == Do::kUndo ? undone : done;
      if (from.empty()) {
        Tell(intent.what == Do::kUndo ? "nothing to undo" : "nothing to do again");
        return true;
      }
      to.push_back(from.back());
      from.pop_back();
      Correct(current_, std::move(done), std::move(undone));
      return true;
    }
    case Do::kStartLine:
    case Do::kStartJoin:
    case Do::kAskReason:
      StartDraft(intent);
      return true;
    case Do::kJoinWith:
      if (!draft_.picks_region) return true;
      if (!intent.text.starts_with("void ") || intent.text == draft_.of) {
        Tell("click another region than " + draft_.of, true);
        return true;
      }
      draft_.to = intent.text;
      draft_.picks_region = false;
      draft_.wants_reason = true;
      sheet_ = Sheet::kReason;
      return true;
    case Do::kDraftTo:
      draft_.to = intent.text;
      return true;
    case Do::kAddPoint:
      if (draft_.takes_points) draft_.points.push_back(intent.at);
      return true;
    case Do::kEndLine:
      if (!draft_.takes_points || draft_.points.size() < 2) return true;
      draft_.takes_points = false;
      draft_.wants_reason = true;
      sheet_ = Sheet::kReason;
      return true;
    case Do::kDropLine:
      draft_ = {};
      sheet_ = Sheet::kNone;
      return true;
    case Do::kCorrect:
      MakeCorrection(intent.text);
      return true;
    default:
      return false;
  }
}

bool App::DoView(const Intent& intent) {
  Sample* sample = FindSample(current_);
  switch (intent.what) {
    case Do::kJump:
      if (!chosen_.places.empty()) {
        goto_.jump = true;
        goto_.box = BoundingBox(chosen_.places);
      }
      return true;
    case Do::kFit:
      if (sample != nullptr && sample->measured)
        goto_ = {true, false, sample->measured->face};
      else if (sample != nullptr && sample->tiles)
        goto_ = {
            true, false, {{0, 0}, {1.0 * sample->tiles->width(), 1.0 * sample->tiles->height()}}};
      return true;
    case Do::kSetRange:
      if (sample != nullptr && intent.share < intent.more_share)
        sample->range = {intent.share, intent.more_share};
      return true;
    case Do::kFullContrast:
      if (sample != nullptr && sample->tiles) sample->range = sample->tiles->FullContrast();
      return true;
    case Do::kTheme:
      settings_.dark = intent.number == 1;
      Remember();
      return true;
    case Do::kTextScale:
      settings_.text_scale = std::clamp(intent.share, 0.8, 2.0);
      Remember();
      return true;
    case Do::kUnits:
      if (intent.number < 0)
        settings_.units.reset();
      else
        settings_.units = static_cast<LengthUnit>(intent.number);
      Remember();
      return true;
    case Do::kClockUp:
      clock_up_ = !clock_up_;
      return true;
    case Do::kShowMarks:
      marks_shown_ = !marks_shown_;
      return true;
    default:
      return false;
  }
}

void App::MakeCorrection(const std::string& why) {
  Sample* sample = FindSample(current_);
  if (sample == nullptr || !sample->measured || !draft_.active) return;
  if (why.empty()) return Tell("a correction needs a reason", true);
  Correction c;
  c.kind = draft_.kind;
  c.of = draft_.of;
  c.to = draft_.to;
  for (const PointPx p : draft_.points) c.points.push_back(sample->measured->scale.ToUm(p));
  c.who = form.inspector;
  c.when = NowUtc();
  c.why = why;
  draft_ = {};
  sheet_ = Sheet::kNone;
  std::vector<Correction> corrections = sample->corrections;
  corrections.push_back(std::move(c));
  Correct(current_, std::move(corrections), {});
}

void App::ClearChoice() {
  chosen_ = {};
  chosen_row_.clear();
  chosen_feature_.clear();
  chosen_finding_ = chosen_value_ = -1;
  wall_share_ = -1;
  hand_ = {};
  Changed();
}

void App::SetPlaces(const std::vector<PointUm>& at, const std::string& label) {
  chosen_.places.clear();
  const Sample* sample = current();
  for (const PointUm p : at) chosen_.places.push_back(sample->measured->scale.ToPx(p));
  chosen_.label = label;
}

void App::ChooseRow(const std::string& no) {
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured) return;
  ClearChoice();
  for (const CharacteristicResult& row : sample->measured->result.characteristics) {
    if (row.no != no) continue;
    chosen_row_ = no;
    chosen_.features = row.of;
    SetPlaces(row.at, row.actual ? ActualText(row) : "");
    if (!row.of.empty() && FindWall(sample->measured->walls, row.of.front()) != nullptr)
      chosen_wall_ = row.of.front();
    if (!row.of.empty()) chosen_feature_ = row.of.front();
  }
}

void App::ChooseFinding(int index) {
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured) return;
  const auto& findings = sample->measured->result.findings;
  if (index < 0 || static_cast<std::size_t>(index) >= findings.size()) return;
  ClearChoice();
  const Finding& finding = findings[static_cast<std::size_t>(index)];
  chosen_finding_ = index;
  chosen_.features = finding.where;
  SetPlaces(finding.at, finding.kind);
}

void App::ChooseFeature(const std::string& feature) {
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured) return;
  ClearChoice();
  chosen_feature_ = feature;
  chosen_.features = {feature};
  if (FindWall(sample->measured->walls, feature) != nullptr) chosen_wall_ = feature;
}

void App::ChooseValue(int index) {
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured) return;
  const auto& all = sample->measured->result.measurements;
  if (index < 0 || static_cast<std::size_t>(index) >= all.size()) return;
  const Measurement& m = all[static_cast<std::size_t>(index)];
  const std::string feature = chosen_feature_;
  const bool again = chosen_value_ == index;
  ClearChoice();
  chosen_feature_ = feature;
  chosen_.features = m.of;
  if (again) return;
  chosen_value_ = index;
  if (m.state == Measurement::State::kMeasured) SetPlaces(m.at, FormatValue(m, units()));
}

void App::PointWall(double share) {
  wall_share_ = share;
  hand_ = {};
  const Sample* sample = current();
  if (share < 0 || sample == nullptr || !sample->measured) return;
  const WallPanel& wall = panels_.wall;
  if (const WallProfile* profile = FindWall(sample->measured->walls, wall.name))
    hand_ = HandAt(*profile, wall, share, units());
}

// The chosen wall's place at hand, where the pointer is near it.
void App::PointFace(PointPx at, double reach_px) {
  const Sample* sample = current();
  if (sample == nullptr || !sample->measured) return;
  const WallProfile* profile = FindWall(sample->measured->walls, panels_.wall.name);
  if (profile == nullptr) return;
  const Scale& scale = sample->measured->scale;
  const PointUm p = scale.ToUm(at);
  DatumFrame own = sample->measured->frame;
  own.centre = profile->centre;
  const double share = own.ClockDeg(p) / 360;
  const WallPlace* place = PlaceAt(*profile, share);
  if (place == nullptr) return;
  const Nearest<FrameUm> near = LeastDistance(p, ContourUm{place->inner, place->outer});
  PointWall(near.distance < reach_px * scale.mean_pitch_um() ? share : -1);
}

std::string App::TableText() const {
  std::string text;
  const auto line = [&](std::initializer_list<std::string> cells) {
    std::string one;
    for (const std::string& cell : cells) one += (one.empty() ? "" : "\t") + cell;
    text += one + "\n";
  };
  if (room_ == Room::kRun) return panels_.run ? RunTable(*panels_.run) : "";
  switch (page_) {
    case Page::kFindings:
      line({"finding", "where", "severity", "text", "disposition"});
      for (const FindingLine& f : panels_.findings.lines)
        line({f.kind, f.where, f.severity, f.text, f.disposition});
      break;
    case Page::kValues:
      line({"value of " + panels_.values.feature, "value", "from to"});
      for (const ValueLine& v : panels_.values.lines) line({v.title, v.value, v.interval});
      break;
    case Page::kAsk:
      line({"asked", "of", "value", "from to", "by"});
      for (const AskPanel::Kept& k : panels_.ask.kept)
        line({k.line.title, k.edges, k.line.value, k.line.interval, k.by});
      break;
    case Page::kCorrections:
      for (const std::string& c : panels_.corrections) line({c});
      break;
    default:
      line({"no", "characteristic", "requirement", "actual", "from to", "verdict"});
      for (const RowLine& r : panels_.rows.rows)
        line({r.no, r.subject, r.requirement, r.actual, r.interval, r.verdict});
  }
  return text;
}

void App::Rebuild() {
  built_ = revision_;
  const Sample* sample = current();
  panels_ = {};
  for (const auto& s : samples_) {
    TrayLine line;
    line.id = s->id;
    line.name = s->Name();
    line.current = s->id == current_;
    line.busy = s->stage == Stage::kReading || s->stage == Stage::kMeasuring;
    line.failed = s->stage == Stage::kFailed;
    line.unsaved = s->unsaved;
    if (s->measured && s->stage == Stage::kMeasured) {
      line.word = s->measured->result.verdict;
      line.verdict = std::string(VerdictName(line.word));
    } else {
      line.verdict = line.failed ? "not measured" : line.busy ? "..." : "";
    }
    panels_.tray.push_back(std::move(line));
  }
  RebuildPlate();
  panels_.left_behind = left_behind_text_;
  BuildSign();
  if (run_ && !run_panel_)
    run_panel_ = std::make_shared<const RunPanel>(BuildRun(*run_, run_choice_));
  panels_.run = run_panel_;
  if (room_ == Room::kNominal) {
    panels_.nominal = BuildNominal(nominal_, nominal_feature_, units());
    panels_.nominal.replaces = nominal_replaces_;
  }
  if (room_ == Room::kBench) panels_.bench = BuildBench(bench_form, bench_outcome_.get());
  const std::string missing = FullRunOrder().Missing();
  if (!missing.empty()) panels_.run_hindrance = "Choose " + missing + ".";
  if (sample == nullptr || !sample->measured || sample->stage == Stage::kFailed) return;
  const SectionResult& result = sample->measured->result;
  panels_.head = BuildHead(result);
  panels_.head.signatures = sample->signed_state.signatures;
  if (sample->out_of_date)
    panels_.head.cautions.insert(panels_.head.cautions.begin(), "out of date");
  panels_.rows = BuildRows(result, chosen_row_);
  panels_.findings = BuildFindings(result, chosen_finding_);
  panels_.values = BuildValues(result, chosen_feature_, chosen_value_, units());
  panels_.ask =
      BuildAsk(result, pointed_, asked_, asked_trouble_, asked_open_, kept_open_, units());
  panels_.wall = BuildWall(result, sample->measured->walls, chosen_wall_, units());
  if (sample->measured->Plane() == nullptr)
    panels_.wall.clock_text = "12 is up in the picture: the drawing's clock is not at hand";
  panels_.corrections = result.edits;
  const std::size_t n = result.edits.size();
  panels_.correction_count = fmt::format("{} {}", n, n == 1 ? "correction" : "corrections");
}

void App::RebuildPlate() {
  const Sample* sample = current();
  if (sample == nullptr) {
    panels_.plate_title = "No sample yet";
    panels_.plate_text = "Drop a microscope picture of a cut face here, or open one.";
    return;
  }
  panels_.can_measure = sample->picture != nullptr && sample->order.Missing().empty();
  if (sample->stage == Stage::kFailed && sample->error) {
    const Code code = sample->error->code;
    panels_.plate_is_error = true;
    panels_.plate_title = code == Code::kCalibrationOverdue    ? "The calibration is overdue"
                          : code == Code::kCalibrationMismatch ? "The scale does not fit"
                          : sample->picture                    ? "Not measured"
                                                               : "Cannot be opened";
    panels_.plate_can_accept =
        code == Code::kCalibrationOverdue || (code == Code::kCalibrationMismatch);
    panels_.plate_text = InWindowWords(sample->error->message);
  } else if (sample->stage == Stage::kShown) {
    const std::string missing = sample->order.Missing();
    panels_.plate_title = missing.empty() ? "Ready to measure" : "Not measured yet";
    panels_.plate_text =
        missing.empty() ? "Press M." : "Choose " + missing + " on the page Sample.";
  }
}

}  // namespace cutface::window
