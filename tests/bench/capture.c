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

#include "../trial/reference_home.h"
#include "quote/optimum.h"
#include "refine/refine.h"
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
        .min_on_ms = setup->follows ? 0 : 20 * MS_PER_MIN,
        .min_off_ms = setup->follows ? 0 : 10 * MS_PER_MIN,
        .group = RULES_NO_GROUP,
        .retry_ms = 30 * MS_PER_MIN,
        .water = {.volume_ml = 315000,
                  .probed = setup->probed,
                  .set_mc = 70000,
                  .hysteresis_mc = 6000,
                  .cold_mc = 18000,
                  .room_mc = 20000,
                  .loss_mwh = 2660000,
                  .usable_permille = 481, /* mixed: down to 45 C */
                  .missing_micro = 10000000},
    };
    if (setup->start_permille != RULES_START_LEARNT) { /* without learning a floor keeps it hot */
        load.floor_count = 1;
        load.floor[0] = (struct floor_settings){.measure = FLOOR_SATISFIED,
                                                .grid = FLOOR_IN_CHEAPEST_HOURS,
                                                .weekdays = WEEKDAYS_ALL,
                                                .by_s = 6 * 3600,
                                                .reserve_ms = 30 * MS_PER_MIN,
                                                .amount = 3 * MS_PER_HOUR};
    }
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

struct result {
    double possible, share;
    struct trial_outcome outcome;
};

struct home_case {
    struct setup setup;
    struct days days;
    struct tariff tariff;
    struct trial_home home;
    struct load_settings load;
    struct rules_settings rules;
    uint16_t order[1];
    struct trial_outcome always;
    double bound;
};

static void must(bool ok, const struct trouble *trouble)
{
    if (ok)
        return;
    fprintf(stderr, "capture: %s\n", trouble->text);
    exit(1);
}

static struct trial_plan plan_of(const struct home_case *at, enum strategy strategy)
{
    return (struct trial_plan){.strategy = strategy,
                               .rules = &at->rules,
                               .reads_tank_temperature = at->setup.probed,
                               .look_s = at->setup.in_steps ? STEP_S : 60,
                               .in_steps = at->setup.in_steps};
}

static struct result run(struct home_case *at, const struct trial_plan *plan)
{
    struct result result;
    struct trouble trouble = {0};
    must(trial_run(&at->home, &at->days, plan, NULL, NULL, &result.outcome, &trouble), &trouble);
    double base = cost_of(&at->always, &at->tariff);
    result.possible = base - at->bound;
    result.share = 100 * (base - cost_of(&result.outcome, &at->tariff)) / result.possible;
    return result;
}

static struct result best_diverter(struct home_case *at)
{
    struct result best = {.share = -INFINITY};
    for (double below_c = 46; below_c < 63; below_c += 4) {
        struct trial_plan plan = plan_of(at, STRATEGY_DIVERTER);
        plan.boost = (struct trial_boost){.there = true, .below_c = below_c, .to_c = below_c + 3};
        struct result result = run(at, &plan);
        if (result.share > best.share)
            best = result;
    }
    return best;
}

static void begin_case(struct home_case *at, const struct setup *setup)
{
    struct trouble trouble = {0};
    at->setup = *setup;
    if (!load_days(setup, &at->days))
        exit(1);
    at->tariff = tariff_of(setup->by_time);
    reference_home(&at->home, &zone_utc, &at->tariff);
    at->load = heater_load(setup);
    at->order[0] = 0;
    at->rules = (struct rules_settings){.load_count = 1,
                                        .loads = &at->load,
                                        .order = at->order,
                                        .zone = zone_utc,
                                        .tariff = at->tariff,
                                        .phase_count = 1,
                                        .voltage_mv = 240000};
    struct trial_plan always = plan_of(at, STRATEGY_ALWAYS_ON);
    must(trial_run(&at->home, &at->days, &always, NULL, NULL, &at->always, &trouble), &trouble);
    at->bound = foresight(&at->home, &at->days, setup->follows, setup->in_steps);
}

static void tell(const struct home_case *at, const char *what, const struct result *result)
{
    const struct trial_outcome *o = &result->outcome;
    printf("%s home %d %.1f kWp %s draws %s possible %.1f captured %.2f %% unmet %.2f kWh spoilt "
           "%ld over %ld cycles %ld coldest %.1f\n",
           what, at->setup.home, at->setup.kwp, at->setup.by_time ? "by time" : "flat",
           at->setup.draws ? "random" : "regular", result->possible, result->share, o->unmet_kwh,
           (long)o->spoilt_showers, (long)at->always.spoilt_showers, (long)o->cycles, o->coldest_c);
    fflush(stdout);
}

static void one_case(const struct setup *setup)
{
    struct home_case at;
    begin_case(&at, setup);
    struct trial_plan plan = plan_of(&at, STRATEGY_SLUICE);
    struct result result = run(&at, &plan);
    tell(&at, "sluice", &result);
    if (setup->follows) {
        result = best_diverter(&at);
        tell(&at, "diverter", &result);
    }
    days_free(&at.days);
}

static double cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double replay_s(struct home_case *at, const struct days *days)
{
    struct trial_plan plan = plan_of(at, STRATEGY_SLUICE);
    struct trial_outcome outcome;
    struct trouble trouble = {0};
    double from = cpu_s();
    must(trial_run(&at->home, days, &plan, NULL, NULL, &outcome, &trouble), &trouble);
    return cpu_s() - from;
}

/* What a home-year takes on one core: replayed in minutes and in seconds, and its bound. */
static void time_it(struct setup *setup)
{
    struct home_case at;
    struct days fine, minutes;
    setup->home = 1;
    setup->kwp = 6.6;
    begin_case(&at, setup);
    if (!refine_days(&at.days, &(struct refine_settings){.seed = 1}, &fine) ||
        !days_in_steps(&fine, 60, &minutes)) {
        fprintf(stderr, "capture: out of memory\n");
        exit(1);
    }
    printf("figure replay_home_year_minutes %.2f s (%zu rows)\n", replay_s(&at, &minutes),
           minutes.count);
    printf("figure replay_home_year_seconds %.2f s (steps of 1 s, %zu rows that last)\n",
           replay_s(&at, &fine), fine.count);
    double from = cpu_s();
    foresight(&at.home, &at.days, false, false);
    printf("figure optimum_home_year %.2f s (steps of 5 min)\n", cpu_s() - from);
    days_free(&minutes);
    days_free(&fine);
    days_free(&at.days);
}

int main(int argc, char *argv[])
{
    struct setup setup = {.start_permille = RULES_START_LEARNT};
    int first = 1, last = 8;
    bool timed = false;
    for (int i = 1; i + 1 < argc; i += 2) {
        const char *value = argv[i + 1];
        if (strcmp(argv[i], "--homes") == 0)
            setup.homes = value;
        else if (strcmp(argv[i], "--draws") == 0)
            setup.draws = value;
        else if (strcmp(argv[i], "--first") == 0)
            first = atoi(value);
        else if (strcmp(argv[i], "--last") == 0)
            last = atoi(value);
        else if (strcmp(argv[i], "--follows") == 0)
            setup.follows = atoi(value);
        else if (strcmp(argv[i], "--probed") == 0)
            setup.probed = atoi(value);
        else if (strcmp(argv[i], "--start") == 0)
            setup.start_permille = (uint16_t)atoi(value);
        else if (strcmp(argv[i], "--steps") == 0)
            setup.in_steps = atoi(value);
        else if (strcmp(argv[i], "--time") == 0)
            timed = atoi(value);
    }
    if (timed) {
        time_it(&setup);
        return 0;
    }
    for (setup.home = first; setup.home <= last; setup.home++)
        for (int roof = 0; roof < 2; roof++)
            for (int t = 0; t < 2; t++) {
                setup.kwp = roof ? 6.6 : 3;
                setup.by_time = t;
                one_case(&setup);
            }
    return 0;
}
