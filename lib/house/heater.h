/* heater.h - a storage water heater: a tank, an element, a thermostat.
 *
 * The element is a resistance: nameplate power at nameplate voltage, P = V^2/R
 * at any other (3.6 kW at 240 V is 3.3 kW at 230 V). The thermostat closes a
 * hysteresis below its set-point and sits above the element; the thermal
 * cut-out opens for good. A second element further up, with a thermostat of its own,
 * is interlocked: what it draws the lower one may not (common practice with twin
 * elements, no source); each has a contactor. Set-points 60-80 C and a cut-out at about 88 C:
 * energyrating.gov.au as quoted in trade texts; hysteresis 4-10 K: common
 * practice, no source. */
#ifndef SLUICE_HOUSE_HEATER_H
#define SLUICE_HOUSE_HEATER_H

#include <stdbool.h>

#include "house/tank.h"
#include "house/tap.h"

enum { HEATER_LEGS_MAX = 3 };

enum heater_thermostat {
    THERMOSTAT_WORKS,
    THERMOSTAT_STUCK_CLOSED, /* heats until the cut-out opens */
    THERMOSTAT_STUCK_OPEN,
    THERMOSTAT_OPENS_FOR_GOOD, /* once it has opened it does not close again */
};

/* All zero: sound. Each goes on until it is taken back. */
struct heater_faults {
    double gone[HEATER_LEGS_MAX]; /* share of each leg of the element that conducts no more */
    double more_ohm;              /* share by which its resistance stands above the nameplate's */
    double drift_a_year;          /* what is added to more_ohm in a year */
    enum heater_thermostat thermostat;
    double relief_l_h; /* hot water lost at a relief valve that does not close */
    double leak_l_h;   /* and behind the heater, day and night */
};

struct heater_settings {
    struct tank_settings tank;
    double element_w, element_v; /* nameplate */
    double set_c, hysteresis_k;
    double element_height, sensor_height; /* 0 bottom .. 1 top */
    double cutout_c;
    double idle_step_s; /* while nothing flows the water is looked at so often; 0: each step */
    /* Of twin elements, the upper; upper_w 0: there is none. */
    double upper_w, upper_set_c, upper_height, upper_sensor_height;
};

enum heater_element { HEATER_LOWER, HEATER_UPPER };

struct heater {
    struct heater_settings settings;
    struct tank tank;
    bool calls; /* the thermostat is closed */
    bool upper_calls;
    bool cut_out; /* the thermal cut-out has opened; a person must reset it */
    struct heater_faults faults;
    double idle_s; /* not yet looked at */
};

/* A tank of this size and power with usual values for the rest. */
struct heater_settings heater_usual(double volume_l, double element_w);

/* Permitted standing loss, kWh/day at 55 K, for this delivery: AS/NZS 4692.2
 * MEPS of 2005, read from the Australian government's table and interpolated. */
double heater_usual_loss_kwh_day(double volume_l);

void heater_init(struct heater *heater, const struct heater_settings *settings, double water_c);

/* What it draws at `volts` if it is `live` (its contactor closed). */
double heater_draw_w(const struct heater *heater, double volts, bool live);

/* The same of one leg of an element of `legs` equal ones, each between a phase and
 * neutral, while it is live. */
double heater_leg_w(const struct heater *heater, int leg, int legs, double volts);

/* Heats with `draw_w` for dt_s while hot_l litres leave. */
void heater_step(struct heater *heater, double dt_s, double draw_w, double hot_l, double inlet_c);

/* Whether power that the element's contactor passes would heat; the lower one's not
 * while the upper one draws. */
bool heater_passes(const struct heater *heater, enum heater_element element, bool upper_draws);

/* Heat that it takes until the element's thermostat opens, if nothing is drawn or lost. */
double heater_room_j(const struct heater *heater, enum heater_element element);

/* As heater_step, for heat of both elements and water told by the litre. */
struct tap_taken heater_advance(struct heater *heater, double dt_s, double lower_j, double upper_j,
                                const struct tap_flow *flow);

double heater_top_c(const struct heater *heater);
double heater_bottom_c(const struct heater *heater);

#endif
