/* backoff.h - when to try again. Pure; time is the jobs'.
 *
 * The rule:
 * - A port or connection that is gone is tried 1 s after it broke, then each 2 s:
 *   opening costs next to nothing, and whoever waits for a reading waits for it.
 * - A unit that was silent three times running rests for nine times what its silence
 *   cost, so that it takes at most a tenth of the bus's time. Three, so that one lost
 *   frame costs nothing. An exception that a gateway gives at once for a silent unit
 *   costs only the time it took.
 * - A rest never outlives a reading's freshness, where a unit's rests are limited (a meter): it
 *   does not rest while its last answer is younger than the grace, so that trouble of a
 *   few seconds delays nothing; and no rest is longer than its limit, which goes
 *   before the tenth.
 * - The first answer of the unit ends its rest. So does the first sign of life of the
 *   line (another unit answers, or the port is open again), once: a unit that stays
 *   silent after that is lost by itself. */
#ifndef SLUICE_BUS_BACKOFF_H
#define SLUICE_BUS_BACKOFF_H

#include "core/moment.h"

struct backoff {
    int64_t delay_ms; /* the line's last; 0: it was open and well */
    struct mono retry_at;
    struct {
        uint8_t silent; /* times running */
        bool answered;  /* at all: then `answered_at` is when it did last */
        bool excused;   /* the line's sign of life ended a rest since its last answer */
        struct mono answered_at, rests_until;
        int64_t grace_ms, rest_most_ms;
    } unit[256];
};

/* Limits a unit's rests. `grace_ms`: it does not rest while its last answer is younger; 0:
 * no grace. `rest_most_ms`: no rest is longer; 0: no limit. Of several for one unit the
 * longest grace and the shortest rest count. */
void backoff_limit_rests(struct backoff *backoff, uint8_t unit, int64_t grace_ms,
                         int64_t rest_most_ms);

/* The line: a failure to open (or a port that broke), the port open again, an answer. */
bool backoff_may_open(const struct backoff *backoff, struct mono now);
void backoff_did_not_open(struct backoff *backoff, struct mono now);
void backoff_opened(struct backoff *backoff);
void backoff_line_is_well(struct backoff *backoff);

/* The line broke, and nothing good has come through it since. */
bool backoff_line_broken(const struct backoff *backoff);

/* A unit. `cost_ms`: of the bus's time, by this silence. */
bool backoff_may_ask(const struct backoff *backoff, uint8_t unit, struct mono now);
int backoff_rest_s(const struct backoff *backoff, uint8_t unit, struct mono now);
void backoff_silent(struct backoff *backoff, uint8_t unit, int64_t cost_ms, struct mono now);
void backoff_answered(struct backoff *backoff, uint8_t unit, struct mono now);

/* Silent three times running: what was known of the unit may have changed. */
bool backoff_lost(const struct backoff *backoff, uint8_t unit);

#endif
