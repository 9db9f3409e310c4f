/* rig.c - the folder, and the calls in SQLite's place. */
#include "rig.h"

#include <errno.h>
#include <ftw.h>
#include <pthread.h>
#include <sched.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <unistd.h>

enum { NOBODY = 65534 };

/* 2026-03-02T00:00:00Z */
static const int64_t day_ms = INT64_C(1772409600000);

static char all[48];    /* the program's folder, removed at its end */
static char folder[64]; /* the test's, in it */

/* ---- the disk ------------------------------------------------------------------- */

static struct {
    pthread_mutex_t lock;
    pthread_cond_t changed;
    int write_error, read_error;
    bool stalling, stalled;
    int64_t writes_to_live; /* 0: for ever */
    int64_t unread_from;
} disk = {.lock = PTHREAD_MUTEX_INITIALIZER, .changed = PTHREAD_COND_INITIALIZER};

/* What a write has to wait for and what becomes of it: 0 or an errno. */
static int pass_write(bool *last)
{
    pthread_mutex_lock(&disk.lock);
    while (disk.stalling) {
        disk.stalled = true;
        pthread_cond_broadcast(&disk.changed);
        pthread_cond_wait(&disk.changed, &disk.lock);
    }
    disk.stalled = false;
    *last = disk.writes_to_live > 0 && --disk.writes_to_live == 0;
    int error = disk.write_error;
    pthread_mutex_unlock(&disk.lock);
    return error;
}

static ssize_t write_here(int file, const void *bytes, size_t size, off_t at)
{
    bool last;
    errno = pass_write(&last);
    if (errno)
        return -1;
    ssize_t done = pwrite(file, bytes, last ? size / 2 : size, at);
    if (last)
        raise(SIGKILL);
    return done;
}

static ssize_t write_next(int file, const void *bytes, size_t size)
{
    off_t at = lseek(file, 0, SEEK_CUR);
    ssize_t done = write_here(file, bytes, size, at);
    if (done > 0)
        lseek(file, done, SEEK_CUR);
    return done;
}

static int read_error(off_t end)
{
    pthread_mutex_lock(&disk.lock);
    int error = end > disk.unread_from ? disk.read_error : 0;
    pthread_mutex_unlock(&disk.lock);
    return error;
}

static ssize_t read_here(int file, void *bytes, size_t size, off_t at)
{
    errno = read_error(at + (off_t)size);
    return errno ? -1 : pread(file, bytes, size, at);
}

static ssize_t read_next(int file, void *bytes, size_t size)
{
    errno = read_error(lseek(file, 0, SEEK_CUR) + (off_t)size);
    return errno ? -1 : read(file, bytes, size);
}

static void take_over_calls(void)
{
    sqlite3_initialize();
    sqlite3_vfs *vfs = sqlite3_vfs_find(NULL);
    const struct {
        const char *name;
        sqlite3_syscall_ptr call;
    } calls[] = {
        {"pwrite", (sqlite3_syscall_ptr)write_here}, {"pwrite64", (sqlite3_syscall_ptr)write_here},
        {"write", (sqlite3_syscall_ptr)write_next},  {"pread", (sqlite3_syscall_ptr)read_here},
        {"pread64", (sqlite3_syscall_ptr)read_here}, {"read", (sqlite3_syscall_ptr)read_next},
    };
    for (size_t k = 0; k < sizeof(calls) / sizeof(calls[0]); k++)
        ck_assert_int_eq(vfs->xSetSystemCall(vfs, calls[k].name, calls[k].call), SQLITE_OK);
}

static void set_int(int *what, int value)
{
    pthread_mutex_lock(&disk.lock);
    *what = value;
    pthread_mutex_unlock(&disk.lock);
}

void rig_writes_fail(int error)
{
    set_int(&disk.write_error, error);
}

void rig_reads_fail(int error)
{
    rig_reads_fail_from(error, 0);
}

void rig_reads_fail_from(int error, int64_t at)
{
    pthread_mutex_lock(&disk.lock);
    disk.read_error = error;
    disk.unread_from = at;
    pthread_mutex_unlock(&disk.lock);
}

static void set_stalling(bool stalling)
{
    pthread_mutex_lock(&disk.lock);
    disk.stalling = stalling;
    pthread_cond_broadcast(&disk.changed);
    pthread_mutex_unlock(&disk.lock);
}

void rig_stall(void)
{
    set_stalling(true);
}

void rig_flow(void)
{
    set_stalling(false);
}

void rig_await_stall(void)
{
    pthread_mutex_lock(&disk.lock);
    while (!disk.stalled)
        pthread_cond_wait(&disk.changed, &disk.lock);
    pthread_mutex_unlock(&disk.lock);
}

void rig_die_at_write(int64_t n)
{
    pthread_mutex_lock(&disk.lock);
    disk.writes_to_live = n;
    pthread_mutex_unlock(&disk.lock);
}

/* ---- the folder ----------------------------------------------------------------- */

/* In memory where that is to be had: the tests sync thousands of times. */
static void make_all(void)
{
    bool quick = access("/dev/shm", W_OK) == 0;
    snprintf(all, sizeof(all), "%s/sluice-ledger-XXXXXX", quick ? "/dev/shm" : "/tmp");
    if (!mkdtemp(all) || chmod(all, 0755) != 0) {
        perror(all);
        exit(EXIT_FAILURE);
    }
}

static int remove_one(const char *path, const struct stat *is, int kind, struct FTW *where)
{
    (void)is, (void)where;
    return kind == FTW_DP ? rmdir(path) : unlink(path);
}

static int unlock_one(const char *path, const struct stat *is, int kind, struct FTW *where)
{
    (void)is, (void)where;
    return kind == FTW_F ? 0 : chmod(path, 0700);
}

/* By the program and not by each test: a failed one does not get so far. */
static void remove_all(void)
{
    nftw(all, unlock_one, 8, FTW_PHYS);
    nftw(all, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

static void make_folder(void)
{
    snprintf(folder, sizeof(folder), "%s/XXXXXX", all);
    ck_assert_ptr_nonnull(mkdtemp(folder));
    take_over_calls();
}

/* Whoever looks for leaks at the end must be allowed to look. */
static void regain_root(void)
{
    ck_assert_int_eq(seteuid(getuid()), 0);
    prctl(PR_SET_DUMPABLE, 1);
}

int rig_run(const char *name, const TTest *const tests[], size_t count)
{
    Suite *suite = suite_create(name);
    TCase *cases = tcase_create(name);
    tcase_set_timeout(cases, 300);
    tcase_add_checked_fixture(cases, make_folder, regain_root);
    for (size_t i = 0; i < count; i++)
        tcase_add_test(cases, tests[i]);
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    make_all();
    srunner_run_all(runner, CK_NORMAL);
    remove_all();
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}

const char *rig_path(const char *name)
{
    static char paths[4][RIG_PATH_MAX];
    static int next;
    char *path = paths[next++ % 4];
    snprintf(path, RIG_PATH_MAX, "%s/%s", folder, name);
    return path;
}

bool rig_exists(const char *name)
{
    return access(rig_path(name), F_OK) == 0;
}

size_t rig_read(const char *name, void *bytes, size_t size)
{
    FILE *file = fopen(rig_path(name), "rb");
    ck_assert_msg(file != NULL, "%s: %s", name, strerror(errno));
    size_t got = fread(bytes, 1, size, file);
    fclose(file);
    return got;
}

void rig_write(const char *name, const void *bytes, size_t size)
{
    FILE *file = fopen(rig_path(name), "wb");
    ck_assert_msg(file != NULL, "%s: %s", name, strerror(errno));
    ck_assert_uint_eq(fwrite(bytes, 1, size, file), size);
    ck_assert_int_eq(fclose(file), 0);
}

void rig_drop_root(void)
{
    if (getuid() == 0) {
        ck_assert_int_eq(chown(folder, NOBODY, NOBODY), 0);
        ck_assert_int_eq(seteuid(NOBODY), 0);
    }
}

bool rig_mount(int size_kb)
{
    char size[32];
    snprintf(size, sizeof(size), "size=%dk", size_kb);
    return unshare(CLONE_NEWNS) == 0 && mount("none", "/", NULL, MS_REC | MS_PRIVATE, NULL) == 0 &&
           mount("none", folder, "tmpfs", 0, size) == 0;
}

bool rig_remount(bool read_only)
{
    return mount("none", folder, "tmpfs", MS_REMOUNT | (read_only ? MS_RDONLY : 0), NULL) == 0;
}

/* ---- the ledger ----------------------------------------------------------------- */

struct ledger_settings rig_settings(void)
{
    struct ledger_settings settings = {.history_days = 400};
    snprintf(settings.path, sizeof(settings.path), "%s", rig_path("ledger.db"));
    return settings;
}

struct ledger *rig_open(void)
{
    struct ledger_settings settings = rig_settings();
    struct ledger *ledger = ledger_open(&settings, RIG_BOOT);
    ck_assert_ptr_nonnull(ledger);
    return ledger;
}

struct moment rig_minute(int64_t n)
{
    return (struct moment){
        .mono = {(n + 1) * MS_PER_MIN}, .wall = {day_ms + n * MS_PER_MIN}, .wall_trusted = true};
}

void rig_commit(struct ledger *ledger, int64_t minute)
{
    ledger_commit(ledger, rig_minute(minute));
    ledger_wait(ledger);
}

int64_t rig_ask(const char *sql)
{
    sqlite3 *db;
    sqlite3_stmt *statement;
    ck_assert_int_eq(sqlite3_open_v2(rig_path("ledger.db"), &db, SQLITE_OPEN_READWRITE, NULL),
                     SQLITE_OK);
    int code = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);
    ck_assert_msg(code == SQLITE_OK, "%s: %s", sql, sqlite3_errmsg(db));
    code = sqlite3_step(statement);
    ck_assert_msg(code == SQLITE_ROW, "%s: %s", sql, sqlite3_errmsg(db));
    int64_t answer = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return answer;
}

int64_t rig_counter(const char *key)
{
    char sql[160];
    snprintf(sql, sizeof(sql), "SELECT ifnull(max(value), -1) FROM counter WHERE key = '%s'", key);
    return rig_ask(sql);
}

int64_t rig_saved(void)
{
    int64_t wall_ms = rig_ask("SELECT ifnull(max(wall_ms), 0) FROM save");
    return wall_ms == 0 ? -1 : (wall_ms - day_ms) / MS_PER_MIN;
}

int64_t rig_events(const char *pattern)
{
    char sql[160];
    snprintf(sql, sizeof(sql), "SELECT count(*) FROM event WHERE text LIKE '%s'", pattern);
    return rig_ask(sql);
}

bool rig_cannot_store(struct ledger *ledger)
{
    char trouble[LEDGER_EVENT_MAX];
    ledger_trouble(ledger, trouble);
    return strstr(trouble, "counting goes on in memory") != NULL;
}

void rig_assert_trouble(struct ledger *ledger, const char *text)
{
    char trouble[LEDGER_EVENT_MAX];
    ledger_trouble(ledger, trouble);
    ck_assert_msg(text[0] ? strstr(trouble, text) != NULL : trouble[0] == '\0',
                  "the ledger says \"%s\", expected was \"%s\"", trouble, text);
}
