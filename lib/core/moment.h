/* moment.h - points in time that cannot be mixed up.
 *
 * Three clocks, three types. `mono` counts milliseconds since boot and never
 * steps; `wall` is Unix time in milliseconds and may step; local calendar time
 * (calendar.h) exists only through a zone (zone.h). A `moment` is what one turn
 * of the loop knows about time: both clocks read together, and whether the wall
 * clock may be believed. */
#ifndef SLUICE_CORE_MOMENT_H
#define SLUICE_CORE_MOMENT_H

#include <stdbool.h>
#include <stdint.h>

struct mono {
    int64_t ms; /* since boot, >= 0 */
};

struct wall {
    int64_t ms; /* since 1970-01-01T00:00:00Z */
};

struct moment {
    struct mono mono;
    struct wall wall;
    bool wall_trusted; /* synchronised or battery-backed; else only mono counts */
};

enum { MS_PER_S = 1000, MS_PER_MIN = 60 * 1000, MS_PER_HOUR = 3600 * 1000, MS_PER_DAY = 86400000 };

/* A mono that never comes. */
#define MONO_NEVER ((struct mono){INT64_MAX})

static inline int64_t mono_since_ms(struct mono later, struct mono earlier)
{
    return later.ms - earlier.ms;
}

static inline struct mono mono_after(struct mono m, int64_t ms)
{
    return (struct mono){m.ms + ms};
}

/* When something done each `every_ms` is due next: the pace is kept; after a long stop it begins
 * afresh. */
static inline struct mono mono_next_due(struct mono due, int64_t every_ms, struct mono now)
{
    struct mono next = mono_after(due, every_ms);
    return next.ms > now.ms ? next : mono_after(now, every_ms);
}

static inline struct mono mono_earlier(struct mono a, struct mono b)
{
    return a.ms < b.ms ? a : b;
}

#endif
