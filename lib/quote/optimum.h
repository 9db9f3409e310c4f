/* optimum.h - the least that a year of hot water can cost, with everything known before.
 *
 * A bound that no strategy beats: import, less feed-in credit, plus unmet heat at its
 * price, where the element takes at each step what it likes between off and full. In a
 * step the tank first loses heat to its room, then gives what is drawn, then takes heat
 * (the order of house/tank.h). Drawn at the tap: what is wanted in heat above the inlet,
 * as far as litres * (tank - inlet) go; what lacks is unmet.
 *
 * One zone: exact, without a grid. A proportional element: the bound is reached by a
 * schedule. A switched element: on for part of a step counts as that part of its cost at
 * full power (a contactor can't spread heat thinner); the bound is then a little below what whole
 * steps can reach, and optimum_follow gives a schedule in whole steps, so that the gap is known.
 *
 * Layers: a stratified tank gives more from the same heat than one zone does, so its
 * bound takes heat to be unmet only when the whole tank holds less, above the coldest
 * water that can be in it, than is drawn. Loss needs no relaxing: it is the same for the
 * same heat, however layered. The bound is reached by no real tank.
 *
 * Not in it: daily and demand charges (at least 0, or the same for all), other loads,
 * rest times, the thermostat's hysteresis. Where feed-in is worth more than import the
 * cost of heat within the step isn't convex; a proportional element's is then taken along
 * the straight line from off to full, which is lower still.
 *
 * A tank colder than the main gives nothing, which isn't convex either; unmet heat is
 * therefore taken to rise straight from the wanted temperature down to the coldest water
 * that can be in the tank by then (the coldest main so far, warmed by the room since)
 * rather than to the inlet: too low by at most the ratio of those two spans, on what is
 * unmet, and only where main or room have been colder before.
 *
 * What needs care: unmet heat must cost at least as much as heat left at the end is worth
 * (else it would pay to let people freeze; refused). */
#ifndef SLUICE_QUOTE_OPTIMUM_H
#define SLUICE_QUOTE_OPTIMUM_H

#include <stdbool.h>
#include <stddef.h>

#include "core/trouble.h"

struct optimum_step {
    double import_price, feed_in_price; /* currency per kWh, of any sign */
    double use_w, solar_w;              /* of the house without the heater */
    double draw_l;                      /* at the tap, at wanted_c */
    double inlet_c;
};

enum optimum_element {
    OPTIMUM_PROPORTIONAL, /* any power */
    OPTIMUM_SWITCHED,     /* off or full */
};

struct optimum_problem {
    const struct optimum_step *step; /* the caller's, until optimum_free */
    size_t count;
    double step_s;

    double volume_l, loss_kwh_day, ambient_c; /* loss at 55 K, as in house/tank.h */
    double start_c;
    double full_c; /* as hot as the whole tank can get: the set-point, and above it what a
                      thermostat lets through that only looks at times */
    double wanted_c;
    double element_w;
    enum optimum_element element;
    bool layered;

    /* Heat may come before the draw of the same step, so that the bound holds for
     * strategies that switch within it. Otherwise it bounds those that decide once a step. */
    bool within_step;

    /* Switched: a thermostat that opens within a step has the step's heat spread over the
     * whole of it, and metered so (else: full power for part of the step, which takes less
     * of the sun). Not with within_step. */
    bool spreads_last;

    double export_limit_w; /* the inverter throttles there; 0: it does not */
    double unmet_price;    /* per kWh */
    double left_price;     /* what a kWh in the tank is worth at the end; 0: nothing */
};

struct optimum;

/* Solves backwards. NULL: `trouble` says why. Memory grows with the root of the steps. */
struct optimum *optimum_new(const struct optimum_problem *problem, struct trouble *trouble);
void optimum_free(struct optimum *optimum);

/* The bound, household included, less left_price * (heat at the end - at the start). */
double optimum_cost(const struct optimum *optimum);

/* What one kWh more in the tank is worth at the beginning of a step. */
double optimum_worth(struct optimum *optimum, size_t step, double water_c);

struct optimum_outcome {
    double cost;       /* as optimum_cost, of this schedule: >= the bound */
    double unmet_cost; /* in it */
    double heat_sun_kwh, heat_grid_kwh, wanted_kwh, unmet_kwh, lost_kwh;
    double end_c;
    long cycles; /* times that the element came on */
};

/* One step of the schedule: heat taken in it, and the tank when it begins. */
typedef void optimum_trace(void *context, size_t step, double heat_w, double water_c);

/* A schedule that the tank can follow, found forwards by what heat is worth. `trace` may
 * be NULL. Layered: follows the relaxed tank, not a real one. Not for within_step: solve
 * without; that schedule is one there, too. False: out of memory. */
bool optimum_follow(struct optimum *optimum, optimum_trace *trace, void *context,
                    struct optimum_outcome *outcome);

#endif
