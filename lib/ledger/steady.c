/* steady.c - one step of the wall clock beside one of running time. */
#include "ledger/steady.h"

#include <stdlib.h>

#include "core/kept.h"

/* A night without power is no leap, and a leap of a day drops no more than a day. */
#define LEAP_MS (25 * (int64_t)MS_PER_HOUR)
#define STORE_EACH_MS ((int64_t)MS_PER_HOUR)

static const struct kept_row steady_rows[] = {
    KEPT_ROW(struct steady, wall_ms, "wall_ms", NUMBER, 0, INT64_MAX / 4, BEGINS),
    KEPT_ROW(struct steady, held_ms, "held_ms", NUMBER, 0, STEADY_HELD_MS, BEGINS),
};
static const struct kept_rows rows = KEPT_ROWS(steady_rows);

void steady_read(struct steady *steady, const char *text)
{
    *steady = (struct steady){.known = kept_check(text) == KEPT_WHOLE};
    if (steady->known)
        kept_read(&rows, "", text, steady, 0, 0, NULL);
    steady->stored_ms = steady->wall_ms;
}

void steady_write(struct steady *steady, struct text *text)
{
    kept_write(&rows, "", steady, 0, text);
    kept_seal(text);
    steady->stored_ms = steady->wall_ms;
}

bool steady_take(struct steady *steady, struct moment at)
{
    int64_t ran_ms = steady->same_run ? at.mono.ms - steady->mono_ms : 0;
    int64_t off_ms = at.wall.ms - steady->wall_ms - ran_ms;
    bool leapt = !steady->known || ran_ms < 0 || off_ms > LEAP_MS || off_ms < -LEAP_MS;
    int64_t held_ms = leapt ? 0 : steady->held_ms + ran_ms;
    steady->held_ms = held_ms < STEADY_HELD_MS ? held_ms : STEADY_HELD_MS;
    steady->known = steady->same_run = true;
    steady->wall_ms = at.wall.ms;
    steady->mono_ms = at.mono.ms;
    return leapt || llabs(at.wall.ms - steady->stored_ms) >= STORE_EACH_MS;
}

bool steady_holds(const struct steady *steady)
{
    return steady->held_ms >= STEADY_HELD_MS;
}
