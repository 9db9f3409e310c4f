/* report.h - what a day looked like: a row a minute, and the sum at the end. */
#ifndef SIMHOUSE_REPORT_H
#define SIMHOUSE_REPORT_H

#include <stdio.h>

#include "scenario.h"

struct report {
    const struct scenario *scenario;
    FILE *log; /* NULL: none */
    int64_t next_ms;
    double hottest_tap_c, coldest_tap_c;
    double drawing_by_17_s[WORLD_LOADS_MAX]; /* on the first day */
    double minute_tap_c;                     /* coldest of the minute; NAN: nothing drawn */
};

void report_init(struct report *report, const struct scenario *scenario, FILE *log);
void report_step(struct report *report, const struct world *world);
void report_summary(const struct report *report, const struct world *world, FILE *to);

#endif
