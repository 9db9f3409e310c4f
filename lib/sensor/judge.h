/* judge.h - whether what a sensor in a tank says can be so.
 *
 * Pure. A value that cannot be right replaces nothing: the last good one grows old, and then
 * there is none. */
#ifndef SLUICE_SENSOR_JUDGE_H
#define SLUICE_SENSOR_JUDGE_H

#include <stdbool.h>

#include "core/moment.h"

enum sensor_fault {
    SENSOR_WELL,
    SENSOR_POWER_ON,     /* what the part says when it has measured nothing yet */
    SENSOR_OUT_OF_RANGE, /* -10 to 110 C */
    SENSOR_LEAPS,        /* faster than water in a tank can change */
    SENSOR_STUCK,        /* the same to the last digit for a day, in a hot tank */
};

struct sensor_memory {
    bool read; /* there has been a good value: the last */
    int32_t mc;
    struct mono taken, same_since;
};

/* `power_on_mc`: what its kind says before it has measured; 0: nothing of the sort. A good
 * value, and a stuck one, is kept in `memory`. */
enum sensor_fault sensor_judge(struct sensor_memory *memory, int32_t power_on_mc, int32_t mc,
                               struct mono now);

/* "jumps faster than a tank can", for "sensor NAME ..."; "" where it is well. */
const char *sensor_fault_text(enum sensor_fault fault);

#endif
