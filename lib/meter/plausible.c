/* plausible.c - can this sample be true?
 *
 * The bounds are those of physics, wide enough that a bad day at the supply is
 * not taken for a bad meter: a lost neutral does put 400 V on a phase. What they
 * catch is the misread: a wrong word order, a shifted address, a map of another
 * meter.
 *
 * Two of the checks need patience. Blocks of one round are read some tens of
 * milliseconds apart, and what is switched between them parts the phases from
 * the total for a sample, so only several on end count. And to stand still is a
 * fault only where something should move: the voltage and the frequency always
 * do, and so does a power that is not zero; a meter that shows nothing else and
 * rightly says 0 W all night is not stuck. */
#include "plausible.h"

#include <stddef.h>
#include <stdlib.h>

enum {
    VOLTAGE_MOST_MV = 500000, /* phase to phase at 400 V and 25 % more */
    VOLTAGE_LIVE_MV = 80000,  /* 100 V and 20 % less: one phase at least must feed the meter */
    FREQUENCY_LEAST_MHZ = 40000,
    FREQUENCY_MOST_MHZ = 70000, /* 50 and 60 Hz; generators wander */
    PHASES_OFF_SAMPLES = 3,
    PHASES_SLACK_MW = 100000, /* rounding and the moments between registers */
    PHASES_SLACK_PERCENT = 5,
    TEMPERATURE_LEAST_MC = -20000, /* a sensor that is cut or shorted reads far beyond */
    TEMPERATURE_MOST_MC = 130000,  /* solar stores come to that: common practice, no source */
};

static const enum meter_quantity totals[] = {METER_IMPORT_ENERGY, METER_EXPORT_ENERGY};
enum { TOTALS = sizeof(totals) / sizeof(totals[0]) };

static bool has(const struct meter_sample *sample, enum meter_quantity quantity)
{
    return (sample->has >> quantity & 1) != 0;
}

static bool power_beyond(const struct plausible_limits *limits, const struct meter_sample *sample)
{
    for (enum meter_quantity q = METER_POWER; q <= METER_POWER_L3; q++)
        if (has(sample, q) && llabs(sample->value[q]) > limits->power_mw)
            return limits->power_mw > 0;
    return false;
}

/* A single phase is not compared: the map may know only one of three. */
static bool phases_part(const struct meter_sample *sample)
{
    if (!has(sample, METER_POWER_L1) || !has(sample, METER_POWER_L2))
        return false;
    int64_t sum = 0, all = 0;
    for (enum meter_quantity q = METER_POWER_L1; q <= METER_POWER_L3; q++) {
        sum += has(sample, q) ? sample->value[q] : 0;
        all += has(sample, q) ? llabs(sample->value[q]) : 0;
    }
    return llabs(sum - sample->value[METER_POWER]) >
           PHASES_SLACK_MW + all / 100 * PHASES_SLACK_PERCENT;
}

static bool phases_wrong(struct plausible_memory *memory, const struct meter_sample *sample)
{
    if (!phases_part(sample))
        memory->phases_off = 0;
    else if (memory->phases_off < PHASES_OFF_SAMPLES)
        memory->phases_off++;
    return memory->phases_off == PHASES_OFF_SAMPLES;
}

/* One phase without a value would make a sum of the others, or leave the house's phases
 * unknown; a sample that was not taken at all does neither. Where it lasts, the meter has
 * become one that does not tell it. */
static bool phases_lacking(const struct plausible_limits *limits, struct plausible_memory *memory,
                           const struct meter_sample *sample, struct mono now)
{
    const uint32_t all = UINT32_C(1) << METER_POWER_L1 | UINT32_C(1) << METER_POWER_L2 |
                         UINT32_C(1) << METER_POWER_L3;
    uint32_t given = sample->has & all;
    bool lacks = (memory->phases & ~given) != 0;
    if (lacks && mono_since_ms(now, memory->phases_given) < limits->whole_ms)
        return true;
    memory->phases = given;
    memory->phases_given = now;
    return false;
}

static bool voltage_wrong(const struct meter_sample *sample)
{
    bool known = false, live = false;
    for (enum meter_quantity q = METER_VOLTAGE_L1; q <= METER_VOLTAGE_L3; q++) {
        if (!has(sample, q))
            continue;
        if (sample->value[q] < 0 || sample->value[q] > VOLTAGE_MOST_MV)
            return true;
        known = true;
        live |= sample->value[q] >= VOLTAGE_LIVE_MV;
    }
    return known && !live;
}

static bool frequency_wrong(const struct meter_sample *sample)
{
    int64_t mhz = sample->value[METER_FREQUENCY];
    return has(sample, METER_FREQUENCY) && (mhz < FREQUENCY_LEAST_MHZ || mhz > FREQUENCY_MOST_MHZ);
}

static bool temperature_wrong(const struct meter_sample *sample)
{
    int64_t mc = sample->value[METER_TEMPERATURE];
    return has(sample, METER_TEMPERATURE) &&
           (mc < TEMPERATURE_LEAST_MC || mc > TEMPERATURE_MOST_MC);
}

/* ---- against what was seen before --------------------------------------------------- */

static bool total_wrong(const struct plausible_limits *limits, struct plausible_memory *memory,
                        const struct meter_sample *sample, int which, struct mono now)
{
    enum meter_quantity q = totals[which];
    int64_t risen_mwh;
    return has(sample, q) && total_take(&memory->total[which], sample->value[q],
                                        limits->power_mw / 1000, now, &risen_mwh) == TOTAL_DOUBTED;
}

static bool any_total_wrong(const struct plausible_limits *limits, struct plausible_memory *memory,
                            const struct meter_sample *sample, struct mono now)
{
    bool wrong = false;
    for (int i = 0; i < TOTALS; i++)
        wrong |= total_wrong(limits, memory, sample, i, now);
    return wrong;
}

/* Takes the sample's values over; true if one was not known or was another. */
static bool remember(struct meter_sample *last, const struct meter_sample *sample)
{
    bool changed = false;
    for (enum meter_quantity q = 0; q < METER_QUANTITIES; q++) {
        if (!has(sample, q))
            continue;
        changed |= !has(last, q) || last->value[q] != sample->value[q];
        last->value[q] = sample->value[q];
    }
    last->has |= sample->has;
    return changed;
}

static bool should_move(const struct meter_sample *sample)
{
    return sample->value[METER_POWER] != 0 || has(sample, METER_FREQUENCY) ||
           has(sample, METER_VOLTAGE_L1);
}

/* Only a meter that is looked at can be seen to stand still: after a long silence
 * the watch begins afresh. */
static bool is_stuck(const struct plausible_limits *limits, struct plausible_memory *memory,
                     const struct meter_sample *sample, struct mono now)
{
    bool looked_away = mono_since_ms(now, memory->seen) >= limits->stuck_ms;
    if (remember(&memory->last, sample) || !memory->begun || looked_away)
        memory->changed = now;
    memory->begun = true;
    memory->seen = now;
    return limits->stuck_ms > 0 && should_move(sample) &&
           mono_since_ms(now, memory->changed) >= limits->stuck_ms;
}

/* All checks that remember run at every sample; the gravest finding is told. */
enum implausible plausible_check(const struct plausible_limits *limits,
                                 struct plausible_memory *memory, const struct meter_sample *sample,
                                 struct mono now)
{
    bool total = any_total_wrong(limits, memory, sample, now);
    bool stuck = is_stuck(limits, memory, sample, now);
    bool lacking = phases_lacking(limits, memory, sample, now);
    bool phases = has(sample, METER_POWER) && phases_wrong(memory, sample);
    if (limits->needs_power && !has(sample, METER_POWER))
        return IMPLAUSIBLE_NO_POWER;
    if (limits->needs_temperature && !has(sample, METER_TEMPERATURE))
        return IMPLAUSIBLE_NO_TEMPERATURE;
    if (lacking)
        return IMPLAUSIBLE_NO_PHASES;
    if (power_beyond(limits, sample))
        return IMPLAUSIBLE_BEYOND_SUPPLY;
    if (phases)
        return IMPLAUSIBLE_PHASES;
    if (voltage_wrong(sample))
        return IMPLAUSIBLE_VOLTAGE;
    if (temperature_wrong(sample))
        return IMPLAUSIBLE_TEMPERATURE;
    if (stuck)
        return IMPLAUSIBLE_STUCK;
    if (frequency_wrong(sample))
        return IMPLAUSIBLE_FREQUENCY;
    return total ? IMPLAUSIBLE_ENERGY_FELL : PLAUSIBLE;
}

const char *implausible_text(enum implausible fault)
{
    static const char *const texts[] = {
        [PLAUSIBLE] = "nothing is wrong",
        [IMPLAUSIBLE_NO_POWER] = "it gives no power",
        [IMPLAUSIBLE_NO_PHASES] = "it gives no power of a phase that it gave before",
        [IMPLAUSIBLE_BEYOND_SUPPLY] = "power beyond what the supply can carry",
        [IMPLAUSIBLE_PHASES] = "the phases' sum is not the total",
        [IMPLAUSIBLE_VOLTAGE] = "a voltage that no supply has",
        [IMPLAUSIBLE_FREQUENCY] = "a frequency that no supply has; its power is used all the same",
        [IMPLAUSIBLE_ENERGY_FELL] =
            "an energy total fell, or rose faster than the supply can carry",
        [IMPLAUSIBLE_NO_TEMPERATURE] = "it gives no temperature",
        [IMPLAUSIBLE_TEMPERATURE] = "a temperature that no tank has (sensor cut or shorted?)",
        [IMPLAUSIBLE_STUCK] = "it repeats the same values",
    };
    return texts[fault];
}
