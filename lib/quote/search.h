/* search.h - for each kind of hardware the pieces and the settings that leave most. */
#ifndef SLUICE_QUOTE_SEARCH_H
#define SLUICE_QUOTE_SEARCH_H

#include "quote/ways.h"

/* Fills in fit and result of all ways but sluice as configured and tuned, and which of them
 * are there. */
bool compare_search(struct compare *compare, struct trouble *trouble);

#endif
