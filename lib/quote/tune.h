/* tune.h - settings of sluice that make the days cost less. */
#ifndef SLUICE_QUOTE_TUNE_H
#define SLUICE_QUOTE_TUNE_H

#include "quote/ways.h"

/* Fills in tuned_load; `always` is of sample 0. */
bool compare_tune(struct compare *compare, const struct compare_figures *always,
                  struct trouble *trouble);

#endif
