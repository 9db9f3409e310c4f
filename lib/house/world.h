/* world.h - the truth: a whole house, stepped.
 *
 * Household, sky, panels, battery, loads, taps, the connection point and the meter on
 * it. What a controller orders comes in as load[].coil and load[].offered_a, faults
 * by fault.h and the meter's own; a step later the house has answered: meter.shown is
 * what a meter tells, everything else is true (load[].draw_w, heater_top_c, tap).
 *
 * Faults, orders and the hands on switches may change between any two steps. The same
 * settings and orders give the same house, bit for bit. */
#ifndef SLUICE_HOUSE_WORLD_H
#define SLUICE_HOUSE_WORLD_H

#include "core/zone.h"
#include "house/battery.h"
#include "house/grid.h"
#include "house/grid_meter.h"
#include "house/household.h"
#include "house/load.h"
#include "house/sky.h"
#include "house/sun.h"
#include "house/tap.h"

enum { WORLD_LOADS_MAX = 8 };

struct world_settings {
    struct zone zone;
    struct wall start;
    struct grid_settings grid;
    struct grid_meter_settings meter;
    double pv_peak_w, pv_limit_w, export_limit_w; /* limits 0: none */
    double export_follows_s; /* how slowly it obeys export_limit_w; 0: at once */
    uint8_t pv_phases;
    struct roof roof;
    enum sky_kind sky;
    uint64_t sky_seed;
    struct battery_settings battery; /* capacity 0: there is none */
    double battery_start_kwh;
    uint8_t battery_phases;
    struct household_settings household;
    struct tap_draw draw[TAP_DRAWS_MAX];
    int draw_count;
    double draw_litres_a_day; /* random draws instead; 0: those above */
    uint64_t draw_seed;
    struct house_load_settings load[WORLD_LOADS_MAX];
    int load_count;
};

struct world {
    const struct world_settings *settings;
    struct house_load load[WORLD_LOADS_MAX];
    int load_count;
    struct household household;
    struct battery battery;
    struct sky sky;
    struct tap tap;
    struct grid grid;
    struct grid_meter meter;
    int64_t elapsed_ms;

    /* The step that has just been. */
    struct local local; /* its beginning */
    int64_t step_ms;    /* its length */
    double use_w, pv_w, pv_j;
    double most_w; /* that the inverter lets itself give, for its export limit */
    bool throttled;
    double hot_c; /* at the hot tap; NAN while nothing is drawn */
    double spoilt_step_s;
    double clear_w, clear_until_s;     /* the sun moves slowly: found once a minute */
    int64_t offset_ms, offset_till_ms; /* of local time, until this moment of it */
};

/* A usual house in one phase: 230 V, 0.2 ohm, panels near 34 degrees south, nobody at
 * home and nothing in it. */
struct world_settings world_usual(void);

/* `settings` is kept by reference. */
void world_init(struct world *world, const struct world_settings *settings);
void world_step(struct world *world, int64_t step_ms);

struct wall world_wall(const struct world *world); /* the true time, now */

#endif
