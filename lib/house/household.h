/* household.h - everything else in the house.
 *
 * A base that wanders a little, a refrigerator that cycles, appliances by the
 * clock (an oven from 17:30 to 18:15), and those that come when they like: a kettle, and
 * whatever else is said how often, for how long and between which hours (instantaneous
 * water heaters, ovens that cycle), which may well be of a water heater's own power.
 * Figures of cycling and kettles: common practice, no source. */
#ifndef SLUICE_HOUSE_HOUSEHOLD_H
#define SLUICE_HOUSE_HOUSEHOLD_H

#include <stdbool.h>
#include <stdint.h>

#include "house/phases.h"
#include "house/prng.h"

enum { HOUSEHOLD_EVENTS_MAX = 24, HOUSEHOLD_CHANCES_MAX = 8 };

struct household_event {
    int32_t from_s, to_s; /* seconds of the day; to before from: past midnight */
    double power_w;
    uint8_t phases;      /* bit 0 is L1; evenly */
    int32_t on_s, off_s; /* cycles within its time (an oven's thermostat); on_s 0: steady */
};

/* Comes so many times a day on average, at moments and for lengths that the seed draws. */
struct household_chance {
    double power_w, power_spread; /* each time within +- that share of it */
    uint8_t phases;
    double a_day; /* times, all of them between from_s and to_s */
    int32_t from_s, to_s;
    double least_s, most_s; /* how long, evenly */
    double on_s, off_s;     /* cycles meanwhile, each part within +-20 %; on_s 0: steady */
};

struct household_settings {
    double base_w; /* evenly over the phases */
    double fridge_w;
    double kettle_w;
    double kettles_a_day; /* between 6:00 and 22:00 */
    int phase_count;
    uint64_t seed;
    int event_count;
    struct household_event event[HOUSEHOLD_EVENTS_MAX];
    int chance_count;
    struct household_chance chance[HOUSEHOLD_CHANCES_MAX];
};

struct household_use {
    struct prng prng;
    double left_s, part_left_s; /* of the use, and of this part of its cycle */
    double power_w;
    bool on;
};

struct household {
    struct household_settings settings;
    struct prng prng;
    double wander; /* of the base, -1..1 */
    double fridge_left_s, kettle_left_s;
    bool fridge_on;
    struct household_use use[HOUSEHOLD_CHANCES_MAX];
    double kept_dt_s, kept; /* exp() once per step length */
};

void household_init(struct household *household, const struct household_settings *settings);

/* Power per phase in the step that begins at second now_s of the day. */
void household_step_w(struct household *household, int32_t now_s, double dt_s,
                      double phase_w[PHASES_MAX]);

#endif
