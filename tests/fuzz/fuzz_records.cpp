// Entries as backups hold them. What is accepted has a sound hash and comes back as the same bytes.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>

#include "cutface/archive.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<char[]> copy(new char[size]);
  std::memcpy(copy.get(), data, size);
  const std::string_view text(copy.get(), size);
  // An entry out of the text as a body, with the hash that belongs to it: gets past the hash that
  // no mutation would meet.
  for (const char* kind : {"", "person", "result", "disposition", "signature", "file"}) {
    std::string line(text);
    if (*kind != '\0') {
      ArchiveEntry entry;
      entry.seq = 1;
      entry.kind = kind;
      entry.who = "somebody";
      entry.body = text;
      try {
        entry.hash = EntryHash(entry);
        line = EntryToJson(entry);
      } catch (...) {
        CF_CHECK(false);  // what is no UTF-8 must not throw either
      }
    }
    const auto entry = ParseEntry(line);
    if (!entry) {
      CF_CHECK(!entry.error().message.empty());
      continue;
    }
    CF_CHECK(EntryHash(*entry) == entry->hash);
    const auto again = ParseEntry(EntryToJson(*entry));
    CF_CHECK(again && again->hash == entry->hash && again->body == entry->body);
    (void)CheckEntryBody(*entry);
  }
  return 0;
}
