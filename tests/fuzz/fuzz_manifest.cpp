// Manifests, CSV and XLSX alike (told by their first bytes). What is accepted names an image in
// every row, once, and survives being written as a proposal.
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <memory>
#include <set>

#include "cutface/batch.h"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace cutface;
  const std::unique_ptr<std::byte[]> copy(new std::byte[size]);
  if (size > 0) std::memcpy(copy.get(), data, size);
  const auto manifest = ParseManifest({copy.get(), size}, "fuzz");
  if (!manifest) {
    CF_CHECK(!manifest.error().message.empty());
    return 0;
  }
  std::set<std::string> images;
  Roster roster;
  for (const ManifestRow& row : manifest->rows) {
    CF_CHECK(!row.image.empty() && images.insert(row.image).second);
    CF_CHECK(row.reimage_of.empty() || row.recut_of.empty());
    FaceEntry face;
    face.image = row.image;
    face.plane = row.plane;
    face.sample = row.sample;
    face.factors = row.factors;
    roster.faces.push_back(face);
  }
  const std::string csv = ManifestToCsv(roster);
  const auto again = ParseManifest(std::as_bytes(std::span(csv.data(), csv.size())), "again");
  // Cells that grew beyond their limit by a quote are refused, and nothing else.
  if (!again) return 0;
  CF_CHECK(again->rows.size() == manifest->rows.size());
  for (std::size_t i = 0; i < again->rows.size(); ++i) {
    CF_CHECK(again->rows[i].image == manifest->rows[i].image);
    CF_CHECK(again->rows[i].sample.serial == manifest->rows[i].sample.serial);
    CF_CHECK(again->rows[i].factors == manifest->rows[i].factors);
  }
  return 0;
}
