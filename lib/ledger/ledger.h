/* ledger.h - what must survive: the engine's memory, counters, events, history.
 *
 * SQLite in a thread of its own; the loop posts snapshots and never waits for a
 * disk. A full disk, a read-only card or a damaged file is a trouble to report;
 * control goes on from memory. A damaged file is put aside under another name,
 * never deleted, and a new one begun.
 *
 * The promise is: at most 60 s are lost, nothing counts twice, no counter runs
 * backwards. One commit a minute while a load runs and each quarter of an hour
 * otherwise, all of a snapshot in one transaction, with synchronous=FULL. */
#ifndef SLUICE_LEDGER_LEDGER_H
#define SLUICE_LEDGER_LEDGER_H

#include <stdint.h>

#include "core/moment.h"
#include "core/setting.h"
#include "core/trouble.h"

enum {
    LEDGER_KEY_MAX = 64,
    LEDGER_TEXT_MAX = 8192,
    LEDGER_EVENT_MAX = 256,
    LEDGER_ORDERS_MAX = 8192,
    LEDGER_NOTES_MAX = 256, /* of different keys, in what is staged */
};

struct ledger_settings {
    char path[192];
    int32_t history_days; /* events and history older than this are dropped */
};

extern const struct setting_rows ledger_setting_rows;

/* A running total that must never go backwards. */
struct ledger_counter {
    char key[LEDGER_KEY_MAX]; /* "load/water-heater/spare_mwh", "grid/import_mwh" */
    int64_t value;
};

/* Remembered text: an engine memory, a name -> lines of "key=value". */
struct ledger_note {
    char key[LEDGER_KEY_MAX];
    char text[LEDGER_TEXT_MAX];
};

struct ledger;

/* Opens or creates; checks the file (quick_check: reads all of it, once); puts a
 * damaged one aside. One that can only be read is read. Where nothing can be stored,
 * ledger_trouble says why; NULL only without memory.
 * `boot` names this run of the machine (its boot_id): mono times mean nothing in
 * another one. */
struct ledger *ledger_open(const struct ledger_settings *settings, const char *boot);

/* The newest note of that key, from memory: at any time, and the disk is not waited for.
 * False: there is none, or more were ever stored than are kept (notes.h). */
bool ledger_note_read(struct ledger *ledger, const char *key, char text[static LEDGER_TEXT_MAX]);
/* When the last save was made, and by which boot (text of boot_id). */
bool ledger_last_save(struct ledger *ledger, struct wall *wall, struct mono *mono,
                      char boot[static 40]);

/* A damaged file was put aside: what is not there may have been lost. */
bool ledger_was_damaged(struct ledger *ledger);

/* What people ordered, as a second small copy in a file of its own (path.orders): written whole
 * with the next commit, on disk before the ledger is, and read back before the first one.
 * False: there is none. */
void ledger_orders(struct ledger *ledger, const char *text);
bool ledger_orders_read(struct ledger *ledger, char text[static LEDGER_ORDERS_MAX]);

/* Stages values for the next commit; copies; never blocks. A counter lower than
 * the stored one is refused and reported: counters only rise. What is staged while
 * nothing can be stored is kept: the latest of each counter and note, and as many
 * events and rows as there is room for; how many were lost becomes an event. */
void ledger_counter(struct ledger *ledger, const char *key, int64_t value);
void ledger_note(struct ledger *ledger, const char *key, const char *text);
void ledger_event(struct ledger *ledger, struct moment at, const char *subject, const char *text);
/* One row of history: `interval_ms` up to `at`, for load or grid `subject`. */
void ledger_history(struct ledger *ledger, struct moment at, int64_t interval_ms,
                    const char *subject, int64_t spare_mwh, int64_t grid_mwh, int64_t on_ms);

/* Hands all that is staged to the writer as one transaction; if it is still busy,
 * all stays staged for the next one. What could not be written goes with the next. */
void ledger_commit(struct ledger *ledger, struct moment at);

/* Commits handed over to the writer; and up to which of them all is on disk. */
uint64_t ledger_posted(struct ledger *ledger);
uint64_t ledger_stored(struct ledger *ledger);

/* Until the writer is idle, which may take a disk's time: for the end, and for tests. */
void ledger_wait(struct ledger *ledger);

/* What is wrong with storing right now; else, for a day of moments, what a person
 * should know of it (a damaged file put aside, a counter that was to fall); or "". */
void ledger_trouble(struct ledger *ledger, char text[static LEDGER_EVENT_MAX]);

/* Writes what was committed and is not on disk yet, closes. */
void ledger_close(struct ledger *ledger);

#endif
