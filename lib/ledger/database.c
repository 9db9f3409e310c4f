/* database.c - one transaction a snapshot, and only what has changed.
 *
 * A counter is replaced only by a greater one, so no mistake above can make one run
 * backwards; one that would is reported. A note with the same text is not written
 * again. What fails for lack of room is tried again with the same connection; after
 * any other failure the file is opened anew and looked through, since a card may have
 * been exchanged or remounted. */
#include "ledger/database.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/text.h"
#include "ledger/file.h"
#include "ledger/order_file.h"
#include "ledger/reader.h"
#include "ledger/steady.h"

/* Each statement of a commit, prepared once. */
enum statement {
    SQL_BEGIN,
    SQL_COMMIT,
    SQL_ROLLBACK,
    SQL_COUNTER,
    SQL_COUNTER_STORED,
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
                    "SET value = excluded.value WHERE value < excluded.value",
    [SQL_COUNTER_STORED] = "SELECT value FROM counter WHERE key = ?1",
    [SQL_NOTE] = "INSERT INTO note VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE "
                 "SET text = excluded.text WHERE text <> excluded.text",
    [SQL_EVENT] = "INSERT INTO event (wall_ms, subject, text) VALUES (?1, ?2, ?3)",
    [SQL_ROW] = "INSERT OR REPLACE INTO history VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    [SQL_SAVE] = "INSERT OR REPLACE INTO save VALUES (1, ?1, ?2, ?3)",
    [SQL_OLD_EVENTS] = "DELETE FROM event WHERE wall_ms < ?1",
    [SQL_OLD_ROWS] = "DELETE FROM history WHERE to_ms < ?1",
};

static const char clock_key[] = "ledger/clock"; /* a note of our own */

struct database {
    struct ledger_settings settings;
    char boot[DATABASE_BOOT_MAX];
    struct file file;
    sqlite3_stmt *statement[SQL_COUNT];
    int64_t pruned_day;
    struct steady clock;
    bool clock_read;
    char orders[LEDGER_ORDERS_MAX]; /* as last written to their file */
};

/* ---- opening and closing ------------------------------------------------------------------- */

struct database *database_new(const struct ledger_settings *settings, const char *boot)
{
    struct database *database = calloc(1, sizeof(*database));
    if (!database)
        return NULL;
    database->settings = *settings;
    database->file = FILE_CLOSED;
    struct text text = text_in(database->boot, sizeof(database->boot));
    text_add(&text, "%s", boot);
    return database;
}

static void shut(struct database *database)
{
    for (int k = 0; k < SQL_COUNT; k++) {
        sqlite3_finalize(database->statement[k]);
        database->statement[k] = NULL;
    }
    file_close(&database->file);
}

void database_free(struct database *database)
{
    if (!database)
        return;
    shut(database);
    free(database);
}

static bool prepare(struct database *database, struct trouble *trouble)
{
    sqlite3 *db = database->file.db;
    for (int k = 0; k < SQL_COUNT; k++)
        if (sqlite3_prepare_v3(db, statement_text[k], -1, SQLITE_PREPARE_PERSISTENT,
                               &database->statement[k], NULL) != SQLITE_OK)
            return reader_blame(db, trouble);
    return true;
}

static sqlite3_stmt *ask(struct database *database, const char *sql, const char *key);

static void read_clock(struct database *database)
{
    if (database->clock_read)
        return; /* it goes on over an exchanged card */
    sqlite3_stmt *statement = ask(database, "SELECT text FROM note WHERE key = ?1", clock_key);
    const char *text = statement ? (const char *)sqlite3_column_text(statement, 0) : NULL;
    if (text)
        steady_read(&database->clock, text);
    database->clock_read = true;
    sqlite3_finalize(statement);
}

bool database_open(struct database *database, char notice[static LEDGER_EVENT_MAX],
                   struct trouble *trouble)
{
    if (database->file.writable)
        return true;
    shut(database);
    if (!file_open(&database->file, database->settings.path, notice, trouble))
        return false;
    if (prepare(database, trouble)) {
        read_clock(database);
        return true;
    }
    shut(database);
    return false;
}

bool database_was_damaged(const struct database *database)
{
    return database->file.damaged;
}

/* ---- writing --------------------------------------------------------------------------------- */

static void bind_text(sqlite3_stmt *statement, int place, const char *text)
{
    sqlite3_bind_text(statement, place, text, -1, SQLITE_STATIC);
}

static bool run(struct database *database, enum statement which)
{
    int code = sqlite3_step(database->statement[which]);
    sqlite3_reset(database->statement[which]);
    return code == SQLITE_DONE;
}

static void warn_if_fallen(struct database *database, const struct ledger_counter *counter,
                           char warning[static LEDGER_EVENT_MAX])
{
    sqlite3_stmt *statement = database->statement[SQL_COUNTER_STORED];
    bind_text(statement, 1, counter->key);
    int64_t stored =
        sqlite3_step(statement) == SQLITE_ROW ? sqlite3_column_int64(statement, 0) : counter->value;
    sqlite3_reset(statement);
    if (stored <= counter->value)
        return;
    struct text text = text_in(warning, LEDGER_EVENT_MAX);
    /* Without the new value: it may be another each minute, and the trouble is the same. */
    text_add(&text, "counter %s would fall below %" PRId64 ", which stands", counter->key, stored);
}

static bool write_counters(struct database *database, const struct stage *stage,
                           char warning[static LEDGER_EVENT_MAX])
{
    sqlite3_stmt *statement = database->statement[SQL_COUNTER];
    for (int k = 0; k < stage->counters; k++) {
        bind_text(statement, 1, stage->counter[k].key);
        sqlite3_bind_int64(statement, 2, stage->counter[k].value);
        if (!run(database, SQL_COUNTER))
            return false;
        if (sqlite3_changes(database->file.db) == 0)
            warn_if_fallen(database, &stage->counter[k], warning);
    }
    return true;
}

static bool write_notes(struct database *database, const struct stage *stage)
{
    sqlite3_stmt *statement = database->statement[SQL_NOTE];
    for (int k = 0; k < stage->notes; k++) {
        bind_text(statement, 1, stage->note[k].key);
        bind_text(statement, 2, stage->note[k].text);
        if (!run(database, SQL_NOTE))
            return false;
    }
    return true;
}

static bool write_event(struct database *database, struct wall at, const char *subject,
                        const char *text)
{
    sqlite3_stmt *statement = database->statement[SQL_EVENT];
    sqlite3_bind_int64(statement, 1, at.ms);
    bind_text(statement, 2, subject);
    bind_text(statement, 3, text);
    return run(database, SQL_EVENT);
}

static bool write_events(struct database *database, const struct stage *stage)
{
    char lost[LEDGER_EVENT_MAX];
    for (int k = 0; k < stage->events; k++)
        if (!write_event(database, stage->event[k].at, stage->event[k].subject,
                         stage->event[k].text))
            return false;
    snprintf(lost, sizeof(lost), "%" PRIu32 " older events and rows of history were lost",
             stage->lost);
    return stage->lost == 0 || write_event(database, stage->at.wall, "ledger", lost);
}

static bool write_rows(struct database *database, const struct stage *stage)
{
    sqlite3_stmt *statement = database->statement[SQL_ROW];
    for (int k = 0; k < stage->rows; k++) {
        const struct stage_row *row = &stage->row[k];
        sqlite3_bind_int64(statement, 1, row->to.ms);
        sqlite3_bind_int64(statement, 2, row->from.ms);
        bind_text(statement, 3, row->subject);
        sqlite3_bind_int64(statement, 4, row->spare_mwh);
        sqlite3_bind_int64(statement, 5, row->grid_mwh);
        sqlite3_bind_int64(statement, 6, row->on_ms);
        if (!run(database, SQL_ROW))
            return false;
    }
    return true;
}

static bool write_save(struct database *database, const struct stage *stage)
{
    sqlite3_stmt *statement = database->statement[SQL_SAVE];
    sqlite3_bind_int64(statement, 1, stage->at.wall_trusted ? stage->at.wall.ms : 0);
    sqlite3_bind_int64(statement, 2, stage->at.mono.ms);
    bind_text(statement, 3, database->boot);
    return run(database, SQL_SAVE);
}

static bool write_clock(struct database *database, const struct stage *stage)
{
    char buffer[LEDGER_EVENT_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    if (!stage->at.wall_trusted || !steady_take(&database->clock, stage->at))
        return true;
    steady_write(&database->clock, &text);
    bind_text(database->statement[SQL_NOTE], 1, clock_key);
    bind_text(database->statement[SQL_NOTE], 2, buffer);
    return run(database, SQL_NOTE);
}

/* Once a day, never by a clock that cannot be trusted, nor by one that has been changed. */
static bool prune(struct database *database, const struct stage *stage)
{
    int32_t days = database->settings.history_days;
    int64_t day = stage->at.wall.ms / MS_PER_DAY;
    if (!stage->at.wall_trusted || !steady_holds(&database->clock) || day == database->pruned_day ||
        days <= 0)
        return true;
    int64_t oldest_ms = stage->at.wall.ms - days * (int64_t)MS_PER_DAY;
    sqlite3_bind_int64(database->statement[SQL_OLD_EVENTS], 1, oldest_ms);
    sqlite3_bind_int64(database->statement[SQL_OLD_ROWS], 1, oldest_ms);
    if (!run(database, SQL_OLD_EVENTS) || !run(database, SQL_OLD_ROWS))
        return false;
    database->pruned_day = day;
    return true;
}

static void give_up(struct database *database, struct trouble *trouble)
{
    int code = sqlite3_errcode(database->file.db);
    reader_blame(database->file.db, trouble);
    run(database, SQL_ROLLBACK);
    database->file.sound &= code != SQLITE_CORRUPT && code != SQLITE_NOTADB;
    if (code != SQLITE_FULL && code != SQLITE_BUSY)
        shut(database);
}

/* Before the ledger, which may fail for reasons of its own. */
void database_write_orders(struct database *database, const struct stage *stage)
{
    if (stage->orders[0] && strcmp(stage->orders, database->orders) != 0 &&
        order_file_write(database->settings.path, stage->orders))
        snprintf(database->orders, sizeof(database->orders), "%s", stage->orders);
}

bool database_write(struct database *database, const struct stage *stage,
                    char warning[static LEDGER_EVENT_MAX], struct trouble *trouble)
{
    struct text text = text_in(warning, LEDGER_EVENT_MAX);
    if (stage->dropped_keys > 0)
        text_add(&text, "%" PRIu32 " counters and notes more than there is room for",
                 stage->dropped_keys);
    if (run(database, SQL_BEGIN) && write_counters(database, stage, warning) &&
        write_notes(database, stage) && write_events(database, stage) &&
        write_rows(database, stage) && write_save(database, stage) &&
        write_clock(database, stage) && prune(database, stage) && run(database, SQL_COMMIT))
        return true;
    give_up(database, trouble);
    return false;
}

/* ---- reading, at start
 * --------------------------------------------------------------------------- */

static sqlite3_stmt *ask(struct database *database, const char *sql, const char *key)
{
    sqlite3_stmt *statement = NULL;
    if (!database->file.db ||
        sqlite3_prepare_v2(database->file.db, sql, -1, &statement, NULL) != SQLITE_OK)
        return NULL;
    if (key)
        bind_text(statement, 1, key);
    if (sqlite3_step(statement) == SQLITE_ROW)
        return statement;
    sqlite3_finalize(statement);
    return NULL;
}

static void take_text(sqlite3_stmt *statement, int column, char *text, size_t size)
{
    const char *found = (const char *)sqlite3_column_text(statement, column);
    snprintf(text, size, "%s", found ? found : "");
}

bool database_each_note(struct database *database, database_take_note *take, void *context)
{
    sqlite3_stmt *statement = NULL;
    int code = SQLITE_ERROR;
    if (!database->file.db || sqlite3_prepare_v2(database->file.db, "SELECT key, text FROM note",
                                                 -1, &statement, NULL) != SQLITE_OK)
        return false;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        const char *key = (const char *)sqlite3_column_text(statement, 0);
        const char *text = (const char *)sqlite3_column_text(statement, 1);
        if (key && text)
            take(context, key, text);
    }
    sqlite3_finalize(statement);
    return code == SQLITE_DONE;
}

bool database_last_save(struct database *database, struct wall *wall, struct mono *mono,
                        char boot[static DATABASE_BOOT_MAX])
{
    sqlite3_stmt *statement = ask(database, "SELECT wall_ms, mono_ms, boot FROM save", NULL);
    if (statement) {
        wall->ms = sqlite3_column_int64(statement, 0);
        mono->ms = sqlite3_column_int64(statement, 1);
        take_text(statement, 2, boot, DATABASE_BOOT_MAX);
    }
    sqlite3_finalize(statement);
    return statement != NULL;
}
