/* schema.c - one step for each version.
 *
 * The version is SQLite's user_version, in the file's header and under the same
 * transaction as the tables: a step that a power cut ends half-way has not been made.
 * A new version is a new row; old rows are never changed. */
#include "ledger/schema.h"

#include <stdio.h>

/* Step k leads from version k to k + 1. */
static const char *const steps[] = {
    "CREATE TABLE counter (key TEXT PRIMARY KEY, value INTEGER NOT NULL) WITHOUT ROWID;"
    "CREATE TABLE note (key TEXT PRIMARY KEY, text TEXT NOT NULL) WITHOUT ROWID;"
    "CREATE TABLE save (one INTEGER PRIMARY KEY CHECK (one = 1), wall_ms INTEGER NOT NULL,"
    " mono_ms INTEGER NOT NULL, boot TEXT NOT NULL);"
    "CREATE TABLE event (wall_ms INTEGER NOT NULL, subject TEXT NOT NULL, text TEXT NOT NULL);"
    "CREATE INDEX event_by_time ON event (wall_ms);"
    "CREATE TABLE history (to_ms INTEGER NOT NULL, from_ms INTEGER NOT NULL,"
    " subject TEXT NOT NULL, spare_mwh INTEGER NOT NULL, grid_mwh INTEGER NOT NULL,"
    " on_ms INTEGER NOT NULL, PRIMARY KEY (to_ms, subject)) WITHOUT ROWID;",
};

enum { VERSION = sizeof(steps) / sizeof(steps[0]) };

static bool version_of(sqlite3 *db, int *version)
{
    sqlite3_stmt *statement;
    bool known = sqlite3_prepare_v2(db, "PRAGMA user_version", -1, &statement, NULL) == SQLITE_OK &&
                 sqlite3_step(statement) == SQLITE_ROW;
    if (known)
        *version = sqlite3_column_int(statement, 0);
    sqlite3_finalize(statement);
    return known;
}

static bool do_sql(sqlite3 *db, const char *sql)
{
    return sqlite3_exec(db, sql, NULL, NULL, NULL) == SQLITE_OK;
}

static bool make_step(sqlite3 *db, int version)
{
    char set[64];
    snprintf(set, sizeof(set), "PRAGMA user_version = %d", version + 1);
    return do_sql(db, "BEGIN IMMEDIATE") && do_sql(db, steps[version]) && do_sql(db, set) &&
           do_sql(db, "COMMIT");
}

static bool known_version(sqlite3 *db, int *version, struct trouble *trouble)
{
    if (!version_of(db, version)) {
        trouble_set(trouble, "", "%s", sqlite3_errmsg(db));
        return false;
    }
    return (*version >= 0 && *version <= VERSION) ||
           trouble_set(trouble, "", "version %d: at most %d expected; a newer program wrote it",
                       *version, VERSION);
}

bool schema_is_known(sqlite3 *db, struct trouble *trouble)
{
    int version;
    return known_version(db, &version, trouble);
}

bool schema_migrate(sqlite3 *db, struct trouble *trouble)
{
    int version;
    if (!known_version(db, &version, trouble))
        return false;
    for (; version < VERSION; version++) {
        if (make_step(db, version))
            continue;
        trouble_set(trouble, "", "%s", sqlite3_errmsg(db));
        do_sql(db, "ROLLBACK");
        return false;
    }
    return true;
}
