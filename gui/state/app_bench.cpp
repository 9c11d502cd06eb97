// The bench in the window: looking at targets in the background, and keeping what was found.
#include "gui/state/app.h"

namespace cutface::window {

bool App::DoBench(const Intent& intent) {
  switch (intent.what) {
    case Do::kBenchForm:
      bench_outcome_.reset();  // other inputs, other numbers
      return true;
    case Do::kBenchLook:
      background_.Start("looking at the target",
                        [this, form = bench_form](const Progress& progress) -> Background::Outcome {
                          auto outcome = LookAtTargets(form, progress);
                          return [this, outcome = std::move(outcome)] {
                            Changed();
                            if (!outcome) return Tell(outcome.error().message, true);
                            bench_outcome_ = std::make_shared<const BenchOutcome>(*outcome);
                            Tell("");
                          };
                        });
      return true;
    case Do::kBenchKeep: {
      if (!bench_outcome_) return true;
      auto kept = KeepBench(bench_form, *bench_outcome_);
      if (!kept) {
        Tell("not kept: " + kept.error().message, true);
        return true;
      }
      Tell("kept as " + *kept);
      if (!bench_form.checks) {  // the next sample is measured with it
        form.calibration = *kept;
        TakeOrder();
      }
      bench_outcome_.reset();
      return true;
    }
    default:
      return false;
  }
}

}  // namespace cutface::window
