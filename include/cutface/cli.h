// The program `cutface` as a function: words in, text and files out, an exit status back.
//
// The only room below which nothing prints or exits. The two long stages can be replaced, so that
// tests reach every outcome without an image that provokes it. Keywords: command line, exit status,
// measure, survey, table.
#pragma once

#include <iosfwd>
#include <string>
#include <vector>

#include "cutface/job.h"

namespace cutface {

// Exit statuses. Of several images the worst decides, in the order wrong call, not measurable, not
// all conform, fine: a wrong call comes first because repeating it cannot help.
enum ExitStatus : int {
  kExitFine = 0,           // everything conforms, or nothing was judged
  kExitNotAllConform = 1,  // a row or the section does not conform, is not proven or not measured
  kExitWrongCall = 2,      // the call or a file that it names is wrong
  kExitNotMeasurable = 3,  // an image could not be measured
};
int WorseExit(int a, int b);

struct Terminal {
  std::ostream& out;
  std::ostream& err;
  bool err_is_terminal = false;  // progress is shown there only
};

// `words` are the arguments without the program's name.
int RunProgram(const std::vector<std::string>& words, Terminal terminal, const Stages& stages = {});

}  // namespace cutface
