// The caption panel beside or below the photo.
#pragma once

#include <string>
#include <vector>

#include "cutface/picture.h"
#include "picture/canvas.h"

namespace cutface {

// The key of a picture's strokes, upwards from `bottom`, as wide as `where`; returns its height.
double DrawKey(Canvas& canvas, const DisplayList& list, const Rect& where, double bottom,
               double em);
double KeyHeight(const Canvas& canvas, const DisplayList& list, double width, double em);

// Fills `where` with the list's caption: verdict first, then blocks in columns, in text of at most
// `em` and at least 0.7 em. Lines that find no room even so are counted in one closing line; the
// caution always stands. Errors: kInternal.
Status DrawPanel(Canvas& canvas, const Rect& where, const DisplayList& list, double em);

}  // namespace cutface
