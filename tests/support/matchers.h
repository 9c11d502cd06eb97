// Matchers for Result<T>: a failure test names the exact code it expects.
#pragma once

#include <gmock/gmock.h>

#include "cutface/base.h"

namespace cutface {

MATCHER(IsOk, "holds a value") {
  if (!arg)
    *result_listener << "failed: " << CodeName(arg.error().code) << ": " << arg.error().message;
  return arg.has_value();
}

MATCHER_P(FailsWith, code, std::string("fails with ") + std::string(CodeName(code))) {
  if (arg) {
    *result_listener << "succeeded";
    return false;
  }
  *result_listener << CodeName(arg.error().code) << ": " << arg.error().message;
  return arg.error().code == code;
}

}  // namespace cutface
