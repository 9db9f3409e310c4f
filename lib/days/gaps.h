/* gaps.h - what is missing in days: told, and filled as the options say. */
#ifndef SLUICE_DAYS_GAPS_H
#define SLUICE_DAYS_GAPS_H

#include "days/channels.h"

struct days_gaps {
    struct days *days; /* use_w, solar_w and draw_l with NaN where they are missing */
    const struct days_options *options;
    const char *const *paths;
    struct days_report *report;
    /* Where the row stood; line 0: nowhere. */
    struct days_place (*place)(const void *context, size_t row);
    const void *context;
};

/* False: a stop is in the report. */
bool days_gaps_fill(const struct days_gaps *gaps);

/* "2026-01-14 17:00" by the zone's clock. */
enum { DAYS_TIME_SIZE = 24 };
const char *days_time_text(const struct zone *zone, struct wall wall,
                           char buffer[static DAYS_TIME_SIZE]);

#endif
