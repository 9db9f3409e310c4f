/* reader.c - opening a database file that nothing is written to. */
#include "ledger/reader.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "core/text.h"

enum { BUSY_MS = 2000, PATH_SIZE = 512 };

bool reader_blame(sqlite3 *db, struct trouble *trouble)
{
    int error = db ? sqlite3_system_errno(db) : 0;
    int code = db ? sqlite3_errcode(db) : SQLITE_NOMEM;
    bool ours = error != 0 && (code == SQLITE_CANTOPEN || code == SQLITE_IOERR);
    return trouble_set(trouble, "", "%s%s%s", db ? sqlite3_errmsg(db) : "out of memory",
                       ours ? ": " : "", ours ? strerror(error) : "");
}

static sqlite3 *open_uri(const char *path, const char *query)
{
    char uri[3 * PATH_SIZE];
    struct text text = text_in(uri, sizeof(uri));
    sqlite3 *db;
    text_add(&text, "file:");
    for (const char *at = path; *at; at++)
        text_add(&text, strchr("%?#", *at) ? "%%%02X" : "%c", (unsigned)(unsigned char)*at);
    text_add(&text, "%s", query);
    const int flags = SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_URI;
    sqlite3_open_v2(uri, &db, flags, NULL);
    sqlite3_busy_timeout(db, BUSY_MS);
    return db;
}

static bool can_be_read(sqlite3 *db)
{
    return sqlite3_exec(db, "SELECT 1 FROM sqlite_schema", NULL, NULL, NULL) == SQLITE_OK;
}

/* Nobody writes the file now, nor is anything of it still in a log. */
static bool is_at_rest(const char *path)
{
    char log[PATH_SIZE];
    struct stat is;
    snprintf(log, sizeof(log), "%s-wal", path);
    return stat(log, &is) == 0 ? is.st_size == 0 : errno == ENOENT;
}

/* A reader who may not write beside a file in WAL mode can't take part in its locking
 * (SQLite, "Write-Ahead Logging", section 5); at rest it needn't. */
sqlite3 *reader_open(const char *path, struct trouble *trouble)
{
    sqlite3 *db = open_uri(path, "");
    if (can_be_read(db))
        return db;
    reader_blame(db, trouble);
    sqlite3_close(db);
    db = is_at_rest(path) ? open_uri(path, "?immutable=1") : NULL;
    if (db && can_be_read(db))
        return db;
    sqlite3_close(db);
    return NULL;
}
