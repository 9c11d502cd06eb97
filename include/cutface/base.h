// The ground floor: results and errors, units of length, whole-or-nothing files, SHA-256, progress
// and cancel. Knows nothing of pictures or catheters.
// Keywords: Result, Error, Code, CF_CHECK, ReadFile, WriteWhole, Sha256Hex, Progress.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <numbers>
#include <span>
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <vector>

namespace cutface {

inline constexpr double kPi = std::numbers::pi;

// Stable codes of expected failures. Cause and remedy of each stand in include/cutface/errors.md.
enum class Code {
  kUsage,                // a call or option that makes no sense
  kFileMissing,          // no such file, or a folder where a file was named
  kFileUnreadable,       // exists but cannot be read (rights, device)
  kFileUnwritable,       // cannot be created or finished; nothing was left behind
  kImageEmpty,           // zero bytes
  kImageTruncated,       // ends before its pixels do
  kImageFormat,          // not an image, or a kind that is not read
  kImageTooLarge,        // more pixels or bytes than allowed
  kImageDamaged,         // the decoder found contradictions
  kJsonSyntax,           // not JSON
  kJsonUnknownKey,       // a key that the format does not have
  kJsonMissingKey,       // a key that the format needs
  kJsonValue,            // a value of the wrong type or out of range
  kDesignInvalid,        // the drawing contradicts itself
  kDesignMismatch,       // the drawing is for another part, revision or section
  kCalibrationInvalid,   // the record contradicts itself or lacks a needed pitch
  kCalibrationOverdue,   // past its due date when the picture was taken
  kCalibrationMismatch,  // image size or embedded scale differs from the record
  kNoSection,            // no cut face found in the picture
  kTwoParts,             // more than one cut face fits
  kOutOfFocus,           // edges too soft to measure
  kInvalidContour,       // fewer than 3 vertices, crossing itself, not finite
  kNoPattern,            // no calibration target in the picture, or its lines cannot be counted
  kBenchUnchecked,       // a passed check of the bench is required and there is none in time
  kNotFound,             // a name that is asked for and is not there
  kRecordsDamaged,       // a store of records was changed, or the file is no store
  kRecordsBusy,          // another writer held the store for too long
  kNotAllowed,           // wrong passphrase, or a role that may not do it
  kUnsettled,            // a decision of a person is needed first
  kCancelled,            // the caller asked to stop
  kInternal,             // a library failed in a way that should not happen
};

// The code's stable name in messages and JSON, for example "calibration-overdue".
std::string_view CodeName(Code code);

// One line for a person: what, where (file, key or pixel), what to do.
struct Error {
  Code code = Code::kInternal;
  std::string message;
};

template <class T>
using Result = tl::expected<T, Error>;
using Status = Result<void>;

inline tl::unexpected<Error> Fail(Code code, std::string message) {
  return tl::unexpected<Error>(Error{code, std::move(message)});
}

// A broken invariant is a defect of the program: print where and abort.
[[noreturn]] void CheckFailed(const char* condition, const char* file, int line);
#define CF_CHECK(condition) \
  ((condition) ? void(0) : ::cutface::CheckFailed(#condition, __FILE__, __LINE__))

enum class LengthUnit { kMicrometre, kMillimetre, kInch };
// Micrometres in one unit; 1 in = 25 400 um exactly.
double UmPer(LengthUnit unit);
std::string_view UnitName(LengthUnit unit);  // "um", "mm", "in"
Result<LengthUnit> ParseLengthUnit(std::string_view name);

// Reads a whole file. Errors: kFileMissing, kFileUnreadable, kImageTooLarge (beyond limit_bytes).
Result<std::vector<std::byte>> ReadFile(const std::string& path,
                                        std::uint64_t limit_bytes = std::uint64_t{4} << 30);
Result<std::string> ReadTextFile(const std::string& path,
                                 std::uint64_t limit_bytes = std::uint64_t{64} << 20);

// Writes beside the target, flushes to the disk and renames: the file is whole or as it was before.
// Errors: kFileUnwritable (folder missing, read-only, disk full).
Status WriteWhole(const std::string& path, std::span<const std::byte> bytes);
Status WriteWhole(const std::string& path, std::string_view text);

// SHA-256 (FIPS 180-4) as 64 lower-case hexadecimal digits.
std::string Sha256Hex(std::span<const std::byte> bytes);
std::string Sha256Hex(std::string_view text);

// ISO 8601 in UTC, "2026-03-02T09:15:00Z", of the present moment.
std::string NowUtc();

// How long work reports and is stopped: returns false to cancel. `share` runs from 0 to 1.
using Progress = std::function<bool(double share, std::string_view what)>;

// Length of the well-formed UTF-8 sequence at the start of `text` (RFC 3629: no overlong form, no
// surrogate, nothing beyond U+10FFFF) and its code point; 0 when malformed or empty.
std::size_t Utf8Sequence(std::string_view text, char32_t& point);
bool IsUtf8(std::string_view text);

// The nearest of `known` to a mistyped word (least edit distance), or "" when none is near.
std::string NearestWord(std::string_view word, std::span<const std::string_view> known);

}  // namespace cutface
