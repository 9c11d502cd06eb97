// Does the window's state hold its memory? Opens and closes a picture again and again without a
// window, and tells the resident memory on the way.
//
// usage: bench_window PICTURE [COUNT]
#include <unistd.h>

#include <cstdlib>
#include <fstream>
#include <iostream>

#include "gui/state/app.h"

namespace {

double ResidentMb() {
  std::ifstream file("/proc/self/statm");
  long total = 0, resident = 0;
  file >> total >> resident;
  return static_cast<double>(resident) * static_cast<double>(sysconf(_SC_PAGESIZE)) / (1 << 20);
}

}  // namespace

int main(int count, char** words) {
  using namespace cutface::window;
  if (count < 2) {
    std::cerr << "usage: bench_window PICTURE [COUNT]\n";
    return 2;
  }
  const int rounds = count > 2 ? std::atoi(words[2]) : 1000;
  App app(Settings{}, "");
  for (int i = 1; i <= rounds; ++i) {
    app.Start(Order(), {words[1]});
    app.WaitUntilIdle();
    app.Apply({{Do::kCloseSample}});
    if (i == 1 || i == 10 || i % 100 == 0)
      std::cout << "after " << i << ": " << ResidentMb() << " MB\n" << std::flush;
  }
  return 0;
}
