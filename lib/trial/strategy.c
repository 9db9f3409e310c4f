/* strategy.c - what a household would have instead: no switch at all, a clock, the
 * retailer's off-peak circuit, a proportional diverter.
 *
 * Each is a row that offers the heaters power for now and says when to ask again by
 * itself; a change of sun, use or thermostat asks anyway. Loads that are no heaters run
 * by their own clock under all of them. */
#include <math.h>

#include "trial/run_inside.h"

/* A week holds each edge of hours of the week. */
#define CLOCK_AHEAD_MS ((int64_t)8 * MS_PER_DAY)

static bool is_open(const struct run *run, struct run_clock *clock)
{
    if (run->t_ms >= clock->until_ms) {
        struct wall now = {run->t_ms}, limit = {run->t_ms + CLOCK_AHEAD_MS};
        struct local local = local_of_wall(run->home->zone, now);
        clock->open = hours_open(clock->hours, &local);
        clock->until_ms = hours_next_edge(clock->hours, run->home->zone, now, limit).ms;
    }
    return clock->open;
}

static bool is_heater(const struct run *run, int i)
{
    return run->home->load[i].model == TRIAL_HEATER;
}

static void ask_again_by(struct run *run, int64_t wall_ms)
{
    if (wall_ms < run->decide_at_ms)
        run->decide_at_ms = wall_ms;
}

static void offer_full(struct run *run, int i, bool on, int contacts)
{
    load_offer(run, i, on ? run->load[i].full_w : 0, on ? contacts : 0);
}

static void others_by_clock(struct run *run)
{
    for (int i = 0; i < run->home->load_count; i++) {
        struct run_load *load = &run->load[i];
        if (is_heater(run, i))
            continue;
        offer_full(run, i, is_open(run, &load->clock), 1);
        ask_again_by(run, load->clock.until_ms);
    }
}

static void no_beginning(struct run *run)
{
    (void)run;
}

static void follow_plan_hours(struct run *run)
{
    run->hours = (struct run_clock){.hours = &run->plan->hours};
}

static void follow_supplier_hours(struct run *run)
{
    run->hours = (struct run_clock){.hours = &run->home->tariff->controlled.hours};
    for (int i = 0; i < run->home->load_count; i++)
        run->load[i].on_controlled = is_heater(run, i) && !run->home->load[i].upper;
}

static void follow_boost_hours(struct run *run)
{
    run->hours = (struct run_clock){.hours = &run->plan->boost.hours};
}

static void decide_always_on(struct run *run)
{
    for (int i = 0; i < run->home->load_count; i++)
        if (is_heater(run, i))
            offer_full(run, i, true, 0);
    others_by_clock(run);
    loads_draw(run);
}

static void decide_timer(struct run *run)
{
    bool open = is_open(run, &run->hours);
    ask_again_by(run, run->hours.until_ms);
    for (int i = 0; i < run->home->load_count; i++)
        if (is_heater(run, i))
            offer_full(run, i, open, 1);
    others_by_clock(run);
    loads_draw(run);
}

/* An upper element stays on the main supply, behind its thermostat alone. */
static void decide_controlled(struct run *run)
{
    bool open = is_open(run, &run->hours);
    ask_again_by(run, run->hours.until_ms);
    for (int i = 0; i < run->home->load_count; i++)
        if (is_heater(run, i) && run->load[i].on_controlled)
            offer_full(run, i, open, 1);
        else if (is_heater(run, i))
            offer_full(run, i, true, 0);
    others_by_clock(run);
    loads_draw(run);
}

static bool boosts(struct run *run, struct run_store *store)
{
    const struct trial_boost *boost = &run->plan->boost;
    if (!boost->there)
        return false;
    bool open = is_open(run, &run->hours);
    ask_again_by(run, run->hours.until_ms);
    if (boost->below_c == 0 && boost->to_c == 0)
        return open;
    double store_c = tank_at_c(&store->heater.tank, boost->height);
    if (!open || store_c >= boost->to_c)
        store->boosts = false;
    else if (store_c < boost->below_c)
        store->boosts = true;
    return store->boosts;
}

/* Upper elements only boost; what is spare goes to the lower ones in their order. */
static void divert(struct run *run, double spare_w)
{
    for (int i = 0; i < run->home->load_count; i++) {
        struct run_load *load = &run->load[i];
        if (!is_heater(run, i))
            continue;
        bool full = boosts(run, &run->store[run->home->load[i].tank]);
        double share_w = run->home->load[i].upper ? 0 : fmin(spare_w, load->full_w);
        if (share_w < run->plan->least_w || share_w < 0)
            share_w = 0;
        load_offer(run, i, full ? load->full_w : share_w, 0);
        spare_w -= share_w;
    }
}

/* What an inverter holds back for its export limit is there too, and the diverter
 * finds it as the export that it takes is made up for. */
static void decide_diverter(struct run *run)
{
    others_by_clock(run);
    double spare_w = run->cursor.solar_w - run->cursor.use_w - run->plan->export_left_w;
    for (int i = 0; i < run->home->load_count; i++)
        if (!is_heater(run, i))
            spare_w -= run->load[i].draw_w;
    divert(run, spare_w);
    loads_draw(run);
}

static bool check_none(const struct trial_home *home, const struct trial_plan *plan,
                       struct trouble *trouble)
{
    (void)home;
    (void)plan;
    (void)trouble;
    return true;
}

static bool check_controlled(const struct trial_home *home, const struct trial_plan *plan,
                             struct trouble *trouble)
{
    (void)plan;
    if (!home->tariff->controlled.there)
        return trouble_set(trouble, "", "the tariff has no controlled supply");
    return true;
}

static bool check_diverter(const struct trial_home *home, const struct trial_plan *plan,
                           struct trouble *trouble)
{
    (void)home;
    const struct trial_boost *boost = &plan->boost;
    if (boost->there && boost->to_c < boost->below_c)
        return trouble_set(trouble, "", "a boost from below %.1f °C ends at %.1f °C, colder",
                           boost->below_c, boost->to_c);
    return true;
}

static const struct strategy_row rows[STRATEGY_COUNT] = {
    [STRATEGY_ALWAYS_ON] = {check_none, no_beginning, decide_always_on},
    [STRATEGY_TIMER] = {check_none, follow_plan_hours, decide_timer},
    [STRATEGY_CONTROLLED] = {check_controlled, follow_supplier_hours, decide_controlled},
    [STRATEGY_DIVERTER] = {check_diverter, follow_boost_hours, decide_diverter},
    [STRATEGY_SLUICE] = {sluice_check, sluice_begin, sluice_decide},
};

const struct strategy_row *strategy_row(enum strategy strategy)
{
    return (unsigned)strategy < STRATEGY_COUNT ? &rows[strategy] : NULL;
}
