/* rig.h - a folder for a ledger, and a disk that does what a test wants.
 *
 * SQLite's system calls can be exchanged (sqlite3_vfs, xSetSystemCall): here those
 * that read and write, so that a full, failing, stalled or torn disk is exact and
 * needs no timing. */
#ifndef SLUICE_TESTS_LEDGER_RIG_H
#define SLUICE_TESTS_LEDGER_RIG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "../core/suite.h"
#include "ledger/ledger.h"

enum { RIG_PATH_MAX = 150 };

#define RIG_BOOT "4f3c0f6e-0000-4000-8000-0000000000a1"

/* Runs a file's tests, each in a process and a folder of its own. */
int rig_run(const char *name, const TTest *const tests[], size_t count);

/* Names in the test's folder; each call's text stays until the fourth after it. */
const char *rig_path(const char *name);
struct ledger_settings rig_settings(void); /* of "ledger.db", 400 days */
struct ledger *rig_open(void);

/* Minute `n` of a day in 2026 whose clock is trusted. */
struct moment rig_minute(int64_t n);
void rig_commit(struct ledger *ledger, int64_t minute); /* and waits */

/* What the file says, asked by an own connection. */
int64_t rig_ask(const char *sql);
int64_t rig_counter(const char *key);
int64_t rig_saved(void);                 /* the minute of the last commit that is in it; -1: none */
int64_t rig_events(const char *pattern); /* how many texts are LIKE it */
bool rig_exists(const char *name);
size_t rig_read(const char *name, void *bytes, size_t size);
void rig_write(const char *name, const void *bytes, size_t size);

/* Fails the test unless `text` is part of what the ledger says is wrong. */
void rig_assert_trouble(struct ledger *ledger, const char *text);
/* It says that what was committed is not on disk. */
bool rig_cannot_store(struct ledger *ledger);

/* Each write, or each read, fails from now on with this errno; 0: no more. */
void rig_writes_fail(int error);
void rig_reads_fail(int error);
void rig_reads_fail_from(int error, int64_t at); /* those from there on in a file */
/* The next write waits until rig_flow. rig_await_stall returns when one does. */
void rig_stall(void);
void rig_await_stall(void);
void rig_flow(void);
/* Half of write number `n` from now is done, then the process is killed. */
void rig_die_at_write(int64_t n);

/* From here on permissions count, also for root. */
void rig_drop_root(void);

/* Mounts an empty file system of `size_kb` over the test's folder that vanishes with
 * the test; false: not allowed to. */
bool rig_mount(int size_kb);
bool rig_remount(bool read_only);

#endif
