/* test_phase.c - which way, and on which phase, the meter shows it. */
#include "observe/turns.h"

static struct bench bench;

static void begin_three_phases(void)
{
    bench_begin(&bench);
    bench.settings.phase_count = 3;
    bench.load_settings[1].phases = 2;
}

static void switched(uint16_t load, const int32_t phase_step_w[PHASES])
{
    for (int stop = 0; stop < 2; stop++) {
        struct experiment step = bench_experiment_of(
            &bench, stop ? EXPERIMENT_STOP : EXPERIMENT_START, stop ? -POWER_W : POWER_W, stop);
        step.load = load;
        step.has_phases = true;
        step.step_w = 0;
        for (int phase = 0; phase < PHASES; phase++) {
            step.phase_step_w[phase] = stop ? -phase_step_w[phase] : phase_step_w[phase];
            step.step_w += step.phase_step_w[phase];
        }
        bench_wait(&bench, HOUR);
        bench_experiment(&bench, step);
    }
}

START_TEST(test_a_reversed_sign_is_told_after_some_switchings)
{
    bench_begin(&bench);
    for (int k = 0; k < 3; k++) {
        bench_step(&bench, EXPERIMENT_START, -POWER_W, false);
        bench_wait(&bench, HOUR);
        bench_step(&bench, EXPERIMENT_STOP, POWER_W, true);
        bench_wait(&bench, HOUR);
    }
    const struct finding *finding = bench_find(&bench, FINDING_GRID_REVERSED);
    ck_assert_msg(finding, "%s", bench_all(&bench));
    ck_assert_int_eq(bench.count, 1);
    ck_assert_int_eq(finding->number[1], POWER_W);
}
END_TEST

START_TEST(test_loads_the_right_way_round_say_nothing)
{
    begin_three_phases();
    for (int k = 0; k < 30; k++) {
        switched(0, (int32_t[]){POWER_W, 0, 0});
        switched(1, (int32_t[]){0, POWER_W, 0});
    }
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_kettle_on_the_phase_is_no_reversed_transformer)
{
    begin_three_phases();
    for (int k = 0; k < 30; k++)
        switched(0, (int32_t[]){k % 7 == 6 ? -POWER_W : POWER_W, 0, 0});
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_one_reversed_transformer_is_named_by_its_phase)
{
    begin_three_phases();
    for (int k = 0; k < 3; k++) {
        switched(0, (int32_t[]){POWER_W, 0, 0});
        switched(1, (int32_t[]){0, -POWER_W, 0});
    }
    const struct finding *finding = bench_find(&bench, FINDING_PHASE_REVERSED);
    ck_assert_msg(finding, "%s", bench_all(&bench));
    ck_assert_int_eq(finding->phase, 2);
    ck_assert_int_eq(finding->number[2], -POWER_W);
    ck_assert_int_eq(bench.count, 1);
}
END_TEST

START_TEST(test_all_transformers_reversed_is_the_meters_sign)
{
    begin_three_phases();
    for (int k = 0; k < 3; k++) {
        switched(0, (int32_t[]){-POWER_W, 0, 0});
        switched(1, (int32_t[]){0, -POWER_W, 0});
    }
    ck_assert_msg(bench_find(&bench, FINDING_GRID_REVERSED), "%s", bench_all(&bench));
    ck_assert(!bench_find(&bench, FINDING_PHASE_REVERSED));
}
END_TEST

START_TEST(test_a_load_on_another_phase_is_told)
{
    begin_three_phases();
    for (int k = 0; k < 2; k++)
        switched(0, (int32_t[]){0, 0, POWER_W});
    const struct finding *finding = bench_find(&bench, FINDING_PHASES_SWAPPED);
    ck_assert_msg(finding, "%s", bench_all(&bench));
    ck_assert_int_eq(finding->number[1], 1);
    ck_assert_int_eq(finding->number[2], 3);
    ck_assert_int_eq(bench.count, 1);
}
END_TEST

START_TEST(test_starts_of_a_hot_tank_into_an_oven_on_another_phase_are_no_exchange)
{
    begin_three_phases();
    for (int k = 0; k < 2; k++) {
        struct experiment start = bench_experiment_of(&bench, EXPERIMENT_START, 0, false);
        start.has_phases = true;
        start.phase_step_w[2] = POWER_W;
        bench_wait(&bench, HOUR);
        bench_experiment(&bench, start);
    }
    ck_assert(!bench_find(&bench, FINDING_PHASES_SWAPPED));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_reversed_sign_is_told_after_some_switchings,
        test_loads_the_right_way_round_say_nothing,
        test_a_kettle_on_the_phase_is_no_reversed_transformer,
        test_one_reversed_transformer_is_named_by_its_phase,
        test_all_transformers_reversed_is_the_meters_sign,
        test_a_load_on_another_phase_is_told,
        test_starts_of_a_hot_tank_into_an_oven_on_another_phase_are_no_exchange,
    };
    return suite_run("phase", tests, COUNT_OF(tests));
}
