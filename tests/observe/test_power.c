/* test_power.c - switched on, and nothing drawn. */
#include "observe/turns.h"

static struct bench bench;

static void dead_start(void)
{
    bench_step(&bench, EXPERIMENT_START, 0, false);
    bench_wait(&bench, 10 * MS_PER_MIN);
    bench_step(&bench, EXPERIMENT_STOP, 0, false);
}

static bool dead_for(int64_t ms, int64_t every_ms)
{
    for (int64_t passed = 0; passed < ms; passed += every_ms) {
        bench_wait(&bench, every_ms);
        dead_start();
        if (bench_find(&bench, FINDING_NO_POWER))
            return true;
    }
    return false;
}

START_TEST(test_a_house_of_healthy_days_has_no_finding)
{
    bench_begin(&bench);
    bench_days(&bench, 60);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_dead_element_is_found_within_a_day_and_a_half_of_the_last_opening)
{
    bench_begin(&bench);
    bench_days(&bench, 30);
    int64_t from = bench.now.mono.ms;
    ck_assert(dead_for(4 * (int64_t)MS_PER_DAY, 2 * HOUR));
    ck_assert_int_le(bench.now.mono.ms - from, 36 * HOUR);
    const struct finding *finding = bench_find(&bench, FINDING_NO_POWER);
    ck_assert_int_eq(finding->index, 0);
    ck_assert_int_ge(finding->sure_permille, 900);
    ck_assert_int_eq(finding->number[1], POWER_W);
    ck_assert_int_eq(finding->number[2], 14694); /* 230 V squared, through 3600 W */
    ck_assert_int_gt(finding->since.mono.ms, from);
}
END_TEST

static void test_it(int32_t step_w)
{
    bench.load[0].tested = true;
    bench_step(&bench, EXPERIMENT_START, step_w, false);
    bench_wait(&bench, 20 * MS_PER_S);
    bench_step(&bench, EXPERIMENT_STOP, -step_w, step_w > 0);
    bench.load[0].tested = false;
    bench_wait(&bench, 20 * MS_PER_S);
}

START_TEST(test_what_a_test_showed_stands_until_it_draws)
{
    bench_begin(&bench);
    bench.load[0].tested = true;
    bench_step(&bench, EXPERIMENT_START, 0, false);
    bench_nothing(&bench);
    bench_wait(&bench, 20 * MS_PER_S);
    bench_step(&bench, EXPERIMENT_STOP, 0, false);
    bench.load[0].tested = false;
    const struct finding *finding = bench_find(&bench, FINDING_TEST_WITHOUT_DRAW);
    ck_assert_ptr_nonnull(finding);
    ck_assert_int_eq(finding->number[0], 2);
    ck_assert_int_eq(finding->number[1], POWER_W);
    bench_wait(&bench, HOUR);
    ck_assert(bench_find(&bench, FINDING_TEST_WITHOUT_DRAW));
    bench_step(&bench, EXPERIMENT_START, POWER_W, false);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_test_of_a_tank_that_was_full_hours_ago_shows_no_fault)
{
    bench_begin(&bench);
    bench_days(&bench, 5);
    bench_wait(&bench, 8 * HOUR);
    for (int times = 0; times < 3; times++)
        test_it(0);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_starts_that_nobody_asked_to_look_at_are_no_test)
{
    bench_begin(&bench);
    for (int times = 0; times < 4; times++)
        dead_start();
    ck_assert(!bench_find(&bench, FINDING_TEST_WITHOUT_DRAW));
}
END_TEST

START_TEST(test_a_test_behind_an_open_contact_is_the_contactors)
{
    bench_begin(&bench);
    bench.load[0].contact_known = true;
    for (int times = 0; times < 3; times++)
        test_it(0);
    ck_assert(bench_find(&bench, FINDING_NOT_CLOSING));
    ck_assert_int_eq(bench_standing(&bench, FINDING_TEST_WITHOUT_DRAW), -1);
}
END_TEST

START_TEST(test_a_test_of_a_motor_says_nothing_of_hot_water)
{
    bench_begin(&bench);
    bench.load_settings[0].thermostat = bench.load_settings[0].resistive = false;
    for (int times = 0; times < 3; times++)
        test_it(0);
    ck_assert(bench_find(&bench, FINDING_NO_POWER));
    ck_assert_int_eq(bench_standing(&bench, FINDING_TEST_WITHOUT_DRAW), -1);
}
END_TEST

START_TEST(test_what_is_found_from_many_starts_says_it_better_than_a_test)
{
    bench_begin(&bench);
    bench_days(&bench, 30);
    ck_assert(dead_for(4 * (int64_t)MS_PER_DAY, 2 * HOUR));
    test_it(0);
    test_it(0);
    ck_assert(bench_find(&bench, FINDING_NO_POWER));
    ck_assert_int_eq(bench_standing(&bench, FINDING_TEST_WITHOUT_DRAW), FINDING_EXPLAINED);
}
END_TEST

START_TEST(test_one_that_was_drawing_when_switched_off_is_found_at_once)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    bench_wait(&bench, 12 * HOUR);
    bench_step(&bench, EXPERIMENT_START, POWER_W, false);
    bench_wait(&bench, 10 * MS_PER_MIN);
    bench_step(&bench, EXPERIMENT_STOP, -POWER_W, true);
    int64_t from = bench.now.mono.ms;
    ck_assert(dead_for(2 * (int64_t)MS_PER_DAY, HOUR));
    ck_assert_int_le(bench.now.mono.ms - from, 4 * HOUR);
}
END_TEST

START_TEST(test_many_attempts_at_a_hot_tank_are_one)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    ck_assert(!dead_for(12 * HOUR, 10 * MS_PER_MIN));
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_household_away_is_no_fault_until_the_tank_must_have_cooled)
{
    bench_begin(&bench);
    bench.load_settings[0].loss_w = 50; /* 2 kWh last 40 h */
    bench_days(&bench, 30);
    ck_assert(!dead_for(40 * HOUR, 3 * HOUR));
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_kettle_at_the_wrong_second_delays_and_does_not_turn_it)
{
    bench_begin(&bench);
    bench_days(&bench, 30);
    bench_wait(&bench, 12 * HOUR);
    for (int k = 0; k < 20; k++) { /* now and then something goes off at the same second */
        bench_wait(&bench, 2 * HOUR);
        bench_step(&bench, EXPERIMENT_START, k % 4 == 1 ? 2200 : 0, false);
        bench_wait(&bench, MS_PER_MIN);
        bench_step(&bench, EXPERIMENT_STOP, 0, false);
    }
    ck_assert(bench_find(&bench, FINDING_NO_POWER));
}
END_TEST

START_TEST(test_a_kettle_going_off_as_a_healthy_one_starts_is_no_fault)
{
    bench_begin(&bench);
    bench_days(&bench, 30);
    bench_wait(&bench, 30 * HOUR);
    bench_step(&bench, EXPERIMENT_START, POWER_W - 3600, false); /* a heater of its size went off */
    bench_nothing(&bench);
    bench_heat_up(&bench, 2 * HOUR);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_start_that_draws_ends_it)
{
    bench_begin(&bench);
    bench_days(&bench, 30);
    ck_assert(dead_for(4 * (int64_t)MS_PER_DAY, 2 * HOUR));
    bench_wait(&bench, HOUR);
    bench_heat_up(&bench, 2 * HOUR);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_nothing_is_said_while_the_supply_upstream_is_off)
{
    bench_begin(&bench);
    bench_days(&bench, 30);
    bench.load[0].supply_off_known = true;
    ck_assert(!dead_for(10 * (int64_t)MS_PER_DAY, 2 * HOUR));
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_silent_meter_and_a_throttled_inverter_say_nothing)
{
    bench_begin(&bench);
    bench_days(&bench, 30);
    for (int k = 0; k < 100; k++) {
        struct experiment unseen = bench_experiment_of(&bench, EXPERIMENT_START, 0, false);
        unseen.seen = EXPERIMENT_UNSEEN;
        bench_wait(&bench, HOUR);
        bench_experiment(&bench, unseen);
    }
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_new_house_without_an_opening_waits_for_what_physics_allows)
{
    bench_begin_new(&bench);
    int64_t from = bench.now.mono.ms;
    ck_assert(dead_for(5 * (int64_t)MS_PER_DAY, 2 * HOUR));
    ck_assert_int_ge(bench.now.mono.ms - from, 18 * HOUR);
    ck_assert_int_le(bench.now.mono.ms - from, 3 * (int64_t)MS_PER_DAY);
}
END_TEST

START_TEST(test_a_breaker_that_trips_early_in_a_run_is_no_opening)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    bench_wait(&bench, 12 * HOUR);
    bench_step(&bench, EXPERIMENT_START, POWER_W, false);
    bench.load[0].heated_mj = POWER_W * (int64_t)MS_PER_MIN;
    bench_step(&bench, EXPERIMENT_OPENED, -POWER_W, true);
    bench_step(&bench, EXPERIMENT_STOP, 0, false);
    int64_t from = bench.now.mono.ms;
    ck_assert(dead_for(2 * (int64_t)MS_PER_DAY, HOUR));
    ck_assert_int_le(bench.now.mono.ms - from, 4 * HOUR);
}
END_TEST

START_TEST(test_a_kettle_going_off_as_a_full_one_is_stopped_does_not_make_it_cold)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    bench_wait(&bench, HOUR);
    bench_step(&bench, EXPERIMENT_START, 0, false);
    bench_step(&bench, EXPERIMENT_STOP, -POWER_W, false);
    ck_assert(!dead_for(5 * HOUR, HOUR));
}
END_TEST

/* Drawing when switched off, and then a run that nobody saw clearly. */
static void unclear_run(uint8_t seen, int32_t step_w)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    bench_wait(&bench, 12 * HOUR);
    bench_step(&bench, EXPERIMENT_START, POWER_W, false);
    bench_wait(&bench, HOUR);
    bench_step(&bench, EXPERIMENT_STOP, -POWER_W, true);
    struct experiment start = bench_experiment_of(&bench, EXPERIMENT_START, step_w, false);
    start.seen = seen;
    bench_wait(&bench, MS_PER_MIN);
    bench_experiment(&bench, start);
    bench_wait(&bench, HOUR);
    bench_step(&bench, EXPERIMENT_STOP, 0, false);
}

START_TEST(test_a_run_that_was_not_seen_clearly_may_have_filled_the_tank)
{
    unclear_run(EXPERIMENT_CLEAR, POWER_W / 2);
    ck_assert(!dead_for(5 * HOUR, HOUR));
    unclear_run(EXPERIMENT_MIXED, 0);
    ck_assert(!dead_for(5 * HOUR, HOUR));
}
END_TEST

START_TEST(test_an_opening_that_shows_no_fall_is_none)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    bench_wait(&bench, HOUR);
    bench_step(&bench, EXPERIMENT_START, POWER_W * 2 / 3, false); /* an oven; its tank is full */
    bench.load[0].heated_mj = POWER_W * 2000ll;
    bench_wait(&bench, 2000);
    bench_step(&bench, EXPERIMENT_OPENED, 0, true);
    bench_step(&bench, EXPERIMENT_STOP, 0, false);
    ck_assert(!dead_for(5 * HOUR, HOUR));
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_cold_sensor_in_the_tank_speaks_at_once)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    bench.load[0].tank_known = true;
    bench.load[0].tank_mc = 35000;
    int64_t from = bench.now.mono.ms;
    ck_assert(dead_for(2 * (int64_t)MS_PER_DAY, HOUR));
    ck_assert_int_le(bench.now.mono.ms - from, 4 * HOUR);
}
END_TEST

START_TEST(test_a_sensed_contact_tells_contactor_from_element)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    bench.load[0].contact_known = true;
    dead_for(6 * HOUR, HOUR);
    ck_assert(bench_find(&bench, FINDING_NOT_CLOSING));
    ck_assert(!bench_find(&bench, FINDING_NO_POWER));
    ck_assert(!bench_find(&bench, FINDING_ELEMENT_OPEN));
    bench.load[0].contact_closed = true;
    dead_for(3 * (int64_t)MS_PER_DAY, 2 * HOUR);
    ck_assert(bench_find(&bench, FINDING_ELEMENT_OPEN));
    ck_assert(!bench_find(&bench, FINDING_NOT_CLOSING));
}
END_TEST

START_TEST(test_a_board_that_pauses_does_not_change_what_is_said)
{
    bench_begin(&bench);
    bench_days(&bench, 10);
    bench.load[0].contact_known = bench.load[0].contact_closed = true;
    dead_for(3 * (int64_t)MS_PER_DAY, 2 * HOUR);
    ck_assert(bench_find(&bench, FINDING_ELEMENT_OPEN));
    bench.load[0].contact_known = false;
    bench_turn(&bench);
    ck_assert(bench_find(&bench, FINDING_ELEMENT_OPEN));
    ck_assert(!bench_find(&bench, FINDING_NO_POWER));
}
END_TEST

START_TEST(test_a_load_that_cannot_stop_by_itself_is_found_after_some_starts)
{
    bench_begin(&bench);
    bench.load_settings[0].thermostat = false;
    ck_assert(dead_for(12 * HOUR, 2 * HOUR));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_house_of_healthy_days_has_no_finding,
        test_a_dead_element_is_found_within_a_day_and_a_half_of_the_last_opening,
        test_what_a_test_showed_stands_until_it_draws,
        test_a_test_of_a_tank_that_was_full_hours_ago_shows_no_fault,
        test_starts_that_nobody_asked_to_look_at_are_no_test,
        test_a_test_behind_an_open_contact_is_the_contactors,
        test_a_test_of_a_motor_says_nothing_of_hot_water,
        test_what_is_found_from_many_starts_says_it_better_than_a_test,
        test_one_that_was_drawing_when_switched_off_is_found_at_once,
        test_many_attempts_at_a_hot_tank_are_one,
        test_a_household_away_is_no_fault_until_the_tank_must_have_cooled,
        test_a_kettle_at_the_wrong_second_delays_and_does_not_turn_it,
        test_a_kettle_going_off_as_a_healthy_one_starts_is_no_fault,
        test_a_start_that_draws_ends_it,
        test_nothing_is_said_while_the_supply_upstream_is_off,
        test_a_silent_meter_and_a_throttled_inverter_say_nothing,
        test_a_new_house_without_an_opening_waits_for_what_physics_allows,
        test_a_breaker_that_trips_early_in_a_run_is_no_opening,
        test_a_kettle_going_off_as_a_full_one_is_stopped_does_not_make_it_cold,
        test_a_run_that_was_not_seen_clearly_may_have_filled_the_tank,
        test_an_opening_that_shows_no_fall_is_none,
        test_a_cold_sensor_in_the_tank_speaks_at_once,
        test_a_sensed_contact_tells_contactor_from_element,
        test_a_board_that_pauses_does_not_change_what_is_said,
        test_a_load_that_cannot_stop_by_itself_is_found_after_some_starts,
    };
    return suite_run("power", tests, COUNT_OF(tests));
}
