/* refine.h - hours or half hours as the seconds that they may have been made of.
 *
 * A mean over an hour hides the cloud that stops a run and the kettle that eats the
 * spare power, and so flatters every controller. Each row becomes rows of some seconds:
 * the sun's by clouds that pass or thicken, the household's by appliances that come and
 * go. Each row keeps its energy exactly, of both; the same seed gives the same seconds.
 * What comes out is one possible day, not the day that was: compare over several seeds.
 *
 * Pure but for the memory of the result. */
#ifndef SLUICE_REFINE_REFINE_H
#define SLUICE_REFINE_REFINE_H

#include "days/days.h"

struct refine_settings {
    uint64_t seed;
    /* [count] what a clear sky would give, as mean power of each row. NULL: the most that
     * the roof gave at that time of day within a fortnight, which takes some weeks of days
     * to be told from clouds. */
    const float *clear_w;
    bool keep_use, keep_solar; /* leave it as it is */
};

/* Rows of 1 s steps that last some seconds (days.h: lasts); days_in_steps makes even
 * minutes of them. The draws are copied. False: out of memory, or steps of a minute or
 * less, which need no refining, or rows that last several steps. */
bool refine_days(const struct days *days, const struct refine_settings *settings,
                 struct days *fine);

#endif
