/* bound.h - the least that days could have cost, known beforehand. */
#ifndef SLUICE_QUOTE_BOUND_H
#define SLUICE_QUOTE_BOUND_H

#include "trial/home.h"

/* Of a year, bill and missing heat together. `switched`: the element is off or at full power;
 * `left_price`: of a kWh in the tank at the end. False: `trouble` says why. */
bool bound_of_year(const struct trial_home *home, const struct days *days, bool switched,
                   double left_price, double *cost, struct trouble *trouble);

#endif
