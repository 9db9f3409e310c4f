/* salvage.c - what a damaged file still says.
 *
 * SQLite reads a table until it comes to a page that makes no sense, so each is walked
 * from its beginning and then from its end. A row is taken if each value is of its kind
 * and a number within what can have been counted; a note says by its own sum whether it
 * is as it was written. All of it is one transaction. */
#include "ledger/salvage.h"

#include <fcntl.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "ledger/reader.h"

enum { PAGE = 512, COPY_PATH_MAX = 600 };

struct table {
    const char *name;
    const char *select; /* %s: DESC or nothing */
    const char *insert;
    int columns;
};

/* A number that can be: 100 kW for a hundred years are 9e16 mWh. */
#define CAN_BE(column)                                                                             \
    "typeof(" column ") = 'integer' AND " column " BETWEEN 0 AND 100000000000000000"
#define IS_TEXT(column) "typeof(" column ") = 'text'"

static const struct table tables[] = {
    {"notes",
     "SELECT key, text FROM note WHERE " IS_TEXT("key") " AND " IS_TEXT("text") " ORDER BY key %s",
     "INSERT OR IGNORE INTO note VALUES (?1, ?2)", 2},
    {"counters",
     "SELECT key, value FROM counter WHERE " IS_TEXT("key") " AND " CAN_BE(
         "value") " ORDER BY key %s",
     "INSERT OR IGNORE INTO counter VALUES (?1, ?2)", 2},
    {"saves",
     "SELECT one, wall_ms, mono_ms, boot FROM save WHERE " CAN_BE("wall_ms") " AND " CAN_BE(
         "mono_ms") " AND " IS_TEXT("boot") " ORDER BY "
                                            "one %s",
     "INSERT OR IGNORE INTO save VALUES (?1, ?2, ?3, ?4)", 4},
    {"events",
     "SELECT rowid, wall_ms, subject, text FROM event WHERE " CAN_BE("wall_ms") " AND " IS_TEXT(
         "subject") " AND " IS_TEXT("text") " ORDER BY "
                                            "rowid %s",
     "INSERT OR IGNORE INTO event (rowid, wall_ms, subject, text) VALUES (?1, ?2, "
     "?3, ?4)",
     4},
    {"rows of history",
     "SELECT to_ms, from_ms, subject, spare_mwh, grid_mwh, on_ms FROM history "
     "WHERE " CAN_BE("to_ms") " AND " CAN_BE("from_ms") " AND " IS_TEXT("subject") " AND " CAN_BE(
         "spare_mwh") " AND " CAN_BE("grid_mwh") " AND " CAN_BE("on_ms") " ORDER "
                                                                         "BY to_ms "
                                                                         "%s",
     "INSERT OR IGNORE INTO history VALUES (?1, ?2, ?3, ?4, ?5, ?6)", 6},
};

/* ---- rows ---------------------------------------------------------------------- */

/* Until the end, or a page that makes no sense (false). */
static bool walk(sqlite3 *from, sqlite3_stmt *insert, const struct table *table, const char *way,
                 int *count)
{
    char sql[600];
    sqlite3_stmt *select = NULL;
    snprintf(sql, sizeof(sql), table->select, way);
    int code = sqlite3_prepare_v2(from, sql, -1, &select, NULL);
    while (code == SQLITE_OK || code == SQLITE_ROW) {
        code = sqlite3_step(select);
        if (code != SQLITE_ROW)
            break;
        for (int k = 0; k < table->columns; k++)
            sqlite3_bind_value(insert, k + 1, sqlite3_column_value(select, k));
        if (sqlite3_step(insert) == SQLITE_DONE)
            *count += sqlite3_changes(sqlite3_db_handle(insert));
        sqlite3_reset(insert);
    }
    sqlite3_finalize(select);
    return code == SQLITE_DONE;
}

static void copy_table(sqlite3 *from, sqlite3 *to, const struct table *table, struct text *told)
{
    sqlite3_stmt *insert = NULL;
    int count = 0;
    if (sqlite3_prepare_v2(to, table->insert, -1, &insert, NULL) != SQLITE_OK)
        return;
    bool whole = walk(from, insert, table, "", &count);
    if (!whole)
        walk(from, insert, table, "DESC", &count);
    sqlite3_finalize(insert);
    text_add(told, "%s%s%d %s", told->used ? ", " : "", whole ? "" : "only ", count, table->name);
}

/* ---- a first page that makes no sense --------------------------------------------- */

static bool copy_file(int from, int to)
{
    char bytes[8192];
    ssize_t got;
    while ((got = read(from, bytes, sizeof(bytes))) > 0)
        if (write(to, bytes, (size_t)got) != got)
            return false;
    return got == 0;
}

/* The header's count of pages (4 bytes at 28) is that of the damaged file; no page is free
 * (32 to 39). "Database File Format", sections 1.3.7 and 1.3.8. */
static bool write_first_page(int file, const char *fresh)
{
    uint8_t page[PAGE];
    off_t size = lseek(file, 0, SEEK_END);
    int from = open(fresh, O_RDONLY | O_CLOEXEC);
    bool got = from >= 0 && pread(from, page, PAGE, 0) == PAGE && size >= PAGE;
    if (from >= 0)
        close(from);
    uint32_t pages = (uint32_t)(size / PAGE);
    for (int k = 0; k < 4; k++)
        page[28 + k] = (uint8_t)(pages >> (24 - 8 * k));
    memset(page + 32, 0, 8);
    return got && pwrite(file, page, PAGE, 0) == PAGE;
}

static bool make_readable_copy(const char *path, const char *fresh, const char *copy)
{
    int from = open(path, O_RDONLY | O_CLOEXEC);
    int to = open(copy, O_RDWR | O_CREAT | O_TRUNC | O_CLOEXEC, 0640);
    bool made = from >= 0 && to >= 0 && copy_file(from, to) && write_first_page(to, fresh);
    if (from >= 0)
        close(from);
    if (to >= 0)
        close(to);
    return made;
}

static bool has_tables(sqlite3 *db)
{
    return db && sqlite3_exec(db, "SELECT 1 FROM note, counter, save LIMIT 0", NULL, NULL, NULL) ==
                     SQLITE_OK;
}

/* ---- the door --------------------------------------------------------------------- */

static void copy_tables(sqlite3 *from, sqlite3 *to, struct text *told)
{
    sqlite3_exec(to, "BEGIN IMMEDIATE", NULL, NULL, NULL);
    for (size_t k = 0; k < sizeof(tables) / sizeof(tables[0]); k++)
        copy_table(from, to, &tables[k], told);
    if (sqlite3_exec(to, "COMMIT", NULL, NULL, NULL) != SQLITE_OK)
        sqlite3_exec(to, "ROLLBACK", NULL, NULL, NULL);
}

void salvage(sqlite3 *to, const char *fresh, const char *path, struct text *told)
{
    char copy[COPY_PATH_MAX], log[COPY_PATH_MAX + 8];
    struct trouble trouble;
    snprintf(copy, sizeof(copy), "%.500s.salvage", path);
    sqlite3 *from = reader_open(path, &trouble);
    bool mended = !has_tables(from);
    if (mended) {
        sqlite3_close(from);
        from = make_readable_copy(path, fresh, copy) ? reader_open(copy, &trouble) : NULL;
    }
    if (has_tables(from))
        copy_tables(from, to, told);
    sqlite3_close(from);
    if (!mended)
        return;
    unlink(copy);
    for (int k = 0; k < 2; k++) {
        snprintf(log, sizeof(log), "%s%s", copy, k == 0 ? "-wal" : "-shm");
        unlink(log);
    }
}
