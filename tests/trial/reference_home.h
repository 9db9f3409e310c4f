/* reference_home.h - the home that the reference calculation is about. */
#ifndef TESTS_TRIAL_REFERENCE_HOME_H
#define TESTS_TRIAL_REFERENCE_HOME_H

#include "trial/home.h"

/* The home of the reference calculation: one zone of 315 L, 3.6 kW, set to 70 C with
 * 6 K, 2.66 kWh a day at 55 K in a room of 20 C, mains 18 +- 4 C coldest on 9 February,
 * water wanted at 45 C, unmet heat 10 per kWh; litres in each hour as given there. */
void reference_home(struct trial_home *home, const struct zone *zone, const struct tariff *tariff);

#endif
