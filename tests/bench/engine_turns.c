/* engine_turns.c - how many load-turns a second one core takes, stepping second by
 * second through days of sun and use, with as many loads as the argument says.
 *
 * Prints the figure and, beside it, the same loop without the engine: what the
 * days themselves cost, which is taken off. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "rules/rules.h"

enum { DAY_S = 86400, BEGIN_S = 9 * 3600, NEWS_MAX = 8 };

struct house {
    uint16_t count;
    struct load_settings *loads;
    struct load_memory *memory;
    uint16_t *order;
    struct decision *decisions;
    struct confirmation *confirmed;
    struct rules_settings settings;
    struct rules_memory engine;
};

static double cpu_seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t); /* of this core, whoever else is busy */
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static struct load_settings a_load(uint16_t index, uint16_t count)
{
    return (struct load_settings){
        .kind = LOAD_SWITCHED,
        .priority = (uint16_t)(index + 1),
        .phases = 1,
        .power_w = count > NEWS_MAX ? 20 : 3600 / (index + 1),
        .uses_spare = true,
        .thermostat = true,
        .start_permille = 1000,
        .stop_margin_w = count > NEWS_MAX ? 2 : 200,
        .settle_start_ms = 3 * MS_PER_MIN,
        .settle_stop_ms = 90 * MS_PER_S,
        .min_on_ms = 10 * MS_PER_MIN,
        .min_off_ms = 5 * MS_PER_MIN,
        .group = RULES_NO_GROUP,
        .retry_ms = 30 * MS_PER_MIN,
        .floor_count = 1,
        .floor = {{.measure = FLOOR_TIME,
                   .weekdays = WEEKDAYS_ALL,
                   .by_s = 17 * 3600,
                   .reserve_ms = 30 * MS_PER_MIN,
                   .amount = 3 * MS_PER_HOUR}},
    };
}

static void build(struct house *house, uint16_t count)
{
    struct trouble trouble;
    *house = (struct house){.count = count};
    house->loads = calloc(count, sizeof(*house->loads));
    house->memory = calloc(count, sizeof(*house->memory));
    house->order = calloc(count, sizeof(*house->order));
    house->decisions = calloc(count, sizeof(*house->decisions));
    house->confirmed = calloc(count, sizeof(*house->confirmed));
    for (uint16_t i = 0; i < count; i++) {
        house->loads[i] = a_load(i, count);
        house->confirmed[i] = (struct confirmation){.load = i, .health = OUTPUT_CONFIRMED};
    }
    rules_order(house->loads, count, house->order);
    house->settings = (struct rules_settings){.load_count = count,
                                              .loads = house->loads,
                                              .order = house->order,
                                              .phase_count = 1,
                                              .voltage_mv = 230000,
                                              .supply_limit_ma = 100000,
                                              .margin_w = 100};
    if (!zone_parse("AEST-10AEDT,M10.1.0,M4.1.0/3", &house->settings.zone, &trouble))
        exit(EXIT_FAILURE);
}

/* A parabola of sun less a little noise; use follows what was decided. */
static int32_t grid_w(const struct house *house, long second)
{
    double noon = ((double)(second % DAY_S) - 43200) / 16200;
    int32_t sun_w = noon > -1 && noon < 1 ? (int32_t)(6000 * (1 - noon * noon)) : 0;
    int32_t use_w = 400 + (int32_t)(second * 7919 % 300);
    for (uint16_t i = 0; i < house->count; i++)
        if (house->decisions[i].on)
            use_w += house->loads[i].power_w;
    return use_w - sun_w;
}

/* Outputs follow within the turn; only what has changed is news. */
static uint16_t news(struct house *house, bool all, struct confirmation out[])
{
    uint16_t count = 0;
    for (uint16_t i = 0; i < house->count; i++) {
        int32_t level_w = house->decisions[i].on ? house->decisions[i].level_w : 0;
        if (!all && house->confirmed[i].level_w == level_w)
            continue;
        house->confirmed[i].level_w = level_w;
        out[count++] = house->confirmed[i];
    }
    return count;
}

static double run(struct house *house, long turns, bool with_engine)
{
    struct moment now = {{1000}, {INT64_C(1768300000000)}, true};
    struct reading reading = {.grid.quality = READING_FRESH, .has = HAS_GRID_POWER};
    struct confirmation *out = calloc(house->count, sizeof(*out));
    struct rules_outcome outcome;
    rules_begin(&house->settings, &house->engine, house->memory, now, 1);
    double begun = cpu_seconds();
    for (long k = 0; k < turns; k++) {
        now.mono.ms += MS_PER_S;
        now.wall.ms += MS_PER_S;
        reading.grid.sequence++;
        reading.grid.taken = now.mono;
        reading.grid_power_w = grid_w(house, BEGIN_S + k);
        struct rules_input input = {.reading = &reading,
                                    .confirmations = out,
                                    .confirmation_count = news(house, k == 0, out),
                                    .now = now};
        if (with_engine)
            rules_turn(&house->settings, &house->engine, &input, house->decisions, &outcome);
    }
    double took = cpu_seconds() - begun;
    free(out);
    return took;
}

int main(int argc, char **argv)
{
    uint16_t count = (uint16_t)(argc > 1 ? atoi(argv[1]) : 3);
    if (count == 0)
        return EXIT_FAILURE;
    long turns = 9000000 / count;
    struct house house;
    build(&house, count);
    double idle = run(&house, turns, false);
    double took = run(&house, turns, true);
    printf("figure engine_turns_%u %.2f Mload-turns/s (the days alone took %.2f s of %.2f s)\n",
           count, 1e-6 * (double)turns * count / (took - idle), idle, took);
    int64_t starts = 0;
    for (uint16_t i = 0; i < count; i++)
        starts += house.memory[i].total.starts;
    free(house.loads);
    free(house.memory);
    free(house.order);
    free(house.decisions);
    free(house.confirmed);
    return starts > 0 ? EXIT_SUCCESS
                      : EXIT_FAILURE; /* an engine that starts nothing was not measured */
}
