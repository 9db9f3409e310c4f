/* home.h - the home that a trial runs in: tanks, taps, other loads, mains water, prices.
 *
 * Everything is a plain value that the caller owns; pointers stay the caller's. What
 * the household uses and the roof gives comes from days.h. */
#ifndef SLUICE_TRIAL_HOME_H
#define SLUICE_TRIAL_HOME_H

#include "days/days.h"
#include "house/charger.h"
#include "house/heater.h"
#include "house/inlet.h"
#include "rules/rules.h"

enum { TRIAL_TANKS_MAX = 4, TRIAL_LOADS_MAX = 16, TRIAL_DAY_HOURS = 24 };

struct trial_tank {
    struct heater_settings heater; /* layers 1: one zone; twin elements: see heater.h */
    double volts;                  /* at its terminals; 0: the element's nameplate */
    double start_c;                /* all through, as the days begin */
    bool start_calls;  /* the thermostat begins closed, where the hysteresis leaves it open */
    double draw_share; /* of the taps' water, 0..1; all tanks together 1 */
};

struct trial_taps {
    double wanted_c;                /* at the tap */
    double hour_l[TRIAL_DAY_HOURS]; /* litres wanted in each local hour, evenly; only where the
                                       days bring no draws */
    double scale;                   /* of either; 1: as told */
};

enum trial_model {
    TRIAL_HEATER,  /* an element (or stages, or a set-point) in a tank */
    TRIAL_PUMP,    /* draws power_w while live */
    TRIAL_CHARGER, /* a car; follows a set-point, or all it takes while live */
};

/* One load. Under sluice it is the load of the settings with the same index; otherwise
 * heaters follow the strategy, and the others run in `hours`. */
struct trial_load {
    enum trial_model model;
    uint8_t tank;   /* heater: index in home->tank */
    bool upper;     /* heater: of twin elements, the upper */
    double power_w; /* heater: nameplate, 0: as in the tank's settings; pump: its power */
    struct charger_settings charger;
    double charger_volts;
    double charger_start_kwh;
    struct hours hours; /* none: at any time */
};

struct trial_home {
    const struct zone *zone;
    const struct tariff *tariff;
    struct inlet inlet;
    struct trial_taps taps;
    double solar_scale, use_scale; /* of the days' sun and use; 1: as told */
    double export_limit_w;         /* the inverter throttles there; 0: it does not */
    double unmet_per_kwh;          /* price of heat that was wanted and not there */
    uint8_t tank_count, load_count;
    struct trial_tank tank[TRIAL_TANKS_MAX];
    struct trial_load load[TRIAL_LOADS_MAX];
};

/* One usual heater in an otherwise empty home: scales 1, taps without water. */
void trial_home_usual(struct trial_home *home, const struct zone *zone, const struct tariff *tariff,
                      double volume_l, double element_w);

/* The hours' litres that hold a regulation's profile, whose energies count from
 * TAP_PROFILE_COLD_C on. Showers shorter than an hour are spread over theirs. */
void trial_taps_profile(struct trial_taps *taps, const struct tap_draw draws[], int count);

/* Mains water on the local day of `wall`. */
double trial_inlet_c(const struct trial_home *home, struct wall wall);

/* Litres at the tap (at wanted_c) in [from, to), of all tanks together; from the days'
 * draws, or the hours' litres. `to` not after the days' end. */
double trial_litres(const struct trial_home *home, const struct days *days, struct wall from,
                    struct wall to);

#endif
