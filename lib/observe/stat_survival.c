/* stat_survival.c - how long a thermostat stays open.
 *
 * When exactly it closed is not seen, only that it had by the first start that drew: which makes
 * openings look longer than they are, and so errs on the side of saying nothing. */
#include "observe/stat_survival.h"

#include "core/moment.h"
#include "observe/stat_log.h"

enum {
    FADE = 64,          /* openings after which half or so is forgotten */
    PRIOR_MILLI = 1000, /* physics weighs as much as one opening */
    MILLION = 1000000,
};

/* Ends of the spells, h; the last one has none. */
static const int16_t end_h[SURVIVAL_SPELLS - 1] = {1,  2,  3,  4,  5,  6,  8,  10, 12,
                                                   16, 20, 24, 30, 36, 48, 72, 96};

static int spell_of(int64_t after_ms)
{
    int spell = 0;
    while (spell < SURVIVAL_SPELLS - 1 && after_ms >= end_h[spell] * (int64_t)MS_PER_HOUR)
        spell++;
    return spell;
}

void survival_note(struct stat_survival *survival, int64_t after_ms)
{
    int ended = spell_of(after_ms);
    for (int k = 0; k < SURVIVAL_SPELLS; k++) {
        survival->lasted_milli[k] -= survival->lasted_milli[k] / FADE;
        survival->ended_milli[k] -= survival->ended_milli[k] / FADE;
    }
    for (int k = 0; k <= ended; k++)
        survival->lasted_milli[k] += 1000;
    survival->ended_milli[ended] += 1000;
}

/* exp(-(t / standing)^3), as ppm: hardly any closes long before its time by loss alone, and
 * hardly any stays open for long after it. The exponent: a judgement, no source. */
static int64_t by_physics_ppm(int64_t standing_ms, int64_t after_ms)
{
    int64_t permille = after_ms / (standing_ms / 1000 + 1);
    if (permille > 2300)
        return 1 + 5 * 2300 / permille; /* beyond exp(-12) no difference is believed */
    return stat_exp_ppm((int32_t) - (permille * permille / 1000 * permille / 1000));
}

/* Of those that had reached this spell, the share that physics lets end by `to_ms`, ppm. */
static int64_t physics_ends_ppm(int64_t standing_ms, int64_t from_ms, int64_t to_ms)
{
    int64_t before = by_physics_ppm(standing_ms, from_ms),
            after = by_physics_ppm(standing_ms, to_ms);
    return MILLION - after * MILLION / (before + (before == 0));
}

int64_t survival_at(const struct stat_survival *survival, int64_t standing_ms, int64_t after_ms)
{
    int last = spell_of(after_ms);
    int64_t whole = SURVIVAL_WHOLE, from_ms = 0;
    for (int k = 0; k <= last; k++) {
        int64_t end_ms = k < SURVIVAL_SPELLS - 1 ? end_h[k] * (int64_t)MS_PER_HOUR : INT64_MAX;
        int64_t to_ms = after_ms < end_ms ? after_ms : end_ms;
        int64_t ended = survival->ended_milli[k];
        if (to_ms < end_ms && k < SURVIVAL_SPELLS - 1)
            ended = ended * ((to_ms - from_ms) / 1000) / ((end_ms - from_ms) / 1000);
        int64_t prior = PRIOR_MILLI * physics_ends_ppm(standing_ms, from_ms, to_ms) / MILLION;
        int64_t reached = survival->lasted_milli[k] + PRIOR_MILLI;
        whole = whole * (reached - ended - prior) / reached;
        from_ms = to_ms;
    }
    return whole > 0 ? whole : 1;
}
