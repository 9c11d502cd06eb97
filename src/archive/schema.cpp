#include "archive/schema.h"

namespace cutface {
namespace {

// REPLACE would delete a row without firing the trigger on DELETE, so inserting is watched too:
// only what follows the last entry may come in.
const std::vector<const char*> kSqlite = {
    "CREATE TABLE cutface_entries (seq INTEGER PRIMARY KEY, kind TEXT NOT NULL, written TEXT NOT "
    "NULL, who TEXT NOT NULL, part TEXT NOT NULL, lot TEXT NOT NULL, serial TEXT NOT NULL, about "
    "TEXT NOT NULL, body TEXT NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL UNIQUE)",
    "CREATE INDEX cutface_by_part ON cutface_entries (part, lot, serial, seq)",
    "CREATE INDEX cutface_by_lot ON cutface_entries (lot, seq)",
    "CREATE INDEX cutface_by_serial ON cutface_entries (serial, seq)",
    "CREATE INDEX cutface_by_about ON cutface_entries (about, seq)",
    "CREATE INDEX cutface_by_kind ON cutface_entries (kind, who, seq)",
    "CREATE TRIGGER cutface_no_update BEFORE UPDATE ON cutface_entries BEGIN SELECT RAISE(ABORT, "
    "'entries are never changed'); END",
    "CREATE TRIGGER cutface_no_delete BEFORE DELETE ON cutface_entries BEGIN SELECT RAISE(ABORT, "
    "'entries are never removed'); END",
    "CREATE TRIGGER cutface_follows BEFORE INSERT ON cutface_entries BEGIN SELECT RAISE(ABORT, "
    "'an entry must follow the last one') WHERE NEW.seq <> (SELECT coalesce(max(seq), 0) + 1 FROM "
    "cutface_entries) OR NEW.previous <> coalesce((SELECT hash FROM cutface_entries WHERE seq = "
    "NEW.seq - 1), ''); END",
};

const std::vector<const char*> kPostgres = {
    "CREATE TABLE cutface_entries (seq BIGINT PRIMARY KEY, kind TEXT NOT NULL, written TEXT NOT "
    "NULL, who TEXT NOT NULL, part TEXT NOT NULL, lot TEXT NOT NULL, serial TEXT NOT NULL, about "
    "TEXT NOT NULL, body TEXT NOT NULL, previous TEXT NOT NULL, hash TEXT NOT NULL UNIQUE)",
    "CREATE INDEX cutface_by_part ON cutface_entries (part, lot, serial, seq)",
    "CREATE INDEX cutface_by_lot ON cutface_entries (lot, seq)",
    "CREATE INDEX cutface_by_serial ON cutface_entries (serial, seq)",
    "CREATE INDEX cutface_by_about ON cutface_entries (about, seq)",
    "CREATE INDEX cutface_by_kind ON cutface_entries (kind, who, seq)",
    "CREATE TABLE cutface_pieces (sha256 TEXT NOT NULL, piece INTEGER NOT NULL, bytes BYTEA NOT "
    "NULL, PRIMARY KEY (sha256, piece))",
    "CREATE FUNCTION cutface_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN RAISE EXCEPTION "
    "'entries are never changed or removed'; END $$",
    "CREATE FUNCTION cutface_follow() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF NEW.seq <> "
    "(SELECT coalesce(max(seq), 0) + 1 FROM cutface_entries) OR NEW.previous <> coalesce((SELECT "
    "hash FROM cutface_entries WHERE seq = NEW.seq - 1), '') THEN RAISE EXCEPTION 'an entry must "
    "follow the last one'; END IF; RETURN NEW; END $$",
    "CREATE TRIGGER cutface_no_change BEFORE UPDATE OR DELETE ON cutface_entries FOR EACH ROW "
    "EXECUTE FUNCTION cutface_refuse()",
    "CREATE TRIGGER cutface_no_truncate BEFORE TRUNCATE ON cutface_entries FOR EACH STATEMENT "
    "EXECUTE FUNCTION cutface_refuse()",
    "CREATE TRIGGER cutface_follows BEFORE INSERT ON cutface_entries FOR EACH ROW EXECUTE FUNCTION "
    "cutface_follow()",
    "CREATE TRIGGER cutface_pieces_no_change BEFORE UPDATE OR DELETE ON cutface_pieces FOR EACH "
    "ROW EXECUTE FUNCTION cutface_refuse()",
    "CREATE TRIGGER cutface_pieces_no_truncate BEFORE TRUNCATE ON cutface_pieces FOR EACH "
    "STATEMENT EXECUTE FUNCTION cutface_refuse()",
};

}  // namespace

std::vector<const char*> SchemaStatements(bool postgres) { return postgres ? kPostgres : kSqlite; }

}  // namespace cutface
