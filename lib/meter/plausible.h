/* plausible.h - can this sample be true?
 *
 * Against physics and the site, not against habit: phases against the total,
 * totals that only rise and no faster than the supply can carry, power beyond
 * what it can carry, voltage and frequency far off, and a meter that has stood
 * still for too long while it should move (a stuck meter repeats every register
 * bit for bit; a live one does not, for the voltage alone never stands still). */
#ifndef SLUICE_METER_PLAUSIBLE_H
#define SLUICE_METER_PLAUSIBLE_H

#include "core/moment.h"
#include "meter.h"
#include "total.h"

enum implausible {
    PLAUSIBLE,
    IMPLAUSIBLE_NO_POWER, /* the one quantity that matters is missing */
    IMPLAUSIBLE_NO_TEMPERATURE,
    IMPLAUSIBLE_NO_PHASES, /* it lacks the power of a phase that was there a moment ago */
    IMPLAUSIBLE_BEYOND_SUPPLY,
    IMPLAUSIBLE_PHASES, /* the phases' sum is not the total, several samples on end */
    IMPLAUSIBLE_VOLTAGE,
    IMPLAUSIBLE_FREQUENCY, /* its scale may be another's; the power may still be used */
    IMPLAUSIBLE_TEMPERATURE,
    IMPLAUSIBLE_ENERGY_FELL, /* or leapt: noted once; the power may still be used */
    IMPLAUSIBLE_STUCK,
};

struct plausible_limits {
    bool needs_power, needs_temperature;
    int64_t power_mw; /* more than this, either way, is beyond the supply; 0: not checked */
    int64_t whole_ms; /* a phase's power may not be missing before this; 0: it may */
    int64_t stuck_ms; /* every value unchanged for this long is a stuck meter; 0: not checked */
};

struct plausible_memory {
    bool begun;
    struct meter_sample last; /* of each quantity the newest value */
    struct mono changed;      /* when any value last changed */
    struct mono seen;         /* the sample before */
    struct total total[2];    /* import, export */
    uint32_t phases;          /* whose power was given last, as in meter_sample.has */
    struct mono phases_given; /* and when */
    uint8_t phases_off;       /* samples on end whose phases did not sum to the total */
};

/* May a sample with this finding be used? */
static inline bool is_good(enum implausible fault)
{
    return fault == PLAUSIBLE || fault == IMPLAUSIBLE_ENERGY_FELL || fault == IMPLAUSIBLE_FREQUENCY;
}

/* Judges one sample, newer than all before. `memory` begins as zeros. A sample may
 * lack the energy totals: they are read less often. */
enum implausible plausible_check(const struct plausible_limits *limits,
                                 struct plausible_memory *memory, const struct meter_sample *sample,
                                 struct mono now);

/* What is wrong, to follow "cannot be right: ". */
const char *implausible_text(enum implausible fault);

#endif
