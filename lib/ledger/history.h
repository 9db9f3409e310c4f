/* history.h - reading a ledger that somebody else writes.
 *
 * Opened read-only, beside a running daemon or on a copy of its file; a reader
 * never holds the writer up. Rows and events come by time. */
#ifndef SLUICE_LEDGER_HISTORY_H
#define SLUICE_LEDGER_HISTORY_H

#include "core/moment.h"
#include "core/trouble.h"
#include "ledger/ledger.h"

/* What happened from `from` to `to`: of a load, its energy by where it came from and
 * its time on; "grid": exported and imported; "spare" and "solar": spare_mwh. */
struct history_row {
    struct wall from, to;
    char subject[LEDGER_KEY_MAX];
    int64_t spare_mwh, grid_mwh, on_ms;
};

struct history_event {
    struct wall at;
    char subject[LEDGER_KEY_MAX]; /* a load, "site", or a trouble's id */
    char text[LEDGER_EVENT_MAX];
};

struct history;

/* NULL: `trouble` says why it cannot be read. */
struct history *history_open(const char *path, struct trouble *trouble);
void history_close(struct history *history);

/* Each row that overlaps [from, to), each event in it, oldest first; `each` returns
 * false to end early. False: the file could not be read to the end. */
bool history_rows(struct history *history, struct wall from, struct wall to,
                  bool (*each)(void *context, const struct history_row *row), void *context,
                  struct trouble *trouble);
bool history_events(struct history *history, struct wall from, struct wall to,
                    bool (*each)(void *context, const struct history_event *event), void *context,
                    struct trouble *trouble);

/* From when to when there are rows; false: none. */
bool history_span(struct history *history, struct wall *first, struct wall *last);

#endif
