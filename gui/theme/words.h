// Every word that the window shows of its own; what results say comes from the rooms.
#pragma once

namespace cutface::window::words {

inline constexpr const char* kTitle = "cutface";
inline constexpr const char* kPages[] = {"Rows", "Findings", "Values", "Sample", "Corrections"};
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
inline constexpr const char* kStretch = "Stretch";
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
inline constexpr const char* kJoin = "Join with";
inline constexpr const char* kAdd = "Add what was missed";
inline constexpr const char* kDispose = "Dispose of it";
inline constexpr const char* kWhy =
    "Why? It is written into the result, with your name and the time.";
inline constexpr const char* kMake = "Make the correction";
inline constexpr const char* kPickFeature =
    "Click a contour on the face to see everything that was measured of it.";
inline constexpr const char* kNoCorrections = "Nothing was changed by hand.";
inline constexpr const char* kLocked =
    "The drawing locks its method: edges are not chosen by hand. What a region is, names, and what "
    "was missed can be said.";
inline constexpr const char* kCautions[] = {
    "A section shows one plane of one destroyed sample, altered by cutting; it proves nothing "
    "about "
    "the rest of the lot without a sampling plan.",
    "Pressure and flow figures are for screening and never replace burst, leak and flow tests.",
    "Validate the software for its intended use in your own quality system before relying on it; "
    "local regulation and qualified people decide.",
    "Blades, resins, solvents and polishing dust are hazardous: follow the site's safety rules."};

}  // namespace cutface::window::words
