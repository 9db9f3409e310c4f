/* inside.h - between the files of the estimator only. */
#ifndef SLUICE_OBSERVE_INSIDE_H
#define SLUICE_OBSERVE_INSIDE_H

#include "core/arith.h"
#include "observe/observe.h"

/* Something changes at `at` of its own accord. */
static inline void observe_soon(struct observing *o, int64_t at)
{
    if (at > o->t && at < o->until)
        o->until = at;
}

static inline bool is_on(const struct observing *o)
{
    return o->given->state == STATE_ON || o->given->state == STATE_STARTING;
}

#endif
