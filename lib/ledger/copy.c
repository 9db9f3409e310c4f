/* copy.c - SQLite makes the copy (VACUUM INTO): in one transaction, so that a commit of the
 * daemon is in it whole or not at all, and without its log and what was deleted. */
#include "ledger/copy.h"

#include <string.h>
#include <unistd.h>

#include "ledger/lock.h"
#include "ledger/reader.h"
#include "ledger/schema.h"

static bool run_with_text(sqlite3 *db, const char *sql, const char *text)
{
    sqlite3_stmt *statement = NULL;
    bool ok = sqlite3_prepare_v2(db, sql, -1, &statement, NULL) == SQLITE_OK &&
              sqlite3_bind_text(statement, 1, text, -1, SQLITE_STATIC) == SQLITE_OK &&
              sqlite3_step(statement) == SQLITE_DONE;
    sqlite3_finalize(statement);
    return ok;
}

static void read_saved(sqlite3 *db, struct wall *saved)
{
    sqlite3_stmt *statement = NULL;
    *saved = (struct wall){0};
    if (sqlite3_prepare_v2(db, "SELECT wall_ms FROM save", -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        saved->ms = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
}

static bool is_whole(sqlite3 *db)
{
    sqlite3_stmt *statement = NULL;
    bool whole =
        sqlite3_prepare_v2(db, "PRAGMA integrity_check(1)", -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW &&
        strcmp((const char *)sqlite3_column_text(statement, 0), "ok") == 0;
    sqlite3_finalize(statement);
    return whole;
}

static bool has_tables(sqlite3 *db)
{
    return sqlite3_exec(db, "SELECT 1 FROM counter, note, save LIMIT 0", NULL, NULL, NULL) ==
           SQLITE_OK;
}

static bool look(sqlite3 *db, struct wall *saved, struct trouble *trouble)
{
    if (!schema_is_known(db, trouble))
        return false;
    if (!is_whole(db))
        return trouble_set(trouble, "", "it is damaged");
    if (!has_tables(db))
        return trouble_set(trouble, "", "it is not a ledger");
    read_saved(db, saved);
    return true;
}

bool ledger_is_sound(const char *path, struct wall *saved, struct trouble *trouble)
{
    sqlite3 *db = reader_open(path, trouble);
    bool sound = db && look(db, saved, trouble);
    sqlite3_close(db);
    return sound;
}

bool ledger_copy(const char *path, const char *to, struct wall *saved, struct trouble *trouble)
{
    sqlite3 *db = reader_open(path, trouble);
    if (!db)
        return false;
    bool copied = run_with_text(db, "VACUUM INTO ?", to);
    if (!copied)
        reader_blame(db, trouble);
    sqlite3_close(db);
    if (copied && ledger_is_sound(to, saved, trouble))
        return true;
    unlink(to);
    return false;
}

bool ledger_hold(const char *path, struct ledger_hold *hold)
{
    char name[LOCK_NAME_MAX];
    lock_name(path, name);
    hold->made = access(name, F_OK) != 0;
    return lock_take(path, &hold->lock);
}

void ledger_let_go(const char *path, const struct ledger_hold *hold)
{
    char name[LOCK_NAME_MAX];
    lock_name(path, name);
    if (hold->lock < 0)
        return;
    if (hold->made)
        unlink(name);
    close(hold->lock);
}
