/* test_vague.c - steps that may be another appliance's. */
#include "bench_house.h"

enum { MINUTE = 60, HOUR = 3600, NOON = 12 * 3600, OVEN_W = 3600, KETTLE_W = 2000 };

static struct bench b;

static const struct draw_view *draw(void)
{
    return rules_draw(&b.memory, HEATER);
}

/* A heater with nothing but a floor of hours by the evening, that has opened days ago. */
static void heater(enum floor_measure measure, int64_t hours)
{
    bench_make(&b, 1);
    b.load[HEATER].thermostat = true;
    b.load[HEATER].power_w = 3600;
    b.load[HEATER].uses_spare = false;
    struct floor_settings floor = bench_hours_by(hours, 17 * HOUR);
    floor.measure = (uint8_t)measure;
    bench_floor(&b, floor);
    b.rest_w = 400;
    bench_begin(&b, NOON);
    bench_opened_before(&b, HEATER);
}

/* Its power is known, and no run is on. */
static void power_is_known(void)
{
    b.loads[HEATER].draw.view.power_w = 3600;
    b.loads[HEATER].draw.view.power_measured = true;
}

static void run_by_hand(int32_t other_w)
{
    bench_pass(&b, 30);
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 120));
    b.rest_w += other_w; /* in the very moment */
    bench_pass(&b, 45);
}

START_TEST(test_a_start_that_another_appliance_falls_into_is_seen_but_proves_nothing)
{
    heater(FLOOR_TIME, 2);
    power_is_known();
    b.at[HEATER].dead = true;
    run_by_hand(KETTLE_W);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
    ck_assert(draw()->vague);
    ck_assert_int_eq(draw()->draw_w, KETTLE_W);
    bench_pass(&b, HOUR);
    ck_assert_int_eq(b.loads[HEATER].total.assumed_mj,
                     b.loads[HEATER].total.spare_mj + b.loads[HEATER].total.grid_mj);
    ck_assert_int_eq(b.loads[HEATER].floor[0].unproven, b.loads[HEATER].floor[0].done);
}
END_TEST

START_TEST(test_a_start_of_its_own_power_is_shown_at_once)
{
    heater(FLOOR_TIME, 2);
    power_is_known();
    run_by_hand(150);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
    ck_assert(!draw()->vague);
    bench_pass(&b, HOUR);
    ck_assert_int_eq(b.loads[HEATER].floor[0].unproven, 0);
}
END_TEST

START_TEST(test_an_appliance_of_its_size_beside_a_dead_element_makes_no_full_tank)
{
    heater(FLOOR_SATISFIED, 2);
    power_is_known();
    b.at[HEATER].dead = true;
    bench_until(&b, HEATER, true, 5 * HOUR);
    bench_pass(&b, 5 * MINUTE);
    ck_assert_int_eq(draw()->state, DRAW_OPEN);
    b.rest_w += OVEN_W;
    bench_pass(&b, 20);
    b.rest_w -= OVEN_W * bench_on(&b, HEATER);
    bench_pass(&b, HOUR);
    ck_assert(!draw()->has_opened || draw()->unsure ||
              b.now.mono.ms - draw()->opened_at.mono.ms > MS_PER_DAY);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
    ck_assert_int_eq(b.events[EVENT_SATISFIED], 0);
}
END_TEST

START_TEST(test_a_floor_that_a_dead_element_beside_an_oven_has_run_for_is_not_told_as_met)
{
    heater(FLOOR_TIME, 1);
    power_is_known();
    b.at[HEATER].dead = true;
    bench_until(&b, HEATER, true, 5 * HOUR);
    bench_pass(&b, 5 * MINUTE);
    b.rest_w += OVEN_W;
    bench_pass(&b, 5 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
}
END_TEST

START_TEST(
    test_a_draw_without_an_order_is_shown_by_switching_it_off_and_on_while_its_floor_has_time)
{
    heater(FLOOR_TIME, 1);
    power_is_known();
    b.load[HEATER].floor[0].reserve_ms = 90 * MS_PER_MIN;
    b.at[HEATER].thermostat_open = true;
    bench_until(&b, HEATER, true, 5 * HOUR);
    bench_pass(&b, 10 * MINUTE);
    b.at[HEATER].thermostat_open = false;
    bench_pass(&b, 2);
    ck_assert(draw()->vague);
    ck_assert_int_ge(bench_until(&b, HEATER, false, MINUTE), 0);
    ck_assert_int_ge(bench_until(&b, HEATER, true, 10 * MINUTE), 0);
    bench_pass(&b, MINUTE);
    ck_assert(draw()->state == DRAW_SEEN && !draw()->vague);
    int64_t starts = b.loads[HEATER].today.starts;
    bench_pass(&b, 2 * HOUR);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 1);
    ck_assert_int_eq(b.loads[HEATER].today.starts, starts);
}
END_TEST

START_TEST(test_a_floor_without_time_to_spare_is_run_on_and_told_as_not_known)
{
    heater(FLOOR_TIME, 2);
    power_is_known();
    b.load[HEATER].floor[0].reserve_ms = 0;
    b.at[HEATER].thermostat_open = true;
    bench_until(&b, HEATER, true, 5 * HOUR);
    bench_pass(&b, MINUTE);
    b.at[HEATER].thermostat_open = false;
    int64_t starts = b.loads[HEATER].today.starts;
    bench_pass(&b, HOUR);
    ck_assert(bench_on(&b, HEATER));
    ck_assert_int_eq(b.loads[HEATER].today.starts, starts);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MET], 0);
}
END_TEST

START_TEST(test_a_third_of_an_element_is_found_by_what_start_and_stop_agree_on)
{
    heater(FLOOR_TIME, 1);
    power_is_known();
    b.at[HEATER].draw_w = 1200;
    run_by_hand(0);
    ck_assert(draw()->vague);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 10));
    bench_pass(&b, 40);
    ck_assert_int_eq(draw()->power_w, 1200);
    bench_pass(&b, 10 * MINUTE);
    run_by_hand(0);
    ck_assert(draw()->state == DRAW_SEEN && !draw()->vague);
}
END_TEST

START_TEST(test_a_stop_that_falls_otherwise_than_p_and_its_start_is_not_learnt)
{
    heater(FLOOR_TIME, 1);
    power_is_known();
    run_by_hand(0);
    b.rest_w += KETTLE_W - 500;
    bench_pass(&b, MINUTE);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 10));
    b.rest_w += 1000; /* with it comes another */
    bench_pass(&b, 40);
    ck_assert_int_eq(draw()->power_w, 3600);
}
END_TEST

/* 200 s on, 150 s off. */
static void oven_cycles(int times)
{
    for (int k = 0; k < times; k++) {
        b.rest_w += OVEN_W;
        bench_pass(&b, 200);
        b.rest_w -= OVEN_W;
        bench_pass(&b, 150);
    }
}

START_TEST(test_while_an_oven_of_its_size_cycles_a_flat_stop_proves_no_opening)
{
    heater(FLOOR_TIME, 2);
    power_is_known();
    oven_cycles(2);
    run_by_hand(0);
    bench_pass(&b, 15 * MINUTE);
    ck_assert(draw()->state == DRAW_SEEN && !draw()->vague); /* it has lasted */
    b.rest_w += OVEN_W;
    bench_pass(&b, 200);
    b.rest_w -= OVEN_W; /* passes for its thermostat */
    bench_pass(&b, 130);
    ck_assert(draw()->supposed);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 10));
    b.rest_w += OVEN_W; /* as it is switched off */
    bench_pass(&b, 60);
    ck_assert_int_eq(b.events[EVENT_SATISFIED], 0);
    ck_assert(draw()->supposed);
    bench_pass(&b, 10 * MINUTE);
    run_by_hand(0);
    bench_pass(&b, 15 * MINUTE);
    ck_assert(!draw()->supposed); /* it draws */
}
END_TEST

START_TEST(test_a_start_without_a_step_proves_what_an_oven_had_hidden)
{
    heater(FLOOR_TIME, 2);
    power_is_known();
    oven_cycles(1);
    run_by_hand(0);
    bench_pass(&b, 40 * MINUTE);
    b.at[HEATER].thermostat_open = true;
    bench_pass(&b, 3 * MINUTE);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 10));
    bench_pass(&b, 60);
    ck_assert(draw()->supposed);
    bench_pass(&b, 10 * MINUTE);
    run_by_hand(0);
    bench_pass(&b, 3 * MINUTE);
    ck_assert(draw()->has_opened && !draw()->supposed);
    ck_assert_int_eq(b.events[EVENT_SATISFIED], 1);
}
END_TEST

START_TEST(test_an_opening_that_an_oven_hid_until_the_deadline_is_not_known_and_not_missed)
{
    heater(FLOOR_SATISFIED, 2);
    bench_order(&b, bench_command(&b, COMMAND_OFF, HEATER, 24 * 60));
    bench_pass(&b, 5 * HOUR - MINUTE);
    b.loads[HEATER].draw.view.supposed = true; /* its stop was hidden */
    b.loads[HEATER].draw.supposed_at = b.now;
    bench_pass(&b, 2 * MINUTE);
    ck_assert_int_eq(b.events[EVENT_FLOOR_MISSED], 0);
    ck_assert_int_eq(b.events[EVENT_FLOOR_UNPROVEN], 1);
}
END_TEST

START_TEST(test_its_own_meter_leaves_nothing_vague)
{
    heater(FLOOR_TIME, 2);
    power_is_known();
    b.load[HEATER].metered = true;
    b.own_meters = true;
    oven_cycles(2);
    run_by_hand(KETTLE_W);
    ck_assert(draw()->state == DRAW_SEEN && !draw()->vague);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_start_that_another_appliance_falls_into_is_seen_but_proves_nothing,
        test_a_start_of_its_own_power_is_shown_at_once,
        test_an_appliance_of_its_size_beside_a_dead_element_makes_no_full_tank,
        test_a_floor_that_a_dead_element_beside_an_oven_has_run_for_is_not_told_as_met,
        test_a_draw_without_an_order_is_shown_by_switching_it_off_and_on_while_its_floor_has_time,
        test_a_floor_without_time_to_spare_is_run_on_and_told_as_not_known,
        test_a_third_of_an_element_is_found_by_what_start_and_stop_agree_on,
        test_a_stop_that_falls_otherwise_than_p_and_its_start_is_not_learnt,
        test_while_an_oven_of_its_size_cycles_a_flat_stop_proves_no_opening,
        test_a_start_without_a_step_proves_what_an_oven_had_hidden,
        test_an_opening_that_an_oven_hid_until_the_deadline_is_not_known_and_not_missed,
        test_its_own_meter_leaves_nothing_vague,
    };
    return bench_run_tests("vague", tests, sizeof tests / sizeof tests[0]);
}
