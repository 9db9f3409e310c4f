/* household.h - do these days look like a household's, and like this one's?
 *
 * Notices only: each says what was seen, and asks. Bounds are common practice, no
 * source. */
#ifndef SLUICE_DAYS_HOUSEHOLD_H
#define SLUICE_DAYS_HOUSEHOLD_H

#include "days/halves.h"

/* No surplus; a sun or a use that is far from usual; export or sun at night; use that
 * follows the sun; hours with almost no use, or of one value; seasons that lack; night
 * steps like a heater's (`heater_known`: of which nothing is said). `array_kwp` 0: not
 * known. */
void days_doubt_household(const struct days *days, const struct days_halves *halves,
                          double array_kwp, bool heater_known, const char *path,
                          struct days_report *report);

#endif
