/* test_element.c - does it draw all of its power. P = U^2 / R. */
#include "observe/turns.h"

static struct bench bench;

static void run(int32_t power_w)
{
    bench_wait(&bench, 5 * HOUR);
    bench_step(&bench, EXPERIMENT_START, power_w, false);
    bench_wait(&bench, HOUR);
    bench_step(&bench, EXPERIMENT_STOP, -power_w, true);
}

static void runs(int count, int32_t power_w)
{
    for (int k = 0; k < count; k++)
        run(power_w);
}

START_TEST(test_each_part_of_an_element_is_told)
{
    static const int32_t part[] = {333, 500, 667};
    for (int k = 0; k < 3; k++) {
        bench_begin(&bench);
        runs(10, POWER_W);
        bench_nothing(&bench);
        runs(2, POWER_W * part[k] / 1000);
        const struct finding *finding = bench_find(&bench, FINDING_ELEMENT_PART);
        ck_assert_msg(finding, "%d: %s", part[k], bench_all(&bench));
        ck_assert_int_le(llabs(finding->number[2] - part[k]), 2);
        ck_assert_int_eq(bench.count, 1);
        runs(3, POWER_W);
        bench_nothing(&bench);
    }
}
END_TEST

START_TEST(test_a_part_stays_one_however_long_it_lasts)
{
    bench_begin(&bench);
    runs(10, POWER_W);
    runs(200, POWER_W * 2 / 3);
    ck_assert(bench_find(&bench, FINDING_ELEMENT_PART));
}
END_TEST

START_TEST(test_a_low_supply_is_no_fault)
{
    bench_begin(&bench);
    for (int k = 0; k < 200; k++) {
        bench.voltage_mv = 207000 + 500 * (k % 93); /* EN 50160: +-10 % */
        int64_t volts_permille = bench.voltage_mv * 1000ll / VOLTAGE_MV;
        run((int32_t)(POWER_W * volts_permille / 1000 * volts_permille / 1000));
        bench_wait(&bench, 10 * HOUR);
        bench_nothing(&bench);
    }
}
END_TEST

START_TEST(test_a_low_supply_without_a_voltage_is_no_fault_either)
{
    bench_begin(&bench);
    bench.voltage_mv = 0;
    runs(10, POWER_W);
    runs(20, POWER_W * 85 / 100);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_nameplate_that_is_a_tenth_off_is_learnt)
{
    bench_begin(&bench);
    runs(30, POWER_W * 89 / 100);
    bench_nothing(&bench);
    ck_assert_int_le(abs(bench.load_memory[0].full_w - POWER_W * 89 / 100), 40);
}
END_TEST

START_TEST(test_one_kettle_that_ends_at_a_start_is_no_lost_rod)
{
    bench_begin(&bench);
    runs(10, POWER_W);
    bench_wait(&bench, 5 * HOUR);
    bench_step(&bench, EXPERIMENT_START, POWER_W / 2, false);
    bench_nothing(&bench);
    bench_step(&bench, EXPERIMENT_STOP, -POWER_W, true);
    runs(5, POWER_W);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_starts_that_no_end_of_the_run_agrees_with_are_no_lost_rod)
{
    bench_begin(&bench);
    runs(10, POWER_W);
    for (int k = 0; k < 4; k++) {
        bench_wait(&bench, HOUR);
        bench_step(&bench, EXPERIMENT_START, POWER_W * 2 / 3, false); /* a hob, on a hot tank */
        bench_wait(&bench, HOUR);
        bench_step(&bench, EXPERIMENT_STOP, 0, false);
    }
    ck_assert_msg(!bench_find(&bench, FINDING_ELEMENT_PART), "%s", bench_all(&bench));
}
END_TEST

START_TEST(test_an_ageing_element_is_told_after_months)
{
    bench_begin(&bench);
    for (int k = 0; k < 600; k++) {
        run(POWER_W - POWER_W * k / 4000 + (k % 5 - 2) * 10);
        ck_assert_msg(k > 200 || !bench_find(&bench, FINDING_ELEMENT_DRIFT), "after %d", k);
    }
    const struct finding *finding = bench_find(&bench, FINDING_ELEMENT_DRIFT);
    ck_assert_msg(finding, "%s", bench_all(&bench));
    ck_assert_int_gt(finding->number[0], finding->number[1]);
    ck_assert_int_le(llabs(finding->number[2] - 860), 20);
}
END_TEST

START_TEST(test_a_lost_phase_is_named)
{
    bench_begin(&bench);
    bench.settings.phase_count = 3;
    bench.load_settings[0].phases = 7;
    for (int k = 0; k < 14; k++) {
        bool lost = k >= 10;
        int32_t power_w = lost ? POWER_W * 2 / 3 : POWER_W;
        for (int stop = 0; stop < 2; stop++) {
            struct experiment step = bench_experiment_of(
                &bench, stop ? EXPERIMENT_STOP : EXPERIMENT_START, stop ? -power_w : power_w, stop);
            step.has_phases = true;
            for (int phase = 0; phase < PHASES; phase++)
                step.phase_step_w[phase] =
                    lost && phase == 1 ? 0 : (stop ? -1 : 1) * POWER_W / PHASES;
            bench_wait(&bench, HOUR);
            bench_experiment(&bench, step);
        }
    }
    const struct finding *finding = bench_find(&bench, FINDING_ELEMENT_PART);
    ck_assert_msg(finding, "%s", bench_all(&bench));
    ck_assert_int_eq(finding->phase, 2);
    ck_assert_int_eq(bench.count, 1);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_each_part_of_an_element_is_told,
        test_a_part_stays_one_however_long_it_lasts,
        test_a_low_supply_is_no_fault,
        test_a_low_supply_without_a_voltage_is_no_fault_either,
        test_a_nameplate_that_is_a_tenth_off_is_learnt,
        test_one_kettle_that_ends_at_a_start_is_no_lost_rod,
        test_starts_that_no_end_of_the_run_agrees_with_are_no_lost_rod,
        test_an_ageing_element_is_told_after_months,
        test_a_lost_phase_is_named,
    };
    return suite_run("element", tests, COUNT_OF(tests));
}
