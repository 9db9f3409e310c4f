/* backoff.c - backing off, of a line and of its units.
 *
 * What a silence costs is reckoned, not measured: two runs of the same day must
 * back off at the same moments. Only a gateway's word for silence, which may come
 * at once or after the gateway's own wait, has to be measured. */
#include "bus/backoff.h"

enum { FIRST_DELAY_MS = 1000, NEXT_DELAY_MS = 2000, SILENCES_ALLOWED = 3, RESTS_PER_COST = 9 };

void backoff_limit_rests(struct backoff *backoff, uint8_t unit, int64_t grace_ms,
                         int64_t rest_most_ms)
{
    int64_t *grace = &backoff->unit[unit].grace_ms, *most = &backoff->unit[unit].rest_most_ms;
    if (grace_ms > *grace)
        *grace = grace_ms;
    if (rest_most_ms > 0 && (*most == 0 || rest_most_ms < *most))
        *most = rest_most_ms;
}

/* ---- the line ------------------------------------------------------------------- */

bool backoff_may_open(const struct backoff *backoff, struct mono now)
{
    return backoff->delay_ms == 0 || now.ms >= backoff->retry_at.ms;
}

void backoff_did_not_open(struct backoff *backoff, struct mono now)
{
    backoff->delay_ms = backoff->delay_ms == 0 ? FIRST_DELAY_MS : NEXT_DELAY_MS;
    backoff->retry_at = mono_after(now, backoff->delay_ms);
}

/* Once until it answers itself: else a living neighbour would end every rest of a
 * dead unit. */
static void end_rests(struct backoff *backoff)
{
    for (unsigned unit = 0; unit < sizeof backoff->unit / sizeof backoff->unit[0]; unit++) {
        if (!backoff_lost(backoff, (uint8_t)unit) || backoff->unit[unit].excused)
            continue;
        backoff->unit[unit].excused = true;
        backoff->unit[unit].rests_until = (struct mono){0};
    }
}

void backoff_opened(struct backoff *backoff)
{
    if (backoff_line_broken(backoff))
        end_rests(backoff);
}

void backoff_line_is_well(struct backoff *backoff)
{
    backoff->delay_ms = 0;
}

bool backoff_line_broken(const struct backoff *backoff)
{
    return backoff->delay_ms != 0;
}

/* ---- a unit --------------------------------------------------------------------- */

bool backoff_lost(const struct backoff *backoff, uint8_t unit)
{
    return backoff->unit[unit].silent >= SILENCES_ALLOWED;
}

bool backoff_may_ask(const struct backoff *backoff, uint8_t unit, struct mono now)
{
    return !backoff_lost(backoff, unit) || now.ms >= backoff->unit[unit].rests_until.ms;
}

int backoff_rest_s(const struct backoff *backoff, uint8_t unit, struct mono now)
{
    return (int)((mono_since_ms(backoff->unit[unit].rests_until, now) + 999) / 1000);
}

static int64_t rest_ms(const struct backoff *backoff, uint8_t unit, int64_t cost_ms,
                       struct mono now)
{
    int64_t most_ms = backoff->unit[unit].rest_most_ms, rest = cost_ms * RESTS_PER_COST;
    bool in_grace =
        backoff->unit[unit].answered &&
        mono_since_ms(now, backoff->unit[unit].answered_at) < backoff->unit[unit].grace_ms;
    if (in_grace)
        return 0;
    return most_ms > 0 && rest > most_ms ? most_ms : rest;
}

void backoff_silent(struct backoff *backoff, uint8_t unit, int64_t cost_ms, struct mono now)
{
    if (!backoff_lost(backoff, unit)) {
        backoff->unit[unit].silent++;
    }
    /* `now` is when the job was posted; the silence itself comes first. */
    backoff->unit[unit].rests_until =
        mono_after(now, cost_ms + rest_ms(backoff, unit, cost_ms, now));
}

void backoff_answered(struct backoff *backoff, uint8_t unit, struct mono now)
{
    backoff->unit[unit].silent = 0;
    backoff->unit[unit].excused = false;
    backoff->unit[unit].answered = true;
    backoff->unit[unit].answered_at = now;
    end_rests(backoff);
}
