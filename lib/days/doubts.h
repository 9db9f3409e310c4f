/* doubts.h - do figures look like what they are told to be? */
#ifndef SLUICE_DAYS_DOUBTS_H
#define SLUICE_DAYS_DOUBTS_H

#include "days/channels.h"

/* What stands for a role was seen to hold, in W or litres a step. */
struct days_seen {
    bool there;
    enum days_unit unit;
    bool unit_named; /* by the options, not by the file */
    double most, sum;
    struct days_place most_at;
    size_t count;
};

/* Units: watts taken for kilowatts, or the reverse, are a stop; hot water beyond a home's
 * is one where the unit comes from the file, and a notice where the options name it.
 * False: a stop. */
bool days_doubt_units(const struct days_seen seen[static DAYS_ROLE_COUNT],
                      const struct days_options *options, int32_t step_s, const char *const paths[],
                      struct days_report *report);

/* The span, and the hour of the sun: notices only. The season is for those who know of
 * the home where it should be (days.h: days_half_of_earth). */
void days_doubt_days(const struct days *days, const struct days_options *options, const char *path,
                     struct days_report *report);

#endif
