// A sum that keeps what rounding takes away (Neumaier, ZAMM 54, 1974): its error is about one
// rounding of the result, whatever the number of terms.
#pragma once

#include <cmath>

namespace cutface {

class ExactSum {
 public:
  void Add(double term) {
    const double next = sum_ + term;
    lost_ += std::abs(sum_) >= std::abs(term) ? (sum_ - next) + term : (term - next) + sum_;
    sum_ = next;
  }
  double Value() const { return sum_ + lost_; }

 private:
  double sum_ = 0, lost_ = 0;
};

}  // namespace cutface
