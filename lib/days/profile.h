/* profile.h - what days look like: the mean day of each season, and the largest half
 * hours. Pure: allocates nothing. */
#ifndef SLUICE_DAYS_PROFILE_H
#define SLUICE_DAYS_PROFILE_H

#include "days/halves.h"

enum { DAYS_SEASONS = 4, DAYS_HALF_HOURS = 48, DAYS_PEAKS = 3 };

struct days_season {                          /* seasons are quarters of a year, */
    struct days_flow mean_w[DAYS_HALF_HOURS]; /* [0] from 0:00 on, local time */
    int days;                                 /* local days that it has anything of; 0: none */
};

struct days_peak {
    double w;
    int32_t day, second; /* local, of its beginning */
};

struct days_profile {
    struct days_season season[DAYS_SEASONS]; /* from December, March, June, September on */
    /* The largest, one a day, from the largest on; w 0: there are no more. */
    struct days_peak import[DAYS_PEAKS], export[DAYS_PEAKS];
};

void days_profile_make(const struct days_halves *halves, struct days_profile *profile);

/* "Dec-Feb": of a season. */
const char *days_season_name(int season);
int days_season_of(int32_t day);

#endif
