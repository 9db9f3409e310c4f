/* One day is one temperature: pipes in the ground follow weeks, not hours. */
#include "house/inlet.h"

#include <math.h>

#define DAYS_A_YEAR 365.0

double inlet_c(const struct inlet *inlet, int day)
{
    double share = (day - inlet->coldest_day) / DAYS_A_YEAR;
    return inlet->mean_c - inlet->swing_k * cos(2 * M_PI * share);
}
