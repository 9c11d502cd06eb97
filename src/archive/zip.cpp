#include "archive/zip.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zip.h>

#include <algorithm>
#include <cstring>
#include <filesystem>
#include <optional>

namespace cutface {
namespace {

namespace fs = std::filesystem;

// A file inside the zip that is asked for piece by piece.
struct Stream {
  std::function<NextPiece()> start;
  NextPiece next;
  std::string piece;
  std::size_t at = 0;
  std::optional<Error>* failure = nullptr;
  zip_error_t error{};
};

zip_int64_t ReadStream(Stream& stream, char* out, zip_uint64_t room) {
  zip_uint64_t done = 0;
  while (done < room) {
    if (stream.at == stream.piece.size()) {
      auto piece = stream.next();
      if (!piece) {
        *stream.failure = piece.error();
        zip_error_set(&stream.error, ZIP_ER_READ, 0);
        return -1;
      }
      if (piece->empty()) break;
      stream.piece = std::move(*piece);
      stream.at = 0;
    }
    const auto part = std::min<zip_uint64_t>(room - done, stream.piece.size() - stream.at);
    std::memcpy(out + done, stream.piece.data() + stream.at, part);
    stream.at += part;
    done += part;
  }
  return static_cast<zip_int64_t>(done);
}

zip_int64_t ServeStream(void* user, void* data, zip_uint64_t size, zip_source_cmd_t command) {
  auto& stream = *static_cast<Stream*>(user);
  switch (command) {
    case ZIP_SOURCE_OPEN:
      stream.next = stream.start();
      stream.piece.clear();
      stream.at = 0;
      return 0;
    case ZIP_SOURCE_READ:
      return ReadStream(stream, static_cast<char*>(data), size);
    case ZIP_SOURCE_CLOSE:
      stream.next = nullptr;
      stream.piece = std::string();
      return 0;
    case ZIP_SOURCE_STAT: {
      auto* stat = static_cast<zip_stat_t*>(data);
      zip_stat_init(stat);
      return sizeof(*stat);
    }
    case ZIP_SOURCE_ERROR:
      return zip_error_to_data(&stream.error, data, size);
    case ZIP_SOURCE_FREE:
      delete &stream;
      return 0;
    case ZIP_SOURCE_SUPPORTS:
      return zip_source_make_command_bitmap(ZIP_SOURCE_OPEN, ZIP_SOURCE_READ, ZIP_SOURCE_CLOSE,
                                            ZIP_SOURCE_STAT, ZIP_SOURCE_ERROR, ZIP_SOURCE_FREE, -1);
    default:
      zip_error_set(&stream.error, ZIP_ER_OPNOTSUPP, 0);
      return -1;
  }
}

std::string OpenError(int code) {
  zip_error_t error;
  zip_error_init_with_code(&error, code);
  std::string text = zip_error_strerror(&error);
  zip_error_fini(&error);
  return text;
}

Status FlushToDisk(const std::string& path) {
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  const bool flushed = fd >= 0 && ::fsync(fd) == 0;
  if (fd >= 0) ::close(fd);
  if (flushed) return {};
  return Fail(Code::kFileUnwritable, path + ": cannot be flushed to the disk; check it");
}

}  // namespace

struct ZipWriter::Impl {
  std::string path;
  zip_t* zip = nullptr;
  std::optional<Error> failure;  // of a stream
};

ZipWriter::ZipWriter(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
ZipWriter::ZipWriter(ZipWriter&&) noexcept = default;
ZipWriter::~ZipWriter() {
  if (impl_ && impl_->zip != nullptr) zip_discard(impl_->zip);
}

Result<ZipWriter> ZipWriter::Create(const std::string& path) {
  std::error_code ignored;
  if (fs::exists(path, ignored))
    return Fail(Code::kUsage, path + ": is there already; name a new file");
  auto impl = std::make_unique<Impl>();
  impl->path = path;
  int code = 0;
  impl->zip = zip_open(path.c_str(), ZIP_CREATE | ZIP_EXCL, &code);
  if (impl->zip == nullptr)
    return Fail(Code::kFileUnwritable,
                fmt::format("{}: {}; nothing was written", path, OpenError(code)));
  return ZipWriter(std::move(impl));
}

Status ZipWriter::Add(const std::string& name, std::string text) {
  auto shared = std::make_shared<const std::string>(std::move(text));
  return Add(
      name,
      [shared]() -> NextPiece {
        return [shared, told = false]() mutable -> Result<std::string> {
          if (told) return std::string();
          told = true;
          return *shared;
        };
      },
      /*pack=*/true);
}

Status ZipWriter::Add(const std::string& name, std::function<NextPiece()> start, bool pack) {
  auto* stream = new Stream;  // libzip frees it through ZIP_SOURCE_FREE
  stream->start = std::move(start);
  stream->failure = &impl_->failure;
  zip_error_init(&stream->error);
  zip_source_t* source = zip_source_function(impl_->zip, ServeStream, stream);
  if (source == nullptr) {
    delete stream;
    return Fail(Code::kInternal, fmt::format("{}: {}", impl_->path, zip_strerror(impl_->zip)));
  }
  const zip_int64_t index = zip_file_add(impl_->zip, name.c_str(), source, ZIP_FL_ENC_UTF_8);
  if (index < 0) {
    zip_source_free(source);
    return Fail(Code::kInternal,
                fmt::format("{}: {}: {}", impl_->path, name, zip_strerror(impl_->zip)));
  }
  zip_set_file_compression(impl_->zip, static_cast<zip_uint64_t>(index),
                           pack ? ZIP_CM_DEFLATE : ZIP_CM_STORE, 0);
  return {};
}

Status ZipWriter::Finish() {
  if (zip_close(impl_->zip) != 0) {
    const std::string why = zip_strerror(impl_->zip);
    zip_discard(impl_->zip);
    impl_->zip = nullptr;
    if (impl_->failure) return tl::unexpected(*impl_->failure);
    return Fail(Code::kFileUnwritable,
                fmt::format("{}: {}; nothing was written", impl_->path, why));
  }
  impl_->zip = nullptr;
  return FlushToDisk(impl_->path);
}

struct ZipReader::Impl {
  std::string path;
  zip_t* zip = nullptr;
};

ZipReader::ZipReader(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
ZipReader::ZipReader(ZipReader&&) noexcept = default;
ZipReader::~ZipReader() {
  if (impl_ && impl_->zip != nullptr) zip_discard(impl_->zip);
}

Result<ZipReader> ZipReader::Open(const std::string& path) {
  std::error_code ignored;
  if (!fs::is_regular_file(path, ignored))
    return Fail(Code::kFileMissing, path + ": there is no such file; check the path");
  auto impl = std::make_unique<Impl>();
  impl->path = path;
  int code = 0;
  impl->zip = zip_open(path.c_str(), ZIP_RDONLY, &code);
  if (impl->zip == nullptr)
    return Fail(Code::kRecordsDamaged,
                fmt::format("{}: {}; take another copy of the backup", path, OpenError(code)));
  return ZipReader(std::move(impl));
}

std::vector<std::string> ZipReader::Names() const {
  std::vector<std::string> names;
  const zip_int64_t count = zip_get_num_entries(impl_->zip, 0);
  for (zip_int64_t i = 0; i < count; ++i) {
    const char* name = zip_get_name(impl_->zip, static_cast<zip_uint64_t>(i), ZIP_FL_ENC_GUESS);
    if (name != nullptr) names.emplace_back(name);
  }
  return names;
}

bool ZipReader::Has(const std::string& name) const {
  return zip_name_locate(impl_->zip, name.c_str(), 0) >= 0;
}

Result<std::vector<std::byte>> ZipReader::Read(const std::string& name, std::size_t limit) const {
  zip_file_t* file = zip_fopen(impl_->zip, name.c_str(), 0);
  if (file == nullptr)
    return Fail(Code::kNotFound, fmt::format("{}: has no {}", impl_->path, name));
  std::vector<std::byte> bytes;
  std::vector<std::byte> part(std::size_t{1} << 18);
  zip_int64_t got = 0;
  while ((got = zip_fread(file, part.data(), part.size())) > 0) {
    bytes.insert(bytes.end(), part.begin(), part.begin() + got);
    if (bytes.size() > limit) break;
  }
  const bool bad = zip_fclose(file) != 0 || got < 0;
  if (bad || bytes.size() > limit)
    return Fail(Code::kRecordsDamaged,
                fmt::format("{}: {} is {}; take another copy of the backup", impl_->path, name,
                            bad ? "damaged" : "longer than it can be"));
  return bytes;
}

Status ZipReader::Lines(const std::string& name, std::size_t limit,
                        const std::function<Status(std::string_view)>& take) const {
  zip_file_t* file = zip_fopen(impl_->zip, name.c_str(), 0);
  if (file == nullptr)
    return Fail(Code::kNotFound, fmt::format("{}: has no {}", impl_->path, name));
  std::string rest;
  std::vector<char> part(std::size_t{1} << 18);
  zip_int64_t got = 0;
  Status status;
  while (status && (got = zip_fread(file, part.data(), part.size())) > 0) {
    rest.append(part.data(), static_cast<std::size_t>(got));
    std::size_t start = 0;
    for (std::size_t end = rest.find('\n'); status && end != std::string::npos;
         end = rest.find('\n', start)) {
      status = take(std::string_view(rest).substr(start, end - start));
      start = end + 1;
    }
    rest.erase(0, start);
    if (status && rest.size() > limit)
      status = Fail(Code::kRecordsDamaged,
                    fmt::format("{}: {} holds a line that no entry is", impl_->path, name));
  }
  const bool bad = zip_fclose(file) != 0 || got < 0;
  if (!status) return status;
  if (bad || !rest.empty())
    return Fail(
        Code::kRecordsDamaged,
        fmt::format("{}: {} is damaged; take another copy of the backup", impl_->path, name));
  return {};
}

std::string SafeName(std::string_view name) {
  constexpr std::size_t kLongest = 80, kEnding = 16;
  std::string safe;
  for (const char c : name) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                       c == '.' || c == '-' || c == '_';
    safe += plain ? c : '_';
  }
  if (safe.size() > kLongest) {
    const std::size_t dot = safe.rfind('.');
    std::string ending =
        dot != std::string::npos && safe.size() - dot <= kEnding ? safe.substr(dot) : std::string();
    safe.replace(kLongest - ending.size(), std::string::npos, ending);
  }
  if (safe.empty() || safe.front() == '.') safe = "_" + safe;
  return safe;
}

}  // namespace cutface
