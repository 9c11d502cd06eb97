// What `cutface batch` may be told.
#include <CLI/CLI.hpp>

#include "cli/batch_command.h"
#include "cli/face_options.h"

namespace cutface {
namespace {

void AddWhatToMeasure(CLI::App& app, Call& call) {
  BatchCall& batch = call.batch;
  app.add_option("folder", batch.folder, "Folder of the pictures: PNG, JPEG, BMP or TIFF")
      ->required()
      ->type_name("DIR");
  app.add_option("--design", batch.designs,
                 "The drawing (*.design.json); several where the folder holds several parts, which "
                 "the\nmanifest or the names then tell apart")
      ->required()
      ->type_name("D");
  app.add_option("--section", call.section,
                 "Section of all faces that manifest or name do not give a plane")
      ->type_name("S");
  CLI::Option* manifest =
      app.add_option("--manifest", batch.manifest,
                     "Table of the pictures (CSV in UTF-8, or XLSX), one row a picture; its first "
                     "row names\nthe columns: image, part, revision, serial, lot, block, plane, "
                     "station, face, taken,\noperator, trial, objective, calibration, prepared by, "
                     "reimage of, recut of, factor:NAME, remark")
          ->type_name("FILE");
  app.add_option("--pattern", batch.pattern,
                 "What names of pictures tell, as {serial}_{plane}_{face}.png; fields as the "
                 "columns above,\n{any} for what is not kept")
      ->excludes(manifest)
      ->type_name("P");
  app.add_flag("--recursive", batch.recursive, "Folders within the folder too");
  app.add_flag("--watch", batch.watch,
               "Go on as pictures come, until Ctrl-C; a picture is taken when its size stands "
               "still");
}

void AddBenches(CLI::App& app, Call& call) {
  app.add_option("--calibration", call.batch.calibrations,
                 "Calibration records (*.calibration.json), or folders of them; each picture takes "
                 "the one\nthat fits its size and the manifest's objective or calibration, and "
                 "two that fit are refused")
      ->required()
      ->type_name("C");
  app.add_option("--bench", call.bench, "Id of the record to take where several fit")
      ->type_name("ID");
  app.add_option("--objective", call.objective, "Objective of pictures without one of their own")
      ->type_name("O");
  app.add_option("--require-check", call.require_check_h,
                 "Refuse pictures without a passed check of the bench within so many hours")
      ->check(CLI::Range(0.01, 1e6))
      ->type_name("HOURS");
}

void AddHow(CLI::App& app, Call& call, std::string& channel) {
  app.add_option("--out", call.out,
                 "Folder for results, made when missing (default: results); not the pictures' own")
      ->type_name("DIR");
  app.add_option("--jobs", call.batch.jobs, "Faces measured at a time (default: one a core)")
      ->check(CLI::Range(1, 256))
      ->type_name("N");
  app.add_option("--memory", call.batch.memory_mb,
                 "Megabytes that pictures under work may take together; others wait")
      ->check(CLI::Range(16, 1 << 24))
      ->type_name("MB");
  app.add_flag("--json", call.json, "Print JSON, one line a face, then one with the counts");
  app.add_flag("--no-pictures", call.batch.no_pictures,
               "Write results only, no annotated pictures");
  CLI::Option* inspector = AddFaceOptions(app, call, channel);
  app.add_option("--records", call.batch.records,
                 "Store (see cutface records) that takes every result with its picture, drawing "
                 "and calibration")
      ->needs(inspector)
      ->type_name("STORE");
}

}  // namespace

void AddBatchOptions(CLI::App& app, Call& call, std::string& channel, PressureWords& words) {
  AddWhatToMeasure(app, call);
  AddBenches(app, call);
  AddHow(app, call, channel);
  AddDrawnFaceOptions(app, call, words);
  app.footer(
      "Writes STEM.result.json and STEM.png for every picture, in the folders of the pictures, "
      "and\n"
      "run.json: what became of each face. A second run measures what is new or changed. A face "
      "whose\nplane nobody names is not measured; which planes it may show stands in "
      "proposed-manifest.csv. Pressures hold for the lumens that a plane has; at least one plane "
      "must "
      "have\neach.\n\n"
      "Exit status: the worst of all faces, in the order 2 (the call, a file it names, or a face "
      "that\nwaits for one), 3 (a picture could not be measured), 1 (something does not conform, "
      "is not proven\nor not measured), 0.");
}

}  // namespace cutface
