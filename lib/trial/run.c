/* run.c - from one moment at which something changes to the next.
 *
 * At each: the days say what is used, given and tapped from now on; the tank is looked
 * at if it is time; the strategy offers power, the loads take what they can of it. Then
 * that holds until the next such moment, and is accounted for as one span. */
#include <math.h>
#include <stdlib.h>

#include "trial/run_inside.h"

enum { LOOK_S = 60 };

static bool check_load(const struct trial_home *home, int i, struct trouble *trouble)
{
    const struct trial_load *load = &home->load[i];
    if (load->model == TRIAL_HEATER && load->tank >= home->tank_count)
        return trouble_set(trouble, "", "load %d heats tank %d of %d", i + 1, load->tank + 1,
                           home->tank_count);
    if (load->model == TRIAL_HEATER && load->upper && home->tank[load->tank].heater.upper_w <= 0)
        return trouble_set(trouble, "", "load %d is an upper element where there is none", i + 1);
    if (load->model == TRIAL_CHARGER &&
        (load->charger_volts <= 0 || load->charger.phases < 1 || load->charger.capacity_kwh <= 0))
        return trouble_set(trouble, "", "load %d charges without volts, phases or battery", i + 1);
    if (load->model == TRIAL_PUMP && load->power_w <= 0)
        return trouble_set(trouble, "", "load %d is a pump without power", i + 1);
    return true;
}

static bool check_home(const struct trial_home *home, struct trouble *trouble)
{
    if (home->tank_count > TRIAL_TANKS_MAX || home->load_count > TRIAL_LOADS_MAX)
        return trouble_set(trouble, "", "at most %d tanks and %d loads", TRIAL_TANKS_MAX,
                           TRIAL_LOADS_MAX);
    double share = 0;
    for (int k = 0; k < home->tank_count; k++) {
        const struct heater_settings *heater = &home->tank[k].heater;
        if (heater->tank.layers < 1 || heater->tank.layers > TANK_LAYERS_MAX ||
            heater->tank.volume_l <= 0)
            return trouble_set(trouble, "", "tank %d has no volume, or layers out of 1..%d", k + 1,
                               TANK_LAYERS_MAX);
        share += home->tank[k].draw_share;
    }
    if (home->tank_count > 0 && fabs(share - 1) > 1e-9)
        return trouble_set(trouble, "", "the tanks give %.3f of the water, not all of it", share);
    for (int i = 0; i < home->load_count; i++)
        if (!check_load(home, i, trouble))
            return false;
    return true;
}

static bool check(const struct trial_home *home, const struct days *days,
                  const struct trial_plan *plan, struct trouble *trouble)
{
    const struct strategy_row *row = strategy_row(plan->strategy);
    if (!row)
        return trouble_set(trouble, "", "there is no strategy %d", (int)plan->strategy);
    if (days->count == 0)
        return trouble_set(trouble, "", "there are no days");
    int32_t look_s = plan->look_s > 0 ? plan->look_s : LOOK_S;
    if (plan->in_steps && days->step_s % look_s != 0 && look_s % days->step_s != 0)
        return trouble_set(trouble, "", "steps of %d s do not fit days of %d s", look_s,
                           days->step_s);
    return check_home(home, trouble) && row->check(home, plan, trouble);
}

static int64_t earlier(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static int64_t next_event(const struct run *run)
{
    int64_t next = earlier(run->cursor.row_end_ms, run->cursor.flow_end_ms);
    next = earlier(next, run->look_at_ms);
    next = earlier(next, run->account.edge_ms);
    next = earlier(next, run->end_ms);
    if (!run->plan->in_steps)
        next = earlier(next, earlier(run->decide_at_ms, loads_next_ms(run)));
    return next > run->t_ms ? next : run->t_ms + 1;
}

static void tell(struct run *run, int64_t until_ms)
{
    double load_w[TRIAL_LOADS_MAX], mean_c[TRIAL_TANKS_MAX], top_c[TRIAL_TANKS_MAX];
    for (int i = 0; i < run->home->load_count; i++)
        load_w[i] = run->load[i].draw_w;
    for (int k = 0; k < run->home->tank_count; k++) {
        mean_c[k] = tank_mean_c(&run->store[k].heater.tank);
        top_c[k] = heater_top_c(&run->store[k].heater);
    }
    struct trial_span span = {.from = {run->t_ms},
                              .to = {until_ms},
                              .use_w = run->cursor.use_w,
                              .solar_w = run->solar_w,
                              .grid_w = run->grid_w + run->controlled_w,
                              .load_count = run->home->load_count,
                              .load_w = load_w,
                              .tank_c = mean_c,
                              .top_c = top_c,
                              .decision = sluice_decisions(run)};
    span.event = sluice_events(run, &span.event_count);
    run->trace(run->context, &span);
}

static void pass(struct run *run, int64_t until_ms)
{
    int64_t ms = until_ms - run->t_ms;
    double dt_s = 1e-3 * (double)ms;
    loads_pass(run, ms, dt_s);
    account_pass(run, dt_s);
    if (run->trace)
        tell(run, until_ms);
    if (run->cursor.flow_l_s > 0) {
        run->litres += run->cursor.flow_l_s * dt_s;
        run->flowing_ms += ms;
        run->flow_id = run->days->draw_l ? 0 : run->cursor.flow_end_ms;
    }
    if (!run->store[0].heater.calls)
        run->open_ms += ms;
    run->t_ms = until_ms;
    if (run->t_ms >= run->account.edge_ms)
        account_edge(run);
}

static bool may_decide(const struct run *run)
{
    return !run->plan->in_steps || (run->t_ms - run->days->first.ms) % run->look_ms == 0;
}

static void go(struct run *run)
{
    const struct strategy_row *row = strategy_row(run->plan->strategy);
    loads_begin(run);
    stores_begin(run);
    account_begin(run);
    row->begin(run);
    while (run->t_ms < run->end_ms) {
        cursor_move(&run->cursor, run->t_ms);
        if (run->t_ms >= run->look_at_ms)
            stores_look(run);
        if (may_decide(run)) {
            run->decide_at_ms = INT64_MAX;
            row->decide(run);
        } else {
            loads_draw(run);
        }
        pass(run, next_event(run));
    }
    stores_look(run);
    stores_end(run);
    account_end(run);
    if (run->home->tank_count > 0)
        run->outcome->thermostat_open_min = (double)run->open_ms / MS_PER_MIN;
    run->outcome->seconds = (double)(run->end_ms - run->days->first.ms) / MS_PER_S;
}

bool trial_run(const struct trial_home *home, const struct days *days,
               const struct trial_plan *plan, trial_trace *trace, void *context,
               struct trial_outcome *outcome, struct trouble *trouble)
{
    if (!check(home, days, plan, trouble))
        return false;
    struct run *run = malloc(sizeof *run);
    struct sluice *sluice = plan->strategy == STRATEGY_SLUICE ? sluice_new() : NULL;
    bool made = run && (sluice || plan->strategy != STRATEGY_SLUICE);
    if (made) {
        *outcome = (struct trial_outcome){0};
        *run =
            (struct run){.home = home,
                         .days = days,
                         .plan = plan,
                         .trace = trace,
                         .context = context,
                         .outcome = outcome,
                         .sluice = sluice,
                         .t_ms = days->first.ms,
                         .look_ms = (int64_t)(plan->look_s > 0 ? plan->look_s : LOOK_S) * MS_PER_S};
        cursor_begin(&run->cursor, home, days);
        run->end_ms = run->cursor.end_ms;
        go(run);
    }
    free(run);
    sluice_free(sluice);
    return made || trouble_set(trouble, "", "out of memory");
}
