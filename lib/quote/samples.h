/* samples.h - the days of a comparison as several runs' worth. */
#ifndef SLUICE_QUOTE_SAMPLES_H
#define SLUICE_QUOTE_SAMPLES_H

#include "quote/ways.h"

/* Fills in samples, years and seeds, and what is to spare. False: `trouble` says why. */
bool compare_samples(struct compare *compare, struct trouble *trouble);

#endif
