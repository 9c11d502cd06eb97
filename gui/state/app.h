// The window without its window: the tray of samples, what is chosen, the jobs, and the panels that
// follow from them. Views read it and hand back intents; it never draws.
//
// One direction: intents and finished jobs change samples and choices between frames; panels are
// made anew when the revision has changed; drawing reads. Keywords: session, intent, choice, undo.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "gui/state/background.h"
#include "gui/state/file_list.h"
#include "gui/state/panels.h"
#include "gui/state/sample.h"
#include "gui/state/settings.h"
#include "gui/state/wall_panel.h"

namespace cutface::window {

enum class Page { kRows, kFindings, kValues, kSample, kCorrections };
enum class Sheet { kNone, kOpen, kAbout, kReason };  // what lies over the window

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
  kUndo,
  kRedo,
  kStartLine,  // number: Correction::Kind, text: of; the next points are its line
  kAddPoint,   // at: in the picture
  kEndLine,    // asks for the reason
  kDropLine,
  kAskReason,  // number: Correction::Kind, text: of, more: to; no line is needed
  kCorrect,    // text: why; makes what was asked for
  kSetRange,   // share: black, more_share: white
  kFullContrast,
  kTheme,      // number: 1 dark
  kTextScale,  // share
  kUnits,      // number: LengthUnit, -1: the drawing's
  kClockUp,
  kShowMarks
};
struct Intent {
  Do what;
  int number = 0;
  std::string text = {}, more = {};
  double share = 0, more_share = 0;
  PointPx at = {};
};
using Intents = std::vector<Intent>;

// A correction that is being made.
struct Draft {
  bool active = false;
  Correction::Kind kind = Correction::Kind::kSayWhat;
  std::string of, to;
  bool takes_points = false, wants_reason = false;
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
  WallPanel wall;
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

  void WaitUntilIdle();  // tests: finishes all jobs
  Sample* FindSample(int id);

 private:
  void OpenPath(const std::string& path);
  void OpenPicture(const std::string& path);
  void OpenResult(const std::string& path);
  void LoadInto(int id);
  void Measure(int id);
  void Correct(int id, std::vector<Correction> corrections, std::vector<Correction> undone);
  void Save(int id);
  void Show(int id);
  void Close(int id);
  void Do_(const Intent& intent);
  bool DoChoice(const Intent& intent);
  bool DoCorrection(const Intent& intent);
  bool DoView(const Intent& intent);
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
  Goto goto_;
  bool marks_shown_ = true, clock_up_ = false;
  FileList files_;
  std::string notice_;
  bool notice_is_error_ = false;
  std::uint64_t revision_ = 1, built_ = 0;
  Panels panels_;
  Background background_;  // last: ends first
};

}  // namespace cutface::window
