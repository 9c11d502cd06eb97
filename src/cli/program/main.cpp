#include <unistd.h>

#include <csignal>
#include <iostream>

#include "cutface/cli.h"

int main(int count, char** words) {
  // A closed pipe (cutface ... | head) is an error of the stream, not the end of the program: the
  // files of the images that follow are still wanted.
  std::signal(SIGPIPE, SIG_IGN);
  return cutface::RunProgram({words + 1, words + count},
                             {std::cout, std::cerr, isatty(STDERR_FILENO) == 1});
}
