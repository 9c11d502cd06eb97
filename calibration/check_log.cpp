// Checks of a bench and their log: one JSON line each, chained by hashes.
#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <system_error>

#include "cutface/calibration_keeping.h"

namespace cutface {
namespace {

using Json = nlohmann::json;
using Ordered = nlohmann::ordered_json;

constexpr std::array<std::string_view, 21> kKeys = {"format",
                                                    "version",
                                                    "time",
                                                    "taken",
                                                    "by",
                                                    "calibration",
                                                    "calibration_sha256",
                                                    "standard",
                                                    "serial",
                                                    "certificate",
                                                    "certified_um",
                                                    "certified_u_um",
                                                    "measured_um",
                                                    "measured_u_um",
                                                    "limit_um",
                                                    "error_um",
                                                    "en",
                                                    "image",
                                                    "image_sha256",
                                                    "verdict",
                                                    "reason"};
constexpr std::string_view kPrevious = "previous_sha256";

std::string LineOf(const BenchCheck& check, const std::string& previous) {
  Ordered json;
  json["format"] = "cutface/check";
  json["version"] = 1;
  json["time"] = check.time;
  json["taken"] = check.taken;
  json["by"] = check.by;
  json["calibration"] = check.calibration_id;
  json["calibration_sha256"] = check.calibration_sha256;
  json["standard"] = check.standard_kind;
  json["serial"] = check.serial;
  json["certificate"] = check.certificate;
  json["certified_um"] = check.certified_um;
  json["certified_u_um"] = check.certified_u_um;
  json["measured_um"] = check.measured_um;
  json["measured_u_um"] = check.measured_u_um;
  json["limit_um"] = check.limit_um ? Ordered(*check.limit_um) : Ordered(nullptr);
  json["error_um"] = check.ErrorUm();  // for readers of the file; computed again when read
  json["en"] = check.En();
  json["image"] = check.image_file;
  json["image_sha256"] = check.image_sha256;
  json["verdict"] = check.passed ? "holds" : "does not hold";
  json["reason"] = check.reason;
  json["previous_sha256"] = previous;
  return json.dump(-1, ' ', false, Ordered::error_handler_t::replace);
}

// One line; `wrong` says what is not as it must be.
std::optional<BenchCheck> CheckOf(const Json& json, std::string& wrong) {
  BenchCheck check;
  if (!json.is_object()) {
    wrong = "is no object { }";
    return std::nullopt;
  }
  for (const auto& item : json.items()) {
    if (item.key() == kPrevious || std::find(kKeys.begin(), kKeys.end(), item.key()) != kKeys.end())
      continue;
    wrong = fmt::format("unknown key \"{}\"", item.key());
    return std::nullopt;
  }
  const auto text = [&](const char* key) -> std::string {
    const auto found = json.find(key);
    if (found != json.end() && found->is_string()) return found->get<std::string>();
    if (wrong.empty()) wrong = fmt::format("{}: is missing or no text", key);
    return "";
  };
  const auto number = [&](const char* key) {
    const auto found = json.find(key);
    if (found != json.end() && found->is_number() && std::isfinite(found->get<double>()))
      return found->get<double>();
    if (wrong.empty()) wrong = fmt::format("{}: is missing or no number", key);
    return 0.0;
  };
  if (text("format") != "cutface/check" && wrong.empty())
    wrong = "format: is not \"cutface/check\"";
  if (number("version") != 1 && wrong.empty()) wrong = "version: is not 1";
  check.time = text("time");
  check.taken = text("taken");
  check.by = text("by");
  check.calibration_id = text("calibration");
  check.calibration_sha256 = text("calibration_sha256");
  check.standard_kind = text("standard");
  check.serial = text("serial");
  check.certificate = text("certificate");
  check.certified_um = number("certified_um");
  check.certified_u_um = number("certified_u_um");
  check.measured_um = number("measured_um");
  check.measured_u_um = number("measured_u_um");
  if (const auto limit = json.find("limit_um"); limit != json.end() && !limit->is_null())
    check.limit_um = number("limit_um");
  check.image_file = text("image");
  check.image_sha256 = text("image_sha256");
  check.reason = text("reason");
  const std::string verdict = text("verdict");
  text("previous_sha256");
  check.passed = verdict == "holds";
  if (wrong.empty() && !check.passed && verdict != "does not hold")
    wrong = fmt::format("verdict: \"{}\" is neither \"holds\" nor \"does not hold\"", verdict);
  if (wrong.empty() && !ParseClockTime(check.taken))
    wrong = fmt::format("taken: \"{}\" is no time", check.taken);
  // A verdict that its own numbers deny would let a bad bench pass.
  if (wrong.empty()) {
    BenchCheck again = check;
    DecideCheck(again);
    if (again.passed != check.passed) wrong = "verdict: contradicts the line's own numbers";
  }
  if (!wrong.empty()) return std::nullopt;
  return check;
}

std::string LastLine(std::string_view text) {
  if (text.empty()) return "";
  text.remove_suffix(1);  // the line end
  const std::size_t start = text.rfind('\n');
  return std::string(start == std::string_view::npos ? text : text.substr(start + 1));
}

Status WriteAll(int file, std::string_view text) {
  while (!text.empty()) {
    const ssize_t wrote = ::write(file, text.data(), text.size());
    if (wrote < 0 && errno == EINTR) continue;
    if (wrote <= 0) return Fail(Code::kFileUnwritable, std::generic_category().message(errno));
    text.remove_prefix(static_cast<std::size_t>(wrote));
  }
  if (::fsync(file) != 0)
    return Fail(Code::kFileUnwritable, std::generic_category().message(errno));
  return {};
}

}  // namespace

std::optional<ClockTime> ParseClockTime(std::string_view text) {
  ClockTime time;
  if (!text.empty() && text.back() == 'Z') {
    time.utc = true;
    text.remove_suffix(1);
  }
  constexpr std::string_view kShape = "0000-00-00T00:00:00";
  if (text.size() != kShape.size() && text.size() != kShape.size() - 3) return std::nullopt;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const bool digit = text[i] >= '0' && text[i] <= '9';
    const bool blank = kShape[i] == 'T' && text[i] == ' ';
    if (kShape[i] == '0' ? !digit : text[i] != kShape[i] && !blank) return std::nullopt;
  }
  const auto number = [&](std::size_t from, std::size_t count) {
    int value = 0;
    for (char c : text.substr(from, count)) value = 10 * value + (c - '0');
    return value;
  };
  const std::chrono::year_month_day day(std::chrono::year(number(0, 4)),
                                        std::chrono::month(static_cast<unsigned>(number(5, 2))),
                                        std::chrono::day(static_cast<unsigned>(number(8, 2))));
  const int hour = number(11, 2), minute = number(14, 2);
  const int second = text.size() == kShape.size() ? number(17, 2) : 0;
  if (!day.ok() || hour > 23 || minute > 59 || second > 60) return std::nullopt;
  time.seconds =
      86400.0 * static_cast<double>(std::chrono::sys_days(day).time_since_epoch().count()) +
      3600.0 * hour + 60.0 * minute + second;
  return time;
}

double BenchCheck::En() const {
  const double expanded = 2.0 * std::hypot(measured_u_um, certified_u_um);
  return expanded > 0 ? ErrorUm() / expanded : 0.0;
}

void DecideCheck(BenchCheck& check) {
  const double expanded = 2.0 * std::hypot(check.measured_u_um, check.certified_u_um);
  check.passed = false;
  // Written so that what is not a number does not pass.
  if (!(check.certified_um > 0 && check.measured_um > 0 && expanded > 0 &&
        std::isfinite(expanded))) {
    check.reason = "its numbers are not all known";
  } else if (check.limit_um) {
    if (!(std::abs(check.ErrorUm()) <= *check.limit_um))
      check.reason = fmt::format("off by {:+.3g} um, more than the limit {:.3g} um",
                                 check.ErrorUm(), *check.limit_um);
    else if (!(expanded <= *check.limit_um))
      check.reason =
          fmt::format("known to {:.3g} um only, the limit is {:.3g} um", expanded, *check.limit_um);
    else
      check.passed = true;
  } else if (!(std::abs(check.En()) <= 1.0)) {
    check.reason = fmt::format("off by {:+.3g} um, known to {:.3g} um: |En| = {:.2f}, above 1",
                               check.ErrorUm(), expanded, std::abs(check.En()));
  } else if (!(expanded <= kCoarsestCheck * check.certified_um)) {
    check.reason = fmt::format("known to {:.2f} % only; give a --limit or a better standard",
                               100 * expanded / check.certified_um);
  } else {
    check.passed = true;
  }
  if (check.passed) check.reason.clear();
}

std::string CheckLogPath(const std::string& record_path) {
  return (std::filesystem::path(record_path).parent_path() / "checks.jsonl").string();
}

Result<std::vector<BenchCheck>> ParseCheckLog(std::string_view text, const std::string& name) {
  std::vector<BenchCheck> checks;
  std::string previous;
  for (std::size_t number = 1; !text.empty(); ++number) {
    const std::size_t end = text.find('\n');
    const auto bad = [&](Code code, const std::string& what) {
      return Fail(code,
                  fmt::format("{}: line {}: {}; restore the log from a copy", name, number, what));
    };
    if (end == std::string_view::npos) return bad(Code::kJsonSyntax, "is cut off");
    const std::string line(text.substr(0, end));
    text.remove_prefix(end + 1);
    const Json json = Json::parse(line, nullptr, /*allow_exceptions=*/false);
    if (json.is_discarded()) return bad(Code::kJsonSyntax, "is not JSON");
    std::string wrong;
    auto check = CheckOf(json, wrong);
    if (!check) return bad(Code::kJsonValue, wrong);
    if (json.at("previous_sha256").get<std::string>() != previous) {
      return bad(Code::kJsonValue,
                 number == 1 ? "is not the first of its log; lines before it were taken out"
                             : "does not follow the line before; one was changed or taken out");
    }
    previous = Sha256Hex(line);
    checks.push_back(std::move(*check));
  }
  return checks;
}

std::string CheckLogEndPath(const std::string& log_path) { return log_path + ".end"; }

namespace {

// The chain cannot show that its last lines were cut off. So the log's end is kept beside it: how
// many lines it had and the hash of the last. A log may be longer (the program was stopped between
// the two), never shorter.
Status CheckEnd(std::string_view text, const std::string& path) {
  const std::string end_path = CheckLogEndPath(path);
  std::error_code error;
  if (!std::filesystem::exists(end_path, error)) return {};
  auto end = ReadTextFile(end_path);
  if (!end) return tl::unexpected(end.error());
  const Json json = Json::parse(*end, nullptr, /*allow_exceptions=*/false);
  const auto lines = json.is_object() ? json.find("lines") : json.end();
  const auto last = json.is_object() ? json.find("last_sha256") : json.end();
  if (!json.is_object() || lines == json.end() || !lines->is_number_unsigned() ||
      last == json.end() || !last->is_string()) {
    return Fail(Code::kJsonValue,
                fmt::format("{}: does not say where the log ends; restore it and the log from a "
                            "copy",
                            end_path));
  }
  const auto count = lines->get<std::size_t>();
  std::string_view line;
  for (std::size_t k = 0; k < count; ++k) {
    const std::size_t stop = text.find('\n');
    if (stop == std::string_view::npos) {
      return Fail(Code::kJsonValue,
                  fmt::format("{}: has {} lines, {} were written: its end was cut off; restore the "
                              "log from a copy",
                              path, k, count));
    }
    line = text.substr(0, stop);
    text.remove_prefix(stop + 1);
  }
  if (count > 0 && Sha256Hex(std::string(line)) != last->get<std::string>()) {
    return Fail(Code::kJsonValue,
                fmt::format("{}: line {}: is not the one that was written; restore the log from a "
                            "copy",
                            path, count));
  }
  return {};
}

}  // namespace

Result<std::vector<BenchCheck>> ReadCheckLog(const std::string& path) {
  auto text = ReadTextFile(path);
  if (!text) return tl::unexpected(text.error());
  auto checks = ParseCheckLog(*text, path);
  if (!checks) return checks;
  if (auto status = CheckEnd(*text, path); !status) return tl::unexpected(status.error());
  return checks;
}

Status AppendCheck(const std::string& path, const BenchCheck& check) {
  const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
  const auto unwritable = [&](const std::string& why) {
    return Fail(Code::kFileUnwritable,
                fmt::format("{}: the check cannot be logged: {}; check the folder", path, why));
  };
  if (file < 0) return unwritable(std::generic_category().message(errno));
  Status status;
  if (::flock(file, LOCK_EX) != 0) {
    status = unwritable(std::generic_category().message(errno));
  } else if (auto text = ReadTextFile(path); !text) {
    status = tl::unexpected(text.error());
  } else if (auto sound = ParseCheckLog(*text, path); !sound) {
    status = tl::unexpected(sound.error());
  } else if (auto whole = CheckEnd(*text, path); !whole) {
    status = whole;
  } else {
    const std::string line = LineOf(check, text->empty() ? "" : Sha256Hex(LastLine(*text)));
    std::string wrong;
    if (!CheckOf(Json::parse(line, nullptr, false), wrong)) {
      status = Fail(Code::kUsage, fmt::format("{}: the check cannot be logged: {}", path, wrong));
    } else if (auto wrote = WriteAll(file, line + "\n"); !wrote) {
      // What was begun is taken back, so that the log stays sound.
      if (::ftruncate(file, static_cast<off_t>(text->size())) != 0) errno = 0;
      status = unwritable(wrote.error().message);
    } else {
      Ordered end;
      end["lines"] = sound->size() + 1;
      end["last_sha256"] = Sha256Hex(line);
      status = WriteWhole(CheckLogEndPath(path), end.dump() + "\n");
    }
  }
  ::close(file);  // also unlocks
  return status;
}

Result<BenchCheck> RequireCheck(std::span<const BenchCheck> log, const CalibrationRecord& record,
                                const std::string& taken, double hours) {
  const auto refuse = [&](const std::string& why) {
    return Fail(Code::kBenchUnchecked, fmt::format("calibration {}: {}", record.id, why));
  };
  const auto at = ParseClockTime(taken);
  if (!at) {
    return refuse(
        fmt::format("a check within {:g} h is required, but when the picture was taken is "
                    "{}; give --taken with the time of day",
                    hours, taken.empty() ? "not known" : "known as " + taken + " only"));
  }
  const BenchCheck* before = nullptr;
  const BenchCheck* after = nullptr;
  double since = 0, until = 0;
  for (const BenchCheck& check : log) {
    if (check.calibration_id != record.id || check.calibration_sha256 != record.sha256) continue;
    const auto then = ParseClockTime(check.taken);
    if (!then) continue;  // logs hold none
    if (then->utc != at->utc) {
      return refuse(
          fmt::format("the picture's time {} and the check's {} are not of one clock (one "
                      "is UTC); give --taken as the log has it",
                      taken, check.taken));
    }
    const double gap = at->seconds - then->seconds;
    // Of two at one moment the later line counts.
    if (gap >= 0 && (before == nullptr || gap <= since)) before = &check, since = gap;
    if (gap < 0 && (after == nullptr || -gap < until)) after = &check, until = -gap;
  }
  for (const BenchCheck* neighbour : {before, after}) {
    if (neighbour != nullptr && !neighbour->passed) {
      return refuse(fmt::format(
          "the check of {} {} the picture failed ({}); set the bench right, "
          "check it and take the picture again",
          neighbour->taken, neighbour == before ? "before" : "after", neighbour->reason));
    }
  }
  if (before != nullptr && since <= 3600 * hours) return *before;
  if (after != nullptr && until <= 3600 * hours) return *after;
  if (before == nullptr && after == nullptr)
    return refuse("this bench was never checked with this record; run cutface check");
  const bool earlier = after == nullptr || (before != nullptr && since <= until);
  return refuse(
      fmt::format("the nearest check was {:.1f} h {} the picture, {:g} h are allowed; run "
                  "cutface check",
                  (earlier ? since : until) / 3600, earlier ? "before" : "after", hours));
}

std::string LastGoodBefore(std::span<const BenchCheck> log, const BenchCheck& failed) {
  const auto limit = ParseClockTime(failed.taken);
  std::string good;
  double best = 0;
  for (const BenchCheck& check : log) {
    const auto then = ParseClockTime(check.taken);
    if (!check.passed || check.calibration_id != failed.calibration_id ||
        check.calibration_sha256 != failed.calibration_sha256 || !then || !limit ||
        then->utc != limit->utc || then->seconds > limit->seconds) {
      continue;
    }
    if (good.empty() || then->seconds >= best) good = check.taken, best = then->seconds;
  }
  return good;
}

}  // namespace cutface
