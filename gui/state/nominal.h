// Drawing a nominal on a picture: the drawing's text, checked as it is typed; its shapes where the
// picture has them, to be dragged; rows added from what was measured. The check is the room
// design's, the shapes of a first draft are the survey's, the live rows are the pipeline's.
// Keywords: draw, nominal, draft, survey, drag, row.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "cutface/design.h"
#include "gui/state/sample.h"

namespace cutface::window {

struct Nominal {
  std::string text;                      // of the file
  std::string error;                     // "" or the first mistake, with its place in the text
  std::shared_ptr<const Design> design;  // of the last text without a mistake
  std::shared_ptr<const Measured>
      measured;       // the picture against it; of an earlier text while busy
  std::string plane;  // section in hand
  bool measured_is_old = false;

  const SectionDesign* Plane() const;
  const Shape* ShapeNamed(const std::string& name) const;  // outline, lumen, ring; else nullptr
};
// The text becomes the design, or the error says why not (and the last good design stays).
void CheckNominal(Nominal& nominal);
// Outline, lumen or ring changed; the text is written anew. False: no such shape, `change` says no,
// or the drawing would not be sound; then nothing is changed.
bool ChangeShape(Nominal& nominal, const std::string& name,
                 const std::function<bool(Shape&, double um_per_unit)>& change);
// A shape moved by so much, in the drawing's frame; or its handle dragged to a place.
bool ResizeShape(Nominal& nominal, const std::string& name, int handle, PointUm to);
// A size as typed, in the drawing's unit. Errors: kUsage (no number, or it cannot be so).
Status TypeSize(Nominal& nominal, const std::string& name, const std::string& id,
                const std::string& text);
bool MoveShape(Nominal& nominal, const std::string& name, PointUm by);
// A row for what was measured, nominal at the measured value as Format rounds it, with the next
// free number, plus and minus 0 until they are typed. False where there is nothing measured of that
// name and word.
bool AddRow(Nominal& nominal, const std::vector<std::string>& of, const std::string& quantity);

// Between picture and drawing, by the placement that measuring found.
PointUm ToDrawing(const Measured& measured, PointPx p);
PointPx FromDrawing(const Measured& measured, PointUm p);
// The nominal's shapes as marks over the picture: "outline", rings and lumens by name; the chosen
// one with its handles.
std::vector<Mark> NominalMarks(const Nominal& nominal, const std::string& chosen = "");
// The handle nearest to a place on the screen, within `reach`; -1: none.
int HandleAt(const std::vector<Mark>& marks, const CanvasTransform& transform, ScreenPoint at,
             float reach);

// A draft from the picture alone. Errors: those of Benches and SurveySection.
Result<Nominal> SurveyNominal(const Micrograph& picture, const Order& order,
                              const Progress& progress = {});
// The picture measured against a design that is in no file yet. Errors: as for MeasureSample.
Result<Measured> TryNominal(const Micrograph& picture, const Order& order, const Design& design,
                            const std::string& plane, const Progress& progress = {});

struct NominalPanel {
  bool started = false;
  std::string hindrance;  // "" or what is missing before a draft can be made
  std::string error, plane;
  std::vector<std::string> planes;
  std::string verdict;  // of the live rows, "" before they are measured
  struct Row {
    std::string no, subject, requirement, actual, verdict;
    Verdict word = Verdict::kNotMeasured;
  };
  std::vector<Row> rows;
  std::string feature;  // the shape in hand
  struct Size {
    std::string id, label, text;
  };
  std::vector<Size> sizes;  // that can be typed
  std::string replaces;     // "" or the file that saving would replace
  struct Offer {
    std::vector<std::string> of;
    std::string quantity, title, value;
  };
  std::vector<Offer> offers;  // what can become a row
  bool old = false;
};
NominalPanel BuildNominal(const Nominal& nominal, const std::string& feature, LengthUnit units);

}  // namespace cutface::window
