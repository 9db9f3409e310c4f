/* battery.h - a house battery that holds the meter at zero.
 *
 * It charges from what would be exported and discharges into what would be
 * imported, a step after it happens, as far as its power and its charge go
 * (self-consumption, the usual mode; common practice, no source). Charging is
 * positive. Of what charges it the efficiency arrives; discharging takes what it
 * gives: 0.9 for the whole way there and back, common practice, no source. */
#ifndef SLUICE_HOUSE_BATTERY_H
#define SLUICE_HOUSE_BATTERY_H

struct battery_settings {
    double most_w, capacity_kwh, efficiency;
};

struct battery {
    struct battery_settings settings;
    double charged_kwh;
    double power_w; /* positive: charging */
};

void battery_init(struct battery *battery, const struct battery_settings *settings,
                  double charged_kwh);

/* The power in the coming step, after one in which the meter saw grid_w. */
double battery_step_w(struct battery *battery, double dt_s, double grid_w);

#endif
