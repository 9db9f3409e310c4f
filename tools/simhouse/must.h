/* must.h - what a scenario promises, judged from the truth second by second.
 *
 *   must water-heater drawing >= 3 h by 17:00       since the last 17:00
 *   must water-heater relay off 06:00..09:30        every second of it
 *   must water-heater grid-energy <= 0.5 kWh        over the whole run
 *   must amps L1 <= 40 A within 5 s                 no breach of it lasts longer
 *   must water-heater relay off after exit          once the daemon has gone */
#ifndef SIMHOUSE_MUST_H
#define SIMHOUSE_MUST_H

#include <stdio.h>

#include "cursor.h"
#include "scenario.h"

bool must_read(struct must *must, const struct scenario *scenario, struct cursor *cursor);

struct must_state {
    double sum; /* or the least, or the greatest, of the present span */
    bool any;   /* the span has begun and something was seen in it */
    bool in_span;
    double breach_s;    /* how long it has been broken now, without a pause */
    int64_t offence_ms; /* wall time of the first sample that broke a word such as "relay off"; 0:
                           none */
    int judged, broken;
    double worst;      /* what the first broken span had come to */
    int64_t broken_ms; /* and when it was judged */
};

struct musts {
    const struct scenario *scenario;
    struct must_state state[MUSTS_MAX];
};

void musts_init(struct musts *musts, const struct scenario *scenario);
void musts_step(struct musts *musts, const struct world *world);
void musts_end(struct musts *musts, const struct world *world); /* the day is over */
void musts_after_exit(struct musts *musts, const struct world *world);

/* Prints each one that does not hold, with what was seen; returns how many. */
int musts_report(const struct musts *musts, const char *path, FILE *to);

#endif
