/* history.c - reading the ledger beside its writer. */
#include "history.h"

#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>

#include "file.h"
#include "ledger/reader.h"

struct history {
    sqlite3 *db;
};

static bool blame(struct history *history, struct trouble *trouble)
{
    return trouble_set(trouble, "", "the ledger cannot be read: %s", sqlite3_errmsg(history->db));
}

struct history *history_open(const char *path, struct trouble *trouble)
{
    struct history *history = calloc(1, sizeof(*history));
    if (!history) {
        trouble_set(trouble, path, "out of memory");
        return NULL;
    }
    struct trouble why;
    history->db = reader_open(path, &why);
    if (!history->db)
        trouble_set(trouble, path, "the ledger cannot be read: %.250s", why.text);
    else if (sqlite3_exec(history->db, "SELECT 1 FROM history LIMIT 1", NULL, NULL, NULL) ==
             SQLITE_OK)
        return history;
    else
        trouble_set(trouble, path, "the ledger cannot be read: %.250s",
                    sqlite3_errmsg(history->db));
    history_close(history);
    return NULL;
}

void history_close(struct history *history)
{
    if (!history)
        return;
    sqlite3_close(history->db);
    free(history);
}

static sqlite3_stmt *ask(struct history *history, const char *sql, struct wall from, struct wall to)
{
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(history->db, sql, -1, &statement, NULL) != SQLITE_OK)
        return NULL;
    sqlite3_bind_int64(statement, 1, from.ms);
    sqlite3_bind_int64(statement, 2, to.ms);
    return statement;
}

static void take_text(sqlite3_stmt *statement, int column, char *text, size_t size)
{
    const char *found = (const char *)sqlite3_column_text(statement, column);
    snprintf(text, size, "%s", found ? found : "");
}

static bool finish(struct history *history, sqlite3_stmt *statement, int code,
                   struct trouble *trouble)
{
    bool ok = code == SQLITE_DONE || code == SQLITE_ROW; /* to the end, or ended by the caller */
    if (!ok)
        blame(history, trouble);
    sqlite3_finalize(statement);
    return ok;
}

bool history_rows(struct history *history, struct wall from, struct wall to,
                  bool (*each)(void *context, const struct history_row *row), void *context,
                  struct trouble *trouble)
{
    sqlite3_stmt *statement =
        ask(history,
            "SELECT from_ms, to_ms, subject, spare_mwh, grid_mwh, on_ms FROM history "
            "WHERE to_ms > ?1 AND from_ms < ?2 ORDER BY to_ms, subject",
            from, to);
    int code;
    if (!statement)
        return blame(history, trouble);
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        struct history_row row = {.from = {sqlite3_column_int64(statement, 0)},
                                  .to = {sqlite3_column_int64(statement, 1)},
                                  .spare_mwh = sqlite3_column_int64(statement, 3),
                                  .grid_mwh = sqlite3_column_int64(statement, 4),
                                  .on_ms = sqlite3_column_int64(statement, 5)};
        take_text(statement, 2, row.subject, sizeof(row.subject));
        if (!each(context, &row))
            break;
    }
    return finish(history, statement, code, trouble);
}

bool history_events(struct history *history, struct wall from, struct wall to,
                    bool (*each)(void *context, const struct history_event *event), void *context,
                    struct trouble *trouble)
{
    sqlite3_stmt *statement = ask(history,
                                  "SELECT wall_ms, subject, text FROM event WHERE wall_ms >= ?1 "
                                  "AND wall_ms < ?2 ORDER BY wall_ms, rowid",
                                  from, to);
    int code;
    if (!statement)
        return blame(history, trouble);
    while ((code = sqlite3_step(statement)) == SQLITE_ROW) {
        struct history_event event = {.at = {sqlite3_column_int64(statement, 0)}};
        take_text(statement, 1, event.subject, sizeof(event.subject));
        take_text(statement, 2, event.text, sizeof(event.text));
        if (!each(context, &event))
            break;
    }
    return finish(history, statement, code, trouble);
}

bool history_span(struct history *history, struct wall *first, struct wall *last)
{
    sqlite3_stmt *statement;
    bool any = false;
    if (sqlite3_prepare_v2(history->db, "SELECT min(from_ms), max(to_ms) FROM history", -1,
                           &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW &&
        sqlite3_column_type(statement, 0) == SQLITE_INTEGER) {
        first->ms = sqlite3_column_int64(statement, 0);
        last->ms = sqlite3_column_int64(statement, 1);
        any = true;
    }
    sqlite3_finalize(statement);
    return any;
}
