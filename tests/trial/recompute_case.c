/* recompute_case.c - the strategies over a file of days, printed for recompute.py. */
#include <stdio.h>
#include <stdlib.h>

#include "reference_home.h"
#include "trial/run.h"

#define EVERY_DAY WEEKDAYS_ALL

static const struct tariff by_hour = {
    .count = 4,
    .band = {{.price_micro = 200000},
             {.price_micro = 280000, .hours = {1, {{7 * 3600, 15 * 3600, EVERY_DAY}}}},
             {.price_micro = 450000, .hours = {1, {{15 * 3600, 21 * 3600, EVERY_DAY}}}},
             {.price_micro = 280000, .hours = {1, {{21 * 3600, 22 * 3600, EVERY_DAY}}}}},
    .feed_in_micro = 50000,
    .controlled = {.there = true,
                   .count = 1,
                   .band = {{.price_micro = 150000}},
                   .hours = {1, {{22 * 3600, 7 * 3600, EVERY_DAY}}}},
};

struct named_plan {
    const char *name;
    struct trial_plan plan;
};

static const struct named_plan plans[] = {
    {"always", {.strategy = STRATEGY_ALWAYS_ON}},
    {"timer", {.strategy = STRATEGY_TIMER, .hours = {1, {{10 * 3600, 15 * 3600, EVERY_DAY}}}}},
    {"off-peak", {.strategy = STRATEGY_CONTROLLED}},
    {"diverter",
     {.strategy = STRATEGY_DIVERTER, .boost = {.there = true, .below_c = 46, .to_c = 49}}},
};

static void run(const struct trial_home *home, const struct days *days,
                const struct named_plan *named)
{
    struct trial_plan plan = named->plan;
    struct trial_outcome outcome;
    struct trouble trouble;
    plan.in_steps = true;
    plan.look_s = 300;
    if (!trial_run(home, days, &plan, NULL, NULL, &outcome, &trouble)) {
        fprintf(stderr, "%s\n", trouble.text);
        exit(EXIT_FAILURE);
    }
    printf("%s %.9f %.9f %.9f %.9f %.9f\n", named->name, outcome.bill, outcome.heat_sun_kwh,
           outcome.heat_grid_kwh, outcome.unmet_kwh, outcome.stored_kwh);
}

int main(int argc, char **argv)
{
    struct days_options options = {.zone = &zone_utc, .array_kwp = 4};
    struct days_report report;
    struct days days;
    struct trial_home home;
    if (argc != 2 || !days_read(argv[1], &options, &days, &report))
        return EXIT_FAILURE;
    reference_home(&home, &zone_utc, &by_hour);
    for (size_t i = 0; i < sizeof plans / sizeof plans[0]; i++)
        run(&home, &days, &plans[i]);
    days_free(&days);
    return EXIT_SUCCESS;
}
