/* test_starts.c - what a start among other loads' switching waits for. */
#include "bench_house.h"

enum { MINUTE = 60, HOUR = 3600, NOON = 12 * 3600 };

static struct bench b;

static const struct draw_view *draw(void)
{
    return rules_draw(&b.memory, HEATER);
}

/* The pump runs on spare power, and then there is enough for the heater instead. */
static void pump_before_heater(void)
{
    bench_make(&b, 2);
    b.load[HEATER].thermostat = true;
    b.load[PUMP].power_w = 3000;
    b.settings.solar = true;
    b.solar_w = 3400;
    b.rest_w = 400;
    bench_begin(&b, NOON);
    ck_assert_int_gt(bench_until(&b, PUMP, true, HOUR), 0);
    bench_pass(&b, 10 * MINUTE);
    b.solar_w = 4400;
}

START_TEST(test_a_dead_element_that_takes_over_is_found_out_at_once)
{
    pump_before_heater();
    b.at[HEATER].dead = true;
    ck_assert_int_gt(bench_until(&b, HEATER, true, HOUR), 0);
    bench_pass(&b, 30);
    ck_assert_int_eq(draw()->state, DRAW_OPEN);
    bench_pass(&b, 3 * MINUTE);
    ck_assert(draw()->unexplained);
    ck_assert_int_eq(b.events[EVENT_NO_DRAW], 1);
    ck_assert_int_eq(b.loads[HEATER].total.spare_mj + b.loads[HEATER].total.grid_mj, 0);
}
END_TEST

START_TEST(test_a_takeover_starts_once_the_meter_shows_that_the_lower_load_stopped)
{
    pump_before_heater();
    b.at[HEATER].draw_w = 3300;
    ck_assert_int_gt(bench_until(&b, PUMP, false, HOUR), 0);
    bool waited = false;
    for (int s = 0; s < 30 && !bench_on(&b, HEATER); s++) {
        bench_pass(&b, 1);
        waited |= bench_reason(&b, HEATER) == REASON_OFF_UNSHOWN;
    }
    ck_assert(waited);
    ck_assert(bench_on(&b, HEATER));
    bench_pass(&b, 15);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
    ck_assert_int_eq(draw()->draw_w, 3300); /* nothing else was in that step */
}
END_TEST

START_TEST(test_a_start_waits_half_a_minute_at_most_for_looks_that_do_not_come)
{
    pump_before_heater();
    b.solar_every_s = 8; /* too far from the grid's reading to make a look, but once */
    b.solar_offset_s = 3;
    ck_assert_int_gt(bench_until(&b, PUMP, false, HOUR), 0);
    int64_t waited_s = bench_until(&b, HEATER, true, 2 * MINUTE);
    ck_assert_int_gt(waited_s, 0);
    ck_assert_int_le(waited_s, 32);
}
END_TEST

/* The charger, by hand, takes its time to close; pump and heater share one place. */
START_TEST(test_a_start_that_is_held_back_keeps_its_place_in_the_group)
{
    bench_make(&b, 3);
    b.settings.group_count = 1;
    b.settings.group[0].one_at_a_time = true;
    b.load[HEATER].group = b.load[PUMP].group = 0;
    b.load[PUMP].kind = LOAD_REQUEST;
    b.load[CHARGER].power_w = 1000;
    b.at[CHARGER].answer_s = 25;
    b.settings.solar = true;
    b.solar_w = 400;
    b.rest_w = 400;
    bench_begin(&b, NOON);
    bench_pass(&b, 30);
    b.solar_w = 9000;
    bench_pass(&b, 118);
    bench_order(&b, bench_command(&b, COMMAND_ON, CHARGER, 60));
    bool held = false;
    for (int s = 0; s < 60; s++) {
        bench_pass(&b, 1);
        held |= bench_reason(&b, HEATER) == REASON_OFF_UNSHOWN;
        ck_assert(!bench_on(&b, PUMP));
    }
    ck_assert(held);
    ck_assert(bench_on(&b, HEATER));
}
END_TEST

START_TEST(test_a_load_that_is_due_waits_for_no_look)
{
    bench_make(&b, 2);
    b.settings.solar = true;
    b.solar_w = 0;
    b.rest_w = 400;
    bench_begin(&b, NOON);
    bench_pass(&b, 30);
    bench_order(&b, bench_command(&b, COMMAND_ON, PUMP, 60));
    bench_order(&b, bench_command(&b, COMMAND_ON, HEATER, 60));
    ck_assert_int_le(bench_until(&b, HEATER, true, 30), 2);
    bench_pass(&b, 45);
    ck_assert_int_eq(draw()->state, DRAW_SEEN);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_dead_element_that_takes_over_is_found_out_at_once,
        test_a_takeover_starts_once_the_meter_shows_that_the_lower_load_stopped,
        test_a_start_waits_half_a_minute_at_most_for_looks_that_do_not_come,
        test_a_start_that_is_held_back_keeps_its_place_in_the_group,
        test_a_load_that_is_due_waits_for_no_look,
    };
    return bench_run_tests("starts", tests, sizeof tests / sizeof tests[0]);
}
