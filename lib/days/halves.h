/* halves.h - days as local half hours: what was imported, exported, used and generated.
 *
 * What people compare days by. Steps of an hour stay hours. */
#ifndef SLUICE_DAYS_HALVES_H
#define SLUICE_DAYS_HALVES_H

#include "days/days.h"

struct days_flow { /* mean W of a time, or kWh */
    double import, export;
    double use, sun; /* of days that are told at the meter (days.h: at_meter): NaN, not known */
};

struct days_half_hour {
    struct days_flow w;
    int32_t day, second; /* local, of its beginning */
    int32_t covered_s;   /* < slot_s at the ends of the days, and where clocks change */
};

struct days_halves {
    int32_t slot_s; /* 1800; 3600 where the steps are hours */
    size_t count;   /* > 0 */
    struct days_half_hour *slot;
    struct days_flow day_kwh; /* the mean of all days */
};

/* A running sum of flows, each for its time or by its weight. */
void days_flow_add(struct days_flow *sum, const struct days_flow *flow, double by);
/* Of a sum; all 0 where `by` is 0. */
struct days_flow days_flow_divided(const struct days_flow *sum, double by);

/* False: out of memory. */
bool days_halves_make(const struct days *days, const struct zone *zone, struct days_halves *halves);
void days_halves_free(struct days_halves *halves);

#endif
