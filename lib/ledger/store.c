/* store.c - what is on the disk, and how little of it is written.
 *
 * WAL with synchronous=FULL syncs at each commit, so a snapshot that was reported
 * written is there after a power cut; a smaller page than usual keeps a commit of a
 * few changed rows at a few kB. Counters take the larger of old and new, so that no
 * mistake above can make one run backwards. The schema's version is user_version:
 * each step of the table below leads from one version to the next. */
#include "store.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { BUSY_MS = 2000 };

/* Each statement of a commit, prepared once. */
enum statement {
    SQL_BEGIN,
    SQL_COMMIT,
    SQL_ROLLBACK,
    SQL_COUNTER,
    SQL_NOTE,
    SQL_EVENT,
    SQL_ROW,
    SQL_SAVE,
    SQL_OLD_EVENTS,
    SQL_OLD_ROWS,
    SQL_COUNT,
};

static const char *const statement_text[SQL_COUNT] = {
    [SQL_BEGIN] = "BEGIN IMMEDIATE",
    [SQL_COMMIT] = "COMMIT",
    [SQL_ROLLBACK] = "ROLLBACK",
    [SQL_COUNTER] = "INSERT INTO counter VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE "
                    "SET value = max(value, excluded.value) WHERE value < excluded.value",
    [SQL_NOTE] = "INSERT INTO note VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE "
                 "SET text = excluded.text WHERE text <> excluded.text",
    [SQL_EVENT] = "INSERT INTO event (wall_ms, subject, text) VALUES (?1, ?2, ?3)",
    [SQL_ROW] = "INSERT OR REPLACE INTO history VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    [SQL_SAVE] = "INSERT OR REPLACE INTO save VALUES (1, ?1, ?2, ?3)",
    [SQL_OLD_EVENTS] = "DELETE FROM event WHERE wall_ms < ?1",
    [SQL_OLD_ROWS] = "DELETE FROM history WHERE to_ms < ?1",
};

struct store {
    sqlite3 *db;
    sqlite3_stmt *statement[SQL_COUNT];
    int64_t pruned_day;
};

/* Step k leads from version k to k + 1. */
static const char *const schema_steps[] = {
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
enum { SCHEMA_VERSION = sizeof(schema_steps) / sizeof(schema_steps[0]) };

static bool blame(sqlite3 *db, struct trouble *trouble)
{
    return trouble_set(trouble, "", "%s", db ? sqlite3_errmsg(db) : "out of memory");
}

/* ---- opening -------------------------------------------------------------------------------- */

static int number_of(sqlite3 *db, const char *pragma)
{
    sqlite3_stmt *statement;
    int number = -1;
    if (sqlite3_prepare_v2(db, pragma, -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        number = sqlite3_column_int(statement, 0);
    sqlite3_finalize(statement);
    return number;
}

static bool is_sound(sqlite3 *db)
{
    sqlite3_stmt *statement;
    bool sound = false;
    if (sqlite3_prepare_v2(db, "PRAGMA quick_check(1)", -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        sound = strcmp((const char *)sqlite3_column_text(statement, 0), "ok") == 0;
    sqlite3_finalize(statement);
    return sound;
}

static bool is_damage(int code)
{
    return (code & 0xff) == SQLITE_CORRUPT || (code & 0xff) == SQLITE_NOTADB;
}

static bool migrate(sqlite3 *db, struct trouble *trouble)
{
    int version = number_of(db, "PRAGMA user_version");
    if (version > SCHEMA_VERSION)
        return trouble_set(trouble, "", "it was written by a newer program (version %d, not %d)",
                           version, SCHEMA_VERSION);
    for (; version >= 0 && version < SCHEMA_VERSION; version++) {
        char set[64];
        snprintf(set, sizeof(set), "PRAGMA user_version = %d", version + 1);
        bool ok = sqlite3_exec(db, "BEGIN IMMEDIATE", NULL, NULL, NULL) == SQLITE_OK &&
                  sqlite3_exec(db, schema_steps[version], NULL, NULL, NULL) == SQLITE_OK &&
                  sqlite3_exec(db, set, NULL, NULL, NULL) == SQLITE_OK &&
                  sqlite3_exec(db, "COMMIT", NULL, NULL, NULL) == SQLITE_OK;
        if (!ok) {
            blame(db, trouble);
            sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
            return false;
        }
    }
    return version == SCHEMA_VERSION || blame(db, trouble);
}

/* The settings are for a small board: little memory, little written. */
static bool set_up(struct store *store, struct trouble *trouble)
{
    static const char pragmas[] = "PRAGMA page_size = 1024; PRAGMA journal_mode = WAL;"
                                  "PRAGMA synchronous = FULL; PRAGMA cache_size = -64;"
                                  "PRAGMA temp_store = MEMORY; PRAGMA mmap_size = 0;"
                                  "PRAGMA wal_autocheckpoint = 1000;"
                                  "PRAGMA journal_size_limit = 1100000";
    sqlite3_busy_timeout(store->db, BUSY_MS);
    if (sqlite3_exec(store->db, pragmas, NULL, NULL, NULL) != SQLITE_OK)
        return blame(store->db, trouble);
    if (!migrate(store->db, trouble))
        return false;
    for (int k = 0; k < SQL_COUNT; k++)
        if (sqlite3_prepare_v3(store->db, statement_text[k], -1, SQLITE_PREPARE_PERSISTENT,
                               &store->statement[k], NULL) != SQLITE_OK)
            return blame(store->db, trouble);
    return true;
}

static bool try_open(struct store *store, const char *path, bool *damaged, struct trouble *trouble)
{
    const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX;
    *damaged = false;
    if (sqlite3_open_v2(path, &store->db, flags, NULL) != SQLITE_OK)
        return blame(store->db, trouble);
    sqlite3_extended_result_codes(store->db, 1);
    if (!is_sound(store->db) && sqlite3_errcode(store->db) != SQLITE_OK) {
        *damaged = is_damage(sqlite3_errcode(store->db));
        if (*damaged || sqlite3_errcode(store->db) != SQLITE_ROW)
            return blame(store->db, trouble);
    }
    if (!is_sound(store->db)) {
        *damaged = true;
        return trouble_set(trouble, "", "it is damaged");
    }
    if (set_up(store, trouble))
        return true;
    *damaged = is_damage(sqlite3_errcode(store->db));
    return false;
}

static void shut(struct store *store)
{
    for (int k = 0; k < SQL_COUNT; k++)
        sqlite3_finalize(store->statement[k]);
    sqlite3_close(store->db);
    *store = (struct store){.db = NULL};
}

/* Kept for whoever wants to know, under a name that says so. */
static void put_aside(const char *path, char notice[static LEDGER_EVENT_MAX])
{
    static const char *const ends[] = {"", "-wal", "-shm"};
    long long now = (long long)time(NULL);
    for (size_t k = 0; k < sizeof(ends) / sizeof(ends[0]); k++) {
        char from[256], to[320];
        snprintf(from, sizeof(from), "%s%s", path, ends[k]);
        snprintf(to, sizeof(to), "%s.damaged-%lld%s", path, now, ends[k]);
        rename(from, to);
    }
    snprintf(notice, LEDGER_EVENT_MAX,
             "the ledger was damaged; it was put aside as %.150s.damaged-%lld and a new one begun",
             path, now);
}

struct store *store_open(const char *path, char notice[static LEDGER_EVENT_MAX],
                         struct trouble *trouble)
{
    bool damaged;
    struct store *store = calloc(1, sizeof(*store));
    if (!store) {
        trouble_set(trouble, path, "out of memory");
        return NULL;
    }
    if (try_open(store, path, &damaged, trouble))
        return store;
    shut(store);
    if (damaged) {
        put_aside(path, notice);
        if (try_open(store, path, &damaged, trouble))
            return store;
        shut(store);
    }
    free(store);
    return NULL;
}

void store_close(struct store *store)
{
    if (!store)
        return;
    shut(store);
    free(store);
}

/* ---- writing --------------------------------------------------------------------------------- */

static void bind_text(sqlite3_stmt *statement, int place, const char *text)
{
    sqlite3_bind_text(statement, place, text, -1, SQLITE_STATIC);
}

static bool run(struct store *store, enum statement which)
{
    int code = sqlite3_step(store->statement[which]);
    sqlite3_reset(store->statement[which]);
    return code == SQLITE_DONE;
}

static bool write_counters(struct store *store, const struct stage *stage)
{
    sqlite3_stmt *statement = store->statement[SQL_COUNTER];
    for (int k = 0; k < stage->counter_count; k++) {
        bind_text(statement, 1, stage->counter[k].key);
        sqlite3_bind_int64(statement, 2, stage->counter[k].value);
        if (!run(store, SQL_COUNTER))
            return false;
    }
    return true;
}

static bool write_notes(struct store *store, const struct stage *stage)
{
    sqlite3_stmt *statement = store->statement[SQL_NOTE];
    for (int k = 0; k < stage->note_count; k++) {
        bind_text(statement, 1, stage->note[k].key);
        bind_text(statement, 2, stage->note[k].text);
        if (!run(store, SQL_NOTE))
            return false;
    }
    return true;
}

static bool write_events(struct store *store, const struct stage *stage)
{
    sqlite3_stmt *statement = store->statement[SQL_EVENT];
    for (int k = 0; k < stage->event_count; k++) {
        sqlite3_bind_int64(statement, 1, stage->event[k].at.ms);
        bind_text(statement, 2, stage->event[k].subject);
        bind_text(statement, 3, stage->event[k].text);
        if (!run(store, SQL_EVENT))
            return false;
    }
    return true;
}

static bool write_rows(struct store *store, const struct stage *stage)
{
    sqlite3_stmt *statement = store->statement[SQL_ROW];
    for (int k = 0; k < stage->row_count; k++) {
        const struct staged_row *row = &stage->row[k];
        sqlite3_bind_int64(statement, 1, row->to.ms);
        sqlite3_bind_int64(statement, 2, row->from.ms);
        bind_text(statement, 3, row->subject);
        sqlite3_bind_int64(statement, 4, row->spare_mwh);
        sqlite3_bind_int64(statement, 5, row->grid_mwh);
        sqlite3_bind_int64(statement, 6, row->on_ms);
        if (!run(store, SQL_ROW))
            return false;
    }
    return true;
}

static bool write_save(struct store *store, const struct stage *stage, const char *boot)
{
    sqlite3_stmt *statement = store->statement[SQL_SAVE];
    sqlite3_bind_int64(statement, 1, stage->at.wall_trusted ? stage->at.wall.ms : 0);
    sqlite3_bind_int64(statement, 2, stage->at.mono.ms);
    bind_text(statement, 3, boot);
    return run(store, SQL_SAVE);
}

/* Once a day, and never by a clock that cannot be trusted. */
static bool prune(struct store *store, const struct stage *stage, int32_t history_days)
{
    int64_t day = stage->at.wall.ms / MS_PER_DAY;
    if (!stage->at.wall_trusted || day == store->pruned_day || history_days <= 0)
        return true;
    store->pruned_day = day;
    int64_t oldest_ms = stage->at.wall.ms - (int64_t)history_days * MS_PER_DAY;
    sqlite3_bind_int64(store->statement[SQL_OLD_EVENTS], 1, oldest_ms);
    sqlite3_bind_int64(store->statement[SQL_OLD_ROWS], 1, oldest_ms);
    return run(store, SQL_OLD_EVENTS) && run(store, SQL_OLD_ROWS);
}

bool store_write(struct store *store, const struct stage *stage, const char *boot,
                 int32_t history_days, struct trouble *trouble)
{
    if (!run(store, SQL_BEGIN))
        return blame(store->db, trouble);
    if (write_counters(store, stage) && write_notes(store, stage) && write_events(store, stage) &&
        write_rows(store, stage) && write_save(store, stage, boot) &&
        prune(store, stage, history_days) && run(store, SQL_COMMIT))
        return true;
    blame(store->db, trouble);
    run(store, SQL_ROLLBACK);
    return false;
}

/* ---- reading, at start -------------------------------------------------------------------------
 */

static sqlite3_stmt *ask(struct store *store, const char *sql, const char *key)
{
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL) != SQLITE_OK)
        return NULL;
    if (key)
        bind_text(statement, 1, key);
    if (sqlite3_step(statement) == SQLITE_ROW)
        return statement;
    sqlite3_finalize(statement);
    return NULL;
}

bool store_counter(struct store *store, const char *key, int64_t *value)
{
    sqlite3_stmt *statement = ask(store, "SELECT value FROM counter WHERE key = ?1", key);
    if (statement)
        *value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return statement != NULL;
}

bool store_note(struct store *store, const char *key, char text[static LEDGER_TEXT_MAX])
{
    sqlite3_stmt *statement = ask(store, "SELECT text FROM note WHERE key = ?1", key);
    if (statement)
        snprintf(text, LEDGER_TEXT_MAX, "%s", (const char *)sqlite3_column_text(statement, 0));
    sqlite3_finalize(statement);
    return statement != NULL;
}

bool store_last_save(struct store *store, struct wall *wall, struct mono *mono,
                     char boot[static STORE_BOOT_MAX])
{
    sqlite3_stmt *statement = ask(store, "SELECT wall_ms, mono_ms, boot FROM save", NULL);
    if (statement) {
        wall->ms = sqlite3_column_int64(statement, 0);
        mono->ms = sqlite3_column_int64(statement, 1);
        snprintf(boot, STORE_BOOT_MAX, "%s", (const char *)sqlite3_column_text(statement, 2));
    }
    sqlite3_finalize(statement);
    return statement != NULL;
}
