// manifest_dump FILE...: each manifest as one line of JSON, for the check against openpyxl.
#include <cstdio>
#include <exception>
#include <nlohmann/json.hpp>
#include <string>

#include "cutface/batch.h"

namespace {

using Json = nlohmann::ordered_json;

Json AsJson(const std::string& file) {
  const auto manifest = cutface::ReadManifest(file);
  Json out = Json::object();
  if (!manifest) {
    out["error"] = manifest.error().message;
    return out;
  }
  out["rows"] = Json::array();
  for (const cutface::ManifestRow& row : manifest->rows) {
    Json one = {{"line", row.line},
                {"image", row.image},
                {"part", row.part},
                {"serial", row.sample.serial},
                {"lot", row.sample.lot},
                {"plane", row.plane},
                {"face", row.sample.face},
                {"taken", row.sample.taken},
                {"operator", row.operator_name},
                {"trial", row.trial}};
    if (row.sample.station_mm) one["station"] = *row.sample.station_mm;
    for (const auto& [name, level] : row.factors) one["factor:" + name] = level;
    out["rows"].push_back(one);
  }
  out["warnings"] = manifest->warnings;
  return out;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    for (int i = 1; i < argc; ++i) std::puts(AsJson(argv[i]).dump().c_str());
  } catch (const std::exception& e) {
    std::fprintf(stderr, "manifest_dump: %s\n", e.what());
    return 1;
  }
  return 0;
}
