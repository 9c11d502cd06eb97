// Every word that the window shows of its own; what results say comes from the rooms.
#pragma once

namespace cutface::window::words {

inline constexpr const char* kTitle = "cutface";
inline constexpr const char* kFaceKeys =
    "up, down: rows    page up, page down: samples    Ctrl C: copy the page as a table";
inline constexpr const char* kRunKeys =
    "up, down: samples    left, right: characteristics    Enter: open the sample    Ctrl C: copy";
inline constexpr const char* kBenchKeys = "Tab: next field    M: look    Ctrl S: keep";
inline constexpr const char* kDrawingKeys =
    "drag a shape to move it, a handle to change its size    Ctrl S: save";
inline constexpr const char* kPages[] = {"Rows", "Findings",    "Values",
                                         "Ask",  "Corrections", "Sample"};
inline constexpr const char* kOpen = "Open";
inline constexpr const char* kMeasure = "Measure";
inline constexpr const char* kSave = "Save";
inline constexpr const char* kStop = "Stop";
inline constexpr const char* kAbout = "About";
inline constexpr const char* kDark = "Dark";
inline constexpr const char* kLight = "Light";
inline constexpr const char* kWholeFace = "Whole face";
inline constexpr const char* kTwelveUp = "12 on top";
inline constexpr const char* kMarks = "Marks";
inline constexpr const char* kTones = "Tones";
inline constexpr const char* kStretch = "Stretch tones";
inline constexpr const char* kAsIs = "As is";
inline constexpr const char* kWall = "Wall";
inline constexpr const char* kMean = "mean";
inline constexpr const char* kThinnest = "thinnest";
inline constexpr const char* kThickest = "thickest";
inline constexpr const char* kAccept = "Accept and record it";
inline constexpr const char* kChooseRecord = "Choose another record";
inline constexpr const char* kRecent = "Recently opened";
inline constexpr const char* kUp = "Up";
inline constexpr const char* kCancel = "Cancel";
inline constexpr const char* kClose = "Close";
inline constexpr const char* kUndo = "Undo";
inline constexpr const char* kRedo = "Again";
inline constexpr const char* kRedraw = "Redraw a stretch";
inline constexpr const char* kLeaveOut = "Leave a stretch out";
inline constexpr const char* kRename = "Rename";
inline constexpr const char* kSayWhat = "Say what it is";
inline constexpr const char* kSplit = "Part along a line";
inline constexpr const char* kJoin = "Join with another region";
inline constexpr const char* kAdd = "Add what was missed";
inline constexpr const char* kAddAs = "It is";
inline constexpr const char* kDispose = "Dispose of it";
inline constexpr const char* kWhy =
    "Why? It is written into the result, with your name and the time.";
inline constexpr const char* kMake = "Make the correction";
inline constexpr const char* kPickFeature =
    "Click a contour on the face to see everything that was measured of it.";
inline constexpr const char* kOtherWay = "the other way round";
inline constexpr const char* kKeep = "Keep it with the result";
inline constexpr const char* kKeepAll = "Keep all";
inline constexpr const char* kStartAnew = "Start anew";
inline constexpr const char* kTakeBack = "Take it back";
inline constexpr const char* kRun = "Run";
inline constexpr const char* kFaceWord = "Face";
inline constexpr const char* kRunNone =
    "Name a folder of pictures and one for the results, and measure it; or read the results of a "
    "folder that was measured before.";
inline constexpr const char* kRunPictures = "Folder of the pictures";
inline constexpr const char* kRunResults = "Folder of the results";
inline constexpr const char* kRunMeasure = "Measure the folder";
inline constexpr const char* kRunRead = "Read the results";
inline constexpr const char* kByStation = "by station";
inline constexpr const char* kBySample = "sample by sample";
inline constexpr const char* kRunChoose =
    "Choose a characteristic by its number to see its values.";
inline constexpr const char* kLeftOut = "Without a value";
inline constexpr const char* kWorst = "Nearest to trouble";
inline constexpr const char* kAllEdges = "Every edge over the nominal";
inline constexpr const char* kEveryEdge = "every edge";
inline constexpr const char* kNoStatistics = "These faces cannot be taken together";
inline constexpr const char* kAllEdgesAlone = "Every edge; the drawing is not at hand";
inline constexpr const char* kBench = "Bench";
inline constexpr const char* kBenchCalibrate = "new calibration record";
inline constexpr const char* kBenchCheck = "check a record";
inline constexpr const char* kBenchCalibrateWhy =
    "From pictures of a certified target to the record that every measurement uses.";
inline constexpr const char* kBenchCheckWhy =
    "A standard measured with a record: does the bench still hold it?";
inline constexpr const char* kUntold = "Not told by these pictures";
inline constexpr const char* kNextStep = "Next step";
inline constexpr const char* kDiameter = "Certified diameter, um";
inline constexpr const char* kTemperature = "Temperature of the target, degrees Celsius";
inline constexpr const char* kCopies = "keep copies of the pictures beside the record";
inline constexpr const char* kExposureWhy =
    "Two pictures of one field at two exposures tell how the camera turns light into tones.";
inline constexpr const char* kBlankWhy =
    "The empty field, in focus and without clipping, tells how evenly the lamp lights: pictures "
    "are "
    "evened by it before they are measured.";
inline constexpr const char* kDivision = "Division of the target, um";
inline constexpr const char* kCertificateU = "Its standard uncertainty, um, as certified";
inline constexpr const char* kWithout = "without it";
inline constexpr const char* kSquare = "the camera's pixels are square to 0.1 %";
inline constexpr const char* kSupersedes = "Takes the place of";
inline constexpr const char* kLimit = "Limit of the error, um";
inline constexpr const char* kLook = "Look at the pictures";
inline constexpr const char* kBenchBudget = "Where the uncertainty of the pitch comes from";
inline constexpr const char* kKeepRecord = "Keep the record";
inline constexpr const char* kKeepCheck = "Write it into the log";
inline constexpr const char* kDrawing = "Drawing";
inline constexpr const char* kDrawingNone =
    "Start from what the picture shows, or from the drawing of the page Sample. The text is "
    "checked "
    "as it is typed, shapes are dragged on the face, and rows are measured as they are added.";
inline constexpr const char* kFromPicture = "Draft from the picture";
inline constexpr const char* kFromDrawing = "Edit the drawing";
inline constexpr const char* kDraftSound = "The drawing is sound.";
inline constexpr const char* kDraftOld = "The drawing is sound; it is being measured against.";
inline constexpr const char* kChooseShape =
    "Click a shape on the face to see its sizes and what can become a row; drag it to move it, "
    "drag one of its marks to change its size.";
inline constexpr const char* kBecomesRow = "Measured; click one to make it a row of the drawing";
inline constexpr const char* kLiveRows =
    "Rows of the drawing, as the picture measures against them";
inline constexpr const char* kReplaceIt = "Replace it";
inline constexpr const char* kIsThere = "This file is there already.";
inline constexpr const char* kSaveDrawingAs = "Save as";
inline constexpr const char* kSaveDrawing = "Save the drawing";
inline constexpr const char* kSign = "Sign";
inline constexpr const char* kSignTitle = "Sign the saved result";
inline constexpr const char* kPictureWord = "Picture";
inline constexpr const char* kPictureTitle = "Write the marked picture";
inline constexpr const char* kPictureWhy =
    "The picture with its marks, as .png or, with the marks as lines, as .svg.";
inline constexpr const char* kWrite = "Write it";
inline constexpr const char* kStore = "Store of records";
inline constexpr const char* kNewStore =
    "There is no store here yet. It is made now, and who signs becomes its first engineer.";
inline constexpr const char* kPassphrase = "Passphrase";
inline constexpr const char* kMeaning = "The signature means: this result was";
inline constexpr const char* kMeanings[] = {"measured", "reviewed", "approved"};
inline constexpr const char* kDecideOnly = "nothing yet, decide only";
inline constexpr const char* kRelease = "release the drawing, as an engineer";
inline constexpr const char* kDecisions[] = {"accept", "recut", "rework", "scrap", "concession"};
inline constexpr const char* kSignNow = "Keep it and sign";
inline constexpr const char* kDecideNow = "Keep it and record the decisions";
inline constexpr const char* kStandsOpen = "Stands open in the records";
inline constexpr const char* kRecoverTitle = "Unsaved work was left behind";
inline constexpr const char* kRecoverWhy =
    "The window ended before these were saved. Taking them up measures each picture anew and does "
    "again what was done by hand.";
inline constexpr const char* kTakeUp = "Take it up again";
inline constexpr const char* kLetGo = "Let it go";
inline constexpr const char* kKept = "Kept with the result";
inline constexpr const char* kAskWhat =
    "Point at one edge or two, or at stretches of them: radius and length, distance, thickness and "
    "angle are read on the edges as they were measured. No row of the drawing is judged by it.";
inline constexpr const char* kNoCorrections = "Nothing was changed by hand.";
inline constexpr const char* kLocked =
    "The drawing locks its method: edges are not chosen by hand. What a region is, names, and what "
    "was missed can be said.";
inline constexpr const char* kOnePlane =
    "A section shows one plane of one destroyed sample, altered by cutting; it proves nothing "
    "about the rest of the lot without a sampling plan.";
inline constexpr const char* kScreening =
    "Pressure and flow figures are for screening and never replace burst, leak and flow tests.";
inline constexpr const char* kValidate =
    "Validate the software for its intended use in your own quality system before relying on it; "
    "local regulation and qualified people decide.";
inline constexpr const char* kHazards =
    "Blades, resins, solvents and polishing dust are hazardous: follow the site's safety rules.";
inline constexpr const char* kCautions[] = {kOnePlane, kScreening, kValidate, kHazards};

}  // namespace cutface::window::words
