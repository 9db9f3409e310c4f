/* layered.c - what a contactor with a learnt start saves in the tanks that people have,
 * beside the clock timer that the electrician would otherwise have fitted.
 *
 * A tank of 315 L in 16 layers at 65 °C, a year of hours of a measured home made into
 * minutes, roofs of 3 and 6.6 kWp, a flat and a time-of-use tariff; the settings as shipped
 * but for a start that is learnt and a weekly floor. The draws are profile M each day, or
 * another program's random ones. Beside it stand always on, and the best of seven usual
 * timers, chosen afterwards among those that spoil at most one shower a year more than
 * always on. Heat that was wanted and missing weighs 10 a kWh for all. One line a case. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "house/tap.h"
#include "refine/refine.h"
#include "trial/run.h"

enum { SPOILT_MORE = 1, SEED = 1, BIG_W = 3600 };
#define HEAT_UP_MS (6 * (int64_t)MS_PER_HOUR) /* from cold, with BIG_W */

struct setup {
    const char *homes, *draws;
    double kwp;
    bool by_time;
    int home;
    int32_t element_w, usable_permille;
};

#define DAILY(from, to)                                                                            \
    {                                                                                              \
        (from) * 3600, (to)*3600, WEEKDAYS_ALL                                                     \
    }

static const struct hours timers[] = {
    {1, {DAILY(10, 15)}}, {1, {DAILY(9, 16)}},
    {1, {DAILY(11, 15)}}, {2, {DAILY(10, 15), DAILY(3, 6)}},
    {1, {DAILY(22, 6)}},  {2, {DAILY(10, 15), DAILY(17, 19)}},
    {1, {DAILY(0, 6)}},
};
enum { TIMERS = sizeof timers / sizeof timers[0] };

static struct tariff tariff_of(bool by_time)
{
    struct tariff tariff = {.count = 1, .band = {{.price_micro = 300000}}, .feed_in_micro = 50000};
    if (!by_time)
        return tariff;
    tariff.band[0].price_micro = 200000;
    tariff.band[1] = (struct tariff_band){280000, {1, {DAILY(7, 15)}}, 0, 0};
    tariff.band[2] = (struct tariff_band){450000, {1, {DAILY(15, 21)}}, 0, 0};
    tariff.band[3] = (struct tariff_band){280000, {1, {DAILY(21, 22)}}, 0, 0};
    tariff.count = 4;
    return tariff;
}

static void must(bool ok, const char *text)
{
    if (ok)
        return;
    fprintf(stderr, "layered: %s\n", text);
    exit(1);
}

static void load_days(const struct setup *setup, struct days *minutes)
{
    char path[512];
    struct days coarse, fine;
    static struct days_report report;
    struct days_options options = {.zone = &zone_utc, .array_kwp = setup->kwp};
    report = (struct days_report){0};
    snprintf(path, sizeof path, "%s/home%02d.csv", setup->homes, setup->home);
    bool ok = days_read(path, &options, &coarse, &report);
    if (ok && setup->draws)
        ok = days_read_draws(setup->draws, &options, &coarse, &report);
    must(ok, report.count > 0 ? report.item[0].text : path);
    must(refine_days(&coarse, &(struct refine_settings){.seed = SEED}, &fine), "no memory");
    must(days_in_steps(&fine, 60, minutes), "no memory");
    days_free(&fine);
    days_free(&coarse);
}

static struct load_settings load_of(const struct setup *setup)
{
    return (struct load_settings){
        .kind = LOAD_SWITCHED,
        .priority = 1,
        .phases = 1,
        .power_w = setup->element_w,
        .uses_spare = true,
        .thermostat = true,
        .start_permille = RULES_START_LEARNT,
        .stop_margin_w = 200,
        .settle_start_ms = 3 * MS_PER_MIN,
        .settle_stop_ms = 90 * MS_PER_S,
        .min_on_ms = 10 * MS_PER_MIN,
        .min_off_ms = 5 * MS_PER_MIN,
        .starts_per_hour = 6,
        .group = RULES_NO_GROUP,
        .retry_ms = 45 * MS_PER_MIN,
        .floor_count = 1,
        .floor[0] = {.measure = FLOOR_SATISFIED,
                     .grid = FLOOR_IN_CHEAPEST_HOURS,
                     .every_days = 7,
                     .by_s = 17 * 3600,
                     .reserve_ms = 30 * MS_PER_MIN,
                     .amount = HEAT_UP_MS * BIG_W / setup->element_w},
        .water = {.volume_ml = 315000,
                  .set_mc = 65000,
                  .hysteresis_mc = 6000,
                  .cold_mc = 16000,
                  .room_mc = 20000,
                  .loss_mwh = 2660000,
                  .usable_permille = setup->usable_permille,
                  .missing_micro = 10000000},
    };
}

struct home_case {
    struct setup setup;
    struct days days;
    struct tariff tariff;
    struct trial_home home;
    struct load_settings load;
    struct rules_settings rules;
    uint16_t order[1];
};

static void begin_case(struct home_case *at, const struct setup *setup, const struct days *days)
{
    at->setup = *setup;
    at->days = *days;
    at->tariff = tariff_of(setup->by_time);
    trial_home_usual(&at->home, &zone_utc, &at->tariff, 315, setup->element_w);
    at->home.unmet_per_kwh = 10;
    if (!setup->draws)
        trial_taps_profile(&at->home.taps, tap_profile_m, tap_profile_m_count);
    at->load = load_of(setup);
    at->order[0] = 0;
    at->rules = (struct rules_settings){.load_count = 1,
                                        .loads = &at->load,
                                        .order = at->order,
                                        .zone = zone_utc,
                                        .tariff = at->tariff,
                                        .phase_count = 1,
                                        .margin_w = 100,
                                        .probes_per_day = 6,
                                        .probe_wait_ms = 25 * MS_PER_MIN,
                                        .start_gap_ms = 5 * MS_PER_S,
                                        .voltage_mv = 230000};
}

static struct trial_outcome run(const struct home_case *at, const struct trial_plan *plan)
{
    struct trial_outcome outcome;
    struct trouble trouble = {0};
    must(trial_run(&at->home, &at->days, plan, NULL, NULL, &outcome, &trouble), trouble.text);
    return outcome;
}

/* Heat left in the tank counts at the lowest price. */
static double cost_of(const struct home_case *at, const struct trial_outcome *outcome)
{
    double least = 1;
    for (int k = 0; k < at->tariff.count; k++)
        least = fmin(least, 1e-6 * at->tariff.band[k].price_micro);
    return outcome->cost - least * outcome->stored_kwh;
}

static double saved_by_timer(const struct home_case *at, const struct trial_outcome *always)
{
    double least = INFINITY;
    for (int k = 0; k < TIMERS; k++) {
        struct trial_plan plan = {.strategy = STRATEGY_TIMER, .hours = timers[k]};
        struct trial_outcome outcome = run(at, &plan);
        if (outcome.spoilt_showers <= always->spoilt_showers + SPOILT_MORE)
            least = fmin(least, cost_of(at, &outcome));
    }
    return cost_of(at, always) - least;
}

/* Over the best timer with an element of the usual 3.6 kW, and over the best with this one:
 * the savings are both against always on with 3.6 kW. */
static void one_case(const struct setup *setup, const struct days *days)
{
    static struct home_case big, at;
    struct setup usual = *setup;
    usual.element_w = BIG_W;
    begin_case(&big, &usual, days);
    begin_case(&at, setup, days);
    struct trial_outcome always = run(&big, &(struct trial_plan){.strategy = STRATEGY_ALWAYS_ON});
    double by_timer = saved_by_timer(&big, &always), by_its_timer = by_timer;
    if (setup->element_w != BIG_W)
        by_its_timer = saved_by_timer(&at, &always);
    for (int probed = 0; probed < 2; probed++) {
        at.load.water.probed = probed;
        at.load.water.probe_permille =
            probed ? (int32_t)lround(1000 * at.home.tank[0].heater.sensor_height) : 0;
        struct trial_plan plan = {.strategy = STRATEGY_SLUICE,
                                  .rules = &at.rules,
                                  .seed = SEED,
                                  .reads_tank_temperature = probed};
        struct trial_outcome o = run(&at, &plan);
        double saved = cost_of(&big, &always) - cost_of(&at, &o);
        printf("home %d %.1f kWp %s draws %s element %d sensor %d saved %.2f timer %.2f its %.2f "
               "spoilt %ld over %ld cycles %ld coldest %.1f unmet %.2f bought %.0f sun %.0f\n",
               setup->home, setup->kwp, setup->by_time ? "time" : "flat",
               setup->draws ? "random" : "regular", setup->element_w, probed, saved, by_timer,
               by_its_timer, (long)o.spoilt_showers, (long)always.spoilt_showers, (long)o.cycles,
               o.coldest_c, o.unmet_kwh, o.heat_grid_kwh, o.heat_sun_kwh);
        fflush(stdout);
    }
}

int main(int argc, char *argv[])
{
    struct setup setup = {.element_w = BIG_W, .usable_permille = 750};
    int first = 1, last = 8;
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
        else if (strcmp(argv[i], "--element") == 0)
            setup.element_w = atoi(value);
        else if (strcmp(argv[i], "--usable") == 0)
            setup.usable_permille = atoi(value);
    }
    for (setup.home = first; setup.home <= last; setup.home++)
        for (int roof = 0; roof < 2; roof++) {
            struct days days;
            setup.kwp = roof ? 6.6 : 3;
            load_days(&setup, &days);
            for (int t = 0; t < 2; t++) {
                setup.by_time = t;
                one_case(&setup, &days);
            }
            days_free(&days);
        }
    return 0;
}
