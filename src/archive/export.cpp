// A record with its files, readable without this program.
#include <fmt/format.h>

#include <filesystem>
#include <map>
#include <set>

#include "archive/bodies.h"
#include "archive/impl.h"
#include "archive/page.h"
#include "archive/zip.h"

namespace cutface {
namespace {

constexpr std::size_t kMostResults = 10000;

void AddHashes(const ArchiveEntry& entry, std::set<std::string>& hashes) {
  const Json body = Json::parse(entry.body, nullptr, /*allow_exceptions=*/false);
  hashes.insert(entry.about);
  for (const char* key :
       {"file_sha256", "image_sha256", "drawing_sha256", "calibration_sha256", "flat_field_sha256"})
    hashes.insert(TextOf(body, key));
}

}  // namespace

namespace {

// Adds every kept file of the entries; the page then knows where each lies.
Status AddFiles(const Archive& store, ExportPage& page, ZipWriter& zip) {
  for (const ArchiveEntry& entry : page.entries) {
    if (entry.kind != "file" || page.files.contains(entry.about)) continue;
    const Json body = Json::parse(entry.body, nullptr, /*allow_exceptions=*/false);
    if (auto bytes = store.Original(entry.about); !bytes) {
      if (TextOf(body, "kept") == "reference") continue;  // moved since; the page says not kept
      return tl::unexpected(bytes.error());
    }
    const std::string name =
        fmt::format("files/{}-{}", entry.about.substr(0, 8), SafeName(TextOf(body, "name")));
    page.files[entry.about] = {name, TextOf(body, "name"), TextOf(body, "role")};
    const auto piece = [&store, sha = entry.about]() -> NextPiece {
      return [&store, sha, told = false]() mutable -> Result<std::string> {
        if (told) return std::string();
        told = true;
        auto file = store.Original(sha);
        if (!file) return tl::unexpected(file.error());
        return std::string(reinterpret_cast<const char*>(file->data()), file->size());
      };
    };
    if (auto status = zip.Add(name, piece, /*pack=*/false); !status) return status;
  }
  return {};
}

}  // namespace

Status Archive::Export(const ArchiveQuery& results, const std::string& zip_path) const {
  ArchiveQuery query = results;
  query.kind = "result";
  query.limit = std::min(query.limit, kMostResults);
  auto found = Find(query);
  if (!found) return tl::unexpected(found.error());
  if (found->empty())
    return Fail(Code::kNotFound, place() + ": holds no result of that part, lot and serial number");
  ExportPage page;
  std::map<std::int64_t, ArchiveEntry> entries;  // by number, each once
  std::set<std::string> hashes;
  const auto take = [&](const std::vector<ArchiveEntry>& more) {
    for (const ArchiveEntry& entry : more) {
      AddHashes(entry, hashes);
      entries[entry.seq] = entry;
    }
  };
  const auto take_about = [&](const std::string& hash) -> Status {
    if (hash.empty()) return {};
    ArchiveQuery about;
    about.about = hash;
    auto more = Find(about);
    if (!more) return tl::unexpected(more.error());
    std::erase_if(*more,
                  [&](const ArchiveEntry& e) {  // other results of the picture have their own
                    return e.kind == "result" && !entries.contains(e.seq);
                  });
    take(*more);
    return {};
  };
  take(*found);
  for (const ArchiveEntry& result : *found) {
    auto state = State(result.seq);
    if (!state) return tl::unexpected(state.error());
    // Edits speak of the result file, marked pictures and the like of the sample.
    const Json body = Json::parse(result.body, nullptr, /*allow_exceptions=*/false);
    for (const std::string& hash :
         {result.hash, TextOf(body, "file_sha256"), TextOf(body, "drawing_sha256"),
          TextOf(body, "calibration_sha256")}) {
      if (auto status = take_about(hash); !status) return status;
    }
    page.results.push_back(std::move(*state));
  }
  for (const std::string& hash : std::set<std::string>(hashes)) {
    auto file = impl_->FileEntry(hash);
    if (!file) return tl::unexpected(file.error());
    if (*file) entries[(*file)->seq] = **file;
  }
  ArchiveQuery persons;
  persons.kind = "person";
  auto people = Find(persons);
  if (!people) return tl::unexpected(people.error());
  take(*people);
  auto start = Entry(1);
  if (!start) return tl::unexpected(start.error());
  entries[1] = *start;
  auto head = Head();
  if (!head) return tl::unexpected(head.error());
  page.head = *head;
  page.made = impl_->options.now();

  auto zip = ZipWriter::Create(zip_path);
  if (!zip) return tl::unexpected(zip.error());
  std::string lines;
  for (const auto& [seq, entry] : entries) {
    lines += EntryToJson(entry) + "\n";
    page.entries.push_back(entry);
  }
  if (auto status = AddFiles(*this, page, *zip); !status) return status;
  if (auto status = zip->Add("entries.jsonl", lines); !status) return status;
  if (auto status = zip->Add("index.html", PageHtml(page)); !status) return status;
  return zip->Finish();
}

}  // namespace cutface
