/* world.h - the truth: every load, wire and drop of water of the scenario.
 *
 * What a daemon orders comes in as coils and set-points; a step later the house
 * has answered. Nothing here knows of Modbus. */
#ifndef SIMHOUSE_WORLD_H
#define SIMHOUSE_WORLD_H

#include "house/pump.h"
#include "scenario.h"

struct load {
    const struct load_spec *spec;
    enum load_fault fault;
    bool coil[COILS_MAX]; /* as the relay board has them */
    double offered_a;     /* charger */

    struct heater heater;
    struct pump pump;
    struct charger charger;

    /* The step that has just been. */
    bool relay; /* the load is ordered on: any coil, seen through its contact */
    bool switched_on, switched_off;
    double closed; /* share of its contactors that conduct */
    double draw_w, sun_w, grid_w;
    double ran_s; /* length of the run or rest that has just ended or goes on */
    double last_run_s, last_rest_s;

    /* Since the start. */
    double energy_j, sun_j, grid_j;
    double drawing_s, relay_s;
    long cycles;
};

struct world {
    const struct scenario *scenario;
    struct load load[LOADS_MAX];
    int load_count;
    struct household household;
    struct battery battery;
    struct sky sky;
    struct tap tap;
    struct grid grid;
    int64_t elapsed_ms;

    /* The step that has just been. */
    struct local local; /* its beginning */
    double use_w, pv_w, pv_j;
    double most_w; /* that the inverter lets itself give, for its export limit */
    bool throttled;
    double hot_c; /* at the hot tap; NAN while nothing is drawn */
    double spoilt_step_s;
    double clear_w, clear_until_s; /* the sun moves slowly: found once a minute */
};

/* A load draws: more than a contactor's coil or a standby would. */
#define DRAWING_W 20.0

void world_init(struct world *world, const struct scenario *scenario);
void world_step(struct world *world);

struct wall world_wall(const struct world *world); /* the true time, now */
void world_break(struct world *world, int load, enum load_fault fault);

#endif
