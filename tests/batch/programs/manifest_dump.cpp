// manifest_dump FILE...: each manifest as one line of JSON, for the check against openpyxl.
#include <cstdio>
#include <nlohmann/json.hpp>

#include "cutface/batch.h"

int main(int argc, char** argv) {
  using Json = nlohmann::ordered_json;
  for (int i = 1; i < argc; ++i) {
    const auto manifest = cutface::ReadManifest(argv[i]);
    Json out = Json::object();
    if (!manifest) {
      out["error"] = manifest.error().message;
    } else {
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
    }
    std::puts(out.dump().c_str());
  }
  return 0;
}
