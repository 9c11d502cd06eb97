#include "cutface/base.h"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>

namespace cutface {

std::string_view CodeName(Code code) {
  switch (code) {
    case Code::kUsage:
      return "usage";
    case Code::kFileMissing:
      return "file-missing";
    case Code::kFileUnreadable:
      return "file-unreadable";
    case Code::kFileUnwritable:
      return "file-unwritable";
    case Code::kImageEmpty:
      return "image-empty";
    case Code::kImageTruncated:
      return "image-truncated";
    case Code::kImageFormat:
      return "image-format";
    case Code::kImageTooLarge:
      return "image-too-large";
    case Code::kImageDamaged:
      return "image-damaged";
    case Code::kJsonSyntax:
      return "json-syntax";
    case Code::kJsonUnknownKey:
      return "json-unknown-key";
    case Code::kJsonMissingKey:
      return "json-missing-key";
    case Code::kJsonValue:
      return "json-value";
    case Code::kDesignInvalid:
      return "design-invalid";
    case Code::kDesignMismatch:
      return "design-mismatch";
    case Code::kCalibrationInvalid:
      return "calibration-invalid";
    case Code::kCalibrationOverdue:
      return "calibration-overdue";
    case Code::kCalibrationMismatch:
      return "calibration-mismatch";
    case Code::kNoSection:
      return "no-section";
    case Code::kTwoParts:
      return "two-parts";
    case Code::kOutOfFocus:
      return "out-of-focus";
    case Code::kInvalidContour:
      return "invalid-contour";
    case Code::kBenchUnchecked:
      return "bench-unchecked";
    case Code::kNotFound:
      return "not-found";
    case Code::kRecordsDamaged:
      return "records-damaged";
    case Code::kRecordsBusy:
      return "records-busy";
    case Code::kNotAllowed:
      return "not-allowed";
    case Code::kUnsettled:
      return "unsettled";
    case Code::kNoPattern:
      return "no-pattern";
    case Code::kCancelled:
      return "cancelled";
    case Code::kInternal:
      return "internal";
  }
  return "internal";
}

void CheckFailed(const char* condition, const char* file, int line) {
  std::fprintf(stderr, "cutface: broken invariant %s at %s:%d\n", condition, file, line);
  std::abort();
}

double UmPer(LengthUnit unit) {
  switch (unit) {
    case LengthUnit::kMicrometre:
      return 1.0;
    case LengthUnit::kMillimetre:
      return 1000.0;
    case LengthUnit::kInch:
      return 25400.0;
  }
  return 1.0;
}

std::string_view UnitName(LengthUnit unit) {
  switch (unit) {
    case LengthUnit::kMicrometre:
      return "um";
    case LengthUnit::kMillimetre:
      return "mm";
    case LengthUnit::kInch:
      return "in";
  }
  return "um";
}

Result<LengthUnit> ParseLengthUnit(std::string_view name) {
  for (LengthUnit unit : {LengthUnit::kMicrometre, LengthUnit::kMillimetre, LengthUnit::kInch}) {
    if (UnitName(unit) == name) return unit;
  }
  return Fail(Code::kJsonValue, fmt::format("unit of length \"{}\": use mm, in or um", name));
}

std::string Sha256Hex(std::span<const std::byte> bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  CF_CHECK(EVP_Digest(bytes.data(), bytes.size(), digest.data(), &size, EVP_sha256(), nullptr) ==
           1);
  std::string hex;
  for (unsigned int i = 0; i < size; ++i) hex += fmt::format("{:02x}", digest[i]);
  return hex;
}

std::string Sha256Hex(std::string_view text) {
  return Sha256Hex(std::as_bytes(std::span(text.data(), text.size())));
}

std::string NowUtc() {
  const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  std::tm parts{};
  gmtime_r(&now, &parts);
  std::array<char, 32> text{};
  std::strftime(text.data(), text.size(), "%Y-%m-%dT%H:%M:%SZ", &parts);
  return text.data();
}

std::string NearestWord(std::string_view word, std::span<const std::string_view> known) {
  std::string best;
  // A guess further away than a third of the word misleads more than it helps.
  std::size_t best_distance = std::max<std::size_t>(2, word.size() / 3) + 1;
  for (std::string_view candidate : known) {
    std::vector<std::size_t> row(candidate.size() + 1);
    for (std::size_t j = 0; j <= candidate.size(); ++j) row[j] = j;
    for (std::size_t i = 1; i <= word.size(); ++i) {
      std::size_t diagonal = row[0];
      row[0] = i;
      for (std::size_t j = 1; j <= candidate.size(); ++j) {
        const std::size_t up = row[j];
        row[j] = std::min(
            {row[j - 1] + 1, up + 1, diagonal + (word[i - 1] == candidate[j - 1] ? 0 : 1)});
        diagonal = up;
      }
    }
    if (row.back() < best_distance) {
      best_distance = row.back();
      best = std::string(candidate);
    }
  }
  return best;
}

}  // namespace cutface
