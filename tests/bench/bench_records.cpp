// How fast a large store of records answers.
//
// usage: bench_records NEW_STORE ROWS
//
// Fills a new store with invented results, 100 of each part and lot, and asks for them by part and
// lot. Prints seconds and, of the queries, the median and the slowest of 200.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "cutface/archive.h"

namespace {

using namespace cutface;

constexpr std::int64_t kRowsOfALot = 100, kLotsOfAPart = 10, kBlock = 10000;

double Seconds() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

std::string PartOf(std::int64_t row) {
  return fmt::format("P-{:05}", row / (kRowsOfALot * kLotsOfAPart));
}
std::string LotOf(std::int64_t row) {
  return fmt::format("L-{:02}", row / kRowsOfALot % kLotsOfAPart);
}

EntryDraft Draft(std::int64_t row) {
  EntryDraft draft;
  draft.kind = "result";
  draft.who = "I. Measure";
  draft.part = PartOf(row);
  draft.lot = LotOf(row);
  draft.serial = fmt::format("{:06}", row % kRowsOfALot);
  draft.about = Sha256Hex(fmt::format("picture {}", row));
  draft.body = fmt::format(
      R"({{"file_sha256":"{}","revision":"C","rows":[{{"actual":2.5,"no":"1","quantity":"diameter",)"
      R"("verdict":"conforms"}}],"section":"extrusion","verdict":"conforms"}})",
      Sha256Hex(fmt::format("result {}", row)));
  return draft;
}

template <class Ask>
void Time(const char* what, std::int64_t rows, Ask ask) {
  std::vector<double> seconds;
  std::size_t found = 0;
  std::uint64_t state = 1;
  for (int i = 0; i < 200; ++i) {
    state = state * 6364136223846793005u + 1442695040888963407u;  // Knuth's MMIX constants
    const double begun = Seconds();
    found += ask(static_cast<std::int64_t>((state >> 33) % static_cast<std::uint64_t>(rows)));
    seconds.push_back(Seconds() - begun);
  }
  std::sort(seconds.begin(), seconds.end());
  std::puts(fmt::format("{}: median {:.4f} s, slowest {:.4f} s, {} rows a query", what,
                        seconds[100], seconds.back(), found / 200)
                .c_str());
  std::fflush(stdout);
}

int Failed(const Error& error) {
  std::fputs((error.message + "\n").c_str(), stderr);
  return 1;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 3) return 2;
  const std::int64_t rows = std::atoll(argv[2]);
  if (rows < kBlock) return 2;
  auto store = Archive::Start(argv[1], "E. Method", Passphrase("sections are cut square"));
  if (!store) return Failed(store.error());
  const double begun = Seconds();
  for (std::int64_t at = 0; at < rows; at += kBlock) {
    std::vector<EntryDraft> drafts;
    for (std::int64_t row = at; row < std::min(rows, at + kBlock); ++row)
      drafts.push_back(Draft(row));
    if (auto added = store->Append(drafts); !added) return Failed(added.error());
  }
  std::puts(fmt::format("{} rows appended in {:.1f} s", rows, Seconds() - begun).c_str());
  const auto count = [&](const ArchiveQuery& query) {
    auto entries = store->Find(query);
    return entries ? entries->size() : 0;
  };
  Time("part and lot", rows, [&](std::int64_t row) {
    ArchiveQuery query;
    query.part = PartOf(row), query.lot = LotOf(row);
    return count(query);
  });
  Time("results of part and lot", rows, [&](std::int64_t row) {
    ArchiveQuery query;
    query.kind = "result";
    query.part = PartOf(row), query.lot = LotOf(row);
    return count(query);
  });
  Time("part, lot and serial", rows, [&](std::int64_t row) {
    ArchiveQuery query;
    query.part = PartOf(row), query.lot = LotOf(row), query.serial = Draft(row).serial;
    return count(query);
  });
  Time("entry of a result file", rows, [&](std::int64_t row) {
    auto entry = store->EntryOfResult(Sha256Hex(fmt::format("picture {}", row)),
                                      Sha256Hex(fmt::format("result {}", row)));
    return std::size_t{entry && *entry != 0};
  });
  const double before = Seconds();
  VerifyOptions chain;
  chain.files = false;
  auto report = store->Verify(chain);
  if (!report) return Failed(report.error());
  std::puts(fmt::format("chain and seals of {} entries verified in {:.1f} s: {}",
                        report->head.entries, Seconds() - before,
                        report->Sound() ? "sound" : "NOT SOUND")
                .c_str());
  return 0;
}
