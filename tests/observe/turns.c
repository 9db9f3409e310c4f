#include "observe/turns.h"

#include <stdio.h>

static void begin(struct bench *bench)
{
    *bench = (struct bench){.window_ms = 2000, .voltage_mv = VOLTAGE_MV};
    for (int k = 0; k < LOADS; k++) {
        bench->load_settings[k] = (struct findings_load_settings){
            .power_w = POWER_W,
            .phases = 1,
            .thermostat = true,
            .resistive = true,
            .full_mj = 15000ll * HOUR, /* 15 kWh */
            .band_mj = 2000ll * HOUR,
            .loss_w = 110,
            .set_mc = 65000,
            .band_mc = 6000,
        };
        bench->load[k].since_opened_ms = -1;
    }
    bench->settings = (struct findings_settings){.load_count = LOADS,
                                                 .loads = bench->load_settings,
                                                 .voltage_mv = VOLTAGE_MV,
                                                 .phase_count = 1};
    bench->now = (struct moment){{100 * (int64_t)HOUR}, {1700000000000}, true};
    bench->reading.has = HAS_GRID_POWER;
    bench->reading.grid.quality = READING_FRESH;
    findings_begin(&bench->settings, &bench->memory, bench->load_memory, bench->now);
}

void bench_begin_new(struct bench *bench)
{
    begin(bench);
    bench_turn(bench);
}

static void house(struct bench *bench, int32_t step_w)
{
    steps_note(&bench->memory.steps, step_w, 1000);
}

void bench_begin(struct bench *bench)
{
    begin(bench);
    for (int s = 0; s < 10 * 86400; s++) {
        int second = s % 86400;
        house(bench, second % 21600 == 500   ? 2200
                     : second % 21600 == 700 ? -2200
                     : second % 1800 == 0    ? 120
                     : second % 1800 == 900  ? -120
                     : second % 7 == 0       ? 10
                     : second % 7 == 3       ? -10
                                             : 0);
    }
    bench_turn(bench);
}

static void take(struct bench *bench, const struct experiment *experiment)
{
    int32_t seconds = (int32_t)(bench->now.wall.ms / 1000 % 86400);
    struct findings_input input = {.now = bench->now,
                                   .local_s = seconds,
                                   .reading = &bench->reading,
                                   .experiments = experiment,
                                   .experiment_count = experiment ? 1 : 0,
                                   .background = &bench->background,
                                   .loads = bench->load};
    bench->reading.grid.sequence++;
    bench->reading.grid_power_w = (int32_t)(bench->reading.grid.sequence % 2);
    bench->reading.grid.taken = bench->now.mono;
    findings_turn(&bench->settings, &bench->memory, &input);
    bench->background = (struct background){0};
    bench->load[0].contradicts = bench->load[0].restarted = false;
}

void bench_meter_stands_still(struct bench *bench, int64_t ms)
{
    for (int64_t passed = 0; passed < ms; passed += 10000) {
        bench->now.mono.ms += 10000;
        bench->now.wall.ms += 10000;
        bench->reading.grid.sequence++;
        struct findings_input input = {
            .now = bench->now, .local_s = -1, .reading = &bench->reading, .loads = bench->load};
        findings_turn(&bench->settings, &bench->memory, &input);
    }
    bench->reading.grid_power_w++;
}

void bench_turn(struct bench *bench)
{
    take(bench, NULL);
}

void bench_wait(struct bench *bench, int64_t ms)
{
    bench->now.mono.ms += ms;
    bench->now.wall.ms += ms;
    for (int k = 0; k < LOADS; k++)
        if (bench->load[k].since_opened_ms >= 0)
            bench->load[k].since_opened_ms += ms;
    bench_turn(bench);
}

struct experiment bench_experiment_of(const struct bench *bench, enum experiment_kind kind,
                                      int32_t step_w, bool drew)
{
    bool falls = kind == EXPERIMENT_STOP || kind == EXPERIMENT_OPENED;
    return (struct experiment){.kind = (uint8_t)kind,
                               .seen = EXPERIMENT_CLEAR,
                               .drew = drew,
                               .expected_w = falls ? -POWER_W : POWER_W,
                               .step_w = step_w,
                               .window_ms = bench->window_ms,
                               .heated_mj = bench->load[0].heated_mj,
                               .since_opened_ms = bench->load[0].since_opened_ms,
                               .voltage_mv = bench->voltage_mv,
                               .at = bench->now};
}

void bench_experiment(struct bench *bench, struct experiment experiment)
{
    experiment.sequence = ++bench->sequence;
    bench->load[experiment.load].on = experiment.kind == EXPERIMENT_START ||
                                      experiment.kind == EXPERIMENT_OPENED ||
                                      experiment.kind == EXPERIMENT_CLOSED;
    take(bench, &experiment);
}

void bench_step(struct bench *bench, enum experiment_kind kind, int32_t step_w, bool drew)
{
    bench_experiment(bench, bench_experiment_of(bench, kind, step_w, drew));
}

void bench_heat_up(struct bench *bench, int64_t run_ms)
{
    bench_step(bench, EXPERIMENT_START, POWER_W, false);
    bench->load[0].draw_w = POWER_W;
    bench->load[0].heated_mj += POWER_W * run_ms;
    bench->load[0].drawn_mj += POWER_W * run_ms;
    bench_wait(bench, run_ms);
    bench_step(bench, EXPERIMENT_OPENED, -POWER_W, true);
    bench->load[0].draw_w = 0;
    bench_wait(bench, 5 * MS_PER_MIN);
    bench_step(bench, EXPERIMENT_STOP, 0, false);
    bench->load[0].since_opened_ms = 5 * MS_PER_MIN;
    bench->load[0].heated_mj = 0;
    bench_turn(bench);
}

void bench_days(struct bench *bench, int days)
{
    for (int day = 0; day < days; day++) {
        bench_wait(bench, 12 * HOUR);
        bench_heat_up(bench, 2 * HOUR);
    }
}

const struct finding *bench_find(struct bench *bench, enum finding_kind kind)
{
    struct finding all[32];
    uint16_t listed = findings_list(&bench->settings, &bench->memory, all, 32);
    bench->count = 0;
    for (uint16_t k = 0; k < listed; k++)
        if (all[k].standing == FINDING_STANDS)
            bench->found[bench->count++] = all[k];
    for (uint16_t k = 0; k < bench->count; k++)
        if (bench->found[k].kind == kind)
            return &bench->found[k];
    return NULL;
}

int bench_standing(const struct bench *bench, enum finding_kind kind)
{
    struct finding all[32];
    uint16_t listed = findings_list(&bench->settings, &bench->memory, all, 32);
    for (uint16_t k = 0; k < listed; k++)
        if (all[k].kind == kind)
            return all[k].standing;
    return -1;
}

const char *bench_all(struct bench *bench)
{
    static char buffer[2000];
    struct text text = text_in(buffer, sizeof(buffer));
    bench_find(bench, FINDING_NONE);
    for (uint16_t k = 0; k < bench->count; k++) {
        text_add(&text, "%s (%u permille, seen %u): ", finding_id(bench->found[k].kind),
                 bench->found[k].sure_permille, bench->found[k].seen);
        finding_write(&bench->found[k], &text);
        text_add(&text, "\n");
    }
    return buffer;
}

void bench_nothing(struct bench *bench)
{
    const char *all = bench_all(bench);
    ck_assert_msg(bench->count == 0, "found: %s", all);
}
