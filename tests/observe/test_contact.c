/* test_contact.c - switched off, and still drawing; and drawing without an order. */
#include "observe/turns.h"

static struct bench bench;

static void run(int32_t fall_w)
{
    bench_wait(&bench, 3 * HOUR);
    bench_step(&bench, EXPERIMENT_START, POWER_W, false);
    bench_wait(&bench, HOUR);
    bench_step(&bench, EXPERIMENT_STOP, fall_w, true);
}

START_TEST(test_stops_that_leave_the_meter_where_it_was_are_a_stuck_contact)
{
    bench_begin(&bench);
    run(-POWER_W);
    run(0);
    bench_nothing(&bench);
    bench_wait(&bench, 3 * HOUR);
    bench_step(&bench, EXPERIMENT_STOP, 0, true);
    const struct finding *finding = bench_find(&bench, FINDING_CONTACT_STUCK);
    ck_assert(finding);
    ck_assert_int_eq(finding->number[0], POWER_W);
    ck_assert_int_eq(finding->number[1], 2);
}
END_TEST

START_TEST(test_one_flat_stop_among_many_is_an_opening_that_went_unnoticed)
{
    bench_begin(&bench);
    for (int k = 0; k < 100; k++)
        run(k % 10 == 9 ? 0 : -POWER_W);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_its_thermostat_cycling_behind_an_open_contact_shows_it_stuck)
{
    bench_begin(&bench);
    run(0);
    bench_wait(&bench, HOUR);
    bench_step(&bench, EXPERIMENT_FOREIGN, -POWER_W, true);
    bench_wait(&bench, 5 * HOUR);
    bench_step(&bench, EXPERIMENT_FOREIGN, POWER_W, false);
    bench_wait(&bench, HOUR);
    ck_assert(bench_find(&bench, FINDING_CONTACT_STUCK));
    ck_assert(!bench_find(&bench, FINDING_FOREIGN_SWITCHING));
}
END_TEST

START_TEST(test_a_stop_that_shows_ends_it)
{
    bench_begin(&bench);
    for (int k = 0; k < 4; k++)
        bench_step(&bench, EXPERIMENT_STOP, 0, true);
    ck_assert(bench_find(&bench, FINDING_CONTACT_STUCK));
    run(-POWER_W);
    bench_nothing(&bench);
}
END_TEST

static void foreign_step(int32_t step_w, bool metered)
{
    struct experiment step =
        bench_experiment_of(&bench, EXPERIMENT_FOREIGN, step_w, step_w < 0 && metered);
    step.metered = metered;
    bench_experiment(&bench, step);
}

static void run_by(bool metered, int64_t lasts_ms)
{
    bench_wait(&bench, 20 * HOUR);
    foreign_step(POWER_W, metered);
    bench_wait(&bench, lasts_ms);
    foreign_step(-POWER_W, metered);
}

static void foreign_run(int64_t lasts_ms)
{
    run_by(false, lasts_ms);
}

START_TEST(test_runs_that_nobody_ordered_by_its_own_meter_are_switched_elsewhere)
{
    bench_begin(&bench);
    for (int k = 0; k < 6; k++) {
        run_by(true, HOUR);
        run(-POWER_W);
    }
    const struct finding *finding = bench_find(&bench, FINDING_FOREIGN_SWITCHING);
    ck_assert(finding);
    ck_assert_int_eq(finding->number[0], finding->seen);
    ck_assert_int_eq(finding->number[1], POWER_W);
}
END_TEST

START_TEST(test_by_the_grids_meter_such_runs_are_any_appliances)
{
    bench_begin(&bench);
    for (int k = 0; k < 60; k++) {
        foreign_run(HOUR);
        run(-POWER_W);
    }
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_an_air_conditioner_that_cycles_beside_a_pump_of_its_power_is_no_fault)
{
    bench_begin(&bench);
    bench.load_settings[0].thermostat = false;
    for (int k = 0; k < 60; k++) {
        bench_wait(&bench, 30 * MS_PER_MIN);
        foreign_step(POWER_W, false);
        bench_wait(&bench, 20 * MS_PER_MIN);
        foreign_step(-POWER_W, false);
    }
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_hot_tank_and_an_air_conditioner_of_its_power_are_no_closed_contact)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    for (int k = 0; k < 24; k++) {
        bench_wait(&bench, 20 * MS_PER_MIN);
        foreign_step(POWER_W, false);
        bench_wait(&bench, 20 * MS_PER_MIN);
        foreign_step(-POWER_W, false);
        bench_step(&bench, EXPERIMENT_START, 0, false);
        bench_step(&bench, EXPERIMENT_STOP, 0, false);
    }
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_runs_without_order_and_starts_that_show_nothing_are_a_closed_contact)
{
    bench_begin(&bench);
    run(-POWER_W);
    for (int k = 0; k < 8; k++) {
        foreign_run(HOUR);
        bench_wait(&bench, HOUR);
        bench_step(&bench, EXPERIMENT_START, 0, false);
        bench_wait(&bench, HOUR);
        bench_step(&bench, EXPERIMENT_STOP, 0, false);
    }
    ck_assert_msg(bench_find(&bench, FINDING_CONTACT_STUCK), "%s", bench_all(&bench));
    ck_assert_int_eq(bench.count, 1);
    ck_assert_int_eq(bench.found[0].number[1], -1); /* runs are no stops */
}
END_TEST

/* Half an hour each six hours or so: by the size of what the tank takes. */
START_TEST(test_runs_that_feed_the_tank_while_no_start_draws_are_a_closed_contact_in_two_days)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    int64_t run_ms = bench.load_memory[0].needs_w * INT64_C(6) * HOUR / POWER_W;
    int64_t from_ms = bench.now.mono.ms;
    while (!bench_find(&bench, FINDING_CONTACT_STUCK) &&
           bench.now.mono.ms - from_ms < 4 * (int64_t)MS_PER_DAY) {
        bench_wait(&bench, 3 * HOUR);
        bench_step(&bench, EXPERIMENT_START, 0, false);
        bench_wait(&bench, MS_PER_MIN);
        bench_step(&bench, EXPERIMENT_STOP, 0, false);
        bench_wait(&bench, 3 * HOUR - run_ms);
        foreign_step(POWER_W, false);
        bench_wait(&bench, run_ms);
        foreign_step(-POWER_W, false);
    }
    ck_assert_msg(bench_find(&bench, FINDING_CONTACT_STUCK), "%s", bench_all(&bench));
    ck_assert_int_le(bench.now.mono.ms - from_ms, 2 * (int64_t)MS_PER_DAY);
}
END_TEST

START_TEST(test_runs_that_take_far_more_than_the_tank_needs_are_another_appliance)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    for (int k = 0; k < 60; k++) {
        bench_wait(&bench, 15 * MS_PER_MIN);
        foreign_step(POWER_W, false);
        bench_wait(&bench, 30 * MS_PER_MIN);
        foreign_step(-POWER_W, false);
        bench_step(&bench, EXPERIMENT_START, 0, false);
        bench_step(&bench, EXPERIMENT_STOP, 0, false);
    }
    ck_assert_msg(!bench_find(&bench, FINDING_CONTACT_STUCK), "%s", bench_all(&bench));
}
END_TEST

START_TEST(test_a_kettle_of_the_elements_size_is_nobody_elses_switch)
{
    bench_begin(&bench);
    for (int k = 0; k < 50; k++)
        foreign_run(3 * MS_PER_MIN);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_its_own_meter_leaves_little_doubt)
{
    bench_begin(&bench);
    for (int k = 0; k < 2; k++) {
        struct experiment stop = bench_experiment_of(&bench, EXPERIMENT_STOP, 0, true);
        stop.metered = true;
        stop.window_ms = 0;
        bench_wait(&bench, HOUR);
        bench_experiment(&bench, stop);
    }
    ck_assert(bench_find(&bench, FINDING_CONTACT_STUCK));
}
END_TEST

START_TEST(test_it_is_not_over_while_the_meter_stands_still)
{
    bench_begin(&bench);
    for (int k = 0; k < 4; k++)
        bench_step(&bench, EXPERIMENT_STOP, 0, true);
    ck_assert_int_eq(bench_standing(&bench, FINDING_CONTACT_STUCK), FINDING_STANDS);
    bench_meter_stands_still(&bench, 4 * HOUR);
    ck_assert(bench_find(&bench, FINDING_METER_STUCK));
    ck_assert_int_eq(bench_standing(&bench, FINDING_CONTACT_STUCK), FINDING_UNJUDGED);
    bench_turn(&bench);
    ck_assert_int_eq(bench_standing(&bench, FINDING_CONTACT_STUCK), FINDING_STANDS);
    run(-POWER_W);
    ck_assert_int_eq(bench_standing(&bench, FINDING_CONTACT_STUCK), -1);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_stops_that_leave_the_meter_where_it_was_are_a_stuck_contact,
        test_one_flat_stop_among_many_is_an_opening_that_went_unnoticed,
        test_its_thermostat_cycling_behind_an_open_contact_shows_it_stuck,
        test_a_stop_that_shows_ends_it,
        test_runs_that_nobody_ordered_by_its_own_meter_are_switched_elsewhere,
        test_by_the_grids_meter_such_runs_are_any_appliances,
        test_an_air_conditioner_that_cycles_beside_a_pump_of_its_power_is_no_fault,
        test_a_hot_tank_and_an_air_conditioner_of_its_power_are_no_closed_contact,
        test_runs_without_order_and_starts_that_show_nothing_are_a_closed_contact,
        test_runs_that_feed_the_tank_while_no_start_draws_are_a_closed_contact_in_two_days,
        test_runs_that_take_far_more_than_the_tank_needs_are_another_appliance,
        test_a_kettle_of_the_elements_size_is_nobody_elses_switch,
        test_its_own_meter_leaves_little_doubt,
        test_it_is_not_over_while_the_meter_stands_still,
    };
    return suite_run("contact", tests, COUNT_OF(tests));
}
