/* store.h - the file: SQLite, one connection, one transaction a snapshot. */
#ifndef SLUICE_LEDGER_STORE_H
#define SLUICE_LEDGER_STORE_H

#include "ledger.h"

enum {
    STAGE_COUNTERS_MAX = 200,
    STAGE_NOTES_MAX = 40,
    STAGE_EVENTS_MAX = 128,
    STAGE_ROWS_MAX = 160,
    STORE_BOOT_MAX = 40,
};

struct staged_event {
    struct wall at;
    char subject[LEDGER_KEY_MAX];
    char text[LEDGER_EVENT_MAX];
};

struct staged_row {
    struct wall from, to;
    char subject[LEDGER_KEY_MAX];
    int64_t spare_mwh, grid_mwh, on_ms;
};

/* What goes into one transaction. */
struct stage {
    struct moment at;
    int counter_count, note_count, event_count, row_count;
    struct ledger_counter counter[STAGE_COUNTERS_MAX];
    struct ledger_note note[STAGE_NOTES_MAX];
    struct staged_event event[STAGE_EVENTS_MAX];
    struct staged_row row[STAGE_ROWS_MAX];
};

struct store;

/* Opens or creates; puts a damaged file aside. NULL: `trouble` says why. `notice`
 * is filled where a damaged file was put aside. */
struct store *store_open(const char *path, char notice[static LEDGER_EVENT_MAX],
                         struct trouble *trouble);
void store_close(struct store *store);

/* All of it or nothing. */
bool store_write(struct store *store, const struct stage *stage, const char *boot,
                 int32_t history_days, struct trouble *trouble);

bool store_counter(struct store *store, const char *key, int64_t *value);
bool store_note(struct store *store, const char *key, char text[static LEDGER_TEXT_MAX]);
bool store_last_save(struct store *store, struct wall *wall, struct mono *mono,
                     char boot[static STORE_BOOT_MAX]);

#endif
