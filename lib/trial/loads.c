/* loads.c - what the loads draw of what they are offered, and what the meters then
 * show. A thermostat, an interlock or a full battery may refuse what a contactor lets
 * through; nothing draws more than its own power. */
#include <math.h>

#include "trial/run_inside.h"

enum { PRIMING_LOOK_MS = 10 * MS_PER_S, FOLLOWING_LOOK_MS = 3 * MS_PER_S };

static double heater_scale(const struct trial_tank *tank)
{
    double per_nameplate = tank->volts > 0 ? tank->volts / tank->heater.element_v : 1;
    return per_nameplate * per_nameplate;
}

static void begin_load(struct run *run, int i)
{
    const struct trial_load *spec = &run->home->load[i];
    struct run_load *load = &run->load[i];
    *load = (struct run_load){.scale = 1, .full_w = spec->power_w};
    load->clock = (struct run_clock){.hours = &spec->hours};
    if (spec->model == TRIAL_HEATER) {
        const struct trial_tank *tank = &run->home->tank[spec->tank];
        double plate_w = spec->upper ? tank->heater.upper_w : tank->heater.element_w;
        load->scale = heater_scale(tank);
        load->full_w = (spec->power_w > 0 ? spec->power_w : plate_w) * load->scale;
    } else if (spec->model == TRIAL_CHARGER) {
        charger_init(&load->charger, &spec->charger, spec->charger_start_kwh);
        load->full_w = spec->charger.most_a * spec->charger_volts * spec->charger.phases;
    } else {
        load->pump.power_w = spec->power_w;
    }
}

void loads_begin(struct run *run)
{
    run->draws_stale = true;
    for (int i = 0; i < run->home->load_count; i++) {
        begin_load(run, i);
        run->has_others |= run->home->load[i].model != TRIAL_HEATER;
    }
}

void load_offer(struct run *run, int i, double offered_w, int contacts)
{
    struct run_load *load = &run->load[i];
    if (offered_w == load->offered_w && contacts == load->contacts)
        return;
    run->draws_stale = true;
    load->offered_w = offered_w;
    if (contacts > load->contacts)
        load->cycles += contacts - load->contacts;
    load->contacts = contacts;
}

/* In steps an element takes no more than leads to its set-point by the step's end. */
static double limit_w(const struct run *run, const struct run_store *store, double room_j)
{
    if (!run->plan->in_steps)
        return INFINITY;
    double taken_w = store->lower_w + store->upper_w;
    double most_w = (room_j + store->loss_j) * MS_PER_S / (double)run->look_ms - taken_w;
    return most_w > 0 ? most_w : 0;
}

static void draw_heater(struct run *run, int i)
{
    const struct trial_load *spec = &run->home->load[i];
    struct run_load *load = &run->load[i];
    struct run_store *store = &run->store[spec->tank];
    enum heater_element element = spec->upper ? HEATER_UPPER : HEATER_LOWER;
    bool passes = heater_passes(&store->heater, element, store->upper_w > 0);
    load->draw_w = 0;
    if (!passes || load->offered_w <= 0)
        return;
    double most_w = limit_w(run, store, spec->upper ? store->upper_room_j : store->lower_room_j);
    load->draw_w = fmin(fmin(load->offered_w, load->full_w), most_w);
    *(spec->upper ? &store->upper_w : &store->lower_w) += load->draw_w;
}

static int32_t second_of_day(const struct run *run)
{
    return local_of_wall(run->home->zone, (struct wall){run->t_ms}).second;
}

static double charger_w(struct run *run, int i, double dt_s)
{
    const struct trial_load *spec = &run->home->load[i];
    struct run_load *load = &run->load[i];
    double volts = spec->charger_volts, phases = spec->charger.phases;
    double offered_a = load->offered_w / (volts * phases);
    return volts * phases *
           charger_step_a(&load->charger, second_of_day(run), dt_s, offered_a, volts);
}

static void draw_other(struct run *run, int i)
{
    struct run_load *load = &run->load[i];
    if (run->home->load[i].model == TRIAL_PUMP)
        load->draw_w = pump_step_w(&load->pump, 0, load->offered_w > 0);
    else
        load->draw_w = charger_w(run, i, 0);
}

static void draw_heaters(struct run *run, bool upper)
{
    for (int i = 0; i < run->home->load_count; i++)
        if (run->home->load[i].model == TRIAL_HEATER && run->home->load[i].upper == upper)
            draw_heater(run, i);
}

static void sum_draws(struct run *run)
{
    run->main_w = run->controlled_w = 0;
    for (int i = 0; i < run->home->load_count; i++)
        *(run->load[i].on_controlled ? &run->controlled_w : &run->main_w) += run->load[i].draw_w;
}

/* An inverter at its export limit gives only what is taken. */
static void read_meters(struct run *run)
{
    double taken_w = run->cursor.use_w + run->main_w, most_w = run->home->export_limit_w;
    run->solar_w = run->cursor.solar_w;
    if (most_w > 0 && run->solar_w > taken_w + most_w)
        run->solar_w = taken_w + most_w;
    run->grid_w = taken_w - run->solar_w;
}

static double heaters_w(const struct run *run)
{
    double w = 0;
    for (int k = 0; k < run->home->tank_count; k++)
        w += run->store[k].lower_w + 2 * run->store[k].upper_w;
    return w;
}

static void draw_all(struct run *run)
{
    for (int k = 0; k < run->home->tank_count; k++)
        run->store[k].lower_w = run->store[k].upper_w = 0;
    draw_heaters(run, true);
    draw_heaters(run, false);
    for (int i = 0; i < run->home->load_count; i++)
        if (run->home->load[i].model != TRIAL_HEATER)
            draw_other(run, i);
    sum_draws(run);
}

/* Most moments are only a change of sun or use, which no load notices by itself. */
void loads_draw(struct run *run)
{
    if (run->draws_stale) {
        double before_w = heaters_w(run);
        draw_all(run);
        run->draws_stale = run->has_others;
        if (heaters_w(run) != before_w)
            stores_plan_look(run);
    }
    read_meters(run);
}

/* Priming pumps and cars that follow a new current change by themselves. */
static int64_t other_holds_ms(const struct run *run, int i)
{
    const struct run_load *load = &run->load[i];
    switch (run->home->load[i].model) {
    case TRIAL_PUMP:
        return load->offered_w > 0 && load->pump.run_s < 60 ? PRIMING_LOOK_MS : MS_PER_HOUR;
    case TRIAL_CHARGER:
        return load->charger.waited_s < CHARGER_FOLLOWS_S ? FOLLOWING_LOOK_MS : MS_PER_MIN;
    case TRIAL_HEATER:
        break;
    }
    return MS_PER_HOUR;
}

int64_t loads_next_ms(const struct run *run)
{
    int64_t holds_ms = MS_PER_HOUR;
    for (int i = 0; i < run->home->load_count && run->has_others; i++) {
        int64_t other_ms = other_holds_ms(run, i);
        if (other_ms < holds_ms)
            holds_ms = other_ms;
    }
    return run->t_ms + holds_ms;
}

static void pass_load(struct run *run, int i, double dt_s, int64_t ms)
{
    const struct trial_load *spec = &run->home->load[i];
    struct run_load *load = &run->load[i];
    struct run_store *store = &run->store[spec->tank];
    if (spec->model == TRIAL_HEATER)
        *(spec->upper ? &store->upper_j : &store->lower_j) += load->draw_w * dt_s;
    else if (spec->model == TRIAL_PUMP)
        load->draw_w = pump_step_w(&load->pump, dt_s, load->offered_w > 0);
    else
        load->draw_w = charger_w(run, i, dt_s);
    if (load->offered_w > 0)
        load->live_ms += ms;
    if (load->draw_w > 0)
        load->draws_ms += ms;
}

void loads_pass(struct run *run, int64_t ms, double dt_s)
{
    for (int i = 0; i < run->home->load_count; i++)
        pass_load(run, i, dt_s, ms);
    if (!run->has_others)
        return;
    sum_draws(run); /* a car may have taken something else than it seemed to */
    read_meters(run);
}
