// The bench in the window: looking at targets in the background, and keeping what was found.
#include <algorithm>

#include "gui/state/app.h"

namespace cutface::window {

bool App::DoBench(const Intent& intent) {
  switch (intent.what) {
    case Do::kBenchForm:
      bench_outcome_.reset();  // other inputs, other numbers
      return true;
    case Do::kBenchWhat:
      bench_form.checks = intent.number == 1;
      bench_outcome_.reset();
      // A grid checks nothing, a pin makes no record.
      if (bench_form.checks
              ? bench_form.kind == TargetKind::kDotGrid || bench_form.kind == TargetKind::kCrossGrid
              : bench_form.kind == TargetKind::kPin)
        bench_form.kind = TargetKind::kLineScale;
      return true;
    case Do::kBenchStep: {
      const int last = static_cast<int>(panels_.bench.steps.size()) - 1;
      const int to = intent.number < 0 ? bench_form.step + 1 : intent.number;
      bench_form.step = std::clamp(to, 0, std::max(0, last));
      return true;
    }
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
