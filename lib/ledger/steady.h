/* steady.h - whether the wall clock has held for so long that what is old by it may go.
 *
 * A clock that was wrong for ten minutes may be a year ahead and trusted. What it drops
 * is lost, so nothing is dropped until the clock has gone along with the running time for
 * days. That is counted in recorded running time alone, and kept over restarts. Pure. */
#ifndef SLUICE_LEDGER_STEADY_H
#define SLUICE_LEDGER_STEADY_H

#include "core/moment.h"
#include "core/text.h"

#define STEADY_HELD_MS (3 * (int64_t)MS_PER_DAY)

struct steady {
    bool known;      /* wall_ms is */
    bool same_run;   /* mono_ms is of this run of the daemon */
    int64_t wall_ms; /* of the last trusted commit */
    int64_t mono_ms;
    int64_t held_ms;   /* running time since the clock last leapt, at most STEADY_HELD_MS */
    int64_t stored_ms; /* wall_ms as last stored */
};

void steady_read(struct steady *steady, const char *text);
void steady_write(struct steady *steady, struct text *text);

/* A commit by a trusted clock. True: it is to be stored. */
bool steady_take(struct steady *steady, struct moment at);
bool steady_holds(const struct steady *steady);

#endif
