/* tune.h - settings of sluice that make the days cost less. */
#ifndef SLUICE_QUOTE_TUNE_H
#define SLUICE_QUOTE_TUNE_H

#include "quote/ways.h"

/* Fills in compare->fit[WAY_TUNED]: start, stop margin and daily floor, on the hardware as
 * configured. */
bool compare_tune(struct compare *compare, struct trouble *trouble);

#endif
