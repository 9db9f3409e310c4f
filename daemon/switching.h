/* switching.h - the outputs of the settings in force, and those that a reload has left behind. */
#ifndef SLUICE_DAEMON_SWITCHING_H
#define SLUICE_DAEMON_SWITCHING_H

#include "common.h"
#include "lines.h"
#include "output/output.h"

struct switching {
    struct lines *lines;         /* devices are reached by these, */
    const struct common *common; /* and by its broker */
    struct outputs *outputs;
    struct outputs *retired; /* of loads that a reload has removed */
    struct mono retired_until;
    bool news; /* an output has confirmed at once: another turn is due */
};

bool switching_open(struct switching *switching, struct lines *lines, const struct common *common,
                    struct trouble *trouble);

/* An answer whose id is one of theirs; `of_now`: of the present buses. */
void switching_answer(struct switching *switching, const struct bus_answer *answer, bool of_now);

/* Once a turn: does what is due. What is retired goes once it is at its fail state, or has had its
 * time. */
void switching_turn(struct switching *switching, struct mono now);

/* ---- at a reload ------------------------------------------------------------------------- */

/* The outputs may stay as they are: the same loads in the same order, wired alike. */
bool switching_is_same(const struct settings *a, const struct settings *b);
/* Brings to its fail state what is wired to nothing any more. */
void switching_retire(struct switching *switching, const struct settings *after, bool buses_stay);
/* False: out of memory, and the old ones stay. */
bool switching_replace(struct switching *switching, const struct settings *before,
                       struct trouble *trouble);

void switching_end(struct switching *switching);

#endif
