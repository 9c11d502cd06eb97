// The window without its window: the tray of samples, what is chosen, the jobs, and the panels that
// follow from them. Views read it and hand back intents; it never draws.
//
// One direction: intents and finished jobs change samples and choices between frames; panels are
// made anew when the revision has changed; drawing reads. Keywords: session, intent, choice, undo.
#pragma once

#include <atomic>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "gui/state/asking.h"
#include "gui/state/background.h"
#include "gui/state/bench_panel.h"
#include "gui/state/file_list.h"
#include "gui/state/nominal.h"
#include "gui/state/panels.h"
#include "gui/state/recovery.h"
#include "gui/state/run_panel.h"
#include "gui/state/sample.h"
#include "gui/state/settings.h"
#include "gui/state/wall_panel.h"

namespace cutface::window {

enum class Page { kRows, kFindings, kValues, kAsk, kCorrections, kSample, kCount };
enum class Room { kFace, kRun, kBench, kNominal };  // what the window is for at the moment
enum class Sheet {
  kNone,
  kOpen,
  kAbout,
  kReason,
  kSign,
  kPicture,
  kRecover
};  // what lies over the window

enum class Do {
  kOpenSheet,  // number: Sheet
  kCloseSheet,
  kOpenFolder,   // text: folder of the open sheet
  kOpenPath,     // text: picture, drawing, record or result
  kShowSample,   // number: id
  kCloseSample,  // number: id
  kNextSample,   // number: +1 or -1
  kOrder,        // the order form was changed; App::form holds it
  kMeasure,
  kStop,
  kAcceptScale,    // overdue or another scale, with the inspector's name
  kShowPage,       // number: Page
  kChooseRow,      // text: the row's number
  kStepRow,        // number: +1 or -1
  kChooseFinding,  // number: index
  kChooseFeature,  // text
  kChooseValue,    // number: index of the measurement
  kChooseNothing,
  kChooseWall,  // text
  kPointFace,   // at: in the picture, share: reach in its pixels
  kPointWall,   // share: 0..1; -1: nothing
  kJump,        // to what is chosen
  kFit,
  kSave,
  kSignForm,    // the form was changed; App::sign_form holds it
  kSign,        // keeps the saved result in the store, decides and signs; takes the passphrase
  kPicture,     // text: path of the marked picture
  kRecover,     // number: 1 takes unsaved work up again, 0 lets it go
  kShowRoom,    // number: Room
  kRunForm,     // the form was changed; App::run_form holds it
  kRunMeasure,  // measures the folder
  kRunLoad,     // text: folder of results or run.json
  kRunPlane,    // text
  kRunColumn,   // text: number of the characteristic, "": none
  kRunByStation,
  kRunQuestion,  // text: what to look into, "": every edge
  kRunFace,      // number: index of the face, -1: none; shows it among the others
  kRunOpenFace,  // number: index of the face, text: row to choose; opens the sample
  kBenchForm,    // numbers of the form were changed; App::bench_form holds them
  kBenchWhat,    // number: 1 checks a record, 0 makes one
  kBenchStep,    // number: the step that is open, -1: the next one
  kBenchLook,
  kBenchKeep,
  kNominalSurvey,  // a draft of what the picture shows
  kNominalOpen,    // the drawing of the page Sample
  kNominalTyped,   // App::nominal_text() was changed
  kNominalPlane,   // text
  kNominalChoose,  // text: shape
  kNominalMove,    // text: shape, from, at: in the picture
  kNominalMoved,   // the shape was let go of
  kNominalResize,  // number: handle of the chosen shape, at: in the picture
  kNominalSize,    // text: id of the size, more: as typed
  kNominalRow,     // number: offer
  kNominalSave,    // text: path, number: 1 replaces a file that is there
  kUndo,
  kRedo,
  kStartLine,  // number: Correction::Kind, text: of; the next points are its line
  kAddPoint,   // at: in the picture
  kEndLine,    // asks for the reason
  kDropLine,
  kAskReason,  // number: Correction::Kind, text: of, more: to; no line is needed
  kStartJoin,  // text: region; the next region clicked on is the one that it belongs to
  kJoinWith,   // text: region
  kDraftTo,    // text: what is added is
  kCorrect,    // text: why; makes what was asked for
  kAskPoint,   // text: feature, at: in the picture
  kAskTurn,    // number: edge in hand; the other way round
  kAskClear,
  kAskKeep,      // number: figure, -1: all
  kAskDrop,      // number: kept figure
  kAskShow,      // number: figure
  kAskShowKept,  // number: kept figure
  kSetRange,     // share: black, more_share: white
  kFullContrast,
  kTheme,      // number: 1 dark
  kTextScale,  // share
  kUnits,      // number: LengthUnit, -1: the drawing's
  kClockUp,
  kShowMarks,
  kLeave  // the window; asks once where something was not saved
};
struct Intent {
  Do what;
  int number = 0;
  std::string text = {}, more = {};
  double share = 0, more_share = 0;
  PointPx at = {}, from = {};
};
using Intents = std::vector<Intent>;

// What a person says when signing; the passphrase is wiped as soon as it is used.
struct SignForm {
  std::string store, person, passphrase;
  int meaning = 0;  // of SignatureMeaning; -1: decide only
  bool release = false;
  struct Decision {
    int what = -1;  // of DispositionKind; -1: none yet
    std::string reason;
  };
  std::vector<Decision> decisions;  // beside SignPanel::state.open
};
struct SignPanel {
  std::string hindrance;  // "" or why nothing can be signed now
  bool store_is_there = false;
  SignedState state;
  std::string about;  // the file
};

// A correction that is being made.
struct Draft {
  bool active = false;
  Correction::Kind kind = Correction::Kind::kSayWhat;
  std::string of, to;
  bool takes_points = false, picks_region = false, wants_reason = false;
  std::vector<PointPx> points;
  std::string prompt;  // what to do next, in words
};

struct TrayLine {
  int id = 0;
  std::string name, verdict;
  Verdict word = Verdict::kNotJudged;
  bool current = false, busy = false, failed = false, unsaved = false;
};

struct Panels {
  std::vector<TrayLine> tray;
  HeadPanel head;
  RowsPanel rows;
  FindingsPanel findings;
  ValuesPanel values;
  AskPanel ask;
  WallPanel wall;
  SignPanel sign;
  std::shared_ptr<const RunPanel> run;  // nullptr: no run was read
  BenchPanel bench;
  NominalPanel nominal;
  std::string run_hindrance;             // "" or what the folder needs to be measured
  std::vector<std::string> left_behind;  // unsaved work of windows that ended
  std::string picture_path;              // where a marked picture would go
  std::vector<std::string> corrections;
  std::string correction_count;  // "2 corrections"
  // Over the face where there is no result: "" or what to do or what went wrong.
  std::string plate_title, plate_text;
  bool plate_can_accept = false, plate_is_error = false, can_measure = false;
};

class App {
 public:
  App(Settings settings, std::string settings_path, std::function<void()> wake = {});
  ~App();

  // Words as on the command line: pictures, --design, --section, --calibration, --out, --serial ...
  void Start(const Order& order, const std::vector<std::string>& paths);
  // At the start of a frame: what finished jobs left to do. True when something changed.
  bool TakeOutcomes();
  void Apply(const Intents& intents);

  const Sample* current() const;
  const Panels& panels() const { return panels_; }
  const Draft& draft() const { return draft_; }
  const Chosen& chosen() const { return chosen_; }
  const std::string& chosen_row() const { return chosen_row_; }
  const WallPanel::Hand& hand() const { return hand_; }
  const Settings& settings() const { return settings_; }
  const FileList& files() const { return files_; }
  Background::State job() const { return background_.state(); }
  Page page() const { return page_; }
  Sheet sheet() const { return sheet_; }
  bool marks_shown() const { return marks_shown_; }
  bool clock_up() const { return clock_up_; }
  LengthUnit units() const;
  const std::string& notice() const { return notice_; }  // one line: saved as ..., could not ...
  bool notice_is_error() const { return notice_is_error_; }
  std::uint64_t revision() const { return revision_; }
  // Where the view is to go; taken once.
  struct Goto {
    bool fit = false, jump = false;
    Box<FramePx> box;
  };
  Goto TakeGoto();
  // "x 0.123  y -0.456 mm   4:10   tone 143" of a place of the picture; "" outside or unmeasured.
  std::string PointerText(PointPx p) const;
  // Classes a region can be said to be, names a lumen can take.
  std::vector<std::string> WordsFor(Correction::Kind kind) const;
  bool edges_locked() const;
  // The page in sight as a table to be pasted elsewhere: tabs between columns.
  std::string TableText() const;

  Order form;  // of the current sample, as the form shows it; kOrder takes it over

  SignForm sign_form;
  RunOrder run_form;  // folders of the run page; the rest is the form's
  BenchForm bench_form;
  std::string& nominal_text() { return nominal_.text; }  // typed into; then kNominalTyped
  // What lies over the picture: the sample's marks, or the nominal's shapes.
  std::vector<Mark> FaceMarks() const;
  const Measured* FaceMeasured() const;  // that they come from; nullptr without
  Room room() const { return room_; }

  bool leaving() const { return leaving_; }
  void WaitUntilIdle();  // tests: finishes all jobs
  Sample* FindSample(int id);

 private:
  void OpenPath(const std::string& path);
  void OpenPicture(const std::string& path);
  void OpenResult(const std::string& path, const std::vector<std::string>& folders = {});
  void LoadInto(int id);
  void Measure(int id);
  void Correct(int id, std::vector<Correction> corrections, std::vector<Correction> undone);
  void Save(int id);
  void Show(int id);
  void Close(int id);
  void Do_(const Intent& intent);
  bool DoTray(const Intent& intent);
  bool DoChoice(const Intent& intent);
  void StartDraft(const Intent& intent);
  bool DoCorrection(const Intent& intent);
  bool DoView(const Intent& intent);
  bool DoAsk(const Intent& intent);
  void AskPoint(const std::string& feature, PointPx at);
  void Ask();
  void ShowEdges(const std::vector<AskedEdge>& edges);
  void ShowAsked(int index, bool kept);
  void KeepAsked(int index);
  void DropAsked(int index);
  void SetAsked(Sample& sample, std::vector<AskedFigure> asked);
  void ClearAsk();
  bool DoNominal(const Intent& intent);
  void StartNominal(bool survey);
  void TryAgain();
  void SaveNominal(const std::string& path, bool replace);
  bool DoBench(const Intent& intent);
  bool DoRun(const Intent& intent);
  void LoadRunFrom(const std::string& place);
  void MeasureFolder();
  void OpenRunFace(int index, const std::string& row);
  void TakeRun(RunData run);
  void FaceOfRunIsDone(const FaceEntry& entry);
  RunOrder FullRunOrder() const;
  bool DoRecords(const Intent& intent);
  void Sign();
  void ReadSignatures(int id);
  void BuildSign();
  void ExportMarked(const std::string& path);
  void KeepUnsaved(const Sample& sample);
  void LetUnsavedGo(int id);
  void Recover(bool take);
  void LookForLeftBehind(const std::string& folder);
  void Restore(int id);
  void TakeOrder();
  void MakeCorrection(const std::string& why);
  void ChooseRow(const std::string& no);
  void ChooseFinding(int index);
  void ChooseFeature(const std::string& feature);
  void ChooseValue(int index);
  void ClearChoice();
  void SetPlaces(const std::vector<PointUm>& at, const std::string& label);
  void PointWall(double share);
  void PointFace(PointPx at, double reach_px);
  void Rebuild();
  void RebuildPlate();
  void Remember();
  void Tell(std::string text, bool is_error = false);
  void Changed() { ++revision_; }
  Sample& Now() { return *FindSample(current_); }

  Settings settings_;
  std::string settings_path_;
  std::vector<std::unique_ptr<Sample>> samples_;
  int current_ = 0, next_id_ = 1;
  Order defaults_;
  Page page_ = Page::kRows;
  Sheet sheet_ = Sheet::kNone;
  Chosen chosen_;
  std::string chosen_row_, chosen_feature_, chosen_wall_;
  int chosen_finding_ = -1, chosen_value_ = -1;
  double wall_share_ = -1;
  WallPanel::Hand hand_;
  Draft draft_;
  Pointed pointed_;
  std::vector<Measurement> asked_;  // what `pointed_` gives
  std::string asked_trouble_;
  int asked_open_ = -1, kept_open_ = -1;
  std::uint64_t asked_turn_ = 0;
  Goto goto_;
  bool marks_shown_ = true, clock_up_ = false, leaving_ = false;
  FileList files_;
  std::string notice_;
  bool notice_is_error_ = false;
  std::uint64_t revision_ = 1, built_ = 0;
  Panels panels_;
  Room room_ = Room::kFace;
  std::shared_ptr<const RunData> run_;
  RunChoice run_choice_;
  std::shared_ptr<const BenchOutcome> bench_outcome_;
  Nominal nominal_;
  std::string nominal_feature_;
  std::string nominal_replaces_;                 // a file that is there; a person is asked
  std::atomic<std::uint64_t> nominal_turn_ = 0;  // read by the job that may be too late
  std::shared_ptr<const RunPanel> run_panel_;    // made anew when run or choice change
  std::shared_ptr<Keeper> keeper_;
  std::vector<std::string> left_behind_, left_behind_text_;
  bool store_is_there_ = false;
  Background background_;  // last: ends first
};

}  // namespace cutface::window
