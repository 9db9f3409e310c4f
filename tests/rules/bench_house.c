/* bench_house.c - see bench_house.h. */
#include "bench_house.h"

#include <string.h>

void bench_make(struct bench *bench, uint16_t count)
{
    memset(bench, 0, sizeof *bench);
    bench->settings = (struct rules_settings){
        .load_count = count,
        .loads = bench->load,
        .order = bench->order,
        .phase_count = 1,
        .billing = BILLING_NET,
        .voltage_mv = 230000,
        .probe_wait_ms = 25 * MS_PER_MIN,
    };
    for (uint16_t i = 0; i < count; i++) {
        bench->load[i] = (struct load_settings){
            .kind = LOAD_SWITCHED,
            .priority = (uint16_t)(i + 1),
            .phases = 1,
            .power_w = 3600,
            .uses_spare = true,
            .start_permille = 1000,
            .stop_margin_w = 500,
            .settle_start_ms = 2 * MS_PER_MIN,
            .settle_stop_ms = MS_PER_MIN,
            .min_on_ms = 5 * MS_PER_MIN,
            .min_off_ms = 5 * MS_PER_MIN,
            .group = RULES_NO_GROUP,
            .retry_ms = 60 * MS_PER_MIN,
        };
        bench->at[i].answer_s = 1;
    }
}

void bench_begin_cold(struct bench *bench, int32_t second_of_day)
{
    int32_t day = days_of_date((struct date){2026, 6, 1});
    struct wall midnight = wall_of_local(&bench->settings.zone, day, 0);
    bool trusted = bench->now.wall.ms == 0; /* a test may have set a wrong clock */
    bench->now.mono.ms = 10 * (int64_t)MS_PER_DAY;
    if (trusted)
        bench->now = (struct moment){
            bench->now.mono, {midnight.ms + (int64_t)second_of_day * MS_PER_S}, true};
    rules_order(bench->load, bench->settings.load_count, bench->order);
    rules_begin(&bench->settings, &bench->memory, bench->loads, bench->now, 1);
}

void bench_begin(struct bench *bench, int32_t second_of_day)
{
    bench_begin_cold(bench, second_of_day);
    for (uint16_t i = 0; i < bench->settings.load_count; i++) {
        bench->loads[i].health = OUTPUT_CONFIRMED;
        bench->loads[i].confirmed_once = true;
        bench->loads[i].since.ms -= MS_PER_DAY;
        bench->loads[i].lowered.ms -= MS_PER_DAY;
        bench->loads[i].restart_at.ms = 0;
    }
    bench_pass(bench, 1);
}

static uint16_t answers(struct bench *bench, struct confirmation confirmation[])
{
    uint16_t count = 0;
    for (uint16_t i = 0; i < bench->settings.load_count; i++) {
        struct bench_load *at = &bench->at[i];
        if (at->broken || at->answer_in == 0 || --at->answer_in > 0)
            continue;
        at->is_on = at->told_on;
        at->level_w = at->told_w;
        confirmation[count++] = (struct confirmation){i, OUTPUT_CONFIRMED,
                                                      at->is_on ? at->level_w : 0, bench->now.mono};
    }
    return count;
}

void bench_find(struct bench *bench, uint16_t load, enum output_health health, int32_t level_w)
{
    struct bench_load *at = &bench->at[load];
    bench->found = (struct confirmation){load, health, level_w, bench->now.mono};
    bench->has_found = true;
    at->is_on = level_w > 0;
    at->level_w = level_w;
    if (health == OUTPUT_CONFIRMED) { /* it differs: an order the same as before is one */
        at->told_on = at->is_on;
        at->told_w = level_w;
    }
}

static void tell_outputs(struct bench *bench)
{
    for (uint16_t i = 0; i < bench->settings.load_count; i++) {
        struct bench_load *at = &bench->at[i];
        const struct decision *decision = &bench->decision[i];
        if (at->told_on == decision->on && at->told_w == decision->level_w)
            continue;
        at->told_on = decision->on;
        at->told_w = decision->level_w;
        at->answer_in = at->answer_s;
    }
}

/* Between two polls its last value stands. */
static void read_solar(struct bench *bench)
{
    struct reading *reading = &bench->reading;
    int64_t second = bench->now.mono.ms / MS_PER_S;
    reading->has |= HAS_SOLAR_POWER;
    reading->solar.quality = bench->solar_silent ? READING_STALE : READING_FRESH;
    bool polled =
        bench->solar_every_s == 0 || second % bench->solar_every_s == bench->solar_offset_s;
    if (bench->solar_silent || !polled)
        return;
    reading->solar.sequence++;
    reading->solar.taken = bench->now.mono;
    reading->solar_power_w = bench->solar_w;
}

static int32_t takes_w(const struct bench *bench, uint16_t load)
{
    const struct bench_load *at = &bench->at[load];
    bool past_output = at->welded || at->held == HELD_IN_HAND;
    bool cut = at->dead || at->held == HELD_OFF_AT_BOARD || at->held == HELD_NO_SUPPLY;
    if (cut || at->thermostat_open || !(at->is_on || past_output))
        return 0;
    if (at->draw_w > 0)
        return at->draw_w;
    return past_output ? bench->load[load].power_w : at->level_w;
}

static void read_own_meters(struct bench *bench)
{
    for (uint16_t i = 0; i < bench->settings.load_count; i++) {
        bool read = bench->own_meters && bench->load[i].metered;
        bench->own[i].held = (uint8_t)bench->at[i].held;
        bench->own[i].power.quality = read ? READING_FRESH : READING_ABSENT;
        bench->own[i].power.sequence++;
        bench->own[i].power.taken = bench->now.mono;
        bench->own[i].power_w = takes_w(bench, i);
    }
}

/* All the house takes by itself is on L1. */
static void read_phases(struct bench *bench)
{
    struct reading *reading = &bench->reading;
    if (bench->settings.phase_count == 1)
        return;
    reading->has |= HAS_PHASE_POWER | HAS_VOLTAGE;
    for (int phase = 0; phase < PHASES; phase++) {
        reading->phase_power_w[phase] = phase == 0 ? bench->rest_w - bench->solar_w : 0;
        reading->voltage_mv[phase] = 231000 + 1000 * phase;
    }
    for (uint16_t i = 0; i < bench->settings.load_count; i++)
        for (unsigned phase = 0; phase < PHASES; phase++)
            if (bench->load[i].phases == 1u << phase)
                reading->phase_power_w[phase] += takes_w(bench, i);
}

static void read_meter(struct bench *bench)
{
    struct reading *reading = &bench->reading;
    bench->reading.grid.quality = bench->meter_silent ? READING_STALE : READING_FRESH;
    if (bench->meter_silent || bench->meter_held)
        return;
    int32_t grid_w = bench->rest_w;
    for (uint16_t i = 0; i < bench->settings.load_count; i++)
        grid_w += takes_w(bench, i);
    reading->has = HAS_GRID_POWER | HAS_BATTERY_POWER;
    reading->grid.sequence++;
    reading->grid.taken = bench->now.mono;
    reading->battery.sequence++;
    reading->battery.taken = bench->now.mono;
    reading->battery.quality = bench->battery_silent ? READING_STALE : READING_FRESH;
    reading->grid_power_w = grid_w - bench->solar_w;
    read_solar(bench);
    read_phases(bench);
    reading->battery_power_w = bench->battery_w;
    reading->inverter_throttled = bench->throttled;
    reading->islanded = bench->islanded;
}

static void keep_experiments(struct bench *bench)
{
    for (int k = 0; k < bench->outcome.observed.experiment_count; k++, bench->experiments++)
        if (bench->experiments < BENCH_EXPERIMENTS)
            bench->experiment[bench->experiments] = bench->outcome.observed.experiment[k];
}

static void pass_second(struct bench *bench)
{
    struct confirmation confirmation[BENCH_LOADS + 1];
    bench->now.mono.ms += MS_PER_S;
    bench->now.wall.ms += MS_PER_S;
    uint16_t answered = answers(bench, confirmation);
    if (bench->has_found)
        confirmation[answered++] = bench->found;
    bench->has_found = false;
    read_meter(bench);
    read_own_meters(bench);
    struct rules_input input = {.reading = &bench->reading,
                                .load_reading = bench->own,
                                .commands = &bench->order_given,
                                .command_count = bench->has_order,
                                .confirmations = confirmation,
                                .confirmation_count = answered,
                                .now = bench->now};
    rules_turn(&bench->settings, &bench->memory, &input, bench->decision, &bench->outcome);
    bench->has_order = false;
    for (int e = 0; e < bench->outcome.event_count; e++)
        bench->events[bench->outcome.event[e].kind]++;
    keep_experiments(bench);
    tell_outputs(bench);
}

void bench_opened_before(struct bench *bench, uint16_t load)
{
    struct draw_view *view = &bench->loads[load].draw.view;
    view->has_opened = true;
    view->opened_at = bench->now;
    view->opened_at.mono.ms -= 3 * (int64_t)MS_PER_DAY;
    view->opened_at.wall.ms -= 3 * (int64_t)MS_PER_DAY;
}

void bench_pass(struct bench *bench, int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++)
        pass_second(bench);
}

int64_t bench_until(struct bench *bench, uint16_t load, bool on, int64_t seconds)
{
    for (int64_t s = 1; s <= seconds; s++) {
        pass_second(bench);
        if (bench->decision[load].on == on)
            return s;
    }
    return -1;
}

void bench_order(struct bench *bench, struct command order)
{
    bench->order_given = order;
    bench->has_order = true;
    pass_second(bench);
}

bool bench_on(const struct bench *bench, uint16_t load)
{
    return bench->decision[load].on;
}

enum basis bench_basis(const struct bench *bench, uint16_t load)
{
    return bench->decision[load].basis;
}

enum reason_code bench_reason(const struct bench *bench, uint16_t load)
{
    return bench->decision[load].reason.code;
}

struct local bench_local(const struct bench *bench)
{
    return local_of_wall(&bench->settings.zone, bench->now.wall);
}

struct floor_settings bench_hours_by(int64_t hours, int32_t by_s)
{
    return (struct floor_settings){.measure = FLOOR_TIME,
                                   .weekdays = WEEKDAYS_ALL,
                                   .by_s = by_s,
                                   .reserve_ms = 30 * MS_PER_MIN,
                                   .amount = hours * MS_PER_HOUR};
}

void bench_floor(struct bench *bench, struct floor_settings floor)
{
    bench->load[HEATER].floor[0] = floor;
    bench->load[HEATER].floor_count = 1;
}

struct command bench_command(const struct bench *bench, enum command_kind kind, uint16_t load,
                             int64_t minutes)
{
    return (struct command){.kind = kind,
                            .load = load,
                            .flag = true,
                            .until = mono_after(bench->now.mono, minutes * MS_PER_MIN)};
}

int bench_run_tests(const char *name, const TTest *const tests[], size_t count)
{
    Suite *suite = suite_create(name);
    TCase *tcase = tcase_create(name);
    tcase_set_timeout(tcase, 60);
    for (size_t k = 0; k < count; k++)
        tcase_add_test(tcase, tests[k]);
    suite_add_tcase(suite, tcase);
    SRunner *runner = srunner_create(suite);
    srunner_set_fork_status(runner, CK_NOFORK);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? 0 : 1;
}
