/* compare_report.h - what a page for the customer shows of one way: the first sample as it went,
 * where each month's heat came from, and one ordinary day. */
#ifndef SLUICE_QUOTE_COMPARE_REPORT_H
#define SLUICE_QUOTE_COMPARE_REPORT_H

#include "quote/ways.h"
#include "result/result.h"

enum { REPORT_MONTHS = 12, REPORT_BINS = 96 };

/* Means over a quarter of an hour; the temperature at its end. */
struct report_bin {
    double solar_w, use_w, load_w, tank_c;
};

/* Runs the first sample once more, in pieces of a quarter of an hour. The result's date is the
 * ordinary day's, that of median sun; to be freed. False: `trouble` says why. */
bool report_make(const struct compare *compare, enum compare_way way, struct result *result,
                 struct trouble *trouble);

/* The heater's energy in the month, 1..12, of all years; false: no day of it is there. */
bool report_month(const struct result *result, int month, struct result_amount *heat);

/* The k-th quarter of an hour of the ordinary day. */
struct report_bin report_bin(const struct result *result, int k);

#endif
