/* run.h - a home's days under one strategy, and what came of it.
 *
 * Event-driven: from one moment at which something changes to the next. The rules are
 * asked only where the reading has changed, an output answers or what they last said
 * ceases to hold; that skips nothing (a tested property of theirs). The tank is looked
 * at every `look_s`, and when its element should have heated it to the set-point: a
 * thermostat opens within a second or so of its moment, and closes at most look_s late.
 *
 * Allocates its own small state and frees it; days and home stay the caller's. */
#ifndef SLUICE_TRIAL_RUN_H
#define SLUICE_TRIAL_RUN_H

#include "tariff/bill.h"
#include "trial/home.h"

enum strategy {
    STRATEGY_ALWAYS_ON,  /* the thermostat alone */
    STRATEGY_TIMER,      /* a clock */
    STRATEGY_CONTROLLED, /* the retailer's off-peak circuit: own wire, own meter, own hours */
    STRATEGY_DIVERTER,   /* all that would be exported, to the watt, up to the element's power */
    STRATEGY_SLUICE,     /* the rules */
    STRATEGY_COUNT,
};

/* A diverter's way to hot water without sun: full power, in its hours, while the store is
 * too cold; or, with both temperatures 0, by the hours and the thermostat alone. */
struct trial_boost {
    bool there;
    struct hours hours;   /* none: at any time */
    double below_c, to_c; /* on below, off at to_c, or when the hours end */
    double height;        /* where in the store: 0 bottom .. 1 top */
};

struct trial_plan {
    enum strategy strategy;
    struct hours hours;       /* timer */
    double export_left_w;     /* diverter: leaves so much, usually 0 */
    double least_w;           /* diverter: gives less not at all */
    struct trial_boost boost; /* diverter */

    /* sluice; loads as home->load; no battery, of which days tell nothing */
    const struct rules_settings *rules;
    bool reads_tank_temperature; /* the readings tell the first tank's, at its thermostat */
    int32_t answer_ms;           /* from an order to its confirmation and the contact; 0: 1000 */
    int32_t ask_s;               /* ask the rules at least so often; 0: only where it can matter */
    uint64_t seed;

    int32_t look_s; /* how often the tank is looked at; 0: 60 */
    /* All is decided at the looks and holds until the next (the reference calculation:
     * look_s 300): outputs answer at once, and an element that would pass the set-point
     * takes just what leads there. The days' step must divide look_s or the reverse. */
    bool in_steps;
};

struct trial_load_outcome {
    double sun_kwh, grid_kwh; /* drawn */
    int64_t live_s, draws_s;
    int64_t cycles; /* closings of its contactor (stages: of all); 0 where there is none */
};

struct trial_outcome {
    double seconds; /* how long the days were */
    double bill;    /* as the tariff settles it, currency */
    struct bill_parts bill_parts;
    double unmet_cost, cost; /* home->unmet_per_kwh; bill + unmet_cost */
    double import_kwh, export_kwh, controlled_kwh;
    double use_kwh, solar_kwh;                          /* the household without loads; the roof */
    double heat_sun_kwh, heat_grid_kwh;                 /* of all heaters */
    double tapped_kwh, unmet_kwh, lost_kwh, stored_kwh; /* stored: end less beginning */
    double cool_kwh; /* of tapped_kwh, what came below TAP_COOL_C where more was wanted */
    int64_t showers, spoilt_showers; /* draws; those below 38 C for over a minute */
    double coldest_c;                /* at a tap while drawn; NAN: nothing was */
    int64_t cycles;                  /* the busiest heater contactor's */
    double thermostat_open_min;      /* of the first tank */
    int64_t turns;                   /* of the rules */
    double residual; /* energy that is nowhere or twice, over all that flowed; < 1e-6 */
    struct trial_load_outcome load[TRIAL_LOADS_MAX];
};

/* What held from one moment to another. Pointers are good for the call only. */
struct trial_span {
    struct wall from, to;
    double use_w, solar_w, grid_w; /* grid: all meters, import positive */
    uint8_t load_count;
    const double *load_w;            /* drawn */
    const double *tank_c, *top_c;    /* [tank_count] mean and top, at the last look */
    const struct decision *decision; /* sluice: of each load; else NULL */
    const struct rules_event *event; /* sluice: what the rules reported as the span began */
    uint8_t event_count;
};

typedef void trial_trace(void *context, const struct trial_span *span);

/* `trace` may be NULL. False: `trouble` says what in the plan or home cannot be. */
bool trial_run(const struct trial_home *home, const struct days *days,
               const struct trial_plan *plan, trial_trace *trace, void *context,
               struct trial_outcome *outcome, struct trouble *trouble);

#endif
