/* total.h - an energy register over time: how much of what it shows is new.
 *
 * A register only rises, and no faster than the supply can carry. One that leaps or
 * falls is doubted until the next value: if that one fits what was shown before, the
 * doubted value was misread and is forgotten; if it fits the doubted one, the meter was
 * exchanged, reset, or has rolled over: counting goes on from the doubted value, and
 * what lies between the two is nobody's energy. */
#ifndef SLUICE_METER_TOTAL_H
#define SLUICE_METER_TOTAL_H

#include "core/moment.h"

struct total {
    bool known, doubted;
    int64_t mwh; /* the last good value, and when it was read */
    struct mono at;
    int64_t doubted_mwh;
    struct mono doubted_at;
};

enum total_finding {
    TOTAL_RISEN,    /* or the first value, or the same */
    TOTAL_DOUBTED,  /* nothing changes until the next value */
    TOTAL_REPLACED, /* another register from now on */
};

/* Takes the newest value. `most_w`: the most that can flow; 0: no limit to a rise. An
 * `at` before the start of the machine (negative) is as good as any. *risen_mwh: what to
 * count, >= 0. Where the rise is limited, risen_mwh * 3600 does not overflow. */
enum total_finding total_take(struct total *total, int64_t mwh, int64_t most_w, struct mono now,
                              int64_t *risen_mwh);

#endif
