/* plausible.h - can this sample be true?
 *
 * Against physics and the site, not against habit: phases against the total,
 * totals that only rise, power beyond what the supply can carry, voltage and
 * frequency far off, and a value that has stood still for too long while it
 * should move (a stuck meter repeats every register bit for bit; a live one
 * does not, for the voltage alone never stands still). */
#ifndef SLUICE_METER_PLAUSIBLE_H
#define SLUICE_METER_PLAUSIBLE_H

#include "core/moment.h"
#include "meter.h"

enum implausible {
    PLAUSIBLE,
    IMPLAUSIBLE_NO_POWER,    /* the one quantity that matters is missing */
    IMPLAUSIBLE_BEYOND_SUPPLY,
    IMPLAUSIBLE_PHASES,      /* the phases' sum is not the total */
    IMPLAUSIBLE_VOLTAGE,
    IMPLAUSIBLE_FREQUENCY,
    IMPLAUSIBLE_ENERGY_FELL, /* noted; the power may still be used */
    IMPLAUSIBLE_STUCK,
};

struct plausible_limits {
    int64_t power_mw;  /* more than this, either way, is beyond the supply; 0: not checked */
    int64_t stuck_ms;  /* every value unchanged for this long is a stuck meter; 0: not checked */
};

struct plausible_memory {
    bool begun;
    struct meter_sample last;
    struct mono changed; /* when any value last changed */
};

enum implausible plausible_check(const struct plausible_limits *limits,
                                 struct plausible_memory *memory,
                                 const struct meter_sample *sample, struct mono now);
const char *implausible_text(enum implausible fault);

#endif
