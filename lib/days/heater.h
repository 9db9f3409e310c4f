/* heater.h - the water heater that a household's use already has in it.
 *
 * Where it is not known beside the use (a register of its own), it shows as a step of its
 * power, at its hours, night after night. Bounds are common practice, no source. */
#ifndef SLUICE_DAYS_HEATER_H
#define SLUICE_DAYS_HEATER_H

#include "core/trouble.h"
#include "days/halves.h"

struct days_heater {
    int32_t from_s, to_s; /* local seconds of the day; to <= from: ends on the next day */
    double power_w;       /* > 0 */
};

struct days_heater_seen {
    struct days_heater like; /* whole hours around its runs, 0.1 kW */
    int32_t begins_s;        /* where most of its runs begin */
    int nights, of;          /* that it was seen on */
};

/* A step of one size, 1 kW and more, that begins at much the same time on most nights.
 * False: there is none. */
bool days_heater_look(const struct days_halves *halves, struct days_heater_seen *seen);

struct days_heater_taken {
    double day_kwh; /* the mean of all days */
    int spans, of;  /* spans of its hours that it showed in, and all */
};

/* Takes out of the use what stands above the rest of the same night, at most its power,
 * where that lasts half an hour's worth: the start of a run, the run and its end. Shorter
 * reheats stay in the household. False: it does not fit these days, or no memory; then
 * they are as before and `trouble` says why. */
bool days_heater_take(struct days *days, const struct zone *zone, const struct days_heater *heater,
                      struct days_heater_taken *taken, struct trouble *trouble);

#endif
