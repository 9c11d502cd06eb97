// Long work beside the window: one worker, one job after the other, each with progress and cancel.
//
// A job returns what to do with its outcome; that runs in the window's own thread, at the start of
// a frame. Keywords: thread, job, progress, cancel.
#pragma once

#include <atomic>
#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "cutface/base.h"

namespace cutface::window {

class Background {
 public:
  using Outcome = std::function<void()>;
  using Job = std::function<Outcome(const Progress&)>;

  // `wake` is called from the worker's thread whenever there is something new to show.
  explicit Background(std::function<void()> wake = {});
  ~Background();  // cancels and waits

  void Start(std::string name, Job job);
  // Asks the running job to stop and forgets those that wait.
  void Cancel();
  // Runs what finished jobs left to do; true when there was something.
  bool TakeOutcomes();

  // From a running job: something to do at the next frame, before the job is over.
  void Post(Outcome outcome);

  struct State {
    bool busy = false;
    std::string name, step;
    double share = 0;
    bool stopping = false;
  };
  State state() const;
  void WaitUntilIdle();  // tests

 private:
  void Run();
  struct Waiting {
    std::string name;
    Job job;
  };
  std::function<void()> wake_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Waiting> waiting_;
  std::vector<Outcome> outcomes_;
  State state_;
  bool stop_ = false, running_ = false;
  std::atomic<bool> cancel_ = false;
  std::thread worker_;
};

}  // namespace cutface::window
