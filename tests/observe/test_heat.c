/* test_heat.c - is the heat enough, or more than a tank can take. */
#include "observe/turns.h"

#include "terms/floor.h"

static struct bench bench;

/* Draws on, and nothing else happens. */
static void draws_on(int64_t ms)
{
    bench.load[0].on = true;
    bench.load[0].draw_w = POWER_W;
    for (int64_t passed = 0; passed < ms; passed += 10 * MS_PER_MIN) {
        bench.load[0].heated_mj += POWER_W * (int64_t)(10 * MS_PER_MIN);
        bench.load[0].drawn_mj += POWER_W * (int64_t)(10 * MS_PER_MIN);
        bench_wait(&bench, 10 * MS_PER_MIN);
    }
    bench.load[0].draw_w = 0;
    bench_turn(&bench);
}

static void draws(int64_t ms)
{
    bench_step(&bench, EXPERIMENT_START, POWER_W, false);
    draws_on(ms);
}

START_TEST(test_heat_counted_from_another_appliances_step_is_no_closed_thermostat)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    bench_step(&bench, EXPERIMENT_START, POWER_W * 8 / 10, false); /* an oven; its tank is full */
    draws_on(12 * HOUR);
    ck_assert(!bench_find(&bench, FINDING_THERMOSTAT_CLOSED));
}
END_TEST

START_TEST(test_heat_past_a_stop_that_did_not_fall_is_no_closed_thermostat)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    draws(2 * HOUR);
    bench_step(&bench, EXPERIMENT_STOP, 0, true);
    bench.load[0].draw_w = POWER_W;
    for (int k = 0; k < 12; k++) {
        bench.load[0].heated_mj += POWER_W * (int64_t)HOUR;
        bench.load[0].drawn_mj += POWER_W * (int64_t)HOUR;
        bench_wait(&bench, HOUR);
    }
    ck_assert(!bench_find(&bench, FINDING_THERMOSTAT_CLOSED));
}
END_TEST

START_TEST(test_one_run_of_more_than_the_tank_holds_is_a_closed_thermostat)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    draws(4 * HOUR); /* of 15 kWh */
    bench_nothing(&bench);
    draws(8 * HOUR);
    ck_assert_msg(bench_find(&bench, FINDING_THERMOSTAT_CLOSED), "%s", bench_all(&bench));
}
END_TEST

START_TEST(test_an_unusual_heat_and_then_no_power_is_a_thermostat_that_stayed_closed)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    bench_wait(&bench, 12 * HOUR);
    bench_heat_up(&bench, 4 * HOUR); /* twice the usual, until the cut-out opened */
    bench_nothing(&bench);
    for (int k = 0; k < 24; k++) {
        bench_wait(&bench, 2 * HOUR);
        bench_step(&bench, EXPERIMENT_START, 0, false);
        bench_wait(&bench, MS_PER_MIN);
        bench_step(&bench, EXPERIMENT_STOP, 0, false);
    }
    ck_assert(bench_find(&bench, FINDING_NO_POWER));
    ck_assert_msg(bench_find(&bench, FINDING_THERMOSTAT_CLOSED), "%s", bench_all(&bench));
    bench_days(&bench, 2);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_guests_who_use_twice_as_much_are_no_closed_thermostat)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    for (int day = 0; day < 5; day++) {
        bench_wait(&bench, 10 * HOUR);
        bench_heat_up(&bench, 4 * HOUR);
    }
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_tank_far_too_hot_is_a_closed_thermostat)
{
    bench_begin(&bench);
    bench.load[0].tank_known = true;
    bench.load[0].tank_mc = 66000;
    bench_turn(&bench);
    bench_nothing(&bench);
    bench.load[0].tank_mc = 80000;
    bench_turn(&bench);
    ck_assert(bench_find(&bench, FINDING_THERMOSTAT_CLOSED));
}
END_TEST

START_TEST(test_a_tank_that_is_heated_daily_and_never_full_is_told)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    for (int day = 0; day < 8; day++) {
        bench_nothing(&bench);
        bench_wait(&bench, 22 * HOUR);
        draws(2 * HOUR);
    }
    const struct finding *finding = bench_find(&bench, FINDING_NOT_SATISFIED);
    ck_assert_msg(finding, "%s", bench_all(&bench));
    ck_assert_int_ge(finding->number[0], 8);
    bench_days(&bench, 1);
    bench_nothing(&bench);
}
END_TEST

/* Beside an oven of its size no opening is proven for days, and yet it rests. */
START_TEST(test_openings_that_could_not_be_proven_are_no_shortage)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    for (int day = 0; day < 12; day++) {
        bench_wait(&bench, 22 * HOUR);
        draws(2 * HOUR);
        bench.load[0].satisfied = true;
        bench_turn(&bench);
        bench.load[0].satisfied = false;
    }
    ck_assert_msg(!bench_find(&bench, FINDING_NOT_SATISFIED), "%s", bench_all(&bench));
}
END_TEST

START_TEST(test_a_household_away_is_not_short_of_heat)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    for (int day = 0; day < 20; day++)
        bench_wait(&bench, 24 * HOUR);
    bench_nothing(&bench);
}
END_TEST

/* Weeks of openings twelve hours apart, each after so many minutes of heating.
 */
static void weeks(int count, int minutes)
{
    for (int k = 0; k < count * 12; k++) {
        bench_wait(&bench, 14 * HOUR - minutes * MS_PER_MIN);
        bench_heat_up(&bench, minutes * (int64_t)MS_PER_MIN);
    }
}

START_TEST(test_a_loss_that_doubles_even_in_the_quietest_time_is_told)
{
    bench_begin(&bench);
    weeks(6, 60);
    bench_nothing(&bench);
    weeks(4, 150);
    const struct finding *finding = bench_find(&bench, FINDING_LOSES_HEAT);
    ck_assert_msg(finding, "%s", bench_all(&bench));
    ck_assert_int_ge(finding->number[0], 2 * finding->number[1]);
    weeks(3, 60);
    ck_assert(!bench_find(&bench, FINDING_LOSES_HEAT));
}
END_TEST

START_TEST(test_more_use_with_quiet_nights_loses_no_heat)
{
    bench_begin(&bench);
    weeks(6, 60);
    for (int week = 0; week < 5; week++) {
        for (int k = 0; k < 6; k++) {
            bench_wait(&bench, 12 * HOUR);
            bench_heat_up(&bench, 4 * HOUR);
        }
        weeks(1, 60);
    }
    ck_assert(!bench_find(&bench, FINDING_LOSES_HEAT));
}
END_TEST

static void floor_due(int64_t needs_ms, int64_t left_ms)
{
    bench.load[0].floor_count = 1;
    bench.load[0].floor[0] = (struct findings_floor){.open = true,
                                                     .measure = FLOOR_TIME,
                                                     .denied_by = 3,
                                                     .deadline_s = 61200,
                                                     .missing = needs_ms,
                                                     .needs_ms = needs_ms,
                                                     .left_ms = left_ms};
    bench_turn(&bench);
}

START_TEST(test_a_guarantee_that_no_longer_fits_is_at_risk)
{
    bench_begin(&bench);
    floor_due(2 * HOUR, 3 * HOUR);
    bench_nothing(&bench);
    floor_due(2 * HOUR, 2 * HOUR - MS_PER_MIN);
    const struct finding *finding = bench_find(&bench, FINDING_GUARANTEE_AT_RISK);
    ck_assert(finding);
    ck_assert_int_eq(finding->number[0], 1);
    ck_assert_int_eq(finding->number[1], 2 * HOUR);
    ck_assert_int_eq(finding->number[2], 61200);
    ck_assert_int_eq(finding->number[3], 3);
    bench.load[0].floor[0].open = false;
    bench_turn(&bench);
    bench_nothing(&bench);
}
END_TEST

START_TEST(test_a_guarantee_is_at_risk_before_a_dead_element_is_certain)
{
    bench_begin(&bench);
    bench_days(&bench, 30);
    floor_due(HOUR, 20 * HOUR);
    bench_nothing(&bench);
    for (int k = 0; k < 20 && !bench_find(&bench, FINDING_GUARANTEE_AT_RISK); k++) {
        bench_wait(&bench, 2 * HOUR);
        bench_step(&bench, EXPERIMENT_START, 0, false);
        bench_wait(&bench, MS_PER_MIN);
        bench_step(&bench, EXPERIMENT_STOP, 0, false);
    }
    ck_assert(bench_find(&bench, FINDING_GUARANTEE_AT_RISK));
    ck_assert(!bench_find(&bench, FINDING_NO_POWER));
}
END_TEST

START_TEST(test_a_contactor_is_worn_by_its_rating)
{
    bench_begin(&bench);
    bench.load[0].operations = 95000;
    bench_turn(&bench);
    bench_nothing(&bench);
    bench.load_settings[0].rated_operations = 200000;
    bench_turn(&bench);
    bench_nothing(&bench);
    bench.load_settings[0].rated_operations = 100000;
    bench_turn(&bench);
    ck_assert(bench_find(&bench, FINDING_CONTACTOR_WORN));
}
END_TEST

START_TEST(test_a_board_that_was_reset_once_is_no_finding_and_thrice_is)
{
    bench_begin(&bench);
    for (int k = 0; k < 3; k++) {
        ck_assert(!bench_find(&bench, FINDING_BOARD_RESTARTED));
        bench.load[0].restarted = true;
        bench_wait(&bench, HOUR);
    }
    ck_assert_int_eq(bench_find(&bench, FINDING_BOARD_RESTARTED)->number[0], 3);
    for (int day = 0; day < 200; day++)
        bench_wait(&bench, 24 * HOUR);
    bench_nothing(&bench);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_heat_counted_from_another_appliances_step_is_no_closed_thermostat,
        test_heat_past_a_stop_that_did_not_fall_is_no_closed_thermostat,
        test_one_run_of_more_than_the_tank_holds_is_a_closed_thermostat,
        test_an_unusual_heat_and_then_no_power_is_a_thermostat_that_stayed_closed,
        test_guests_who_use_twice_as_much_are_no_closed_thermostat,
        test_a_tank_far_too_hot_is_a_closed_thermostat,
        test_a_tank_that_is_heated_daily_and_never_full_is_told,
        test_openings_that_could_not_be_proven_are_no_shortage,
        test_a_household_away_is_not_short_of_heat,
        test_a_loss_that_doubles_even_in_the_quietest_time_is_told,
        test_more_use_with_quiet_nights_loses_no_heat,
        test_a_guarantee_that_no_longer_fits_is_at_risk,
        test_a_guarantee_is_at_risk_before_a_dead_element_is_certain,
        test_a_contactor_is_worn_by_its_rating,
        test_a_board_that_was_reset_once_is_no_finding_and_thrice_is,
    };
    return suite_run("heat", tests, COUNT_OF(tests));
}
