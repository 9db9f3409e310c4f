/* water.c - tanks and taps, looked at now and then.
 *
 * Between two looks heat and water are only counted; at a look the tank takes both in
 * one step, exactly as far as the loss goes, and the thermostat sees the outcome. Looks
 * come by a grid, and sooner where the heat counted so far would by then have filled
 * the tank: so an element never runs on much after its set-point. */
#include <math.h>

#include "trial/run_inside.h"

enum { SOON_MS = MS_PER_S, SPOILT_AFTER_MS = MS_PER_MIN };

static void measure(struct run *run, struct run_store *store)
{
    double look_s = (double)run->look_ms / MS_PER_S;
    store->lower_room_j = heater_room_j(&store->heater, HEATER_LOWER);
    store->upper_room_j = heater_room_j(&store->heater, HEATER_UPPER);
    store->loss_j = run->plan->in_steps ? tank_loss_j(&store->heater.tank, look_s) : 0;
}

void stores_begin(struct run *run)
{
    for (int k = 0; k < run->home->tank_count; k++) {
        const struct trial_tank *tank = &run->home->tank[k];
        struct run_store *store = &run->store[k];
        heater_init(&store->heater, &tank->heater, tank->start_c);
        if (tank->start_calls && tank->start_c < tank->heater.set_c)
            store->heater.calls = true;
        store->begun_j = tank_heat_j(&store->heater.tank, 0);
        measure(run, store);
    }
    run->looked_ms = run->t_ms;
    run->outcome->coldest_c = NAN;
    stores_plan_look(run);
}

static int64_t filled_at(const struct run *run, double room_j, double w)
{
    double left_ms = w > 0 ? ceil(room_j / w * MS_PER_S) : INFINITY;
    if (left_ms > (double)run->look_ms)
        return INT64_MAX;
    return run->t_ms + (left_ms < SOON_MS ? SOON_MS : (int64_t)left_ms);
}

void stores_plan_look(struct run *run)
{
    int64_t since_ms = run->t_ms - run->days->first.ms;
    run->look_at_ms = run->t_ms + run->look_ms - since_ms % run->look_ms;
    for (int k = 0; k < run->home->tank_count && !run->plan->in_steps; k++) {
        const struct run_store *store = &run->store[k];
        int64_t lower = filled_at(run, store->lower_room_j - store->lower_j, store->lower_w);
        int64_t upper = filled_at(run, store->upper_room_j - store->upper_j, store->upper_w);
        int64_t first = lower < upper ? lower : upper;
        if (first < run->look_at_ms)
            run->look_at_ms = first;
    }
}

/* The main is as cold all day. */
static double inlet_now_c(struct run *run)
{
    if (run->looked_ms >= run->inlet_until_ms) {
        struct wall wall = {run->looked_ms};
        run->inlet_c = trial_inlet_c(run->home, wall);
        int32_t day = local_of_wall(run->home->zone, wall).day;
        run->inlet_until_ms = wall_of_local(run->home->zone, day + 1, 0).ms;
    }
    return run->inlet_c;
}

/* A draw is a run of looks in which water flows; where the days bring none, an hour's. */
static void note_shower(struct run *run, double coldest_c)
{
    struct run_shower *shower = &run->shower;
    struct trial_outcome *outcome = run->outcome;
    if (run->flowing_ms == 0 || run->flow_id != shower->id)
        *shower = (struct run_shower){.id = run->flow_id};
    if (run->flowing_ms == 0)
        return;
    outcome->showers += !shower->runs;
    shower->runs = true;
    if (!(coldest_c >= outcome->coldest_c))
        outcome->coldest_c = coldest_c;
    if (coldest_c < TAP_SPOILT_C && run->home->taps.wanted_c >= TAP_SPOILT_C)
        shower->below_ms += run->flowing_ms;
    if (shower->below_ms > SPOILT_AFTER_MS && !shower->spoilt) {
        shower->spoilt = true;
        outcome->spoilt_showers++;
    }
}

static struct tap_taken take(struct run *run, int k, double dt_s)
{
    struct run_store *store = &run->store[k];
    struct tap_flow flow = {.litres = run->litres * run->home->tank[k].draw_share,
                            .wanted_c = run->home->taps.wanted_c,
                            .inlet_c = inlet_now_c(run)};
    struct tap_taken taken =
        heater_advance(&store->heater, dt_s, store->lower_j, store->upper_j, &flow);
    store->heated_j += store->lower_j + store->upper_j;
    store->tapped_j += taken.heat_j;
    store->lower_j = store->upper_j = 0;
    measure(run, store);
    return taken;
}

void stores_look(struct run *run)
{
    double dt_s = (double)(run->t_ms - run->looked_ms) / MS_PER_S;
    double coldest_c = run->home->taps.wanted_c, lack_j = 0, cool_j = 0;
    if (dt_s <= 0)
        return;
    for (int k = 0; k < run->home->tank_count; k++) {
        struct tap_taken taken = take(run, k, dt_s);
        lack_j += taken.lack_j;
        cool_j += taken.cool_j;
        if (taken.coldest_c < coldest_c)
            coldest_c = taken.coldest_c;
    }
    note_shower(run, coldest_c);
    run->outcome->unmet_kwh += lack_j / J_PER_KWH;
    run->outcome->cool_kwh += cool_j / J_PER_KWH;
    run->litres = 0;
    run->flowing_ms = 0;
    run->looked_ms = run->t_ms;
    run->draws_stale = true;
    stores_plan_look(run);
}

void stores_end(struct run *run)
{
    struct trial_outcome *outcome = run->outcome;
    for (int k = 0; k < run->home->tank_count; k++) {
        const struct run_store *store = &run->store[k];
        outcome->tapped_kwh += store->tapped_j / J_PER_KWH;
        outcome->lost_kwh += store->heater.tank.lost_j / J_PER_KWH;
        outcome->stored_kwh += (tank_heat_j(&store->heater.tank, 0) - store->begun_j) / J_PER_KWH;
    }
}
