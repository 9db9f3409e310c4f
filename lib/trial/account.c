/* account.c - where each joule went, and what it cost.
 *
 * Power is summed as it is; the bill takes whole milliwatt-hours, from one moment at
 * which a price, a demand window or a day may change to the next, and what is left of a
 * milliwatt-hour waits for the next. The balance at the end is struck over the bill's
 * own counters, so it would show energy lost on the way there too. */
#include <math.h>

#include "trial/run_inside.h"

enum { DEMAND_WINDOW_MS = 30 * MS_PER_MIN };

static int64_t next_edge(const struct run *run, int64_t wall_ms)
{
    const struct tariff *tariff = run->home->tariff;
    struct wall wall = {wall_ms};
    int64_t edge_ms = tariff_next_edge(tariff, run->home->zone, wall).ms;
    int64_t day_ms =
        (int64_t)local_of_wall(run->home->zone, wall).second * MS_PER_S + wall_ms % MS_PER_S;
    for (int d = 0; d < tariff->demand_count; d++) {
        int64_t window_ms = tariff->demand[d].window_ms;
        if (window_ms == 0)
            window_ms = DEMAND_WINDOW_MS;
        int64_t end_ms = wall_ms + window_ms - day_ms % window_ms;
        if (end_ms < edge_ms)
            edge_ms = end_ms;
    }
    return edge_ms;
}

void account_begin(struct run *run)
{
    run->account = (struct run_account){.from_ms = run->t_ms};
    run->account.edge_ms = next_edge(run, run->t_ms);
}

static int64_t whole_mwh(double *pending_j)
{
    int64_t mwh = (int64_t)(*pending_j / J_PER_MWH);
    *pending_j -= (double)mwh * J_PER_MWH;
    return mwh;
}

void account_edge(struct run *run)
{
    struct run_account *account = &run->account;
    int64_t import = whole_mwh(&account->import_j), export = whole_mwh(&account->export_j);
    int64_t controlled = whole_mwh(&account->controlled_j);
    bill_add(&account->bill, run->home->tariff, run->home->zone, (struct wall){account->from_ms},
             (struct wall){run->t_ms}, import, export, controlled);
    account->from_ms = run->t_ms;
    account->edge_ms = next_edge(run, run->t_ms);
}

/* The sun first serves the household, then the loads, each by its share. */
static void split(struct run *run, double dt_s)
{
    double spare_w = run->solar_w - run->cursor.use_w;
    double sun_share = spare_w <= 0 ? 0 : spare_w < run->main_w ? spare_w / run->main_w : 1;
    for (int i = 0; i < run->home->load_count; i++) {
        struct run_load *load = &run->load[i];
        double j = load->draw_w * dt_s, sun_j = load->on_controlled ? 0 : j * sun_share;
        load->sun_j += sun_j;
        load->grid_j += j - sun_j;
        run->account.loads_j += j;
    }
}

void account_pass(struct run *run, double dt_s)
{
    struct run_account *account = &run->account;
    *(run->grid_w > 0 ? &account->import_j : &account->export_j) += fabs(run->grid_w) * dt_s;
    account->controlled_j += run->controlled_w * dt_s;
    account->use_j += run->cursor.use_w * dt_s;
    account->solar_j += run->solar_w * dt_s;
    if (run->main_w > 0 || run->controlled_w > 0)
        split(run, dt_s);
}

static double kwh_of(const int64_t mwh[])
{
    double sum = 0;
    for (int b = 0; b <= TARIFF_BANDS_MAX; b++)
        sum += 1e-6 * (double)mwh[b];
    return sum;
}

static void tell_load(struct run *run, int i)
{
    const struct run_load *load = &run->load[i];
    struct trial_outcome *outcome = run->outcome;
    outcome->load[i] = (struct trial_load_outcome){
        .sun_kwh = load->sun_j / J_PER_KWH,
        .grid_kwh = load->grid_j / J_PER_KWH,
        .live_s = load->live_ms / MS_PER_S,
        .draws_s = load->draws_ms / MS_PER_S,
        .cycles = load->cycles,
    };
    if (run->home->load[i].model != TRIAL_HEATER)
        return;
    outcome->heat_sun_kwh += load->sun_j / J_PER_KWH;
    outcome->heat_grid_kwh += load->grid_j / J_PER_KWH;
    if (load->cycles > outcome->cycles)
        outcome->cycles = load->cycles;
}

/* Four balances: at the meters, at the elements, in the tanks, in the cars. */
static double residual(const struct run *run)
{
    const struct run_account *account = &run->account;
    const struct trial_outcome *outcome = run->outcome;
    double meters_j = account->use_j + account->loads_j - account->solar_j;
    meters_j -= J_PER_KWH * (outcome->import_kwh + outcome->controlled_kwh - outcome->export_kwh);
    double heat_j = J_PER_KWH * (outcome->heat_sun_kwh + outcome->heat_grid_kwh);
    double tanks_j = -J_PER_KWH * (outcome->tapped_kwh + outcome->lost_kwh + outcome->stored_kwh);
    for (int k = 0; k < run->home->tank_count; k++) {
        heat_j -= run->store[k].heated_j;
        tanks_j += run->store[k].heater.tank.heated_j;
    }
    double cars_j = 0;
    for (int i = 0; i < run->home->load_count; i++) {
        const struct trial_load *spec = &run->home->load[i];
        const struct charger *car = &run->load[i].charger;
        if (spec->model == TRIAL_CHARGER)
            cars_j +=
                fabs((run->load[i].sun_j + run->load[i].grid_j) * spec->charger.efficiency -
                     J_PER_KWH * (car->charged_kwh - spec->charger_start_kwh + car->driven_kwh));
    }
    double flowed_j = account->use_j + account->solar_j + account->loads_j;
    double off_j = fabs(meters_j) + fabs(heat_j) + fabs(tanks_j) + cars_j;
    return flowed_j > 0 ? off_j / flowed_j : 0;
}

void account_end(struct run *run)
{
    struct trial_outcome *outcome = run->outcome;
    const struct bill *bill = &run->account.bill;
    if (run->t_ms > run->account.from_ms)
        account_edge(run);
    outcome->import_kwh = kwh_of(bill->import_mwh);
    outcome->export_kwh = kwh_of(bill->export_mwh);
    outcome->controlled_kwh = kwh_of(bill->controlled_mwh);
    outcome->use_kwh = run->account.use_j / J_PER_KWH;
    outcome->solar_kwh = run->account.solar_j / J_PER_KWH;
    outcome->bill_parts = bill_parts(bill, run->home->tariff);
    outcome->bill = 1e-6 * (double)outcome->bill_parts.total_micro;
    outcome->unmet_cost = outcome->unmet_kwh * run->home->unmet_per_kwh;
    outcome->cost = outcome->bill + outcome->unmet_cost;
    for (int i = 0; i < run->home->load_count; i++)
        tell_load(run, i);
    outcome->residual = residual(run);
}
