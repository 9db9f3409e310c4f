/* file.c - opening what a power cut, a worn card or a person may have left.
 *
 * Two processes that write one ledger would mix two engines' memories, so a lock file
 * beside it says whose it is; the kernel lets go of it however the process ends. Then
 * the file is checked whole. A damaged one is moved aside with its log, never deleted,
 * and a new one begun. What can be read but not written is still read: a card that
 * went read-only has yesterday's counters on it.
 *
 * Measured on ext4, a commit each minute for a day with three loads, MiB at the block
 * layer: pages of 512 bytes 7.1, 1024 11.4, 4096 22.7; without WAL (1024) 28 to 39.
 * synchronous=NORMAL would save a quarter of it and could lose many minutes. A log of
 * 1000 small pages is checkpointed every couple of hours. */
#include "ledger/file.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "core/text.h"
#include "ledger/lock.h"
#include "ledger/reader.h"
#include "ledger/salvage.h"
#include "ledger/schema.h"

enum { BUSY_MS = 2000, PATH_SIZE = 512, TRIES = 100 };

/* ---- whether it is whole ------------------------------------------------------------------ */

enum state { SOUND, DAMAGED, OUT_OF_REACH };

static int errno_of(sqlite3_file *file)
{
    int error = 0;
    if (file && file->pMethods)
        file->pMethods->xFileControl(file, SQLITE_FCNTL_LAST_ERRNO, &error);
    return error;
}

/* SQLite calls a page corrupt that could not be read for EIO (3.40, vdbe.c, on
 * SQLITE_IOERR_CORRUPTFS), and its check lists such pages among the wrong ones. But a
 * card that does not answer now is not a file that makes no sense: the system's own
 * error on the file or its log tells them apart. */
static bool could_not_be_read(sqlite3 *db)
{
    sqlite3_file *main_file = NULL, *log = NULL;
    sqlite3_file_control(db, "main", SQLITE_FCNTL_FILE_POINTER, &main_file);
    sqlite3_file_control(db, "main", SQLITE_FCNTL_JOURNAL_POINTER, &log);
    return errno_of(main_file) != 0 || errno_of(log) != 0;
}

static enum state state_of_error(sqlite3 *db)
{
    int code = sqlite3_errcode(db);
    bool damage = code == SQLITE_CORRUPT || code == SQLITE_NOTADB;
    return damage && !could_not_be_read(db) ? DAMAGED : OUT_OF_REACH;
}

static enum state state_of_finding(sqlite3 *db, const char *finding)
{
    if (strcmp(finding, "ok") == 0)
        return SOUND;
    return could_not_be_read(db) ? OUT_OF_REACH : DAMAGED;
}

/* A year of history is tens of megabytes: the whole of it is read once in a run, and
 * again only where damage was met. */
static enum state look_through(struct file *file, struct trouble *trouble)
{
    const char *sql = file->sound ? "SELECT 'ok' FROM (SELECT count(*) FROM sqlite_schema)"
                                  : "PRAGMA quick_check(1)";
    sqlite3_stmt *statement = NULL;
    enum state state;
    if (sqlite3_prepare_v2(file->db, sql, -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW) {
        state = state_of_finding(file->db, (const char *)sqlite3_column_text(statement, 0));
        trouble_set(trouble, "", "%s",
                    state == DAMAGED ? "it is damaged" : "not all of it can be read");
    } else {
        state = state_of_error(file->db);
        reader_blame(file->db, trouble);
    }
    file->sound = state == SOUND || (file->sound && state != DAMAGED);
    sqlite3_finalize(statement);
    return state;
}

/* For a small board: little memory, little written. */
static const char pragmas[] = "PRAGMA page_size = 512; PRAGMA journal_mode = WAL;"
                              "PRAGMA synchronous = FULL; PRAGMA cache_size = -64;"
                              "PRAGMA temp_store = MEMORY; PRAGMA mmap_size = 0;"
                              "PRAGMA wal_autocheckpoint = 1000;"
                              "PRAGMA journal_size_limit = 1000000";

static enum state open_writable(struct file *file, const char *path, struct trouble *trouble)
{
    const int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_NOMUTEX;
    if (sqlite3_open_v2(path, &file->db, flags, NULL) != SQLITE_OK) {
        reader_blame(file->db, trouble);
        return OUT_OF_REACH;
    }
    sqlite3_db_config(file->db, SQLITE_DBCONFIG_LOOKASIDE, NULL, 0, 0);
    /* A damaged or a newer program's file stays as it is, its log beside it. */
    sqlite3_db_config(file->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
    sqlite3_busy_timeout(file->db, BUSY_MS);
    enum state state = look_through(file, trouble);
    if (state != SOUND)
        return state;
    if (sqlite3_db_readonly(file->db, "main") == 1) {
        trouble_set(trouble, "", "it may only be read");
        return OUT_OF_REACH;
    }
    if (!schema_is_known(file->db, trouble)) /* journal_mode would already change it */
        return OUT_OF_REACH;
    if (sqlite3_exec(file->db, pragmas, NULL, NULL, NULL) != SQLITE_OK) {
        reader_blame(file->db, trouble);
        return state_of_error(file->db);
    }
    if (!schema_migrate(file->db, trouble))
        return OUT_OF_REACH;
    sqlite3_db_config(file->db, SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 0, NULL);
    return SOUND;
}

static void shut(struct file *file)
{
    sqlite3_close(file->db);
    file->db = NULL;
}

/* ---- what is done with a damaged one --------------------------------------------------------- */

/* A name that is free, by date and time. */
static void aside_name(const char *path, char name[static PATH_SIZE])
{
    char when[32];
    time_t now = time(NULL);
    struct tm utc;
    gmtime_r(&now, &utc);
    strftime(when, sizeof(when), "%Y%m%d-%H%M%S", &utc);
    snprintf(name, PATH_SIZE, "%s.damaged-%s", path, when);
    for (int k = 2; k < TRIES && access(name, F_OK) == 0; k++)
        snprintf(name, PATH_SIZE, "%s.damaged-%s-%d", path, when, k);
}

/* The log goes with it: it belongs to that file and to no other. */
static bool put_aside(const char *path, char name[static PATH_SIZE], struct trouble *trouble)
{
    static const char *const ends[] = {"-wal", "-shm"};
    char from[PATH_SIZE + 8], to[PATH_SIZE + 8];
    aside_name(path, name);
    if (rename(path, name) != 0)
        return trouble_set(trouble, "", "it is damaged and cannot be put aside: %s",
                           strerror(errno));
    for (size_t k = 0; k < sizeof(ends) / sizeof(ends[0]); k++) {
        snprintf(from, sizeof(from), "%s%s", path, ends[k]);
        snprintf(to, sizeof(to), "%s%s", name, ends[k]);
        rename(from, to); /* mostly there is none */
    }
    return true;
}

/* What the damaged one still says goes into the new one. */
static void begin_anew(struct file *file, const char *path, const char *aside,
                       char notice[static LEDGER_EVENT_MAX])
{
    char kept[LEDGER_EVENT_MAX];
    struct text told = text_in(kept, sizeof(kept)), text = text_in(notice, LEDGER_EVENT_MAX);
    sqlite3_wal_checkpoint_v2(file->db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
    salvage(file->db, path, aside, &told);
    text_add(&text, "the ledger was damaged: it is now %s; saved from it: %s", aside,
             told.used ? kept : "nothing");
}

/* ---- reading all the same ------------------------------------------------------------- */

/* ---- the door
 * -------------------------------------------------------------------------------------- */

static bool try_to_write(struct file *file, const char *path, char notice[static LEDGER_EVENT_MAX],
                         struct trouble *trouble)
{
    if (!lock_take(path, &file->lock))
        return trouble_set(trouble, "", "another process writes it");
    enum state state = open_writable(file, path, trouble);
    if (state == DAMAGED) {
        char aside[PATH_SIZE];
        shut(file);
        if (!put_aside(path, aside, trouble))
            return false;
        file->damaged = true;
        state = open_writable(file, path, trouble);
        if (state == SOUND)
            begin_anew(file, path, aside, notice);
    }
    return state == SOUND;
}

/* What was remembered is read even where nothing can be remembered any more, or where
 * other parts of the file cannot be read; but not from a file that makes no sense. */
static void settle_for_reading(struct file *file, const char *path, struct trouble *trouble)
{
    struct trouble second;
    file->db = reader_open(path, &second);
    if (file->db && look_through(file, &second) == DAMAGED) {
        trouble_set(trouble, "", "%s, and cannot be put aside", second.text);
        shut(file);
    }
}

bool file_open(struct file *file, const char *path, char notice[static LEDGER_EVENT_MAX],
               struct trouble *trouble)
{
    file->writable = try_to_write(file, path, notice, trouble);
    if (!file->writable) {
        file_close(file);
        settle_for_reading(file, path, trouble);
    }
    return file->writable;
}

void file_close(struct file *file)
{
    shut(file);
    if (file->lock >= 0)
        close(file->lock);
    file->lock = -1;
    file->writable = false;
}
