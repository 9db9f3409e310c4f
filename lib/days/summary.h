/* summary.h - what is found, filled in by those who find it. */
#ifndef SLUICE_DAYS_SUMMARY_H
#define SLUICE_DAYS_SUMMARY_H

#include "days/choose.h"
#include "days/found.h"

/* Before the values are taken out of the channels. */
void days_found_channels(struct days_found *found, const struct days_channels *channels,
                         const struct days_choice *choice, double array_kwp);

#endif
