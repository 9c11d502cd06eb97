#include "gui/state/background.h"

namespace cutface::window {

Background::Background(std::function<void()> wake) : wake_(std::move(wake)) {
  worker_ = std::thread([this] { Run(); });
}

Background::~Background() {
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
    waiting_.clear();
    cancel_ = true;
  }
  changed_.notify_all();
  worker_.join();
}

void Background::Start(std::string name, Job job) {
  {
    const std::lock_guard lock(mutex_);
    waiting_.push_back({std::move(name), std::move(job)});
    if (!state_.busy) state_ = {true, waiting_.front().name, "", 0, false};
  }
  changed_.notify_all();
}

void Background::Cancel() {
  const std::lock_guard lock(mutex_);
  waiting_.clear();
  if (!running_) {  // what was to start next is forgotten
    state_ = {};
    changed_.notify_all();
    return;
  }
  cancel_ = true;
  state_.stopping = true;
}

bool Background::TakeOutcomes() {
  std::vector<Outcome> outcomes;
  {
    const std::lock_guard lock(mutex_);
    outcomes.swap(outcomes_);
  }
  for (const Outcome& outcome : outcomes)
    if (outcome) outcome();
  return !outcomes.empty();
}

void Background::Post(Outcome outcome) {
  {
    const std::lock_guard lock(mutex_);
    outcomes_.push_back(std::move(outcome));
  }
  if (wake_) wake_();
}

Background::State Background::state() const {
  const std::lock_guard lock(mutex_);
  return state_;
}

void Background::WaitUntilIdle() {
  std::unique_lock lock(mutex_);
  changed_.wait(lock, [this] { return !state_.busy && waiting_.empty(); });
}

void Background::Run() {
  for (;;) {
    Waiting next;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return stop_ || !waiting_.empty(); });
      if (stop_) return;
      next = std::move(waiting_.front());
      waiting_.pop_front();
      cancel_ = false;
      running_ = true;
      state_ = {true, next.name, "", 0, false};
    }
    const Progress progress = [this](double share, std::string_view step) {
      {
        const std::lock_guard lock(mutex_);
        state_.share = share;
        state_.step = step;
      }
      if (wake_) wake_();
      return !cancel_.load();
    };
    Outcome outcome = next.job(progress);
    {
      const std::lock_guard lock(mutex_);
      outcomes_.push_back(std::move(outcome));
      running_ = false;
      state_ = {};
      if (!waiting_.empty()) state_ = {true, waiting_.front().name, "", 0, false};
    }
    changed_.notify_all();
    if (wake_) wake_();
  }
}

}  // namespace cutface::window
