/* patience.c - backing off, of a line and of its units.
 *
 * What a silence costs is reckoned, not measured: two runs of the same day must
 * back off at the same moments. */
#include "bus/patience.h"

enum { FIRST_DELAY_MS = 1000, LONGEST_DELAY_MS = 60000, SILENCES_ALLOWED = 3, RESTS_PER_COST = 9 };

bool patience_may_open(const struct patience *patience, struct mono now)
{
    return patience->delay_ms == 0 || now.ms >= patience->retry_at.ms;
}

void patience_did_not_open(struct patience *patience, struct mono now)
{
    int64_t doubled = patience->delay_ms * 2;
    patience->delay_ms = doubled == 0                 ? FIRST_DELAY_MS
                         : doubled > LONGEST_DELAY_MS ? LONGEST_DELAY_MS
                                                      : doubled;
    patience->retry_at = mono_after(now, patience->delay_ms);
}

void patience_line_is_well(struct patience *patience)
{
    patience->delay_ms = 0;
}

bool patience_lost(const struct patience *patience, uint8_t unit)
{
    return patience->unit[unit].silent >= SILENCES_ALLOWED;
}

bool patience_may_ask(const struct patience *patience, uint8_t unit, struct mono now)
{
    return !patience_lost(patience, unit) || now.ms >= patience->unit[unit].rests_until.ms;
}

int patience_rest_s(const struct patience *patience, uint8_t unit, struct mono now)
{
    return (int)((mono_since_ms(patience->unit[unit].rests_until, now) + 999) / 1000);
}

void patience_silent(struct patience *patience, uint8_t unit, int64_t cost_ms, struct mono now)
{
    if (!patience_lost(patience, unit)) {
        patience->unit[unit].silent++;
    }
    /* `now` is when the job was posted; the silence itself comes first. */
    patience->unit[unit].rests_until = mono_after(now, cost_ms * (1 + RESTS_PER_COST));
}

void patience_heard(struct patience *patience, uint8_t unit)
{
    patience->unit[unit].silent = 0;
}
