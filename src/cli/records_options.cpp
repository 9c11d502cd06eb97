#include "cli/records_options.h"

namespace cutface {
namespace {

using What = RecordsCall::What;

class Maker {
 public:
  Maker(CLI::App& records, RecordsCall& call) : records_(records), call_(call) {}

  CLI::App& Make(What what, const char* name, const char* text) {
    CLI::App* app = records_.add_subcommand(name, text);
    app->add_option("--store", call_.store,
                    "The store: a file (SQLite) or postgresql://USER@HOST/DATABASE")
        ->required()
        ->type_name("STORE");
    app->callback([this, what] { call_.what = what; });
    return *app;
  }
  // With a name and a passphrase that proves it.
  CLI::App& MakeSealed(What what, const char* name, const char* text) {
    CLI::App& app = Make(what, name, text);
    By(app)->required();
    Passphrase(app);
    return app;
  }
  CLI::Option* By(CLI::App& app) {
    return app.add_option("--by", call_.by, "Who does this")->type_name("NAME");
  }
  void Passphrase(CLI::App& app) {
    CLI::Option* file = app.add_option("--passphrase-file", call_.passphrase_file,
                                       "Read the passphrase from the first line of this file "
                                       "(default: asked for on the terminal)")
                            ->type_name("FILE");
    app.add_option("--passphrase-fd", call_.passphrase_fd, "Read it from this open file descriptor")
        ->excludes(file)
        ->type_name("N");
  }
  void NewPassphrase(CLI::App& app) {
    CLI::Option* file =
        app.add_option("--new-passphrase-file", call_.new_passphrase_file,
                       "Read the new passphrase, of 10 characters or more, from this file")
            ->type_name("FILE");
    app.add_option("--new-passphrase-fd", call_.new_passphrase_fd,
                   "Read it from this open file descriptor")
        ->excludes(file)
        ->type_name("N");
  }
  void Sample(CLI::App& app) {
    app.add_option("--part", call_.part, "Part number");
    app.add_option("--lot", call_.lot, "Lot");
    app.add_option("--serial", call_.serial, "Serial number");
  }
  void Entries(CLI::App& app, const char* text) {
    app.add_option("entries", call_.entries, text)->type_name("N")->check(CLI::PositiveNumber);
  }
  void Json(CLI::App& app) { app.add_flag("--json", call_.json, "Print JSON in place of tables"); }
  void To(CLI::App& app, const char* text) {
    app.add_option("--to", call_.to, text)->required()->type_name("FILE");
  }
  RecordsCall& call() { return call_; }

 private:
  CLI::App& records_;
  RecordsCall& call_;
};

void AddPeople(Maker& make, RecordsCall& call) {
  CLI::App& start = make.Make(What::kStart, "start", "Make a new store with its first engineer");
  make.By(start)->required();
  make.NewPassphrase(start);
  CLI::App& admit = make.MakeSealed(
      What::kAdmit, "admit", "An engineer admits a person, or gives one a new role or passphrase");
  admit.add_option("name", call.name, "The person")->required()->type_name("NAME");
  admit
      .add_option("--role", call.role,
                  "engineer (changes drawings, limits, hints and persons) or inspector")
      ->required()
      ->check(CLI::IsMember({"engineer", "inspector"}));
  make.NewPassphrase(admit);
  CLI::App& retire = make.MakeSealed(What::kRetire, "retire", "An engineer retires a person");
  retire.add_option("name", call.name, "The person")->required()->type_name("NAME");
  CLI::App& change = make.MakeSealed(What::kPassphrase, "passphrase", "Change your own passphrase");
  make.NewPassphrase(change);
  make.Json(make.Make(What::kPeople, "people", "List the persons of a store"));
}

void AddContents(Maker& make, RecordsCall& call) {
  CLI::App& add = make.Make(
      What::kAdd, "add",
      "Add results with their pictures, calibration records, logs of checks; as an engineer, with "
      "a\npassphrase, drawings and hints; anything else is kept as a document");
  make.By(add)->required();
  make.Passphrase(add);
  add.add_option("files", call.files, "The files")->required()->type_name("FILE");
  add.add_option("--images", call.images, "Folder of the pictures (default: where the result lies)")
      ->type_name("DIR");
  add.add_flag("--reference", call.reference, "Keep hash and path of pictures and not their bytes");
  make.Sample(add);
  CLI::App& list = make.Make(What::kList, "list", "List entries");
  make.Sample(list);
  list.add_option("--kind", call.kind, "Kind of entry: result, signature, file ...");
  list.add_option("--limit", call.limit, "At most so many (default 200)")->type_name("N");
  list.add_flag("--newest", call.newest, "The newest first");
  make.Json(list);
  CLI::App& show = make.Make(What::kShow, "show", "Show entries; of a result what stands open");
  make.Entries(show, "Numbers of entries");
  make.Json(show);
}

void AddDecisions(Maker& make, RecordsCall& call) {
  CLI::App& dispose =
      make.MakeSealed(What::kDispose, "dispose", "Decide about a row or finding of a result");
  dispose.add_option("entries", call.entries, "The entry of the result")
      ->required()
      ->expected(1)
      ->type_name("N");
  CLI::Option* row = dispose.add_option("--row", call.row, "Number of the row");
  dispose.add_option("--finding", call.finding, "Number of the finding as `show` lists it, from 1")
      ->check(CLI::PositiveNumber)
      ->excludes(row);
  dispose.add_option("--as", call.as, "What is decided")
      ->required()
      ->check(CLI::IsMember({"accept", "recut", "rework", "scrap", "concession"}));
  dispose.add_option("--reference", call.reference_no, "Of the concession");
  dispose.add_option("--reason", call.reason, "Why")->required();
  CLI::App& sign = make.MakeSealed(What::kSign, "sign", "Sign results");
  make.Entries(sign, "Entries of results; without them all of --part, --lot, --serial");
  sign.add_option("--meaning", call.meaning, "What the signature says")
      ->required()
      ->check(CLI::IsMember({"measured", "reviewed", "approved"}));
  make.Sample(sign);
}

void AddKeeping(Maker& make, RecordsCall& call) {
  CLI::App& verify = make.Make(What::kVerify, "verify",
                               "Look for changed, removed or reordered entries and originals");
  verify.add_option("--head", call.head, "A head that was kept elsewhere, as `head` printed it")
      ->type_name("N:HASH");
  verify.add_flag("--quick", call.quick, "Without reading the originals");
  make.Json(verify);
  make.Make(What::kHead, "head", "Print N:HASH of the last entry, to be kept elsewhere");
  CLI::App& out = make.Make(What::kExport, "export",
                            "Write a record with its files into one zip, readable by itself");
  make.Sample(out);
  make.To(out, "The new zip");
  make.To(make.Make(What::kBackup, "backup", "Write the whole store into one zip"), "The new zip");
  CLI::App& restore = make.Make(What::kRestore, "restore", "Make a store out of a backup");
  restore.add_option("backup", call.files, "The backup")
      ->required()
      ->expected(1)
      ->type_name("FILE");
  CLI::App& again = make.Make(What::kRemeasure, "remeasure",
                              "Measure kept pictures with this version and list what differs");
  make.Entries(again, "Entries of results; without them all of --part, --lot, --serial");
  make.Sample(again);
  again.add_option("--channel", call.channel, "Channel of colour pictures, as it was then")
      ->type_name("NAME");
  make.Json(again);
}

}  // namespace

void AddRecordsOptions(CLI::App& records, RecordsCall& call) {
  records.require_subcommand(1);
  // The callbacks of the subcommands hold on to it until the words are parsed.
  const auto make = std::make_shared<Maker>(records, call);
  AddPeople(*make, call);
  AddContents(*make, call);
  AddDecisions(*make, call);
  AddKeeping(*make, call);
  records.callback([make] {});
  records.footer(
      "Exit status: 0 done, or all is sound and the same; 1 verify found damage, a signature is "
      "refused\nwhile something stands open, or remeasure found differences; 2 the call or a file "
      "it names is wrong.\nA passphrase never stands on the command line. What the tool does for "
      "21 "
      "CFR Part 11, and what the\nsite must do, point by point: src/archive/part11.md.");
}

}  // namespace cutface
