/* stage.h - what goes into one transaction, in a box of fixed size.
 *
 * Plain values; no lock, no file. Of counters and notes it holds one value for each
 * key; of events and rows of history a list that forgets its oldest when it is full.
 * Pages of it that are not used cost nothing: they are never touched. */
#ifndef SLUICE_LEDGER_STAGE_H
#define SLUICE_LEDGER_STAGE_H

#include "ledger/ledger.h"

enum { STAGE_COUNTERS = 256, STAGE_NOTES = LEDGER_NOTES_MAX, STAGE_EVENTS = 256, STAGE_ROWS = 512 };

struct stage_event {
    struct wall at;
    char subject[LEDGER_KEY_MAX];
    char text[LEDGER_EVENT_MAX];
};

struct stage_row {
    struct wall from, to;
    int64_t spare_mwh, grid_mwh, on_ms;
    char subject[LEDGER_KEY_MAX];
};

struct stage {
    struct moment at;               /* of the newest commit in it */
    uint32_t lost;                  /* events and rows forgotten */
    uint32_t dropped_keys;          /* counters and notes for whose key there was no place */
    char orders[LEDGER_ORDERS_MAX]; /* "": no change */
    int counters, notes, events, rows;
    struct ledger_counter counter[STAGE_COUNTERS];
    struct stage_row row[STAGE_ROWS];
    struct stage_event event[STAGE_EVENTS];
    struct ledger_note note[STAGE_NOTES];
};

void stage_clear(struct stage *stage);
/* The greatest value wins, the newest text. Texts too long are cut. */
void stage_counter(struct stage *stage, const char *key, int64_t value);
void stage_note(struct stage *stage, const char *key, const char *text);
void stage_event(struct stage *stage, struct wall at, const char *subject, const char *text);
void stage_row(struct stage *stage, const struct stage_row *row);

/* As if all of `newer` had been staged in `older` after what is there. */
void stage_merge(struct stage *older, const struct stage *newer);

#endif
