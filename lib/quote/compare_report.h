/* compare_report.h - what a page for the customer shows of one way: where each month's heat came
 * from, and one ordinary day. */
#ifndef SLUICE_QUOTE_COMPARE_REPORT_H
#define SLUICE_QUOTE_COMPARE_REPORT_H

#include "quote/compare.h"

enum { REPORT_MONTHS = 12, REPORT_BINS = 96 };

struct report_month {
    bool there;
    double sun_kwh, grid_kwh;
};

/* Means over a quarter of an hour; temperatures at its end. */
struct report_bin {
    double solar_w, use_w, load_w, tank_c;
};

struct report {
    struct report_month month[REPORT_MONTHS]; /* by the calendar, January first */
    int32_t day;                              /* local day number: the one of median sun */
    struct report_bin bin[REPORT_BINS];
};

/* Runs the first sample once more. False: `trouble` says why. */
bool report_make(const struct compare *compare, enum compare_way way, struct report *report,
                 struct trouble *trouble);

#endif
