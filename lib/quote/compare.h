/* compare.h - the same home and days under every way of heating its water, priced.
 *
 * Days in hours are refined by several seeds, several years are taken one by one: each
 * such sample is a run of its own under every way, and their spread says how sure a
 * difference is. Alternatives are shown at their best: where the quote does not fix a
 * timer's or a diverter's hours, some usual ones are tried.
 *
 * One heater in the home, and in the rules. Allocates; the caller's data stays the caller's. */
#ifndef SLUICE_QUOTE_COMPARE_H
#define SLUICE_QUOTE_COMPARE_H

#include "quote/ways.h"

/* False: `trouble` says why. */
bool compare_run(struct compare *compare, const struct compare_wish *wish, struct trouble *trouble);
void compare_free(struct compare *compare);

#endif
