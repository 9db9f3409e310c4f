/* stat_survival.c - how long a thermostat stays open.
 *
 * What is learnt of a spell holds for its end: from there on physics alone lets it fall, as a
 * tank that is open still goes on cooling, whatever the household does. */
#include "observe/stat_survival.h"

#include "core/moment.h"
#include "observe/stat_log.h"

enum {
    FADE = 64,         /* openings after which half or so is forgotten */
    PRIOR_MILLI = 500, /* physics weighs as half a start in each spell (H. Jeffreys, 1946) */
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

static int64_t middle_ms(int spell)
{
    int64_t from_h = spell > 0 ? end_h[spell - 1] : 0;
    int64_t to_h = spell < SURVIVAL_SPELLS - 1 ? end_h[spell] : 2 * from_h;
    return (from_h + to_h) * MS_PER_HOUR / 2;
}

uint32_t survival_spell_bit(int64_t after_ms)
{
    return 1u << spell_of(after_ms);
}

void survival_note(struct stat_survival *survival, uint32_t tried_bits, int64_t after_ms)
{
    int closed = spell_of(after_ms);
    for (int k = 0; k < SURVIVAL_SPELLS; k++) {
        bool open = k != closed && tried_bits & (1u << k);
        survival->tried_milli[k] -= survival->tried_milli[k] / FADE;
        survival->open_milli[k] -= survival->open_milli[k] / FADE;
        survival->tried_milli[k] += open || k == closed ? 1000 : 0;
        survival->open_milli[k] += open ? 1000 : 0;
    }
}

/* exp(-(t / standing)^3), as ppm: hardly any closes long before its time by loss alone, and
 * hardly any stays open for long after it. The exponent: a judgement, no source. */
static int64_t by_physics_ppm(int64_t standing_ms, int64_t after_ms)
{
    int64_t permille = after_ms / (standing_ms / 1000 + 1);
    if (permille > 2300)
        return 5 * 2300 / permille + 1; /* beyond exp(-12) no difference is believed */
    return stat_exp_ppm((int32_t)(-permille * permille / 1000 * permille / 1000));
}

/* The share that was open in the spells from..to, ppm, physics counted in. */
static int64_t open_ppm(const struct stat_survival *survival, const int64_t physics_ppm[], int from,
                        int to)
{
    int64_t open = 0, tried = 0;
    for (int k = from; k <= to; k++) {
        open += survival->open_milli[k] * 1000ll + physics_ppm[k] * PRIOR_MILLI / 1000;
        tried += survival->tried_milli[k] + PRIOR_MILLI;
    }
    return open * 1000 / tried;
}

/* The pooled estimate of a spell: of all stretches that begin up to it the least of what each
 * comes to at most. */
static int64_t pooled_ppm(const struct stat_survival *survival, const int64_t physics_ppm[],
                          int spell)
{
    int64_t least = MILLION;
    for (int from = 0; from <= spell; from++) {
        int64_t most = 0;
        for (int to = spell; to < SURVIVAL_SPELLS; to++) {
            int64_t ppm = open_ppm(survival, physics_ppm, from, to);
            most = ppm > most ? ppm : most;
        }
        least = most < least ? most : least;
    }
    return least;
}

int64_t survival_at(const struct stat_survival *survival, int64_t standing_ms, int64_t after_ms)
{
    int64_t physics_ppm[SURVIVAL_SPELLS];
    int last = spell_of(after_ms);
    for (int k = 0; k < SURVIVAL_SPELLS; k++)
        physics_ppm[k] = by_physics_ppm(standing_ms, k == last ? after_ms : middle_ms(k));
    int64_t now_ppm = physics_ppm[last], least = SURVIVAL_WHOLE;
    for (int k = 0; k <= last; k++) {
        int64_t then_ppm = physics_ppm[k] > now_ppm ? physics_ppm[k] : now_ppm;
        int64_t share = pooled_ppm(survival, physics_ppm, k) * 1000;
        share = share * now_ppm / (then_ppm + (then_ppm == 0));
        least = share < least ? share : least;
    }
    return least > 0 ? least : 1;
}
