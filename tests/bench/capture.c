/* capture.c - how much of the possible saving each strategy captures, over homes.
 *
 * The reference calculation: a one-zone tank of 315 L, 3.6 kW, five-minute steps, a year
 * of hours of a measured home (a composite: the draws are of another, or made up, and
 * whether its use holds water heating isn't known), roofs of 3 and 6.6 kWp, a flat and a
 * time-of-use tariff. Each strategy's saving against always on, as a share of what perfect
 * foresight saves with the same kind of element. One line a case. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "trial/optimum.h"
#include "trial/run.h"

enum { STEP_S = 300 };

struct setup {
    const char *homes, *draws;
    double kwp;
    bool by_time, follows, probed, in_steps;
    int home;
    uint16_t start_permille;
};

static struct tariff tariff_of(bool by_time)
{
    struct tariff tariff = {.count = 1, .band = {{.price_micro = 300000}}, .feed_in_micro = 50000};
    if (!by_time)
        return tariff;
    tariff.band[0].price_micro = 200000;
    tariff.band[1] = (struct tariff_band){280000, {1, {{7 * 3600, 15 * 3600, WEEKDAYS_ALL}}}, 0, 0};
    tariff.band[2] =
        (struct tariff_band){450000, {1, {{15 * 3600, 21 * 3600, WEEKDAYS_ALL}}}, 0, 0};
    tariff.band[3] =
        (struct tariff_band){280000, {1, {{21 * 3600, 22 * 3600, WEEKDAYS_ALL}}}, 0, 0};
    tariff.count = 4;
    return tariff;
}

static bool load_days(const struct setup *setup, struct days *days)
{
    char path[512];
    struct days_report *report = calloc(1, sizeof *report);
    struct days_options options = {.zone = &zone_utc, .array_kwp = setup->kwp};
    snprintf(path, sizeof path, "%s/home%02d.csv", setup->homes, setup->home);
    bool ok = days_read(path, &options, days, report);
    if (ok && setup->draws)
        ok = days_read_draws(setup->draws, &options, days, report);
    for (int i = 0; i < report->count; i++)
        if (!ok)
            fprintf(stderr, "%s: %s\n", report->item[i].place, report->item[i].text);
    free(report);
    return ok;
}

static struct load_settings heater_load(const struct setup *setup)
{
    struct load_settings load = {
        .kind = setup->follows ? LOAD_SETPOINT : LOAD_SWITCHED,
        .priority = 1,
        .phases = 1,
        .power_w = 3600,
        .least_w = 50,
        .step_w = 1,
        .uses_spare = true,
        .thermostat = true,
        .metered = setup->follows,
        .start_permille = setup->start_permille,
        .stop_margin_w = 50,
        .settle_start_ms = 60000,
        .settle_stop_ms = 60000,
        .min_on_ms = setup->follows ? 0 : 10 * MS_PER_MIN,
        .min_off_ms = setup->follows ? 0 : 5 * MS_PER_MIN,
        .group = RULES_NO_GROUP,
        .retry_ms = 30 * MS_PER_MIN,
        .probed = setup->probed,
        .water = {.volume_ml = 315000,
                  .set_mc = 70000,
                  .hysteresis_mc = 6000,
                  .cold_mc = 18000,
                  .room_mc = 20000,
                  .loss_mwh = 2660000,
                  .usable_permille = 481, /* mixed: down to 45 C */
                  .missing_micro = 10000000},
    };
    return load;
}

static double foresight(const struct trial_home *home, const struct days *days, bool follows,
                        bool in_steps)
{
    size_t count = days->steps * (size_t)days->step_s / STEP_S;
    struct optimum_step *step = calloc(count, sizeof *step);
    struct days even;
    if (!step || !days_in_steps(days, STEP_S, &even))
        abort();
    double left = 1;
    for (size_t i = 0; i < count; i++) {
        struct wall from = {days->first.ms + (int64_t)i * STEP_S * MS_PER_S};
        struct wall to = {from.ms + (int64_t)STEP_S * MS_PER_S};
        struct local local = local_of_wall(home->zone, from);
        step[i] = (struct optimum_step){
            .import_price = 1e-6 * tariff_price(home->tariff, &local),
            .feed_in_price = 1e-6 * tariff_feed_in(home->tariff, &local),
            .use_w = even.use_w[i],
            .solar_w = even.solar_w[i],
            .draw_l = trial_litres(home, days, from, to),
            .inlet_c = trial_inlet_c(home, from),
        };
        left = fmin(left, step[i].import_price);
    }
    struct optimum_problem problem = {.step = step,
                                      .count = count,
                                      .step_s = STEP_S,
                                      .volume_l = 315,
                                      .loss_kwh_day = 2.66,
                                      .ambient_c = 20,
                                      .start_c = home->tank[0].start_c,
                                      .full_c = 70.01,
                                      .wanted_c = 45,
                                      .element_w = 3600,
                                      .element = follows ? OPTIMUM_PROPORTIONAL : OPTIMUM_SWITCHED,
                                      .spreads_last = !follows && in_steps,
                                      .within_step = !in_steps,
                                      .unmet_price = 10,
                                      .left_price = left};
    struct trouble trouble;
    struct optimum *optimum = optimum_new(&problem, &trouble);
    double cost = optimum ? optimum_cost(optimum) : NAN;
    if (!optimum)
        fprintf(stderr, "%s\n", trouble.text);
    optimum_free(optimum);
    days_free(&even);
    free(step);
    return cost;
}

/* Heat left in the tank counts as in foresight(): at the lowest price. */
static double cost_of(const struct trial_outcome *outcome, const struct tariff *tariff)
{
    double least = 1;
    for (int k = 0; k < tariff->count; k++)
        least = fmin(least, 1e-6 * tariff->band[k].price_micro);
    return outcome->cost - least * outcome->stored_kwh;
}

int main(int argc, char *argv[])
{
    struct setup setup = {.in_steps = true, .start_permille = RULES_START_LEARNT};
    int first = 1, last = 8;
    const char *draws[3] = {"", NULL, NULL};
    int kinds = 1;
    for (int i = 1; i + 1 < argc; i += 2) {
        if (!strcmp(argv[i], "--homes"))
            setup.homes = argv[i + 1];
        else if (!strcmp(argv[i], "--draws") && kinds < 3)
            draws[kinds++] = argv[i + 1];
        else if (!strcmp(argv[i], "--first"))
            first = atoi(argv[i + 1]);
        else if (!strcmp(argv[i], "--last"))
            last = atoi(argv[i + 1]);
        else if (!strcmp(argv[i], "--follows"))
            setup.follows = atoi(argv[i + 1]);
        else if (!strcmp(argv[i], "--probed"))
            setup.probed = atoi(argv[i + 1]);
        else if (!strcmp(argv[i], "--start"))
            setup.start_permille = (uint16_t)atoi(argv[i + 1]);
        else if (!strcmp(argv[i], "--steps"))
            setup.in_steps = atoi(argv[i + 1]);
        else if (!strcmp(argv[i], "--only")) {
            draws[0] = argv[i + 1];
        }
    }
    for (int k = 0; k < kinds; k++)
        for (setup.home = first; setup.home <= last; setup.home++)
            for (int roof = 0; roof < 2; roof++)
                for (int t = 0; t < 2; t++) {
                    struct days days;
                    struct trouble trouble = {0};
                    setup.kwp = roof ? 6.6 : 3;
                    setup.by_time = t;
                    setup.draws = draws[k][0] ? draws[k] : NULL;
                    if (!load_days(&setup, &days))
                        return 1;
                    struct tariff tariff = tariff_of(t);
                    struct trial_home home;
                    trial_home_reference(&home, &zone_utc, &tariff);
                    struct load_settings load = heater_load(&setup);
                    uint16_t order[1] = {0};
                    struct rules_settings rules = {.load_count = 1,
                                                   .loads = &load,
                                                   .order = order,
                                                   .zone = zone_utc,
                                                   .tariff = tariff,
                                                   .phase_count = 1,
                                                   .voltage_mv = 240000};
                    struct trial_plan always = {.strategy = STRATEGY_ALWAYS_ON,
                                                .look_s = setup.in_steps ? STEP_S : 60,
                                                .in_steps = setup.in_steps};
                    struct trial_plan plan = {.strategy = STRATEGY_SLUICE,
                                              .rules = &rules,
                                              .reads_tank_temperature = setup.probed,
                                              .look_s = setup.in_steps ? STEP_S : 60,
                                              .in_steps = setup.in_steps};
                    struct trial_outcome a, b;
                    if (!trial_run(&home, &days, &always, NULL, NULL, &a, &trouble) ||
                        !trial_run(&home, &days, &plan, NULL, NULL, &b, &trouble)) {
                        fprintf(stderr, "%s\n", trouble.text);
                        return 1;
                    }
                    double bound = foresight(&home, &days, setup.follows, setup.in_steps);
                    double base = cost_of(&a, &tariff), possible = base - bound;
                    double share = 100 * (base - cost_of(&b, &tariff)) / possible;
                    printf(
                        "case %d home %d %.1f kWp %s possible %.1f captured %.2f %% unmet %.2f kWh "
                        "spoilt %ld over %ld cycles %ld coldest %.1f\n",
                        k, setup.home, setup.kwp, t ? "by time" : "flat", possible, share,
                        b.unmet_kwh, (long)b.spoilt_showers, (long)a.spoilt_showers, (long)b.cycles,
                        b.coldest_c);
                    fflush(stdout);
                    days_free(&days);
                }
    return 0;
}
