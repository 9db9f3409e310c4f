/* batch.h - what goes to disk together, in a box of fixed size.
 *
 * Plain values, no lock, no allocation after batch_new. Counters and notes are latest
 * values by key; events and history rows are a list that forgets its oldest when full.
 * The box is large but empty pages of it cost nothing: they are first touched when used. */
#ifndef SLUICE_LEDGER_BATCH_H
#define SLUICE_LEDGER_BATCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "core/moment.h"
#include "ledger/ledger.h"

enum { BATCH_COUNTERS = 256, BATCH_NOTES = 64, BATCH_EVENTS = 256, BATCH_ROWS = 512 };

struct batch_event {
    int64_t at_ms; /* wall */
    char subject[LEDGER_KEY_MAX];
    char text[LEDGER_EVENT_MAX];
};

struct batch_row {
    int64_t from_ms, to_ms; /* wall */
    int64_t spare_mwh, grid_mwh, on_ms;
    char subject[LEDGER_KEY_MAX];
};

struct batch {
    struct moment at; /* of the latest commit in it */
    size_t counter_count, note_count, event_count, row_count;
    uint32_t dropped; /* values that found no place */
    struct ledger_counter counters[BATCH_COUNTERS];
    struct batch_row rows[BATCH_ROWS];
    struct batch_event events[BATCH_EVENTS];
    struct ledger_note notes[BATCH_NOTES];
};

/* An empty one on the heap; NULL: no memory. */
struct batch *batch_new(void);
void batch_clear(struct batch *batch);

/* A counter keeps the greatest value it was given. Texts too long are cut. */
void batch_counter(struct batch *batch, const char *key, int64_t value);
void batch_note(struct batch *batch, const char *key, const char *text);
void batch_event(struct batch *batch, const struct batch_event *event);
void batch_row(struct batch *batch, const struct batch_row *row);

/* Puts what is newer on top, as if all had been staged in `older` from the start. */
void batch_merge(struct batch *older, const struct batch *newer);

#endif
