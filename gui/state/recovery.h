// Corrections and questions that were not saved, kept beside the settings so that a crash or a kill
// loses nothing. Only what people did is kept: when it is taken up again the picture is measured
// anew and everything is done again, so that no number comes out of such a file.
// Keywords: autosave, recovery, crash, unsaved.
#pragma once

#include <string>
#include <vector>

#include "gui/state/sample.h"

namespace cutface::window {

Result<std::string> UnsavedToJson(const UnsavedWork& work);
Result<UnsavedWork> ParseUnsaved(const std::string& text, const std::string& name);

// A window's own folder of such files. A lock tells windows that still live from those that ended:
// the system lets go of it however a program ends.
class Keeper {
 public:
  explicit Keeper(std::string root);  // "": keeps nothing
  ~Keeper();
  Keeper(const Keeper&) = delete;
  Keeper& operator=(const Keeper&) = delete;

  Status Put(int id, const UnsavedWork& work);
  void Drop(int id);

  // Files that windows left behind.
  static std::vector<std::string> LeftBehind(const std::string& root);
  static void Remove(const std::string& file);

 private:
  Status Open();
  std::string root_, folder_;
  int lock_ = -1;
};

}  // namespace cutface::window
