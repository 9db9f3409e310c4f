/* turn.h - what the files of this room share while one turn is under way.
 *
 * Each section of TABLE.md is a file with a header of its own; who needs whom goes one way:
 * the sections stand on load.h (a load by itself) and on this, decide.c on the sections, turn.c
 * on all. */
#ifndef SLUICE_RULES_TURN_H
#define SLUICE_RULES_TURN_H

#include "rules.h"

#include "core/arith.h"

/* The constants of TABLE.md, but for those of one file alone (kind.c, ahead.c, heat.h) and of
 * section 5 (lib/observe). */
enum {
    SATISFIED_COUNTS_MS = 12 * MS_PER_HOUR,
    SHED_HOLD_MS = 5 * MS_PER_MIN,
    TAKEOVER_PATIENCE_MS = 60 * MS_PER_S,
    TAKEOVER_RETRY_MS = 30 * MS_PER_MIN,
    TAKEOVER_SETTLE_MS = 5 * MS_PER_MIN,
    TAKEOVER_AGAIN_MS = 60 * MS_PER_MIN,
    PROBE_LOOK_MS = 90 * MS_PER_S,
    FOLLOW_MS = 5 * MS_PER_S,
    UNTRUSTED_PATIENCE_MS = 30 * MS_PER_MIN,
    RETURN_RESERVE_MS = 30 * MS_PER_MIN,
    CLOCK_STEP_MS = 60 * MS_PER_S,
    REST_AGAIN_MS = 6 * MS_PER_HOUR, /* a load is not switched off to show its draw more often */
    REST_IN = 3, /* of a heat-up from cold, what one that begins without an order can take */
    LEAST_HEAT_UP_MS = 10 * MS_PER_MIN,
};

/* Longer than any span that is ever added to a moment. */
#define ENDLESS_MS (INT64_MAX / 4)

struct turn {
    const struct rules_settings *settings;
    struct rules_memory *memory;
    const struct rules_input *input;
    struct decision *decisions;
    struct rules_outcome *outcome;
    int64_t t, w;       /* mono and wall of this turn, ms */
    int64_t dt;         /* since the last turn */
    int64_t stepped_ms; /* how far the wall clock was set since, beyond dt */
    bool trusted;
    bool look_back;   /* the clock stepped back, or what is remembered has yet to meet a clock */
    bool fresh;       /* what the grid's meter says may be believed */
    bool spare_known; /* and says what is spare */
    uint8_t pool_count;
    int64_t spare_w[PHASES];  /* section 7: S */
    int64_t lower_w[PHASES];  /* gives-up of the loads still to come in order */
    int64_t relief_w[PHASES]; /* of all loads */
    bool any_unshown, any_relief, any_gives, any_levels;
    int64_t amps_ma[PHASES];    /* section 8 */
    uint32_t claimed_groups;    /* one-at-a-time groups with a strong wish waiting */
    struct observing observing; /* section 5 */
    int64_t until;              /* the earliest moment at which something may differ */
};

/* What is measured and sensed at it; NULL: nothing. */
static inline const struct load_reading *load_sensed(const struct turn *turn, uint16_t index)
{
    return turn->input->load_reading ? &turn->input->load_reading[index] : NULL;
}

/* What the load's own meter says now; NULL: it has none, or it is silent. */
static inline const struct load_reading *own_meter(const struct turn *turn, uint16_t index)
{
    const struct load_reading *own = load_sensed(turn, index);
    bool reads = own && own->power.quality == READING_FRESH && turn->settings->loads[index].metered;
    return reads ? own : NULL;
}

/* Something changes at `at` of its own accord. */
static inline void turn_soon(struct turn *turn, int64_t at)
{
    if (at > turn->t && at < turn->until)
        turn->until = at;
}

/* What this turn has changed is what the next one begins from: it may differ. */
static inline void turn_again(struct turn *turn)
{
    turn_soon(turn, turn->t + 1);
}

static inline bool load_is_on(const struct load_memory *memory)
{
    return memory->state == STATE_ON || memory->state == STATE_STARTING;
}

/* The event, or NULL where the list is full. */
static inline struct rules_event *turn_event(struct turn *turn, enum rules_event_kind kind,
                                             uint16_t load, int64_t number)
{
    struct rules_outcome *outcome = turn->outcome;
    if (outcome->event_count == RULES_EVENTS_MAX)
        return NULL;
    struct rules_event *event = &outcome->event[outcome->event_count++];
    *event = (struct rules_event){.kind = (uint8_t)kind, .load = load, .number = number};
    return event;
}

static inline struct reason reason_of(enum reason_code code, int64_t a, int64_t b, int64_t c)
{
    return (struct reason){.code = code, .number = {a, b, c, 0}};
}

#endif
