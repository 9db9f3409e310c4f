/* run_inside.h - what the parts of a run share. For run.c and its neighbours only. */
#ifndef SLUICE_TRIAL_RUN_INSIDE_H
#define SLUICE_TRIAL_RUN_INSIDE_H

#include "house/pump.h"
#include "tariff/bill.h"
#include "trial/cursor.h"
#include "trial/run.h"

#define J_PER_KWH 3.6e6
#define J_PER_MWH 3.6 /* milliwatt-hours */

/* Hours of a clock, looked up only where they change. */
struct run_clock {
    const struct hours *hours;
    bool open;
    int64_t until_ms;
};

struct run_load {
    double full_w;    /* at its volts */
    double scale;     /* of nameplate powers, by its volts */
    double offered_w; /* what contactor or set-point lets through; 0: off */
    double draw_w;
    bool on_controlled; /* on the controlled supply's own circuit and meter */
    int contacts;       /* closed ones */
    struct run_clock clock;
    struct pump pump;
    struct charger charger;
    double sun_j, grid_j;
    int64_t live_ms, draws_ms, cycles;
};

struct run_store {
    struct heater heater;
    double lower_w, upper_w;                   /* of its elements now */
    double lower_j, upper_j;                   /* since the last look */
    double lower_room_j, upper_room_j, loss_j; /* at the last look */
    double begun_j, heated_j, tapped_j;
    bool boosts;
};

struct run_shower {
    bool runs, spoilt;
    int64_t below_ms; /* colder than TAP_SPOILT_C */
    int64_t id;       /* flow_id */
};

struct run_account {
    struct bill bill;
    int64_t from_ms, edge_ms;                /* of what is pending */
    double import_j, export_j, controlled_j; /* pending */
    double use_j, solar_j, loads_j;
};

struct sluice;

struct run {
    const struct trial_home *home;
    const struct days *days;
    const struct trial_plan *plan;
    trial_trace *trace;
    void *context;
    int64_t t_ms, end_ms; /* wall */
    int64_t look_ms, decide_at_ms;
    struct cursor cursor;
    double solar_w;              /* as far as the inverter lets it */
    double grid_w, controlled_w; /* main meter, import positive; the controlled supply's */
    double main_w;               /* of the loads behind the main meter */
    bool draws_stale;            /* an offer, a thermostat or a car may have changed them */
    bool has_others;             /* loads that are no heaters */
    struct run_store store[TRIAL_TANKS_MAX];
    struct run_load load[TRIAL_LOADS_MAX];
    int64_t looked_ms, look_at_ms;
    int64_t open_ms; /* of the first tank's thermostat */
    double litres;   /* at the taps, since the last look */
    int64_t flowing_ms;
    int64_t flow_id; /* of the hour, where the days bring no draws */
    double inlet_c;
    int64_t inlet_until_ms;
    struct run_shower shower;
    struct run_clock hours; /* the strategy's */
    struct run_account account;
    struct sluice *sluice;
    struct trial_outcome *outcome;
};

/* strategy.c: offers each load power, for now; sets decide_at_ms. */
struct strategy_row {
    bool (*check)(const struct trial_home *home, const struct trial_plan *plan,
                  struct trouble *trouble);
    void (*begin)(struct run *run);
    void (*decide)(struct run *run);
};
const struct strategy_row *strategy_row(enum strategy strategy);

/* sluice.c */
struct sluice *sluice_new(void);
void sluice_free(struct sluice *sluice);
bool sluice_check(const struct trial_home *home, const struct trial_plan *plan,
                  struct trouble *trouble);
void sluice_begin(struct run *run);
void sluice_decide(struct run *run);
const struct decision *sluice_decisions(const struct run *run);
/* Hands over what the rules have reported since it was last asked. */
const struct rules_event *sluice_events(struct run *run, uint8_t *count);

/* loads.c: what each draws of what it is offered; what the meters then show; and the
 * time passing with it. */
void loads_begin(struct run *run);
void load_offer(struct run *run, int i, double offered_w, int contacts);
void loads_draw(struct run *run);
int64_t loads_next_ms(const struct run *run);
void loads_pass(struct run *run, int64_t ms, double dt_s);

/* water.c: tanks and taps. */
void stores_begin(struct run *run);
void stores_look(struct run *run);
void stores_plan_look(struct run *run);
void stores_end(struct run *run);

/* account.c */
void account_begin(struct run *run);
void account_pass(struct run *run, double dt_s);
void account_edge(struct run *run);
void account_end(struct run *run);

#endif
